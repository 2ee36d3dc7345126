"""Answers and complaints on the screen, or through a pipe where nothing is cut."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from shutil import get_terminal_size

from laminate.show import terminal
from laminate.show.blocks import Block
from laminate.show.terminal import readable


def screen_width() -> int:
    """How many columns a line may take: those of COLUMNS, of the screen, or 80 through a pipe."""
    return get_terminal_size((80, 24)).columns


def strong(text: str) -> str:
    """A line in bold where a person looks at a screen that has it; the same text elsewhere."""
    bold = sys.stdout.isatty() and os.environ.get("TERM", "") not in ("", "dumb")
    return f"\x1b[1m{text}\x1b[0m" if text and bold else text


def complain(text: str) -> None:
    """Print a sentence on standard error: folded where that is a screen, else as it is."""
    stream = sys.stderr
    text = readable(text, stream)
    if stream is not None and stream.isatty():
        text = "\n".join(terminal.folded(text, get_terminal_size().columns))
    print(text, file=stream)


def lines_of(blocks: Iterable[Block]) -> list[str]:
    """The lines of an answer, or of a part of it, folded to the screen."""
    return terminal.answer_lines(blocks, screen_width(), sys.stdout, strong)


def print_blocks(blocks: Iterable[Block]) -> None:
    """Print an answer."""
    print("\n".join(lines_of(blocks)))


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

    from .waiting import stop

    stop()
    columns = (TextColumn(what, markup=False), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
