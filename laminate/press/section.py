"""The cross-section of a room at gel: which laminate and core lies where, and its size. SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.press.rooms import directions

if TYPE_CHECKING:
    from laminate.press.names import Numbers
    from laminate.press.room_question import RoomQuestion
    from laminate.press.rooms import CoreShape, Room
    from laminate.press.state import State

BOX, ROUND, SLICE, VOLUME = "box", "round", "slice", "volume"
OUTER = {"width": ("left", "right"), "height": ("top", "bottom"), "length": ("near end", "far end")}


@dataclass(frozen=True, slots=True)
class Wall:
    """A laminate where it lies: hot thickness at gel [m]; share: of length or girth that it covers [0..1].

    place: left, right, top, bottom, web 1, near end, far end, around, or '' in a room by volume; plies: None
    where only the thickness is known.
    """

    zone: str
    place: str
    plies: int | None
    thickness: float
    share: float


@dataclass(frozen=True, slots=True)
class Body:
    """A core as it lies at gel: hot width and height, or diameter in both [m].

    height: None where not known; cold: its cold sizes by direction, of those that are given [m, m^3].
    """

    name: str
    width: float
    height: float | None
    cold: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Section:
    """A room cut across its length, hot, at gel.

    kind: box, round, slice (of which the width alone is known) or volume (of which no shape is known); width,
    height: hot, of the bare room [m], None where not given; radius, core_radius: of the long edges; filled:
    whether cores and laminates fill it; opens: the direction the tool opens in; cold: sizes by direction, of
    those that are given [m, m^3].
    """

    room: str
    kind: str
    width: float | None
    height: float | None
    radius: float
    core_radius: float
    walls: tuple[Wall, ...]
    cores: tuple[Body, ...]
    filled: bool
    opens: str
    cold: Mapping[str, float]

    def at(self, place: str) -> Wall | None:
        """The laminate at a place; where several lie there along the length, the one that covers most."""
        walls_there = [wall for wall in self.walls if wall.place == place]
        return max(walls_there, key=lambda wall: wall.share, default=None)

    @property
    def webs(self) -> tuple[Wall, ...]:
        """The laminates between cores, from left to right."""
        webs = [self.at(f"web {k}") for k in range(1, len(self.cores))]
        return tuple(wall for wall in webs if wall is not None)


def _share(room: Room, zone: str, state: State) -> float:
    side = room.side(zone)
    return 1.0 if side.area else float(side.cover(state.x)) / side.walls


def _walls(ask: RoomQuestion, state: State) -> tuple[Wall, ...]:
    """Every laminate at its place: two of a zone outside, those beyond two between the cores."""
    room, walls = ask.room, list[Wall]()
    webs = [f"web {k}" for k in range(1, len(room.cores))]
    counts = ask.press.counts(ask.plies) if ask.layups is None else {}

    def free(place: str, share: float) -> bool:
        return sum(wall.share for wall in walls if wall.place == place) + share <= 1.0 + 1e-9

    for side in sorted(room.sides, key=lambda side: side.walls < 2):
        share = _share(room, side.zone, state)
        if side.side in OUTER:
            places = [*OUTER[side.side], *(webs if side.side == "width" else [])]
            taken = [place for place in places if free(place, share)][: side.walls]
        elif side.side == "all":
            taken = ["left", "right", "top", "bottom"]
        else:
            taken = ["around"] if side.side == "round" else [""] * side.walls
        thickness = float(state.thickness(side.zone))
        walls += [Wall(side.zone, place, counts.get(side.zone), thickness, share) for place in taken]
    return tuple(walls)


def _cold(room: Room, core: CoreShape, x: Numbers) -> dict[str, float]:
    sizes = directions(core.kind)
    if not sizes:
        return {"volume": float(room.core_volume(core, x))}
    return {s: float(room.core_size(core, s, x)) for s in sizes if s in core.sizes or s in core.bare}


def _pressed_bodies(room: Room, state: State, width: float, height: float | None) -> tuple[Body, ...]:
    """Cores that fill what is left: in a row along the width, each by its volume at the pressure there."""
    pressure, conditions = state.pressure(room.name), state.conditions
    volumes = [
        float(conditions.free_volume(room, core, "gel"))
        if pressure is None
        else float(conditions.pressed_volume(room, core, pressure))
        for core in room.cores
    ]
    return tuple(
        Body(core.name, width * core_volume / sum(volumes), height, _cold(room, core, state.x))
        for core, core_volume in zip(room.cores, volumes, strict=True)
    )


def _free_bodies(room: Room, state: State) -> tuple[Body, ...]:
    """Cores in their own hot size; those whose sizes are not known are left out."""
    bodies = []
    for core in room.cores:
        conditions, cold = state.conditions, _cold(room, core, state.x)
        grown = float(conditions.core_growth_at(core.name, conditions.core_temperature(core.name, "gel")))
        sizes = ("diameter", "diameter") if core.kind == ROUND else ("width", "height")
        width, height = (cold[size] * grown if size in cold else None for size in sizes)
        if width is not None:
            bodies.append(Body(core.name, width, height, cold))
    return tuple(bodies)


def section_of(ask: RoomQuestion, bleed: float | None = None) -> Section:
    """What lies in a room at gel.

    ask: the room with its counts or thicknesses; bleed: in all of its zones, the stated one where None.
    """
    state, room = ask.state(bleed=bleed), ask.room
    walls = _walls(ask, state)
    cold = {what: float(room.size(what, state.x)) for what in room.sizes}
    if room.kind == VOLUME:
        bodies = tuple(Body(core.name, 0.0, None, _cold(room, core, state.x)) for core in room.cores)
        return Section(
            room.name, VOLUME, None, None, 0.0, 0.0, walls, bodies, filled=False, opens="", cold=cold
        )
    x, growth = state.x, float(state.conditions.growth("gel"))
    hot = {what: size * growth for what, size in cold.items()}
    width = hot["diameter" if room.kind == ROUND else "width"]
    height = hot.get("height", width if room.kind == ROUND else None)
    kind = room.kind if height is not None else SLICE
    thick = {zone: state.thickness(zone) for zone in room.zones}
    left = width - float(room.across("round" if kind == ROUND else "width", thick, x))
    up = left if kind == ROUND else None
    if kind == BOX and height is not None:
        up = height - float(room.across("height", thick, x))
    filled = room.rubber and not room.free and float(state.unfilled(room, state.bleed)) <= 1e-9 * width**3
    bodies = _pressed_bodies(room, state, left, up) if filled else _free_bodies(room, state)
    radius = float(room.corner_radius(x)) * growth
    inner = max(radius - min((wall.thickness for wall in walls), default=0.0), 0.0)
    cores = [float(room.core_radius(core, x)) for core in room.cores]
    return Section(
        room=room.name,
        kind=kind,
        width=width,
        height=height,
        radius=radius,
        core_radius=inner if filled else max(cores, default=0.0),
        walls=walls,
        cores=bodies,
        filled=bool(filled),
        opens=room.opens,
        cold=cold,
    )
