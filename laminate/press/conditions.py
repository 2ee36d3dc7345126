"""The press on one set of numbers: temperatures, growths, volumes and the pressure that fills a room."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas import press as formulas
from laminate.formulas.water import water_vapor_pressure
from laminate.press.case import core_temperature
from laminate.press.extremes import larger, smaller
from laminate.press.names import COMPLIANCE, CURE, GEL, MAXIMUM, ROOM, TOOL, TOOL_MAXIMUM, TOOL_T
from laminate.press.rooms import CoreShape, Room
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.press.names import Numbers
    from laminate.press.setup import Setup


class Conditions:
    """The press on one set of numbers: temperatures, growths and free volumes at every moment, kept."""

    def __init__(self, press: Setup, x: Numbers) -> None:
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
        return self._once(
            ("vapor",), lambda: x["relative humidity"] * water_vapor_pressure(temperature=x[GEL])
        )

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
