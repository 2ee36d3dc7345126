"""CSV files that are refused, each with its exact findings."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.files.tables import read_table
from laminate.values.problems import Problem, Refused
from tests.messages.wording import reads

from .conftest import Read

HEAD = "specimen,zone,mass in air [g],thickness [mm]\n"
Finding = tuple[str, str, str, str, str]
AGAIN = "number repeats: 'thickness 1', 'thickness 2'"
BELOW = "remove the row, or move it below the last specimen; if the lower row is none, remove that"
HEADER = "a header: a row with at least two known columns, such as 'specimen' and 'mass in air [g]'"

BAD: dict[str, tuple[str | bytes, list[Finding]]] = {
    "empty": ("", [("file-empty", "", "an empty file", "a header and at least one row", "")]),
    "blank": (" \n\n", [("file-empty", "", "an empty file", "a header and at least one row", "")]),
    "header alone": (
        HEAD,
        [("no-rows", "row 1", "0 rows", "at least one coupon below the header", "")],
    ),
    "header and units alone": (
        "specimen,mass in air\n,g\n",
        [("no-rows", "row 1", "0 rows", "at least one coupon below the header", "")],
    ),
    "totals alone": (
        HEAD + "mean,,1,\n",
        [("no-rows", "row 1", "0 rows", "at least one coupon below the header", "")],
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
                "'web' under no heading",
                "a heading over every column in use",
                "2 such cells",
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
    "total between coupons": (
        HEAD + "01,web,1.5,2.8\nmean,,1.5,2.8\n02,skin,1.6,2.9\naverage,,1.6,2.9\n",
        [
            (
                "total-in-between",
                "row 3",
                "'mean' above '02' in row 4, which is read as a coupon",
                "coupons alone",
                BELOW,
            )
        ],
    ),
    "a row in the way among the computed ones": (
        HEAD + "01,web,1.5,2.8\nMean,,1.5,2.8\nStreuung,,0.1,0.1\nCV %,,6,4\n",
        [
            (
                "total-in-between",
                "row 3",
                "'Mean' above 'Streuung' in row 4, which is read as a coupon",
                "coupons alone",
                BELOW,
            )
        ],
    ),
    "a signature between coupons": (
        HEAD + "01,web,1.5,2.8\nSigned: JM,,,\n,,1.6,2.9\n",
        [
            (
                "total-in-between",
                "row 3",
                "'Signed: JM' above row 4, which is read as a coupon",
                "coupons alone",
                BELOW,
            )
        ],
    ),
    "words and counts numbered": (
        "specimen,zone,zone 2,lot_2,remark (3),plies 2,points 1\n01,web,skin,L1,x,20,400\n",
        [
            (
                "numbered-column",
                f"row 1, column '{label}'",
                f"'{text}'",
                f"one column '{label.rpartition(' ')[0]}': only readings are numbered, for repeats",
                hint,
            )
            for label, text, hint in (
                ("zone 2", "zone 2", ""),
                ("lot 2", "lot_2", ""),
                ("remark 3", "remark (3)", ""),
                ("plies 2", "plies 2", ""),
                ("points 1", "points 1", "points are told apart by 'field'"),
            )
        ],
    ),
    "a word column twice": (
        "specimen,zone,Zone\n01,web,skin\n",
        [("duplicate-column", "row 1, column 'zone'", "'zone' in columns 2 and 3", "each column once", "")],
    ),
    "a comma in a remark": (
        HEAD.replace("\n", ",operator,remark\n") + "01,web,1.5,2.8,JM,dropped, weighed again\n",
        [
            (
                "too-many-cells",
                "row 2",
                "7 cells under 6 headings",
                "one cell a heading",
                'a comma inside a cell needs quotation marks: "dropped, weighed again"',
            )
        ],
    ),
    "two commas in a remark, more columns after it": (
        HEAD.replace("\n", ",remark,excluded\n") + "01,web,1.5,2.8,wet, dried, kept,\n",
        [
            (
                "too-many-cells",
                "row 2",
                "8 cells under 6 headings",
                "one cell a heading",
                'a comma inside a cell needs quotation marks: "wet, dried, kept"',
            )
        ],
    ),
    "decimal commas beside a remark": (
        HEAD.replace("\n", ",remark\n") + "01,web,1,5,2,8,dropped\n",
        [
            (
                "too-many-cells",
                "row 2",
                "7 cells under 5 headings",
                "one cell a heading",
                "a decimal comma needs ; or a tab as separator",
            )
        ],
    ),
    "a comma in another cell": (
        HEAD.replace("\n", ",operator\n") + "01,web,1.5,2.8,JM,AB\n",
        [
            (
                "too-many-cells",
                "row 2",
                "6 cells under 5 headings",
                "one cell a heading",
                "a comma inside a cell needs quotation marks around the cell",
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


@pytest.mark.parametrize(("data", "findings"), BAD.values(), ids=BAD.keys())
def test_file_is_refused(data: str | bytes, findings: list[Finding], read: Read) -> None:
    _, problems = read(data.encode() if isinstance(data, str) else data, "coupons.csv")
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
    assert reads("read: many findings of one kind are counted", problems[-1][4])


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


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)
@given(
    data=st.binary(max_size=80) | st.text(alphabet='specimen,zone;[]g"\n1.\t', max_size=80).map(str.encode)
)
def test_any_bytes_are_a_table_or_a_finding(data: bytes, read: Read) -> None:
    for opening in (b"", b"specimen;zone;density\n"):
        tables, problems = read(opening + data, "coupons.csv")
        assert tables or problems


OTHER_NAMES = {
    "comment": "remark",
    "Notes": "remark",
    "thk [mm]": "thickness",
    "thk 2 [mm]": "thickness",
    "temp [degC]": "liquid temperature",
    "weight in air [g]": "mass in air",
    "weight in water [g]": "mass in liquid",
    "crucible weight [g]": "crucible mass",
    "wet mass [g]": "saturated mass",
    "tester": "operator",
}


@pytest.mark.parametrize(("heading", "meant"), OTHER_NAMES.items())
def test_another_name_of_a_column_is_answered(heading: str, meant: str, read: Read) -> None:
    _, problems = read(f"specimen,zone,{heading}\n01,web,1\n".encode(), "coupons.csv")
    assert [(code, hint) for code, _, _, _, hint in problems] == [
        ("unknown-column", f"did you mean '{meant}'?")
    ]
