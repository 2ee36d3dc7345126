"""What the histories of the coupon tables hold a batch back for, and the readings that were corrected."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.files.coupons import COLUMNS
from laminate.files.entries import COLUMN, Correction, compare, corrections, history_name, read_history
from laminate.files.tables import read_table
from laminate.judging.held_back import HeldBack

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.judgement import Characteristic

OPEN_DOUBT, BROKEN = 2, 12


def history_held_back(
    case: Case, measured: Measurement, characteristics: list[Characteristic]
) -> list[HeldBack]:
    """Histories that are missing or broken, and cells that differ from what was typed last."""
    found: list[HeldBack] = []
    histories = case.histories()
    for data, called in case.tables():
        name = history_name(called)
        if name not in histories and _plain(data):
            continue
        history = read_history(histories[name]) if name in histories else None
        for table in read_table(called, known=COLUMNS, problems=[], data=data):
            compared = compare(table, history)
            for words in compared.breaks:
                say = f"put back {name} as it was, or enter the specimen again"
                found.append(HeldBack(BROKEN, f"{name}: {words}", say))
            for place, specimen, words in compared.outside:
                what = f"{called}: {place}: {specimen}: changed outside `enter`: {words}"
                say = f"weigh it again, and type it with `enter` into {called}"
                found.append(HeldBack(OPEN_DOUBT, what, say, opens=_of(specimen, measured, characteristics)))
    return found


def _plain(data: bytes) -> bool:
    """Whether a table surely has no column of entries: text without the word, not a workbook."""
    return 0 not in data and COLUMN.encode() not in data.lower()


def _of(specimen: str, measured: Measurement, characteristics: list[Characteristic]) -> tuple[str, ...]:
    """Labels of what a specimen is decided in; a blank or check standard: of everything measured."""
    zones = {one.zone for one in measured.specimens if one.name == specimen}
    return tuple(one.label for one in characteristics if not zones or one.zone in zones or one.zone is None)


def corrected(case: Case) -> list[Correction]:
    """Every correction that the histories of a batch tell, as far as their chains are whole."""
    histories = case.histories()
    return [
        one
        for _, called in case.coupon_files()
        if (data := histories.get(history_name(called))) is not None
        for one in corrections(read_history(data), called)
    ]


def without_history(case: Case) -> list[str]:
    """The tables of a batch that have no history."""
    histories = case.histories()
    return [called for _, called in case.coupon_files() if history_name(called) not in histories]
