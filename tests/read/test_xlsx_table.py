"""Messy workbooks, made cell by cell, each with its exact outcome."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Callable
from typing import Any, NamedTuple

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from .conftest import Read

HEAD = ["specimen", "zone", "mass in air [g]", "thickness [mm]"]
ROW = ["01", "web", 1.5, 2.855]
READ = ("01", "web", "1.5", "2.855")
Fill = Callable[[Worksheet], Any]
Finding = tuple[str, str, str, str, str]


def rows(*lines: list[Any]) -> Fill:
    def fill(sheet: Worksheet) -> None:
        for line in lines:
            sheet.append(line)

    return fill


def also(*fills: Fill) -> Fill:
    def fill(sheet: Worksheet) -> None:
        for each in fills:
            each(sheet)

    return fill


def shown(cell: str, form: str) -> Fill:
    return lambda sheet: setattr(sheet[cell], "number_format", form)


def value(cell: str, content: Any) -> Fill:
    return lambda sheet: setattr(sheet[cell], "value", content)


def merge(block: str) -> Fill:
    return lambda sheet: sheet.merge_cells(block)


def workbook(fill: Fill, results: dict[str, str] | None = None) -> bytes:
    """A workbook of one sheet; results are what formulas came to, as a spreadsheet program stores it."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Coupons"
    fill(sheet)
    return with_results(saved(book), results or {})


def saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def with_results(data: bytes, results: dict[str, str]) -> bytes:
    """Put stored results (cell -> attributes and value of its XML) beside formulas."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = part.decode()
                for cell, result in results.items():
                    kind, _, stored = result.rpartition("|")
                    text, count = re.subn(
                        rf'<c r="{cell}"([^>]*)><f>(.*?)</f><v ?/?>(?:</v>)?</c>',
                        rf'<c r="{cell}"\1{kind and f" t={kind!r}"}><f>\2</f><v>{stored}</v></c>',
                        text,
                    )
                    assert count == 1, (cell, text)
                part = text.encode()
            new.writestr(name, part)
    return stream.getvalue()


class Good(NamedTuple):
    fill: Fill
    cells: list[tuple[int, tuple[str, ...]]]
    notes: list[str]
    results: dict[str, str] | None = None


GOOD = {
    "plain": Good(rows(HEAD, ROW), [(2, READ)], []),
    "whole numbers": Good(rows(HEAD, ["0012", 7, 12, 12.0]), [(2, ("0012", "7", "12", "12"))], []),
    "shortest text": Good(
        rows(HEAD, [1, None, 1 / 3, 1e-7]), [(2, ("1", "", "0.3333333333333333", "1e-07"))], []
    ),
    "blank rows and corners": Good(
        also(value("C4", "specimen"), value("D4", "mass in air [g]"), value("C7", "01"), value("D7", 1.5)),
        [(7, ("01", "1.5"))],
        [],
    ),
    "title above, merged": Good(
        also(rows(["Coupons of batch 26-031"], [], HEAD, ROW), merge("A1:D1")),
        [(4, READ)],
        ["Coupons row 1: above the header, not read: 'Coupons of batch 26-031'"],
    ),
    "units below the header": Good(
        rows(["specimen", "zone", "mass in air", "thickness"], [None, None, "g", "(mm)"], ROW),
        [(3, READ)],
        ["Coupons row 2: read as units: mass in air [g], thickness [mm]"],
    ),
    "numbers stored as text": Good(
        rows(HEAD, ["01", "web", "1.5", "2.855"], ["02", "web", 1.6, "3"]),
        [(2, READ), (3, ("02", "web", "1.6", "3"))],
        ["Coupons!C2, Coupons!D2, Coupons!D3: 3 numbers are stored as text, and read"],
    ),
    "one number stored as text": Good(
        rows(HEAD, ["01", "web", " 1.5", 2.855]),
        [(2, READ)],
        ["Coupons!C2: 1 number is stored as text, and read"],
    ),
    "decimal comma stored as text": Good(
        rows(HEAD, ["01", "web", "1,5", "2,855"]),
        [(2, READ)],
        ["Coupons!C2, Coupons!D2: 2 numbers are stored as text, and read, the comma as decimal sign"],
    ),
    "other text is kept": Good(rows(HEAD, ["01", "1,5", "NA", "-"]), [(2, ("01", "1,5", "NA", "-"))], []),
    "dates and truth": Good(
        rows(
            ["specimen", "time", "remark", "degassed"],
            ["01", dt.datetime(2026, 11, 20, 14, 5), dt.date(2026, 11, 20), True],
            ["02", dt.time(14, 5), dt.datetime(2026, 11, 20), False],
        ),
        [
            (2, ("01", "2026-11-20 14:05", "2026-11-20", "TRUE")),
            (3, ("02", "14:05:00", "2026-11-20", "FALSE")),
        ],
        [],
    ),
    "leading zeros by format": Good(
        also(rows(HEAD, [12, *ROW[1:]]), shown("A2", "0000")),
        [(2, ("0012", *READ[1:]))],
        ["Coupons!A2: numbers, read with the leading zeros that are shown"],
    ),
    "formulas with results": Good(
        rows(HEAD, ["01", "=B9", "=1+0.5", 2.855]),
        [(2, READ)],
        ["Coupons!B2, Coupons!C2: results of formulas, taken as the spreadsheet program last saved them"],
        {"B2": "str|web", "C2": "1.5"},
    ),
    "a formula that gives nothing": Good(
        rows(HEAD, [*ROW, None], ['=IF(A9="","",A9)']), [(2, READ)], [], {"A3": "str|"}
    ),
    "totals are left out, whatever is in them": Good(
        rows(HEAD, ROW, ["mean", None, "=AVERAGE(C2:C2)", "#DIV/0!"]),
        [(2, READ)],
        ["Coupons row 3: 'mean' is no specimen, left out"],
    ),
    "hidden rows and columns": Good(
        also(
            rows(HEAD, ROW, ROW, ROW),
            lambda sheet: setattr(sheet.row_dimensions[3], "hidden", True),
            lambda sheet: setattr(sheet.column_dimensions["C"], "hidden", True),
        ),
        [(2, READ), (3, READ), (4, READ)],
        ["Coupons: hidden rows are read: 3", "Coupons: hidden columns are read: C ('mass in air')"],
    ),
    "far corner": Good(also(rows(HEAD, ROW), shown("XFD1048576", "0.00")), [(2, READ)], []),
    "merged beside the table": Good(
        also(rows(["specimen", "mass in air [g]", "remark"], ["01", 1.5, "fell"]), merge("C2:F2")),
        [(2, ("01", "1.5", "fell"))],
        [],
    ),
    "empty merged block": Good(
        also(rows(HEAD, ["01", None, None, 2.855]), merge("B2:C2")), [(2, ("01", "", "", "2.855"))], []
    ),
    "percent sign that is a mere text": Good(
        also(rows(["specimen", "area [%]"], ["01", 35]), shown("B2", '0.0" %"')), [(2, ("01", "35"))], []
    ),
    "percentage in a column of words": Good(
        also(rows([*HEAD, "remark"], [*ROW, 0.35]), shown("E2", "0%")), [(2, (*READ, "0.35"))], []
    ),
}

OPEN = "open the workbook in the spreadsheet program and save it, or type the value"
MEND = "correct the formula, or leave the cell empty"
DATE = (
    "the spreadsheet program made a date of what was typed: set the cell to a number format and type it again"
)
UNMERGE = "unmerge it and write the text into each cell that it is meant for"
AGAIN = "set the cell to a number format and type it again"
OVER = "a heading over every column in use"

BAD: dict[str, tuple[Fill, list[Finding]]] = {
    "formulas without results": (
        rows(HEAD, ["01", "web", "=A1", "=1+1"]),
        [
            ("formula-not-calculated", "Coupons!C2", "a formula without its result", "a value", OPEN),
            ("formula-not-calculated", "Coupons!D2", "a formula without its result", "a value", OPEN),
        ],
    ),
    "error": (
        also(rows(HEAD, ROW), value("C2", "#DIV/0!")),
        [("error-cell", "Coupons!C2", "'#DIV/0!'", "a value", MEND)],
    ),
    "a number became a date": (
        rows(HEAD, ["01", "web", dt.date(2026, 5, 1), 2.855]),
        [("date-in-number", "Coupons!C2", "the date 2026-05-01", "a number", DATE)],
    ),
    "percent format": (
        also(rows(["specimen", "zone", "area [%]"], ["01", "web", 0.35]), shown("C2", "0.0%")),
        [
            (
                "percent-format",
                "Coupons!C2",
                "0.35 shown as 35 % under [%]",
                "a plain number",
                "it can mean 0.35 or 35 %: take the percent format away and write the number in the unit of "
                "the heading",
            )
        ],
    ),
    "merged down": (
        also(rows(HEAD, ROW, ["02", None, 1.6, 2.9]), merge("B2:B3")),
        [("merged-cells", "Coupons!B2:B3", "merged cells", "one value a cell", UNMERGE)],
    ),
    "merged across": (
        also(rows(HEAD, ROW, ["02", "web", 1.6, None]), merge("C3:D3")),
        [("merged-cells", "Coupons!C3:D3", "merged cells", "one value a cell", UNMERGE)],
    ),
    "merged heading": (
        also(rows(["specimen", "zone", "thickness [mm]", None], ["01", "web", 2.8, 2.9]), merge("C1:D1")),
        [("column-without-heading", "Coupons!D2", "'2.9' under no heading", OVER, "")],
    ),
    "comma that can be thousands": (
        rows(HEAD, ["01", "web", "1,234", 2.855]),
        [
            (
                "number-ambiguous",
                "Coupons!C2",
                "'1,234' stored as text",
                "a number",
                f"it can mean 1.234 or 1234: {AGAIN}",
            )
        ],
    ),
    "texts with both signs": (
        rows(HEAD, ["01", "web", "1,5", "2.855"]),
        [
            (
                "mixed-decimals",
                "Coupons!C2",
                "decimal comma (1,5), and decimal point (2.855) in Coupons!D2",
                "numbers, or texts with one decimal sign",
                "set the column to a number format and type them again",
            )
        ],
    ),
    "unknown and doubled columns": (
        rows(["specimen", "thickness [mm]", "thickness [mm]", "mass of air [g]"], ["01", 1, 2, 3]),
        [
            (
                "duplicate-column",
                "Coupons!C1",
                "'thickness' in columns B and C",
                "each column once",
                "number repeats: 'thickness 1', 'thickness 2'",
            ),
            (
                "unknown-column",
                "Coupons!D1",
                "'mass of air [g]'",
                "a known column",
                "did you mean 'mass in air'?",
            ),
        ],
    ),
    "cells beside the table": (
        rows(HEAD, [*ROW, None, "note"]),
        [("column-without-heading", "Coupons!F2", "'note' under no heading", OVER, "")],
    ),
    "two units": (
        rows(HEAD, [None, None, "mg", "mm"], ROW),
        [
            (
                "unit-twice",
                "Coupons!C2",
                "'mg' below a header that says 'g'",
                "one unit a column",
                "remove one of them",
            )
        ],
    ),
    "header alone": (
        rows(HEAD),
        [("no-rows", "Coupons!1:1", "a header and no row below it", "at least one specimen", "")],
    ),
    "no header": (
        rows(["a", "b"], [1, 2]),
        [
            (
                "header-missing",
                "Coupons row 1",
                "'a', 'b'",
                "a header: a row with at least two known columns, such as 'specimen' and 'mass in air [g]'",
                "the header says the unit: mass in air [g]",
            )
        ],
    ),
    "nothing": (rows(), [("file-empty", "", "a workbook without text", "a header and at least one row", "")]),
}


@pytest.mark.parametrize("case", GOOD.values(), ids=GOOD.keys())
def test_workbook_is_read(case: Good, read: Read) -> None:
    tables, problems = read(workbook(case.fill, case.results), "coupons.xlsx")
    assert problems == []
    (table,) = tables
    assert [(row.number, row.cells) for row in table.rows] == case.cells
    assert list(table.notes) == case.notes
    assert (table.sheet, table.decimal) == ("Coupons", ".")


@pytest.mark.parametrize(("fill", "findings"), BAD.values(), ids=BAD.keys())
def test_workbook_is_refused(fill: Fill, findings: list[Finding], read: Read) -> None:
    _, problems = read(workbook(fill), "coupons.xlsx")
    assert problems == findings


def test_a_refused_cell_is_empty_in_what_is_read(read: Read) -> None:
    (table,), problems = read(workbook(rows(HEAD, ["01", "web", "=A1", 2.855])), "coupons.xlsx")
    assert len(problems) == 1
    assert table.rows[0].cells == ("01", "web", "", "2.855")


def test_every_sheet_with_a_header_is_a_table(read: Read) -> None:
    book = openpyxl.Workbook()
    fills = {
        "Read me first": (rows(["specimen: the name", "zone: where"]), "visible"),
        "Immersion": (rows(HEAD, ROW), "visible"),
        "Thickness": (rows(["specimen", "thickness 1 [mm]"], ["01", 2.8]), "visible"),
        "Old": (rows(HEAD, ROW), "hidden"),
        "Lists": (rows(["web"], ["skin"]), "veryHidden"),
        "Areal": (rows(["specimen", "area [cm^2]"]), "visible"),
        "Empty": (rows(), "visible"),
        "Notes": (rows(["cut on Monday"]), "visible"),
    }
    for title, (fill, state) in fills.items():
        sheet = book.create_sheet(title)
        fill(sheet)
        sheet.sheet_state = state
    book.remove(book.worksheets[0])
    tables, problems = read(saved(book), "coupons.xlsx")
    assert problems == []
    assert [table.sheet for table in tables] == ["Immersion", "Thickness", "Old"]
    assert tables[1].place(tables[1].rows[0], tables[1].headings[1]) == "Thickness!B2"
    assert tables[0].notes == (
        "sheet 'Old' (hidden) is read",
        "sheet 'Lists' (hidden) has no header of a coupon table, left out",
        "sheet 'Areal' has a header and no rows, left out",
        "sheet 'Notes' has no header of a coupon table, left out",
    )
    assert tables[1].notes == tables[2].notes == ()


def packed(**parts: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("__", "/").replace("_", "."), content)
    return stream.getvalue()


COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64)
SAVE = "save it as .xlsx or .csv"
UNDAMAGE = "open it in the spreadsheet program and save it again"
WANTED = "a workbook (.xlsx) or a CSV file"

NO_WORKBOOKS: dict[str, tuple[str, bytes, Finding]] = {
    "password": (
        "coupons.xlsx",
        COMPOUND + "EncryptedPackage".encode("utf-16-le"),
        (
            "file-protected",
            "",
            "a workbook with a password",
            "one without",
            "open it in the spreadsheet program, remove the password and save",
        ),
    ),
    "old kind": (
        "coupons.xls",
        COMPOUND,
        ("old-workbook", "", "a workbook of the old kind (.xls)", "a table that can be read", SAVE),
    ),
    "open document": (
        "coupons.ods",
        packed(mimetype="application/vnd.oasis.opendocument.spreadsheet"),
        ("wrong-format", "", "an OpenDocument file (.ods)", WANTED, SAVE),
    ),
    "binary workbook": (
        "coupons.xlsb",
        packed(xl__workbook_bin=""),
        ("wrong-format", "", "a binary workbook (.xlsb)", WANTED, SAVE),
    ),
    "other zip": ("coupons.xlsx", packed(a_txt=""), ("wrong-format", "", "a zip file", WANTED, SAVE)),
    "cut short": (
        "coupons.xlsx",
        workbook(rows(HEAD, ROW))[:2000],
        ("wrong-format", "", "a damaged workbook or zip file", WANTED, SAVE),
    ),
    "text under that name": (
        "coupons.xlsx",
        b"specimen,zone\n01,web\n",
        (
            "not-a-workbook",
            "",
            "a file that is no workbook, although named .xlsx",
            "a workbook",
            "it may be damaged, or not finished saving; open it in the spreadsheet program and save it again",
        ),
    ),
}


@pytest.mark.parametrize(("name", "data", "finding"), NO_WORKBOOKS.values(), ids=NO_WORKBOOKS.keys())
def test_what_is_no_workbook_is_refused(name: str, data: bytes, finding: Finding, read: Read) -> None:
    assert read(data, name) == ([], [finding])


def test_a_broken_sheet_is_refused(read: Read) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook(rows(HEAD, ROW)))) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name)[: 200 if "sheet1" in name else None])
    finding = ("not-a-workbook", "", "a damaged workbook", "a workbook (.xlsx)", UNDAMAGE)
    assert read(stream.getvalue(), "coupons.xlsx") == ([], [finding])


def test_a_workbook_is_known_by_its_content(read: Read) -> None:
    (table,), problems = read(workbook(rows(HEAD, ROW)), "coupons.csv")
    assert problems == []
    assert table.sheet == "Coupons"
