"""Tables and paragraphs on a screen, or through a pipe where nothing is cut; only here is rich imported.

Text of people is always plain text here, never markup: `[0/45]2s` stays what it is.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from shutil import get_terminal_size
from typing import Literal

#: columns taken where there is no limit: rich wants a number
_NO_LIMIT = 100_000


def screen_width() -> int | None:
    """How many columns the screen has, or None where standard output is a pipe or a file: no limit."""
    return get_terminal_size().columns if sys.stdout.isatty() else None


def lines(
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    width: int | None = None,
    right: Collection[int] = (),
) -> list[str]:
    """Lay out a table as lines of text.

    columns: the headings; rows: one cell a column; width: columns of the screen, None for no limit (a row is
    one line); right: which columns stand at the right, counted from 0. A long cell is folded, never cut.

    >>> for line in lines(["stack", "plies"], [["[0/45]2s", "8"], ["[90]", "12"]], right=[1]):
    ...     print(line)
    stack     plies
    ───────────────
    [0/45]2s      8
    [90]         12
    """
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for place, heading in enumerate(columns):
        justify: Literal["left", "right"] = "right" if place in right else "left"
        table.add_column(Text(heading), justify=justify, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    page = StringIO()
    Console(file=page, width=width or _NO_LIMIT, color_system=None, force_terminal=False).print(table)
    return [line.rstrip() for line in page.getvalue().splitlines()]


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, right: Collection[int] = ()) -> None:
    """Print a table on standard output, folded to the screen, or whole lines through a pipe (see `lines`)."""
    print("\n".join(lines(columns, rows, width=screen_width(), right=right)))


def paragraph(text: str, *, indent: int = 0) -> None:
    """Print a sentence on standard output, folded to the screen, or as one line through a pipe.

    indent: blanks before each line; lines after the first get two more.
    """
    first, rest = " " * indent, " " * (indent + 2 if indent else 0)
    width = screen_width() or max(len(text) + indent, 1)
    print(textwrap.fill(text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False))


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
