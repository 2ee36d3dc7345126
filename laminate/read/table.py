"""A coupon table as written: headings, rows of text, the place of every cell; not what a column means.

`read_table` tells kinds of files apart and hands each to its reader. Text stays text: `0012` is not 12, `NA`
is not a hole; `parse_number` turns one cell into a number where a number is wanted.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from laminate.problems import Problem, Refused
from laminate.units import Unreadable

TEXT_COLUMNS = frozenset(
    {
        "specimen",
        "zone",
        "position",
        "kind",
        "lot",
        "replaces",
        "operator",
        "time",
        "remark",
        "excluded",
        "accepted",
        "degassed",
        "balance",
        "liquid balance",
        "crucible",
        "method",
        "field",
    }
)
"""Columns whose cells are words: a number in them is a name, its comma no decimal sign."""

_ZIP = b"PK\x03\x04"
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_SAVE_AS = "save it as .xlsx or .csv"
_NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII),
    ",": re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?", re.ASCII),
}
_GROUPED = re.compile(
    r"[+-]?\d{1,3}(?:(?P<mark>[.,'’ \u00a0\u2009\u202f])\d{3})(?:(?P=mark)\d{3})*(?:[.,]\d*)?", re.ASCII
)
_WITH_WORDS = re.compile(r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(?![xeE])(?:[^\W\d_]|[%°µ]).*")
_NOT_MEASURED = frozenset(
    {"na", "n/a", "n.a.", "n.a", "nan", "none", "null", "nil", "-", "--", "–", "—", "?", "??", "x"}
    | {"inf", "-inf", "infinity", "-infinity", "tbd", "missing"}
)


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

    file: as the person named it; sheet: '' in a CSV file; decimal: the sign that `parse_number` shall expect.
    """

    file: str
    sheet: str
    headings: tuple[Heading, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    decimal: str = "."

    def place(self, row: Row | int, heading: Heading) -> str:
        """Where a person finds the cell: "row 7, column 'mass in air'", in a workbook 'Sheet!C7'."""
        number = row if isinstance(row, int) else row.number
        return place(self.sheet, number, heading.index, heading.label)

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
    letters = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        letters = chr(65 + digit) + letters
    return letters


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
    raise Unreadable(f"'{text}'" if text else "an empty cell", _expected(decimal), _mend(plain, decimal))


def looks_like_number(text: str, decimal: str) -> bool:
    """Whether a cell is a number written with this decimal sign."""
    return _NUMBER[decimal].fullmatch(text) is not None


def _expected(decimal: str) -> str:
    return "a number" if decimal == "." else "a number with decimal comma"


def _mend(text: str, decimal: str) -> str:
    """What to write instead of a cell that is not a number."""
    other = "," if decimal == "." else "."
    if text.casefold().lstrip("+") in _NOT_MEASURED:
        return "leave the cell empty where nothing was measured"
    if text.startswith("#"):
        return "correct the formula, or leave the cell empty"
    if _GROUPED.fullmatch(text) and not _NUMBER[other].fullmatch(text):
        return "write it without thousands separators"
    if other in text and _NUMBER[other].fullmatch(text):
        if _GROUPED.fullmatch(text):
            return f"write {text.replace(other, decimal)} or {text.replace(other, '')}, whichever is meant"
        return f"the decimal sign of this table is '{decimal}': write {text.replace(other, decimal)}"
    if words := _WITH_WORDS.fullmatch(text):
        return f"write {words[1]} alone: a unit belongs in the heading, words in the column 'remark'"
    return ""


def read_table(
    path: str | Path, *, known: Collection[str], problems: list[Problem] | None = None
) -> list[Table]:
    """The tables of a CSV file (one) or of a workbook (one a sheet that has a header).

    path: of the file; known: names of columns, lower case with single spaces. Each may be numbered
    ('thickness 2 [mm]'), and the header is the first row that holds two of them. problems: a list to which
    the findings are added; what could be read is then returned, unknown columns left out, so that the
    findings of later checks can be told together with these.

    Raises Refused with every finding where no list is given.
    """
    found: list[Problem] = []
    tables = _dispatch(str(path), Path(path), known, found)
    if problems is not None:
        problems.extend(found)
    elif found:
        raise Refused(found)
    return tables


def _dispatch(file: str, path: Path, known: Collection[str], problems: list[Problem]) -> list[Table]:
    """Read the bytes, tell the kinds of file apart by content, and hand over."""
    from laminate.read import csv_table, xlsx_table

    def refuse(code: str, found: str, expected: str, hint: str = "") -> list[Table]:
        problems.append(Problem(code, file, "", found, expected, hint))
        return []

    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return refuse("file-missing", "no such file", "a coupon table (.csv or .xlsx)")
    except IsADirectoryError:
        return refuse("file-is-a-directory", "a directory", "a file", "name the table inside it")
    except OSError as error:
        return refuse("file-unreadable", error.strerror or "an error of the disk", "a file that can be read")
    if not data.strip():
        return refuse("file-empty", "an empty file", "a header and at least one row")
    if data.startswith(_COMPOUND):
        if "EncryptedPackage".encode("utf-16-le") in data:
            hint = "open it in the spreadsheet program, remove the password and save"
            return refuse("file-protected", "a workbook with a password", "one without", hint)
        return refuse(
            "old-workbook", "a workbook of the old kind (.xls)", "a table that can be read", _SAVE_AS
        )
    if data.startswith(_ZIP):
        if other := xlsx_table.other_kind(data):
            return refuse("wrong-format", other, "a workbook (.xlsx) or a CSV file", _SAVE_AS)
        return xlsx_table.read_workbook(file, data, known, problems)
    if path.suffix.lower() in {".xlsx", ".xlsm", ".xltx", ".ods", ".xls", ".xlsb"}:
        hint = (
            "it may be damaged, or not finished saving; open it in the spreadsheet program and save it again"
        )
        return refuse(
            "not-a-workbook", f"a file that is no workbook, although named {path.suffix}", "a workbook", hint
        )
    table = csv_table.read_csv(file, data, known, problems)
    return [] if table is None else [table]
