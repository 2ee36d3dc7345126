"""Thermocouples and gauges of a log: which readings are none, and what the rest of them read."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.pressing import ATMOSPHERE
from laminate.files.cycle_keys import PRESSURES
from laminate.values.problems import Problem, refuse_all

if TYPE_CHECKING:
    from collections.abc import Iterator

    from laminate.files.log_file import Channel, LogFile

MOVED = 10.0
"""So much another sensor moves while a still one does not, or a reading jumps up and back [K]; no source."""
STILL_ROWS = 8
FOLLOWING = ("laminate", "core")
"""Sensors that follow the heat; platen and tool are held at a temperature, and may stand still."""
WARM = 333.15
BELOW_ZERO = 0.05


def clean(log: LogFile, room: float) -> list[str]:
    """Take out spikes and still sensors, in place; returns the names of sensors that are gone altogether.

    room: temperature of the room [K]. What was left out is added to `log.left_out`.
    """
    sensors = log.reading("laminate", "core", "platen", "tool")
    if hung := _hung(sensors, [*log.channels.values()]):
        log.left_out.append(
            f"{hung} rows in which every reading repeats, and then jumps: the logger stood still"
        )
    for sensor in sensors:
        read = sensor.values.copy()
        count = _spikes(sensor.values)
        if count:
            sensor.jumps = np.where(np.isfinite(sensor.values), np.nan, read)
            log.left_out.append(f"{sensor.name}: {count} readings that jump by more than 10 K and back")
    gone = [sensor.name for sensor in sensors if not np.any(np.isfinite(sensor.values))]
    for sensor in sensors:
        others = [other for other in sensors if other is not sensor and other.name not in gone]
        if sensor.name in gone or not others:
            continue
        why = _dead(sensor, others, room)
        if why:
            log.left_out.append(f"{sensor.name}: {why}; the sensor is left out")
            gone.append(sensor.name)
    for sensor in sensors:
        if sensor.name in gone:
            sensor.values[:] = np.nan
    for sensor in sensors:
        others = [other for other in sensors if other is not sensor and other.name not in gone]
        if sensor.reads in FOLLOWING and sensor.name not in gone and others:
            count = _stuck(sensor, others)
            if count:
                log.left_out.append(f"{sensor.name}: {count} readings that stand still while others move")
    return gone


def _hung(sensors: list[Channel], channels: list[Channel]) -> int:
    """Mark rows that repeat all readings of the row above before every temperature jumps up; how many."""
    if len(sensors) < 2:
        return 0
    table = np.array([channel.values for channel in channels])
    repeats = (table[:, 1:] == table[:, :-1]) | np.isnan(table[:, 1:])
    last = table.shape[1] - 1
    hung: list[int] = []
    for start, end in _runs(np.flatnonzero(~np.all(repeats, axis=0)) + 1, last + 1):
        if end - start >= STILL_ROWS and end <= last:
            jumps = [s.values[at] - s.values[end - 1] for s in sensors for at in (end, min(end + 3, last))]
            hung += range(start + 1, end) if min(jumps) > MOVED / 2.0 and max(jumps) > MOVED else []
    for channel in channels if hung else ():
        channel.values[hung] = np.nan
    return len(hung)


def _runs(changes: np.ndarray, count: int) -> Iterator[tuple[int, int]]:
    """First and past-the-last row of each run of rows that are alike, from where they change."""
    edges = [0, *changes.tolist(), count]
    return pairwise(edges)


def _spikes(values: np.ndarray) -> int:
    """Mark readings that jump and are back within three rows; how many."""
    there = np.flatnonzero(np.isfinite(values))
    short = values[there]
    marked: set[int] = set()
    n = len(short)
    for at in np.flatnonzero(np.abs(np.diff(short)) > MOVED):
        for width in (1, 2, 3):
            end = at + width + 1
            if end >= n or at in marked:
                break
            base = max(short[at], short[end]) if short[at + 1] > short[at] else min(short[at], short[end])
            inner = short[at + 1 : end] - base
            away = np.all(inner > MOVED) or np.all(inner < -MOVED)
            if away and abs(short[end] - short[at]) < MOVED:
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
        return f"it stands still while others move by {most:.0f} K"
    if float(np.nanmax(channel.values)) < room + MOVED and hottest > WARM:
        return f"it stays at room temperature while others reach {hottest - 273.15:.0f} degC"
    return ""


def _stuck(channel: Channel, others: list[Channel]) -> int:
    """Mark runs of one value in which every other sensor of the log moves; how many readings."""
    values = channel.values
    there = np.flatnonzero(np.isfinite(values))
    if there.size < STILL_ROWS:
        return 0
    count = 0
    for start, end in _runs(np.flatnonzero(np.diff(values[there]) != 0.0) + 1, there.size):
        if end - start < STILL_ROWS:
            continue
        rows = there[start:end]
        moved = [_span(other.values[rows]) for other in others]
        if max(moved, default=0.0) > MOVED and min(moved, default=0.0) > MOVED / 2.0:
            values[rows[1:]] = np.nan
            count += rows.size - 1
    return count


def _span(values: np.ndarray) -> float:
    there = values[np.isfinite(values)]
    return float(there.max() - there.min()) if there.size else 0.0


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
