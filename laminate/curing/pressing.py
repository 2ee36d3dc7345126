"""The pressure of the resin along a log, absolute: what it is at least and at most at each moment."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from laminate.curing.answers import IN_TIME
from laminate.curing.straight_lines import each_at, first_above
from laminate.formulas.water import water_vapor_pressure
from laminate.press.case import wanted_pressure
from laminate.values.uncertainty import ROUNDING

if TYPE_CHECKING:
    from laminate.curing.draws import Columns
    from laminate.files.log_file import Channel, LogFile
    from laminate.files.part import Part
    from laminate.values.units import SIValue

ATMOSPHERE = 101325.0
ON_ITS_STOPS = (
    "the pressure of the resin is not known: a tool on its stops carries the force; "
    "log a sensor that reads resin pressure"
)
LONG = 5.0
"""A channel is not known in an interval of more than so many usual ones; no source."""
MISSING = 1.5
"""So many usual steps between two rows are a row too few: what happened in between is not known."""


EQUAL = 1.0 - ROUNDING
"""Of what is needed: as much presses too."""
COLD = 200.0
"""At which no resin gels [K]."""
FAR_ABOVE = 2.0
"""From so many times what the part file states on, a pressure may be in another unit; no source."""


@dataclass
class Trace:
    """A channel as far as it is known: valid times and values, and the longest interval between two.

    apart: intervals in which too much happens for a straight line.
    """

    seconds: np.ndarray
    values: np.ndarray
    longest: float
    apart: np.ndarray | bool = False

    @property
    def usual(self) -> float:
        """The usual step between two rows of the log [s]."""
        return self.longest / LONG

    def rows_missing(self) -> np.ndarray:
        """Whether a row is missing in each interval, as far as the usual step tells."""
        return np.asarray(np.diff(self.seconds) > MISSING * self.usual)

    def at(self, times: np.ndarray) -> np.ndarray:
        """Values by straight lines; the ends go on."""
        return np.asarray(np.interp(times, self.seconds, self.values))

    def bound(self, times: np.ndarray, *, least: bool) -> np.ndarray:
        """Values by straight lines; where rows are missing, or apart, the lower beside, or the higher."""
        after = np.clip(np.searchsorted(self.seconds, times, side="left"), 1, len(self.seconds) - 1)
        missing = (self.rows_missing() | self.apart)[after - 1]
        extreme = (np.minimum if least else np.maximum)(self.values[after - 1], self.values[after])
        return np.where(missing, extreme, self.at(times))

    def cold_between(self, seconds: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """A curve [s], [K], far too cold to gel wherever readings of this channel are missing."""
        missing = np.flatnonzero(self.rows_missing())
        ends = np.concatenate([self.seconds[missing] + 1e-6, self.seconds[missing + 1] - 1e-6])
        ends = ends[(ends > seconds[0]) & (ends < seconds[-1])]
        place = np.interp(seconds, self.seconds, np.arange(len(self.seconds)))
        between = (place % 1.0 > 0.0) & np.isin(place.astype(int), missing)
        at = np.concatenate([seconds, ends])
        warm = np.concatenate([np.where(between, COLD, values), np.full(len(ends), COLD)])
        order = np.argsort(at, kind="stable")
        return at[order], warm[order]

    def known(self, times: np.ndarray) -> np.ndarray:
        """Whether each time lies in an interval short enough, and inside the channel."""
        inside = (times >= self.seconds[0]) & (times <= self.seconds[-1])
        at = np.clip(np.searchsorted(self.seconds, times, side="left"), 1, len(self.seconds) - 1)
        seen = (np.diff(self.seconds) <= self.longest) & ~(self.rows_missing() & self.apart)
        return np.asarray(inside & seen[at - 1])


def known(log: LogFile, values: np.ndarray) -> Trace | None:
    """The readings of a channel that are there, None for fewer than two.

    Nine steps of ten are no longer than the usual one: a logger may write less often from some time on, or a
    channel less often than others.
    """
    there = np.isfinite(values)
    if there.sum() < 2:
        return None
    steps = np.diff(log.seconds), np.diff(log.seconds[there])
    usual = max(float(np.quantile(steps[0], 0.9, method="lower")), float(np.median(steps[1])))
    return Trace(log.seconds[there], values[there], LONG * max(usual, 1e-9))


@dataclass
class CoreCurves:
    """Pressure of a core along the cycle, over ambient [Pa]: first column as best known, others draws.

    least, most: (times, columns), with everything that is unknown taken to either side; means: of each core,
    as best known [K]; columns: what the draws were computed from, of a log.
    """

    seconds: np.ndarray
    least: np.ndarray
    most: np.ndarray
    means: dict[str, np.ndarray] = field(default_factory=dict)
    columns: Columns | None = None

    @property
    def draws(self) -> int:
        """How many cores were drawn."""
        return int(self.least.shape[1]) - 1

    def at(self, times: np.ndarray, *, least: bool) -> np.ndarray:
        """Of each draw at its own time; more draws than columns take the columns in turn."""
        curves = self.least if least else self.most
        columns = 1 + np.arange(len(times)) % self.draws
        return each_at(self.seconds, curves, times, columns)


class AsLaidUp(NamedTuple):
    """Cores against laminates as laid up: times [s], largest open width of any (times, columns) [m].

    locked: highest pressure where laminates lock like that [Pa], None where not known.
    """

    seconds: np.ndarray
    gap: np.ndarray
    locked: float | None


@dataclass
class Pressing:
    """What presses on a zone.

    applied: over ambient [Pa], None where nothing says it; absolute: a sensor in the resin, absolute; gas:
    absolute pressure in the cavity before it is full, None for 1 atm; earliest: something that cannot press
    before it rises [any unit], where the pressure itself is not known; needed: over ambient, what the
    laminate needs to close up; channel: name of the reading; rubber: a core presses; cores: its curves, of
    which applied is the first of the least; limit: at which clamp or walls give way (times, columns) [Pa];
    laid_up: cores against laminates as laid up, None where none are; why: reasons for what is not known;
    doubts: what contradicts it, and the verdicts that this keeps back.
    """

    applied: Trace | None = None
    absolute: Trace | None = None
    gas: Trace | None = None
    earliest: Trace | None = None
    needed: float | None = None
    channel: str = ""
    area: float = 1.0
    rubber: bool = False
    cores: CoreCurves | None = None
    limit: np.ndarray | None = None
    laid_up: AsLaidUp | None = None
    why: list[str] = field(default_factory=list)
    doubts: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)
    not_measured: list[str] = field(default_factory=list)

    def take(self, cores: CoreCurves) -> None:
        """Let curves press, as best known the first of the least."""
        self.cores, self.applied = cores, Trace(cores.seconds, cores.least[:, 0], np.inf)

    def doubt(self, reasons: Iterable[str]) -> None:
        """Keep 'pressed in time' back for some reasons."""
        self.doubts += [(reason, (IN_TIME,)) for reason in reasons]

    @property
    def reading(self) -> Trace | None:
        """What the pressure is computed from."""
        return self.absolute or self.applied

    @property
    def logged(self) -> Trace | None:
        """A reading that the pressure is, None where there is none or a core's is computed."""
        return None if self.cores is not None else self.reading

    @property
    def by_balance(self) -> bool:
        """Whether core and laminate fill a room: liquid full as soon as something is applied."""
        return self.rubber and self.absolute is None and self.applied is not None

    def opens_before(self, times: np.ndarray) -> float:
        """Share of draws in which the tool gives way before a time of each [s]."""
        if self.limit is None or self.cores is None:
            return 0.0
        over = self.cores.most > self.limit * (1.0 + ROUNDING)
        at = np.where(np.any(over, axis=0), self.cores.seconds[np.argmax(over, axis=0)], np.inf)
        columns = 1 + np.arange(len(times)) % (over.shape[1] - 1)
        return float(np.mean(np.isfinite(at[columns]) & (at[columns] <= times)))

    def gas_at(self, times: np.ndarray) -> np.ndarray:
        """Absolute pressure in the cavity before it is full [Pa]."""
        return self.gas.at(times) if self.gas is not None else np.full(len(times), ATMOSPHERE)

    def resin_of(self, times: np.ndarray, applied: np.ndarray) -> np.ndarray:
        """Absolute pressure of the resin at times at which so much is applied [Pa]."""
        full = ATMOSPHERE + applied
        return np.where(applied > 0.0, full, self.gas_at(times)) if self.by_balance else full

    def over_ambient(self, times: np.ndarray) -> np.ndarray | None:
        """What is applied over ambient, as best known [Pa], None where nothing says it."""
        if self.reading is None:
            return None
        return self.reading.at(times) - (ATMOSPHERE if self.absolute is not None else 0.0)

    def closed(self, applied: np.ndarray) -> np.ndarray:
        """How far what is applied lies above what the laminate needs [Pa]; above 0 where it is enough."""
        needed = self.needed or 0.0 if self.by_balance else self.needed
        return applied - EQUAL * needed if needed is not None else np.ones(len(applied))

    def resin(self, times: np.ndarray) -> np.ndarray | None:
        """Absolute pressure of the resin [Pa], None where nothing says it; gas presses until it is full."""
        if self.absolute is not None:
            return self.absolute.at(times)
        if self.applied is None:
            return None
        applied = self.applied.at(times)
        full = applied > 0.0 if self.by_balance else times >= self.liquid_full()
        return np.where(full, ATMOSPHERE + applied, self.gas_at(times))

    def liquid_full(self) -> float:
        """When applied pressure first exceeds what fills the laminate [s]; inf where it never does."""
        applied = self.applied
        if applied is None or (self.needed is None and not self.by_balance):
            return np.inf
        return first_above(
            applied.seconds, applied.values if self.by_balance else self.closed(applied.values)
        )


def _absolute(channel: Channel) -> np.ndarray:
    base = channel.column.base or "absolute"
    if base == "absolute":
        return channel.values
    return ATMOSPHERE + (channel.values if base == "over ambient" else -channel.values)


def _curves(log: LogFile, *reads: str) -> Iterator[tuple[str, np.ndarray]]:
    """Name of each column of a kind and what it reads, absolute [Pa] or force [N]."""
    for channel in log.reading(*reads):
        values = channel.values if channel.reads == "clamp force" else _absolute(channel)
        if channel.reads == "ram pressure" and channel.column.ram_area is not None:
            values = (values - ATMOSPHERE) * channel.column.ram_area.value
        yield channel.name, values


def lowest_at(log: LogFile, reads: str, row: int) -> list[str]:
    """Which columns of a kind read least in a row."""
    read = {name: float(values[row]) for name, values in _curves(log, reads)}
    least = min((value for value in read.values() if math.isfinite(value)), default=math.inf)
    return [name for name, value in read.items() if value == least]


def _least(log: LogFile, *reads: str) -> tuple[Trace | None, str]:
    """The least that columns of a kind read, absolute [Pa] or force [N], and which is least most often."""
    curves = dict(_curves(log, *reads))
    if not curves:
        return None, ""
    lowest = np.min([*curves.values()], axis=0)  # a missing one may be the lowest: then none is known
    return known(log, lowest), max(curves, key=lambda name: int(np.sum(curves[name] == lowest)))


def pressing_along(log: LogFile, part: Part, zone: str) -> Pressing:
    """What presses on a zone, from the log's gauges."""
    pressing = Pressing(needed=need.value if (need := needed_of(part, zone)) else None)
    pressing.gas, _ = _least(log, "cavity pressure")
    if pressing.gas is None and part.tool is not None and part.tool.evacuated:
        pressing.gas = steady(log.seconds, 0.0)
    if log.reading("resin pressure"):
        pressing.absolute, pressing.channel = _least(log, "resin pressure")
        return pressing
    kind, area, (force, channel) = kind_of(part, zone), area_of(part), force_of(log)
    if kind == "bladder":
        bladder, pressing.channel = _least(log, "bladder pressure")
        if bladder is None:
            pressing.why.append("no bladder pressure is logged")
            pressing.not_measured.append("bladder pressure")
            return pressing
        pressing.applied = Trace(bladder.seconds, bladder.values - ATMOSPHERE, bladder.longest)
    elif kind == "press":
        if force is None or area is None or pressing.needed is None:
            needs = "clamp force, projected_area of each zone, and pressed_at"
            pressing.why.append(f"a closing press needs {needs}")
            return pressing
        pressing.applied = Trace(force.seconds, force.values / area, force.longest)
        pressing.channel, pressing.area = channel, area
    elif kind == "rubber":
        pressing.rubber = True
        return pressing
    else:
        pressing.why.append(ON_ITS_STOPS)
        pressing.not_measured.append("resin pressure")
        if force is not None:
            pressing.earliest, pressing.channel = force, channel
        return pressing
    return pressing


def vapor_pressure(temperature: np.ndarray) -> np.ndarray:
    """Saturation pressure of water, the temperature held inside its range [Pa]."""
    return np.asarray(water_vapor_pressure(temperature=np.clip(temperature, 273.16, 640.0)))


def far_above(part: Part, zone: str, most: float, force: float | None = None) -> Iterator[str]:
    """That the highest pressure of a zone in a cycle, over ambient [Pa], contradicts what the part states.

    force: the largest of the clamp in the log [N], None where none is logged.
    """
    bladder, what, limit = part.zone[zone].bladder, "the clamp_force of [tool]", 0.0
    clamp, area = getattr(part.tool, "clamp_force", None), area_of(part)
    above = FAR_ABOVE * (1.0 - ROUNDING)
    if bladder is not None:
        what = f"the pressure of [bladder.{bladder}]"
        limit = above * part.bladder[bladder].pressure.value
    elif force is not None and area is not None:
        what, limit = "the clamp force that is logged beside it", above * force / area
    elif clamp is not None and area is not None:
        limit = above * clamp.value / area
    if most > limit > 0.0:
        yield f"the cycle has far more than {what}: check the unit of both"


def too_high(part: Part, zone: str, most: float) -> Iterator[str]:
    """What the highest pressure of a zone in a log, over ambient [Pa], contradicts."""
    limit, clamp = (getattr(part.tool, key, None) for key in ("pressure_limit", "clamp_force"))
    closed = kind_of(part, zone) == "press" or part.zone[zone].gap is not None
    area = None if closed else area_of(part)  # what closes it opens nothing
    if limit is not None and most > limit.value:
        yield "the log reads more than the pressure_limit of the tool: check its unit; the tool can break"
    if clamp is not None and area is not None and most * area > clamp.value:
        yield "the log reads more than the clamp holds shut: check its unit; the press may open before gel"


def steady(seconds: np.ndarray, pressure: float) -> Trace:
    """One pressure of gas [Pa]: none in an evacuated tool without another, where water boils the earliest."""
    return Trace(seconds[[0, -1]], np.full(2, pressure), np.inf)


def needs_of(part: Part, zone: str) -> list[SIValue]:
    """What a laminate needs over ambient to close up, the larger first: pressed_at, and what is wanted."""
    stated, wanted = part.zone[zone].pressed_at, wanted_pressure(part, zone)
    needs = [] if stated is None else [stated, *([wanted] if wanted is not None else [])]
    return sorted(needs, key=lambda need: need.value, reverse=True)


def needed_of(part: Part, zone: str) -> SIValue | None:
    """The larger of what a laminate needs over ambient to close up, None where no pressed_at is stated."""
    return next(iter(needs_of(part, zone)), None)


def kind_of(part: Part, zone: str) -> str:
    """What presses a zone: bladder, rubber, stops (matched tool, hard core), or press."""
    from laminate.press.material import acts_as_rubber

    place = part.zone[zone]
    if place.bladder is not None:
        return "bladder"
    cores = [part.core[place.core]] if place.core is not None else []
    if place.room is not None:
        cores = [core for core in part.core.values() if core.room == place.room]
    if any(acts_as_rubber(core) for core in cores):
        return "rubber"
    return "press" if place.gap is None and not cores else "stops"


def force_of(log: LogFile) -> tuple[Trace | None, str]:
    """Clamp force along a log [N], None where none is logged, and the name of its column."""
    return _least(log, "clamp force", "ram pressure")


def areas_of(part: Part) -> list[SIValue] | None:
    """All projected areas that carry, of every zone and of the cores [m2]; None where one is not stated."""
    every = [zone.projected_area for zone in part.zone.values()]
    every += [core.projected_area for core in part.core.values()]
    areas = [area for area in every if area is not None]
    return areas if len(areas) == len(every) else None


def area_of(part: Part) -> float | None:
    """The sum of all of them [m2]."""
    areas = areas_of(part)
    return None if areas is None else float(sum(area.value for area in areas))
