"""Draws of what is uncertain, and the gel clock of ten thousand of them at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import chebyshev

from laminate.curing.straight_lines import first_above
from laminate.formulas.gel_clock import LARGEST, REFERENCE, clock, gel_rate
from laminate.values.input_key import Name
from laminate.values.uncertainty import standard_draws

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.charges import Charge
    from laminate.values.units import SIValue, Spread

    Draws = np.random.RandomState

Inputs = Mapping[Name, np.ndarray]
"""Draws of each cause of error, by name."""
Bounds = tuple[float, float]
ANYWHERE: Bounds = (-np.inf, np.inf)
DRAWS = 10_000
SEED = 1
NODES = 6
BELOW_RANGE = 10.0
"""Below the coldest gel test by more than this, the line of gel times is a guess [K]."""
SLOPE_REACH, ERROR_REACH = 4000.0, 20.0
"""As far from their median do polynomials follow slopes b and errors of T to 0.2 s or better [K]."""


def generator(seed: int = SEED) -> Draws:
    """The source of draws: frozen for good (NEP 19), so that a record computes again with any numpy."""
    few = seed if seed < 2**32 else np.random.SeedSequence(seed).generate_state(4)
    return np.random.RandomState(few)


class Columns:
    """Numbers that are computed with side by side: the first as best known, the others draws.

    usual: whether what is typed without a ± is drawn with a usual one; inputs: name -> draws, of every cause
    of error; bare: what is typed so.
    """

    def __init__(self, random: Draws, draws: int, *, usual: bool = False) -> None:
        self.random, self.draws, self.usual = random, draws, usual
        self.inputs: dict[Name, np.ndarray] = {}
        self.bare: dict[Name, SIValue] = {}
        self._drawn: dict[Name, np.ndarray] = {}
        self._numbers: dict[Name, np.ndarray] = {}

    @property
    def width(self) -> int:
        """How many columns there are."""
        return self.draws + 1

    def of(self, name: Name, value: SIValue, within: Bounds = ANYWHERE) -> np.ndarray:
        """A value in every column [SI], the same whenever asked for; within: draws are held so."""
        if not value.spread:
            return np.full(self.width, value.value)
        if name not in self._drawn:
            self._drawn[name] = np.concatenate([[value.value], self.drawn(value, name, within)])
        return self._drawn[name]

    def drawn(
        self, value: SIValue, name: Name = "", within: Bounds = ANYWHERE, random: Draws | None = None
    ) -> np.ndarray:
        """Draws of a value with what its ± means [SI] (JCGM 101, 6.4), held within bounds.

        name: under which its own error stands in the inputs, '' in none; random: another source of it.
        """
        alone = np.full(self.draws, value.value)
        if value.own:
            alone += value.own * standard_draws(value.shape, value.dof, self.draws, random or self.random)
        if name and value.own:
            self.inputs[name] = np.clip(alone, *within)
        return np.clip(alone + self._together(value), *within)

    def _together(self, value: SIValue) -> np.ndarray | float:
        """Errors of a value from uncertain numbers that move other inputs too, the same in all of them."""
        for number, _ in value.shared:
            if number not in self._numbers:
                self._numbers[number] = self.inputs[number] = self.random.standard_normal(self.draws)
        return sum((move * self._numbers[number] for number, move in value.shared), 0.0)

    def largest(self, name: str, values: Sequence[SIValue], within: Bounds = ANYWHERE) -> np.ndarray | None:
        """Draws (draws,) of the largest of some values, each with its own error; None without any.

        name: of the first, which is the largest of the values themselves; within: as of `of`.
        """
        names = [name, *(f"{name}, the {at}. of it" for at in range(2, len(values) + 1))]
        drawn = [self.of(each, value, within)[1:] for each, value in zip(names, values, strict=False)]
        return np.max(drawn, axis=0) if drawn else None

    def spread(self, name: Name, value: SIValue, half: float) -> SIValue:
        """A value as it is drawn: one typed without a ± with a usual one, where that is asked for.

        half: half-width of the usual ± [SI], 0 where there is none.
        """
        if value.u is not None or not half or not value.text:
            return value
        self.bare[name] = value
        return replace(value, u=half / math.sqrt(3.0), shape="rectangular") if self.usual else value

    def error(self, spread: Spread | None) -> np.ndarray:
        """Draws of an error around 0 [SI, or a share where the spread is relative]."""
        if spread is None or not spread.u:
            return np.zeros(self.draws)
        return spread.u * standard_draws(spread.shape, spread.dof, self.draws, self.random)

    def curve(self, name: str, values: Sequence[SIValue]) -> np.ndarray:
        """Points of a curve in every column (points, columns) [SI]: one error moves all of them together."""
        plain = np.array([value.value for value in values])
        curve = np.repeat(plain[:, None], self.width, axis=1)
        first = max(values, key=lambda value: value.own)
        if first.own:
            noise = self.inputs[name] = standard_draws(first.shape, first.dof, self.draws, self.random)
            curve[:, 1:] += np.array([value.own for value in values])[:, None] * noise
        for row, value in zip(curve, values, strict=True):
            row[1:] += self._together(value)
        return curve


def gel_lines(charge: Charge, columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Draws of a and b of `formulas.gel_clock`; what was drawn is noted in the inputs of the columns."""
    random, n, inputs = columns.random, columns.draws, columns.inputs
    hot = np.array([temperature.value for temperature, _ in charge.points])
    x = np.empty((len(hot), n))
    y = np.empty((len(hot), n))
    for at, (temperature, time) in enumerate(charge.points):
        x[at] = 1.0 / columns.drawn(temperature) - 1.0 / REFERENCE
        test = f"{charge.name}: gel time at {temperature.text}"
        y[at] = np.log(columns.drawn(time, test, (1e-3 * time.value, np.inf)))
    middle, level = x.mean(axis=0), y.mean(axis=0)
    wide = ((x - middle) ** 2).sum(axis=0)
    b = ((x - middle) * (y - level)).sum(axis=0) / wide
    a = level - b * middle
    if charge.line.dof:
        # scatter of the points around their line, Student's t of n - 2 degrees of freedom
        scatter = charge.line.scatter * np.sqrt(charge.line.dof / random.chisquare(charge.line.dof, n))
        shift, tilt = random.standard_normal(n), random.standard_normal(n)
        db = scatter * tilt / np.sqrt(wide)
        a = a + scatter * shift / math.sqrt(len(hot)) - db * middle
        b = b + db
        inputs[f"{charge.name}: scatter of the gel times"] = shift
    return a, b


class ClockTable:
    """The integral of exp(-b (1/T - 1/T_ref)) along a curve, for draws of the slope b and the error of T.

    A polynomial through Chebyshev nodes in both; the rows of the curve stay as they are. The few draws that
    are out of its reach (one degree of freedom draws some very far out) are integrated one by one.
    """

    def __init__(
        self,
        seconds: np.ndarray,
        temperature: np.ndarray,
        slopes: np.ndarray,
        errors: np.ndarray,
        coldest: float | None,
    ) -> None:
        self.seconds, self.temperature = seconds, temperature
        self.slopes, self.errors = slopes, errors
        self.idle = np.zeros(len(seconds), dtype=bool) if coldest is None else temperature < coldest
        (slope_nodes, by_slope, far), (error_nodes, by_error, off) = (
            _fit(values, reach) for values, reach in ((slopes, SLOPE_REACH), (errors, ERROR_REACH))
        )
        self.apart = far | off
        curves = [self._integral(0.0, b, error) for b in slope_nodes for error in error_nodes]
        with np.errstate(divide="ignore"):
            self.logs = np.maximum(np.log(np.array(curves)), -700.0)
        self.weights = (by_slope[:, None, :] * by_error[None, :, :]).reshape(-1, len(slopes))

    def _integral(self, a: float, b: float, error: float) -> np.ndarray:
        rate = np.asarray(gel_rate(temperature=self.temperature + error, a=a, b=b))
        rate[self.idle] = 0.0
        return clock(times=self.seconds, rates=rate, start=0.0)

    def reached(self, target: np.ndarray) -> np.ndarray:
        """Time at which the logarithm of the integral of each draw reaches a target [s]; inf where never."""
        times = self._by_polynomial(target)
        for k in np.flatnonzero(self.apart | (np.abs(target) > LARGEST)):
            used = self._integral(target[k], self.slopes[k], self.errors[k])
            times[k] = first_above(self.seconds, used - 1.0)
        return times

    def _by_polynomial(self, target: np.ndarray) -> np.ndarray:
        def at(index: np.ndarray) -> np.ndarray:
            return np.asarray(np.einsum("cn,cn->n", self.weights, self.logs[:, index]))

        low = np.zeros(len(target), dtype=int)
        high = np.full(len(target), len(self.seconds) - 1)
        ends = at(high) >= target
        for _ in range(max(1, int(np.ceil(np.log2(max(len(self.seconds), 2)))) + 1)):
            middle = (low + high) // 2
            over = at(middle) >= target
            high = np.where(over, middle, high)
            low = np.where(over, low, middle)
        before = np.where(low == 0, 0.0, np.exp(np.minimum(at(low) - target, 0.0)))
        after = np.exp(np.clip(at(high) - target, 0.0, LARGEST))
        share = np.where(after > before, (1.0 - before) / np.where(after > before, after - before, 1.0), 1.0)
        time = self.seconds[low] + share * (self.seconds[high] - self.seconds[low])
        return np.where(ends, time, np.inf)


def _fit(values: np.ndarray, reach: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Chebyshev nodes over values, their weights (nodes, n) at each value, and which are out of reach."""
    middle = float(np.median(values))
    near = np.clip(values, middle - reach, middle + reach)
    low, high = float(near.min()), float(near.max())
    center, half = (low + high) / 2.0, (high - low) / 2.0
    if half <= 1e-12 * max(abs(low), abs(high), 1e-300):
        return np.array([low]), np.ones((1, len(values))), near != values
    points = chebyshev.chebpts1(NODES)
    through = np.linalg.inv(chebyshev.chebvander(points, NODES - 1))
    weights = chebyshev.chebvander((near - center) / half, NODES - 1) @ through
    return center + half * points, weights.T, near != values


def rank_correlation(first: np.ndarray, second: np.ndarray) -> float:
    """Spearman's rank correlation, 0.0 where one of them does not vary."""
    if np.ptp(first) == 0.0 or np.ptp(second) == 0.0:
        return 0.0
    ranks = [np.argsort(np.argsort(values, kind="stable"), kind="stable") for values in (first, second)]
    return float(np.corrcoef(ranks[0], ranks[1])[0, 1])
