"""Coupon tables to attributes with their uncertainty: the verb of the lab technician."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.adjustment import adjust
from laminate.coupons.blanks import NOTHING, blamed_on, open_doubts, split_blanks
from laminate.coupons.checks import impossible, unlikely, waiting
from laminate.coupons.copied import copy_notes
from laminate.coupons.counted import count_points
from laminate.coupons.discrepancies import of_table
from laminate.coupons.instruments import Bench, unknown_gauges
from laminate.coupons.measured import Agreement, Measured, Outlier, Specimen, ZoneResult, zone_result
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import Key, Plan, attributes
from laminate.coupons.mistakes import warn
from laminate.coupons.monte_check import MOST_GROUPS, Check, check
from laminate.coupons.pooling import Cell, doubted_repeats, pooling_notes
from laminate.coupons.readings import columns_of, plan_of, signature
from laminate.coupons.recipes import Recipe
from laminate.coupons.resolution import written_steps
from laminate.files.coupons import Coupon, Coupons
from laminate.formulas.statistics import (
    critical_normed_residual,
    expanded_by_terms,
    normed_residuals,
    scatters_less,
)
from laminate.values.averages import ROUNDING, USUAL
from laminate.values.input_key import Name, in_words
from laminate.values.problems import Problem, Refused, did_you_mean
from laminate.values.uncertainty import Result, Source, propagate

if TYPE_CHECKING:
    from laminate.values.units import Spread

DOUBTFUL = 0.999
"""Confidence beyond which methods that differ are a doubt (common practice, no source)."""

OUTLIERS_FROM = 5

Chooser = Callable[[Coupon], "Made"]


@dataclass(frozen=True)
class Made:
    """Zone and recipe of a coupon; prepreg, basis and volatiles of an incoming test."""

    zone: str | None
    recipe: Recipe
    prepreg: str | None = None
    basis: str = "as received"
    volatiles: Name = ""


def _usable(
    coupons: Sequence[Coupon],
    bench: Bench,
    made_of: Chooser,
    doubts: Sequence[Problem],
    problems: list[Problem],
) -> tuple[list[tuple[Coupon, Made]], list[Specimen]]:
    """The coupons that can be computed, and the excluded ones that cannot and are only shown.

    Raises `Refused` with every impossible reading, and what is wrong already.
    """
    usable: list[tuple[Coupon, Made]] = []
    only_shown: list[Specimen] = []
    for coupon in coupons:
        try:
            made = made_of(coupon)
        except Refused as refusal:
            problems.extend([*refusal.problems, *_whatever_it_is(coupon, bench)])
            continue
        faults = _whatever_it_is(coupon, bench) if coupon.unread else impossible(coupon, bench, made.recipe)
        if faults and coupon.word("excluded"):
            only_shown.append(Specimen(coupon, made.zone, made.recipe, Plan(), prepreg=made.prepreg))
            continue
        problems.extend(blamed_on(doubts, faults, coupon, bench, made.recipe))
        usable.append((coupon, made))
    if problems:
        raise Refused(sorted(dict.fromkeys(problems), key=row_of))
    return usable, only_shown


def _by_zone(
    laminates: Sequence[Specimen],
    zones: Sequence[str | None],
    pooled: Mapping[str, Mapping[str, Spread]],
) -> list[ZoneResult]:
    """The results of the zones that have specimens, in the order of the part, then of the tables."""
    order = dict.fromkeys([*zones, *(s.zone for s in laminates)])
    results = [zone_result([s for s in laminates if s.zone == zone], zone, pooled) for zone in order]
    return [result for result in results if result.specimens]


def _notes(
    results: Sequence[ZoneResult], specimens: Sequence[Specimen], left_out: Collection[Cell]
) -> list[str]:
    """What an answer must say of scatter, volatiles, pooled repeats and make-up."""
    return [
        *(note for result in results for note in _scatter_notes(result)),
        *_volatiles(specimens),
        *pooling_notes(specimens, left_out),
        *copy_notes([s.coupon for s in specimens]),
        *dict.fromkeys(note for s in specimens for note in s.recipe.notes),
    ]


def measure(
    coupons: Coupons,
    bench: Bench,
    made_of: Chooser,
    *,
    confidence: float | None = 0.95,
    coverage_factor: float | None = None,
    zones: Sequence[str | None] = (),
    pooled: dict[str, dict[str, Spread]] | None = None,
    checked: int | None = None,
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
    bench = replace(bench, steps=written_steps(coupons.coupons, bench, coupons.unwritten))
    plain, bench, blank_notes, blank_warnings = split_blanks(sound, bench, problems)
    doubts = open_doubts(sound, blank_warnings)
    named = [coupon for coupon in coupons.coupons if coupon.unread != "table"]
    problems += [problem for coupon in named for problem in unknown_gauges(coupon, bench)]
    plain += [coupon for coupon in named if coupon.unread and coupon.kind == "specimen"]
    usable, only_shown = _usable(plain, bench, made_of, doubts, problems)
    left_out: set[Cell] = set()
    most = MOST_GROUPS if checked is None else checked
    while True:
        specimens, not_measured, checks = _evaluate(usable, bench, most, confidence or USUAL, left_out)
        specimens += only_shown
        _link_retests(specimens)
        for specimen in specimens:
            _compare(specimen, confidence, coverage_factor)
        warn(specimens, bench, blank_doubted=bool(doubts))
        doubted = doubted_repeats(specimens)
        if doubted <= left_out:
            break
        left_out |= doubted  # what is in doubt does not tell how the others scatter
    laminates = [s for s in specimens if not s.plan.prepreg and s.prepreg is None]
    results = _by_zone(laminates, zones, pooled or {})
    whole = results[0] if len(results) == 1 else zone_result(laminates, None, pooled or {})
    notes = [f"{file}: {note}" for file, note in coupons.notes] + blank_notes + _waiting(coupons.coupons)
    notes += check_notes(checks) + _notes(results, specimens, left_out)
    differ = of_table(laminates, bench)
    return Measurement(
        laminates,
        [s for s in specimens if s.plan.prepreg or s.prepreg is not None],
        results,
        whole,
        [outlier for result in results for outlier in _outliers(result)],
        [*blank_warnings, *(warning for s in specimens for warning in s.warnings)],
        notes,
        not_measured,
        confidence,
        coverage_factor,
        bench,
        checks,
        differ,
        adjust(laminates, bench) if differ else None,
        others=[coupon for coupon in sound if coupon.kind != "specimen"],
        blank_doubted=bool(doubts),
    )


def check_notes(checks: Sequence[Check]) -> list[str]:
    """Where Monte Carlo stands in for first order."""
    return [
        f"{c.attribute.replace('_', ' ')} by {c.method}: the ± is that of Monte Carlo, first order differs"
        for c in checks
        if not c.agree
    ]


def _volatiles(specimens: Sequence[Specimen]) -> list[str]:
    """How the resin content by extraction stands to volatiles that no oven weighing gave."""
    tested = [s for s in specimens if "fiber mass" in s.plan.prepreg and "dried mass" not in s.plan.prepreg]
    told: dict[str, None] = {}
    for specimen in tested:
        if specimen.plan.basis == "with volatiles":
            told["resin content by extraction: volatiles count as resin, the coupon was not dried"] = None
        elif specimen.plan.volatiles:
            share = specimen.recipe.volatiles
            told[
                f"resin content by extraction: {100.0 * share:.3g} % of volatiles, as lot or part file say, "
                "were taken off; the specimen was not dried"
            ] = None
    return list(told)


def _waiting(coupons: Sequence[Coupon]) -> list[str]:
    """What is still to be weighed, and of which specimens."""
    who: dict[str, list[str]] = {}
    for coupon in coupons:
        for awaited in waiting(coupon) if not coupon.word("excluded") else ():
            who.setdefault(awaited.found, []).append(coupon.specimen)
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
    usable: Iterable[tuple[Coupon, Made]],
    bench: Bench,
    checked: int,
    confidence: float,
    left_out: Collection[Cell],
) -> tuple[list[Specimen], list[str], list[Check]]:
    groups: dict[Any, list[Specimen]] = {}
    specimens: list[Specimen] = []
    for coupon, made in usable:
        volatile = made.volatiles in made.recipe.values
        plan = plan_of(coupon, bench, basis=made.basis, volatiles=volatile)
        specimen = Specimen(coupon, made.zone, made.recipe, plan, prepreg=made.prepreg)
        specimen.warnings.extend(unlikely(coupon, plan, bench, made.recipe))
        specimens.append(specimen)
        key = (id(made.recipe), made.volatiles, *signature(coupon, plan, bench))
        groups.setdefault(key, []).append(specimen)
    exact: dict[Name, None] = {}
    checks: list[Check] = []
    largest = sorted(groups.values(), key=len, reverse=True)[:checked]
    for key, group in groups.items():
        first = group[0]
        x, sources, without = columns_of(
            [s.coupon for s in group], first.plan, first.recipe, bench, left_out=left_out
        )
        if first.plan.volatiles:
            x["volatiles"] = x[key[1]]
            sources = [_also(source, key[1], "volatiles") for source in sources]
        formula = _formula(first)
        exact.update(dict.fromkeys(that_matter(formula, x, without)))
        results: dict[Any, Result] = propagate(formula, x, sources)
        if any(group is one for one in largest):
            results, comparisons = check(formula, x, sources, results, [s.name for s in group])
            checks += comparisons
        _hand_out(group, results, confidence)
    count_points(specimens, confidence)
    return specimens, [*in_words(exact).values()], checks


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
            problems.append(Problem("unknown-name", specimen.coupon.file, place, *fault))
        elif not specimen.excluded:
            repeated = by_name[named]
            repeated.replaced_by = ", ".join(filter(None, [repeated.replaced_by, specimen.name]))
    if problems:
        raise Refused(problems)
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


def _not_repeatable(
    specimen: Specimen, named: str, by_name: dict[str, Specimen]
) -> tuple[str, str, str] | None:
    """Found, expected and hint where what a retest names cannot be what it repeats."""
    repeated = by_name.get(named)
    if repeated is None or repeated is specimen:
        hint = did_you_mean(named, [name for name in by_name if name != specimen.name])
        return f"'{named}'", "the coupon that this one repeats", hint
    if specimen.name in _repeated(specimen, by_name):
        found = f"'{named}', which in the end repeats '{specimen.name}' itself"
        return found, "a coupon that was measured before", ""
    if repeated.zone != specimen.zone:
        found = f"'{named}' of zone '{repeated.zone}' for a coupon of zone '{specimen.zone}'"
        return found, "a coupon of the same zone", ""
    return None


def _formula(specimen: Specimen) -> Callable[[Any], Any]:
    plan, recipe = specimen.plan, specimen.recipe
    return lambda x: attributes(x, plan, recipe)


def that_matter(formula: Callable[[Any], Any], x: dict[Any, Any], names: list[Name]) -> list[Name]:
    """The inputs among `names` that move an attribute of the first row."""
    one = {name: value[:1] if np.ndim(value) else value for name, value in x.items()}
    probes = [Source(name, {name: 1.0}) for name in names if name in one]
    results = propagate(formula, one, probes).values()
    return [
        probe.name for i, probe in enumerate(probes) if any(r.contributions[i, 0] != 0.0 for r in results)
    ]


def _also(source: Source, name: str, other: str) -> Source:
    """The source, moving a second input along with the first."""
    if name not in source.moves:
        return source
    moves = {**source.moves, other: source.moves[name]}
    return replace(source, moves=moves)


def _hand_out(group: list[Specimen], results: dict[Key, Result], confidence: float) -> None:
    for key, result in results.items():
        u, dof = result.standard_uncertainty, result.covering_degrees(confidence)
        for row, specimen in enumerate(group):
            specimen.every[key] = Measured(
                key[0], key[1], float(result.value[row]), float(u[row]), float(dof[row]), result, row
            )


def _scatter_notes(zone: ZoneResult) -> list[str]:
    """Say where coupons scatter far less, or more, than what stands beside them lets expect."""
    own = {}
    for attribute in zone.averages:
        here = [s.every[attribute, zone.methods[attribute]] for s in zone.counted(attribute)]
        own[attribute] = math.fsum(one.own_variance for one in here) / max(len(here), 1)
    return scatter_notes(zone, own)


def scatter_notes(zone: ZoneResult, own_variance: Mapping[str, float]) -> list[str]:
    """The same; own_variance: of each attribute the mean of the coupons' own [SI squared]."""
    notes: list[str] = []
    for attribute, average in zone.averages.items():
        words = attribute.replace("_", " ")
        where = f", zone {zone.zone}" if zone.zone else ""
        own = math.sqrt(own_variance[attribute])
        scatter = average.standard_deviation
        if scatter is not None and scatters_less(deviation=scatter, dof=average.n - 1.0, stated=own):
            notes.append(
                f"{words}{where}: the coupons scatter far less than their own readings allow, so the ± of "
                "their average is that of the readings"
            )
        if average.outdone:
            notes.append(
                f"{words}{where}: the coupons scatter more than the plan's pooled_scatter says, so their own "
                "scatter holds"
            )
    return notes


def _compare(specimen: Specimen, confidence: float | None, fixed: float | None) -> None:
    """Methods of one attribute against each other: |y1 - y2| within the U of what is left in the difference.

    What both share cancels, and its degrees of freedom with it; what is left keeps the t of its own.
    """
    keys = list(specimen.every)
    for i, key in enumerate(keys):
        for other in keys[i + 1 :]:
            if key[0] != other[0]:
                continue
            a, b = specimen.every[key], specimen.every[other]
            nothing = ROUNDING * max(abs(a.value), abs(b.value))
            parts, dofs = _left_of_difference(a, b, nothing)
            if not parts:
                continue
            allowed = (
                fixed * math.hypot(*parts)
                if fixed is not None
                else float(expanded_by_terms(contributions=parts, dofs=dofs, confidence=confidence or USUAL))
            )
            difference = a.value - b.value
            difference = 0.0 if abs(difference) <= nothing else difference
            agree = abs(difference) <= allowed
            beyond = float(expanded_by_terms(contributions=parts, dofs=dofs, confidence=DOUBTFUL))
            doubtful = abs(difference) > max(allowed, beyond)
            methods = (key[1], other[1])
            specimen.agreement.append(
                Agreement(key[0], methods, difference, allowed, agree=agree, doubtful=doubtful)
            )


def _left_of_difference(a: Measured, b: Measured, nothing: float) -> tuple[list[float], list[float]]:
    """Contributions and degrees of freedom left in a - b, columns where both come from one group.

    None where nothing but the rounding of readings is left: no ± was stated then.
    """
    if a.result.sources is b.result.sources:
        left = (a.result.contributions[:, a.row] - b.result.contributions[:, b.row]).tolist()
        terms = [(c, s.dof, s.rounded) for c, s in zip(left, a.result.sources, strict=True)]
    else:
        ca, cb = a.contributions(), b.contributions()
        kinds: dict[Name, tuple[float, bool]] = {}
        for source in (*a.result.sources, *b.result.sources):
            dof = min(source.dof, kinds.get(source.name, (math.inf, False))[0])
            kinds[source.name] = (dof, source.rounded)
        terms = [(ca.get(name, 0.0) - cb.get(name, 0.0), *kind) for name, kind in kinds.items()]
    terms = [term for term in terms if abs(term[0]) > nothing]
    if all(rounded for _, _, rounded in terms):
        return [], []
    return [c for c, _, _ in terms], [dof for _, dof, _ in terms]


def _outliers(result: ZoneResult) -> Iterator[Outlier]:
    for key in dict.fromkeys(key for s in result.specimens for key in s.every):
        here = [s for s in result.specimens if key in s.every and s.counts]
        if far := farthest([s.every[key].value for s in here]):
            yield Outlier(key[0], result.zone, key[1], here[far[0]].name, *far[1:])


def farthest(values: Sequence[float]) -> tuple[int, float, float] | None:
    """Place, maximum normed residual and critical one of an outlier among five values or more (CMH-17)."""
    if len(values) < OUTLIERS_FROM or max(values) == min(values):
        return None
    critical = critical_normed_residual(n=len(values))
    residuals = np.abs(normed_residuals(values=values))
    at = int(residuals.argmax())
    return (at, float(residuals[at]), critical) if residuals[at] > critical else None
