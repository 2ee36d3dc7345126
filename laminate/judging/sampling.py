"""What the sampling plan of a zone asks for beside complete readings, and a figure does not meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.part import Plan

NOT_ENOUGH = "not enough coupons"


def shortfalls(measured: Measurement, by: str, counted: list[Specimen], plan: Plan | None) -> list[str]:
    """Coupons, positions, methods and retests that are missing, in words.

    by: the methods of the figure, in their words; counted: the specimens of one zone that it comes from.
    """
    if plan is None:
        return []
    sentences: list[str] = []
    wanted = plan.least(by)
    retests = [s for s in counted if s.coupon.word("replaces")]
    if retests:
        sentences += _retests(retests, plan)
    if len(counted) < wanted:
        sentences.append(f"{NOT_ENOUGH}: {len(counted)} of {wanted} planned")
    there = {s.coupon.word("position") for s in counted}
    missing = [position for position in plan.positions if position not in there]
    if missing:
        sentences.append(f"{NOT_ENOUGH}: none from position {', '.join(missing)}")
    zone = counted[0].zone
    same_zone = [s for s in measured.specimens if s.zone == zone and s.counts]
    for method in plan.measured_by:
        n, wanted = sum(measured_by(s, method) for s in same_zone), plan.of(method)
        if n < wanted:
            sentences.append(f"{NOT_ENOUGH}: {method} on {n} of {wanted} planned")
    return sentences


def _retests(retests: list[Specimen], plan: Plan) -> list[str]:
    sentences: list[str] = []
    if plan.retests == 0:
        sentences.append("the plan allows no retest")
    rounds = max((s.retest_round for s in retests), default=0)
    if plan.retests and rounds > plan.retests:
        sentences.append(f"{rounds} rounds of retests, the plan allows {plan.retests}")
    needed = plan.retest_coupons or plan.most
    if len(retests) < needed:
        sentences.append(f"{NOT_ENOUGH}: {len(retests)} retest coupons, the plan asks for {needed}")
    without = [s.name for s in retests if not s.coupon.word("remark")]
    if without:
        sentences.append(f"retest without a reason in the column 'remark': {', '.join(without)}")
    return sentences


def measured_by(specimen: Specimen, method: str) -> bool:
    """Whether a specimen was measured by a method of the plan."""
    if method == "areal weight":
        return bool(specimen.plan.area)
    return any(used.startswith(method) for used in specimen.methods)
