"""Rows of a plain table that have something to say, as masks: only they become objects, which are worded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.copied import FEW, Finding, copied_counts, copied_down, copies
from laminate.coupons.grouped import Grouped
from laminate.coupons.listed import Like
from laminate.coupons.peers import LOOSE, from_others
from laminate.coupons.resolution import shown_step
from laminate.coupons.shifted import shifts
from laminate.coupons.table_checks import (
    ALWAYS_IN,
    REPEATS,
    crucibles,
    decimals,
    fields_unlike,
    mean_of,
    repeatability,
    repeats,
    shown_by,
)
from laminate.files.coupons import NUMBERS, base_name

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from laminate.coupons.instruments import Bench
    from laminate.files.coupons import Coupon

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]


def table_warnings(grouped: Grouped) -> list[Finding]:
    """Row and warning, for every unlikely cell that its own column or row shows."""
    rows, table = np.flatnonzero(grouped.counted), grouped.table.rows(grouped.counted)
    places, numbers_of = np.cumsum(grouped.counted) - 1, {n: c.number for n, c in table.columns.items()}
    empty = [numbers_of[label] for label in numbers_of if base_name(label) == "crucible mass"]
    weighed = zip(
        table.word("crucible"), mean_of(np.column_stack(empty)).tolist() if empty else (), strict=False
    )
    parts = [(places[p.rows[grouped.counted[p.rows]]], p.first) for p in grouped.alike]

    def coupon_of(at: int) -> Coupon:
        return grouped[int(rows[at])].coupon

    pointed = np.flatnonzero(grouped.pointed[rows]).tolist()
    counts = copied_counts([coupon_of(at) for at in pointed])
    few = [coupon_of(at) for at in range(len(rows))] if len(rows) <= FEW else []
    with np.errstate(invalid="ignore"):
        problems = [
            *shifts(numbers_of, coupon_of),
            *repeats(numbers_of, coupon_of, grouped.bench, _maybe_unlike(parts, grouped.bench)),
            *((at, problem) for at in pointed for problem in fields_unlike(coupon_of(at))),
            *((pointed[at], problem) for at, problem in counts),
            *copied_down(few, grouped.copies, grouped.bench),
            *decimals(shown_by(table.columns, parts, grouped.bench), coupon_of),
            *crucibles(weighed, coupon_of),
            *copies(grouped.copies, coupon_of),
        ]
    return [(int(rows[at]), problem) for at, problem in problems]


def _maybe_unlike(parts: Sequence[Like], bench: Bench) -> Callable[[str, Array, float], Mask]:
    """Which of the rows that count `repeats` has to look at."""

    def maybe(name: str, values: Array, typical: float) -> Mask:
        values = np.where(np.isnan(values).all(axis=1, keepdims=True), 0.0, values)  # rows without any
        kind, least = NUMBERS[name], np.nanmin(np.abs(values), axis=1)
        scatter = np.full(len(values), REPEATS[kind]) * (1.0 if kind == "temperature" else least)
        if kind == "length":
            scatter = np.minimum(2.0 * scatter, np.maximum(0.2 * scatter, 1.5 * typical))
        for rows, first in parts:
            stated = repeatability(first, name, bench, least[rows])
            scatter[rows] = np.maximum(np.maximum(scatter[rows], shown_step(first, name, bench)), stated)
        apart = np.nanmax(values, axis=1) - np.nanmin(values, axis=1) > LOOSE * ALWAYS_IN * scatter
        near: Mask = apart & _outside_others(values, scatter)
        return near

    return maybe


def _outside_others(values: Any, scatter: Any) -> Any:
    """Rows of repeats (n, k) of which one lies outside what the others say, or lacks one."""
    mask = np.isnan(values).any(axis=1)
    for repeat in range(values.shape[1]):
        center, half = from_others(np.delete(values, repeat, axis=1), scatter)
        mask |= np.abs(values[:, repeat] - center) > half * LOOSE
    return mask
