"""What a batch became against what was predicted of it, zone by zone, with what both stand on.

Predicted and achieved share inputs, first of all the densities: a difference keeps the signed contribution
of each cause of error, by an identity that tells whether two batches mean the same cause. SI units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.history.identities import OF_READINGS, Identities
from laminate.press.case import ZoneCase
from laminate.press.counts import numbers_at
from laminate.press.filling import make_case
from laminate.values.averages import SCATTER
from laminate.values.problems import Refused, missing_key
from laminate.values.uncertainty import propagate

if TYPE_CHECKING:
    from laminate.coupons.measured import ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.press.shared_inputs import SharedInputs
    from laminate.values.input_key import Name

    Parts = Mapping[Name, float]
    Formula = Callable[[Mapping[Any, Any]], Mapping[str, Any]]
    Vary = Callable[[ZoneCase], ZoneCase]

ATTRIBUTES = ("fiber_volume", "thickness", "cured_ply_thickness", "resin_content", "areal_weight")


@dataclass(frozen=True, slots=True)
class Causes:
    """A number with the signed contribution of every cause of error, by identity [SI], and their dof."""

    value: float
    parts: Mapping[str, float]
    dofs: Mapping[str, float]

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return math.hypot(*self.parts.values())

    def times(self, factor: float) -> Causes:
        """The number, and each contribution, times an exact factor."""
        parts = {name: factor * part for name, part in self.parts.items()}
        return Causes(factor * self.value, parts, self.dofs)


def total(terms: Iterable[Causes]) -> Causes:
    """The sum: equal causes add with their sign, so that what is shared may cancel."""
    value, parts, dofs = 0.0, dict[str, float](), dict[str, float]()
    for term in terms:
        value += term.value
        for name, part in term.parts.items():
            parts[name] = parts.get(name, 0.0) + part
            dofs[name] = min(dofs.get(name, math.inf), term.dofs[name])
    return Causes(value, parts, dofs)


@dataclass(frozen=True, slots=True)
class Compared:
    """One attribute of a zone of one batch: predicted, achieved and by which method."""

    method: str
    coupons: int
    predicted: Causes
    achieved: Causes

    @property
    def difference(self) -> Causes:
        """Predicted minus achieved."""
        return total([self.predicted, self.achieved.times(-1.0)])


@dataclass(frozen=True, slots=True)
class ZoneRun:
    """A zone of one batch as it was laid up, with its comparisons by attribute."""

    batch: str
    case: ZoneCase
    fill_plies: int
    identities: Identities
    compared: Mapping[str, Compared]

    @property
    def plies(self) -> int:
        """All fiber plies."""
        return self.case.plies(self.fill_plies)


def as_measured(attributes: Mapping[str, Any]) -> dict[str, Any]:
    """Predicted attributes as coupons show them: whatever is not fiber is measured as resin."""
    shown = {**attributes, "resin_content": 1.0 - attributes["fiber_content"]}
    return {name: shown[name] for name in ATTRIBUTES}


def attributes_of(case: ZoneCase, fill_plies: int, x: Mapping[Any, Any]) -> dict[str, Any]:
    """The attributes of a zone with so many filling plies, as coupons show them."""
    return as_measured(numbers_at(case, fill_plies, x))


def predicted(
    case: ZoneCase, fill_plies: int, identities: Identities, x: Mapping[Any, float] | None = None
) -> dict[str, Causes]:
    """The attributes of a zone with so many filling plies, each with its causes.

    x: numbers in the place of those of the files.
    """
    return with_causes(lambda y: attributes_of(case, fill_plies, y), case.inputs, identities, x)


def with_causes(
    formula: Formula, inputs: SharedInputs, identities: Identities, x: Mapping[Any, float] | None = None
) -> dict[str, Causes]:
    """What a formula makes of the inputs, each number with its causes; x: numbers in the place of theirs."""
    results = propagate(formula, x or inputs.numbers(), inputs.sources())
    made = {}
    for name, result in results.items():
        column = result.contributions[:, 0]
        parts = {source.name: float(part) for source, part in zip(result.sources, column, strict=True)}
        dofs = {source.name: source.dof for source in result.sources}
        made[name] = named(float(result.value[0]), parts, dofs, identities)
    return made


def named(value: float, parts: Parts, dofs: Parts, identities: Identities, attribute: str = "") -> Causes:
    """A number whose contributions go by input [SI], with those of its causes."""
    terms = [Causes(value, {}, {})]
    for name, part in parts.items():
        causes = identities.of(name, attribute)
        shares = {cause: share * part for cause, share in causes.items()}
        terms.append(Causes(0.0, shares, dict.fromkeys(causes, dofs[name])))
    return total(terms)


def achieved(zone: ZoneResult, attribute: str, identities: Identities) -> Causes:
    """The average of a zone; of one coupon its own uncertainty, which knows no scatter between coupons."""
    mean = zone.averages[attribute]
    parts, dofs = dict(mean.contributions), dict(mean.dofs)
    if SCATTER not in parts:
        evaluated = zone.counted(attribute)[0].every[attribute, zone.methods[attribute]]
        contributions = evaluated.contributions()
        dofs = {source.name: source.dof for source in evaluated.result.sources if source.shared}
        unshared = math.hypot(*(part for name, part in contributions.items() if name not in dofs))
        parts = {name: contributions[name] for name in dofs} | {OF_READINGS: unshared}
        dofs[OF_READINGS] = math.inf
    return named(mean.value, parts, dofs, identities, attribute)


def compared(zone: ZoneResult, expected: Mapping[str, Causes], identities: Identities) -> dict[str, Compared]:
    """What was measured in a zone beside what was expected of it, by attribute."""
    return {
        a: Compared(zone.methods[a], zone.averages[a].n, expected[a], achieved(zone, a, identities))
        for a in ATTRIBUTES
        if a in zone.averages
    }


def plies_of(case: Case, zone: str) -> int:
    """The plies laid up in a zone of a batch. Raises `Refused` where they are not told."""
    plies = case.batch.batch.plies.get(zone)
    if plies is None:
        raise Refused(missing_key(case.name, f"batch.plies.{zone}", zone, "the plies laid up in this zone"))
    return plies


def as_it_is(case: ZoneCase) -> ZoneCase:
    """A zone as its files say it."""
    return case


def zone_run(case: Case, measured: Measurement, zone: ZoneResult, vary: Vary = as_it_is) -> ZoneRun:
    """Compare one zone of a batch. Raises `Refused` where its plies or its gap are not known.

    vary: of the prediction.
    """
    name = zone.zone or ""
    plies = plies_of(case, name)
    ingredients = case.ingredients()
    made = vary(make_case(case.part, name, case.name, ingredients, None))
    fill_plies = plies - made.fixed_plies
    identities = Identities(case, measured, name, ingredients)
    beside = compared(zone, predicted(made, fill_plies, identities), identities)
    return ZoneRun(case.batch.batch.id, made, fill_plies, identities, beside)
