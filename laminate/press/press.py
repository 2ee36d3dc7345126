"""The press of a part, from its files: its rooms and its inputs by name, checked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.files.press_checks import HOTTEST, core_too_wide, wrong_size
from laminate.press import stack
from laminate.press.case import ZoneCase, core_temperature, take_stack
from laminate.press.conditions import Press
from laminate.press.inputs import new_room, old_room, take_areas, take_cycle, take_gap
from laminate.press.names import GEL, HUMIDITY, VOID
from laminate.press.rooms import Room, directions
from laminate.press.shared_inputs import DRAWS, SEED, SharedInputs
from laminate.values.problems import Problem, Refused, each, refuse_all, wrong_order
from laminate.values.quantities import CM3, DEG_C, MM
from laminate.values.said import Figure, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.names import Numbers


def _check_core(part: Part, core: str, inputs: SharedInputs, file: str) -> None:
    maximum, x = part.core[core].maximum, inputs.numbers()
    if maximum is None or GEL not in x:
        return
    at_gel = float(core_temperature(part.core[core], core, x))
    if SIValue(at_gel).above(maximum):
        mean = Figure(at_gel, DEG_C, written=f"{at_gel - 273.15:.1f}")
        place, below = f"core.{core}.maximum", "below its mean at gel,"
        raise Refused(wrong_order(file, place, maximum.text, below, mean, HOTTEST))


def _rooms(part: Part, inputs: SharedInputs, file: str) -> tuple[Room, ...]:
    """The rooms of a part, of [room] and of older keys."""
    beside = {zone.core for zone in part.zone.values()}
    older = [name for name, core in part.core.items() if core.room is None and name in beside]

    def make(place: tuple[str, str]) -> Room:
        read = new_room if place[0] == "room" else old_room
        return read(part, place[1], inputs, file)

    places = [*(("room", name) for name in part.room), *(("core", name) for name in older)]
    return tuple(each(make, places).values())


def press_of(
    part: Part,
    file: str = "",
    *,
    made: stack.Ingredients | None = None,
    humidity: SIValue | None = None,
    void_content: SIValue | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Press:
    """The press of a part, every input by name.

    part: what engineering fixes; file: as the person called it; made: material values of a batch in place of
    the nominal ones; humidity: relative, of the store, 100 % where None; draws, seed: of the chances. Raises
    `Refused` with every finding.
    """
    inputs, made = SharedInputs(draws=draws, seed=seed), made or stack.ingredients(part)
    take_cycle(part, inputs, file)
    take_areas(part, inputs)
    rooms = _rooms(part, inputs, file)
    for core in part.core:
        _check_core(part, core, inputs, file)
    inputs.values[VOID] = void_content or SIValue(0.0)
    inputs.values[HUMIDITY] = humidity or SIValue(1.0)
    inputs.exact |= {VOID, HUMIDITY}
    inside = {zone: room for room in rooms for zone in room.zones}
    cases = {name: ZoneCase(part, name, made, inputs, inside.get(name)) for name in part.zone}
    for name, case in cases.items():
        take_stack(case)
        take_gap(name, part.zone[name], inputs)
    alone = tuple(name for name in cases if name not in inside)
    press = Press(part, file, made, inputs, rooms, alone, cases, humidity)
    _check_space(press)
    return press


def _check_space(press: Press) -> None:
    """Refuse a core that is larger than its room, and edges rounder than the section is thick."""
    x, problems = press.inputs.numbers(), list[Problem]()
    for room in press.rooms:
        problems += _too_round(press, room, x)
        before = len(problems)
        for core in room.cores:
            for what in directions(core.kind) if room.directions else ():
                size, whole = room.core_size(core, what, x), room.size(what, x)
                if size > whole or size <= 0.0:
                    place = f"core.{core.name}.{'width' if room.old else what}"
                    sizes = Figure(size, MM), Figure(whole, MM)
                    problems.append(core_too_wide(press.file, place, *sizes, f"room across the {what}"))
        bare = room.bare(x)
        volume = sum(room.core_volume(core, x) for core in room.cores)
        if len(problems) == before and volume >= bare:
            sizes = Figure(volume, CM3), Figure(bare, CM3)
            place = f"core.{room.cores[0].name}" if room.old else f"room.{room.name}"
            problems.append(core_too_wide(press.file, place, *sizes, "room by volume"))
    refuse_all(problems)


def _too_round(press: Press, room: Room, x: Numbers) -> list[Problem]:
    """Findings on edge radii above half of the smaller side of a box."""
    if room.kind != "box" or room.old:
        return []
    sides = ("width", "height")
    boxes = {f"room.{room.name}": (room.corner_radius(x), min(room.size(side, x) for side in sides))}
    for core in room.cores:
        if core.kind == "box":
            least = min(room.core_size(core, side, x) for side in sides)
            boxes[f"core.{core.name}"] = (room.core_radius(core, x), least)
    problems = []
    for place, (radius, smaller) in boxes.items():
        if radius > 0.5 * smaller:
            what = Said("a corner radius of ", Figure(radius, MM))
            side = Said("a smaller side of ", Figure(smaller, MM))
            expected, place = "at most half the smaller of width and height", f"{place}.corner_radius"
            problems.append(wrong_size(press.file, place, what, side, expected))
    return problems
