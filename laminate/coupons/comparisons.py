"""What can be compared between specimens of one kind, or between two readings of one specimen.

Masses depend on how large a specimen was cut; densities, contents and ratios do not. `numbers` computes what
the readings of one specimen allow, from numbers or from whole columns of what a cell may have meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.methods import (
    AREAL,
    DIMENSIONS,
    EXTRACTION,
    GIVEN,
    IMMERSION,
    OVEN,
    SATURATED,
    WEIGHING,
    Plan,
    Results,
    attributes,
    loss_masses,
)
from laminate.coupons.readings import COLDEST, HOTTEST, WATER, constants_of
from laminate.coupons.recipes import Inputs
from laminate.files.coupons import NUMBERS, base_name
from laminate.formulas.water import water_density
from laminate.values.quantities import (
    ATTRIBUTES,
    DEG_C,
    G_CM3,
    G_M2,
    GRAM,
    KIND_UNITS,
    MM,
    NUMBER,
    PERCENT,
    Unit,
)
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Specimen

IMMERSED = (
    "mass in liquid", "mass in air", "liquid temperature", "sinker mass in liquid", "saturated mass",
    "dry mass", "liquid density",
)  # fmt: skip
LOST = ("residue mass", "specimen mass", "crucible with residue", "crucible with specimen", "crucible mass")
SIZED = ("thickness", "length", "width", "area")
TWICE = ("fiber_volume", "void_content")
WEIGHED = ("mass in air", "dry mass")
PREPREG = ("prepreg mass", "backing mass", "fiber mass", "dried mass", "area", "length", "width")


@dataclass(frozen=True, slots=True)
class Compared:
    """One quantity that is compared.

    words: on screens; columns: whose cells it comes from, the most suspect first; unit: shown; scatter:
    plausible standard deviation between like specimens [SI, or a share of the value where relative] (common
    practice, no source); advice: what to do, '' for reading a cell again; besides: what else may be the
    cause; of_all: what to do where it is off in most specimens; predicted: the attribute of which lot and
    recipe, or certificate, predict a range.
    """

    words: str
    columns: tuple[str, ...]
    unit: Unit = PERCENT
    scatter: float = 0.0
    relative: bool = False
    advice: str = ""
    besides: str = ""
    of_all: str = "check the unit in the heading, the lot, the plies and the certificate"
    predicted: str = ""

    def again(self, column: str) -> str:
        """What to do about a cell of a column."""
        weighed = NUMBERS.get(column, "mass") == "mass"
        return self.advice or ("read and weigh it again" if weighed else "read it again")

    def remedy(self, column: str) -> str:
        """The same with what else may be the cause."""
        return self.again(column) + (f" ({self.besides})" if self.besides else "")


WEIGH_AGAIN = ("weigh it again", "bubbles, or another coupon on the pan?")
ONE_PIECE = ("weigh it again", "one piece weighs the same twice, dry")
COMPARED: dict[str, Compared] = {
    "density": Compared("density", IMMERSED, G_CM3, 0.003, True, *WEIGH_AGAIN, predicted="density"),
    "density given": Compared("density", ("density",), G_CM3, 0.003, True, predicted="density"),
    "fiber content": Compared(
        "fiber content", LOST, PERCENT, 0.005, False,
        "weigh it again", "is all of the matrix gone, and no fiber lost?", predicted="fiber_content",
    ),
    "void content": Compared(
        "void content", (*IMMERSED, *LOST, "density"), PERCENT, 0.003, False,
        "weigh it again", "bubbles in the liquid, matrix left in the residue, or another coupon on the pan?",
        "check the liquid and its density, and the densities of fiber and resin",
    ),
    "open void content": Compared(
        "open void content", ("saturated mass", "dry mass", "mass in liquid"), PERCENT, 0.002, False,
        "weigh it again, saturated and its surface wiped",
    ),
    "size": Compared(
        "mass of the coupon",
        ("crucible with specimen", "crucible mass", "specimen mass", "mass in air", "dry mass"),
        GRAM, 0.08, True, "weigh it again", "another specimen, or another crucible?",
    ),
    "same piece": Compared(
        "specimen mass over mass in air",
        ("specimen mass", "mass in air", "crucible with specimen", "crucible mass", "dry mass"),
        NUMBER, 0.0003, False, *ONE_PIECE,
    ),
    "dry": Compared(
        "dry mass over mass in air", ("dry mass", "mass in air"), NUMBER, 0.0015, False, *ONE_PIECE
    ),
    "crucible drift": Compared(
        "crucible again minus crucible mass, over the coupon", ("crucible again", "crucible mass"),
        PERCENT, 0.0004, False, "glow the empty crucible to constant mass and weigh it again",
    ),
    "by dimensions": Compared(
        "density by dimensions over density by immersion", (*SIZED, "mass in air", "mass in liquid"),
        NUMBER, 0.008, True, "measure the dimensions again, away from edges and ridges",
    ),
    "thickness": Compared("thickness", ("thickness", "plies"), MM, 0.009, True, "measure it again"),
    "ply thickness": Compared(
        "thickness per ply", ("thickness", "plies"), MM, 0.009, True, "measure it again, and count the plies",
        predicted="thickness",
    ),
    "mass per area": Compared(
        "mass per area, per ply", ("mass in air", "length", "width", "area", "plies"), G_M2, 0.008, True,
        predicted="mass",
    ),
    "liquid temperature": Compared(
        "liquid temperature", ("liquid temperature",), DEG_C, 0.6, False,
        "read the thermometer again; let liquid and coupon come to one temperature",
        of_all="check the unit in the heading and the thermometer",
    ),
    "fiber volume": Compared("fiber volume", (*LOST, *IMMERSED, "density"), PERCENT),
    "fiber volume by thickness": Compared(
        "fiber volume by thickness", ("thickness", "plies"), PERCENT, 0.0, False,
        "measure it again, and count the plies",
    ),
    **{
        f"{what} twice": Compared(
            f"{what} mass over that in the crucible", (f"{what} mass", f"crucible with {what}"), NUMBER,
            advice="the weighings in the crucible are used: correct one of the two",
        )
        for what in ("specimen", "residue")
    },
    "area twice": Compared(
        "area over length times width", ("area", "length", "width"), NUMBER, 0.0, False,
        "the area is used: correct one of the two",
    ),
    "density twice": Compared(
        "density given over density by immersion", ("density", "mass in liquid", "mass in air"), NUMBER,
        0.0, False, "the weighings are used: correct one of the two",
    ),
    "liquid twice": Compared(
        "liquid density over that of water", ("liquid density",), NUMBER, 0.0, False,
        "read it again, or leave it out where the liquid is water",
    ),
    "sinker": Compared(
        "sinker mass in liquid", ("sinker mass in liquid",), GRAM, 0.0002, True,
        "weigh sinker and wire alone again, wetted to the same depth",
    ),
    "prepreg areal weight": Compared(
        "prepreg areal weight", PREPREG, G_M2, 0.006, True, predicted="prepreg_areal_weight"
    ),
    "prepreg fiber areal weight": Compared(
        "fiber areal weight", ("fiber mass", "area", "length", "width"), G_M2, 0.006, True,
        predicted="areal_weight",
    ),
    "prepreg resin content": Compared(
        "resin content", PREPREG[:4], PERCENT, 0.0025, predicted="resin_content"
    ),
    "volatiles": Compared(
        "volatiles", ("dried mass", "prepreg mass", "backing mass"), PERCENT, 0.0006, predicted="volatiles"
    ),
    "backing": Compared("backing over area", ("backing mass", "area", "length", "width"), G_M2, 0.01, True),
}  # fmt: skip

Key = tuple[str, ...]
"""('density', method), ('read', column) or ('between', attribute, method, method)."""


def readings_of(specimen: Specimen, bench: Bench) -> dict[Any, Any]:
    """Every input of a specimen by name: means of its readings, and the constants [SI]."""
    coupon = specimen.coupon
    readings = by_key((base_name(label), number) for label, number in coupon.numbers.items())
    x: dict[Any, Any] = {name: sum(values) / len(values) for name, values in readings.items()}
    constants = constants_of(specimen.plan, specimen.recipe, bench, [coupon])
    x |= {name: value.value for name, value in constants.items()}
    if specimen.plan.volatiles:
        x["volatiles"] = specimen.recipe.volatiles.value
    return x


def numbers(x: Inputs, specimen: Specimen) -> dict[Key, Any]:
    """Every compared quantity that the readings allow, numbers or columns [SI]."""
    plan, recipe = specimen.plan, specimen.recipe
    compared: dict[Key, Any] = {
        ("read", name): x[name] for name in NUMBERS if name in x and name not in ("points", "plies")
    }
    for name, column in (("liquid temperature",) * 2, ("sinker", "sinker mass in liquid")):
        if column in x:
            compared[name, ""] = x[column]
    every = attributes(x, plan, recipe)
    for name, attribute, method in (
        ("density", "density", IMMERSION),
        ("density", "density", SATURATED),
        ("density given", "density", GIVEN),
        ("fiber content", "fiber_content", plan.loss),
        ("fiber volume", "fiber_volume", f"{plan.loss} and {plan.density}"),
        ("fiber volume by thickness", "fiber_volume", AREAL),
        ("void content", "void_content", f"{plan.loss} and {plan.density}"),
        ("open void content", "open_void_content", SATURATED),
        ("prepreg areal weight", "prepreg_areal_weight", WEIGHING),
        ("prepreg fiber areal weight", "areal_weight", EXTRACTION),
        ("prepreg resin content", "resin_content", EXTRACTION),
        ("volatiles", "volatiles", OVEN),
    ):
        if (attribute, method) in every:
            compared[name, method] = every[attribute, method]
    for agreement in specimen.agreement:
        first, other = ((agreement.attribute, method) for method in agreement.methods)
        if agreement.attribute in TWICE and first in every and other in every:
            compared["between", *first, other[1]] = every[first] - every[other]
    _ratios(compared, x, specimen, every)
    _given_twice(compared, x, specimen.plan, every)
    return compared


def _given_twice(compared: dict[Key, Any], x: Inputs, plan: Plan, every: Results) -> None:
    """What a row says in two ways, of which one is used."""
    if plan.crucible:
        for name, mass in zip(("specimen", "residue"), loss_masses(x, plan), strict=True):
            if f"{name} mass" in x:
                compared[f"{name} twice", ""] = x[f"{name} mass"] / mass
    if "area" in x and "length" in x and "width" in x:
        compared["area twice", ""] = x["area"] / (x["length"] * x["width"])
    if "density" in x and plan.density in (IMMERSION, SATURATED):
        compared["density twice", ""] = x["density"] / every["density", plan.density]
    if any(plan.water_within) and plan.density in (IMMERSION, SATURATED):
        stated = x["liquid density"], x.get("liquid temperature")
        compared["liquid twice", ""] = _over_water(*stated, *plan.water_within)


def _over_water(stated: Any, temperature: Any, known: float, other: float) -> Any:
    """A density of the liquid over that of water [kg/m^3, K]; NaN where it is that of water, or of no water.

    temperature: None where it was not read, so that any from 0 to 40 degC may be; known, other: shares by
    which it differs at least and at most.
    """
    liquid = np.clip(stated, *WATER)
    if temperature is not None:
        inside = (temperature >= COLDEST) & (temperature <= HOTTEST)
        liquid = np.where(inside, water_density(temperature=np.clip(temperature, COLDEST, HOTTEST)), np.nan)
    far = np.abs(stated / liquid - 1.0)
    return np.where((far >= known) & (far < other), stated / liquid, np.nan)


def _ratios(compared: dict[Key, Any], x: Inputs, specimen: Specimen, every: Results) -> None:
    plan, counted = specimen.plan, x.get("plies", specimen.recipe.plies)
    plies = 1 if counted is None else counted
    whole = next((x[name] for name in WEIGHED if name in x), None)
    sample = piece_for_loss(x)
    size = whole if whole is not None else sample
    if size is not None and not plan.prepreg:
        compared["size", ""] = size
    if sample is not None and whole is not None:
        compared["same piece", ""] = sample / whole
    if plan.loss and "crucible again" in x and "crucible mass" in x:
        sample = loss_masses(x, plan)[0]
        compared["crucible drift", ""] = (x["crucible again"] - x["crucible mass"]) / sample
    if "dry mass" in x and "mass in air" in x:
        compared["dry", ""] = x["dry mass"] / x["mass in air"]
    if "thickness" in x:
        compared["thickness" if counted is None else "ply thickness", ""] = x["thickness"] / plies
    area = x["area"] if plan.area == "area" else x["length"] * x["width"] if plan.area else None
    if area is not None and plan.prepreg and "backing mass" in x:
        compared["backing", ""] = x["backing mass"] / area
    if area is None or whole is None or plan.prepreg:
        return
    compared["mass per area", ""] = whole / area / plies
    if "thickness" in x and plan.density != DIMENSIONS and ("density", plan.density) in every:
        compared["by dimensions", ""] = whole / (area * x["thickness"]) / every["density", plan.density]


def piece_for_loss(x: Inputs) -> Any:
    """The specimen as weighed for the loss of matrix [kg], with or without its residue; None: not weighed."""
    if "crucible mass" in x and "crucible with specimen" in x:
        return x["crucible with specimen"] - x["crucible mass"]
    return x.get("specimen mass")


def compared_of(key: Key) -> Compared:
    """What is known of a compared quantity."""
    if key[0] == "read":
        return Compared(key[1], (key[1],), KIND_UNITS[NUMBERS[key[1]]])
    if key[0] == "between":
        attribute = ATTRIBUTES[key[1]]
        words = f"{attribute.words} by {key[2]} minus by {key[3]}"
        return Compared(words, (*IMMERSED, *LOST, *SIZED, "plies", "density"), attribute.unit)
    return COMPARED[key[0]]
