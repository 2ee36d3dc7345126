"""The press at room temperature: whether the cores go in beside the stacks, and come out of the part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.formulas.core_contact import dummy_thickness
from laminate.press.layup import lay_up
from laminate.press.names import ROOM, TOOL
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from collections.abc import Mapping

    from laminate.press.case import ZoneCase
    from laminate.press.names import Numbers
    from laminate.press.rooms import Room
    from laminate.press.state import State


def _left(room: Room, thickness: Mapping[str, Any], x: Numbers) -> dict[str, Any]:
    by_volume = any(core.kind in ("volume", "mass") for core in room.cores)
    return {
        what: room.size(what, x) - room.across(what, thickness, x) - room.taken(what, x)
        for what in room.directions
        if what in room.sizes and not by_volume
    }


def dummy(room: Room, core: str, width: Any, walls: int, x: Numbers) -> Any:
    """Thickness of the dummy over which a core of a cold width is cast in a room of given width [m]."""
    return dummy_thickness(
        tool_length=room.size("width", x),
        core=width,
        walls=walls,
        tool_expansion=x[TOOL],
        core_expansion=x[Key("core", core, "expansion")],
        cast_rise=x[Key("core", core, "cast_temperature")] - x[ROOM],
        cure_shrinkage=x[Key("core", core, "cure_shrinkage")],
    )


def closed_directions(room: Room | None, zone: str) -> tuple[str, ...]:
    """Directions across a zone of a room of hard cores that the tool does not open in, hot or cold."""
    if room is None or not room.opens:
        return ()
    return tuple(what for what in room.directions_of(zone) if what != room.opens)


def interference(case: ZoneCase, fill_plies: int, x: Numbers) -> dict[str, Any]:
    """By how much hard cores and stacks as laid up exceed their room where it stays closed [m]."""
    room, directions = case.room, closed_directions(case.room, case.name)
    if room is None or not directions:
        return {}
    gaps = room.gaps(case.name, 1.0, dict.fromkeys(case.cores, 1.0), x)
    laid_up = lay_up(case, fill_plies, x).laid_up
    return {
        what: room.walls(what, case.name, x) * (laid_up - gap)
        for what, gap in zip(room.directions_of(case.name), gaps, strict=True)
        if what in directions
    }


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
