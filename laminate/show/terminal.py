"""Tables, paragraphs and whole answers as the lines of a screen.

Text of people is always plain text here, never markup: `[0/45]2s` stays what it is.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import TextIO

from laminate.show.blocks import Block, Facts, Grid, Heading, Sentence, flat
from laminate.show.numbers import typeset
from laminate.values.problems import marked

WIDTH = 80
"""Columns of a screen, where nobody says how wide it is."""

#: characters before this one take one column each, if any
_MAY_BE_WIDE = "\u0300"

#: columns between two columns of a table
_GAP = 2

#: stands for a blank at which no line may end
_KEEP = "\ue000"

_UNIT = "(?:%|deg[CF]|°[CF]|[kmu]?m|in|mils?|[mk]?g|lb|oz|[MGk]?Pa|k?psi|ksi|k?N|lbf|K|min|s|h)(?![A-Za-z])"
_SPREAD = r"(?<=\S) (?:±|\+/-) (?=\S)|(?<=[±×]) (?=\S)"
_VALUES = re.compile(rf"{_SPREAD}|(?<=[\d)]) (?={_UNIT})|(?<=\d) to (?=[-\d])")


_RULE = "─"
_ASCII = str.maketrans(
    {"±": "+/-", _RULE: "-", "–": "-", "−": "-", "×": "x", "°": "deg", "…": "...", "∞": "inf"}
)
"""How a terminal of ASCII shows what answers are written with."""


def readable(text: str, stream: TextIO | None) -> str:
    """A text with units as a person writes them, in ASCII where the stream cannot show them."""
    shown = typeset(text)
    return shown if _can_show(shown, stream) else marked(text, "\n").translate(_ASCII)


def _can_show(text: str, stream: TextIO | None) -> bool:
    try:
        text.encode(getattr(stream, "encoding", None) or "utf-8")
    except (UnicodeError, LookupError):
        return False
    return True


def lines(
    columns: Sequence[str], rows: Iterable[Sequence[str]], *, width: int = WIDTH, right: Collection[int] = ()
) -> list[str]:
    """Lay out a table as lines of text.

    columns: the headings; rows: one cell a column; width: columns of the screen; right: which columns stand
    at the right, counted from 0. A long cell is folded between words, never cut, and never inside a value
    with its ± and unit; where the columns do not fit beside each other even so, the table goes on below with
    its first column again.

    >>> for line in lines(["stack", "plies"], [["[0/45]2s", "8"], ["[90]", "12"]], right=[1]):
    ...     print(line)
    stack     plies
    ───────────────
    [0/45]2s      8
    [90]         12
    """
    cells = [[_kept_together(cell) for cell in row] for row in (columns, *rows)]
    longest = [max(map(_longest_line, column)) for column in zip(*cells, strict=True)]
    words = [" ".join(column).split() for column in zip(*cells, strict=True)]
    least = [max(map(_columns, of_column), default=0) for of_column in words]
    folds = sum(longest) + _GAP * (len(longest) - 1) > width
    two = [max(map(_in_two, column)) for column in zip(*cells, strict=True)] if folds else longest
    laid_lines: list[str] = []
    for group in _groups(least, width):
        widths = _fitted(longest, two, least, group, width)
        folded_cells = [[_wrapped(row[n], widths[n]).split("\n") for n in group] for row in cells]
        laid_lines += [""] if laid_lines else []
        laid_lines += _laid_out(folded_cells, [(widths[n], n in right) for n in group])
    return [line.replace(_KEEP, " ") for line in laid_lines]


def _kept_together(text: str) -> str:
    return _VALUES.sub(lambda blanks: blanks[0].replace(" ", _KEEP), text)


def _longest_line(text: str) -> int:
    return max(map(_columns, text.split("\n")))


def _groups(least: Sequence[int], width: int) -> list[list[int]]:
    """Columns that fit beside each other, the first of all at the head of each group."""
    groups = [[0]]
    for place in range(1, len(least)):
        together = [*groups[-1], place]
        if len(groups[-1]) > 1 and sum(least[n] + _GAP for n in together) - _GAP > width:
            groups.append([0, place])
        else:
            groups[-1] = together
    return groups


def _fitted(
    longest: Sequence[int], two: Sequence[int], least: Sequence[int], group: Sequence[int], width: int
) -> list[int]:
    """Widths of columns: the widest gives way first, down to two lines a cell, then to its longest word.

    two: widths at which no cell takes more than two lines.
    """
    widths = list(longest)
    over = sum(widths[place] + _GAP for place in group) - _GAP - width
    for _ in range(max(over, 0)):
        wider = ([place for place in group if widths[place] > floor[place]] for floor in (two, least))
        giving = next(filter(None, wider), list(group))
        widest = max(giving, key=lambda place: widths[place])
        widths[widest] = max(widths[widest] - 1, 1)
    return widths


def _in_two(text: str) -> int:
    """The least width at which a text takes no more than two lines, or as many as it has."""
    if "\n" in text:
        return _longest_line(text)
    words = text.split()
    parts = ((" ".join(words[:at]), " ".join(words[at:])) for at in range(1, len(words) + 1))
    return min((max(map(_columns, pair)) for pair in parts), default=0)


def _laid_out(rows: Sequence[Sequence[list[str]]], columns: Sequence[tuple[int, bool]]) -> Iterator[str]:
    """The lines of a table; rows: headings first, each cell as lines; columns: width, if at the right."""
    high = max(map(len, rows[0]))
    heading = [[""] * (high - len(cell)) + cell for cell in rows[0]]
    for row in (heading, *rows[1:]):
        for parts in zip_longest(*row, fillvalue=""):
            padded = []
            for part, (width, at_right) in zip(parts, columns, strict=True):
                part = part.rstrip() if at_right else part
                blanks = " " * (width - _columns(part))
                padded.append(blanks + part if at_right else part + blanks)
            yield (" " * _GAP).join(padded).rstrip()
        if row is heading:
            yield _RULE * (sum(width for width, _ in columns) + _GAP * (len(columns) - 1))


def _columns(text: str) -> int:
    """How many columns of a screen a text takes."""
    if max(text.replace(_KEEP, " "), default="") < _MAY_BE_WIDE:
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def _wrapped(cell: str, width: int) -> str:
    """A cell in lines of so many columns at most, folded between words where these fit."""
    if _longest_line(cell) <= width:
        return cell
    from rich.console import Console
    from rich.text import Text

    return "\n".join(line.plain for line in Text(cell).wrap(Console(), width, overflow="fold"))


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
            laid = lines(cells[0], cells[1:], width=width, right=block.right)
            shown_lines += laid if _can_show(_RULE, stream) else [line.translate(_ASCII) for line in laid]
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
