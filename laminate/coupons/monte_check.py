"""First order held against Monte Carlo on the same formula; Monte Carlo takes over where they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from laminate.values.uncertainty import Result, Source, numerical_tolerance

Formula = Callable[[Any], Any]
DRAWS = 50_000
SEED = 101
MOST_GROUPS = 12
"""So many groups of like coupons, the largest, are checked (each takes as long as many rows)."""
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


def check(
    formula: Formula, inputs: dict[Any, Any], sources: Sequence[Source], results: dict[Any, Result], name: str
) -> tuple[dict[Any, float], list[Check]]:
    """Check the uncertainty of one row by Monte Carlo.

    inputs: as for `propagate`; results: of `propagate`; name: of the row. Every source is drawn as normal
    with its standard uncertainty, so that only the curvature of the formula can make a difference: few
    degrees of freedom are the coverage factor's. The formula and its first order take the same draws, so that
    the sampling error is of the difference alone. Where u, or the half-width of the 95 % interval about
    the value, differs by more than half a unit of u's second digit, the contributions of its group are to be
    multiplied by the factor returned, so that u and both ends of the probabilistically symmetric interval are
    those of Monte Carlo or farther (JCGM 101:2008, clause 8).
    """

    def at(value: Any) -> Any:
        return float(value[0]) if np.ndim(value) else value

    z = _normal(len(sources))
    moved = {name: at(value) for name, value in inputs.items()}
    for draws, source in zip(z, sources, strict=True):
        for name_of_input, move in source.moves.items():
            moved[name_of_input] = moved[name_of_input] + draws * at(move)
    values = formula(moved)
    contributions = np.stack([result.contributions[:, 0] for result in results.values()])
    straights = np.einsum("ks,sn->kn", contributions, z)  # no threads: records are judged side by side
    checks: list[Check] = []
    factors: dict[Any, float] = {}
    for straight, (key, result) in zip(straights, results.items(), strict=True):
        u, value = float(result.standard_uncertainty[0]), float(result.value[0])
        if u == 0.0:
            continue
        errors = np.broadcast_to(np.ravel(values[key]), (DRAWS,)) - value
        spread, straight_spread = float(errors.std()), float(straight.std())
        by_draws, half = u * (spread / straight_spread), NORMAL_95 * u
        low, high, reach = _ends(errors, spread)
        straight_low, straight_high, straight_reach = _ends(straight, straight_spread)
        low, high = value - half + (low - straight_low), value + half + (high - straight_high)
        apart = max(abs(by_draws - u), abs(reach - straight_reach))
        agree = bool(apart <= numerical_tolerance(u, 2))
        checks.append(Check(key[0], key[1], name, u, by_draws, low, high, DRAWS, agree))
        if not agree:
            factors[key] = max(by_draws / u, (high - value) / half, (value - low) / half)
    return factors, checks


def _ends(errors: Any, spread: float) -> tuple[float, float, float]:
    """The quantiles at `SHARES`, and the one of the magnitudes at 0.95: all lie in the tails."""
    size = len(errors)
    tail = int(size * 2 * SHARES[0]) + 1
    low, high = errors[errors < -BEYOND * spread], errors[errors > BEYOND * spread]
    if min(len(low), len(high)) < tail:
        low = high = errors
    low, high = np.partition(low, tail - 1)[:tail], np.partition(high, -tail)[-tail:]
    large = np.abs(np.concatenate([low, high]))
    return (
        _quantile(low, SHARES[0], 0, size),
        _quantile(high, SHARES[1], size - tail, size),
        _quantile(large, 1 - 2 * SHARES[0], size - 2 * tail, size),
    )


def _quantile(part: Any, share: float, first: int, size: int) -> float:
    """The quantile of numpy, from those of `size` values that have the places from `first` on in order."""
    place = share * (size - 1)
    below = int(place)
    at = below - first
    low, high = np.partition(part, (at, at + 1))[at : at + 2]
    return float(low + (high - low) * (place - below))


@lru_cache(4)
def _normal(sources: int) -> Any:
    """The same draws for every group of so many sources, made once for many records."""
    # frozen for good (NEP 19): what a record says of this check must come out again with any numpy
    return np.ascontiguousarray(np.random.RandomState(SEED).standard_normal((DRAWS, sources)).T)
