"""The press at room temperature: whether the cores go in beside the stacks, and come out of the part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.formulas.core_contact import dummy_thickness
from laminate.press.names import ROOM, TOOL, core_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from laminate.press.rooms import Room
    from laminate.press.state import State


def _directions(room: Room) -> tuple[str, ...]:
    if room.kind == "volume" or any(core.kind in ("volume", "mass") for core in room.cores):
        return ()
    return tuple(what for what in room.directions if what in room.sizes)


def _left(room: Room, thickness: Mapping[str, Any], x: Mapping[Any, Any]) -> dict[str, Any]:
    return {
        what: room.size(what, x) - room.across(what, thickness, x) - room.taken(what, x)
        for what in _directions(room)
    }


def dummy(room: Room, core: str, width: Any, walls: int, x: Mapping[Any, Any]) -> Any:
    """Thickness of the dummy over which a core of a cold width is cast in a room of given width [m]."""
    return dummy_thickness(
        tool_length=room.size("width", x),
        core=width,
        walls=walls,
        tool_expansion=x[TOOL],
        core_expansion=x[core_name(core, "expansion")],
        cast_rise=x[core_name(core, "cast temperature")] - x[ROOM],
        cure_shrinkage=x[core_name(core, "cure shrinkage")],
    )


def clearance(state: State, room: str) -> dict[str, Any]:
    """Size left between core and laid-up stacks by direction [m]; below 0 it is forced. Empty by volume."""
    table = state.press.room(room)
    return _left(table, state.laid_up(table), state.x)


def pull_out(state: State, room: str, thickness: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Size left between core and cured laminates by direction [m].

    thickness: of the cured laminates by zone, that of the state where None.
    """
    table = state.press.room(room)
    thick = thickness or {z: state.attributes(z, ("thickness",))["thickness"] for z in table.zones}
    return _left(table, thick, state.x)
