"""Every attribute and stated value that has limits, held to them, and what would decide the open ones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from laminate.coupons.measured import Measured, Specimen, ZoneResult
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import POINTS
from laminate.files.batch import lot_name
from laminate.files.limits import Bounds, Rule
from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.formulas.statistics import students_t
from laminate.judging.acceptance import (
    MISFIT,
    Acceptance,
    Reading,
    acceptance_of,
    both,
    reasons_of,
    within_allowance,
)
from laminate.judging.characteristic import Characteristic
from laminate.judging.deciding import MOST_COUPONS, Way, coupons_needed, input_needed
from laminate.judging.sampling import NOT_ENOUGH, shortfalls
from laminate.press.prepreg_lots import lot_values
from laminate.values.averages import SCATTER, Average
from laminate.values.input_key import Name

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.part import Plan
    from laminate.values.units import SIValue

NO_DATA = "no data"


def characteristics_of(case: Case, measured: Measurement) -> list[Characteristic]:
    """Every attribute of zones and prepregs that has limits, held against them."""
    of_batch = CharacteristicsOf(case, measured)
    limits, part = case.part.limits, case.part
    by_zone = {result.zone: result for result in measured.zones}
    seen = {*by_zone, *(zone for zone, plan in part.plan.items() if plan.most)}
    left_out = {zone for zone, plan in part.plan.items() if plan.not_measured}
    characteristics: list[Characteristic] = []
    for attribute in limits.laminate_attributes():
        ruled = {rule.zone for rule in limits.rules if rule.attribute == attribute}
        for zone in part.zone:
            rule = limits.of_zone(attribute, zone)
            if rule is not None and zone in seen | (ruled - left_out):
                characteristics.append(of_batch.of_zone(rule, zone, by_zone.get(zone)))
        if not any(c.name == attribute for c in characteristics):
            rule = next(r for r in limits.rules if r.attribute == attribute and not r.prepreg)
            characteristics.append(of_batch.of_zone(rule, None, None))
    for rule in limits.rules:
        if rule.prepreg is not None:
            characteristics += of_batch.of_prepreg(rule)
    return characteristics


class CharacteristicsOf:
    """What was measured of a batch, held to the limits of its part."""

    def __init__(self, case: Case, measured: Measurement) -> None:
        self.case, self.measured = case, measured
        self.limits = case.part.limits

    def _factor(self, dof: float) -> float:
        fixed = self.limits.coverage_factor
        return fixed if fixed is not None else float(students_t(confidence=self.limits.confidence, dof=dof))

    def _reading(self, specimen: Specimen, measured: Measured) -> Reading:
        contributions = measured.contributions()
        sources = [s for s in measured.result.sources if s.shared and contributions[s.name]]
        shared: dict[Name, float] = {s.name: contributions[s.name] for s in sources if not s.rounded}
        rounding: dict[Name, float] = {s.name: contributions[s.name] for s in sources if s.rounded}
        value, u, dof = measured.value, measured.u, measured.dof
        unshared = math.sqrt(max(u**2 - math.fsum(c * c for c in shared.values()), 0.0))
        return Reading(specimen.name, value, u, dof, self._factor(dof), shared, unshared, rounding=rounding)

    def _accept(self, readings: Sequence[Reading], bounds: Bounds, rule: Rule, most: int = 0) -> Acceptance:
        (low, high), guard = bounds.pair, self.limits.guard
        limits: dict[str, Any] = {"minimum": low, "maximum": high, "guard": guard}
        return acceptance_of(readings, attribute=rule.attribute, allowed_outside=most, **limits)

    def of_zone(self, rule: Rule, zone: str | None, result: ZoneResult | None) -> Characteristic:
        """One attribute of a zone, or of the incoming tests of a prepreg, against its limits."""
        c = Characteristic(rule.attribute, zone, rule)
        plan = self.case.part.plan.get(zone or "")
        counted = result.counted(rule.attribute) if result else []
        if result is None or not counted:
            c.reasons.append(f"{NO_DATA}: no coupon gives {rule.attribute.replace('_', ' ')}")
            return c
        c.method = result.methods[rule.attribute]
        mean = c.average_of = result.averages[rule.attribute]
        allowed = plan.allowed_outside if plan else 0
        key = (rule.attribute, c.method)
        if c.method == POINTS and (no_scatter := [s.name for s in counted if s.every[key].u == 0.0]):
            c.reasons.append(f"not enough fields: one field shows no scatter: {', '.join(no_scatter)}")
            return c
        if rule.individual:
            readings = [self._reading(s, s.every[key]) for s in counted]
            c.individual = self._accept(readings, rule.individual, rule, allowed)
        if rule.average:
            reading = self._average(mean)
            if reading is None and plan is not None and plan.most == 1:
                reading = self._reading(counted[0], counted[0].every[key])  # the one coupon that is asked for
            if reading is None:
                c.reasons.append(f"{NOT_ENOUGH}: the average of one coupon has no scatter")
            else:
                c.average = self._accept([reading], rule.average, rule)
        c.figures = {specimen.name: specimen.every[key] for specimen in counted}
        self._settle(c, list(shortfalls(self.measured, c.method, counted, plan)), mean, plan)
        return c

    def _average(self, mean: Average) -> Reading | None:
        """The average of several coupons; None of one, which tells no scatter."""
        u, contributions = mean.standard_uncertainty, mean.contributions
        if u is None:
            return None
        dof = mean.degrees_of_freedom(self.limits.confidence)
        shared = {name: c for name, c in contributions.items() if name != SCATTER}
        return Reading("average", mean.value, u, dof, self._factor(dof), shared, contributions[SCATTER])

    def _settle(self, c: Characteristic, shortfalls: list[str], mean: Average, plan: Plan | None) -> None:
        """One decision of individuals, average and plan."""
        decisions = [acceptance.decision for _, acceptance in c.held]
        wanted = sum(1 for bounds in (c.rule.individual, c.rule.average) if bounds)
        # the average of too few coupons does not fail by itself
        certain = decisions[:-1] if c.average and shortfalls else decisions
        if FAILS in certain:
            c.decision = FAILS
        elif shortfalls or UNDECIDED in decisions or len(decisions) < wanted:
            c.decision = UNDECIDED
        else:
            c.decision = CONFORMS
        c.reasons += shortfalls
        for which, acceptance in c.held:
            if acceptance.decision != CONFORMS:
                c.reasons += reasons_of(which, acceptance, alone=(c.name, c.lot or ""))
        if c.individual:
            c.reasons += within_allowance(c.individual)
        if c.individual and c.average:
            c.probability = both(c.individual, c.average, of_one=SCATTER not in mean.contributions)
        elif c.held:
            c.probability = c.held[0][1].probability
        if c.decision == UNDECIDED:
            c.ways = self._ways(c, mean, plan)

    def _ways(self, c: Characteristic, mean: Average, plan: Plan | None) -> list[Way]:
        ways: list[Way] = []
        for _, acceptance in c.held:
            if acceptance.decision != UNDECIDED or MISFIT in acceptance.reasons:
                continue
            worst, (contributions, dofs) = acceptance.worst, (mean.contributions, mean.dofs)
            if acceptance is c.average:
                most = max((plan.retests and plan.retest_coupons) or 0, plan.most) if plan else MOST_COUPONS
                count = coupons_needed(mean, self.limits, acceptance.margin(worst), max(most, mean.n))
                ways += [Way(coupons=count)] if count else []
            elif (figure := c.figures.get(worst.name)) is not None:
                contributions, dofs = figure.contributions(), {s.name: s.dof for s in figure.result.sources}
            ways += input_needed(acceptance, contributions, dofs, self.limits)
        if plan is not None and mean.n < plan.most and not any(way.coupons for way in ways):
            ways.insert(0, Way(coupons=plan.most))
        return [way for way in ways if way.enough] or ways[:1]

    def single(
        self, rule: Rule, name: str, value: SIValue | None, missing: str, *, lot: str = ""
    ) -> Characteristic:
        """One stated value (a certificate, a process reading) against its limits."""
        c = Characteristic(name, None, rule, lot=lot)
        if value is None:
            c.reasons.append(f"{NO_DATA}: {missing}")
            return c
        contributions: dict[Name, float] = {lot or name: value.spread}
        alone = value.half_width if value.shape == "rectangular" and value.spread else None
        k = self._factor(value.dof)
        reading = Reading(lot or name, value.value, value.spread, value.dof, k, {}, value.spread, alone)
        if rule.individual and not rule.prepreg:
            c.individual = self._accept([reading], rule.individual, rule)
        elif rule.individual:
            c.reasons.append(f"{NO_DATA}: a certificate gives a mean, no individual values")
        if rule.average:
            c.average = self._accept([reading], rule.average, rule)
        mean = c.average_of = Average(value.value, 1, None, contributions, {lot or name: value.dof})
        self._settle(c, [], mean, None)
        return c

    def of_prepreg(self, rule: Rule) -> list[Characteristic]:
        """Incoming tests of a prepreg where there are any, else the certificates of its lots."""
        assert rule.prepreg is not None
        name = f"prepreg.{rule.prepreg}.{rule.attribute}"
        tested = [s for s in self.measured.prepregs if s.prepreg == rule.prepreg and s.counts]
        if any(rule.attribute in s.best for s in tested):
            c = self.of_zone(rule, None, self.measured.of_prepreg(rule.prepreg))
            c.name = name
            return [c]
        values = lot_values(self.case, rule.prepreg, rule.attribute)
        missing = "neither an incoming test nor a lot certificate gives it"
        if not values:
            return [self.single(rule, name, None, missing)]
        return [self.single(rule, name, value, missing, lot=lot_name(lot)) for lot, value in values]
