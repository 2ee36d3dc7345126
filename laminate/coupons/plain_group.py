"""Rows of a plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from laminate.coupons.adjustment import EXACT, Adjustment, Sums, solved
from laminate.coupons.copied import Copies, joined
from laminate.coupons.discrepancies import NEGATIVE
from laminate.coupons.groups import Group
from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Specimen
from laminate.coupons.methods import Key, Plan
from laminate.coupons.readings import columns_of, signature
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import base_name
from laminate.files.plain_table import PlainTable
from laminate.values.averages import Average, of_parts
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, Result

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.files.coupons import Coupon
    from laminate.values.problems import Problem

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Rows = NDArray[np.intp]

KEPT = 4096
"""So many specimens that were made into objects are kept, the rest made again."""
BLOCKS_KEPT = 2
"""So many blocks of rows keep the contributions of every source to every result."""
Part = tuple[Group, "Rows"]
"""A group, and which of its rows."""


@dataclass(eq=False)
class Alike:
    """Rows with the same readings, method, plies and balances: their places, and the coupon of the first."""

    rows: Rows
    first: Coupon
    recipe: Recipe
    plan: Plan
    group: Group | None = None


def means_of(table: PlainTable, first: Coupon, rows: Rows) -> dict[str, Any]:
    """The mean of the readings of every column (n,), summed as those of one coupon are.

    first: a coupon with the readings that the rows have.
    """
    return {
        name: sum(readings.T) / readings.shape[1] if readings.ndim > 1 else readings
        for name, readings in readings_of_rows(table, first, rows).items()
    }


def alike_rows(table: PlainTable) -> list[Rows]:
    """The rows that have the same readings, method, plies and balances, in the order of their first."""
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
        return [np.arange(len(table))]
    code = joined(codes)
    rows = np.argsort(code, kind="stable")
    parts = np.split(rows, np.flatnonzero(np.diff(code[rows])) + 1)
    return sorted(parts, key=lambda part: int(part[0]))


class Grouped(Sequence[Specimen]):
    """The rows of a plain table in groups, in the order of their first rows; indexed, a row is a specimen.

    counted: rows that are not excluded (n,); zones: name -> rows; parts: of each zone its groups
    with the rows that count, in the order in which the zone has them; without: the same of the others.
    """

    def __init__(self, table: PlainTable, bench: Bench, alike: Sequence[Alike]) -> None:
        """alike: of every row."""
        self.table, self.bench, self.alike = table, bench, alike
        named: Sequence[str | None] = [zone or None for zone in table.words.get("zone", [""] * len(table))]
        index = {zone: at for at, zone in enumerate(dict.fromkeys(named))}
        codes = np.array([index[zone] for zone in named])
        self.counted = np.array([not word for word in table.words.get("excluded", [""] * len(table))])
        self.zones = {zone: np.flatnonzero(codes == at) for zone, at in index.items()}
        count = len(index) * (1 if self.counted.all() else 2)
        codes = np.where(self.counted, codes, codes + len(index))
        members: dict[Any, list[Alike]] = {}
        for part in alike:
            members.setdefault((id(part.recipe), *signature(part.first, part.plan, bench)), []).append(part)
        self.groups: list[Group] = []
        self.firsts: list[Coupon] = []
        self.of, self.within = np.empty((2, len(table)), np.intp)
        for at, parts in enumerate(members.values()):
            rows = np.sort(np.concatenate([part.rows for part in parts]))
            self.of[rows], self.within[rows] = at, np.arange(len(rows))
            self.firsts.append(parts[0].first)
            group = Group(
                table.words["specimen"], rows, parts[0].recipe, parts[0].plan, codes[rows], count, BLOCKS_KEPT
            )
            self.groups.append(group)
            for part in parts:
                part.group = group
        self.parts, self.without = (
            [self._of_zone(at + start) for at in range(len(index))] if start < count else []
            for start in (0, len(index))
        )
        self.made: dict[int, Specimen] = {}
        self.warnings: dict[int, list[Problem]] = {}
        self.copies: Copies | None = None

    def _of_zone(self, code: int) -> list[Part]:
        parts = [(group, np.flatnonzero(group.zone == code)) for group in self.groups]
        return sorted(
            (part for part in parts if len(part[1])), key=lambda part: int(part[0].rows[part[1][0]])
        )

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
            self.made[at].warnings = self.warnings.get(at, [])
        return self.made[at]

    def with_warnings(self, at: int, warnings: list[Problem]) -> Specimen:
        """A row with the warnings found so far."""
        return replace(self[at], warnings=warnings)

    def counted_alike(self, at: int) -> bool:
        """Whether all rows of the zone of a row, three or more, tell one count of plies."""
        rows = self.zones[self[at].zone]
        cells = self.table.columns["plies"].cells[rows]
        return len(rows) > 2 and bool((cells == cells[0]).all())

    @property
    def comparable(self) -> bool:
        """Whether the rows of each group do not differ in whether their methods can be compared."""
        return all(pair.known.all() for group in self.groups for pair in group.figures.agreements)

    def read(self, left_out: Mapping[str, Collection[int]]) -> None:
        """Take the inputs of every group; left_out: rows by column whose repeats do not tell its scatter."""
        self.made.clear()
        names = {base_name(label) for label in self.table.columns}
        sound = {
            name: self.counted & ~np.isin(np.arange(len(self)), list(left_out.get(name, ())))
            for name in names
        }
        for group, first in zip(self.groups, self.firsts, strict=True):
            given, known = readings_of_rows(self.table, first, group.rows), group.of(sound)
            group.take(*columns_of([first], group.plan, group.recipe, self.bench, given, sound=known))

    def repeated(self) -> dict[str, Mask]:
        """Column -> the rows with several readings of it (n,), of columns that have such rows."""
        times: dict[str, Any] = {}
        for label, column in self.table.columns.items():
            times[base_name(label)] = times.get(base_name(label), 0) + ~np.isnan(column.number)
        return {name: count > 1 for name, count in times.items() if (count > 1).any()}

    def counts_in(self, group: Group) -> Mask:
        """Which rows of a group count (n,)."""
        mask: Mask = self.counted[group.rows]
        return mask

    def apart(self, *, voids: bool = False) -> list[int]:
        """The rows of which methods disagree; voids: those that count, also a void content below -2 u."""
        mask = np.zeros(len(self), bool)
        for group in self.groups:
            for agreement in group.figures.agreements:
                mask[group.rows] |= ~agreement.agree
            if voids:
                mask[group.rows] |= no_voids(group)
        rows: list[int] = np.flatnonzero(mask & self.counted if voids else mask).tolist()
        return rows


def readings_of_rows(table: PlainTable, first: Coupon, rows: Rows) -> dict[str, Any]:
    """Readings (n,) or (n, k) by column [SI] of rows that have those that the first of them has."""
    by_column: dict[str, list[Any]] = {}
    for label in first.numbers:
        by_column.setdefault(base_name(label), []).append(table.columns[label].number[rows])
    return {
        name: values[0] if len(values) == 1 else np.column_stack(values) for name, values in by_column.items()
    }


def no_voids(group: Group) -> Mask:
    """Rows whose void content is below -2 u (n,)."""
    key = group.best.get("void_content")
    if key is None:
        return np.zeros(len(group), bool)
    below: Mask = group.figures.stated & (group.figures.value[key] < -NEGATIVE * group.figures.u[key])
    return below


def averaged(parts: Iterable[Part], key: Key) -> Average:
    """The average of the rows of a zone by one method, from the sums over them."""
    return of_parts(
        [
            (figures.value[key][rows], group.sources, figures.sums[key][zone], figures.squares[key][zone])
            for group, rows in parts
            if key in (figures := group.figures).value
            for zone in [int(group.zone[rows[0]])]
        ]
    )


def adjust_groups(grouped: Grouped) -> Adjustment | None:
    """As `adjustment.adjust`, the conditions of all rows of a group at once."""
    below = {id(group): no_voids(group) & grouped.counts_in(group) for group in grouped.groups}
    pairs_of: list[tuple[Group, list[tuple[Key, Key | None]]]] = []
    for group in grouped.groups:
        volumes = [key for key in group.figures.value if key[0] == "fiber_volume"]
        main = group.best.get("fiber_volume")
        if (len(volumes) > 1 and grouped.counts_in(group).any()) or below[id(group)].any():
            pairs: list[tuple[Key, Key | None]] = []
            pairs += [(main, key) for key in volumes if main is not None and key != main]
            pairs += [(key, None) for attribute, key in group.best.items() if attribute == "void_content"]
            pairs_of.append((group, pairs))
    shared = (s.name for group, _ in pairs_of for s in group.sources if s.shared and not s.rounded)
    names = list(dict.fromkeys(shared))
    normal, right, square, count = np.eye(len(names)), np.zeros((len(names), 1)), np.zeros((1, 1)), 0
    for group, pairs in pairs_of:
        own_mask = np.array([not source.shared or source.rounded for source in group.sources])
        at = np.array(
            [names.index(s.name) for s, alone in zip(group.sources, own_mask, strict=True) if not alone]
        )
        for start in range(0, len(group), BLOCK):
            rows, results = slice(start, start + BLOCK), group.block(start)
            negative, counted = below[id(group)][rows], grouped.counts_in(group)[rows]
            pairs_of_results = [
                (results[key], None if other is None else results[other]) for key, other in pairs
            ]
            terms = _terms(pairs_of_results, negative, counted, own_mask)
            count += int(negative.sum()) + int(counted.sum()) * sum(other is not None for _, other in pairs)
            # row after row, as one specimen after the other would be added
            normal[np.ix_(at, at)] = np.add.reduce(np.concatenate([normal[np.ix_(at, at)][None], terms[0]]))
            right[at] = np.add.reduce(np.concatenate([right[at][None], terms[1]]))
            square = np.add.reduce(np.concatenate([square[None], terms[2]]))
    if not count:
        return None
    negatives = sum(int(mask.sum()) for mask in below.values())
    sums = Sums(names, normal, right[:, 0], float(square[0, 0]), count, negatives)
    firsts = [grouped[int(group.rows[grouped.counts_in(group)][0])] for group, _ in pairs_of]
    return solved(sums, firsts, grouped.bench, lambda moved: _means(grouped, moved))


def _terms(
    pairs: list[tuple[Result, Result | None]], below: Mask, counted: Mask, own_mask: Mask
) -> list[Any]:
    """A' W A, A' W d and d' W d of each row (n, ...); below: rows whose void content is a condition."""
    terms: list[Any] = [None, None, None]
    at = np.arange(len(below))
    for mask, voids in ((counted & ~below, False), (below, True)):
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
        parts = [part for zone in grouped.parts for part in zone if attribute in part[0].best]
        if not parts:
            continue
        keys = [group.best[attribute] for group, _ in parts]
        values = np.concatenate(
            [group.figures.value[key][rows] for (group, rows), key in zip(parts, keys, strict=True)]
        )
        before = float(np.mean(values))
        shift = math.fsum(
            moved.get(source.name, 0.0) * part
            for (group, rows), key in zip(parts, keys, strict=True)
            for source, part in zip(
                group.sources, group.figures.sums[key][group.zone[rows[0]]].tolist(), strict=True
            )
        )
        means[attribute] = before, before + shift / len(values)
    return means
