"""Coupon tables of any kind of file: told apart by content, each handed to its reader."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from laminate.files import csv_table, xlsx_table
from laminate.files.cell_checks import names_made_dates
from laminate.files.table import Table
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, missing_file, unreadable_file

_ZIP = b"PK\x03\x04"
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_SAVE_AS = "save it as .xlsx or .csv"


def read_table(
    path: str | Path,
    *,
    known: Collection[str],
    problems: list[Problem],
    data: bytes | None = None,
    name: str = "",
) -> list[Table]:
    """The tables of a CSV file (one) or of a workbook (one a sheet that has a header).

    path: of the file; name: as the person called it, '' for the path; data: its bytes, where they have been
    read already; known: names of columns, lower case
    with single spaces. Each may be numbered ('thickness 2 [mm]'), and the header is the first row that holds
    two of them. problems: a list to which the findings are added; what could be read is returned, unknown
    columns left out, so that the findings of later checks can be told together with these.
    """
    file, path = name or str(path), Path(path)

    def refuse(code: str, found: str, expected: str, hint: str = "") -> list[Table]:
        problems.append(Problem(code, file, "", found, expected, hint))
        return []

    try:
        data = read_regular(path, MOST_TABLE) if data is None else data
    except FileNotFoundError:
        problems.append(missing_file(file, "", "", "a coupon table (.csv or .xlsx)"))
        return []
    except IsADirectoryError:
        return refuse("file-is-a-directory", "a folder", "a file", "name the table inside it")
    except OSError as error:
        problems.append(unreadable_file(file, error, "a coupon table"))
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
        tables = xlsx_table.read_workbook(file, data, known, problems)
        return [names_made_dates(table) for table in tables]
    if path.suffix.lower() in {".xlsx", ".xlsm", ".xltx", ".ods", ".xls", ".xlsb"}:
        expected = f"a workbook, as it is named {path.suffix}"
        unfinished = "it may be damaged, or not finished saving"
        hint = f"{unfinished}; open it in the spreadsheet program and save it again"
        return refuse("not-a-workbook", "a damaged workbook", expected, hint)
    table = csv_table.read_csv(file, data, known, problems)
    return [names_made_dates(table)] if table is not None and table.rows else []


@dataclass(frozen=True)
class Tables:
    """Tables as written, each with whether nothing is wrong with its file."""

    tables: tuple[tuple[Table, bool], ...]
    problems: tuple[Problem, ...] = ()
    unwritten: frozenset[str] = frozenset()


def read_tables(files: Iterable[tuple[Path | bytes, str]], *, known: Collection[str]) -> Tables:
    """The tables of files, CSV or workbook.

    files: path, or the bytes themselves, and the name that the person called it; known: as of `read_table`.
    """
    problems: list[Problem] = []
    read: list[tuple[Table, bool]] = []
    for path, name in files:
        faults: list[Problem] = []
        where, data = (name, path) if isinstance(path, bytes) else (path, None)
        tables = read_table(where, known=known, problems=faults, data=data, name=name)
        problems += faults
        read += [(table, not faults) for table in tables]
    return Tables(tuple(read), tuple(problems))
