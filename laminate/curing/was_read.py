"""What of a log was read, decided before any figure is made of it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.pressing import MISSING
from laminate.curing.view import WasRead, clock_along, furthest, gel_times, gels_at, nominal_clock
from laminate.formulas.gel_clock import gel_rate

if TYPE_CHECKING:
    from laminate.curing.view import Bounds, LogView, View

MOST_IN_A_GAP = 0.05
"""So much of the gel clock may run on between two readings before no line between them is trusted."""


def reject_interpolation(view: LogView) -> None:
    """Trust no straight line between two readings over which more than 5 % of the gel clock runs."""
    for sensor in view.sensors:
        read, at = sensor.known, sensor.known.seconds
        warm = np.interp(at, view.seconds, sensor.temperature)
        lines = [charge.line for charge in view.contents.charges]
        rate = np.max([gel_rate(temperature=warm, a=line.a, b=line.b) for line in lines], axis=0)
        gain = np.diff(at) * np.maximum(rate[1:], rate[:-1])
        read.apart = (gain > MOST_IN_A_GAP) & (at[1:] >= view.clock_start) & ~read.rows_missing()
    reading = view.pressing.logged
    if reading is None:
        return
    clocks = [nominal_clock(view, *pair) for pair in view.pairs]
    gains = [np.diff(np.interp(reading.seconds, view.seconds, clock)) for clock in clocks]
    reading.apart = np.max(gains, axis=0) > MOST_IN_A_GAP


def was_read(view: LogView) -> WasRead:
    """What of a log was read, where too much happens between two readings for a straight line."""
    missing, ended = _missing(view)
    apart, end = far_apart(view), float(view.seconds[-1])
    if not (missing or apart) or not math.isfinite(min(gel_times(view))):
        return WasRead(missing, ended, apart)
    sensors, charges = view.sensors, view.contents.charges
    hottest = [sensor.through_gaps(view.seconds, view.thermometers.bound) for sensor in sensors]
    coldest = [sensor.known.cold_between(*sensor.coldest(view.seconds)) for sensor in sensors]
    soonest, latest = (
        [min(gels_at(view, curve, charge), end) for curve in curves for charge in charges]
        for curves in (hottest, coldest)
    )
    first, last = (min(soonest), min(latest)), (max(soonest), max(latest))
    gels = {"gel first": first, "gel last": last} if missing else {}
    computed = _first_missing(view) if missing and view.pressing.cores is not None else None
    return WasRead(missing, ended, apart, hottest, coldest, first, gels, computed)


def _missing(view: LogView) -> tuple[str, str]:
    """That readings of the laminate are missing while its clock may run on, or that they end before gel."""
    for sensor in view.sensors:
        hot = sensor.through_gaps(view.seconds, view.thermometers.bound)
        at = np.unique([view.seconds[0], *sensor.known.seconds])
        missing = np.diff(at) > MISSING * sensor.known.usual
        for charge in view.contents.charges:
            used = np.interp(at, view.seconds, nominal_clock(view, sensor, charge))
            gain = np.diff(np.interp(at, hot[0], clock_along(view, hot, charge)))
            bad = np.flatnonzero(missing & (gain > MOST_IN_A_GAP) & (used[:-1] < 1.0))
            if bad.size:
                last, then = (float(at[bad[0] + step]) / 60.0 for step in (0, 1))
                digits = 0 if then - last > 2.0 else 1
                words = f"no reading from {last:.{digits}f} to {then:.{digits}f} min"
                return f"{sensor.name}: {words}, maybe more than 5 % of the gel clock", ""
            if used[-1] < 1.0 and at[-1] < view.seconds[-1]:
                since = f"no reading from {float(at[-1]) / 60.0:.0f} min on"
                return "", f"{sensor.name}: {since}, before gel"
    return "", ""


def _first_missing(view: LogView) -> Bounds:
    """From the last row before one in which a sensor was not read to the end of the log [s]."""
    seconds = view.seconds
    missing = np.any([~sensor.known.known(seconds) for sensor in view.sensors], axis=0)
    return float(seconds[max(int(np.argmax(missing)) - 1, 0)]), float(seconds[-1])


def far_apart(view: View) -> str:
    """Which readings are too far apart for a straight line before gel, '' for none."""
    used = furthest(view)[0]
    for sensor in view.sensors:
        since = sensor.known.seconds[:-1][sensor.known.apart]
        since = since[np.interp(since, view.seconds, used) < 1.0]
        if since.size:
            words = f"readings from {float(since[0]) / 60.0:.0f} min on are more than 5 % of the gel clock"
            return f"{sensor.name}: its {words} apart: log faster"
    return ""
