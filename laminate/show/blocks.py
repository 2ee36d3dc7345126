"""What a person reads, in order, before it is decided whether a screen, a page or a notebook shows it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

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

    drawn: told by the picture of its section, where there is one; page: told on a page alone.
    """

    text: str
    strong: bool = False
    item: bool = False
    to: str = ""
    drawn: bool = False
    page: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: headings with their units, rows of text, which columns stand at the right, what it shows.

    narrow: fits a telephone as it is; first: part of the answer, never folded; left_out: rows that it does
    not have, of the first and last of very many.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    caption: str = ""
    narrow: bool = False
    first: bool = False
    left_out: int = 0

    def changed(self, change: Callable[[str], str]) -> Grid:
        """The same with caption and cells changed."""
        rows = tuple(tuple(map(change, row)) for row in self.rows)
        return replace(self, rows=rows, caption=change(self.caption))

    @property
    def long(self) -> bool:
        """Whether a telephone, which shows each row as a list, folds it."""
        return len(self.rows) > FOLDED and not self.first and "narrow" not in self.kind

    @property
    def kind(self) -> str:
        """How a page lays it out: a short one stays on one sheet, a narrow one keeps its columns."""
        lines = sum(1 + max(cell.count("\n") + len(cell) // WRAPPED for cell in row) for row in self.rows)
        widths = [max(map(len, column)) for column in zip(self.columns, *self.rows, strict=True)]
        narrow = self.narrow or sum(widths) + 2 * len(widths) <= NARROW
        return " ".join(word for word, holds in (("narrow", narrow), ("short", lines <= SHORT)) if holds)


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what is stated for each."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One of several things told alike: its name, sentences, facts beside a picture, tables that fold.

    more: what stands over its tables where they are folded; draw: makes its picture, a `Picture`
    or None.
    """

    text: str
    blocks: tuple[Sentence | Facts, ...]
    tables: tuple[Grid, ...] = ()
    more: str = ""
    draw: Callable[[], Any] = lambda: None


Piece = Sentence | Grid | Facts | Entry
Block = Heading | Piece


def flat(blocks: Iterable[Block]) -> Iterator[Heading | Sentence | Grid | Facts]:
    """What a screen shows: entries as headings with what they have, without what a page alone tells."""
    for block in blocks:
        if isinstance(block, Entry):
            yield from (Heading(block.text), *block.blocks, *block.tables)
        elif not (isinstance(block, Sentence) and block.page):
            yield block


def changed(block: Block, change: Callable[[str], str]) -> Block:
    """A block with every text of it changed."""
    if isinstance(block, Grid):
        return block.changed(change)
    if isinstance(block, Facts):
        return Facts(tuple((name, change(value)) for name, value in block.pairs))
    if isinstance(block, Entry):
        inside: Any = tuple(changed(piece, change) for piece in block.blocks)
        return replace(block, blocks=inside, tables=tuple(grid.changed(change) for grid in block.tables))
    return replace(block, text=change(block.text))


def columned(
    rows: Iterable[Any], columns: Mapping[str, Callable[[Any], str]], *right: int, caption: str = ""
) -> Grid:
    """A table: what each column says of each of some things; right: which columns hold numbers."""
    cells = tuple(tuple(say(row) for say in columns.values()) for row in rows)
    return Grid(tuple(columns), cells, right, caption)


def listing(heading: str, texts: Sequence[str]) -> list[Block]:
    """A heading and an item a line; nothing where there is none."""
    return [Heading(heading), *items(texts)] if texts else []


def items(texts: Iterable[str]) -> list[Sentence]:
    """A sentence an item of a list."""
    return [Sentence(text, item=True) for text in texts]


def holding(*lines: tuple[object, str]) -> list[str]:
    """The texts whose condition, beside each, holds."""
    return [text for holds, text in lines if holds]


def sentences(texts: Iterable[str]) -> list[Block]:
    """Plain sentences, without the empty ones."""
    return [Sentence(text) for text in texts if text]
