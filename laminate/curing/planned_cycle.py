"""A planned cycle in a zone: heat, pressure and gel of every draw, then the verdict at each humidity."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing import rules
from laminate.curing.answers import IN_TIME, LATE, VAPOR, Figures, NotComputed, Notes, ZoneCycle
from laminate.curing.charges import UNKNOWN_START, contents_of
from laminate.curing.core_heat import highest_locked, widest_gap
from laminate.curing.draws import BELOW_RANGE, Columns, gel_lines, generator
from laminate.curing.events import gel
from laminate.curing.fiber_bed_load import check_fiber_bed_load
from laminate.curing.heat_doubts import heat_doubts
from laminate.curing.laminate_readings import laminate_readings
from laminate.curing.plan_heat import PlanHeat, heat_of
from laminate.curing.plan_pressure import limit_along, pressing_of
from laminate.curing.pressing import AsLaidUp, Trace, vapor_pressure
from laminate.curing.scenario import Gels, Outcome, at_gel, outcome, outcomes_of
from laminate.curing.straight_lines import each_at, rises
from laminate.curing.thermometers import Sensor, Thermometers
from laminate.curing.verdict import GLASSY, SCREENING, clock, conclude, nothing
from laminate.curing.view import Objections, View, room_of
from laminate.curing.without_spread import not_stated
from laminate.formulas.gel_clock import clock as clock_of
from laminate.formulas.gel_clock import gel_rate
from laminate.values.quantities import DEG_C, MM
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.answers import Event
    from laminate.files.part import Part
    from laminate.press.names import Counts
    from laminate.press.rooms import Room
    from laminate.values.units import SIValue

DRAWS = 400
CLOSE = 2.0
"""So near to what is stated a core counts as warm as that [K]; it moves the pressure by 1.4 MPa."""
SCREENED = (SCREENING, GLASSY, "no heat of reaction")


@dataclass
class PlanView(View):
    """A zone along a planned cycle, computed for every column; sensors: the cells of its laminate.

    lines: a and b of the gel times of each charge.
    """

    columns: Columns = field(kw_only=True)
    plan: PlanHeat = field(kw_only=True)
    lines: list[tuple[np.ndarray, np.ndarray]] = field(kw_only=True)


def planned(
    part: Part,
    cycle: str,
    zone: str,
    plies: Counts,
    humidities: Sequence[SIValue | None],
    *,
    draws: int = DRAWS,
    seed: int = 1,
    usual: bool = False,
) -> list[ZoneCycle]:
    """The answer for a planned cycle in a zone, one for each humidity, None for one that is not stated.

    plies: all fiber plies by zone, in place of those of the part; usual: as of `Columns`.
    """
    columns = Columns(generator(seed), draws, usual=usual)
    contents = contents_of(part, zone, (), planned=True)
    blanks = [
        ZoneCycle(zone, cycle=cycle, humidity=1.0 if h is None else h.value, humidity_stated=h is not None)
        for h in humidities
    ]
    try:
        heat = heat_of(part, cycle, zone, plies, columns)
        contents.check_gel_times(part)
    except NotComputed as why:
        return [nothing(blank, Notes(screening=[*SCREENED]), str(why)) for blank in blanks]
    pressing = pressing_of(part, cycle, heat, columns)
    pressing.doubt(heat_doubts(part, heat.room, heat.laid))
    lines = [gel_lines(charge, columns) for charge in contents.charges]
    pressing.limit = limit_along(part, cycle, heat, columns)
    if heat.cores and heat.room is not None:
        full = pressing.by_balance
        locked = highest_locked(heat.laid, heat.room, heat.cores, heat.tool) if full else None
        gap = np.broadcast_to(widest_gap(heat.cores), heat.platen.shape)
        pressing.laid_up = AsLaidUp(heat.seconds, gap, locked)
    view = PlanView(
        part, zone, heat.seconds, heat.thickness, contents, pressing, _cells(heat), None,
        cycle=cycle, columns=columns, plan=heat, lines=lines,
    )  # fmt: skip
    gels = (  # what is unknown taken toward the soonest gel, the latest, neither
        _gels(view, early=True, start=1.0, unknown=UNKNOWN_START),
        _gels(view, early=False, start=0.0, unknown=0.0),
        _gels(view, early=True, start=1.0, unknown=0.0),
    )
    return [
        _answered(replace(view, objections=Objections(), notes=Notes(screening=[*SCREENED])), gels, blank, h)
        for blank, h in zip(blanks, humidities, strict=True)
    ]


def _gels(view: PlanView, *, early: bool, start: float, unknown: float) -> Gels:
    """First and last gel; start: share of the out-life used; unknown: of the clock, where none is stated."""
    seconds, warm, n = view.seconds, view.plan.laminate[..., 1:], view.columns.draws
    first, last = np.full(n, np.inf), np.full(n, -np.inf)
    for charge, (a, b) in zip(view.contents.charges, view.lines, strict=True):
        rate, used = gel_rate(temperature=warm, a=a, b=b), np.full(n, unknown)
        if not early:
            rate = np.where(warm < charge.coldest - BELOW_RANGE, 0.0, rate)
        if charge.start:
            whole = view.columns.of(f"{charge.name}: share used before the press", charge.start)[1:]
            used = start * np.clip(whole, 0.0, None)
        times = rises(seconds, clock_of(times=seconds, rates=rate, start=used) - 1.0)
        first, last = np.minimum(first, times.min(axis=0)), np.maximum(last, times.max(axis=0))
    return first, last


def _cells(heat: PlanHeat) -> Thermometers:
    """Every cell of the laminate, as best known, as if a sensor lay there."""
    seconds, cells = heat.seconds, heat.laminate[..., 0]
    sensors = [
        Sensor(f"laminate {k + 1}", cells[:, k], Trace(seconds, cells[:, k], np.inf), "", False, 0.0)
        for k in range(cells.shape[1])
    ]
    return Thermometers(sensors, own=True, bound=None)


def _answered(
    view: PlanView, gels: tuple[Gels, Gels, Gels], blank: ZoneCycle, humidity: SIValue | None
) -> ZoneCycle:
    n, plan, pressing, needed = view.columns.draws, view.plan, view.pressing, view.needed(view.columns)
    share_of = np.ones(n)
    if humidity is not None:
        view.humidity = humidity.value
        share_of = view.columns.drawn(humidity, "", (0.0, 1.0), generator())
    hottest = plan.laminate.max(axis=1)

    def hold(gel: Gels, least: bool) -> Outcome:
        warm = each_at(view.seconds, hottest, at_gel(gel, view.seconds), 1 + np.arange(n))
        return outcome(view, gel, share_of * vapor_pressure(warm), needed, least=least)

    outcomes = outcomes_of(*gels, hold)
    not_measured = view.notes.not_measured
    not_measured += [*pressing.not_measured, *plan.laid.press.inputs.not_measured(cycle=True)]
    not_measured += not_stated(view.columns)
    if pressing.by_balance and plan.room is not None:
        not_measured += plan.laid.one_modulus(plan.room)
    _rules(view, outcomes.worst)
    readings, columns = laminate_readings(view), view.columns
    gelled = Figures(gel_clock=clock(view), events=gel(view, outcomes.nominal), readings=readings)
    _cores_as_stated(view, gelled.event("gel first"))
    return conclude(blank, view, outcomes, gelled, _temperatures(plan), columns.inputs, columns)


def _cores_as_stated(view: PlanView, gelled: Event | None) -> None:
    """Cores that are not as warm at first gel as the part states, which `fill` and `core` go by."""
    if gelled is None:
        return
    for name, core in view.plan.cores.items():
        stated = view.part.core[name].temperature
        mean = float(np.interp(gelled.time.value, view.plan.seconds, core.mean[:, 0]))
        if stated is not None and abs(mean - stated.value) > 2.0 * stated.spread + CLOSE:
            rest = f" of [core.{name}], which 'fill' and 'core' take"
            at, taken = Figure(mean, DEG_C, 3), Figure(stated.value, DEG_C, 3)
            words = Said(f"core {name} is at ", at, " at first gel, not at the ", taken, rest)
            view.notes.warnings.append(words)


def _rules(view: PlanView, worst: Outcome) -> None:
    """What keeps a verdict on a planned cycle back."""
    rules.of_any_cycle(view, worst.first)
    _outside_its_points(view)
    if view.thickness is None or view.thickness > rules.THICK:
        hint = ": its own heat is left out; log a sensor in its middle"
        view.objections.add(Said("a laminate over ", Figure(rules.THICK, MM), hint), IN_TIME)
    if view.plan.hottest:
        view.objections.add(view.plan.hottest, LATE, VAPOR)
        view.notes.screening.append(view.plan.hottest)
    if any(charge.start is not None for charge in view.contents.charges):
        view.notes.screening.append("prepreg at the end of its out-life")
    if view.pressing.applied is not None:
        check_fiber_bed_load(view, lambda: view.plan.laid)
    if view.pressing.by_balance and view.plan.room is not None:
        view.notes.screening.extend(_heat_left_out(view.zone, view.plan.room))


def _outside_its_points(view: PlanView) -> None:
    """Curves whose points do not span the platen's: each stays as it ends, pressure and force begin at zero.

    How warm a core was before its first point is not known.
    """
    cycle, where = view.part.cycle[view.cycle], f"in [cycle.{view.cycle}]"
    (begin, _), (end, _) = cycle.platen[0], cycle.platen[-1]
    cores = {f"core.{core}": points for core, points in cycle.core.items() if core in view.plan.cores}
    curves = {"pressure": cycle.pressure, "clamp_force": cycle.clamp_force, **cores}
    for key, points in curves.items():
        if not isinstance(points, list) or not points:
            continue
        (first, value), (last, stays) = points[0], points[-1]
        if last.value < end.value:
            view.notes.screening.append(f"{key} {where} stays at {stays.text} after {last.text}")
        if first.value <= begin.value:
            continue
        if key in cores and value.value > room_of(view.part) + rules.WARM_START:
            asks = f"write {key} at {begin.text} {where} too"
            view.objections.add(f"how warm {key} {where} is before {first.text} is not stated: {asks}")
        elif key not in cores and value.value > 0.0:
            view.notes.warnings.append(f"{key} {where} is taken as 0 before its first point, at {first.text}")


def _heat_left_out(zone: str, room: Room) -> list[str]:
    """Zones on other walls, through which heat reaches the core too: its own are computed alone."""
    crossed = set(room.directions_of(zone))
    others = [other for other in room.zones if crossed.isdisjoint(room.directions_of(other))]
    walls = f"heat into the core through the walls of {' and '.join(others)} is left out in zone {zone}"
    return [f"{walls}: it may press sooner and harder, on the clamp too"] if others else []


def _temperatures(plan: PlanHeat) -> dict[str, np.ndarray]:
    """What is drawn: platen, both faces of the laminate, mean of the core."""
    cells = plan.laminate[..., 0]
    return {
        "platen": plan.platen[:, 0],
        "laminate, at the tool": cells[:, 0],
        "laminate, inside": cells[:, -1],
        **{f"core {name}, mean": core.mean[:, 0] for name, core in plan.cores.items()},
    }
