"""Heat of a planned cycle in a zone: from the platen through tool and laminate into the core."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import NotComputed
from laminate.curing.core_heat import CoreFit, Grown, Heated, given_core, heated
from laminate.curing.fiber_bed_load import LaidUp, laid_up
from laminate.curing.heat_stack import PLATEN, between_cores, core_behind, lacking, stack_of
from laminate.curing.pressing import kind_of
from laminate.curing.straight_lines import each_at
from laminate.curing.time_grid import time_grid
from laminate.curing.view import room_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.draws import Columns
    from laminate.curing.heat_stack import CoreBehind
    from laminate.files.cycle_keys import Cycle
    from laminate.files.part import Part
    from laminate.press.names import Counts
    from laminate.press.rooms import CoreShape, Room
    from laminate.values.units import SIValue


JUST = 1e-3
"""So long before its first point a curve is zero yet [s]."""


@dataclass
class Curve:
    """Straight lines through points, in every column: times [s], values (points, columns)."""

    seconds: np.ndarray
    values: np.ndarray

    def at(self, time: float) -> np.ndarray:
        """The values at a time; the ends go on."""
        return np.asarray(self.along(np.array([time]))[0])

    def along(self, times: np.ndarray) -> np.ndarray:
        """The values at many times (times, columns)."""
        return each_at(self.seconds, self.values, times[:, None], np.arange(self.values.shape[1]))


def curve_of(
    name: str, points: Sequence[tuple[SIValue, SIValue]], columns: Columns, *, from_zero: bool = False
) -> Curve:
    """Points of a part file as a curve; one error moves all of its points.

    from_zero: whether it is zero before its first point, and there steps up.
    """
    seconds = np.array([time.value for time, _ in points])
    values = columns.curve(name, [value for _, value in points])
    if from_zero:
        seconds = np.concatenate([[seconds[0] - JUST], seconds])
        values = np.concatenate([np.zeros((1, columns.width)), values])
    return Curve(seconds, values)


@dataclass
class PlanHeat:
    """Temperatures of a zone along a planned cycle [K], every array (times, ..., columns).

    laminate: (times, places, columns), its face at the tool, then its cells; cores: by name; hottest: why the
    laminate is taken hotter than it may be, '' where it is computed; laid: what lies in the zone; thickness:
    of its laminate [m].
    """

    seconds: np.ndarray
    platen: np.ndarray
    tool: np.ndarray
    laminate: np.ndarray
    laid: LaidUp
    room: Room | None
    thickness: float
    cores: dict[str, Grown] = field(default_factory=dict)
    hottest: str = ""


def heat_of(part: Part, name: str, zone: str, plies: Counts, columns: Columns) -> PlanHeat:
    """Heat of a cycle of a part in a zone; raises `NotComputed`."""
    cycle = part.cycle[name]
    laid = laid_up(part, zone, plies, columns=columns)
    room = laid.press.room_of(zone)
    shapes = room.cores if room is not None else ()
    inside = tuple(shape.name for shape in shapes if shape.name in cycle.core)
    counts = laid.press.counts(laid.plies)
    bare = [z for z in (room.zones if room is not None else ()) if z not in counts]
    missing = [f"plies = 20 in [zone.{z}], or --plies {z}=20" for z in bare]
    missing += lacking(part, tuple(s.name for s in shapes if s.name not in inside), PLATEN)
    if missing:
        raise _to_write("; ".join(missing))
    platen = curve_of(f"platen of {name}", cycle.platen, columns)
    seconds = _times(part, cycle, platen)
    if room is not None and between_cores(room, zone):
        return _between(part, name, laid, room, columns)
    try:
        return _Run(part, cycle, laid, room, columns, platen, seconds).whole(inside)
    except NotComputed as why:
        raise _to_write(str(why)) from why


def _to_write(missing: str) -> NotComputed:
    return NotComputed(f"write in the part file: {missing}")


def _between(part: Part, name: str, laid: LaidUp, room: Room, columns: Columns) -> PlanHeat:
    """Heat of a laminate between cores, which heat reaches through them and along its edges.

    Neither is one direction: the laminate is taken as hot as the platen, which gels it the soonest, and the
    cores as cold as those behind the laminate at the tool, which presses the least.
    """
    outer = next((side.zone for side in room.sides if not between_cores(room, side.zone)), None)
    if outer is None:
        where = f"a zone of room {room.name} at the tool, with walls = 2"
        between = f"zone {laid.zone} lies between cores, and nothing else passes heat into them"
        raise _to_write(f"{where}: {between}")
    beside = heat_of(part, name, outer, laid.plies, columns)
    platen = np.broadcast_to(beside.platen, (len(beside.seconds), columns.width))[:, None]
    thickness = float(np.ravel(laid.thickness)[0])
    hottest = f"zone {laid.zone} lies between cores: it is taken as hot as the platen"
    return replace(
        beside, laid=laid, thickness=thickness, hottest=hottest,
        laminate=np.concatenate([platen, beside.laminate], axis=1),
    )  # fmt: skip


def _with_face(cells: np.ndarray) -> np.ndarray:
    """Cells (times, cells, columns) and before them their face at the tool, which gels first."""
    return np.concatenate([1.5 * cells[:, [0]] - 0.5 * cells[:, [1]], cells], axis=1)


def _times(part: Part, cycle: Cycle, platen: Curve) -> np.ndarray:
    also = [time.value for time, _ in cycle.pressure]
    also += [time - JUST for time in also[:1]]
    also += [time.value for points in cycle.core.values() for time, _ in points]
    if isinstance(cycle.clamp_force, list):
        also += [cycle.clamp_force[0][0].value - JUST, *(time.value for time, _ in cycle.clamp_force)]
    return time_grid(platen.seconds, platen.values[:, 0], room_of(part), also)


@dataclass
class _Run:
    """What the heat of one cycle and zone is computed from."""

    part: Part
    cycle: Cycle
    laid: LaidUp
    room: Room | None
    columns: Columns
    platen: Curve
    seconds: np.ndarray

    def whole(self, inside: tuple[str, ...]) -> PlanHeat:
        """Heat with every core of the room; the first stands for the laminate; inside: those so heated."""
        shapes = self.room.cores if self.room is not None else ()
        stages = [self._with_core(shape, inside) for shape in shapes]
        if not stages:
            stages.append(self._heated(halved=kind_of(self.part, self.laid.zone) != "bladder"))
        cores = {s.name: h.core for s, h in zip(shapes, stages, strict=False) if h.core is not None}
        cells = [_with_face(stages[0].laminate)]
        # a core heated from inside: the laminate may be as hot as the core that it touches
        cells += [cores[name].mean[:, None] for name in inside if name in cores]
        laminate = np.concatenate([np.broadcast_to(c, (*c.shape[:2], self.columns.width)) for c in cells], 1)
        return PlanHeat(
            self.seconds, self.platen.along(self.seconds), stages[0].tool, laminate, self.laid, self.room,
            float(np.ravel(self.laid.thickness)[0]), cores,
            "a core heated from inside: the laminate is taken as hot as the core" if inside else "",
        )  # fmt: skip

    def _with_core(self, shape: CoreShape, inside: tuple[str, ...]) -> Heated:
        assert self.room is not None
        behind = core_behind(self.part, self.room, shape, self.laid, self.columns)
        core_fit = CoreFit(self.laid, self.room, shape, behind)
        if shape.name in inside:
            alone = self._heated()
            given = curve_of(f"temperature of core {shape.name}", self.cycle.core[shape.name], self.columns)
            return replace(alone, core=given_core(core_fit, alone.tool, given.along(self.seconds)))
        return self._heated(behind, core_fit if self.room.rubber else None)

    def _heated(
        self, behind: CoreBehind | None = None, core_fit: CoreFit | None = None, *, halved: bool = False
    ) -> Heated:
        part, thick = self.part, self.laid.thickness
        stack = stack_of(part, thick, behind, PLATEN, self.columns, halved=halved)
        return heated(stack, self.seconds, self.platen.at, room_of(part), None, core_fit)
