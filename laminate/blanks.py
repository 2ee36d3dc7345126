"""Blank runs and check standards of a coupon table: what they say of the specimens beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from laminate.checks import impossible
from laminate.methods import IMMERSION, Plan, attributes, loss_masses
from laminate.problems import Problem
from laminate.read.coupons import Coupon
from laminate.readings import EXACT, Bench, columns_of, plan_of
from laminate.recipes import Recipe
from laminate.uncertainty import Result, average, propagate
from laminate.units import Value

BLANK_RESIN, BLANK_FIBER, STANDARD = "blank resin", "blank fiber", "check standard"
NOTHING = Recipe({}, lambda x: 1.0, lambda x: 1.0)
COVERAGE = 2.0


def split_blanks(
    coupons: Sequence[Coupon], bench: Bench, problems: list[Problem]
) -> tuple[list[Coupon], Bench, list[str], list[Problem]]:
    """Specimens, the bench with the blanks that the table holds, what to say of them, and warnings.

    Findings go to `problems`: blanks both in the table and in the batch file, impossible weighings.
    """
    specimens: list[Coupon] = []
    of_kind: dict[str, list[Coupon]] = {BLANK_RESIN: [], BLANK_FIBER: [], STANDARD: []}
    for coupon in coupons:
        if coupon.kind == "specimen":
            specimens.append(coupon)
        elif not coupon.word("excluded"):
            of_kind[coupon.kind].append(coupon)
            problems.extend(impossible(coupon, bench, NOTHING))
    blanks = [*of_kind[BLANK_RESIN], *of_kind[BLANK_FIBER]]
    if not problems and blanks and bench.blank:
        one = blanks[0]
        found, expected = f"a {one.kind} row beside [blank] of the batch file", "one of the two"
        problems.append(Problem("both-given", one.file, one.place("kind"), found, expected))
    if problems:
        return specimens, bench, [], []
    notes: list[str] = []
    share, loss = bench.residue_share, bench.fiber_loss
    if of_kind[BLANK_RESIN]:
        share = _share(of_kind[BLANK_RESIN], bench, lost=False)
        notes.append(f"residue share of neat resin {_words(share, len(of_kind[BLANK_RESIN]))}")
    if of_kind[BLANK_FIBER]:
        loss = _share(of_kind[BLANK_FIBER], bench, lost=True)
        notes.append(f"loss of bare fiber {_words(loss, len(of_kind[BLANK_FIBER]))}")
    warnings = [w for coupon in of_kind[STANDARD] for w in _standard(coupon, bench)]
    new = replace(bench, residue_share=share, fiber_loss=loss, blank=bench.blank or bool(blanks))
    return specimens, new, notes, warnings


def _words(value: Value, n: int) -> str:
    return f"{100 * value.value:.3g} % ± {100 * value.spread:.2g} (standard), from {n} blank row{'s' if n > 1 else ''}"


def _share(coupons: Sequence[Coupon], bench: Bench, *, lost: bool) -> Value:
    """Residue share or fiber loss of n blanks: s/sqrt(n) with n - 1 degrees of freedom, the weighing for n = 1."""
    parts: list[Result] = []
    for coupon in coupons:
        plan = plan_of(coupon, bench)
        plan = Plan(loss=plan.loss, crucible=plan.crucible, own_specimen=plan.own_specimen)
        x, sources, _ = columns_of(
            [coupon], plan, NOTHING, replace(bench, residue_share=EXACT, fiber_loss=EXACT)
        )

        def share(x, plan: Plan = plan):  # type: ignore[no-untyped-def]
            specimen, residue = loss_masses(x, plan)
            return {"share": (specimen - residue) / specimen if lost else residue / specimen}

        parts.append(propagate(share, x, sources)["share"])
    mean = average(parts)
    if mean.n > 1 and mean.standard_uncertainty is not None:
        return Value(
            mean.value, mean.standard_uncertainty, mean.degrees_of_freedom, "normal", "%", "blank rows"
        )
    u = float(parts[0].standard_uncertainty[0])
    return Value(mean.value, u or None, math.inf, "normal" if u else "exact", "%", "blank row")


def _standard(coupon: Coupon, bench: Bench) -> list[Problem]:
    """A check standard weighed in liquid against the density that its row states."""
    plan = plan_of(coupon, bench)
    if plan.density != IMMERSION or not coupon.has("density"):
        return []
    plan = Plan(density=IMMERSION, water=plan.water, sinker=plan.sinker, wires=plan.wires)
    x, sources, _ = columns_of([coupon], plan, NOTHING, bench)
    result = propagate(lambda x: attributes(x, plan, NOTHING), x, sources)["density", IMMERSION]  # type: ignore[arg-type,index]
    stated, found = float(np.mean(coupon.readings("density"))), float(result.value[0])
    u = float(result.standard_uncertainty[0])
    if abs(found - stated) <= COVERAGE * u:
        return []
    text = f"a check standard at {found / 1000:.5g} ± {COVERAGE * u / 1000:.2g} g/cm^3 (k=2), stated {stated / 1000:.5g} g/cm^3"
    hint = "clean pan, wire and liquid, check the temperature, weigh it again before the specimens"
    return [
        Problem(
            "check-standard-off", coupon.file, coupon.place("density"), text, "agreement within k=2", hint
        )
    ]
