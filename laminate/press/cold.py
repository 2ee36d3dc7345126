"""The press at room temperature: whether the cores go in beside the stacks, and come out of the part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.formulas.core_contact import dummy_thickness
from laminate.press.layup import lay_up
from laminate.press.names import ROOM, TOOL
from laminate.press.shared_inputs import Estimate, estimates
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from collections.abc import Mapping

    from laminate.press.case import ZoneCase
    from laminate.press.names import Numbers
    from laminate.press.rooms import Room
    from laminate.press.state import State
    from laminate.values.input_key import Name
    from laminate.values.units import SIValue


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


def bare_sizes(case: ZoneCase, room: Room) -> dict[Name, SIValue]:
    """Sizes of room and cores in `bare_directions`, by their keys [m]."""
    keys = [Key("core", core.name, "clearance") for core in room.cores if core.bare]
    for what in bare_directions(room):
        keys += [room.sizes[what], *(core.sizes[what] for core in room.cores if what in core.sizes)]
    return {key: getattr(getattr(case.part, key.table)[key.name], key.quantity) for key in keys}


def bare_directions(room: Room) -> list[str]:
    """Those in which every core faces the tool, and all sizes are stated."""
    facing = [what for what in room.directions if what in room.sizes and not room.lies_across(what)]
    facing = [what for what in facing if not (what == "length" and room.open_ends)]
    return [d for d in facing if all(d in (*core.sizes, *core.bare) for core in room.cores)]


def too_large_hot(case: ZoneCase) -> dict[str, Estimate]:
    """By how much hard cores are larger than the tool at gel in `bare_directions` [m]; where they are."""
    room = case.room
    if room is None or room.rubber or room.old:
        return {}
    sized = case.with_values(bare_sizes(case, room))

    def excess(x: Numbers) -> dict[str, Any]:
        growth, growths = 1.0 + x[TOOL] * case.rise(x), case.growths(x)
        return {
            what: room.taken(what, x, growths) - room.size(what, x) * growth for what in bare_directions(room)
        }

    return {what: more for what, more in estimates(excess, sized.inputs).items() if more.value > 0.0}


def misfits(case: ZoneCase, fill_plies: int) -> tuple[dict[str, Estimate], bool]:
    """By how much hard cores are too large, cold and hot [m]; whether they go in, within the ±."""
    cold, hot = estimates(lambda y: interference(case, fill_plies, y), case.inputs), too_large_hot(case)
    goes_in = not hot and all(each.value + (each.expanded or 0.0) <= 0.0 for each in cold.values())
    return cold | hot, goes_in


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
