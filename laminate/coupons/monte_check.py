"""First order held against Monte Carlo on the same formula; Monte Carlo takes over where they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from laminate.values.uncertainty import Result, Source, validate

DRAWS = 100_000
SEED = 101
MOST_GROUPS = 4
U_MAY_DIFFER, END_MAY_DIFFER = 0.05, 0.10
NORMAL_95 = 1.959963984540054


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
    inputs: dict[Any, Any],
    sources: Sequence[Source],
    results: dict[Any, Result],
    names: Sequence[str],
) -> tuple[dict[Any, Result], list[Check]]:
    """Check the row with the largest relative uncertainty of a group by Monte Carlo.

    inputs: as for `propagate`; results: of `propagate`; names: of the rows. Sources are drawn as normal or
    rectangular with their standard uncertainty, so that only the formula can make a difference: few degrees
    of freedom are the coverage factor's. Where u or an end of the 95 % interval differs, the contributions of
    the group are scaled so that the first-order interval holds Monte Carlo's (JCGM 101:2008, clause 8; how
    much may differ is left to the user there: 5 % of u and 10 % of the half-width, no source).
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
            shape=source.shape,
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
        low, high = float(found[key].low[0]), float(found[key].high[0])
        value = float(result.value[row])
        reach = max(high - value, value - low) / (NORMAL_95 * u)
        agree = abs(drawn / u - 1.0) <= U_MAY_DIFFER and reach <= 1.0 + END_MAY_DIFFER
        checks.append(Check(key[0], key[1], names[row], u, drawn, low, high, found[key].draws, agree))
        if not agree:
            factor = max(drawn / u, reach)
            new[key] = Result(result.value, result.contributions * factor, result.sources)
    return new, checks
