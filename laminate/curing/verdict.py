"""The verdict of a zone from its draws: late, vapor, cannot say, in time, and what the gel clock says."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing import events
from laminate.curing.answers import AT_GEL, CANNOT, IN_TIME, LATE, VAPOR, Chance, Curves, GelClock, Known
from laminate.curing.matters import what_matters
from laminate.curing.pressing import needed_of
from laminate.curing.unseen import faster_lot
from laminate.curing.view import furthest, gel_row, nominal_clock
from laminate.curing.without_spread import ask_for
from laminate.values.quantities import MPA
from laminate.values.said import Figure, Said, joined

if TYPE_CHECKING:
    from laminate.curing.answers import Matters, ZoneCycle
    from laminate.curing.draws import Columns, Inputs
    from laminate.curing.scenario import Outcome, Outcomes
    from laminate.curing.view import View

OPEN = 0.05
"""A chance within this of 0 or 1 decides."""
LAST_FIFTH = 0.8
IS_ON = 0.05
"""From such a share of what is wanted, and of the highest, a pressure is on; no source."""
LATE_OR_OFF = "the resin gelled before the pressure was on, or after it was released"
SCREENING = "until the shop's own batches with measured voids are in"
GLASSY = "a resin that turns glassy before it gels does so minutes before its clock"
"""On the page and with --why."""
PLIES = "dry the prepreg as single plies, not in a stack: hours instead of weeks"


def decided_beyond(draws: int, error: float = 0.0) -> tuple[float, float]:
    """Shares below and above which a chance decides: by three sampling errors, so that no seed does.

    error: of the share, where draws are not independent.

    >>> tuple(round(share, 4) for share in decided_beyond(10_000))
    (0.0435, 0.9565)
    """
    error = 3.0 * max(math.sqrt(OPEN * (1.0 - OPEN) / draws), error)
    low = max(OPEN - error, 0.5 / draws)
    return low, 1.0 - low


def holding(holds: np.ndarray, view: View) -> tuple[float, float, float]:
    """Share of the draws in which something holds, and what it must stay below, or pass, to decide.

    Along a log fewer cores are computed than gels are drawn, and each core stands for many draws.
    """
    cores, draws = view.presses.cores, len(holds)
    columns = draws if cores is None else min(draws, cores.draws)
    each = np.arange(draws) % columns
    of_column = np.bincount(each, holds) / np.bincount(each)
    low, high = decided_beyond(draws, float(np.std(of_column)) / math.sqrt(columns))
    return float(np.mean(holds)), low, high


def nothing(zone_cycle: ZoneCycle, why: str) -> ZoneCycle:
    """An answer that cannot say anything at all, for one reason."""
    zone_cycle.verdict, zone_cycle.why = CANNOT, [why]
    for key in ("gel_clock", *AT_GEL, "chance", "events", "matters_most"):
        zone_cycle.unknown[key] = why
    return zone_cycle


def clock(zone_cycle: ZoneCycle, view: View, nominal: Outcome, temperatures: dict[str, np.ndarray]) -> None:
    """What the clock says, and events of gel; temperatures: to draw beside it [K]."""
    used, sensor, charge = furthest(view)
    without = nominal_clock(view, sensor, charge, early=False)
    end = gel_row(view)
    counted = float(min(used[end], 1.0))
    below = counted - float(np.interp(counted, used[: end + 1], without[: end + 1]))
    start = None if charge.start is None else Known(charge.start.value, charge.start.u)
    zone_cycle.gel_clock = GelClock(start, None, below, (charge.coldest, charge.hottest))
    if start is None:
        zone_cycle.unknown["gel_clock.start"] = "out_life of the resin or out_time of the lot is not stated"
    zone_cycle.curves = Curves(view.seconds, temperatures, None, None)
    if used[-1] < 1.0:
        what = "cycle" if zone_cycle.cycle else "log"
        reason = f"the {what} ends before gel, with {100.0 * used[-1]:.0f} % of the gel clock used"
        zone_cycle.unknown["gel first"] = reason
        view.blocks.add(reason)
    events.gel(zone_cycle, view, nominal)


def conclude(
    zone_cycle: ZoneCycle, view: View, outcomes: Outcomes, inputs: Inputs, columns: Columns | None
) -> ZoneCycle:
    """Moments and margins of pressure, then the verdict with what is said beside it.

    inputs: draws of every cause of error; columns: what the cores were computed from, None without any.
    """
    events.touch(zone_cycle, view)
    events.clamp_reached(zone_cycle, view)
    events.pressure_and_vapor(zone_cycle, view, outcomes)
    worst = outcomes.worst
    decide(zone_cycle, view, worst, outcomes.best)
    zone_cycle.warnings += [words for words, _ in view.presses.doubts if words not in zone_cycle.why]
    open_ = zone_cycle.verdict == CANNOT and zone_cycle.chance.both is not None
    if open_ and 0.0 < float(np.mean(worst.both)) < 1.0:
        zone_cycle.matters_most = _matters(zone_cycle, worst, inputs)
    cautions(zone_cycle)
    faster_lot(zone_cycle, view)
    not_there(zone_cycle, view)
    if columns is not None and columns.usual:
        ask_for(zone_cycle, inputs, columns.bare, worst.slack)
    return zone_cycle


def _matters(zone_cycle: ZoneCycle, worst: Outcome, inputs: Inputs) -> Matters | None:
    """What matters most: to the vapor, or to what presses and when where that holds no more often."""
    if np.mean(worst.pressed) > np.mean(worst.above):
        return what_matters(inputs, worst.slack, 0.0)
    if zone_cycle.cycle:
        return what_matters(inputs, worst.over, 0.0)
    pressed = zone_cycle.event("pressed")
    return what_matters(inputs, worst.first, pressed.time.value if pressed else None)


def decide(zone_cycle: ZoneCycle, view: View, worst: Outcome, best: Outcome) -> None:
    """One verdict: the order is late, vapor, cannot say, in time."""
    blocks = view.blocks
    pressed, low, _ = holding(best.pressed, view)
    late = pressed < low
    vapor = all(share < low for share, low, _ in (holding(way.above, view) for way in (best, worst)))
    both, few, high = holding(worst.both, view)
    seen = worst
    if late and not blocks.against(LATE):
        zone_cycle.verdict, seen = LATE, best
        zone_cycle.why.append(_why_late(zone_cycle, view))
    elif vapor and not late and not blocks.against(VAPOR):
        zone_cycle.verdict = VAPOR
        zone_cycle.why.append("the vapor of its water presses more than the resin when it gels")
    elif both > high and not blocks.against(IN_TIME):
        zone_cycle.verdict = IN_TIME
    else:
        zone_cycle.verdict = CANNOT
        presses = "presses" if zone_cycle.cycle else "pressed"
        sentence = f"the chance that it {presses} in time is {_chances(both, float(np.mean(best.both)))}"
        sentence += "; more draws may decide (--draws)" if 1.0 - OPEN < both <= high else ""
        sentence += _not_read(view, worst)
        reasons = blocks.against(LATE if late else VAPOR if vapor else IN_TIME)
        reasons = reasons or (blocks.against(LATE) if both < few else [])
        zone_cycle.why += list(dict.fromkeys(reasons)) or [sentence]
    kept_back = blocks.against(IN_TIME)
    if kept_back or (view.presses.reading is None and zone_cycle.verdict != LATE):
        # draws tell nothing of what keeps the verdict back: a number would look better than what is known
        zone_cycle.unknown["chance"] = joined("; ", [*dict.fromkeys(kept_back or view.presses.why)])
        return
    pressed = float(np.mean(seen.pressed))
    zone_cycle.chance = Chance(pressed, float(np.mean(seen.above)), float(np.mean(seen.both)))
    if "vapor_margin" in zone_cycle.unknown:
        zone_cycle.chance = Chance(pressed, None, None)


def _why_late(zone_cycle: ZoneCycle, view: View) -> str:
    """Why it was late: not pressed yet, or no more, or pressed all along with less than is wanted."""
    place, needed = view.part.zone[view.zone], needed_of(view.part, view.zone)
    applied, at_gel = view.presses.over_ambient(view.seconds), zone_cycle.applied_pressure_at_gel
    if applied is None or at_gel is None or needed is None or np.any(view.presses.closed(applied) > 0.0):
        return LATE_OR_OFF
    if at_gel.value < IS_ON * max(needed.value, float(applied.max())):
        return LATE_OR_OFF
    asks = f"pressed_at in [zone.{view.zone}]"
    if place.pressed_at is None or place.pressed_at.value < needed.value:
        where = f"zone.{view.zone}" if place.room is None else f"room.{place.room}"
        asks = f"wanted_pressure in [{where}]"
    start, over = "the pressure was on when the resin gelled, and too low: ", " over ambient, of the "
    pressed, wanted = (Figure(known.value, MPA, digits=3) for known in (at_gel, needed))
    return Said(start, pressed, over, wanted, f" of {asks}")


def _chances(worse: float, better: float) -> str:
    """The chance with what is unknown taken to the worse side, and to the better where that differs."""
    least, most = (f"{100.0 * share:.3g}" for share in (worse, better))
    if least == most:
        return f"{least} %, with every unknown taken to the worse side"
    return f"{least} to {most} %, with unknowns at worst and at best"


def _not_read(view: View, worst: Outcome) -> str:
    """That the pressure is not known where many draws gel, '' where it is."""
    reading, gelled = view.presses.reading, worst.first[np.isfinite(worst.first)]
    if reading is None or view.presses.cores is not None:
        return ""
    least, most = (reading.bound(gelled, least=least) for least in (True, False))
    if np.sum(~reading.known(gelled) | (least < most)) <= OPEN * gelled.size:
        return ""
    return "; when it may gel, readings of the pressure are too far apart"


def not_there(zone_cycle: ZoneCycle, view: View) -> None:
    """Say of every moment and number that is not there why it is not."""
    presses = view.presses
    no_pressure = "; ".join(presses.why) or "no pressure is logged"
    never = no_pressure if presses.reading is None else "never in this cycle"
    reasons = {
        "first pressure": "a core presses as soon as it is liquid full" if presses.by_balance else never,
        "touch": "no rubber core presses",
        "liquid full": never,
        "released": never,
        "gel last": zone_cycle.unknown.get("gel first", never),
    }
    for name, reason in reasons.items():
        if zone_cycle.event(name) is None:
            zone_cycle.unknown.setdefault(name, reason)
    if zone_cycle.vapor_margin is None:
        zone_cycle.unknown.setdefault("vapor_margin", zone_cycle.unknown.get("pressed", never))
    if zone_cycle.gel_clock.when_pressed is None:
        zone_cycle.unknown["gel_clock.when_pressed"] = zone_cycle.unknown.get("pressed", never)
    if zone_cycle.matters_most is None:
        zone_cycle.unknown["matters_most"] = "computed only where the chance decides nothing"


def cautions(zone_cycle: ZoneCycle) -> None:
    """Cautions where it was pressed late in the clock, and where vapor counts: how a prepreg is dried.

    Orders of magnitude, from memory, within a factor of 3: 0.15 mm takes 25 min, 3 mm 7 days.
    """
    before, margin = zone_cycle.vapor_before_pressure, zone_cycle.vapor_margin
    if (before is not None and before[0] > 0.0) or (margin is not None and margin.value < 0.0):
        zone_cycle.warnings.append(PLIES)
    share = zone_cycle.gel_clock.when_pressed
    if share is not None and share > LAST_FIFTH:
        warning = "pressed in the last fifth of the gel clock: the resin hardly flows there any more"
        zone_cycle.warnings.append(warning)
