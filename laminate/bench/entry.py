"""What a specimen says while it is being measured: what cannot be, what is doubtful, what follows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import OfBatch, untold
from laminate.coupons.blanks import NOTHING
from laminate.coupons.checks import MISSING, impossible, waiting
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.instruments import bench_of
from laminate.coupons.measurement import Measurement
from laminate.coupons.resolution import take_typed_units
from laminate.files.coupons import Coupon, Coupons, base_name, gather
from laminate.files.entries import History
from laminate.values.problems import Answered, Problem, Refused

if TYPE_CHECKING:
    from laminate.coupons.recipes import Recipe
    from laminate.files.batch import Case
    from laminate.files.table import Table

SHOWN = (
    "density", "fiber_volume", "void_content", "resin_content", "thickness", "cured_ply_thickness",
    "open_void_content", "areal_weight", "prepreg_areal_weight", "volatiles",
)  # fmt: skip
SINKER, WITH_SINKER = "sinker mass in liquid", "mass in liquid"
AWAITED = "sinker-awaited"
"""A mass in liquid that cannot be without the sinker, whose cell is still empty."""
SINKING = ("wrong-order", "impossible-density")
"""Findings about a mass in liquid that the mass of a sinker may explain."""


@dataclass(frozen=True)
class Derived:
    """One attribute that follows: its key, value and expanded uncertainty [SI], the method."""

    attribute: str
    value: float
    expanded: float
    method: str


@dataclass(frozen=True)
class Findings:
    """What is to be said of a specimen.

    cannot: no specimen has such readings; doubtful: unlikely, to be looked at or answered; later: what is
    still missing; derived: what follows; coverage: of the uncertainties, in words; elsewhere: names of other
    specimens that cannot be so, or about which something is doubtful.
    """

    cannot: tuple[Problem, ...] = ()
    doubtful: tuple[Problem, ...] = ()
    later: tuple[Problem, ...] = ()
    derived: tuple[Derived, ...] = ()
    coverage: str = ""
    elsewhere: tuple[str, ...] = ()


class TableChecker:
    """Looks at the specimens of a batch as they are measured.

    case: the batch; others: the batch's other coupon tables, whose readings of a specimen count too.
    """

    def __init__(self, case: Case, others: Sequence[Table] = ()) -> None:
        self.case, self.others = case, tuple(others)
        self._bench = bench_of(case)
        self._choose = OfBatch(case)

    def coupon(self, table: Table, specimen: str) -> Coupon:
        """The readings of a specimen so far; of none where the table has no such row."""
        coupons, _ = gather([table, *self.others])
        return next((c for c in coupons if c.specimen == specimen), Coupon(specimen, table.file))

    def check(self, table: Table, specimen: str, history: History | None = None) -> Findings:
        """Everything that is to be said of a specimen.

        table: as it stands or as it would stand; specimen: its name; history: of the table, if any.
        """
        coupons, problems = gather([table, *self.others])
        take_typed_units(coupons, {table.file: history} if history else {})
        mine = next((coupon for coupon in coupons if coupon.specimen == specimen), None)
        if mine is None:
            return Findings()
        rows = [row for row in table.rows if table.text(row, "specimen") == specimen]
        places = {table.place(row, heading) for row in rows for heading in table.headings}
        places |= {place for _, place in mine.cells()}
        cells = [problem for problem in problems if problem.place in places]
        if cells or mine.word("excluded"):
            findings_of_cells = _split(cells, ("missing-points",))
            return replace(findings_of_cells, cannot=()) if mine.word("excluded") else findings_of_cells
        try:
            made = self._choose(mine) if mine.kind == "specimen" else Made(None, NOTHING)
        except Refused as refusal:
            return _split(refusal.problems)
        if made.unplaced:
            return _split([untold(self.case, mine)])
        recipe = made.recipe
        findings, sunk, awaited = impossible(mine, self._bench, recipe), mine, []
        if (odd := _sinker_may_explain(findings, mine, table)) is not None:
            why = f"waits for the empty cell '{SINKER}'; weighed without a sinker, a cell is wrong or swapped"
            awaited = [replace(odd, code=AWAITED, found=f"{odd.found}: {why}", expected="", hint="")]
            sunk = _without(mine, [label for label in mine.numbers if base_name(label) == WITH_SINKER])
            findings = impossible(sunk, self._bench, recipe)
        if any(problem.code != MISSING for problem in findings):
            return _split([*findings, *awaited])
        whole, later = self._whole(sunk, recipe)
        later = [*awaited, *later]
        beside = [(c, whole if c is mine else self._usable(c)) for c in coupons]
        measured = self._measure(whole, [peer for _, peer in beside if peer is not None])
        unreadable = _unreadable(table, problems)
        impossible_ones = (c for c, peer in beside if peer is None or c.specimen in unreadable - {specimen})
        wrong = [coupon.specimen for coupon in impossible_ones if not coupon.word("excluded")]
        everything = _said(measured, whole, later, wrong)
        if len(rows) > len(mine.fields):  # its other fields are still to be counted
            waits = tuple(p for p in everything.doubtful if p.code == "one-field")
            doubtful = tuple(p for p in everything.doubtful if p.code != "one-field")
            return replace(everything, doubtful=doubtful, later=(*everything.later, *waits))
        return everything

    def _whole(self, coupon: Coupon, recipe: Recipe) -> tuple[Coupon, list[Problem]]:
        """The coupon without the readings that wait for others, and what they wait for."""
        later = waiting(coupon)
        while True:
            problems = [p for p in impossible(coupon, self._bench, recipe) if p.code == MISSING]
            without = {problem.place for problem in problems}
            labels = {label for label in coupon.numbers if coupon.places[label] in without}
            later += problems
            if not problems or not labels:
                return coupon, later
            coupon = _without(coupon, labels)

    def _usable(self, coupon: Coupon) -> Coupon | None:
        """The coupon as far as it can be evaluated, None where it cannot."""
        try:
            recipe = self._choose(coupon).recipe if coupon.kind == "specimen" else NOTHING
        except Refused:
            return None
        whole, _ = self._whole(coupon, recipe)
        return None if impossible(whole, self._bench, recipe) else whole

    def _measure(self, mine: Coupon, coupons: Sequence[Coupon]) -> Measurement | None:
        """The table as far as it can be evaluated, in its order; else this specimen, one of it, alone."""
        limits = self.case.part.limits
        if self._usable(mine) is None:
            return None
        for together in (coupons, [mine]):
            with suppress(Refused):
                return measure(
                    Coupons(tuple(together), ()),
                    self._bench,
                    self._choose,
                    confidence=limits.confidence,
                    coverage_factor=limits.coverage_factor,
                    checked=0,  # the bench must answer at once; the report checks by Monte Carlo
                )
        return None


def _unreadable(table: Table, problems: Iterable[Problem]) -> set[str]:
    """The specimens of the rows in which something cannot be read."""
    places = {problem.place for problem in problems if problem.code != "missing-points"}
    rows = table.rows if places else ()
    wrong = (row for row in rows if places & {table.place(row, h) for h in table.headings})
    return {table.text(row, "specimen") for row in wrong}


def _sinker_may_explain(problems: Iterable[Problem], coupon: Coupon, table: Table) -> Problem | None:
    """The finding about the mass in liquid where the coupon's cell for a sinker is there and still empty."""
    if coupon.has(SINKER) or SINKER not in [heading.name for heading in table.headings]:
        return None
    place = coupon.place(WITH_SINKER)
    return next((problem for problem in problems if problem.place == place and problem.code in SINKING), None)


def _without(coupon: Coupon, labels: Collection[str]) -> Coupon:
    """The coupon as if some readings had not been taken yet."""
    numbers = {label: number for label, number in coupon.numbers.items() if label not in labels}
    texts = {label: text for label, text in coupon.texts.items() if label not in labels}
    return replace(coupon, numbers=numbers, texts=texts)


def _split(problems: Collection[Problem], waiting_codes: Collection[str] = (MISSING, AWAITED)) -> Findings:
    """What cannot be, and what is still missing: the findings of these codes."""
    later = tuple(problem for problem in problems if problem.code in waiting_codes)
    return Findings(tuple(problem for problem in problems if problem not in later), (), later)


def _said(measured: Measurement | None, mine: Coupon, later: list[Problem], wrong: list[str]) -> Findings:
    """The findings about a specimen; wrong: names of the others that cannot be so."""
    if measured is None:
        return Findings((), (), tuple(later), elsewhere=tuple(wrong))
    places = {*(place for _, place in mine.cells()), mine.place("specimen")}
    doubtful = tuple(problem for problem in measured.warnings if problem.place in places)
    specimen = next((s for s in (*measured.specimens, *measured.prepregs) if s.coupon is mine), None)
    best = specimen.best if specimen else {}
    shown = [(attribute, best[attribute]) for attribute in SHOWN if attribute in best]
    derived = tuple(Derived(a, made.value, measured.expanded(made)[1], made.method) for a, made in shown)
    coverage = f"± covers {100.0 * (measured.confidence or 0.95):.4g} %"
    if measured.coverage_factor is not None:
        coverage = f"± is {measured.coverage_factor:g} standard uncertainties"
    others = [s for s in measured.specimens if s is not specimen]
    open_ = [s.name for s in others if any(not isinstance(warning, Answered) for warning in s.warnings)]
    elsewhere = tuple(dict.fromkeys([*wrong, *open_]))
    return Findings((), doubtful, tuple(later), derived, coverage if derived else "", elsewhere)
