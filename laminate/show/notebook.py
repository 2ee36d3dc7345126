"""An answer in a notebook: one piece of HTML that needs nothing else, in the notebook's own ink."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from laminate.show.blocks import Block, Entry, Facts, Grid, Heading, flat
from laminate.show.numbers import typeset

MOST_ROWS = 60
STYLE = "<style>.laminate{color:currentColor;overflow-x:auto}</style>"


def notebook_of(title: str, blocks: Iterable[Block]) -> str:
    """One `<div>`: title and answer, tables of at most 60 rows in all, what a screen says below them."""
    left, pieces = MOST_ROWS, [f"<p><strong>{_text(title)}</strong></p>"]
    for block in flat(blocks):
        pieces.append(_grid(block, left) if isinstance(block, Grid) else _words(block))
        left -= len(block.rows) if isinstance(block, Grid) else 0
    return f'<div class="laminate">{STYLE}{"".join(pieces)}</div>'


def _text(text: str) -> str:
    return escape(typeset(text)).replace("\n", "<br>")


def _words(block: Block) -> str:
    assert not isinstance(block, Grid | Facts | Entry)
    text, strong = _text(block.text), isinstance(block, Heading) or block.strong
    return f"<p>{f'<strong>{text}</strong>' if strong else text}</p>"


def _grid(grid: Grid, most: int) -> str:
    shown = grid.rows[: max(most, 0)]
    more = len(grid.rows) - len(shown) + grid.left_out
    head = "".join(f"<th>{_text(name)}</th>" for name in grid.columns)
    body = "".join(f"<tr>{''.join(f'<td>{_text(cell)}</td>' for cell in row)}</tr>" for row in shown)
    counted = f"<p>{more} more {'row' if more == 1 else 'rows'}.</p>" if more else ""
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{counted}"
