"""What the page shows, as text: the head, the cells of a specimen, and what is to be said, folded."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from textwrap import TextWrapper

from rich.text import Text

from laminate.bench.catching_up import Cell
from laminate.bench.entry import Findings
from laminate.bench.session import Session, mark
from laminate.files.coupons import base_name
from laminate.show import numbers
from laminate.show.terminal import readable
from laminate.values import problems
from laminate.values.quantities import ATTRIBUTES

from .words import OPEN

SAID, CELLS, AROUND = 4, 6, 6
"""Least lines for what is to be said and for the cells; lines of head, rule, entry and keys."""
LABEL_AND_CELL = 33
SUMMARY = ("density", "fiber_volume", "void_content", "thickness")
IN_ACCEPTED = re.compile(r"in 'accepted'(, begun with '[^']*')?")
"""What a table is told about its reasons; here a key asks for one and names what it is about."""


def marks(findings: Findings) -> dict[str, str]:
    """The mark of every place about which there is something to say, the worst where there are several."""
    marks_by_place = {problem.place: "…" for problem in findings.later}
    worst_last = sorted(findings.doubtful, key=mark, reverse=True)
    marks_by_place |= {problem.place: mark(problem) for problem in worst_last}
    return marks_by_place | {problem.place: "!" for problem in findings.cannot}


def head(session: Session, row: int, marked: Mapping[str, str], title: str, width: int) -> str:
    """Two lines: batch, table and person; specimen, and how far the work is.

    marked: mark by place; title: batch and part; width: of the screen [columns].
    """
    text = session.table.text
    parts = [text(row, column) for column in ("zone", "position", "kind")]
    parts.append(f"field {text(row, 'field')}" if text(row, "field") else "")
    sign = marked.get(session.table.view.place(row, session.table.heading("specimen")), " ")
    who = f" coupon {session.name(row)} {sign} {', '.join(part for part in parts if part)}"
    excluded = "  (excluded)" if text(row, "excluded") else ""
    left = session.left()
    to_go = "1 cell to go" if left == 1 else f"{left} cells to go"
    count = f"row {session.rows.index(row) + 1} of {len(session.rows)}, {to_go}"
    by = f"by {session.operator}" if session.operator else ""
    lines = ((f" {title}  {session.table.name}", by), (f"{who}{excluded}", count))
    shown = [(problems.marked(start), problems.marked(end)) for start, end in lines]
    return "\n".join(f"{start[: width - len(end) - 2]:<{width - len(end) - 1}}{end}" for start, end in shown)


def asked(session: Session, cell: Cell) -> str:
    """The cell that is asked for: its label, its unit, and the words that it may hold."""
    label = cell[1]
    unit = session.table.heading(label).unit
    choices = session.choices.get(base_name(label), ())
    words = f" ({', '.join(choices)})" if choices and sum(map(len, choices)) < 40 else ""
    return f"{label} [{unit}]{words}" if unit else f"{label}{words}"


def cells(session: Session, cell: Cell, marked: Mapping[str, str], height: int) -> Text:
    """The cells of a specimen, so many lines around the one that is asked for.

    marked: mark by place; height: lines.
    """
    row, current = cell
    labels = session.labels
    room = height if len(labels) <= height else height - 1
    first = min(max(0, labels.index(current) - room // 2), max(0, len(labels) - room))
    above, below = first, max(0, len(labels) - first - room)
    shown = Text()
    for label in labels[first : first + room]:
        heading = session.table.heading(label)
        sign = marked.get(session.table.view.place(row, heading), " ")
        pointer = ">" if label == current else " "
        value = session.table.text(row, label) or ("____" if session.wanted(row, label) else "")
        line = f"{pointer}{sign} {_label_and_value(label, value)} {heading.unit[:6]}"
        shown.append(f"{line}\n", style="reverse" if label == current else "")
    beyond = [f"{n} more {side}" for n, side in ((above, "above"), (below, "below")) if n]
    return shown.append(f"   {', '.join(beyond)}" if beyond else "")


def _label_and_value(label: str, value: str) -> str:
    """A label and the content of its cell: whole, or with an ellipsis where something is left out."""
    label = _cut(label, 23)
    return label + _cut(value, LABEL_AND_CELL - len(label) - 1).rjust(LABEL_AND_CELL - len(label))


def _cut(text: str, width: int) -> str:
    text = problems.marked(text)
    return text if len(text) <= width else f"{text[: width - 1]}…"


def derived(findings: Findings) -> Iterator[tuple[str, str, str]]:
    """What follows from the readings of a specimen: attribute, its words, its value with ±."""
    for quantity in findings.derived:
        known = ATTRIBUTES[quantity.attribute]
        yield quantity.attribute, known.words, numbers.text(quantity.value, quantity.expanded, known.unit)


def summary(session: Session, row: int) -> list[str]:
    """The specimen that has just been finished in one line; figures of a doubtful one are no result."""
    name = session.name(row)
    if session.open_doubts(row):
        return [f"{name} is still in doubt. {OPEN}"]
    figures = [f"{words} {text}" for key, words, text in derived(session.findings(row)) if key in SUMMARY]
    return [f"{name}: {', '.join(figures)}"] if figures else []


def in_words(sentence: str) -> str:
    """A sentence as the page says it: which key asks for a reason, and units as a person writes them."""
    return readable(IN_ACCEPTED.sub("(F6)", sentence), sys.__stderr__)


def folded(sentences: Sequence[str], width: int, height: int) -> list[str]:
    """The lines of what is to be said, as many as leave room for the cells; the last sentence always.

    width, height: of the screen [columns, lines].
    """
    wrapper = TextWrapper(width - 1, initial_indent=" ", subsequent_indent="   ")
    parts = [wrapper.wrap(in_words(sentence)) for sentence in sentences]
    lines, room = [line for part in parts for line in part], max(SAID, height - AROUND - CELLS)
    if len(lines) > room:
        last = parts[-1] if len(parts) > 1 and len(parts[-1]) < room - 1 else []
        lines = [*lines[: room - 1 - len(last)], " … more than fits: a taller window shows all of it", *last]
    return lines + [""] * (SAID - len(lines))


def standing_out(lines: Sequence[str], alert: int) -> Text:
    """What is to be said, its first lines reversed where they ask or refuse; alert: how many."""
    shown = Text()
    for at, line in enumerate(lines):
        shown.append(line, style="reverse" if at < alert else "")
        shown.append("\n" if at < len(lines) - 1 else "")
    return shown
