"""What is searched for in the state of the press: bleed windows, core volumes, temperatures. Plain numbers.

`touch` alone takes draws, complex numbers and numbers with uncertainty too.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas import press as formulas
from laminate.formulas.number import choose, real_part
from laminate.formulas.roots import rising_root
from laminate.press.names import FORCE, ROOM
from laminate.press.state import Layups, State
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.names import Counts

POINTS, ROUNDS = 513, 5
ABOVE = 100.0
COLDEST_RISE, HOTTEST_RISE = -200.0, 500.0
"""Rises over room temperature within which contact is looked for [K]."""


@dataclass(frozen=True, slots=True)
class Window:
    """Bleed of a room within which it presses and the tool holds [0..1].

    holds: least bleed at which the tool holds at every moment, None where no bleed does; presses: most bleed
    at which the pressure at gel is what is needed, None where no bleed is; end: the end of bleed; beside:
    bleed of the zones that are held at what they state.
    """

    holds: float | None
    presses: float | None
    end: float
    beside: Mapping[str, float] = field(default_factory=dict)

    @property
    def apart(self) -> bool:
        """Whether the tool holds only from a bleed on at which it presses no more."""
        return self.holds is not None and self.presses is not None and self.holds > self.presses

    @property
    def empty(self) -> bool:
        """Whether no bleed does both."""
        return self.holds is None or self.presses is None or self.apart


def by_window(window: Window | None, usable: bool, missed: int) -> tuple[bool, float, int]:
    """What makes a count better than another: its window, then how few limits its part misses.

    The widest window; first those in which the tool holds with no bleed at all, the unsafe end. usable:
    whether a count without a window may be laid up.
    """
    if window is None or window.holds is None or window.presses is None:
        return False, 0.0 if usable else -1.0, -missed
    return window.holds == 0.0, window.presses - window.holds, -missed


def _last(good: Callable[[Any], Any], low: float, high: float) -> float | None:
    """The last point from low on at which something still holds; None where it does not hold at low.

    good: of a row of points (n,), whether it holds at each.
    """
    for _ in range(ROUNDS):
        points = np.linspace(low, high, POINTS)
        holds = np.broadcast_to(good(points), points.shape)
        if holds.all():
            return high
        first = int(np.argmin(holds))
        if first == 0:
            return None
        low, high = float(points[first - 1]), float(points[first])
    return low


def with_bleed(press: Press, room: str, bleed: float, plies: Counts, layups: Layups | None = None) -> State:
    """The state with one bleed in all zones of a room, the others as stated."""
    return State(press.at(), plies, dict.fromkeys(press.room(room).zones, bleed), laid=layups)


def end_of_bleed(state: State, room: str) -> float:
    """The most that can bleed in any zone of a room [0..1]."""
    return max(float(real_part(state.layups[zone].end)) for zone in state.press.room(room).zones)


def bleeding_alike(press: Press, room: str, zone: str) -> tuple[str, ...]:
    """The zones of a room that bleed as one of them: all but those that state another bleed; all where ''."""
    zones, stated = press.room(room).zones, press.stated(zone) if zone else None
    bleeds = {z: press.stated(z) for z in zones if zone}
    return tuple(z for z in zones if (b := bleeds.get(z)) is None or (stated and b.value == stated.value))


def bleed_window(
    press: Press, room: str, plies: Counts, layups: Layups | None = None, *, zone: str = ""
) -> Window:
    """The bleed of a room within which it presses as needed and the tool holds, force and pressure limit.

    zone: whose bleed it is; zones that state another keep theirs. Of all zones alike where ''.
    """

    conditions, zones = press.at(), press.room(room).zones
    laid = press.layups(plies, conditions.x, layups)
    alike = bleeding_alike(press, room, zone)

    def at(bleed: Any) -> State:
        return State(conditions, plies, dict.fromkeys(alike, bleed), laid)

    def presses(bleed: Any) -> Any:
        state = at(bleed)
        return functools.reduce(np.logical_and, (state.pressed(zone) for zone in zones))

    end = max(float(real_part(laid[z].end)) for z in alike)
    beside = {z: float(at(0.0).stated(z)) for z in zones if z not in alike}
    spare = _last(lambda less: at(end - less).holds, 0.0, end)
    return Window(None if spare is None else end - spare, _last(presses, 0.0, end), end, beside)


def bleed_at_no_pressure(state: State, room: str, zone: str = "") -> float | None:
    """b*: bleed at which the pressure at gel is gone, even past the end of bleed; None where nothing presses.

    None too where some pressure is left without any resin. zone: as of `bleed_window`.
    """
    table, alike = state.press.room(room), bleeding_alike(state.press, room, zone)
    stated = {z: state.stated(z) for z in table.zones}

    def fills(bleed: Any) -> Any:
        return real_part(state.unfilled(table, {**stated, **dict.fromkeys(alike, bleed)})) < 0

    root = None if table.free else _last(fills, 0.0, 1.0)
    return root if root is not None and root < 1.0 else None


def gives_way_at(state: State) -> float | None:
    """Temperature of core and tool together at which the clamp gives way, the laminate as it gelled [K].

    None where that is above the highest temperature of the cycle plus 100 K, or no force is known.
    """
    press, x = state.press, state.x
    rubber = tuple(room for room in state.rooms if room.rubber)
    if FORCE not in x or not rubber or rubber != state.rubber:
        return None
    rooms = [(room, area) for room in rubber if (area := room.projected_area(x)) is not None]
    at_gel = sum(state.pressure(room.name) * area for room, area in rooms)
    rest = state.pressing_force("gel") - at_gel + state.matched_pressure * state.matched_area

    def holds(temperature: Any) -> Any:
        force = rest + sum(state.together(room.name, temperature) * area for room, area in rooms)
        return real_part(force) <= float(x[FORCE])

    highest = max(float(real_part(state.conditions.temperature(at))) for at in press.moments) + ABOVE
    root = _last(holds, float(x[ROOM]), highest)
    return root if root is None or root < highest else None


def touch(state: State, room: str, zone: str = "", *, liquid: bool = False, together: bool = False) -> Any:
    """Temperature from which the cores of a room press [K]; inf where never, -inf where always.

    Against the laminates as laid up, or liquid full without bleed; the tool at its temperature at gel, or
    together with the cores. zone: the one that hard cores close the gap of, the first where ''.
    """
    table, conditions, x = state.press.room(room), state.conditions, state.x
    thick = {z: state.layups[z].thickness(0.0) for z in table.zones} if liquid else state.laid_up(table)
    # what does not go into the gap goes to the free sides
    gap_zone, by_gaps = zone or table.zones[0], table.free or not table.rubber

    def spare(temperature: Any) -> Any:
        growth = conditions.growth_at(temperature) if together else conditions.growth("gel")
        if by_gaps:
            grown = {core.name: conditions.core_growth_at(core.name, temperature) for core in table.cores}
            return [thick[gap_zone] - gap for gap in table.gaps(gap_zone, growth, grown, x)]
        free = sum(conditions.volume_at(table, core, temperature) for core in table.cores)
        return free - table.left(thick, growth, x)

    if by_gaps:
        return _earliest(spare(x[ROOM]), spare(x[ROOM] + 1.0), x[ROOM])

    def plain(temperature: Any) -> Any:
        return real_part(spare(temperature))

    start = real_part(x[ROOM])
    coldest, hottest = start + COLDEST_RISE, start + HOTTEST_RISE
    reached, always = plain(hottest) >= 0, plain(coldest) >= 0
    bracketed = reached & ~always if np.ndim(reached) else bool(reached and not always)

    root = rising_root(function=plain, low=coldest, high=hottest)
    slope = (plain(root + 0.01) - plain(root - 0.01)) / 0.02
    steep = choose(bracketed, slope, 1.0)
    # One more step of Newton, in the numbers as they came: the implicit derivative.
    next_root = root - spare(root) / (steep if np.ndim(steep) else float(steep))
    return choose(bracketed, next_root, choose(always, -math.inf, math.inf))


def _earliest(over: list[Any], warmer: list[Any], start: Any) -> Any:
    """Lowest temperature at which a gap closes [K], from what is too much at the start and a kelvin above."""
    earliest: Any = math.inf
    for now, then in zip(over, warmer, strict=True):
        slope = real_part(then - now)
        closing = choose(slope > 0, then - now, 1.0)
        at = choose(real_part(-now / closing) <= HOTTEST_RISE, start - now / closing, math.inf)
        at = choose(slope > 0, at, choose(real_part(now) >= 0, -math.inf, math.inf))
        earliest = choose(real_part(at) < real_part(earliest), at, earliest)
    return earliest


def volume_for(state: State, core: str, pressure: Any, bleed: Any = None) -> Any:
    """Cold volume of a core that gives its room a pressure at gel, all else as it is [m^3].

    bleed: zone -> bleed, that of the state where None; pressure 0 gives the core that just fills the room.
    """
    room = state.press.room_with(core)
    conditions, x = state.conditions, state.x
    used = state.bleed if bleed is None else bleed
    thick = {zone: state.layups[zone].thickness(used[zone]) for zone in room.zones}
    others = sum(conditions.pressed_volume(room, c, pressure) for c in room.cores if c.name != core)
    return formulas.volume_for_pressure(
        pressure=pressure,
        room=conditions.left(room, thick, "gel"),
        give=conditions.give(room),
        others=others,
        growth=conditions.core_growth_at(core, conditions.core_temperature(core, "gel")),
        # without pressure no modulus is needed
        bulk_modulus=x.get(Key("core", core, "bulk_modulus"), 1e9),
        bulk_modulus_rise=x.get(Key("core", core, "bulk_modulus_rise"), 10.0),
    )


def volume_window(
    press: Press, core: str, plies: Counts, low: Mapping[str, float], high: Mapping[str, float]
) -> tuple[float, float | None]:
    """Cold volumes of a core from which its room presses as needed at the higher bleed, and up to which the
    tool holds at the lower one [m^3]; None where no volume that fills the room is held.

    low, high: bleed of each zone of the room.
    """
    room = press.room_with(core)
    laid = press.layups(plies, press.inputs.numbers())
    state = State(press.at(), plies, low, laid=laid)
    needed = max(float(real_part(state.conditions.needed(zone))) for zone in room.zones)
    least, fills = (
        float(volume_for(state, core, pressure, bleed={z: min(bleed[z], laid[z].end) for z in room.zones}))
        for pressure, bleed in ((max(needed, 0.0), high), (0.0, low))
    )

    def holds(volume: Any) -> Any:
        return State(state.conditions.with_volume(core, volume), plies, low, laid).holds

    return least, _last(holds, 0.5 * fills, 1.3 * fills)
