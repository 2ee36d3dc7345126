"""First order held against Monte Carlo on the same formula; Monte Carlo takes over where they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from laminate.uncertainty import Result, Source, numerical_tolerance, validate

DRAWS = 100_000
SEED = 101
MOST_GROUPS = 4


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
    formula: Callable[[Any], Any],
    inputs: dict[str, Any],
    sources: Sequence[Source],
    results: dict[Any, Result],
    names: Sequence[str],
) -> tuple[dict[Any, Result], list[Check]]:
    """Check the row with the largest relative uncertainty of a group by Monte Carlo.

    inputs: as for `propagate`; results: of `propagate`; names: of the rows. Returns the results, with the
    contributions scaled to Monte Carlo's standard uncertainty where the two differ in its first digit
    (JCGM 101:2008, 8.1), and what was compared.
    """
    if not sources:
        return results, []
    relative = sum(
        result.standard_uncertainty / np.maximum(np.abs(result.value), 1e-300) for result in results.values()
    )
    row = int(np.argmax(relative))
    one = {name: value[row : row + 1] if np.ndim(value) else value for name, value in inputs.items()}
    here = [
        Source(
            source.name,
            {k: m[row : row + 1] if np.ndim(m) else m for k, m in source.moves.items()},
            source.shared,
            source.dof,
            source.shape,
        )
        for source in sources
    ]
    found = validate(formula, one, here, seed=SEED, most_draws=DRAWS)
    checks: list[Check] = []
    new = dict(results)
    for key, result in results.items():
        u, drawn = float(result.standard_uncertainty[row]), float(found[key].standard_uncertainty[0])
        if u == 0.0:
            continue
        # Student's t of a source with few degrees of freedom is wider than u by definition: no non-linearity
        wide = any(s.dof < 10.0 and np.any(c) for s, c in zip(sources, result.contributions, strict=True))
        agree = wide or abs(drawn - u) <= float(numerical_tolerance(u)) or not found[key].settled[0]
        low, high = float(found[key].low[0]), float(found[key].high[0])
        checks.append(Check(key[0], key[1], names[row], u, drawn, low, high, found[key].draws, agree))
        if not agree:
            new[key] = Result(result.value, result.contributions * (drawn / u), result.sources)
    return new, checks
