"""A plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
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
from laminate.coupons.monte_check import Check, check
from laminate.coupons.readings import columns_of, plan_of
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import base_name
from laminate.files.plain_table import PlainTable
from laminate.formulas.statistics import expanded_by_terms
from laminate.values.averages import Average, of_sums
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, ROUNDING, Result, Source, propagate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]

KEPT = 128
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


@dataclass
class Group(Sequence[Specimen]):
    """The rows of one table that share plan, recipe and gauges; indexed, a row is today's specimen.

    x: inputs [SI]; scale: what Monte Carlo makes of the contributions. Contributions of rows are computed
    again when they are asked for.
    """

    table: PlainTable
    recipe: Recipe
    bench: Bench
    plan: Plan
    x: dict[Name, Any] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)
    scale: dict[Key, float] = field(default_factory=dict)
    figures: Figures = field(default_factory=lambda: Figures(np.zeros(0, bool)))
    checks: list[Check] = field(default_factory=list)
    exact: list[Name] = field(default_factory=list)
    made: dict[int, Specimen] = field(default_factory=dict)
    blocks: dict[int, dict[Key, Result]] = field(default_factory=dict)
    copies: Copies | None = None
    counted_alike = True  # one count of plies, told in one way, in every row

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
            self.made[at] = self._specimen(at)
        return self.made[at]

    def _specimen(self, at: int) -> Specimen:
        coupon = self.table.coupon(at)
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

    def zones(self) -> dict[str | None, NDArray[np.intp]]:
        """The rows of each zone, in the order of the table."""
        named = self.table.words.get("zone")
        if named is None:
            return {None: np.arange(len(self))}
        zones = list(dict.fromkeys(named))
        index = {zone: at for at, zone in enumerate(zones)}
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


def plain_group(table: PlainTable, recipe: Recipe, bench: Bench, basis: str) -> Group:
    """The rows of a table before they are evaluated: plan and inputs."""
    first = table.coupon(0)
    group = Group(table, recipe, bench, plan_of(first, bench, basis=basis))
    group.x, group.sources, group.exact = columns_of([first], group.plan, recipe, bench, readings(table))
    return group


def without_repeats(group: Group, left_out: Mapping[str, Collection[int]]) -> Group:
    """The group with rows, by column, whose repeats do not tell how the column scatters."""
    sound = {column: ~np.isin(np.arange(len(group)), list(rows)) for column, rows in left_out.items()}
    new = Group(group.table, group.recipe, group.bench, group.plan, copies=group.copies)
    first, given = group.table.coupon(0), readings(group.table)
    new.x, new.sources, new.exact = columns_of(
        [first], group.plan, group.recipe, group.bench, given, sound=sound
    )
    return new


def evaluate(group: Group, confidence: float) -> bool:
    """Every attribute of every row, methods beside each other, before anything is held against its fellows.

    False where rows differ in whether their methods can be compared.
    """
    group.exact = that_matter(group.formula, group.x, group.exact)
    whole = _in_blocks(group, confidence)
    relative = sum(
        group.figures.u[key] / np.maximum(np.abs(value), 1e-300) for key, value in group.figures.value.items()
    )
    if group.figures.value and group.sources:
        row = int(np.argmax(relative))
        x, sources = group.cut(slice(row, row + 1))
        first: dict[Any, Result] = propagate(group.formula, x, sources)
        checked, group.checks = check(group.formula, x, sources, first, [group.table.words["specimen"][row]])
        group.scale = {
            key: float(checked[key].standard_uncertainty[0] / first[key].standard_uncertainty[0])
            for key in first
            if checked[key] is not first[key]
        }
    if group.scale:
        group.blocks.clear()
        whole = _in_blocks(group, confidence)
    return whole


def _in_blocks(group: Group, confidence: float) -> bool:
    """Fill the group's columns and sums; False where rows differ in whether their methods can be compared."""
    count, zones = len(group), list(group.zones().values())
    figures = group.figures = Figures(np.zeros(count, bool))
    pairs: dict[tuple[Key, Key], Agreements] = {}
    for start in range(0, count, BLOCK):
        rows, results = slice(start, min(start + BLOCK, count)), group.block(start)
        here = [zone[(zone >= start) & (zone < rows.stop)] - start for zone in zones]
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
                sums.setdefault(key, np.zeros((len(zones), len(added))))
                sums[key] += [(added[:, zone] if zones[1:] else added).sum(axis=1) for zone in here]
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


def averaged(group: Group, key: Key, zone: int, rows: NDArray[np.intp]) -> Average:
    """The average of the rows of a zone, from the sums over them."""
    values, count, sources = group.figures.value[key][rows], len(rows), group.sources
    means, squares = (
        sums_of_key[key][zone] / count for sums_of_key in (group.figures.sums, group.figures.squares)
    )
    contributions = {s.name: float(m) for s, m in zip(sources, means, strict=True) if s.shared}
    own = ((float(q), s.dof) for s, q in zip(sources, squares, strict=True) if not s.shared and q > 0.0)
    deviation = float(values.std(ddof=1)) if count > 1 else None
    kept = {source.name: source.dof for source in sources if source.shared}
    rounding = sum(float(q) for s, q in zip(sources, squares, strict=True) if s.rounded)
    sums = (count, float(values.mean()), deviation, contributions, kept, tuple(own))
    return of_sums(*sums, rounding=rounding)


def disagreeing(group: Group) -> Iterator[int]:
    """The rows of which methods disagree, or the void content is below -2 u."""
    odd = no_voids(group)
    for agreement in group.figures.agreements:
        odd = odd | ~agreement.agree
    yield from np.flatnonzero(odd).tolist()


def adjust_group(group: Group) -> Adjustment | None:
    """As `adjustment.adjust`, the conditions of all rows at once."""
    best = group.best
    if "fiber_volume" not in best:
        return None
    main = best["fiber_volume"]
    pairs: list[tuple[Key, Key | None]] = [
        (main, key) for key in group.figures.value if key[0] == "fiber_volume" and key != main
    ]
    negative = no_voids(group)
    if "void_content" in best:
        pairs.append((best["void_content"], None))
    own = np.array([not source.shared or source.rounded for source in group.sources])
    names = [source.name for source in group.sources if source.shared and not source.rounded]
    normal, right, square, count = np.eye(len(names)), np.zeros((len(names), 1)), np.zeros((1, 1)), 0
    for start in range(0, len(group), BLOCK):
        below, results = negative[start : start + BLOCK], group.block(start)
        pairs_of_results = [(results[key], None if other is None else results[other]) for key, other in pairs]
        terms = _terms(pairs_of_results, below, own)
        count += int(below.sum()) + len(below) * sum(other is not None for _, other in pairs)
        # row after row, as one specimen after the other would be added
        normal = np.add.reduce(np.concatenate([normal[None], terms[0]]))
        right = np.add.reduce(np.concatenate([right[None], terms[1]]))
        square = np.add.reduce(np.concatenate([square[None], terms[2]]))
    if not count:
        return None
    sums = Sums(names, normal, right[:, 0], float(square[0, 0]), count, int(negative.sum()))
    return solved(sums, [group[0]], group.bench, lambda moved: _means(group, moved))


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


def _means(group: Group, moved: dict[Name, float]) -> dict[str, tuple[float, float]]:
    means: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        if attribute in group.best:
            key = group.best[attribute]
            before = float(np.mean(group.figures.value[key]))
            shifts = zip(group.sources, group.figures.sums[key].sum(axis=0) / len(group), strict=True)
            means[attribute] = before, before + sum(moved.get(s.name, 0.0) * float(m) for s, m in shifts)
    return means
