"""An answer on one screen: what can be counted instead of shown gives way first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from laminate.show.blocks import Block, Grid, Sentence, sentences
from laminate.show.page_words import several
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
    begin, end = ([Sentence(words, strong=True)] for words in (answer, last or answer))
    most = min(MOST + MORE * (parts - 1), ALL - height(begin) - height(end))
    others = [at for at in range(len(grid.rows)) if at not in spare]
    may_go = (len(spare), *(max(len(of) - 1, 0) for of in (after, under, others)))
    head = min(head, len(grid.rows))

    def middle(gone: int) -> list[Block]:
        """So much less: spare rows, sentences below but the last, those under the answer, other rows."""
        left = []
        for size in may_go:
            left.append(max(size - gone, 0))
            gone = max(gone - size, 0)
        rows = sorted([*spare[: left[0]], *others[: left[3] + 1]])
        kept = [*under[: left[2] + 1]]
        hidden, unsaid = len(grid.rows) - max(len(rows), head) + grid.left_out, len(under) - len(kept)
        counted = [f"{several(hidden, 'more row')}: see --why."] if hidden else []
        more = [f"And {unsaid} more: see --why."] if unsaid else []
        table = [replace(grid, rows=tuple(grid.rows[at] for at in rows))] if len(rows) > head else []
        return [*sentences([*kept, *more]), *table, *sentences([*counted, *after[: left[1]], *after[-1:]])]

    # each takes a line or more: what is more than the lines there are is not worth laying out
    start = max(len(under) + len(grid.rows) + len(after) - most, 0)
    fewest = sum(may_go)
    fits = (gone for gone in range(start, fewest) if height([*begin, *middle(gone)]) - height(begin) <= most)
    return [*begin, *middle(next(fits, fewest)), *end]


def _shortened(cell: str) -> str:
    """A cell whose long words have their middle left out, so that rows keep to a screen."""
    words = cell.split(" ")
    return " ".join(f"{word[:ENDS]}...{word[-ENDS:]}" if len(word) > LONGEST else word for word in words)


def height(blocks: Sequence[Block]) -> int:
    """Lines that blocks take on a screen."""
    return len(answer_lines(blocks, WIDTH))
