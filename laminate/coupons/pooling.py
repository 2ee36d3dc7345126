"""Which repeats tell how a column scatters: neither excluded ones nor those in open doubt."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from laminate.coupons.doubt_reasons import about
from laminate.files.coupons import Coupon, base_name
from laminate.values.problems import Answered, Problem
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen

Cell = tuple[str, str]
"""A specimen and a column."""


def sound_repeats(
    coupons: Sequence[Coupon], readings: Mapping[str, Any], left_out: Collection[Cell]
) -> dict[str, list[bool]]:
    """By column the coupons whose repeats tell how it scatters: neither excluded nor left out.

    readings: of each column (n, k).
    """
    return {
        column: [not c.word("excluded") and (c.specimen, column) not in left_out for c in coupons]
        for column, table in readings.items()
        if table.shape[1] > 1
    }


def doubted_repeats(warned: Iterable[tuple[Coupon, Sequence[Problem]]]) -> set[Cell]:
    """The repeated readings that an open doubt is about; warned: coupons with what they are warned of."""
    repeats: set[Cell] = set()
    for coupon, warnings in warned:
        for warning in warnings:
            column = base_name(about(coupon, warning)[0])
            if not isinstance(warning, Answered) and len(coupon.readings(column)) > 1:
                repeats.add((coupon.specimen, column))
    return repeats


def pooling_notes(specimens: Iterable[Specimen], left_out: Collection[Cell]) -> list[str]:
    """Whose repeats do not tell how a column scatters."""
    without = by_key(
        (column, coupon.specimen)
        for coupon in (specimen.coupon for specimen in specimens)
        for column in dict.fromkeys(map(base_name, coupon.numbers))
        if len(coupon.readings(column)) > 1
        and (coupon.word("excluded") or (coupon.specimen, column) in left_out)
    )
    return pooling_words(without)


def pooling_words(without: Mapping[str, Sequence[str]]) -> list[str]:
    """The same in words; without: column -> names of the specimens."""
    return [
        f"{column}: how its repeats scatter is taken without {', '.join(names)}, excluded or in open doubt"
        for column, names in without.items()
    ]
