"""The chance that all characteristics hold at once, and how two attributes of a coupon go together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.methods import POINTS
from laminate.formulas import special
from laminate.formulas.joint_conformity import joint_probability

if TYPE_CHECKING:
    from laminate.coupons.measured import ZoneResult
    from laminate.judging.acceptance import Acceptance, Reading
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.judgement import Judgement
    from laminate.values.input_key import Name

FAR = 9.0
"""Standard deviations that stand for no limit: 1e-19 lies beyond."""
NOTHING, NARROW = 1e-300, 1e-9
"""A chance too small to be parted; half a distance of bounds that leaves none worth a figure."""
TOGETHER = ("fiber_volume", "void_content")


@dataclass(frozen=True, slots=True)
class Correlation:
    """The correlation of what is uncertain in two attributes of one coupon, mean over those of the zone."""

    of: tuple[str, str]
    zone: str | None
    value: float


def chance_of_all(judgement: Judgement) -> float | None:
    """Probability that every characteristic and process reading is inside its limits at once.

    None where one of them has no chance, where there is none, or where so many share so much that it cannot
    be said.
    """
    return chance_together([*judgement.characteristics, *judgement.process])


def chance_together(characteristics: Iterable[Characteristic]) -> float | None:
    """The chance of all by a normal copula: each keeps its own, sources by one name correlate them.

    Each stands as a standard normal quantity between two bounds that leave it its own chance, parted below
    and above as its least certain reading lies between the limits. Two are correlated by what their readings
    share: the sum of products of signed contributions over both standard uncertainties (JCGM 100:2008,
    5.2.2). Never above the smallest chance.
    """
    deciding: list[tuple[float, Acceptance]] = []
    for characteristic in characteristics:
        pair = (characteristic.individual, characteristic.average)
        held = [acceptance for acceptance in pair if acceptance and acceptance.probability is not None]
        if characteristic.probability is None or not held:
            return None
        deciding.append((characteristic.probability, min(held, key=lambda h: h.probability or 0.0)))
    if not deciding:
        return None
    low, high = np.array([_bounds(held, chance) for chance, held in deciding]).T
    middle, half, least = (low + high) / 2.0, (high - low) / 2.0, min(chance for chance, _ in deciding)
    if half.min() < NARROW:
        return least
    shared = _shares([held.worst for _, held in deciding])
    unshared = np.sqrt(np.maximum(1.0 - np.square(shared).sum(axis=0), 0.0))
    both = joint_probability(
        values=-middle / half, own=unshared / half, shared=shared / half, minimum=-1.0, maximum=1.0
    )
    return None if both is None else min(both, least)


def _bounds(held: Acceptance, chance: float) -> tuple[float, float]:
    """Bounds of a standard normal quantity that it lies between with this chance."""
    reading = held.worst
    low, high = held.minimum, held.maximum
    below, above = 0.0, 0.0
    if reading.u > 0.0:
        below = 0.0 if low is None else float(special.ndtr((low - reading.value) / reading.u))
        above = 0.0 if high is None else float(special.ndtr((reading.value - high) / reading.u))
    if below + above < NOTHING:
        below, above = (0.0 if low is None else 0.5), (0.0 if high is None else 0.5)
    outside = (1.0 - chance) / (below + above)
    ends = special.ndtri(outside * below), -special.ndtri(outside * above)
    under, over = (min(max(float(end), -FAR), FAR) for end in ends)
    return under, over


def _shares(readings: list[Reading]) -> np.ndarray:
    """Share (sources, readings), signed, of each shared source in the uncertainty of each reading."""
    names: list[Name] = list(dict.fromkeys(name for reading in readings for name in reading.shared))
    table = [[r.shared.get(name, 0.0) / r.u if r.u > 0.0 else 0.0 for r in readings] for name in names]
    shares = np.array(table, dtype=float).reshape(len(names), len(readings))
    return np.asarray(shares / np.maximum(np.sqrt(np.square(shares).sum(axis=0)), 1.0))


def correlations(zones: Iterable[ZoneResult]) -> Iterator[Correlation]:
    """Of fiber volume and void content in each zone where both are measured and neither is exact.

    The sum over the zone's coupons of the products of both contributions of each source, over the root of
    both sums of squares (JCGM 100:2008, 5.2.2). None of points counted: how both scatter between fields is
    known, not how they go together.
    """
    for zone in zones:
        first, second = TOGETHER
        if not {*TOGETHER} <= {*zone.methods} or POINTS in (zone.methods[first], zone.methods[second]):
            continue
        keys = [(attribute, zone.methods[attribute]) for attribute in TOGETHER]
        there = {s.name for s in zone.counted(second)}
        both = [s for s in zone.counted(first) if s.name in there]
        pairs = [tuple(s.every[key].contributions() for key in keys) for s in both]
        squares = [math.fsum(c * c for pair in pairs for c in pair[at].values()) for at in (0, 1)]
        if all(squares):
            product = math.fsum(c * b.get(name, 0.0) for a, b in pairs for name, c in a.items())
            value = product / math.sqrt(squares[0] * squares[1])
            yield Correlation(TOGETHER, zone.zone, min(max(value, -1.0), 1.0))
