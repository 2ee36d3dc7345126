"""Decimal commas in a table that commas separate: each number lies in two cells.

Nothing is too long where columns of words end the header and are mostly empty: `T1,web,2,873` under specimen,
zone, thickness [mm], operator and remark is a thickness of 2 mm and an operator 873.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress

from laminate.files.table import NUMBERS, TEXT_COLUMNS, Heading, Row, Table
from laminate.values.problems import Problem
from laminate.values.sequences import by_key
from laminate.values.units import Unreadable, column_unit

MOST_BEFORE = 3
"""Digits before a decimal comma of a reading, at most."""
FEWEST_AFTER = 2
"""Decimals of a reading that whole numbers and the number of a person are not mistaken for."""
COARSE = 5e-4
"""Units [m, kg] in which nobody reads a coupon in whole numbers; of smaller ones (um, mg) many do."""

Pair = tuple[Heading, str, str]
"""A column, and the digits before and after the comma."""


def split_numbers(
    table: Table, cells_of: Mapping[int, Sequence[str]]
) -> tuple[Problem | None, tuple[tuple[int, Problem], ...]]:
    """A finding where every row of readings is explained by decimal commas and by little else, or a warning.

    table: as commas separate it; cells_of: the cells of each row as written, by its number. All readings are
    whole numbers; each has another whole number behind it, in whose place every word then stands in its
    column; and of several rows the words that are numbers differ. One row alone is asked about.
    """
    in_order = [heading.index for heading in table.headings] == list(range(len(table.headings)))
    if not in_order or any(size_of_unit(heading) < COARSE for heading in table.headings):
        return None, ()
    measured = [at for at, heading in enumerate(table.headings) if _measured(heading)]
    rows: list[Row] = []
    pairs: list[list[Pair]] = []
    for row in table.rows:
        if any(row.cells[at] for at in measured):
            rows.append(row)
            pairs.append(_pairs(table.headings, cells_of.get(row.number, ())))
            if not pairs[-1]:
                return None, ()
    decimals = by_key((h.label, len(after)) for of_row in pairs for h, _, after in of_row if _fine(h))
    if not decimals or any(max(counts) < FEWEST_AFTER for counts in decimals.values()):
        return None, ()
    of_people = TEXT_COLUMNS - {"entry"}
    words = [at for at, h in enumerate(table.headings) if h.name in of_people and at > measured[0]]
    in_words = [tuple(row.cells[at] for at in words if row.cells[at].isdecimal()) for row in rows]
    if not all(in_words) or (len(rows) > 1 and len(set(in_words)) == 1):
        return None, ()
    heading, before, after = pairs[0][0]
    where, halves = table.place(rows[0], heading), f"'{before}' and '{after}' in two cells"
    hint = f"a decimal comma needs ; or a tab as separator; for a whole number write {before}.0"
    if len(rows) == 1:
        hint += ", or give the reason in 'accepted'"
    problem = Problem("number-in-two-cells", table.file, where, halves, "one number per cell", hint)
    return (problem, ()) if len(rows) > 1 else (None, ((rows[0].number, problem),))


def _measured(heading: Heading) -> bool:
    """Whether a column is of readings that have decimals: no words, no counts."""
    return bool(NUMBERS.get(heading.name, "number") != "number")


def _fine(heading: Heading) -> bool:
    """Whether a column is read to two decimals or more: a temperature may have one, length and width none."""
    return NUMBERS.get(heading.name) in ("mass", "length") and heading.name not in ("length", "width")


def size_of_unit(heading: Heading) -> float:
    """The unit of a column of lengths or masses [m, kg]; infinite of others, 0 where it cannot be read."""
    kind = NUMBERS.get(heading.name, "number")
    with suppress(Unreadable):
        return column_unit(heading.unit, kind)[0] if kind in ("length", "mass") else math.inf
    return 0.0


def _pairs(headings: Sequence[Heading], written: Sequence[str]) -> list[Pair]:
    """The readings of a row, two cells each, where that puts every cell under a heading; else none."""
    left = list(written)
    while left and not left[-1]:
        left.pop()
    pairs: list[Pair] = []
    for heading in headings:
        before = left.pop(0) if left else ""
        if not before or not _measured(heading):
            continue
        after = left.pop(0) if left else ""
        digits = before.removeprefix("-")
        padded = len(digits) > 1 and digits.startswith("0")
        if not (digits.isdecimal() and after.isdecimal()) or padded or len(digits) > MOST_BEFORE:
            return []
        pairs.append((heading, before, after))
    return [] if left else pairs
