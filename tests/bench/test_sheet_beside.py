"""The blank table beside what the batch has already: its tables, [blank], retests of its plan."""

import csv
import json

import openpyxl
import pytest

from laminate.bench.coupon_sheet import csv_text, workbook
from laminate.bench.sheet import blank_table
from laminate.cli import app, sheets
from laminate.cli.bench.page import EntryScreen
from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch
from laminate.files.named_file import NamedFile
from laminate.files.tables import read_table
from tests.messages.wording import says

from .test_bench_session import fill
from .test_page import SIZE, burst, screen
from .test_sheet import checks, written


def names(path):
    return [row["specimen"] for row in csv.DictReader(path.read_text("utf-8").splitlines())]


def sheet(folder, *options, out="more.csv"):
    return app.status(["sheet", str(folder / "batch.toml"), "--out", str(folder / out), *options])


def test_names_that_have_readings_are_not_given_again(session, folder):
    fill(session, ("0101", "0102"))
    assert sheet(folder, "--specimens", "4") == 0
    assert names(folder / "more.csv") == ["0103", "0104", "0105", "0106"]
    rows = csv.DictReader((folder / "more.csv").read_text("utf-8").splitlines())
    assert [row["position"] for row in rows] == ["root", "mid", "tip", "root"]


def test_a_name_without_its_zeros_is_the_same_one(folder):
    (folder / "coupons.csv").write_text("specimen,zone,thickness 1 [mm]\n101,web,2.87\n")
    assert sheet(folder) == 0
    assert names(folder / "more.csv") == ["0102", "0103", "0104"]


def test_readings_of_another_method_are_added_to_the_coupon_and_it_says_so(folder, capsys):
    (folder / "coupons.csv").write_text("specimen,zone,thickness 1 [mm]\n0101,web,2.87\n0102,web,2.86\n")
    assert sheet(folder, "--method", "digestion", "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["specimens"] == ["0101", "0102", "0103"]
    assert says("bench: measured in another table", "\n".join(answer["cautions"]))


def test_blanks_and_pieces_too_get_new_names(folder):
    part = folder / "part.toml"
    part.write_text(part.read_text().replace("[part]\n", "[part]\nblanks = 2\ncheck_standards = 1\n"))
    (folder / "coupons.csv").write_text(
        "specimen,kind,crucible mass [g],mass in air [g],prepreg mass [g]\n"
        "B1,blank resin,20.1,,\nS1,check standard,,2.5,\nP0102,,,,1.2\n"
    )
    assert sheet(folder, "--prepreg", "ud150") == 0
    assert names(folder / "more.csv")[3:] == ["B2", "B3", "S2", "P0101", "P0103", "P0104"]


def test_blanks_of_the_batch_have_rows_where_shares_are_stated_and_one_of_both_goes(folder, capsys):
    part, batch = folder / "part.toml", folder / "batch.toml"
    part.write_text(part.read_text().replace("[part]\n", "[part]\nblanks = 2\n"))
    assert sheet(folder) == 0
    assert names(folder / "more.csv") == ["0101", "0102", "0103", "B1", "B2"]
    assert says("bench: blanks in the place of shares", " ".join(capsys.readouterr().out.split()))
    assert app.status(["report", str(batch), "--json"]) == 1
    held = json.loads(capsys.readouterr().out)["held_back"]
    [say] = [reason["say"] for reason in held if "blanks" in reason["what"]]
    assert says("judge: blanks in the place of shares", say)
    assert sheet(folder, "--method", "thickness", out="other.csv") == 0
    assert not says("bench: blanks in the place of shares", " ".join(capsys.readouterr().out.split()))
    before, _, rest = batch.read_text().partition("[blank]\n")
    batch.write_text(before + rest[rest.index("\n[") :])
    assert sheet(folder, out="third.csv") == 0
    assert not says("bench: blanks in the place of shares", " ".join(capsys.readouterr().out.split()))


def test_the_page_begins_with_what_goes(folder, monkeypatch):
    part, pages = folder / "part.toml", []
    monkeypatch.setattr(sheets, "_at_a_terminal", lambda: True)
    monkeypatch.setattr(EntryScreen, "run", lambda page: pages.append(page))
    for blanks in (0, 2):
        part.write_text(part.read_text().replace("[part]\n", f"[part]\nblanks = {blanks}\n"))
        assert app.status(["enter", str(folder / "batch.toml"), "--operator", "JM"]) == 0
        part.write_text(part.read_text().replace(f"blanks = {blanks}\n", ""))
    greeted = [any(says("bench: blanks in the place of shares", words) for words in p.said) for p in pages]
    assert greeted == [False, True]


def test_a_folder_that_is_made_is_said(folder, capsys):
    assert sheet(folder, out="new/more.csv") == 0
    assert says("bench: a folder is made", "".join(capsys.readouterr().out.split("\n")))
    assert sheet(folder, out="new/again.csv") == 0
    assert not says("bench: a folder is made", "".join(capsys.readouterr().out.split("\n")))


def test_bounds_are_said_in_the_unit_of_the_heading(case, folder):
    book = written(case, folder / "us.xlsx", units="us")
    assert says("bench: bounds in the unit of the heading", checks(book)["mass in air"].error)
    assert says("bench: bounds in inches", checks(book)["thickness 1"].error)


def test_counts_have_their_steps_and_no_more_points_than_the_grid(case, folder):
    options = {"zones": ["skin"], "methods": ["point count"]}
    book = written(case, folder / "points.xlsx", **options)
    at = {column.label: chr(65 + n) for n, column in enumerate(blank_table(case, **options).columns)}
    fiber, points = f"{at['fiber points']}2", f"{at['points']}2"
    check = checks(book)["fiber points"]
    assert f"MOD({fiber}/0.5,1)=0" in check.formula1
    assert f'OR({points}="",{fiber}<={points})' in check.formula1
    assert f"MOD({points}/1,1)=0" in checks(book)["points"].formula1
    assert says("bench: a count and its grid", check.error)
    assert "heading" not in check.error


def test_many_columns_go_onto_several_pages_of_readable_size(case, folder):
    path = folder / "wide.xlsx"
    many = ["immersion", "saturated immersion", "digestion", "thickness", "areal weight", "point count"]
    blank = blank_table(case, zones=["web"], methods=many, prepregs=["ud150"], specimens=40)
    path.write_bytes(workbook(blank))
    page = openpyxl.load_workbook(path)["coupons"]
    assert len(blank.columns) > 28
    assert (page.page_setup.fitToWidth, page.page_setup.fitToHeight) == (2, 0)
    assert page.print_title_cols == "$A:$A"


def test_a_plan_with_retests_has_a_column_for_what_they_replace(case, folder):
    assert "replaces" in [column.name for column in blank_table(case).columns]
    text = (folder / "part.toml").read_text("utf-8")
    (folder / "part.toml").write_text(text.replace("retests = 1\nretest_coupons = 6\n", ""), "utf-8")
    without = blank_table(read_batch(folder / "batch.toml"))
    assert "replaces" not in [column.name for column in without.columns]


@pytest.mark.parametrize("with_column", [True, False])
async def test_a_new_coupon_beyond_the_plan_may_be_a_retest(with_column, session, case, folder):
    if not with_column:
        rows = [*csv.reader(csv_text(blank_table(case)).splitlines())]
        at = rows[0].index("replaces")
        lines = [",".join(row[:at] + row[at + 1 :]) for row in rows]
        (folder / "coupons.csv").write_text("\n".join([*lines, ""]), "utf-8")
        session.table.__init__(folder / "coupons.csv", "coupons.csv")
    fill(session)
    page = EntryScreen(session, "26-031")
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f2")
        await burst(page, pilot, "0104", "1.4427")
        assert says("bench: a retest of which coupon", " ".join(screen(page, "#said").split()))
        await burst(page, pilot, "102", "0102", "cut askew")
        row = page.cell[0]
        assert (session.name(row), page.question) == ("0104", None)
        assert [session.table.text(row, label) for label in ("replaces", "remark")] == ["0102", "cut askew"]
        assert session.table.text(row, "mass in air") == ""
        await pilot.press("f2")
        await burst(page, pilot, "0105")
        assert page.question is not None
        await pilot.press("escape")
        assert page.question is None
    [table] = read_table(NamedFile.at(folder / "coupons.csv"), known=["specimen", "replaces"], problems=[])
    at = [heading.name for heading in table.headings].index("replaces")
    assert [row.cells[at] for row in table.rows] == ["", "", "", "0102", ""]
    assert [s.name for s in measure_batch(case).specimens if s.replaced_by] == ["0102"]


async def test_of_a_coupon_of_the_plan_nothing_more_is_asked(session):
    session.table.keep({(session.rows[2], "zone"): "skin"})
    page = EntryScreen(session, "26-031")
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f2")
        await burst(page, pilot, "0104")
        assert page.question is None
