"""Coupon tables from workbooks: every sheet with a header is a table; what it hides or computes is said."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
import zlib
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from laminate.files.cell_checks import Marks, check_cells
from laminate.files.grid import Grid
from laminate.files.number_format import shows_other_number, unit_of, words_of
from laminate.files.table import Table, as_read, column_letters
from laminate.values.problems import Problem
from laminate.values.said import few

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

EXPLANATION = "read me first"
"""The sheet of our own blank table that explains the others."""

_LARGEST = 1_000_000_000
_FORMULA = re.compile(rb"<(?:\w+:)?f[ />]")
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]+)")
_TERM = rf"\s*(?:{_REFERENCE.pattern}|[0-9]*\.?[0-9]+)\s*"
_SUM = re.compile(rf"=[+-]?{_TERM}(?:[+-]{_TERM})*")
"""A sum or difference of cells and decimals, whose digits are those of what was read: `=C2-B2`."""
_ZEROS = re.compile(r"0{2,}")
_LITERAL = re.compile(r'"[^"]*"|\\.|\[[^]]*\]|_.')
_DECIMALS = re.compile(r"[#,0? ]*\.(0+)\s*")
_PERCENT = re.compile(r'"[^"]*"|\\.|(%)')
#: RuntimeError: a part that says it is encrypted, or packed in a way that is not known
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, RuntimeError, LookupError, ValueError, TypeError, AttributeError,
    SyntaxError, EOFError, OSError,
)  # fmt: skip


def other_kind(data: bytes) -> str:
    """What a zip file is that is no .xlsx workbook, or ''."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = set(archive.namelist())
            kind = archive.read("mimetype")[:80] if "mimetype" in names else b""
            size = sum(part.file_size for part in archive.infolist())
    except _DAMAGED:
        return "a damaged workbook or zip file"
    if b"opendocument" in kind:
        return "an OpenDocument file (.ods)"
    if "xl/workbook.bin" in names:
        return "a binary workbook (.xlsb)"
    if size > _LARGEST:
        return "a workbook of more than 1 GB when unpacked"
    workbook = "[Content_Types].xml" in names and any(name.startswith("xl/") for name in names)
    return "" if workbook else "a zip file"


def read_workbook(file: str, data: bytes, known: Collection[str], problems: list[Problem]) -> list[Table]:
    """The tables of a workbook, one a sheet that has a header and rows.

    file: as the person named it; data: its bytes; known: names of columns; problems: takes the findings.
    """
    try:
        sheets = []
        for sheet, formulas in _load(data):
            marks: Marks = defaultdict(dict)
            sheets.append((sheet, _cells(sheet, formulas, marks), marks))
    except _DAMAGED:
        hint = "open it in the spreadsheet program and save it again"
        problems.append(Problem("not-a-workbook", file, "", "a damaged workbook", "a workbook (.xlsx)", hint))
        return []
    tables: list[Table] = []
    notes: list[str] = []
    leftover: list[Problem] = []
    for sheet, rows, marks in sheets:
        if sheet.title.strip().lower() == EXPLANATION:
            continue
        hidden = sheet.sheet_state != "visible"
        name = f"sheet '{sheet.title}'{' (hidden)' if hidden else ''}"
        faults: list[Problem] = []
        table = Grid(file, sheet.title, rows, known, faults).table()
        if table is not None and table.rows:
            problems.extend(faults)
            table = check_cells(table, marks, sheet.merged_cells.ranges, problems)
            tables.append(replace(table, notes=(*table.notes, *_hidden(sheet, table))))
            if hidden:
                notes.append(f"{name} is read")
        elif not rows:
            continue
        elif table is None:
            notes.append(f"{name} has no header of a coupon table, left out")
            leftover.extend(faults)
        else:
            notes.append(f"{name} has a header and no rows, left out")
            leftover[:0] = faults
    if not tables:
        empty = Problem("file-empty", file, "", "an empty file", "a header and at least one row")
        problems.extend(leftover or [empty])
        return []
    return [replace(tables[0], notes=(*notes, *tables[0].notes)), *tables[1:]]


def _load(data: bytes) -> list[tuple[Worksheet, dict[tuple[int, int], bool]]]:
    """Each sheet with the values that its file holds, and its formulas as `_formulas` has them."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        values: Workbook = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
        formulas: dict[str, dict[tuple[int, int], bool]] = {}
        if _has_formulas(data):
            texts = openpyxl.load_workbook(io.BytesIO(data))
            formulas = {sheet.title: _formulas(sheet) for sheet in texts.worksheets}
    return [(sheet, formulas.get(sheet.title, {})) for sheet in values.worksheets]


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        return any(_FORMULA.search(archive.read(name)) for name in sheets)


def _formulas(sheet: Worksheet) -> dict[tuple[int, int], bool]:
    """Row number and column position of the formulas -> whether it only adds typed cells, as `=C2-B2` does.

    An array formula stands in each cell that it fills.
    """
    from openpyxl.utils import column_index_from_string
    from openpyxl.worksheet.cell_range import CellRange
    from openpyxl.worksheet.formula import ArrayFormula

    formula_cells, added = set(), {}
    for (row, column), cell in _stored(sheet).items():
        if cell.data_type == "f":
            formula_cells.add((row, column - 1))
            if isinstance(cell.value, ArrayFormula):
                formula_cells |= {(r, c - 1) for r, c in CellRange(cell.value.ref).cells}
            elif _SUM.fullmatch(str(cell.value)):
                refers = _REFERENCE.findall(str(cell.value))
                added[row, column - 1] = {(int(to), column_index_from_string(of) - 1) for of, to in refers}
    return {at: formula_cells.isdisjoint(added.get(at, {at})) for at in formula_cells}


def _stored(sheet: Worksheet) -> dict[tuple[int, int], Cell | MergedCell]:
    """The cells that the file holds, not the rectangle around them, which may be a million rows high."""
    stored: dict[tuple[int, int], Cell | MergedCell] = sheet._cells
    return stored


def _cells(
    sheet: Worksheet, formulas: Mapping[tuple[int, int], bool], marks: Marks
) -> list[tuple[int, list[str]]]:
    """Number and text of each row that is not blank; cells that are more than their text are marked."""
    rows: dict[int, list[str]] = {}
    for (number, column), cell in _stored(sheet).items():
        value: Any = cell.value
        at = (number, column - 1)
        if at in formulas:
            if value is not None or cell.data_type == "str":
                marks["formula"][at] = "as typed" if formulas[at] else ""
            else:
                marks["uncalculated"][at] = ""
                value = "="
        if value is None:
            continue
        text = _text(value, cell, at, marks)
        if not text:
            continue
        if cell.has_style and cell.font.strike:
            marks["struck"][at] = ""
        if cell.comment is not None:
            marks["comment"][at] = cell.comment.text
        cells = rows.setdefault(number, [])
        cells.extend([""] * (column - len(cells)))
        cells[column - 1] = text
    return sorted(rows.items())


def _text(value: Any, cell: Cell | MergedCell, at: tuple[int, int], marks: Marks) -> str:
    """The text of a value: numbers at their shortest, dates as ISO text."""
    if isinstance(value, str):
        text = value.strip()
        if cell.data_type == "e":
            marks["error"][at] = ""
        elif text[:1] in "+-.,0123456789\N{MINUS SIGN}":
            marks["text"][at] = ""
        return text
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        text = str(int(value)) if abs(value) < 1e15 and value == int(value) else repr(float(value))
        text = as_read(text) if abs(value) < 1e9 else text  # a longer one is a name
        if cell.has_style and (shown := cell.number_format) != "General":
            if words_of(shown) or unit_of(shown) or shows_other_number(shown):
                marks["format"][at] = shown
            if any(_PERCENT.findall(shown)):
                marks["percent"][at] = f"{value * 100:.10g} %"
            elif _ZEROS.fullmatch(shown) and len(text) < len(shown) and text.isdigit():
                marks["padded"][at] = ""
                return text.zfill(len(shown))
            elif (longer := _shown(float(text), shown)) and len(longer) > len(text):
                marks["decimals"][at] = longer
        return text
    marks["date"][at] = ""
    if isinstance(value, dt.datetime):
        whole = value.time() == dt.time()
        return value.date().isoformat() if whole else value.isoformat(sep=" ", timespec="minutes")
    return str(value)


def _shown(value: float, form: str) -> str:
    """A number with the decimals that its format shows, '' where the format is another or hides digits."""
    decimals = _DECIMALS.fullmatch(_LITERAL.sub("", form.partition(";")[0]))
    text = f"{value:.{len(decimals[1])}f}" if decimals else ""
    return text if text and float(text) == value else ""


def _hidden(sheet: Worksheet, table: Table) -> list[str]:
    """What is said of rows and columns that are read although the sheet hides them."""
    numbers = [str(row.number) for row in table.rows if sheet.row_dimensions[row.number].hidden]
    columns: set[int] = set()
    for dimension in sheet.column_dimensions.values():
        if dimension.hidden and dimension.min and dimension.max:
            columns.update(range(dimension.min - 1, min(dimension.max, 16384)))
    labels = [f"{column_letters(h.index)} ('{h.label}')" for h in table.headings if h.index in columns]
    hidden = {"rows": numbers, "columns": labels}
    return [f"{sheet.title}: hidden {what} are read: {few(which)}" for what, which in hidden.items() if which]
