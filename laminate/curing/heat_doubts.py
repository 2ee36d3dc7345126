"""Values that hardly any part has, heat properties that no solid has, or that contradict sizes: asked about.

A slip of a unit, such as kJ for J or inches for mm, heats a core so fast that a late cycle looks in time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.files.cycle_keys import Contact
from laminate.press.material import acts_as_rubber
from laminate.press.unlikely import unlikely
from laminate.press.unstated import HEATING
from laminate.values.quantities import MM
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from laminate.curing.fiber_bed_load import LaidUp
    from laminate.files.cycle_keys import Heat
    from laminate.files.part import Part, Tool
    from laminate.press.rooms import CoreShape, Room

HEAT_CAPACITY = 5e5, 5e6, "5e5 to 5e6 J/m^3/K"
"""Of any solid that parts, tools and cores are made of [J/m^3/K]: common practice, no source."""
CONDUCTIVITY = {
    "rubber": (0.1, 1.0, "0.1 to 1 W/m/K"),
    "a laminate, across it": (0.1, 5.0, "0.1 to 5 W/m/K"),
    "a solid": (0.1, 500.0, "0.1 to 500 W/m/K"),
}
"""[W/m/K]: common practice, no source."""
METALS = {
    "aluminium": (80.0, 250.0, "80 to 250 W/m/K"),
    "steel": (8.0, 70.0, "8 to 70 W/m/K"),
    "Invar": (8.0, 20.0, "8 to 20 W/m/K"),
}
"""Of a tool of a metal of the tables [W/m/K], from memory."""
CONTACT = 100.0, 6000.0, "100 to 6000 W/m^2/K"
"""Conductance of a contact [W/m^2/K]: 400 to 3000 (memory), with room for one that was measured."""
OF_THE_CYCLE = ("maximum", "temperature", "wanted_pressure")
"""What is computed or asked along a cycle: how warm tool and core get, and the pressure that is needed."""
CORE_NEAR, LAMINATE_NEAR = 0.1, 0.25
"""So far may a stated thickness be from the size of a core, and from a stack that is laid up: no source."""


def heat_doubts(part: Part, room: Room | None, laid: LaidUp) -> Iterator[str]:
    """What of the heat that passes into a zone must be answered before it is relied on; room: its own."""
    heat = part.heat
    doubts = unlikely(laid.press.cases[laid.zone])
    yield from (words for key, words in doubts.items() if key.quantity not in (*OF_THE_CYCLE, *HEATING))
    if heat.tool is not None:
        metal = next((metal for metal in METALS if metal in _tabulated(part.tool)), "a solid")
        yield from _unlike("tool", heat.tool, metal, METALS.get(metal))
    if heat.laminate is not None:
        yield from _unlike("laminate", heat.laminate, "a laminate, across it")
        size = float(np.ravel(laid.thickness)[0])
        yield from _contradicted("laminate", heat.laminate, size, LAMINATE_NEAR, f"the stack of {laid.zone}")
    for shape in room.cores if room is not None else ():
        core, table = heat.core.get(shape.name), f"core.{shape.name}"
        rubber = acts_as_rubber(part.core[shape.name])
        if core is not None and room is not None:
            yield from _unlike(table, core, "rubber" if rubber else "a solid")
            if size := _across(room, shape, laid):
                yield from _contradicted(table, core, size, CORE_NEAR, f"core {shape.name}")


def _tabulated(tool: Tool | None) -> str:
    """The name in the tables of what a tool is made of, '' where they do not have it."""
    from laminate.files.reference_tables import find

    try:
        return find(tool.material, "expansion").name if tool is not None and tool.material else ""
    except LookupError:
        return ""


def _unlike(
    table: str, heat: Heat, what: str, conductivity: tuple[float, float, str] | None = None
) -> Iterator[str]:
    """Properties that hardly any layer has; conductivity: likely of what it is, None for that of its kind."""
    contact = heat.contact or Contact()
    for key, value, whose, (least, most, usual) in (
        ("conductivity", heat.conductivity, what, conductivity or CONDUCTIVITY[what]),
        ("heat_capacity", heat.heat_capacity, "a solid", HEAT_CAPACITY),
        ("contact.platen", contact.platen, "a contact", CONTACT),
        ("contact.laminate", contact.laminate, "a contact", CONTACT),
    ):
        if value is not None and not least <= value.value <= most:
            words = f"{key} in [heat.{table}], {value.text}, is not that of {whose}, {usual}"
            yield f"{words} (common practice, no source): check value and unit"


def _contradicted(table: str, heat: Heat, size: float, near: float, what: str) -> Iterator[str]:
    given = heat.thickness
    if given is not None and abs(given.value / size - 1.0) > near:
        words = f"thickness in [heat.{table}] is {given.text}, but {what} has "
        yield Said(words, Figure(size, MM), ": leave it out, or check both")


def _across(room: Room, shape: CoreShape, laid: LaidUp) -> float:
    """The cold size of a core across the laminate [m], 0 where none is stated."""
    names = [n for n in room.directions_of(laid.zone) if n in shape.sizes or n in shape.bare]
    sizes = [float(np.ravel(room.core_size(shape, name, laid.x))[0]) for name in names]
    return min(sizes, default=0.0)
