"""Headings of a coupon table: what is forgiven in how they are written, and which row they stand in."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from laminate.files.table import TABLE_WORDS, Heading

SEARCHED_ROWS = 100
"""The header is looked for in so many rows that are not blank."""

MEANT = {other: name for name, others in TABLE_WORDS["headings"].items() for other in others}
"""Other names for a column, where the nearest spelling would be another column."""

_BLANK = re.compile(r"[\s_\u200b\ufeff]+")
_BRACKETS = re.compile(r"[\[\](){}]")
_LAST_BRACKET = re.compile(r"[\[(]([^\[\]()]*)[\])]?([^\[\]()]*)$")
_NUMBERED = re.compile(r"(.*?\S) ?0*([1-9]\d{0,2})")


def tidy(text: str) -> str:
    """A name as the program writes it: lower case, single spaces, no underscores, no brackets.

    >>> tidy("Mass_(in  air)")
    'mass in air'
    """
    return _BLANK.sub(" ", _BRACKETS.sub(" ", text)).strip().lower()


def read_heading(text: str, index: int, known: Collection[str]) -> Heading:
    """Name, number and unit of one heading, whichever way of writing it makes the name a known one.

    >>> read_heading("Thickness_2 (mm)", 4, {"thickness"})
    Heading(name='thickness', number=2, unit='mm', text='Thickness_2 (mm)', index=4)
    """
    written = _BLANK.sub(" ", text).strip()
    first: Heading | None = None
    for left, unit in _splits(written):
        name, number = _numbered(tidy(left), known)
        heading = Heading(name, number, _BLANK.sub(" ", unit).strip(), text.strip(), index)
        if name in known:
            return heading
        first = first or heading
    return first or Heading("", None, "", "", index)


def _splits(text: str) -> Iterator[tuple[str, str]]:
    """Name and unit, the likeliest first: in brackets, without a unit, after a comma, after a slash."""
    bracket = _LAST_BRACKET.search(text)
    if bracket and not bracket[1].strip().isdigit():
        yield text[: bracket.start()] + " " + bracket[2], bracket[1]
    plain = _BRACKETS.sub(" ", text)
    yield plain, ""
    for mark in ",/":
        left, separator, right = plain.partition(mark)
        if separator and right.strip() and "," not in right:
            yield left, right


def _numbered(name: str, known: Collection[str]) -> tuple[str, int | None]:
    if name not in known:
        name = _spaced(name, known)
    if name not in known and (numbered := _NUMBERED.fullmatch(name)) and numbered[1] in known:
        return numbered[1], int(numbered[2])
    return name, None


def _spaced(name: str, known: Collection[str]) -> str:
    """The known name that differs in its spaces alone, with or without a number after it, else the name."""
    head = name.rstrip("0123456789").rstrip()
    close = head.replace(" ", "")
    spaced = (candidate for candidate in known if " " in candidate and candidate.replace(" ", "") == close)
    known_name = next(spaced, None)
    return f"{known_name} {name[len(head) :].strip()}".strip() if known_name else name


def find_header(rows: Sequence[tuple[int, Sequence[str]]], known: Collection[str]) -> tuple[int, int]:
    """Position of the row with two known names or more, and how many it holds; (-1, 0) where there is none.

    The first such row, but where names of columns follow, row by row, the one with the most: above the header
    may stand facts, as `operator,JM,lot,L2231`.
    """
    best = -1, 0
    for position, (_, cells) in enumerate(rows[:SEARCHED_ROWS]):
        count = len(known_names(cells, known))
        if best[1] and not count:
            break
        if count >= 2 and count > best[1]:
            best = position, count
    return best


def known_names(cells: Sequence[str], known: Collection[str]) -> set[tuple[str, int | None]]:
    """The different known columns that a row names."""
    headings = [read_heading(cell, 0, known) for cell in cells if cell and len(cell) < 80]
    return {(heading.name, heading.number) for heading in headings if heading.name in known}
