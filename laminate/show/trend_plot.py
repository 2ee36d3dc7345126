"""The control chart of a series as a picture: every point by its shape, not by color alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.history.trending import Studied
    from laminate.show.trend_shown import Scale

MOST_NAMES = 24
INK, QUIET, LIMIT, SEEN = "#1b1b1b", "#6b6b6b", "#8a5a00", "#b00020"


def _names(names: Sequence[str]) -> list[tuple[int, str]]:
    step = -(-len(names) // MOST_NAMES)
    return [(place, name) for place, name in enumerate(names) if place % step == 0]


def chart_svg(studied: Studied, scale: Scale, names: Sequence[str], what: str) -> str:
    """The chart as SVG, with its words as text; needs a chart.

    names: of the points; what: is shown on the axis, with its unit.
    """
    from io import StringIO

    import matplotlib as mpl
    from matplotlib.figure import Figure

    chart, points = studied.chart, studied.series.points
    if chart is None:
        raise ValueError("a series without a chart has no picture")
    values = [scale.to(point.value) for point in points]
    spreads = [scale.by(point.u or 0.0) for point in points]
    places = range(len(points))
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "laminate", "font.family": "sans-serif"}):
        figure = Figure(figsize=(max(6.0, min(14.0, 0.34 * len(points) + 2.5)), 3.6), layout="constrained")
        axes = figure.add_subplot()
        axes.axhline(scale.to(chart.centre), color=QUIET, linewidth=1.0)
        for limit in (chart.lower, chart.upper):
            axes.axhline(scale.to(limit), color=QUIET, linewidth=1.0, linestyle=(0, (6, 3)))
        _limits(axes, studied, scale)
        axes.errorbar(places, values, spreads, color=INK, linewidth=0.9, marker="o", markersize=4, capsize=2)
        seen = sorted({place for s in chart.signals for place in range(s.first, s.last + 1)})
        if seen:
            axes.plot(
                seen, [values[p] for p in seen], linestyle="none", marker="s", markersize=9,
                markerfacecolor="none", markeredgecolor=SEEN, markeredgewidth=1.4,
            )  # fmt: skip
        for mark in studied.marks:
            if mark.what == "lot":
                axes.axvline(mark.place - 0.5, color=QUIET, linewidth=0.8, linestyle=":")
        ticks = _names(names)
        axes.set_xticks(
            [place for place, _ in ticks],
            [name for _, name in ticks],
            rotation=60,
            ha="right",
            parse_math=False,
        )
        axes.set_ylabel(what, parse_math=False)
        axes.spines[["top", "right"]].set_visible(False)
        page = StringIO()
        figure.savefig(page, format="svg", metadata={"Date": None, "Creator": None})
    return page.getvalue()


def _limits(axes: object, studied: Studied, scale: Scale) -> None:
    """The limits on batch averages, or on individuals where there are no others, if the chart comes near."""
    from matplotlib.axes import Axes

    assert isinstance(axes, Axes)
    chart, limits = studied.chart, studied.series.limits
    assert chart is not None
    reach = 3.0 * (chart.upper - chart.lower)
    for limit in limits.get("average", limits.get("individual", (None, None))):
        if limit is not None and abs(limit - chart.centre) <= reach:
            axes.axhline(scale.to(limit), color=LIMIT, linewidth=1.4, linestyle=(0, (2, 2)))


def caption(studied: Studied, scale: Scale) -> str:
    """The picture in words: what each line and mark is."""
    chart = studied.chart
    assert chart is not None
    words = [
        f"Full line: middle, {scale.text(chart.centre, chart.sigma)}.",
        f"Long dashes: control limits, {scale.number(chart.lower, chart.sigma)} and "
        f"{scale.text(chart.upper, chart.sigma)}.",
        "Short dashes: limits of the part, where they are near.",
        "Bars: standard uncertainty.",
    ]
    if chart.signals:
        words.append("Squares: batches that show a signal.")
    if any(mark.what == "lot" for mark in studied.marks):
        words.append("Dots upright: change of material lot.")
    return " ".join(words)
