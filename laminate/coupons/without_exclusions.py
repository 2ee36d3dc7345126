"""A measured batch in which every specimen counts, the excluded and the replaced ones too."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons.measured import zone_result

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.files.coupons import Coupon


def with_every(case: Case, measured: Measurement, names: Collection[str] | None = None) -> Measurement | None:
    """The same readings with nothing left out; None where nothing is, or where what is has no result.

    names: count only these besides.
    """
    left_out = [s for s in (*measured.specimens, *measured.prepregs) if not s.counts and s.every]
    left_out = [s for s in left_out if names is None or s.name in names]
    if not left_out:
        return None

    def counted(specimen: Specimen) -> Specimen:
        if specimen.counts or not (names is None or specimen.name in names):
            return specimen
        return replace(specimen, coupon=not_excluded(specimen.coupon), replaced_by="")

    specimens = [counted(specimen) for specimen in measured.specimens]
    zones = [
        zone_result([s for s in specimens if s.zone == zone.zone], zone.zone, case.part.pooled)
        for zone in measured.zones
    ]
    prepregs = [counted(specimen) for specimen in measured.prepregs]
    return replace(measured, specimens=specimens, prepregs=prepregs, zones=zones)


def not_excluded(coupon: Coupon) -> Coupon:
    """The row without its cell `excluded`."""
    words = {column: text for column, text in coupon.words.items() if column != "excluded"}
    return replace(coupon, words=words)
