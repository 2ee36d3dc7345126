"""The pressure of a core along a log: its curves drive the core by conduction, the press state presses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME, LATE, VAPOR, NotComputed
from laminate.curing.core_heat import (
    CoreFit,
    Grown,
    clamp_limit,
    given_core,
    heated,
    highest_locked,
    pressure_along,
    widest_gap,
)
from laminate.curing.fiber_bed_load import LaidUp, laid_up
from laminate.curing.heat_doubts import heat_doubts
from laminate.curing.heat_stack import (
    INSIDE,
    OUTSIDE,
    PLATEN,
    TOOL,
    between_cores,
    core_behind,
    lacking,
    stack_of,
)
from laminate.curing.pressing import AsLaidUp, CoreCurves, force_of
from laminate.curing.time_grid import time_grid
from laminate.curing.view import room_of
from laminate.curing.without_spread import not_stated

SWAPPED = 5.0
"""A sensor in a core may read this much beyond what conduction gives [K]; no source."""

HELD = 3.0
"""So near to its highest a laminate is held at its temperature [K]."""

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from laminate.curing.draws import Columns
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Thermometers
    from laminate.files.batch import Case
    from laminate.files.log_file import Channel, LogFile
    from laminate.press.rooms import Room


def core_pressing(
    pressing: Pressing, case: Case, file: LogFile, zone: str, thermometers: Thermometers, columns: Columns
) -> None:
    """Add to what presses on a zone the pressure of its core; raises `NotComputed`.

    Least: the coldest sensor drives laminate and core, all bleeds that can unless bleed is stated. Most: the
    hottest sensor touches the core, nothing bleeds unless it is stated. A sensor in the core tells where it
    lies, not the mean: it is held against what conduction gives.
    """
    laid = laid_up(case.part, zone, case.batch.batch.plies, case.ingredients(), columns)
    room = laid.press.room_of(zone)
    assert room is not None  # a zone against a core lies in a room
    log = _Log(case, file, thermometers, laid, room, columns)
    grid = log.grid
    if missing := log.missing():
        pressing.not_measured.append("resin pressure")
        raise NotComputed("; ".join(missing))
    curves: list[np.ndarray] = []
    grown: list[dict[str, Grown]] = []
    for most in (False, True):
        cores = log.cores(most=most)
        tool = log.along(log.tool(most=most)) + log.error
        pressure = pressure_along(laid, room, cores, tool, laid.bled(room, most=not most))
        assert pressure is not None  # a bulk modulus was asked for before
        curves.append(pressure)
        grown.append(cores)
    least, most_of_all = np.minimum(*curves), np.maximum(*curves)
    pressing.doubts += log.contradicted(*grown)
    pressing.doubt(heat_doubts(case.part, room, laid))
    means = {name: core.mean[:, 0] for name, core in grown[0].items()}
    locked = highest_locked(laid, room, grown[1], log.along(log.tool(most=True)))
    pressing.laid_up = AsLaidUp(grid, widest_gap(grown[0]), locked)
    pressing.take(CoreCurves(grid, least, most_of_all, means, columns))
    pressing.channel = "core"
    logged, _ = force_of(file)
    force = None if logged is None else np.maximum(logged.at(grid), 0.0)[:, None]
    pressing.limit = clamp_limit(laid, room.name, force, (len(grid), columns.width))
    pressing.not_measured += [*laid.press.inputs.not_measured(cycle=True), *laid.one_modulus(room)]
    pressing.not_measured += not_stated(columns)


@dataclass
class _Log:
    """What the cores of a room do along a log.

    every, others: readings of the laminate's sensors (sensors, rows) [K], and what reads platen or tool;
    inside: cores whose temperature a cycle of the part gives, as they are heated from inside; error: of the
    sensors in every column [K].
    """

    case: Case
    file: LogFile
    thermometers: Thermometers
    laid: LaidUp
    room: Room
    columns: Columns

    def __post_init__(self) -> None:
        self.every = np.array([sensor.temperature for sensor in self.thermometers.sensors])
        self.others = self.file.reading("platen", "tool")
        self.between = between_cores(self.room, self.laid.zone)
        self.inside = {core for cycle in self.case.part.cycle.values() for core in cycle.core}
        self.grid = time_grid(self.file.seconds, self.every.max(axis=0), float(self.every[:, 0].min()))
        self.u = max(sensor.u for sensor in self.thermometers.sensors)
        noise = self.u * self.columns.random.standard_normal(self.columns.draws)
        self.error = np.concatenate([[0.0], noise])

    @property
    def outermost(self) -> str:
        """What has its temperature given."""
        if self.thermometers.own:
            return OUTSIDE
        named = {sensor.name for sensor in self.thermometers.sensors}
        return PLATEN if any(channel.name in named for channel in self.file.reading("platen")) else TOOL

    @property
    def core_sensor(self) -> Channel | None:
        """The first sensor in a core that reads."""
        cores = self.file.reading("core")
        return next((channel for channel in cores if np.isfinite(channel.values).sum() > 1), None)

    def missing(self) -> list[str]:
        """What to write before the pressure can be computed."""
        room, laid = self.room, self.laid
        counts = laid.press.counts(laid.plies)
        missing = [f"plies of {zone} in [batch]" for zone in room.zones if zone not in counts]
        cores = tuple(core.name for core in room.cores)
        missing += laid.uncomputed(room)
        missing += [f"readings of {c.name}" for c in self.others if not np.isfinite(c.values).any()]
        inside = [core for core in cores if core in self.inside]
        if inside and self.core_sensor is None:
            missing.append(f"a column that reads core: {inside[0]} is heated from inside")
        if self.between and not self.thermometers.own:
            missing.append(f"a laminate sensor in zone {laid.zone}, which lies between cores")
        outside = tuple(core for core in cores if core not in self.inside)
        words = lacking(self.case.part, outside, self.outermost)
        return missing + [f"{word} in the part file" for word in words]

    def around(self, *, most: bool) -> np.ndarray:
        """All that is beside the core at every row (sensors, rows) [K].

        A missing reading may be the hottest, or the coldest, of the log.
        """
        side = np.nanmin if most else np.nanmax  # a hot tool leaves a core more room: the least pressure
        others = [np.where(np.isfinite(o.values), o.values, float(side(o.values))) for o in self.others]
        return np.array([*self.every, *others])

    def tool(self, *, most: bool) -> np.ndarray:
        """The tool at every row [K]; a hot one leaves the core more room."""
        around = self.around(most=most)
        if not self.others and not most:
            return np.full(around.shape[1], float(around.max()))
        return np.asarray(around.min(axis=0) if most else around.max(axis=0))

    def cores(self, *, most: bool) -> dict[str, Grown]:
        """What each core does with what is unknown taken to one side."""
        part, grid, tool = self.case.part, self.grid, self.tool(most=most)
        outermost = INSIDE if most and self.thermometers.own else self.outermost
        grown_cores: dict[str, Grown] = {}
        for shape in self.room.cores:
            behind = core_behind(part, self.room, shape, self.laid, self.columns)
            if self.between and most:
                behind = replace(behind, half=behind.half / 2.0)
            core_fit = CoreFit(self.laid, self.room, shape, behind)
            if shape.name in self.inside:
                sensor = self.core_sensor
                assert sensor is not None  # asked before
                mean = self.along(sensor.values) + self.error
                grown_cores[shape.name] = given_core(core_fit, self.along(tool), mean)
                continue
            hottest = self.around(most=True).max(axis=0) if self.between else self.every.max(axis=0)
            drive = hottest if most else self.every.min(axis=0)
            start = float(drive[0]) if most else min(float(drive[0]), room_of(part))
            stack = stack_of(part, self.laid.thickness, behind, outermost, self.columns)
            around = None if stack.tool is not None else self._face(tool, exact=True)
            core = heated(stack, grid, self._face(drive), start, around, core_fit).core
            assert core is not None
            grown_cores[shape.name] = core
        return grown_cores

    def _face(self, values: np.ndarray, *, exact: bool = False) -> Callable[[float], np.ndarray]:
        error = 0.0 if exact else self.error
        return lambda t: np.asarray(float(np.interp(t, self.file.seconds, values)) + error)

    def along(self, values: np.ndarray) -> np.ndarray:
        """Readings along the grid (times, 1) [K]."""
        there = np.isfinite(values)
        return np.asarray(np.interp(self.grid, self.file.seconds[there], values[there]))[:, None]

    def contradicted(
        self, least: Mapping[str, Grown], most: Mapping[str, Grown]
    ) -> list[tuple[str, tuple[str, ...]]]:
        """Sensors of a core that read what conduction cannot give in it, until the laminate cools."""
        contradictions: list[tuple[str, tuple[str, ...]]] = []
        hottest = self.every.max(axis=0)
        hot_until = self.file.seconds[np.flatnonzero(hottest > hottest.max() - HELD)[-1]]
        beside = self.along(self.around(most=True).max(axis=0))[:, 0]
        for sensor in self.file.reading("core"):
            there = np.isfinite(sensor.values)
            if there.sum() < 2:
                continue
            near = self.u + SWAPPED
            reads = self.along(sensor.values)[:, 0]
            rows = (self.grid <= hot_until) & (self.grid >= self.file.seconds[there][0])
            rows &= self.grid <= self.file.seconds[there][-1]
            for name, grown in least.items():
                if name in self.inside:
                    continue
                high = np.maximum(most[name].hottest.max(axis=1), beside) + near
                low = grown.coldest.min(axis=1) - near
                words = f"{sensor.name} reads {{}} than heat conduction can make core {name}"
                if np.any(rows & (reads < low)):
                    contradictions.append((words.format("colder"), (IN_TIME,)))
                if np.any(rows & (reads > high)):
                    contradictions.append((words.format("hotter"), (IN_TIME, LATE, VAPOR)))
        return contradictions
