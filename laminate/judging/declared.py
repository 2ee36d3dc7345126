"""What a batch states in the place of a proof: sentences that stand beside its decision."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.files.not_recorded import NOT_RECORDED, NotRecorded
from laminate.judging.evidence import evidence_of, gauges_of
from laminate.judging.lots import planned_prepregs
from laminate.judging.stated import constants

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic

TRACEABLE, NONE, EXACT = "traceable", "none", "exact"


@dataclass(frozen=True, slots=True)
class Declared:
    """One sentence: `traceable`, `not recorded`, `none` or `exact`; what it is of; the reason or value."""

    key: str
    of: str
    reason: str


def declared(case: Case, measured: Measurement, characteristics: list[Characteristic]) -> Iterator[Declared]:
    """What the decision rests on by a statement alone: of deciding figures, and of lots of planned zones."""
    fed = evidence_of(measured, characteristics)
    for name in gauges_of(fed, measured):
        instrument = case.batch.instrument.get(name)
        if instrument is not None and instrument.traceable:
            yield Declared(
                TRACEABLE, f"instrument {name} {instrument.identity}".strip(), instrument.traceable
            )
    planned = planned_prepregs(case)
    for lot in (lot for lot in case.batch.lot if lot.prepreg in planned):
        for key in ("made", "expires", "out_time", "out_life"):
            value = getattr(lot, key)
            if isinstance(value, NotRecorded):
                yield Declared(NOT_RECORDED, f"{key.replace('_', ' ')} of lot {lot.number}", value.reason)
    if case.batch.blank is not None and case.batch.blank.none and any(evidence.by_loss for evidence in fed):
        yield Declared(NONE, "blank, the loss is taken as zero", case.batch.blank.none)
    for stated in constants(case, measured, characteristics):
        if stated.exact and stated.value is not None:
            yield Declared(EXACT, stated.place, stated.value.text)
