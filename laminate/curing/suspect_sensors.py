"""Thermocouples of the laminate that read what no laminate does: far below a platen at rest, and still.

One that came loose, or has stopped, makes gel look late. A laminate that is thick, or lags behind a tool, is
far below a platen at rest too, but it closes on it: here only what does not is doubted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME
from laminate.curing.pressing import known
from laminate.curing.verdict import holding
from laminate.curing.view import gels_at
from laminate.formulas.gel_clock import clock
from laminate.values.quantities import KELVIN
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.curing.scenario import Outcomes
    from laminate.curing.thermometers import Sensor
    from laminate.curing.view import LogView, View

FAR = 8.0
"""So far below all of platen and tool a laminate at rest is doubted [K]; no source."""
STOPPED = 5.0
"""The same where it stood still before they came to rest [K]; no source."""
STILL_RISE = 2.0
"""So much they rise after a sensor has stopped [K]; one that lags cannot be at its rest before them."""
FLICKER = 0.5
"""Within so much a sensor that has stopped stays [K]; no source."""
AT_REST = 2.0
"""Within so much a platen at rest stays [K]; no source."""
REST, BINS = 900.0, 6
"""A rest [s], a quarter of the laminate's lag or longer, and in how many means it is seen; no source."""
CLOSES = 0.05
"""A laminate that lags closes more of its distance in a rest: in the shortest this is a lag of five hours.

100 mm of laminate heated from one side lag three, 4 L2/(pi2 kappa).
"""
DIFFUSIVITY = 3.75e-7
"""Across a laminate, kappa [m2/s]: k 0.6 W/m/K, rho c 1.6e6 J/m3/K (orders, from memory)."""
WARM = 333.15


def suspect_sensors(view: LogView) -> dict[str, Said]:
    """What is doubted of the laminate's own sensors, by name; a platen not read rests at the hotter end."""
    traces = [known(view.file, channel.values) for channel in view.file.reading("platen", "tool")]
    others = [trace for trace in traces if trace is not None]
    if not view.thermometers.own or not others:
        return {}
    lag = 4.0 * (view.thickness or 0.0) ** 2 / (np.pi**2 * DIFFUSIVITY)
    edges = np.arange(float(view.seconds[0]), float(view.seconds[-1]) + 1e-6, max(REST, lag / 4.0) / BINS)
    coldest = np.min([trace.bound(view.seconds, least=False) for trace in others], axis=0)
    by_name = {}
    for sensor in view.sensors if len(edges) > BINS else ():
        below = _still_below(view, sensor, edges, coldest)
        if below:
            words = " below every platen and tool sensor at rest: it may be loose, or have stopped"
            by_name[sensor.name] = Said(f"{sensor.name} stays ", Figure(below, KELVIN, digits=3), words)
    return by_name


def _means(seconds: np.ndarray, values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Means of a curve between edges [K]."""
    grid = np.union1d(seconds, edges)
    areas = clock(times=grid, rates=np.interp(grid, seconds, values), start=0.0)
    return np.asarray(np.diff(np.interp(edges, grid, areas)) / np.diff(edges))


def _still_below(view: LogView, sensor: Sensor, edges: np.ndarray, coldest: np.ndarray) -> float:
    """How far a sensor stays below others at rest without closing on them [K], 0 where it does not.

    edges: of bins, `BINS` of them a rest [s]; coldest: of platen and tool at every row [K].
    """
    read, others = (_means(view.seconds, curve, edges) for curve in (sensor.temperature, coldest))
    curve = view.seconds, sensor.temperature
    gel = min(gels_at(view, curve, charge) for charge in view.contents.charges)
    below_at_gel = float(np.interp(gel, view.seconds, coldest - sensor.temperature))
    farthest = 0.0
    for start in range(len(read) - BINS + 1):
        rest = slice(start, start + BINS)
        below = others[rest] - read[rest]
        moved = float(read[: start + BINS].max() - read[0])
        if np.ptp(others[rest]) > AT_REST or others[rest].min() < WARM or moved < FAR:
            continue
        rise = (read[rest][-2:].mean() - read[rest][:2].mean()) * BINS / (BINS - 2)
        if rise > CLOSES * below.mean():
            continue
        risen = others[rest].mean() - _when_it_stopped(view, sensor, edges[start], read[rest].mean(), coldest)
        least = sensor.u + (STOPPED if risen > STILL_RISE else FAR)
        soon = edges[start] <= gel or (edges[start] - gel <= edges[BINS] - edges[0] and below_at_gel > least)
        if below.min() > least and soon:
            farthest = max(farthest, float(below.mean()))
    return farthest


def _when_it_stopped(view: LogView, sensor: Sensor, start: float, level: float, coldest: np.ndarray) -> float:
    """What the coldest of platen and tool read when a sensor came to the level at which it rests [K]."""
    row = int(np.searchsorted(view.seconds, start))
    apart = np.flatnonzero(np.abs(sensor.temperature[: row + 1] - level) > FLICKER)
    return float(coldest[min(int(apart[-1]) + 1 if apart.size else 0, row)])


def check_without_suspects(view: View, outcomes: Outcomes) -> None:
    """Keep 'pressed in time' back where it does not hold with the hottest of all in place of the doubted.

    Nor where readings are so far apart that it does not hold with all that may have been between them.
    """
    apart = view.read.apart
    if not view.thermometers.suspects and not apart:
        return
    late, few, _ = holding(outcomes.best.pressed, view)
    both, _, many = holding(outcomes.worst.both, view)
    for words in view.thermometers.suspects.values():
        if both > many:
            view.notes.warnings.append(Said(words, "; with the hottest sensor it is pressed in time too"))
        elif late >= few:
            view.objections.add(words, IN_TIME)
    if apart and view.pressing.cores is not None:
        view.objections.add(apart)  # nor is it known what heats the core
    elif apart and late >= few and both <= many:
        view.objections.add(apart, IN_TIME)
