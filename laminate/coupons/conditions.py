"""What results of one specimen must give together: one fiber volume, and no void content below zero."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.coupons.methods import Key, preferred
from laminate.values.input_key import Name

if TYPE_CHECKING:
    from laminate.values.uncertainty import Result

NEGATIVE = 2.0
"""Standard uncertainties below zero from which a void content speaks against the densities."""
EXACT = 1e-9
"""Standard uncertainty of a difference that no own error moves [share of volume]."""
Pair = tuple["Result", "Result | None"]
"""Results of like rows, equal in the end, or one that is zero."""


def below_zero(voids: Result) -> Any:
    """Rows whose void content is below -2 u of what was stated (n,)."""
    stated = [at for at, source in enumerate(voids.sources) if not source.rounded]
    any_stated = voids.contributions[stated].any(axis=0)
    return any_stated & (voids.value < -NEGATIVE * voids.standard_uncertainty)


class Term(NamedTuple):
    """Conditions of like rows summed, as `adjust` needs them.

    shared: names of the shared errors; normal, right, square: A' W A (m, m), A' W d (m,) and d' W d over all
    rows; conditions, no_voids: how many, and how many of void contents.
    """

    shared: Sequence[Name]
    normal: Any
    right: Any
    square: float
    conditions: int
    no_voids: int


def conditions_of(results: Mapping[Key, Result], chosen: Any = True) -> Iterator[Term]:
    """What like rows must give: equal fiber volumes, and no void content below -2 u.

    results: of each row (n,); chosen: mask of the rows that are asked for (n,).
    """
    best = preferred(results)
    volume, voids = best.get("fiber_volume"), best.get("void_content")
    others = [key for key in results if key[0] == "fiber_volume" and key != volume]
    equal: list[Pair] = [(results[volume], results[other]) for other in others if volume]
    if voids:
        below = below_zero(results[voids])
        yield from _term(equal, chosen & ~below)
        yield from _term([*equal, (results[voids], None)], chosen & below)
    elif equal:
        yield from _term(equal, chosen & np.ones(len(equal[0][0].value), bool))


def _term(pairs: Sequence[Pair], chosen: Any) -> Iterator[Term]:
    """The conditions of some rows; pairs: of each row (n,); chosen: mask of these rows (n,)."""
    shape = (int(np.count_nonzero(chosen)), len(pairs))
    if not all(shape):
        return
    d = np.zeros((*shape, 1))
    shared: dict[Name, Any] = {}
    unshared: dict[Name, Any] = {}
    for c, pair in enumerate(pairs):
        for whole, sign in zip(pair, (1.0, -1.0), strict=True):
            if whole is None:
                continue
            result = whole if chosen.all() else whole.rows(chosen)
            d[:, c, 0] += sign * result.value
            for source, part in zip(result.sources, result.contributions, strict=True):
                of_kind = shared if source.shared and not source.rounded else unshared
                of_kind.setdefault(source.name, np.zeros(shape))[:, c] += sign * part
    a, o = (np.stack([*each.values()], 2) if each else np.zeros((*shape, 0)) for each in (shared, unshared))
    weight = np.linalg.inv(o @ o.transpose(0, 2, 1) + EXACT**2 * np.eye(len(pairs)))
    weighted = a.transpose(0, 2, 1) @ weight
    normal, right = (weighted @ a).sum(axis=0), (weighted @ d).sum(axis=0)[:, 0]
    square = float((d.transpose(0, 2, 1) @ weight @ d).sum())
    voids = shape[0] * sum(other is None for _, other in pairs)
    yield Term([*shared], normal, right, square, shape[0] * shape[1], voids)
