"""An answer in blocks on the screen: the answer first, the table next, the reasons last."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from . import tables

if TYPE_CHECKING:
    from laminate.show.blocks import Block


def show(blocks: Iterable[Block]) -> None:
    """Print an answer; headings stand alone, everything else below them."""
    from laminate.show.blocks import Grid, Heading

    before: Block | None = None
    for block in blocks:
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
