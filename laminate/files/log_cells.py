"""The text of a log: separator, heading, units and cells, before anything is taken for a number."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from laminate.files.csv_table import SEPARATORS, decode
from laminate.files.cycle_keys import NOT_OF_THE_ZONE
from laminate.values.problems import Problem, did_you_mean, refusal, refuse_all

MOST_ROWS = 100_000
_UNIT = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<unit>[^\]]*)\]|\((?P<round>[^()]*(?:\(\w\))?)\))\s*", re.DOTALL)
_TIMES = re.compile(r"(?i)(?:elapsed |log ?)?(?:time|timestamp|date ?time|date/time|date and time|t|clock)")
_DATES = re.compile(r"(?i)date")


@dataclass(frozen=True, slots=True)
class Cells:
    """Columns of a log as text.

    columns: heading -> its cells; units: heading -> unit as written; rows: the row of each in the file;
    time: headings of the time (date first, where it has a column of its own); comma: the decimal sign is one.
    """

    columns: dict[str, list[str]]
    units: dict[str, str]
    rows: list[int]
    time: tuple[str, ...]
    comma: bool
    notes: tuple[str, ...]


def name_and_unit(heading: str) -> tuple[str, str]:
    """The name and unit of a heading.

    >>> name_and_unit("TC 3 [degC]"), name_and_unit("TC 3"), name_and_unit("bag (bar(g))")
    (('TC 3', 'degC'), ('TC 3', ''), ('bag', 'bar(g)'))
    """
    match = _UNIT.fullmatch(heading)
    if match is None:
        return heading.strip(), ""
    return match["name"].strip(), (match["unit"] or match["round"] or "").strip()


def read_cells(file: str, data: bytes, wanted: Mapping[str, str], preamble: int, units_row: bool) -> Cells:
    """The cells of a log.

    wanted: heading or its name -> what it reads; preamble: lines before the heading. Raises `Refused`.
    """
    decoded = decode(data)
    if decoded is None:
        raise refusal("not-text", file, "", "a file that is not text", "CSV text", "export it as CSV")
    text, notes = decoded
    lines = text.splitlines(keepends=True)
    body = lines[preamble:]
    if not any(line.strip() for line in body):
        raise refusal("empty-file", file, "", "an empty file", "a heading and rows below the preamble")
    separator = max(SEPARATORS, key=lambda sign: (_known(body[0], sign, wanted), body[0].count(sign)))
    (number, heading), *rest = _table(file, body, separator, preamble)
    refuse_all([*_findings(file, lines, wanted, preamble, heading)])
    units = {cell: name_and_unit(cell)[1] for cell in heading}
    for expected in ["a row of units", "rows of readings"] if units_row else ["rows of readings"]:
        if not rest:
            below = f"{expected} below the heading"
            raise refusal("no-rows", file, f"row {number}", f"{len(rest)} rows", below)
        if expected == "a row of units":
            (_, row), *rest = rest
            units |= {c: units[c] or unit.strip("[]() ") for c, unit in zip(heading, row, strict=False)}
    if len(rest) > MOST_ROWS:
        expected = f"{MOST_ROWS} rows at most"
        raise refusal("too-many-rows", file, "", f"{len(rest)} rows", expected, "export one row in ten")
    for row_number, cells in rest:
        if any(cells[len(heading) :]):
            hint = "a decimal comma needs ; or a tab as separator" if separator == "," else ""
            many = f"{len(cells)} cells under {len(heading)} headings"
            raise refusal("too-many-cells", file, f"row {row_number}", many, "one cell per heading", hint)
    columns = {
        cell: [cells[at] if at < len(cells) else "" for _, cells in rest]
        for at, cell in reversed(list(enumerate(heading)))
        if cell
    }
    time, rows = _time(file, number, heading, wanted), [row for row, _ in rest]
    read = {
        cell for name, reads in wanted.items() if reads != NOT_OF_THE_ZONE for cell in matching(heading, name)
    }
    _refuse_thousands(file, columns, rows, read | set(time))
    comma = separator != "," and _comma(file, columns, rows, time)
    return Cells(columns, units, rows, time, comma, tuple(notes))


def _table(file: str, body: list[str], separator: str, preamble: int) -> list[tuple[int, list[str]]]:
    """Line and stripped cells of each row that is not blank."""
    reader = csv.reader(io.StringIO("".join(body), newline=""), delimiter=separator, strict=True)
    try:
        rows = [(preamble + reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error as fault:
        where = f"after line {preamble + reader.line_num}"
        raise refusal("broken-quotes", file, where, f"{fault}", "quotation marks in pairs") from None
    return [(line, cells) for line, cells in rows if any(cells)]


def _known(line: str, separator: str, wanted: Mapping[str, str]) -> int:
    cells = [cell.strip().strip('"').strip() for cell in line.split(separator)]
    return sum(not {cell, name_and_unit(cell)[0]}.isdisjoint(wanted) for cell in cells)


def matching(heading: list[str], name: str) -> list[str]:
    """The headings that a name of [log.columns] means: the whole heading, else that without its unit."""
    whole = [cell for cell in heading if cell == name]
    return whole or [cell for cell in heading if cell and name_and_unit(cell)[0] == name]


def _findings(
    file: str, lines: list[str], wanted: Mapping[str, str], preamble: int, heading: list[str]
) -> Iterator[Problem]:
    """Columns that the heading lacks or has twice."""
    where = f"row {preamble + 1}"
    for name in wanted:
        count = len(matching(heading, name))
        if count > 1:
            columns = f"{count} columns"
            duplicate = f"'{name}' in {columns}"
            yield Problem("duplicate-column", file, where, duplicate, "each column once")
        elif not count:
            hint = did_you_mean(name, [cell for cell in heading if cell])
            for at, line in enumerate(lines[:200]):
                if at != preamble and any(_known(line, sign, {name: ""}) for sign in SEPARATORS):
                    hint = f"it stands in row {at + 1}: write preamble = {at} in this [[log]]"
                    break
            shown = ", ".join(f"'{cell}'" for cell in heading if cell)[:160]
            expected = f"the column '{name}' of [log.columns]"
            yield Problem("column-missing", file, where, shown or "an empty row", expected, hint)


def _time(file: str, row: int, heading: list[str], wanted: Mapping[str, str]) -> tuple[str, ...]:
    """The heading of the time, the date's first where they stand apart; refuses none and two clocks."""
    named = {cell: reads for name, reads in wanted.items() for cell in matching(heading, name)}
    named_times = [cell for cell, reads in named.items() if reads == "time"]
    free = [cell for cell in heading if cell and cell not in named]
    times = named_times or [cell for cell in free if _TIMES.fullmatch(name_and_unit(cell)[0])]
    dates = [cell for cell in free if _DATES.fullmatch(name_and_unit(cell)[0]) and cell not in times]
    if len(times) == 1:
        return (times[0],) if named_times else (*dates[:1], times[0])
    if not times and len(dates) == 1:
        return (dates[0],)
    time_columns = "no column of time" if not times else f"{len(times)} clocks: {', '.join(times)}"
    hint = '"NAME" = { reads = "time" } in [log.columns] names it'
    raise refusal("time-column", file, f"row {row}", time_columns, "one column of time", hint)


_POINT = re.compile(r"[+-]?\d*\.\d+(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+")


def _refuse_thousands(file: str, columns: dict[str, list[str]], rows: list[int], read: set[str]) -> None:
    """Refuse a column of whole numbers whose larger ones have three digits behind a point or comma.

    Not where another number of the file has such a sign before decimals. read: headings that are asked about.
    """
    first = None
    for name, cells in columns.items():
        whole = any(map(str.isdecimal, cells))
        for row, cell in zip(rows, cells, strict=True):
            if _THOUSANDS.fullmatch(cell):
                first = first or ((row, name, cell) if whole and name in read else None)
            elif _POINT.fullmatch(cell) or _COMMA.fullmatch(cell):
                return
    if first is not None:
        row, name, cell = first
        hint = "export it without a sign between thousands, or with as many decimals in every row"
        both = f"'{cell}' among whole numbers: decimals or thousands"
        raise refusal("thousands", file, f"row {row}, {name}", both, "numbers with one meaning", hint)


def _comma(file: str, columns: dict[str, list[str]], rows: list[int], time: tuple[str, ...]) -> bool:
    """Whether numbers have a decimal comma; both signs in one file are refused."""
    seen: dict[bool, str] = {}
    for name, cells in columns.items():
        if name in time and len(time) > 1:
            continue
        for row, cell in zip(rows, cells, strict=True):
            for comma, pattern in ((True, _COMMA), (False, _POINT)):
                if comma not in seen and pattern.fullmatch(cell):
                    seen[comma] = f"{cell} in row {row}, {name}"
        if len(seen) == 2:
            both_signs = f"decimal comma ({seen[True]}) and decimal point ({seen[False]})"
            raise refusal("mixed-decimals", file, "", both_signs, "one decimal sign in the whole file")
    return True in seen
