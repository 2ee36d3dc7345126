"""Messy CSV files, each with its exact outcome."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import pytest

from laminate.problems import Problem, Refused
from laminate.read.table import read_table

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
    "fewer cells": Good(HEAD + "01,web\n", PLAIN, [(2, ("01", "web", "", ""))], []),
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
            "row 3: 'Mean' is no specimen, left out",
            "row 4: 'std. dev.' is no specimen, left out",
            "row 5: 'Total:' is no specimen, left out",
        ],
    ),
    "a total with its count": Good(
        HEAD + "01,web,1.5,2.855\nAverage (n=1),,1.5,2.855\n",
        PLAIN,
        ONE,
        ["row 3: 'Average (n=1)' is no specimen, left out"],
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

Finding = tuple[str, str, str, str, str]
AGAIN = "number repeats: 'thickness 1', 'thickness 2'"
HEADER = "a header: a row with at least two known columns, such as 'specimen' and 'mass in air [g]'"

BAD: dict[str, tuple[str | bytes, list[Finding]]] = {
    "empty": ("", [("file-empty", "", "an empty file", "a header and at least one row", "")]),
    "blank": (" \n\n", [("file-empty", "", "an empty file", "a header and at least one row", "")]),
    "header alone": (
        HEAD,
        [("no-rows", "row 1", "a header and no row below it", "at least one specimen", "")],
    ),
    "header and units alone": (
        "specimen,mass in air\n,g\n",
        [("no-rows", "row 1", "a header and no row below it", "at least one specimen", "")],
    ),
    "totals alone": (
        HEAD + "mean,,1,\n",
        [("no-rows", "row 1", "a header and no row below it", "at least one specimen", "")],
    ),
    "no header": (
        "01,web,1.5\n02,web,1.6\n",
        [
            (
                "header-missing",
                "row 1",
                "'01', 'web', '1.5'",
                HEADER,
                "the header says the unit: mass in air [g]",
            )
        ],
    ),
    "header misspelled": (
        "Coupons\nspecimn,mas in air [g],thicknes [mm]\n01,1.5,2.8\n",
        [
            (
                "header-missing",
                "row 2",
                "'specimn', 'mas in air [g]', 'thicknes [mm]'",
                HEADER,
                "perhaps 'specimn' for 'specimen', 'mas in air [g]' for 'mass in air', "
                "'thicknes [mm]' for 'thickness'",
            )
        ],
    ),
    "unknown columns, all of them": (
        "specimen,zone,mass in ait [g],fibre points,colour of the sky\n01,web,1.5,3,blue\n",
        [
            (
                "unknown-column",
                "row 1, column 'mass in ait'",
                "'mass in ait [g]'",
                "a known column",
                "did you mean 'mass in air'?",
            ),
            (
                "unknown-column",
                "row 1, column 'fibre points'",
                "'fibre points'",
                "a known column",
                "did you mean 'fiber points'?",
            ),
            (
                "unknown-column",
                "row 1, column 'colour of the sky'",
                "'colour of the sky'",
                "a known column",
                "",
            ),
        ],
    ),
    "column twice": (
        "specimen,thickness [mm],Thickness (mm)\n01,2.8,2.9\n",
        [
            (
                "duplicate-column",
                "row 1, column 'thickness'",
                "'thickness' in columns 2 and 3",
                "each column once",
                AGAIN,
            )
        ],
    ),
    "number twice": (
        "specimen,thickness 1 [mm],thickness_01 [mm]\n01,2.8,2.9\n",
        [
            (
                "duplicate-column",
                "row 1, column 'thickness 1'",
                "'thickness 1' in columns 2 and 3",
                "each column once",
                AGAIN,
            )
        ],
    ),
    "decimal comma, comma between": (
        HEAD + "01,web,1,5,2,855\n",
        [
            (
                "too-many-cells",
                "row 2",
                "6 cells under 4 headings",
                "one cell a heading",
                "a decimal comma needs ; or a tab as separator",
            )
        ],
    ),
    "too many cells": (
        HEAD.replace(",", ";") + "01;web;1;2\n02;web;1;2;3\n",
        [
            (
                "too-many-cells",
                "row 3",
                "5 cells under 4 headings",
                "one cell a heading",
                "a separator inside a cell needs quotation marks",
            )
        ],
    ),
    "column without heading": (
        "specimen,,mass in air [g]\n01,web,1.5\n02,skin,1.6\n",
        [
            (
                "column-without-heading",
                "row 2, column 2",
                "'web' under no heading (2 such cells)",
                "a heading over every column in use",
                "",
            )
        ],
    ),
    "decimal signs mixed": (
        HEAD.replace(",", ";") + "01;web;1,5;2,855\n02;web;1,6;2.85\n",
        [
            (
                "mixed-decimals",
                "row 2, column 'mass in air'",
                "decimal comma (1,5), and decimal point (2.85) in row 3, column 'thickness'",
                "one decimal sign in the whole file",
                "write every number with the same sign",
            )
        ],
    ),
    "two units": (
        "specimen,zone,mass in air [g],thickness [mm]\n,,mg,mm\n01,web,1.5,2.855\n",
        [
            (
                "unit-twice",
                "row 2, column 'mass in air'",
                "'mg' below a header that says 'g'",
                "one unit a column",
                "remove one of them",
            )
        ],
    ),
    "total between specimens": (
        HEAD + "01,web,1.5,2.8\nmean,,1.5,2.8\n02,skin,1.6,2.9\naverage,,1.6,2.9\n",
        [
            (
                "total-in-between",
                "row 3",
                "'mean' between specimens",
                "specimens alone",
                "remove the row, or move it below the last specimen",
            )
        ],
    ),
    "second table": (
        HEAD + "01,web,1.5,2.8\n\nspecimen,mass in liquid [g]\n01,0.5\n",
        [
            (
                "second-header",
                "row 4",
                "a second header below the first",
                "one table a file or sheet",
                "move the second table to a file or sheet of its own",
            )
        ],
    ),
    "quotation mark left open": (
        HEAD + '01,web,1.5,2.8\n02,"web,1.6,2.9\n03,web,1.7,2.8\n',
        [
            (
                "broken-quotes",
                "after row 2",
                "a quotation mark that opens a cell and is never closed",
                "quotation marks in pairs",
                'close it, or write "" where a quotation mark is meant',
            )
        ],
    ),
    "quotation mark in a quoted cell": (
        HEAD + '01,"3" wide",1.5,2.8\n',
        [
            (
                "broken-quotes",
                "after row 1",
                "a quotation mark inside a quoted cell",
                "quotation marks in pairs",
                'close it, or write "" where a quotation mark is meant',
            )
        ],
    ),
    "not text": (
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(1, 256)),
        [("not-text", "", "a file that is not text", "CSV text", "save it as .csv (UTF-8) or .xlsx")],
    ),
    "bytes of no encoding": (
        HEAD.encode() + b"\x81\x8d,web,1,2\n",
        [("not-text", "", "a file that is not text", "CSV text", "save it as .csv (UTF-8) or .xlsx")],
    ),
}


def as_bytes(data: str | bytes) -> bytes:
    return data.encode() if isinstance(data, str) else data


@pytest.mark.parametrize("case", GOOD.values(), ids=GOOD.keys())
def test_file_is_read(case: Good, read: Read) -> None:
    tables, problems = read(as_bytes(case.data), "coupons.csv")
    assert problems == []
    (table,) = tables
    assert [f"{heading.label} {heading.unit}" for heading in table.headings] == case.headings
    assert [(row.number, row.cells) for row in table.rows] == case.rows
    assert list(table.notes) == case.notes
    assert table.decimal == case.decimal
    assert table.sheet == ""


@pytest.mark.parametrize(("data", "findings"), BAD.values(), ids=BAD.keys())
def test_file_is_refused(data: str | bytes, findings: list[Finding], read: Read) -> None:
    _, problems = read(as_bytes(data), "coupons.csv")
    assert problems == findings


def test_all_findings_are_raised_at_once(tmp_path, known) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "coupons.csv"
    path.write_text("specimen;zone;mas in air [g];thickness [mm]\n01;web;1,5;2,8;x\n02;web;1,6;2.9\n")
    with pytest.raises(Refused) as caught:
        read_table(path, known=known)
    assert [problem.code for problem in caught.value.problems] == [
        "unknown-column",
        "too-many-cells",
        "mixed-decimals",
    ]
    assert caught.value.problems[0] == Problem(
        "unknown-column",
        str(path),
        "row 1, column 'mas in air'",
        "'mas in air [g]'",
        "a known column",
        "did you mean 'mass in air'?",
    )


def test_many_findings_of_one_kind_are_counted(read: Read) -> None:
    _, problems = read((HEAD + "1,web,1,2,3\n" * 50).encode(), "coupons.csv")
    assert len(problems) == 20
    assert problems[-1][1] == "row 21"
    assert problems[-1][4] == "a decimal comma needs ; or a tab as separator; and 30 more like this"


def test_place_is_as_a_person_finds_it(read: Read) -> None:
    (table,), _ = read((HEAD + "01,web,1.5,2.8\n").encode(), "coupons.csv")
    assert table.place(table.rows[0], table.headings[2]) == "row 2, column 'mass in air'"
    assert table.place(7, table.headings[2]) == "row 7, column 'mass in air'"
    assert table.column(table.headings[3]) == ["2.8"]


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda path: None, "no such file, expected a coupon table (.csv or .xlsx)"),
        (lambda path: path.mkdir(), "a directory, expected a file; name the table inside it"),
    ],
)
def test_what_is_no_file_is_refused(make, sentence: str, tmp_path, known) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "coupons.csv"
    make(path)
    with pytest.raises(Refused, match=re.escape(f"{path}: found {sentence}")):
        read_table(path, known=known)


def test_a_long_table_keeps_its_numbers(read: Read) -> None:
    lines = [f"{number:06};web;1,{number:05};2,85" for number in range(20_000)]
    (table,), problems = read((HEAD.replace(",", ";") + "\n".join(lines)).encode(), "coupons.csv")
    assert problems == []
    assert table.rows[-1].number == 20_001
    assert table.rows[-1].cells == ("019999", "web", "1,19999", "2,85")
