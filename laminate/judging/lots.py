"""The lots of the prepregs of planned zones: which they are, and whether they were past at molding."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.files.not_recorded import NotRecorded
from laminate.files.reasons import is_stated
from laminate.formulas.number import within
from laminate.judging.open_point import OpenPoint
from laminate.press.pressed import half_width
from laminate.press.stack import prepregs_of
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.batch import Case, Lot
    from laminate.judging.evidence import BatchEvidence

RULE = 7
SHELF, OUT = "shelf life", "life out of the freezer"
TOLD = {
    "expires": ("expires = YYYY-MM-DD", "its expiry date", SHELF),
    "out_time": ('out_time = "... d"', "its out time", OUT),
    "out_life": ('out_life = "... d"', "its out life", OUT),
    "made": ("made = YYYY-MM-DD", "the day it was made", SHELF),
}
"""What a lot tells: the line to write, its words, and the life of the part that it is held against."""


def planned_prepregs(case: Case) -> list[str]:
    """The prepregs of every zone with a plan, in the order of the part file."""
    planned = {p for zone in case.part.plan for p in prepregs_of(case.part, case.part.zone[zone])}
    return [name for name in case.part.prepreg if name in planned]


def lots_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Prepregs without a lot, and lots of which something is not told or that were past on that day."""
    case, planned = judged.case, planned_prepregs(judged.case)
    for prepreg in planned:
        mine = [(i, lot) for i, lot in enumerate(case.batch.lot, 1) if lot.prepreg == prepreg]
        if not mine:
            rest = ", ".join(line for key, (line, *_) in TOLD.items() if key != "made")
            say = f'{case.name}, [[lot]]: prepreg = "{prepreg}", number = "...", {rest}'
            yield OpenPoint(RULE, f"prepreg {prepreg}: no lot is stated", say, True, f"lot.{prepreg}")
        for place, lot in mine:
            yield from _held(case, place, lot)
    if case.batch.batch.molded is None:
        what, say = "the day of molding is not stated", f"{case.name}, [batch]: molded = YYYY-MM-DD"
        for lot in [lot for lot in case.batch.lot if lot.prepreg in planned][:1]:
            yield OpenPoint(RULE, what, say, True, f"lot.{lot.number}")


def _held(case: Case, place: int, lot: Lot) -> Iterator[OpenPoint]:
    stated = case.part.prepreg[lot.prepreg]
    lives = {SHELF: stated.shelf_life, OUT: stated.out_life}
    lacking = [] if is_stated(lot.number) else [("no number", 'number = "..."')]
    for key, (line, words, life) in TOLD.items():
        value, must = getattr(lot, key), lives[life] is not None
        if (key == "made" and not must) or not (value is None or (isinstance(value, NotRecorded) and must)):
            continue
        fault = "is not stated"
        if isinstance(value, NotRecorded):
            fault = f"is not recorded, but the part states a {life}"
        lacking.append((f"{words} {fault}", line if must else f'{line}, or {key} = "not recorded: ..."'))
    if what := [*(fault for fault, _ in lacking), *_past(case, lot)]:
        say = f"{case.name}, lot[{place}]: {', '.join(line for _, line in lacking)}" if lacking else ""
        called = lot.number.strip() or lot.prepreg
        yield OpenPoint(RULE, f"{lot.called} of {lot.prepreg}: {'; '.join(what)}", say, True, f"lot.{called}")


def _past(case: Case, lot: Lot) -> Iterator[str]:
    """What was past on the day of molding."""
    stated, molded = case.part.prepreg[lot.prepreg], case.batch.batch.molded
    if molded is not None:
        ends = [(lot.expires, "expired")] if isinstance(lot.expires, dt.date) else []
        if stated.shelf_life is not None and isinstance(lot.made, dt.date):
            shelf = f"its shelf life of {stated.shelf_life.text} from {lot.made} ended"
            least_life = stated.shelf_life.value - half_width(stated.shelf_life)
            ends.append((lot.made + dt.timedelta(seconds=least_life), shelf))
        if ends and min(ends)[0] < molded:
            yield f"{min(ends)[1]} on {min(ends)[0]}, before it was molded on {molded}"
        if isinstance(lot.made, dt.date) and lot.made > molded:
            yield f"made on {lot.made}, after it was molded on {molded}"
    lives = [life for life in (lot.out_life, stated.out_life) if isinstance(life, SIValue)]
    if lives and isinstance(lot.out_time, SIValue):
        out, least = lot.out_time, min(lives, key=lambda life: life.value - half_width(life))
        if not within(out.value, -math.inf, least.value, half_width(out) + half_width(least)):
            past = "within its ± perhaps past" if within(out.value, -math.inf, least.value) else "past"
            yield f"{out.text} out of the freezer, {past} its out life of {least.text}"
