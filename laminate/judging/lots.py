"""The lots of the prepregs of planned zones: which they are, and whether they were past at molding."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from laminate.files.not_recorded import NotRecorded
from laminate.files.reasons import is_told
from laminate.judging.held_back import HeldBack
from laminate.press.stack import prepregs_of

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case, Lot
    from laminate.judging.characteristic import Characteristic

RULE = 7
LINES = {
    "expires": "expires = YYYY-MM-DD",
    "out_time": 'out_time = "... d"',
    "out_life": 'out_life = "... d"',
    "made": "made = YYYY-MM-DD",
}
DAY = 86400.0


def planned_prepregs(case: Case) -> list[str]:
    """The prepregs of every zone with a plan, in the order of the part file."""
    planned = {p for zone in case.part.plan for p in prepregs_of(case.part, case.part.zone[zone])}
    return [name for name in case.part.prepreg if name in planned]


def held_by_lots(case: Case, measured: Measurement, characteristics: list[Characteristic]) -> list[HeldBack]:
    """Prepregs without a lot, and lots of which something is not told or that were past on that day."""
    reasons: list[HeldBack] = []
    for prepreg in planned_prepregs(case):
        mine = [(i, lot) for i, lot in enumerate(case.batch.lot, 1) if lot.prepreg == prepreg]
        if not mine:
            rest = ", ".join(LINES[key] for key in ("expires", "out_time", "out_life"))
            say = f'{case.name}, [[lot]]: prepreg = "{prepreg}", number = "...", {rest}'
            reasons.append(HeldBack(RULE, f"prepreg {prepreg}: no lot is told", say, True, f"lot.{prepreg}"))
        for place, lot in mine:
            reasons += _held(case, place, lot)
    if planned_prepregs(case) and case.batch.batch.molded is None:
        what, say = "the day of molding is not stated", f"{case.name}, [batch]: molded = YYYY-MM-DD"
        names = [lot for lot in case.batch.lot if lot.prepreg in planned_prepregs(case)]
        reasons += [HeldBack(RULE, what, say, True, f"lot.{lot.number}") for lot in names[:1]]
    return reasons


def _held(case: Case, place: int, lot: Lot) -> list[HeldBack]:
    what: list[str] = []
    lines: list[str] = []
    stated = case.part.prepreg[lot.prepreg]
    wanted = {
        "expires": stated.shelf_life is not None,
        "out_time": stated.out_life is not None,
        "out_life": stated.out_life is not None,
        **({"made": True} if stated.shelf_life is not None else {}),
    }
    if not is_told(lot.number):
        what.append("no number")
        lines.append('number = "..."')
    for key, must in wanted.items():
        value = getattr(lot, key)
        if value is None or (isinstance(value, NotRecorded) and must):
            because = (
                f", and the part states a {_life(key)}"
                if isinstance(value, NotRecorded)
                else " is not stated"
            )
            told = "is not recorded" if isinstance(value, NotRecorded) else ""
            what.append(f"{_words(key)} {told}".strip() + because)
            lines.append(LINES[key] if must else f'{LINES[key]}, or {key} = "not recorded: ..."')
    what += _past(case, lot)
    if not what:
        return []
    say = f"{case.name}, lot[{place}]: {', '.join(lines)}" if lines else ""
    called = lot.number.strip() or lot.prepreg
    return [HeldBack(RULE, f"lot {called} of {lot.prepreg}: {'; '.join(what)}", say, True, f"lot.{called}")]


def _words(key: str) -> str:
    known = {"expires": "its expiry date", "made": "the day it was made"}
    return known.get(key, f"its {key.replace('_', ' ')}")


def _life(key: str) -> str:
    return "shelf life" if key in ("expires", "made") else "life out of the freezer"


def _past(case: Case, lot: Lot) -> list[str]:
    """What was past on the day of molding."""
    stated, molded = case.part.prepreg[lot.prepreg], case.batch.batch.molded
    sentences: list[str] = []
    if molded is not None:
        ends = [lot.expires] if isinstance(lot.expires, dt.date) else []
        if stated.shelf_life is not None and isinstance(lot.made, dt.date):
            ends.append(lot.made + dt.timedelta(seconds=stated.shelf_life.value))
        if ends and min(ends) < molded:
            sentences.append(f"expired on {min(ends)}, before it was molded on {molded}")
        if isinstance(lot.made, dt.date) and lot.made > molded:
            sentences.append(f"made on {lot.made}, after it was molded on {molded}")
    lives = [
        life
        for life in (lot.out_life, stated.out_life)
        if life is not None and not isinstance(life, NotRecorded)
    ]
    out = lot.out_time
    if lives and out is not None and not isinstance(out, NotRecorded):
        least = min(lives, key=lambda life: life.value)
        if out.value > least.value:
            sentences.append(f"{out.text} out of the freezer, past its out life of {least.text}")
    return sentences
