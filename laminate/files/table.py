"""A coupon table as written: headings, rows of text, the place of every cell; not what a column means.

Text stays text: `0012` is not 12, `NA` is not a hole; `parse_number` turns one cell into a number where a
number is wanted.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Context
from functools import cached_property
from pathlib import Path

from laminate.values.problems import Problem
from laminate.values.units import Unreadable

TABLE_WORDS = tomllib.loads(Path(__file__).with_name("table_words.toml").read_text("utf-8"))
"""Columns of a table, and words that people write: other headings, rows of totals, cells of nothing."""
NUMBERS: dict[str, str] = {
    name: kind for kind, names in TABLE_WORDS["columns"].items() if kind != "text" for name in names
}
"""Column of numbers -> the kind of quantity that it holds."""
TEXT_COLUMNS = frozenset(TABLE_WORDS["columns"]["text"])
"""Columns whose cells are words: a number in them is a name, its comma no decimal sign."""
ONCE = TEXT_COLUMNS | {"plies", "points", "fiber points", "void points"}
"""Columns that no number repeats: words, and counts."""

_NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII),
    ",": re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?", re.ASCII),
}
_GROUPED = re.compile(
    r"[+-]?\d{1,3}(?:(?P<mark>[.,'’ \u00a0\u2009\u202f])\d{3})(?:(?P=mark)\d{3})*(?:(?!(?P=mark))[.,]\d*)?",
    re.ASCII,
)
_MONTH = r"(?:jan|feb|mar|mrz|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)\.?"
A_DATE = re.compile(
    r"\d{4}-\d\d-\d\d(?: \d\d:\d\d(?::\d\d)?)?"
    rf"|\d{{1,2}}[-. /]{{1,2}}{_MONTH}(?:[-. /]\d{{2,4}})?|{_MONTH}[- /]\d{{2,4}}"
    r"|\d{1,2}([./])\d{1,2}\1(?:19|20)\d\d",
    re.IGNORECASE,
)
"""A date as programs write it, which they make of a name or a number too."""
_DAY, _OF_YEAR = r"(?:0[1-9]|[12]\d|3[01])", r"(?:0[1-9]|1[0-2])"
SHORT_DATE = re.compile(
    rf"(?=\d\d([-./])\d\d\1)(?:{_DAY}.{_OF_YEAR}|{_OF_YEAR}.{_DAY}).(?P<year>[2-4]\d)", re.ASCII
)
"""The same with a year of two digits, which a number of three parts looks like."""
COULD_BE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
"""A number with a comma that may stand before decimals or between thousands."""
#: a number and words; '1.44z7' is none: there one digit was mistyped, and '1.44' would be another number
_WITH_WORDS = re.compile(
    r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)(?:\s+|(?!\w\d+$))(?![xeE])(?:[^\W\d_]|[%°µ]).*"
)
_WITH_SIGNS = re.compile(r"[~≈]?\s*([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(?:[*†?!~]+|(?:±|\+/-).*)?")
LOOK_ALIKE = {"O": "0", "o": "0", "l": "1", "I": "1"}
"""Letters that are typed for a digit."""
_NOT_MEASURED = frozenset(TABLE_WORDS["cells"]["not_measured"])


def mixed_decimals(
    file: str, place: str, comma: str, point: str, point_place: str, where: str, hint: str
) -> Problem:
    """A decimal comma where other numbers have a point; comma, point: two such cells."""
    both_signs = f"decimal comma ({comma}), and decimal point ({point}) in {point_place}"
    return Problem("mixed-decimals", file, place, both_signs, f"one decimal sign in {where}", hint)


MOST_DIGITS, SHOWN_DIGITS = 9, 14
"""Digits that an instrument gives at most (common practice, no source), and to which a number is read."""


def digits_of(text: str) -> int:
    """How many digits a number is written with, zeros at its ends not counted.

    >>> digits_of("0.08310"), digits_of("2.8699999999999992")
    (3, 17)
    """
    return sum(map(str.isdigit, text.strip(" +-0.,")))


def as_read(text: str) -> str:
    """The text of a cell, that of a number with more digits than `SHOWN_DIGITS` at so many.

    A spreadsheet program makes 2.8699999999999992 of 12.87 - 10 and shows 2.87.

    >>> as_read("2.8699999999999992"), as_read("2.870")
    ('2.87', '2.870')
    """
    sign = "," if "," in text else "."
    if digits_of(text) <= SHOWN_DIGITS or not looks_like_number(text, sign):
        return text
    number = Context(SHOWN_DIGITS).create_decimal(text.replace(",", "."))
    return f"{number.normalize():f}".replace(".", sign)


@dataclass(frozen=True, slots=True)
class Heading:
    """One column: `thickness 2 [mm]` has the name 'thickness', the number 2, the unit 'mm'.

    name: lower case, single spaces, without brackets; number: of a repeated column, or None; unit: as
    written, '' if none; text: the whole as written; index: position of the column in the file, from 0.
    """

    name: str
    number: int | None
    unit: str
    text: str
    index: int

    @property
    def label(self) -> str:
        """The name with its number, as a person says it: 'thickness 2'."""
        return self.name if self.number is None else f"{self.name} {self.number}"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number as a spreadsheet shows it, from 1, and the text of its cells, one a heading."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """One table of one file; `notes` say in words what was forgiven, left out or assumed as it was read.

    file: as the person named it; sheet: '' in a CSV file; decimal: the sign that `parse_number` shall expect;
    asked: row number and warning of each cell that says more than its text, such as a comment; header: number
    of the row of headings; computed: row number and label of each number that no
    instrument showed: the result of a formula, or one of more digits than `MOST_DIGITS`.
    """

    file: str
    sheet: str
    headings: tuple[Heading, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    decimal: str = "."
    asked: tuple[tuple[int, Problem], ...] = ()
    header: int = 1
    computed: frozenset[tuple[int, str]] = frozenset()

    def place(self, row: Row | int, heading: Heading) -> str:
        """Where a person finds the cell: "row 7, column 'mass in air'", in a workbook 'Sheet!C7'."""
        number = row if isinstance(row, int) else row.number
        return place(self.sheet, number, heading.index, heading.label)

    @cached_property
    def by_number(self) -> dict[int, Row]:
        """The rows by their numbers."""
        return {row.number: row for row in self.rows}

    def text(self, row: Row, column: str) -> str:
        """The cell of a row, by label or whole heading of its column; '' where that is not there."""
        pairs = zip(self.headings, row.cells, strict=True)
        return next((text for heading, text in pairs if column in (heading.label, heading.text)), "")

    def with_cells(self, texts: Mapping[tuple[int, int], str]) -> Table:
        """The table with other contents of cells: row number and position of the heading -> text."""
        rows = dict(self.by_number)
        for (number, at), text in texts.items():
            cells = rows[number].cells
            rows[number] = Row(number, (*cells[:at], text, *cells[at + 1 :]))
        return replace(self, rows=tuple(rows.values()))

    def column(self, heading: Heading) -> list[str]:
        """The text of one column, top to bottom."""
        at = self.headings.index(heading)
        return [row.cells[at] for row in self.rows]


def place(sheet: str, row: int, index: int, label: str = "") -> str:
    """Where a person finds a cell; `index` is the position of its column from 0, `label` its name.

    >>> place("", 7, 2, "mass in air")
    "row 7, column 'mass in air'"
    >>> place("Sheet", 7, 2)
    'Sheet!C7'
    """
    if not sheet:
        return f"row {row}, column '{label}'" if label else f"row {row}, column {index + 1}"
    return f"{sheet}!{column_letters(index)}{row}"


def column_letters(index: int) -> str:
    """The letters of a spreadsheet column, counted from 0.

    >>> column_letters(0), column_letters(25), column_letters(26)
    ('A', 'Z', 'AA')
    """
    from openpyxl.utils import get_column_letter

    return get_column_letter(index + 1)


def parse_number(text: str, decimal: str = ".") -> float:
    """The number of one cell, written with the decimal sign of its table.

    Refuses what could be meant in two ways: a thousands separator, the other decimal sign, a unit, a word.

    >>> parse_number("2,855", ",")
    2.855

    Raises Unreadable, which says what to write instead.
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if _NUMBER[decimal].fullmatch(plain):
        number = float(plain.replace(",", "."))
        if number - number == 0.0:
            return number
        raise Unreadable(f"'{text}'", "a number that can be measured", "this one is too large to be read")
    expected = "a number" if decimal == "." else "a number with decimal comma"
    raise Unreadable(f"'{text}'" if text else "an empty cell", expected, _mend(plain, decimal))


def number_in(cell: str, decimal: str) -> float:
    """The number of a cell, NaN where it holds none."""
    try:
        return parse_number(cell, decimal) if cell else math.nan
    except Unreadable:
        return math.nan


def looks_like_number(text: str, decimal: str) -> bool:
    """Whether a cell is a number written with this decimal sign."""
    return _NUMBER[decimal].fullmatch(text) is not None


def _mend(text: str, decimal: str) -> str:
    """What to write instead of a cell that is not a number."""
    other = "," if decimal == "." else "."
    if text.casefold().lstrip("+") in _NOT_MEASURED:
        return "leave the cell empty where nothing was measured"
    if text.startswith("#"):
        return "correct the formula, or leave the cell empty"
    if A_DATE.fullmatch(text) or SHORT_DATE.fullmatch(text):
        return "did a spreadsheet program make a date of the number? read the note, and type it again"
    if text[-1:] in {".", ","} and looks_like_number(text[:-1], decimal):
        return f"write {text[:-1]} if the last character is one too many; else read it again"
    if _GROUPED.fullmatch(text) and not _NUMBER[other].fullmatch(text):
        return "write it without thousands separators"
    if other in text and _NUMBER[other].fullmatch(text):
        if _GROUPED.fullmatch(text):
            return f"write {text.replace(other, decimal)} or {text.replace(other, '')}, whichever is meant"
        return f"the decimal sign of this table is '{decimal}': write {text.replace(other, decimal)}"
    if letters := sorted({sign for sign in text if sign in LOOK_ALIKE}):
        plain = "".join(LOOK_ALIKE.get(sign, sign) for sign in text)
        if looks_like_number(plain, decimal):
            asked = " and ".join(f"letter {sign}?" for sign in letters)
            return f"{asked} read it again, and type it in digits"
    if words := _WITH_WORDS.fullmatch(text):
        return f"write {words[1]} alone if it is in the unit of the heading; words go in the column 'remark'"
    if text[:1] in {*"<>≤≥"}:
        return "a bound is no reading: leave the cell empty, and write the bound in the column 'remark'"
    if (signs := _WITH_SIGNS.fullmatch(text)) and looks_like_number(signs[1], decimal):
        return f"write {signs[1]} alone if that was read; signs and a ± go in the column 'remark'"
    if any(map(str.isdigit, text)):
        return "type what the instrument shows: digits and one decimal sign"
    return "leave the cell empty where nothing was measured; words go in the column 'remark'" if text else ""
