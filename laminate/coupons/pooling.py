"""Which repeats tell how a column scatters: neither excluded ones nor those in open doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from laminate.coupons.doubt_reasons import about
from laminate.files.coupons import Coupon, base_name
from laminate.values.problems import Answered, Problem

if TYPE_CHECKING:
    pass

Cell = tuple[str, str]
"""A specimen and a column."""


def doubted_repeats(warned: Iterable[tuple[Coupon, Sequence[Problem]]]) -> set[Cell]:
    """The repeated readings that an open doubt is about; warned: coupons with what they are warned of."""
    repeats: set[Cell] = set()
    for coupon, warnings in warned:
        for warning in warnings:
            column = base_name(about(coupon, warning)[0])
            if not isinstance(warning, Answered) and len(coupon.readings(column)) > 1:
                repeats.add((coupon.specimen, column))
    return repeats
