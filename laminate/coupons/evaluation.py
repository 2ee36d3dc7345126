"""Coupon tables to attributes with their uncertainty: the verb of the lab technician."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.adjustment import adjust
from laminate.coupons.blanks import (
    NOTHING,
    blamed_on,
    open_doubts,
    specimens_beside,
    untold_blanks,
    with_blanks,
)
from laminate.coupons.checks import MISSING, impossible, unlikely, waiting
from laminate.coupons.copied import copy_notes
from laminate.coupons.counted import count_points, few_points
from laminate.coupons.discrepancies import discrepancies
from laminate.coupons.groups import Group, Read, agreement_of, evaluate, take_inputs
from laminate.coupons.instruments import Bench, unknown_gauges
from laminate.coupons.measured import (
    Agreement,
    Specimen,
    ZoneResult,
    outliers,
    scatter_notes,
    zone_result,
)
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import POINTS, Plan
from laminate.coupons.mistakes import warn
from laminate.coupons.monte_check import MOST_GROUPS, Check
from laminate.coupons.pooling import Cell, doubted_repeats, pooling_notes, sound_repeats
from laminate.coupons.readings import plan_of, readings_of, signature
from laminate.coupons.recipes import Recipe
from laminate.coupons.resolution import untold_words, with_steps
from laminate.files.coupons import Coupon, Coupons
from laminate.values.averages import USUAL
from laminate.values.input_key import Name, in_words
from laminate.values.problems import Problem, Refused, refuse_all, unknown_name
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Pooled

Chooser = Callable[[Coupon], "Made"]


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


def _usable(
    coupons: Sequence[Coupon], bench: Bench, made_of: Chooser, doubts: list[Problem], problems: list[Problem]
) -> tuple[list[tuple[Coupon, Made]], list[Specimen], list[tuple[str, str]]]:
    """The coupons that can be computed, those that are only shown, and what planned ones wait for.

    Raises `Refused` with every impossible reading, and what is wrong already.
    """
    usable: list[tuple[Coupon, Made]] = []
    only_shown: list[Specimen] = []
    awaited: list[tuple[str, str]] = []
    for coupon in coupons:
        try:
            made = made_of(coupon)
        except Refused as refusal:
            problems.extend([*refusal.problems, *_whatever_it_is(coupon, bench)])
            continue
        faults = _whatever_it_is(coupon, bench) if coupon.unread else impossible(coupon, bench, made.recipe)
        if made.planned and not coupon.word("excluded"):
            awaited += [(fault.found, coupon.specimen) for fault in faults if fault.code == MISSING]
            faults = [fault for fault in faults if fault.code != MISSING]
        if made.unplaced or (faults and coupon.word("excluded")):
            problems.extend(() if coupon.word("excluded") else faults)
            only_shown.append(Specimen(coupon, made.zone, made.recipe, Plan(), prepreg=made.prepreg))
            continue
        problems.extend(blamed_on(doubts, faults, coupon, bench, made.recipe))
        usable.append((coupon, made))
    refuse_all(sorted(dict.fromkeys(problems), key=row_of))
    return usable, only_shown, awaited


def _by_zone(laminates: Sequence[Specimen], zones: Sequence[str | None], pooled: Pooled) -> list[ZoneResult]:
    """The results of the zones that have specimens, in the order of the part, then of the tables.

    Without zones to tell, those without one are a zone too.
    """
    order = dict.fromkeys([*zones, *(s.zone for s in laminates if s.zone is not None or not zones)])
    results = [zone_result([s for s in laminates if s.zone == zone], zone, pooled) for zone in order]
    return [result for result in results if result.specimens]


def _notes(measured: Measurement, specimens: Sequence[Specimen], left_out: Collection[Cell]) -> list[str]:
    """What an answer must say of blanks, Monte Carlo, scatter, repeats, make-up and computed readings."""
    return [
        *untold_blanks(measured.bench, (s.plan for s in specimens if s.counts)),
        *check_notes(measured.checks),
        *(note for zone in measured.zones for note in scatter_notes(zone)),
        *dict.fromkeys(_volatiles(specimens)),
        *few_points(specimens),
        *pooling_notes(specimens, left_out),
        *copy_notes([s.coupon for s in specimens]),
        *dict.fromkeys(note for s in specimens for note in s.recipe.notes),
        *measured.on_top,
    ]


def measure(
    coupons: Coupons,
    bench: Bench,
    made_of: Chooser,
    *,
    confidence: float | None = 0.95,
    coverage_factor: float | None = None,
    zones: Sequence[str | None] = (),
    pooled: Pooled | None = None,
    checked: int = MOST_GROUPS,
) -> Measurement:
    """Evaluate coupon tables.

    coupons: as read; bench: instruments, liquid, blanks; made_of: zone and recipe of each coupon; confidence
    or coverage_factor: of expanded uncertainties; zones: order in which zones are told; pooled: zone ->
    attribute -> scatter that stands in for that of the coupons; checked: how many groups of like coupons, the
    largest first, are held against Monte Carlo.
    Raises `Refused` with every impossible reading; an excluded row is computed where it can be, and never
    counted.
    """
    problems: list[Problem] = list(coupons.problems)
    sound = [coupon for coupon in coupons.coupons if not coupon.unread]
    bench = with_steps(bench, coupons.coupons)
    plain = [coupon for coupon in sound if coupon.kind == "specimen"]
    others = [coupon for coupon in sound if coupon.kind != "specimen"]
    bench, blank_notes, blank_warnings = with_blanks(others, bench, *specimens_beside(plain), problems)
    doubts = open_doubts(sound, blank_warnings)
    named = [coupon for coupon in coupons.coupons if coupon.unread != "table"]
    problems += [problem for coupon in named for problem in unknown_gauges(coupon, bench)]
    plain += [coupon for coupon in named if coupon.unread and coupon.kind == "specimen"]
    usable, only_shown, awaited = _usable(plain, bench, made_of, doubts, problems)
    left_out: set[Cell] = set()
    while True:
        level = (confidence or USUAL, coverage_factor)
        specimens, not_measured, checks = _evaluate(usable, bench, checked, level, left_out)
        specimens += only_shown
        _link_retests(specimens)
        for specimen in specimens:
            _compare_counts(specimen, *level)
        warn(specimens, bench, blank_doubted=bool(doubts))
        doubted = doubted_repeats((s.coupon, s.warnings) for s in specimens)
        if doubted <= left_out:
            break
        left_out |= doubted  # what is in doubt does not tell how the others scatter
    laminates = [s for s in specimens if not s.plan.prepreg and s.prepreg is None]
    results = _by_zone(laminates, zones, pooled or {})
    whole = results[0] if len(results) == 1 else zone_result(laminates, None, pooled or {})
    differ = discrepancies([s for s in laminates if s.counts and s.every], bench)
    measured = Measurement(
        laminates,
        [s for s in specimens if s.plan.prepreg or s.prepreg is not None],
        results,
        whole,
        [outlier for r in results for outlier in outliers(r)],
        [*blank_warnings, *(warning for s in specimens for warning in s.warnings)],
        [*(": ".join(note) for note in coupons.notes), *blank_notes, *_waiting(coupons.coupons, awaited)],
        not_measured,
        confidence,
        coverage_factor,
        bench,
        checks,
        differ,
        adjust(laminates, bench) if differ else None,
        others=others,
        blank_doubted=bool(doubts),
        on_top=untold_words((s.coupon for s in specimens if s.counts), bench),
    )
    measured.notes += _notes(measured, specimens, left_out)
    return measured


def check_notes(checks: Sequence[Check]) -> list[str]:
    """Where Monte Carlo stands in for first order."""
    return [
        f"{c.attribute.replace('_', ' ')} by {c.method}: the ± is that of Monte Carlo, first order differs"
        for c in checks
        if not c.agree
    ]


def _volatiles(specimens: Sequence[Specimen]) -> Iterator[str]:
    """How the resin content by extraction stands to volatiles that no oven weighing gave."""
    for s in specimens:
        if "fiber mass" not in s.plan.prepreg or "dried mass" in s.plan.prepreg:
            continue
        begun, value = "resin content by extraction:", s.recipe.volatiles
        if s.plan.basis == "with volatiles":
            yield f"{begun} volatiles count as resin, the coupon was not dried"
        elif s.plan.volatiles and value.text:
            share = f"{100.0 * value.value:.3g} % of volatiles, as lot or part file say, were taken off"
            yield f"{begun} {share}; the specimen was not dried"
        elif s.plan.volatiles:
            untold = "the specimen was not dried and neither lot nor part file state volatiles"
            yield f"{begun} {untold}: they count as resin"


def _waiting(coupons: Sequence[Coupon], awaited: Sequence[tuple[str, str]]) -> list[str]:
    """What is still to be weighed, and of which specimens; awaited: what planned ones lack, with names."""
    waits = ((p.found, c.specimen) for c in coupons if not c.word("excluded") for p in waiting(c))
    return waiting_words(by_key([*waits, *awaited]))


def waiting_words(who: Mapping[str, Sequence[str]]) -> list[str]:
    """The same in words; who: what is awaited -> names of the specimens."""
    return [f"not finished, {what}: {', '.join(names)}" for what, names in who.items()]


def row_of(problem: Problem) -> tuple[str, str, int]:
    """Order of findings in coupon tables: file, sheet, row."""
    match = re.match(r"row (\d+)|(.*)![A-Z]+(\d+)$", problem.place)
    return (problem.file, (match[2] or "") if match else "", int(match[1] or match[3]) if match else 0)


def _whatever_it_is(coupon: Coupon, bench: Bench) -> list[Problem]:
    """What is impossible whatever a coupon is made of and whatever its unread cells hold."""
    problems = impossible(coupon, bench, NOTHING)
    if not coupon.unread:
        return problems
    certain = ("wrong-order", "water-temperature")  # an unread sinker would make a large mass in liquid right
    possible = () if coupon.has("sinker mass in liquid") else (coupon.place("mass in liquid"),)
    return [p for p in problems if p.code in certain and p.place not in possible]


def _evaluate(
    usable: Sequence[tuple[Coupon, Made]],
    bench: Bench,
    checked: int,
    level: tuple[float, float | None],
    left_out: Collection[Cell],
) -> tuple[list[Specimen], list[str], list[Check]]:
    keys: list[Any] = []
    specimens: list[Specimen] = []
    for coupon, made in usable:
        volatile = made.volatiles in made.recipe.values
        plan = plan_of(coupon, bench, basis=made.basis, volatiles=volatile)
        specimen = Specimen(coupon, made.zone, made.recipe, plan, prepreg=made.prepreg, laid=made.laid)
        asked = made.asked if specimen.counts else ()
        specimen.warnings.extend([*asked, *unlikely(coupon, plan, bench, made.recipe)])
        specimens.append(specimen)
        keys.append((id(made.recipe), made.volatiles, *signature(coupon, plan, bench)))
    names = [specimen.name for specimen in specimens]
    read: list[Read] = []
    for (_, volatiles, *_), rows in by_key(zip(keys, range(len(keys)), strict=True)).items():
        coupons, first = [usable[at][0] for at in rows], specimens[rows[0]]
        group = Group(names, np.array(rows), first.recipe, first.plan, np.zeros(len(rows), np.intp))
        readings = readings_of(coupons, first.plan)
        read.append(Read(group, coupons, readings, sound_repeats(coupons, readings, left_out), volatiles))
    take_inputs(read, bench)
    groups = [part.group for part in read]
    evaluate(groups, *level, checked)
    for group in groups:
        for place, at in enumerate(group.rows.tolist()):
            group.tell(specimens[at], place)
    count_points(specimens, level[0])
    exact = dict.fromkeys(name for group in groups for name in group.exact)
    return specimens, [*in_words(exact).values()], [check for group in groups for check in group.checks]


def _link_retests(specimens: list[Specimen]) -> None:
    """A retest names in `replaces` the specimen that it repeats; the result of that one is still shown."""
    by_name = {s.name: s for s in specimens}
    problems: list[Problem] = []
    for specimen in specimens:
        named = specimen.coupon.word("replaces")
        if not named:
            continue
        if fault := _not_repeatable(specimen, named, by_name):
            place = specimen.coupon.place("replaces")
            known = [] if named in by_name else [*by_name]
            problems.append(unknown_name(specimen.coupon.file, place, named, fault, known))
        elif not specimen.excluded:
            repeated = by_name[named]
            repeated.replaced_by = ", ".join(filter(None, [repeated.replaced_by, specimen.name]))
    refuse_all(problems)
    for specimen in specimens:
        specimen.retest_round = len(_repeated(specimen, by_name))


def _repeated(specimen: Specimen, by_name: dict[str, Specimen]) -> list[str]:
    """The names that a specimen repeats, one after the other, until there is none or a name comes again."""
    names: list[str] = []
    named = specimen.coupon.word("replaces")
    while named in by_name and named not in names:
        names.append(named)
        named = by_name[named].coupon.word("replaces")
    return names


def _not_repeatable(specimen: Specimen, named: str, by_name: dict[str, Specimen]) -> str:
    """What is expected where what a retest names cannot be what it repeats, '' where it can."""
    repeated = by_name.get(named)
    if repeated is None or repeated is specimen:
        return "the coupon that this one repeats"
    if specimen.name in _repeated(specimen, by_name):
        return f"a coupon that was measured before, and does not repeat '{specimen.name}' in the end"
    if repeated.zone != specimen.zone:
        return f"a coupon of zone '{specimen.zone}', not of zone '{repeated.zone}'"
    return ""


def _compare_counts(specimen: Specimen, confidence: float, fixed: float | None) -> None:
    """Put a point count, which shares no error with the others, beside each other method."""
    keys = list(specimen.every)
    for first, other in combinations(keys, 2):
        if first[0] != other[0] or POINTS not in (first[1], other[1]):
            continue
        a, b = specimen.every[first], specimen.every[other]
        parts = np.concatenate([a.result.contributions[:, [a.row]], b.result.contributions[:, [b.row]]])
        values, sources = (np.array([a.value]), np.array([b.value])), (*a.result.sources, *b.result.sources)
        agreement = agreement_of(parts, *values, sources, confidence, fixed)
        pair = Agreement(first[0], (first[1], other[1]), *agreement)
        specimen.agreement += [pair.at(0)] if pair.known[0] else []
    specimen.agreement.sort(key=lambda a: [keys.index((a.attribute, method)) for method in a.methods])
