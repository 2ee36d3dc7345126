"""An answer in blocks on the screen: the answer first, the table next, the reasons last."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from . import tables

if TYPE_CHECKING:
    from laminate.show.blocks import Block


def ending(blocks: Sequence[Block]) -> list[Block]:
    """The sentences with which a screen says its answer again."""
    from laminate.show.blocks import Sentence

    strong = [isinstance(block, Sentence) and block.strong for block in blocks]
    start = next((at for at in range(len(strong), 0, -1) if not strong[at - 1]), 0)
    return list(blocks[start:]) if start else []


def show(blocks: Sequence[Block], written: Path | None = None) -> None:
    """Print an answer; headings stand alone, everything else below them.

    written: a page with the same, which is named before the answer is said again.
    """
    from laminate.show.blocks import Grid, Heading, Sentence

    last = ending(blocks)
    named = [Sentence(f"Written: {written}")] if written else []
    before: Block | None = None
    for block in [*blocks[: len(blocks) - len(last)], *named, *last]:
        if isinstance(block, Heading):
            print()
            tables.paragraph(block.text, bold=True)
        elif isinstance(block, Grid):
            if before is not None and not isinstance(before, Heading):
                print()
            tables.table(block.columns, block.rows, right=block.right)
        else:
            if isinstance(before, Grid):
                print()
            tables.paragraph(block.text, bold=block.strong)
        before = block
