"""What the histories of the coupon tables hold a batch back for, and the readings that were corrected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.open_doubts import doubted
from laminate.files.coupons import COLUMNS, NUMBERS, Coupon, base_name, coupons_of
from laminate.files.entries import (
    COLUMN,
    CorrectedReading,
    compare,
    corrections,
    entry_of,
    histories_of,
    history_name,
    key_of,
    lines_by_row,
    standing,
    typed_elsewhere,
    with_old,
    zone_of,
)
from laminate.files.people import people_in, share_a_person
from laminate.files.reasons import reasons_in
from laminate.files.tables import read_table, read_tables
from laminate.judging.open_point import OpenPoint
from laminate.judging.planned import APPROVAL
from laminate.values.days import days_in
from laminate.values.problems import Refused
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.files.entries import History, Line
    from laminate.files.table import Table
    from laminate.judging.evidence import BatchEvidence

OPEN_DOUBT, BROKEN = 2, 12
_OUTSIDE = "changed outside 'laminate enter': "
_BESIDE = ("operator", "time")
"""What 'enter' itself writes beside a reading."""


def history_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Histories that are missing or broken, and cells that differ from what was typed last."""
    coupons = {row.specimen: row for row in judged.rows}
    for table, history in _tables(judged.case):
        called, compared = table.file, compare(table, history)
        for renamed in compared.renamed:
            by_itself = renamed.but_for_zeros and called.casefold().endswith(".csv")
            does = ": 'laminate enter' does so as it opens the table" if by_itself else ""
            say = f"{called}: write '{renamed.was}' there again, as text{does}"
            yield OpenPoint(BROKEN, f"{called}: {renamed.words}", say)
        for words in compared.breaks:
            say = f"{history_name(called)}: put it back as it was, or enter the coupon again"
            yield OpenPoint(BROKEN, words, say)
        for place, line, words in (*compared.outside, *_contradicted_people(table, history)):
            coupon = coupons.get(line.specimen)
            is_reading = base_name(line.label) in NUMBERS
            if _reason(coupon, line) or (is_reading and coupon and coupon.word("excluded")):
                continue
            what = f"{called}: {place}: {line.specimen}: {_OUTSIDE}{words}"
            again = "measure it again or read the note, and" if is_reading else "put it back as it was, or"
            say = f"{called}: {again} type it with 'laminate enter'"
            if line.label in _BESIDE:
                say = f"{called}: put it back as it was, or accepted of {line.specimen}: {line.label}: ..."
            yield OpenPoint(OPEN_DOUBT, what, say, opens=_of(line.specimen, judged))


def accepted_outside(judged: BatchEvidence) -> list[str]:
    """The readings that were changed outside 'enter', and the reason that their row accepts each with."""
    coupons = {row.specimen: row for row in judged.rows}
    return [
        f"{table.file}: {place}: {line.specimen}: {_OUTSIDE}{words}: accepted: {reason}"
        for table, history in _tables(judged.case)
        for place, line, words in (*compare(table, history).outside, *_contradicted_people(table, history))
        if (reason := _reason(coupons.get(line.specimen), line))
    ]


def _contradicted_people(table: Table, history: History | None) -> Iterator[tuple[str, Line, str]]:
    """The cells of operator and time that contradict who typed the readings of their row, and when.

    As `Compared.outside`. A cell may name more people and days than the history; without any it says nothing.
    """
    by_row = lines_by_row(history) if history is not None else {}
    for key, rows in by_key((key_of(table, row), row) for row in table.rows if entry_of(table, row)).items():
        lines = by_row.get(key, [])
        readings = list(standing(lines))
        cells = [(row, *pair) for row in rows for pair in zip(table.headings, row.cells, strict=True)]
        people = "; ".join(text for _, heading, text in cells if heading.name == "operator" and text)
        for row, heading, text in cells if readings else ():
            line = _of_another(people, readings) if heading.name == "operator" and text else None
            line = _of_another_day(text, lines) if heading.name == "time" else line
            if line is not None:
                typed = f"{line.column} was typed by '{line.who}' at {line.time}, line {line.n}"
                words = f"{heading.name} is '{text}'; {typed}"
                yield table.place(row, heading), replace(line, column=heading.name), words


def _of_another(people: str, readings: Iterable[list[Line]]) -> Line | None:
    """The last line of a reading that nobody of a text typed; None where there is none, or nobody in it."""
    others = (
        lines[-1]
        for lines in readings
        if all(people_in(x.who) and not share_a_person(x.who, people) for x in lines)
        and people not in [line.who.lstrip("0") for line in lines]  # as a spreadsheet program writes 0417
    )
    return next(others, None) if people_in(people) else None


def _of_another_day(time: str, lines: Sequence[Line]) -> Line | None:
    """The last of some lines, where a text names days and none of them fits; in its zone, if it has one."""
    moments = [dt.datetime.fromisoformat(line.time) for line in lines]
    if (offset := zone_of(time)) is not None:
        moments = [moment.astimezone(dt.timezone(offset)) for moment in moments]
    days = days_in(time)
    return lines[-1] if days and not days & {moment.date() for moment in moments} else None


def _tables(case: Case) -> Iterator[tuple[Table, History | None]]:
    """Each coupon table that has a history or should have one, and that history."""
    histories = histories_of(case.coupon_files())
    for file in case.tables():
        if file.name not in histories and _plain(file.data()):
            continue
        for table in read_table(file, known=COLUMNS, problems=[]):
            yield table, histories.get(file.name)


def no_history(case: Case) -> tuple[list[str], list[str]]:
    """The tables that have no history and never had one, and the coupons that no history has."""
    histories, pairs = histories_of(case.coupon_files()), list(_tables(case))
    lost = {table.file for table, history in pairs if history is None and compare(table, None).breaks}
    tables = [file.name for file in case.coupon_files() if file.name not in histories]
    with_history = ((table, history) for table, history in pairs if history is not None)
    names = [name for table, history in with_history for name in typed_elsewhere(table, history)]
    return [table for table in tables if table not in lost], [*dict.fromkeys(names)]


def _plain(data: bytes) -> bool:
    """Whether a table surely has no column of entries: text without the word, not a workbook."""
    return 0 not in data and COLUMN.encode() not in data.lower()


def _of(specimen: str, judged: BatchEvidence) -> tuple[str, ...]:
    """Labels of what a specimen is decided in; a blank or check standard: of everything measured."""
    zones = {row.zone for row in judged.measured.specimens if row.name == specimen}
    return tuple(c.label for c in judged.characteristics if not zones or c.zone in {*zones, None})


def corrected(case: Case) -> list[CorrectedReading]:
    """Every correction that the histories of a batch tell, as far as their chains are whole."""
    histories = histories_of(case.coupon_files())
    return [correction for name, history in histories.items() for correction in corrections(history, name)]


def corrections_rule(judged: BatchEvidence, corrections: Sequence[CorrectedReading]) -> list[OpenPoint]:
    """Corrections of readings that nothing had put in doubt, and with whose old value the answer is worse.

    A reason that the row gives under 'accepted' for the column answers one; so does a doubt that the table
    as it was first typed has about the row.
    """
    now, coupons = judged.decisions(), {row.specimen: row for row in judged.rows}
    first = {(row.table, row.specimen): row.doubts for row in reversed(corrections)}
    undoubted = [  # a doubt that a first correction without doubt has brought about excuses no other
        row
        for row in corrections
        if not first[row.table, row.specimen] and not _reason(coupons.get(row.specimen), row)
    ]
    if undoubted and (as_typed := _measured_with_old(judged.case, corrections)) is not None:
        # where all rows are off alike, the whole table tells what no row did while it was typed
        names = doubted(as_typed)
        undoubted = [row for row in undoubted if row.specimen not in names]
    gone = by_key((row.specimen, row) for row in undoubted if row.specimen not in coupons)
    held, zones = list[OpenPoint](), _likeliest(judged, gone)
    alone = [[correction] for correction in undoubted]
    for ones in [*alone, undoubted] if len(alone) > 1 else alone:
        if len(ones) > 1 and held:
            break  # told one by one; together they are told where none alone makes the difference
        before = _measured_with_old(judged.case, ones, zones)
        worse = [] if before is None else [c.label for c in judged.worse(before, now)]
        if worse:
            changes = ", ".join(
                f"{row.specimen}, {row.column}: {row.old} to {row.new or 'nothing'}" for row in ones
            )
            what = f"{ones[0].table}: corrected without a warning: {changes}; uncorrected the answer is "
            what += f"worse: {', '.join(worse)}"
            there = dict.fromkeys(f"{x.specimen}: {x.label}: ..." for x in ones if x.specimen not in gone)
            say = [f"{ones[0].table}, accepted of {', '.join(there)}; or exclude the row"] if there else []
            for name in dict.fromkeys(row.specimen for row in ones if row.specimen in gone):
                values = ", ".join(f"{row.label} {row.old}" for row in ones if row.specimen == name)
                again = f"{ones[0].table}: enter the row of {name} again with 'laminate enter', {values}"
                approval = f'{judged.case.name}, [[exclusion]]: specimen = "{name}", {APPROVAL}'
                say.append(f"{again}; if it must not count, exclude it there; {approval}")
            held.append(OpenPoint(OPEN_DOUBT, what, "; ".join(say)))
    return held


def _reason(coupon: Coupon | None, line: Line) -> str:
    """The reason that a row gives for the column of a line, '' where none."""
    # the cell may be empty since, so that the row does not know its label
    known = reasons_in(coupon.word("accepted"), {*coupon.labels(), line.label}) if coupon is not None else []
    return next((reason.words for reason in known if reason.about == line.label), "")


def _likeliest(judged: BatchEvidence, gone: Mapping[str, Sequence[CorrectedReading]]) -> dict[str, str]:
    """The zone of each specimen whose row was taken back; gone: its corrections by its name.

    One that its history tells, or any where none does; of several, the one where its old values can be, are
    in no doubt and are judged best.
    """
    now, any_zone = judged.decisions(), {row.word("zone") for row in judged.rows} or {""}
    lines = [line for history in histories_of(judged.case.coupon_files()).values() for line in history.lines]
    of_zone = [line for line in lines if line.label.casefold() == "zone"]
    typed = by_key((x.specimen, text) for x in of_zone for text in (x.old, x.new) if text)

    def misfit(zone: str, name: str) -> tuple[int, int]:
        measured = _measured_with_old(judged.case, gone[name], {name: zone})
        return (2, 0) if measured is None else (name in doubted(measured), len(judged.worse(measured, now)))

    likeliest: dict[str, str] = {}
    for name in gone:
        first, *others = sorted({*typed.get(name, any_zone)})
        likeliest[name] = min((first, *others), key=lambda zone: misfit(zone, name)) if others else first
    return likeliest


def _measured_with_old(
    case: Case, ones: Sequence[CorrectedReading], zones: Mapping[str, str] | None = None
) -> Measurement | None:
    """The batch measured with the values that corrections took away; None where it cannot be.

    zones: of specimens without a row; None: these are left out.
    """
    read = read_tables(case.tables(), known=COLUMNS)
    changed = read.tables
    for row in reversed(ones):  # of a cell corrected twice, what was there first
        zone = zones.get(row.specimen, "") if zones is not None else None
        changed = tuple((with_old(table, row, zone), whole) for table, whole in changed)
    if changed == read.tables:
        return None
    with suppress(Refused):  # no specimen can have the old value, so that correcting it was right
        return measure_batch(case, coupons_of(replace(read, tables=changed)))
    return None
