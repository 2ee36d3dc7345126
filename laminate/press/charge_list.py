"""What is laid up: plies, area and mass of every zone, and the mass of the whole charge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.press import stack
from laminate.press.case import ZoneCase, take_stack
from laminate.press.shared_inputs import Estimate, SharedInputs, estimates
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.names import Counts, Numbers
    from laminate.values.units import SIValue


@dataclass(frozen=True, slots=True)
class LaidUp:
    """One zone of the charge; area: of one wall, None where not given; mass: of one wall [kg]."""

    zone: str
    plies: int
    walls: int
    area: SIValue | None
    mass: Estimate | None

    @property
    def mass_of_all_walls(self) -> Estimate | None:
        """Of all of them [kg]."""
        return None if self.mass is None else self.mass.times(self.walls)


@dataclass(frozen=True, slots=True)
class ChargeList:
    """The charge of a part as laid up, all its plies and layers, before anything bleeds.

    mass: of all zones of the part [kg], None where left_out names what is missing for it.
    """

    zones: tuple[LaidUp, ...]
    mass: Estimate | None
    left_out: tuple[str, ...]


def charge_list(part: Part, plies: Counts, made: stack.Ingredients | None = None) -> ChargeList:
    """The charge with so many fiber plies in each zone.

    plies: all fiber plies by zone; made: material values of a batch in place of the nominal ones.
    The mass of a wall is its area times the areal weights of prepreg, as received, and of layers; what zones
    have in common moves their masses together.
    """
    inputs, made = SharedInputs(), made or stack.ingredients(part)
    cases = {name: ZoneCase(part, name, made, inputs) for name in plies}
    for case in cases.values():
        take_stack(case)
    areas = {name: area for name in plies if (area := part.zone[name].area) is not None}
    inputs.values.update({Key("zone", name, "area"): area for name, area in areas.items()})

    def masses(x: Numbers) -> dict[str, Any]:
        weights = {name: _areal_weight(cases[name], plies[name], x) for name in areas}
        mass_by_zone = {name: x[Key("zone", name, "area")] * weight for name, weight in weights.items()}
        total = sum(part.zone[name].walls * mass for name, mass in mass_by_zone.items())
        return {**mass_by_zone, "": total} if mass_by_zone else {}

    estimated = estimates(masses, inputs) if areas else {}
    zones = [
        LaidUp(name, count, part.zone[name].walls, areas.get(name), estimated.get(name))
        for name, count in plies.items()
    ]
    left_out = [f"plies of {name}" for name in part.zone if name not in plies]
    left_out += [f"zone.{name}.area" for name in plies if name not in areas]
    return ChargeList(tuple(zones), None if left_out else estimated[""], tuple(left_out))


def _areal_weight(case: ZoneCase, plies: int, x: Numbers) -> Any:
    """Of prepreg and layers of one wall, those that do not stay too [kg/m^2]."""
    count = plies - case.fixed_plies
    layers = {name: n for name, n in case.counted(count).items() if name in case.part.layer}
    of_layers = sum(n * x[Key("layer", name, "areal_weight")] for name, n in layers.items())
    return case.sums(count, x).prepreg + of_layers
