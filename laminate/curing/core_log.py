"""The pressure of a core along a log: its curves drive the core by conduction, the press state presses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.curing.bearing import DRAWS, LaidUp, laid_up
from laminate.curing.core_heat import Grown, Seat, clamp_limit, given_core, heated, pressure_along
from laminate.curing.draws import Columns, generator
from laminate.curing.heat_stack import INSIDE, OUTSIDE, PLATEN, TOOL, core_behind, lacking, stack_of
from laminate.curing.pressing import CoreCurves, Trace, force_of
from laminate.curing.time_grid import time_grid
from laminate.curing.view import room_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.curing.heat_stack import CoreBehind
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Thermometers
    from laminate.files.batch import Case
    from laminate.files.log_file import LogFile
    from laminate.press.rooms import Room


def core_pressing(
    presses: Pressing, case: Case, file: LogFile, zone: str, heat: Thermometers, seed: int
) -> None:
    """Add to what presses on a zone the pressure of its core, or why it is not known.

    Least: the coldest sensor drives laminate and core, all bleeds that can unless bleed is stated. Most: the
    hottest sensor touches the core, nothing bleeds unless it is stated.
    """
    part = case.part
    columns = Columns(generator(seed), DRAWS)
    laid = laid_up(part, zone, case.batch.batch.plies, case.ingredients(), columns)
    if isinstance(laid, str):
        presses.why.append(f"the core's pressure is not known: {laid}")
        return
    room = laid.press.room_of(zone)
    assert room is not None  # a zone against a core lies in a room
    missing = _missing(case, file, room, heat, laid)
    if missing:
        presses.why.append("the core's pressure is not known: " + "; ".join(missing))
        presses.not_measured.append("resin pressure")
        return
    every = np.array([one.temperature for one in heat.sensors])
    grid = time_grid(file.seconds, every.max(axis=0), float(every[:, 0].min()))
    curves = [_curve(laid, room, case, file, heat, columns, grid, most=most) for most in (False, True)]
    if isinstance(curves[0], str) or isinstance(curves[1], str):
        presses.why.append(f"the core's pressure is not known: {curves[0]}")
        return
    least, most = np.minimum(curves[0], curves[1]), np.maximum(curves[0], curves[1])
    presses.cores = CoreCurves(grid, least, most)
    presses.applied = Trace(grid, least[:, 0], np.inf)
    presses.channel = "core"
    presses.limit = _limit(file, laid, room, grid)
    presses.not_measured += laid.press.inputs.not_measured()


def _outermost(heat: Thermometers, file: LogFile) -> str:
    if heat.own:
        return OUTSIDE
    named = {one.name for one in heat.sensors}
    return PLATEN if any(one.name in named for one in file.reading("platen")) else TOOL


def _missing(case: Case, file: LogFile, room: Room, heat: Thermometers, laid: LaidUp) -> list[str]:
    """What to write before the pressure can be computed."""
    said = laid.press.counts(laid.plies)
    found = [f"plies of {zone} in [batch]" for zone in room.zones if zone not in said]
    cores = tuple(core.name for core in room.cores)
    modulus = [c for c in cores if f"core {c} bulk modulus" not in {str(k) for k in laid.x}]
    found += [f"bulk_modulus in [core.{core}]" for core in modulus]
    if room.free:
        found.append(f"a room or held for core {cores[0]}: its pressure between free sides is not computed")
    if room.open_ends:
        found.append(f"room {room.name} has open ends: the core grows out, its pressure is not computed")
    lost = [one.name for one in file.reading("platen", "tool") if not np.isfinite(one.values).any()]
    found += [f"readings of {name}" for name in lost]
    if not _core_sensor(file):
        outermost = _outermost(heat, file)
        words = lacking(case.part, cores, outermost)
        found += [f"{one} in the part file" for one in words]
    return found


def _limit(file: LogFile, laid: LaidUp, room: Room, grid: np.ndarray) -> np.ndarray | None:
    """Pressure at which clamp or walls give way, by the logged force where there is one (times, columns)."""
    logged = force_of(file)
    force = None if logged is None else np.maximum(logged[0].at(grid), 0.0)[:, None]
    found = clamp_limit(laid, room.name, force)
    return None if found is None else np.broadcast_to(found, (len(grid), DRAWS + 1))


def _core_sensor(file: LogFile) -> Any:
    return next((one for one in file.reading("core") if np.isfinite(one.values).sum() > 1), None)


def _curve(
    laid: LaidUp,
    room: Room,
    case: Case,
    file: LogFile,
    heat: Thermometers,
    columns: Columns,
    grid: np.ndarray,
    *,
    most: bool,
) -> np.ndarray | str:
    """Pressure of the room with what is unknown taken to one side, over ambient (times, columns) [Pa]."""
    part, zone = case.part, laid.zone
    every = np.array([one.temperature for one in heat.sensors])
    drive = every.max(axis=0) if most else every.min(axis=0)
    error = _errors(heat, case, columns)
    others = [_to_one_side(one.values, most=most) for one in file.reading("platen", "tool")]
    around = np.array([*every, *others])
    tool = around.min(axis=0) if most else around.max(axis=0)

    def at(values: np.ndarray) -> Callable[[float], np.ndarray]:
        return lambda t: np.asarray(float(np.interp(t, file.seconds, values)) + error)

    start = float(drive[0]) if most else min(float(drive[0]), room_of(part))
    outermost = _outermost(heat, file)
    outermost = INSIDE if most and outermost == OUTSIDE else outermost
    sensor = _core_sensor(file)
    cores: dict[str, Grown] = {}
    for shape in room.cores:
        has_heat = not lacking(part, (shape.name,), outermost)
        behind = core_behind(part, room, shape, zone, laid.x, columns)
        if isinstance(behind, str):
            return behind
        seat, found = Seat(laid, room, shape, behind), []
        if has_heat:
            found.append(
                _driven(laid, part, behind, seat, outermost, columns, grid, at(drive), start, tool, file)
            )
        if sensor is not None:
            there = np.isfinite(sensor.values)
            mean = np.interp(grid, file.seconds[there], sensor.values[there])[:, None] + error
            found.append(given_core(seat, np.interp(grid, file.seconds, tool)[:, None], mean))
        pick = np.maximum if most else np.minimum
        cores[shape.name] = Grown(pick.reduce([one.cube for one in found]), found[0].mean, found[0].gap)
    of_tool = np.interp(grid, file.seconds, tool)[:, None] + error
    pressure = pressure_along(laid, room, cores, of_tool, most_bleed=not most)
    return "no bulk modulus" if pressure is None else pressure


def _driven(
    laid: LaidUp, part: Any, behind: CoreBehind, seat: Seat, outermost: str, columns: Columns,
    grid: np.ndarray, face: Callable[[float], np.ndarray], start: float, tool: np.ndarray, file: LogFile,
) -> Grown:  # fmt: skip
    thickness = laid.layup.thickness(laid.bleed(laid.zone, most=False))
    stack = stack_of(part, thickness, behind, outermost, columns)
    around = None if stack.tool is not None else (lambda t: np.asarray(np.interp(t, file.seconds, tool)))
    found = heated(stack, grid, face, start, around, seat)
    assert found.core is not None
    return found.core


def _to_one_side(values: np.ndarray, *, most: bool) -> np.ndarray:
    """Readings beside the laminate [K]; a missing one may be the hottest, or the coldest, of the log.

    A hot tool leaves a core more room: the least pressure takes the hottest.
    """
    side = float(np.nanmin(values) if most else np.nanmax(values))
    return np.where(np.isfinite(values), values, side)


def _errors(heat: Thermometers, case: Case, columns: Columns) -> np.ndarray:
    """Error of the sensors in every column [K]."""
    u = max(one.u for one in heat.sensors)
    noise = u * columns.random.standard_normal(columns.draws)
    return np.concatenate([[0.0], noise])
