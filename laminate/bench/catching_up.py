"""A table and the end of its history, held against each other before anything is typed.

A change is on the disk as a line of the history before the table has it, so that a session that ended in
between leaves the history ahead, and its lines are put into the table. A table that is ahead of its history,
or behind it in a way that its lines do not mend, has lost something.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from laminate.files.entries import (
    COLUMN,
    History,
    as_typed,
    compare,
    entry_of,
    history_name,
    key_of,
    lines_by_row,
)
from laminate.values.days import days_in
from laminate.values.problems import Problem, Refused
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.files.entries import Line
    from laminate.files.table import Row, Table

Cell = tuple[int, str]
"""Number of a row, as a person counts it, and label of a column."""
OPERATOR, TIME = "operator", "time"
RETEST = {"replaces", "remark"}
"""Columns that one change fills together."""
WRITTEN_BESIDE = (COLUMN, OPERATOR, TIME)
"""Columns that the program fills in beside a change."""


def table_ahead(table: Table, history: History) -> str:
    """Why a history is not whole, in words: a row's last line is beyond its end; '' where none is."""
    row = max(table.rows, key=lambda row: _number(table, row), default=None)
    end = len(history.lines)
    if row is None or (entry := _number(table, row)) <= end:
        return ""
    beyond = f"row {row.number} of {table.file} has the entry {entry}"
    return f"line {end + 1}: the end of the file, though {beyond}"


def names_with_zeros(table: Table, history: History) -> dict[Cell, str]:
    """The names whose zeros a spreadsheet program dropped, by cell, as the history has them.

    Of coupons also where another row replaces one of these. A name that the history does not have stays.
    """
    renamed = [row for row in compare(table, history).renamed if row.but_for_zeros]
    names = {(row.row, row.column): row.was for row in renamed}
    coupons = {row.now: row.was for row in renamed if row.column == "specimen"}
    replaced = {row.number: table.text(row, "replaces") for row in table.rows}
    names |= {(row, "replaces"): coupons[name] for row, name in replaced.items() if name in coupons}
    return names


def missing_cells(table: Table, history: History) -> dict[Cell, str]:
    """What the history says and the table does not have yet: text by row and label, entries too.

    Raises `Refused` where lines later than every entry do not fit what the table holds, and readings of
    theirs are not in it; also where no row has an entry, and more is missing than what was typed last: the
    table is a new one, or that of another batch.
    """
    newest = max((_number(table, row) for row in table.rows), default=0)
    edits = _put_in(table, history.lines[newest:])
    lost = list(_lost(table, history, history, newest, edits or {})) if edits is None or not newest else []
    if not newest:  # of a table without any entry no more can be missing than what was typed last
        lost = [*dict.fromkeys([*_lost(table, history, _without_last(history), newest, {}), *lost])]
    if lost:
        more = f", and {len(lost) - 1} more" if len(lost) > 1 else ""
        raise Refused(table_behind(table.file, f"no {lost[0]}{more}"))
    return edits or {}


def _without_last(history: History) -> History:
    """The lines before those of the last change: one line, or two of a retest and its reason."""
    *lines, last = history.lines or (None,)
    if last and lines and {lines[-1].column, last.column} == RETEST and lines[-1].key == last.key:
        lines.pop()
    return History(tuple(lines))


def _put_in(table: Table, later: tuple[Line, ...]) -> dict[Cell, str] | None:
    """The cells that some lines change, one after the other; those of rows that are gone are left out.

    None where a line does not begin with what its cell holds.
    """
    edits: dict[Cell, str] = {}
    rows = by_key((key_of(table, row), row) for row in table.rows)
    for line in later:
        if not (named := rows.get(line.key)):
            continue
        row, *others = named
        cell = row.number, _label(table, line)
        if others or not as_typed(edits.get(cell, table.text(row, line.column)), line.old or ""):
            return None
        edits[cell] = line.spelled(line.new, table.decimal)
        edits |= _written_along(table, row, line, edits)
        if line.key_after != line.key:
            rows.setdefault(line.key_after, []).extend(rows.pop(line.key))
    return edits


def _written_along(table: Table, row: Row, line: Line, edits: Mapping[Cell, str]) -> dict[Cell, str]:
    """What stands in a row beside a change: its number, who made it and when."""
    times = edits.get((row.number, TIME), table.text(row, TIME))
    beside = {COLUMN: str(line.n), TIME: with_time(times, line.time)}
    people = edits.get((row.number, OPERATOR), table.text(row, OPERATOR))
    if (both := with_person(people, line.who)) != people:
        beside[OPERATOR] = both
    return {(row.number, label): text for label, text in beside.items()}


def time_cell(time: str) -> str:
    """How the table writes the time of a line: the clock on the wall, without seconds.

    >>> time_cell("2026-11-20T14:02:31+01:00")
    '2026-11-20 14:02'
    """
    return dt.datetime.fromisoformat(time).replace(tzinfo=None).isoformat(sep=" ", timespec="minutes")


def with_time(times: str, time: str) -> str:
    """The cell `time` of a row with the time of a line: earlier days stay, for readings of theirs may stand.

    >>> with_time("20.11.2026 09:25; 2026-12-01 09:10", "2026-12-01T14:02:31+01:00")
    '20.11.2026 09:25; 2026-12-01 14:02'
    """
    now = time_cell(time)
    return "; ".join([*(text for text in times.split("; ") if days_in(text) - days_in(now)), now])


def with_person(people: str, name: str) -> str:
    """The people of a row, with one more where the row does not name them yet; a name may have a comma."""
    if not name or f", {name}, " in f", {people}, ":
        return people
    return f"{people}, {name}" if people else name


def _lost(
    table: Table, whole: History, history: History, newest: int, edits: Mapping[Cell, str]
) -> Iterator[str]:
    """What was typed last into cells that are empty, of rows whose entry is not that line: in words.

    whole: with every line; history: those that count; newest: the largest entry; where no row has one, a row
    that is not there is lost as well; edits: cells that will be filled. A row that ends empty was taken back.
    """
    rows, ends = by_key((key_of(table, row), row) for row in table.rows), lines_by_row(whole)
    for key, lines in lines_by_row(history).items():
        there = rows.get(key, [])
        left = lines[-1].key_after != key or (not there and newest > 0)
        left = left or not any({line.column: line.new for line in ends[key]}.values())
        if left or str(lines[-1].n) in [entry_of(table, row) for row in there]:
            continue
        for line in {line.column: line for line in lines}.values():
            label = _label(table, line)
            cells = [edits.get((row.number, label), table.text(row, line.column)) for row in there]
            if line.new and not any(cells):
                yield f"{label} of {line.specimen}, line {line.n}"


def _label(table: Table, line: Line) -> str:
    """The label of the column that a line is about, also of one that the table does not have."""
    return {heading.text: heading.label for heading in table.headings}.get(line.column, line.label)


def table_behind(name: str, words: str) -> Problem:
    """The finding about a table that lacks what its history has."""
    hint = "put the table back as it was, or go on in a table with another name; what was typed stands in "
    expected = "a table with every reading of its history"
    return Problem("table-behind", name, "", words, expected, hint + history_name(name))


def _number(table: Table, row: Row) -> int:
    """The entry of a row, 0 where it has none."""
    entry = entry_of(table, row)
    return int(entry) if entry.isascii() and entry.isdigit() else 0
