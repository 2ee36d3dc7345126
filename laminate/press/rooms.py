"""The rooms of a part: which cores and laminates fill what together, sizes by the names of their inputs.

A part file of today without [room] is mapped to rooms here, and what is supposed on the way is said.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.files.press_checks import DIRECTIONS
from laminate.formulas import press
from laminate.formulas.number import real_part
from laminate.press.extremes import larger, smaller
from laminate.press.names import TOOL
from laminate.values.input_key import Key, Name

if TYPE_CHECKING:
    from laminate.press.names import Numbers

REACH = {"width": ("width", "all"), "height": ("height", "all"), "diameter": ("round",)}
"""Sides whose laminates lie across a direction, where they are not of its own name."""


@dataclass(frozen=True, slots=True)
class Side:
    """Laminates of one zone in a room.

    side: width, height, length, round, all, or volume; walls: laminates across it; share: input that says
    how much of the length or girth they cover, '' for all of it; area: input, for a room by volume;
    areas: inputs whose sum the share is of, where places lie along one core.
    """

    zone: str
    side: str
    walls: int
    share: Name = ""
    areas: tuple[Name, ...] = ()
    area: Name = ""

    def cover(self, x: Numbers) -> Any:
        """Walls times share; for a room by volume the area of all walls [m^2]."""
        if self.area:
            return self.walls * x[self.area]
        if self.areas:
            return self.walls * x[self.share] / sum(x[name] for name in self.areas)
        return self.walls * x[self.share] if self.share else self.walls


@dataclass(frozen=True, slots=True)
class CoreShape:
    """A core of a room: kind (box, round, volume, mass) and its sizes by the names of their inputs.

    A size left out of `sizes` is 1 m: a slice of the room. bare: sizes that are the room's less twice the
    clearance.
    """

    name: str
    kind: str
    sizes: Mapping[str, Key]
    bare: tuple[str, ...] = ()


class HotRoom(NamedTuple):
    """A bare room at one growth of the tool: sizes by direction [m], volume and inserts in it [m^3]."""

    sizes: Mapping[str, Any]
    bare: Any
    inserts: Any


@dataclass(frozen=True, slots=True)
class Room:
    """Cores and laminates that fill one room of the tool.

    kind: box, round or volume; sizes: as those of a core; insert: input of a thickness in the width, which
    grows as the tool; rubber: whether its cores take the pressure on, else they leave gaps; free: a rubber
    core between free sides, of which the touch alone is known; opens: the direction the tool opens in, area:
    input of the projected area; open_ends: whether its cores may grow out; old: of keys of older files.
    """

    name: str
    kind: str
    sizes: Mapping[str, Key]
    sides: tuple[Side, ...]
    cores: tuple[CoreShape, ...]
    rubber: bool = True
    free: bool = False
    opens: str = ""
    area: Name = ""
    open_ends: bool = False
    insert: Name = ""
    old: bool = False

    @property
    def zones(self) -> tuple[str, ...]:
        """Its zones, each once."""
        return tuple(dict.fromkeys(side.zone for side in self.sides))

    def side(self, zone: str) -> Side:
        """The laminates of a zone, the first of several entries."""
        return next(side for side in self.sides if side.zone == zone)

    def directions_of(self, zone: str) -> tuple[str, ...]:
        """The sizes that the thickness of a zone takes from; none of a room by volume."""
        side = self.side(zone).side
        return {"round": ("diameter",), "all": ("width", "height"), "volume": ()}.get(side, (side,))

    def size(self, what: str, x: Numbers) -> Any:
        """A cold size of the bare room [m, m^3]; 1 where it is a slice."""
        value = x[self.sizes[what]] if what in self.sizes else 1.0
        return value - x[self.insert] if what == "width" and self.insert else value

    def corner_radius(self, x: Numbers) -> Any:
        """Radius of the long edges [m]."""
        return x.get(Key("room", self.name, "corner_radius"), 0.0)

    def bare(self, x: Numbers) -> Any:
        """Cold volume of the bare room, inserts not taken off [m^3]."""
        return _volume(self.kind, lambda what: self.size(what, x), self.corner_radius(x))

    def across(self, direction: str, thickness: Mapping[str, Any], x: Numbers) -> Any:
        """Sum of the laminates across a direction [m]."""
        return sum(side.cover(x) * thickness[side.zone] for side in self._across(direction))

    def lies_across(self, direction: str) -> bool:
        """Whether a laminate lies across a direction."""
        return bool(self._across(direction))

    def _across(self, direction: str) -> list[Side]:
        return [side for side in self.sides if side.side in REACH.get(direction, (direction,))]

    def walls(self, direction: str, zone: str, x: Numbers) -> Any:
        """Laminates across a direction between rigid faces: places along one core each have their own."""
        sides_across = self._across(direction)
        if any(side.areas for side in sides_across):
            return next(side.walls for side in sides_across if side.zone == zone)
        return np.ceil(real_part(sum(side.cover(x) for side in sides_across)) - 1e-9)

    def taken(self, direction: str, x: Numbers, growths: Mapping[str, Any] | None = None) -> Any:
        """Size of the cores across a direction [m]: in a row along the width, else of the largest.

        growths: hot over cold size by core, 1 where None.
        """
        sizes = [
            self.core_size(core, direction, x) * (growths[core.name] if growths else 1.0)
            for core in self.cores
        ]
        return sum(sizes) if direction == "width" else functools.reduce(larger, sizes)

    def gaps(self, zone: str, growth: Any, growths: Mapping[str, Any], x: Numbers) -> list[Any]:
        """Gap that hard cores leave a laminate, centered, in each direction that it takes from [m].

        growth: g of the tool; growths: of each core [-].
        """
        return [
            press.rigid_gap(
                side=self.size(what, x),
                tool_growth=growth,
                cores=self.taken(what, x, growths),
                walls=self.walls(what, zone, x),
            )
            for what in self.directions_of(zone)
        ]

    def _on_walls(self, direction: str, thickness: Mapping[str, Any], x: Numbers) -> list[Any]:
        """Thickness of the laminates on each of two opposite walls, one where they are alike [m].

        Laminates of one wall fill the first, then the other; webs between cores in a row lie on neither.
        """
        sides = [side for side in self.sides if side.side in (direction, "all")]
        pairs = [side for side in sides if side.walls == 2]
        webs = direction == "width" and len(self.cores) > 1 and pairs
        singles = [] if webs else [side for side in sides if side.walls == 1]
        both = sum(0.5 * side.cover(x) * thickness[side.zone] for side in pairs)
        if not singles:
            return [both]
        walls, taken = [both, both], 0.5 * sum(_middle(side.cover(x)) for side in pairs)
        for side in singles:
            taken += _middle(side.cover(x))
            wall = 0 if taken < 1.0 + 1e-9 else 1
            if taken < 2.0 + 1e-9:
                walls[wall] = walls[wall] + side.cover(x) * thickness[side.zone]
        return walls

    def _off_edges(self, radius: Any, thickness: Mapping[str, Any], x: Numbers) -> Any:
        """Area that the four long edges round off between the laminates [m^2]; radius: of the tool, hot [m].

        At each edge the thinner of the two laminates counts that meet there.
        """
        across, upright = (self._on_walls(direction, thickness, x) for direction in ("width", "height"))
        left = [
            press.inner_radius(corner_radius=radius, laminate=smaller(one_wall, other))
            for one_wall in across
            for other in upright
        ]
        return press.CORNERS * sum(r**2 for r in left) / len(left)

    @property
    def directions(self) -> tuple[str, ...]:
        """Its sizes; none of a room by volume."""
        return directions(self.kind)

    def hot(self, growth: Any, x: Numbers) -> HotRoom:
        """The bare room at a growth g of the tool."""
        sizes = {what: self.size(what, x) * growth for what in self.directions}
        return HotRoom(sizes, self.bare(x) * growth**3, self.inserts(growth, x))

    def inside(self, thickness: Mapping[str, Any], hot: HotRoom, x: Numbers) -> dict[str, Any]:
        """Hot sizes between the laminates [m]."""
        return {
            what: size - self.across(what, thickness, x) if self._across(what) else size
            for what, size in hot.sizes.items()
        }

    def fits(self, thickness: Mapping[str, Any], growth: float, x: Numbers) -> bool:
        """Whether the hot laminates leave the cores any room: in each direction, and as a volume."""
        sizes = self.inside(thickness, self.hot(growth, x), x).values()
        return float(min(sizes, default=1.0)) > 0.0 and float(self.left(thickness, growth, x)) > 0.0

    def left(
        self, thickness: Mapping[str, Any], growth: Any, x: Numbers, *, cover: Any = None, hot: Any = None
    ) -> Any:
        """Volume that the laminates leave the cores, hot [m^3].

        thickness: of each zone [m]; growth: g of the tool [-]; cover: k, 1/g where None; hot: the bare room
        at this growth, where it is known already.
        """
        hot = hot or self.hot(growth, x)
        if self.kind == "volume":
            laminates = sum(side.cover(x) * thickness[side.zone] for side in self.sides)
            left = hot.bare - growth**2 * laminates
        elif self.kind == "round":
            left = press.round_volume(**self.inside(thickness, hot, x))
        else:
            sizes, radius = self.inside(thickness, hot, x), self.corner_radius(x)
            left = press.box_volume(**sizes, corner_radius=0.0)
            if _any(radius):
                left = left - self._off_edges(radius * growth, thickness, x) * sizes["length"]
        cover = 1.0 / growth if cover is None else cover
        return press.room_left(left=left - hot.inserts, bare=hot.bare - hot.inserts, cover=cover)

    def inserts(self, growth: Any, x: Numbers) -> Any:
        """Hot volume of the inserts of all its cores [m^3]: by their expansions, as the tool without one."""
        hot: Any = 0.0
        for core in self.cores:
            cold, expansion = (Key("core", core.name, f"insert_{what}") for what in ("volume", "expansion"))
            if cold in x:
                grown = 1.0 + x[expansion] * (growth - 1.0) / x[TOOL] if expansion in x else growth
                hot = hot + x[cold] * grown**3
        return hot

    def projected_area(self, x: Numbers) -> Any:
        """Area of cores and laminates together as the tool opens [m^2]; None where not known."""
        if self.area:
            return x[self.area]
        if not self.opens:
            return None
        first, second = (self.size(what, x) for what in DIRECTIONS if what != self.opens)
        return first * second

    def core_size(self, core: CoreShape, what: str, x: Numbers) -> Any:
        """A cold size of a core [m]; 1 where it is a slice."""
        if what in core.bare:
            return self.size(what, x) - 2.0 * x[Key("core", core.name, "clearance")]
        return x[core.sizes[what]] if what in core.sizes else 1.0

    def core_volume(self, core: CoreShape, x: Numbers) -> Any:
        """Cold volume of a core [m^3]."""
        return _volume(core.kind, lambda what: self.core_size(core, what, x), self.core_radius(core, x))

    def core_radius(self, core: CoreShape, x: Numbers) -> Any:
        """Radius of the long edges of a core [m]."""
        return x.get(Key("core", core.name, "corner_radius"), 0.0)

    def core_width(self, core: CoreShape, volume: Any, x: Numbers) -> Any:
        """Cold width or diameter that gives a core a volume, its other sizes kept [m]; None without sizes."""
        if core.kind == "round":
            unit = press.round_volume(diameter=1.0, length=self.core_size(core, "length", x))
            return (volume / unit) ** 0.5
        if core.kind != "box":
            return None
        height, length = (self.core_size(core, what, x) for what in ("height", "length"))
        return (volume / length + press.CORNERS * self.core_radius(core, x) ** 2) / height


def directions(kind: str) -> tuple[str, ...]:
    """The sizes of a room or core of a kind; none of one by volume or mass."""
    return {"box": DIRECTIONS, "round": ("diameter", "length")}.get(kind, ())


def _middle(value: Any) -> float:
    """The number of an input, of many draws their mean."""
    return float(np.mean(real_part(value)))


def _volume(kind: str, size: Callable[[str], Any], corner_radius: Any) -> Any:
    """Cold volume of a room or core of a kind [m^3]; size: what it measures, by name."""
    if kind == "volume":
        return size("volume")
    if kind == "mass":
        return size("mass") / size("density")
    if kind == "round":
        return press.round_volume(diameter=size("diameter"), length=size("length"))
    return press.box_volume(**{what: size(what) for what in DIRECTIONS}, corner_radius=corner_radius)


def _any(value: Any) -> bool:
    """Whether a number, or any of an array, is not exactly 0."""
    if isinstance(value, float):
        return value != 0.0
    return hasattr(value, "nominal_value") or bool(np.any(value))
