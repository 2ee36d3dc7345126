"""Specimens by attribute and method, and zones with their averages."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.coupons.conditions import Term, conditions_of
from laminate.coupons.methods import Key, Plan, preferred
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import Coupon
from laminate.formulas.statistics import critical_normed_residual, normed_residuals, scatters_less, students_t
from laminate.values.averages import Average, of_parts, over_zones
from laminate.values.problems import Problem
from laminate.values.sequences import by_key
from laminate.values.uncertainty import Result, Source

if TYPE_CHECKING:
    from laminate.values.input_key import Name
    from laminate.values.units import Spread

    Pooled = Mapping[str, Mapping[str, Spread]]

OUTLIERS_FROM = 5


@dataclass(frozen=True, slots=True)
class Measured:
    """One attribute of one specimen by one method, SI units."""

    attribute: str
    method: str
    value: float
    u: float
    dof: float
    result: Result
    row: int

    def coverage_factor(self, confidence: float | None, fixed: float | None) -> float:
        """Student's factor for this specimen, or the fixed one."""
        return fixed if fixed is not None else float(students_t(confidence=confidence or 0.95, dof=self.dof))

    @property
    def stated_u(self) -> float:
        """Standard uncertainty from all but the rounding of readings [SI]: 0 where no ± was stated."""
        column = self.result.contributions[:, self.row].tolist()
        return math.hypot(*(c for s, c in zip(self.result.sources, column, strict=True) if not s.rounded))

    def contributions(self) -> dict[Name, float]:
        """Signed contribution of every source [SI]."""
        column = self.result.contributions[:, self.row]
        return {source.name: float(c) for source, c in zip(self.result.sources, column, strict=True)}


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two methods on one specimen: do they agree, given what they share? SI units.

    Of one specimen numbers, of the rows of a group columns (n,). agree: within the expanded uncertainty of
    the difference; doubtful: beyond that of 99.9 %. Of good pairs one in twenty does not agree; one in a
    thousand is a doubt that a batch cannot conform with. known: something else than the rounding of readings
    is in the difference.
    """

    attribute: str
    methods: tuple[str, str]
    difference: Any
    allowed: Any
    agree: Any
    doubtful: Any
    known: Any = True

    @property
    def pair(self) -> tuple[Key, Key]:
        """The two results."""
        return (self.attribute, self.methods[0]), (self.attribute, self.methods[1])

    def at(self, at: int) -> Agreement:
        """That of one row."""
        sizes, answers = (self.difference, self.allowed), (self.agree, self.doubtful)
        of_row = *(float(size[at]) for size in sizes), *(bool(answer[at]) for answer in answers)
        return Agreement(self.attribute, self.methods, *of_row)


@dataclass
class Specimen:
    """One specimen with every attribute its readings support.

    laid: recipe of the count of plies in the batch file, where the row says another.
    """

    coupon: Coupon
    zone: str | None
    recipe: Recipe
    plan: Plan
    every: dict[Key, Measured] = field(default_factory=dict)
    agreement: list[Agreement] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    prepreg: str | None = None
    replaced_by: str = ""
    retest_round: int = 0
    laid: Recipe | None = None

    @property
    def counts(self) -> bool:
        """Whether it is averaged and judged: neither excluded nor replaced by a retest."""
        return not self.excluded and not self.replaced_by

    @property
    def name(self) -> str:
        """The specimen's name."""
        return self.coupon.specimen

    @property
    def excluded(self) -> str:
        """Why it is left out of averages and decisions, '' where it counts."""
        return self.coupon.word("excluded")

    @property
    def best(self) -> dict[str, Measured]:
        """The preferred method of every attribute."""
        return {attribute: self.every[key] for attribute, key in preferred(list(self.every)).items()}

    @property
    def methods(self) -> list[str]:
        """The methods that it was measured by."""
        return list(dict.fromkeys(method for _, method in self.every))


@dataclass(frozen=True, slots=True)
class Outlier:
    """One reading far from its peers of zone and method."""

    attribute: str
    zone: str | None
    method: str
    specimen: str
    normed_residual: float
    critical: float


@dataclass
class ZoneResult:
    """The averages of one zone (None: no zones); rows: of its specimens, with what was measured of them."""

    zone: str | None
    specimens: Sequence[Specimen]
    rows: Rows
    averages: dict[str, Average] = field(default_factory=dict)
    methods: dict[str, str] = field(default_factory=dict)
    with_excluded: dict[str, Average] = field(default_factory=dict)
    left_out: dict[str, int] = field(default_factory=dict)

    def counted(self, attribute: str) -> list[Specimen]:
        """The specimens whose value of an attribute is averaged and judged."""
        key = (attribute, self.methods.get(attribute, ""))
        return [s for s in self.specimens if key in s.every and s.counts]


class Part(NamedTuple):
    """Rows of one zone that were computed together, by one attribute and method.

    values: (n,) [SI]; sums, squares: contributions of every source, and their squares, summed over the rows;
    rows: places of these (n,).
    """

    values: Any
    sources: Sequence[Source]
    sums: Any
    squares: Any
    rows: Any


class Chunk(NamedTuple):
    """Rows of one zone that were computed together and count alike.

    rows: their places (n,), in order; keys: attributes and methods that each has; part: what they give;
    conditions: what they must give.
    """

    zone: str | None
    counts: bool
    rows: Any
    keys: Sequence[Key]
    part: Callable[[Key], Part]
    conditions: Callable[[], Iterable[Term]]


class Rows:
    """Rows of one zone or several, with what was measured of them; names: by place; count: that count."""

    def __init__(self, names: Sequence[str], chunks: Iterable[Chunk]) -> None:
        self.names, self.chunks = names, sorted(chunks, key=lambda chunk: chunk.rows[0])
        self.count = sum(len(chunk.rows) for chunk in self._some())

    def _some(self, *, every: bool = False) -> list[Chunk]:
        return [chunk for chunk in self.chunks if every or chunk.counts]

    def keys(self, *, every: bool = False) -> list[Key]:
        """Attributes and methods of those that count, or of every row, in the order of the rows."""
        return list(dict.fromkeys(key for chunk in self._some(every=every) for key in chunk.keys))

    def parts(self, key: Key, *, every: bool = False) -> dict[str | None, list[Part]]:
        """Zone -> what its rows that count, or all, give."""
        return by_key((c.zone, c.part(key)) for c in self._some(every=every) if key in c.keys)

    def best(self, attribute: str) -> list[Part]:
        """What those that count give, each by its preferred method."""
        best = ((chunk, preferred(chunk.keys).get(attribute)) for chunk in self._some())
        return [chunk.part(key) for chunk, key in best if key is not None]


def rows_of(specimens: Sequence[Specimen]) -> Rows:
    """Specimens with what was measured of them."""
    alike = by_key(
        ((s.zone, s.counts, tuple((key, id(measured.result)) for key, measured in s.every.items())), at)
        for at, s in enumerate(specimens)
    )
    chunks: list[Chunk] = []
    for (zone, counts, results), rows in alike.items():
        keys = [key for key, _ in results]
        part = partial(_part, specimens, rows)
        chunks.append(Chunk(zone, counts, rows, keys, part, partial(_conditions, specimens, rows, keys)))
    return Rows([specimen.name for specimen in specimens], chunks)


def _conditions(specimens: Sequence[Specimen], rows: Sequence[int], keys: Sequence[Key]) -> Iterator[Term]:
    return conditions_of({key: _result_of(specimens, rows, key) for key in keys})


def _result_of(specimens: Sequence[Specimen], rows: Sequence[int], key: Key) -> Result:
    """What rows that were computed together are by one method."""
    measured = [specimens[at].every[key] for at in rows]
    return measured[0].result.rows([each.row for each in measured])


def _part(specimens: Sequence[Specimen], rows: Sequence[int], key: Key) -> Part:
    result = _result_of(specimens, rows, key)
    sums, squares = (c.sum(axis=1) for c in (result.contributions, np.square(result.contributions)))
    return Part(result.value, result.sources, sums, squares, np.array(rows))


def zone_result(
    specimens: Sequence[Specimen], zone: str | None, pooled: Pooled, rows: Rows | None = None
) -> ZoneResult:
    """Averages of the specimens of a zone that count, each attribute by one method.

    pooled: zone -> attribute -> scatter that the plan states; rows: of the specimens, where they are known.
    Rows of several zones give a mean over these zones.
    """
    rows = rows or rows_of(specimens)
    result = ZoneResult(zone, specimens, rows)
    best = preferred(rows.keys())
    for attribute, key in (best | preferred(rows.keys(every=True)) | best).items():
        result.methods[attribute], n = key[1], 0
        if attribute in best:
            result.averages[attribute] = _average(rows.parts(key), attribute, pooled)
            n = result.averages[attribute].n
            result.left_out[attribute] = rows.count - n
        every = rows.parts(key, every=True)
        if sum(len(part.values) for parts in every.values() for part in parts) > n:
            result.with_excluded[attribute] = _average(every, attribute, pooled)
    return result


def _average(zones: Mapping[str | None, Sequence[Part]], attribute: str, pooled: Pooled) -> Average:
    """The average over zones; zones: with what their rows give."""
    means: list[Average] = []
    for zone, parts in zones.items():
        spread = pooled.get(zone or "", {}).get(attribute)
        known = (spread.u, spread.dof) if spread else None
        means.append(of_parts([part[:4] for part in parts], pooled_deviation=known))
    if len(means) == 1:
        return means[0]
    values = np.concatenate([part.values for parts in zones.values() for part in parts])
    return over_zones(means, values.tolist())


def outliers(zone: ZoneResult) -> Iterator[Outlier]:
    """The row of each attribute and method that lies far from the others of a zone."""
    rows = zone.rows
    for key in rows.keys(every=True):
        parts = [part for parts in rows.parts(key).values() for part in parts]
        if not parts:
            continue
        places = np.concatenate([part.rows for part in parts])
        order = np.argsort(places)
        if far := farthest(np.concatenate([part.values for part in parts])[order]):
            yield Outlier(key[0], zone.zone, key[1], rows.names[int(places[order][far[0]])], *far[1:])


def farthest(values: Any) -> tuple[int, float, float] | None:
    """Place, maximum normed residual and critical one of an outlier among five values or more (CMH-17)."""
    if len(values) < OUTLIERS_FROM or values.max() == values.min():
        return None
    critical = critical_normed_residual(n=len(values))
    residuals = np.abs(normed_residuals(values=values))
    at = int(residuals.argmax())
    return (at, float(residuals[at]), critical) if residuals[at] > critical else None


def scatter_notes(zone: ZoneResult) -> Iterator[str]:
    """Say where coupons scatter far less, or more, than what stands beside them lets expect."""
    for attribute, average in zone.averages.items():
        words = attribute.replace("_", " ")
        where = f", zone {zone.zone}" if zone.zone else ""
        own_variance = math.fsum(
            square
            for parts in zone.rows.parts((attribute, zone.methods[attribute])).values()
            for part in parts
            for source, square in zip(part.sources, part.squares.tolist(), strict=True)
            if not source.shared
        )
        scatter = average.standard_deviation
        if scatter is not None and scatters_less(
            deviation=scatter, dof=average.n - 1.0, stated=math.sqrt(own_variance / average.n)
        ):
            less = "the coupons scatter far less than their own readings allow"
            yield f"{words}{where}: {less}, so the ± of their average is that of the readings"
        if average.outdone:
            more = "the coupons scatter more than the plan's pooled_scatter says"
            yield f"{words}{where}: {more}, so their own scatter holds"
