"""What a person reads, in order, before it is decided whether a screen or a page shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heading:
    """A few words above what follows."""

    text: str


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence or a few; strong: the answer itself."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: headings with their units, rows of text, which columns stand at the right."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


Block = Heading | Sentence | Grid


def sentences(texts: Sequence[str]) -> list[Block]:
    """Plain sentences, without the empty ones."""
    return [Sentence(text) for text in texts if text]
