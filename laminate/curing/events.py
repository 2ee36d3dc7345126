"""Moments and margins of a cycle, by straight lines between its rows, each with what is known of it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from laminate.curing.answers import AT_GEL, Event, Known
from laminate.curing.fiber_bed_load import OFTEN
from laminate.curing.pressing import ATMOSPHERE
from laminate.curing.straight_lines import first_above, rises
from laminate.curing.vapor_margins import (
    AFTER,
    AtRows,
    after_gel,
    before_pressed,
    deviation,
    margins,
    smallest_margin,
)
from laminate.curing.view import furthest, gel_times
from laminate.press.case import wanted_pressure
from laminate.values.quantities import MPA
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.curing.answers import Figures
    from laminate.curing.scenario import Outcome, Outcomes
    from laminate.curing.view import View

GIVES_WAY = "the tool can open or break"
"""What a caution says that stands under the answer, whatever else is left to --why."""
PLIES = "dry the prepreg as single plies, not in a stack: hours instead of weeks"
"""How a prepreg is dried where vapor counts. Orders of magnitude, from memory, within a factor of 3: 0.15 mm
takes 25 min, 3 mm 7 days."""
LAST_FIFTH = 0.8
OF_PRESSURE = ("first pressure", "liquid full", "pressed", "released")
"""Moments that readings of pressure tell."""
TO_GEL = "time from pressed to gel"


def _spread(times: np.ndarray) -> float | None:
    there = times[np.isfinite(times)]
    return float(there.std()) if there.size > 0.9 * times.size and there.size > 1 else None


def _event(view: View, name: str, time: float, u: float | None = None) -> Event:
    """A moment, with the hottest temperature and the pressure then where they were read.

    Where it was not read itself, it is known to lie between two others alone.
    """
    read, at = view.read, np.array([time])
    uncomputed = read.computed if read.computed and time > read.computed[0] else None
    ends, why = read.gels.get(name) or (uncomputed if name in (*OF_PRESSURE, "touch") else None), read.missing
    if name in OF_PRESSURE and (gap := view.pressure_gap(time)):
        ends, why = gap
    if ends is not None:
        return Event(name, Known(time, u, ends, (why,)), None, None)
    hot = resin = None
    if all(sensor.known.known(at)[0] for sensor in view.sensors):
        hot = float(np.interp(time, view.seconds, view.thermometers.hottest()))
    if view.pressure_read(time) and not uncomputed:
        resin = view.pressing.resin(at)
    return Event(name, Known(time, u), hot, None if resin is None else float(resin[0]))


def gel(view: View, nominal: Outcome) -> list[Event]:
    """Events of first and last gel, as best known."""
    times = gel_times(view)
    drawn = {"gel first": (min(times), nominal.first), "gel last": (max(times), nominal.last)}
    if math.isfinite(min(times)) and not math.isfinite(max(times)):
        view.notes.unknown["gel last"] = "the log ends before the coldest sensor's gel"
    return [_event(view, n, t, _spread(draws)) for n, (t, draws) in drawn.items() if math.isfinite(t)]


def _last_run(seconds: np.ndarray, over: np.ndarray, end: float) -> float | None:
    """Start of the run of `over` > 0 that lasts until `end` [s]; None where it is not over then."""
    if float(np.interp(end, seconds, over)) <= 0.0:
        return None
    below = np.flatnonzero(over[: int(np.searchsorted(seconds, end, side="right"))] <= 0.0)
    at = int(below[-1]) if below.size else 0
    return first_above(seconds[at:], over[at:])


def _above_vapor(view: View, mechanical: float, until: float) -> float | None:
    """When the resin's pressure rises above that of its vapor for good, from where it is pressed on [s]."""
    at = np.append(mechanical + AFTER, view.seconds[view.seconds > mechanical + AFTER])
    pressed = _last_run(at, margins(view, at), until)
    return mechanical if pressed == at[0] else pressed


def _crosses(view: View, name: str, seconds: np.ndarray, curves: np.ndarray) -> list[Event]:
    """The event at which curves (times, columns) first rise above 0, none where the first never does."""
    times = rises(seconds, curves)
    if not np.isfinite(times[0]):
        return []
    return [_event(view, name, float(times[0]), _spread(times[1:]) or None)]


def touch(view: View) -> list[Event]:
    """When the last core touches the laminate as laid up."""
    laid_up = view.pressing.laid_up
    if laid_up is None:
        return []
    touches = _crosses(view, "touch", laid_up.seconds, -laid_up.gap)
    if not touches:
        view.notes.unknown["touch"] = "the core does not reach the laminate in this cycle"
    return touches


def clamp_reached(view: View) -> list[Event]:
    """When what the clamp or the walls hold is reached."""
    pressing = view.pressing
    if pressing.limit is None or pressing.cores is None:
        return []
    over = pressing.cores.most - pressing.limit
    often = pressing.opens_before(np.full(pressing.cores.draws, np.inf))
    reached = _crosses(view, "clamp reached", pressing.cores.seconds, over)
    if reached or often > OFTEN:
        how = "" if reached else f"chance {100.0 * often:.0f} % that "
        view.notes.warnings.append(f"{how}the limit of clamp or tool is reached: {GIVES_WAY}")
    if not reached:
        view.notes.unknown["clamp reached"] = "not reached with the nominal values"
    return reached


def _moments(view: View, applied: np.ndarray | None) -> list[Event]:
    """Events but for those of gel and for when it is pressed for good; applied: at every row [Pa]."""
    seconds, pressing = view.seconds, view.pressing
    hottest = float(seconds[int(np.argmax(view.thermometers.hottest()))])
    events = [*touch(view), *clamp_reached(view), _event(view, "peak temperature", hottest)]
    if applied is None:
        return events
    start = float(np.max(applied)) * 0.05
    if np.any(applied > start) and start > 0.0 and not pressing.by_balance:
        events.append(_event(view, "first pressure", first_above(seconds, applied - start)))
    full, cores = pressing.liquid_full(), pressing.cores
    released = first_above(seconds[::-1], (applied - start)[::-1])
    if math.isfinite(full) and cores is not None:
        over = cores.least if pressing.by_balance else pressing.closed(cores.least)
        events += _crosses(view, "liquid full", cores.seconds, over)
    elif math.isfinite(full):
        events.append(_event(view, "liquid full", full))
    if math.isfinite(released) and applied[-1] <= start:
        events.append(_event(view, "released", released))
    return events


def pressure_and_vapor(view: View, outcomes: Outcomes, gelled: Figures) -> tuple[Figures, list[str]]:
    """Figures of pressure and vapor, as best known, beside those of gel, and what to mind of them."""
    pressing, cautions = view.pressing, list[str]()
    resin, applied = pressing.resin(view.seconds), pressing.over_ambient(view.seconds)
    events, readings, first = _moments(view, applied), dict(gelled.readings), gelled.event("gel first")
    if pressing.laid_up is not None and pressing.laid_up.locked is not None:
        readings["highest pressure, locked"] = Known(pressing.laid_up.locked)
    figures = replace(gelled, events=[*gelled.events, *events], readings=readings)
    if resin is None or applied is None:
        _not_known(view, "; ".join(pressing.why) or "no pressure is logged")
    elif first is None:
        _not_known(view, view.notes.unknown.get("gel first", "no gel"))
    else:
        figures, cautions = _at_gel(view, outcomes, figures, first, AtRows(resin, view.vapor(), applied))
    return replace(figures, events=sorted(figures.events, key=lambda event: event.time.value)), cautions


def _not_known(view: View, reason: str) -> None:
    for key in (*AT_GEL, "pressed"):
        view.notes.unknown.setdefault(key, reason)


def _at_gel(
    view: View, outcomes: Outcomes, figures: Figures, gelled: Event, rows: AtRows
) -> tuple[Figures, list[str]]:
    """The same with what is told of the pressure until it gels, and after, and what to mind of it."""
    unknown, gel_at, missing = view.notes.unknown, gelled.time.value, view.read.missing
    uncomputed = missing if view.read.computed else ""
    unread = uncomputed
    if not view.pressure_read(gel_at):
        unread = f"{view.pressing.channel} has no valid reading then"
    resin, applied = _pressures(view, outcomes.nominal, gel_at, rows)
    closing = _closing(view, rows, gel_at)
    event, share = _pressed(view, outcomes, rows, closing, gel_at)
    start = next((time for time in (closing.pressed, closing.mechanical) if time is not None), gel_at)
    margin = after = before = None
    readings: dict[str, Known] = {}
    if not (releases := unknown.get("vapor_margin", "")):
        if closing.mechanical is not None:
            if view.cycle:
                slack = deviation(outcomes.nominal.slack)
                readings["vapor margin at gel"] = Known(float(margins(view, np.array([gel_at]))[0]), slack)
            margin = smallest_margin(view, outcomes, (closing.mechanical, start, gel_at), event)
        after = after_gel(view, gel_at, rows)
        before = before_pressed(view, rows, start)
    if margin is not None and not uncomputed:
        readings["vapor margin"] = margin
    if (time := _time_to_gel(view, event, gelled)) is not None:
        readings[TO_GEL] = time
    cautions = [PLIES] if (before and before[0] > 0.0) or (margin and margin.value < 0.0) else []
    if share is not None and share > LAST_FIFTH:
        cautions.append("pressed in the last fifth of the gel clock: the resin hardly flows by then")
    gap = event.time.unread[0] if event is not None and event.time.ends else ""
    given = view.notes.given
    figures = replace(
        figures, events=[*figures.events, *([] if event is None else [event])],
        gel_clock=replace(
            figures.gel_clock, when_pressed=given("gel_clock.when_pressed", share, missing or gap)
        ),
        vapor_margin=given("vapor_margin", margin, unread or releases),
        vapor_margin_after_gel=given("vapor_margin_after_gel", after, uncomputed or releases),
        vapor_before_pressure=given("vapor_before_pressure", before, uncomputed or gap or releases),
        resin_pressure_at_gel=given("resin_pressure_absolute_at_gel", resin, unread),
        applied_pressure_at_gel=given("applied_pressure_at_gel", applied, unread),
        times_released=closing.released, readings=figures.readings | readings,
    )  # fmt: skip
    return figures, cautions


class Closing(NamedTuple):
    """When it was pressed for good before gel [s]: mechanically, above its vapor too; how often released."""

    mechanical: float | None
    pressed: float | None
    released: int


def _closing(view: View, rows: AtRows, gel_at: float) -> Closing:
    seconds, closed = view.seconds, view.pressing.closed(rows.applied)
    mechanical = _last_run(seconds, closed, gel_at)
    pressed = None if mechanical is None else _above_vapor(view, mechanical, gel_at)
    begun = seconds[np.argmax(closed > 0.0)] if np.any(closed > 0.0) else np.inf
    until = (seconds >= begun) & (seconds <= gel_at)
    released = int(np.sum((closed[:-1] > 0.0) & (closed[1:] <= 0.0) & until[1:]))
    if released and view.cycle:
        view.notes.warnings.append("pressed, then released before gel: the last closing counts")
    if pressed is None:
        how = "released again before" if released else "not pressed when"
        view.notes.unknown["pressed"] = f"it was {how} the first of it gelled"
    return Closing(mechanical, pressed, released)


def _pressed(
    view: View, outcomes: Outcomes, rows: AtRows, closing: Closing, gel_at: float
) -> tuple[Event | None, float | None]:
    """The event, and the share of the gel clock that is used then."""
    seconds, pressed = view.seconds, closing.pressed
    if pressed is None:
        return None, None
    mechanical = pressed == closing.mechanical
    until = int(np.searchsorted(seconds, gel_at, side="right"))
    over = view.pressing.closed(rows.applied) if mechanical else rows.resin - rows.vapor
    u = _moment_spread(view, outcomes.at(pressed), over[:until], rows.vapor, mechanical)
    share = float(np.interp(pressed, seconds, furthest(view)[0]))
    return _event(view, "pressed", pressed, u), share


def _time_to_gel(view: View, event: Event | None, gelled: Event) -> Known | None:
    """From pressed to gel, as what was not read leaves it; None without a known start of the clock."""
    unknown, read = view.notes.unknown, view.read
    uncomputed = event is not None and event.time.ends and read.computed
    why_not = read.missing if uncomputed else unknown.get("gel_clock.start", "")
    if event is None or why_not:
        return view.notes.given(TO_GEL, None, why_not or unknown["pressed"])
    pressed, gel_at = event.time, gelled.time.value
    time = Known(gel_at - pressed.value, math.hypot(gelled.time.u or 0.0, pressed.u or 0.0) or None)
    if pressed.ends is not None:
        first, last = pressed.ends
        return replace(time, ends=(gel_at - last, gel_at - first), unread=pressed.unread)
    if why := read.missing or read.apart:
        sooner, later = min(read.first[0] - gel_at, 0.0), max(read.first[1] - gel_at, 0.0)
        return replace(time, ends=(time.value + sooner, time.value + later), unread=(why,))
    return time


def _pressures(view: View, nominal: Outcome, gel_at: float, rows: AtRows) -> tuple[Known, Known]:
    """Resin and applied pressure at first gel."""
    at_gel = float(np.interp(gel_at, view.seconds, rows.applied))
    at_gel = max(at_gel, 0.0) if view.pressing.by_balance else at_gel
    there = np.isfinite(nominal.first) & np.isfinite(nominal.applied)
    drawn = np.maximum(nominal.applied, 0.0) if view.pressing.by_balance else nominal.applied
    _wanted(view, drawn[there])
    scatter = float(drawn[there].std()) if there.sum() > 1 else 0.0
    u = scatter if scatter > 1e-9 * abs(at_gel) else None
    return Known(float(np.interp(gel_at, view.seconds, rows.resin)), u), Known(at_gel, u)


def _moment_spread(
    view: View, drawn: Outcome, over: np.ndarray, vapor: np.ndarray, mechanical: bool
) -> float | None:
    """Standard uncertainty of the moment at which it is pressed [s]: each draw has its own.

    drawn: at that moment; over: what rises above 0 then for good, as best known, at the rows until gel [Pa];
    mechanical: whether that is what the laminate needs, else what lies above its vapor. A draw of what is
    logged shifts the whole curve.
    """
    seconds, pressing, cores = view.seconds, view.pressing, view.pressing.cores
    if cores is not None:
        gas = pressing.gas_at(cores.seconds)[:, None]
        resin = np.where(cores.least > 0.0, ATMOSPHERE + cores.least, gas)
        above = resin - np.interp(cores.seconds, seconds, vapor)[:, None]
        return _spread(rises(cores.seconds, np.minimum(pressing.closed(cores.least), above))[1:])
    lowest = np.minimum.accumulate(over[::-1])[::-1]
    levels = -(drawn.over if mechanical else drawn.slack)
    at = np.searchsorted(lowest, levels, side="right")
    ends = np.clip(at, 1, len(over) - 1)
    steps = over[ends] - over[ends - 1]
    share = np.clip((levels - over[ends - 1]) / np.where(steps > 0.0, steps, 1.0), 0.0, 1.0)
    times = seconds[ends - 1] + share * (seconds[ends] - seconds[ends - 1])
    return _spread(np.where(at < len(over), times, np.inf))


def _wanted(view: View, applied: np.ndarray) -> None:
    """Draws of the pressure at gel [Pa] below what is wanted: said where the verdict asks for vapor alone."""
    wanted = wanted_pressure(view.part, view.zone)
    if wanted is None or view.pressing.needed is not None or not applied.size:
        return
    short = float(np.mean(applied < wanted.value))
    if short > OFTEN:
        ask = f" wanted; write pressed_at in [zone.{view.zone}] to include that in the verdict"
        start = f"chance {100.0 * short:.0f} % that it has less at gel than the "
        view.notes.warnings.append(Said(start, Figure(wanted.value, MPA), ask))
