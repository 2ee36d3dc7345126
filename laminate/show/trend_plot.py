"""The control chart of a series as a picture: rings with letters lead to the signals."""

from __future__ import annotations

from string import ascii_lowercase
from typing import TYPE_CHECKING

from laminate.show.blocks import holding
from laminate.show.chart import DASHES, DOTS, FULL, GRAY, INK, PALE, plain_axes, ring

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from laminate.history.control import Chart, Signal
    from laminate.history.trending import Studied
    from laminate.show.numbers import Scale

MOST_NAMES = 24
LONGEST_NAME = 16
"""Characters below the axis."""
NARROWEST, WIDEST, HIGH = 4.2, 9.0, 3.4
"""Inches."""


def lettered(chart: Chart) -> list[tuple[str, Signal]]:
    """The signals with their letters, as many as there are letters."""
    return list(zip(ascii_lowercase, chart.signals, strict=False))


def draw_chart(
    axes: Axes, studied: Studied, chart: Chart, scale: Scale, names: Sequence[str], what: str, most: int
) -> None:
    """Draw the points of a series with ±, middle, control limits, limits of the part and signals.

    names: of the points; what: is shown on the axis, with its unit; most: names that stand below it.
    """
    points = studied.series.points
    values = [scale.to(point.value) for point in points]
    spreads = [scale.by(point.u or 0.0) for point in points]
    places = range(len(points))
    axes.axhline(scale.to(chart.centre), color=GRAY, linewidth=1.0)
    for limit in (chart.lower, chart.upper):
        axes.axhline(scale.to(limit), color=GRAY, linewidth=1.0, linestyle=DASHES)
    _limits(axes, studied, chart, scale)
    axes.errorbar(places, values, spreads, color=INK, linewidth=0.9, marker="o", markersize=4, capsize=2)
    seen = sorted({place for s in chart.signals if s.code != "slope" for place in range(s.first, s.last + 1)})
    if seen:
        axes.plot(
            seen, [values[p] for p in seen], linestyle="none", marker="o", markersize=9,
            markerfacecolor="none", markeredgecolor=INK, markeredgewidth=1.1,
        )  # fmt: skip
    taken: dict[int, int] = {}
    for letter, signal in lettered(chart):
        row = taken[signal.last] = taken.get(signal.last, 0) + 1
        ring(axes, signal.last, values[signal.last], letter, shift=(0.0, 3.0 + 13.0 * row))
    axes.margins(y=0.16)
    for mark in studied.marks:
        if mark.what == "lot":
            axes.axvline(mark.place - 0.5, color=PALE, linewidth=1.0, linestyle=DOTS)
    step = -(-len(names) // most)
    plain_axes(axes, "", what)
    axes.set_xticks(places[::step], shortened(names)[::step], rotation=60, ha="right", parse_math=False)


def shortened(names: Sequence[str]) -> list[str]:
    """Names that fit below an axis: the start of long ones, or their end where many start alike.

    >>> shortened(["26-031 of the second shift", "26-032 of the second shift"])
    ['26-031 of the s…', '26-032 of the s…']
    """
    starts = [name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…" for name in names]
    ends = [name if len(name) <= LONGEST_NAME else f"…{name[1 - LONGEST_NAME :]}" for name in names]
    return starts if len(set(starts)) >= len(set(ends)) else ends


def _limits(axes: Axes, studied: Studied, chart: Chart, scale: Scale) -> None:
    """The limits on batch averages, or on individuals where there are no others, if the chart comes near."""
    limits = studied.series.limits
    reach = 3.0 * (chart.upper - chart.lower)
    for limit in limits.get("average", limits.get("individual", (None, None))):
        if limit is not None and abs(limit - chart.centre) <= reach:
            axes.axhline(scale.to(limit), color=INK, linewidth=1.6, linestyle=FULL)


def caption(studied: Studied, chart: Chart, scale: Scale) -> str:
    """The picture in words: what each line and mark is."""
    low, high = scale.number(chart.lower, chart.sigma), scale.text(chart.upper, chart.sigma)
    words = holding(
        (True, f"Thin line: middle, {scale.text(chart.centre, chart.sigma)}."),
        (True, f"Dashes: control limits, {low} and {high}."),
        (True, "Thick lines: limits of the part, where they are near. Bars: standard uncertainty."),
        (chart.signals, "Rings: batches that show a signal, with its letter."),
        (any(mark.what == "lot" for mark in studied.marks), "Dots upright: change of material lot."),
    )
    return " ".join(words)
