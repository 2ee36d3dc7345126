"""A log as checked numbers: what a press or a logger wrote, what was mended, and what was left out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from laminate.files import log_time
from laminate.files.cycle_checks import kind_read
from laminate.files.cycle_keys import CLOCK, NOT_OF_THE_ZONE
from laminate.files.log_cells import Cells, matching, name_and_unit, read_cells
from laminate.values.problems import each, refusal
from laminate.values.units import Unreadable, column_unit

if TYPE_CHECKING:
    from laminate.files.cycle_keys import Log, LogColumn

COLDEST, HOTTEST = 223.15, 1573.15
"""A temperature outside -50 to 1300 degC is no reading [K]."""
FILLERS = (9999.0, -9999.0, 32767.0, -32768.0)
_NAMES = {
    "temperature": re.compile(r"(?i)(tc|temp|thermo)[a-z]*\W*\d*.*"),
    "force": re.compile(r"(?i)(force|load|clamp|ram|press).*"),
}
_GAUGE = re.compile(r"(?P<unit>[kM]?Pa|m?bar|psi) ?[(_]?(?P<of>[gGaA])\)?")
"""A unit of pressure that says its base: barg, psia, bar(g)."""
_KINDS = {"temperature": ("temperature",), "force": ("force", "pressure")}


@dataclass
class Channel:
    """One column of a log.

    values: [K, N, Pa], nan where there is no reading; digit: its last digit [same unit]; column: what was
    said of it; name: as in [log.columns]; jumps: readings that were left out as they jump up and back, nan
    elsewhere, None where none was.
    """

    name: str
    column: LogColumn
    values: np.ndarray
    digit: float
    jumps: np.ndarray | None = None

    @property
    def reads(self) -> str:
        """What it reads."""
        return str(self.column.reads)


@dataclass
class LogFile:
    """A log that was read.

    seconds: from its first row; rows: of the file; channels: by name; mended: what was changed; left_out:
    what counts as no reading; unnamed, unnamed_forces: columns of temperatures, and of forces and pressures,
    that nobody has named; day: of the first row, None where its clock has no date.
    """

    file: str
    seconds: np.ndarray
    rows: list[int]
    channels: dict[str, Channel]
    mended: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    unnamed_forces: list[str] = field(default_factory=list)
    day: dt.date | None = None

    def reading(self, *reads: str) -> list[Channel]:
        """The channels that read one of these."""
        return [channel for channel in self.channels.values() if channel.reads in reads]


def read_log(file: str, data: bytes, log: Log) -> LogFile:
    """The numbers of a log.

    file: as the person called it; log: the batch file's words on it. Raises `Refused`.
    """
    wanted = {name: str(column.reads) for name, column in log.columns.items()}
    cells = read_cells(file, data, wanted, log.preamble, log.units_row == "yes")
    clock, keep = _clock(file, cells, log)
    if len(keep) < 2:
        raise refusal("no-rows", file, "", f"{len(keep)} rows", "two rows with a time, or more")
    rows = [cells.rows[at] for at in keep]
    log_file = LogFile(file, clock.seconds, rows, {}, [*cells.notes, *clock.mended], day=clock.day)
    if dropped := len(cells.rows) - len(keep):
        log_file.left_out.append(f"rows without a time: {dropped}")
    read = [name for name, column in log.columns.items() if column.reads not in (CLOCK, NOT_OF_THE_ZONE)]
    log_file.channels = each(lambda name: _channel(log_file, cells, name, log.columns[name], keep), read)
    _say_unnamed(log_file, cells, log.columns)
    return log_file


def _clock(file: str, cells: Cells, log: Log) -> tuple[log_time.Clock, list[int]]:
    """Seconds of the rows that have a time, and which they are."""
    name = cells.time[-1]
    texts = cells.columns[name]
    if len(cells.time) > 1:
        dates = cells.columns[cells.time[0]]
        days = (log_time.plain_date(day).split(" ")[0] for day in dates)
        texts = [f"{day} {of_day}".strip() for day, of_day in zip(days, texts, strict=True)]
    keep = [at for at, text in enumerate(texts) if text]
    column = log_time.TimeColumn(file, name, [cells.rows[at] for at in keep])
    used = [log_time.plain_date(texts[at]) for at in keep]
    if not used:
        raise refusal("unreadable-time", file, name, f"'{texts[0]}'", "a time in each row")
    stated = next((c.unit for c in log.columns.values() if c.reads == CLOCK and c.unit), None)
    unit = stated or cells.units[name]
    if log_time.is_clock(used[0]):
        clock = log_time.clock_times(column, used, log.dates, unit)
    else:
        clock = log_time.Clock(_elapsed(column, unit, used, cells.comma))
    return log_time.checked(column, clock), keep


def _elapsed(column: log_time.TimeColumn, unit: str, used: list[str], comma: bool) -> np.ndarray:
    numbers = np.array([_number(text, comma) for text in used])
    for at in np.flatnonzero(~np.isfinite(numbers)).tolist():
        expected = f"a number, as in row {column.rows[0]}" if at else f"a number, or {log_time.CLOCKS}"
        raise column.refuse(at, f"'{used[at]}'", expected)
    try:
        factor, _ = column_unit(unit, "time")
    except Unreadable as fault:
        name = name_and_unit(column.name)[0]
        hint = f'"{name}" = {{ reads = "time", unit = "s" }} in [log.columns] says it'
        where = f"row {column.rows[0]}, {column.name}"
        raise refusal("time-unit", column.file, where, fault.found, "s, min, h or a clock", hint) from None
    with np.errstate(over="ignore"):  # a time that is not finite in seconds is refused with the others
        return np.asarray(numbers * factor - numbers[0] * factor)


def _number(text: str, comma: bool) -> float:
    """The number of a cell, nan where it is none."""
    with suppress(ValueError):
        return float(text.replace(",", ".") if comma else text) if "_" not in text else np.nan
    return np.nan


def _channel(log: LogFile, cells: Cells, name: str, column: LogColumn, keep: list[int]) -> Channel:
    heading = matching(list(cells.columns), name)[0]
    kind = kind_read(str(column.reads))
    try:
        factor, offset = column_unit(column.unit or cells.units[heading], kind)
    except Unreadable as fault:
        where = f"row {cells.rows[0] - 1}, {heading}"
        hint = fault.hint or f'write the unit into [log.columns]: "{name}" = {{ ..., unit = "..." }}'
        if gauge := _GAUGE.fullmatch(column.unit or cells.units[heading]):
            base = "over ambient" if gauge["of"] in "gG" else "absolute"
            hint = f'write unit = "{gauge["unit"]}", base = "{base}" for "{name}" in [log.columns]'
        raise refusal("column-unit", log.file, where, fault.found, fault.expected, hint) from None
    texts, mark = [cells.columns[heading][at] for at in keep], "," if cells.comma else "."
    numbers = np.array([_number(text, cells.comma) for text in texts])
    for at in np.flatnonzero(np.isnan(numbers)):
        if re.search(r"\d", texts[at]) and not re.search(r"[A-Za-z#]", texts[at]):
            where = f"row {log.rows[at]}, {heading}"
            raise refusal("unreadable-value", log.file, where, f"'{texts[at]}'", "a number")
    numbers[np.isinf(numbers) | np.isin(numbers, FILLERS)] = np.nan
    plain = [text for text, number in zip(texts, numbers, strict=True) if number == number]
    decimals = max((len(text.partition(mark)[2]) for text in plain if "e" not in text.lower()), default=0)
    with np.errstate(over="ignore"):
        values = numbers * factor + offset
    impossible = (values < COLDEST) | (values > HOTTEST) if kind == "temperature" else np.isinf(values)
    values[impossible] = np.nan
    if count := int(np.isnan(values).sum()):
        log.left_out.append(f"{name}: {count} of {len(values)} readings missing or impossible")
    return Channel(name, column, values, factor * 10.0 ** -min(decimals, 6))


def _say_unnamed(log: LogFile, cells: Cells, columns: Mapping[str, LogColumn]) -> None:
    """Say which columns of temperatures, forces and pressures neither [log.columns] nor the time names.

    A column is told by its unit, or by its name without one; numbers without either may be temperatures,
    unless they count the rows.
    """
    headings = list(cells.columns)
    named = {heading for name in columns for heading in matching(headings, name)} | set(cells.time)
    bare: list[str] = []
    for heading in headings:
        if heading in named:
            continue
        unit, name = cells.units.get(heading, ""), name_and_unit(heading)[0]
        kinds = {kind for kind in _NAMES if _is_of(heading, unit, kind)}
        log.unnamed += [name] if "temperature" in kinds else []
        log.unnamed_forces += [name] if "force" in kinds else []
        if not unit and not kinds:
            read = [_number(text, cells.comma) for text in cells.columns[heading]]
            numbers = [number for number in read if number == number]
            counts = len(numbers) == len(read) and len({b - a for a, b in pairwise(numbers)}) == 1
            bare += [heading] if len({*numbers} - {0.0, 1.0}) > 2 and not counts else []
    log.unnamed += [heading for heading in bare if heading not in log.unnamed_forces]


def _is_of(heading: str, unit: str, kind: str) -> bool:
    """Whether a column is of a kind: by its unit, or by its name where it has none."""
    if not unit:
        return _NAMES[kind].fullmatch(heading) is not None
    for unit_kind in _KINDS[kind]:
        with suppress(Unreadable):
            return bool(column_unit(unit, unit_kind))
    return False
