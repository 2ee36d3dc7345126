"""Rows of a plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any, cast, overload

import numpy as np

from laminate.coupons.adjustment import EXACT, Adjustment, Sums, solved
from laminate.coupons.copied import Copies
from laminate.coupons.discrepancies import NEGATIVE
from laminate.coupons.evaluation import DOUBTFUL, that_matter
from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Agreement, Measured, Specimen
from laminate.coupons.methods import Key, Plan, attributes, preferred
from laminate.coupons.monte_check import MOST_GROUPS, Check, check
from laminate.coupons.readings import columns_of, plan_of
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import base_name
from laminate.files.plain_table import PlainTable
from laminate.formulas.statistics import expanded_by_terms
from laminate.values.averages import ROUNDING, Average, of_parts
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, Result, Source, propagate

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


@dataclass(frozen=True, slots=True)
class _Later:
    """The result of a block of rows, computed when it is looked at: most rows that are made are not."""

    group: Group
    key: Key
    start: int

    def __getattr__(self, name: str) -> Any:
        return getattr(self.group.block(self.start)[self.key], name)


def _cut(value: Any, rows: slice) -> Any:
    return value[rows] if np.ndim(value) else value


@dataclass(frozen=True, slots=True)
class Agreements:
    """Two methods of one attribute beside each other, of every row (n,): see `Agreement`."""

    attribute: str
    methods: tuple[str, str]
    difference: Array
    allowed: Array
    agree: Mask
    doubtful: Mask
    known: Mask


@dataclass
class Figures:
    """What the rows of a group give, columns by attribute and method in the order of telling, SI units.

    stated: rows whose void content has a ± that was stated (n,); value, u, dof: (n,); sums, squares:
    contributions of every source, and their squares, summed over the rows of each zone (zones, m).
    """

    stated: Mask
    value: dict[Key, Array] = field(default_factory=dict)
    u: dict[Key, Array] = field(default_factory=dict)
    dof: dict[Key, Array] = field(default_factory=dict)
    sums: dict[Key, Array] = field(default_factory=dict)
    squares: dict[Key, Array] = field(default_factory=dict)
    agreements: list[Agreements] = field(default_factory=list)


@dataclass(eq=False)
class Group:
    """The rows of one table that share plan, recipe and gauges.

    rows: their places in the table (n,); first: the coupon of the first; zone: of each row, by its place in
    the table's zones; x: inputs [SI]; scale: what Monte Carlo makes of the contributions. Contributions of
    rows are computed again when they are asked for.
    """

    table: PlainTable
    rows: Rows
    zone: Rows
    zones: int
    recipe: Recipe
    bench: Bench
    plan: Plan
    first: Coupon
    x: dict[Name, Any] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)
    scale: dict[Key, float] = field(default_factory=dict)
    figures: Figures = field(default_factory=lambda: Figures(np.zeros(0, bool)))
    checks: list[Check] = field(default_factory=list)
    exact: list[Name] = field(default_factory=list)
    blocks: dict[int, dict[Key, Result]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.rows)

    def of(self, columns: Mapping[str, Any]) -> dict[str, Any]:
        """The rows of columns of the table."""
        whole = len(self) == len(self.table)
        return {name: column if whole else column[self.rows] for name, column in columns.items()}

    def read(self, columns: Mapping[str, Any], sound: Mapping[str, Any] | None = None) -> None:
        """Take inputs and sources from readings of the table; sound: as of `columns_of`."""
        self.x, self.sources, self.exact = columns_of(
            [self.first], self.plan, self.recipe, self.bench, self.of(columns), sound=self.of(sound or {})
        )

    def specimen(self, coupon: Coupon, at: int) -> Specimen:
        """One row as an object; coupon: of the row; at: its place among these rows."""
        specimen = Specimen(coupon, coupon.word("zone") or None, self.recipe, self.plan)
        start = at - at % BLOCK
        for key, value in self.figures.value.items():
            u, dof = float(self.figures.u[key][at]), float(self.figures.dof[key][at])
            later = cast("Result", _Later(self, key, start))
            specimen.every[key] = Measured(*key, float(value[at]), u, dof, later, at - start)
        specimen.agreement = [
            Agreement(a.attribute, a.methods, float(a.difference[at]), float(a.allowed[at]),
                      agree=bool(a.agree[at]), doubtful=bool(a.doubtful[at]))
            for a in self.figures.agreements
        ]  # fmt: skip
        return specimen

    @property
    def best(self) -> dict[str, Key]:
        """The preferred method of every attribute."""
        return preferred(list(self.figures.value))

    def formula(self, x: Any) -> Any:
        """Every attribute of the inputs."""
        return attributes(x, self.plan, self.recipe)

    def cut(self, rows: slice) -> tuple[dict[Name, Any], list[Source]]:
        """Inputs and sources of some rows."""
        sources = [
            replace(source, moves={name: _cut(move, rows) for name, move in source.moves.items()})
            for source in self.sources
        ]
        return {name: _cut(value, rows) for name, value in self.x.items()}, sources

    def block(self, start: int) -> dict[Key, Result]:
        """The results of a block of rows with all their contributions; the last two are kept."""
        if start not in self.blocks:
            if len(self.blocks) >= BLOCKS_KEPT:
                self.blocks.pop(next(iter(self.blocks)))
            results: dict[Any, Result] = propagate(self.formula, *self.cut(slice(start, start + BLOCK)))
            for key, factor in self.scale.items():
                results[key] = replace(results[key], contributions=results[key].contributions * factor)
            self.blocks[start] = results
        return self.blocks[start]


Part = tuple[Group, "Rows"]
"""A group, and which of its rows."""


class Grouped(Sequence[Specimen]):
    """The rows of a plain table in groups, in the order of their first rows; indexed, a row is a specimen.

    zones: name -> rows; parts: of each zone its groups, in the order in which the zone has them.
    """

    def __init__(
        self, table: PlainTable, bench: Bench, recipes: Sequence[Recipe], of: Rows, basis: str
    ) -> None:
        """recipes, of: the recipe of each group, and the group of each row."""
        self.table, self.bench, self.of = table, bench, of
        self.zones = _zones(table)
        codes = np.zeros(len(table), np.intp)
        for at, rows in enumerate(self.zones.values()):
            codes[rows] = at
        self.groups: list[Group] = []
        self.within = np.empty(len(table), np.intp)
        for at, recipe in enumerate(recipes):
            rows = np.flatnonzero(of == at)
            first = table.coupon(int(rows[0]))
            self.within[rows] = np.arange(len(rows))
            plan = plan_of(first, bench, basis=basis)
            group = Group(table, rows, codes[rows], len(self.zones), recipe, bench, plan, first)
            self.groups.append(group)
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
            group = self.groups[int(self.of[at])]
            self.made[at] = group.specimen(self.table.coupon(at), int(self.within[at]))
        return self.made[at]

    def counted_alike(self, at: int) -> bool:
        """Whether all rows of the zone of a row, three or more, tell one count of plies."""
        rows = self.zones[self[at].zone]
        cells = self.table.columns["plies"].cells[rows]
        return len(rows) > 2 and bool((cells == cells[0]).all())

    def read(self, left_out: Mapping[str, Collection[int]]) -> None:
        """Take the inputs of every group; left_out: rows by column whose repeats do not tell its scatter."""
        columns = readings(self.table)
        sound = {name: ~np.isin(np.arange(len(self)), list(rows)) for name, rows in left_out.items()}
        self.made.clear()
        for group in self.groups:
            group.read(columns, sound)
            group.scale.clear()
            group.blocks.clear()

    def column(self, of_group: Callable[[Group], Any]) -> Any:
        """What each group says of its rows, in the order of the table (n,)."""
        columns = [of_group(group) for group in self.groups]
        if len(columns) == 1:
            return columns[0]
        whole = np.empty(len(self), columns[0].dtype)
        for group, column in zip(self.groups, columns, strict=True):
            whole[group.rows] = column
        return whole


def _zones(table: PlainTable) -> dict[str | None, Rows]:
    """The rows of each zone, in the order of the table."""
    named = table.words.get("zone")
    if named is None:
        return {None: np.arange(len(table))}
    index = {zone: at for at, zone in enumerate(dict.fromkeys(named))}
    codes = np.array([index[zone] for zone in named])
    return {zone: np.flatnonzero(codes == at) for zone, at in index.items()}


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


def evaluate(grouped: Grouped, confidence: float) -> bool:
    """Every attribute of every row, methods beside each other, before anything is held against its fellows.

    False where rows of a group differ in whether their methods can be compared.
    """
    largest = sorted(grouped.groups, key=len, reverse=True)[:MOST_GROUPS]
    whole = [_evaluate(group, confidence, group in largest) for group in grouped.groups]
    return all(whole)


def _evaluate(group: Group, confidence: float, checked: bool) -> bool:
    group.exact = that_matter(group.formula, group.x, group.exact)
    whole = _in_blocks(group, confidence)
    if checked and group.figures.value and group.sources:
        relative = sum(
            group.figures.u[key] / np.maximum(np.abs(value), 1e-300)
            for key, value in group.figures.value.items()
        )
        row = int(np.argmax(relative))
        x, sources = group.cut(slice(row, row + 1))
        first: dict[Any, Result] = propagate(group.formula, x, sources)
        names = [group.table.words["specimen"][int(group.rows[row])]]
        scaled, group.checks = check(group.formula, x, sources, first, names)
        group.scale = {
            key: float(scaled[key].standard_uncertainty[0] / first[key].standard_uncertainty[0])
            for key in first
            if scaled[key] is not first[key]
        }
    if group.scale:
        group.blocks.clear()
        whole = _in_blocks(group, confidence)
    return whole


def _in_blocks(group: Group, confidence: float) -> bool:
    """Fill the group's columns and sums; False where rows differ in whether their methods can be compared."""
    count = len(group)
    figures = group.figures = Figures(np.zeros(count, bool))
    pairs: dict[tuple[Key, Key], Agreements] = {}
    for start in range(0, count, BLOCK):
        rows, results = slice(start, min(start + BLOCK, count)), group.block(start)
        here = [np.flatnonzero(group.zone[rows] == zone) for zone in range(group.zones)]
        for key, result in results.items():
            for columns, whole in (
                (figures.value, result.value),
                (figures.u, result.standard_uncertainty),
                (figures.dof, result.covering_degrees(confidence)),
            ):
                if key not in columns:
                    columns[key] = np.empty(count)
                columns[key][rows] = whole
            for sums, added in (
                (figures.sums, result.contributions),
                (figures.squares, result.contributions**2),
            ):
                sums.setdefault(key, np.zeros((len(here), len(added))))
                sums[key] += [(added[:, zone] if here[1:] else added).sum(axis=1) for zone in here]
        if "void_content" in group.best:
            result = results[group.best["void_content"]]
            stated = [at for at, source in enumerate(result.sources) if not source.rounded]
            figures.stated[rows] = result.contributions[stated].any(axis=0)
        for one, other in combinations(results, 2):
            if one[0] != other[0]:
                continue
            if (one, other) not in pairs:
                numbers, masks = np.zeros((2, count)), np.zeros((3, count), bool)
                pairs[one, other] = Agreements(one[0], (one[1], other[1]), *numbers, *masks)
            _compare(pairs[one, other], results[one], results[other], rows, confidence)
    figures.agreements = [pair for pair in pairs.values() if pair.known.any()]
    return all(pair.known.all() for pair in figures.agreements)


def _compare(pair: Agreements, a: Result, b: Result, rows: slice, confidence: float) -> None:
    """Put two methods of one attribute beside each other, of some rows."""
    nothing = ROUNDING * np.maximum(np.abs(a.value), np.abs(b.value))
    parts = a.contributions - b.contributions
    parts[np.abs(parts) <= nothing] = 0.0
    pair.known[rows] = parts[[at for at, source in enumerate(a.sources) if not source.rounded]].any(axis=0)
    dofs = [source.dof for source in a.sources]
    allowed = np.asarray(expanded_by_terms(contributions=list(parts), dofs=dofs, confidence=confidence))
    beyond = np.asarray(expanded_by_terms(contributions=list(parts), dofs=dofs, confidence=DOUBTFUL))
    difference = a.value - b.value
    difference[np.abs(difference) <= nothing] = 0.0
    away = np.abs(difference)
    pair.difference[rows], pair.allowed[rows] = difference, allowed
    pair.agree[rows], pair.doubtful[rows] = away <= allowed, away > np.maximum(allowed, beyond)


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
        own = np.array([not source.shared or source.rounded for source in group.sources])
        at = np.array([names.index(s.name) for s, alone in zip(group.sources, own, strict=True) if not alone])
        for start in range(0, len(group), BLOCK):
            negative, results = below[id(group)][start : start + BLOCK], group.block(start)
            pairs_of_results = [
                (results[key], None if other is None else results[other]) for key, other in pairs
            ]
            terms = _terms(pairs_of_results, negative, own)
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


def _terms(pairs: list[tuple[Result, Result | None]], below: Mask, own: Mask) -> list[Any]:
    """A' W A, A' W d and d' W d of each row (n, ...); below: rows whose void content is a condition."""
    terms: list[Any] = [None, None, None]
    at = np.arange(len(below))
    for mask, voids in ((~below, False), (below, True)):
        here = [(one, other) for one, other in pairs if other is not None or voids]
        chosen = at[mask]
        d = np.empty((len(chosen), len(here), 1))
        every = np.empty((len(chosen), len(here), len(own)))
        for c, (one, other) in enumerate(here):
            less, without = (
                (0.0, 0.0) if other is None else (other.value[chosen], other.contributions[:, chosen])
            )
            d[:, c, 0], every[:, c] = one.value[chosen] - less, (one.contributions[:, chosen] - without).T
        a, o = every[:, :, ~own], every[:, :, own]
        weight = np.linalg.inv(o @ o.transpose(0, 2, 1) + EXACT**2 * np.eye(len(here)))
        weighted = a.transpose(0, 2, 1) @ weight
        for k, term in enumerate((weighted @ a, weighted @ d, d.transpose(0, 2, 1) @ weight @ d)):
            if terms[k] is None:
                terms[k] = np.zeros((len(at), *term.shape[1:]))
            terms[k][mask] = term
    return terms


def _means(grouped: Grouped, moved: dict[Name, float]) -> dict[str, tuple[float, float]]:
    means: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        here = [(group, group.best[attribute]) for group in grouped.groups if attribute in group.best]
        if here:
            before = float(np.mean(np.concatenate([group.figures.value[key] for group, key in here])))
            shift = math.fsum(
                moved.get(source.name, 0.0) * part
                for group, key in here
                for source, part in zip(
                    group.sources, group.figures.sums[key].sum(axis=0).tolist(), strict=True
                )
            )
            means[attribute] = before, before + shift / sum(len(group) for group, _ in here)
    return means
