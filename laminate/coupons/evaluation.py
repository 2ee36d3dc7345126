"""Coupon tables to attributes with their uncertainty: the verb of the lab technician."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.adjustment import adjust
from laminate.coupons.blanks import (
    NOTHING,
    blamed_on,
    open_doubts,
    untold_blanks,
    with_blanks,
)
from laminate.coupons.cell_warnings import table_warnings
from laminate.coupons.checks import MISSING, impossible, unlikely, waiting
from laminate.coupons.copied import untold_words as copy_words
from laminate.coupons.counted import few_points, point_warnings
from laminate.coupons.doubt_reasons import answer
from laminate.coupons.grouped import Alike, Grouped
from laminate.coupons.groups import Chooser as Chooser
from laminate.coupons.groups import Group, evaluate
from laminate.coupons.groups import Made as Made
from laminate.coupons.instruments import Bench, unknown_gauges
from laminate.coupons.listed import Like, alike_coupons, listed
from laminate.coupons.measured import Specimen, ZoneResult, outliers, scatter_notes, zone_result
from laminate.coupons.measurement import Measurement
from laminate.coupons.mistakes import OTHER_PLIES, beside_cells, find_mistakes
from laminate.coupons.monte_check import MOST_GROUPS, Check
from laminate.coupons.pooling import Cell, doubted_repeats
from laminate.coupons.resolution import untold_words, with_steps
from laminate.files.coupons import Coupon, Coupons
from laminate.values.averages import USUAL
from laminate.values.input_key import in_words
from laminate.values.problems import Problem, Refused, refuse_all, unknown_name
from laminate.values.said import few
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Pooled
    from laminate.files.plain_table import CouponTable

Rows = Sequence[tuple[Coupon, Made]]
"""Coupons and what they are made of."""


def _usable(
    coupons: Sequence[Coupon], bench: Bench, made_of: Chooser, doubts: list[Problem], problems: list[Problem]
) -> tuple[list[tuple[Coupon, Made]], list[tuple[Coupon, Made]], list[tuple[str, str]]]:
    """The coupons that can be computed, those that are only shown, and what planned ones wait for.

    Raises `Refused` with every impossible reading, and what is wrong already.
    """
    usable: list[tuple[Coupon, Made]] = []
    only_shown: list[tuple[Coupon, Made]] = []
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
            only_shown.append((coupon, made))
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
    every, table = alike_coupons(coupons.coupons), listed(coupons.coupons)
    bench = with_steps(bench, table, every)
    plain = [coupon for coupon in sound if coupon.kind == "specimen"]
    others = [coupon for coupon in sound if coupon.kind != "specimen"]
    counted = np.array(
        [c.kind == "specimen" and not c.unread and not c.word("excluded") for c in coupons.coupons], bool
    )
    beside = [(rows[counted[rows]], first) for rows, first in every]
    bench, blank_notes, blank_warnings = with_blanks(others, bench, table, beside, problems)
    doubts = open_doubts(sound, blank_warnings)
    named = [coupon for coupon in coupons.coupons if coupon.unread != "table"]
    problems += [problem for coupon in named for problem in unknown_gauges(coupon, bench)]
    plain += [coupon for coupon in named if coupon.unread and coupon.kind == "specimen"]
    usable, only_shown, awaited = _usable(plain, bench, made_of, doubts, problems)
    grouped = _grouped(usable, only_shown, bench, (confidence or USUAL, coverage_factor))
    asked = {
        at: [*coupon.asked, *(made.asked if at < len(usable) else ())]
        for at, (coupon, made) in enumerate([*usable, *only_shown])
        if not coupon.word("excluded")
    }
    evaluated(grouped, checked, asked, blank_doubted=bool(doubts))
    specimens = [*grouped]
    laminates = [s for s in specimens if not s.plan.prepreg and s.prepreg is None]
    results = _by_zone(laminates, zones, pooled or {})
    whole = results[0] if len(results) == 1 else zone_result(laminates, None, pooled or {})
    names = {s.name for s in laminates if s.counts}
    measured = Measurement(
        laminates,
        [s for s in specimens if s.plan.prepreg or s.prepreg is not None],
        results,
        whole,
        warnings=blank_warnings,
        notes=[
            *(": ".join(note) for note in coupons.notes),
            *blank_notes,
            *waiting_notes(table, every, awaited),
        ],
        confidence=confidence,
        coverage_factor=coverage_factor,
        bench=bench,
        discrepancies=[d for d in grouped.discrepancies if d.specimen in names],
        others=others,
        blank_doubted=bool(doubts),
        on_top=untold_words((s.coupon for s in specimens if s.counts), bench),
    )
    return told_of(grouped, measured, specimens)


def _grouped(usable: Rows, only_shown: Rows, bench: Bench, level: tuple[float, float | None]) -> Grouped:
    """The coupons as columns; only_shown: of these nothing is computed."""
    coupons, made_of = zip(*usable, *only_shown, strict=True) if (usable or only_shown) else ((), ())
    like = [
        (id(made.recipe), id(made.laid), made.zone, made.prepreg, made.basis, at < len(usable))
        for at, made in enumerate(made_of)
    ]
    alike = [
        Alike.of(rows, first, made_of[rows[0]], bench, computed=bool(rows[0] < len(usable)))
        for rows, first in alike_coupons(coupons, like)
    ]
    zones, retests = [made.zone for made in made_of], _retests(coupons, made_of)
    return Grouped(listed(coupons), bench, alike, zones, level, retests)


def evaluated(
    grouped: Grouped, checked: int, asked: Mapping[int, Sequence[Problem]], *, blank_doubted: bool
) -> None:
    """Evaluate the rows and find their warnings.

    checked: as of `measure`; asked: row -> warnings that it has whatever it amounts to.
    """
    left_out: set[Cell] = set()
    while True:
        grouped.read(left_out)
        evaluate(grouped.groups, *grouped.level, checked)
        grouped.kept.clear()
        mistakes = find_mistakes(grouped, blank_doubted=blank_doubted)
        warnings = _answered(grouped, beside_cells(table_warnings(grouped), mistakes, grouped), asked)
        doubted = doubted_repeats((grouped[at].coupon, mine) for at, mine in warnings.items())
        if doubted <= left_out:
            break
        left_out |= doubted  # what is in doubt does not tell how the others scatter
    grouped.warnings = warnings
    grouped.kept.clear()


def _answered(
    grouped: Grouped, warned: Mapping[int, list[Problem]], asked: Mapping[int, Sequence[Problem]]
) -> dict[int, list[Problem]]:
    """Row -> its warnings, those about how it was measured before the others, with the row's reasons."""
    warnings = {at: [*mine] for at, mine in asked.items()}
    for part in grouped.alike:
        if any(unlikely(part.first, part.plan, grouped.bench, part.made.recipe)):
            for at in part.rows.tolist():
                of_row = unlikely(grouped[at].coupon, part.plan, grouped.bench, part.made.recipe)
                warnings.setdefault(at, []).extend(of_row)
    for at in np.flatnonzero(grouped.pointed & (grouped.of >= 0)).tolist():
        warnings.setdefault(at, []).extend(point_warnings(grouped[at]))
    for at, mine in warned.items():
        # what its fellows say of a count of plies tells more
        places = {problem.place for problem in mine}
        kept = [w for w in warnings.get(at, ()) if w.code != OTHER_PLIES or w.place not in places]
        warnings[at] = kept + mine
    coupons = {at: grouped[at].coupon for at, mine in sorted(warnings.items()) if mine}
    return {at: answer(c, [c.located(w) for w in warnings[at]]) for at, c in coupons.items()}


def told_of(grouped: Grouped, measured: Measurement, specimens: Sequence[Specimen] = ()) -> Measurement:
    """The measurement with what columns say of it; specimens: those that may have points or prepregs."""
    groups = grouped.groups
    exact = dict.fromkeys(name for group in groups for name in group.exact)
    measured.not_measured = [*in_words(exact).values()]
    measured.outliers = [outlier for zone in measured.zones for outlier in outliers(zone)]
    measured.checks = [check for group in groups for check in group.checks]
    measured.warnings += [warning for mine in grouped.warnings.values() for warning in mine]
    if measured.discrepancies:
        measured.adjustment = adjust(measured.whole.specimens, measured.bench, measured.whole.rows)
    counted = grouped.counted.copy()
    counted[[at for at, (repeated_by, _) in grouped.retests.items() if repeated_by]] = False
    without_blank = untold_blanks(measured.bench, (p.plan for p in grouped.alike if counted[p.rows].any()))
    measured.notes += [
        *without_blank,
        *check_notes(measured.checks),
        *_unchecked([g for g in groups if any(u.any() for u in g.figures.u.values())], measured.checks),
        *(note for zone in measured.zones for note in scatter_notes(zone)),
        *dict.fromkeys(_volatiles(specimens)),
        *few_points(specimens),
        *_pooling(grouped),
        *copy_words(grouped.copies, int(grouped.counted.sum())),
        *dict.fromkeys(note for part in grouped.alike for note in part.made.recipe.notes),
        *measured.on_top,
    ]
    measured.on_top += [f"{words[0].upper()}{words[1:]}." for words in without_blank]
    return measured


def _pooling(grouped: Grouped) -> Iterator[str]:
    """Whose repeats do not tell how a column scatters."""
    without: list[tuple[int, int, str, list[int]]] = []
    for order, (column, repeated) in enumerate(grouped.repeated().items()):
        if rows := np.flatnonzero(repeated & ~grouped.sound[column]).tolist():
            without.append((rows[0], order, column, rows))
    for _, _, column, rows in sorted(without):
        names = ", ".join(grouped.table.words["specimen"][at] for at in rows)
        yield f"{column}: the scatter of its repeats is taken without {names}, excluded or in doubt"


def _unchecked(groups: Sequence[Group], checks: Sequence[Check]) -> Iterator[str]:
    """That some groups of like coupons were not held against Monte Carlo, where others were."""
    left = [group.first.specimen for group in groups if checks and not group.checks]
    if left:
        n = len(groups) - len(left)
        yield f"Monte Carlo has checked the {n} largest groups of like coupons, not that of {few(left)}"


def check_notes(checks: Sequence[Check]) -> list[str]:
    """Where Monte Carlo stands in for first order."""
    return [
        f"{c.attribute.replace('_', ' ')} by {c.method}: the ± is from Monte Carlo, as first order differs"
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


def waiting_notes(
    table: CouponTable, parts: Sequence[Like], awaited: Sequence[tuple[str, str]] = ()
) -> list[str]:
    """What is still to be weighed, and of which specimens; awaited: what planned ones lack, with names."""
    counted = table.counted()
    who = by_key(
        (what.found, at)
        for rows, first in parts
        for what in waiting(first)
        for at in rows[counted[rows]].tolist()
    )
    names = {
        what: [table.words["specimen"][at] for at in sorted(rows)]
        for what, rows in sorted(who.items(), key=lambda awaits: min(awaits[1]))
    }
    for what, name in awaited:
        names.setdefault(what, []).append(name)
    return [f"not finished, {what}: {', '.join(of_what)}" for what, of_what in names.items()]


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


def _retests(coupons: Sequence[Coupon], made_of: Sequence[Made]) -> dict[int, tuple[str, int]]:
    """Row -> the names of what repeats it, and how many it repeats, one after the other.

    A retest names in `replaces` the specimen that it repeats; the result of that one is still shown.
    """
    by_name = {coupon.specimen: (coupon, made.zone) for coupon, made in zip(coupons, made_of, strict=True)}
    problems: list[Problem] = []
    repeats: dict[str, list[str]] = {}
    for coupon in coupons:
        named = coupon.word("replaces")
        if not named:
            continue
        if fault := _not_repeatable(coupon, named, by_name):
            known = [] if named in by_name else [*by_name]
            problems.append(unknown_name(coupon.file, coupon.place("replaces"), named, fault, known))
        elif not coupon.word("excluded"):
            repeats.setdefault(named, []).append(coupon.specimen)
    refuse_all(problems)
    return {
        at: (", ".join(repeats.get(coupon.specimen, ())), len(_repeated(coupon, by_name)))
        for at, coupon in enumerate(coupons)
    }


def _repeated(coupon: Coupon, by_name: Mapping[str, tuple[Coupon, str | None]]) -> list[str]:
    """The names that a specimen repeats, one after the other, until there is none or a name comes again."""
    names: list[str] = []
    named = coupon.word("replaces")
    while named in by_name and named not in names:
        names.append(named)
        named = by_name[named][0].word("replaces")
    return names


def _not_repeatable(coupon: Coupon, named: str, by_name: Mapping[str, tuple[Coupon, str | None]]) -> str:
    """What is expected where what a retest names cannot be what it repeats, '' where it can."""
    zone = by_name[coupon.specimen][1]
    if named not in by_name or named == coupon.specimen:
        return "the coupon that this one repeats"
    if coupon.specimen in _repeated(coupon, by_name):
        return f"a coupon that was measured before, and does not repeat '{coupon.specimen}' in the end"
    if by_name[named][1] != zone:
        return f"a coupon of zone '{zone}', not of zone '{by_name[named][1]}'"
    return ""
