"""Coupon tables as columns; large plain ones are read so: one row a specimen, nothing to mend.

What needs a word to anybody (a number that is none, a name twice, a unit missing) makes a table not plain: it
is read row by row, as `coupons` does.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from laminate.files.cell_checks import NAMES, unseen
from laminate.files.coupons import A_READING, COLUMNS, LISTED, NUMBERS, POINTS, Coupon, gather, within
from laminate.files.csv_table import FINE, separator_of
from laminate.files.grid import Grid
from laminate.files.heading import tidy
from laminate.files.method_names import METHODS, methods_in
from laminate.files.reasons import gives_reasons
from laminate.files.split_numbers import size_of_unit, split_numbers
from laminate.files.table import SHOWN_DIGITS, TEXT_COLUMNS, Heading, Row, Table, as_read
from laminate.files.tables import Tables
from laminate.files.totals import means_at, total_word
from laminate.values.problems import Problem
from laminate.values.units import Unreadable, column_unit

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FEWEST = 200
"""Rows from which a table is worth columns."""
CARRIED = (
    "zone", "position", "lot", "operator", "time", "method", "kind", "excluded", "accepted", "remark",
    "balance", "liquid balance", "crucible", "degassed", "entry",
)  # fmt: skip
"""Words that a plain table may have beside names."""
LONGEST = 64
"""Signs that no number has."""
_HEAD = 65_536
_LINES = 30
_MAY_BE_DATE = re.compile(r"(?=.*[-/.:+\s])(?=.*\d).+")


@dataclass
class Column:
    """Numbers of one heading.

    number: SI [n], NaN where the cell is empty; cells: as bytes; decimals: places of each, -1 without a
    decimal sign; factor: of the unit, or of each cell's; written: as the cells say; typed: whether a cell
    tells the digits that an instrument showed; long: which have more digits than are read, None where nobody
    counted them.
    """

    heading: Heading
    number: Array
    cells: Any
    decimals: Any
    factor: Any
    written: Array
    typed: Any = True
    long: Any = None

    def text(self, at: int) -> str:
        """What a cell says."""
        return str(self.cells[at].decode())

    def rows(self, kept: Any) -> Column:
        """The cells of a mask (n,), of a column that was read at once."""
        arrays = (self.number[kept], self.cells[kept], self.decimals[kept])
        return Column(self.heading, *arrays, self.factor, self.written[kept], self.typed)


@dataclass
class CouponTable(ABC):
    """Coupons as columns: names and words by column, numbers by label, in the order of the file.

    words: '' where a cell is empty; unwritten: labels of columns of floats, whose numbers do not tell the
    decimals they were read with.
    """

    words: dict[str, list[str]]
    columns: dict[str, Column]
    unwritten: frozenset[str]

    def __len__(self) -> int:
        return len(self.words["specimen"])

    def word(self, column: str) -> list[str]:
        """The text of a column of each row, '' where it is empty."""
        return self.words.get(column) or [""] * len(self)

    def counted(self) -> Any:
        """The rows that are not excluded (n,)."""
        return np.array([not word for word in self.word("excluded")], bool)

    @abstractmethod
    def coupon(self, at: int) -> Coupon:
        """One row."""

    @abstractmethod
    def rows(self, kept: Any) -> CouponTable:
        """The rows of a mask (n,)."""


@dataclass
class PlainTable(CouponTable):
    """A plain table: a row a coupon, which is made when it is asked for.

    lines: of each row, as a spreadsheet numbers them (n,); decimal: sign of its numbers.
    """

    file: str
    decimal: str
    headings: tuple[Heading, ...]
    lines: Any
    sheet: str = ""
    notes: tuple[str, ...] = ()

    def coupon(self, at: int) -> Coupon:
        """One row as `read_coupons` gives it."""
        labels, words = [heading.label for heading in self.headings], self.words
        cells = (words[label][at] if label in words else self.columns[label].text(at) for label in labels)
        row = Row(int(self.lines[at]), tuple(cells))
        (coupon,), _ = gather([Table(self.file, self.sheet, self.headings, (row,), decimal=self.decimal)])
        coupon.unwritten = self.unwritten
        return coupon

    def rows(self, kept: Any) -> PlainTable:
        """The rows of a mask (n,)."""
        if kept.all():
            return self
        places = np.flatnonzero(kept).tolist()
        words = {name: [column[at] for at in places] for name, column in self.words.items()}
        columns = {label: column.rows(kept) for label, column in self.columns.items()}
        return replace(self, words=words, columns=columns, lines=self.lines[kept])


def read_plain(path: Path, file: str) -> PlainTable | None:
    """The table, or None where it is not plain; file: as the person named it."""
    if path.suffix.casefold() != ".csv" or not path.is_file():
        return None
    data = path.read_bytes()
    head = _head(data, file)
    cells = _cells(data, *head) if head else None
    if head is None or cells is None or any(map(_not_plain, cells["specimen"])):
        return None
    return _table(file, head[0], cells)


def plain_of(read: Tables) -> PlainTable | None:
    """The table of a file that another way of writing keeps from being read at once; None where not plain."""
    if len(read.tables) != 1 or read.problems:
        return None
    table, _ = read.tables[0]
    if len(table.rows) < FEWEST or table.asked or not _known(table.headings):
        return None
    if table.computed and not read.unwritten:
        return None
    columns = [list(column) for column in zip(*(row.cells for row in table.rows), strict=True)]
    if any('"' in cell for column in columns for cell in column):
        return None
    filled = np.array([[bool(cell) for cell in column] for column in columns])
    cells: dict[str, Any] = {heading.label: columns[at] for at, heading in enumerate(table.headings)}
    numbers = [heading.label for heading in table.headings if heading.name not in TEXT_COLUMNS]
    if any(len(cell) > LONGEST for label in numbers for cell in cells[label]):
        return None
    try:
        cells |= {label: np.array(cells[label], "S") for label in numbers}
    except UnicodeEncodeError:
        return None
    plain = _table(table.file, table.headings, cells, table.decimal) if _filled(filled) else None
    if plain is None:
        return None
    lines = np.array([row.number for row in table.rows])
    for label in read.unwritten & plain.columns.keys():
        plain.columns[label].typed = False
    return replace(plain, notes=table.notes, lines=lines, sheet=table.sheet, unwritten=read.unwritten)


def _filled(cells: Any) -> bool:
    """Whether every row has a name and more; cells: which hold something (k, n)."""
    return bool((cells.sum(axis=0) > 1).all())


def _known(headings: Sequence[Heading]) -> bool:
    names = [heading.name for heading in headings]
    known = (*CARRIED, "specimen", *(name for name in NUMBERS if name not in POINTS))
    return "specimen" in names and {*names} <= {*known}


def _head(data: bytes, file: str) -> tuple[tuple[Heading, ...], str] | None:
    """Headings and separator; None where text, header or units are not plain."""
    if data.count(b"\n") < FEWEST or not data.isascii() or data.startswith(b"PK"):
        return None
    if b'"' in data or b"\0" in data or data.count(b"\r") not in (0, data.count(b"\r\n")):
        return None
    head = data[:_HEAD].rpartition(b"\n")[0].decode("ascii")
    separator, skipped = separator_of(head, COLUMNS)
    if skipped or (separator != "," and b"," in data):
        return None
    lines = [line.split(separator) for line in head.splitlines()[:_LINES]]
    problems: list[Problem] = []
    table = Grid(file, "", list(enumerate(lines, 1)), COLUMNS, problems, separator).table()
    if table is None or problems or table.notes or table.rows[0].number != 2:
        return None
    if separator != "," and any(size_of_unit(heading) <= FINE for heading in table.headings):
        return None
    if separator == "," and any(split_numbers(table, dict(enumerate(lines, 1)))):
        return None
    fits = [heading.index for heading in table.headings] == list(range(len(lines[0])))
    return (table.headings, separator) if fits and _known(table.headings) else None


def _cells(data: bytes, headings: Sequence[Heading], separator: str) -> dict[str, Any] | None:
    """Label -> words of the rows, or numbers as bytes (n,); None where a row is not plain."""
    data = data.replace(b"\r", b"").removesuffix(b"\n") + b"\n"
    signs = np.frombuffer(data, np.uint8)
    ends: Any = np.flatnonzero((signs == ord(separator)) | (signs == ord("\n")))
    starts: Any = np.append(0, ends[:-1] + 1)
    if len(ends) % len(headings) or ((signs[starts] == ord(" ")) | (signs[ends - 1] == ord(" "))).any():
        return None
    starts, ends = (places.reshape(-1, len(headings)).T for places in (starts, ends))
    stops, lengths = signs[ends] == ord("\n"), ends - starts
    if stops[:-1].any() or not stops[-1].all() or not _filled(lengths > 0):
        return None
    starts, ends, lengths = starts[:, 1:], ends[:, 1:], lengths[:, 1:]  # without the header
    signs = np.append(signs, np.zeros(lengths.max(), np.uint8))
    text, cells = data.decode("ascii"), dict[str, Any]()
    for heading, start, end, length in zip(headings, starts, ends, lengths, strict=True):
        if heading.name in TEXT_COLUMNS:
            cells[heading.label] = [text[a:b] for a, b in zip(start.tolist(), end.tolist(), strict=True)]
            continue
        width = max(int(length.max()), 1)
        if width > LONGEST:
            return None
        column = sliding_window_view(signs, width)[start]
        column[np.arange(width) >= length[:, None]] = 0
        cells[heading.label] = column.view(f"S{width}")[:, 0]
        if width > SHOWN_DIGITS:
            read = [as_read(cell.decode()) for cell in cells[heading.label].tolist()]
            cells[heading.label] = np.array(read, "S")
    return cells


def _table(
    file: str, headings: tuple[Heading, ...], cells: dict[str, Any], decimal: str = "."
) -> PlainTable | None:
    """The columns [SI], None where a cell, a name or a row is not plain; cells: as `_cells` gives them."""
    words = {h.label: cells[h.label] for h in headings if h.name in TEXT_COLUMNS}
    names = words["specimen"]
    if len(set(names)) < len(names) or not all(names):
        return None
    numbered = [name for name in names if name.isdecimal()]
    if len({name.lstrip("0") for name in numbered}) < len(numbered):
        return None
    for label in LISTED.keys() & words.keys():
        known = {word: " ".join(word.casefold().split()) for word in set(words[label])}
        if not set(known.values()) <= {"", *LISTED[label]}:
            return None
        words[label] = [known[word] for word in words[label]]
    if any(is_no_word(label, set(column)) for label, column in words.items()):
        return None
    words = {label: column for label, column in words.items() if any(column)}
    columns: dict[str, Column] = {}
    for heading in headings:
        if heading.name not in TEXT_COLUMNS and cells[heading.label].any():
            column = _column(heading, cells[heading.label], decimal)
            if column is None:
                return None
            columns[heading.label] = column
    answered = [words[name] for name in ("kind", "excluded") if name in words]
    readings = ((c.heading.name, c.text, c.written) for c in columns.values())
    if not columns or means_at(names, answered, readings, decimal):
        return None
    headings = tuple(h for h in headings if h.label in words or h.label in columns)
    return PlainTable(words, columns, frozenset(), file, decimal, headings, np.arange(2, len(names) + 2))


def is_no_word(column: str, cells: Collection[str]) -> bool:
    """Whether one of the cells of words may be what `coupons` refuses there."""
    if column in ("excluded", "accepted"):
        return not all(gives_reasons(cell, COLUMNS) for cell in cells if cell)
    if column == "only":
        return not all(methods <= {*METHODS} for methods in map(set, map(methods_in, cells)))
    if column in NAMES and unseen("".join(cells)):
        return True
    return column == "crucible" and any(map(A_READING.fullmatch, cells))


def _not_plain(name: str) -> bool:
    """Whether a name may be that of a row of totals, of a header, or a date."""
    if name.isdecimal():
        return False
    return bool(total_word(name) or tidy(name) in COLUMNS or _MAY_BE_DATE.fullmatch(name))


def _column(heading: Heading, cells: Any, decimal: str) -> Column | None:
    """The numbers of a column, None where a cell is none, or out of bounds."""
    width = cells.dtype.itemsize
    signs = np.ascontiguousarray(np.ascontiguousarray(cells).view(np.uint8).reshape(len(cells), width).T)
    digit, point, none = (signs >= 48) & (signs <= 57), signs == ord(decimal), signs == 0
    plain = digit | point | none
    plain[0] |= (signs[0] == 45) | (signs[0] == 43)
    filled, points = ~none[0], point.sum(axis=0)
    if not plain.all() or (points > 1).any() or (digit.any(axis=0) != filled).any():
        return None
    pointed = cells if decimal == "." else np.char.replace(cells, decimal.encode(), b".")
    written = np.where(filled, pointed, b"nan").astype(float)
    try:
        factor, offset = column_unit(heading.unit, NUMBERS[heading.name])
    except Unreadable:
        return None
    number = written * factor + offset
    if not (within(heading.name, number, written) | ~filled).all():
        return None
    length = width - none.sum(axis=0)
    decimals = np.where(points == 1, length - point.argmax(axis=0) - 1, -1).astype(np.int8)
    return Column(heading, number, cells, decimals, factor, written)
