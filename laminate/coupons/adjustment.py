"""Shared inputs adjusted by least squares so that methods agree over all coupons: evidence, never applied.

Each specimen measured in two ways gives a condition: one fiber volume, whichever way. The inputs that all
coupons share (densities, lot, calibrations) are moved as little as their standard uncertainties make likely,
beside the own errors of each reading. How far they had to move, and the chi-square of it, say which of them
does not fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.discrepancies import unit_of_input
from laminate.files.coupons import NUMBERS
from laminate.formulas import special
from laminate.values.input_key import Name
from laminate.values.quantities import Unit
from laminate.values.uncertainty import Source

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Rows, Specimen

Shares = dict[Name, float]


@dataclass(frozen=True, slots=True)
class Adjusted:
    """One shared input before and after [SI]; value None where it is a calibration of several readings.

    shift_in_u: by how many of its standard uncertainties it moved; u, adjusted_u: before and after [SI].
    """

    input: Name
    value: float | None
    adjusted: float | None
    u: float
    adjusted_u: float
    shift_in_u: float
    unit: Unit


@dataclass(frozen=True, slots=True)
class Adjustment:
    """The least-squares adjustment over all coupons.

    inputs: the most moved first; conditions: equal fiber volumes; no_voids: void contents below -2 u, held to
    zero; chi_squared with its degrees_of_freedom and p, the chance of more by chance; means: attribute ->
    mean before and after over the coupons that have it [SI].
    """

    inputs: tuple[Adjusted, ...]
    conditions: int
    no_voids: int
    chi_squared: float
    degrees_of_freedom: int
    p: float
    means: dict[str, tuple[float, float]]


def adjust(specimens: Sequence[Specimen], bench: Bench, rows: Rows) -> Adjustment | None:
    """Least squares with all conditions, to first order; None where no coupon gives a condition.

    rows: what was measured of the specimens; those that do not count are left out. With conditions ``d + A e
    + o = 0``, e shared errors in their standard uncertainties and o own ones of covariance V, the least ``e'e
    + o' V^-1 o`` is at ``e = -(I + A' V^-1 A)^-1 A' V^-1 d``. Source: JCGM 102:2011 uses the same weighted
    least squares; arithmetic of conditional normal distributions.
    """
    terms = [term for chunk in rows.chunks if chunk.counts for term in chunk.conditions()]
    if not terms:
        return None
    names = [*dict.fromkeys(name for term in terms for name in term.shared)]
    normal, right = np.eye(len(names)), np.zeros(len(names))
    for term in terms:
        at = [names.index(name) for name in term.shared]
        normal[np.ix_(at, at)] += term.normal
        right[at] += term.right
    spread = np.linalg.inv(normal)
    e = -spread @ right
    chi_squared = max(0.0, math.fsum(term.square for term in terms) + float(right @ e))
    moved = dict(zip(names, e.tolist(), strict=True))
    left = dict(zip(names, np.sqrt(np.diag(spread)).tolist(), strict=True))
    firsts = [specimens[int(chunk.rows[0])] for chunk in rows.chunks if chunk.counts]
    count, no_voids = sum(term.conditions for term in terms), sum(term.no_voids for term in terms)
    return Adjustment(
        tuple(sorted(_inputs(firsts, bench, moved, left), key=lambda input_: -abs(input_.shift_in_u))),
        count - no_voids,
        no_voids,
        chi_squared,
        count,
        float(special.chdtrc(count, chi_squared)),
        _means(rows, moved),
    )


def _inputs(specimens: Sequence[Specimen], bench: Bench, moved: Shares, left: Shares) -> list[Adjusted]:
    adjusted: dict[Name, Adjusted] = {}
    for specimen in specimens:
        every = {s.name: s for row in specimen.every.values() for s in row.result.sources if s.shared}
        new = {name: source for name, source in every.items() if name in moved and name not in adjusted}
        x = readings_of(specimen, bench) if new else {}
        adjusted |= {name: _adjusted(source, x, moved[name], left[name]) for name, source in new.items()}
    return list(adjusted.values())


def _adjusted(source: Source, x: dict[Any, Any], e: float, left: float) -> Adjusted:
    moves = {name: float(np.ravel(move)[0]) for name, move in source.moves.items() if name != "volatiles"}
    name, u = next(iter(moves.items()))
    value = float(x[name]) if len(moves) == 1 and name in x and name not in NUMBERS else None
    adjusted = None if value is None else value + e * u
    return Adjusted(source.name, value, adjusted, abs(u), abs(u) * left, e, unit_of_input(name))


def _means(rows: Rows, moved: Shares) -> dict[str, tuple[float, float]]:
    means: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        if parts := rows.best(attribute):
            values = np.concatenate([part.values for part in parts])
            shift = math.fsum(
                moved.get(source.name, 0.0) * whole
                for part in parts
                for source, whole in zip(part.sources, part.sums.tolist(), strict=True)
            )
            before = float(np.mean(values))
            means[attribute] = (before, before + shift / len(values))
    return means
