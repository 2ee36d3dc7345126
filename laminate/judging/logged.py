"""Process readings taken from a batch's logs, and typed ones that its logs contradict."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from laminate.curing.answers import CANNOT, LATE, ZoneCycle
from laminate.files.cycle_keys import FROM_LOG
from laminate.files.raw_file import path_text
from laminate.formulas.conformity import FAILS, UNDECIDED, decide
from laminate.judging.acceptance import UNREAD
from laminate.judging.open_point import OpenPoint
from laminate.judging.traceability import RULE as UNTRACED
from laminate.judging.traceability import past_due
from laminate.values.units import SIValue, kind_of

if TYPE_CHECKING:
    from laminate.curing.answers import Known
    from laminate.files.batch import Case
    from laminate.files.limits import Rule
    from laminate.judging.acceptance import Acceptance
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.evidence import BatchEvidence

    Cycles = Mapping[str, ZoneCycle]
    Hold = Callable[[SIValue | None, str], Characteristic]

CONTRADICTED = 12
"""Number of the rule that a typed value and its log must agree."""
SPARE = "time from pressed to gel"


def cycles_of(case: Case) -> dict[str, ZoneCycle]:
    """What the logs of a batch say, by zone. Raises `Refused`."""
    from laminate.curing.cycling import logged_cycles

    return logged_cycles(case) if case.batch.log else {}


def of_process(case: Case, rule: Rule, cycles: Cycles, hold: Hold) -> Iterator[Characteristic]:
    """A process reading, typed or of a log, held to its limit, which holds in every molded zone.

    hold: a value [SI] held to the limit, or why there is none. After it each zone whose log does not keep to
    the limit. What is typed stands where the log does not tell, and in the zone that it names where the log
    does not break the limit.
    """
    reading = case.batch.process.get(rule.attribute)
    if reading is None:
        yield hold(None, "the batch file has no such reading")
        return
    typed = reading.value
    yield hold(typed, "") if typed else _of_log(case, rule, cycles[reading.zone or ""], hold)
    named = reading.zone or (next(iter(cycles)) if len(cycles) == 1 else "")
    for zone, zone_cycle in cycles.items():
        if not zone_cycle.log or (zone == named and not typed):
            continue
        made = _of_log(case, rule, zone_cycle, hold)
        tells = zone_cycle.readings.get(rule.attribute) or zone_cycle.verdict == LATE or not typed
        if made.decision == FAILS or (made.decision == UNDECIDED and tells and zone != named):
            made.zone = zone
            yield made


def _of_log(case: Case, rule: Rule, zone_cycle: ZoneCycle, hold: Hold) -> Characteristic:
    figure, why = _logged(zone_cycle, rule.attribute)
    if figure is None:
        return hold(None, why)
    text = f"log {zone_cycle.log_file}"
    made = hold(SIValue(figure.value, figure.u, shape="normal" if figure.u else "exact", text=text), "")
    return made if figure.ends is None else _open_ends(made, case, figure, figure.ends)


def _logged(zone_cycle: ZoneCycle, name: str) -> tuple[Known | None, str]:
    """What the log of a zone gives of a process reading, and why it does not."""
    reading, log = zone_cycle.readings.get(name), f"the log of {zone_cycle.zone}"
    if reading is None:
        return None, f"{log} does not give it: {zone_cycle.why_unknown(name) or 'not known'}"
    lost = zone_cycle.why if zone_cycle.verdict == CANNOT else ()
    if name in (SPARE, "vapor margin") and lost:
        return None, f"{log}: {CANNOT}: {'; '.join(lost)}"
    return reading, ""


def _open_ends(made: Characteristic, case: Case, figure: Known, ends: tuple[float, float]) -> Characteristic:
    """Leave a figure of a log undecided that what was not read could put on another side of its limits.

    ends: of the figure [SI]. Outside for certain, whatever was not read, it does not conform.
    """
    sides = {which: _side(held, ends) for which, held in made.held}
    moved = [which for which, side in sides.items() if side == UNDECIDED]
    if FAILS in sides.values() or not moved:
        return made
    for which in moved:
        held = getattr(made, which)
        opened = replace(held, decisions=(UNDECIDED,), decision=UNDECIDED, reasons=(*held.reasons, UNREAD))
        setattr(made, which, opened)
    made.decision, made.probability, made.ways = UNDECIDED, None, []
    say = f'{case.name}, [process."{made.name}"]: value and source of another instrument that read it'
    made.reasons = [f"{UNREAD}: {'; '.join(figure.unread)}; to settle it: {say}"]
    return made


def _side(held: Acceptance, ends: tuple[float, float]) -> str:
    """The decision on a figure wherever between its ends it is, undecided where it is not one."""
    low, high = ends
    limits: dict[str, Any] = {"minimum": held.minimum, "maximum": held.maximum, "guard": held.guard}
    expanded = held.worst.expanded
    decisions = {held.decision, *(str(decide(value=end, expanded=expanded, **limits)) for end in ends)}
    across = decisions == {FAILS} and (
        (held.minimum is None or high >= held.minimum) and (held.maximum is None or low <= held.maximum)
    )
    return UNDECIDED if across or len(decisions) > 1 else decisions.pop()


def logs_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """What the logs of a batch hold back: values that they contradict, and a batch without a coupon."""
    case = judged.case
    yield from contradicted(case, judged.cycles)
    limited = {rule.attribute for rule in case.part.limits.rules if rule.process}
    logged = [n for n, row in case.batch.process.items() if row.value is None and n in limited]
    if logged:
        yield from _unlogged(case, judged.cycles)
        yield from _other_day(case, judged.cycles.values())
        yield from _untraced(case)
    if logged and not any(specimen.counts for specimen in judged.measured.specimens):
        what = "no coupon was measured, and no batch conforms on a log alone"
        yield OpenPoint(
            CONTRADICTED, what, f'{case.name}, [batch]: coupons = ["coupons.csv"]', name="coupons"
        )


def _unlogged(case: Case, cycles: Cycles) -> Iterator[OpenPoint]:
    """Zones of which no log tells, nor stands one with a log for them: limits of the process hold there."""
    logged = {zone for zone, zone_cycle in cycles.items() if zone_cycle.log}
    for zone in (zone for zone in cycles if zone not in logged):
        plan = case.part.plan.get(zone)
        if plan is not None and (plan.not_measured or plan.represented_by in logged):
            continue
        what = f"no log covers zone {zone}, where the process limits apply too"
        say = f'{case.name}, [[log]]: "{zone}" in the zones of the log that has its sensors'
        yield OpenPoint(CONTRADICTED, what, say, name=zone)


def _other_day(case: Case, cycles: Iterable[ZoneCycle]) -> Iterator[OpenPoint]:
    """Logs that begin on another day than the batch was molded: they may be of another batch."""
    for day, file in dict.fromkeys((zone_cycle.day, zone_cycle.log_file) for zone_cycle in cycles):
        if day is not None:
            what = f"log {file} begins on {day}, but the batch was molded on {case.batch.batch.molded}: it "
            say = f"{case.name}, [batch]: molded = {day}, or [[log]]: the right file or dates"
            yield OpenPoint(CONTRADICTED, f"{what}may be of another batch", say, name=file)


def _untraced(case: Case) -> Iterator[OpenPoint]:
    """Columns of the laminate that no instrument in calibration read."""
    day = case.batch.batch.molded
    columns = [row for log in case.batch.log for row in log.columns.items() if row[1].reads == "laminate"]
    for heading in (heading for heading, column in columns if column.instrument is None):
        where = path_text((heading,))
        say = f'{case.name}, [log.columns]: {where} = {{ reads = "laminate", instrument = "..." }}'
        yield OpenPoint(
            UNTRACED, f"no instrument is stated for {heading}", say, True, f"instrument.{heading}"
        )
    for name in dict.fromkeys(column.instrument for _, column in columns if column.instrument is not None):
        instrument = case.batch.instrument[name]
        faults, say = past_due(instrument, [day] if day else [], "molding"), ""
        if instrument.due is None and not instrument.traceable:
            faults, say = ["no due date of calibration"], 'due = YYYY-MM-DD, or traceable = "no: ..."'
            say = f"{case.name}, [instrument.{path_text((name,))}]: {say}"
        elif instrument.due is not None and day is None:
            faults = ["due date given, but not the day of molding"]
            say = f"{case.name}, [batch]: molded = ..."
        if faults:
            what = f"{name} {instrument.identity}".strip()
            yield OpenPoint(UNTRACED, f"{what}: {'; '.join(faults)}", say, True, f"instrument.{name}")


def contradicted(case: Case, cycles: Cycles) -> Iterator[OpenPoint]:
    """Typed readings that differ from the log of their zone by over twice their u, or of one pressed late."""
    for name, reading in case.batch.process.items():
        typed = reading.value
        for zone in [reading.zone] if reading.zone else list(cycles):
            zone_cycle = cycles.get(zone)
            if typed is None or zone_cycle is None or FROM_LOG.get(name) != kind_of(typed.text):
                continue
            logged = zone_cycle.readings.get(name)
            says = zone_cycle.verdict if name == SPARE and zone_cycle.verdict == LATE else ""
            if logged and abs(typed.value - logged.value) > 2.0 * math.hypot(typed.spread, logged.u or 0.0):
                says = "otherwise by more than 2 u"
            if says:
                what = f"{name} was typed as {typed.text}, but the log of {zone} says {says}"
                say = f'{case.name}, [process."{name}"]: from = "log" and zone = "{zone}", or the value '
                yield OpenPoint(CONTRADICTED, what, f"{say}that is right", name=name)
