"""First order held against Monte Carlo on the same formula; Monte Carlo takes over where they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from laminate.values.uncertainty import Result, Source, numerical_tolerance

Formula = Callable[[Any], Any]
DRAWS = 50_000
SEED = 101
MOST_GROUPS = 4
NORMAL_95 = 1.959963984540054
SHARES = (0.025, 0.975)
BEYOND = 1.55
"""Standard deviations beyond which 6.1 % of normal errors lie on either side, more than the tail."""


@dataclass(frozen=True, slots=True)
class Check:
    """Standard uncertainties of one attribute of one specimen, first order and Monte Carlo, SI units."""

    attribute: str
    method: str
    specimen: str
    first_order: float
    monte_carlo: float
    low: float
    high: float
    draws: int
    agree: bool


class Replaced(NamedTuple):
    """What Monte Carlo makes of a result; u: factor on its standard uncertainty, reach: on U beyond that."""

    u: float
    reach: float


def check(
    formula: Formula, inputs: dict[Any, Any], sources: Sequence[Source], results: dict[Any, Result], name: str
) -> tuple[dict[Any, Replaced], list[Check]]:
    """Check the uncertainty of one row by Monte Carlo.

    inputs: as for `propagate`; results: of `propagate`; name: of the row. Every source is drawn as normal
    with its standard uncertainty, so that only the curvature of the formula can make a difference: few
    degrees of freedom are the coverage factor's. The formula and its first order take the same draws, so that
    the sampling error is of the difference alone. Where an end of the probabilistically symmetric 95 %
    interval differs by more than half a unit of u's second digit, U is to reach both ends, and u to be that
    of Monte Carlo where it differs by as much (JCGM 101:2008, 8.1). What differs is drawn again from the
    sources that move it alone, so that nothing which stands beside it counts.
    """
    every = range(len(sources))
    moved = _drawn(formula, inputs, sources, every)
    checks: list[Check] = []
    replaced: dict[Any, Replaced] = {}
    for key, result in results.items():
        u, value = float(result.standard_uncertainty[0]), float(result.value[0])
        if u == 0.0:
            continue
        made = _check(key, result, moved[key], every, name)
        its = np.flatnonzero(result.contributions[:, 0]).tolist()
        if not made.agree and len(its) < len(sources):
            made = _check(key, result, _drawn(formula, inputs, sources, its)[key], its, name)
        checks.append(made)
        if not made.agree:
            # where only an end differs, u stays: it is the same to its digits, and of each row its own
            size = made.monte_carlo if abs(made.monte_carlo - u) > numerical_tolerance(u, 2) else u
            half = NORMAL_95 * size
            reach = max((made.high - value) / half, (value - made.low) / half, 1.0)
            replaced[key] = Replaced(size / u, reach)
    return replaced, checks


def _drawn(
    formula: Formula, inputs: dict[Any, Any], sources: Sequence[Source], chosen: Sequence[int]
) -> dict[Any, Any]:
    """Draws of every attribute, from the chosen sources."""

    def at(value: Any) -> Any:
        return float(value[0]) if np.ndim(value) else value

    moved = {name: at(value) for name, value in inputs.items()}
    for draws, place in zip(_normal(len(chosen)), chosen, strict=True):
        for name_of_input, move in sources[place].moves.items():
            moved[name_of_input] = moved[name_of_input] + draws * at(move)
    drawn: dict[Any, Any] = formula(moved)
    return drawn


def _check(key: Any, result: Result, drawn: Any, chosen: Sequence[int], name: str) -> Check:
    """One attribute of a row held against its draws, from the chosen sources."""
    u, value = float(result.standard_uncertainty[0]), float(result.value[0])
    # no threads: records are judged side by side
    straight = np.einsum("s,sn->n", result.contributions[chosen, 0], _normal(len(chosen)))
    errors = np.broadcast_to(np.ravel(drawn), (DRAWS,)) - value
    spread, straight_spread = float(errors.std()), float(straight.std())
    ends = zip(_ends(errors, spread), _ends(straight, straight_spread), strict=True)
    low, high = (by_draws - by_line for by_draws, by_line in ends)
    agree = bool(max(abs(low), abs(high)) <= numerical_tolerance(u, 2))
    low, high = value - NORMAL_95 * u + low, value + NORMAL_95 * u + high
    return Check(key[0], key[1], name, u, u * (spread / straight_spread), low, high, DRAWS, agree)


def _ends(errors: Any, spread: float) -> tuple[float, float]:
    """The quantiles at `SHARES`: both lie in the tails."""
    size = len(errors)
    tail = int(size * 2 * SHARES[0]) + 1
    low, high = errors[errors < -BEYOND * spread], errors[errors > BEYOND * spread]
    if min(len(low), len(high)) < tail:
        low = high = errors
    low, high = np.partition(low, tail - 1)[:tail], np.partition(high, -tail)[-tail:]
    return _quantile(low, SHARES[0], 0, size), _quantile(high, SHARES[1], size - tail, size)


def _quantile(part: Any, share: float, first: int, size: int) -> float:
    """The quantile of numpy, from those of `size` values that have the places from `first` on in order."""
    place = share * (size - 1)
    below = int(place)
    at = below - first
    low, high = np.partition(part, (at, at + 1))[at : at + 2]
    return float(low + (high - low) * (place - below))


@lru_cache(4)
def _normal(sources: int) -> Any:
    """The same draws for every so many sources, made once for many records."""
    # frozen for good (NEP 19): what a record says of this check must come out again with any numpy
    return np.ascontiguousarray(np.random.RandomState(SEED).standard_normal((DRAWS, sources)).T)
