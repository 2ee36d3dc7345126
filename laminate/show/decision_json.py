"""What stands beside the answer of a batch: what holds it back, what it rests on, its readings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from laminate.coupons.measurement import Measurement
from laminate.files.coupons import Coupon, base_name
from laminate.judging.joint_chance import chance_of_all, correlations
from laminate.show.fields import (
    ATTRIBUTE,
    CHANCE,
    COUNT,
    COUNTED,
    NAME,
    TEXT,
    TEXTS,
    WORDS,
    YES,
    Field,
    each,
    first,
    maybe,
    one_of,
    rows,
    second,
    table,
    within,
)
from laminate.show.measure_json import words_of_row
from laminate.show.report_summary import DECLARED
from laminate.values.problems import Answered


class Reading(NamedTuple):
    """A reading of a row as it was typed."""

    coupon: Coupon
    column: str
    typed: str
    unit: str = ""
    instrument: str = ""


def coupons_of(measurement: Measurement) -> list[Coupon]:
    """Every row: specimens, incoming tests, blanks, check standards."""
    return [s.coupon for s in (*measurement.specimens, *measurement.prepregs)] + measurement.others


def _readings(measurement: Measurement) -> Iterator[Reading]:
    for coupon in coupons_of(measurement):
        for label, typed in coupon.texts.items():
            instrument = measurement.bench.gauge(base_name(label), coupon)
            yield Reading(coupon, label, typed, coupon.given[label][1], instrument)
        for field in coupon.fields:
            counts = {"points": field.points, "fiber points": field.fiber, "void points": field.void}
            for what, count in counts.items():
                if count is not None:
                    column = f"{what}, field {field.name}".removesuffix(", field ")
                    yield Reading(coupon, column, f"{count:g}")


def _accepted(measurement: Measurement) -> list[tuple[str | None, Answered]]:
    """Every doubt that a row answers, with the specimen."""
    names = {cell: c.specimen for c in coupons_of(measurement) for cell in c.cells()}
    answered = [warning for warning in measurement.warnings if isinstance(warning, Answered)]
    return [(names.get((warning.file, warning.place)), warning) for warning in answered]


def _by_key(key: str, value: str) -> Field:
    """A mapping as rows, each with its key and its value."""
    return rows(table(**{key: TEXT(first), value: TEXT(second)}))


_HELD_BACK = table(rule=COUNT, what=TEXT, **each(WORDS, "say", "name"), concession=YES)
_COVERS = table(
    zones=TEXTS,
    represented=_by_key("zone", "by")(lambda coverage: coverage.represented.items()),
    not_measured=_by_key("zone", "reason")(lambda coverage: coverage.not_measured.items()),
    quantity=COUNTED,
    serials=WORDS,
    text=TEXT(lambda coverage: coverage.sentence()),
)
_APPROVAL = table(method=WORDS, **each(TEXT, "cause", "approved_by", "number"), date=NAME)
_EXCLUSION = table(
    **each(TEXT, specimen="name", kind="coupon.kind", reason="reason"),
    **within("coupon", **words_of_row("operator")),
    matters=WORDS,
    approvals=rows(_APPROVAL),
)
_ACCEPTED = table(
    specimen=WORDS(first), **within(second, **each(TEXT, "code", "file", "place", "found", "reason"))
)
_READING = table(
    **each(TEXT, specimen="coupon.specimen", kind="coupon.kind", column="column", typed="typed"),
    **each(WORDS, "unit", "instrument"),
    **within("coupon", **words_of_row("time", "operator")),
)
_CORRELATION = table(
    of=rows(ATTRIBUTE, minItems=2, maxItems=2),
    zone=WORDS,
    value=Field({"type": "number", "minimum": -1, "maximum": 1}),
)
DECISION: dict[str, Any] = {
    "held_back": rows(_HELD_BACK)("judgement.held_back"),
    "covers": maybe(_COVERS)("judgement.covers"),
    "exclusions": rows(_EXCLUSION)("judgement.exclusions"),
    "accepted": rows(_ACCEPTED)(lambda report: _accepted(report.measurement)),
    "corrections": rows(Field({"type": "object"}, lambda correction, _: correction.as_json()))(
        "judgement.corrections"
    ),
    "declared": rows(table(key=one_of(*DECLARED), **each(TEXT, "of", "reason")))("judgement.declared"),
    "chance_of_all": CHANCE(lambda report: chance_of_all(report.judgement)),
    "correlations": rows(_CORRELATION)(lambda report: correlations(report.measurement.zones)),
    "readings": rows(_READING)(lambda report: _readings(report.measurement)),
}
"""Keys of the answer of `report`: reasons, exclusions, accepted doubts, corrections, statements, readings."""
