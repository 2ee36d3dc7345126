"""Everything that is known of one zone along its cycle, its gel clock, and what keeps a verdict back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME, LATE, VAPOR, Notes
from laminate.curing.draws import BELOW_RANGE
from laminate.curing.pressing import MISSING, needs_of, vapor_pressure
from laminate.curing.straight_lines import first_above
from laminate.formulas.gel_clock import clock, gel_rate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.charges import Charge, Contents
    from laminate.curing.draws import Columns
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Curve, Sensor, Thermometers
    from laminate.files.batch import Case
    from laminate.files.cycle_keys import Log
    from laminate.files.log_file import LogFile
    from laminate.files.part import Part

ROOM = 296.15
Bounds = tuple[float, float]
"""The least and the most, or from and to."""


@dataclass
class Objections:
    """Reasons why a verdict cannot be given, by the verdicts that each of them keeps back."""

    reasons: list[tuple[str, frozenset[str]]] = field(default_factory=list)

    def add(self, reason: str, *verdicts: str) -> None:
        """Keep back these verdicts, all of them where none is named."""
        self.reasons.append((reason, frozenset(verdicts or (IN_TIME, LATE, VAPOR))))

    def against(self, verdict: str) -> list[str]:
        """The reasons that keep a verdict back."""
        return [reason for reason, verdicts in self.reasons if verdict in verdicts]


@dataclass(frozen=True)
class WasRead:
    """What of a log was read, decided before any figure is made of it; as it stands, all of it, as of a plan.

    missing: that no reading of the laminate is there while its gel clock may run on, '' where all are; ended:
    that they end before gel; apart: that they are too far apart before it; hottest, coldest: curves of each
    of its sensors then; first: soonest and latest gel along them [s]; gels: the same by event where readings
    are missing; computed: from and to when a core's pressure is computed from temperatures that nobody read
    [s], None where it is not.
    """

    missing: str = ""
    ended: str = ""
    apart: str = ""
    hottest: Sequence[Curve] = ()
    coldest: Sequence[Curve] = ()
    first: Bounds = (np.inf, np.inf)
    gels: dict[str, Bounds] = field(default_factory=dict)
    computed: Bounds | None = None


def room_of(part: Part) -> float:
    """Temperature of the room of a part [K]."""
    return part.temperature.room.value if part.temperature is not None else ROOM


@dataclass
class View:
    """Everything that is known of one zone along a cycle, planned or logged.

    seconds: of every row [s]; thickness: of the laminate [m], None where it is not known; humidity: that the
    prepreg was stored at, None where it is not stated; cycle: name of the plan, '' of a log; clock_start:
    when the clock starts [s]; warm_before: how long the charge was warm ahead of the first row [s].
    """

    part: Part
    zone: str
    seconds: np.ndarray
    thickness: float | None
    contents: Contents
    pressing: Pressing
    thermometers: Thermometers
    humidity: float | None
    cycle: str = ""
    clock_start: float = 0.0
    warm_before: float = 0.0
    read: WasRead = WasRead()
    notes: Notes = field(default_factory=Notes)
    objections: Objections = field(default_factory=Objections)

    @property
    def sensors(self) -> list[Sensor]:
        """Of the laminate, or those that stand in."""
        return self.thermometers.sensors

    @property
    def pairs(self) -> list[tuple[Sensor, Charge]]:
        """Each sensor with each charge: a clock a pair."""
        return [(sensor, charge) for sensor in self.sensors for charge in self.contents.charges]

    @property
    def humidity_taken(self) -> float:
        """The humidity, the worst where none is stated."""
        return 1.0 if self.humidity is None else self.humidity

    def vapor(self) -> np.ndarray:
        """Pressure of the vapor of its water at every row [Pa]."""
        return self.humidity_taken * vapor_pressure(self.thermometers.hottest())

    def pressure_read(self, time: float) -> bool:
        """Whether what presses was read around a moment [s], or does not come of a reading of its own."""
        reading = self.pressing.logged
        return reading is None or bool(reading.known(np.array([time])).all())

    def pressure_gap(self, time: float) -> tuple[Bounds, str] | None:
        """The readings of pressure beside a moment [s] where some lack between them, and in words."""
        return None

    def needed(self, columns: Columns) -> np.ndarray | None:
        """Draws of what must be applied over ambient [Pa]."""
        return columns.largest("pressed_at", needs_of(self.part, self.zone))


@dataclass
class LogView(View):
    """A zone with its batch, the log as it was described, and as it was read."""

    case: Case = field(kw_only=True)
    log: Log = field(kw_only=True)
    file: LogFile = field(kw_only=True)

    def pressure_gap(self, time: float) -> tuple[Bounds, str] | None:
        """As of any cycle: a plan lacks none."""
        reading = self.pressing.logged
        if reading is None:
            return None
        at, steps = reading.seconds, np.diff(self.seconds)
        after = int(np.clip(np.searchsorted(at, time), 1, len(at) - 1))
        gap = float(at[after - 1]), float(at[after])
        if gap[1] - gap[0] <= MISSING * np.quantile(steps, 0.9, method="lower"):
            return None
        first, last = (self.file.rows[int(np.searchsorted(self.seconds, moment))] for moment in gap)
        return gap, f"{self.pressing.channel} has no valid reading between rows {first} and {last}"


def nominal_clock(view: View, sensor: Sensor, charge: Charge, *, early: bool = True) -> np.ndarray:
    """The gel clock of a sensor and charge at every row."""
    return clock_along(view, (view.seconds, sensor.temperature), charge, early=early)


def clock_along(view: View, curve: Curve, charge: Charge, *, early: bool = True) -> np.ndarray:
    """The gel clock of a charge along a curve [s], [K]."""
    seconds, warm = curve
    idle = seconds < view.clock_start
    if not early:
        idle |= warm < charge.coldest - BELOW_RANGE
    rate = np.where(idle, 0.0, gel_rate(temperature=warm, a=charge.line.a, b=charge.line.b))
    start = charge.start.value if charge.start is not None else 0.0
    return clock(times=seconds, rates=rate, start=start + view.warm_before * float(rate[0]))


def gels_at(view: View, curve: Curve, charge: Charge, *, early: bool = True) -> float:
    """When a charge gels along a curve [s], [K]; inf where it does not."""
    return first_above(curve[0], clock_along(view, curve, charge, early=early) - 1.0)


def gel_times(view: View, *, early: bool = True) -> list[float]:
    """When the clock of each sensor and charge gels [s]; inf where it never does."""
    return [gels_at(view, (view.seconds, s.temperature), charge, early=early) for s, charge in view.pairs]


def furthest(view: View) -> tuple[np.ndarray, Sensor, Charge]:
    """The clock that gels first, or is furthest at the end."""
    clocks = [(nominal_clock(view, *pair), *pair) for pair in view.pairs]

    def key(candidate: tuple[np.ndarray, Sensor, Charge]) -> tuple[float, float]:
        gelled = candidate[0] >= 1.0
        at = float(view.seconds[int(np.argmax(gelled))]) if gelled.any() else np.inf
        return at, -float(candidate[0][-1])

    return min(clocks, key=key)


def gel_row(view: View) -> int:
    """The row in which the first gels, the last row where none does."""
    gelled = furthest(view)[0] >= 1.0
    return int(np.argmax(gelled)) if gelled.any() else len(gelled) - 1
