"""The press of a part, and it on one set of numbers: temperatures, volumes, pressure that fills a room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas import press as formulas
from laminate.formulas.water import water_vapor_pressure
from laminate.press.case import ZoneCase, core_temperature
from laminate.press.extremes import larger, smaller
from laminate.press.layup import lay_up
from laminate.press.names import COMPLIANCE, CURE, GEL, HUMIDITY, MAXIMUM, ROOM, TOOL, TOOL_MAXIMUM, TOOL_T
from laminate.press.rooms import CoreShape, Room
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.files.part import Part
    from laminate.press import stack
    from laminate.press.layup import Layup
    from laminate.press.names import Counts, Numbers
    from laminate.press.shared_inputs import SharedInputs
    from laminate.values.units import SIValue


BLOCK = 50_000
"""Draws in one piece: fewer cost more calls than they save in memory."""


@dataclass(frozen=True, slots=True)
class Press:
    """A part in its tool and press.

    inputs: by name; rooms: rubber and hard ones; alone: zones without a core or room: matched tool halves, or
    under a bladder; cases: every zone; humidity: relative, of the store, None where not stated.
    """

    part: Part
    file: str
    made: stack.Ingredients
    inputs: SharedInputs
    rooms: tuple[Room, ...]
    alone: tuple[str, ...]
    cases: Mapping[str, ZoneCase]
    humidity: SIValue | None = None

    def of_draws(self, draws: int, seed: int | None = None) -> Press:
        """The same with so many draws; seed: as it is where None."""
        return replace(self, inputs=self.inputs.of_draws(draws, seed))

    def room(self, name: str) -> Room:
        """A room by its name: of [room], or for older keys that of its core."""
        return next(room for room in self.rooms if room.name == name)

    def room_of(self, zone: str) -> Room | None:
        """The room that a zone lies in; None where it lies in none."""
        return next((room for room in self.rooms if zone in room.zones), None)

    def room_with(self, core: str) -> Room:
        """The room that a core lies in."""
        return next(room for room in self.rooms if any(shape.name == core for shape in room.cores))

    @property
    def moments(self) -> tuple[str, ...]:
        """Gel, and the moments after it that the part file knows."""
        known = self.inputs.values
        hottest = [MAXIMUM, TOOL_MAXIMUM, *(Key("core", core, "maximum") for core in self.part.core)]
        cure = ("cure",) if CURE in known else ()
        return ("gel", *cure, "maximum") if any(name in known for name in hottest) else ("gel", *cure)

    def fill_plies(self, zone: str, plies: int) -> int:
        """The plies of `fill_with` that make so many fiber plies in all; raises `Refused` where none do."""
        return self.cases[zone].fill_plies(plies, self.file)

    def counts(self, plies: Counts) -> dict[str, int]:
        """Fiber plies by zone: those asked for, else those of the part file, else a fixed stack."""
        plies_by_zone = {}
        for name, zone in self.part.zone.items():
            count = plies.get(name, zone.plies)
            if count is None and not zone.fill_with:
                count = self.cases[name].fixed_plies
            if count is not None:
                plies_by_zone[name] = count
        return plies_by_zone

    def layups(self, plies: Counts, x: Numbers, given: Mapping[str, Layup] | None = None) -> dict[str, Layup]:
        """What lies in every zone whose count is known; given: instead of plies, by zone."""
        layups = dict(given or {})
        for zone, count in self.counts(plies).items():
            if zone not in layups:
                layups[zone] = lay_up(self.cases[zone], self.fill_plies(zone, count), x)
        return layups

    def stated(self, zone: str) -> SIValue | None:
        """The bleed that the part file states for a zone."""
        return self.part.zone[zone].bleed

    def at(self, x: Numbers | None = None) -> Conditions:
        """The press on one set of numbers, the nominal ones where None: for several states on them."""
        return Conditions(self, self.inputs.numbers() if x is None else x)

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


class Conditions:
    """The press on one set of numbers: temperatures, growths and free volumes at every moment, kept."""

    def __init__(self, press: Press, x: Numbers) -> None:
        self.press, self.x = press, x
        self._kept: dict[tuple[str, ...], Any] = {}

    def _once(self, key: tuple[str, ...], make: Any) -> Any:
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]

    def temperature(self, moment: str) -> Any:
        """Of the laminate, without a lead or lag of tool or core [K]."""
        x = self.x
        if moment == "gel":
            return x[GEL]
        cure = x.get(CURE, x[GEL])
        return cure if moment == "cure" else x.get(MAXIMUM, cure)

    def tool_temperature(self, moment: str) -> Any:
        """Of the tool [K]."""
        if moment == "gel":
            return self.x.get(TOOL_T, self.x[GEL])
        highest = self.x.get(TOOL_MAXIMUM)
        return highest if moment == "maximum" and highest is not None else self.temperature(moment)

    def core_temperature(self, core: str, moment: str) -> Any:
        """Mean of a core [K]: as given at gel, later not below it, and not above its own maximum."""
        return self._once(("core", core, moment), lambda: self._core_temperature(core, moment))

    def _core_temperature(self, core: str, moment: str) -> Any:
        at_gel = core_temperature(self.press.part.core[core], core, self.x)
        if moment == "gel":
            return at_gel
        maximum = self.x.get(Key("core", core, "maximum"))
        if moment == "maximum" and maximum is not None:
            return maximum
        later = larger(at_gel, self.temperature(moment))
        return later if maximum is None else smaller(later, maximum)

    def growth(self, moment: str) -> Any:
        """g of the tool, linear [-]."""
        return self._once(("tool", moment), lambda: self.growth_at(self.tool_temperature(moment)))

    def growth_at(self, temperature: Any) -> Any:
        """g of the tool at a temperature [K]."""
        return 1.0 + self.x[TOOL] * (temperature - self.x[ROOM])

    def core_growth_at(self, core: str, temperature: Any) -> Any:
        """G of a core at a temperature [K]."""
        return 1.0 + self.x[Key("core", core, "expansion")] * (temperature - self.x[ROOM])

    def with_volume(self, core: str, volume: Any) -> Conditions:
        """The same numbers with another cold volume of a core [m^3]."""
        other = Conditions(self.press, self.x)
        other._kept[("cold", core)] = volume
        return other

    def cold_volume(self, room: Room, core: CoreShape) -> Any:
        """Cold volume of a core [m^3]."""
        return self._once(("cold", core.name), lambda: room.core_volume(core, self.x))

    def free_volume(self, room: Room, core: CoreShape, moment: str) -> Any:
        """Free hot volume of a core [m^3]."""
        temperature = self.core_temperature(core.name, moment)
        return self._once(("free", core.name, moment), lambda: self.volume_at(room, core, temperature))

    def volume_at(self, room: Room, core: CoreShape, temperature: Any) -> Any:
        """Free volume of a core at a temperature [K] [m^3]."""
        return self.cold_volume(room, core) * self.core_growth_at(core.name, temperature) ** 3

    def pressed_volume(self, room: Room, core: CoreShape, pressure: Any) -> Any:
        """Volume of a core at gel under a pressure [m^3]."""
        modulus, rise = (self.x[Key("core", core.name, f"bulk_modulus{what}")] for what in ("", "_rise"))
        left = formulas.compression(pressure=pressure, bulk_modulus=modulus, bulk_modulus_rise=rise)
        return self.free_volume(room, core, "gel") * left

    def left(self, room: Room, thickness: Mapping[str, Any], moment: str) -> Any:
        """Volume that laminates of these thicknesses leave the cores of a room [m^3]."""
        growth = self.growth(moment)
        hot = self._once(("hot", room.name, moment), lambda: room.hot(growth, self.x))
        return room.left(thickness, growth, self.x, hot=hot)

    def needed(self, zone: str) -> Any:
        """Pressure that a zone needs at gel [Pa]: the one wanted, and above the vapor in the resin."""
        wanted = self.press.cases[zone].wanted
        least = 0.0 if wanted is None else wanted.value
        return formulas.pressure_needed(wanted=least, vapor=self.vapor) if GEL in self.x else least

    @property
    def vapor(self) -> Any:
        """Absolute pressure of the water in the resin at gel, by the humidity of the store [Pa]."""
        x = self.x
        return self._once(("vapor",), lambda: x[HUMIDITY] * water_vapor_pressure(temperature=x[GEL]))

    def give(self, room: Room) -> Any:
        """Volume that the room gains per pressure [m^3/Pa]."""
        compliance = self.x.get(COMPLIANCE, 0.0)
        if not hasattr(compliance, "nominal_value") and not np.any(compliance):
            return 0.0
        return self._once(("give", room.name), lambda: compliance * room.bare(self.x))

    def pressure(self, room: Room, free: list[Any], left: Any) -> Any:
        """Pressure of the cores of these free hot volumes in what is left [Pa]; None without bulk moduli."""
        names = [core.name for core in room.cores]
        if room.free or any(Key("core", name, "bulk_modulus") not in self.x for name in names):
            return None
        moduli = [self.x[Key("core", name, "bulk_modulus")] for name in names]
        rises = [self.x[Key("core", name, "bulk_modulus_rise")] for name in names]
        return formulas.pressure(
            cores=free, bulk_moduli=moduli, bulk_modulus_rises=rises, room=left, give=self.give(room)
        )
