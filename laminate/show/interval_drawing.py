"""A drawing of values with their uncertainty against limits, as SVG; all of it in black and gray."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from laminate.show.chart import INK, PALE, SIZE, styled, svg_of

WIDTH = 3.6
"""Width [in]; so drawn, its text is readable on a telephone."""

LEFT, RIGHT, BOTTOM, TOP = 0.86, 0.18, 0.44, 0.05
ROW, HEAD, GAP = 0.21, 0.24, 0.08
MOST_NAMED = 30
"""With more rows than this they are set close, without names; the table has them."""

TALLEST = 5.0
LONGEST = 11
"""Most characters of a name beside its row; of a longer one the end is shown, where names differ most."""


@dataclass(frozen=True)
class Row:
    """One value: name, value, expanded uncertainty and guard band in the unit of the drawing."""

    name: str
    value: float
    expanded: float
    guard: float


@dataclass(frozen=True)
class Group:
    """Values held against one pair of limits; average: drawn as a diamond, its limits dashed."""

    rows: tuple[Row, ...]
    low: float | None
    high: float | None
    average: bool = False

    @property
    def limits(self) -> list[float]:
        """The limits there are."""
        return [limit for limit in (self.low, self.high) if limit is not None]


def drawing(groups: Sequence[Group], unit: str) -> str:
    """The SVG of some groups, from top to bottom on one axis.

    unit: as it is written under the axis. Equal input gives equal text.
    """
    from matplotlib.figure import Figure

    rows = sum(len(group.rows) for group in groups)
    named = rows <= MOST_NAMED
    pitch = ROW if named else min(ROW, TALLEST / rows)
    height = TOP + BOTTOM + rows * pitch + len(groups) * (HEAD + GAP)
    with styled():
        figure = Figure(figsize=(WIDTH, height))
        wide, tall = WIDTH - LEFT - RIGHT, height - BOTTOM - TOP
        axes = figure.add_axes((LEFT / WIDTH, BOTTOM / height, wide / WIDTH, tall / height))
        axes.set_xlim(*span(groups))
        axes.set_ylim(tall, 0.0)
        y = 0.0
        for group in groups:
            y = _group(axes, group, y, pitch, named)
        axes.set_yticks([])
        axes.spines[["left", "right", "top"]].set_visible(False)
        axes.locator_params(axis="x", nbins=5)
        axes.ticklabel_format(axis="x", useOffset=False, style="plain")
        axes.tick_params(axis="x", length=3)
        axes.set_xlabel(unit, labelpad=1)
        return svg_of(figure)


def span(groups: Sequence[Group]) -> tuple[float, float]:
    """The ends of the axis: every limit and value with its uncertainty, and some room."""
    ends = [end for g in groups for r in g.rows for end in (r.value - r.expanded, r.value + r.expanded)]
    ends += [limit for group in groups for limit in group.limits]
    low, high = min(ends), max(ends)
    room = 0.1 * (high - low) or 0.1 * abs(high) or 1.0
    return low - room, high + room


def _group(axes: Any, group: Group, y: float, pitch: float, named: bool) -> float:
    """Draw one group from y downward; returns where the next one starts."""
    top, bottom = y + HEAD, y + HEAD + pitch * len(group.rows)
    places = [top + pitch * (row + 0.5) for row in range(len(group.rows))]
    _guard_bands(axes, group, places, pitch)
    _values(axes, group, places, named)
    if named:
        across = axes.get_yaxis_transform()
        for row, place in zip(group.rows, places, strict=True):
            name = row.name if len(row.name) <= LONGEST else f"…{row.name[1 - LONGEST :]}"
            axes.text(-0.03, place, name, transform=across, ha="right", va="center", fontsize=SIZE, color=INK)
    style = (0, (4, 2)) if group.average else "solid"
    for limit in group.limits:
        axes.plot([limit, limit], [top - 0.03, bottom], color=INK, linewidth=1.3, linestyle=style)
    low, high = axes.get_xlim()
    near = len(group.limits) == 2 and group.limits[1] - group.limits[0] < 0.3 * (high - low)
    for end, words, side in ((group.low, "min", "right"), (group.high, "max", "left")):
        if end is not None:
            at = {"ha": side if near else "center", "va": "bottom"}
            axes.text(end, top - 0.06, f"{words} {end:g}", fontsize=SIZE, color=INK, **at)
    return bottom + GAP


def _guard_bands(axes: Any, group: Group, places: Sequence[float], pitch: float) -> None:
    """Hatched, a piece a row, between each limit and the least or greatest value that is accepted."""
    from matplotlib.collections import PolyCollection

    bands = [
        [(limit, above), (inner, above), (inner, below), (limit, below)]
        for limit, inward in ((group.low, 1.0), (group.high, -1.0))
        for row, place in zip(group.rows, places, strict=True)
        if limit is not None and row.guard
        for inner in [limit + inward * row.guard]
        for above, below in [(place - pitch / 2, place + pitch / 2)]
    ]
    if bands:
        hatched = PolyCollection(bands, hatch="//////", facecolor="none", edgecolor=PALE, linewidth=0)
        axes.add_collection(hatched, autolim=False)


def _values(axes: Any, group: Group, places: Sequence[float], named: bool) -> None:
    """A bar of ± the expanded uncertainty through each value."""
    ends = [[row.value + sign * row.expanded for row in group.rows] for sign in (-1.0, 1.0)]
    axes.hlines(places, *ends, color=INK, linewidth=1.1)
    if named:
        for end in ends:
            axes.plot(end, places, color=INK, marker="|", markersize=6, linestyle="none")
    marker, size = ("D", 5.0) if group.average else ("o", 4.5 if named else 2.5)
    values = [row.value for row in group.rows]
    axes.plot(values, places, color=INK, marker=marker, markersize=size, linestyle="none")
