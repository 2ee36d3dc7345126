"""Messy workbooks, made cell by cell, each with its exact outcome."""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

import pytest

from tests.messages.wording import Catalog

from .conftest import Read
from .workbooks import HEAD, ROW, Fill, also, merge, rows, shown, value, workbook

READ = ("01", "web", "1.5", "2.855")


class Good(NamedTuple):
    fill: Fill
    cells: list[tuple[int, tuple[str, ...]]]
    notes: list[str]
    results: dict[str, str] | None = None


GOOD = {
    "plain": Good(rows(HEAD, ROW), [(2, READ)], []),
    "whole numbers": Good(rows(HEAD, ["0012", 7, 12, 12.0]), [(2, ("0012", "7", "12", "12"))], []),
    "shortest text": Good(
        rows(HEAD, [1, None, 1 / 3, 1e-7]), [(2, ("1", "", "0.33333333333333", "1e-07"))], []
    ),
    "fourteen digits of what a program subtracted": Good(
        rows(HEAD, ["01", "web", 1.5, 12.87 - 10.0], ["02", "web", 1.5, 2.870000000000001]),
        [(2, ("01", "web", "1.5", "2.87")), (3, ("02", "web", "1.5", "2.87"))],
        [],
    ),
    "decimals as they are shown, no more than any number of the column has": Good(
        also(
            rows(HEAD, [101, "web", 1, 2.87], [102, "web", 1.5, 2.88], [103, "web", 1.25, 2.9]),
            *(shown(f"{column}{row}", "0.000") for column in "CD" for row in (2, 3, 4)),
        ),
        [
            (2, ("101", "web", "1.00", "2.87")),
            (3, ("102", "web", "1.50", "2.88")),
            (4, ("103", "web", "1.25", "2.90")),
        ],
        [],
    ),
    "decimals as they are shown, of numbers alone": Good(
        also(
            rows(HEAD, [101, "web", 1, 2.9], [102, "web", 1.123, 2.8554]),
            *(shown(cell, "0.000") for cell in ("A2", "C2", "C3")),
            *(shown(cell, '#,##0.00" mm";[Red]-0.00') for cell in ("D2", "D3")),
        ),
        [(2, ("101", "web", "1.000", "2.90")), (3, ("102", "web", "1.123", "2.8554"))],
        [],
    ),
    "decimals of a result, which is said as one": Good(
        also(rows(HEAD, ["01", "web", "=1+0.5", 2.855]), shown("C2", "0.000")),
        [(2, ("01", "web", "1.5", "2.855"))],
        ["Coupons!C2: results of formulas, taken as the spreadsheet program last saved them"],
        {"C2": "1.5"},
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
    "words by format, in columns of words alone": Good(
        also(
            rows([*HEAD, "lot"], [1, None, 1, 2.9, 7], [12, None, 2, 2.9, 8], [101, None, 3, 2.9, 9], [5]),
            *(shown(f"{column}2", '"F-"0') for column in "ACE"),
            shown("A3", '[Blue]\\G\\-000;"minus "0'),
            shown("A4", '"CF "0-00'),
            shown("A5", '"H"General'),
        ),
        [
            (2, ("F-1", "", "1", "2.9", "F-7")),
            (3, ("G-012", "", "2", "2.9", "8")),
            (4, ("CF 1-01", "", "3", "2.9", "9")),
            (5, ("H5", "", "", "", "")),
        ],
        ["Coupons!A2, Coupons!E2, Coupons!A3, Coupons!A4, Coupons!A5: names, as their format shows them"],
    ),
    "decimals of names, as they are shown, where the column has some": Good(
        also(
            rows([*HEAD, "crucible"], [1.1, None, 1, 2.9, 7], [1.15, None, 2, 2.9, 8], [2, None, 3, 2.9, 9]),
            *(shown(f"{column}{row}", "0.00") for column in "AE" for row in (2, 3, 4)),
        ),
        [
            (2, ("1.10", "", "1", "2.9", "7")),
            (3, ("1.15", "", "2", "2.9", "8")),
            (4, ("2.00", "", "3", "2.9", "9")),
        ],
        ["Coupons!A2, Coupons!A4: names, as their format shows them"],
    ),
    "formats that show no word": Good(
        also(
            rows(HEAD, [1, *ROW[1:]], [2, *ROW[1:]]),
            shown("A2", "_-* #,##0_-;-* #,##0_-"),
            shown("A3", "0_)"),
        ),
        [(2, ("1", *READ[1:])), (3, ("2", *READ[1:]))],
        [],
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
        ["Coupons row 3: 'mean' is no coupon, left out"],
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
    "units in number formats that are those of the headings, and words that are no unit": Good(
        also(
            rows(
                [*HEAD, "liquid temperature [°C]", "plies"],
                [*ROW, 22.8, 20],
                ["g", "web", 1.6, 2.866, 23, 20],
            ),
            *(
                shown(cell, form)
                for cell, form in (("C2", '0.0" g"'), ("C3", '"ca. "0.0"€"'), ("A2", '00" in"'))
            ),
            *(shown(cell, form) for cell, form in (("D2", '0.000" (mm)"'), ("D3", "0.000 \\m\\m"))),
            *(shown(cell, form) for cell, form in (("E2", '0.0"°"'), ("E3", '0.0" degC"'), ("F2", '0" mm"'))),
        ),
        [(2, (*READ, "22.8", "20")), (3, ("g", "web", "1.6", "2.866", "23.0", "20"))],
        [],
    ),
    "percentage in a column of words": Good(
        also(rows([*HEAD, "remark"], [*ROW, 0.35]), shown("E2", "0%")), [(2, (*READ, "0.35"))], []
    ),
}

BAD: dict[str, Fill] = {
    "formulas without results": rows(HEAD, ["01", "web", "=A1", "=1+1"]),
    "error": also(rows(HEAD, ROW), value("C2", "#DIV/0!")),
    "a number became a date": rows(HEAD, ["01", "web", dt.date(2026, 5, 1), 2.855]),
    "percent format": also(rows(["specimen", "zone", "area [%]"], ["01", "web", 0.35]), shown("C2", "0.0%")),
    "another unit in the number format": also(
        rows(
            ["specimen", "thickness [mm]", "liquid temperature [degC]"],
            ["01", 0.1131, 22.8],
            ["02", 2.87, 23],
        ),
        shown("B2", '0.0000" in";[Red]-0.00'),
        shown("C3", r"0.0\ \°\F"),
    ),
    "merged down": also(rows(HEAD, ROW, ["02", None, 1.6, 2.9]), merge("B2:B3")),
    "merged across": also(rows(HEAD, ROW, ["02", "web", 1.6, None]), merge("C3:D3")),
    "merged heading": also(
        rows(["specimen", "zone", "thickness [mm]", None], ["01", "web", 2.8, 2.9]), merge("C1:D1")
    ),
    "comma that can be thousands": rows(HEAD, ["01", "web", "1,234", 2.855]),
    "texts with both signs": rows(HEAD, ["01", "web", "1,5", "2.855"]),
    "unknown and doubled columns": rows(
        ["specimen", "thickness [mm]", "thickness [mm]", "mass of air [g]"], ["01", 1, 2, 3]
    ),
    "cells beside the table": rows(HEAD, [*ROW, None, "note"]),
    "two units": rows(HEAD, [None, None, "mg", "mm"], ROW),
    "header alone": rows(HEAD),
    "no header": rows(["a", "b"], [1, 2]),
    "nothing": rows(),
}


@pytest.mark.parametrize("case", GOOD.values(), ids=GOOD.keys())
def test_workbook_is_read(case: Good, read: Read) -> None:
    tables, problems = read(workbook(case.fill, case.results), "coupons.xlsx")
    assert problems == []
    (table,) = tables
    assert [(row.number, row.cells) for row in table.rows] == case.cells
    assert list(table.notes) == case.notes
    assert (table.sheet, table.decimal) == ("Coupons", ".")


@pytest.mark.parametrize("name", BAD)
def test_workbook_is_refused(name: str, read: Read, wording: Catalog) -> None:
    _, problems = read(workbook(BAD[name]), "coupons.xlsx")
    wording.hold_problems(f"workbook: {name}", problems)


def test_a_refused_cell_is_empty_in_what_is_read(read: Read) -> None:
    (table,), problems = read(workbook(rows(HEAD, ["01", "web", "=A1", 2.855])), "coupons.xlsx")
    assert len(problems) == 1
    assert table.rows[0].cells == ("01", "web", "", "2.855")
