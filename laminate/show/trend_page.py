"""The page of `trend`: batches over time, pictures inside it, their words and numbers beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.show import trend_plot, trend_words
from laminate.show.blocks import Block, Heading, Sentence
from laminate.show.chart import Figure
from laminate.show.document import Document
from laminate.show.numbers import typeset
from laminate.show.pages import Section, render, sections_of
from laminate.show.trend_shown import plain

if TYPE_CHECKING:
    from laminate.history.trending import Studied, Trend


def chart_figure(studied: Studied, units: str, title: str, answer: str) -> Figure:
    """The control chart of a series, with a letter for each signal; needs a chart."""
    chart, series = studied.chart, studied.series
    assert chart is not None
    scale = trend_words.scale_of(series, units)
    names = [plain(trend_words.name_of(series, place)) for place in range(len(series.points))]
    what = typeset(f"{title} [{scale.unit}]" if scale.unit else title)
    marks = tuple(
        (letter, plain(trend_words.signal_words(signal, series)))
        for letter, signal in trend_plot.lettered(chart)
    )
    svg = trend_plot.chart_svg(studied, scale, names, what)
    narrow = trend_plot.chart_svg(studied, scale, names, what, trend_plot.NARROWEST)
    caption = trend_plot.caption(studied, scale)
    return Figure(svg, f"Control chart: {title}", caption, marks, aloud=f"{answer}.", narrow=narrow)


def _series(studied: Studied, number: int, units: str, *, with_part: bool) -> Section:
    answer = plain(trend_words.first_answer(studied, with_part=with_part))
    title = plain(trend_words.title(studied.series, with_part=with_part))
    figures = () if studied.chart is None else (chart_figure(studied, units, title, answer),)
    told = [
        block
        for block in trend_words.series_blocks(studied, units)
        if not (figures and isinstance(block, Sentence) and block.text.startswith(trend_words.SIGNAL))
    ]
    blocks, more = sections_of([Heading(title), *told])
    assert not blocks
    inside = [block for section in more for block in (*_named(section, title), *section.blocks)]
    return Section(title, tuple(inside), figures=figures, place=f"series-{number}")


def _named(section: Section, title: str) -> tuple[Sentence, ...]:
    """The heading inside a series as a sentence of its own."""
    return () if section.heading == title else (Sentence(section.heading, strong=True),)


def trend_document(trend: Trend, units: str) -> Document:
    """The answer of `trend`: the words of the screen."""
    short = trend_words.blocks(trend, units, why=False)
    return Document("Batches over time", plain(trend.folder), lambda: trend_words.blocks(trend, units), short)


def page(trend: Trend, units: str) -> str:
    """The whole answer as HTML.

    units: 'metric' or 'us'. All text of people is escaped.
    """
    parts = {studied.series.key.part for studied in trend.studied}
    series = [
        _series(studied, number, units, with_part=len(parts) > 1)
        for number, studied in enumerate(trend.studied, 1)
    ]
    _, records = sections_of([Heading("Records"), *trend_words.record_blocks(trend)])
    last: list[Block] = [
        Heading("How it is computed"),
        Sentence(trend_words.CONSTANTS),
        Sentence(trend_words.AUTHORITY),
    ]
    return render(
        "trend.html",
        folder=plain(trend.folder),
        all_verify=trend.all_verify,
        lead=plain(trend_words.lead(trend, len(parts) > 1)) if trend.studied else "",
        answers=[(one.place, text) for one, text in zip(series, trend_words.answers(trend), strict=True)],
        sections=[Section("Records", records[0].blocks, place="records"), *series, *sections_of(last)[1]],
    )
