"""Blank runs and check standards of a coupon table: what they say of the specimens beside them."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from laminate.coupons.checks import impossible, waiting
from laminate.coupons.comparisons import piece_for_loss
from laminate.coupons.copied import copied_rows, copies
from laminate.coupons.doubt_reasons import answer, of_row
from laminate.coupons.instruments import EXACT, Bench
from laminate.coupons.listed import Like, alike_coupons, listed, means_of
from laminate.coupons.methods import IMMERSION, Plan, attributes, loss_masses
from laminate.coupons.peers import Interval, intervals
from laminate.coupons.readings import columns_of, plan_of
from laminate.coupons.recipes import ONE, Recipe
from laminate.coupons.slips import factor_words
from laminate.coupons.table_checks import decimals, reading_scatter
from laminate.files.coupons import Coupon
from laminate.files.plain_table import CouponTable
from laminate.values.averages import average
from laminate.values.problems import Answered, Problem, both_given
from laminate.values.quantities import G_CM3, GRAM
from laminate.values.said import Figure, Said, between
from laminate.values.uncertainty import Result, propagate
from laminate.values.units import SIValue, Spread

BLANK_RESIN, BLANK_FIBER, STANDARD = "blank resin", "blank fiber", "check standard"
WHAT = {BLANK_RESIN: "residue share of neat resin", BLANK_FIBER: "loss of bare fiber"}
"""What blanks of a kind tell."""
ONE_ROW = "blank row"
"""What the value of a single blank is from, whose scatter nobody knows."""
NOTHING = Recipe({}, ONE, ONE)
COVERAGE = 2.0
SCATTER = 0.002
LARGER = 5.0
"""Factor beyond which a blank is no longer of the size of the others (common practice, no source)."""
PIECE = "piece"
WEIGHED = ("crucible mass", "crucible with specimen", "specimen mass")
SIZES = ("crucible mass", "specimen mass", PIECE)
ACCEPTED = "or give the reason in 'accepted', "
AGAIN = f"read and weigh it again, {ACCEPTED}or exclude the row with a reason"
PLAUSIBLE = Interval(-0.005, 0.002, 0.05, "as blanks give (common practice, no source)")


def with_blanks(
    rows: Sequence[Coupon],
    bench: Bench,
    table: CouponTable,
    beside: Sequence[Like],
    problems: list[Problem],
) -> tuple[Bench, list[str], list[Problem]]:
    """The bench with the blanks that the table holds, what to say of them, and warnings.

    rows: of the table, all but specimens; beside: rows of the specimens that count. Findings go to
    `problems`: blanks both in the table and in the batch file, impossible weighings, blanks that would leave
    no fiber.
    """
    of_kind: dict[str, list[Coupon]] = {BLANK_RESIN: [], BLANK_FIBER: [], STANDARD: []}
    for coupon in rows:
        if not coupon.word("excluded"):
            problems.extend(impossible(coupon, bench, NOTHING))
            if not waiting(coupon):
                of_kind[coupon.kind].append(coupon)
    blanks = [*of_kind[BLANK_RESIN], *of_kind[BLANK_FIBER]]
    none_told = _none_stated(bench)
    shares = {BLANK_RESIN: bench.residue_share, BLANK_FIBER: bench.fiber_loss}
    twice = [blank for blank in blanks if none_told or shares[blank.kind] is not EXACT]
    if not problems and twice:
        row = twice[0]
        problems.append(both_given(row.file, row.place("kind"), row.kind, "[blank] of the batch file"))
    if problems:
        return bench, [], []
    notes: list[str] = []
    warnings: list[Problem] = []
    methods = {first.word("method") for places, first in beside if places.size} - {""}
    for kind, what in WHAT.items():
        if of_kind[kind]:
            parts = _shares(of_kind[kind], bench, lost=kind == BLANK_FIBER)
            shares[kind] = _value(parts, bench.blank_scatter)
            warnings += _unlikely(of_kind[kind], parts, methods)
            notes.append(f"{what} {_words(shares[kind], len(of_kind[kind]))}")
    if blanks and shares[BLANK_RESIN].value + shares[BLANK_FIBER].value >= 1.0:
        problems += map(_refused, warnings)
        return bench, [], []
    for coupon in of_kind[STANDARD]:
        _standard(coupon, bench, notes, warnings)
    compared = [*blanks, *of_kind[STANDARD]]
    of_blanks = listed(compared)
    warnings += [warning for _, warning in copies(copied_rows(of_blanks), of_blanks.coupon)]
    warnings += _sizes(blanks, table, beside)
    doubted = {(warning.file, warning.place) for warning in warnings}
    unlike = decimals(of_blanks.columns, alike_coupons(compared), bench, of_blanks.coupon)
    warnings += [w for _, w in unlike if (w.file, w.place) not in doubted]
    warnings = [w for coupon in compared for w in answer(coupon, [*coupon.asked, *of_row(coupon, warnings)])]
    share, loss = shares[BLANK_RESIN], shares[BLANK_FIBER]
    new = replace(bench, residue_share=share, fiber_loss=loss, blank=bench.blank or bool(blanks))
    return new, notes, warnings


def untold_blanks(bench: Bench, plans: Iterable[Plan]) -> list[str]:
    """That a loss of matrix is reckoned without one or both of its blanks; nothing where that was decided."""
    if not any(plan.loss for plan in plans) or _none_stated(bench):
        return []
    shares = {"residue of neat resin": bench.residue_share, "loss of bare fiber": bench.fiber_loss}
    left = [what for what, share in shares.items() if share is EXACT]
    return [f"{' and '.join(left)} taken as 0: no blank gives it"] if left else []


def _none_stated(bench: Bench) -> bool:
    """Whether the batch file gives a reason for having no blank."""
    return bench.blank and bench.residue_share is EXACT and bench.fiber_loss is EXACT


def open_doubts(coupons: Sequence[Coupon], warnings: Sequence[Problem]) -> list[Problem]:
    """The warnings about blank rows that nobody has answered: what they say of specimens is open as well."""
    blanks = [coupon for coupon in coupons if coupon.kind in (BLANK_RESIN, BLANK_FIBER)]
    return [w for coupon in blanks for w in of_row(coupon, warnings) if not isinstance(w, Answered)]


def blamed_on(
    doubts: Sequence[Problem], problems: Sequence[Problem], coupon: Coupon, bench: Bench, recipe: Recipe
) -> list[Problem]:
    """What is impossible in a specimen; what only its blanks in doubt make so is said of them instead.

    doubts: open ones about blanks; problems: the findings with these blanks.
    """
    if not doubts or not problems:
        return [*problems]
    alone = impossible(coupon, replace(bench, residue_share=EXACT, fiber_loss=EXACT), recipe)
    known = {(problem.code, problem.place) for problem in alone}
    own_problems = [problem for problem in problems if (problem.code, problem.place) in known]
    return own_problems if len(own_problems) == len(problems) else [*own_problems, *map(_refused, doubts)]


def _refused(doubt: Problem) -> Problem:
    """What no reason answers."""
    return replace(doubt, hint=doubt.hint.replace(ACCEPTED, ""))


def _words(value: SIValue, n: int) -> str:
    rows = f"{n} blank rows" if n > 1 else "1 blank row"
    more = "the ± of its weighing alone" if value.text == ONE_ROW else value.text
    rows += f", {more}" if more != "blank rows" else ""
    return f"{100 * value.value:.3g} % ± {100 * value.spread:.2g} (standard), from {rows}"


def _shares(coupons: Sequence[Coupon], bench: Bench, *, lost: bool) -> list[Result]:
    """Residue share or fiber loss of each blank."""
    parts: list[Result] = []
    bare = replace(bench, residue_share=EXACT, fiber_loss=EXACT)
    for coupon in coupons:
        plan = plan_of(coupon, bench)
        plan = Plan(loss=plan.loss, crucible=plan.crucible, own_specimen=plan.own_specimen)
        x, sources, _ = columns_of([coupon], plan, NOTHING, bare)

        def share(x: Any, plan: Plan = plan) -> dict[Any, Any]:
            specimen, residue = loss_masses(x, plan)
            return {"share": (specimen - residue) / specimen if lost else residue / specimen}

        parts.append(propagate(share, x, sources)["share"])
    return parts


def _value(parts: list[Result], scatter: Spread | None) -> SIValue:
    """The mean of n blanks: s/sqrt(n) with n - 1 degrees of freedom; the weighing's ± where none scatter.

    scatter: s of earlier blanks with its degrees of freedom, in place of that of these (`averages.average`).
    """
    mean = average(parts, pooled_deviation=(scatter.u, scatter.dof) if scatter else None)
    if u := mean.standard_uncertainty:
        text = f"blank_scatter = {scatter.text}" if scatter and not mean.outdone else "blank rows"
        return SIValue(mean.value, u, mean.degrees_of_freedom(), "normal", "%", text)
    u, text = float(parts[0].standard_uncertainty[0]), ONE_ROW if len(parts) == 1 else "blank rows"
    return SIValue(mean.value, u or None, math.inf, "normal" if u else "exact", "%", text)


def _unlikely(blanks: list[Coupon], parts: list[Result], methods: Collection[str]) -> Iterator[Problem]:
    """Warnings about blanks far from what blanks give, from each other, or run in another way."""
    values = [float(part.value[0]) for part in parts]
    peers = intervals(values, SCATTER, f"like the other {blanks[0].kind} rows")
    fits = [PLAUSIBLE.holds(value) for value in values]
    if len(values) == 2 and sum(fits) == 1:  # of two that differ, the one that blanks can give is right
        peers = [None, None]
    for blank, value, like in zip(blanks, values, peers, strict=True):
        for interval in (PLAUSIBLE, like):
            if interval is None or interval.holds(value):
                continue
            share_text = f"{WHAT[blank.kind]} {100.0 * value:.3g} %"
            expected = f"{100.0 * interval.low:.2g} to {100.0 * interval.high:.2g} %, {interval.words}"
            (other,) = {*WHAT} - {blank.kind}
            exchanged = PLAUSIBLE.holds(1.0 - value)
            hint = f"are the kinds exchanged? this is like a {other}; {AGAIN}" if exchanged else AGAIN
            yield blank.problem("blank-unlikely", "specimen", share_text, expected, hint)
            break
        if blank.word("method") and methods and blank.word("method") not in methods:
            by, others = blank.word("method"), " and ".join(sorted(methods))
            method_text = f"a blank by {by} beside coupons by {others}"
            expected = "a blank in the way of the coupons"
            hint = "run one; or give the reason in 'accepted', or exclude the row with a reason"
            yield blank.problem("blank-unlikely", "method", method_text, expected, hint)


def _sizes(blanks: Sequence[Coupon], table: CouponTable, beside: Sequence[Like]) -> Iterator[Problem]:
    """Blanks far larger or smaller than the others, or else than the specimens: a slip that no share shows.

    One digit of a crucible moved leaves the loss of bare fiber near nothing, as it was.
    """
    asked = beside if 0 < len(blanks) < 3 else ()  # of two, the specimens say which
    of_parts = [_masses(means_of(table, first, rows)) for rows, first in asked]
    masses = [_masses({n: blank.mean(n) for n in WEIGHED if blank.has(n)}) for blank in blanks]
    for at, (blank, mine) in enumerate(zip(blanks, masses, strict=True)):
        theirs = [*masses[:at], *masses[at + 1 :]]
        for column in SIZES:
            known = [other[column] for other in theirs if column in other] + [
                mass for part in of_parts if column in part for mass in part[column].tolist()
            ]
            known = [size for size in known if size > 0.0]
            mass = mine.get(column, 0.0)
            unlike = [size for size in known if not size / LARGER <= mass <= size * LARGER]
            if column not in mine or 2 * len(unlike) <= len(known):
                continue
            usual = float(np.median(unlike))
            words = "a piece" if column == PIECE else column
            mass_text = Said(f"{words} of ", Figure(mass, GRAM, digits=5))
            expected = Said(between(usual / LARGER, usual * LARGER, GRAM), ", as beside it")
            factor = factor_words(mass / usual, "mass") if mass > 0.0 else ""
            hint = "; ".join(filter(None, (factor, AGAIN)))
            weighed = "crucible with specimen" if column == PIECE else column
            yield blank.problem("blank-unlikely", weighed, mass_text, expected, hint)
            break


def _masses(means: Mapping[str, Any]) -> dict[str, Any]:
    """The crucible, and the piece that lost its matrix, from means by column, numbers or columns [kg]."""
    piece = piece_for_loss(means)
    masses = {name: means[name] for name in WEIGHED if name in means}
    return masses | ({PIECE: piece} if piece is not None else {})


def _standard(coupon: Coupon, bench: Bench, notes: list[str], warnings: list[Problem]) -> None:
    """A check standard weighed in liquid against the density that its row states: a note, or a warning."""
    plan = plan_of(coupon, bench)
    if plan.density != IMMERSION or not coupon.has("density"):
        return
    plan = Plan(density=IMMERSION, water=plan.water, sinker=plan.sinker, wires=plan.wires)
    x, sources, _ = columns_of([coupon], plan, NOTHING, bench)

    def density(x: Any) -> dict[Any, Any]:
        return {"density": attributes(x, plan, NOTHING)["density", IMMERSION]}

    result = propagate(density, x, sources)["density"]
    stated, value = float(np.mean(coupon.readings("density"))), float(result.value[0])
    # where no instrument is stated, the steps of the readings are the least that can be told apart
    lost = float(np.ravel(x["mass in air"] - x["mass in liquid"] + x.get("sinker mass in liquid", 0.0))[0])
    step = value * reading_scatter(coupon, "mass in liquid", bench) / lost
    weighing_u = float(result.standard_uncertainty[0])
    u = math.hypot(max(weighing_u, step), 0.5 * reading_scatter(coupon, "density", bench))
    measured, stated_figure = Figure(value, G_CM3, 5, u=COVERAGE * u), Figure(stated, G_CM3, 5)
    compared = measured, " (k=2), stated ", stated_figure
    if abs(value - stated) <= COVERAGE * u:
        notes.append(Said(f"check standard {coupon.specimen} agrees: ", *compared))
        return
    text = Said("a check standard at ", *compared)
    hint = "clean pan, wire and liquid, check the temperature, weigh it again before the coupons"
    warnings.append(coupon.problem("check-standard-off", "density", text, "agreement within k=2", hint))
