"""What the histories of the coupon tables hold a batch back for, and the readings that were corrected."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.doubt_reasons import reasons
from laminate.files.coupons import COLUMNS, Coupon, read_coupons
from laminate.files.entries import (
    COLUMN,
    Correction,
    compare,
    corrections,
    histories_of,
    history_name,
    read_history,
    with_old,
)
from laminate.files.tables import read_table
from laminate.judging.acceptance import FAILS, RANK
from laminate.judging.held_back import HeldBack
from laminate.values.problems import Refused

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic

OPEN_DOUBT, BROKEN = 2, 12


def held_by_history(
    case: Case, measured: Measurement, characteristics: list[Characteristic]
) -> Iterator[HeldBack]:
    """Histories that are missing or broken, and cells that differ from what was typed last."""
    histories = histories_of(case)
    for data, called in case.tables():
        name = history_name(called)
        if name not in histories and _plain(data):
            continue
        history = read_history(histories[name]) if name in histories else None
        for table in read_table(called, known=COLUMNS, problems=[], data=data):
            compared = compare(table, history)
            for words in compared.breaks:
                say = f"put back {name} as it was, or enter the coupon again"
                yield HeldBack(BROKEN, f"{name}: {words}", say)
            for place, specimen, words in compared.outside:
                what = f"{called}: {place}: {specimen}: changed outside 'laminate enter': {words}"
                say = f"weigh it again, and type it with 'laminate enter' into {called}"
                opens = _of(specimen, measured, characteristics)
                yield HeldBack(OPEN_DOUBT, what, say, opens=opens)


def _plain(data: bytes) -> bool:
    """Whether a table surely has no column of entries: text without the word, not a workbook."""
    return 0 not in data and COLUMN.encode() not in data.lower()


def _of(specimen: str, measured: Measurement, characteristics: list[Characteristic]) -> tuple[str, ...]:
    """Labels of what a specimen is decided in; a blank or check standard: of everything measured."""
    zones = {row.zone for row in measured.specimens if row.name == specimen}
    return tuple(
        characteristic.label
        for characteristic in characteristics
        if not zones or characteristic.zone in zones or characteristic.zone is None
    )


def corrected(case: Case) -> list[Correction]:
    """Every correction that the histories of a batch tell, as far as their chains are whole."""
    histories = histories_of(case)
    return [
        correction
        for _, called in case.coupon_files()
        if (data := histories.get(history_name(called))) is not None
        for correction in corrections(read_history(data), called)
    ]


def held_by_corrections(
    case: Case,
    measured: Measurement,
    corrections: Sequence[Correction],
    now: Sequence[Characteristic],
    decide: Callable[[Measurement], Sequence[Characteristic]],
) -> list[HeldBack]:
    """Corrections of readings that nothing had put in doubt, and with whose old value the answer is worse.

    now: the characteristics as judged; decide: those of another measurement. A reason that the row gives
    under 'accepted' for the column answers one.
    """
    ranks = {characteristic.label: RANK[characteristic.decision] for characteristic in now}
    coupons = {c.specimen: c for c in _coupons(measured)}
    first = {
        (correction.table, correction.specimen): correction.doubts for correction in reversed(corrections)
    }
    undoubted = [  # a doubt that a first correction without doubt has brought about excuses no other
        correction
        for correction in corrections
        if not first[correction.table, correction.specimen]
        and not _answered(coupons.get(correction.specimen), correction)
    ]
    held: list[HeldBack] = []
    alone = [[correction] for correction in undoubted]
    for ones in [*alone, undoubted] if len(alone) > 1 else alone:
        if len(ones) > 1 and held:
            break  # told one by one; together they are told where none alone makes the difference
        before = _measured_with_old(case, ones)
        worse = [
            characteristic.label
            for characteristic in (decide(before) if before is not None else ())
            if RANK[characteristic.decision] > ranks.get(characteristic.label, RANK[FAILS])
        ]
        if worse:
            changes = ", ".join(
                f"{row.specimen}, {row.column}: {row.old} to {row.new or 'nothing'}" for row in ones
            )
            what = f"{ones[0].table}: corrected though nothing had put it in doubt: {changes}; with what was "
            what += f"there the answer is worse: {', '.join(worse)}"
            rows = ", ".join(dict.fromkeys(f"{row.specimen}: {_label(row)}: ..." for row in ones))
            say = f"{ones[0].table}, accepted of {rows}; or exclude the row"
            held.append(HeldBack(OPEN_DOUBT, what, say))
    return held


def _label(correction: Correction) -> str:
    return correction.column.partition(" [")[0]


def _answered(coupon: Coupon | None, correction: Correction) -> bool:
    """Whether the row gives a reason for the column that was corrected."""
    return coupon is not None and _label(correction) in [reason.about for reason in reasons(coupon)]


def _coupons(measured: Measurement) -> list[Coupon]:
    return [s.coupon for s in (*measured.specimens, *measured.prepregs)] + measured.others


def _measured_with_old(case: Case, ones: Sequence[Correction]) -> Measurement | None:
    """The batch measured with the values that corrections took away; None where it cannot be."""
    tables = {called: data for data, called in case.tables()}
    changed = dict(tables)
    for row in reversed(ones):  # of a cell corrected twice, what was there first
        changed[row.table] = with_old(changed[row.table], row.table, row) or changed[row.table]
    if changed == tables:
        return None
    before = replace(case, held={**case.files, **changed})
    try:
        return measure_batch(before, read_coupons(before.tables()))
    except Refused:  # no specimen can have the old value, so that correcting it was right
        return None
