"""The press of a part: its rooms, its inputs by name, and its state for given counts and bleed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.files.press_checks import HOTTEST, core_too_wide, wrong_size
from laminate.press import stack
from laminate.press.case import ZoneCase, core_temperature, take_stack
from laminate.press.conditions import Conditions
from laminate.press.inputs import new_room, old_room, take_areas, take_cycle, take_gap
from laminate.press.layup import Layup
from laminate.press.names import GEL, VOID
from laminate.press.rooms import Room, directions
from laminate.press.setup import Setup
from laminate.press.shared_inputs import DRAWS, SEED, SharedInputs
from laminate.press.state import State
from laminate.values.problems import Problem, Refused, each, refuse_all, wrong_order
from laminate.values.quantities import CM3, DEG_C, MM
from laminate.values.said import Figure, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.names import Counts, Numbers


BLOCK = 50_000
"""Draws in one piece: fewer cost more calls than they save in memory."""


@dataclass(frozen=True, slots=True)
class Press(Setup):
    """A part in its tool and press, and its states on any numbers."""

    def at(self, x: Numbers | None = None) -> Conditions:
        """The press on one set of numbers, the nominal ones where None: for several states on them."""
        return Conditions(self, self.inputs.numbers() if x is None else x)

    def state(
        self,
        plies: Counts | None = None,
        bleed: Any = None,
        *,
        x: Numbers | None = None,
        layups: Mapping[str, Layup] | None = None,
    ) -> State:
        """The state of the press.

        plies: all fiber plies by zone, those of the part file where left out; bleed: one number for every
        zone, or a mapping zone -> number; a zone left out, or None, takes the stated bleed, 0 where none is
        stated; more than the end of bleed is the end of bleed; x: numbers by name, the nominal ones where
        None; layups: instead of plies.
        """
        return State(self.at(x), plies or {}, bleed, layups)

    def simulate(
        self, formula: Callable[[Conditions], Mapping[str, Any]], scaled: Mapping[Any, float] | None = None
    ) -> dict[str, Any]:
        """Draws (draws,) of whatever a formula makes of the press, over all tolerances (JCGM 101:2008).

        formula: from the press on a block of draws to numbers by name; the same draws for every count that it
        asks of; scaled: name of an input -> factor on its standard uncertainty.
        """

        def on(x: Numbers) -> Mapping[str, Any]:
            return formula(Conditions(self, x))

        return self.inputs.simulate(on, scaled, block=BLOCK)


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
    inputs.values["relative humidity"] = humidity or SIValue(1.0)
    inputs.exact |= {VOID, "relative humidity"}
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
