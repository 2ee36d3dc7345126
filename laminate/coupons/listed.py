"""Tables of coupons: those that were read one by one as columns, rows that are alike, what rows read."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

import numpy as np

from laminate.coupons.copied import joined
from laminate.coupons.resolution import scale_of
from laminate.coupons.slips import decimals_of, in_full, number_of
from laminate.files.coupons import Coupon, base_name
from laminate.files.plain_table import Column, CouponTable
from laminate.files.table import MOST_DIGITS, Heading, digits_of
from laminate.values.sequences import by_key

Like = tuple[Any, Coupon]
"""Places of rows (m,) that are alike, and the coupon of the first."""


@dataclass
class Listed(CouponTable):
    """Coupons as columns."""

    coupons: Sequence[Coupon]

    def coupon(self, at: int) -> Coupon:
        """One row."""
        return self.coupons[at]

    def rows(self, kept: Any) -> Listed:
        """The rows of a mask (n,)."""
        return self if kept.all() else listed([self.coupons[at] for at in np.flatnonzero(kept).tolist()])


def listed(coupons: Sequence[Coupon]) -> Listed:
    """The table of some coupons."""
    names = dict.fromkeys(name for coupon in coupons for name in coupon.words)
    labels = dict.fromkeys(label for coupon in coupons for label in coupon.numbers)
    words = {name: [coupon.word(name) for coupon in coupons] for name in names}
    words["specimen"] = [coupon.specimen for coupon in coupons]
    unwritten = frozenset[str]().union(*(coupon.unwritten for coupon in coupons))
    return Listed(words, {label: _column(coupons, label) for label in labels}, unwritten, coupons)


def _column(coupons: Sequence[Coupon], label: str) -> Column:
    texts = [in_full(c.texts[label]) if label in c.numbers else "" for c in coupons]
    return Column(
        Heading(base_name(label), None, "", label, 0),
        np.array([c.numbers.get(label, math.nan) for c in coupons], float),
        np.array([text.encode() for text in texts], "S"),
        np.array([-1 if (places := decimals_of(text)) is None else places for text in texts], int),
        np.array([scale_of(c, label) if label in c.numbers else 1.0 for c in coupons], float),
        np.array([math.nan if (number := number_of(text)) is None else number for text in texts], float),
        typed=np.array([bool(c.typed(label)) and label not in c.steps for c in coupons], bool),
        long=np.array([digits_of(text) > MOST_DIGITS for text in texts], bool),
    )


def alike_coupons(coupons: Sequence[Coupon], like: Sequence[Hashable] = ()) -> list[Like]:
    """The coupons that have the same readings, in like cells, by the same ways and balances.

    like: of each, what they must have in common besides.
    """
    both = zip_longest(coupons, like)
    parts = by_key(((_like(coupon), more), at) for at, (coupon, more) in enumerate(both))
    return [(np.array(rows), coupons[rows[0]]) for rows in parts.values()]


def _like(coupon: Coupon) -> Hashable:
    words = (coupon.word(name) for name in ("kind", "method", "balance", "liquid balance"))
    cells = ((label, coupon.given.get(label), coupon.steps.get(label)) for label in coupon.numbers)
    return (coupon.file, *words, coupon.numbers.get("plies"), *cells)


def alike_rows(table: CouponTable) -> list[Like]:
    """The same of the rows of one table, without looking at each, in the order of their first."""
    if not len(table):
        return []
    codes: list[Any] = [
        (~np.isnan(column.number)).astype(np.int64)
        for column in table.columns.values()
        if np.isnan(column.number).any()
    ]
    if "plies" in table.columns:
        codes.append(np.nan_to_num(table.columns["plies"].number).astype(np.int64))
    for name in ("kind", "method", "balance", "liquid balance"):
        if name in table.words:
            index = {word: at for at, word in enumerate(dict.fromkeys(table.words[name]))}
            codes.append(np.array([index[word] for word in table.words[name]], np.int64))
    if not codes:
        return [(np.arange(len(table)), table.coupon(0))]
    code = joined(codes)
    rows = np.argsort(code, kind="stable")
    parts = np.split(rows, np.flatnonzero(np.diff(code[rows])) + 1)
    parts.sort(key=lambda part: int(part[0]))
    return [(part, table.coupon(int(part[0]))) for part in parts]


def readings_of_rows(table: CouponTable, first: Coupon, rows: Any) -> dict[str, Any]:
    """Readings (n,) or (n, k) by column [SI] of rows that have those that the first of them has."""
    by_column = by_key((base_name(label), table.columns[label].number[rows]) for label in first.numbers)
    return {name: each[0] if len(each) == 1 else np.column_stack(each) for name, each in by_column.items()}


def means_of(table: CouponTable, first: Coupon, rows: Any) -> dict[str, Any]:
    """The mean of the readings of every column (n,), summed as those of one coupon are.

    first: a coupon with the readings that the rows have.
    """
    return {
        name: sum(readings.T) / readings.shape[1] if readings.ndim > 1 else readings
        for name, readings in readings_of_rows(table, first, rows).items()
    }
