"""Every page: one file that needs nothing else, no network, no script, no fonts of its own; one stylesheet.

The words are made elsewhere; here they are only placed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from html import escape
from typing import TYPE_CHECKING

from laminate.show.blocks import Block, Heading, Piece, Sentence
from laminate.show.chart import source_of
from laminate.show.document import Document
from laminate.show.numbers import typeset, typeset_text

if TYPE_CHECKING:
    from jinja2 import Environment

    from laminate.show.chart import Picture

DIGEST = 64
"""Characters of a SHA-256."""

_CODE = re.compile(r"`([^`]+)`")
_IN_VALUE = re.compile(
    r"(?<=\d) (?=±|%|°|[ckm]?m\b|[km]?g\b|g/|[MG]?Pa\b|kN\b|K\b|psi\b|lbf?\b|plies\b|min\b)|(?<=±) (?=\d)"
)


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page: heading, its blocks, whether a small screen may fold it, pictures, its address."""

    heading: str
    blocks: Sequence[Piece]
    detail: bool = False
    figures: tuple[Picture, ...] = ()
    place: str = ""


def sections_of(blocks: Iterable[Block]) -> tuple[list[Piece], list[Section]]:
    """What stands before the first heading, and the sections that headings begin."""
    lead: list[Piece] = []
    below, sections = lead, []
    for block in blocks:
        if isinstance(block, Heading):
            below = []
            sections.append(Section(block.text, below, block.detail, place=block.place))
        else:
            below.append(block)
    return lead, sections


def page_of(document: Document) -> str:
    """A page: what it is about, the answer, pictures, everything else in words, numbers of the pictures last.

    Strong sentences before the first heading are the answer.
    """
    lead, sections = sections_of(document.blocks)
    figures = list(document.draw())
    answers = [block for block in lead if isinstance(block, Sentence) and block.strong]
    page = _environment().get_template("answer.html")
    return page.render(
        document=document,
        answers=answers[1:] if document.verdict else answers,
        lead=[block for block in lead if block not in answers],
        figures=[figure for figure in figures if not figure.place],
        sections=[_drawn(section, figures) for section in sections],
        listed=[section for section in sections if section.place] if document.verdict else [],
        numbers=[figure.numbers for figure in figures if figure.numbers is not None],
    )


def _drawn(section: Section, figures: Iterable[Picture]) -> Section:
    """A section with its pictures, without the sentences that they tell."""
    pictures = tuple(figure for figure in figures if figure.place and figure.place == section.place)
    blocks = tuple(block for block in section.blocks if not (isinstance(block, Sentence) and block.drawn))
    return replace(section, figures=pictures, blocks=blocks) if pictures else section


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("laminate.show", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=typeset_text,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {"lines": _lines, "long": _long, "prose": _prose, "source": source_of}
    return environment


def _lines(text: str, *, narrow: bool = False) -> str:
    """HTML of a text with a span a line; called for every cell, where a macro takes ten times as long."""
    shown = escape(typeset(text))
    shown = shown if narrow or " " not in shown else _IN_VALUE.sub("\N{NO-BREAK SPACE}", shown)
    return "".join(f'<span class="line">{line}</span>' for line in shown.split("\n"))


def _prose(text: str) -> str:
    """HTML of a sentence: commands in the type of code, and no line broken inside a value with its unit."""
    return _CODE.sub(r"<code>\1</code>", _IN_VALUE.sub("\N{NO-BREAK SPACE}", escape(typeset(text))))


def _long(text: str) -> str:
    """The class of a cell with a word too long for a narrow column, of a digest, or of a short one."""
    if len(text) == DIGEST and " " not in text:
        return "long digest"
    return "long" if any(len(word) > 14 for word in text.split()) else "brief" if len(text) < 12 else ""
