"""Everything that is known of one zone along its cycle, its gel clock, and what keeps a verdict back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME, LATE, VAPOR
from laminate.curing.draws import BELOW_RANGE
from laminate.curing.pressing import needs_of
from laminate.curing.straight_lines import first_above
from laminate.formulas.gel_clock import clock, gel_rate

if TYPE_CHECKING:
    from laminate.curing.charges import Charge, Contents
    from laminate.curing.draws import Columns
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Curve, Sensor, Thermometers
    from laminate.files.batch import Case
    from laminate.files.cycle_keys import Log
    from laminate.files.log_file import LogFile
    from laminate.files.part import Part

ROOM = 296.15


@dataclass
class Blocks:
    """Reasons why a verdict cannot be given, by the verdicts that each of them keeps back."""

    reasons: list[tuple[str, frozenset[str]]] = field(default_factory=list)

    def add(self, reason: str, *verdicts: str) -> None:
        """Keep back these verdicts, all of them where none is named."""
        self.reasons.append((reason, frozenset(verdicts or (IN_TIME, LATE, VAPOR))))

    def against(self, verdict: str) -> list[str]:
        """The reasons that keep a verdict back."""
        return [reason for reason, verdicts in self.reasons if verdict in verdicts]


def room_of(part: Part) -> float:
    """Temperature of the room of a part [K]."""
    return part.temperature.room.value if part.temperature is not None else ROOM


@dataclass
class View:
    """Everything that is known of one zone along a cycle, planned or logged.

    seconds: of every row [s]; since: when the clock starts [s]; ahead: how long the charge was warm ahead of
    the first row [s]; thickness: of the laminate [m], None where it is not known.
    """

    part: Part
    zone: str
    seconds: np.ndarray
    thickness: float | None
    inside: Contents
    presses: Pressing
    heat: Thermometers
    blocks: Blocks = field(default_factory=Blocks)
    since: float = 0.0
    ahead: float = 0.0

    @property
    def pairs(self) -> list[tuple[Sensor, Charge]]:
        """Each sensor with each charge: a clock a pair."""
        return [(sensor, charge) for sensor in self.heat.sensors for charge in self.inside.charges]

    def needed(self, columns: Columns) -> np.ndarray | None:
        """Draws of what must be applied over ambient [Pa]."""
        return columns.largest("pressed_at", needs_of(self.part, self.zone))


@dataclass
class LogView(View):
    """A zone with its batch, the log as it was described, and as it was read."""

    case: Case = field(kw_only=True)
    log: Log = field(kw_only=True)
    file: LogFile = field(kw_only=True)


def nominal_clock(view: View, sensor: Sensor, charge: Charge, *, early: bool = True) -> np.ndarray:
    """The gel clock of a sensor and charge at every row."""
    return clock_along(view, (view.seconds, sensor.temperature), charge, early=early)


def clock_along(view: View, curve: Curve, charge: Charge, *, early: bool = True) -> np.ndarray:
    """The gel clock of a charge along a curve [s], [K]."""
    seconds, warm = curve
    idle = seconds < view.since
    if not early:
        idle |= warm < charge.coldest - BELOW_RANGE
    rate = np.where(idle, 0.0, gel_rate(temperature=warm, a=charge.line.a, b=charge.line.b))
    start = charge.start.value if charge.start is not None else 0.0
    return clock(times=seconds, rates=rate, start=start + view.ahead * float(rate[0]))


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
