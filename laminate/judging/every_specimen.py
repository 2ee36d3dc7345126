"""A measured batch in which every specimen counts, the excluded and the replaced ones too."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons.measured import zone_result

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case


def with_every(case: Case, measured: Measurement) -> Measurement | None:
    """The same readings with nothing left out; None where nothing is, or where what is has no result."""
    if not any(not s.counts and s.every for s in (*measured.specimens, *measured.prepregs)):
        return None
    specimens = [_counting(specimen) for specimen in measured.specimens]
    zones = [
        zone_result([s for s in specimens if s.zone == one.zone], one.zone, case.part.pooled)
        for one in measured.zones
    ]
    return replace(
        measured, specimens=specimens, prepregs=[_counting(s) for s in measured.prepregs], zones=zones
    )


def _counting(specimen: Specimen) -> Specimen:
    if specimen.counts:
        return specimen
    words = {column: text for column, text in specimen.coupon.words.items() if column != "excluded"}
    return replace(specimen, coupon=replace(specimen.coupon, words=words), replaced_by="")
