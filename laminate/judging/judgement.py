"""A batch against the limits of its part: characteristics, process readings, instruments, and the answer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

from laminate.coupons.measured import Measured, Specimen, ZoneResult
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import POINTS
from laminate.coupons.without_exclusions import with_every
from laminate.files.batch import lot_name
from laminate.files.limits import Bounds, Rule
from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.formulas.statistics import students_t
from laminate.judging import remarks, traceability
from laminate.judging.acceptance import (
    CANNOT,
    MISFIT,
    Acceptance,
    Reading,
    acceptance_of,
    both,
    reasons_of,
    within_allowance,
)
from laminate.judging.characteristic import Characteristic
from laminate.judging.cores import CoreState, cores, held_by_cores
from laminate.judging.coverage import Coverage, coverage_of, unseen_zone
from laminate.judging.deciding import MOST_COUPONS, Way, coupons_needed, input_needed
from laminate.judging.declared import Declared, declared
from laminate.judging.doubts import held_by_doubts
from laminate.judging.evidence import Judged
from laminate.judging.exclusions import ExcludedRow, excluded_rows, held_by_exclusions
from laminate.judging.held_back import HeldBack
from laminate.judging.history_rules import corrected, held_by_corrections, held_by_history
from laminate.judging.impossible_voids import held_by_impossible_voids
from laminate.judging.logged import cycles_of, held_by_logs, of_process
from laminate.judging.lots import held_by_lots
from laminate.judging.planned import PLAN_RULES
from laminate.judging.sampling import NOT_ENOUGH, shortfalls
from laminate.judging.stated import held_by_blanks, held_by_spreads
from laminate.judging.traceability import held_by_instruments
from laminate.press.prepreg_lots import lot_values
from laminate.values.averages import SCATTER, Average
from laminate.values.input_key import Name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from laminate.curing.answers import ZoneCycle
    from laminate.files.batch import Case
    from laminate.files.entries import Correction
    from laminate.files.part import Plan
    from laminate.judging.held_back import Rule as HoldingRule
    from laminate.values.units import SIValue

HOLDING_RULES: tuple[HoldingRule, ...] = (
    *PLAN_RULES,
    held_by_doubts,
    held_by_instruments,
    held_by_cores,
    held_by_lots,
    held_by_spreads,
    held_by_blanks,
    held_by_history,
    held_by_impossible_voids,
    held_by_logs,
)

NO_DATA = "no data"
NO_LIMITS = "the part file has no limits"
IN_DOUBT = "it is not certain what this figure is worth, as said above"


@dataclass(eq=False)
class Judgement(Judged):
    """The whole answer about a batch.

    process: readings of the press held to limits; held_back: what keeps it from conforming, each with the
    line that would mend it; with_every: the judgement if every specimen counted, None where all do;
    exclusions: rows that do not count; corrections: readings that were corrected; instruments: all stated,
    and deciding readings that name none; remarks: what else must be weighed.
    """

    process: list[Characteristic] = field(default_factory=list)
    held_back: list[HeldBack] = field(default_factory=list)
    with_every: Judgement | None = None
    exclusions: list[ExcludedRow] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    instruments = cached_property(traceability.instruments)
    remarks = cached_property(remarks.remarks)

    @property
    def answer(self) -> str:
        """One 'does not conform' decides, else one 'undecided' or what holds it back, else it conforms."""
        decisions = {c.decision for c in (*self.characteristics, *self.process)}
        if FAILS in decisions:
            return FAILS
        return UNDECIDED if UNDECIDED in decisions or self.reasons else CONFORMS

    @property
    def reasons(self) -> list[str]:
        """Why it is undecided beside its characteristics."""
        limited = self.characteristics or self.process
        return [reason.what for reason in self.held_back] + ([] if limited else [NO_LIMITS])

    @property
    def cores(self) -> list[CoreState]:
        """Every core that was used or has a limit."""
        return [*cores(self.case)]

    @property
    def not_judged(self) -> list[str]:
        """Zones without plan and coupons, a sentence each."""
        seen = {c.zone for c in self.characteristics}
        unseen = [zone for zone in self.case.part.zone if zone not in seen]
        return [unseen_zone(self.case, self.measured, zone) for zone in unseen]

    @property
    def covers(self) -> Coverage:
        """Zones measured, represented or left out, quantity and serials."""
        return coverage_of(self.case, self.characteristics)

    @cached_property
    def declared(self) -> list[Declared]:
        """What it rests on by a statement alone."""
        return list(declared(self))


class _Judge:
    def __init__(self, case: Case, measured: Measurement) -> None:
        self.case, self.measured = case, measured
        self.limits = case.part.limits

    def factor(self, dof: float) -> float:
        fixed = self.limits.coverage_factor
        return fixed if fixed is not None else float(students_t(confidence=self.limits.confidence, dof=dof))

    def reading(self, specimen: Specimen, measured: Measured) -> Reading:
        contributions = measured.contributions()
        sources = [s for s in measured.result.sources if s.shared and contributions[s.name]]
        shared: dict[Name, float] = {s.name: contributions[s.name] for s in sources if not s.rounded}
        rounding: dict[Name, float] = {s.name: contributions[s.name] for s in sources if s.rounded}
        value, u, dof = measured.value, measured.u, measured.dof
        unshared = math.sqrt(max(u**2 - math.fsum(c * c for c in shared.values()), 0.0))
        return Reading(specimen.name, value, u, dof, self.factor(dof), shared, unshared, rounding=rounding)

    def hold(self, readings: Sequence[Reading], bounds: Bounds, rule: Rule, allowed: int = 0) -> Acceptance:
        (low, high), guard = bounds.pair, self.limits.guard
        limits: dict[str, Any] = {"minimum": low, "maximum": high, "guard": guard}
        return acceptance_of(readings, attribute=rule.attribute, allowed_outside=allowed, **limits)

    def zone(self, rule: Rule, zone: str | None, result: ZoneResult | None) -> Characteristic:
        made = Characteristic(rule.attribute, zone, rule)
        plan = self.case.part.plan.get(zone or "")
        counted = result.counted(rule.attribute) if result else []
        if result is None or not counted:
            made.reasons.append(f"{NO_DATA}: no coupon gives {rule.attribute.replace('_', ' ')}")
            return made
        made.method = result.methods[rule.attribute]
        mean = made.average_of = result.averages[rule.attribute]
        allowed = plan.allowed_outside if plan else 0
        key = (rule.attribute, made.method)
        if made.method == POINTS and (lone := [s.name for s in counted if s.every[key].u == 0.0]):
            made.reasons.append(f"not enough fields: one field shows no scatter: {', '.join(lone)}")
            return made
        if rule.individual:
            readings = [self.reading(s, s.every[key]) for s in counted]
            made.individual = self.hold(readings, rule.individual, rule, allowed)
        if rule.average:
            reading = self._average(mean)
            if reading is None and plan is not None and plan.most == 1:
                reading = self.reading(counted[0], counted[0].every[key])  # the one coupon that is asked for
            if reading is None:
                made.reasons.append(f"{NOT_ENOUGH}: the average of one coupon has no scatter")
            else:
                made.average = self.hold([reading], rule.average, rule)
        made.figures = {specimen.name: specimen.every[key] for specimen in counted}
        self._settle(made, list(shortfalls(self.measured, made.method, counted, plan)), mean, plan)
        return made

    def _average(self, mean: Average) -> Reading | None:
        """The average of several coupons; None of one, which tells no scatter."""
        u, contributions = mean.standard_uncertainty, mean.contributions
        if u is None:
            return None
        dof = mean.degrees_of_freedom(self.limits.confidence)
        shared = {name: c for name, c in contributions.items() if name != SCATTER}
        return Reading("average", mean.value, u, dof, self.factor(dof), shared, contributions[SCATTER])

    def _settle(self, made: Characteristic, shortfalls: list[str], mean: Average, plan: Plan | None) -> None:
        """One decision of individuals, average and plan."""
        decisions = [held.decision for _, held in made.held]
        wanted = sum(1 for bounds in (made.rule.individual, made.rule.average) if bounds)
        if FAILS in decisions and not (
            made.average and made.average.decision == FAILS and shortfalls and FAILS not in decisions[:-1]
        ):
            made.decision = FAILS
        elif shortfalls or UNDECIDED in decisions or len(decisions) < wanted:
            made.decision = UNDECIDED
        else:
            made.decision = CONFORMS
        made.reasons += shortfalls
        for which, acceptance in made.held:
            if acceptance.decision != CONFORMS:
                made.reasons += reasons_of(which, acceptance, alone=(made.name, made.lot or ""))
        if made.individual:
            made.reasons += within_allowance(made.individual)
        if made.individual and made.average:
            alone = SCATTER not in mean.contributions
            made.probability = both(made.individual, made.average, of_one=alone)
        elif made.held:
            made.probability = made.held[0][1].probability
        if made.decision == UNDECIDED:
            made.ways = self._ways(made, mean, plan)

    def _ways(self, made: Characteristic, mean: Average, plan: Plan | None) -> list[Way]:
        ways: list[Way] = []
        for _, held in made.held:
            if held.decision != UNDECIDED or MISFIT in held.reasons:
                continue
            worst, (contributions, dofs) = held.worst, (mean.contributions, mean.dofs)
            if held is made.average:
                most = max((plan.retests and plan.retest_coupons) or 0, plan.most) if plan else MOST_COUPONS
                count = coupons_needed(mean, self.limits, held.margin(worst), max(most, mean.n))
                ways += [Way(coupons=count)] if count else []
            elif (figure := made.figures.get(worst.name)) is not None:
                contributions, dofs = figure.contributions(), {s.name: s.dof for s in figure.result.sources}
            ways += input_needed(held, contributions, dofs, self.limits)
        if plan is not None and mean.n < plan.most and not any(way.coupons for way in ways):
            ways.insert(0, Way(coupons=plan.most))
        return [way for way in ways if way.enough] or ways[:1]

    def single(
        self, rule: Rule, name: str, value: SIValue | None, missing: str, *, lot: str = ""
    ) -> Characteristic:
        """One stated value (a certificate, a process reading) against its limits."""
        made = Characteristic(name, None, rule, lot=lot)
        if value is None:
            made.reasons.append(f"{NO_DATA}: {missing}")
            return made
        contributions: dict[Name, float] = {lot or name: value.spread}
        alone = value.half_width if value.shape == "rectangular" and value.spread else None
        k = self.factor(value.dof)
        reading = Reading(lot or name, value.value, value.spread, value.dof, k, {}, value.spread, alone)
        if rule.individual and not rule.prepreg:
            made.individual = self.hold([reading], rule.individual, rule)
        elif rule.individual:
            made.reasons.append(f"{NO_DATA}: a certificate gives a mean, no individual values")
        if rule.average:
            made.average = self.hold([reading], rule.average, rule)
        mean = made.average_of = Average(value.value, 1, None, contributions, {lot or name: value.dof})
        self._settle(made, [], mean, None)
        return made

    def prepreg(self, rule: Rule) -> list[Characteristic]:
        """Incoming tests of a prepreg where there are any, else the certificates of its lots."""
        assert rule.prepreg is not None
        name = f"prepreg.{rule.prepreg}.{rule.attribute}"
        tested = [s for s in self.measured.prepregs if s.prepreg == rule.prepreg and s.counts]
        if any(rule.attribute in s.best for s in tested):
            made = self.zone(rule, None, self.measured.of_prepreg(rule.prepreg))
            made.name = name
            return [made]
        values = lot_values(self.case, rule.prepreg, rule.attribute)
        missing = "neither an incoming test nor a lot certificate gives it"
        if not values:
            return [self.single(rule, name, None, missing)]
        return [self.single(rule, name, value, missing, lot=lot_name(lot)) for lot, value in values]


def judge(case: Case, measured: Measurement) -> Judgement:
    """Hold a measured batch against every limit of its part.

    One 'does not conform' decides, else one 'undecided', else it conforms (formula 20, JCGM 106). Where
    specimens are excluded or replaced, the batch is judged once more with them.
    """
    cycles = cycles_of(case)
    judgement = _judged(case, measured, cycles)
    every = with_every(case, measured)
    judgement.with_every = _judged(case, every, cycles, doubted=False) if every is not None else None
    judgement.corrections = corrected(case)
    judgement.exclusions = excluded_rows(judgement)
    judgement.held_back += held_by_exclusions(judgement, judgement.exclusions)
    judgement.held_back += held_by_corrections(judgement, judgement.corrections)
    return judgement


def _characteristics(case: Case, measured: Measurement) -> list[Characteristic]:
    """Every attribute of zones and prepregs that has limits, held against them."""
    hand = _Judge(case, measured)
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
                characteristics.append(hand.zone(rule, zone, by_zone.get(zone)))
        if not any(c.name == attribute for c in characteristics):
            rule = next(r for r in limits.rules if r.attribute == attribute and not r.prepreg)
            characteristics.append(hand.zone(rule, None, None))
    for rule in limits.rules:
        if rule.prepreg is not None:
            characteristics += hand.prepreg(rule)
    return characteristics


def _judged(
    case: Case, measured: Measurement, cycles: Mapping[str, ZoneCycle], *, doubted: bool = True
) -> Judgement:
    """The answer; doubted: False to let what fails stand though a reading that it rests on is in doubt."""
    judgement = Judgement(case, measured, cycles, partial(_characteristics, case))
    hand = _Judge(case, measured)
    for rule in (rule for rule in case.part.limits.rules if rule.process):
        judgement.process += of_process(case, rule, cycles, partial(hand.single, rule, rule.attribute))
    judgement.held_back = [reason for rule in HOLDING_RULES for reason in rule(judgement)]
    opened = {label for reason in judgement.held_back for label in reason.opens if doubted}
    for characteristic in judgement.characteristics:
        if characteristic.label in opened and characteristic.decision == FAILS:
            characteristic.decision = UNDECIDED
            kept = [reason for reason in characteristic.reasons if CANNOT not in reason]
            characteristic.reasons = [*kept, IN_DOUBT]
    return judgement
