"""What is said of an expanding core, as plain data."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.press.cold import too_large_hot
from laminate.press.material import of_tables
from laminate.press.shared_inputs import Estimate
from laminate.press.steam import Steam

if TYPE_CHECKING:
    from laminate.files.part import Core
    from laminate.press.pressed import PressForces, VolumeWindow
    from laminate.press.room_question import RoomQuestion
    from laminate.press.state import State

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

    reason: why there is no pressure, '' where there is; window: from
    contact with the laid-up stack to liquid full, tool at gel [K]; locked_per_kelvin: rise of the locked
    pressure at the maximum [Pa/K];
    clamp_reached: temperature of core and tool at which the locked core reaches the clamp's pressure [K];
    gap: hot gap that the cold width and the dummy are for, gap_asked whether a person asked for it; across:
    the size of the core that cold_width is of, now: that size as it is; growth: of that size of a hard core.
    """

    zone: str
    plies: int
    plies_fit: bool
    contact: Estimate | None
    contact_together: Estimate | None
    liquid_full: Estimate | None
    window: float | None
    pressure: Mapping[str, Pressure] | None
    reason: str
    locked_per_kelvin: float | None
    clamp_reached: float | None
    gap: float
    gap_asked: bool
    across: str
    now: Estimate | None
    cold_width: Estimate | None
    dummy: Estimate | None
    pull_out: Estimate | None
    growth: Estimate | None
    not_measured: tuple[str, ...]

    @property
    def contact_reason(self) -> str:
        """Why a temperature of contact is none that there is; '' where each is."""
        if self.contact is None:
            return "never touches the laid-up stack"
        return "touches the laid-up stack at every temperature" if self.contact.value <= 0.0 else ""


@dataclass(frozen=True, slots=True)
class CoreAnswer:
    """The answer for one core; `zones` begins with the one that governs, of a hard core the first touched.

    ask: the room with its counts: where its ends are open, the pressure is the most it can be, and whether it
    presses is not judged; state: of the press, liquid full and with no bleed; movement: growth of the width
    across the laminate at gel, as the core is held; expected_moment: of the largest pressure with the stated
    bleed; stays_shut, within_limit: whether clamp and walls of the tool hold at every moment, every room
    liquid full and with no bleed, None where that is not known; opens: share of the draws in which one of
    them does not, of stated bleeds where all are (`ask.stated`), else of no bleed, None where that is not
    known; limits: what the clamp holds at gel and at the maximum [Pa]; clearance: cold, by direction [m];
    windows: sizes with which it presses and holds; vapor: absolute resin pressure at gel, that of the water
    in it, what is needed above ambient [Pa]; vapor_first: the temperature of core and tool from which it
    presses, and the vapor pressure of the water there [K, Pa], where that passes the gas in the cavity;
    missing: what must be stated before the tool may be said to hold.
    """

    core: str
    ask: RoomQuestion
    state: State
    zones: tuple[CoreInZone, ...]
    width: Estimate | None
    mean_temperature: Estimate
    free_growth: Estimate | None
    movement: Estimate | None
    warming: tuple[tuple[float, float], ...]
    moldings: int | None
    steam: Steam | None
    expected_moment: str | None
    stays_shut: bool | None
    within_limit: bool | None
    opens: float | None
    limits: Mapping[str, float | None]
    clearance: Mapping[str, float]
    windows: tuple[VolumeWindow, ...]
    vapor: tuple[Estimate, Estimate, Estimate] | None
    forces: PressForces
    vapor_first: tuple[float, float] | None
    missing: tuple[str, ...]

    @property
    def stated(self) -> Core:
        """The core as the part file states it."""
        return self.ask.press.part.core[self.core]

    @property
    def rubber(self) -> bool:
        """Whether it takes the pressure on."""
        return self.ask.room.rubber

    @property
    def material(self) -> str | None:
        """What it is made of, as the tables have it."""
        return of_tables(self.stated).get("name", self.stated.material)

    @property
    def held(self) -> str:
        """How it is held: sides, ends or no."""
        return self.stated.held or ("sides" if self.rubber else "no")

    @property
    def interference(self) -> dict[str, float]:
        """Cold clearance below 0, by direction [m]; a tool that closes hot on a hard core opens for it."""
        tool, opens = self.ask.press.part.tool, self.ask.room.opens
        free = opens if not self.rubber and (tool is None or tool.closes == "hot") else ""
        return {what: left for what, left in self.clearance.items() if left < 0.0 and what != free}

    @property
    def too_large_hot(self) -> dict[str, Estimate]:
        """By how much a hard core is larger than the tool at gel where no laminate lies between [m]."""
        return too_large_hot(self.ask.press.cases[self.governing.zone])

    @property
    def worst_moment(self) -> str | None:
        """The moment of the largest nominal pressure."""
        return self.state.worst_moment(self.ask.room.name)

    @property
    def highest_temperature(self) -> float:
        """Of the core in the cycle [K]."""
        return float(self.state.conditions.core_temperature(self.core, self.ask.last))

    @property
    def holds(self) -> bool | None:
        """Whether the tool holds: False where clamp or walls do not, None where the clamp is not known."""
        return False if self.within_limit is False else self.stays_shut

    @property
    def governing(self) -> CoreInZone:
        """The zone whose answer stands for the core."""
        return self.zones[0]

    def bears(self, pressure: float, moment: str, state: str = "nominal") -> bool:
        """Whether the clamp holds a pressure [Pa], as far as is known, all rooms in the same state."""
        limit = self.limits[moment]
        if limit is not None and state in ("lowest", "expected"):
            limit = self.ask.limit(state, moment)
        return limit is None or pressure <= limit

    def with_clamp(self) -> Estimate | None:
        """The greatest nominal pressure that the clamp lets come [Pa], None where one is not known."""
        pressure = self.governing.pressure
        if pressure is None or self.limits["at_gel"] is None:
            return None
        limits = {moment: math.inf if limit is None else limit for moment, limit in self.limits.items()}
        shut = ((pressure[f"nominal {moment}"], limit) for moment, limit in limits.items())
        held = (Estimate(p.value, p.u) if p.value <= limit else Estimate(limit) for p, limit in shut)
        return max(held, key=lambda pressure: pressure.value)

    @property
    def locked_opens(self) -> bool | None:
        """Whether the locked maximum is above what the clamp holds, None where either may be more."""
        pressure = self.governing.pressure
        if pressure is None or self.limits["at_gel"] is None:
            return None
        opens = not self.bears(pressure["locked_maximum at_maximum"].value, "at_maximum")
        return None if self.stays_shut is None and not opens else opens

    @property
    def worn(self) -> bool:
        """Whether the core has been used more often than its limit."""
        limit = self.stated.limit_moldings
        return self.moldings is not None and limit is not None and self.moldings > limit
