"""What the sampling plan of a zone asks for beside complete readings, and a figure does not meet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from laminate.files.reasons import is_reason

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.coupons import Coupon
    from laminate.files.part import Plan

NOT_ENOUGH = "not enough coupons"


def positions_missing(plan: Plan, coupons: Iterable[Coupon]) -> list[str]:
    """The positions of a plan that no coupon is from; capitals matter where the plan has both."""
    places = plan.positions
    form = str.casefold if len(set(map(str.casefold, places))) == len(places) else str
    there = {form(coupon.word("position")) for coupon in coupons}
    return [place for place in places if form(place) not in there]


def shortfalls(measured: Measurement, by: str, counted: list[Specimen], plan: Plan | None) -> Iterator[str]:
    """Coupons, positions, methods and retests that are missing, in words.

    by: the methods of the figure, in their words; counted: the specimens of one zone that it comes from.
    """
    if plan is None:
        return
    same_zone = [s for s in measured.specimens if s.zone == counted[0].zone]
    replaced = [s for s in same_zone if s.replaced_by and by in s.methods]
    retests = [s for s in (*counted, *replaced) if s.retest_round]
    if retests or replaced:
        yield from retest_faults(retests, plan)
    wanted = plan.least(by)
    if len(counted) < wanted:
        yield f"{NOT_ENOUGH}: {len(counted)} of {wanted} planned"
    if missing := positions_missing(plan, (s.coupon for s in counted)):
        yield f"{NOT_ENOUGH}: none from position {', '.join(missing)}"
    for method in plan.measured_by:
        n, wanted = sum(s.counts and measured_by(s, method) for s in same_zone), plan.of(method)
        if n < wanted:
            yield f"{NOT_ENOUGH}: {method} on {n} of {wanted} planned"


def retest_faults(retests: list[Specimen], plan: Plan) -> Iterator[str]:
    """What makes retests other ones than the plan allows, where there are none too.

    Each round has all its coupons: of a round that failed, the coupon outside alone is not measured again.
    """
    if plan.retests == 0:
        yield "the plan allows no retest"
    rounds = Counter(s.retest_round for s in retests) or {1: 0}
    if plan.retests and max(rounds) > plan.retests:
        yield f"{max(rounds)} rounds of retests, the plan allows {plan.retests}"
    needed = plan.retest_coupons or plan.most
    for place, count in sorted(rounds.items()):
        if count < needed:
            what = "retest coupon" + "s" * (count != 1) + f" in round {place}" * (place > 1)
            yield f"{NOT_ENOUGH}: {count} {what}, the plan asks for {needed}"
    if without := [s.name for s in retests if not is_reason(s.coupon.word("remark"))]:
        yield f"retest without a reason in the column 'remark': {', '.join(without)}"


def measured_by(specimen: Specimen, method: str) -> bool:
    """Whether a specimen was measured by a method of the plan."""
    if method == "areal weight":
        return bool(specimen.plan.area)
    return any(used.startswith(method) for used in specimen.methods)
