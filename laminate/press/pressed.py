"""What is said of a zone that a rubber core or a bladder presses, as plain data; pressures above ambient."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.press.counts import (
    FITS,
    NOT_JUDGED,
    Row,
)
from laminate.press.shared_inputs import CONFIDENCE, Estimate
from laminate.press.state import State
from laminate.press.windows import Window
from laminate.press.zone_answer import ZoneAnswer

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.inverse import ToleranceWanted
    from laminate.press.steam import Steam
    from laminate.values.units import SIValue

NOT_PRESSED, OPENS = "not pressed", "opens the tool"
PRESSES, DEPENDS = "presses", "depends on the bleed"
USABLE = (PRESSES, DEPENDS, FITS, NOT_JUDGED)
"""Verdicts with which a count may still be laid up."""
USE, RISKY, DO_NOT, STATE_BLEED = "use", "risky", "do not", "state the bleed"
FAR_ENDS = (0.025, 0.975)
OPENS_AT_MOST = 0.05
"""Largest chance that the tool opens beside which a count is shown as pressed or fitting and no more."""


class Band(NamedTuple):
    """A number with the range of 95 % of the draws, or, where no bleed is stated, between its two ends."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedRow(Row):
    """One ply count under rubber or a bladder: what it becomes, its pressures.

    part: at the bleed that is stated, at none where none is; ends: the same at no bleed and at the end of
    bleed, where no bleed is stated; none_left_at: bleed at which no pressure is left, None where nothing
    presses; unjudged: whether nobody may say that the tool holds.
    """

    bleed: Band
    pressure_at_gel: Band | None
    pressure_at_worst: Band | None
    window: Window | None
    none_left_at: float | None
    ends: tuple[dict[str, float], ...] = ()
    unjudged: bool = False

    @property
    def may_open(self) -> bool:
        """Whether the tool holds on nominal values, and opens in more than 5 % of the draws."""
        holds = self.chance.holds
        return self.verdict in (PRESSES, FITS) and holds is not None and holds < 1.0 - OPENS_AT_MOST

    @property
    def says(self) -> str:
        """The verdict for people: that of the nominal values, and whether the tool may open all the same."""
        return f"{self.verdict}, may open" if self.may_open else self.verdict


@dataclass(frozen=True, slots=True)
class VolumeWindow:
    """Sizes of a core with which a count presses and the tool holds [m^3, m]; high None: no core does.

    low None: not judged, with high and the width of both.

    left: cold, between the cores of its room and the laid-up stacks, by direction [m]; below 0 it is forced;
    shut, within: at the least volume, whether the clamp holds, and the walls by the pressure limit.
    """

    core: str
    now: float
    low: float | None
    high: float | None
    width: tuple[float, ...] | None
    left: Mapping[str, float]
    shut: bool = False
    within: bool = True

    @property
    def interference(self) -> float:
        """By how much it is too large to go in cold [m]."""
        return -min((0.0, *self.left.values()))


class Wishes(NamedTuple):
    """What is asked the other way round of a zone under rubber or a bladder, and the answers.

    fiber_volume, chance: wanted, None where not asked; bleed: of the resin for that fiber volume, below 0 a
    shortfall, None without resin; end: the most that can bleed; tolerances: each alone gives the chance.
    """

    fiber_volume: float | None = None
    bleed: float | None = None
    end: float = 0.0
    chance: float | None = None
    tolerances: tuple[ToleranceWanted, ...] = ()


@dataclass(frozen=True, slots=True)
class PressForces:
    """The press at the stated counts, else those advised; where one zone is asked about, with its best count.

    Forces [N], worst moment, temperature it gives way at [K]. state: with what clamp and walls hold; at_gel,
    at_worst: opening forces of what is known, None where nothing is; with_bleed: at which bleed these are,
    "as stated" or "none", None where no rubber presses; whole: whether all that presses is
    known, else these are the least.
    """

    state: State
    at_gel: Estimate | None
    at_worst: Estimate | None
    worst_moment: str | None
    gives_way_at: float | None
    chance_holds: float | None
    with_bleed: str | None
    whole: bool


@dataclass(frozen=True, slots=True)
class PressedFill(ZoneAnswer):
    """The answer for one zone under rubber or a bladder.

    bladder: its pressure [Pa], None under rubber; use: the row to lay up, None unless its grade is 'use';
    best: the row that comes nearest; beside: at which counts other zones were taken that nothing states, in
    sentences; together: the row to use as it is with what is advised for every zone, None where that is what
    all zones are judged with.
    """

    bladder: float | None
    rows: tuple[PressedRow, ...]
    best: PressedRow
    needed: float
    cores: tuple[VolumeWindow, ...]
    supposed: tuple[str, ...]
    bounded: bool = True
    steam: Steam | None = None
    moves: tuple[tuple[Any, float], ...] = field(default=())
    beside: tuple[str, ...] = ()
    wishes: Wishes = field(default_factory=Wishes)
    together: PressedRow | None = None

    @property
    def pressed_by(self) -> str:
        """What presses it."""
        return "rubber" if self.bladder is None else "bladder"

    @property
    def bleed_stated(self) -> tuple[float, float, float] | None:
        """The stated bleed, its standard uncertainty and its half-width or twice that; None where none is."""
        stated = self.case.zone.bleed
        return None if stated is None else (stated.value, stated.spread, half_width(stated))

    @property
    def use(self) -> PressedRow | None:
        """The row to lay up, where its grade says so."""
        return self.best if self.grade == USE else None

    @property
    def advised(self) -> bool:
        """Whether there is a count to use."""
        return self.use is not None


def half_width(stated: SIValue) -> float:
    """Half of the range that a stated value leaves open: all of a tolerance, else 95 %."""
    if stated.shape == "rectangular" or not stated.spread:
        return stated.half_width
    from laminate.formulas.statistics import students_t

    return stated.spread * float(students_t(confidence=CONFIDENCE, dof=stated.dof))


def bleed_range(press: Press, zone: str, end: float) -> tuple[float, float]:
    """The stated bleed with its ±, cut to 0 and the end of bleed; all of that where none is stated."""
    stated = press.stated(zone)
    if stated is None:
        return 0.0, end
    half = half_width(stated)
    return min(max(stated.value - half, 0.0), end), min(stated.value + half, end)
