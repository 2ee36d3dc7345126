"""What a person must weigh beside the decision on a batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case


def remarks(case: Case, measured: Measurement) -> list[str]:
    """Counts of plies that differ, process readings without a limit."""
    return [*_plies(case, measured), *_unlimited(case)]


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
