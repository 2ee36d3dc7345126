"""Messy CSV files that are read, each with its exact outcome."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import pytest

from .conftest import Read

HEAD = "specimen,zone,mass in air [g],thickness [mm]\n"


class Good(NamedTuple):
    """A file that is read: labels with units, rows with their numbers, notes, decimal sign."""

    data: str | bytes
    headings: list[str]
    rows: Sequence[tuple[int, tuple[str, ...]]]
    notes: list[str]
    decimal: str = "."


PLAIN = ["specimen ", "zone ", "mass in air g", "thickness mm"]
ONE = [(2, ("01", "web", "1.5", "2.855"))]

GOOD = {
    "comma": Good(HEAD + "01,web,1.5,2.855\n", PLAIN, ONE, []),
    "no newline at the end": Good(HEAD + "01,web,1.5,2.855", PLAIN, ONE, []),
    "semicolon": Good(HEAD.replace(",", ";") + "01;web;1.5;2.855\n", PLAIN, ONE, []),
    "tab": Good(HEAD.replace(",", "\t") + "01\tweb\t1.5\t2.855\n", PLAIN, ONE, []),
    "carriage returns": Good((HEAD + "01,web,1.5,2.855\n").replace("\n", "\r\n"), PLAIN, ONE, []),
    "carriage returns alone": Good((HEAD + "01,web,1.5,2.855\n").replace("\n", "\r"), PLAIN, ONE, []),
    "all quoted": Good(
        '"specimen","zone","mass in air [g]","thickness [mm]"\n"01","web","1.5","2.855"\n', PLAIN, ONE, []
    ),
    "spaces around": Good(HEAD + " 01 , web,\N{NO-BREAK SPACE}1.5 ,2.855\n", PLAIN, ONE, []),
    "commas before three digits each": Good(
        HEAD.replace(",", "\t") + "01\tweb\t1\t2,855\n02\tweb\t1\t12,861\n",
        PLAIN,
        [(2, ("01", "web", "1", "2,855")), (3, ("02", "web", "1", "12,861"))],
        ["read with decimal comma: '2,855' in row 2, column 'thickness' is 2.855, not 2855"],
        ",",
    ),
    "points before three digits each, of a small unit": Good(
        "specimen;thickness [um]\n01;2.873\n02;12.861\n",
        ["specimen ", "thickness um"],
        [(2, ("01", "2.873")), (3, ("02", "12.861"))],
        ["read with decimal point: '2.873' in row 2, column 'thickness' is 2.873, not 2873"],
    ),
    "points that stand before decimals": Good(
        "specimen;thickness [um];width [mm]\n01;2873.5;25.123\n02;2.873;25.111\n",
        ["specimen ", "thickness um", "width mm"],
        [(2, ("01", "2873.5", "25.123")), (3, ("02", "2.873", "25.111"))],
        [],
    ),
    "a comma that stands before decimals": Good(
        HEAD.replace(",", ";") + "01;web;0,855;2,855\n",
        PLAIN,
        [(2, ("01", "web", "0,855", "2,855"))],
        [],
        ",",
    ),
    "declared separator": Good(
        "sep=;\n" + HEAD.replace(",", ";") + "01;web;1,5;2,855\n",
        PLAIN,
        [(3, ("01", "web", "1,5", "2,855"))],
        [],
        ",",
    ),
    "decimal comma": Good(
        HEAD.replace(",", ";") + "01;web;1,5;2,855\n", PLAIN, [(2, ("01", "web", "1,5", "2,855"))], [], ","
    ),
    "decimal comma, tab": Good(
        HEAD.replace(",", "\t") + "01\tweb\t1,5\t\n", PLAIN, [(2, ("01", "web", "1,5", ""))], [], ","
    ),
    "names with points beside decimal comma": Good(
        "specimen;operator;time;mass in air [g]\nA.1;B.C.;10.30;1,5\n",
        ["specimen ", "operator ", "time ", "mass in air g"],
        [(2, ("A.1", "B.C.", "10.30", "1,5"))],
        [],
        ",",
    ),
    "units with commas, semicolon": Good(
        "specimen;mass in air, g;mass in liquid, g\n1;1.5;0.5\n",
        ["specimen ", "mass in air g", "mass in liquid g"],
        [(2, ("1", "1.5", "0.5"))],
        [],
    ),
    "byte order mark": Good(b"\xef\xbb\xbf" + (HEAD + "01,web,1.5,2.855\n").encode(), PLAIN, ONE, []),
    "cp1252": Good(
        (HEAD + "Pr\xfcfling,web,1.5,\n").encode("cp1252"),
        PLAIN,
        [(2, ("Prüfling", "web", "1.5", ""))],
        ["read as Windows text (cp1252), not UTF-8"],
    ),
    "utf-16": Good((HEAD + "01,web,1.5,2.855\n").encode("utf-16"), PLAIN, ONE, ["read as UTF-16, not UTF-8"]),
    "utf-16 big end first": Good(
        b"\xfe\xff" + (HEAD + "01,web,1.5,2.855\n").encode("utf-16-be"),
        PLAIN,
        ONE,
        ["read as UTF-16, not UTF-8"],
    ),
    "utf-16 without mark": Good(
        (HEAD + "01,web,1.5,2.855\n").encode("utf-16-le"), PLAIN, ONE, ["read as UTF-16, not UTF-8"]
    ),
    "blank lines": Good(
        "\n" + HEAD + "\n,,,\n01,web,1.5,2.855\n\n02,web,1.6,2.85\n\n",
        PLAIN,
        [(5, ("01", "web", "1.5", "2.855")), (7, ("02", "web", "1.6", "2.85"))],
        [],
    ),
    "fewer cells": Good(
        HEAD + "01,web\n",
        PLAIN,
        [(2, ("01", "web", "", ""))],
        ["shorter than the header, the missing cells at the end are empty: row 2 ('01', 2 of 4 cells)"],
    ),
    "no remark in the last cells": Good(
        "specimen,mass in air [g],remark\n01,1.5\n",
        ["specimen ", "mass in air g", "remark "],
        [(2, ("01", "1.5", ""))],
        [],
    ),
    "empty cells beyond the headings": Good(
        "specimen,zone,mass in air [g],thickness [mm],,\n01,web,1.5,2.855,,,\n", PLAIN, ONE, []
    ),
    "empty column between": Good(
        "specimen,,mass in air [g]\n01,,1.5\n", ["specimen ", "mass in air g"], [(2, ("01", "1.5"))], []
    ),
    "newline in a cell": Good(
        'specimen,zone,mass in air [g],remark\n01,web,1.5,"dropped,\nweighed again"\n02,web,1.6,\n',
        ["specimen ", "zone ", "mass in air g", "remark "],
        [(2, ("01", "web", "1.5", "dropped,\nweighed again")), (3, ("02", "web", "1.6", ""))],
        [],
    ),
    "title rows": Good(
        "Coupons of batch 26-031,,,\nmeasured by,A. B.,,\n\n" + HEAD + "01,web,1.5,2.855\n",
        PLAIN,
        [(5, ("01", "web", "1.5", "2.855"))],
        [
            "row 1: above the header, not read: 'Coupons of batch 26-031'",
            "row 2: above the header, not read: 'measured by A. B.'",
        ],
    ),
    "units below the header": Good(
        "specimen,zone,mass in air,thickness\n,,g,mm\n01,web,1.5,2.855\n",
        PLAIN,
        [(3, ("01", "web", "1.5", "2.855"))],
        ["row 2: read as units: mass in air [g], thickness [mm]"],
    ),
    "units in brackets below the header": Good(
        "specimen,zone,mass in air [g],thickness\n-,-,[g],[mm]\n01,web,1.5,2.855\n",
        PLAIN,
        [(3, ("01", "web", "1.5", "2.855"))],
        ["row 2: read as units: thickness [mm]"],
    ),
    "units told twice, in two spellings": Good(
        "specimen,liquid temperature [degC],density [g/cm3]\n,°C,g/cm^3\n01,22.8,1.5\n",
        ["specimen ", "liquid temperature degC", "density g/cm3"],
        [(3, ("01", "22.8", "1.5"))],
        ["row 2: units"],
    ),
    "composed units below the header": Good(
        "specimen,density,liquid temperature,points\nunit,g/cm^3,°C,-\n01,1.5,23,\n",
        ["specimen ", "density g/cm^3", "liquid temperature °C", "points "],
        [(3, ("01", "1.5", "23", ""))],
        ["row 2: read as units: density [g/cm^3], liquid temperature [°C]"],
    ),
    "not measured is no unit": Good(
        "specimen,zone,mass in air [g],thickness\n,,NA,NA\n",
        ["specimen ", "zone ", "mass in air g", "thickness "],
        [(2, ("", "", "NA", "NA"))],
        [],
    ),
    "totals at the end": Good(
        HEAD + "01,web,1.5,2.855\nMean,,1.5,2.855\nstd. dev.,,,\n,Total:,1.5,\n",
        PLAIN,
        ONE,
        [
            "row 3: 'Mean' is no coupon, left out",
            "row 4: 'std. dev.' is no coupon, left out",
            "row 5: 'Total:' is no coupon, left out",
        ],
    ),
    "a total with its count": Good(
        HEAD + "01,web,1.5,2.855\nAverage (n=1),,1.5,2.855\n",
        PLAIN,
        ONE,
        ["row 3: 'Average (n=1)' is no coupon, left out"],
    ),
    "the header again": Good(
        HEAD + "01,web,1.5,2.855\n" + HEAD + "02,web,1.6,2.85\n",
        PLAIN,
        [*ONE, (4, ("02", "web", "1.6", "2.85"))],
        ["row 3: the header again, left out"],
    ),
    "text stays text": Good(
        HEAD + "0012,NA,nan,-\nNone,#x,#DIV/0!,2.50\n",
        PLAIN,
        [(2, ("0012", "NA", "nan", "-")), (3, ("None", "#x", "#DIV/0!", "2.50"))],
        [],
    ),
    "repeats": Good(
        "specimen,thickness 1 [mm],thickness 2 [mm],thickness 10 [mm]\n01,1,2,3\n",
        ["specimen ", "thickness 1 mm", "thickness 2 mm", "thickness 10 mm"],
        [(2, ("01", "1", "2", "3"))],
        [],
    ),
    "a quotation mark inside": Good(
        HEAD + '01,3" wide,1.5,\n', PLAIN, [(2, ("01", '3" wide', "1.5", ""))], []
    ),
}


@pytest.mark.parametrize("case", GOOD.values(), ids=GOOD.keys())
def test_file_is_read(case: Good, read: Read) -> None:
    tables, problems = read(case.data.encode() if isinstance(case.data, str) else case.data, "coupons.csv")
    assert problems == []
    (table,) = tables
    assert [f"{heading.label} {heading.unit}" for heading in table.headings] == case.headings
    assert [(row.number, row.cells) for row in table.rows] == case.rows
    assert list(table.notes) == case.notes
    assert table.decimal == case.decimal
    assert table.sheet == ""


def test_place_is_as_a_person_finds_it(read: Read) -> None:
    (table,), _ = read((HEAD + "01,web,1.5,2.8\n").encode(), "coupons.csv")
    assert table.place(table.rows[0], table.headings[2]) == "row 2, column 'mass in air'"
    assert table.place(7, table.headings[2]) == "row 7, column 'mass in air'"
    assert table.column(table.headings[3]) == ["2.8"]


def test_a_long_table_keeps_its_numbers(read: Read) -> None:
    lines = [f"{number:06};web;1,{number:05};2,85" for number in range(20_000)]
    (table,), problems = read((HEAD.replace(",", ";") + "\n".join(lines)).encode(), "coupons.csv")
    assert problems == []
    assert table.rows[-1].number == 20_001
    assert table.rows[-1].cells == ("019999", "web", "1,19999", "2,85")
