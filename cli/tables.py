"""Tables and paragraphs on a screen, or through a pipe where nothing is cut; only here is rich imported.

Text of people is always plain text here, never markup: `[0/45]2s` stays what it is.
"""

from __future__ import annotations

import os
import re
import sys
import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from itertools import zip_longest
from shutil import get_terminal_size
from typing import Literal, TextIO

from laminate.show.numbers import typeset

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
    re.compile(r"(?<=±) (?=\S)"),
    re.compile(rf"(?<=[\d)]) (?={_UNIT})"),
    re.compile(r"(?<=\d) to (?=[-\d])"),
)


def screen_width() -> int:
    """How many columns a line may take: those of COLUMNS, of the screen, or 80 through a pipe."""
    return get_terminal_size((80, 24)).columns


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
    drawn_lines: list[str] = []
    for group in _groups(least, width):
        widths = _fitted(longest, least, group, width)
        if any("\n" in cells[0][n] or not widths[n] == longest[n] > 0 for n in group):
            below = _laid_out(cells, widths, group, right)
        else:  # nothing is folded: rich, slow to start, is not needed
            at_right = {place for place, n in enumerate(group) if n in right}
            below = list(_whole([[row[n] for n in group] for row in cells], at_right))
            below = [line.replace(_KEEP, " ") for line in below]
        drawn_lines += [*([""] if drawn_lines else []), *below]
    return drawn_lines


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


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, right: Collection[int] = ()) -> None:
    """Print a table on standard output, folded to the screen, or whole lines through a pipe (see `lines`)."""
    print("\n".join(lines_for(columns, rows, right=right)))


def lines_for(
    columns: Sequence[str], rows: Iterable[Sequence[str]], *, right: Collection[int] = ()
) -> list[str]:
    """The lines of a table as `table` prints them."""
    heading, *body = [[readable(cell, sys.stdout) for cell in row] for row in (columns, *rows)]
    return lines(heading, body, width=screen_width(), right=right)


def folded(text: str) -> list[str]:
    """The lines of a sentence as `paragraph` prints them."""
    return _folded(readable(text, sys.stdout), screen_width(), "", "").splitlines()


def strong(text: str) -> str:
    """A line in bold where a person looks at a screen that has it; the same text elsewhere."""
    return f"\x1b[1m{text}\x1b[0m" if text and _shows_bold() else text


def complain(text: str) -> None:
    """Print a sentence on standard error: folded where that is a screen, else as it is."""
    stream = sys.stderr
    folded = stream is not None and stream.isatty()
    text = readable(text, stream)
    print(_folded(text, get_terminal_size().columns, "", "") if folded else text, file=stream)


def paragraph(text: str, *, indent: int = 0, bold: bool = False) -> None:
    """Print a sentence on standard output, folded to the screen.

    No line ends inside a value with its ± and unit.
    indent: blanks before each line; lines after the first get two more; bold: on a terminal that can.
    """
    first, rest = " " * indent, " " * (indent + 2 if indent else 0)
    folded = _folded(readable(text, sys.stdout), screen_width(), first, rest)
    print(f"\x1b[1m{folded}\x1b[0m" if bold and _shows_bold() else folded)


def _shows_bold() -> bool:
    return sys.stdout.isatty() and os.environ.get("TERM", "") not in ("", "dumb")


def _folded(text: str, width: int, first: str, rest: str) -> str:
    kept = _kept_together(text)
    folded = textwrap.fill(kept, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return folded.replace(_KEEP, " ")


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Show how far long work is, on standard error and only where that is a terminal.

    what: is worked on, in the plural. Gives what to tell how many of how many are done, None where no one
    looks.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what, markup=False), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
