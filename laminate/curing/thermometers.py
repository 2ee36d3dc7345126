"""The laminate's temperature along a log: each sensor with its error, and what stands in for a lost one."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.pressing import Trace, known
from laminate.files.batch import Instrument
from laminate.values.units import Spread

if TYPE_CHECKING:
    from laminate.curing.draws import Columns
    from laminate.files.log_file import Channel, LogFile
    from laminate.values.said import Said

THERMOCOUPLE = Spread(2.5 / math.sqrt(3.0), shape="rectangular")
"""Of an ordinary thermocouple, ± 2.5 K: class 2 of IEC 60584, -40 to 333 degC (second-hand)."""
GAUGE = Spread(0.025 / math.sqrt(3.0), relative=True, shape="rectangular")
"""Of an ordinary gauge of pressure or force, ± 2.5 % of the reading (common practice, no source)."""
ORDINARY_WORDS = {True: "± 2.5 K (tolerance)", False: "± 2.5 % (tolerance)"}

AT_THE_EDGE = 3.0
"""Half-width of what a thermocouple at the edge may be off by [K]; no source."""


@dataclass
class Sensor:
    """A laminate sensor: its readings at every row [K], how its error is made, and whether readings lack.

    u: standard uncertainty of its error [K].
    """

    name: str
    temperature: np.ndarray
    known: Trace
    instrument: str
    edge: bool
    u: float
    lacks: bool = False


@dataclass
class Thermometers:
    """All that tells the laminate's temperature.

    sensors: of the laminate, or those that stand in; own: whether they read the laminate; bound: hottest of
    everything else at every row [K], None where there is nothing else; lost: laminate sensors that are gone;
    doubted: what is doubted of those that are there, by name.
    """

    sensors: list[Sensor]
    own: bool
    bound: np.ndarray | None
    lost: list[str] = field(default_factory=list)
    doubted: dict[str, Said] = field(default_factory=dict)

    def hottest(self) -> np.ndarray:
        """The hottest sensor at every row [K]."""
        return np.asarray(np.max([sensor.temperature for sensor in self.sensors], axis=0))

    def worst(self, seconds: np.ndarray) -> list[tuple[np.ndarray, Sensor]]:
        """Curves for the soonest gel; the hottest of everything else stands in for what is lost or doubted.

        seconds: of every row [s].
        """
        curves = []
        for sensor in self.sensors:
            curve = sensor.temperature
            if sensor.lacks and self.bound is not None:
                there = sensor.known.known(seconds)
                curve = np.where(there, curve, np.maximum(curve, self.bound))
            if sensor.name in self.doubted and self.bound is not None:
                curve = np.maximum(curve, self.bound)
            curves.append((curve, sensor))
        if self.lost and self.bound is not None:
            curves.append((np.maximum(self.bound, self.hottest()), self.sensors[0]))
        return curves


def thermometers(log: LogFile, gone: list[str], instruments: dict[str, Instrument]) -> Thermometers | None:
    """The laminate's sensors of a log, else those of platen or tool; None where nothing is left."""
    lost = [channel.name for channel in log.reading("laminate") if channel.name in gone]
    of_laminate, others = (
        _sensors(log, [c for c in log.reading(*reads) if c.name not in gone], instruments)
        for reads in (("laminate",), ("platen", "tool"))
    )
    every = [*of_laminate, *others]
    if not every:
        return None
    bound = np.max([row.temperature for row in every], axis=0) if others else None
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
        spreads = [gauge.calibration, gauge.repeatability]
        uncertainties = [spread.u for spread in spreads if spread is not None]
        u = math.hypot(*uncertainties, AT_THE_EDGE / math.sqrt(3.0) if edge else 0.0)
        lacks = not bool(np.all(there.known(log.seconds)))
        sensors.append(Sensor(channel.name, there.at(log.seconds), there, name, edge, u, lacks))
    return sensors


def errors(
    sensors: list[Sensor], instruments: dict[str, Instrument], columns: Columns
) -> dict[str, np.ndarray]:
    """Draws of the error of each sensor [K]: the calibration is one for all sensors of an instrument.

    The repeatability is a sensor's own, and taken to hold along the whole log.
    """
    inputs = columns.inputs
    shared: dict[str, np.ndarray] = {}
    error_by_name: dict[str, np.ndarray] = {}
    for sensor in sensors:
        gauge = ordinary(instruments.get(sensor.instrument), THERMOCOUPLE)
        if sensor.instrument not in shared:
            spread = gauge.calibration
            shared[sensor.instrument] = columns.error(spread)
            if spread is not None:
                inputs[f"calibration of {sensor.instrument}"] = shared[sensor.instrument]
        error = shared[sensor.instrument]
        if gauge.repeatability is not None:
            inputs[f"repeatability of {sensor.name}"] = columns.error(gauge.repeatability)
            error = error + inputs[f"repeatability of {sensor.name}"]
        if sensor.edge:
            place = AT_THE_EDGE * columns.random.uniform(-1.0, 1.0, columns.draws)
            inputs[f"place of {sensor.name}"] = place
            error = error + place
        error_by_name[sensor.name] = error
    return error_by_name
