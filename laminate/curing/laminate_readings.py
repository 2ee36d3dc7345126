"""Cure temperature and peak of the laminate's own sensors, and how long they were above a temperature."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import Known

if TYPE_CHECKING:
    from laminate.curing.thermometers import Sensor
    from laminate.curing.view import View

NEAR_THE_HIGHEST = 3.0


def laminate_readings(view: View) -> dict[str, Known]:
    """Peak, cure temperature and time above, by name of the process reading [SI]."""
    if not view.thermometers.own:
        for key in ("peak temperature", "cure temperature", "time above"):
            view.notes.unknown[key] = "no laminate sensor in the zone"
        return {}
    sensors = view.sensors
    hottest = max(sensors, key=lambda sensor: float(sensor.known.values.max()))
    coldest = min(sensors, key=cure_mean)
    readings = {
        "peak temperature": Known(float(hottest.known.values.max()), hottest.u or None),
        "cure temperature": Known(cure_mean(coldest), coldest.u or None),
    }
    for rule in view.part.limits.rules:
        if rule.process and rule.attribute == "time above" and rule.temperature is not None:
            readings["time above"] = time_above(sensors, rule.temperature.value)
    return readings


def cure_mean(sensor: Sensor, most: float = math.inf) -> float:
    """Time-weighted mean while within 3 K of the highest [K]; most: no reading counts for longer [s]."""
    seconds, values = sensor.known.seconds, sensor.known.values
    near = values >= values.max() - NEAR_THE_HIGHEST
    weights = np.gradient(seconds) if len(seconds) > 1 else np.ones(1)
    return float(np.average(values[near], weights=np.clip(weights[near], 1e-12, most)))


def time_above(sensors: list[Sensor], temperature: float) -> Known:
    """How long the coldest sensor was above a temperature, with what the sensor's error makes of it [s]."""
    durations = []
    for sensor in sensors:
        read, levels = sensor.known, (temperature + shift for shift in (0.0, sensor.u, -sensor.u))
        value, low, high = (above(read.seconds, read.values, level) for level in levels)
        durations.append(Known(value, max(value - low, high - value) or None))
    return min(durations, key=lambda duration: duration.value)


def above(seconds: np.ndarray, values: np.ndarray, level: float) -> float:
    """How long a curve lies above a level, by straight lines [s]."""
    over = values - level
    high, low = np.maximum(over[1:], over[:-1]), np.minimum(over[1:], over[:-1])
    share = np.clip(high, 0.0, None) / np.where((low < 0.0) & (high > 0.0), high - low, np.inf)
    return float(np.sum(np.diff(seconds) * np.where((low >= 0.0) & (high > 0.0), 1.0, share)))
