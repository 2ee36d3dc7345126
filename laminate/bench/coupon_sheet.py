"""A blank coupon table as a workbook with drop-downs and checks, or as CSV text."""

from __future__ import annotations

import csv
import io
import itertools
import math
from typing import TYPE_CHECKING

from laminate.bench.sheet import STEPS
from laminate.files.coupons import base_name
from laminate.files.xlsx_table import EXPLANATION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from openpyxl.worksheet.worksheet import Worksheet

    from laminate.bench.sheet import Blank, Column

SHEET = "coupons"
SPARE = 12
"""Rows that are prepared below the prefilled ones: for blanks, repeats and retests."""

PAPER = {"a4": "9", "letter": "1"}
_WIDE = {"remark": 22.0, "excluded": 14.0, "accepted": 14.0, "specimen": 11.0}
_LONGEST_LIST = 255
_ONE_PAGE = 40
_PAGE_WIDTH = 280.0
"""Most characters across a page: half the size that they have on the screen."""


def csv_text(blank: Blank) -> str:
    """The table as CSV text: header and prefilled rows."""
    page = io.StringIO(newline="")
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow([column.heading for column in blank.columns])
    writer.writerows(blank.rows)
    return page.getvalue()


def workbook(blank: Blank, *, paper: str = "a4") -> bytes:
    """The table as a workbook: a page that explains, and the table with drop-downs, checks and print layout.

    paper: 'a4' or 'letter'.
    """
    import openpyxl

    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    first.title = EXPLANATION
    table = book.create_sheet(SHEET)
    lists = _explain(first, blank)
    _fill(table, blank)
    _check(table, blank, lists)
    for sheet in (first, table):
        _page(sheet, blank, paper, landscape=sheet is table)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _fill(sheet: Worksheet, blank: Blank) -> None:
    from openpyxl.styles import Alignment, Border, Font, Side

    thin = Side(style="thin")
    box = Border(left=thin, right=thin, top=thin, bottom=thin)
    last = 1 + len(blank.rows) + SPARE
    for at, column in enumerate(blank.columns, start=1):
        head = sheet.cell(1, at, column.heading)
        head.font, head.border = Font(bold=True), box
        head.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        sheet.column_dimensions[head.column_letter].width = _width(column)
        for number in range(2, last + 1):
            cell = sheet.cell(number, at)
            cell.border = box
            cell.number_format = "General" if column.bounds else "@"
            row = number - 2
            if row < len(blank.rows) and (text := blank.rows[row][at - 1]):
                cell.value = text
                cell.data_type = "s"
    sheet.row_dimensions[1].height = 48
    sheet.freeze_panes = "B2"


def _width(column: Column) -> float:
    """Width of a column [characters]."""
    return _WIDE.get(column.name, 10.5)


def _check(sheet: Worksheet, blank: Blank, lists: dict[str, str]) -> None:
    """Drop-downs and cell checks, each with a plain message."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letters = {column.label: get_column_letter(at) for at, column in enumerate(blank.columns, start=1)}
    last = 1 + len(blank.rows) + SPARE
    for column in blank.columns:
        letter = letters[column.label]
        if column.choices:
            check = DataValidation(type="list", formula1=lists[column.label], allow_blank=True)
            check.error = _short(f"Choose one of: {', '.join(column.choices)}.")
        elif column.bounds:
            check = DataValidation(type="custom", formula1=condition(column, letters), allow_blank=True)
            check.error = _short(_message(column))
        else:
            continue
        # what the balance shows can be typed: with its scatter a blank weighs less than its empty crucible
        check.errorStyle = "warning" if column.orders else "stop"
        check.errorTitle = check.promptTitle = column.label[:32]
        check.prompt = _short(column.words)
        check.showErrorMessage = check.showInputMessage = True
        check.add(f"{letter}2:{letter}{last}")
        sheet.add_data_validation(check)


def condition(column: Column, letters: dict[str, str]) -> str:
    """The condition on the cell in row 2, as a formula: a number, inside its bounds, in order with its row.

    letters: of every column, by label.
    """

    def cells(name: str) -> list[str]:
        return [label for label in letters if base_name(label) == name]

    def weighed(label: str) -> str:
        less = column.sinker if base_name(label) == "mass in liquid" else ""
        return f"{letters[label]}2-N({letters[cells(less)[0]]}2)" if less else f"{letters[label]}2"

    cell, weighed_cell = f"{letters[column.label]}2", weighed(column.label)
    assert column.bounds is not None
    low, equal, high, _ = column.bounds
    parts = [f"ISNUMBER({cell})", f"{cell}>{'=' if equal else ''}{low:.12g}", f"{cell}<={high:.12g}"]
    if step := STEPS.get(column.name):
        parts.append(f"MOD({cell}/{step:g},1)=0")
    for sign, other, level in column.orders:
        for label in cells(other):
            parts.append(f'OR({letters[label]}2="",{weighed_cell}{sign}{"=" * level}{weighed(label)})')
    return f"AND({','.join(parts)})"


_ORDERS = {("<", False): "below", ("<", True): "at most", (">", False): "above", (">", True): "at least"}


def _message(column: Column) -> str:
    orders = [f"{_ORDERS[sign, level]} '{other}'" for sign, other, level in column.orders]
    text = ", ".join([f"Wanted: {column.bounds[-1] if column.bounds else ''}", *orders])
    hint = " If this reading is right, look at the other cell." if orders else ""
    if column.in_liquid and not column.sinker:
        hint = " Weighed with a sinker? Go on, and add the column 'sinker mass in liquid'."
    unit = "" if column.name in STEPS else ", in the unit of the heading"
    return f"{text}. Write the number alone{unit}.{hint}"


def _short(text: str) -> str:
    """A spreadsheet program shows 255 characters at most."""
    return text if len(text) <= _LONGEST_LIST else f"{text[:252]}..."


def _explain(sheet: Worksheet, blank: Blank) -> dict[str, str]:
    """Write the page of explanations; returns the source of every drop-down by label."""
    from openpyxl.styles import Alignment, Font

    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 26, 92
    numbers = itertools.count(1)

    def line(first: str, second: str = "", *, bold: bool = False) -> None:
        number = next(numbers)
        for at, text in enumerate((first, second), start=1):
            cell = sheet.cell(number, at, text or None)
            cell.font = Font(bold=bold or at == 1)
            cell.alignment = Alignment(wrap_text=True, vertical="top")

    line("Coupon table", blank.title, bold=True)
    for heading, sentences in (("Cautions", blank.cautions), ("How to fill it in", blank.filling_in)):
        line("")
        for at, sentence in enumerate(sentences):
            line("" if at else heading, sentence)
    line("")
    line("Column", "What to write", bold=True)
    for column in blank.columns:
        allowed = f" One of: {', '.join(column.choices)}." if column.choices else ""
        line(
            column.heading, f"{column.words}{f' Wanted: {column.bounds[-1]}.' if column.bounds else allowed}"
        )
    return _lists(sheet, blank.columns, next(numbers) + 1)


def _lists(sheet: Worksheet, columns: Sequence[Column], start: int) -> dict[str, str]:
    """The words of every drop-down: in the check itself, or, where it holds no more, on this page."""
    sources: dict[str, str] = {}
    for column in columns:
        if not column.choices:
            continue
        joined = ",".join(column.choices)
        if len(joined) <= _LONGEST_LIST - 2 and not any({*word} & {*',"'} for word in column.choices):
            sources[column.label] = f'"{joined}"'
            continue
        sheet.cell(start, 1, f"words for '{column.label}'")
        for at, word in enumerate(column.choices):
            cell = sheet.cell(start + at, 2, word)
            cell.number_format, cell.data_type = "@", "s"
        end = start + len(column.choices) - 1
        sources[column.label] = f"'{sheet.title}'!$B${start}:$B${end}"
        start = end + 2
    return sources


def _page(sheet: Worksheet, blank: Blank, paper: str, *, landscape: bool) -> None:
    from openpyxl.worksheet.header_footer import HeaderFooterItem
    from openpyxl.worksheet.properties import PageSetupProperties

    setup = sheet.page_setup
    setup.orientation = "landscape" if landscape else "portrait"
    setup.paperSize = int(PAPER[paper])
    width = sum(_width(column) for column in blank.columns)
    setup.fitToWidth = math.ceil(width / _PAGE_WIDTH) if landscape else 1
    setup.fitToHeight = 1 if len(blank.rows) + SPARE <= _ONE_PAGE else 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.4
    margins.top = margins.bottom = 0.7
    if landscape:
        sheet.print_title_rows, sheet.print_title_cols = "1:1", "A:A"
        sheet.oddHeader = top = HeaderFooterItem()
        top.left.text = blank.title.replace("&", "&&")
        top.right.text = "measured by:                         date:                    "
    sheet.oddFooter = foot = HeaderFooterItem()
    foot.right.text = "page &P of &N"
