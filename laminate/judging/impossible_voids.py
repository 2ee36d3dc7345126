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

    A coupon of which a reading is in doubt says nothing of the densities: that reading is mended first. Where
    the densities fit other coupons, the readings of the one below zero are asked about first.
    """
    doubted = {specimen.name for specimen in judged.measured.specimens if reading_in_doubt(specimen)}
    for characteristic in judged.characteristics:
        readings = characteristic.individual.readings if characteristic.individual else ()
        below = {reading.name for reading in readings if reading.value < MISFIT_AT * reading.u}
        if any(MISFIT in acceptance.reasons for _, acceptance in characteristic.held):
            what, names = f"{characteristic.label}: {MISFIT}", ", ".join(sorted(below))
            densities = f"{judged.case.name}, the density of its fiber and resin"
            if below and below <= doubted:
                yield OpenPoint(RULE, f"{what}, with a reading in doubt: {names}")
            elif below and len(below) < len(readings):
                files = {s.name: s.coupon.file for s in judged.measured.specimens}
                say = "; ".join(
                    f"{files[name]}, row of {name}: weigh it again first" for name in sorted(below)
                )
                what = f"{what}: {names} alone, so its readings are wrong, or the densities are"
                yield OpenPoint(RULE, what, f"{say}; then {densities}")
            else:
                what = f"{what}; the densities do not fit this laminate"
                yield OpenPoint(RULE, what, f"{densities}, or measure it again")
