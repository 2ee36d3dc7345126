"""What the answer about a batch covers: zones measured, represented or left out, quantity and serials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.files.reasons import is_stated

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic


@dataclass(frozen=True, slots=True)
class Coverage:
    """What an answer covers.

    zones: those judged on their own coupons; represented: zone -> the one that stands for it; not_measured:
    zone -> why; quantity, serials: of the batch file, None and '' where not told.
    """

    zones: tuple[str, ...]
    represented: dict[str, str]
    not_measured: dict[str, str]
    quantity: int | None
    serials: str

    def sentence(self) -> str:
        """It in words, on one line."""
        parts = [f"zone {', '.join(self.zones)}"] if self.zones else ["no zone"]
        parts += [f"zone {zone}, represented by {by}" for zone, by in self.represented.items()]
        parts += [f"not zone {zone}: {why}" for zone, why in self.not_measured.items()]
        parts.append("quantity not stated" if self.quantity is None else f"quantity {self.quantity}")
        parts.append(f"serials {self.serials}" if is_stated(self.serials) else "serials not stated")
        return "It covers " + "; ".join(parts) + "."


def coverage_of(case: Case, characteristics: list[Characteristic]) -> Coverage:
    """What the characteristics of a batch cover."""
    seen = {c.zone for c in characteristics if c.zone and c.average_of is not None}
    plans = case.part.plan
    return Coverage(
        tuple(zone for zone in case.part.zone if zone in seen),
        {z: p.represented_by for z, p in plans.items() if p.represented_by in seen and z not in seen},
        {z: p.not_measured for z, p in plans.items() if p.not_measured and z not in seen},
        case.batch.batch.quantity,
        case.batch.batch.serials,
    )


def unseen_zone(case: Case, measured: Measurement, zone: str) -> str:
    """Why a zone has no characteristic."""
    plan = case.part.plan.get(zone)
    measured_zones = {specimen.zone for specimen in measured.specimens if specimen.counts}
    if plan is not None and plan.represented_by:
        other, unmeasured = plan.represented_by, f"zone {zone} was not measured"
        if other in measured_zones:
            return f"{unmeasured} (represented by {other})"
        return f"{unmeasured}, nor was {other}, which represents it"
    if plan is not None and plan.not_measured:
        return f"zone {zone} was not measured: {plan.not_measured}"
    there, no_limit = zone in measured_zones, "and the part has no limit for it"
    if not plan and not there:
        return f"zone {zone} was not judged: it has no plan and no coupons"
    done = "was measured" if there else "was planned but not measured"
    return f"zone {zone} was not judged: it {done}{'' if plan else ' without a plan'}, {no_limit}"
