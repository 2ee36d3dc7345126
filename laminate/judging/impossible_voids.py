"""Void contents so far below zero that the densities cannot be those of the laminate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.judging.acceptance import MISFIT, MISFIT_AT
from laminate.judging.doubts import reading_in_doubt
from laminate.judging.open_point import OpenPoint

if TYPE_CHECKING:
    from laminate.judging.evidence import BatchEvidence

RULE = 9


def impossible_voids_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Void contents below -2u: no concession covers a figure that cannot be true.

    A coupon of which a reading is in doubt says nothing of the densities: that reading is mended first.
    """
    doubted = {specimen.name for specimen in judged.measured.specimens if reading_in_doubt(specimen)}
    for characteristic in judged.characteristics:
        readings = characteristic.individual.readings if characteristic.individual else ()
        below = {reading.name for reading in readings if reading.value < MISFIT_AT * reading.u}
        if any(MISFIT in acceptance.reasons for _, acceptance in characteristic.held):
            what = f"{characteristic.label}: below zero by more than 2 u"
            if below and below <= doubted:
                yield OpenPoint(RULE, f"{what}, with a reading in doubt: {', '.join(sorted(below))}")
            else:
                say = f"{judged.case.name}, the density of its fiber and resin, or measure it again"
                yield OpenPoint(RULE, f"{what}; {MISFIT}", say)
