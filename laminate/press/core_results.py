"""What is said of an expanding core, as plain data."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.press.shared_inputs import Estimate
from laminate.press.steam import Steam

if TYPE_CHECKING:
    from laminate.press.pressed import PressForces, VolumeWindow
    from laminate.press.room_question import RoomQuestion
    from laminate.values.units import Value

MOMENTS = ("at_gel", "at_maximum")


@dataclass(frozen=True, slots=True)
class Pressure:
    """A pressure [Pa] over the stated tolerances: nominal, standard uncertainty, where 95 % of draws lie.

    above_clamp: share of the draws above what the clamp holds, None where that is not known.
    """

    value: float
    u: float | None
    low: float
    high: float
    above_clamp: float | None = None


@dataclass(frozen=True, slots=True)
class CoreInZone:
    """One core in one zone.

    reason, nominal_reason: why there is no pressure at all, no nominal one, '' where there is; window: from
    contact with the laid-up stack to liquid full, tool at gel [K]; locked_per_kelvin: rise of the locked
    pressure at the maximum [Pa/K];
    clamp_reached: temperature of core and tool at which the locked core reaches the clamp's pressure [K];
    gap: hot gap that the cold width and the dummy are for, gap_asked whether a person asked for it; across:
    the size of the core that cold_width is of, now: that size as it is.
    """

    zone: str
    plies: int
    plies_fit: bool
    walls: int
    contact: Estimate | None
    contact_together: Estimate | None
    liquid_full: Estimate | None
    window: float | None
    pressure: Mapping[str, Pressure] | None
    reason: str
    nominal_reason: str
    locked_per_kelvin: float | None
    clamp_reached: float | None
    gap: float
    gap_asked: bool
    across: str
    now: Estimate | None
    cold_width: Estimate | None
    dummy: Estimate | None
    pull_out: Estimate | None
    pull_out_of_hot_stack: bool
    not_measured: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CorePress:
    """What the press adds to the answer of one core.

    worst: the largest nominal pressure of any moment [Pa], with the moment; expected_moment: that of the
    stated bleed; stays_shut, within_limit: whether clamp and walls of the tool hold at every moment, every
    room liquid full and with no bleed, None where that is not known; opens: share of the draws in which one
    of them does not, of stated bleeds where all are (`ask.stated`), else of no bleed, None where that is not
    known; limits: what the clamp holds at gel and at the maximum [Pa]; clearance: cold, by direction [m];
    windows: sizes with which it presses and holds; vapor: absolute resin pressure at gel, that of the water
    in it, what is needed above ambient [Pa]; vapor_first: the temperature of core and tool from which it
    presses, and the vapor pressure of the water there [K, Pa], where that passes the gas in the cavity;
    missing: what must be stated before the tool may be said to hold; ask: the room with its counts: where its
    ends are open, the pressure is the most it can be, and whether it presses is not judged.
    """

    worst: float | None
    worst_moment: str | None
    expected_moment: str | None
    stays_shut: bool | None
    within_limit: bool | None
    opens: float | None
    limits: Mapping[str, float | None]
    clearance: Mapping[str, float]
    windows: tuple[VolumeWindow, ...]
    vapor: tuple[float, float, float] | None
    forces: PressForces
    vapor_first: tuple[float, float] | None
    missing: tuple[str, ...]
    ask: RoomQuestion

    @property
    def holds(self) -> bool | None:
        """Whether the tool holds: False where clamp or walls do not, None where the clamp is not known."""
        if self.stays_shut is False or self.within_limit is False:
            return False
        return self.stays_shut


@dataclass(frozen=True, slots=True)
class CoreAnswer:
    """The answer for one core; `zones` begins with the one that governs, of a hard core the first touched.

    movement: growth of the width across the laminate at gel, as the core is held; expansion, bulk_modulus: of
    the core, as written; balance: widths, box, round or volumes; closes_cold: whether the tool is shut before
    it is heated; cast: whether the file says how the core is cast.
    """

    core: str
    held: str
    material: str | None
    rubber: bool
    balance: str
    width: Estimate | None
    room_temperature: float
    mean_temperature: Estimate
    highest_temperature: float
    heated: bool
    warming: tuple[tuple[float, float], ...]
    free_growth: Estimate | None
    movement: Estimate | None
    expansion: Value
    bulk_modulus: Value | None
    closes_cold: bool
    cast: bool
    zones: tuple[CoreInZone, ...]
    clamp_limit: Estimate | None
    clamp_reason: str
    clamp_left_out: tuple[str, ...]
    moldings: int | None
    limit_moldings: int | None
    steam: Steam | None
    in_press: CorePress

    @property
    def governing(self) -> CoreInZone:
        """The zone whose answer stands for the core."""
        return self.zones[0]

    def nominal(self) -> float | None:
        """The greatest nominal pressure [Pa]."""
        pressure = self.governing.pressure
        if pressure is None or "nominal at_gel" not in pressure:
            return None
        return max(pressure[f"nominal {moment}"].value for moment in MOMENTS)

    def clamp_at(self, moment: str) -> float | None:
        """Pressure at which the clamp gives way at gel or at the maximum [Pa], None where not known."""
        return self.in_press.limits[moment]

    def bears(self, pressure: float, moment: str) -> bool:
        """Whether the clamp holds a pressure [Pa], as far as is known."""
        limit = self.clamp_at(moment)
        return limit is None or pressure <= limit

    @property
    def opens(self) -> bool:
        """Whether the clamp gives way at any moment, liquid full and with no bleed."""
        return self.in_press.stays_shut is False

    @property
    def breaks(self) -> bool:
        """Whether the core passes what the walls of the tool hold, liquid full and with no bleed."""
        return self.in_press.within_limit is False

    def with_clamp(self) -> float | None:
        """The greatest nominal pressure that the clamp lets come [Pa], None where one is not known."""
        pressure = self.governing.pressure
        if self.nominal() is None or pressure is None or self.clamp_limit is None:
            return None
        held = [
            min(pressure[f"nominal {m}"].value, math.inf if (limit := self.clamp_at(m)) is None else limit)
            for m in MOMENTS
        ]
        return max(held)

    @property
    def locked_opens(self) -> bool | None:
        """Whether the locked maximum is above what the clamp holds, None where one is not known."""
        pressure = self.governing.pressure
        if pressure is None or self.clamp_limit is None or "locked_maximum at_maximum" not in pressure:
            return None
        return not self.bears(pressure["locked_maximum at_maximum"].value, "at_maximum")

    @property
    def worn(self) -> bool:
        """Whether the core has been used more often than its limit."""
        return (
            self.moldings is not None
            and self.limit_moldings is not None
            and self.moldings > self.limit_moldings
        )
