"""Moments and margins of a logged cycle, by straight lines between its rows."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from laminate.curing.answers import AT_GEL, Event, Known
from laminate.curing.bearing import OFTEN
from laminate.curing.pressing import ATMOSPHERE, vapor_pressure
from laminate.curing.straight_lines import first_above, rises
from laminate.curing.view import furthest, gel_times
from laminate.press.case import wanted_pressure
from laminate.values.quantities import DEG_C, MPA
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.curing.answers import ZoneCycle
    from laminate.curing.scenario import Outcome, Outcomes
    from laminate.curing.thermometers import Sensor
    from laminate.curing.view import View

AFTER = 1e-6
"""So soon after a moment it counts as over [s]: what presses steps from gas to resin there."""
NEAR_THE_HIGHEST = 3.0
BOILING = 373.15
GIVES_WAY = "the tool can open or break"
"""What a caution says that stands under the answer, whatever else is left to --why."""


class AtRows(NamedTuple):
    """Pressures at every row [Pa]: of resin and vapor, absolute, and what is applied, over ambient."""

    resin: np.ndarray
    vapor: np.ndarray
    applied: np.ndarray


def _spread(times: np.ndarray) -> float | None:
    there = times[np.isfinite(times)]
    return float(there.std()) if there.size > 0.9 * times.size and there.size > 1 else None


def gel(zone_cycle: ZoneCycle, view: View, nominal: Outcome) -> None:
    """Events of first and last gel, as best known."""
    times = gel_times(view)
    first, last = min(times), max(times)
    if math.isfinite(first):
        _add(zone_cycle, view, "gel first", first, _spread(nominal.first))
    if math.isfinite(last):
        _add(zone_cycle, view, "gel last", last, _spread(nominal.last))
    elif math.isfinite(first):
        zone_cycle.unknown["gel last"] = "the log ends before the coldest sensor's gel"


def _add(zone_cycle: ZoneCycle, view: View, name: str, time: float, u: float | None = None) -> None:
    """Note a moment with the hottest temperature and the pressure then, in the order of time."""
    hot = float(np.interp(time, view.seconds, view.heat.hottest()))
    resin = view.presses.resin(np.array([time]))
    zone_cycle.events.append(Event(name, Known(time, u), hot, None if resin is None else float(resin[0])))
    zone_cycle.events.sort(key=lambda event: event.time.value)


def _last_run(seconds: np.ndarray, over: np.ndarray, end: float) -> float | None:
    """Start of the run of `over` > 0 that lasts until `end` [s]; None where it is not over then."""
    if float(np.interp(end, seconds, over)) <= 0.0:
        return None
    below = np.flatnonzero(over[: int(np.searchsorted(seconds, end, side="right"))] <= 0.0)
    at = int(below[-1]) if below.size else 0
    return first_above(seconds[at:], over[at:])


def _pressed(view: View, vapor: np.ndarray, mechanical: float, until: float) -> float | None:
    """When the resin's pressure rises above that of its vapor for good, from where it is pressed on [s]."""
    at = np.append(mechanical + AFTER, view.seconds[view.seconds > mechanical + AFTER])
    resin = view.presses.resin(at)
    assert resin is not None  # something says it, or nothing is pressed
    pressed = _last_run(at, resin - np.interp(at, view.seconds, vapor), until)
    return mechanical if pressed == at[0] else pressed


def curve_crosses(
    zone_cycle: ZoneCycle, view: View, name: str, seconds: np.ndarray, curves: np.ndarray
) -> bool:
    """Add the event at which curves (times, columns) first rise above 0; False where the first never does."""
    times = rises(seconds, curves)
    crosses = bool(np.isfinite(times[0]))
    if crosses:
        _add(zone_cycle, view, name, float(times[0]), _spread(times[1:]) or None)
    return crosses


def touch(zone_cycle: ZoneCycle, view: View) -> None:
    """When the last core touches the laminate as laid up, and the pressure where it locks like that."""
    laid_up = view.presses.laid_up
    if laid_up is None:
        return
    if laid_up.locked is not None:
        zone_cycle.readings["highest pressure, locked"] = Known(laid_up.locked)
    if not curve_crosses(zone_cycle, view, "touch", laid_up.seconds, -laid_up.gap):
        zone_cycle.unknown["touch"] = "the core does not reach the laminate in this cycle"


def clamp_reached(zone_cycle: ZoneCycle, view: View) -> None:
    """When what the clamp or the walls hold is reached."""
    presses = view.presses
    if presses.limit is None or presses.cores is None:
        return
    over = presses.cores.most - presses.limit
    often = presses.opens_before(np.full(presses.cores.draws, np.inf))
    reached = curve_crosses(zone_cycle, view, "clamp reached", presses.cores.seconds, over)
    if reached or often > OFTEN:
        how = "" if reached else f", in {100.0 * often:.0f} % of the draws"
        zone_cycle.warnings.append(f"clamp or pressure limit reached{how}: {GIVES_WAY}")
    if not reached:
        zone_cycle.unknown["clamp reached"] = "not reached in this cycle, as best known"


def pressure_and_vapor(zone_cycle: ZoneCycle, view: View, outcomes: Outcomes) -> None:
    """Events of pressure, the vapor margin, spells before and after, as best known."""
    seconds, hot, presses = view.seconds, view.heat.hottest(), view.presses
    vapor = zone_cycle.humidity * vapor_pressure(hot)
    resin = presses.resin(seconds)
    if zone_cycle.curves is not None:
        zone_cycle.curves.vapor, zone_cycle.curves.resin = vapor, resin
    _add(zone_cycle, view, "peak temperature", float(seconds[int(np.argmax(hot))]))
    applied = presses.over_ambient(seconds)
    if resin is None or applied is None:
        _not_known(zone_cycle, "; ".join(presses.why) or "no pressure is logged")
        return
    start = float(np.max(applied)) * 0.05
    if np.any(applied > start) and start > 0.0 and not presses.by_balance:
        _add(zone_cycle, view, "first pressure", first_above(seconds, applied - start))
    full, cores = presses.liquid_full(), presses.cores
    released = first_above(seconds[::-1], (applied - start)[::-1])
    if math.isfinite(full) and cores is not None:
        curve_crosses(zone_cycle, view, "liquid full", cores.seconds, cores.least)
    elif math.isfinite(full):
        _add(zone_cycle, view, "liquid full", full)
    if math.isfinite(released) and applied[-1] <= start:
        _add(zone_cycle, view, "released", released)
    _at_gel(zone_cycle, view, outcomes, AtRows(resin, vapor, applied))


def _not_known(zone_cycle: ZoneCycle, reason: str) -> None:
    for key in (*AT_GEL, "pressed"):
        zone_cycle.unknown.setdefault(key, reason)


def _at_gel(zone_cycle: ZoneCycle, view: View, outcomes: Outcomes, rows: AtRows) -> None:
    gelled = zone_cycle.event("gel first")
    if gelled is None:
        _not_known(zone_cycle, zone_cycle.unknown.get("gel first", "no gel"))
        return
    seconds, gel_at = view.seconds, gelled.time.value
    _pressures(zone_cycle, view, outcomes.nominal, gel_at, rows)
    resin, vapor, closed = rows.resin, rows.vapor, view.presses.closed(rows.applied)
    mechanical = _last_run(seconds, closed, gel_at)
    pressed = None if mechanical is None else _pressed(view, vapor, mechanical, gel_at)
    begun = seconds[np.argmax(closed > 0.0)] if np.any(closed > 0.0) else np.inf
    inside = (seconds >= begun) & (seconds <= gel_at)
    zone_cycle.times_released = int(np.sum((closed[:-1] > 0.0) & (closed[1:] <= 0.0) & inside[1:]))
    if zone_cycle.times_released and zone_cycle.cycle:
        zone_cycle.warnings.append("pressed, then released before gel; its last closing counts")
    if pressed is None:
        how = "released again before" if zone_cycle.times_released else "not pressed when"
        zone_cycle.unknown["pressed"] = f"it was {how} the first of it gelled"
    else:
        until = int(np.searchsorted(seconds, gel_at, side="right"))
        over = closed if pressed == mechanical else resin - vapor
        began = _moment_spread(view, outcomes.at(pressed), over[:until], vapor, pressed == mechanical)
        _add(zone_cycle, view, "pressed", pressed, began)
        share = float(np.interp(pressed, seconds, furthest(view)[0]))
        zone_cycle.gel_clock = replace(zone_cycle.gel_clock, when_pressed=share)
    start = next((time for time in (pressed, mechanical) if time is not None), gel_at)
    before = (seconds <= start) & (vapor > resin)
    if "vapor_margin" in zone_cycle.unknown:
        for key in ("vapor_margin_after_gel", "vapor_before_pressure"):
            zone_cycle.unknown.setdefault(key, zone_cycle.unknown["vapor_margin"])
    else:
        if mechanical is not None:
            _margin(zone_cycle, view, outcomes, (mechanical, start, gel_at))
        _after_gel(zone_cycle, view, gel_at, rows)
        steps = np.diff(seconds, append=seconds[-1])
        lost = float(np.max((vapor - resin)[before])) if before.any() else 0.0
        zone_cycle.vapor_before_pressure = float(steps[before].sum()), lost
        if before.any():
            warning = "vapor above the resin pressure before it was pressed; voids may close again"
            zone_cycle.warnings.append(warning)
    if zone_cycle.gel_clock.start is not None and pressed is not None:
        u = math.hypot(gelled.time.u or 0.0, began or 0.0)
        zone_cycle.readings["time from pressed to gel"] = Known(gel_at - pressed, u or None)
    else:
        why = zone_cycle.unknown.get("gel_clock.start") or zone_cycle.unknown["pressed"]
        zone_cycle.unknown["time from pressed to gel"] = why


def _pressures(zone_cycle: ZoneCycle, view: View, nominal: Outcome, gel_at: float, rows: AtRows) -> None:
    """Applied and resin pressure at first gel."""
    at_gel = float(np.interp(gel_at, view.seconds, rows.applied))
    at_gel = max(at_gel, 0.0) if view.presses.by_balance else at_gel
    there = np.isfinite(nominal.first) & np.isfinite(nominal.applied)
    drawn = np.maximum(nominal.applied, 0.0) if view.presses.by_balance else nominal.applied
    _wanted(zone_cycle, view, drawn[there])
    scatter = float(drawn[there].std()) if there.sum() > 1 else 0.0
    u = scatter if scatter > 1e-9 * abs(at_gel) else None
    zone_cycle.applied_pressure_at_gel = Known(at_gel, u)
    zone_cycle.resin_pressure_at_gel = Known(float(np.interp(gel_at, view.seconds, rows.resin)), u)


def _moment_spread(
    view: View, drawn: Outcome, over: np.ndarray, vapor: np.ndarray, mechanical: bool
) -> float | None:
    """Standard uncertainty of the moment at which it is pressed [s]: each draw has its own.

    drawn: at that moment; over: what rises above 0 then for good, as best known, at the rows until gel [Pa];
    mechanical: whether that is what the laminate needs, else what lies above its vapor. A draw of what is
    logged shifts the whole curve.
    """
    seconds, presses, cores = view.seconds, view.presses, view.presses.cores
    if cores is not None:
        gas = presses.gas_at(cores.seconds)[:, None]
        resin = np.where(cores.least > 0.0, ATMOSPHERE + cores.least, gas)
        above = resin - np.interp(cores.seconds, seconds, vapor)[:, None]
        return _spread(rises(cores.seconds, np.minimum(presses.closed(cores.least), above))[1:])
    lowest = np.minimum.accumulate(over[::-1])[::-1]
    levels = -(drawn.over if mechanical else drawn.slack)
    at = np.searchsorted(lowest, levels, side="right")
    ends = np.clip(at, 1, len(over) - 1)
    steps = over[ends] - over[ends - 1]
    share = np.clip((levels - over[ends - 1]) / np.where(steps > 0.0, steps, 1.0), 0.0, 1.0)
    times = seconds[ends - 1] + share * (seconds[ends] - seconds[ends - 1])
    return _spread(np.where(at < len(over), times, np.inf))


def _wanted(zone_cycle: ZoneCycle, view: View, applied: np.ndarray) -> None:
    """Draws of the pressure at gel [Pa] below what is wanted: said where the verdict asks for vapor alone."""
    wanted = wanted_pressure(view.part, view.zone)
    if wanted is None or view.presses.needed is not None or not applied.size:
        return
    short = float(np.mean(applied < wanted.value))
    if short > OFTEN:
        ask = f" wanted: pressed_at in [zone.{view.zone}] holds the verdict to it"
        start = f"in {100.0 * short:.0f} % of the draws it has less at gel than the "
        zone_cycle.warnings.append(Said(start, Figure(wanted.value, MPA), ask))


def _margin(
    zone_cycle: ZoneCycle, view: View, outcomes: Outcomes, moments: tuple[float, float, float]
) -> None:
    """The smallest margin until gel; moments: pressed mechanically, above its vapor too, gel [s].

    How a log rose to its first row nothing says. A plan that rises through its vapor begins at 0 in any draw.
    """
    seconds, (mechanical, start, gel_at) = view.seconds, moments
    vapor = zone_cycle.humidity * vapor_pressure(view.heat.hottest())
    times = np.append(seconds[(seconds >= start) & (seconds <= gel_at)], gel_at)
    if zone_cycle.cycle:
        times = np.append(start + AFTER, times[times > start + AFTER])
    resin = view.presses.resin(times)
    assert resin is not None
    values = resin - np.interp(times, seconds, vapor)
    if zone_cycle.cycle:
        u = _deviation(outcomes.nominal.slack)
        zone_cycle.readings["vapor margin at gel"] = Known(float(values[-1]), u)
    if zone_cycle.cycle and start > mechanical:
        zone_cycle.vapor_margin = Known(0.0)
    else:
        least = int(np.argmin(values))
        at_gel = least == len(times) - 1  # when it gels is not known either
        slack = outcomes.nominal.slack if at_gel else outcomes.at(float(times[least])).slack
        slack = slack[np.isfinite(outcomes.nominal.first)]
        zone_cycle.vapor_margin = Known(float(values[least]), _deviation(slack))
    zone_cycle.readings["vapor margin"] = zone_cycle.vapor_margin


def _deviation(drawn: np.ndarray) -> float | None:
    """Standard deviation of the draws that are known, None where there is none."""
    known = drawn[np.isfinite(drawn)]
    return float(known.std()) or None if known.size > 1 else None


def _after_gel(zone_cycle: ZoneCycle, view: View, gel_at: float, rows: AtRows) -> None:
    margin, closed = rows.resin - rows.vapor, view.presses.closed(rows.applied)
    seconds, hot = view.seconds, view.heat.hottest()
    later = seconds >= gel_at
    cool = later & (hot < BOILING)
    until = seconds[int(np.argmax(cool))] if cool.any() else np.inf
    after = margin[later & (seconds < until)]
    if after.size:
        zone_cycle.vapor_margin_after_gel = float(after.min())
        opened = (np.cumsum(closed > 0.0) > 0) & later & (seconds < until) & (margin < 0.0) & (closed <= 0.0)
        if opened.any():
            warning = "opened hot: after gel its vapor pressed more than the press; it can blister a good "
            zone_cycle.warnings.append(f"{warning}part")
    else:
        words = Said("below ", Figure(BOILING, DEG_C), ", or the log ends, right after gel")
        zone_cycle.unknown["vapor_margin_after_gel"] = words


def readings(zone_cycle: ZoneCycle, view: View) -> None:
    """Cure temperature and peak of the laminate's own sensors."""
    if not view.heat.own:
        for key in ("peak temperature", "cure temperature", "time above"):
            zone_cycle.unknown[key] = "no laminate sensor in the zone"
        return
    sensors = view.heat.sensors
    hottest = max(sensors, key=lambda sensor: float(sensor.known.values.max()))
    zone_cycle.readings["peak temperature"] = Known(float(hottest.known.values.max()), hottest.u or None)
    coldest = min(sensors, key=cure_mean)
    zone_cycle.readings["cure temperature"] = Known(cure_mean(coldest), coldest.u or None)
    for rule in view.part.limits.rules:
        if rule.process and rule.attribute == "time above" and rule.temperature is not None:
            zone_cycle.readings["time above"] = time_above(sensors, rule.temperature.value)


def cure_mean(sensor: Sensor, most: float = math.inf) -> float:
    """Time-weighted mean while within 3 K of the highest [K]; most: no reading counts for longer [s]."""
    seconds, values = sensor.known.seconds, sensor.known.values
    near = values >= values.max() - NEAR_THE_HIGHEST
    weights = np.gradient(seconds) if len(seconds) > 1 else np.ones(1)
    return float(np.average(values[near], weights=np.clip(weights[near], 1e-12, most)))


def time_above(sensors: list[Sensor], temperature: float) -> Known:
    """How long the coldest sensor was above a temperature, with what the sensor's error makes of it [s]."""
    durations = []
    for sensor in sensors:
        read, levels = sensor.known, (temperature + shift for shift in (0.0, sensor.u, -sensor.u))
        value, low, high = (above(read.seconds, read.values, level) for level in levels)
        durations.append(Known(value, max(value - low, high - value) or None))
    return min(durations, key=lambda duration: duration.value)


def above(seconds: np.ndarray, values: np.ndarray, level: float) -> float:
    """How long a curve lies above a level, by straight lines [s]."""
    over = values - level
    high, low = np.maximum(over[1:], over[:-1]), np.minimum(over[1:], over[:-1])
    share = np.clip(high, 0.0, None) / np.where((low < 0.0) & (high > 0.0), high - low, np.inf)
    return float(np.sum(np.diff(seconds) * np.where((low >= 0.0) & (high > 0.0), 1.0, share)))
