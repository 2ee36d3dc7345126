"""The answer of `fill` or `core` as one self-contained page: the words of the screen, and figures."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from laminate.show.blocks import Block, Grid, Heading
from laminate.show.core_words import core_blocks
from laminate.show.engineer_plots import Figure, fiber_volume_figure, pressure_figure
from laminate.show.fill_words import fill_blocks
from laminate.show.numbers import typeset_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.press.filling import Fill
    from laminate.press.pressing import Cores


@cache
def _template() -> Any:
    from importlib.resources import files

    from jinja2 import Environment, StrictUndefined

    text = (files("laminate.show") / "templates" / "engineer.html").read_text("utf-8")
    return Environment(
        autoescape=True,
        undefined=StrictUndefined,
        finalize=typeset_text,
        trim_blocks=True,
        lstrip_blocks=True,
    ).from_string(text)


def _kind(block: Block) -> dict[str, Any]:
    if isinstance(block, Grid):
        return {"kind": "grid", "columns": block.columns, "rows": block.rows, "right": block.right}
    if isinstance(block, Heading):
        return {"kind": "heading", "text": block.text}
    return {"kind": "answer" if block.strong else "sentence", "text": block.text}


def page_of(title: str, named: str, blocks: Sequence[Block], figures: Sequence[Figure]) -> str:
    """A page: what it is about, the answer, figures, and everything else in words."""
    shown = [_kind(block) for block in blocks]
    return str(
        _template().render(
            title=title,
            part=named,
            answers=[block for block in shown if block["kind"] == "answer"],
            figures=figures,
            blocks=[block for block in shown if block["kind"] != "answer"],
        )
    )


def _page(found: Fill | Cores, title: str, blocks: Sequence[Block], figures: Sequence[Figure]) -> str:
    head = found.part.part
    number = f"{head.number} issue {head.issue}" if head.number else ""
    return page_of(title, " ".join(word for word in (number, head.name) if word), blocks, figures)


def fill_page(found: Fill, units: str) -> str:
    """The page of `fill`: fiber volume against ply count for every zone, and the answer in words."""
    figures = [fiber_volume_figure(zone, f"zone{i}") for i, zone in enumerate(found.zones)]
    return _page(found, "Plies that fill the gap", fill_blocks(found, units), figures)


def core_page(found: Cores, units: str) -> str:
    """The page of `core`: pressure against temperature for every core, and the answer in words."""
    drawn = [
        pressure_figure(core, zone, units, f"core{i}-{k}")
        for i, core in enumerate(found.cores)
        for k, zone in enumerate(core.zones)
    ]
    figures = [figure for figure in drawn if figure is not None]
    return _page(found, "Expanding core", core_blocks(found, units), figures)
