"""The press of a part: its rooms, its inputs by name, and its state for given counts and bleed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas import press as formulas
from laminate.formulas.water import water_vapor_pressure
from laminate.press import stack
from laminate.press.case import ZoneCase, core_temperature, take_stack
from laminate.press.conditions import Conditions
from laminate.press.inputs import new_room, old_room, take_areas, take_cycle, take_gap
from laminate.press.known import SEED, Known
from laminate.press.layup import Layup, lay_up
from laminate.press.names import CURE, GEL, MAXIMUM, TOOL_MAXIMUM, VOID, core_name
from laminate.press.rooms import Room
from laminate.values.problems import Problem, Refused
from laminate.values.quantities import DEG_C, MM
from laminate.values.said import Figure, Said
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.state import State

    Numbers = Mapping[Any, Any]

BLOCK = 8192


@dataclass(frozen=True, slots=True)
class Press:
    """A part in its tool and press.

    known: every input by name; rooms: rubber and hard ones; alone: zones without a core or room: matched tool
    halves, or under a bladder; cases: every zone; supposed: what the part file leaves open and is supposed,
    in sentences.
    """

    part: Part
    file: str
    made: stack.Ingredients
    known: Known
    rooms: tuple[Room, ...]
    alone: tuple[str, ...]
    cases: Mapping[str, ZoneCase]
    supposed: tuple[str, ...]

    def room(self, name: str) -> Room:
        """A room by its name: of [room], or for older keys that of its core."""
        return next(room for room in self.rooms if room.name == name)

    def room_of(self, zone: str) -> Room | None:
        """The room that a zone lies in; None where it lies in none."""
        return next((room for room in self.rooms if zone in room.zones), None)

    @property
    def later(self) -> tuple[str, ...]:
        """Moments after gel that the part file knows."""
        known = self.known.values
        hottest = [MAXIMUM, TOOL_MAXIMUM, *(core_name(core, "maximum") for core in self.part.core)]
        found = ("cure",) if CURE in known else ()
        return (*found, "maximum") if any(name in known for name in hottest) else found

    def fill_plies(self, zone: str, plies: int) -> int:
        """The plies of `fill_with` that make so many fiber plies in all; raises `Refused` where none do."""
        fixed = self.cases[zone].fixed_plies
        count = plies - fixed
        if count < (0 if fixed else 1) or (count and not self.part.zone[zone].fill_with):
            found = f"{plies} plies where {fixed} are fixed"
            expected = "a count that the stack can have"
            raise Refused(Problem("ply-count", self.file, f"zone.{zone}", found, expected))
        return count

    def counts(self, plies: Mapping[str, int]) -> dict[str, int]:
        """Fiber plies by zone: those asked for, else those of the part file, else a fixed stack."""
        found = {}
        for name, zone in self.part.zone.items():
            count = plies.get(name, zone.plies)
            if count is None and not zone.fill_with:
                count = self.cases[name].fixed_plies
            if count is not None:
                found[name] = count
        return found

    def open_zones(self, plies: Mapping[str, int]) -> tuple[str, ...]:
        """Zones whose count nothing says; raises `Refused` where a room has two of them."""
        said = self.counts(plies)
        for room in self.rooms:
            bare = [zone for zone in room.zones if zone not in said]
            if room.rubber and len(bare) > 1:
                found = f"zones {' and '.join(bare)} of room {room.name} leave the count open"
                expected = f"plies in all but one, or --plies {bare[0]}=24"
                raise Refused(Problem("count-open", self.file, f"zone.{bare[-1]}", found, expected))
        return tuple(zone for zone in self.part.zone if zone not in said)

    def layups(
        self, plies: Mapping[str, int], x: Numbers, given: Mapping[str, Layup] | None = None
    ) -> dict[str, Layup]:
        """What lies in every zone whose count is known; given: instead of plies, by zone."""
        found = {
            zone: lay_up(self.cases[zone], self.fill_plies(zone, count), x)
            for zone, count in self.counts(plies).items()
            if zone not in (given or {})
        }
        return found | dict(given or {})

    def at(self, x: Numbers | None = None) -> Conditions:
        """The press on one set of numbers, the nominal ones where None: for several states on them."""
        return Conditions(self, self.known.numbers() if x is None else x)

    def state(
        self,
        plies: Mapping[str, int] | None = None,
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
        return self.at(x).state(plies, bleed, layups)

    def stated(self, zone: str) -> Value | None:
        """The bleed that the part file states for a zone."""
        return self.part.zone[zone].bleed

    def wanted(self, zone: str) -> Value | None:
        """The pressure that is wanted at gel, of its room or of the zone itself; None where none is."""
        room, own = self.room_of(zone), self.part.zone[zone]
        if room is not None and room.name in self.part.room:
            return self.part.room[room.name].wanted_pressure
        return own.wanted_pressure

    def needed(self, zone: str, x: Numbers) -> Any:
        """Pressure that a zone needs at gel [Pa]: the one wanted, and above the vapor in the resin."""
        wanted = self.wanted(zone)
        least = 0.0 if wanted is None else wanted.value
        if GEL not in x:
            return least
        vapor = x["relative humidity"] * water_vapor_pressure(temperature=x[GEL])
        return formulas.pressure_needed(wanted=least, vapor=vapor)

    def simulate(
        self,
        formula: Callable[[Conditions], Mapping[str, Any]],
        *,
        draws: int,
        seed: int = SEED,
        scaled: Mapping[Any, float] | None = None,
    ) -> dict[str, Any]:
        """Draws (draws,) of whatever a formula makes of the press, over all tolerances (JCGM 101:2008).

        formula: from the press on a block of draws to numbers by name; the same draws for every count that it
        asks of; scaled: name of an input -> factor on its standard uncertainty.
        """
        from laminate.values.uncertainty import monte_carlo

        factors = dict(scaled or {})
        sources = [
            replace(s, moves={name: move * factors.get(s.name, 1.0) for name, move in s.moves.items()})
            for s in self.known.sources()
        ]

        def blocks(x: Mapping[Any, Any]) -> dict[str, Any]:
            found: dict[str, list[Any]] = {}
            for start in range(0, draws, BLOCK):
                block = slice(start, min(start + BLOCK, draws))
                size = block.stop - start
                here = {name: value[block, 0] if np.ndim(value) else value for name, value in x.items()}
                for name, value in formula(Conditions(self, here)).items():
                    found.setdefault(name, []).append(np.broadcast_to(value, size))
            return {name: np.concatenate(parts)[:, None] for name, parts in found.items()}

        drawn = monte_carlo(blocks, self.known.numbers(), sources, draws=draws, seed=seed)
        return {name: value[:, 0] for name, value in drawn.items()}


def _check_core(part: Part, core: str, known: Known, file: str) -> None:
    own, x = part.core[core].maximum, known.numbers()
    if own is None or GEL not in x:
        return
    at_gel = float(core_temperature(part.core[core], core, x))
    if own.value < at_gel:
        mean = Figure(at_gel, DEG_C, written=f"{at_gel - 273.15:.1f}")
        found = Said(f"'{own.text}', below its mean at gel, ", mean)
        expected = "its hottest mean, not below that at gel"
        raise Refused(Problem("wrong-order", file, f"core.{core}.maximum", found, expected))


def press_of(
    part: Part,
    file: str = "",
    *,
    made: stack.Ingredients | None = None,
    bleed: Mapping[str, Value] | None = None,
    humidity: Value | None = None,
    void_content: Value | None = None,
) -> Press:
    """The press of a part, every input by name.

    part: what engineering fixes; file: as the person called it; made: material values of a batch in place of
    the nominal ones; bleed: zone -> expected bleed in place of the stated one; humidity: relative, of the
    store, 100 % where None. Raises `Refused` with every finding.
    """
    if bleed:
        zones = {
            n: z.model_copy(update={"bleed": bleed[n]}) if n in bleed else z for n, z in part.zone.items()
        }
        limits, pooled = part._limits, part._pooled
        part = part.model_copy(update={"zone": zones})
        part._limits, part._pooled = limits, pooled
    known, made = Known(), made or stack.ingredients(part)
    take_cycle(part, known, file)
    take_areas(part, known)
    rooms: list[Room] = []
    supposed: list[str] = []
    problems: list[Problem] = []
    for name in part.room:
        try:
            rooms.append(new_room(part, name, known, file))
        except Refused as refusal:
            problems += refusal.problems
    for core, table in part.core.items():
        if table.room is not None or not any(zone.core == core for zone in part.zone.values()):
            continue
        try:
            room, said = old_room(part, core, known, file)
        except Refused as refusal:
            problems += refusal.problems
            continue
        rooms.append(room)
        supposed += [f"core {core}: {sentence}" for sentence in said]
    if problems:
        raise Refused(problems)
    for core in part.core:
        _check_core(part, core, known, file)
    known.values[VOID] = void_content or Value(0.0)
    known.values["relative humidity"] = humidity or Value(1.0)
    known.exact |= {VOID, "relative humidity"}
    inside = {zone: room for room in rooms for zone in room.zones}
    cases = {name: ZoneCase(part, name, made, known, inside.get(name)) for name in part.zone}
    for name, case in cases.items():
        take_stack(case)
        take_gap(name, part.zone[name], known)
    press = Press(
        part,
        file,
        made,
        known,
        tuple(rooms),
        tuple(n for n in cases if n not in inside),
        cases,
        tuple(supposed),
    )
    _check_space(press)
    return press


def _check_space(press: Press) -> None:
    """Refuse a core that is larger than its room."""
    x, problems = press.known.numbers(), list[Problem]()
    for room in press.rooms:
        before = len(problems)
        for core in room.cores:
            if core.kind in ("volume", "mass") or room.kind == "volume":
                continue
            for what in ("width", "height", "length") if core.kind == "box" else ("diameter", "length"):
                size, whole = room.core_size(core, what, x), room.size(what, x)
                if size > whole or size <= 0.0:
                    found = Said("core ", Figure(size, MM), " in a room of ", Figure(whole, MM))
                    expected = f"a core not larger than its room across the {what}"
                    place = f"core.{core.name}.{'width' if room.old else what}"
                    problems.append(Problem("core-too-wide", press.file, place, found, expected))
        bare = room.bare(x)
        if len(problems) == before and sum(room.core_volume(core, x) for core in room.cores) >= bare:
            filled, expected = "cores that fill the room without a laminate", "cores smaller than their room"
            place = f"core.{room.cores[0].name}" if room.old else f"room.{room.name}"
            problems.append(Problem("core-too-wide", press.file, place, filled, expected))
    if problems:
        raise Refused(problems)
