"""A zone of a logged batch: from its curves to the verdict, every unknown resolved to the safe side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.curing import events, rules
from laminate.curing.answers import CANNOT, IN_TIME, LATE, VAPOR, Chance, Curves, GelClock, Known, ZoneCycle
from laminate.curing.charges import UNKNOWN_START, contents
from laminate.curing.draws import DRAWS, SEED, generator
from laminate.curing.matters import what_matters
from laminate.curing.pressing import pressing
from laminate.curing.scenario import Drawn, Outcome, draw, gels, outcome
from laminate.curing.thermometers import Sensor, thermometers
from laminate.curing.view import View, furthest, nominal_clock

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.cycle_keys import Log
    from laminate.files.log_file import LogFile

SAMPLING = 0.0065
"""Three standard errors of a share of 5 % in 10 000 draws: the seed does not decide."""
LOW, HIGH = 0.05 - SAMPLING, 0.95 + SAMPLING
LAST_FIFTH = 0.8
SCREENING = "for screening, until the shop's own batches with measured voids stand behind it"


def of_zone(
    case: Case,
    log: Log,
    file: LogFile,
    gone: list[str],
    zone: str,
    thickness: float | None,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
) -> ZoneCycle:
    """The answer for one zone of a log.

    file: the log, cleaned; gone: its sensors that are lost; thickness: of the laminate [m], None where it is
    not known.
    """
    found = ZoneCycle(zone, mended=list(file.mended), left_out=list(file.left_out), screening=[SCREENING])
    found.columns = [(one.name, one.reads) for one in file.channels.values()]
    heat = thermometers(file, gone, case.batch.instrument)
    inside = contents(case.part, zone, case.batch.lot)
    presses = pressing(file, case.part, zone)
    found.humidity = inside.humidity.value if inside.humidity is not None else 1.0
    found.humidity_stated = inside.humidity is not None
    found.not_measured += presses.not_measured
    if heat is None:
        return _nothing(found, "no temperature of the zone is logged")
    view = View(case, log, file, zone, thickness, inside, presses, heat)
    events.readings(found, view)
    if inside.missing or not inside.charges:
        resins = ", ".join(case.part.prepreg[name].resin for name in inside.missing) or "its resin"
        return _nothing(found, f"no gel times: gel_time in [resin.{resins}], or of the lot")
    return _answered(found, view, draws, seed)


def _nothing(found: ZoneCycle, why: str) -> ZoneCycle:
    found.verdict, found.why = CANNOT, [why]
    for key in ("gel_clock", "vapor_margin", "resin_pressure_absolute_at_gel", "chance", "events"):
        found.unknown[key] = why
    return found


def _answered(found: ZoneCycle, view: View, draws: int, seed: int) -> ZoneCycle:
    needed = view.case.part.zone[view.zone].pressed_at
    reader = view.file.channels.get(view.presses.channel)
    name = reader.column.instrument if reader is not None else None
    gauge = view.case.batch.instrument.get(name) if name else None
    instruments = view.case.batch.instrument
    drawn = draw(
        view.inside, view.heat.sensors, view.presses, gauge, instruments, needed, generator(seed), draws
    )
    worst, best, nominal = _scenarios(view, drawn)
    rules.apply(found, view)
    _clock(found, view, nominal)
    events.pressure_and_vapor(found, view, drawn, nominal, needed.value if needed else None)
    _decide(found, view, worst, best)
    if found.verdict == CANNOT and 0.0 < float(np.mean(worst.both)) < 1.0:
        found.matters_most = what_matters(drawn, worst, found)
    _cautions(found)
    return found


def _scenarios(view: View, drawn: Drawn) -> tuple[Outcome, Outcome, Outcome]:
    """Everything unknown toward the soonest gel, toward the latest, and as it is best known."""
    seconds, charges, heat = view.file.seconds, view.inside.charges, view.heat
    plain = [(one.temperature, one) for one in heat.sensors]

    def run(curves: list[tuple[np.ndarray, Sensor]], early: bool, start: float, *, least: bool) -> Outcome:
        ahead = view.ahead if start > 0.0 else 0.0
        first, last = gels(
            seconds, curves, charges, drawn,
            early=early, before=ahead, since=view.since, unknown_start=start,
        )  # fmt: skip
        return outcome(first, last, heat, seconds, view.presses, drawn, least=least)

    return (
        run(heat.worst(), True, UNKNOWN_START, least=True),
        run(plain, False, 0.0, least=False),
        run(plain, True, 0.0, least=True),
    )


def _clock(found: ZoneCycle, view: View, nominal: Outcome) -> None:
    """What the clock says, and events of gel."""
    used, sensor, charge = furthest(view)
    without = nominal_clock(view, sensor, charge, early=False)
    gelled = used >= 1.0
    end = int(np.argmax(gelled)) if gelled.any() else len(used) - 1
    below = float(min(used[end], 1.0) - min(without[end], 1.0))
    start = charge.start
    found.gel_clock = GelClock(
        None if start is None else Known(start.value, start.u),
        None,
        below,
        (charge.coldest, charge.hottest),
    )
    if start is None:
        found.unknown["gel_clock.start"] = "out_life of the resin or out_time of the lot is not stated"
    found.curves = Curves(
        view.file.seconds, {one.name: one.temperature for one in view.heat.sensors}, None, None, used
    )
    if not gelled.any():
        reason = f"the log ends before gel, with {100.0 * used[-1]:.0f} % of the gel clock used"
        found.unknown["gel first"] = reason
        view.blocks.add(reason)
    events.gel(found, view, nominal)


def _decide(found: ZoneCycle, view: View, worst: Outcome, best: Outcome) -> None:
    """One verdict: the order is late, vapor, cannot say, in time."""
    blocks = view.blocks
    late = float(np.mean(best.pressed)) < LOW
    vapor = float(np.mean(best.above)) < LOW and float(np.mean(worst.above)) < LOW
    both = float(np.mean(worst.both))
    if late and not blocks.against(LATE):
        found.verdict, seen = LATE, best
        found.why.append("the resin gelled before the pressure was on, or after it was released")
    elif vapor and not late and not blocks.against(VAPOR):
        found.verdict, seen = VAPOR, worst
        found.why.append("the vapor of its water presses more than the resin when it gels")
    elif both > HIGH and not blocks.against(IN_TIME):
        found.verdict, seen = IN_TIME, worst
    else:
        found.verdict, seen = CANNOT, worst
        wanted = LATE if late else VAPOR if vapor else IN_TIME
        reasons = blocks.against(wanted)
        found.why += list(dict.fromkeys(reasons))
        if not reasons or (wanted == IN_TIME and both <= HIGH):
            worse = "with every unknown taken to the worse side"
            found.why.append(f"the chance that it pressed in time is {both:.0%}, {worse}")
    nothing = view.presses.reading is None and found.verdict != LATE
    if nothing:
        found.unknown["chance"] = "; ".join(view.presses.why)
        return
    no_vapor = "vapor_margin" in found.unknown
    pressed, above = float(np.mean(seen.pressed)), float(np.mean(seen.above))
    found.chance = Chance(
        pressed, None if no_vapor else above, None if no_vapor else float(np.mean(seen.both))
    )


def _cautions(found: ZoneCycle) -> None:
    share = found.gel_clock.when_pressed
    if share is not None and share > LAST_FIFTH:
        found.warnings.append(
            "pressed in the last fifth of the gel clock: the resin hardly flows there any more"
        )
