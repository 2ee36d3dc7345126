"""Thermocouples and gauges of a log: which readings are none, and what the rest of them read."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.pressing import ATMOSPHERE, MISSING
from laminate.files.cycle_keys import PRESSURES
from laminate.values.problems import Problem, refuse_all
from laminate.values.quantities import DEG_C, KELVIN
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from laminate.files.log_file import Channel, LogFile

MOVED = 10.0
"""So much another sensor moves while a still one does not, or a reading jumps up and back [K]; no source."""
STILL_ROWS = 8
"""Rows in which a reading repeats, or as long in the usual step of the log where some of them are missing."""
SPIKE_ROWS = 3
"""The same of readings that jump up and are back; those that jump down count as rows, for gel comes later."""
LAGS = 2.5
"""A sensor that lags moves on by less than so many of its last digits; no source."""
FOLLOWING = ("laminate", "core")
"""Sensors that follow the heat; platen and tool are held at a temperature, and may stand still."""
WARM = 333.15
BELOW_ZERO = 0.05


def clean(log: LogFile, room: float) -> list[str]:
    """Take out spikes and still sensors, in place; returns the names of sensors that are gone altogether.

    room: temperature of the room [K]. What was left out is added to `log.left_out`.
    """
    sensors, steps = log.reading("laminate", "core", "platen", "tool"), _steps(log.seconds)
    if frozen := _frozen_rows(sensors, [*log.channels.values()], steps):
        repeats = f"{frozen} rows in which every reading repeats, and then jumps"
        log.left_out.append(f"{repeats}: the logger stood still")
    for sensor in sensors:
        read = sensor.values.copy()
        if count := _spikes(sensor.values, steps):
            sensor.jumps = np.where(np.isfinite(sensor.values), np.nan, read)
            jumps = f"{sensor.name}: {count} readings that jump by more than "
            log.left_out.append(Said(jumps, Figure(MOVED, KELVIN), " and back"))
    gone = [sensor.name for sensor in sensors if not np.any(np.isfinite(sensor.values))]

    def beside() -> Iterator[tuple[Channel, list[Channel]]]:
        """Each sensor that is not gone, with the others, where there are any."""
        for sensor in sensors:
            others = [other for other in sensors if other is not sensor and other.name not in gone]
            if others and sensor.name not in gone:
                yield sensor, others

    for sensor, others in beside():
        if why := _dead(sensor, others, room):
            log.left_out.append(Said(f"{sensor.name}: ", why, "; the sensor is left out"))
            gone.append(sensor.name)
            sensor.values[:] = np.nan
    for sensor, others in beside():
        if sensor.reads in FOLLOWING and (count := _stuck(sensor, others, steps)):
            log.left_out.append(f"{sensor.name}: {count} readings that stand still while others move")
    return gone


def _steps(seconds: np.ndarray) -> np.ndarray:
    """Time of every row in the usual step of the log [-]."""
    return np.asarray((seconds - seconds[0]) / max(float(np.median(np.diff(seconds))), 1e-9))


def _frozen_rows(sensors: list[Channel], channels: list[Channel], steps: np.ndarray) -> int:
    """Mark rows that repeat all readings of the row above before every temperature jumps up; how many."""
    curves = [_carried(sensor.values) for sensor in sensors if np.isfinite(sensor.values).any()]
    if len(curves) < 2:
        return 0
    table = np.array([_carried(channel.values)[0] for channel in channels])
    unread = np.isnan(table)  # until its first reading a column tells of no change
    repeats = (table[:, 1:] == table[:, :-1]) | unread[:, 1:] | unread[:, :-1]
    last = table.shape[1] - 1
    frozen: list[int] = []
    for start, end in _runs(np.flatnonzero(~np.all(repeats, axis=0)) + 1, last + 1):
        if _still(steps, start, end - 1) and end <= last:
            jumps = [next_[at] - past[end - 1] for past, next_ in curves for at in (end, min(end + 3, last))]
            frozen += range(start + 1, end) if min(jumps) > MOVED / 2.0 and max(jumps) > MOVED else []
    for channel in channels if frozen else ():
        channel.values[frozen] = np.nan
    return len(frozen)


def _carried(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """At every row the last reading up to it, and the next from it on."""
    there, at = np.isfinite(values), np.arange(len(values))
    past = np.maximum.accumulate(np.where(there, at, 0))
    coming = np.minimum.accumulate(np.where(there, at, len(at) - 1)[::-1])[::-1]
    return values[past], values[coming]


def _still(steps: np.ndarray, first: int, last: int) -> bool:
    """Whether readings that repeat from a row to another do so for long."""
    return last > first and bool(steps[last] - steps[first] > STILL_ROWS - MISSING)


def _runs(changes: np.ndarray, count: int) -> Iterator[tuple[int, int]]:
    """First and past-the-last row of each run of rows that are alike, from where they change."""
    return pairwise([0, *changes.tolist(), count])


def _spikes(values: np.ndarray, steps: np.ndarray) -> int:
    """Mark readings that jump and are back within three rows; how many."""
    there = np.flatnonzero(np.isfinite(values))
    short = values[there]
    marked: set[int] = set()
    n = len(short)
    for at in np.flatnonzero(np.abs(np.diff(short)) > MOVED):
        for width in range(1, SPIKE_ROWS + 1):
            end = at + width + 1
            if end >= n or at in marked:
                break
            base = max(short[at], short[end]) if short[at + 1] > short[at] else min(short[at], short[end])
            inner = short[at + 1 : end] - base
            span, back = float(steps[there[end]] - steps[there[at]]), abs(short[end] - short[at])
            up = bool(np.all(inner > MOVED)) and span < SPIKE_ROWS + MISSING and back < MOVED
            if up or (np.all(inner < -MOVED) and back < MOVED * span / (width + 1)):
                marked.update(range(int(at) + 1, int(end)))
                break
    values[there[sorted(marked)]] = np.nan
    return len(marked)


def _dead(channel: Channel, others: list[Channel], room: float) -> str:
    """Why a sensor tells nothing of the whole log, '' where it does."""
    span = float(np.nanmax(channel.values) - np.nanmin(channel.values))
    most = max(float(np.nanmax(other.values) - np.nanmin(other.values)) for other in others)
    hottest = max(float(np.nanmax(other.values)) for other in others)
    if channel.reads in FOLLOWING and span <= max(channel.digit, 0.1) and most > MOVED:
        return Said("it stands still while others move by ", Figure(most, KELVIN, written=f"{most:.0f}"))
    if float(np.nanmax(channel.values)) < room + MOVED and hottest > WARM:
        reached = Figure(hottest, DEG_C, written=f"{hottest - 273.15:.0f}")
        return Said("it stays at room temperature while others reach ", reached)
    return ""


def _stuck(channel: Channel, others: list[Channel], steps: np.ndarray) -> int:
    """Mark runs of one value in which every other sensor of the log moves; how many readings.

    One that goes on by its last digit lags behind them, as a thick laminate does.
    """
    values = channel.values
    there = np.flatnonzero(np.isfinite(values))
    curves = [
        np.interp(steps, steps[read], other.values[read])
        for other in others
        if (read := np.isfinite(other.values)).any()
    ]
    count = 0
    for start, end in _runs(np.flatnonzero(np.diff(values[there]) != 0.0) + 1, there.size):
        rows = there[start:end]
        after = values[there[end]] if end < there.size else np.inf
        if not _still(steps, rows[0], rows[-1]) or abs(after - values[rows[0]]) < LAGS * channel.digit:
            continue
        moved = [float(np.ptp(curve[rows[0] : rows[-1] + 1])) for curve in curves]
        if max(moved, default=0.0) > MOVED and min(moved, default=0.0) > MOVED / 2.0:
            values[rows[1:]] = np.nan
            count += rows.size - 1
    return count


def below_zero(log: LogFile, spreads: dict[str, float]) -> list[str]:
    """Warnings for forces and pressures below their zero; refuses one too far below.

    spreads: standard uncertainty of each gauge [N, Pa]. Raises `Refused`.
    """
    warnings, problems = [], []
    for channel in log.reading("clamp force", *PRESSURES):
        if not np.any(np.isfinite(channel.values)):
            continue
        # a vacuum gauge reads its zero, none at all, at one atmosphere
        values = ATMOSPHERE - channel.values if channel.column.base == "below ambient" else channel.values
        lowest, largest = float(np.nanmin(values)), float(np.nanmax(np.abs(channel.values)))
        if lowest >= 0.0 or -lowest <= spreads.get(channel.name, 0.0):
            continue
        if -lowest > BELOW_ZERO * largest:
            row = log.rows[int(np.nanargmin(values))]
            fault = "a reading below zero by more than 5 % of the largest"
            hint = "a wrong sign, a wrong base or a zero that was not set"
            place = f"row {row}, {channel.name}"
            problems.append(Problem("below-zero", log.file, place, fault, "0 or more", hint))
        else:
            warnings.append(f"{channel.name} reads below its zero")
    refuse_all(problems)
    return warnings
