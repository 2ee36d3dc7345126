"""Rows of a plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from laminate.coupons.adjustment import EXACT, Adjustment, Sums, solved
from laminate.coupons.copied import Copies
from laminate.coupons.discrepancies import NEGATIVE
from laminate.coupons.groups import Group
from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Specimen
from laminate.coupons.methods import Key
from laminate.coupons.readings import columns_of, plan_of
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import base_name
from laminate.files.plain_table import PlainTable
from laminate.values.averages import Average, of_parts
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, Result

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.files.coupons import Coupon

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Rows = NDArray[np.intp]

KEPT = 1024
"""So many specimens that were made into objects are kept, the rest made again."""
BLOCKS_KEPT = 2
"""So many blocks of rows keep the contributions of every source to every result."""
Part = tuple[Group, "Rows"]
"""A group, and which of its rows."""


class Grouped(Sequence[Specimen]):
    """The rows of a plain table in groups, in the order of their first rows; indexed, a row is a specimen.

    firsts: a coupon of each group; zones: name -> rows; parts: of each zone its groups, in the order in which
    the zone has them.
    """

    def __init__(
        self, table: PlainTable, bench: Bench, recipes: Sequence[Recipe], of: Rows, basis: str
    ) -> None:
        """recipes, of: the recipe of each group, and the group of each row."""
        self.table, self.bench, self.of = table, bench, of
        named: Sequence[str | None] = table.words.get("zone", [None] * len(table))
        index = {zone: at for at, zone in enumerate(dict.fromkeys(named))}
        codes = np.array([index[zone] for zone in named])
        self.zones = {zone: np.flatnonzero(codes == at) for zone, at in index.items()}
        self.groups: list[Group] = []
        self.firsts: list[Coupon] = []
        self.within = np.empty(len(table), np.intp)
        for at, recipe in enumerate(recipes):
            rows = np.flatnonzero(of == at)
            self.firsts.append(table.coupon(int(rows[0])))
            self.within[rows] = np.arange(len(rows))
            plan, names = plan_of(self.firsts[-1], bench, basis=basis), table.words["specimen"]
            self.groups.append(Group(names, rows, recipe, plan, codes[rows], len(self.zones), BLOCKS_KEPT))
        self.parts = [
            sorted(
                ((group, mine) for group in self.groups if len(mine := np.flatnonzero(group.zone == at))),
                key=lambda part: int(part[0].rows[part[1][0]]),
            )
            for at in range(len(self.zones))
        ]
        self.made: dict[int, Specimen] = {}
        self.copies: Copies | None = None

    def __len__(self) -> int:
        return len(self.table)

    @overload
    def __getitem__(self, at: int) -> Specimen: ...
    @overload
    def __getitem__(self, at: slice) -> list[Specimen]: ...
    def __getitem__(self, at: int | slice) -> Specimen | list[Specimen]:
        if isinstance(at, slice):
            return [self[i] for i in range(*at.indices(len(self)))]
        if at not in self.made:
            if len(self.made) >= KEPT:
                self.made.pop(next(iter(self.made)))
            group, coupon = self.groups[int(self.of[at])], self.table.coupon(at)
            specimen = Specimen(coupon, coupon.word("zone") or None, group.recipe, group.plan)
            self.made[at] = group.tell(specimen, int(self.within[at]))
        return self.made[at]

    def counted_alike(self, at: int) -> bool:
        """Whether all rows of the zone of a row, three or more, tell one count of plies."""
        rows = self.zones[self[at].zone]
        cells = self.table.columns["plies"].cells[rows]
        return len(rows) > 2 and bool((cells == cells[0]).all())

    @property
    def alike(self) -> bool:
        """Whether the rows of each group do not differ in whether their methods can be compared."""
        return all(pair.known.all() for group in self.groups for pair in group.figures.agreements)

    def read(self, left_out: Mapping[str, Collection[int]]) -> None:
        """Take the inputs of every group; left_out: rows by column whose repeats do not tell its scatter."""
        columns = readings(self.table)
        sound = {name: ~np.isin(np.arange(len(self)), list(rows)) for name, rows in left_out.items()}
        self.made.clear()
        for group, first in zip(self.groups, self.firsts, strict=True):
            given, known = group.of(columns), group.of(sound)
            group.take(*columns_of([first], group.plan, group.recipe, self.bench, given, sound=known))

    def column(self, of_group: Callable[[Group], Any]) -> Any:
        """What each group says of its rows, in the order of the table (n,)."""
        columns = [of_group(group) for group in self.groups]
        if len(columns) == 1:
            return columns[0]
        whole = np.empty(len(self), columns[0].dtype)
        for group, column in zip(self.groups, columns, strict=True):
            whole[group.rows] = column
        return whole


def readings(table: PlainTable) -> dict[str, Any]:
    """Readings (n,) or (n, k) by column [SI]."""
    by_column: dict[str, list[Any]] = {}
    for label, column in table.columns.items():
        by_column.setdefault(base_name(label), []).append(column.number)
    return {
        name: values[0] if len(values) == 1 else np.column_stack(values) for name, values in by_column.items()
    }


def means(table: PlainTable) -> dict[str, Array]:
    """The mean of the readings of every column (n,), summed as those of one coupon are."""
    return {
        name: reading if reading.ndim == 1 else sum(reading.T) / reading.shape[1]
        for name, reading in readings(table).items()
    }


def no_voids(group: Group) -> Mask:
    """Rows whose void content is below -2 u (n,)."""
    key = group.best.get("void_content")
    if key is None:
        return np.zeros(len(group), bool)
    below: Mask = group.figures.stated & (group.figures.value[key] < -NEGATIVE * group.figures.u[key])
    return below


def averaged(parts: Iterable[Part], key: Key, zone: int) -> Average:
    """The average of the rows of a zone by one method, from the sums over them."""
    return of_parts(
        [
            (figures.value[key][rows], group.sources, figures.sums[key][zone], figures.squares[key][zone])
            for group, rows in parts
            if key in (figures := group.figures).value
        ]
    )


def disagreeing(grouped: Grouped) -> list[int]:
    """The rows of which methods disagree, or the void content is below -2 u."""

    def odd(group: Group) -> Mask:
        mask = no_voids(group)
        for agreement in group.figures.agreements:
            mask = mask | ~agreement.agree
        return mask

    rows: list[int] = np.flatnonzero(grouped.column(odd)).tolist()
    return rows


def adjust_groups(grouped: Grouped) -> Adjustment | None:
    """As `adjustment.adjust`, the conditions of all rows of a group at once."""
    groups = [group for group in grouped.groups if "fiber_volume" in group.best]
    shared = (s.name for group in groups for s in group.sources if s.shared and not s.rounded)
    names = list(dict.fromkeys(shared))
    normal, right, square, count = np.eye(len(names)), np.zeros((len(names), 1)), np.zeros((1, 1)), 0
    below = {id(group): no_voids(group) for group in groups}
    for group in groups:
        main = group.best["fiber_volume"]
        pairs: list[tuple[Key, Key | None]] = [
            (main, key) for key in group.figures.value if key[0] == "fiber_volume" and key != main
        ]
        if "void_content" in group.best:
            pairs.append((group.best["void_content"], None))
        own_mask = np.array([not source.shared or source.rounded for source in group.sources])
        at = np.array(
            [names.index(s.name) for s, alone in zip(group.sources, own_mask, strict=True) if not alone]
        )
        for start in range(0, len(group), BLOCK):
            negative, results = below[id(group)][start : start + BLOCK], group.block(start)
            pairs_of_results = [
                (results[key], None if other is None else results[other]) for key, other in pairs
            ]
            terms = _terms(pairs_of_results, negative, own_mask)
            count += int(negative.sum()) + len(negative) * sum(other is not None for _, other in pairs)
            # row after row, as one specimen after the other would be added
            normal[np.ix_(at, at)] = np.add.reduce(np.concatenate([normal[np.ix_(at, at)][None], terms[0]]))
            right[at] = np.add.reduce(np.concatenate([right[at][None], terms[1]]))
            square = np.add.reduce(np.concatenate([square[None], terms[2]]))
    if not count:
        return None
    negatives = sum(int(mask.sum()) for mask in below.values())
    sums = Sums(names, normal, right[:, 0], float(square[0, 0]), count, negatives)
    firsts = [grouped[int(group.rows[0])] for group in groups]
    return solved(sums, firsts, grouped.bench, lambda moved: _means(grouped, moved))


def _terms(pairs: list[tuple[Result, Result | None]], below: Mask, own_mask: Mask) -> list[Any]:
    """A' W A, A' W d and d' W d of each row (n, ...); below: rows whose void content is a condition."""
    terms: list[Any] = [None, None, None]
    at = np.arange(len(below))
    for mask, voids in ((~below, False), (below, True)):
        conditions = [(result, other) for result, other in pairs if other is not None or voids]
        chosen = at[mask]
        d = np.empty((len(chosen), len(conditions), 1))
        every = np.empty((len(chosen), len(conditions), len(own_mask)))
        for c, (result, other) in enumerate(conditions):
            less, without = (
                (0.0, 0.0) if other is None else (other.value[chosen], other.contributions[:, chosen])
            )
            d[:, c, 0], every[:, c] = (
                result.value[chosen] - less,
                (result.contributions[:, chosen] - without).T,
            )
        a, o = every[:, :, ~own_mask], every[:, :, own_mask]
        weight = np.linalg.inv(o @ o.transpose(0, 2, 1) + EXACT**2 * np.eye(len(conditions)))
        weighted = a.transpose(0, 2, 1) @ weight
        for k, term in enumerate((weighted @ a, weighted @ d, d.transpose(0, 2, 1) @ weight @ d)):
            if terms[k] is None:
                terms[k] = np.zeros((len(at), *term.shape[1:]))
            terms[k][mask] = term
    return terms


def _means(grouped: Grouped, moved: dict[Name, float]) -> dict[str, tuple[float, float]]:
    means: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        keyed_groups = [(group, group.best[attribute]) for group in grouped.groups if attribute in group.best]
        if keyed_groups:
            before = float(np.mean(np.concatenate([group.figures.value[key] for group, key in keyed_groups])))
            shift = math.fsum(
                moved.get(source.name, 0.0) * part
                for group, key in keyed_groups
                for source, part in zip(
                    group.sources, group.figures.sums[key].sum(axis=0).tolist(), strict=True
                )
            )
            means[attribute] = before, before + shift / sum(len(group) for group, _ in keyed_groups)
    return means
