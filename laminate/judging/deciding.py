"""What would decide an undecided characteristic: more coupons, or one input known better."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from laminate.formulas.statistics import students_t, welch_satterthwaite
from laminate.values.input_key import Name
from laminate.values.uncertainty import SCATTER

MOST_COUPONS = 30


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a decision.

    coupons: so many in all, None where the way is an input; source: the input; u_now, u_needed: its
    contribution to the standard uncertainty of the result, now and for a decision [SI]; enough: False where
    even an exact input would not do; inside: False where it would decide that the value does not conform.
    """

    coupons: int | None = None
    source: Name = ""
    u_now: float = 0.0
    u_needed: float = 0.0
    share_needed: float = 0.0
    enough: bool = True
    inside: bool = True


def input_needed(
    contributions: Mapping[Name, float],
    dofs: Mapping[Name, float],
    *,
    confidence: float | None,
    fixed: float | None,
    guard: float,
    band: float,
    inside: bool = True,
) -> list[Way]:
    """For the largest contributions, how small each would have to be for a guard band of `band` [SI].

    contributions, dofs: source -> signed contribution [SI] and its degrees of freedom; inside: whether the
    value is inside its limits. The coverage factor follows: where few coupons scatter, a better known input
    can leave the expanded uncertainty as it is, or larger.
    """
    found: list[Way] = []
    shares = np.linspace(1.0, 0.0, 2001)
    for source, size in sorted(contributions.items(), key=lambda item: -abs(item[1]))[:3]:
        if size == 0.0 or source == SCATTER:
            continue
        new = {name: np.full(shares.shape, abs(c)) for name, c in contributions.items()}
        new[source] = abs(size) * shares
        u = np.sqrt(sum(np.square(column) for column in new.values()))
        dof = welch_satterthwaite(contributions=list(new.values()), dofs=[dofs[name] for name in new])
        k = fixed if fixed is not None else students_t(confidence=confidence or 0.95, dof=dof)
        enough = np.flatnonzero(guard * k * u <= band)
        share = float(shares[enough[0]]) if len(enough) else 0.0
        found.append(Way(None, source, abs(size), share * abs(size), share, bool(len(enough)), inside))
    return found


def coupons_needed(
    contributions: Mapping[Name, float],
    dofs: Mapping[Name, float],
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
    pooled = dofs[SCATTER] != n - 1
    for count in range(n + 1, most + 1):
        new = {**contributions, SCATTER: deviation / math.sqrt(count)}
        new_dofs = {**dofs, SCATTER: dofs[SCATTER] if pooled else float(count - 1)}
        u = math.hypot(*new.values())
        names = list(new)
        dof = float(
            welch_satterthwaite(contributions=[new[x] for x in names], dofs=[new_dofs[x] for x in names])
        )
        k = fixed if fixed is not None else float(students_t(confidence=confidence or 0.95, dof=dof))
        if guard * k * u <= margin:
            return count
    return None
