"""A batch against the limits of its part: characteristics, process readings, instruments, and the answer."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import TYPE_CHECKING

from laminate.coupons.measurement import Measurement
from laminate.coupons.without_exclusions import with_every
from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.judging.acceptance import CANNOT
from laminate.judging.characteristic import Characteristic
from laminate.judging.characteristics import CharacteristicsOf
from laminate.judging.cores import CoreState, cores, cores_rule
from laminate.judging.coverage import Coverage, coverage_of, unseen_zone
from laminate.judging.declared import Declared, declared
from laminate.judging.doubts import doubts_rule
from laminate.judging.evidence import BatchEvidence
from laminate.judging.exclusions import ExcludedRow, excluded_rows, exclusions_rule
from laminate.judging.history_rules import corrected, corrections_rule, history_rule
from laminate.judging.impossible_voids import impossible_voids_rule
from laminate.judging.logged import cycles_of, logs_rule, of_process
from laminate.judging.lots import lots_rule
from laminate.judging.open_point import OpenPoint
from laminate.judging.planned import PLAN_RULES
from laminate.judging.remarks import remarks_of
from laminate.judging.stated import blanks_rule, spreads_rule
from laminate.judging.traceability import instruments_of, instruments_rule

if TYPE_CHECKING:
    from collections.abc import Mapping

    from laminate.curing.answers import ZoneCycle
    from laminate.files.batch import Case
    from laminate.files.entries import CorrectedReading
    from laminate.judging.open_point import Rule

HOLDING_RULES: tuple[Rule, ...] = (
    *PLAN_RULES,
    doubts_rule,
    instruments_rule,
    cores_rule,
    lots_rule,
    spreads_rule,
    blanks_rule,
    history_rule,
    impossible_voids_rule,
    logs_rule,
)

NO_LIMITS = "the part file has no limits"
IN_DOUBT = "it is not certain what this figure is worth, as said above"


@dataclass(eq=False)
class Judgement(BatchEvidence):
    """The whole answer about a batch.

    process: readings of the press held to limits; held_back: what keeps it from conforming, each with the
    line that would mend it; judgement_of_all: that if every specimen counted, None where all do;
    exclusions: rows that do not count; corrections: readings that were corrected; instruments: all stated,
    and deciding readings that name none; remarks: what else must be weighed.
    """

    process: list[Characteristic] = field(default_factory=list)
    held_back: list[OpenPoint] = field(default_factory=list)
    judgement_of_all: Judgement | None = None
    exclusions: list[ExcludedRow] = field(default_factory=list)
    corrections: list[CorrectedReading] = field(default_factory=list)
    instruments = cached_property(instruments_of)
    remarks = cached_property(remarks_of)

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


def judge(case: Case, measured: Measurement) -> Judgement:
    """Hold a measured batch against every limit of its part.

    One 'does not conform' decides, else one 'undecided', else it conforms (formula 20, JCGM 106). Where
    specimens are excluded or replaced, the batch is judged once more with them.
    """
    cycles = cycles_of(case)
    judgement = _judged(case, measured, cycles)
    every = with_every(case, measured)
    judgement.judgement_of_all = _judged(case, every, cycles, doubted=False) if every is not None else None
    judgement.corrections = corrected(case)
    judgement.exclusions = excluded_rows(judgement)
    judgement.held_back += exclusions_rule(judgement, judgement.exclusions)
    judgement.held_back += corrections_rule(judgement, judgement.corrections)
    return judgement


def _judged(
    case: Case, measured: Measurement, cycles: Mapping[str, ZoneCycle], *, doubted: bool = True
) -> Judgement:
    """The answer; doubted: False to let what fails stand though a reading that it rests on is in doubt."""
    judgement = Judgement(case, measured, cycles)
    single = CharacteristicsOf(case, measured).single
    for rule in (rule for rule in case.part.limits.rules if rule.process):
        judgement.process += of_process(case, rule, cycles, partial(single, rule, rule.attribute))
    judgement.held_back = [reason for rule in HOLDING_RULES for reason in rule(judgement)]
    opened = {label for reason in judgement.held_back for label in reason.opens if doubted}
    for characteristic in judgement.characteristics:
        if characteristic.label in opened and characteristic.decision == FAILS:
            characteristic.decision = UNDECIDED
            kept = [reason for reason in characteristic.reasons if CANNOT not in reason]
            characteristic.reasons = [*kept, IN_DOUBT]
    return judgement
