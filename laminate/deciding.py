"""What would decide an undecided characteristic: more coupons, or one input known better."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from laminate.formulas.statistics import students_t, welch_satterthwaite
from laminate.uncertainty import SCATTER

MOST_COUPONS = 30


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a decision.

    coupons: so many in all, None where the way is an input; source: the input; u_now, u_needed: its
    contribution to the standard uncertainty of the result, now and for a decision [SI]; enough: False where
    even an exact input would not do.
    """

    coupons: int | None = None
    source: str = ""
    u_now: float = 0.0
    u_needed: float = 0.0
    share_needed: float = 0.0
    enough: bool = True


def input_needed(contributions: Mapping[str, float], k: float, guard: float, band: float) -> list[Way]:
    """For the largest contributions, how small each would have to be for a guard band of `band` [SI].

    contributions: source -> signed contribution [SI]; k: coverage factor, taken as it is.
    """
    total = math.hypot(*contributions.values())
    wanted = band / (guard * k) if guard > 0.0 else math.inf
    ways: list[Way] = []
    for source, size in sorted(contributions.items(), key=lambda item: -abs(item[1]))[:3]:
        rest = total**2 - size**2
        left = wanted**2 - rest
        if size == 0.0 or source == SCATTER:
            continue
        needed = math.sqrt(left) if left > 0.0 else 0.0
        ways.append(Way(None, source, abs(size), needed, needed / abs(size), left > 0.0))
    return ways


def coupons_needed(
    contributions: Mapping[str, float],
    dofs: Mapping[str, float],
    n: int,
    *,
    confidence: float | None,
    fixed: float | None,
    guard: float,
    margin: float,
    most: int = MOST_COUPONS,
) -> int | None:
    """The least count of coupons with which the same mean and scatter would be inside by the guard band.

    contributions, dofs: of the average of n coupons, the scatter among them under `SCATTER`; margin: distance
    of the mean inside its nearest limit [SI]. None where up to `most` coupons would not do.
    """
    if margin <= 0.0 or SCATTER not in contributions:
        return None
    deviation = contributions[SCATTER] * math.sqrt(n)
    for count in range(n + 1, most + 1):
        new = {**contributions, SCATTER: deviation / math.sqrt(count)}
        new_dofs = {**dofs, SCATTER: float(count - 1)}
        u = math.hypot(*new.values())
        names = list(new)
        dof = float(
            welch_satterthwaite(contributions=[new[x] for x in names], dofs=[new_dofs[x] for x in names])
        )
        k = fixed if fixed is not None else float(students_t(confidence=confidence or 0.95, dof=dof))
        if guard * k * u <= margin:
            return count
    return None
