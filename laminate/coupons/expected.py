"""What lot, recipe and the specimen itself say a quantity should be, where peers are few or cannot tell."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.coupons.comparisons import TWICE, Key, compared_of, piece_for_loss
from laminate.coupons.peers import COVERAGE, Interval
from laminate.coupons.slips import number_of, one_slip_away
from laminate.formulas.cavity import CLOSE_PACKED

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen

Intervals = dict[Key, Interval]
VOIDS = 0.05
"""Void content above which a weighing is doubted first (common practice, no source)."""
SAME_PIECE = 0.15
"""What weighs less than the specimen by more may be a piece cut off it."""
ONE_PIECE = Interval(0.994, 0.999, 1.003, "one piece weighed twice")
"""Second weighing of one piece over the first: moisture lost or taken up (common practice, no source)."""
LOCAL = {"fiber_volume": 0.008, "void_content": 0.004}
"""Difference of two methods on a coupon of uneven areal weight (common practice, no source)."""
ROUND = "from what is hardly reinforced to round fibers that all touch"
# bounds of what depends on no lot (common practice, no source)
PLAIN: dict[str, Interval] = {
    "liquid temperature": Interval(283.15, 296.15, 308.15, "a liquid at the temperature of a room"),
    "fiber content": Interval(0.15, 0.65, 0.955, "the fiber content of a molded laminate"),
    "fiber volume": Interval(0.10, 0.60, CLOSE_PACKED, ROUND),
    "fiber volume by thickness": Interval(0.10, 0.60, CLOSE_PACKED, ROUND),
    "specimen twice": Interval(0.997, 1.0, 1.003, "one mass, given twice"),
    "residue twice": Interval(0.99, 1.0, 1.01, "one mass, given twice"),
    "area twice": Interval(0.98, 1.0, 1.02, "one area, given twice"),
    "density twice": Interval(0.99, 1.0, 1.01, "one density, given twice"),
    "liquid twice": Interval(0.999, 1.0, 1.001, "as water of its temperature has"),
    "dry": Interval(0.97, 0.998, 1.0005, "a coupon that loses its moisture alone"),
    "crucible drift": Interval(-0.001, 0.0, 0.001, "a crucible that weighs the same before and after"),
    "by dimensions": Interval(0.92, 0.99, 1.05, "the same density by dimensions and by immersion"),
    "open void content": Interval(-0.001, 0.01, 0.10, "open voids of a laminate"),
    "volatiles": Interval(-0.002, 0.005, 0.05, "volatiles of a prepreg"),
    "prepreg resin content": Interval(0.15, 0.36, 0.65, "the resin content of a prepreg"),
    "backing": Interval(0.0, 0.09, 0.4, "the mass per area of backing paper or film"),
}
AGREEING = "two methods that agree within 1.5 times what their uncertainty and an uneven laminate allow"


Expected = defaultdict[Key, list[tuple[str, Interval]]]
"""The intervals of every quantity of a specimen, each with who says so: peers, prediction or itself."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """One quantity of a specimen outside one interval."""

    key: Key
    value: float
    interval: Interval
    source: str


Deviations = dict[int, list[Deviation]]
"""Row -> what of it does not fit."""


def of_specimen(specimen: Specimen, numbers: Mapping[Key, Any], *, cut: bool) -> Intervals:
    """The interval of every quantity that can be told from the specimen, its lot and its recipe.

    cut: it lost its matrix as a piece cut off it, as its peers did, and says nothing of one piece.
    """
    intervals = {key: PLAIN[key[0]] for key in numbers if key[0] in PLAIN}
    _by_recipe(intervals, specimen, numbers)
    _by_itself(intervals, specimen, numbers, cut=cut)
    _by_constituents(intervals, specimen, numbers)
    return intervals


def _by_constituents(intervals: Intervals, specimen: Specimen, numbers: Mapping[Key, Any]) -> None:
    """A density that nothing predicts lies between those of fiber and resin, but for voids."""
    low, high = specimen.recipe.constituents.lightest * (1.0 - VOIDS), specimen.recipe.constituents.heaviest
    for key in numbers:
        if key[0] in ("density", "density given") and key not in intervals and math.isfinite(high):
            intervals[key] = Interval(low, 0.5 * (low + high), high, "as its fiber and resin allow")


def _by_recipe(intervals: Intervals, specimen: Specimen, numbers: Mapping[Key, Any]) -> None:
    plies, ranges = specimen.recipe.plies or 1, specimen.recipe.predicted
    predicting = "the certificate predicts" if specimen.prepreg else "lot, layup and bleed limit predict"
    for key, known in ((key, compared_of(key)) for key in numbers):
        if known.predicted not in ranges:
            continue
        per = plies if key[0] in ("ply thickness", "mass per area") else 1.0
        low, high, u = (end / per for end in ranges[known.predicted])
        half = COVERAGE * math.hypot(u, known.scatter * (high if known.relative else 1.0))
        low = low * (1.0 - VOIDS) if known.predicted == "density" else low
        high = high / (1.0 - VOIDS) if known.predicted == "thickness" else high
        intervals[key] = Interval(low - half, 0.5 * (low + high), high + half, f"as {predicting}")


def _slip_of_one_piece(specimen: Specimen, ratio: float) -> bool:
    """Whether one slip in a cell makes the whole specimen look like a piece cut off it.

    ratio: mass for the loss of matrix over mass of the specimen.
    """
    low, high = ONE_PIECE.low, ONE_PIECE.high
    numbers, texts = specimen.coupon.numbers, specimen.coupon.texts
    piece = piece_for_loss(numbers)
    if piece is None:
        return False
    whole = piece / ratio
    for label, sign, mass in (
        ("specimen mass", 1.0, piece),
        ("crucible with specimen", 1.0, piece),
        ("crucible mass", -1.0, piece),
        ("mass in air", 1.0, whole),
    ):
        number = number_of(texts.get(label, ""))
        if not number:
            continue
        step = sign * numbers[label] / number
        for meant in one_slip_away(texts[label], "mass"):
            mended = mass + (meant.number - number) * step
            if low <= (piece / mended if label == "mass in air" and mended > 0.0 else mended / whole) <= high:
                return True
    return False


def _by_itself(intervals: Intervals, specimen: Specimen, numbers: Mapping[Key, Any], *, cut: bool) -> None:
    for key, value in numbers.items():
        if key[0] == "void content":
            u = specimen.every["void_content", key[1]].u
            words = f"no less than -2 u ({200 * u:.2g} points) and no more than {100 * VOIDS:.0f} % of voids"
            intervals[key] = Interval(*voids_within(u), words)
        elif key[0] != "same piece" or cut:
            continue
        elif value > 1.0 - SAME_PIECE or _slip_of_one_piece(specimen, value):
            intervals[key] = ONE_PIECE
    for agreement in specimen.agreement:
        key = ("between", agreement.attribute, *agreement.methods)
        if agreement.attribute in TWICE and key in numbers:
            intervals[key] = Interval(*agreeing_within(agreement.attribute, agreement.allowed), AGREEING)


def voids_within(u: Any) -> tuple[Any, float, Any]:
    """Least, usual and largest void content of a laminate, measured with a standard uncertainty."""
    return -2.0 * u, min(0.01, VOIDS / 2), VOIDS + 2.0 * u


def agreeing_within(attribute: str, allowed: Any) -> tuple[Any, float, Any]:
    """Least, usual and largest difference of two methods; allowed: by their uncertainty [SI]."""
    half = ((1.5 * allowed) ** 2 + LOCAL[attribute] ** 2) ** 0.5
    return -half, 0.0, half
