"""Void contents so far below zero that the densities cannot be those of the laminate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.judging.acceptance import MISFIT, MISFIT_AT
from laminate.judging.doubts import reading_in_doubt
from laminate.judging.held_back import HeldBack

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic

RULE = 9


def held_by_impossible_voids(
    case: Case, measured: Measurement, characteristics: list[Characteristic]
) -> Iterator[HeldBack]:
    """Void contents below -2u: no concession covers a figure that cannot be true.

    A coupon of which a reading is in doubt says nothing of the densities: that reading is mended first.
    """
    doubted = {specimen.name for specimen in measured.specimens if reading_in_doubt(specimen)}
    for characteristic in characteristics:
        held = [
            acceptance
            for acceptance in (characteristic.individual, characteristic.average)
            if acceptance is not None
        ]
        readings = characteristic.individual.readings if characteristic.individual else ()
        below = {reading.name for reading in readings if reading.value < MISFIT_AT * reading.u}
        if any(MISFIT in acceptance.reasons for acceptance in held):
            what = f"{characteristic.label}: below zero by more than 2 u"
            if below and below <= doubted:
                yield HeldBack(RULE, f"{what}, with a reading in doubt: {', '.join(sorted(below))}")
            else:
                say = f"{case.name}, the density of its fiber and resin, or measure it again"
                yield HeldBack(RULE, f"{what}; {MISFIT}", say)
