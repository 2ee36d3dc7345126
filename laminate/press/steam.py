"""Whether the resin pressure keeps the water of the prepreg dissolved, or steam opens voids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.formulas.press import AMBIENT
from laminate.formulas.water import water_vapor_pressure

if TYPE_CHECKING:
    from laminate.press.conditions import Press


@dataclass(frozen=True, slots=True)
class Steam:
    """Water vapor against resin pressure at cure temperature [Pa, K].

    humidity: relative, of the store [0..1]; stated: whether it was given, else the worst is taken;
    water: vapor pressure at cure times the humidity; resin: of core or bladder, absolute; the resin
    sees less where the fiber bed carries load; lowest: of a core whose laminate has bled to its limit,
    None where there is none or it is not known.
    """

    temperature: float
    humidity: float
    stated: bool
    water: float
    resin: float
    lowest: float | None = None

    @property
    def voids(self) -> bool:
        """Whether steam opens voids even where the laminate is liquid full."""
        return self.resin < self.water

    @property
    def possible(self) -> bool:
        """Whether steam can open voids in any state of the laminate, bled to its limit too."""
        return self.voids or (self.lowest is not None and self.lowest < self.water)


def steam(
    press: Press, *, resin: float, lowest: float | None = None, evacuated: bool = False
) -> Steam | None:
    """Compare the resin pressure with the water vapor pressure at cure temperature times the stored humidity.

    Where none is stated 100 % is taken. resin: pressure over ambient [Pa]; lowest: the same once the laminate
    has bled to its limit, None where there is none; evacuated: whether no gas is left in the cavity where
    nothing presses. None where the part states no cure temperature.
    """
    cycle, humidity = press.part.temperature, press.humidity
    if cycle is None or cycle.cure is None:
        return None

    def absolute(pressure: float) -> float:
        return 0.0 if evacuated and pressure <= 0.0 else AMBIENT + pressure

    # the atmosphere presses on tool, bladder and core from outside: vapor pressure is absolute, so is this
    share = 1.0 if humidity is None else humidity.value
    return Steam(
        temperature=cycle.cure.value,
        humidity=share,
        stated=humidity is not None,
        water=share * float(water_vapor_pressure(temperature=cycle.cure.value)),
        resin=absolute(resin),
        lowest=None if lowest is None else absolute(lowest),
    )
