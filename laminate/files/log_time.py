"""The time column of a log: seconds, minutes, hours or a clock, to seconds from its first row."""

from __future__ import annotations

import datetime as dt
import re
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from laminate.files.log_cells import name_and_unit
from laminate.values.problems import Refused, refusal
from laminate.values.units import Unreadable, column_unit

DAY = 86400.0
HOUR = 3600.0

_CLOCK = re.compile(
    r"(?:(?P<date>\d{1,4}[-./]\d{1,2}[-./]\d{1,4})[T ,]\s*)?"
    r"(?P<h>\d{1,3}):(?P<m>\d{2})(?:(?P<part>[.,]\d+)|:(?P<s>\d{2}(?:[.,]\d+)?))?\s*(?P<half>[AaPp]\.?[Mm]\.?)?"
    r"\s*(?P<zone>Z|[+-]\d{2}:?\d{2})?"
)
CLOCKS = "a clock such as 23:58:10, 2026-11-18 23:58:10, 18.11.2026 23:58:10 or 18-Nov-2026 23:58:10"
_FORMS = ("h:m", "m:s", "h:m:s")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WEEKDAY = re.compile(r"(?i)^(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?[.,]?\s+")
_NAMED_MONTH = re.compile(
    rf"(?i)(?:(?P<a>\d{{1,4}})[-/. ]\s*)?(?P<month>{'|'.join(_MONTHS)})[a-z]*[-/. ]\s*(?P<b>\d{{1,4}})"
    r"(?(a)|,?\s+(?P<c>\d{4}))(?![\d:])"
)


@dataclass
class Clock:
    """Times of the rows [s, from the first], what was mended in them, and the day of the first, if any."""

    seconds: np.ndarray
    mended: list[str] = field(default_factory=list)
    day: dt.date | None = None


@dataclass(frozen=True)
class TimeColumn:
    """The column of a log that tells the time: its file, its name, and the row of each cell."""

    file: str
    name: str
    rows: list[int]

    def refuse(self, at: int, actual: str, expected: str, hint: str = "") -> Refused:
        """The refusal of a cell; at: which one."""
        place = f"row {self.rows[at]}, {self.name}"
        return refusal("unreadable-time", self.file, place, actual, expected, hint)


def form_of(unit: str) -> str:
    """The parts of a clock by the unit of its column, '' where that is another.

    >>> [form_of(unit) for unit in ("hh:mm:ss", "MM:SS", "min")]
    ['h:m:s', 'm:s', '']
    """
    form = re.sub(r"([hms])\1", r"\1", unit.strip().lower())
    return form if form in _FORMS else ""


def plain_date(text: str) -> str:
    """A clock without the day of the week before it, and its date as ISO writes it where it names the month.

    >>> plain_date("Wed 18-Nov-2026 23:58:10"), plain_date("November 18, 2026 11:58 PM"), plain_date("23:58")
    ('2026-11-18 23:58:10', '2026-11-18 11:58 PM', '23:58')
    """
    text = _WEEKDAY.sub("", text)
    match = _NAMED_MONTH.match(text)
    if match is None:
        return text
    first, second = (match["a"], match["b"]) if match["a"] else (match["b"], match["c"])
    year, day = (first, second) if len(first) == 4 else (f"20{second}"[-4:], first)
    return f"{year}-{_MONTHS.index(match['month'].lower()) + 1}-{day}{text[match.end() :]}"


def is_clock(text: str) -> bool:
    """Whether a cell holds a clock and no plain number."""
    return _CLOCK.fullmatch(text) is not None


def clock_times(column: TimeColumn, cells: list[str], dates: str | None, unit: str) -> Clock:
    """Seconds from the first row, of cells that hold a clock.

    dates: 'day first', 'month first', 'ISO' or None; unit: of the column, '' for none. Raises `Refused`.
    """
    matches: list[re.Match[str]] = []
    for at, cell in enumerate(cells):
        match = _CLOCK.fullmatch(cell)
        if match is None:
            below = len(matches) > 0 and not any(_CLOCK.fullmatch(later) for later in cells[at:])
            hint = "if it is no time, remove the lines below the readings" if below else ""
            raise column.refuse(at, f"'{cell}'", CLOCKS, hint)
        matches.append(match)
    dated = [match["date"] is not None for match in matches]
    if any(dated) and not all(dated):
        raise column.refuse(dated.index(False), "a clock without a date", "a date in every row")
    hours = _tells_hours(column, matches, unit)
    of_day = np.array([_of_day(column, at, match, hours) for at, match in enumerate(matches)])
    if not dated[0]:
        return _without_date(column, of_day)
    days = _days(column, [str(match["date"]) for match in matches], dates)
    seconds = days * DAY + of_day
    return Clock(seconds - seconds[0], day=dt.date.fromordinal(int(days[0])))


def _tells_hours(column: TimeColumn, matches: list[re.Match[str]], unit: str) -> bool:
    """Whether a clock of two parts tells hours and minutes; refuses one that may tell minutes and seconds.

    No time of a day passes 24:00; one that begins with 0 or stands under min or s may count from the start.
    """
    form, size = form_of(unit), 0.0
    with suppress(Unreadable):
        size = column_unit(unit, "time")[0]
    if form in _FORMS[:2] or size == HOUR:
        return form != "m:s"
    for at, match in enumerate(matches):
        if match["s"] or match["half"] or match["zone"]:
            continue
        if match["part"]:
            return False
        hours = int(match["h"])
        of_day = match["date"] or 0 < hours < 24 or (hours == 0 and at > 0)
        if 0.0 < size < HOUR or not of_day:
            under = f" under '{unit}'" if size else ""
            name = name_and_unit(column.name)[0]
            hint = f'"{name}" = {{ reads = "time", unit = "mm:ss" }}, or "hh:mm", in [log.columns] says it'
            expected = "one meaning: minutes and seconds, or hours and minutes"
            raise column.refuse(at, f"'{match[0]}'{under}", expected, hint)
    return True


def _of_day(column: TimeColumn, at: int, match: re.Match[str], tells_hours: bool) -> float:
    hours, minutes = int(match["h"]), int(match["m"])
    seconds = float((match["s"] or match["part"] or "0").replace(",", "."))
    half = (match["half"] or "").lower()[:1]
    beyond = minutes > 59 or seconds >= 61.0 or (match["part"] and tells_hours)
    if beyond or (half and not 1 <= hours <= 12) or (match["date"] and hours > 24):
        raise column.refuse(at, f"'{match[0]}': there is no such time", CLOCKS)
    if not (tells_hours or match["s"]):
        return hours * 60.0 + minutes + seconds
    if half:
        hours = hours % 12 + (12 if half == "p" else 0)
    shift = 0.0
    if match["zone"] and match["zone"] != "Z":
        sign = -1.0 if match["zone"][0] == "-" else 1.0
        shift = sign * (int(match["zone"][1:3]) * HOUR + int(match["zone"][-2:]) * 60.0)
    return hours * HOUR + minutes * 60.0 + seconds - shift


def _without_date(column: TimeColumn, of_day: np.ndarray) -> Clock:
    """A clock that starts anew at midnight, once at most."""
    back = np.flatnonzero(np.diff(of_day) < -DAY / 2.0) + 1
    if back.size > 1:
        expected = "a clock that passes midnight once at most"
        raise column.refuse(int(back[1]), "midnight for the second time", expected, "export it with the date")
    seconds = of_day.copy()
    mended = []
    for at in back:
        seconds[at:] += DAY
        mended.append(f"row {column.rows[at]}: the clock passes midnight; a day was added")
    return Clock(seconds - seconds[0], mended)


_ORDERS = {"ISO": (0, 1, 2), "day first": (2, 1, 0), "month first": (2, 0, 1)}


@lru_cache(4096)
def _day(text: str, order: str) -> int | None:
    """The day that a date is in an order of its parts, None where there is no such day."""
    parts = [int(part) for part in re.split(r"[-./]", text)]
    year, month, day = (parts[at] for at in _ORDERS[order])
    year += 2000 if year < 100 else 0
    with suppress(ValueError):
        return dt.date(year, month, day).toordinal()
    return None


def _days(column: TimeColumn, texts: list[str], dates: str | None) -> np.ndarray:
    """The day of each row; refuses a date that two orders read differently unless one is said."""
    year_first = [text[:4].isdigit() for text in texts]
    if len({*year_first}) > 1:
        other = year_first.index(not year_first[0])
        raise column.refuse(other, f"'{texts[other]}'", f"a date written like '{texts[0]}' above")
    orders = ["ISO"] if year_first[0] else [dates] if dates else ["day first", "month first"]
    read = [[_day(text, order) for text in texts] for order in orders]
    sound = [days for days in read if None not in days]
    if not sound:
        at = read[0].index(None)
        date_form = "a date such as 2026-11-18" if orders == ["ISO"] else f"a date with the {orders[0]}"
        hint = "" if orders == ["ISO"] else 'dates = "day first" or "month first"'
        raise column.refuse(at, f"'{texts[at]}'", date_form, hint)
    if sound[0] != sound[-1]:
        hint = 'write dates = "day first" or dates = "month first" in this [[log]]'
        raise column.refuse(0, f"'{texts[0]}', a date that can be read two ways", "one order", hint)
    return np.array(sound[0], dtype=float)


def checked(column: TimeColumn, clock: Clock) -> Clock:
    """Refuse a time that runs back; spread equal stamps within their resolution. Raises `Refused`."""
    seconds, mended = clock.seconds, list(clock.mended)
    steps = np.diff(seconds)
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else 0.0
    back = np.flatnonzero(steps < 0.0)
    if back.size:
        at = int(back[0])
        jump = float(steps[at])
        summer = abs(jump + HOUR) <= max(2.0 * usual, 1.0)
        why = "a jump of one hour: did summer time end, or are hours not shown? export it with the date"
        hint = f"{why} and without the change" if summer else ""
        backward_step = f"a time {-jump:g} s earlier than in the row above"
        raise column.refuse(at + 1, backward_step, "times that rise", hint)
    for ahead in np.flatnonzero(np.abs(steps - HOUR) <= max(2.0 * usual, 1.0)) + 1:
        if usual < HOUR / 4.0:
            hour_ahead = "one hour is jumped, and stays so: if summer time began, export without the change"
            mended.append(f"row {column.rows[ahead]}: {hour_ahead}")
    if np.any(steps == 0.0):
        seconds, count = _spread(seconds)
        mended.append(f"{count} rows repeat the time of the row above: spread evenly between the others")
    return Clock(seconds - seconds[0], mended, clock.day)


def _spread(seconds: np.ndarray) -> tuple[np.ndarray, int]:
    """Rows of one stamp, spread evenly up to the next stamp or by the usual resolution."""
    stamps, first, counts = np.unique(seconds, return_index=True, return_counts=True)
    gaps = np.diff(stamps)
    resolution = float(gaps.min()) if gaps.size else 1.0
    result = np.array(seconds, dtype=float)
    for stamp, start, count in zip(stamps, first, counts, strict=True):
        if count > 1:
            result[start : start + count] = stamp + resolution * np.arange(count) / count
    return result, int((counts - 1).sum())
