"""A measured batch in which every specimen counts, the excluded and the replaced ones too."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.measured import zone_result
from laminate.files.coupons import Coupons

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.files.coupons import Coupon


def with_every(case: Case, measured: Measurement, names: Collection[str] | None = None) -> Measurement | None:
    """The same readings with nothing left out; None where nothing is, or where what is has no result.

    names: count only these besides.
    """
    every = (*measured.specimens, *measured.prepregs)
    left_out = {s.name for s in every if not s.counts and s.every and (names is None or s.name in names)}
    if not left_out:
        return None
    rows = [*(s.coupon for s in every), *measured.others]
    if any(row.word("excluded") for row in rows if row.specimen in left_out):
        # how repeats scatter is told by all that count: every ± may change
        rows = [not_excluded(row) if row.specimen in left_out else row for row in rows]
        measured = measure_batch(case, Coupons(tuple(rows), ()))

    def counted(specimen: Specimen) -> Specimen:
        return replace(specimen, replaced_by="") if specimen.name in left_out else specimen

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
