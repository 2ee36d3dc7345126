"""Rows of a plain table that have something to say, as masks: only they become objects, which are worded."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.beside import Beside, own_squares
from laminate.coupons.checks import COLDEST, HOTTEST, LOOSE, margin_of, maybe_disordered, maybe_no_laminate
from laminate.coupons.comparisons import Key, numbers, readings_of
from laminate.coupons.copied import Finding, copies
from laminate.coupons.expected import COVERAGE, ONE_PIECE, agreeing_within, of_specimen, voids_within
from laminate.coupons.methods import attributes
from laminate.coupons.peers import WEIGHT, Interval, factor
from laminate.coupons.plain_group import Alike, Grouped, means_of
from laminate.coupons.shifted import shifts
from laminate.coupons.table_checks import (
    ALWAYS_IN,
    DISPLAYED,
    REPEATS,
    Display,
    Shown,
    crucibles,
    decimals,
    repeatability,
    repeats,
)
from laminate.files.coupons import NUMBERS, base_name
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from laminate.coupons.discrepancies import Discrepancies
    from laminate.files.coupons import Coupon
    from laminate.files.plain_table import PlainTable

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]


def maybe_impossible(grouped: Grouped) -> Mask:
    """Rows of which `checks.impossible` may find something (n,)."""
    mask = np.zeros(len(grouped), bool)
    for part in grouped.alike:
        assert part.group is not None
        x, group = means_of(grouped.table, part.first, part.rows), part.group
        held = np.full(len(part.rows), "sinker mass in liquid" in x)
        gauge = grouped.bench.gauge_of("liquid temperature", part.first)
        disordered = maybe_disordered(x, held, margin_of(gauge))
        if "liquid temperature" in x:
            x["liquid temperature"] = np.clip(x["liquid temperature"], COLDEST, HOTTEST)
        constants = {name: value for name, value in group.x.items() if np.ndim(value) == 0}
        with np.errstate(all="ignore"):
            results = attributes({**constants, **x}, group.plan, group.recipe)
        mask[part.rows] = disordered | maybe_no_laminate(results, group.recipe, len(part.rows))
    return mask


def table_warnings(grouped: Grouped) -> list[Finding]:
    """Row and warning, as `table_checks.check_table` finds them."""
    rows, table = np.flatnonzero(grouped.counted), grouped.table.rows(grouped.counted)
    crucible, weighed = table.columns.get("crucible mass"), list[tuple[str, float]]()
    if crucible is not None and "crucible" in table.words:
        weighed = list(zip(table.words["crucible"], crucible.number.tolist(), strict=True))
    numbers_of = {label: column.number for label, column in table.columns.items()}

    def coupon_of(at: int) -> Coupon:
        return grouped[int(rows[at])].coupon

    with np.errstate(invalid="ignore"):
        problems = [
            *shifts(numbers_of, coupon_of),
            *repeats(numbers_of, coupon_of, grouped.bench, _maybe_unlike(grouped)),
            *decimals(_shown(grouped, table), coupon_of),
            *crucibles(weighed, coupon_of),
            *copies(grouped.copies, coupon_of),
        ]
    return [(int(rows[at]), problem) for at, problem in problems]


def _maybe_unlike(grouped: Grouped) -> Callable[[str, Array, float], Mask]:
    """Which of the rows that count `repeats` has to look at."""

    def maybe(name: str, values: Array, typical: float) -> Mask:
        values = np.where(np.isnan(values).all(axis=1, keepdims=True), 0.0, values)  # rows without any
        kind, least = NUMBERS[name], np.nanmin(np.abs(values), axis=1)
        plausible = np.full(len(values), REPEATS[kind]) * (1.0 if kind == "temperature" else least)
        if kind == "length":
            plausible = np.minimum(2.0 * plausible, np.maximum(0.2 * plausible, 1.5 * typical))
        stated = repeatability(grouped.firsts[0], name, grouped.bench, least)
        scatter = np.maximum(np.maximum(plausible, grouped.steps[name][grouped.counted]), stated)
        apart = np.nanmax(values, axis=1) - np.nanmin(values, axis=1) > LOOSE * ALWAYS_IN * scatter
        near: Mask = apart & _outside_others(values, scatter)
        return near

    return maybe


def _shown(grouped: Grouped, table: PlainTable) -> dict[Display, Shown]:
    """As `shown_by`, of one file; table: the rows that count."""
    places, shown = np.cumsum(grouped.counted) - 1, dict[Display, Shown]()
    for label, column in table.columns.items():
        name = column.heading.name
        if NUMBERS[name] not in DISPLAYED or label in table.unwritten:
            continue
        zero = np.char.endswith(column.cells, b"0") & (column.decimals > 0)
        rows_of = by_key(
            (grouped.bench.gauge(name, part.first) or name, part.rows[grouped.counted[part.rows]])
            for part in grouped.alike
        )
        for display, parts in rows_of.items():
            rows = np.sort(places[np.concatenate(parts)])
            pointed = rows[column.decimals[rows] >= 0]
            if pointed.size:
                read = column.decimals[pointed].astype(int)
                shown[label, display, ""] = Shown(pointed, read, int(zero[pointed].sum()))
    return shown


def _outside_others(values: Array, scatter: Array) -> Mask:
    """Rows of repeats (n, k) of which one lies outside what the others say: see `peers`."""
    count = values.shape[1] - 1
    mask = np.ones(len(values), bool)
    if count > 3:  # the farthest is left out of so many: looked at one by one
        return mask
    reach = factor(count, count) * LOOSE
    mask[:] = np.isnan(values).any(axis=1)
    for repeat in range(count + 1):
        others = np.delete(values, repeat, axis=1)
        squares = WEIGHT * scatter**2 + np.square(others - others.mean(axis=1)[:, None]).sum(axis=1)
        half = reach * np.sqrt(squares / (WEIGHT + count - 1) * (1.0 + 1.0 / count))
        mask |= np.abs(values[:, repeat] - np.median(others, axis=1)) > half
    return mask


class Unlike(Beside):
    """The rows of a table beside each other: only those that may be unlike their peers are looked at.

    variances: of every quantity (n,), as `own_squares` finds it; whole: every quantity is a number.
    """

    def __init__(self, grouped: Grouped) -> None:
        super().__init__(grouped, grouped.bench)
        self.grouped, self.whole = grouped, True
        self.variances: dict[Key, Array] = {}
        parts = [(p, rows) for p in grouped.alike if (rows := p.rows[grouped.counted[p.rows]]).size]
        for part, rows in parts:
            self._measure(part, rows)
        for rows in grouped.zones.values():
            if (counted := rows[grouped.counted[rows]]).size:
                self.compare(counted)
        for part, rows in parts:
            self._by_itself(part, rows)

    def own(self, at: int) -> dict[Key, float]:
        """Standard deviation of every quantity [SI] from steps and repeatability of its readings."""
        return {key: math.sqrt(column[at]) for key, column in self.variances.items() if column[at] >= 0.0}

    def discrepancies(self, rows: Iterable[int]) -> Discrepancies:
        """Of all rows, among them those of some."""
        return self.grouped.discrepancies

    def counted_alike(self, at: int, plies: str) -> bool:
        """As of `Beside`, three or more with the row itself."""
        rows = self.grouped.zones[self.grouped[at].zone]
        cells = self.grouped.table.columns["plies"].cells[rows]
        return len(rows) > 2 and bool((cells == cells[0]).all())

    def _measure(self, part: Alike, rows: Any) -> None:
        """Compute what is compared of the rows of a part that count, and their own scatter."""
        first, labels_of = self.grouped[int(rows[0])], by_key((base_name(x), x) for x in part.first.numbers)
        bench = self.bench
        x: dict[Any, Any] = means_of(self.grouped.table, part.first, rows)
        constants = readings_of(first, self.bench)
        x |= {name: value for name, value in constants.items() if name not in NUMBERS}
        with np.errstate(all="ignore"):
            results = numbers(x, first)
        for key, value in results.items():
            self.put(key, rows, value)
            self.whole = self.whole and bool(np.isfinite(value).all())
        scatter: dict[str, Any] = {}
        gauge_of = {name: bench.gauge(name, first.coupon) for name in labels_of}
        for name, labels in labels_of.items():
            shown = [
                self.grouped.steps[other][rows]
                for other in labels_of
                if NUMBERS[other] == NUMBERS[name] and gauge_of[other] == gauge_of[name]
            ]
            stated = repeatability(self.grouped.firsts[0], name, bench, x[name])
            scatter[name] = np.maximum(np.minimum.reduce(shown), stated) / math.sqrt(len(labels))
        with np.errstate(all="ignore"):
            squares = own_squares(first, x, results, scatter)
        for key, square in squares.items():
            self.variances.setdefault(key, np.full(len(self.grouped), np.nan))[rows] = square

    def outside(self, key: Key, interval: Interval, rows: Any) -> Mask:
        """Rows outside an interval by more than the scatter of their own readings; some more, never fewer."""
        if key[0] == "read":
            off: Mask = (self.values[key][rows] > 0.0) & super().outside(key, interval, rows)
            return off
        return self._outside(key, interval.low, interval.center, interval.high, rows)

    def _outside(self, key: Key, low: Any, center: Any, high: Any, rows: Any) -> Mask:
        value = self.values[key][rows]
        side = np.where(value >= center, high - center, center - low)
        own_square = self.variances[key][rows] if key in self.variances else 0.0
        with np.errstate(all="ignore"):
            far, share = np.abs(value - center) / side, COVERAGE**2 * own_square / side**2
            near = far <= np.sqrt(1.0 + share) * LOOSE
        out: Mask = ~((low <= value) & (value <= high)) & ~near
        return out | (value < low) if key[0] == "void content" else out

    def _by_itself(self, part: Alike, rows: Any) -> None:
        """Mark what lot, recipe and the row itself do not let expect."""
        assert part.group is not None
        figures, within, first = part.group.figures, self.grouped.within[rows], int(rows[0])
        of_first = of_specimen(self.grouped[first], self.quantities(first), cut=False)
        off = np.zeros(len(rows), bool)
        for key in self.quantities(first):
            if key[0] == "void content":
                within_it = voids_within(figures.u["void_content", key[1]][within])
                off |= self._outside(key, *within_it, rows)
            elif key[0] == "same piece":
                off |= ~self.cut[rows] & self.outside(key, ONE_PIECE, rows)
            elif key[0] == "between":
                agreement = next(a for a in figures.agreements if key[1:] == (a.attribute, *a.methods))
                low, middle, high = agreeing_within(key[1], agreement.allowed[within])
                off |= self._outside(key, low * LOOSE, middle, high * LOOSE, rows)
            elif key in of_first:
                off |= self.outside(key, of_first[key], rows)
        self.off[rows] |= off
