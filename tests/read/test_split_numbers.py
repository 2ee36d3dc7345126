"""Decimal commas in a table that commas separate: refused where nothing else explains every row."""

import pytest

from laminate.files.coupons import COLUMNS
from laminate.files.csv_table import read_csv
from laminate.files.plain_table import read_plain

HEAD = "specimen,zone,thickness [mm],operator,remark"
TWICE = "specimen,zone,thickness 1 [mm],thickness 2 [mm],operator,remark"
MASSES = (
    "specimen,plies,mass in air [g],mass in liquid [g],liquid temperature [degC],operator,lot,remark,excluded"
)


def read(head, *rows):
    problems = []
    table = read_csv("coupons.csv", "\n".join([head, *rows, ""]).encode(), COLUMNS, problems)
    asked = [problem for _, problem in table.asked]
    return [(p.code, p.place) for p in problems], [(p.code, p.place) for p in asked]


AT = ("number-in-two-cells", "row 2, column 'thickness'")


@pytest.mark.parametrize(
    ("head", "rows"),
    [
        (HEAD, ("T1,web,2,873", "T2,web,2,868", "T3,web,2,866")),
        (HEAD, ("T1,web,2,873,JM", "T2,web,2,868,JM", "T3,web,2,866,JM")),
        (HEAD, ("T1,web,2,873,4711", "T2,web,2,868,4711")),
        (HEAD, ("T1,web,2,87,", "T2,web,2,868,", "T3,web,,,fell")),
        (HEAD, ("T1,web,2,873", "T2,web,2,868", "mean,,,")),
    ],
)
def test_readings_in_two_cells_of_every_row_are_refused(head, rows):
    assert read(head, *rows) == ([AT], [])


def test_repeats_and_masses_are_refused_too():
    where = "row 2, column 'thickness 1'"
    assert read(TWICE, "T1,web,2,873,2,871", "T2,web,2,868,2,869") == ([(AT[0], where)], [])
    where = "row 2, column 'mass in air'"
    rows = ("T1,20,1,4427,0,5117,22,8,JM", "T2,20,1,4609,0,5192,22,8,JM", "T3,20,1,4143,,22,9,JM")
    assert read(MASSES, *rows) == ([(AT[0], where)], [])


def test_one_row_alone_is_asked_about():
    assert read(HEAD, "T1,web,2,873") == ([], [AT])
    assert read(HEAD, "T1,web,2,873,JM") == ([], [AT])


@pytest.mark.parametrize(
    ("head", "rows"),
    [
        (HEAD, ("T1,web,2.873,4711", "T2,web,2.868,4712")),
        (HEAD, ("T1,web,2.873,JM,17", "T2,web,2,JM,18")),
        (HEAD.replace("mm", "um"), ("T1,web,2873,4711,12", "T2,web,2868,4712,13")),
        (HEAD.replace("mm", "um"), ("T1,web,873,17", "T2,web,868,18")),
        (HEAD.replace("thickness [mm]", "mass in air [mg]"), ("T1,web,873,17", "T2,web,868,18")),
        (HEAD, ("T1,web,3,4711", "T2,web,3,4711", "T3,web,3,4711")),
        (HEAD, ("T1,web,3,4711", "T2,web,3,JM")),
        (HEAD, ("T1,web,3,1", "T2,web,3,2")),
        (HEAD, ("T1,web,3,JM,1", "T2,web,3,JM,2")),
        (HEAD, ("T1,web,2.0,873", "T2,web,2,868")),
        (HEAD, ("T1,web,,873", "T2,web,,868")),
        (TWICE, ("T1,web,3,3,17", "T2,web,3,3,18")),
        ("specimen,area [cm^2],lot,operator", ("P1,100,2231,17", "P2,100,2232,18")),
        ("specimen,length [mm],width [mm],operator,lot", ("S1,100,25,17,2231", "S2,101,26,18,2232")),
        (MASSES, ("T1,20,25,9,23,17", "T2,20,26,9,23,18")),
        (MASSES, ("T1,20,1.4427,0.5117,23,4711,2231,12", "T2,20,1.4609,0.5192,23,4712,2232,13")),
        ("specimen,points,fiber points,field,remark", ("T1,100,58,1,12", "T1,100,57,2,13")),
        ("specimen,thickness [mm],entry", ("T1,3,15", "T2,3,16")),
        ("specimen,time,thickness [mm],remark", ("T1,20261120,3,", "T2,20261121,3,")),
    ],
)
def test_whole_numbers_and_numbers_of_people_are_read(head, rows):
    assert read(head, *rows) == ([], [])


def test_a_long_table_is_held_to_the_same(tmp_path):
    path = tmp_path / "coupons.csv"
    rows = [f"T{n},web,2,{860 + n % 20},JM," for n in range(300)]
    path.write_text("\n".join([HEAD, *rows, ""]))
    assert read_plain(path, "coupons.csv") is None
    assert read(HEAD, *rows)[0] == [AT]
    path.write_text("\n".join([HEAD, *(row.replace(",2,8", ",2.8") for row in rows), ""]))
    assert read_plain(path, "coupons.csv") is not None
