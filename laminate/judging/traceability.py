"""The instruments of a batch: were they in calibration on the day of measuring."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.coupons.readings import needed
from laminate.files.coupons import NUMBERS

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """One instrument on the day of measuring; reason: why the batch is undecided because of it, else ''."""

    name: str
    identity: str
    certificate: str
    calibrated: dt.date | None
    due: dt.date | None
    state: str
    reason: str


def instruments(case: Case, measured: Measurement) -> list[InstrumentState]:
    """Every instrument of the batch file, and every reading that names none."""
    used: set[str] = set()
    without: dict[str, str] = {}
    for specimen in (*measured.specimens, *measured.prepregs):
        for column in needed(specimen.plan):
            name = measured.bench.gauge(column, specimen.coupon)
            if name in case.batch.instrument:
                used.add(name)
            elif name or NUMBERS[column] in ("mass", "temperature") or column == "thickness":
                without.setdefault(name or column, column)
    day = case.batch.laboratory.measured
    states = [_state(case, name, day, name in used) for name in case.batch.instrument]
    for name, column in without.items():
        found = (
            f"'{name}' read {column}, and is not in the batch file"
            if name != column
            else f"no instrument is stated for {column}"
        )
        states.append(InstrumentState(name, "", "", None, None, found, found))
    return states


def _state(case: Case, name: str, day: dt.date | None, used: bool) -> InstrumentState:
    one = case.batch.instrument[name]

    def state(words: str, bad: bool) -> InstrumentState:
        called = f"{name} {one.identity}".strip()
        reason = f"{called}: {words}" if bad and used else ""
        return InstrumentState(
            name,
            one.identity,
            one.certificate,
            one.calibrated,
            one.due,
            words if used else f"{words}; not used",
            reason,
        )

    if one.due is None:
        # one that is registered must show its date; a bare statement of uncertainty is only said
        return state(
            "no due date of calibration" if one.identity else "not traced: neither identity nor due date",
            bool(one.identity),
        )
    if day is None:
        return state("due date given, but the day of measuring is not", True)
    if one.due < day:
        return state(f"calibration was due on {one.due}, before the day of measuring {day}", True)
    if one.calibrated is not None and one.calibrated > day:
        return state(f"calibrated on {one.calibrated}, after the day of measuring {day}", True)
    return state(f"in calibration until {one.due}", False)
