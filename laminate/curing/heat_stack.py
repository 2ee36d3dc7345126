"""What heat passes on its way into a zone: platen, tool, laminate, half of the core."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.curing.answers import NotComputed
from laminate.formulas.conduction import Layer, Mesh, mesh

if TYPE_CHECKING:
    from laminate.curing.draws import Columns
    from laminate.curing.fiber_bed_load import LaidUp
    from laminate.files.cycle_keys import Heat
    from laminate.files.part import Part
    from laminate.press.rooms import CoreShape, Room
    from laminate.values.units import SIValue

CELLS = {"tool": 3, "laminate": 10, "core": 16}
"""Cells of each layer; doubling them changes gel by less than 0.2 min, pressure by less than 3 % (tests)."""
LEAST = 0.02
"""A draw of a heat property is not below this share of its value."""
USUAL = {"conductivity": 0.1, "heat_capacity": 0.1, "thickness": 0.02, "contact": 0.5}
"""Half-widths over the value of what carries no ±: common practice, no source."""
SKIN = 1e-6
PLATEN, TOOL, OUTSIDE, INSIDE = "platen", "tool", "outside of the laminate", "inside of the laminate"


@dataclass(frozen=True)
class CoreBehind:
    """The core behind a zone's laminate.

    half: from its face to where no heat flows, its middle or a far face [m], in every column; rod: heated all
    around; direction: of the room that the laminate takes from, '' where no size is known.
    """

    name: str
    half: Any
    rod: bool
    direction: str


@dataclass(frozen=True)
class Stack:
    """Cells from where the temperature is given inward.

    tool, laminate, core: cells of each, None where it is not in the stack.
    """

    net: Mesh
    tool: slice | None
    laminate: slice
    core: slice | None


def lacking(part: Part, cores: tuple[str, ...], outermost: str) -> list[str]:
    """What to write before heat can be computed; outermost: what has its temperature given."""
    heat, missing = part.heat, []
    if outermost == PLATEN and (heat.tool is None or heat.tool.thickness is None):
        missing.append("[heat.tool] with conductivity, heat_capacity and thickness")
    contact = heat.tool.contact if heat.tool is not None else None
    if outermost == PLATEN and (contact is None or contact.platen is None):
        missing.append("contact = { platen = ..., laminate = ... } in [heat.tool]")
    elif outermost in (PLATEN, TOOL) and (contact is None or contact.laminate is None):
        missing.append("contact = { laminate = ... } in [heat.tool]")
    if heat.laminate is None:
        missing.append("[heat.laminate] with conductivity and heat_capacity")
    for core in cores:
        stated = heat.core.get(core)
        if stated is None:
            missing.append(f"[heat.core.{core}] with conductivity and heat_capacity")
        if stated is None or stated.contact is None or stated.contact.laminate is None:
            missing.append(f"contact = {{ laminate = ... }} in [heat.core.{core}]")
    return list(dict.fromkeys(missing))


def between_cores(room: Room, zone: str) -> bool:
    """Whether a zone lies between two cores of its room."""
    return len(room.cores) > 1 and room.side(zone).walls == 1


def core_behind(part: Part, room: Room, shape: CoreShape, laid: LaidUp, columns: Columns) -> CoreBehind:
    """The core behind a zone's laminate; raises `NotComputed`.

    Cores in a row pass their heat on to each other: the row, with the laminates in it, is one wide core.
    Between two cores a laminate has one of them behind it, whose far face is taken as insulated: the slower
    way.
    """
    zone, x = laid.zone, laid.x
    heat = part.heat.core.get(shape.name)
    given = heat.thickness if heat is not None else None
    side = room.side(zone)
    names = room.directions_of(zone)
    sized = shape.kind in ("box", "round") and bool(names)
    direction = names[0] if sized else ""
    if given is not None:
        whole = _of(columns, f"heat.core.{shape.name}", "thickness", given)
        if direction == "width" and side.walls == 2:
            whole = whole * len(room.cores)
    elif sized and side.walls == 1:
        whole = np.minimum.reduce([np.asarray(room.core_size(shape, name, x)) for name in names])
    elif sized:
        within = {side.zone: laid.layups[side.zone].laid_up for side in room.sides if side.walls == 1}
        thick = {side.zone: within.get(side.zone, 0.0) for side in room.sides}
        sizes = [np.asarray(room.taken(name, x) + room.across(name, thick, x)) for name in names]
        whole = np.minimum.reduce(sizes)
        direction = names[int(np.argmin([float(np.ravel(size)[0]) for size in sizes]))]
    else:
        raise NotComputed(f"thickness in [heat.core.{shape.name}]: it has no size across the laminate")
    return CoreBehind(shape.name, whole / (2.0 if side.walls == 2 else 1.0), side.side == "round", direction)


def _of(columns: Columns, table: str, key: str, value: SIValue) -> Any:
    """A heat property in every column [SI], none below its least share; without a ± see `USUAL`."""
    name, quantity = f"{table} {key}", key.split()[0]
    spread = columns.spread(name, value, USUAL[quantity] * value.value)
    return columns.of(name, spread, (LEAST * value.value, np.inf))


def _layer(heat: Heat, name: str, thickness: Any, contact: Any, columns: Columns) -> Layer:
    keys = ("conductivity", "heat_capacity")
    conductivity, capacity = (_of(columns, f"heat.{name}", key, getattr(heat, key)) for key in keys)
    return Layer(thickness, conductivity, capacity, CELLS[name.split(".", maxsplit=1)[0]], contact)


def _contact(heat: Heat | None, name: str, key: str, columns: Columns) -> Any:
    value = getattr(heat.contact, key) if heat is not None and heat.contact is not None else None
    return None if value is None else _of(columns, f"heat.{name}", f"contact {key}", value)


def stack_of(
    part: Part,
    thickness: Any,
    core: CoreBehind | None,
    outermost: str,
    columns: Columns,
    *,
    halved: bool = False,
) -> Stack:
    """The cells of a zone, for a part that lacks nothing.

    thickness: of the laminate [m]; halved: heat comes through both faces of the laminate, no core behind.
    """
    heat = part.heat
    assert heat.laminate is not None  # `lacking` was asked before
    layers: dict[str, Layer] = {}
    to_laminate = _contact(heat.tool, "tool", "laminate", columns)
    if outermost == PLATEN:
        assert heat.tool is not None
        assert heat.tool.thickness is not None
        tool_thickness = _of(columns, "heat.tool", "thickness", heat.tool.thickness)
        contact = _contact(heat.tool, "tool", "platen", columns)
        layers["tool"] = _layer(heat.tool, "tool", tool_thickness, contact, columns)
    given = heat.laminate.thickness
    thick = thickness if given is None else _of(columns, "heat.laminate", "thickness", given)
    outer = to_laminate if outermost in (PLATEN, TOOL) else math.inf
    layer = _layer(heat.laminate, "laminate", thick / (2.0 if halved else 1.0), outer, columns)
    layers["laminate"] = layer._replace(thickness=SKIN, cells=1) if outermost == INSIDE else layer
    if core is not None:
        own_heat, label = heat.core[core.name], f"core.{core.name}"
        contact = _contact(own_heat, label, "laminate", columns)
        layers["core"] = _layer(own_heat, label, core.half, contact, columns)._replace(rod=core.rod)
    ends = list(itertools.accumulate((each.cells for each in layers.values()), initial=0))
    at = {name: slice(*cells) for name, cells in zip(layers, itertools.pairwise(ends), strict=True)}
    return Stack(mesh(layers=list(layers.values())), at.get("tool"), at["laminate"], at.get("core"))
