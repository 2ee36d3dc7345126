"""Specimens by attribute and method, and zones with their averages."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from laminate.coupons.methods import Key, Plan, preferred
from laminate.coupons.recipes import Recipe
from laminate.files.coupons import Coupon
from laminate.formulas.statistics import students_t
from laminate.values.averages import Average, average, over_zones
from laminate.values.problems import Problem
from laminate.values.uncertainty import Result

if TYPE_CHECKING:
    from laminate.values.input_key import Name
    from laminate.values.units import Spread


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

    def budget(self) -> dict[Name, float]:
        """Share of every source in the variance, largest first."""
        return self.result.rows([self.row]).budget()

    @property
    def stated_u(self) -> float:
        """Standard uncertainty from all but the rounding of readings [SI]: 0 where no ± was stated."""
        column = self.result.contributions[:, self.row].tolist()
        return math.hypot(*(c for s, c in zip(self.result.sources, column, strict=True) if not s.rounded))

    @property
    def own_variance(self) -> float:
        """Part of the variance that this specimen shares with no other [SI squared]."""
        column = self.result.contributions[:, self.row]
        own_contributions = [
            c for source, c in zip(self.result.sources, column, strict=True) if not source.shared
        ]
        return float(sum(c * c for c in own_contributions))

    def contributions(self) -> dict[Name, float]:
        """Signed contribution of every source [SI]."""
        column = self.result.contributions[:, self.row]
        return {source.name: float(c) for source, c in zip(self.result.sources, column, strict=True)}


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two methods on one specimen: do they agree, given what they share? SI units.

    agree: within the expanded uncertainty of the difference; doubtful: beyond that of 99.9 %. Of good
    pairs one in twenty does not agree; one in a thousand is a doubt that a batch cannot conform with.
    """

    attribute: str
    methods: tuple[str, str]
    difference: float
    allowed: float
    agree: bool
    doubtful: bool


@dataclass
class Specimen:
    """One specimen with every attribute its readings support."""

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
    """The averages of one zone (None: no zones)."""

    zone: str | None
    specimens: Sequence[Specimen]
    averages: dict[str, Average] = field(default_factory=dict)
    methods: dict[str, str] = field(default_factory=dict)
    with_excluded: dict[str, Average] = field(default_factory=dict)
    left_out: dict[str, int] = field(default_factory=dict)

    def counted(self, attribute: str) -> list[Specimen]:
        """The specimens whose value of an attribute is averaged and judged."""
        key = (attribute, self.methods.get(attribute, ""))
        return [s for s in self.specimens if key in s.every and s.counts]


def zone_result(
    specimens: Sequence[Specimen], zone: str | None, pooled: Mapping[str, Mapping[str, Spread]]
) -> ZoneResult:
    """Averages of the specimens of a zone that count, each attribute by one method.

    pooled: zone -> attribute -> scatter that the plan states. Specimens of several zones give a mean over
    these zones.
    """
    result = ZoneResult(zone, specimens)
    counted = [s for s in specimens if s.counts]
    best = preferred(list(dict.fromkeys(key for s in counted for key in s.every)))
    for attribute, key in best.items():
        result.methods[attribute] = key[1]
        counted_measurements = [(s.zone, s.every[key]) for s in counted if key in s.every]
        result.averages[attribute] = _average(counted_measurements, attribute, pooled)
        every = [(s.zone, s.every[key]) for s in specimens if key in s.every]
        if len(every) > len(counted_measurements):
            result.with_excluded[attribute] = _average(every, attribute, pooled)
        result.left_out[attribute] = len(counted) - len(counted_measurements)
    return result


def _average(
    measured: list[tuple[str | None, Measured]], attribute: str, pooled: Mapping[str, Mapping[str, Spread]]
) -> Average:
    """The average of values, each with its zone."""
    means: list[Average] = []
    for zone in dict.fromkeys(zone for zone, _ in measured):
        spread = pooled.get(zone or "", {}).get(attribute)
        known = (spread.u, spread.dof) if spread else None
        zone_measurements = [measurement for place, measurement in measured if place == zone]
        means.append(average(_parts(zone_measurements), pooled_deviation=known))
    return (
        means[0] if len(means) == 1 else over_zones(means, [measurement.value for _, measurement in measured])
    )


def _parts(measured: list[Measured]) -> list[Result]:
    """The results of many specimens, one `Result` a group that was computed together."""
    groups: dict[int, list[Measured]] = {}
    for measurement in measured:
        groups.setdefault(id(measurement.result), []).append(measurement)
    return [group[0].result.rows([measurement.row for measurement in group]) for group in groups.values()]
