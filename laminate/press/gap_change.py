"""Which gap would bring a count inside the limits; which prepreg holds more fiber than it packs to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from laminate.press.case import packing_limit
from laminate.press.closing_window import hot_gaps
from laminate.press.counts import GapRow, Laid, chance_of_all, inside, lay, rules
from laminate.press.shared_inputs import sampling_error
from laminate.press.stack import prepregs_of, sums

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase

POINTS = 401


@dataclass(frozen=True, slots=True)
class GapChange:
    """A hot gap [m] in which so many plies fill, close and meet every limit; cold sizes for it, chance."""

    plies: int
    hot_gap: float
    change: float
    sizes: Mapping[str, float]
    chance: float


@dataclass(frozen=True, slots=True)
class Overfull:
    """A prepreg that holds more fiber [0..1, by volume, resin liquid] than its fibers pack to."""

    prepreg: str
    form: str
    own: float
    limit: float
    limit_stated: bool


def gap_change(case: ZoneCase, rows: Sequence[GapRow]) -> GapChange | None:
    """The count and its gap, in the middle of what is allowed, with the best chance, else the least change.

    Allowed are the gaps that the count fills, on which the tool closes and in which every limit is met. None
    where no count has such a gap.
    """
    x = case.inputs.numbers()
    gap, ways = float(case.hot_gap(x)), []
    for row in rows:
        allowed = _allowed(lay(case, row.fill_plies))
        if allowed is None:
            continue
        middle = (allowed[0] + allowed[1]) / 2.0
        sizes = case.change_for(middle, x)
        other = case.with_size(*next(iter(sizes.items())))
        chance = chance_of_all(other, row.fill_plies)
        ways.append(GapChange(row.plies, middle, middle - gap, sizes, chance))
    top = max((way.chance for way in ways), default=0.0)
    near = [way for way in ways if way.chance >= top - 2.0 * sampling_error(top, case.inputs.draws)]
    return min(near, key=lambda candidate: abs(candidate.change), default=None)


def _allowed(laid: Laid) -> tuple[float, float] | None:
    """Least and greatest hot gap that a count may have [m], None where there is none."""
    case, x = laid.case, laid.x
    if not laid.sums.plies:
        return None
    rate = max(rate for _, rate in case.sizes(x).values())
    low, high = hot_gaps(laid, rate)
    if low > high:
        return None
    gaps, aside = np.linspace(low, high, POINTS), case.aside(x)
    met = inside(rules(case), *(laid.part(gaps + side) for side in {-aside, aside}))
    kept = gaps[np.broadcast_to(met["individual"] & met["average"], POINTS)]
    return (float(kept[0]), float(kept[-1])) if kept.size else None


def overfull(case: ZoneCase) -> tuple[Overfull, ...]:
    """The prepregs of a zone that hold more fiber, before anything bleeds, than their fibers pack to."""
    x, prepregs = case.inputs.numbers(), []
    for name in prepregs_of(case.part, case.zone):
        ply_sums = sums(case.part, case.name, {name: 1}, case.made, x)
        fiber = ply_sums.fiber_thickness
        volume = float(fiber / (fiber + ply_sums.liquid_thickness))
        prepreg, limit = case.part.prepreg[name], packing_limit(case.part, name)
        if volume > limit:
            prepregs.append(Overfull(name, prepreg.form, volume, limit, prepreg.packing_limit is not None))
    return tuple(prepregs)
