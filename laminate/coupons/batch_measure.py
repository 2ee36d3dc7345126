"""A batch's coupon tables with what the batch and its part say of them."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons import recipes
from laminate.coupons.blanks import NOTHING
from laminate.coupons.charge import UNFIT, resin_content_by_weighing
from laminate.coupons.checks import MISSING, missing_reading
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.instruments import bench_of, unused_instruments
from laminate.coupons.measurement import Measurement
from laminate.coupons.mistakes import OTHER_PLIES
from laminate.coupons.plan_readings import (
    incomplete,
    incomplete_words,
    lot_lacking,
    prepregs_tested,
    wrong_only,
)
from laminate.coupons.readings import PREPREG_COLUMNS
from laminate.coupons.recipes import Recipe
from laminate.coupons.resolution import take_typed_units
from laminate.files.coupons import Coupon, Coupons, read_coupons
from laminate.files.entries import histories_of, standing
from laminate.press import stack
from laminate.values.days import days_in, means_unread_day
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused, refuse_all, unknown_name

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from laminate.files.batch import Case
    from laminate.files.entries import History

OF_LAMINATE = ("mass in liquid", "saturated mass", "residue mass", "crucible with residue", "density")
"""Columns that no incoming test of a prepreg has."""


class OfBatch:
    """How a coupon of a batch finds its zone, its lot's values and its plies; each recipe is made once."""

    def __init__(self, case: Case) -> None:
        self.case, self.part, self.batch = case, case.part, case.batch
        self.recipes: dict[tuple[str, str, int | None], Recipe] = {}
        self.lots = {lot.number: lot.prepreg for lot in self.batch.lot}

    def __call__(self, coupon: Coupon) -> Made:
        """What a coupon is made of; raises `Refused` with every name that nothing has."""
        problems: list[Problem] = []
        if any(coupon.has(column) for column in PREPREG_COLUMNS):
            return self._of_prepreg(coupon, problems)
        zone, lot = self._zone(coupon, problems), self._lot(coupon, problems)
        if not zone and not problems:
            return Made(None, NOTHING, planned=True, unplaced=True)
        plies = self._plies(coupon, zone, problems) if zone in self.part.zone else None
        refuse_all(problems)
        laid, plan = self.batch.batch.plies.get(zone, plies), self.part.plan.get(zone)
        return Made(
            zone,
            self._recipe(zone, lot, plies),
            planned=plan is not None and plan.most > 0,
            asked=tuple(self._other_plies(coupon, zone)),
            laid=self._recipe(zone, lot, laid) if laid != plies else None,
        )

    def _recipe(self, zone: str, lot: str, plies: int | None) -> Recipe:
        key = (zone, lot, plies)
        if key not in self.recipes:
            self.recipes[key] = recipes.of_zone(self.case, zone, frozenset({lot} if lot else ()), plies)
        return self.recipes[key]

    def _lot(self, coupon: Coupon, problems: list[Problem]) -> str:
        lot = coupon.word("lot")
        if lot and self.lots and lot not in self.lots and "" not in self.lots:
            problems.append(_unknown(coupon, "lot", lot, "a lot of the batch file", self.lots))
        return lot if lot in self.lots else ""

    def _of_prepreg(self, coupon: Coupon, problems: list[Problem]) -> Made:
        for column in (column_name for column_name in OF_LAMINATE if coupon.has(column_name)):
            expected = "no reading of a laminate in a row of an incoming prepreg test: two rows, two names"
            problems.append(_unknown(coupon, column, column, expected, ()))
        lot, (name, *others) = self._lot(coupon, problems), prepregs_tested(self.case, coupon)
        refuse_all(problems)
        if others:
            return Made(None, NOTHING, "", unplaced=True)
        basis = self.part.prepreg[name].resin_basis or "as received"
        return Made(
            None, recipes.of_prepreg(self.case, name, lot), name, basis, Key("prepreg", name, "volatiles")
        )

    def _zone(self, coupon: Coupon, problems: list[Problem]) -> str:
        zone = coupon.word("zone") or (next(iter(self.part.zone)) if len(self.part.zone) == 1 else "")
        if not zone and not any(plan.most for plan in self.part.plan.values()):
            problems.append(untold(self.case, coupon))
        elif zone and zone not in self.part.zone:
            problems.append(_unknown(coupon, "zone", zone, "a zone of the part file", self.part.zone))
        return zone

    def _plies(self, coupon: Coupon, zone: str, problems: list[Problem]) -> int | None:
        counted = coupon.readings("plies")
        plies = int(counted[0]) if counted else self.batch.batch.plies.get(zone)
        fixed = stack.fixed_plies(self.part, self.part.zone[zone])
        filled = self.part.zone[zone].fill_with is not None
        if plies is None:
            return None if filled else fixed
        if plies < fixed or (plies > fixed and not filled):
            expected = f"{'at least ' if filled else ''}the {fixed} plies that the part file fixes"
            problems.append(_unknown(coupon, "plies", plies, expected, ()))
        return plies

    def _other_plies(self, coupon: Coupon, zone: str) -> Iterator[Problem]:
        """That a row counts other plies than were laid up in its zone, where they enter its figures."""
        laid, counted = self.batch.batch.plies.get(zone), coupon.readings("plies")
        if laid is None or not counted or int(counted[0]) == laid or not coupon.has("thickness"):
            return
        counts = f"{counted[0]:.0f} plies, and {laid} in {self.case.name}, [batch] plies, for zone '{zone}'"
        hint = "correct the one that is wrong, or give the reason in 'accepted' where this place has others"
        yield coupon.problem(OTHER_PLIES, "plies", counts, "the same count in both", hint)


def untold(case: Case, coupon: Coupon) -> Problem:
    """A coupon that tells none of several zones, or an incoming test none of several prepregs."""
    if lot := lot_lacking(case, coupon):
        return coupon.problem(MISSING, "lot", f"waits for {lot}", "")
    expected = f"one of {', '.join(case.part.zone)}"
    return missing_reading(coupon, "zone", "zone", f"coupon '{coupon.specimen}'", expected)


def _unknown(coupon: Coupon, column: str, name: object, what: str, known: Collection[str]) -> Problem:
    return coupon.located(unknown_name(coupon.file, coupon.place(column), name, what, known))


def _take_days(coupons: Iterable[Coupon], histories: Mapping[str, History]) -> None:
    """Give rows whose day reads in two ways (`11/12/2026`) the time of a line of theirs with these numbers.

    A spreadsheet program writes the day that 'enter' wrote in the order of its country. Rows that tell no day
    get the time at which the last of their readings was typed.
    """
    for coupon in coupons:
        history, time = histories.get(coupon.file), coupon.word("time")
        if history is None or days_in(time):
            continue
        lines = [line for line in history.lines if line.specimen == coupon.specimen]
        if means_unread_day(time):
            numbers = sorted(int(number) % 100 for number in re.findall(r"\d+", time)[:3])
            lines = [line for line in lines if numbers in map(_numbers, days_in(line.time))]
        else:
            lines = [line for typed in standing(lines) for line in typed]
        if lines:
            coupon.words["time"] = max(lines, key=lambda line: line.n).time


def _numbers(day: dt.date) -> list[int]:
    return sorted((day.year % 100, day.month, day.day))


def measure_batch(case: Case, coupons: Coupons | None = None) -> Measurement:
    """Evaluate every coupon table of a batch. Raises `Refused` with every finding."""
    limits = case.part.limits
    if coupons is None:
        case.check_coupon_files()
    coupons = coupons or read_coupons(case.coupon_files())
    histories = histories_of(case.coupon_files())
    take_typed_units(coupons.coupons, histories)
    _take_days(coupons.coupons, histories)
    wrong = [*unused_instruments(case, coupons.coupons), *wrong_only(case, coupons.coupons)]
    measured = measure(
        replace(coupons, problems=(*coupons.problems, *wrong)) if wrong else coupons,
        bench_of(case),
        OfBatch(case),
        confidence=limits.confidence,
        coverage_factor=limits.coverage_factor,
        zones=list(case.part.zone),
        pooled=case.part.pooled,
    )
    if lacks := incomplete_words(incomplete(case, coupons.coupons)):
        measured.notes.insert(0, lacks)
        measured.on_top.append(lacks)
    try:
        measured.charge = resin_content_by_weighing(case)
    except Refused as refusal:
        if any(problem.code != UNFIT for problem in refusal.problems):
            raise
        measured.notes += [problem.sentence() for problem in refusal.problems]
    return measured
