"""What a person reads, in order, before it is decided whether a screen, a page or a notebook shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SHORT = 8
"""Rows of a table that is not parted between two pages."""

NARROW = 40
"""Characters of a row that a telephone shows as it is."""

WRAPPED = 30
"""Characters of a cell that stand on one line of a sheet, about."""

FOLDED = 3
"""Rows of a wide table that a telephone shows without folding it."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A few words above what follows; detail: of reasons, which a small screen folds; place: its address."""

    text: str
    detail: bool = False
    place: str = ""


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence or a few; strong: the answer itself; item: one of a list; to: the address of what is more.

    drawn: told by the picture of its section, where there is one.
    """

    text: str
    strong: bool = False
    item: bool = False
    to: str = ""
    drawn: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: headings with their units, rows of text, which columns stand at the right, what it shows.

    narrow: fits a telephone as it is.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    caption: str = ""
    narrow: bool = False

    @property
    def long(self) -> bool:
        """Whether a telephone, which shows each row as a list, folds it."""
        return len(self.rows) > FOLDED and "narrow" not in self.kind

    @property
    def kind(self) -> str:
        """How a page lays it out: a short one stays on one sheet, a narrow one keeps its columns."""
        lines = sum(1 + max(cell.count("\n") + len(cell) // WRAPPED for cell in row) for row in self.rows)
        widths = [max(map(len, column)) for column in zip(self.columns, *self.rows, strict=True)]
        narrow = self.narrow or sum(widths) + 2 * len(widths) <= NARROW
        return " ".join(word for word, holds in (("narrow", narrow), ("short", lines <= SHORT)) if holds)


Block = Heading | Sentence | Grid


def listing(heading: str, texts: Sequence[str]) -> list[Block]:
    """A heading and an item a line; nothing where there is none."""
    return [Heading(heading), *(Sentence(text, item=True) for text in texts)] if texts else []


def sentences(texts: Sequence[str]) -> list[Block]:
    """Plain sentences, without the empty ones."""
    return [Sentence(text) for text in texts if text]
