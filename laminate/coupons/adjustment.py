"""Shared inputs adjusted by least squares so that methods agree over all coupons: evidence, never applied.

Each specimen measured in two ways gives a condition: one fiber volume, whichever way. The inputs that all
coupons share (densities, lot, calibrations) are moved as little as their standard uncertainties make likely,
beside the own errors of each reading. How far they had to move, and the chi-square of it, say which of them
does not fit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.discrepancies import NEGATIVE, unit_of_input
from laminate.files.coupons import NUMBERS
from laminate.formulas import special
from laminate.values.input_key import Name
from laminate.values.quantities import Unit
from laminate.values.uncertainty import Source

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Measured, Specimen

EXACT = 1e-9
"""Standard uncertainty of a difference that no own error moves [share of volume]."""
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


@dataclass(frozen=True, slots=True)
class _Condition:
    value: float
    shared: Shares
    own: Shares


def adjust(specimens: Sequence[Specimen], bench: Bench) -> Adjustment | None:
    """Least squares with all conditions, to first order; None where no coupon gives a condition.

    specimens: measured; those that do not count are left out. With conditions ``d + A e + o = 0``, e shared
    errors in their standard uncertainties and o own ones of covariance V, the least ``e'e + o' V^-1 o`` is at
    ``e = -(I + A' V^-1 A)^-1 A' V^-1 d``. Source: JCGM 102:2011 uses the same weighted least squares;
    arithmetic of conditional normal distributions.
    """
    counted = [s for s in specimens if s.counts and s.every]
    blocks = [block for block in (_conditions(s) for s in counted) if block]
    if not blocks:
        return None
    names = list(dict.fromkeys(name for block in blocks for c in block for name in c.shared))
    normal, right, square, rows = np.eye(len(names)), np.zeros(len(names)), 0.0, 0
    for block in blocks:
        d = np.array([c.value for c in block])
        a = np.array([[c.shared.get(name, 0.0) for name in names] for c in block])
        own_names = list(dict.fromkeys(name for c in block for name in c.own))
        o = np.array([[c.own.get(name, 0.0) for name in own_names] for c in block]).reshape(
            len(block), len(own_names)
        )
        weight = np.linalg.inv(o @ o.T + EXACT**2 * np.eye(len(block)))
        normal += a.T @ weight @ a
        right += a.T @ weight @ d
        square += float(d @ weight @ d)
        rows += len(block)
    sums = Sums(names, normal, right, square, rows, sum(_no_voids(s) is not None for s in counted))
    return solved(sums, counted, bench, lambda moved: _means(counted, moved))


@dataclass(frozen=True)
class Sums:
    """The normal equations of all conditions: shared errors, matrix, right side, d' W d, counts."""

    names: Sequence[Name]
    normal: Any
    right: Any
    square: float
    rows: int
    no_voids: int


def solved(
    sums: Sums,
    specimens: Sequence[Specimen],
    bench: Bench,
    means: Callable[[Shares], dict[str, tuple[float, float]]],
) -> Adjustment:
    """The adjustment that follows; specimens: of which one has each shared error; means: before and after."""
    spread = np.linalg.inv(sums.normal)
    e = -spread @ sums.right
    chi_squared = max(0.0, sums.square + float(sums.right @ e))
    moved = dict(zip(sums.names, e.tolist(), strict=True))
    left = dict(zip(sums.names, np.sqrt(np.diag(spread)).tolist(), strict=True))
    return Adjustment(
        tuple(sorted(_inputs(specimens, bench, moved, left), key=lambda input_: -abs(input_.shift_in_u))),
        sums.rows - sums.no_voids,
        sums.no_voids,
        chi_squared,
        sums.rows,
        float(special.chdtrc(sums.rows, chi_squared)),
        means(moved),
    )


def _split(first: Measured, other: Measured | None) -> _Condition:
    shared: Shares = {}
    own_shares: Shares = {}
    for measured, sign in ((first, 1.0), (other, -1.0)):
        if measured is None:
            continue
        for source, c in zip(measured.result.sources, measured.contributions().values(), strict=True):
            into = shared if source.shared and not source.rounded else own_shares
            into[source.name] = into.get(source.name, 0.0) + sign * c
    return _Condition(first.value - (other.value if other else 0.0), shared, own_shares)


def _no_voids(specimen: Specimen) -> _Condition | None:
    voids = specimen.best.get("void_content")
    if voids is None or voids.stated_u == 0.0 or voids.value >= -NEGATIVE * voids.u:
        return None
    return _split(voids, None)


def _conditions(specimen: Specimen) -> list[_Condition]:
    results = [row for key, row in specimen.every.items() if key[0] == "fiber_volume"]
    best = specimen.best.get("fiber_volume")
    conditions = [_split(best, other) for other in results if best is not None and other is not best]
    voids = _no_voids(specimen)
    return [*conditions, voids] if voids is not None else conditions


def _inputs(specimens: Sequence[Specimen], bench: Bench, moved: Shares, left: Shares) -> list[Adjusted]:
    adjusted: dict[Name, Adjusted] = {}
    for specimen in specimens:
        x: dict[Any, Any] | None = None
        sources = {s.name: s for row in specimen.every.values() for s in row.result.sources if s.shared}
        for name, source in sources.items():
            if name in adjusted or name not in moved:
                continue
            x = x if x is not None else readings_of(specimen, bench)
            adjusted[name] = _adjusted(source, x, moved[name], left[name])
    return list(adjusted.values())


def _adjusted(source: Source, x: dict[Any, Any], e: float, left: float) -> Adjusted:
    moves = {name: float(np.ravel(move)[0]) for name, move in source.moves.items() if name != "volatiles"}
    name, u = next(iter(moves.items()))
    value = float(x[name]) if len(moves) == 1 and name in x and name not in NUMBERS else None
    adjusted = None if value is None else value + e * u
    return Adjusted(source.name, value, adjusted, abs(u), abs(u) * left, e, unit_of_input(name))


def _means(specimens: Sequence[Specimen], moved: Shares) -> dict[str, tuple[float, float]]:
    means: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        measurements = [s.best[attribute] for s in specimens if attribute in s.best]
        if measurements:
            before = [measured.value for measured in measurements]
            after = [
                measured.value + sum(c * moved.get(name, 0.0) for name, c in measured.contributions().items())
                for measured in measurements
            ]
            means[attribute] = (float(np.mean(before)), float(np.mean(after)))
    return means
