"""What lies in a zone: the nominal or certified values of its plies and layers, and their sums.

The sums take any mapping of key -> number: floats, columns, draws, complex numbers or numbers with
uncertainty, so that `predict`, `fill`, `core` and `measure` share one arithmetic. SI units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.formulas import ply
from laminate.formulas.number import cosine
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.files.part import Part, Zone
    from laminate.press.names import Counts, Numbers
    from laminate.values.units import SIValue

NOMINAL = "part file"


@dataclass(frozen=True, slots=True)
class Ingredients:
    """Every material value by its key, and the shear of the zones that have one, and where each comes from.

    values: key -> SIValue; origins: key -> "part file" or the lot and certificate;
    bases: prepreg -> what its resin content refers to; of_prepreg: prepregs whose areal weight is that of the
    prepreg, not of the fiber.
    """

    values: dict[Key, SIValue]
    origins: dict[Key, str]
    bases: dict[str, str]
    of_prepreg: frozenset[str]


@dataclass(frozen=True, slots=True)
class LayerSums:
    """The layers of a stack, per area of laminate.

    in_gap, that_stay: thickness of all, and of those that stay in the part [m]; mass, fiber, resin: of those
    that stay [kg/m^2], all, and those that count as fiber or resin, with the thicknesses of these [m];
    melted: thickness of those whose resin is in that of the plies instead, by mass and cured density [m].
    """

    in_gap: Any
    that_stay: Any
    mass: Any
    resin: Any
    fiber: Any
    fiber_thickness: Any
    resin_thickness: Any
    melted: Any


@dataclass(frozen=True, slots=True)
class Sums:
    """A stack of plies and layers, per area of laminate.

    plies: count of fiber plies; prepreg, fiber, resin: their masses before bleed [kg/m^2]; fiber_thickness,
    resin_thickness, liquid_thickness: those masses over their densities [m], resin cured and liquid;
    void_free_ply_thickness, bulk_thickness: of all plies [m], cured and as laid up; layers: of all layers.
    """

    plies: int
    prepreg: Any
    fiber: Any
    resin: Any
    fiber_thickness: Any
    resin_thickness: Any
    liquid_thickness: Any
    void_free_ply_thickness: Any
    bulk_thickness: Any
    layers: LayerSums


OF_PREPREG = ("areal_weight", "resin_content", "volatiles", "bulk_factor")
OF_LAYER = ("areal_weight", "thickness")
OF_RESIN = ("density", "liquid_density")
OF_PLIES = tuple(name for name in Sums.__slots__ if name != "layers")


def ingredients(
    part: Part,
    overrides: Mapping[Key, tuple[SIValue, str]] | None = None,
    bases: Mapping[str, str] | None = None,
    of_prepreg: frozenset[str] | None = None,
) -> Ingredients:
    """The values of a part file, those of a batch in their place where it has any.

    overrides: key -> value and origin in words; bases and of_prepreg: as restated by lots.
    """
    given: dict[Key, SIValue | None] = {
        Key("fiber", name, "density"): fiber.density for name, fiber in part.fiber.items()
    }
    for name, resin in part.resin.items():
        given |= {Key("resin", name, what): getattr(resin, what) for what in OF_RESIN}
    for name, prepreg in part.prepreg.items():
        areal = prepreg.fiber_areal_weight or prepreg.prepreg_areal_weight
        given[Key("prepreg", name, "areal_weight")] = areal
        given |= {Key("prepreg", name, what): getattr(prepreg, what) for what in OF_PREPREG[1:]}
    for name, layer in part.layer.items():
        given |= {Key("layer", name, what): getattr(layer, what) for what in OF_LAYER}
    for name, zone in part.zone.items():
        given[Key("zone", name, "shear")] = zone.shear if zone.shear.value or zone.shear.u else None
    values = {key: value for key, value in given.items() if value is not None}
    origins = dict.fromkeys(values, NOMINAL)
    for key, (value, origin) in (overrides or {}).items():
        values[key], origins[key] = value, origin
    stated_bases = {name: p.resin_basis or "as received" for name, p in part.prepreg.items()}
    whole = frozenset(name for name, p in part.prepreg.items() if p.fiber_areal_weight is None)
    bases = {**stated_bases, **(bases or {})}
    return Ingredients(values, origins, bases, whole if of_prepreg is None else of_prepreg)


def items_of(zone: Zone) -> list[str]:
    """The prepregs and layers that lie in a zone, each once."""
    filling = [zone.fill_with] if zone.fill_with else []
    return list(dict.fromkeys([*(name for _, name in zone.fixed()), *filling]))


def names_of(part: Part, zone: str) -> list[Key]:
    """Keys of the material values that the plies and layers of a zone use, and of its shear."""
    names: list[Key] = []
    for item in items_of(part.zone[zone]):
        if item not in part.prepreg:
            names += [Key("layer", item, what) for what in OF_LAYER]
            if resin := part.layer[item].resin:
                names += [Key("resin", resin, what) for what in OF_RESIN]
            continue
        prepreg = part.prepreg[item]
        names.append(Key("fiber", prepreg.fiber, "density"))
        names += [Key("resin", prepreg.resin, what) for what in OF_RESIN]
        names += [Key("prepreg", item, what) for what in OF_PREPREG]
    return list(dict.fromkeys([*names, Key("zone", zone, "shear")]))


def _plies(
    part: Part, name: str, count: int, cos_shear: Any, made: Ingredients, x: Numbers
) -> dict[str, Any]:
    """What so many plies of a prepreg add to the sums, draped through a shear whose cosine is given."""
    resin = part.prepreg[name].resin
    areal, content, volatiles, bulk = (x[Key("prepreg", name, what)] for what in OF_PREPREG)
    shares = {"resin_content": content, "volatiles": volatiles, "resin_basis": made.bases[name]}
    whole = fiber = areal
    if name in made.of_prepreg:
        fiber = ply.fiber_areal_weight(prepreg_areal_weight=areal, **shares)
    else:
        whole = ply.prepreg_areal_weight(fiber_areal_weight=areal, **shares)
    matrix = ply.resin_areal_weight(prepreg_areal_weight=whole, **shares)
    whole, fiber, matrix = (
        ply.draped(areal_weight=each, cos_shear=cos_shear) for each in (whole, fiber, matrix)
    )
    density, cured = x[Key("fiber", part.prepreg[name].fiber, "density")], x[Key("resin", resin, "density")]
    bare = ply.void_free_thickness(
        fiber_areal_weight=fiber, fiber_density=density, resin_areal_weight=matrix, resin_density=cured
    )
    return {
        "plies": count,
        "prepreg": count * whole,
        "fiber": count * fiber,
        "resin": count * matrix,
        "fiber_thickness": count * fiber / density,
        "resin_thickness": count * matrix / cured,
        "liquid_thickness": count * matrix / x.get(Key("resin", resin, "liquid_density"), cured),
        "void_free_ply_thickness": count * bare,
        "bulk_thickness": count * bulk * bare,
    }


def counts(zone: Zone, fill_plies: int) -> dict[str, int]:
    """Count of every prepreg and layer of a zone, with so many plies of the prepreg that fills it."""
    plies_by_prepreg: dict[str, int] = {}
    for count, name in zone.fixed():
        plies_by_prepreg[name] = plies_by_prepreg.get(name, 0) + count
    if zone.fill_with and fill_plies:
        plies_by_prepreg[zone.fill_with] = plies_by_prepreg.get(zone.fill_with, 0) + fill_plies
    return plies_by_prepreg


def prepregs_of(part: Part, zone: Zone) -> list[str]:
    """The prepregs that lie in a zone."""
    return [name for name in items_of(zone) if name in part.prepreg]


def fixed_plies(part: Part, zone: Zone) -> int:
    """Count of the fiber plies in the stack of a zone, without those that fill it."""
    return sum(count for count, name in zone.fixed() if name in part.prepreg)


def sums(
    part: Part, zone: str, counted: Counts, made: Ingredients, x: Numbers, *, melts: bool = False
) -> Sums:
    """The sums over the plies and layers of a zone; counted: name -> count; `x`: the numbers by key.

    melts: layers that stay and count as resin are resin by mass, their own or that of the first prepreg.
    """
    cos_shear = cosine(x.get(Key("zone", zone, "shear"), part.zone[zone].shear.value))
    total: dict[str, Any] = dict.fromkeys(OF_PLIES, 0.0)
    layers: dict[str, Any] = dict.fromkeys(LayerSums.__slots__, 0.0)
    for name, count in counted.items():
        if name in part.prepreg:
            for what, more in _plies(part, name, count, cos_shear, made, x).items():
                total[what] += more
            continue
        layer = part.layer[name]
        mass = count * x[Key("layer", name, "areal_weight")]
        thickness = count * x[Key("layer", name, "thickness")]
        if melts and layer.stays and layer.counts_as == "resin":
            resin = layer.resin or part.prepreg[prepregs_of(part, part.zone[zone])[0]].resin
            cured = x[Key("resin", resin, "density")]
            total["resin"] += mass
            total["resin_thickness"] += mass / cured
            layers["melted"] += mass / cured
            total["liquid_thickness"] += mass / x.get(Key("resin", resin, "liquid_density"), cured)
            total["bulk_thickness"] += thickness
            continue
        layers["in_gap"] += thickness
        if layer.stays:
            layers["that_stay"] += thickness
            layers["mass"] += mass
            if layer.counts_as != "neither":
                layers[layer.counts_as] += mass
                layers[f"{layer.counts_as}_thickness"] += thickness
    return Sums(**total, layers=LayerSums(**layers))
