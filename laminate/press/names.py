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
HUMIDITY = "relative humidity"
"""Of the store, which no table of a part states."""


def scatter_name(zone: str, prepreg: str) -> Key:
    """The key of how the plies of a prepreg scatter in a zone, each zone on its own."""
    return Key("scatter", zone, f"{prepreg}.ply_scatter")
