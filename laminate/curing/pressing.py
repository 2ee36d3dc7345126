"""The pressure of the resin along a log, absolute: what it is at least and at most at each moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from laminate.files.log_file import Channel, LogFile
    from laminate.files.part import Part

ATMOSPHERE = 101325.0
LONG = 5.0
"""A channel is not known in an interval of more than so many usual ones; no source."""


@dataclass
class Known:
    """A channel as far as it is known: valid times and values, and the longest interval between two."""

    seconds: np.ndarray
    values: np.ndarray
    longest: float

    def at(self, times: np.ndarray) -> np.ndarray:
        """Values by straight lines; the ends go on."""
        return np.asarray(np.interp(times, self.seconds, self.values))

    def known(self, times: np.ndarray) -> np.ndarray:
        """Whether each time lies in an interval short enough, and inside the channel."""
        inside = (times >= self.seconds[0]) & (times <= self.seconds[-1])
        at = np.clip(np.searchsorted(self.seconds, times, side="left"), 1, len(self.seconds) - 1)
        return np.asarray(inside & (self.seconds[at] - self.seconds[at - 1] <= self.longest))


def known(log: LogFile, values: np.ndarray) -> Known | None:
    """The readings of a channel that are there, None for fewer than two."""
    there = np.isfinite(values)
    if there.sum() < 2:
        return None
    usual = float(np.median(np.diff(log.seconds)))
    return Known(log.seconds[there], values[there], LONG * max(usual, 1e-9))


@dataclass
class Pressing:
    """What presses on a zone.

    applied: over ambient [Pa], None where nothing logged says it; absolute: a sensor in the resin, absolute;
    gas: absolute pressure in the cavity before it is full, None for 1 atm; earliest: something that cannot
    press before it rises [any unit], where the pressure itself is not known; needed: over ambient, what the
    laminate needs to close up; channel: name of the reading; why: reasons for what is not known.
    """

    applied: Known | None = None
    absolute: Known | None = None
    gas: Known | None = None
    earliest: Known | None = None
    needed: float | None = None
    channel: str = ""
    area: float = 1.0
    why: list[str] = field(default_factory=list)
    not_measured: list[str] = field(default_factory=list)

    @property
    def reading(self) -> Known | None:
        """What the pressure is computed from."""
        return self.absolute or self.applied

    def resin(self, times: np.ndarray, full: float | None = None) -> np.ndarray | None:
        """Absolute pressure of the resin [Pa], None where nothing says it.

        full: time of liquid full [s]; gas presses before.
        """
        if self.absolute is not None:
            return self.absolute.at(times)
        if self.applied is None:
            return None
        gas = self.gas.at(times) if self.gas is not None else np.full(len(times), ATMOSPHERE)
        start = self.liquid_full() if full is None else full
        return np.where(times >= start, ATMOSPHERE + self.applied.at(times), gas)

    def liquid_full(self) -> float:
        """When applied pressure first exceeds what the laminate needs [s]; inf where it never does."""
        one = self.applied
        if one is None or self.needed is None:
            return np.inf
        return first_above(one.seconds, one.values - self.needed)


def first_above(seconds: np.ndarray, values: np.ndarray) -> float:
    """When a curve first rises above 0, by straight lines [s]; inf where it never does."""
    above = np.flatnonzero(values > 0.0)
    if not above.size:
        return np.inf
    at = int(above[0])
    if at == 0:
        return float(seconds[0])
    step = values[at] - values[at - 1]
    return float(seconds[at - 1] - values[at - 1] / step * (seconds[at] - seconds[at - 1]))


def _absolute(channel: Channel) -> np.ndarray:
    base = channel.column.base or "absolute"
    if base == "absolute":
        return channel.values
    return ATMOSPHERE + (channel.values if base == "over ambient" else -channel.values)


def pressing(log: LogFile, part: Part, zone: str) -> Pressing:
    """What presses on a zone, from the log's gauges."""
    place = part.zone[zone]
    found = Pressing(needed=place.pressed_at.value if place.pressed_at else None)
    cavity = [known(log, _absolute(one)) for one in log.reading("cavity pressure")]
    found.gas = next((one for one in cavity if one is not None), None)
    sensor = log.reading("resin pressure")
    if sensor:
        found.absolute, found.channel = known(log, _absolute(sensor[0])), sensor[0].name
        return found
    bladders = log.reading("bladder pressure")
    if place.bladder is not None:
        if bladders:
            found.applied, found.channel = known(log, _absolute(bladders[0]) - ATMOSPHERE), bladders[0].name
        if found.applied is None:
            found.why.append("no bladder pressure is logged")
            found.not_measured.append("bladder pressure")
        return found
    force = _force(log)
    if place.gap is None and place.core is None:
        area = _area(part)
        if force is None or area is None or found.needed is None:
            found.why.append("a closing press needs clamp force, projected_area of each zone, and pressed_at")
            return found
        found.applied = Known(force[0].seconds, force[0].values / area, force[0].longest)
        found.channel, found.area = force[1], area
        return found
    what = (
        "the core's pressure is not computed from a log"
        if place.core
        else "a tool on its stops carries the force"
    )
    found.why.append(
        f"the pressure of the resin is not known: {what}; log a sensor that reads resin pressure"
    )
    found.not_measured.append("resin pressure")
    if place.core is None and force is not None:
        found.earliest, found.channel = force
    return found


def _force(log: LogFile) -> tuple[Known, str] | None:
    for one in log.reading("clamp force", "ram pressure"):
        values = one.values
        if one.reads == "ram pressure" and one.column.ram_area is not None:
            values = (_absolute(one) - ATMOSPHERE) * one.column.ram_area.value
        there = known(log, values)
        if there is not None:
            return there, one.name
    return None


def _area(part: Part) -> float | None:
    """All projected area that carries: of every zone, and of the cores [m2]."""
    areas = [zone.projected_area for zone in part.zone.values()]
    areas += [core.projected_area for core in part.core.values()]
    if any(area is None for area in areas):
        return None
    return float(sum(area.value for area in areas if area is not None))
