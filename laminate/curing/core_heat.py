"""Cores along a cycle: heat into them, across a gap until they touch, their growth and their pressure.

Growth is the mean over the core of the local one, ``<(1 + a dT)^3>``: arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.curing.heat_stack import Stack
from laminate.files.press_checks import DIRECTIONS
from laminate.formulas.conduction import conduct, gap_conductance
from laminate.press.names import FORCE, PRESSURE_LIMIT
from laminate.press.state import State
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from laminate.curing.fiber_bed_load import LaidUp
    from laminate.curing.heat_stack import CoreBehind
    from laminate.press.rooms import CoreShape, Room

    Face = Callable[[float], np.ndarray]


NO_ROOM = 1e12
"""Where laminates leave a core no room at all, its pressure is this, in place of infinity [Pa]."""


@dataclass(frozen=True)
class Grown:
    """A core along a cycle, every array (times, columns).

    cube: volume over the cold one; mean, coldest, hottest: temperature [K]; gap: open width toward the
    laminate as laid up [m], 0 or less once it touches.
    """

    cube: np.ndarray
    mean: np.ndarray
    gap: np.ndarray
    coldest: np.ndarray
    hottest: np.ndarray


@dataclass(frozen=True)
class Heated:
    """Temperatures along a cycle: of the tool's mean (times, columns), and of the laminate's cells [K].

    laminate: (times, cells, columns), from the tool inward; core: what the core does, None without one.
    """

    tool: np.ndarray
    laminate: np.ndarray
    core: Grown | None


class CoreFit:
    """How a core lies in its room with laminates as laid up: the open gap at any temperature."""

    def __init__(self, laid: LaidUp, room: Room, shape: CoreShape, behind: CoreBehind) -> None:
        self.laid, self.room, self.shape, self.behind = laid, room, shape, behind
        self.conditions = laid.press.at(laid.x)
        self.thick = {zone: laid.layups[zone].laid_up for zone in room.zones}

    def growth(self, temperature: Any) -> Any:
        """Hot over cold size of the core at a temperature [K]."""
        return self.conditions.core_growth_at(self.shape.name, temperature)

    def gap(self, tool: Any, mean: Any) -> Any:
        """Open width toward each laminate as laid up, tool and core at these temperatures [m]."""
        x, room, growth = self.laid.x, self.room, self.conditions.growth_at(tool)
        what = self.behind.direction
        grown = {core.name: self.conditions.core_growth_at(core.name, mean) for core in room.cores}
        cores = sum(self.conditions.cold_volume(room, core) * grown[core.name] ** 3 for core in room.cores)
        filled = (room.left(self.thick, growth, x) - cores) / self._area(x)
        if not what:
            return filled
        side = "round" if what == "diameter" else what
        cores = sum(room.core_size(core, what, x) * grown[core.name] for core in room.cores)
        across = (room.size(what, x) * growth - room.across(side, self.thick, x) - cores) / 2.0
        # a core that is held on its other sides bulges toward the laminate before it is so wide
        return np.minimum(across, filled)

    def _area(self, x: Any) -> Any:
        """Cold area of the laminates of the room [m2]."""
        room = self.room
        if room.kind == "volume":
            return sum(side.cover(x) for side in room.sides)
        sizes = {what: room.size(what, x) for what in (*DIRECTIONS, *room.sizes)}
        around = np.pi * sizes["diameter"] if "diameter" in sizes else 0.0
        faces = {
            "width": sizes["height"] * sizes["length"],
            "height": sizes["width"] * sizes["length"],
            "length": sizes["width"] * sizes["height"],
            "round": around * sizes["length"],
        }
        faces["all"] = faces["width"] + faces["height"]
        # of a round room the laminate counts once around, of a box each wall
        return sum((1.0 if side.side == "round" else side.cover(x)) * faces[side.side] for side in room.sides)


def heated(
    stack: Stack, seconds: np.ndarray, face: Face, start: Any, tool: Face | None, core_fit: CoreFit | None
) -> Heated:
    """Heat through a stack at given times.

    face: temperature of what is outermost, at a time [K]; start: of everything at the first time [K]; tool:
    mean of the tool where it is not in the stack; core_fit: of the core, None without one.
    """
    net, columns = stack.net, np.shape(face(float(seconds[0])))
    begin = np.empty((len(net.capacity), *columns))
    begin[:] = start
    core = stack.core if core_fit is not None else None
    if core is not None:
        weights = net.volume[core] / net.volume[core].sum(axis=0)
    closed = net.inner

    def tool_at(t: float, now: np.ndarray) -> Any:
        if stack.tool is not None:
            return now[stack.tool].mean(axis=0)
        return face(t) if tool is None else tool(t)

    def links(t: float, now: np.ndarray) -> np.ndarray:
        if core_fit is None or core is None:
            return closed
        mean = (_rows(weights, now) * now[core]).sum(axis=0)
        gap = np.maximum(core_fit.gap(tool_at(t, now), mean), 0.0)
        now_open = gap_conductance(contact=np.inf, gap=gap)
        heated = np.array(np.broadcast_to(_rows(closed, now), (len(closed), *now.shape[1:])))
        heated[core.start - 1] = 1.0 / (1.0 / heated[core.start - 1] + 1.0 / now_open)
        return heated

    wide = net._replace(capacity=_rows(net.capacity, begin), inner=_rows(net.inner, begin))
    cells = conduct(net=wide, start=begin, times=seconds, face=face, inner=links)
    each_tool = [tool_at(float(t), now) for t, now in zip(seconds, cells, strict=True)]
    of_tool = np.array(each_tool).reshape(len(seconds), -1)
    grown = None
    if core_fit is not None and core is not None:
        inside = cells[:, core]
        mean = (_rows(weights, begin) * inside).sum(axis=1)
        cube = (_rows(weights, begin) * core_fit.growth(inside) ** 3).sum(axis=1)
        grown = Grown(cube, mean, core_fit.gap(of_tool, mean), inside.min(axis=1), inside.max(axis=1))
    return Heated(of_tool, cells[:, stack.laminate], grown)


def _rows(values: np.ndarray, like: np.ndarray) -> np.ndarray:
    """One column of values beside many, or as it is."""
    return values if values.ndim == like.ndim else values.reshape(values.shape + (1,) * (like.ndim - 1))


def given_core(core_fit: CoreFit, tool: np.ndarray, mean: np.ndarray) -> Grown:
    """A core whose mean temperature is given along the cycle (times, columns) [K]."""
    return Grown(core_fit.growth(mean) ** 3, mean, core_fit.gap(tool, mean), mean, mean)


def pressure_along(
    laid: LaidUp, room: Room, cores: Mapping[str, Grown], tool: np.ndarray, thick: Mapping[str, Any]
) -> np.ndarray | None:
    """Pressure of a room along a cycle, above ambient (times, columns) [Pa]; None without bulk moduli.

    thick: laminates by zone, hot [m]. Below 0 while the room is not full: the bulk modulus times what is
    lacking, so that straight lines between two times find when it is. The bulk modulus is that at the mean
    temperature of each core.
    """
    x = {**laid.x, **laid.moduli_at({name: core.mean for name, core in cores.items()})}
    conditions = laid.press.at(x)
    free = [conditions.cold_volume(room, core) * cores[core.name].cube for core in room.cores]
    left = room.left(thick, conditions.growth_at(tool), laid.x)
    pressure = conditions.pressure(room, free, left)
    if pressure is None:
        return None
    modulus = x[Key("core", room.cores[0].name, "bulk_modulus")]
    lacking = modulus * (sum(free) / np.where(left > 0.0, left, np.inf) - 1.0)
    full = np.asarray(pressure) > 0.0
    return np.asarray(np.where(full, np.minimum(pressure, NO_ROOM), np.minimum(lacking, 0.0)))


def widest_gap(cores: Mapping[str, Grown]) -> np.ndarray:
    """Largest open width of any core toward a laminate as laid up (times, columns) [m]."""
    return np.asarray(np.maximum.reduce(np.broadcast_arrays(*(core.gap for core in cores.values()))))


def highest_locked(laid: LaidUp, room: Room, cores: Mapping[str, Grown], tool: np.ndarray) -> float | None:
    """Highest pressure of a room whose laminates lock as laid up [Pa], None where it is not known."""
    thick = {zone: laid.layups[zone].locked for zone in room.zones}
    locked = pressure_along(laid, room, cores, tool, thick)
    if locked is None or not np.isfinite(locked[:, 0]).all():
        return None
    return max(float(locked[:, 0].max()), 0.0)


def clamp_limit(laid: LaidUp, room: str, force: Any, shape: tuple[int, int]) -> np.ndarray | None:
    """Pressure of a room at which the tool gives way: clamp, or what its walls hold (times, columns) [Pa].

    force: of the clamp [N], None for that of the part. None where force, projected area or pressure limit is
    not known.
    """

    x = dict(laid.x) if force is None else {**laid.x, FORCE: force}
    state = State(laid.press.at(x), laid.plies, laid=laid.layups)
    clamp, walls = state.clamp_limit(room), x.get(PRESSURE_LIMIT)
    if clamp is None or walls is None:
        return None
    return np.broadcast_to(np.minimum(clamp, walls), shape)
