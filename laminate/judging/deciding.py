"""What would decide an undecided characteristic: more coupons, or one input known better."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.formulas.statistics import students_t
from laminate.values.averages import SCATTER, USUAL, Average
from laminate.values.input_key import Name

if TYPE_CHECKING:
    from laminate.files.limits import Limits
    from laminate.judging.acceptance import Acceptance

MOST_COUPONS = 30
ROUNDING = 1e-6
"""So much less than the size that would just do, so that with it the batch is decided."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a decision.

    coupons: so many in all, None where the way is an input; source: the input; u_now, u_needed: its
    contribution to the standard uncertainty of the result, now and for a decision [SI]; enough: False where
    even an exact input would not do; inside: False where it would decide that the value does not conform;
    stated: 'tolerance' or 'standard' where the source is the value itself, by the ± that it has.
    """

    coupons: int | None = None
    source: Name = ""
    u_now: float = 0.0
    u_needed: float = 0.0
    share_needed: float = 0.0
    enough: bool = True
    inside: bool = True
    stated: str = ""


def input_needed(
    held: Acceptance, contributions: Mapping[Name, float], dofs: Mapping[Name, float], limits: Limits
) -> Iterator[Way]:
    """For the largest contributions to what decides, how small each would have to be for a decision.

    held: undecided; contributions, dofs: source -> signed contribution [SI] and its degrees of freedom, of
    U^2 each source having its part ``(t c)^2``.
    """
    worst, guard = held.worst, limits.guard
    margin, wide = held.margin(worst), worst.half_width is not None
    band = min(abs(margin), math.inf if held.room is None else held.room)
    if band <= 0.0:
        return
    fixed = worst.coverage_factor if wide else limits.coverage_factor
    too_much = worst.expanded**2 - (band / guard) ** 2 if guard else 0.0
    alone = ("tolerance" if wide else "standard") if contributions.keys() == {worst.name} else ""
    for source, size in sorted(contributions.items(), key=lambda item: -abs(item[1]))[:3]:
        if size == 0.0 or source == SCATTER:
            continue
        k = students_t(confidence=limits.confidence or USUAL, dof=dofs[source]) if fixed is None else fixed
        left = 1.0 - too_much / (float(k) * size) ** 2
        share = min(math.sqrt(max(left, 0.0)) * (1.0 - ROUNDING), 1.0)
        yield Way(None, source, abs(size), share * abs(size), share, left >= 0.0, margin > 0.0, alone)


def coupons_needed(mean: Average, limits: Limits, margin: float, most: int) -> int | None:
    """The least count of coupons with which the same mean and scatter would be inside by the guard band.

    mean: of the coupons of one zone; margin: distance of the mean inside its nearest limit [SI]. None where
    up to `most` coupons would not do.
    """
    counts = range(mean.n + 1, most + 1) if margin > 0.0 and mean.scatters else ()
    wide = ((n, mean.of_count(n).expanded(limits.confidence, limits.coverage_factor)) for n in counts)
    return next((n for n, expanded in wide if limits.guard * expanded <= margin), None)
