"""Doubts that nobody has answered: about readings, about methods that differ, about the batch itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.coupons.open_doubts import Doubt, every_doubt
from laminate.files.reasons import RESULTS
from laminate.formulas.conformity import FAILS
from laminate.judging.open_point import OpenPoint
from laminate.judging.traceability import days_of
from laminate.values.days import means_unread_day
from laminate.values.problems import Answered
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.evidence import BatchEvidence, Evidence

RULE = 2
STANDARD = "check standard"
_NUMBERED = re.compile(r"(?P<head>.*?)(?P<number>\d+)")
_SPAN = re.compile(r"\s+(?:to|thru|through|until|up to|-)\s+|\s*[–—→]\s*|\s*\.\.+\s*", re.IGNORECASE)
_DASHED = re.compile(r"(?<![^\s,;&+])([^\s,;&+]*?[^\s,;&+\d])(\d+)[-‐‑−](\1\d+)(?![^\s,;&+])")
"""Two numbers of one beginning with no more than a dash between them: a range, or the name of one."""
_PIECES = re.compile(r"[,;&+\n]|\s+and\s+", re.IGNORECASE)
_LEAD = re.compile(r"^(?:S/?N|Nos?|serials?(?: (?:nos?|numbers?))?)(?:[.:]+\s*|\s+)(?=\S*\d)", re.IGNORECASE)
"""What may stand before a serial: 'SN 031-01'."""


def reading_in_doubt(specimen: Specimen) -> bool:
    """Whether a reading of a specimen, rather than what its methods give, has a warning without an answer."""
    return any(w.code not in RESULTS and not isinstance(w, Answered) for w in specimen.warnings)


def doubts_rule(judged: BatchEvidence) -> list[OpenPoint]:
    """Every open doubt; one that a failing figure rests on leaves that figure open."""
    case, measured = judged.case, judged.measured
    doubts = [*every_doubt(measured), *_of_days(case, measured)]
    fed = judged.fed if doubts else []
    by_name = by_key((evidence.specimen.name, evidence) for evidence in fed)
    moves = [
        touched(doubt, by_name.get(doubt.coupon.specimen, []) if doubt.coupon.kind == "specimen" else fed)
        for doubt in doubts
    ]
    failing = [c for c in judged.characteristics if c.decision == FAILS]
    opened = {c.label for c in failing if _rests(case, c, moves)}
    moved: dict[tuple[str, str], set[str]] = {}
    for doubt, labels in zip(doubts, moves, strict=True):
        moved.setdefault((doubt.what, doubt.say), set()).update(labels)
    held = [OpenPoint(RULE, *words, opens=tuple(sorted(opened & labels))) for words, labels in moved.items()]
    return [*held, *_of_serials(case)]


def _of_days(case: Case, measured: Measurement) -> Iterator[Doubt]:
    """Rows whose day of measuring cannot be read, and those measured before the batch was molded."""
    for specimen in measured.specimens:
        if specimen.counts and means_unread_day(specimen.coupon.word("time")):
            name, file, time = specimen.name, specimen.coupon.file, specimen.coupon.word("time")
            what = f"open doubt, {file}: the day of {name} cannot be read: time '{time}'"
            yield Doubt(specimen.coupon, "", what, f"{file}, row of {name}: time = YYYY-MM-DD")
    molded = case.batch.batch.molded
    for specimen in measured.specimens if molded is not None else ():
        days = [day for day in days_of(specimen.coupon, case) if molded is not None and day < molded]
        if specimen.counts and days:
            name, file = "the batch", case.name
            say = f"{case.name}, [laboratory]: measured, or [batch]: molded"
            if specimen.coupon.word("time"):
                name, file = specimen.name, specimen.coupon.file
                say = f"{file}, row of {name}: time, or {case.name}, [batch]: molded"
            what = f"open doubt, {file}: {name} was measured on {min(days)}, before it was molded on {molded}"
            yield Doubt(specimen.coupon, "", what, say)


def touched(doubt: Doubt, fed: list[Evidence]) -> dict[str, str]:
    """Label of every characteristic that a doubt moves -> the specimen that it moves there, '' for all.

    fed: of the specimen in doubt, or all where a blank or a check standard is.
    """
    touched: dict[str, str] = {}
    kind = doubt.coupon.kind
    for evidence in fed:
        moved = doubt.column in ("", *evidence.columns)
        if kind != "specimen":
            moved = evidence.immersed if kind == STANDARD else evidence.by_loss
        if moved:
            touched[evidence.characteristic.label] = evidence.specimen.name if kind == "specimen" else ""
    return touched


def _rests(case: Case, characteristic: Characteristic, touched: list[dict[str, str]]) -> bool:
    """Whether a failure would not stand without the readings in doubt."""
    names = {labels[characteristic.label] for labels in touched if characteristic.label in labels}
    sure = 0
    if characteristic.individual is not None and "" not in names:
        pairs = zip(characteristic.individual.readings, characteristic.individual.decisions, strict=True)
        sure = sum(decision == FAILS and reading.name not in names for reading, decision in pairs)
    plan = case.part.plan.get(characteristic.zone or "")
    return sure <= (plan.allowed_outside if plan else 0)


def _of_serials(case: Case) -> list[OpenPoint]:
    head = case.batch.batch
    each = count_serials(head.serials)
    count = count_serials(_DASHED.sub(r"\1\2 to \3", head.serials)) or each
    if each is None or head.quantity in (None, each, count):
        return []
    what = f"quantity {head.quantity}, and {count} serial{'s' * (count != 1)}: '{head.serials}'"
    way = f"{case.name}, [batch]: quantity, or serials (a range is written 'A1 to A12')"
    return [OpenPoint(RULE, what, way)]


def count_serials(text: str) -> int | None:
    """How many serial numbers a text names, each once; None where it cannot be counted.

    >>> count_serials("031-01 to 031-12"), count_serials("A1, A2, A5 to A7"), count_serials("see traveler")
    (12, 5, None)
    >>> count_serials("A1, A1 to A3, A2"), count_serials("SN 031-01 to SN 031-12."), count_serials("1A to 9A")
    (3, 12, None)
    """
    spans: list[tuple[str, int, int]] = []
    for piece in filter(None, (part.strip(" .") for part in _PIECES.split(text))):
        names = [_LEAD.sub("", name) for name in _SPAN.split(piece)]
        ends = [_NUMBERED.fullmatch(name) for name in names]
        range_or_name = len(names) == 1 and names[0] != piece and re.search(r"[-‐‑−]", names[0])
        if None in ends or len(ends) > 2 or " " in "".join(names) or range_or_name:
            return None
        first, last = ends[0], ends[-1]
        assert first is not None
        assert last is not None
        if len(ends) == 2 and last["head"] not in ("", first["head"]):
            return None
        span = first["head"], int(first["number"]), int(last["number"])
        if span[1] > span[2]:
            return None
        spans.append(span)
    total, head, counted = 0, "", -1
    for of, low, high in sorted(spans):
        counted = counted if of == head else -1
        head, total = of, total + max(high - max(low - 1, counted), 0)
        counted = max(counted, high)
    return total or None
