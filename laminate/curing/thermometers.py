"""The laminate's temperature along a log: each sensor with its error, and what stands in for a lost one."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.pressing import MISSING, Trace, known
from laminate.files.batch import Instrument
from laminate.values.quantities import KELVIN
from laminate.values.said import Figure, Said
from laminate.values.units import Spread

if TYPE_CHECKING:
    from laminate.curing.draws import Columns
    from laminate.files.log_file import Channel, LogFile

THERMOCOUPLE = Spread(2.5 / math.sqrt(3.0), shape="rectangular")
"""Of an ordinary thermocouple, ± 2.5 K: class 2 of IEC 60584, -40 to 333 degC (second-hand)."""
GAUGE = Spread(0.025 / math.sqrt(3.0), relative=True, shape="rectangular")
"""Of an ordinary gauge of pressure or force, ± 2.5 % of the reading (common practice, no source)."""
ORDINARY_WORDS = {True: Said("± ", Figure(2.5, KELVIN), " (tolerance)"), False: "± 2.5 % (tolerance)"}

AT_THE_EDGE = 3.0
"""Half-width of what a thermocouple at the edge may be off by [K]; no source."""
FASTEST = 10.0 / 60.0
"""A laminate that is not read for long may heat or cool so fast, or as it does elsewhere [K/s]; no source."""
INSIDE = np.linspace(0.0, 1.0, 14)[1:-1]
"""Where a curve between two rows is followed, as shares of the time between them."""

Curve = tuple[np.ndarray, np.ndarray]
"""Times [s] and temperatures [K]."""


def speeds(at: np.ndarray, values: np.ndarray, longest: float) -> np.ndarray:
    """How fast a laminate may have moved before the first of its readings, between each two, and after [K/s].

    at, values: of its readings [s], [K]; longest: a few rows [s], in which it moves no faster than elsewhere.
    """
    steps = np.diff(at)
    fastest = float(np.max(np.abs(np.diff(values)) / steps))
    every = np.where(steps > longest, max(FASTEST, fastest), fastest)
    return np.concatenate([[FASTEST], every, [FASTEST]])


@dataclass
class Sensor:
    """A laminate sensor: its readings at every row [K], and how its error is made.

    u: standard uncertainty of its error [K].
    """

    name: str
    temperature: np.ndarray
    known: Trace
    instrument: str
    edge: bool
    u: float

    def hottest(self, seconds: np.ndarray) -> np.ndarray:
        """As hot as it may have been at every row: up from one reading and down to the other [K]."""
        return self._reached(seconds, self.known.values, self.temperature)

    def through_gaps(self, seconds: np.ndarray, bound: np.ndarray | None) -> Curve:
        """As hot as it may have been at and between rows, no hotter than what bounds it at each row [K]."""
        hot = self.hottest(seconds)
        if bound is not None:
            hot = np.minimum(hot, np.maximum(self.temperature, bound))
        wide = np.diff(seconds) > MISSING * self.known.usual
        return self._followed(seconds, hot, wide | self._far(seconds)[1:])

    def coldest(self, seconds: np.ndarray) -> Curve:
        """As cold as it may have been at and between rows where readings are apart, as read elsewhere [K]."""
        far, read = self._far(seconds), -self.temperature
        warm = np.where(far, self._reached(seconds, -self.known.values, read), read)
        times, warm = self._followed(seconds, warm, far[1:])
        return times, -warm

    def _far(self, seconds: np.ndarray) -> np.ndarray:
        """Whether each row lies between two readings that are apart, or is the second of them."""
        at = self.known.seconds
        far = np.concatenate([[False], np.full(len(at) - 1, self.known.apart), [False]])
        return far[np.searchsorted(at, seconds)]

    def _speeds(self) -> np.ndarray:
        """How fast it may have moved before the first reading, between each two, and after [K/s].

        Where they are apart as fast as if it were not read for long, or as it did there and beside.
        """
        at, values = self.known.seconds, self.known.values
        every = speeds(at, values, self.known.longest)
        slopes = np.pad(np.abs(np.diff(values)) / np.diff(at), 1, constant_values=FASTEST)
        near = np.max([slopes[:-2], slopes[1:-1], slopes[2:]], axis=0)
        every[1:-1] = np.where(self.known.apart, np.maximum(near, FASTEST), every[1:-1])
        return every

    def _reached(self, seconds: np.ndarray, values: np.ndarray, straight: np.ndarray) -> np.ndarray:
        """The highest that a reading of these values may have come to at every row, at least on its line."""
        at = self.known.seconds
        after = np.searchsorted(at, seconds)
        speed = self._speeds()[after]
        before, coming = np.maximum(after - 1, 0), np.minimum(after, len(at) - 1)
        up = np.where(after > 0, values[before] + speed * (seconds - at[before]), np.inf)
        down = np.where(after < len(at), values[coming] + speed * (at[coming] - seconds), np.inf)
        return np.asarray(np.maximum(np.minimum(up, down), straight))

    def _followed(self, seconds: np.ndarray, high: np.ndarray, wide: np.ndarray) -> Curve:
        """A curve that is followed up and down between two rows wherever the interval is wide."""
        row = np.flatnonzero(wide)
        start, step, first, last = (
            x[:, None] for x in (seconds[row], np.diff(seconds)[row], high[row], high[row + 1])
        )
        far = step * self._speeds()[np.searchsorted(self.known.seconds, start + step / 2.0)]
        between = np.minimum(first + far * INSIDE, last + far * (1.0 - INSIDE))
        between = np.maximum(between, first + (last - first) * INSIDE)
        times = np.concatenate([seconds, (start + step * INSIDE).ravel()])
        order = np.argsort(times, kind="stable")
        return times[order], np.concatenate([high, between.ravel()])[order]


Followed = list[tuple[Curve, Sensor]]
"""Curves of a laminate, each with the sensor whose error it has."""


@dataclass
class Thermometers:
    """All that tells the laminate's temperature.

    sensors: of the laminate, or those that stand in; own: whether they read the laminate; bound: as hot as
    anything else may have been at every row [K], None where there is nothing else; lost: laminate sensors
    that are gone; suspects: what is doubted of those that are there, by name.
    """

    sensors: list[Sensor]
    own: bool
    bound: np.ndarray | None
    lost: list[str] = field(default_factory=list)
    suspects: dict[str, Said] = field(default_factory=dict)

    def hottest(self) -> np.ndarray:
        """The hottest sensor at every row [K]."""
        return np.asarray(np.max([sensor.temperature for sensor in self.sensors], axis=0))

    def worst(self, seconds: np.ndarray) -> Followed:
        """Curves for the soonest gel; the hottest of everything else stands in for what is lost or doubted.

        seconds: of every row [s].
        """
        curves = []
        for sensor in self.sensors:
            at, warm = sensor.through_gaps(seconds, self.bound)
            if sensor.name in self.suspects and self.bound is not None:
                warm = np.maximum(warm, np.interp(at, seconds, self.bound))
            curves.append(((at, warm), sensor))
        if self.lost and self.bound is not None:
            curves.append(((seconds, np.maximum(self.bound, self.hottest())), self.sensors[0]))
        return curves


def thermometers_of(log: LogFile, gone: list[str], instruments: dict[str, Instrument]) -> Thermometers | None:
    """The laminate's sensors of a log, else those of platen or tool; None where nothing is left."""
    lost = [channel.name for channel in log.reading("laminate") if channel.name in gone]
    of_laminate, others = (
        _sensors(log, [c for c in log.reading(*reads) if c.name not in gone], instruments)
        for reads in (("laminate",), ("platen", "tool"))
    )
    every = [*of_laminate, *others]
    if not every:
        return None
    bound = None
    if others:
        hottest = [row.hottest(log.seconds) for row in others]
        bound = np.max([*(row.temperature for row in every), *hottest], axis=0)
    return Thermometers(of_laminate or others, bool(of_laminate), bound, lost)


def ordinary(gauge: Instrument | None, spread: Spread) -> Instrument:
    """An instrument, with the spread of an ordinary one where its calibration is not stated."""
    gauge = gauge or Instrument()
    return gauge if gauge.calibration is not None else gauge.model_copy(update={"calibration": spread})


def _sensors(log: LogFile, channels: list[Channel], instruments: dict[str, Instrument]) -> list[Sensor]:
    sensors = []
    for channel in channels:
        there = known(log, channel.values)
        if there is None:
            continue
        name = channel.column.instrument or ""
        edge = channel.reads == "laminate" and channel.column.place != "middle"
        gauge = ordinary(instruments.get(name), THERMOCOUPLE)
        uncertainties = [s.u for s in (gauge.calibration, gauge.repeatability) if s is not None]
        u = math.hypot(*uncertainties, AT_THE_EDGE / math.sqrt(3.0) if edge else 0.0)
        sensors.append(Sensor(channel.name, there.at(log.seconds), there, name, edge, u))
    return sensors


def errors(
    sensors: list[Sensor], instruments: dict[str, Instrument], columns: Columns
) -> dict[str, np.ndarray]:
    """Draws of the error of each sensor [K]: the calibration is one for all sensors of an instrument.

    The repeatability is a sensor's own, and taken to hold along the whole log.
    """
    inputs = columns.inputs
    error_by_name: dict[str, np.ndarray] = {}
    for sensor in sensors:
        gauge = ordinary(instruments.get(sensor.instrument), THERMOCOUPLE)
        shared = f"calibration of {sensor.instrument}"
        if shared not in inputs:
            inputs[shared] = columns.error(gauge.calibration)
        error = inputs[shared]
        if gauge.repeatability is not None:
            inputs[f"repeatability of {sensor.name}"] = columns.error(gauge.repeatability)
            error = error + inputs[f"repeatability of {sensor.name}"]
        if sensor.edge:
            place = AT_THE_EDGE * columns.random.uniform(-1.0, 1.0, columns.draws)
            inputs[f"place of {sensor.name}"] = place
            error = error + place
        error_by_name[sensor.name] = error
    return error_by_name
