"""The verdict of a zone from its draws: late, vapor, cannot say, in time, and what the gel clock says."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.curing.answers import AT_GEL, CANNOT, IN_TIME, LATE, VAPOR, Chance, Curves, GelClock, Known
from laminate.curing.events import TO_GEL, pressure_and_vapor
from laminate.curing.pressing import needed_of
from laminate.curing.sensitivity import what_matters
from laminate.curing.unlogged_gel import check_fast_lot, check_outer_plies
from laminate.curing.view import furthest, gel_row, nominal_clock
from laminate.curing.without_spread import ask_for
from laminate.values.quantities import MINUTE, MPA
from laminate.values.said import Figure, Said, joined

if TYPE_CHECKING:
    from laminate.curing.answers import Event, Figures, Matters, Notes, ZoneCycle
    from laminate.curing.draws import Columns, Inputs
    from laminate.curing.scenario import Outcome, Outcomes
    from laminate.curing.view import View

OPEN = 0.05
"""A chance within this of 0 or 1 decides."""
IS_ON = 0.05
"""From such a share of what is wanted, and of the highest, a pressure is on; no source."""
LATE_OR_OFF = "the resin gelled before the pressure was on, or after it was released"
SCREENING = "until the shop's own batches with measured voids are in"
GLASSY = "a resin that turns glassy before it gels stops flowing minutes before the computed gel"
"""On the page and with --why."""


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
    cores, draws = view.pressing.cores, len(holds)
    columns = draws if cores is None else min(draws, cores.draws)
    each = np.arange(draws) % columns
    of_column = np.bincount(each, holds) / np.bincount(each)
    low, high = decided_beyond(draws, float(np.std(of_column)) / math.sqrt(columns))
    return float(np.mean(holds)), low, high


def nothing(blank: ZoneCycle, notes: Notes, why: str) -> ZoneCycle:
    """An answer that cannot say anything at all, for one reason."""
    keys = ("gel_clock", *AT_GEL, "chance", "events", "matters_most")
    notes.unknown.update(dict.fromkeys(keys, why))
    return _made(blank, notes, why=[why])


def _made(blank: ZoneCycle, *parts: Figures | Notes, **more: Any) -> ZoneCycle:
    """An answer with its figures and notes, frozen from here on."""
    of_parts = {each.name: getattr(part, each.name) for part in parts for each in fields(part)}
    return replace(blank, **of_parts, **more)


def clock(view: View) -> GelClock:
    """What the clock says but for when it was pressed."""
    used, sensor, charge = furthest(view)
    without = nominal_clock(view, sensor, charge, early=False)
    end = gel_row(view)
    counted = float(min(used[end], 1.0))
    below = counted - float(np.interp(counted, used[: end + 1], without[: end + 1]))
    start = None if charge.start is None else Known(charge.start.value, charge.start.u)
    unknown = view.notes.unknown
    if start is None:
        unknown["gel_clock.start"] = "out_life of the resin or out_time of the lot is not stated"
    if used[-1] < 1.0:
        what = "cycle" if view.cycle else "log"
        reason = f"the {what} ends before gel, with {100.0 * used[-1]:.0f} % of the gel clock used"
        unknown["gel first"] = reason
        view.objections.add(reason)
    return GelClock(start, None, below, (charge.coldest, charge.hottest))


def conclude(
    blank: ZoneCycle, view: View, outcomes: Outcomes, gelled: Figures,
    temperatures: dict[str, np.ndarray], inputs: Inputs, columns: Columns | None,
) -> ZoneCycle:  # fmt: skip
    """Moments and margins of pressure, then the verdict with what is said beside it.

    blank: the answer without any; gelled: the figures that need no pressure; temperatures: to draw [K];
    inputs: draws of every cause of error; columns: what the cores were computed from, None without any.
    """
    worst, notes = outcomes.worst, view.notes
    figures, cautions = pressure_and_vapor(view, outcomes, gelled)
    pressed = figures.event("pressed")
    verdict, why, chance = decide(view, worst, outcomes.best, figures.applied_pressure_at_gel)
    notes.warnings.extend(words for words, _ in view.pressing.doubts if words not in why)
    matters = None
    if verdict == CANNOT and chance.both is not None and 0.0 < float(np.mean(worst.both)) < 1.0:
        matters = _matters(view, worst, inputs, pressed)
    notes.warnings.extend(cautions)
    if verdict == IN_TIME and pressed is not None:
        check_fast_lot(view, pressed)
    _not_there(view, figures)
    if matters is None:
        notes.unknown["matters_most"] = "computed only where the chance does not settle the verdict"
    if columns is not None and columns.usual:
        why = [*ask_for(inputs, columns.bare, worst.slack), *why]
    check_outer_plies(view, figures)
    notes.unknown.update(_between(view, figures))
    curves = Curves(view.seconds, temperatures, view.pressing.resin(view.seconds), view.vapor())
    return _made(
        blank, notes, figures, verdict=verdict, why=why, chance=chance, matters_most=matters, curves=curves
    )


def _between(view: View, figures: Figures) -> dict[str, str]:
    """Moments, and figures from when it was pressed, that are known to lie in a range alone, in words."""
    known = [(event.event, event.time, MINUTE) for event in figures.events]
    known += [(TO_GEL, figures.readings[TO_GEL], MINUTE)] if TO_GEL in figures.readings else []
    known += [("vapor_margin", figures.vapor_margin, MPA)] if figures.vapor_margin is not None else []
    between: dict[str, str] = {}
    for name, figure, unit in known:
        if figure.ends is not None and figure.unread != (view.read.apart,):
            low, high = (Figure(end, unit, 3) for end in figure.ends)
            between[name] = Said(low, " to ", high, ": ", "; ".join(figure.unread))
    return between


def _matters(view: View, worst: Outcome, inputs: Inputs, pressed: Event | None) -> Matters | None:
    """What matters most: to the vapor, or to what presses and when where that holds no more often."""
    if np.mean(worst.pressed) > np.mean(worst.above):
        return what_matters(inputs, worst.slack, 0.0)
    if view.cycle:
        return what_matters(inputs, worst.over, 0.0)
    return what_matters(inputs, worst.first, pressed.time.value if pressed else None)


def decide(view: View, worst: Outcome, best: Outcome, at_gel: Known | None) -> tuple[str, list[str], Chance]:
    """One verdict, why, and its chance: the order is late, vapor, cannot say, in time.

    at_gel: what is applied then.
    """
    against = view.objections.against
    pressed, low, _ = holding(best.pressed, view)
    late = pressed < low
    vapor = all(share < low for share, low, _ in (holding(way.above, view) for way in (best, worst)))
    both, few, high = holding(worst.both, view)
    seen = worst
    if late and not against(LATE):
        verdict, why, seen = LATE, [_why_late(view, at_gel)], best
    elif vapor and not late and not against(VAPOR):
        verdict, why = VAPOR, ["at gel the pressure of its water vapor is above that of the resin"]
    elif both > high and not against(IN_TIME):
        verdict, why = IN_TIME, []
    else:
        presses = "presses" if view.cycle else "pressed"
        sentence = f"the chance that it {presses} in time is {_chances(both, float(np.mean(best.both)))}"
        sentence += "; more draws may decide (--draws)" if 1.0 - OPEN < both <= high else ""
        sentence += _not_read(view, worst)
        reasons = against(LATE if late else VAPOR if vapor else IN_TIME)
        reasons = reasons or (against(LATE) if both < few else [])
        verdict, why = CANNOT, list(dict.fromkeys(reasons)) or [sentence]
    kept_back = against(IN_TIME)
    if kept_back or (view.pressing.reading is None and verdict != LATE):
        # draws tell nothing of what keeps the verdict back: a number would look better than what is known
        view.notes.unknown["chance"] = joined("; ", [*dict.fromkeys(kept_back or view.pressing.why)])
        return verdict, why, Chance(None, None, None)
    pressed = float(np.mean(seen.pressed))
    if "vapor_margin" in view.notes.unknown:
        return verdict, why, Chance(pressed, None, None)
    return verdict, why, Chance(pressed, float(np.mean(seen.above)), float(np.mean(seen.both)))


def _why_late(view: View, at_gel: Known | None) -> str:
    """Why it was late: not pressed yet, or no more, or pressed all along with less than is wanted."""
    place, needed = view.part.zone[view.zone], needed_of(view.part, view.zone)
    applied = view.pressing.over_ambient(view.seconds)
    if applied is None or at_gel is None or needed is None or np.any(view.pressing.closed(applied) > 0.0):
        return LATE_OR_OFF
    if at_gel.value < IS_ON * max(needed.value, float(applied.max())):
        return LATE_OR_OFF
    asks = f"pressed_at in [zone.{view.zone}]"
    if place.pressed_at is None or place.pressed_at.value < needed.value:
        where = f"zone.{view.zone}" if place.room is None else f"room.{place.room}"
        asks = f"wanted_pressure in [{where}]"
    start, over = "the pressure was on when the resin gelled, but too low: ", " over ambient, not the "
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
    reading, gelled = view.pressing.logged, worst.first[np.isfinite(worst.first)]
    if reading is None:
        return ""
    least, most = (reading.bound(gelled, least=least) for least in (True, False))
    if np.sum(~reading.known(gelled) | (least < most)) <= OPEN * gelled.size:
        return ""
    return "; around gel, readings of the pressure are too far apart"


def _not_there(view: View, figures: Figures) -> None:
    """Say of every moment and number that is not there why it is not."""
    pressing, unknown = view.pressing, view.notes.unknown
    no_pressure = "; ".join(pressing.why) or "no pressure is logged"
    never = no_pressure if pressing.reading is None else "never in this cycle"
    reasons = {
        "first pressure": "the same moment as liquid full, from which a core presses"
        if pressing.by_balance
        else never,
        "touch": "no rubber core presses",
        "liquid full": never,
        "released": never,
        "gel last": unknown.get("gel first", never),
    }
    for name, reason in reasons.items():
        if figures.event(name) is None:
            unknown.setdefault(name, reason)
    if figures.vapor_margin is None:
        unknown.setdefault("vapor_margin", unknown.get("pressed", never))
    if figures.gel_clock.when_pressed is None:
        unknown.setdefault("gel_clock.when_pressed", unknown.get("pressed", never))
