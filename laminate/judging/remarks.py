"""What a person must weigh beside the decision on a batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.files.entries import histories_of, history_name
from laminate.judging.acceptance import within_allowance
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic


def remarks(case: Case, measured: Measurement, characteristics: list[Characteristic]) -> list[str]:
    """Coupons outside that the plan allows, counts of plies, readings without a limit, no history."""
    return [*_allowed(case, characteristics), *_plies(case, measured), *_unlimited(case), *_untold(case)]


def _allowed(case: Case, characteristics: list[Characteristic]) -> list[str]:
    return [
        f"{characteristic.zone} {ATTRIBUTES[characteristic.rule.attribute].words}: {words}"
        for characteristic in characteristics
        if characteristic.individual is not None
        and (plan := case.part.plan.get(characteristic.zone or "")) is not None
        for words in within_allowance(characteristic.individual, plan.allowed_outside)
    ]


def _untold(case: Case) -> list[str]:
    """Tables that were typed elsewhere than with `enter`."""
    histories = histories_of(case)
    names = [called for _, called in case.coupon_files() if history_name(called) not in histories]
    return [f"no history of {', '.join(names)}: typed elsewhere than in 'enter'"] if names else []


def _unlimited(case: Case) -> list[str]:
    held = {rule.attribute for rule in case.part.limits.rules if rule.process}
    return [
        f"process reading '{name}': no limit of the part holds it"
        for name in case.batch.process
        if name not in held
    ]


def _plies(case: Case, measured: Measurement) -> list[str]:
    """Coupons whose row counts other plies than the batch file laid up in their zone."""
    apart: dict[tuple[str, int], list[str]] = {}
    for specimen in measured.specimens:
        laid = case.batch.batch.plies.get(specimen.zone or "")
        stated = specimen.coupon.readings("plies")
        if laid is not None and stated and int(stated[0]) != laid:
            apart.setdefault((str(specimen.zone), int(stated[0])), []).append(specimen.name)
    return [
        f"zone {zone}: the batch file says {case.batch.batch.plies[zone]} plies, the coupon table {count} "
        f"for {', '.join(names)}; each coupon is computed with the plies of its row"
        for (zone, count), names in apart.items()
    ]
