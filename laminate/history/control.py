"""The control chart of a series of batches: its limits, and its signals in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np

from laminate.formulas import control_chart
from laminate.formulas.straight_line import Line, straight_line
from laminate.history.points import Pair, alike

RUN = 9
"""Fewest batches that can show every pattern but the one of fourteen; below it a chart cannot be called
steady.
"""
LEAST_FOR_SLOPE, SLOPE_LEVEL = 5, 0.01
"""Fewest batches for a slope over time, and the chance below which it counts; common practice, no source."""
_BEYOND, _MOVING, _TURNING, _SLOPE = "beyond-limit", "rising-or-falling", "alternating", "slope"
_DRIFTS = ("one-side", _MOVING, "off-on-one-side", _SLOPE)
_WORDS = {
    _BEYOND: "{side} the {limit} control limit",
    "one-side": "{count} in a row {side} the middle",
    _MOVING: "{count} in a row {side}",
    "far-on-one-side": "2 of 3 batches in a row near the {limit} control limit",
    "off-on-one-side": "4 of 5 batches in a row on the way to the {limit} control limit",
    _TURNING: "{count} in a row up and down in turn",
}
_SIDES = {_MOVING: ("falling", "rising"), _TURNING: ("", "")}
"""Where the last batch of a pattern is, or goes to; of every other one 'below' or 'above'."""
STEADY, DRIFTING, UNSTEADY, TOO_FEW = "steady", "drifting", "unsteady", "too few to say"

ALARMS = {
    4: 0.0,
    5: 0.0167,
    6: 0.0208,
    7: 0.0256,
    8: 0.0350,
    9: 0.0427,
    12: 0.0685,
    15: 0.0945,
    20: 0.1168,
    25: 0.1406,
    35: 0.1595,
    50: 0.2021,
    100: 0.3068,
    200: 0.4688,
}
"""Batches -> share of steady normal series (independent values, one distribution) that are not called steady,
of 20 000 each: `python -m tests.trend.alarms`.
"""
LONGEST, BEYOND_BY_CHANCE = max(ALARMS), 0.0027
"""Chance that a value of a normal distribution lies more than three deviations out: beyond the longest series
simulated it alone adds signals, for runs count in the last batches only.
"""


@dataclass(frozen=True, slots=True)
class Signal:
    """A pattern that chance seldom makes.

    code: for programs; words: what is seen; first, last: places (from 0) of the batches that show it; side:
    'above', 'below', 'rising', 'falling' or ''; current: whether the state rests on it.
    """

    code: str
    words: str
    first: int
    last: int
    side: str = ""
    current: bool = True


class Reach(NamedTuple):
    """The limit of the part that a slope leads to, and in how many batches after the last; 0: it is there."""

    limit: float
    batches: int


@dataclass(frozen=True, slots=True)
class Chart:
    """Middle and limits of a chart of individual values, in the unit of the values, and what it shows.

    line: over the places of the batches from 0, None of fewer than `LEAST_FOR_SLOPE`; alarm: how often chance
    alone makes a steady series of this length show a signal.
    """

    centre: float
    lower: float
    upper: float
    moving_range: float
    signals: tuple[Signal, ...]
    state: str
    line: Line | None = None
    alarm: float = 0.0

    @property
    def current(self) -> tuple[Signal, ...]:
        """The signals that the state rests on."""
        return tuple(signal for signal in self.signals if signal.current)

    @property
    def drifts(self) -> bool:
        """Whether the values have a slope over time that is more than scatter."""
        return self.line is not None and self.line.chance < SLOPE_LEVEL

    @property
    def latest_signals(self) -> list[Signal]:
        """The last current signal of each kind: drifts first where it drifts, else values beyond limits."""
        latest = {signal.code: signal for signal in self.current}
        return sorted(latest.values(), key=lambda signal: signal.code not in _DRIFTS)

    @property
    def sigma(self) -> float:
        """A third of the distance from the middle to a limit."""
        return (self.upper - self.centre) / 3.0


def _runs(ends: Sequence[int], length: int) -> list[tuple[int, int]]:
    """First and last place of each unbroken stretch of a pattern, from the places where it is complete."""
    runs = groupby(enumerate(ends), key=lambda row: row[1] - row[0])
    stretches = [[end for _, end in run] for _, run in runs]
    return [(stretch[0] - length + 1, stretch[-1]) for stretch in stretches]


def signals_of(values: Sequence[float], centre: float, sigma: float) -> Iterator[Signal]:
    """Every pattern in a series, the gravest kind first.

    values: in order of time; centre: the middle; sigma: a third of the distance from middle to limit.
    """
    middle: dict[str, Any] = {"values": values, "centre": centre}
    chart: dict[str, Any] = {**middle, "sigma": sigma}
    stretches = {
        _BEYOND: [(place, place) for place in control_chart.beyond_limits(**chart)],
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


def alarm_of(n: int) -> float:
    """How often chance alone makes a series of so many batches show a signal, by those simulated."""
    share = float(np.interp(math.log(n), [math.log(known) for known in ALARMS], list(ALARMS.values())))
    return 1.0 - (1.0 - share) * (1.0 - BEYOND_BY_CHANCE) ** max(0, n - LONGEST)


def reached(chart: Chart | None, n: int, limits: Pair) -> Reach | None:
    """To which limit the slope of n batches leads if it goes on so, and when; None without a slope."""
    if chart is None or chart.line is None or not chart.drifts:
        return None
    limit = limits[chart.line.slope > 0]
    if limit is None:
        return None
    last = chart.line.intercept + chart.line.slope * (n - 1)
    return Reach(limit, max(0, math.ceil((limit - last) / chart.line.slope)))


def chart_of(values: Sequence[float]) -> Chart | None:
    """The chart of a series; None of fewer than two values.

    values: in order of time. Limits: mean ± 3 (mean moving range)/1.128 (NIST/SEMATECH e-Handbook 6.3.2.2).
    """
    if len(values) < 2:
        return None
    limits, n = control_chart.control_limits_individuals(values=values), len(values)
    state = STEADY if n >= RUN else TOO_FEW
    if alike(values):
        return Chart(limits.centre, limits.centre, limits.centre, 0.0, (), state)
    signals = [  # a value beyond a limit says something of today wherever it is, a run where it is of late
        replace(signal, current=signal.code == _BEYOND or signal.last >= n - RUN)
        for signal in signals_of(values, limits.centre, (limits.upper - limits.centre) / 3.0)
    ]
    line = straight_line(x=range(n), y=values) if n >= LEAST_FOR_SLOPE else None
    if line is not None and line.chance < SLOPE_LEVEL:
        side = "rising" if line.slope > 0 else "falling"
        signals.append(Signal(_SLOPE, f"{side} over time", 0, n - 1, side))
    if codes := {signal.code for signal in signals if signal.current}:
        state = UNSTEADY if codes.isdisjoint(_DRIFTS) else DRIFTING
    return Chart(*limits, tuple(signals), state, line, alarm_of(n))
