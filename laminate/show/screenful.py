"""An answer on one screen: what can be counted instead of shown gives way first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from laminate.show.blocks import Block, Grid, Sentence, sentences
from laminate.show.terminal import WIDTH, answer_lines

MOST, MORE, ALL = 24, 8, 40
"""Lines between the answers, those of each further zone, and the most of all."""
LONGEST, ENDS = 30, 13
"""Characters of a word that a screen shows whole, and at each end of a longer one."""


def screenful(
    answer: str,
    under: Sequence[str],
    grid: Grid,
    after: Sequence[str],
    *,
    spare: Sequence[int] = (),
    head: int = 0,
    parts: int = 1,
    last: str = "",
) -> list[Block]:
    """The answer, sentences directly under it, the weightiest first, a table, sentences below it, the answer.

    spare: rows that may be counted instead of shown, from the last on; head: first rows,
    which are not counted and go with the last of the others; parts: zones or the like that are
    answered; last: the answer in fewer words, '' for the same. Of a long name at the head of a row the
    middle is left out.
    """
    grid = replace(grid, rows=tuple((_shortened(row[0]), *row[1:]) for row in grid.rows))
    head = min(head, len(grid.rows))
    begin, end = [Sentence(answer, strong=True)], [Sentence(last or answer, strong=True)]
    most = min(MOST + MORE * (parts - 1), ALL - height(begin) - height(end))
    left, kept, below, rows = list(spare), list(under), list(after), dict(enumerate(grid.rows))
    while True:
        many = len(kept) + len(rows) + len(below) - most  # each takes a line or more: not worth laying out
        if many > 0 and left:
            for _ in range(min(len(left), many)):
                del rows[left.pop()]
            continue
        if many > 0 and len(below) <= 1 < len(kept):
            del kept[max(len(kept) - many, 1) :]
            continue
        hidden, unsaid = len(grid.rows) - max(len(rows), head) + grid.left_out, len(under) - len(kept)
        counted = [f"{hidden} more {'row' if hidden == 1 else 'rows'}: see --why."] if hidden else []
        more = [f"And {unsaid} more: see --why."] if unsaid else []
        table = [replace(grid, rows=tuple(rows.values()))] if len(rows) > head else []
        middle = [*sentences([*kept, *more]), *table, *sentences([*counted, *below])]
        over = height([*begin, *middle]) - height(begin) - most
        if over > 0 and left:
            for _ in range(min(len(left), max(over // 3, 1))):
                del rows[left.pop()]
        elif over > 0 and len(below) > 1:
            below.pop(-2)
        elif over > 0 and len(kept) > 1:
            kept.pop()
        elif over > 0 and len(rows) > 1:
            rows.popitem()
        else:
            return [*begin, *middle, *end]


def _shortened(cell: str) -> str:
    """A cell whose long words have their middle left out, so that rows keep to a screen."""
    words = cell.split(" ")
    return " ".join(f"{word[:ENDS]}...{word[-ENDS:]}" if len(word) > LONGEST else word for word in words)


def height(blocks: Sequence[Block]) -> int:
    """Lines that blocks take on a screen."""
    return len(answer_lines(blocks, WIDTH))
