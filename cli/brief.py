"""A screen that a person reads in passing: the answer first and last, and no more lines than are read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache

from . import tables

MOST, MORE, ALL = 24, 8, 40
"""Lines between the answers, those of each further zone, and the most of all."""


@dataclass
class Screen:
    """What is shown, in order.

    answer: first and last; under: sentences directly under it, the weightiest first; columns, rows: a table;
    spare: the rows that may be counted instead of shown; after: sentences below it; parts: zones or the like
    that are answered; last: the answer in fewer words, '' for the same; written: files, named before it.
    """

    answer: str
    under: list[str] = field(default_factory=list)
    columns: Sequence[str] = ()
    rows: list[Sequence[str]] = field(default_factory=list)
    spare: frozenset[int] = frozenset()
    after: list[str] = field(default_factory=list)
    parts: int = 1
    last: str = ""
    written: Sequence[str] = ()


def lines(screen: Screen, *, whole: bool = False) -> list[str]:
    """The lines of a screen, folded to its width; whole: with nothing counted instead of shown."""
    first = tables.folded(screen.answer)
    last = tables.folded(screen.last or screen.answer)
    most = min(MOST + MORE * (screen.parts - 1), ALL - len(first) - len(last))
    under, after, rows = list(screen.under), list(screen.after), list(screen.rows)
    spare = sorted(screen.spare)
    hidden_rows = hidden_words = 0
    fold = cache(tables.folded)
    middle: list[str] | None = None
    while middle is None:
        if whole or len(under) + len(rows) + len(after) <= most:  # each takes a line or more
            middle = _middle(fold, screen, under, rows, after, hidden_rows, hidden_words)
            if whole or len(middle) <= most:
                break
            middle = None
        if spare:
            del rows[spare.pop()]
            hidden_rows += 1
        elif len(after) > 1:
            after.pop(-2)
        elif len(under) > 1:
            under.pop()
            hidden_words += 1
        elif len(rows) > 1:
            rows.pop()
            hidden_rows += 1
        else:
            middle = _middle(fold, screen, under, rows, after, hidden_rows, hidden_words)
    named = [line for path in screen.written for line in tables.folded(f"Written: {path}")]
    return [*map(tables.strong, first), *middle, *named, *map(tables.strong, last)]


def _middle(
    fold: Callable[[str], list[str]],
    screen: Screen,
    under: Sequence[str],
    rows: Sequence[Sequence[str]],
    after: Sequence[str],
    hidden_rows: int,
    hidden_words: int,
) -> list[str]:
    lines = [line for sentence in under for line in fold(sentence)]
    lines += fold(f"And {hidden_words} more like these: see --why.") if hidden_words else []
    if rows:
        lines += ["", *tables.lines_for(screen.columns, rows)]
    if hidden_rows:
        lines += fold(f"{hidden_rows} more {'row' if hidden_rows == 1 else 'rows'}: see --why.")
    if after:
        lines += [""] if rows else []
        lines += [line for sentence in after for line in fold(sentence)]
    return lines


def show(screen: Screen, more: Callable[[], None] | None = None) -> None:
    """Print a screen; more: prints all that is left out, before the answer is said again."""
    shown = lines(screen, whole=more is not None)
    if more is None:
        print("\n".join(shown))
        return
    last = tables.folded(screen.last or screen.answer)
    print("\n".join(shown[: -len(last)]))
    more()
    print()
    print("\n".join(map(tables.strong, last)))
