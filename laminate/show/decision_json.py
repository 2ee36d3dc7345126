"""What stands beside the answer of a batch, as JSON: what holds it back, what it rests on, its readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.files.coupons import base_name
from laminate.judging.joint_chance import chance_of_all, correlations
from laminate.values.problems import Answered

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.coupons import Coupon
    from laminate.judging.coverage import Covers
    from laminate.judging.exclusions import ExcludedRow
    from laminate.judging.held_back import HeldBack
    from laminate.judging.judgement import Judgement


def decision_json(judgement: Judgement, measurement: Measurement) -> dict[str, Any]:
    """Reasons, exclusions, accepted doubts, corrections, statements, and every reading as it was typed."""
    return {
        "held_back": [held_back_json(one) for one in judgement.held_back],
        "covers": covers_json(judgement.covers),
        "exclusions": [exclusion_json(one) for one in judgement.exclusions],
        "accepted": accepted_json(measurement),
        "corrections": [one.as_json() for one in judgement.corrections],
        "declared": [{"key": one.key, "of": one.of, "reason": one.reason} for one in judgement.declared],
        "chance_of_all": chance_of_all(judgement),
        "correlations": [
            {"of": list(one.of), "zone": one.zone, "value": one.value}
            for one in correlations(measurement.zones)
        ],
        "readings": [one for coupon in coupons_of(measurement) for one in readings_json(measurement, coupon)],
    }


def covers_json(one: Covers | None) -> dict[str, Any] | None:
    """Zones, quantity and serials that the answer covers."""
    if one is None:
        return None
    return {
        "zones": list(one.zones),
        "represented": [{"zone": zone, "by": by} for zone, by in one.represented.items()],
        "not_measured": [{"zone": zone, "reason": why} for zone, why in one.not_measured.items()],
        "quantity": one.quantity,
        "serials": one.serials or None,
        "text": one.sentence(),
    }


def coupons_of(measurement: Measurement) -> list[Coupon]:
    """Every row: specimens, incoming tests, blanks, check standards."""
    return [s.coupon for s in (*measurement.specimens, *measurement.prepregs)] + measurement.others


def held_back_json(one: HeldBack) -> dict[str, Any]:
    """One reason why the batch cannot conform, and what to write."""
    return {
        "rule": one.rule,
        "what": one.what,
        "say": one.say or None,
        "name": one.name or None,
        "concession": one.concession,
    }


def exclusion_json(one: ExcludedRow) -> dict[str, Any]:
    """A row that does not count, who approved it, and why it matters."""
    keys = ("method", "cause", "approved_by", "number")
    return {
        "specimen": one.name,
        "kind": one.coupon.kind,
        "reason": one.coupon.word("excluded"),
        "operator": one.coupon.word("operator") or None,
        "matters": one.matters or None,
        "approvals": [
            {**{key: getattr(approval, key) or None for key in keys}, "date": approval.date.isoformat()}
            for approval in one.approvals
        ],
    }


def accepted_json(measurement: Measurement) -> list[dict[str, Any]]:
    """Every doubt that a row answers, with its reason."""
    names = {cell: c.specimen for c in coupons_of(measurement) for cell in c.cells()}
    return [
        {
            "specimen": names.get((one.file, one.place)),
            "code": one.code,
            "file": one.file,
            "place": one.place,
            "found": one.found,
            "reason": one.reason,
        }
        for one in measurement.warnings
        if isinstance(one, Answered)
    ]


def readings_json(measurement: Measurement, coupon: Coupon) -> list[dict[str, Any]]:
    """The readings of a row as they were typed."""
    when = {"time": coupon.word("time") or None, "operator": coupon.word("operator") or None}
    found = [
        {
            "specimen": coupon.specimen,
            "kind": coupon.kind,
            "column": label,
            "typed": typed,
            "unit": coupon.given[label][1] or None,
            "instrument": measurement.bench.gauge(base_name(label), coupon) or None,
            **when,
        }
        for label, typed in coupon.texts.items()
    ]
    for field in coupon.fields:
        for what, count in (
            ("points", field.points),
            ("fiber points", field.fiber),
            ("void points", field.void),
        ):
            if count is not None:
                column = f"{what}, field {field.name}".removesuffix(", field ")
                found.append(
                    {
                        "specimen": coupon.specimen,
                        "kind": coupon.kind,
                        "column": column,
                        "typed": f"{count:g}",
                        "unit": None,
                        "instrument": None,
                        **when,
                    }
                )
    return found
