"""The state of the press for given counts and bleed: bleed used, thickness, pressures, forces.

All numbers come from one mapping of inputs by name: plain floats, columns of draws, complex numbers or
numbers with uncertainty. SI units; pressures are above ambient.
"""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from laminate.formulas import press as formulas
from laminate.formulas.number import choose, real_part
from laminate.press.conditions import Conditions
from laminate.press.extremes import larger
from laminate.press.layup import Layup
from laminate.press.names import FORCE, PRESSURE_LIMIT, ROOM, VOID, Counts
from laminate.press.rooms import Room
from laminate.values.input_key import Key

CHORDS = 30
Layups = Mapping[str, Layup]


class Missing(NamedTuple):
    """What an opening force lacks, and of what; in words as text."""

    what: str
    of: str = ""

    def __str__(self) -> str:
        return f"{self.what} of {self.of}" if self.of else self.what


class State:
    """What cores, laminates and bladders do at gel, cure and maximum.

    plies: all fiber plies by zone, those of the part file where left out; bleed: one number for every zone,
    or a mapping zone -> number; a zone left out, or None, takes the stated bleed, 0 where none is stated;
    more than the end of bleed is the end of bleed; laid: laminates in place of plies. layups: zone -> what
    lies on one wall, of the zones whose count is known; rooms: those all of whose zones are; left_out: rooms
    that are not, and force or areas that are missing.
    """

    def __init__(
        self,
        conditions: Conditions,
        plies: Counts | None = None,
        bleed: Any = None,
        laid: Layups | None = None,
    ) -> None:
        self.conditions, self.bleed_given = conditions, bleed
        self.press, self.x = conditions.press, conditions.x
        self.layups = self.press.layups(plies or {}, self.x, laid)
        self.rooms = tuple(room for room in self.press.rooms if all(z in self.layups for z in room.zones))
        self._pressure_lost: dict[str, Any] = {}
        self._pressure: dict[tuple[str, str], Any] = {}

    @cached_property
    def rubber(self) -> tuple[Room, ...]:
        """Rooms of rubber whose pressure is known."""
        return tuple(room for room in self.rooms if room.rubber and self.pressure(room.name) is not None)

    # bleed and thickness

    def stated(self, zone: str) -> Any:
        """The bleed asked for or stated, cut to 0 and the end of bleed; 0 where there is none."""
        given = self.bleed_given
        given = given.get(zone) if isinstance(given, Mapping) else given
        value = self.x.get(Key("zone", zone, "bleed"), 0.0) if given is None else given
        return self.layups[zone].within(value)

    @cached_property
    def bleed(self) -> Mapping[str, Any]:
        """Bleed used, by zone: of gel, of the cured part and of all later moments.

        Of a rubber core that of `stated`, less where the pressure is gone before; between rigid faces what
        the gap asks for, cut to 0 and the end of bleed; under a bladder that of `stated`.
        """
        bleeds: dict[str, Any] = {}
        for room in self.rooms:
            bleeds |= self._rubber_bleed(room) if room.rubber else {z: self._gap_bleed(z) for z in room.zones}
        for zone in self.layups:
            if zone not in bleeds and self.press.room_of(zone) is None:
                gap = self.press.part.zone[zone].gap is not None
                bleeds[zone] = self._gap_bleed(zone) if gap else self.stated(zone)
        return bleeds

    def _gap_bleed(self, zone: str) -> Any:
        return self.layups[zone].within(self.layups[zone].bleed_for(self.gap(zone)))

    def _rubber_bleed(self, room: Room) -> dict[str, Any]:
        wanted = {zone: self.stated(zone) for zone in room.zones}
        if room.free:
            return wanted

        def spare(share: Any) -> Any:
            return self.unfilled(room, {zone: share * b for zone, b in wanted.items()})

        end, start = spare(1.0), spare(0.0)
        gone, full = real_part(end) >= 0, real_part(start) < 0
        if not np.any(gone):
            return wanted
        self._pressure_lost[room.name] = gone
        stop = gone & full
        slope = choose(stop, end - start, 1.0)
        share = choose(stop, -start / slope, choose(full, 1.0, 0.0))
        close = 1e-15 * np.max(real_part(room.bare(self.x)))
        for _ in range(CHORDS):
            rest = choose(stop, spare(share), 0.0)
            share = share - rest / slope
            if np.all(np.abs(real_part(rest)) <= close):
                break
        return {zone: share * b for zone, b in wanted.items()}

    def unfilled(self, room: Room, bleed: Mapping[str, Any]) -> Any:
        """Room at gel that the free cores do not fill, with a bleed by zone [m^3]; below 0 they press."""
        conditions = self.conditions
        thick = {zone: self.layups[zone].thickness(bleed[zone]) for zone in room.zones}
        free = sum(conditions.free_volume(room, core, "gel") for core in room.cores)
        return conditions.left(room, thick, "gel") - free

    def thickness(self, zone: str) -> Any:
        """Of the hot laminate on one wall at gel and after it [m]."""
        return self.layups[zone].thickness(self.bleed[zone])

    def attributes(self, zone: str, only: Collection[str] | None = None) -> dict[str, Any]:
        """Attributes of the cured, cold zone by key."""
        result: dict[str, Any] = self.layups[zone].attributes(self.bleed[zone], self.x.get(VOID, 0.0), only)
        return result

    def gap(self, zone: str) -> Any:
        """Hot gap of a zone between rigid faces, the core centered [m]."""
        return self.press.cases[zone].hot_gap(self.x)

    # pressure

    def pressure(self, room: str, moment: str = "gel") -> Any:
        """Of a room of rubber [Pa]: 0 where it is not full, None where no bulk modulus is known."""
        key = (room, moment)
        if key not in self._pressure:
            table = self.press.room(room)
            thick = {zone: self.thickness(zone) for zone in table.zones}
            computed = self.with_thickness(table, thick, moment)
            if moment == "gel" and computed is not None and room in self._pressure_lost:
                computed = choose(self._pressure_lost[room], 0.0, computed)
            self._pressure[key] = computed
        return self._pressure[key]

    def locked(self, room: str, moment: str = "gel") -> Any:
        """Of a room whose laminates gelled as they were laid up [Pa]: an upper bound."""
        table = self.press.room(room)
        return self.with_thickness(table, self.locked_thickness(table), moment)

    def locked_thickness(self, room: Room) -> dict[str, Any]:
        """Thickness of every zone of a room that gelled as it was laid up [m]."""
        return {zone: self.layups[zone].locked for zone in room.zones}

    def laid_up(self, room: Room) -> dict[str, Any]:
        """Thickness as laid up of every zone of a room [m]."""
        return {zone: self.layups[zone].laid_up for zone in room.zones}

    def with_thickness(self, room: Room, thickness: Mapping[str, Any], moment: str) -> Any:
        """Pressure of a room with laminates of these thicknesses [Pa]."""
        if not room.rubber:
            return None
        conditions = self.conditions
        free = [conditions.free_volume(room, core, moment) for core in room.cores]
        return conditions.pressure(room, free, conditions.left(room, thickness, moment))

    def cold_pressure(self, room: Room) -> Any:
        """Pressure of a room of rubber in a tool shut cold on the stacks as laid up [Pa]."""
        return self.together(room.name, self.x[ROOM], self.laid_up(room))

    @property
    def shut_cold(self) -> tuple[tuple[Room, Any], ...]:
        """Rooms of rubber and their pressures cold, where the tool is shut before it is heated."""
        tool = self.press.part.tool
        if tool is None or tool.closes != "cold":
            return ()
        return tuple((room, self.cold_pressure(room)) for room in self.rubber)

    @cached_property
    def cold_force(self) -> Any:
        """Force that opens a tool shut cold on the stacks as laid up, rubber alone [N]; None if shut hot."""
        pairs = [(p, a) for room, p in self.shut_cold if (a := room.projected_area(self.x)) is not None]
        return sum(pressure * area for pressure, area in pairs) if pairs else None

    def together(self, room: str, temperature: Any, thickness: Mapping[str, Any] | None = None) -> Any:
        """Pressure with core and tool at one temperature [K], the laminate frozen at its bleed [Pa]."""
        table, conditions = self.press.room(room), self.conditions
        thick = thickness or {zone: self.thickness(zone) for zone in table.zones}
        free = [conditions.volume_at(table, core, temperature) for core in table.cores]
        return conditions.pressure(table, free, table.left(thick, conditions.growth_at(temperature), self.x))

    def worst(self, room: str) -> Any:
        """The largest pressure of a room at any moment [Pa]."""
        pressures = [self.pressure(room, moment) for moment in self.press.moments]
        return None if pressures[0] is None else functools.reduce(larger, pressures)

    def worst_moment(self, room: str) -> str | None:
        """The moment of the largest pressure, the first of several; for plain numbers."""
        if self.pressure(room) is None:
            return None
        return max(self.press.moments, key=lambda moment: float(real_part(self.pressure(room, moment))))

    def bladder_pressure(self, zone: str) -> Any:
        """Pressure that is given in a zone under a bladder [Pa]."""
        return self.x[Key("bladder", str(self.press.part.zone[zone].bladder), "pressure")]

    def pressed_by(self, zone: str) -> Any:
        """What presses a zone at gel [Pa]: room or bladder; None between rigid faces or where not known."""
        room = self.press.room_of(zone)
        if room is not None:
            return self.pressure(room.name) if room.rubber else None
        return self.bladder_pressure(zone) if self.press.part.zone[zone].bladder is not None else None

    def pressed(self, zone: str) -> Any:
        """Whether a zone is pressed as it needs at gel; None where that is not known."""
        pressure = self.pressed_by(zone)
        if pressure is None:
            return None
        return (real_part(pressure) > 0) & (real_part(pressure) >= self.conditions.needed(zone))

    def resin_pressure(self, zone: str) -> Any:
        """Absolute pressure of the resin at gel [Pa]: ambient and what presses, or that of the gas."""
        pressure = self.pressed_by(zone)
        if pressure is None:
            return None
        tool = self.press.part.tool
        empty = 0.0 if tool is not None and tool.evacuated else formulas.AMBIENT
        return choose(real_part(pressure) > 0, formulas.AMBIENT + pressure, empty)

    # the press

    @cached_property
    def left_out(self) -> tuple[Missing, ...]:
        """What is missing for the opening force; empty where it is complete."""
        part, missing = self.press.part, list[Missing]()
        for room in self.press.rooms:
            if room not in self.rooms:
                unknown = [zone for zone in room.zones if zone not in self.layups] if room.rubber else []
                missing += [Missing("plies", zone) for zone in unknown]
            elif room.rubber and self.pressure(room.name) is None:
                missing.append(Missing("pressure", f"room {room.name}"))
            if room.projected_area(self.x) is None:
                missing.append(Missing("projected area", f"{'core' if room.old else 'room'} {room.name}"))
        for name in self.press.alone:
            if self._area(name) is None:
                missing.append(Missing("projected area", f"zone {name}"))
        if part.tool is None or part.tool.clamp_force is None:
            missing.append(Missing("clamp force"))
        return tuple(missing)

    def pressing(self, moment: str, but: str = "") -> list[tuple[Any, Any]]:
        """Pressure and area of what is known to press, but one room."""
        rooms = [room for room in self.rubber if room.name != but]
        pairs = [(self.pressure(room.name, moment), room.projected_area(self.x)) for room in rooms]
        pairs += [(self.bladder_pressure(zone), self._area(zone)) for zone in self._bladders]
        return [(pressure, area) for pressure, area in pairs if area is not None]

    def pressing_force(self, moment: str, but: str = "") -> Any:
        """Force of what is known to press, but one room, without matched areas [N]."""
        return sum(pressure * area for pressure, area in self.pressing(moment, but))

    def _area(self, zone: str) -> Any:
        """Projected area of a zone outside of all rooms [m^2]; None where it is not stated."""
        return self.x.get(Key("zone", zone, "projected_area"))

    @property
    def _bladders(self) -> list[str]:
        """Zones under a bladder."""
        return [zone for zone in self.press.alone if self.press.part.zone[zone].bladder is not None]

    @cached_property
    def matched_area(self) -> Any:
        """Projected area of zones between rigid faces, hard cores among them [m^2]."""
        hard = [room.projected_area(self.x) for room in self.press.rooms if not room.rubber]
        rigid = [zone for zone in self.press.alone if zone not in self._bladders]
        areas = [*hard, *map(self._area, rigid)]
        return sum((area for area in areas if area is not None), 0.0)

    @cached_property
    def matched_pressure(self) -> Any:
        """P*: the largest pressure of a room or bladder at gel [Pa]; the resin may be joined."""
        pressures = [self.pressure(room.name) for room in self.rubber]
        pressures += [self.bladder_pressure(zone) for zone in self._bladders]
        return functools.reduce(lambda highest, pressure: larger(pressure, highest), pressures, 0.0)

    @property
    def presses(self) -> bool:
        """Whether anything presses with a pressure that is computed: a room with rubber, or a bladder."""
        return bool(self.rubber or self._bladders)

    def opening_force(self, moment: str = "gel") -> Any:
        """Force that opens the tool [N], of what is known: see `left_out`."""
        pressing = self.pressing(moment)
        matched = np.any(real_part(self.matched_area))
        return formulas.opening_force(
            pressures=[pressure for pressure, _ in pressing],
            areas=[area for _, area in pressing],
            matched_pressure=self.matched_pressure if matched else 0.0,
            matched_area=self.matched_area,
        )

    @cached_property
    def worst_force(self) -> Any:
        """The largest opening force at any moment [N]."""
        return functools.reduce(larger, map(self.opening_force, self.press.moments))

    @cached_property
    def within_pressure_limit(self) -> Any:
        """Whether no room and no bladder passes what the tool is built for; True where no limit is given."""
        limit = self.x.get(PRESSURE_LIMIT)
        if limit is None:
            return np.True_
        worst = [self.worst(room.name) for room in self.rubber]
        worst += [self.bladder_pressure(zone) for zone in self._bladders]
        worst += [pressure for _, pressure in self.shut_cold]
        within = (real_part(pressure) <= real_part(limit) for pressure in worst)
        return functools.reduce(np.logical_and, within, np.True_)

    @cached_property
    def stays_shut(self) -> Any:
        """Whether no moment passes the clamp force; True where no force is given (`left_out` says so)."""
        force, cold = self.x.get(FORCE), self.cold_force
        if force is None:
            return np.True_
        shut = real_part(self.worst_force) <= real_part(force)
        return shut if cold is None else shut & (real_part(cold) <= real_part(force))

    @property
    def holds(self) -> Any:
        """Whether the tool holds at every moment: the clamp by its force, the walls by the pressure limit."""
        return self.stays_shut & self.within_pressure_limit

    @cached_property
    def left_to_close(self) -> Any:
        """Q: pressure the clamp has left to close rigid gaps while they bleed [Pa]; None without them."""
        if FORCE not in self.x or not np.any(real_part(self.matched_area)):
            return None
        return (self.x[FORCE] - self.pressing_force("gel")) / self.matched_area

    def closes_with(self, wanted: float) -> Any:
        """Whether rigid gaps close with a pressure [Pa] that the clamp has left and the tool is built for."""
        limit = self.x.get(PRESSURE_LIMIT, np.inf)
        return (real_part(self.left_to_close) >= wanted) & (real_part(limit) >= wanted)

    def clamp_limit(self, room: str, moment: str = "gel") -> Any:
        """Pressure of a room at which the clamp gives way, the others as they are [Pa]; None where not known.

        At gel the matched zones see the pressure of the room too; later they keep what they gelled under.
        Of a hard core: the pressure of the laminates on all rigid faces alike.
        """
        table = self.press.room(room)
        area = table.projected_area(self.x)
        if FORCE not in self.x or area is None:
            return None
        rest = self.x[FORCE] - self.pressing_force(moment, but=room)
        if not table.rubber:
            return rest / self.matched_area
        if moment == "gel":
            return rest / (area + self.matched_area)
        return (rest - self.matched_pressure * self.matched_area) / area
