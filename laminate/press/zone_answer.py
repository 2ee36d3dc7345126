"""What `fill` says of a zone whatever presses it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase


@dataclass(frozen=True, slots=True)
class ZoneAnswer:
    """The answer for one zone, of what it shares between a gap, rubber and a bladder.

    case: as stated; grade: how far its count can be advised; missing: what must be stated first.
    """

    case: ZoneCase
    core: str | None
    core_shared_with: tuple[str, ...]
    packing_limit: float
    not_measured: tuple[str, ...]
    grade: str
    missing: tuple[str, ...]

    @property
    def zone(self) -> str:
        """Its name."""
        return self.case.name

    @property
    def wanted(self) -> float | None:
        """Pressure that is wanted at gel [Pa]."""
        return None if self.case.wanted is None else self.case.wanted.value
