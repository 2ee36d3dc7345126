"""Predicted against achieved: what the difference means, and what would center the next batch."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from laminate.history.achieved import ZoneRun, as_it_is, zone_run
from laminate.history.bleed_from_thickness import RubberRun, rubber_run
from laminate.history.centring import AIMED, Centred, Centring, Model, aim_of, centring
from laminate.history.dependence import Dependence, Variant, doubts_and_exclusions, hold_back, variants
from laminate.history.misfits import Misfit, misfit_of
from laminate.history.points import natural
from laminate.history.pooled import Coverage, Difference, differences_of
from laminate.history.rubber import RubberCorrection, correct_rubber
from laminate.press.counts import rules
from laminate.press.filling import make_case
from laminate.press.stack import ingredients
from laminate.records.contradictions import MOST_NAMES, copied_readings, readings_of
from laminate.values.problems import Problem, Refused, each, given_twice, refuse_all
from laminate.values.said import few

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.history.achieved import Vary
    from laminate.history.dependence import Measured
    from laminate.press.case import ZoneCase
    from laminate.records.contradictions import Readings


@dataclass(frozen=True, slots=True)
class ZoneCorrection:
    """The answer for one zone.

    like: the batch that the next one is taken to be like; misfit: where its gap and plies make no such part;
    one_sided_excess: attribute, value and expanded uncertainty [SI] of what may miss a limit on one side
    alone; depends_on: what has to be cleared up before the answer stands.
    """

    zone: str
    like: str
    plies: int
    differences: tuple[Difference, ...]
    centring: Centring
    misfit: Misfit | None
    not_measured: tuple[str, ...]
    one_sided_excess: tuple[tuple[str, float, float], ...] = ()
    depends_on: tuple[Dependence, ...] = ()

    @property
    def change(self) -> bool:
        """Whether anything lies off its middle, and the size to change, by more than its ±."""
        return any(aim.means_something for aim in self.centring.aims) and not self.within

    @property
    def within(self) -> bool:
        """Whether the size that would be proposed differs from the one now by less than its ±."""
        return self.best is not None and not self.best.changes_something

    @property
    def open_aims(self) -> list[Centred]:
        """What lies off its middle by less than its uncertainty, or no size brings nearer to it, and perhaps
        outside its limits.
        """
        near = [aim for aim in self.centring.aims if self.within or not aim.means_something]
        return [aim for aim in near if not aim.aim.holds(aim.now.value, aim.now.expanded)]

    @property
    def worth_changing(self) -> bool | None:
        """Whether a change is worth it; None where that is open, as there is no middle or it is not sure."""
        middles = any(aim.aim.low is not None for aim in self.centring.aims)
        if self.misfit is not None or hold_back(self.depends_on):
            return None
        is_open = self.contradict or self.one_sided_excess or self.open_aims or not middles
        return True if self.change else None if is_open else False

    @property
    def best(self) -> Centred | None:
        """The change that is proposed; None where no size helps."""
        able = [aim for aim in self.centring.aims if aim.means_something and not aim.hindrance]
        between = self.centring.between
        return between if self.centring.cannot_both and between is not None else next(iter(able), None)

    @property
    def sides(self) -> dict[str, float]:
        """On which side of its middle each attribute lies that lies off it by more than its uncertainty."""
        off = (aim for aim in self.centring.aims if aim.means_something)
        return {aim.attribute: math.copysign(1.0, aim.away) for aim in off}

    @property
    def kind(self) -> str:
        """What does not fit, '' where all does."""
        return self.misfit.kind if self.misfit is not None else ""

    def advises_like(self, other: ZoneCorrection | RubberCorrection | None) -> bool:
        """Whether another answer proposes the same, sizes within the ± of this one."""
        if not isinstance(other, ZoneCorrection) or self.kind != other.kind:
            return False
        if self.misfit is not None:
            return True
        if self.sides != other.sides or self.worth_changing != other.worth_changing:
            return False
        if not self.change:
            return True
        if self.best is None or other.best is None:
            return self.best is other.best
        mine, its = self.best.changes[0], other.best.changes[0]
        return mine.size == its.size and abs(mine.change - its.change) <= mine.expanded

    @property
    def contradict(self) -> bool:
        """Whether batches differ by more than what is stated of each."""
        return any(difference.difference.scatters for difference in self.differences)

    @property
    def from_batches(self) -> tuple[str, ...]:
        """The batches that the answer is from."""
        return tuple(dict.fromkeys(batch for d in self.differences for batch, _ in d.batches))

    @property
    def lone_batch(self) -> bool:
        """Whether every figure is of one batch, which does not tell how batches scatter."""
        return all(len(difference.batches) == 1 for difference in self.differences)

    @property
    def lone(self) -> bool:
        """Whether a figure rests on one coupon, which tells no scatter."""
        return any(compared.coupons == 1 for d in self.differences for _, compared in d.batches)


Answer = ZoneCorrection | RubberCorrection


@dataclass(frozen=True, slots=True)
class Correction:
    """The whole answer.

    batches: those that count; doubts: batches that do not, and open doubts; excluded: coupons and why.
    """

    part_number: str
    batches: tuple[str, ...]
    nominal: bool
    coverage: Coverage
    zones: tuple[ZoneCorrection, ...]
    notes: tuple[str, ...]
    rubber: tuple[RubberCorrection, ...]
    doubts: tuple[str, ...]
    excluded: tuple[str, ...]


def correct_zone(
    runs: Sequence[ZoneRun], coverage: Coverage, *, nominal: bool = False, vary: Vary = as_it_is
) -> ZoneCorrection:
    """Compare and center one zone.

    runs: the zone of one or more batches, the last one last; nominal: take the material of the next batch
    from the part file, not from the last batch; vary: that material, as `runs` were.
    """
    last = runs[-1]
    differences = differences_of([(run.batch, run.compared) for run in runs], coverage)
    case, identities = last.case, last.identities
    if nominal:
        made = ingredients(case.part)
        case = vary(make_case(case.part, case.name, "", made, None))
        identities = replace(identities, made=made)
    beside = {difference.attribute: difference.difference for difference in differences}
    centred = centring(Model(case, last.fill_plies, identities, beside, coverage))
    misfit, lacking = misfit_of(last, differences), tuple(case.inputs.not_measured())
    excess = tuple(_excesses(case, differences))
    return ZoneCorrection(case.name, last.batch, last.plies, differences, centred, misfit, lacking, excess)


def _excesses(case: ZoneCase, differences: Sequence[Difference]) -> Iterator[tuple[str, float, float]]:
    """What may lie outside a limit that has no other side, and so no middle."""
    held = rules(case)
    for difference in differences:
        name, mean = difference.attribute, difference.achieved.mean
        low, high = mean.value - mean.expanded, mean.value + mean.expanded
        missed = any(rule.attribute == name and (low < rule.low or high > rule.high) for rule in held)
        if missed and name in AIMED and aim_of(case, name) is None:
            yield name, mean.value, mean.expanded


def correct_cases(measured: Sequence[Measured], *, nominal: bool = False) -> Correction:
    """Compare batches of one part with what was predicted of them.

    measured: each batch with its measurement; nominal: as in `correct_zone`. Raises `Refused` where they are
    of different parts, one stands twice, or no zone can be compared.
    """
    _check([case for case, _ in measured])
    ordered, copied = _counted_once(sorted(measured, key=lambda pair: _time(pair[0])))
    problems: list[Problem] = []
    answers = _answers(ordered, nominal, problems)
    if not answers:
        names = ", ".join(case.name for case, _ in measured)
        lacking, expected = "no coupons to compare", "coupons with thickness or fiber volume"
        raise Refused(problems or [Problem("nothing-to-compare", names, "", lacking, expected)])
    plain = dict(answers)
    between_faces = [zone for zone, answer in plain.items() if isinstance(answer, ZoneCorrection)]
    for variant in variants(ordered, between_faces):
        others = _answers(variant.measured, nominal, [], variant.vary)
        for zone in plain.keys() & variant.names.keys():
            answers[zone] = _dependent(answers[zone], plain[zone], others.get(zone), variant)
    last, (doubts, excluded) = ordered[-1][0], doubts_and_exclusions(ordered)
    return Correction(
        last.part.part.number,
        tuple(case.batch.batch.id for case, _ in ordered),
        nominal,
        _coverage(last),
        tuple(answer for answer in answers.values() if isinstance(answer, ZoneCorrection)),
        tuple(f"left out: {problem.sentence()}" for problem in problems),
        tuple(answer for answer in answers.values() if isinstance(answer, RubberCorrection)),
        (*copied, *doubts),
        excluded,
    )


def _counted_once(ordered: Sequence[Measured]) -> tuple[list[Measured], list[str]]:
    """The batches but those with the readings of an earlier one, and a sentence for each of these."""
    counted: dict[str, tuple[Measured, Mapping[str, Readings]]] = {}
    sentences: list[str] = []
    for case, result in ordered:
        name, mine = case.batch.batch.id, readings_of(specimen.coupon for specimen in result.specimens)
        for earlier, (_, theirs) in counted.items():
            if copied := copied_readings(mine, theirs):
                words = f"the readings of {few(copied, MOST_NAMES)} are those of batch {earlier}"
                sentences.append(f"batch {name} is not counted: {words} (a copied table?)")
                break
        else:
            counted[name] = ((case, result), mine)
    return [measured for measured, _ in counted.values()], sentences


def _answers(
    measured: Sequence[Measured], nominal: bool, problems: list[Problem], vary: Vary = as_it_is
) -> dict[str, Answer]:
    """The answer for each zone that can be compared, in the order of the part; findings go to `problems`.

    vary: of the prediction of zones with a gap.
    """
    runs: dict[str, list[ZoneRun]] = {}
    under: dict[str, list[RubberRun]] = {}
    for case, compared in measured:
        for zone in compared.zones:
            if zone.zone is None:
                continue
            try:
                pressed = rubber_run(case, compared, zone)
                if pressed is not None:
                    under.setdefault(pressed.zone, []).append(pressed)
                    continue
                run = zone_run(case, compared, zone, vary)
            except Refused as refusal:
                problems += refusal.problems
                continue
            if run.compared:
                runs.setdefault(run.case.name, []).append(run)
    last = measured[-1][0]
    answers: dict[str, Answer] = {}
    for name in last.part.zone:
        if name in runs:
            answers[name] = correct_zone(runs[name], _coverage(last), nominal=nominal, vary=vary)
        elif name in under:
            answers[name] = correct_rubber(under[name], nominal=nominal)
    return answers


def _dependent(answer: Answer, plain: Answer, other: Answer | None, variant: Variant) -> Answer:
    """An answer with what it depends on, where it is another one the other way; plain: it without any."""
    side = {d.attribute: d.side for d in (other.differences if other is not None else ())}
    open_ = [d for d in plain.differences if side.get(d.attribute) != d.side]
    advice = not plain.advises_like(other)
    if not (advice or open_):
        return answer
    names = [difference.attribute for difference in open_]
    differences = tuple(replace(d, depends=d.depends or d.attribute in names) for d in answer.differences)
    dependence = Dependence(variant.kind, variant.names[answer.zone], advice)
    return replace(answer, depends_on=(*answer.depends_on, dependence), differences=differences)


def _coverage(case: Case) -> Coverage:
    return Coverage(case.part.limits.confidence, case.part.limits.coverage_factor)


def _time(case: Case) -> tuple[str, tuple[tuple[int, int, str], ...]]:
    molded = case.batch.batch.molded
    return (molded.isoformat() if molded else "", natural(case.batch.batch.id))


def _check(cases: Sequence[Case]) -> None:
    problems: list[Problem] = []
    seen: dict[str, str] = {}
    for case in cases:
        head = case.batch.batch
        if head.part_number != cases[0].batch.batch.part_number:
            wrong = f"part '{head.part_number}'"
            expected = f"part '{cases[0].batch.batch.part_number}', as in {cases[0].name}"
            problems.append(Problem("other-part", case.name, "batch.part_number", wrong, expected))
        if head.id in seen:
            what, first = f"batch '{head.id}'", f"in {seen[head.id]}"
            problems.append(given_twice(case.name, "batch.id", what, first, "each batch once"))
        seen[head.id] = case.name
    refuse_all(problems)


def correct(batches: Sequence[Path], *, nominal: bool = False) -> Correction:
    """Compare the batches of files with what was predicted of them. Raises `Refused` with every finding."""
    from laminate.coupons.batch_measure import measure_batch
    from laminate.files.batch import read_batch

    def measured(number: int) -> tuple[Case, Measurement]:
        case = read_batch(batches[number])
        return case, measure_batch(case)

    return correct_cases(list(each(measured, range(len(batches))).values()), nominal=nominal)
