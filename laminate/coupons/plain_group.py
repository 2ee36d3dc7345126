"""A plain coupon table evaluated as columns: arrays of results, a specimen only when asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, overload

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
from laminate.values.averages import ROUNDING
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, Result, Source, propagate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]

KEPT = 128
"""So many specimens that were made into objects are kept, the rest made again."""


@dataclass(frozen=True, slots=True)
class Agreements:
    """Two methods of one attribute beside each other, of every row (n,): see `Agreement`."""

    attribute: str
    methods: tuple[str, str]
    difference: Array
    allowed: Array
    agree: Mask
    doubtful: Mask


@dataclass
class Group(Sequence[Specimen]):
    """The rows of one table that share plan, recipe and gauges; indexed, a row is today's specimen.

    results, u, dof: of each attribute and method, in the order of telling; x: inputs [SI].
    """

    table: PlainTable
    recipe: Recipe
    bench: Bench
    plan: Plan
    x: dict[Name, Any] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)
    results: dict[Key, Result] = field(default_factory=dict)
    u: dict[Key, Array] = field(default_factory=dict)
    dof: dict[Key, Array] = field(default_factory=dict)
    agreements: list[Agreements] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    exact: list[Name] = field(default_factory=list)
    made: dict[int, Specimen] = field(default_factory=dict)
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
        for key, result in self.results.items():
            u, dof = float(self.u[key][at]), float(self.dof[key][at])
            specimen.every[key] = Measured(*key, float(result.value[at]), u, dof, result, at)
        specimen.agreement = [
            Agreement(a.attribute, a.methods, float(a.difference[at]), float(a.allowed[at]),
                      agree=bool(a.agree[at]), doubtful=bool(a.doubtful[at]))
            for a in self.agreements
        ]  # fmt: skip
        return specimen

    @property
    def best(self) -> dict[str, Key]:
        """The preferred method of every attribute."""
        return preferred(list(self.results))

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
        name: found[0] if len(found) == 1 else np.column_stack(found) for name, found in by_column.items()
    }


def means(table: PlainTable) -> dict[str, Array]:
    """The mean of the readings of every column (n,), summed as those of one coupon are."""
    return {
        name: one if one.ndim == 1 else sum(one.T) / one.shape[1] for name, one in readings(table).items()
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


def evaluate(group: Group, confidence: float) -> None:
    """Every attribute of every row, before anything is held against its peers."""

    def formula(x: Any) -> Any:
        return attributes(x, group.plan, group.recipe)

    group.exact = that_matter(formula, group.x, group.exact)
    results: dict[Any, Result] = propagate(formula, group.x, group.sources)
    names = group.table.words["specimen"]
    group.results, group.checks = check(formula, group.x, group.sources, results, names)
    for key, result in group.results.items():
        group.u[key], group.dof[key] = result.standard_uncertainty, result.covering_degrees(confidence)


def compare(group: Group, confidence: float) -> bool:
    """Put the methods of each attribute beside each other; False where rows differ in whether they can be."""
    keys = list(group.results)
    for i, key in enumerate(keys):
        for other in keys[i + 1 :]:
            if key[0] != other[0]:
                continue
            a, b = group.results[key], group.results[other]
            nothing = ROUNDING * np.maximum(np.abs(a.value), np.abs(b.value))
            parts = a.contributions - b.contributions
            parts[np.abs(parts) <= nothing] = 0.0
            known = parts[[at for at, source in enumerate(a.sources) if not source.rounded]].any(axis=0)
            if not known.any():
                continue
            if not known.all():
                return False
            dofs = [source.dof for source in a.sources]
            allowed = np.asarray(
                expanded_by_terms(contributions=list(parts), dofs=dofs, confidence=confidence)
            )
            beyond = np.asarray(expanded_by_terms(contributions=list(parts), dofs=dofs, confidence=DOUBTFUL))
            difference = a.value - b.value
            difference[np.abs(difference) <= nothing] = 0.0
            away = np.abs(difference)
            agree, doubtful = away <= allowed, away > np.maximum(allowed, beyond)
            methods = (key[1], other[1])
            group.agreements.append(Agreements(key[0], methods, difference, allowed, agree, doubtful))
    return True


def no_voids(group: Group) -> Mask:
    """Rows whose void content is below -2 u (n,)."""
    key = group.best.get("void_content")
    if key is None:
        return np.zeros(len(group), bool)
    u: Array = group.u[key]
    result = group.results[key]
    stated = [at for at, source in enumerate(result.sources) if not source.rounded]
    return result.contributions[stated].any(axis=0) & (result.value < -NEGATIVE * u)


def disagreeing(group: Group) -> Iterator[int]:
    """The rows of which methods disagree, or the void content is below -2 u."""
    found = no_voids(group)
    for one in group.agreements:
        found = found | ~one.agree
    yield from np.flatnonzero(found).tolist()


def adjust_group(group: Group) -> Adjustment | None:
    """As `adjustment.adjust`, the conditions of all rows at once."""
    best = group.best
    if "fiber_volume" not in best:
        return None
    main = group.results[best["fiber_volume"]]
    pairs: list[tuple[Result, Result | None]] = [
        (main, other)
        for key, other in group.results.items()
        if key[0] == "fiber_volume" and key != best["fiber_volume"]
    ]
    negative = no_voids(group)
    if "void_content" in best:
        pairs.append((group.results[best["void_content"]], None))
    own = np.array([not source.shared or source.rounded for source in main.sources])
    names = [source.name for source in main.sources if source.shared and not source.rounded]
    normal, right, square, count = np.eye(len(names)), np.zeros((len(names), 1)), np.zeros((1, 1)), 0
    for start in range(0, len(group), BLOCK):
        block = slice(start, min(start + BLOCK, len(group)))
        below = negative[block]
        terms = _terms(pairs, block, below, own)
        count += int(below.sum()) + len(below) * sum(other is not None for _, other in pairs)
        # row after row, as one specimen after the other would be added
        normal = np.add.reduce(np.concatenate([normal[None], terms[0]]))
        right = np.add.reduce(np.concatenate([right[None], terms[1]]))
        square = np.add.reduce(np.concatenate([square[None], terms[2]]))
    if not count:
        return None
    sums = Sums(names, normal, right[:, 0], float(square[0, 0]), count, int(negative.sum()))
    return solved(sums, [group[0]], group.bench, lambda moved: _means(group, moved))


def _terms(pairs: list[tuple[Result, Result | None]], rows: slice, below: Mask, own: Mask) -> list[Any]:
    """A' W A, A' W d and d' W d of each row (n, ...); below: rows whose void content is a condition."""
    found: list[Any] = [None, None, None]
    at = np.arange(rows.start, rows.stop)
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
            if found[k] is None:
                found[k] = np.zeros((len(at), *term.shape[1:]))
            found[k][mask] = term
    return found


def _means(group: Group, moved: dict[Name, float]) -> dict[str, tuple[float, float]]:
    found: dict[str, tuple[float, float]] = {}
    for attribute in ("fiber_volume", "resin_volume", "void_content"):
        if attribute in group.best:
            result = group.results[group.best[attribute]]
            e = np.array([moved.get(source.name, 0.0) for source in result.sources])
            after = result.value + e @ result.contributions
            found[attribute] = (float(np.mean(result.value)), float(np.mean(after)))
    return found
