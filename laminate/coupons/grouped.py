"""Rows of coupon tables evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.copied import Copies, copied_rows
from laminate.coupons.counted import beside_points, points_of
from laminate.coupons.discrepancies import Composition, Discrepancies, Discrepancy, apart, differing
from laminate.coupons.groups import Group, Made
from laminate.coupons.instruments import Bench
from laminate.coupons.listed import Listed, means_of, readings_of_rows
from laminate.coupons.measured import Chunk, Part, Specimen
from laminate.coupons.methods import Key, Plan
from laminate.coupons.pooling import Cell
from laminate.coupons.readings import columns_of, plan_of, pooled_spreads, signature
from laminate.files.coupons import base_name
from laminate.files.plain_table import CouponTable
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
    """Rows with the same readings, make-up and balances: their places, the coupon of the first, its make-up.

    group: None where the rows are not computed.
    """

    rows: Rows
    first: Coupon
    made: Made
    plan: Plan
    computed: bool = True
    group: Group | None = None

    @classmethod
    def of(cls, rows: Rows, first: Coupon, made: Made, bench: Bench, *, computed: bool = True) -> Alike:
        """With the methods that the readings of the first support."""
        volatile = made.volatiles in made.recipe.values
        plan = plan_of(first, bench, basis=made.basis, volatiles=volatile) if computed else Plan()
        return cls(rows, first, made, plan, computed)

    @property
    def composition(self) -> Composition:
        """Plan, recipe, and the recipe by the plies of the batch file."""
        return self.plan, self.made.recipe, self.made.laid


class Grouped(LazySequence[Specimen]):
    """The rows of a table in groups, in the order of their first rows; indexed, a row is a specimen.

    counted: rows that are not excluded (n,); zones: each with its rows, those of a prepreg apart; zone: of
    each row its place among them (n,); sound: column -> rows (n,) whose repeats tell how it scatters;
    pointed: rows with points counted (n,); retests: row -> names of what repeats it, and how often it repeats
    others; level: confidence, and a fixed coverage factor.
    """

    def __init__(
        self,
        table: CouponTable,
        bench: Bench,
        alike: Sequence[Alike],
        zones: Sequence[str | None],
        level: tuple[float, float | None],
        retests: Mapping[int, tuple[str, int]] | None = None,
    ) -> None:
        """alike: of every row; zones: of each."""
        self.table, self.bench, self.alike, self.zone_of = table, bench, alike, zones
        self.level, self.retests, count = level, retests or {}, len(table)
        self.counted = table.counted()
        self.part, self.of, self.within = np.full((3, count), -1, np.intp)
        self.pointed = np.zeros(count, bool)
        if isinstance(table, Listed):
            self.pointed[:] = [bool(coupon.fields) for coupon in table.coupons]
        for at, part in enumerate(alike):
            self.part[part.rows] = at
        index = {zone: at for at, zone in enumerate(dict.fromkeys(zones))}
        prepregs = [part.made.prepreg for part in alike]
        of_part = np.array([prepregs.index(prepreg) for prepreg in prepregs], np.intp)[self.part]
        codes = np.array([index[zone] for zone in zones], np.intp) + len(index) * of_part
        _, firsts, self.zone = np.unique(codes, return_index=True, return_inverse=True)
        self.zones = [(zones[at], np.flatnonzero(codes == codes[at])) for at in firsts.tolist()]
        self.groups: list[Group] = []
        self._take_groups(np.where(self.counted, self.zone, self.zone + len(self.zones)))
        self.sound: dict[str, Mask] = {}
        self.kept: dict[int, Specimen] = {}
        self.warnings: dict[int, list[Problem]] = {}

    def _take_groups(self, codes: Rows) -> None:
        """Put the rows together that are computed together; codes: of zone, and whether they count (n,)."""
        members = by_key(
            ((id(p.made.recipe), p.made.volatiles, *signature(p.first, p.plan, self.bench)), p)
            for p in self.alike
            if p.computed
        )
        for at, parts in enumerate(members.values()):
            rows = np.sort(np.concatenate([part.rows for part in parts]))
            self.of[rows], self.within[rows] = at, np.arange(len(rows))
            names, first, few = self.table.words["specimen"], parts[0], not isinstance(self.table, Listed)
            group = Group(names, rows, first.first, first.made, first.plan, codes[rows], few)
            self.groups.append(group)
            for part in parts:
                part.group = group

    def __len__(self) -> int:
        return len(self.table)

    def item(self, at: int) -> Specimen:
        """One row, with its warnings."""
        if at not in self.kept:
            if len(self.kept) >= KEPT:
                self.kept.pop(next(iter(self.kept)))
            part, coupon = self.alike[self.part[at]], self.table.coupon(at)
            made, retests = part.made, self.retests.get(at, ("", 0))
            specimen = Specimen(coupon, self.zone_of[at], made.recipe, part.plan, prepreg=made.prepreg,
                                replaced_by=retests[0], retest_round=retests[1], laid=made.laid)  # fmt: skip
            if part.group is not None:
                part.group.tell(specimen, int(self.within[at]))
            if part.group is not None and coupon.fields:
                specimen.every |= {(m.attribute, m.method): m for m in points_of(coupon, self.level[0])}
                beside_points(specimen, *self.level)
            specimen.warnings = self.warnings.get(at, [])
            self.kept[at] = specimen
        return self.kept[at]

    @cached_property
    def copies(self) -> Copies:
        """Which of the rows that count are alike."""
        return copied_rows(self.table.rows(self.counted))

    def read(self, left_out: Collection[Cell]) -> None:
        """Take the inputs of every group; left_out: repeats that do not tell how their column scatters."""
        self.kept.clear()
        self.__dict__.pop("discrepancies", None)
        place = {name: at for at, name in enumerate(self.table.words["specimen"])} if left_out else {}
        self.sound = {base_name(label): self.counted.copy() for label in self.table.columns}
        for name, column in left_out:
            self.sound[column][place[name]] = False
        for groups in by_key((id(group.recipe), group) for group in self.groups).values():
            # repeats scatter alike in all rows of one make-up
            readings = [readings_of_rows(self.table, group.first, group.rows) for group in groups]
            sound = [{name: rows[group.rows] for name, rows in self.sound.items()} for group in groups]
            pairs = zip(groups, readings, sound, strict=True)
            pooled = pooled_spreads([(g.first, g.plan, read, rows) for g, read, rows in pairs], self.bench)
            for group, read in zip(groups, readings, strict=True):
                rows = [] if group.few else group.rows.tolist()
                coupons = [self.table.coupon(at) for at in rows] or [group.first]
                group.take(*columns_of(coupons, group.plan, group.recipe, self.bench, read, pooled))

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
        """Of the rows that are not excluded; found once for what was evaluated."""
        parts = [columns for part in self.alike if part.group for columns in self._differing_of(part)]
        for at in np.flatnonzero(self.pointed & self.counted).tolist():
            specimen, part = self[at], self.alike[self.part[at]]
            x = {name: np.array([value]) for name, value in readings_of(specimen, self.bench).items()}
            for order, (pair, doubtful) in enumerate(both := [*apart(specimen)]):
                results = [specimen.every[key] for key in pair if key is not None]
                rows = [(measured.result, np.array([measured.row])) for measured in results]
                columns = differing([specimen.name], pair, rows, x, part.composition, [doubtful])
                parts.append((np.array([at + order / len(both)]), columns))
        return Discrepancies(parts)

    def _differing_of(self, part: Alike) -> Iterator[tuple[Any, Discrepancy]]:
        """Numbers in the order of telling, and the columns."""
        assert part.group is not None
        group, rows = part.group, part.rows[(self.counted & ~self.pointed)[part.rows]]
        figures, within = group.figures, self.within[rows]
        pairs: list[tuple[tuple[Key, Key | None], Mask, Mask]] = [
            (a.pair, (a.known & ~a.agree)[within], a.doubtful[within]) for a in figures.agreements
        ]
        if figures.no_voids[within].any():
            voids = figures.no_voids[within]
            pairs.append(((group.best["void_content"], None), voids, voids))
        every = np.flatnonzero(np.any([off for _, off, _ in pairs], axis=0)) if pairs else np.zeros(0, int)
        constants = readings_of(self[int(rows[0])], self.bench) if every.size else {}
        for start in range(0, len(every), BLOCK):
            some = every[start : start + BLOCK]
            results = group.results(within[some])
            for order, (pair, off, doubtful) in enumerate(pairs):
                chosen = np.flatnonzero(off[some])
                if not chosen.size:
                    continue
                places = rows[some[chosen]]
                x = constants | means_of(self.table, part.first, places)
                x = {name: np.full(len(chosen), value) for name, value in x.items()}
                both = [(results[key], chosen) for key in pair if key is not None]
                names = [group.names[at] for at in places.tolist()]
                doubts = doubtful[some[chosen]].tolist()
                columns = differing(names, pair, both, x, part.composition, doubts)
                yield places + order / len(pairs), columns


def chunks_of(grouped: Grouped) -> Iterator[Chunk]:
    """The rows of a table by group, zone and whether they count, with what was measured of them."""
    zones = [zone for zone, _ in grouped.zones]
    for group in grouped.groups:
        for code in np.flatnonzero(np.bincount(group.zone)).tolist():
            within = np.flatnonzero(group.zone == code)
            rows, keys = group.rows[within], list(group.figures.value)
            part = partial(_part, group, within, code)
            conditions = partial(group.figures.conditions.__getitem__, code)
            yield Chunk(zones[code % len(zones)], code < len(zones), rows, keys, part, conditions)


def _part(group: Group, within: Rows, code: int, key: Key) -> Part:
    figures = group.figures
    sums, squares = figures.sums[key][code], figures.squares[key][code]
    return Part(figures.value[key][within], group.sources, sums, squares, group.rows[within])
