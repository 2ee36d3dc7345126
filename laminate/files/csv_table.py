"""Coupon tables from CSV text: encoding, separator and decimal sign are found, never guessed."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import islice

from laminate.files.grid import HIDDEN, NO_COUPON, SHORT_ROWS, Grid
from laminate.files.heading import SEARCHED_ROWS, find_header
from laminate.files.split_numbers import size_of_unit, split_numbers
from laminate.files.table import COULD_BE_THOUSANDS, TEXT_COLUMNS, Table, looks_like_number, mixed_decimals
from laminate.values.problems import Problem
from laminate.values.said import few

DECIMAL_SIGN = "read with decimal "
"""Begins what is said where the commas or points of a table could stand between thousands."""
FINE = 2e-6
"""Units [m, kg] so small that nobody reads three decimals of them: um, mg."""
SEPARATORS = (";", "\t", ",")


def forgiven(notes: Sequence[str]) -> list[str]:
    """Those of the notes that stand under an answer, since a coupon or its readings may be lost in them."""
    left_out = [note.removesuffix(NO_COUPON).rstrip() for note in notes if note.endswith(NO_COUPON)]
    others = [note for note in notes if any(words in note for words in (DECIMAL_SIGN, SHORT_ROWS, HIDDEN))]
    return [*others, *([f"no coupon, left out: {few(left_out, 4)}"] if left_out else [])]


def read_csv(file: str, data: bytes, known: Collection[str], problems: list[Problem]) -> Table | None:
    """The table of a CSV file, without rows where it has none; None where there is nothing to read.

    file: as the person named it; data: its bytes; known: names of columns; problems: takes the findings.
    """
    decoded = decode(data)
    if decoded is None:
        hint = "save it as .csv (UTF-8) or .xlsx"
        problems.append(Problem("not-text", file, "", "a file that is not text", "CSV text", hint))
        return None
    text, notes = decoded
    separator, skipped = separator_of(text, known)
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in _rows(text, separator, skipped):
            rows.append(row)
    except csv.Error as error:
        problems.append(_broken(file, rows[-1][0] if rows else skipped, str(error)))
        return None
    table = Grid(file, "", rows, known, problems, separator).table()
    if table is None:
        return None
    asked = table.asked
    if separator == ",":
        split, questions = split_numbers(table, dict(rows))
        problems += [split] if split else []
        asked += questions
    decimal = _decimal(table, separator, problems)
    notes += _could_be_thousands(table, decimal, separator)
    return replace(table, notes=(*notes, *table.notes), decimal=decimal, asked=asked)


def decode(data: bytes) -> tuple[str, list[str]] | None:
    """The text and what is to be said of its encoding; None where it is no text."""
    for mark, encoding in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(mark):
            return _decoded(data[2:], encoding)
    if 0 in data:
        if data[1::2].count(0) > len(data) * 0.3:
            return _decoded(data, "utf-16-le")
        return _decoded(data, "utf-16-be") if data[::2].count(0) > len(data) * 0.3 else None
    with suppress(UnicodeDecodeError):
        return data.decode("utf-8-sig"), []
    return _decoded(data, "cp1252")


def _decoded(data: bytes, encoding: str) -> tuple[str, list[str]] | None:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return None
    if "\0" in text:
        return None
    note = "read as Windows text (cp1252), not UTF-8" if encoding == "cp1252" else "read as UTF-16, not UTF-8"
    return text.removeprefix("\ufeff"), [note]


def _rows(text: str, separator: str, skipped: int) -> Iterator[tuple[int, list[str]]]:
    """Number and stripped cells of each row that is not blank; a row counts once, whatever lines it spans."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    for number, cells in enumerate(reader, start=1):
        if number > skipped and any(stripped := [cell.strip() for cell in cells]):
            yield number, stripped


def separator_of(text: str, known: Collection[str]) -> tuple[str, int]:
    """The separator that makes most known columns of the header, and the count of lines that declare it."""
    first = text[:8].splitlines()[0].strip() if text.strip() else ""
    if first[:4].lower() == "sep=" and first[4:5] in SEPARATORS:
        return first[4], 1
    if first.lower() == "sep=" and text[4:5] == "\t":
        return "\t", 1
    best, most = ",", (0, 0)
    for separator in SEPARATORS:
        head: list[tuple[int, list[str]]] = []
        with suppress(csv.Error):
            for row in islice(_rows(text, separator, 0), SEARCHED_ROWS):
                head.append(row)
        cells = max((len(row) for _, row in head), default=0)
        count = (find_header(head, known)[1], 0)
        count = count if count[0] else (0, cells)
        if count > most:
            best, most = separator, count
    return best, 0


def _broken(file: str, last: int, error: str) -> Problem:
    """The finding for quotes that do not match; last: the row after which reading stopped making sense."""
    if "field larger" in error or "unexpected end" in error:
        broken_quote = "a quotation mark that opens a cell and is never closed"
    else:
        broken_quote = "a quotation mark inside a quoted cell"
    hint = 'close it, or write "" where a quotation mark is meant'
    return Problem("broken-quotes", file, f"after row {last}", broken_quote, "quotation marks in pairs", hint)


def _could_be_thousands(table: Table, decimal: str, separator: str) -> list[str]:
    """What to say of a decimal sign that could stand between thousands in every number.

    Of a comma where nothing but the separator tells what it is; of a point in one column of a small unit.
    """
    numbers = [heading for heading in table.headings if heading.name not in TEXT_COLUMNS]
    fine = [[heading] for heading in numbers if separator != "," and size_of_unit(heading) <= FINE]
    for headings in [numbers] if decimal == "," else fine:
        pairs = (
            (h, row, cell) for h in headings for row, cell in zip(table.rows, table.column(h), strict=True)
        )
        signed = [(h, row, cell) for h, row, cell in pairs if ("," in cell if decimal == "," else cell)]
        if signed and all(COULD_BE_THOUSANDS.fullmatch(cell.replace(".", ",")) for *_, cell in signed):
            heading, row, cell = signed[0]
            number, whole = cell.replace(",", "."), cell.replace(",", "").replace(".", "")
            sign = "comma" if decimal == "," else "point"
            return [f"{DECIMAL_SIGN}{sign}: '{cell}' in {table.place(row, heading)} is {number}, not {whole}"]
    return []


def _decimal(table: Table, separator: str, problems: list[Problem]) -> str:
    """The decimal sign of the columns of numbers; both in one file is a finding that names both places."""
    seen: dict[str, tuple[str, str, float]] = {}
    for at, heading in enumerate(table.headings):
        for sign in ".," if heading.name not in TEXT_COLUMNS else "":
            for row in () if sign in seen else table.rows:
                cell = row.cells[at]
                if sign in cell and looks_like_number(cell, sign):
                    seen[sign] = (cell, table.place(row, heading), size_of_unit(heading))
                    break
    if "," not in seen or (separator == "," and "." in seen):
        return "."
    comma, where, _ = seen[","]
    if separator == ",":
        signs, expected = f"decimal comma ({comma}) in a table separated by commas", "another separator"
        hint = f"save it with ; or a tab as separator, or as .xlsx{_or_whole(comma)}"
        problems.append(Problem("mixed-decimals", table.file, where, signs, expected, hint))
        return "."
    if "." in seen:
        point, point_place, unit = seen["."]
        hint = f"write every number with the same sign{_or_whole(point) if unit <= FINE else ''}"
        problems.append(mixed_decimals(table.file, where, comma, point, point_place, "the whole file", hint))
    return ","


def _or_whole(cell: str) -> str:
    """What else to write where the sign of a cell may stand between thousands."""
    whole = cell.replace(",", "").replace(".", "")
    thousands = COULD_BE_THOUSANDS.fullmatch(cell.replace(".", ","))
    return f"; if {cell} means {whole}, write it without thousands separators" if thousands else ""
