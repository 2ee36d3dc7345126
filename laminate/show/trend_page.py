"""The answer of `trend` as a document: its words, and a chart of each series."""

from __future__ import annotations

from dataclasses import replace

from laminate.history.trending import Studied, Trend
from laminate.show import trend_plot, trend_words
from laminate.show.chart import Figure
from laminate.show.document import Document
from laminate.show.numbers import typeset
from laminate.values.problems import marked


def chart_figure(studied: Studied, units: str, title: str, answer: str) -> Figure:
    """The control chart of a series, with a letter for each signal; needs a chart."""
    chart, series = studied.chart, studied.series
    assert chart is not None
    scale = trend_words.series_scale(series, units)
    names = [marked(trend_words.name_of(series, place)) for place in range(len(series.points))]
    what = typeset(f"{title} [{scale.unit}]" if scale.unit else title)
    marks = tuple(
        (letter, ("" if signal.current else "past: ") + trend_words.signal_words(signal, series))
        for letter, signal in trend_plot.lettered(chart)
    )
    svg = trend_plot.chart_svg(studied, scale, names, what)
    narrow = trend_plot.chart_svg(studied, scale, names, what, trend_plot.NARROWEST)
    caption = trend_plot.caption(studied, scale)
    return Figure(svg, f"Control chart: {title}", caption, marks, aloud=f"{answer}.", narrow=narrow)


def trend_document(trend: Trend, units: str) -> Document:
    """The answer of `trend`: its words, and a chart of each series."""
    lines, titles = list(trend_words.answers(trend)), list(trend_words.titles(trend))

    def draw() -> list[Figure]:
        return [
            replace(chart_figure(studied, units, titles[at], lines[at]), place=trend_words.place_of(at))
            for at, studied in enumerate(trend.studied)
            if studied.chart is not None
        ]

    return Document(
        "Batches over time",
        trend.folder,
        lambda: trend_words.blocks(trend, units),
        trend_words.blocks(trend, units, why=False),
        "" if trend.all_verify else "open",
        draw,
    )
