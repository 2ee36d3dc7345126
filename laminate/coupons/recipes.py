"""What a coupon is made of: its constituents by name, and how a laminate's densities follow from them."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from operator import attrgetter, itemgetter
from typing import TYPE_CHECKING, Any

from laminate.formulas.number import real_part
from laminate.press import stack
from laminate.press.cured import cured
from laminate.press.prepreg_lots import lot_values
from laminate.values.input_key import CERTIFICATE, LOT, Key, Name
from laminate.values.uncertainty import propagate, sources_of
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.part import Layer, Part
    from laminate.values.units import Spread

Inputs = Mapping[Any, Any]
"""Readings and shared inputs by name, numbers or columns [SI]."""
Function = Callable[[Inputs], Any]
Summed = Callable[[Inputs], stack.Sums]


@dataclass(frozen=True)
class Constituents:
    """The kinds of fiber, and the least and largest density of all constituents [kg/m^3]."""

    fiber_kinds: frozenset[str] = frozenset()
    lightest: float = 0.0
    heaviest: float = math.inf


@dataclass(frozen=True)
class Recipe:
    """The make-up of the coupons of one zone and lot; it can be pickled, so its functions are no closures.

    values: input name -> value [SI]; fiber_density, resin_density: of the laminate, from the numbers by name
    [kg/m^3]; fiber_areal_weight: of all plies together [kg/m^2]; void_free_thickness: of all plies [m], only
    where nothing can bleed; layers_thickness: of the layers that stay [m]; plies: count of fiber plies, None
    where not said; constituents: what burn-off meets, and their densities; notes: what the answer must say;
    ranges: what lot and part file predict, attribute -> (without bleed, bled to the limit), without voids.
    volatiles: share that an incoming test reckons with, without text where nobody stated it; unknown_layup:
    whether fiber volume and voids need a count of plies that nobody told; causes: input name -> name of what
    its error is, where that is not the input itself; ply_scatters: prepreg -> how much the areal weight of
    one ply scatters, and how many plies of it a coupon has.
    """

    values: Mapping[Name, SIValue]
    fiber_density: Function
    resin_density: Function
    fiber_areal_weight: Function | None = None
    void_free_thickness: Function | None = None
    layers_thickness: Function | None = None
    plies: int | None = None
    constituents: Constituents = Constituents()
    notes: tuple[str, ...] = ()
    ranges: Function | None = None
    causes: Mapping[Name, Name] = field(default_factory=dict)
    volatiles: SIValue = field(default_factory=lambda: SIValue(0.0))
    unknown_layup: bool = False
    ply_scatters: Mapping[str, tuple[Spread, int]] = field(default_factory=dict)

    @cached_property
    def predicted(self) -> dict[str, tuple[float, float, float]]:
        """Attribute -> lower and upper end of `ranges` and their larger standard uncertainty [SI]."""
        ranges = self.ranges
        if ranges is None:
            return {}

        def ends(x: Inputs) -> dict[Any, Any]:
            return {(name, end): both[end] for name, both in ranges(x).items() for end in (0, 1)}

        numbers = {name: value.value for name, value in self.values.items()}
        results: dict[Any, Any] = propagate(ends, numbers, sources_of(self.values))
        predicted: dict[str, tuple[float, float, float]] = {}
        for name in {name for name, _ in results}:
            both = [results[name, end] for end in (0, 1)]
            low, high = sorted(float(r.value[0]) for r in both)
            predicted[name] = (low, high, max(float(r.standard_uncertainty[0]) for r in both))
        return predicted


def of_options(
    fiber_density: SIValue,
    resin_density: SIValue | None,
    fiber_areal_weight: SIValue | None,
    fiber_kind: str = "other",
) -> Callable[[int | None], Recipe]:
    """The recipe of the densities given as options, for any count of plies.

    resin_density: None where no figure is made of it.
    """
    values: dict[Name, SIValue] = {"fiber density": fiber_density}
    densities = 0.0, math.inf
    if resin_density is not None:
        values["resin density"] = resin_density
        densities = fiber_density.value, resin_density.value
    made_of = Constituents(frozenset({fiber_kind}), min(densities), max(densities))
    if fiber_areal_weight is not None:
        values["fiber areal weight"] = fiber_areal_weight

    def recipe(plies: int | None) -> Recipe:
        return Recipe(
            values,
            itemgetter("fiber density"),
            itemgetter("resin density"),
            None if fiber_areal_weight is None or plies is None else partial(_of_plies, plies),
            plies=plies,
            constituents=made_of,
        )

    return recipe


def _of_plies(plies: int, x: Inputs) -> Any:
    return plies * x["fiber areal weight"]


FIBER, VOID_FREE = ("fiber", "layers.fiber"), ("void_free_ply_thickness", "layers.that_stay")
BESIDE_PLIES = ("layers.that_stay", "layers.melted")
"""Sums of a stack: areal weight of all its fiber, thickness without voids, and thickness beside its plies."""


def _number(number: float, x: Inputs) -> float:
    return number


NONE, ONE = partial(_number, 0.0), partial(_number, 1.0)
"""Densities of nothing, and of what no figure is made of."""


def without_densities(fiber_kind: str) -> Callable[[int | None], Recipe]:
    """The recipe of each count of plies where no figure is made of densities of fiber and resin."""
    return lambda plies: Recipe({}, ONE, ONE, plies=plies, constituents=Constituents(frozenset({fiber_kind})))


def _density(kind: str, names: Collection[str], layers: Sequence[Layer], summed: Summed) -> Function:
    """Density of the fiber or of the resin of a zone: of the only one, else mass over volume of all."""
    if len(names) == 1 and not any(layer.counts_as == kind and layer.stays for layer in layers):
        return itemgetter(Key(kind, next(iter(names)), "density"))
    return partial(_mass_over_volume, kind, summed)


def _mass_over_volume(kind: str, summed: Summed, x: Inputs) -> Any:
    s = summed(x)
    mass, thickness = (getattr(s, what) + getattr(s.layers, what) for what in (kind, f"{kind}_thickness"))
    return mass / thickness


def of_zone(case: Case, zone: str, lots: frozenset[str], plies: int | None) -> Recipe:
    """The recipe of a zone of the part, with the values of the batch and of the lots that coupons name."""
    part, place = case.part, case.part.zone[zone]
    made = case.ingredients(lots)
    names = [name for name in stack.names_of(part, zone) if name in made.values]
    fill = plies - stack.fixed_plies(part, place) if plies is not None else 1
    counted = stack.counts(place, fill)
    prepregs = [name for name in counted if name in part.prepreg]
    layers = [part.layer[name] for name in counted if name not in part.prepreg]
    fibers = {part.prepreg[name].fiber for name in prepregs}
    resins = {part.prepreg[name].resin for name in prepregs}

    summed = partial(stack.sums, part, zone, counted, made)
    values: dict[Name, SIValue] = {key: made.values[key] for key in names if key.quantity != "liquid_density"}
    bleeds, stay = place.bleed_limit.value > 0.0, any(layer.stays for layer in layers)
    mixed = len(fibers) > 1 or len(resins) > 1 or stay  # what it is made of follows from its count of plies
    kinds = {"fiber": fibers, "resin": resins}
    densities = [made.values[Key(kind, n, "density")].value for kind, names in kinds.items() for n in names]
    return Recipe(
        values,
        _density("fiber", fibers, layers, summed),
        _density("resin", resins, layers, summed),
        partial(_added, FIBER, summed) if plies is not None else None,
        partial(_added, VOID_FREE, summed) if plies is not None and not bleeds else None,
        partial(_added, BESIDE_PLIES, partial(summed, melts=True)) if stay else None,
        plies,
        Constituents(frozenset(part.fiber[name].kind for name in fibers), min(densities), max(densities)),
        _notes(part, counted),
        partial(_ranges, summed, place.bleed_limit.value) if plies is not None or len(counted) == 1 else None,
        _causes(case, lots),
        unknown_layup=plies is None and mixed,
        ply_scatters=_ply_scatters(part, counted) if plies is not None else {},
    )


def _added(names: Sequence[str], summed: Summed, x: Inputs) -> Any:
    """Two of the sums of a stack together."""
    first, other = attrgetter(*names)(summed(x))
    return first + other


def _ranges(summed: Summed, most: float, x: Inputs) -> dict[str, tuple[Any, Any]]:
    s = summed(x)
    whole, bled = (cured(s, bleed=b, void_content=0.0) for b in (0.0, most))
    return {name: (whole[name], bled[name]) for name in whole if name != "void_content"}


def _ply_scatters(part: Part, counted: Mapping[str, int]) -> dict[str, tuple[Spread, int]]:
    """How much one ply of each prepreg scatters, with the count of its plies."""
    there = {name: count for name, count in counted.items() if name in part.prepreg and count}
    scatters = {name: (part.prepreg[name].ply_scatter, count) for name, count in there.items()}
    return {name: (spread, count) for name, (spread, count) in scatters.items() if spread is not None}


def _causes(case: Case, lots: frozenset[str]) -> dict[Name, Name]:
    """The values that the named lots certify have an error of their own where a prepreg has several lots."""
    causes: dict[Name, Name] = {}
    for lot in case.batch.lot:
        several = sum(other.prepreg == lot.prepreg for other in case.batch.lot) > 1
        if several and lot.number in lots:
            for what in ("areal_weight", "resin_content", "volatiles"):
                causes[Key("prepreg", lot.prepreg, what)] = Key(LOT, lot.number, f"{lot.prepreg}.{what}")
    return causes


def of_prepreg(case: Case, name: str, lot: str) -> Recipe:
    """The recipe of an incoming test: the volatiles to reckon with, and what certificates or part file say.

    lot: number of the lot that was tested, '' for any of the prepreg.
    """
    lots = frozenset({lot} if lot else ())
    nominal, made = case.part.prepreg[name], case.ingredients(lots)
    volatiles = Key("prepreg", name, "volatiles")
    values: dict[Name, SIValue] = {volatiles: made.values[volatiles]}
    keys_by_attribute: dict[str, list[Name]] = {}
    for attribute, stated in (
        ("areal_weight", nominal.fiber_areal_weight),
        ("prepreg_areal_weight", nominal.prepreg_areal_weight),
        ("resin_content", nominal.resin_content),
        ("volatiles", nominal.volatiles if nominal.volatiles.u is not None else None),
    ):
        certified = [(n, v) for n, v in lot_values(case, name, attribute) if n == lot or not lot]
        for number, value in certified or ([("part file", stated)] if stated is not None else []):
            key = Key(CERTIFICATE, number, f"{name}.{attribute}")
            values[key] = value
            keys_by_attribute.setdefault(attribute, []).append(key)

    ranges, share = partial(_least_and_most, keys_by_attribute), made.values[volatiles]
    return Recipe(values, NONE, NONE, ranges=ranges, causes=_causes(case, lots), volatiles=share)


def _least_and_most(keys_by_attribute: Mapping[str, list[Name]], x: Inputs) -> dict[str, tuple[Any, Any]]:
    return {
        a: (min(map(x.get, keys), key=real_part), max(map(x.get, keys), key=real_part))
        for a, keys in keys_by_attribute.items()
    }


def _notes(part: Part, counted: Mapping[str, int]) -> tuple[str, ...]:
    return tuple(
        f"layer '{name}' stays in the part and counts as neither fiber nor resin: digestion and burn-off "
        "measure it as resin"
        for name in counted
        if name in part.layer and part.layer[name].stays and part.layer[name].counts_as == "neither"
    )
