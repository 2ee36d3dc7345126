"""Rows of one plan, recipe and gauges evaluated as columns: arrays of results."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from laminate.coupons.conditions import Term, below_zero, conditions_of
from laminate.coupons.measured import Agreement, Measured, Specimen
from laminate.coupons.methods import Key, Plan, attributes, preferred
from laminate.coupons.monte_check import MOST_GROUPS, Check, check
from laminate.coupons.recipes import Recipe
from laminate.formulas.statistics import expanded_by_terms
from laminate.values.input_key import Name
from laminate.values.uncertainty import BLOCK, ROUNDING, Result, Source, propagate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.files.coupons import Coupon
    from laminate.values.problems import Problem

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Rows = NDArray[np.intp]

BLOCKS_KEPT = 2
"""So many blocks of rows of a large table keep the contributions of every source to every result."""
DOUBTFUL = 0.999
"""Confidence beyond which methods that differ are a doubt (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Later:
    """The result of a block of rows, computed when it is looked at: most rows that are made are not."""

    group: Group
    key: Key
    start: int

    def __getattr__(self, name: str) -> Any:
        return getattr(self.group.block(self.start)[self.key], name)


def _cut(value: Any, rows: Any) -> Any:
    return value[rows] if np.ndim(value) else value


@dataclass
class Figures:
    """What the rows of a group give, columns by attribute and method in the order of telling, SI units.

    no_voids: rows whose void content is `below_zero` (n,); value, u, dof: (n,); sums, squares: contributions
    of every source, and their squares, summed over the rows of each zone (zones, m); conditions: of each.
    """

    no_voids: Mask
    value: dict[Key, Array] = field(default_factory=dict)
    u: dict[Key, Array] = field(default_factory=dict)
    dof: dict[Key, Array] = field(default_factory=dict)
    sums: dict[Key, Array] = field(default_factory=dict)
    squares: dict[Key, Array] = field(default_factory=dict)
    agreements: list[Agreement] = field(default_factory=list)
    conditions: dict[int, list[Term]] = field(default_factory=lambda: defaultdict(list))


@dataclass(frozen=True)
class Made:
    """Zone and recipe of a coupon; prepreg, basis and volatiles of an incoming test.

    laid: the recipe by the count of plies in the batch file, where the row says another;
    planned: a plan says what it has to be measured by, so that one without some reading waits for it;
    unplaced: of several zones it tells none, so that nothing can be computed; asked: warnings about what its
    row says of it.
    """

    zone: str | None
    recipe: Recipe
    prepreg: str | None = None
    basis: str = "as received"
    volatiles: Name = ""
    planned: bool = False
    unplaced: bool = False
    asked: tuple[Problem, ...] = ()
    laid: Recipe | None = None


Chooser = Callable[["Coupon"], Made]


@dataclass(eq=False)
class Group:
    """Rows that share plan, recipe and gauges.

    names: of the specimens of all rows; rows: the places of these among them (n,); first: the coupon of the
    first; made: but for their zones; zone: code of each; few: of a large table a few
    blocks of rows keep the contributions of every source to every result, the others are computed again when
    they are asked for; x: inputs [SI]; scale: what Monte Carlo makes of the contributions.
    """

    names: Sequence[str]
    rows: Rows
    first: Coupon
    made: Made
    plan: Plan
    zone: Rows
    few: bool
    x: dict[Name, Any] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)
    scale: dict[Key, float] = field(default_factory=dict)
    figures: Figures = field(default_factory=lambda: Figures(np.zeros(0, bool)))
    checks: list[Check] = field(default_factory=list)
    exact: list[Name] = field(default_factory=list)
    blocks: dict[int, dict[Key, Result]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def recipe(self) -> Recipe:
        """What the rows are made of."""
        return self.made.recipe

    def take(self, x: dict[Name, Any], sources: list[Source], exact: list[Name]) -> None:
        """Take the inputs that `columns_of` gives."""
        self.x, self.sources = x, sources
        if self.plan.volatiles:
            x["volatiles"] = x[self.made.volatiles]
            self.sources = [_with_volatiles(source, self.made.volatiles) for source in sources]
        self.exact = self._that_matter(exact)
        for known in (self.scale, self.checks, self.blocks):
            known.clear()

    def _that_matter(self, names: list[Name]) -> list[Name]:
        """The inputs among `names` that move an attribute of the first row."""
        first_row = {name: _cut(value, slice(1)) for name, value in self.x.items()}
        probes = [Source(name, {name: 1.0}) for name in names if name in first_row]
        results: dict[Any, Result] = propagate(self.formula, first_row, probes)
        return [
            probe.name
            for i, probe in enumerate(probes)
            if any(result.contributions[i, 0] != 0.0 for result in results.values())
        ]

    def tell(self, specimen: Specimen, at: int) -> Specimen:
        """Give a specimen what is measured of it; at: its place among these rows."""
        start, figures = at - at % BLOCK, self.figures
        for key, value in figures.value.items():
            u, dof = float(figures.u[key][at]), float(figures.dof[key][at])
            result = cast("Result", _Later(self, key, start)) if self.few else self.block(start)[key]
            specimen.every[key] = Measured(*key, float(value[at]), u, dof, result, at - start)
        specimen.agreement = [pair.at(at) for pair in figures.agreements if pair.known[at]]
        return specimen

    @property
    def best(self) -> dict[str, Key]:
        """The preferred method of every attribute."""
        return preferred(list(self.figures.value))

    def formula(self, x: Any) -> Any:
        """Every attribute of the inputs."""
        return attributes(x, self.plan, self.recipe)

    def cut(self, rows: Any) -> tuple[dict[Name, Any], list[Source]]:
        """Inputs and sources of some rows."""
        sources = [
            replace(source, moves={name: _cut(move, rows) for name, move in source.moves.items()})
            for source in self.sources
        ]
        return {name: _cut(value, rows) for name, value in self.x.items()}, sources

    def block(self, start: int) -> dict[Key, Result]:
        """The results of a block of rows with all their contributions."""
        if start not in self.blocks:
            if self.few and len(self.blocks) == BLOCKS_KEPT:
                self.blocks.pop(next(iter(self.blocks)))
            self.blocks[start] = self.results(slice(start, start + BLOCK))
        return self.blocks[start]

    def results(self, rows: Any) -> dict[Key, Result]:
        """The results of some rows with all their contributions."""
        results: dict[Any, Result] = propagate(self.formula, *self.cut(rows))
        for key, factor in self.scale.items():
            results[key] = replace(results[key], contributions=results[key].contributions * factor)
        return results


def _with_volatiles(source: Source, name: Name) -> Source:
    """The source, moving the prepreg's volatiles along with the input that gives them."""
    if name not in source.moves:
        return source
    return replace(source, moves={**source.moves, "volatiles": source.moves[name]})


def evaluate(
    groups: Sequence[Group], confidence: float, fixed: float | None = None, checked: int = MOST_GROUPS
) -> None:
    """Every attribute of every row, methods beside each other, before anything is held against its fellows.

    fixed: coverage factor; checked: so many groups, the largest, are held against Monte Carlo.
    """
    largest = sorted(groups, key=len, reverse=True)[:checked]
    for group in groups:
        _in_blocks(group, confidence, fixed)
        if group in largest and group.figures.value and group.sources:
            _check(group)
        if group.scale:
            group.blocks.clear()
            _in_blocks(group, confidence, fixed)


def _check(group: Group) -> None:
    """Hold the row with the largest relative uncertainty against Monte Carlo."""
    value, u = group.figures.value, group.figures.u
    row = int(np.argmax(sum(u[key] / np.maximum(np.abs(value[key]), 1e-300) for key in value)))
    x, sources = group.cut(slice(row, row + 1))
    first: dict[Any, Result] = propagate(group.formula, x, sources)
    group.scale, group.checks = check(group.formula, x, sources, first, group.names[int(group.rows[row])])


def _in_blocks(group: Group, confidence: float, fixed: float | None) -> None:
    """Fill the group's columns and sums."""
    count = len(group)
    figures = group.figures = Figures(np.zeros(count, bool))
    pairs: dict[tuple[Key, Key], list[tuple[Any, ...]]] = defaultdict(list)
    for start in range(0, count, BLOCK):
        rows, results = slice(start, min(start + BLOCK, count)), group.block(start)
        in_zone = [group.zone[rows] == zone for zone in range(int(group.zone.max()) + 1)]
        zone_rows = [*map(np.flatnonzero, in_zone)]
        for key, result in results.items():
            for columns, whole in (
                (figures.value, result.value),
                (figures.u, result.standard_uncertainty),
                (figures.dof, result.covering_degrees(confidence)),
            ):
                columns.setdefault(key, np.empty(count))[rows] = whole
            c = result.contributions
            for sums, added in ((figures.sums, c), (figures.squares, c**2)):
                sums.setdefault(key, np.zeros((len(zone_rows), len(added))))
                sums[key] += [(added[:, zone] if zone_rows[1:] else added).sum(axis=1) for zone in zone_rows]
        for zone, chosen in enumerate(in_zone):
            figures.conditions[zone] += conditions_of(results, chosen)
        if "void_content" in group.best:
            figures.no_voids[rows] = below_zero(results[group.best["void_content"]])
        for first, other in combinations(results, 2):
            if first[0] != other[0]:
                continue
            a, b = results[first], results[other]
            parts, values_and_sources = a.contributions - b.contributions, (a.value, b.value, a.sources)
            pairs[first, other].append(agreement_of(parts, *values_and_sources, confidence, fixed))
    compared = (
        Agreement(first[0], (first[1], other[1]), *map(np.concatenate, zip(*blocks, strict=True)))
        for (first, other), blocks in pairs.items()
    )
    figures.agreements = [pair for pair in compared if pair.known.any()]


def agreement_of(
    parts: Array,
    first: Array,
    other: Array,
    sources: Sequence[Source],
    confidence: float,
    fixed: float | None,
) -> tuple[Array, Array, Mask, Mask, Mask]:
    """Methods of one attribute against each other: |y1 - y2| within the U of what is left in the difference.

    What both share cancels, and its degrees of freedom with it; what is left keeps the t of its own. parts:
    of each source in the difference (m, n); first, other: values (n,) [SI]; fixed: a coverage factor. Returns
    what `Agreement` holds; not known where nothing but the rounding of readings is left.
    """
    nothing = ROUNDING * np.maximum(np.abs(first), np.abs(other))
    parts = np.where(np.abs(parts) <= nothing, 0.0, parts)
    known: Any = parts[[at for at, source in enumerate(sources) if not source.rounded]].any(axis=0)
    dofs, terms = [source.dof for source in sources], list(parts)
    none = np.zeros(first.shape)  # of methods that share no input with a ±
    beyond = none + expanded_by_terms(contributions=terms, dofs=dofs, confidence=DOUBTFUL)
    if fixed is not None:
        allowed = fixed * np.sqrt(np.square(parts).sum(axis=0))
    else:
        allowed = none + expanded_by_terms(contributions=terms, dofs=dofs, confidence=confidence)
    difference = np.where(np.abs(first - other) <= nothing, 0.0, first - other)
    away = np.abs(difference)
    return difference, allowed, away <= allowed, away > np.maximum(allowed, beyond), known
