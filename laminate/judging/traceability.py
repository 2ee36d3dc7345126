"""The instruments of a batch: who they are, and whether they were in calibration on the day of measuring."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.coupons.instruments import USUAL
from laminate.coupons.readings import needed
from laminate.files.batch import Instrument
from laminate.files.coupons import NUMBERS
from laminate.files.not_recorded import NOT_RECORDED, after
from laminate.files.raw_file import path_text
from laminate.files.reasons import is_stated
from laminate.judging.open_point import OpenPoint
from laminate.values.days import days_in

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.coupons import Coupon
    from laminate.judging.evidence import BatchEvidence

RULE = 5
MEASURED = "measured = YYYY-MM-DD"


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """One instrument on the day of measuring.

    stated: what the batch file says of it, nothing where it is not there; reason: why it keeps the batch
    undecided, else ''; say: what would mend it.
    """

    name: str
    stated: Instrument
    state: str
    reason: str = ""
    say: str = ""


def days_of(coupon: Coupon, case: Case) -> set[dt.date]:
    """The days on which a row was measured: those of its `time`, else the laboratory's."""
    measured_on = case.batch.laboratory.measured
    return days_in(coupon.word("time")) or ({measured_on} if measured_on else set())


def instruments_of(judged: BatchEvidence) -> list[InstrumentState]:
    """Every instrument of the batch file, and every deciding reading that names none.

    An instrument that no deciding figure uses keeps nothing open.
    """
    case = judged.case
    days: dict[str, list[set[dt.date]]] = {}
    without: dict[str, str] = {}
    for evidence in judged.fed:
        dates = days_of(evidence.specimen.coupon, case)
        for column, name in judged.read_by(evidence):
            if name in case.batch.instrument:
                days.setdefault(name, []).append(dates)
            else:
                without.setdefault(name or USUAL.get(NUMBERS[column], column), column)
    bench = judged.measured.bench
    used = {bench.gauge(column, s.coupon) for s in judged.specimens for column in needed(s.plan)}
    states = [
        _state(case, name, days[name]) if name in days else _aside(case, name, name in used)
        for name in case.batch.instrument
    ]
    for name, column in without.items():
        fault = f"no instrument is stated for {column}"
        keys = 'identity = "...", repeatability = "... (standard)", calibration = "... (standard)", '
        keys += "calibrated = YYYY-MM-DD, due = YYYY-MM-DD"
        say = f"{case.name}, [{path_text(('instrument', name))}]: {keys}"
        states.append(InstrumentState(name, Instrument(), fault, fault, say))
    return states


def _aside(case: Case, name: str, used: bool) -> InstrumentState:
    """An instrument that no deciding figure uses."""
    instrument, day = case.batch.instrument[name], case.batch.laboratory.measured
    of_log = any(column.instrument == name for log in case.batch.log for column in log.columns.values())
    if of_log:
        day = case.batch.batch.molded
    faults = "; ".join(fault for fault, _ in _faults(instrument, {day} if day else set(), day is None))
    use = "the press's log uses it" if of_log else "no deciding figure uses it" if used else "not used"
    return InstrumentState(name, instrument, f"{faults or in_order(instrument)}; {use}")


def in_order(instrument: Instrument) -> str:
    """The words for an instrument that nothing is wrong with."""
    untraced = instrument.traceable
    return f"not traceable: {untraced}" if untraced else f"in calibration until {instrument.due}"


def _state(case: Case, name: str, days: list[set[dt.date]]) -> InstrumentState:
    """An instrument that deciding figures use; days: on which each of these was measured."""
    instrument = case.batch.instrument[name]
    faults = list(_faults(instrument, set().union(*days), not all(days)))
    words = "; ".join(fault for fault, _ in faults)
    called = f"{name} {instrument.identity}".strip()
    keys = ", ".join(line for _, line in faults if line and line != MEASURED)
    lines = [f"{case.name}, [instrument.{path_text((name,))}]: {keys}"] if keys else []
    lines += [f"{case.name}, [laboratory]: {MEASURED}"] if MEASURED in dict(faults).values() else []
    reason = f"{called}: {words}" if faults else ""
    return InstrumentState(name, instrument, words or in_order(instrument), reason, "; ".join(lines))


def _faults(instrument: Instrument, days: set[dt.date], undated: bool) -> Iterator[tuple[str, str]]:
    """What is not in order on the days of measuring, each with the line that would mend it."""
    start, due, untraced = instrument.calibrated, instrument.due, bool(instrument.traceable)
    if not is_stated(instrument.identity) or after(instrument.identity, NOT_RECORDED) is not None:
        yield "no identity", 'identity = "..."'
    if due is None and not untraced:
        yield "no due date of calibration", 'due = YYYY-MM-DD, or traceable = "no: ..."'
    if start is None and not untraced:
        yield "no date of calibration", "calibrated = YYYY-MM-DD"
    if undated and not (untraced and due is None and start is None):
        yield "due date given, but the day of measuring is not", MEASURED
    for fault in past_due(instrument, days):
        yield fault, ""


def past_due(instrument: Instrument, days: Iterable[dt.date], of: str = "measuring") -> list[str]:
    """What says that an instrument was not in calibration on some days; of: what was done on them."""
    start, due = instrument.calibrated, instrument.due
    late = next((day for day in sorted(days) if due is not None and due < day), None)
    faults = [f"calibration was due on {due}, before the day of {of} {late}"] if late is not None else []
    early = next((day for day in sorted(days) if start is not None and start > day), None)
    return [*faults, f"calibrated on {start}, after the day of {of} {early}"] if early is not None else faults


def instruments_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """The instruments of deciding figures that nobody can trace."""
    for state in instruments_of(judged):
        if state.reason:
            yield OpenPoint(RULE, state.reason, state.say, True, f"instrument.{state.name}")
