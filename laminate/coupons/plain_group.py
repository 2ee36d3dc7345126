"""Rows of a plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.copied import Copies, copied, joined, signs_in
from laminate.coupons.discrepancies import Differing, Discrepancies, differing
from laminate.coupons.groups import Group, Read, take_inputs
from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Chunk, Part, Specimen
from laminate.coupons.methods import Key, Plan
from laminate.coupons.pooling import Cell
from laminate.coupons.readings import signature
from laminate.coupons.recipes import Recipe
from laminate.coupons.resolution import last_digits, shown_step
from laminate.files.coupons import base_name
from laminate.files.plain_table import PlainTable
from laminate.values.sequences import LazySequence, by_key
from laminate.values.uncertainty import BLOCK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.files.coupons import Coupon
    from laminate.values.problems import Problem

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Rows = NDArray[np.intp]

KEPT = 4096
"""So many specimens that were made into objects are kept, the rest made again."""


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


class Grouped(LazySequence[Specimen]):
    """The rows of a plain table in groups, in the order of their first rows; indexed, a row is a specimen.

    counted: rows that are not excluded (n,); zones: name -> rows; sound: column -> rows (n,) whose repeats
    tell how it scatters.
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
        members = by_key(((id(p.recipe), *signature(p.first, p.plan, bench)), p) for p in alike)
        self.groups: list[Group] = []
        self.firsts: list[Coupon] = []
        self.of, self.within = np.empty((2, len(table)), np.intp)
        for at, parts in enumerate(members.values()):
            rows = np.sort(np.concatenate([part.rows for part in parts]))
            self.of[rows], self.within[rows] = at, np.arange(len(rows))
            names, first = table.words["specimen"], parts[0]
            counts = self.counted[rows]
            group = Group(names, rows, first.recipe, first.plan, codes[rows], count, counts)
            self.firsts.append(first.first)
            self.groups.append(group)
            for part in parts:
                part.group = group
        self.sound: dict[str, Mask] = {}
        self.kept: dict[int, Specimen] = {}
        self.warnings: dict[int, list[Problem]] = {}

    def __len__(self) -> int:
        return len(self.table)

    def item(self, at: int) -> Specimen:
        """One row, with its warnings."""
        if at not in self.kept:
            if len(self.kept) >= KEPT:
                self.kept.pop(next(iter(self.kept)))
            group, coupon = self.groups[int(self.of[at])], self.table.coupon(at)
            specimen = Specimen(coupon, coupon.word("zone") or None, group.recipe, group.plan)
            self.kept[at] = group.tell(specimen, int(self.within[at]))
            self.kept[at].warnings = self.warnings.get(at, [])
        return self.kept[at]

    @cached_property
    def copies(self) -> Copies:
        """Which of the rows that count are alike."""
        columns = self.table.rows(self.counted).columns
        signs = {label: column for label, column in columns.items() if signs_in(label)}
        return copied({n: c.number for n, c in signs.items()}, {n: last_digits(c) for n, c in signs.items()})

    @cached_property
    def steps(self) -> dict[str, Array]:
        """Column -> the step of each row (n,) [SI], as `shown_step` has it."""
        steps: dict[str, Array] = {}
        for name in {base_name(label) for label in self.table.columns}:
            steps[name] = step = np.zeros(len(self))
            for part in self.alike:
                step[part.rows] = shown_step(part.first, name, self.bench)
        return steps

    def read(self, left_out: Collection[Cell]) -> None:
        """Take the inputs of every group; left_out: repeats that do not tell how their column scatters."""
        self.kept.clear()
        self.__dict__.pop("discrepancies", None)
        place = {name: at for at, name in enumerate(self.table.words["specimen"])} if left_out else {}
        self.sound = {base_name(label): self.counted.copy() for label in self.table.columns}
        for name, column in left_out:
            self.sound[column][place[name]] = False
        read = [
            Read(
                group,
                [first],
                readings_of_rows(self.table, first, group.rows),
                {name: rows[group.rows] for name, rows in self.sound.items()},
            )
            for group, first in zip(self.groups, self.firsts, strict=True)
        ]
        take_inputs(read, self.bench)

    def repeated(self) -> dict[str, Mask]:
        """Column -> the rows with several readings of it (n,), of columns that have such rows."""
        times: dict[str, Any] = {}
        for label, column in self.table.columns.items():
            times[base_name(label)] = times.get(base_name(label), 0) + ~np.isnan(column.number)
        return {name: count > 1 for name, count in times.items() if (count > 1).any()}

    def apart(self) -> list[int]:
        """The rows of which methods disagree."""
        mask = np.zeros(len(self), bool)
        for group in self.groups:
            for agreement in group.figures.agreements:
                mask[group.rows] |= ~agreement.agree
        rows: list[int] = np.flatnonzero(mask).tolist()
        return rows

    @cached_property
    def discrepancies(self) -> Discrepancies:
        """Of the rows that count; found once for what was evaluated."""
        parts = [part for group in self.groups for part in self._differing_of(group)]
        return Discrepancies([part for _, part in parts], [order for order, _ in parts])

    def _differing_of(self, group: Group) -> Iterator[tuple[Any, Differing]]:
        """Numbers in the order of telling, and the columns."""
        counted, voids = self.counted[group.rows], group.figures.no_voids
        pairs: list[tuple[tuple[Key, Key | None], Mask, Mask]] = [
            (((a.attribute, a.methods[0]), (a.attribute, a.methods[1])), counted & ~a.agree, a.doubtful)
            for a in group.figures.agreements
        ]
        if voids.any():
            pairs.append(((group.best["void_content"], None), counted & voids, voids))
        constants: dict[Any, Any] = {}
        every = (
            np.flatnonzero(np.any([apart for _, apart, _ in pairs], axis=0)) if pairs else np.zeros(0, int)
        )
        for start in range(0, len(every), BLOCK):
            some = every[start : start + BLOCK]
            results = group.results(some)
            for order, (pair, apart, doubtful) in enumerate(pairs):
                rows = np.flatnonzero(apart[some])
                if not rows.size:
                    continue
                places = group.rows[some[rows]]
                first = self[int(places[0])]
                constants = constants or readings_of(first, self.bench)
                x = constants | means_of(self.table, first.coupon, places)
                x = {name: np.full(len(rows), value) for name, value in x.items()}
                both = [(results[key], rows) for key in pair if key is not None]
                names = [group.names[at] for at in places.tolist()]
                columns = differing(names, pair, both, x, group.formula, doubtful[some[rows]].tolist())
                yield places + order / len(pairs), columns


def readings_of_rows(table: PlainTable, first: Coupon, rows: Rows) -> dict[str, Any]:
    """Readings (n,) or (n, k) by column [SI] of rows that have those that the first of them has."""
    by_column = by_key((base_name(label), table.columns[label].number[rows]) for label in first.numbers)
    return {name: each[0] if len(each) == 1 else np.column_stack(each) for name, each in by_column.items()}


def chunks_of(grouped: Grouped) -> Iterator[Chunk]:
    """The rows of a table by group, zone and whether they count, with what was measured of them."""
    zones = list(grouped.zones)
    for group in grouped.groups:
        for code in np.flatnonzero(np.bincount(group.zone)).tolist():
            within = np.flatnonzero(group.zone == code)
            part = partial(_part, group, within, code)
            rows, keys = group.rows[within], list(group.figures.value)
            yield Chunk(zones[code % len(zones)], code < len(zones), rows, keys, part)


def _part(group: Group, within: Rows, code: int, key: Key) -> Part:
    figures = group.figures
    sums, squares = figures.sums[key][code], figures.squares[key][code]
    return Part(figures.value[key][within], group.sources, sums, squares, group.rows[within])
