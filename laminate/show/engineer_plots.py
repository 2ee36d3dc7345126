"""Against ply count: fiber volume with the limits of the drawing, and the gaps that each count fills."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.press.counts import rules
from laminate.show.chart import (
    DASHES,
    DOTS,
    GRAY,
    INK,
    PALE,
    SIZE,
    WASH,
    Picture,
    drawn,
    in_numbers,
    key_below,
    plain_axes,
)
from laminate.show.engineer_text import listed, plies
from laminate.show.numbers import in_percent, in_units, size
from laminate.values.quantities import MM, PERCENT, shown, shown_difference

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from laminate.press.filling import ZoneFill
    from laminate.press.pressed import PressedFill

MARKS = {"too few": "v", "not pressed": "v", "too many": "^", "opens the tool": "^", "not judged": "x",
         "depends on the bleed": "d", "presses, may open": "d", "fits, may open": "d"}  # fmt: skip


def draw_fiber_volume(axes: Axes, zone: ZoneFill | PressedFill) -> None:
    """Draw fiber volume of the cured part against ply count, its limits and its expanded uncertainty."""
    use = zone.use if zone.advised else None
    for row in zone.rows:
        axes.errorbar(
            row.plies, shown(row.part["fiber_volume"].value, PERCENT),
            yerr=100.0 * (row.part["fiber_volume"].expanded or 0.0), fmt=MARKS.get(row.says, "o"),
            color=INK, ecolor=PALE,
            elinewidth=3, markersize=8 if row is use else 6, zorder=3,
            markerfacecolor=INK if row is use else "white",
        )  # fmt: skip
    for verdict in dict.fromkeys(row.says for row in zone.rows):
        axes.plot([], [], MARKS.get(verdict, "o"), color=INK, markerfacecolor="white", label=verdict)
    for words, bound in _limits(zone):
        style = DASHES if words.startswith("individual") else DOTS
        axes.axhline(shown(bound, PERCENT), color=GRAY, linestyle=style, linewidth=1)
        axes.annotate(
            words, (1.0, shown(bound, PERCENT)), xycoords=("axes fraction", "data"), fontsize=SIZE - 1.0,
            color=GRAY, ha="right", va="bottom",
        )  # fmt: skip
    axes.margins(0.08)
    plain_axes(axes, "plies", "fiber volume [%]")
    axes.set_xticks([row.plies for row in zone.rows])
    key_below(axes)


def _limits(zone: ZoneFill | PressedFill) -> list[tuple[str, float]]:
    """The limits of the fiber volume, each with its words."""
    of_it = [rule for rule in rules(zone.case) if rule.attribute == "fiber_volume"]
    ends = [(f"{r.scope} {word}", end) for r in of_it for word, end in (("min", r.low), ("max", r.high))]
    return [(words, bound) for words, bound in ends if abs(bound) < 10.0]


def fiber_volume_figure(zone: ZoneFill | PressedFill, name: str) -> Picture:
    """Fiber volume of the cured part against ply count."""
    title = f"{zone.zone}: fiber volume of the cured part against ply count"
    values = [(row, in_percent(row.part["fiber_volume"].value)) for row in zone.rows]
    each = [f"{plies(row.plies)} {value}, {row.says}" for row, value in values]
    bounds = [f"{words} {in_percent(bound)}" for words, bound in _limits(zone)]
    limits = f"Limits: {listed(bounds)}." if bounds else "No limits are set."
    advised = zone.use is not None and zone.advised
    filled = "the filled mark is the count to use" if advised else "no count is advised"
    marks = f"Bars are the expanded uncertainty at 95 %; {filled}."
    svg = drawn(lambda axes: draw_fiber_volume(axes, zone), name)
    return Picture(svg, title, f"{limits} {marks}", aloud=f"{'; '.join(each)}.")


def draw_gaps(axes: Axes, zone: ZoneFill, units: str = "metric") -> None:
    """Draw the hot gaps that each count fills and closes to, and the hot gap of the zone across them."""
    unit, gap = in_units(MM, units), zone.hot_gap
    middle, half = shown(gap.value, unit), shown_difference(gap.expanded or 0.0, unit)
    if half:
        axes.axhspan(middle - half, middle + half, color=WASH, linewidth=0, label="± of the hot gap, 95 %")
    axes.axhline(middle, color=INK, linewidth=1.2, linestyle=DASHES, label="hot gap")
    for number, (row, ends) in enumerate(zip(zone.rows, zone.gaps, strict=True)):
        low, high = (shown(end, unit) for end in ends)
        chosen = row is zone.use
        axes.plot(
            [row.plies] * 2, [low, high], color=INK if chosen else GRAY, linewidth=3.2 if chosen else 1.4,
            marker="_", markersize=9, solid_capstyle="butt",
            label="fills and closes" if number == 0 else None,
        )  # fmt: skip
    axes.margins(0.1)
    plain_axes(axes, "plies", f"hot gap [{unit.text}]")
    axes.set_xticks([row.plies for row in zone.rows])
    key_below(axes)


def gaps_figure(zone: ZoneFill, units: str, name: str) -> Picture:
    """The gap window of every count, with the hot gap across."""
    unit, gap = in_units(MM, units), zone.hot_gap
    title = f"{zone.zone}: hot gaps that each count fills and closes to"
    sizes = [
        (f"{end} [{unit.text}]", [size(ends[k], units, bare=True) for ends in zone.gaps])
        for k, end in enumerate(("smallest", "largest"))
    ]
    numbers = in_numbers(title, ("plies", [str(row.plies) for row in zone.rows]), *sizes)
    chosen = f" Thick: {plies(zone.use.plies)}." if zone.use is not None else " No count fits."
    words = (
        f"A count fits where the hot gap, {size(gap.value, units)}, crosses its bar. A gap above the bar is "
        f"not filled, to one below it the tool does not close.{chosen}"
    )
    return Picture(drawn(lambda axes: draw_gaps(axes, zone, units), name), title, words, numbers=numbers)
