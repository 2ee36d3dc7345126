"""Shared inputs adjusted by least squares so that methods agree over all coupons: evidence, never applied.

Each specimen measured in two ways gives a condition: one fiber volume, whichever way. The inputs that all
coupons share (densities, lot, calibrations) are moved as little as their standard uncertainties make likely,
beside the own errors of each reading. How far they had to move, and the chi-square of it, say which of them
does not fit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.discrepancies import unit_of_input
from laminate.coupons.measured import rows_of
from laminate.files.coupons import NUMBERS
from laminate.formulas import special
from laminate.values.input_key import Name
from laminate.values.quantities import Unit
from laminate.values.uncertainty import Source

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Measured, Rows, Specimen
    from laminate.values.uncertainty import Result

EXACT = 1e-9
"""Standard uncertainty of a difference that no own error moves [share of volume]."""
Shares = dict[Name, float]
Pair = tuple["Result", "Result | None"]
"""Results of like rows, equal in the end, or one that is zero."""


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


def adjust(specimens: Sequence[Specimen], bench: Bench) -> Adjustment | None:
    """Least squares with all conditions, to first order; None where no coupon gives a condition.

    specimens: measured; those that do not count are left out. See `Conditions`.
    """
    counted = [s for s in specimens if s.counts and s.every]
    pairs_of = [pairs for pairs in map(_pairs, counted) if pairs]
    conditions = Conditions(r.sources for pairs in pairs_of for pair in pairs for r in pair if r)
    for pairs in pairs_of:
        conditions.add(1, [(np.arange(1), pairs)])
    return conditions.solved(counted, bench, rows_of(counted))


def _pairs(specimen: Specimen) -> list[Pair]:
    """The conditions of a specimen: its fiber volumes equal, and no void content below -2 u."""
    best = specimen.best.get("fiber_volume")
    volumes = [measured for key, measured in specimen.every.items() if key[0] == "fiber_volume"]
    pairs: list[Pair] = [(_alone(best), _alone(other)) for other in volumes if best and other is not best]
    if voids := specimen.no_voids:
        pairs.append((_alone(voids), None))
    return pairs


def _alone(measured: Measured) -> Result:
    return measured.result.rows([measured.row])


class Conditions:
    """The normal equations of all conditions, in standard uncertainties of shared errors.

    With conditions ``d + A e + o = 0``, e shared errors in their standard uncertainties and o own ones of
    covariance V, the least ``e'e + o' V^-1 o`` is at ``e = -(I + A' V^-1 A)^-1 A' V^-1 d``. Source: JCGM
    102:2011 uses the same weighted least squares; arithmetic of conditional normal distributions.
    """

    def __init__(self, sources: Iterable[Sequence[Source]]) -> None:
        """sources: of all results in the conditions."""
        shared = [s.name for some in sources for s in some if s.shared and not s.rounded]
        self.names = {name: at for at, name in enumerate(dict.fromkeys(shared))}
        size = len(self.names)
        self.normal, self.right, self.square = np.eye(size), np.zeros((size, 1)), np.zeros((1, 1))
        self.count = self.no_voids = 0

    def add(self, count: int, alike: Sequence[tuple[Any, Sequence[Pair]]]) -> None:
        """Take the conditions of so many rows, in the order of these; alike: places of rows, with theirs."""
        size = len(self.names)
        terms = [np.zeros((count, *shape)) for shape in ((size, size), (size, 1), (1, 1))]
        for places, pairs in alike:
            if not pairs:
                continue
            for whole, term in zip(terms, self._terms(pairs), strict=True):
                whole[places] = term
            self.count += len(places) * len(pairs)
            self.no_voids += len(places) * sum(other is None for _, other in pairs)
        self.normal, self.right, self.square = (
            np.add.reduce(np.concatenate([whole[None], term]))
            for whole, term in zip((self.normal, self.right, self.square), terms, strict=True)
        )

    def _terms(self, pairs: Sequence[Pair]) -> tuple[Any, Any, Any]:
        """A' W A, A' W d and d' W d of each row (n, ...)."""
        shape = (len(pairs[0][0].value), len(pairs))
        d, a = np.zeros((*shape, 1)), np.zeros((*shape, len(self.names)))
        unshared: dict[Name, Any] = {}
        for c, pair in enumerate(pairs):
            for result, sign in zip(pair, (1.0, -1.0), strict=True):
                if result is None:
                    continue
                d[:, c, 0] += sign * result.value
                for source, part in zip(result.sources, result.contributions, strict=True):
                    if source.shared and not source.rounded:
                        a[:, c, self.names[source.name]] += sign * part
                    else:
                        unshared.setdefault(source.name, np.zeros(shape))[:, c] += sign * part
        o = np.stack([*unshared.values()], axis=2) if unshared else np.zeros((*shape, 0))
        weight = np.linalg.inv(o @ o.transpose(0, 2, 1) + EXACT**2 * np.eye(len(pairs)))
        weighted = a.transpose(0, 2, 1) @ weight
        return weighted @ a, weighted @ d, d.transpose(0, 2, 1) @ weight @ d

    def solved(self, specimens: Sequence[Specimen], bench: Bench, rows: Rows) -> Adjustment | None:
        """What follows; specimens: of which one has each shared error; rows: of which the means are told."""
        if not self.count:
            return None
        spread, right = np.linalg.inv(self.normal), self.right[:, 0]
        e = -spread @ right
        chi_squared = max(0.0, float(self.square[0, 0]) + float(right @ e))
        moved = dict(zip(self.names, e.tolist(), strict=True))
        left = dict(zip(self.names, np.sqrt(np.diag(spread)).tolist(), strict=True))
        return Adjustment(
            tuple(sorted(_inputs(specimens, bench, moved, left), key=lambda input_: -abs(input_.shift_in_u))),
            self.count - self.no_voids,
            self.no_voids,
            chi_squared,
            self.count,
            float(special.chdtrc(self.count, chi_squared)),
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
