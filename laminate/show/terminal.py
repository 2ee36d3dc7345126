"""Tables, paragraphs and whole answers as the lines of a screen.

Text of people is always plain text here, never markup: `[0/45]2s` stays what it is.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from io import StringIO
from itertools import zip_longest
from typing import Literal, TextIO

from laminate.show.blocks import Block, Facts, Grid, Heading, Sentence, flat
from laminate.show.numbers import typeset

WIDTH = 80
"""Columns of a screen, where nobody says how wide it is."""

#: columns taken where there is no limit: rich wants a number
_NO_LIMIT = 100_000

#: characters before this one take one column each, if any
_MAY_BE_WIDE = "\u0300"

#: columns between two columns of a table
_GAP = 2

#: stands for a blank at which no line may end
_KEEP = "\ue000"

_UNIT = "(?:%|deg[CF]|°[CF]|[kmu]?m|in|mils?|[mk]?g|lb|oz|[MGk]?Pa|k?psi|ksi|k?N|lbf|K|min|s|h)(?![A-Za-z])"
_VALUES = (
    re.compile(r"(?<=\S) ± (?=\S)"),
    re.compile(r"(?<=[±×]) (?=\S)"),
    re.compile(rf"(?<=[\d)]) (?={_UNIT})"),
    re.compile(r"(?<=\d) to (?=[-\d])"),
)


def readable(text: str, stream: TextIO | None) -> str:
    """A text with units as a person writes them, in ASCII where the stream cannot show them."""
    shown = typeset(text)
    try:
        shown.encode(getattr(stream, "encoding", None) or "utf-8")
    except (UnicodeError, LookupError):
        return text
    return shown


def lines(
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    width: int | None = None,
    right: Collection[int] = (),
) -> list[str]:
    """Lay out a table as lines of text.

    columns: the headings; rows: one cell a column; width: columns of the screen, None for no limit (a row is
    one line); right: which columns stand at the right, counted from 0. A long cell is folded between words,
    never cut, and never inside a value with its ± and unit; where the columns do not fit beside each other
    even so, the table goes on below with its first column again.

    >>> for line in lines(["stack", "plies"], [["[0/45]2s", "8"], ["[90]", "12"]], right=[1]):
    ...     print(line)
    stack     plies
    ───────────────
    [0/45]2s      8
    [90]         12
    """
    if width is None:
        return list(_whole([columns, *rows], right))
    cells = [[_kept_together(cell) for cell in row] for row in (columns, *rows)]
    longest = [max(map(_longest_line, column)) for column in zip(*cells, strict=True)]
    least = [max(map(_longest_word, column)) for column in zip(*cells, strict=True)]
    laid_lines: list[str] = []
    for group in _groups(least, width):
        widths = _fitted(longest, least, group, width)
        if any("\n" in cells[0][n] or not widths[n] == longest[n] > 0 for n in group):
            below = _laid_out(cells, widths, group, right)
        else:  # nothing is folded: rich, slow to start, is not needed
            at_right = {place for place, n in enumerate(group) if n in right}
            below = list(_whole([[row[n] for n in group] for row in cells], at_right))
            below = [line.replace(_KEEP, " ") for line in below]
        laid_lines += [*([""] if laid_lines else []), *below]
    return laid_lines


def _kept_together(text: str) -> str:
    for pattern in _VALUES:
        text = pattern.sub(lambda blank: blank[0].replace(" ", _KEEP), text)
    return text


def _longest_line(text: str) -> int:
    return max(map(_columns, text.split("\n")))


def _longest_word(text: str) -> int:
    return max(map(_columns, text.split()), default=0)


def _groups(least: Sequence[int], width: int) -> list[list[int]]:
    """Columns that fit beside each other, the first of all at the head of each group."""
    groups = [[0]]
    for place in range(1, len(least)):
        together = [*groups[-1], place]
        if len(groups[-1]) > 1 and sum(least[n] + _GAP for n in together) - _GAP > width:
            together = [0, place]
            groups.append(together)
        else:
            groups[-1] = together
    return groups


def _fitted(longest: Sequence[int], least: Sequence[int], group: Sequence[int], width: int) -> list[int]:
    """Widths of columns: the widest gives way first, down to its longest word while that fits."""
    widths = list(longest)
    over = sum(widths[place] + _GAP for place in group) - _GAP - width
    for _ in range(max(over, 0)):
        giving = [place for place in group if widths[place] > least[place]] or list(group)
        widest = max(giving, key=lambda place: widths[place])
        widths[widest] = max(widths[widest] - 1, 1)
    return widths


def _whole(cells: Sequence[Sequence[str]], right: Collection[int]) -> Iterator[str]:
    """The lines of a table with no limit of width; a cell may have several lines."""
    widths = [max(map(_longest_line, column)) for column in zip(*cells, strict=True)]
    for number, row in enumerate(cells):
        for parts in zip_longest(*(cell.split("\n") for cell in row), fillvalue=""):
            padded = []
            for place, (part, width) in enumerate(zip(parts, widths, strict=True)):
                part = part.rstrip() if place in right else part
                blanks = " " * (width - _columns(part))
                padded.append(blanks + part if place in right else part + blanks)
            yield (" " * _GAP).join(padded).rstrip()
        if number == 0:
            yield "─" * (sum(widths) + _GAP * (len(widths) - 1))


def _columns(text: str) -> int:
    """How many columns of a screen a text takes."""
    if max(text.replace(_KEEP, " "), default="") < _MAY_BE_WIDE:
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def _laid_out(
    cells: Sequence[Sequence[str]], widths: Sequence[int], group: Sequence[int], right: Collection[int]
) -> list[str]:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for place in group:
        justify: Literal["left", "right"] = "right" if place in right else "left"
        table.add_column(Text(cells[0][place]), justify=justify, overflow="fold", width=widths[place] or 1)
    for row in cells[1:]:
        table.add_row(*(Text(row[place]) for place in group))
    page = StringIO()
    Console(file=page, width=_NO_LIMIT, color_system=None, force_terminal=False).print(table)
    return [line.rstrip().replace(_KEEP, " ") for line in page.getvalue().splitlines()]


def folded(text: str, width: int, indent: int = 0) -> list[str]:
    """A sentence as lines that end inside no value with its ± and unit; indent: blanks before each line, two
    more after the first.
    """
    first, rest = " " * indent, " " * (indent + 2 if indent else 0)
    kept = _kept_together(text)
    filled = textwrap.fill(kept, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return filled.replace(_KEEP, " ").splitlines()


def answer_lines(
    blocks: Iterable[Block], width: int, stream: TextIO | None = None, strong: Callable[[str], str] = str
) -> list[str]:
    """An answer as lines: headings stand alone, everything else below them.

    width: columns of the screen; stream: on which they are shown; strong: makes a line bold.
    """
    shown_lines: list[str] = []
    before: Block | None = None
    for block in flat(blocks):
        below_heading = before is None or isinstance(before, Heading)
        apart = isinstance(before, Grid) or (isinstance(block, Grid) and not below_heading)
        if isinstance(block, Heading) or apart:
            shown_lines.append("")
        if isinstance(block, Grid):
            shown_lines += folded(readable(block.caption, stream), width)
            cells = [[readable(cell, stream) for cell in row] for row in (block.columns, *block.rows)]
            shown_lines += lines(cells[0], cells[1:], width=width, right=block.right)
        elif isinstance(block, Facts):
            for name, stated in block.pairs:
                fact = readable(f"{name}: {stated}".replace("\n", "; "), stream)
                shown_lines += folded(fact, width, 2)
        else:
            item = isinstance(block, Sentence) and block.item
            text = readable(f"- {block.text}" if item else block.text, stream)
            piece = folded(text, width, 2 if item else 0)
            shown_lines += map(strong, piece) if isinstance(block, Heading) or block.strong else piece
        before = block
    return shown_lines
