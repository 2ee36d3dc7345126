"""The answer of `trend` as a document: its words, and a chart of each series."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from laminate.history.control import Chart
from laminate.history.trending import Studied, Trend
from laminate.show import trend_plot, trend_words
from laminate.show.chart import Picture, drawn
from laminate.show.document import Document
from laminate.show.numbers import typeset
from laminate.show.trend_plot import HIGH, MOST_NAMES, NARROWEST, WIDEST, draw_chart
from laminate.values.problems import marked


def chart_figure(studied: Studied, chart: Chart, units: str, title: str, answer: str, place: str) -> Picture:
    """The control chart of a series, with a letter for each signal."""
    series, scale = studied.series, trend_words.series_scale(studied.series, units)
    names = [marked(trend_words.name_of(series, at)) for at in range(len(series.points))]
    what = typeset(f"{title} [{scale.unit}]" if scale.unit else title)
    marks = tuple(
        (letter, ("" if signal.current else "past: ") + trend_words.signal_words(signal, series))
        for letter, signal in trend_plot.lettered(chart)
    )

    def svg(name: str, widest: float, most: int) -> str:
        size = (max(NARROWEST, min(widest, 0.24 * len(names) + 2.2)), HIGH)
        return drawn(lambda axes: draw_chart(axes, studied, chart, scale, names, what, most), name, size=size)

    wide, narrow = svg("laminate", WIDEST, MOST_NAMES), svg("narrow", NARROWEST, MOST_NAMES // 2)
    caption, aloud = trend_plot.caption(studied, chart, scale), f"{answer}."
    return Picture(wide, f"Control chart: {title}", caption, marks, aloud=aloud, narrow=narrow, place=place)


def trend_figures(trend: Trend, units: str) -> Iterator[Picture]:
    """The control chart of each series that has one."""
    each = zip(trend.studied, trend_words.titles(trend), trend_words.answers(trend), strict=True)
    for at, (studied, title, answer) in enumerate(each):
        if studied.chart is not None:
            yield chart_figure(studied, studied.chart, units, title, answer, trend_words.place_of(at))


def trend_document(trend: Trend, units: str) -> Document:
    """The answer of `trend`: its words, and a chart of each series."""
    whole, draw = partial(trend_words.blocks, trend, units), partial(trend_figures, trend, units)
    kind = "" if trend.all_verify else "open"
    return Document("Batches over time", trend.folder, whole, whole(why=False), kind, draw)
