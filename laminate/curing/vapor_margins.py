"""How far the pressure of the resin lies above that of the vapor of its water: before gel, and after it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from laminate.curing.answers import Known
from laminate.curing.pressing import vapor_pressure
from laminate.values.quantities import DEG_C
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.answers import Event
    from laminate.curing.scenario import Outcomes
    from laminate.curing.thermometers import Curve
    from laminate.curing.view import Bounds, View

AFTER = 1e-6
"""So soon after a moment it counts as over [s]: what presses steps from gas to resin there."""
BOILING = 373.15


class AtRows(NamedTuple):
    """Pressures at every row [Pa]: of resin and vapor, absolute, and what is applied, over ambient."""

    resin: np.ndarray
    vapor: np.ndarray
    applied: np.ndarray


def before_pressed(view: View, rows: AtRows, start: float) -> tuple[float, float]:
    """How long [s], and by how much at worst [Pa], the vapor lay above the resin before it was pressed."""
    seconds = view.seconds
    before = (seconds <= start) & (rows.vapor > rows.resin)
    if before.any():
        warning = "vapor above the resin pressure before it was pressed; voids may close again"
        view.notes.warnings.append(warning)
    steps = np.diff(seconds, append=seconds[-1])
    return float(steps[before].sum()), float(np.max((rows.vapor - rows.resin)[before], initial=0.0))


def margins(view: View, times: np.ndarray, vapor: np.ndarray | None = None) -> np.ndarray:
    """Pressure of the resin above that of its vapor at some times [Pa]; vapor: where not that of the rows."""
    resin = view.pressing.resin(times)
    assert resin is not None  # something presses
    return np.asarray(resin - (np.interp(times, view.seconds, view.vapor()) if vapor is None else vapor))


def smallest_margin(
    view: View, outcomes: Outcomes, moments: tuple[float, float, float], event: Event | None
) -> Known:
    """The smallest margin until gel; moments: pressed mechanically, above its vapor too, gel [s].

    How a log rose to its first row nothing says. A plan that rises through its vapor begins at 0 in any draw.
    """
    seconds, (mechanical, start, gel_at) = view.seconds, moments
    times = np.append(seconds[(seconds >= start) & (seconds <= gel_at)], gel_at)
    if view.cycle and start > mechanical:
        return Known(0.0)
    if view.cycle:
        times = np.append(start + AFTER, times[times > start + AFTER])
    values = margins(view, times)
    least = int(np.argmin(values))
    at_gel = least == len(times) - 1  # when it gels is not known either
    slack = outcomes.nominal.slack if at_gel else outcomes.at(float(times[least])).slack
    slack = slack[np.isfinite(outcomes.nominal.first)]
    value = float(values[least])
    ends, why = (None, ()) if event is None else _margin_ends(view, value, event, gel_at)
    return Known(value, deviation(slack), ends, why)


def _margin_ends(
    view: View, value: float, event: Event, gel_at: float
) -> tuple[Bounds | None, tuple[str, ...]]:
    """The least and the most that the margin can be for what was not read [Pa], and why; event: pressed."""
    read, seconds, pressed = view.read, view.seconds, event.time
    if pressed.ends is not None:
        highest = np.interp(pressed.ends, seconds, view.vapor()).max()
        low = float(margins(view, np.array([pressed.value]), highest)[0])
        times = np.append(seconds[(seconds >= pressed.ends[1]) & (seconds <= gel_at)], gel_at)
        return (min(value, low), float(np.min(margins(view, times)))), pressed.unread  # or rose all at once
    if not (why := read.missing or read.apart):
        return None, ()

    def least(curves: Sequence[Curve], until: float) -> float:
        smallest = []
        for at, warm in curves:
            times = np.append(at[(at > pressed.value) & (at < until)], pressed.value)
            vapor = view.humidity_taken * vapor_pressure(np.interp(times, at, warm))
            smallest.append(float(np.min(margins(view, times, vapor))))
        return min(smallest)

    soon, late = read.first
    return (min(value, least(read.hottest, late)), max(value, least(read.coldest, soon))), (why,)


def deviation(drawn: np.ndarray) -> float | None:
    """Standard deviation of the draws that are known, None where there is none."""
    known = drawn[np.isfinite(drawn)]
    return float(known.std()) or None if known.size > 1 else None


def after_gel(view: View, gel_at: float, rows: AtRows) -> float | None:
    """The smallest margin after gel while it is above the boiling point [Pa], None where it never is."""
    margin, closed = rows.resin - rows.vapor, view.pressing.closed(rows.applied)
    seconds, hot = view.seconds, view.thermometers.hottest()
    later = seconds >= gel_at
    cool = later & (hot < BOILING)
    until = seconds[int(np.argmax(cool))] if cool.any() else np.inf
    after = margin[later & (seconds < until)]
    if after.size:
        opened = (np.cumsum(closed > 0.0) > 0) & later & (seconds < until) & (margin < 0.0) & (closed <= 0.0)
        if opened.any():
            warning = "opened hot: after gel the vapor pressed more than the press, which can blister a part"
            view.notes.warnings.append(warning)
        return float(after.min())
    words = Said("below ", Figure(BOILING, DEG_C), ", or the log ends, right after gel")
    return view.notes.given("vapor_margin_after_gel", None, words)
