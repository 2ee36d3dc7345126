"""Points counted over fields (ASTM E562): means, and how well they are known."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import combinations

import numpy as np

from laminate.coupons.expected import PLAIN, VOIDS
from laminate.coupons.groups import agreement_of
from laminate.coupons.measured import Agreement, Measured, Specimen
from laminate.coupons.methods import POINTS
from laminate.coupons.table_checks import CLUSTERED
from laminate.files.coupons import Coupon
from laminate.formulas.point_count import rare_half_width
from laminate.formulas.statistics import students_t
from laminate.values.problems import Problem
from laminate.values.quantities import PERCENT
from laminate.values.said import Figure, Said, between
from laminate.values.uncertainty import Result, Source

COUNTED = {"fiber_volume": "fiber", "void_content": "void"}
"""Attribute -> what the points of a field say of it."""
FEW = 50.0
"""Points on a constituent, or off it, below which its count may say less than fields show (by simulation)."""


def points_of(coupon: Coupon, confidence: float) -> Iterator[Measured]:
    """Point counts (ASTM E562): mean over fields, scatter of the mean with n - 1 degrees of freedom.

    Of few points the interval of their count (Wilson), where that is wider.
    """
    for attribute, which in COUNTED.items():
        fields = [f for f in coupon.fields if getattr(f, which) is not None]
        shares = np.array([getattr(f, which) / f.points for f in fields])
        if not len(shares):
            continue
        counts, total = sum(getattr(f, which) for f in fields), sum(f.points for f in fields)
        mean, u, dof = float(shares.mean()), 0.0, math.inf
        if len(shares) > 1:
            u, dof = float(shares.std(ddof=1)) / math.sqrt(len(shares)), float(len(shares) - 1)
        if len(shares) > 1 and u == 0.0:
            # fields that are all alike still count few points: the binomial scatter, kept off 0 and 1
            share = (mean * total + 0.5) / (total + 1.0)
            u, dof = math.sqrt(share * (1.0 - share) / total), math.inf
        if len(shares) > 1 and min(counts, total - counts) < FEW:
            rare = float(rare_half_width(share=counts / total, points=total, confidence=confidence))
            if rare > u * float(students_t(confidence=confidence, dof=dof)):
                u, dof = rare / float(students_t(confidence=confidence, dof=math.inf)), math.inf
        source = Source("scatter between fields", {}, shared=False, dof=dof, estimate=coupon.specimen)
        result = Result(np.array([mean]), np.array([[u]]), (source,))
        yield Measured(attribute, POINTS, mean, u, dof, result, 0)


def beside_points(specimen: Specimen, confidence: float, fixed: float | None) -> None:
    """Put a point count, which shares no error with the others, beside each other method."""
    keys = list(specimen.every)
    for first, other in combinations(keys, 2):
        if first[0] != other[0] or POINTS not in (first[1], other[1]):
            continue
        a, b = specimen.every[first], specimen.every[other]
        parts = np.concatenate([a.result.contributions[:, [a.row]], b.result.contributions[:, [b.row]]])
        values, sources = (np.array([a.value]), np.array([b.value])), (*a.result.sources, *b.result.sources)
        agreement = agreement_of(parts, *values, sources, confidence, fixed)
        pair = Agreement(first[0], (first[1], other[1]), *agreement)
        specimen.agreement += [pair.at(0)] if pair.known[0] else []
    specimen.agreement.sort(key=lambda a: [keys.index((a.attribute, method)) for method in a.methods])


def point_warnings(specimen: Specimen) -> Iterator[Problem]:
    """Warnings about the points counted of a specimen."""
    coupon = specimen.coupon
    for which in COUNTED.values():
        if sum(getattr(f, which) is not None for f in coupon.fields) == 1:
            place = coupon.fields[0].places["points"]
            points_text, expected = "points of a single field", "points of several fields"
            hint = "one field shows no scatter: the result has no ±, and nothing is decided on it"
            yield Problem("one-field", coupon.file, place, points_text, expected, hint)
    if not specimen.excluded:
        yield from _unlikely(specimen)


def _unlikely(specimen: Specimen) -> Iterator[Problem]:
    """Warnings about counts that hardly a laminate gives, as the same bounds hold for other methods."""
    likely = PLAIN["fiber volume"]
    bounds = {"fiber_volume": (likely.low, likely.high), "void_content": (0.0, VOIDS)}
    counted = {name: specimen.every[name, POINTS] for name in bounds if (name, POINTS) in specimen.every}
    points = sum(field.points for field in specimen.coupon.fields)

    def within(name: str, measured: Measured) -> tuple[float, float]:
        alone = math.sqrt(measured.value * (1.0 - measured.value) / points)  # of a single field
        wide = 2.0 * (measured.u or CLUSTERED * alone)
        return max(0.0, bounds[name][0] - wide), bounds[name][1] + wide

    def fits(name: str, measured: Measured) -> bool:
        low, high = within(name, measured)
        return low <= measured.value <= high

    off = [name for name, measured in counted.items() if not fits(name, measured)]
    exchanged = off == [*bounds] and all(map(fits, off, [counted[name] for name in reversed(off)]))
    for name in off[:1] if exchanged else off:
        words = name.replace("_", " ")
        found_text = Said(f"{words} ", Figure(counted[name].value, PERCENT), " by count")
        expected = Said(between(*within(name, counted[name]), PERCENT), ", as a molded laminate has")
        asked = "are fiber points and void points exchanged?" if exchanged else "count the fields again"
        hint = f"{asked}; or give the reason in 'accepted'"
        yield specimen.coupon.problem("unlike-prediction", "specimen", found_text, expected, hint)


def few_points(specimens: Iterable[Specimen]) -> Iterator[str]:
    """Whose ± is that of the points counted and not of the scatter between fields."""
    names = [
        s.name
        for s in specimens
        if s.counts and any(key[1] == POINTS and m.u and math.isinf(m.dof) for key, m in s.every.items())
    ]
    if names:
        yield f"few points counted (ASTM E562): ± from their number, not from fields: {', '.join(names)}"
