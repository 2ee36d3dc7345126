"""Every page: one file that needs nothing else, no network, no script, no fonts of its own; one stylesheet.

The words are made elsewhere; here they are only placed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from laminate.show.blocks import Block, Grid, Heading, Sentence

if TYPE_CHECKING:
    from jinja2 import Environment

    from laminate.show.chart import Figure

_QUOTED = re.compile(r"""("[^"]*"|`[^`]*`|(?<!\w)'[^']*'(?!\w))""")
_UNITS = {"degC": "°C", "degF": "°F", "^2": "²", "^3": "³"}
_PLAIN = re.compile(r"\bdeg[CF]\b|(?<=[A-Za-z])\^[23](?![0-9])")


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page: heading, its blocks, whether a small screen may fold it, pictures, its address."""

    heading: str
    blocks: tuple[Sentence | Grid, ...]
    detail: bool = False
    figures: tuple[Figure, ...] = ()
    place: str = ""


def printed(text: str) -> str:
    """Text with units as they are printed; what stands in quotes, to be typed, stays as it is.

    >>> printed('120 degC, 1.30 g/cm^3; write "1.79 g/cm^3"')
    '120 °C, 1.30 g/cm³; write "1.79 g/cm^3"'
    """
    parts = _QUOTED.split(text)
    return "".join(
        part if number % 2 else _PLAIN.sub(lambda found: _UNITS[found[0]], part)
        for number, part in enumerate(parts)
    )


def printed_grid(grid: Grid) -> Grid:
    """A table with units as they are printed."""
    rows = tuple(tuple(map(printed, row)) for row in grid.rows)
    return replace(grid, columns=tuple(map(printed, grid.columns)), rows=rows, caption=printed(grid.caption))


def _shown(block: Sentence | Grid) -> Sentence | Grid:
    return printed_grid(block) if isinstance(block, Grid) else replace(block, text=printed(block.text))


def sections_of(blocks: Iterable[Block]) -> tuple[tuple[Sentence | Grid, ...], list[Section]]:
    """What stands before the first heading, and the sections that headings begin."""
    lead: list[Sentence | Grid] = []
    found: list[Section] = []
    for block in blocks:
        if isinstance(block, Heading):
            found.append(Section(printed(block.text), (), block.detail))
        elif found:
            found[-1] = replace(found[-1], blocks=(*found[-1].blocks, _shown(block)))
        else:
            lead.append(_shown(block))
    return tuple(lead), found


def page_of(
    title: str,
    named: str,
    blocks: Sequence[Block],
    figures: Sequence[Figure] = (),
    *,
    kind: str = "",
) -> str:
    """A page: what it is about, the answer, pictures, everything else in words, numbers of the pictures last.

    blocks: strong sentences before the first heading are the answer; kind: of the answer, for its frame: yes,
    no or open.
    """
    lead, sections = sections_of(blocks)
    numbers = [figure.numbers for figure in figures if figure.numbers is not None]
    return render(
        "answer.html",
        title=title,
        named=named,
        kind=kind,
        answers=[one for one in lead if isinstance(one, Sentence) and one.strong],
        lead=[one for one in lead if not (isinstance(one, Sentence) and one.strong)],
        figures=figures,
        sections=sections,
        numbers=[printed_grid(grid) for grid in numbers],
    )


def render(template: str, **view: Any) -> str:
    """A template of this room, filled."""
    return str(_environment().get_template(template).render(view))


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("laminate.show", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters["printed"] = printed
    return found
