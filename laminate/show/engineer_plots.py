"""Fiber volume against ply count, with the limits of the drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.show.chart import DASHES, DOTS, GRAY, INK, PALE, SIZE, Figure, drawn, key_below, plain_axes
from laminate.show.engineer_text import listed, plies, size
from laminate.values.quantities import PERCENT, shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from laminate.press.filling import ZoneFill
    from laminate.press.pressed import PressedFill

MARKS = {"too few": "v", "not pressed": "v", "too many": "^", "opens the tool": "^", "not judged": "x"}


def draw_fiber_volume(axes: Axes, zone: ZoneFill | PressedFill) -> None:
    """Draw fiber volume of the cured part against ply count, its limits and its expanded uncertainty."""
    seen = set()
    use = zone.use if zone.advised else None
    for row in zone.rows:
        label = None if row.verdict in seen else row.verdict
        seen.add(row.verdict)
        axes.errorbar(
            row.plies, shown(row.part["fiber_volume"].value, PERCENT),
            yerr=100.0 * (row.part["fiber_volume"].expanded or 0.0), fmt=MARKS.get(row.verdict, "o"),
            color=INK, ecolor=PALE,
            elinewidth=3, markersize=8 if row is use else 6, label=label, zorder=3,
            markerfacecolor=INK if row is use else "white",
        )  # fmt: skip
    for rule in zone.limits:
        for bound, word in ((rule.low, "min"), (rule.high, "max")):
            if rule.attribute == "fiber_volume" and abs(bound) < 10.0:
                style = DASHES if rule.scope == "individual" else DOTS
                axes.axhline(shown(bound, PERCENT), color=GRAY, linestyle=style, linewidth=1)
                axes.annotate(
                    f"{rule.scope} {word}", (1.0, shown(bound, PERCENT)), xycoords=("axes fraction", "data"),
                    fontsize=SIZE - 1.0, color=GRAY, ha="right", va="bottom",
                )  # fmt: skip
    axes.margins(0.08)
    plain_axes(axes, "plies", "fiber volume [%]")
    axes.set_xticks([row.plies for row in zone.rows])
    key_below(axes)


def fiber_volume_figure(zone: ZoneFill | PressedFill, name: str) -> Figure:
    """Fiber volume of the cured part against ply count."""
    title = f"{zone.zone}: fiber volume of the cured part against ply count"
    each = [
        f"{plies(r.plies)} {size(r.part['fiber_volume'].value, 'metric', PERCENT)}, {r.verdict}"
        for r in zone.rows
    ]
    said = [
        f"{rule.scope} {word} {size(bound, 'metric', PERCENT)}"
        for rule in zone.limits
        if rule.attribute == "fiber_volume"
        for bound, word in ((rule.low, "min"), (rule.high, "max"))
        if abs(bound) < 10.0
    ]
    limits = f"Limits: {listed(said)}." if said else "No limits are set."
    advised = zone.use is not None and zone.advised
    filled = "the filled mark is the count to use" if advised else "no count is advised"
    marks = f"Bars are the expanded uncertainty at 95 %; {filled}."
    svg = drawn(lambda axes: draw_fiber_volume(axes, zone), name)
    return Figure(svg, title, f"{limits} {marks}", aloud=f"{'; '.join(each)}.")
