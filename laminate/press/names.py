"""The keys of the inputs of a press: as the part file spells them, else with a table of their own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from laminate.values.input_key import Key

Numbers = Mapping[Any, Any]
"""Inputs by their key: floats, columns, draws, complex numbers or numbers with uncertainty [SI]."""
Counts = Mapping[str, int]
"""Fiber plies by zone, or plies and layers of a zone by what they are of."""

ROOM, GEL = Key("temperature", "", "room"), Key("temperature", "", "gel")
CURE, MAXIMUM = Key("temperature", "", "cure"), Key("temperature", "", "maximum")
TOOL, TOOL_T = Key("tool", "", "expansion"), Key("tool", "", "temperature")
TOOL_MAXIMUM, COMPLIANCE = Key("tool", "", "maximum"), Key("tool", "", "compliance")
FORCE, PRESSURE_LIMIT = Key("tool", "", "clamp_force"), Key("tool", "", "pressure_limit")
VOID = Key("supposed", "", "void_content")


def _quantity(what: str) -> str:
    return what.replace(" ", "_")


def core_name(core: str, what: str) -> Key:
    """The key of an input of a core; what: with blanks or '_'."""
    return Key("core", core, _quantity(what))


def room_name(room: str, what: str) -> Key:
    """The key of an input of a room."""
    return Key("room", room, _quantity(what))


def zone_name(zone: str, what: str) -> Key:
    """The key of an input of a zone."""
    return Key("zone", zone, _quantity(what))


def bladder_name(bladder: str) -> Key:
    """The key of the pressure of a bladder."""
    return Key("bladder", bladder, "pressure")


def scatter_name(zone: str, prepreg: str) -> Key:
    """The key of how the plies of a prepreg scatter in a zone, each zone on its own."""
    return Key("scatter", zone, f"{prepreg}.ply_scatter")


def area_name(table: str, name: str) -> Key:
    """The key of the projected area of a core, zone or room."""
    return Key(table, name, "projected_area")
