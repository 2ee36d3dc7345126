"""Batches over time as one page: no network, pictures inside it, their words and numbers beside them."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

from laminate.show import trend_plot, trend_words
from laminate.show.blocks import Block, Grid, Heading
from laminate.show.numbers import typeset_text
from laminate.show.trend_shown import plain

if TYPE_CHECKING:
    from laminate.history.trending import Studied, Trend


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Heading):
        return {"kind": "heading", "text": block.text}
    if isinstance(block, Grid):
        return {"kind": "grid", "columns": block.columns, "rows": block.rows, "right": block.right}
    return {"kind": "sentence", "text": block.text, "strong": block.strong}


def _series(studied: Studied, number: int, units: str, *, with_part: bool) -> dict[str, Any]:
    scale = trend_words.scale_of(studied.series, units)
    answer = plain(trend_words.first_answer(studied, with_part=with_part))
    title = plain(trend_words.title(studied.series, with_part=with_part))
    found: dict[str, Any] = {
        "id": f"series-{number}",
        "title": title,
        "answer": answer,
        "blocks": [_block(block) for block in trend_words.series_blocks(studied, units)],
        "picture": None,
    }
    if studied.chart is not None:
        names = [
            plain(trend_words.name_of(studied.series, place)) for place in range(len(studied.series.points))
        ]
        what = f"{title} [{scale.unit}]" if scale.unit else title
        svg = trend_plot.chart_svg(studied, scale, names, what)
        found["picture"] = base64.b64encode(svg.encode()).decode("ascii")
        found["caption"] = trend_plot.caption(studied, scale)
    return found


def page(trend: Trend, units: str) -> str:
    """The whole answer as HTML.

    units: 'metric' or 'us'. All text of people is escaped.
    """
    from importlib.resources import files

    from jinja2 import Environment, StrictUndefined

    source = (files("laminate.show") / "templates" / "trend.html").read_text("utf-8")
    room = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        finalize=typeset_text,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    parts = {studied.series.key.part for studied in trend.studied}
    return room.from_string(source).render(
        folder=plain(trend.folder),
        all_verify=trend.all_verify,
        answers=trend_words.answers(trend),
        records=[_block(block) for block in trend_words.record_blocks(trend)],
        series=[
            _series(studied, number, units, with_part=len(parts) > 1)
            for number, studied in enumerate(trend.studied, 1)
        ],
        constants=trend_words.CONSTANTS,
        authority=trend_words.AUTHORITY,
    )
