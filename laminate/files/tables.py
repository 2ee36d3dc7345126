"""Coupon tables of any kind of file: told apart by content, each handed to its reader."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from laminate.files import csv_table, xlsx_table
from laminate.files.cell_checks import names_made_dates
from laminate.files.named_file import NamedFile
from laminate.files.table import Table
from laminate.values.problems import Problem, missing_file, unreadable_file

_ZIP = b"PK\x03\x04"
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_SAVE_AS = "save it as .xlsx or .csv"


def read_table(file: NamedFile, *, known: Collection[str], problems: list[Problem]) -> list[Table]:
    """The tables of a CSV file (one) or of a workbook (one a sheet that has a header).

    known: names of columns, lower case with single spaces. Each may be numbered ('thickness 2 [mm]'), and the
    header is the first row that holds two of them. problems: a list to which the findings are added; what
    could be read is returned, unknown columns left out, so that the findings of later checks can be told
    together with these.
    """
    name, suffix = file.name, file.path.suffix

    def refuse(code: str, found: str, expected: str, hint: str = "") -> list[Table]:
        problems.append(Problem(code, name, "", found, expected, hint))
        return []

    try:
        data = file.data()
    except FileNotFoundError:
        problems.append(missing_file(name, "", "", "a coupon table (.csv or .xlsx)"))
        return []
    except IsADirectoryError:
        return refuse("file-is-a-directory", "a folder", "a file", "name the table inside it")
    except OSError as error:
        problems.append(unreadable_file(name, error, "a coupon table"))
        return []
    if not data.strip():
        return refuse("file-empty", "an empty file", "a header and at least one row")
    if data.startswith(_COMPOUND):
        if "EncryptedPackage".encode("utf-16-le") in data:
            hint = "open it in the spreadsheet program, remove the password and save"
            return refuse("file-protected", "a workbook with a password", "one without", hint)
        old, expected = "a workbook of the old kind (.xls)", "a table that can be read"
        return refuse("old-workbook", old, expected, _SAVE_AS)
    if data.startswith(_ZIP):
        if other := xlsx_table.other_kind(data):
            return refuse("wrong-format", other, "a workbook (.xlsx) or a CSV file", _SAVE_AS)
        return [*map(names_made_dates, xlsx_table.read_workbook(name, data, known, problems))]
    if suffix.lower() in {".xlsx", ".xlsm", ".xltx", ".ods", ".xls", ".xlsb"}:
        expected = f"a workbook, as it is named {suffix}"
        unfinished = "it may be damaged, or not finished saving"
        hint = f"{unfinished}; open it in the spreadsheet program and save it again"
        return refuse("not-a-workbook", "a damaged workbook", expected, hint)
    table = csv_table.read_csv(name, data, known, problems)
    return [names_made_dates(table)] if table is not None and table.rows else []


@dataclass(frozen=True)
class Tables:
    """Tables as written, each with whether nothing is wrong with its file."""

    tables: tuple[tuple[Table, bool], ...]
    problems: tuple[Problem, ...] = ()
    unwritten: frozenset[str] = frozenset()


def read_tables(files: Iterable[NamedFile], *, known: Collection[str]) -> Tables:
    """The tables of files, CSV or workbook; known: as of `read_table`."""
    problems: list[Problem] = []
    read: list[tuple[Table, bool]] = []
    for file in files:
        faults: list[Problem] = []
        read += [(table, not faults) for table in read_table(file, known=known, problems=faults)]
        problems += faults
    return Tables(tuple(read), tuple(problems))
