"""From readings to attributes: every method that a coupon's readings support, on numbers or whole columns.

`attributes` is the measurement formula that uncertainty is carried through. It returns (attribute, method) ->
number, methods in the words of the files.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

from laminate.coupons.recipes import Inputs, Recipe
from laminate.formulas import areal, immersion, matrix_loss, ply, water

Key = tuple[str, str]
"""An attribute and the method that gives it."""
Results = Mapping[Key, Any]
"""Attributes by method, numbers or columns [SI]."""

IMMERSION, SATURATED, GIVEN, DIMENSIONS = "immersion", "saturated immersion", "density given", "dimensions"
THICKNESS, AREAL = "thickness", "thickness and areal weight"
POINTS, NO_BLEED = "point count", "thickness without bleed"
LOSS = "loss of matrix"
BEYOND = 20.0
"""How far outside 0 to 40 degC the error of a water temperature may reach in Monte Carlo [K]."""
EXTRACTION, OVEN, WEIGHING = "extraction", "oven", "weighing"

DENSITY_COLUMNS = {
    SATURATED: ("dry mass", "saturated mass", "mass in liquid"),
    IMMERSION: ("mass in air", "mass in liquid"),
    GIVEN: ("density",),
    DIMENSIONS: ("mass in air", "thickness"),
}
"""Ways of the density, tried in this order -> the readings that each takes beside those of a liquid or of an
area; the last tells it from the others."""

# the first that a coupon supports is the one that is averaged and judged
DENSITY_ORDER = (IMMERSION, SATURATED, GIVEN, DIMENSIONS)
LOSS_ORDER = ("digestion", "ignition", LOSS)


@dataclass(frozen=True)
class Plan:
    """Which methods a group of coupons supports.

    density: way of the density, '' if none; loss: way of the loss of matrix, '' if none; crucible: weighed
    with a crucible; own_specimen: the specimen was weighed again for the loss; water: the liquid is water at
    a temperature; water_within: least and largest share by which a stated density is held against that of
    water, 0 both where it is not; thickness, area: measured; prepreg: columns of an incoming prepreg test.
    """

    density: str = ""
    loss: str = ""
    crucible: bool = False
    own_specimen: bool = True
    water: bool = True
    water_within: tuple[float, float] = (0.0, 0.0)
    sinker: bool = False
    wires: int = 0
    thickness: bool = False
    area: str = ""
    prepreg: frozenset[str] = frozenset()
    basis: str = "as received"
    volatiles: bool = False


def liquid_density(x: Inputs, plan: Plan) -> Any:
    """Density of the immersion liquid [kg/m^3]."""
    if not plan.water:
        return x["liquid density"]
    return water.water_density(temperature=x["liquid temperature"], beyond=BEYOND)


def _density(x: Inputs, plan: Plan) -> Any:
    if plan.density == GIVEN:
        return x["density"]
    if plan.density == DIMENSIONS:
        return x["mass in air"] / (_area(x, plan) * x["thickness"])
    liquid = liquid_density(x, plan)
    if plan.density == SATURATED:
        return immersion.saturated_bulk_density(
            **_saturated(x, plan), liquid_density=liquid, air_density=x["air density"]
        )
    return immersion.density(
        mass_in_air=x["mass in air"],
        mass_in_liquid=x["mass in liquid"],
        liquid_density=liquid,
        air_density=x["air density"],
        sinker_in_liquid=x["sinker mass in liquid"] if plan.sinker else 0.0,
        wire_factor=_wire_factor(x, plan),
    )


def _wire_factor(x: Inputs, plan: Plan) -> Any:
    """Share of the lost mass that is the specimen's own."""
    if not plan.wires:
        return 1.0
    return immersion.wire_factor(
        wires=plan.wires, wire_diameter=x["wire diameter"], beaker_diameter=x["beaker diameter"]
    )


def _saturated(x: Inputs, plan: Plan) -> dict[str, Any]:
    """Masses of a saturated specimen [kg]; in the liquid without sinker, and without what the wires lost."""
    saturated = x["saturated mass"]
    alone = x["mass in liquid"] - (x["sinker mass in liquid"] if plan.sinker else 0.0)
    in_liquid = saturated - (saturated - alone) * _wire_factor(x, plan)
    return {"dry_mass": x["dry mass"], "saturated_mass": saturated, "mass_in_liquid": in_liquid}


def _area(x: Inputs, plan: Plan) -> Any:
    return x["area"] if plan.area == "area" else x["length"] * x["width"]


def loss_masses(x: Inputs, plan: Plan) -> tuple[Any, Any]:
    """Specimen and residue of a loss of matrix [kg]."""
    if plan.crucible:
        empty = x["crucible mass"]
        return x["crucible with specimen"] - empty, x["crucible with residue"] - empty
    return (x["specimen mass"] if plan.own_specimen else x["mass in air"]), x["residue mass"]


def attributes(x: Inputs, plan: Plan, recipe: Recipe) -> dict[Key, Any]:
    """Every attribute by every method that the readings support.

    x: readings and shared inputs by name, coherent SI units, numbers or columns; plan: which methods; recipe:
    what the coupons are made of. Never clipped: a negative void content stays negative.
    """
    results: dict[Key, Any] = {}
    rho = _density(x, plan) if plan.density else None
    content = None
    if plan.loss:
        specimen, residue = loss_masses(x, plan)
        fibers = matrix_loss.fiber_mass(
            specimen=specimen, residue=residue, residue_share=x["residue share"], fiber_loss=x["fiber loss"]
        )
        content = matrix_loss.fiber_content(fiber_mass=fibers, specimen=specimen)
        results["fiber_content", plan.loss] = content
        results["resin_content", plan.loss] = 1.0 - content
    if rho is not None:
        results["density", plan.density] = rho
    method = f"{plan.loss} and {plan.density}"
    if content is not None and rho is not None and not recipe.unknown_layup:
        _constituents(results, method, content, rho, x, recipe)
    if plan.density == SATURATED:
        _open_and_closed(results, x, plan, method)
    if plan.thickness:
        _by_thickness(results, x, plan, recipe, rho)
    if content is not None and plan.area and recipe.plies is not None:
        laminate = areal.areal_weight(mass=x["mass in air"], backing=0.0, area=_area(x, plan))
        results["areal_weight", f"{plan.loss} and area"] = content * laminate / recipe.plies
    if plan.prepreg:
        _prepreg(results, x, plan)
    return results


def _constituents(
    results: dict[Key, Any], method: str, content: Any, density: Any, x: Inputs, recipe: Recipe
) -> None:
    fiber, resin = recipe.fiber_density(x), recipe.resin_density(x)
    volume = partial(matrix_loss.volume_fraction, density=density)
    results["fiber_volume", method] = volume(content=content, constituent_density=fiber)
    results["resin_volume", method] = volume(content=1.0 - content, constituent_density=resin)
    results["void_content", method] = matrix_loss.void_content(
        density=density, contents=[content, 1.0 - content], densities=[fiber, resin]
    )


def _open_and_closed(results: dict[Key, Any], x: Inputs, plan: Plan, method: str) -> None:
    pores = immersion.open_porosity(**_saturated(x, plan))
    results["open_void_content", SATURATED] = pores
    if ("void_content", method) in results:
        results["closed_void_content", method] = results["void_content", method] - pores


def _by_thickness(results: dict[Key, Any], x: Inputs, plan: Plan, recipe: Recipe, density: Any) -> None:
    thickness = x["thickness"]
    results["thickness", THICKNESS] = thickness
    if recipe.plies is None:
        return
    of_plies = thickness - recipe.layers_thickness(x) if recipe.layers_thickness else thickness
    results["cured_ply_thickness", THICKNESS] = areal.ply_thickness(thickness=of_plies, plies=recipe.plies)
    if recipe.fiber_areal_weight is None:
        return
    fiber_mass, fiber = recipe.fiber_areal_weight(x), recipe.fiber_density(x)
    volume = ply.volume_fraction(areal_weight=fiber_mass, density=fiber, thickness=thickness)
    results["fiber_volume", AREAL] = volume
    if density is not None and plan.density != DIMENSIONS:
        method = f"{AREAL}, {plan.density}"
        content = volume * fiber / density
        results["fiber_content", method] = content
        results["resin_content", method] = 1.0 - content
        results["resin_volume", method] = matrix_loss.volume_fraction(
            content=1.0 - content, density=density, constituent_density=recipe.resin_density(x)
        )
        results["void_content", method] = 1.0 - volume - results["resin_volume", method]
    if recipe.void_free_thickness is not None:
        results["void_content", NO_BLEED] = areal.void_content_without_bleed(
            void_free_thickness=recipe.void_free_thickness(x), ply_thickness=thickness
        )


def _prepreg(results: dict[Key, Any], x: Inputs, plan: Plan) -> None:
    mass, fibers = x["prepreg mass"], x.get("fiber mass")
    backing = x["backing mass"] if "backing mass" in plan.prepreg else 0.0
    if plan.area:
        area = _area(x, plan)
        results["prepreg_areal_weight", WEIGHING] = areal.areal_weight(mass=mass, backing=backing, area=area)
        if "fiber mass" in plan.prepreg:
            results["areal_weight", EXTRACTION] = areal.areal_weight(mass=fibers, backing=0.0, area=area)
    volatiles: Any = x["volatiles"] if plan.volatiles else None
    if "dried mass" in plan.prepreg:
        volatiles = areal.volatiles_by_oven(prepreg_mass=mass, dried_mass=x["dried mass"], backing=backing)
        results["volatiles", OVEN] = volatiles
    if "fiber mass" in plan.prepreg:
        lost = areal.resin_content_by_extraction(prepreg_mass=mass, fiber_mass=fibers, backing=backing)
        if plan.basis == "with volatiles":
            results["resin_content", EXTRACTION] = lost
        elif volatiles is not None:
            whole = 1.0 if plan.basis == "as received" else 1.0 - volatiles
            results["resin_content", EXTRACTION] = (lost - volatiles) / whole


def _rank(key: Key) -> tuple[int, ...]:
    """Order of preference of the methods of one attribute: lower is better."""
    _, method = key
    first = [i for i, loss in enumerate(LOSS_ORDER) if method.startswith(loss)]
    density = [i for i, way in enumerate(DENSITY_ORDER) if re.search(rf"(^|, | and ){way}$", method)]
    later = (AREAL, POINTS, NO_BLEED)
    group = 0 if first else 1 + next((i for i, name in enumerate(later) if method.startswith(name)), 0)
    return (group, first[0] if first else 0, density[0] if density else 0)


def preferred(keys: Iterable[Key]) -> dict[str, Key]:
    """For each attribute the key of the method that is averaged and judged."""
    return dict(_preferred(tuple(keys)))


@lru_cache(1024)
def _preferred(keys: tuple[Key, ...]) -> dict[str, Key]:
    best: dict[str, Key] = {}
    for key in sorted(keys, key=_rank):
        best.setdefault(key[0], key)
    return best


Formula = Callable[[Mapping[str, Any]], Mapping[Key, Any]]
