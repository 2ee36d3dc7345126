"""What a batch states in the place of a proof: sentences that stand beside its decision."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.files.not_recorded import NOT_RECORDED, NotRecorded
from laminate.judging.lots import planned_prepregs
from laminate.judging.stated import constants

if TYPE_CHECKING:
    from laminate.judging.evidence import BatchEvidence

TRACEABLE, NONE, EXACT = "traceable", "none", "exact"


@dataclass(frozen=True, slots=True)
class Declared:
    """One sentence: `traceable`, `not recorded`, `none` or `exact`; what it is of; the reason or value."""

    key: str
    of: str
    reason: str


def declared(judged: BatchEvidence) -> Iterator[Declared]:
    """What the decision rests on by a statement alone: of deciding figures, and of lots of planned zones."""
    case = judged.case
    for name, instrument in judged.gauges.items():
        if instrument.traceable:
            called = f"instrument {name} {instrument.identity}".strip()
            yield Declared(TRACEABLE, called, instrument.traceable)
    planned = planned_prepregs(case)
    for lot in (lot for lot in case.batch.lot if lot.prepreg in planned):
        for key in ("made", "expires", "out_time", "out_life"):
            value = getattr(lot, key)
            if isinstance(value, NotRecorded):
                yield Declared(NOT_RECORDED, f"{key.replace('_', ' ')} of {lot.called}", value.reason)
    blank = case.batch.blank
    if blank is not None and blank.none and any(evidence.by_loss for evidence in judged.fed):
        yield Declared(NONE, "blank, the loss is taken as zero", blank.none)
    for stated in constants(judged):
        if stated.exact and stated.value is not None:
            yield Declared(EXACT, stated.place, stated.value.text)
