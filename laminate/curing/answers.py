"""What is said of a zone's press cycle, SI units throughout, pressures of the resin absolute."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from laminate.press.shared_inputs import NORMAL
from laminate.values.uncertainty import ROUNDING

if TYPE_CHECKING:
    import numpy as np

T = TypeVar("T")
IN_TIME = "pressed in time"
LATE = "pressed late"
VAPOR = "vapor above pressure"
CANNOT = "cannot say"
AT_GEL = (
    "vapor_margin", "vapor_margin_after_gel", "vapor_before_pressure",
    "resin_pressure_absolute_at_gel", "applied_pressure_at_gel", "times_released",
)  # fmt: skip
"""What is told of the pressure when it gels."""
KEY_OF = {"vapor margin": "vapor_margin"}
"""Process readings that have another key in the answer, under which the answer says why one is not known."""
WORST_FIRST = (LATE, VAPOR, CANNOT, IN_TIME)


class NotComputed(Exception):
    """Why heat or pressure of a zone cannot be computed, with what to write."""


@dataclass(frozen=True, slots=True)
class Known:
    """A number and its standard uncertainty [SI], None where it has none, or one that is rounding alone.

    ends: the least and the most that it can be for what was not read [SI], None where nothing lacks; unread:
    why, a phrase each.
    """

    value: float
    u: float | None = None
    ends: tuple[float, float] | None = None
    unread: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.u and self.u < ROUNDING * abs(self.value):
            object.__setattr__(self, "u", None)

    @property
    def expanded(self) -> float | None:
        """Its expanded uncertainty at 95 % [SI]."""
        return None if self.u is None else NORMAL * self.u


@dataclass(frozen=True, slots=True)
class Event:
    """A moment of the cycle: time [s], hottest laminate temperature [K], resin pressure, absolute [Pa]."""

    event: str
    time: Known
    temperature: float | None
    resin_pressure: float | None


@dataclass(frozen=True, slots=True)
class GelClock:
    """The gel clock: shares used at the start, when pressed, and below the tested range; tested: [K]."""

    start: Known | None
    when_pressed: float | None
    below_tested_range: float | None
    tested: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Chance:
    """Chances [0..1], resolved toward the side that calls no bad part good."""

    pressed_before_gel: float | None
    above_vapor: float | None
    both: float | None


@dataclass(frozen=True, slots=True)
class Matters:
    """The input that matters most, its rank correlation, and which ± of it would decide, in words."""

    input: str
    rank_correlation: float
    text: str


@dataclass
class Curves:
    """Curves to draw: seconds, temperatures [K], resin and vapor pressure [Pa]."""

    seconds: np.ndarray
    temperatures: dict[str, np.ndarray]
    resin: np.ndarray | None
    vapor: np.ndarray | None


@dataclass(frozen=True, kw_only=True)
class Notes:
    """What is said of a zone beside its figures, gathered while they are made.

    unknown: key of a figure -> why it is not known.
    """

    warnings: list[str] = field(default_factory=list)
    screening: list[str] = field(default_factory=list)
    not_measured: list[str] = field(default_factory=list)
    unknown: dict[str, str] = field(default_factory=dict)

    def given(self, key: str, figure: T, why_not: str) -> T | None:
        """A figure, None where a reason stands against it, which is noted."""
        if not why_not:
            return figure
        self.unknown[key] = why_not
        return None


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Moments and figures of a zone, each with what is known of it, None where it is not known.

    readings: name of a process value -> what the log gives.
    """

    events: list[Event] = field(default_factory=list)
    gel_clock: GelClock = GelClock(None, None, None, None)
    vapor_margin: Known | None = None
    vapor_margin_after_gel: float | None = None
    vapor_before_pressure: tuple[float, float] | None = None
    resin_pressure_at_gel: Known | None = None
    applied_pressure_at_gel: Known | None = None
    times_released: int | None = None
    readings: dict[str, Known] = field(default_factory=dict)

    def event(self, name: str) -> Event | None:
        """The event of a name, None where it did not happen."""
        return next((event for event in self.events if event.event == name), None)


@dataclass(frozen=True)
class ZoneCycle(Figures, Notes):
    """The answer for one zone, made once: see the JSON of `cycle` for each key.

    log: SHA-256 of the file, '' for a plan; cycle: name of the plan, '' for a log; day: of the first row of a
    log that is more than a day from when the batch was molded, else None.
    """

    zone: str
    log: str = ""
    log_file: str = ""
    cycle: str = ""
    verdict: str = CANNOT
    why: list[str] = field(default_factory=list)
    chance: Chance = Chance(None, None, None)
    humidity: float = 1.0
    humidity_stated: bool = False
    matters_most: Matters | None = None
    left_out: list[str] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)
    columns: list[tuple[str, str]] = field(default_factory=list)
    day: dt.date | None = None
    curves: Curves | None = None

    def why_unknown(self, reading: str) -> str:
        """Why a process reading is not known, '' where it is."""
        return self.unknown.get(KEY_OF.get(reading, reading), "")

    @property
    def good(self) -> bool:
        """Whether it pressed in time."""
        return self.verdict == IN_TIME


@dataclass
class Cycles:
    """The answer of `cycle`: one entry a zone, or a zone and planned cycle."""

    name: str
    title: str
    zones: list[ZoneCycle]
    seed: int
    draws: int

    @property
    def verdict(self) -> str:
        """The worst verdict."""
        return min((zone.verdict for zone in self.zones), key=WORST_FIRST.index)

    @property
    def good(self) -> bool:
        """Whether every zone pressed in time."""
        return all(zone.good for zone in self.zones)
