"""A planned cycle in a zone: heat, pressure and gel of every draw, then the verdict at each humidity."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing import events, rules
from laminate.curing.answers import IN_TIME, LATE, VAPOR, Known, Matters, ZoneCycle
from laminate.curing.bearing import share
from laminate.curing.charges import UNKNOWN_START, contents
from laminate.curing.core_heat import highest_locked, widest_gap
from laminate.curing.draws import BELOW_RANGE, Columns, gel_lines, generator, of_value
from laminate.curing.matters import what_matters
from laminate.curing.plan_heat import PlanHeat, heat_of
from laminate.curing.plan_pressure import limit_along, pressing_of
from laminate.curing.pressing import Pressing, Trace, each_at
from laminate.curing.scenario import Outcome, bound, weigh
from laminate.curing.thermometers import Sensor, Thermometers
from laminate.curing.verdict import GLASSY, SCREENING, Outcomes, clock, conclude, nothing
from laminate.curing.view import View
from laminate.formulas.gel_clock import REFERENCE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from laminate.curing.charges import Contents
    from laminate.files.part import Part
    from laminate.values.units import Value

Gels = tuple[np.ndarray, np.ndarray]
DRAWS = 400
NO_REACTION = "no heat of reaction"


@dataclass
class Run:
    """A cycle in a zone, computed for every column.

    lines: a and b of the gel times of each charge; locked: highest pressure where laminates lock as laid up
    [Pa], None where not known.
    """

    part: Part
    cycle: str
    zone: str
    inside: Contents
    columns: Columns
    heat: PlanHeat
    presses: Pressing
    lines: list[tuple[np.ndarray, np.ndarray]]
    locked: float | None

    @property
    def needed(self) -> np.ndarray | None:
        """Draws of what must be applied over ambient [Pa]."""
        value = self.part.zone[self.zone].pressed_at
        return None if value is None else self.columns.of("pressed_at", value)[1:]


def planned(
    part: Part,
    cycle: str,
    zone: str,
    plies: Mapping[str, int],
    humidities: Sequence[Value | None],
    *,
    draws: int = DRAWS,
    seed: int = 1,
    finer: int = 1,
) -> list[ZoneCycle]:
    """The answer for a planned cycle in a zone, one for each humidity, None for one that is not stated.

    plies: all fiber plies by zone, in place of those of the part; finer: so many times the usual steps and
    cells, to see what they cost.
    """
    columns = Columns(generator(seed), draws)
    inside = contents(part, zone, (), planned=True)
    heat = heat_of(part, cycle, zone, plies, columns, finer)
    cycles = [_blank(cycle, zone, humidity) for humidity in humidities]
    if isinstance(heat, list):
        return [nothing(cycle, "write in the part file: " + "; ".join(heat)) for cycle in cycles]
    if inside.missing or not inside.charges:
        resins = ", ".join(part.prepreg[name].resin for name in inside.missing) or "its resin"
        return [nothing(cycle, f"no gel times: gel_time in [resin.{resins}]") for cycle in cycles]
    presses = pressing_of(part, cycle, heat, columns)
    lines = [gel_lines(charge, columns.random, draws, columns.inputs) for charge in inside.charges]
    presses.limit = limit_along(part, cycle, heat, columns)
    locked = None
    if heat.room is not None and presses.by_balance:
        locked = highest_locked(heat.laid, heat.room, heat.cores, heat.tool)
    run = Run(part, cycle, zone, inside, columns, heat, presses, lines, locked)
    gels = (  # what is unknown taken toward the soonest gel, the latest, neither
        _gels(run, early=True, start=1.0, unknown=UNKNOWN_START),
        _gels(run, early=False, start=0.0, unknown=0.0),
        _gels(run, early=True, start=1.0, unknown=0.0),
    )
    return [_answered(run, gels, cycle, value) for cycle, value in zip(cycles, humidities, strict=True)]


def _blank(cycle: str, zone: str, humidity: Value | None) -> ZoneCycle:
    zone_cycle = ZoneCycle(zone, cycle=cycle, screening=[SCREENING, GLASSY, NO_REACTION])
    zone_cycle.humidity = 1.0 if humidity is None else humidity.value
    zone_cycle.humidity_stated = humidity is not None
    return zone_cycle


def _gels(run: Run, *, early: bool, start: float, unknown: float) -> Gels:
    """First and last gel; start: share of the out-life used; unknown: of the clock, where none is stated."""
    seconds, warm, n = run.heat.seconds, run.heat.laminate[..., 1:], run.columns.draws
    first, last = np.full(n, np.inf), np.full(n, -np.inf)
    steps = np.diff(seconds)[:, None, None]
    for charge, (a, b) in zip(run.inside.charges, run.lines, strict=True):
        rate = np.exp(-a - b * (1.0 / warm - 1.0 / REFERENCE))
        if not early:
            rate = np.where(warm < charge.coldest - BELOW_RANGE, 0.0, rate)
        used = np.concatenate(
            [np.zeros((1, *warm.shape[1:])), np.cumsum(steps * (rate[1:] + rate[:-1]) / 2.0, 0)]
        )
        if charge.start:
            whole = run.columns.of(f"{charge.name}: share used before the press", charge.start)[1:]
            used += start * np.clip(whole, 0.0, None)
        else:
            used += unknown
        times = _crossings(seconds, used)
        first, last = np.minimum(first, times.min(axis=0)), np.maximum(last, times.max(axis=0))
    return first, last


def _crossings(seconds: np.ndarray, used: np.ndarray) -> np.ndarray:
    """When rising clocks (times, ...) reach 1 [s]; inf where they do not."""
    at = np.argmax(used >= 1.0, axis=0)[None]
    before = np.maximum(at - 1, 0)
    high, low = np.take_along_axis(used, at, 0)[0], np.take_along_axis(used, before, 0)[0]
    step = np.where(high > low, high - low, 1.0)
    time = seconds[before[0]] + np.clip((1.0 - low) / step, 0.0, 1.0) * (seconds[at[0]] - seconds[before[0]])
    return np.where(used[-1] >= 1.0, time, np.inf)


def _outcome(run: Run, gel: Gels, humidity: np.ndarray, *, least: bool) -> Outcome:
    """Hold pressure and vapor at first gel."""
    first, last = gel
    seconds, draws = run.heat.seconds, np.arange(run.columns.draws)
    at = np.where(np.isfinite(first), first, seconds[-1])
    warm = each_at(seconds, run.heat.laminate.max(axis=1), at, draws + 1)
    vapor = humidity * events.vapor_pressure(warm)
    if run.presses.cores is None:
        resin, applied = bound(run.presses, at, least)
        there = np.ones(len(at), dtype=bool)
    else:
        applied = run.presses.cores.at(at, least=least)
        resin, there = run.presses.resin_of(at, applied), np.isfinite(first)
    weights = weigh(first, last, applied, resin, vapor, run.needed, by_balance=run.presses.by_balance)
    return weights.known_where(there, least=least)


def _answered(run: Run, gels: tuple[Gels, ...], zone_cycle: ZoneCycle, humidity: Value | None) -> ZoneCycle:
    n = run.columns.draws
    share_of = np.ones(n)
    if humidity is not None:
        share_of = np.clip(of_value(humidity, generator(), n), 0.0, 1.0)
    sides = zip(gels, (True, False, True), strict=True)
    outcomes = Outcomes(*(_outcome(run, gel, share_of, least=least) for gel, least in sides))
    view, worst = _view(run), outcomes.worst
    zone_cycle.not_measured += [*run.presses.not_measured, *run.heat.laid.press.inputs.not_measured()]
    if run.presses.by_balance and run.heat.room is not None:
        zone_cycle.not_measured += run.heat.laid.one_modulus(run.heat.room)
    _rules(zone_cycle, view, run, worst)
    clock(zone_cycle, view, outcomes.nominal, "cycle")
    _curves(zone_cycle, run)
    events.readings(zone_cycle, view)
    if run.heat.cores:
        gap = np.broadcast_to(widest_gap(run.heat.cores), (len(view.seconds), run.columns.width))
        events.touch(zone_cycle, view, view.seconds, gap)
    if run.locked is not None:
        zone_cycle.readings["highest pressure, locked"] = Known(run.locked)

    def matters(by_pressure: bool) -> Matters | None:
        needed = 0.0 if run.needed is None else run.needed
        slack = worst.applied - needed if by_pressure else worst.slack
        return what_matters(run.columns.inputs, slack, 0.0)

    return conclude(zone_cycle, view, outcomes, matters)


def _view(run: Run) -> View:
    """The cycle as best known: every cell of the laminate as if a sensor lay there."""
    seconds, cells = run.heat.seconds, run.heat.laminate[..., 0]
    sensors = [
        Sensor(f"laminate {k + 1}", cells[:, k], Trace(seconds, cells[:, k], np.inf), "", False, 0.0)
        for k in range(cells.shape[1])
    ]
    heat = Thermometers(sensors, own=True, bound=None)
    heat._seconds = seconds
    thick = run.heat.thickness
    presses = replace(run.presses, why=list(run.presses.why))
    return View(run.part, run.zone, seconds, thick, run.inside, presses, heat)


def _rules(zone_cycle: ZoneCycle, view: View, run: Run, worst: Outcome) -> None:
    """What keeps a verdict on a planned cycle back."""
    rules.of_any_cycle(zone_cycle, view, worst.first)
    if view.thickness is None or view.thickness > rules.THICK:
        reason = "a laminate over 8 mm: its own heat is left out; log a sensor in its middle"
        view.blocks.add(reason, IN_TIME)
    if run.heat.hottest:
        view.blocks.add(run.heat.hottest, LATE, VAPOR)
        zone_cycle.screening.append(run.heat.hottest)
    if any(charge.start is not None for charge in run.inside.charges):
        zone_cycle.screening.append("prepreg at the end of its out-life")
    if run.presses.applied is not None:
        share(zone_cycle, view, run.heat.laid)


def _curves(zone_cycle: ZoneCycle, run: Run) -> None:
    """What is drawn: platen, both faces of the laminate, mean of the core."""
    if zone_cycle.curves is None:
        return
    cells = run.heat.laminate[..., 0]
    zone_cycle.curves.temperatures = {
        "platen": run.heat.platen[:, 0],
        "laminate, at the tool": cells[:, 0],
        "laminate, inside": cells[:, -1],
        **{f"core {name}, mean": core.mean[:, 0] for name, core in run.heat.cores.items()},
    }
