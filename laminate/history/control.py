"""The control chart of a series of batches: its limits, and its signals in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from laminate.formulas import control_chart
from laminate.history.points import alike

RUN = 9
"""Fewest batches that can show every pattern but the one of fourteen; below it a chart cannot be called
steady.
"""
_MOVING, _TURNING = "rising-or-falling", "alternating"
_DRIFTS = ("one-side", _MOVING, "off-on-one-side")
_WORDS = {
    "beyond-limit": "{side} the {limit} control limit",
    "one-side": "{count} in a row {side} the middle",
    _MOVING: "{count} in a row {side}",
    "far-on-one-side": "2 of 3 batches in a row near the {limit} control limit",
    "off-on-one-side": "4 of 5 batches in a row on the way to the {limit} control limit",
    _TURNING: "{count} in a row up and down in turn",
}
_SIDES = {_MOVING: ("falling", "rising"), _TURNING: ("", "")}
"""Where the last batch of a pattern is, or goes to; of every other one 'below' or 'above'."""
STEADY, DRIFTING, UNSTEADY, TOO_FEW = "steady", "drifting", "unsteady", "too few to say"


@dataclass(frozen=True, slots=True)
class Signal:
    """A pattern that chance seldom makes.

    code: for programs; words: what is seen; first, last: places (from 0) of the batches that show it; side:
    'above', 'below', 'rising', 'falling' or ''.
    """

    code: str
    words: str
    first: int
    last: int
    side: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """Middle and limits of a chart of individual values, in the unit of the values, and what it shows."""

    centre: float
    lower: float
    upper: float
    moving_range: float
    signals: tuple[Signal, ...]
    state: str

    @property
    def told_first(self) -> tuple[Signal, ...]:
        """The last signal of each kind: drifts first where the chart drifts, else values beyond limits."""
        latest = {signal.code: signal for signal in self.signals}
        drifts = [signal for code, signal in latest.items() if code in _DRIFTS]
        return (*drifts, *(signal for code, signal in latest.items() if code not in _DRIFTS))

    @property
    def sigma(self) -> float:
        """A third of the distance from the middle to a limit."""
        return (self.upper - self.centre) / 3.0


def _runs(ends: Sequence[int], length: int) -> list[tuple[int, int]]:
    """First and last place of each unbroken stretch of a pattern, from the places where it is complete."""
    runs: list[tuple[int, int]] = []
    for end in ends:
        if runs and end == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], end)
        else:
            runs.append((end - length + 1, end))
    return runs


def signals_of(values: Sequence[float], centre: float, sigma: float) -> Iterator[Signal]:
    """Every pattern in a series, the gravest kind first.

    values: in order of time; centre: the middle; sigma: a third of the distance from middle to limit.
    """
    middle: dict[str, Any] = {"values": values, "centre": centre}
    chart: dict[str, Any] = {**middle, "sigma": sigma}
    stretches = {
        "beyond-limit": [(place, place) for place in control_chart.beyond_limits(**chart)],
        "one-side": _runs(control_chart.nine_on_one_side(**middle), RUN),
        _MOVING: _runs(control_chart.six_rising_or_falling(values=values), 6),
        "far-on-one-side": _runs(control_chart.two_of_three_beyond_two_sigma(**chart), 3),
        "off-on-one-side": _runs(control_chart.four_of_five_beyond_one_sigma(**chart), 5),
        _TURNING: _runs(control_chart.fourteen_alternating(values=values), 14),
    }
    for code, runs in stretches.items():
        for first, last in runs:
            above = bool(values[last] > (values[last - 1] if code == _MOVING else centre))
            side = _SIDES.get(code, ("below", "above"))[above]
            size, limit = last - first + 1, "upper" if above else "lower"
            count = _NUMBERS.get(size, str(size))
            words = _WORDS[code].format(side=side, count=count, limit=limit)
            yield Signal(code, words, first, last, side)


_NUMBERS = dict(enumerate(["six", "seven", "eight", "nine", "ten", "eleven", "twelve"], 6)) | {14: "fourteen"}


def chart_of(values: Sequence[float]) -> Chart | None:
    """The chart of a series; None of fewer than two values.

    values: in order of time. Limits: mean ± 3 (mean moving range)/1.128 (NIST/SEMATECH e-Handbook 6.3.2.2).
    """
    if len(values) < 2:
        return None
    limits = control_chart.control_limits_individuals(values=values)
    if alike(values):
        state = STEADY if len(values) >= RUN else TOO_FEW
        return Chart(limits.centre, limits.centre, limits.centre, 0.0, (), state)
    signals = tuple(signals_of(values, limits.centre, (limits.upper - limits.centre) / 3.0))
    if signals:
        state = DRIFTING if any(signal.code in _DRIFTS for signal in signals) else UNSTEADY
    else:
        state = STEADY if len(values) >= RUN else TOO_FEW
    return Chart(limits.centre, limits.lower, limits.upper, limits.moving_range, signals, state)
