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
from laminate.coupons.measured import below_zero, rows_of
from laminate.coupons.methods import preferred
from laminate.files.coupons import NUMBERS
from laminate.formulas import special
from laminate.values.input_key import Name
from laminate.values.quantities import Unit
from laminate.values.uncertainty import Source

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Rows, Specimen
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


def adjust(specimens: Sequence[Specimen], bench: Bench, rows: Rows | None = None) -> Adjustment | None:
    """Least squares with all conditions, to first order; None where no coupon gives a condition.

    specimens: measured; those that do not count are left out; rows: of them, where they are known. See
    `Conditions`.
    """
    rows = rows or rows_of(specimens)
    conditions, counted = Conditions(), [chunk for chunk in rows.chunks if chunk.counts]
    for chunk in counted:
        best = preferred(chunk.keys)
        volume, voids = best.get("fiber_volume"), best.get("void_content")
        others = [key for key in chunk.keys if key[0] == "fiber_volume" and key != volume]
        keys = [key for key in (volume, *others, voids) if key]
        for results in chunk.blocks(keys) if others or voids else ():
            below = below_zero(results[voids]) if voids else np.zeros(len(results[others[0]].value), bool)
            equal: list[Pair] = [(results[volume], results[other]) for other in others if volume]
            conditions.add(equal, ~below)
            conditions.add([*equal, *([(results[voids], None)] if voids else [])], below)
    return conditions.solved([specimens[int(chunk.rows[0])] for chunk in counted], bench, rows)


class Conditions:
    """The normal equations of all conditions, in standard uncertainties of shared errors.

    With conditions ``d + A e + o = 0``, e shared errors in their standard uncertainties and o own ones of
    covariance V, the least ``e'e + o' V^-1 o`` is at ``e = -(I + A' V^-1 A)^-1 A' V^-1 d``. Source: JCGM
    102:2011 uses the same weighted least squares; arithmetic of conditional normal distributions.
    """

    def __init__(self) -> None:
        self.terms: list[tuple[list[Name], Any, Any, float]] = []
        self.count = self.no_voids = 0

    def add(self, pairs: Sequence[Pair], chosen: Any) -> None:
        """Take the conditions of some rows; pairs: of each row (n,); chosen: mask of these rows (n,)."""
        rows = np.flatnonzero(chosen)
        if not pairs or not rows.size:
            return
        self.count += len(rows) * len(pairs)
        self.no_voids += len(rows) * sum(other is None for _, other in pairs)
        shape = (len(rows), len(pairs))
        d = np.zeros((*shape, 1))
        shared: dict[Name, Any] = {}
        unshared: dict[Name, Any] = {}
        for c, pair in enumerate(pairs):
            for whole, sign in zip(pair, (1.0, -1.0), strict=True):
                if whole is None:
                    continue
                result = whole if chosen.all() else whole.rows(rows)
                d[:, c, 0] += sign * result.value
                for source, part in zip(result.sources, result.contributions, strict=True):
                    of_kind = shared if source.shared and not source.rounded else unshared
                    of_kind.setdefault(source.name, np.zeros(shape))[:, c] += sign * part
        a, o = (
            np.stack([*each.values()], 2) if each else np.zeros((*shape, 0)) for each in (shared, unshared)
        )
        weight = np.linalg.inv(o @ o.transpose(0, 2, 1) + EXACT**2 * np.eye(len(pairs)))
        weighted = a.transpose(0, 2, 1) @ weight
        square = float((d.transpose(0, 2, 1) @ weight @ d).sum())
        self.terms.append(([*shared], (weighted @ a).sum(axis=0), (weighted @ d).sum(axis=0)[:, 0], square))

    def solved(self, specimens: Sequence[Specimen], bench: Bench, rows: Rows) -> Adjustment | None:
        """What follows; specimens: of which one has each shared error; rows: of which the means are told."""
        if not self.count:
            return None
        names = [*dict.fromkeys(name for some, *_ in self.terms for name in some)]
        normal, right = np.eye(len(names)), np.zeros(len(names))
        for some, matrix, vector, _ in self.terms:
            at = [names.index(name) for name in some]
            normal[np.ix_(at, at)] += matrix
            right[at] += vector
        spread = np.linalg.inv(normal)
        e = -spread @ right
        chi_squared = max(0.0, math.fsum(square for *_, square in self.terms) + float(right @ e))
        moved = dict(zip(names, e.tolist(), strict=True))
        left = dict(zip(names, np.sqrt(np.diag(spread)).tolist(), strict=True))
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
