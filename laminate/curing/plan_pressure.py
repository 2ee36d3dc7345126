"""What presses on a zone along a planned cycle: its bladder, the press, or its core."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.core_heat import clamp_limit, pressure_along
from laminate.curing.plan_heat import curve_of
from laminate.curing.pressing import (
    ON_ITS_STOPS,
    CoreCurves,
    Pressing,
    Trace,
    area_of,
    far_above,
    kind_of,
    needed_of,
    steady,
)
from laminate.values.uncertainty import ROUNDING

if TYPE_CHECKING:
    from laminate.curing.draws import Columns
    from laminate.curing.plan_heat import PlanHeat
    from laminate.files.cycle_keys import Cycle
    from laminate.files.part import Part


def force_along(cycle: Cycle, name: str, seconds: np.ndarray, columns: Columns) -> np.ndarray | None:
    """Clamp force of a cycle (times, columns) [N], None where it states none."""
    if cycle.clamp_force is None:
        return None
    if isinstance(cycle.clamp_force, list):
        curve = curve_of(f"clamp force of {name}", cycle.clamp_force, columns, from_zero=True)
        return curve.along(seconds)
    whole = columns.of(f"clamp force of {name}", cycle.clamp_force)
    return np.broadcast_to(whole, (len(seconds), columns.width))


def pressing_of(part: Part, name: str, heat: PlanHeat, columns: Columns) -> Pressing:
    """What presses on a zone along a planned cycle."""
    zone, cycle, seconds = heat.laid.zone, part.cycle[name], heat.seconds
    kind = kind_of(part, zone)
    needed = needed_of(part, zone)
    pressing = Pressing(needed=needed.value if needed else None, rubber=kind == "rubber")
    if cycle.cavity_pressure is not None:
        pressing.gas = steady(seconds, cycle.cavity_pressure.value)
    elif part.tool is not None and part.tool.evacuated:
        pressing.gas = steady(seconds, 0.0)
    force = force_along(cycle, name, seconds, columns)
    clamp = part.tool.clamp_force if part.tool is not None else None
    if force is not None and clamp is not None and float(force[:, 0].max()) > clamp.value * (1.0 + ROUNDING):
        pressing.doubt([f"clamp_force in [cycle.{name}] is more than that in [tool]: check the unit of both"])
    if kind == "bladder":
        if not cycle.pressure:
            line = f'pressure = [["0 min", "0 bar"], ["10 min", "6 bar"]] in [cycle.{name}]'
            pressing.why.append(f"the pressure of the bladder is not planned: write {line}")
        elif pressing.needed is None:
            line = f"pressed_at in [zone.{zone}]"
            pressing.why.append(f"what closes the laminate up is not stated: write {line}")
        else:
            curve = curve_of(f"pressure of {name}", cycle.pressure, columns, from_zero=True)
            curves = curve.along(seconds)
            pressing.take(CoreCurves(seconds, curves, curves))
            most = max(pressure.value for _, pressure in cycle.pressure)
            pressing.doubt(far_above(part, zone, most))
    elif kind == "press":
        area = area_of(part)
        if force is None or area is None or pressing.needed is None:
            needs = f"clamp_force in [cycle.{name}], projected_area of each zone, and pressed_at"
            pressing.why.append(f"a closing press needs {needs}")
        else:
            pressing.take(CoreCurves(seconds, force / area, force / area))
    elif kind == "rubber":
        _take_core(pressing, heat)
    else:
        pressing.why.append(f"{ON_ITS_STOPS} in the first batch")
        if isinstance(cycle.clamp_force, list) and force is not None:
            pressing.earliest = Trace(seconds, force[:, 0], np.inf)
    if pressing.applied is None:
        pressing.not_measured.append("resin pressure")
    return pressing


def _take_core(pressing: Pressing, heat: PlanHeat) -> None:
    room = heat.room
    assert room is not None
    if missing := heat.laid.uncomputed(room):
        pressing.why.append(f"the core's pressure is not known: {'; '.join(missing)}")
        return
    bled = (heat.laid.bled(room, most=most) for most in (True, False))
    least, most = (pressure_along(heat.laid, room, heat.cores, heat.tool, thick) for thick in bled)
    if least is not None and most is not None:
        pressing.take(CoreCurves(heat.seconds, least, most))


def limit_along(part: Part, name: str, heat: PlanHeat, columns: Columns) -> np.ndarray | None:
    """Pressure at which clamp or walls give way (times, columns) [Pa]; None where that is not known."""
    kind, tool, area = kind_of(part, heat.laid.zone), part.tool, area_of(part)
    force = force_along(part.cycle[name], name, heat.seconds, columns)
    shape = len(heat.seconds), columns.width
    if kind == "rubber" and heat.room is not None:
        return clamp_limit(heat.laid, heat.room.name, force, shape)
    if kind not in ("bladder", "press"):
        return None
    if kind == "press":  # what closes it opens nothing
        force = None
    elif force is None and tool is not None and tool.clamp_force is not None:
        force = columns.of("clamp force", tool.clamp_force)
    limits = [] if force is None or area is None else [force / area]
    if tool is not None and tool.pressure_limit is not None:
        limits.append(np.asarray(tool.pressure_limit.value))
    return np.broadcast_to(np.minimum.reduce(np.broadcast_arrays(*limits)), shape) if limits else None
