"""Rows of a plain table that have something to say, as masks: only they become objects, which are worded."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.copied import FEW, Finding, copied_counts, copied_down, copies
from laminate.coupons.grouped import Grouped
from laminate.coupons.shifted import shifts
from laminate.coupons.table_checks import (
    crucibles,
    decimals,
    fields_unlike,
    mean_of,
    repeats,
)
from laminate.files.coupons import base_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
            *repeats(numbers_of, coupon_of, grouped.bench, parts),
            *((at, problem) for at in pointed for problem in fields_unlike(coupon_of(at))),
            *((pointed[at], problem) for at, problem in counts),
            *copied_down(few, grouped.copies, grouped.bench),
            *decimals(table.columns, parts, grouped.bench, coupon_of),
            *crucibles(weighed, coupon_of),
            *copies(grouped.copies, coupon_of),
        ]
    return [(int(rows[at]), problem) for at, problem in problems]
