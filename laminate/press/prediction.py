"""What a stack becomes: cured ply thickness, fiber volume, thickness, density, areal weights, charge mass."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from laminate.formulas.cavity import CLOSE_PACKED
from laminate.press import stack
from laminate.press.case import ZoneCase, resin_supposed
from laminate.press.cured import cured
from laminate.press.names import scatter_name
from laminate.press.shared_inputs import SharedInputs
from laminate.press.unlikely import restated, unlike_kinds
from laminate.values.averages import USUAL
from laminate.values.input_key import Key, Name, in_words
from laminate.values.problems import Problem
from laminate.values.quantities import MM, PERCENT
from laminate.values.said import Figure, Said
from laminate.values.uncertainty import Scalars, deviation, nominal
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part

VOIDS, BLEED, AREA = "void content", "bleed", "area"
IN_THE_PRESS = ("liquid_density", "bulk_factor")
"""Inputs of a zone that do not bear on what the cured part becomes."""
NOTHING = SIValue(0.0, text="0 %")
MOST_VOIDS, THICKEST = 0.10, 2e-3
"""Void content, and thickness of a cured ply [m], of hardly any pressed part: common practice, no source."""


@dataclass
class Prediction:
    """The attributes of one zone, or of the plies given, as numbers with uncertainty [SI].

    plies: all fiber plies; why: where the count comes from; attributes: key -> number, of one wall;
    not_measured: inputs that carry no ±; origins: where each input comes from; warnings: what no such
    laminate can be; walls: laminates of this stack in the zone.
    """

    zone: str | None
    plies: int
    why: str
    attributes: dict[str, Any]
    scalars: Scalars
    not_measured: list[str] = field(default_factory=list)
    origins: dict[Key, str] = field(default_factory=dict)
    warnings: list[str | Said] = field(default_factory=list)
    walls: int = 1

    def value(self, key: str) -> float:
        """The plain value of an attribute [SI]."""
        return nominal(self.attributes[key])

    def standard_uncertainty(self, key: str) -> float | None:
        """Its standard uncertainty [SI], None where no input of it carries a ±."""
        return deviation(self.attributes[key])

    def contributions(self, key: str) -> dict[Name, float]:
        """Signed contribution of every input [SI]."""
        return self.scalars.contributions(self.attributes[key])

    def coverage_factor(self, key: str) -> float:
        """Student's factor at 95 % for an attribute."""
        return self.scalars.factor(self.attributes[key], confidence=USUAL)


def predict_zone(
    part: Part,
    zone: str,
    fill_plies: int,
    *,
    made: stack.Ingredients | None = None,
    void_content: SIValue = NOTHING,
    bleed: SIValue = NOTHING,
    area: SIValue | None = None,
    why: str = "",
) -> Prediction:
    """The attributes of one zone with so many plies of the prepreg that fills it.

    made: material values, those of the part file where None; void_content, bleed: mass fraction of the resin
    that leaves; area: one face, for the mass [m^2], the zone's own where None.
    """
    place = part.zone[zone]
    made = made or stack.ingredients(part)
    scalars = Scalars()
    names = [name for name in stack.names_of(part, zone) if name in made.values]
    x = {key: scalars.take(key, made.values[key]) for key in names}
    case = ZoneCase(part, zone, made, SharedInputs())
    prepregs = [name for name in case.counted(fill_plies) if name in part.prepreg]
    for name in prepregs:  # areal weights scatter from ply to ply, each independently
        scatter = part.prepreg[name].ply_scatter
        if scatter is not None and scatter.u > 0.0:
            spread = SIValue(0.0, scatter.u, scatter.dof, "normal", "%", scatter.text)
            x[scatter_name(zone, name)] = scalars.take(Key("prepreg", name, "ply_scatter"), spread)
    sums = case.sums(fill_plies, x)
    laminate = cured(sums, void_content=scalars.take(VOIDS, void_content), bleed=scalars.take(BLEED, bleed))
    if sums.plies:
        laminate["prepreg_areal_weight"] = sums.prepreg / sums.plies
    face = area or place.area
    if face is not None:
        laminate["mass"] = scalars.take(AREA, face) * laminate["thickness"] * laminate["density"]
    exact = [
        name
        for name, value in scalars.values.items()
        if value.u is None and value.text and value is not NOTHING  # which nobody wrote
        if not (isinstance(name, Key) and name.quantity in IN_THE_PRESS)
    ]
    origins = {name: made.origins[name] for name in names}
    plain = {name: value.value for name, value in made.values.items()}
    dense = _too_dense(case, fill_plies, plain, nominal(laminate["fiber_volume"]))
    lots = (words for name, words in restated(part, made) if name in names)
    warnings = [*unlike_kinds(part, prepregs, made), *lots, *dense, *resin_supposed(case)]
    warnings += _unlikely(void_content, nominal(laminate["cured_ply_thickness"]))
    bare, plies = [*in_words(exact).values()], int(sums.plies)
    return Prediction(zone, plies, why, laminate, scalars, bare, origins, warnings, place.walls)


def no_ply(prediction: Prediction, file: str) -> list[Problem]:
    """The finding that a bleed takes more than the resin of the plies beside that of their layers."""
    thickness = prediction.value("cured_ply_thickness")
    if thickness > 0.0:
        return []
    cured_ply = Said("a cured ply of ", Figure(thickness, MM, 2))
    expected = "one above 0: so much bleeds that even resin of the layers would leave"
    return [Problem("no-cured-ply", file, f"zone.{prediction.zone}.stack", cured_ply, expected)]


def _unlikely(void_content: SIValue, cured_ply: float) -> Iterator[str | Said]:
    """Voids and a cured ply of a size that a wrong digit or unit gives sooner than a press."""
    if void_content.value > MOST_VOIDS:
        voids = (Figure(void_content.value, PERCENT, 1), " of voids")
        yield Said(*voids, ": pressed parts have a few percent at most. Check the digits")
    if cured_ply > THICKEST:
        ply = ("a cured ply of ", Figure(cured_ply, MM, 2))
        yield Said(*ply, " is thicker than prepreg is made. Check areal weight and its unit")


def _too_dense(case: ZoneCase, fill_plies: int, x: Mapping[Any, float], fiber_volume: float) -> list[str]:
    """A fiber volume above that to which the forms of the plies pack, each to its own limit."""
    total = case.sums(fill_plies, x)
    packed = case.packed_fibers(fill_plies, x, total)
    if not packed or fiber_volume <= total.fiber_thickness / packed:
        return []
    prepregs = case.part.prepreg
    forms = dict.fromkeys(prepregs[name].form for name in case.counted(fill_plies) if name in prepregs)
    packs_to = 100.0 * total.fiber_thickness / packed
    sentence = f"fiber volume {100.0 * fiber_volume:.1f} % is above {packs_to:.1f} %, the packing limit of "
    sentence += f"{' and '.join(forms)} fiber: no part without voids has it"
    if fiber_volume > CLOSE_PACKED:
        sentence += f"; round fibers side by side fill {100.0 * CLOSE_PACKED:.1f} % at most"
    return [f"{sentence}. Check areal weight, resin content, both densities and bleed"]
