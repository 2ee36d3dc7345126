"""The cross-section of a room drawn to scale: tool, laminates of every wall, webs, cores; names beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import zip_longest
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any

from laminate.press.section import BOX, ROUND, SLICE, VOLUME
from laminate.show.blocks import Grid, columned, holding
from laminate.show.chart import DOTS, FULL, GRAY, INK, KEY, SIZE, WASH, WIDTH, Picture, drawn, in_lines, ring
from laminate.show.engineer_text import plies, volume
from laminate.show.numbers import DASH, body, column, in_units, percent, size
from laminate.values.quantities import MM, NUMBER, PERCENT

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes

    from laminate.press.section import Body, Section, Wall

TOOL = 0.14
"""Width of the tool as drawn, as a share of the larger size of the room."""
FINEST = 0.012
"""Plies are drawn as lines where one is thicker than this share of the room."""
STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
MOST_TALL = 1.25
"""A taller picture is drawn smaller."""
CORNERS = {"left": (0, 3), "right": (1, 2), "top": (3, 2), "bottom": (0, 1)}
"""Places of a wall, each with its corners, counted around from the left below."""
STEEL: dict[str, Any] = {"facecolor": "white", "edgecolor": GRAY, "hatch": "////", "zorder": 0}

Point = tuple[float, float]


def letters(section: Section) -> dict[str, str]:
    """A letter for every core and every zone, in the order of the picture."""
    zones = dict.fromkeys(wall.zone for wall in section.walls)
    names = [*(f"core {core.name}" for core in section.cores), *zones]
    return dict(zip(names, ascii_lowercase, strict=False))


def draw_section(axes: Axes, section: Section, units: str = "metric") -> None:
    """Draw a room to scale, hot, at gel; needs a section with a shape."""
    assert section.width is not None
    mm = in_units(MM, units).per_si
    wide = section.width * mm
    tall = wide if section.height is None else section.height * mm
    tool = TOOL * max(wide, tall)
    axes.set_aspect("equal")
    axes.axis("off")
    axes.set_xlim(-1.55 * tool, wide + 1.55 * tool)
    axes.set_ylim(-1.9 * tool, tall + 1.55 * tool)
    if section.kind == ROUND:
        _round(axes, section, wide, tool, mm)
    else:
        _box(axes, section, wide, tall, tool=tool, mm=mm)
    _opens(axes, section.opens, wide, tall, tool)
    _scale(axes, wide, tool, in_units(MM, units).text)


def _box(axes: Axes, section: Section, wide: float, tall: float, *, tool: float, mm: float) -> None:
    _tool(axes, wide, tall, tool, section.radius * mm, whole=section.kind != SLICE)
    inside = _rounded(0.0, 0.0, wide, tall, section.radius * mm)
    laid = {place: wall for place in CORNERS if (wall := section.at(place)) is not None}
    thick = [laid[place].thickness * mm if place in laid else 0.0 for place in CORNERS]
    left, right, high, low = thick[0], wide - thick[1], tall - thick[2], thick[3]
    outer = [(0.0, 0.0), (wide, 0.0), (wide, tall), (0.0, tall)]
    inner = [(left, low), (right, low), (right, high), (left, high)]
    if section.filled:  # at rounded edges the laminate fills what the core does not
        _area(axes, inside, facecolor=WASH, edgecolor="none", zorder=1)
    for place, wall in laid.items():
        a, b = CORNERS[place]
        corners = [outer[a], inner[a], inner[b], outer[b]]
        _laminate(axes, wall, corners, inside, wall.thickness * mm / max(wide, tall))
    _cores(axes, section, (left, right), (low, high), mm, tool)
    _area(axes, inside, facecolor="none", edgecolor=INK, linewidth=1.1, zorder=4)
    named = letters(section)
    spots = {
        "left": ((-0.5 * tool, 0.5 * tall), (0.5 * left, 0.5 * tall)),
        "right": ((wide + 0.5 * tool, 0.5 * tall), (0.5 * (right + wide), 0.5 * tall)),
        "top": ((0.3 * wide, tall + 0.5 * tool), (0.3 * wide, 0.5 * (high + tall))),
        "bottom": ((0.3 * wide, -0.5 * tool), (0.3 * wide, 0.5 * low)),
    }
    for place, wall in laid.items():
        _lead(axes, named[wall.zone], *spots[place])


def _cores(axes: Axes, section: Section, sides: Point, ends: Point, mm: float, tool: float) -> None:
    """Cores in a row, with the webs between them; a core with room around it stands in the middle of it.

    sides, ends: where the laminates leave room, from left to right and from below.
    """
    named, (x, right), (low, high) = letters(section), sides, ends
    taken = mm * sum(body.width for body in section.cores) + mm * sum(web.thickness for web in section.webs)
    gap = 0.0 if section.filled else max(right - x - taken, 0.0) / (2 * len(section.cores) or 1)
    for core, web in zip_longest(section.cores, section.webs):
        width, tall = core.width * mm, core.height * mm if core.height is not None else high - low
        x += gap
        shape = _rounded(x, 0.5 * (low + high - tall), width, tall, section.core_radius * mm)
        _area(axes, shape, facecolor="white", edgecolor=INK, linewidth=1.1, zorder=3)
        ring(axes, x + 0.5 * width, 0.5 * (low + high), named[f"core {core.name}"])
        x += width + gap
        if web is not None:
            thick = web.thickness * mm
            shape = _rounded(x, low, thick, high - low)
            _area(axes, shape, facecolor=WASH, edgecolor=INK, linewidth=0.8, zorder=3)
            middle, y = x + 0.5 * thick, 0.5 * (low + high) + 0.3 * (high - low)
            _lead(axes, named[web.zone], (middle + 0.5 * tool, y), (middle, y))
            x += thick


def _laminate(axes: Axes, wall: Wall, points: list[Point], inside: list[Point], deep: float) -> None:
    """One laminate, with its plies where they are seen; deep: as a share of the larger size of the room."""
    from matplotlib.patches import Polygon

    within = Polygon(inside, closed=True, transform=axes.transData)
    _area(axes, points, facecolor=WASH, edgecolor=INK, linewidth=0.8, zorder=2).set_clip_path(within)
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = points
    count = 0 if wall.plies is None or deep < FINEST * wall.plies else wall.plies
    for k in range(1, count):
        s = k / count
        (line,) = axes.plot(
            [x0 + s * (x1 - x0), x3 + s * (x2 - x3)], [y0 + s * (y1 - y0), y3 + s * (y2 - y3)],
            color=GRAY, linewidth=0.4, zorder=2,
        )  # fmt: skip
        line.set_clip_path(within)


def _round(axes: Axes, section: Section, wide: float, tool: float, mm: float) -> None:
    from matplotlib.patches import Circle, Wedge

    middle, outer = (0.5 * wide, 0.5 * wide), 0.5 * wide
    _area(axes, _rounded(-tool, -tool, wide + 2 * tool, wide + 2 * tool), linewidth=0.8, **STEEL)
    axes.add_patch(Circle(middle, outer, facecolor="white", edgecolor=INK, linewidth=1.1, zorder=1))
    named, wall = letters(section), section.at("around")
    if wall is not None:
        deep, around = wall.thickness * mm, 360.0 * min(wall.share, 1.0)
        look: dict[str, Any] = {"facecolor": WASH, "edgecolor": INK, "linewidth": 0.8}
        axes.add_patch(Wedge(middle, outer, 0.0, around, width=deep, zorder=2, **look))
        _lead(axes, named[wall.zone], (-0.5 * tool, 0.5 * wide), (0.5 * deep, 0.5 * wide))
    for core in section.cores:
        inner = 0.5 * core.width * mm
        axes.add_patch(Circle(middle, inner, facecolor="white", edgecolor=INK, linewidth=1.1, zorder=3))
        ring(axes, *middle, named[f"core {core.name}"])


def _tool(axes: Axes, wide: float, tall: float, tool: float, radius: float, *, whole: bool) -> None:
    """The tool around the room; of a slice its two sides alone, with open ends."""
    if whole:
        _area(axes, _rounded(-tool, -tool, wide + 2 * tool, tall + 2 * tool), linewidth=0.8, **STEEL)
        _area(axes, _rounded(0.0, 0.0, wide, tall, radius), facecolor="white", zorder=1, linewidth=0)
        return
    for x in (-tool, wide):
        _area(axes, _rounded(x, 0.0, tool, tall), linewidth=0.0, **STEEL)
    for y in (0.0, tall):
        axes.plot([-tool, wide + tool], [y, y], color="white", linewidth=4.0, zorder=6)
        axes.plot([-tool, wide + tool], [y, y], color=GRAY, linestyle=DOTS, linewidth=1.2, zorder=7)


def _opens(axes: Axes, opens: str, wide: float, tall: float, tool: float) -> None:
    """Two arrows in the direction the tool opens in, where that lies in the picture."""
    if opens not in ("width", "height"):
        return
    near, far = -tool, (wide if opens == "width" else tall) + tool
    beside = 0.82 * (tall if opens == "width" else wide)
    for start, step in ((near, -0.5 * tool), (far, 0.5 * tool)):
        ends = [(start, beside), (start + step, beside)]
        if opens == "height":
            ends = [(y, x) for x, y in ends]
        arrow = {"arrowstyle": "-|>", "color": INK, "linewidth": 1.2, "shrinkA": 0}
        axes.annotate("", ends[1], ends[0], arrowprops=arrow)


def _scale(axes: Axes, wide: float, tool: float, unit: str) -> None:
    """A bar of a round length below the tool."""
    bar = max((s for s in STEPS if s <= 0.45 * wide), default=STEPS[0])
    y = -1.45 * tool
    axes.plot([0.0, bar], [y, y], color=INK, linewidth=1.4, linestyle=FULL)
    for x in (0.0, bar):
        axes.plot([x, x], [y - 0.1 * tool, y + 0.1 * tool], color=INK, linewidth=1.0)
    axes.annotate(
        f"{bar:g} {unit}", (bar, y), xytext=(4, 0), textcoords="offset points", fontsize=SIZE, va="center",
        color=INK,
    )  # fmt: skip


def _lead(axes: Axes, letter: str, at: Point, to: Point) -> None:
    """A ring with a thin line to what it names."""
    axes.plot(*zip(at, to, strict=True), color=INK, linewidth=0.8, zorder=5)
    ring(axes, *at, letter)


def _rounded(x: float, y: float, wide: float, tall: float, radius: float = 0.0) -> list[Point]:
    """The outline of a rectangle, with rounded edges where a radius is given."""
    import math

    r = min(radius, 0.5 * wide, 0.5 * tall)
    if r <= 0.0:
        return [(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)]
    left, right, low, high = x + r, x + wide - r, y + r, y + tall - r
    return [
        (cx + r * math.cos(math.radians(start + step)), cy + r * math.sin(math.radians(start + step)))
        for cx, cy, start in ((right, low, -90), (right, high, 0), (left, high, 90), (left, low, 180))
        for step in range(0, 91, 6)
    ]


def _area(axes: Axes, points: list[Point], **look: Any) -> Any:
    """An area with an outline, drawn."""
    from matplotlib.patches import Polygon

    return axes.add_patch(Polygon(points, closed=True, **look))


def _times(sizes: Mapping[str, float], units: str) -> str:
    """Cold sizes in words."""
    if "volume" in sizes:
        return f"{volume(sizes['volume'], units)} cold"
    order = [sizes[what] for what in ("diameter", "width", "height", "length") if what in sizes]
    return f"{'diameter ' if 'diameter' in sizes else ''}{body(order, units)} cold"


def core_words(core: Body, section: Section, units: str) -> str:
    """A core with its sizes."""
    words = f"core {core.name}, {_times(core.cold, units)}" if core.cold else f"core {core.name}"
    if section.kind == VOLUME:
        return words
    hot = f"{size(core.width, units)} across at gel"
    if not section.filled:
        return f"{words}; {hot}, with room left around it"
    return f"{words}; it fills what is left, {hot}"


def zone_words(section: Section, zone: str, units: str) -> str:
    """A zone with its plies, its places and what it takes."""
    walls = [wall for wall in section.walls if wall.zone == zone]
    wall = walls[0]
    count = f"{plies(wall.plies)}, " if wall.plies is not None else ""
    places = [w.place for w in walls if w.place]
    where = f" ({', '.join(places)})" if places else ""
    each = f"{size(wall.thickness, units)} {'each' if len(walls) > 1 else 'thick'} at gel"
    part = "" if wall.share > 0.999 else f", on {percent(wall.share)} of its side"
    taken = sum(w.thickness for w in walls if w.place in ("left", "right") or w.place.startswith("web"))
    takes = f"; {size(taken, units)} of the width" if taken and len(walls) > 1 else ""
    return f"{zone}{where}: {count}{each}{part}{takes}"


def marks_of(section: Section, units: str) -> tuple[tuple[str, str], ...]:
    """What every letter of the picture stands for."""
    words = [core_words(core, section, units) for core in section.cores]
    words += [zone_words(section, zone, units) for zone in dict.fromkeys(w.zone for w in section.walls)]
    return tuple(zip(letters(section).values(), words, strict=False))


def section_words(section: Section, units: str, state: str = "") -> str:
    """What is drawn, and what is not."""
    room = f"Room {section.room}, {_times(section.cold, units)}"
    if section.kind == VOLUME:
        return f"{room}: given by its volume alone, so its cross-section is not drawn."
    places, shared = {wall.place for wall in section.walls}, any(w.share < 0.999 for w in section.walls)
    cut, turned = section.kind == SLICE, section.kind == BOX and places & {"left", "top"}
    sentences = holding(
        (True, f"{room}, drawn to scale as it is at gel{state}."),
        (cut, "Its width alone is known: above and below, the picture ends where it was cut."),
        (turned, "Left and right, above and below may be the other way round."),
        (True, "The tool is not to scale."),
        (places & {"near end", "far end"}, "Laminates at the ends are listed, not drawn."),
        (shared, "Where several laminates share a side, the one that covers most of it is drawn."),
        (section.opens == "length", "The tool opens along the length."),
        (section.opens not in ("", "length"), "It opens as the arrows point."),
    )
    return " ".join(sentences)


def _numbers(section: Section, units: str) -> Grid:
    columns: dict[str, Callable[[Wall], str]] = {
        "laminate": lambda wall: wall.zone,
        "place": lambda wall: wall.place or DASH,
        "plies": lambda wall: column(wall.plies, NUMBER, 0),
        f"thickness at gel [{in_units(MM, units).text}]": lambda wall: size(wall.thickness, units, bare=True),
        "of its side [%]": lambda wall: column(wall.share, PERCENT, 0),
    }
    return columned(section.walls, columns, 2, 3, 4, caption=f"Room {section.room}: what each wall takes")


def section_figure(section: Section, units: str, name: str, state: str = "") -> Picture:
    """The cross-section of a room with its letters; without a picture for a room given by its volume."""
    svg = ""
    if section.kind != VOLUME:
        wide, tall = section.width or 1.0, section.height or section.width or 1.0
        pad = TOOL * max(wide, tall)
        share = (tall + 3.45 * pad) / (wide + 3.1 * pad)
        broad = WIDTH if share <= MOST_TALL else WIDTH * MOST_TALL / share
        svg = drawn(lambda axes: draw_section(axes, section, units), name, size=(broad, broad * share))
    title, words = f"Room {section.room}: cross-section", section_words(section, units, state)
    return Picture(svg, title, words, marks_of(section, units), _numbers(section, units))


def with_letters(axes: Axes, marks: Iterable[tuple[str, str]]) -> None:
    """The sentences of the letters below a picture that stands without a page."""
    text = "\n".join(in_lines(f"{letter}: {words}", 2 * KEY) for letter, words in marks)
    axes.text(
        0.5, -0.02, text, transform=axes.transAxes, ha="center", multialignment="left", va="top",
        fontsize=SIZE, color=INK,
    )  # fmt: skip
