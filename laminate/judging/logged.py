"""Process readings taken from a batch's logs, and typed ones that its logs contradict."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from laminate.curing.answers import CANNOT, ZoneCycle
from laminate.files.cycle_keys import FROM_LOG
from laminate.judging.held_back import HeldBack
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.limits import Rule
    from laminate.judging.evidence import Judged

CONTRADICTED = 12
"""Number of the rule that a typed value and its log must agree."""


def cycles_of(case: Case) -> dict[str, ZoneCycle]:
    """What the logs of a batch say, by zone. Raises `Refused`."""
    from laminate.curing.cycling import logged_cycles

    return logged_cycles(case) if case.batch.log else {}


def process_value(case: Case, rule: Rule, cycles: Mapping[str, ZoneCycle]) -> tuple[SIValue | None, str]:
    """The value of a process reading, typed or of a log, and why there is none [SI]."""
    reading = case.batch.process.get(rule.attribute)
    if reading is None:
        return None, "the batch file has no such reading"
    if reading.value is not None:
        return reading.value[1], ""
    zone_cycle = cycles.get(reading.zone or "")
    return _logged(zone_cycle, rule.attribute) if zone_cycle else (None, "no log tells of its zone")


def _logged(zone_cycle: ZoneCycle, name: str) -> tuple[SIValue | None, str]:
    reading, log = zone_cycle.readings.get(name), f"the log of {zone_cycle.zone}"
    if reading is None:
        why = zone_cycle.unknown.get(name) or zone_cycle.unknown.get(name.replace(" ", "_"), "not known")
        return None, f"{log} does not give it: {why}"
    lost = zone_cycle.why if zone_cycle.verdict == CANNOT else ()
    if name in ("time from pressed to gel", "vapor margin") and lost:
        return None, f"{log}: {CANNOT}: {'; '.join(lost)}"
    text = f"log {zone_cycle.log_file}"
    return SIValue(reading.value, reading.u, shape="normal" if reading.u else "exact", text=text), ""


def held_by_logs(judged: Judged) -> Iterator[HeldBack]:
    """What the logs of a batch hold back: values that they contradict, and a batch without a coupon."""
    case = judged.case
    yield from contradicted(case, judged.cycles)
    limited = {rule.attribute for rule in case.part.limits.rules if rule.process}
    logged = [n for n, row in case.batch.process.items() if row.value is None and n in limited]
    if logged and not any(specimen.counts for specimen in judged.measured.specimens):
        what = "no coupon was measured, and a log alone makes no batch conform"
        say = f'{case.name}, [batch]: coupons = ["coupons.csv"]'
        yield HeldBack(CONTRADICTED, what, say, name="coupons")


def contradicted(case: Case, cycles: Mapping[str, ZoneCycle]) -> Iterator[HeldBack]:
    """Typed readings that differ from the log of their zone by more than twice their uncertainty."""
    for name, reading in case.batch.process.items():
        if reading.value is None:
            continue
        kind, typed = reading.value
        for zone in [reading.zone] if reading.zone else list(cycles):
            logged = cycles[zone].readings.get(name) if zone in cycles else None
            if logged is None or FROM_LOG.get(name) != kind:
                continue
            if abs(typed.value - logged.value) > 2.0 * math.hypot(typed.spread, logged.u or 0.0):
                what = f"{name} was typed as {typed.text}, and the log of {zone} says otherwise by more "
                say = f'{case.name}, [process."{name}"]: from = "log" and zone = "{zone}", or the value '
                yield HeldBack(CONTRADICTED, f"{what}than 2 u", f"{say}that is right", name=name)
