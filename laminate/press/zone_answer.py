"""What `fill` says of a zone whatever presses it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.press.counts import Rule, rules
from laminate.press.remedy import Overfull, overfull

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase


@dataclass(frozen=True, slots=True)
class ZoneAnswer:
    """The answer for one zone, of what it shares between a gap, rubber and a bladder.

    wanted: pressure that is wanted at gel [Pa]; overfull: prepregs that hold more fiber than they pack to.
    """

    zone: str
    fill_with: str | None
    fixed_plies: int
    walls: int
    core: str | None
    core_shared_with: tuple[str, ...]
    bleed_limit: float
    packing_limit: float
    wanted: float | None
    limits: tuple[Rule, ...]
    overfull: tuple[Overfull, ...]
    not_measured: tuple[str, ...]


def stated_of(case: ZoneCase) -> dict[str, Any]:
    """The fields of an answer that the part file alone says."""
    return {
        "zone": case.name,
        "fill_with": case.zone.fill_with,
        "fixed_plies": case.fixed_plies,
        "walls": case.zone.walls,
        "bleed_limit": case.zone.bleed_limit.value,
        "wanted": None if case.wanted is None else case.wanted.value,
        "limits": tuple(rules(case)),
        "overfull": overfull(case),
    }
