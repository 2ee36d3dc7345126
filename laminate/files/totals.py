"""Rows of a coupon table that are no specimens: computed from the others, or signed below them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from laminate.files.table import TABLE_WORDS, TEXT_COLUMNS, Heading, Table, parse_number
from laminate.values.problems import Problem
from laminate.values.units import Unreadable

_MEANS, _OTHERS, _SHORTS = (TABLE_WORDS["totals"][key] for key in ("means", "others", "short"))
_TAIL_WORDS = "values?|of|for|over|all|overall|specimens?|coupons?"
_TAIL = rf"(?:,?\s*(?:%|±\s*\w*|=\s*\S+|[(\[].*[)\]]|(?:{_TAIL_WORDS})\b.*))*"
_SURE = (
    rf"(?:(?:[^\W\d_]{{2,}} )*(?:{'|'.join(map(re.escape, _MEANS))})(?: [^\W\d_]{{2,}})*"
    rf"|(?:{'|'.join(map(re.escape, _OTHERS))})){_TAIL}"
)
_SHORT = rf"({'|'.join(sorted(_SHORTS, key=len, reverse=True))}){_TAIL}"
_FOOT = (
    r"(?:signed|signature)\b.*"
    r"|(?:checked|approved|prepared|tested|measured|reviewed|released|witnessed|weighed)(?:\s*:.*| by\b.*|)"
    r"|(?:date|notes?|remarks?|comments?|operator|technician|inspector|page)\s*:.*"
    r"|page \d+ of \d+"
)
_LONGEST = 60
_LAST = 8
"""So many rows at the end are held against the means of those above."""
_CHANCE, _CHANCE_OF_A_WORD = 0.001, 0.05
"""A specimen that agrees with the means by chance oftener than this is not asked about: one whose name has a
digit, and one whose name has none. No source."""


def total_word(cell: str) -> str:
    """What a name says of its row: 'computed', 'short' (computed, or a specimen among its like), 'foot', ''.

    >>> [total_word(name) for name in ("Avg.", "mean of 3", "s.d.", "Signed: JM", "mean-01", "N1")]
    ['computed', 'computed', 'short', 'foot', '', '']
    """
    if not cell or cell[0].isdigit() or len(cell) > _LONGEST:
        return ""
    name = " ".join(cell.casefold().replace("_", " ").split())
    if re.fullmatch(_FOOT, name):
        return "foot"
    name = name.replace(".", " " if re.search(r"[^\W\d_]{2}\.[^\W\d_]{2}", name) else "")
    name = " ".join(name.split()).strip(" :=")
    if re.fullmatch(_SURE, name):
        return "computed"
    return "short" if re.fullmatch(_SHORT, name) else ""


def split(rows: Sequence[tuple[str, str]]) -> tuple[int, list[int]]:
    """Where the rows of specimens end, and which of those before that are none.

    rows: of each its name, and what it is: a word of `total_word`, or 'lone' for a text that stands alone.
    """
    end = len(rows)
    while end and rows[end - 1][1]:
        end -= 1
    shapes = {len(name) for name, what in rows[:end] if not what and name.isalpha()}
    while end < len(rows):
        name, what = rows[end]
        if what == "lone" or (what == "short" and len(name) in shapes and name.isalpha()):
            end += 1
        else:
            break
    return end, [at for at, (_, what) in enumerate(rows[:end]) if what in ("computed", "foot")]


def mean_rows(table: Table) -> list[Problem]:
    """Findings for rows at the end whose numbers are the means of the rows above, whatever they are called.

    Every number must be the mean to its written digits, in two columns or more that are not all alike. A
    row that says its kind or its field, or is excluded, is taken at its word.
    """
    heading = next((heading for heading in table.headings if heading.name == "specimen"), None)
    if heading is None:
        return []
    named = table.column(heading)
    answered = [
        table.column(heading) for heading in table.headings if heading.name in ("kind", "excluded", "field")
    ]
    left = {
        at: (0, 1.0)
        for at in range(max(2, len(named) - _LAST), len(named))
        if named[at] and not any(column[at] for column in answered)
    }
    first: dict[str, list[float | None]] = {}
    for column_heading in table.headings:
        if not left:
            break
        if column_heading.name not in TEXT_COLUMNS:
            left = _still(table, column_heading, left, first)
    hint = "remove the row, or call it 'mean'; if it is a specimen, write 'specimen' in its column 'kind'"
    problems = []
    for at, (columns, chance) in left.items():
        name, where = named[at], table.place(table.rows[at], heading)
        if columns >= 2 and chance <= (_CHANCE if any(map(str.isdigit, name)) else _CHANCE_OF_A_WORD):
            computed = f"'{name}', whose numbers are the means of the rows above it"
            problems.append(Problem("computed-row", table.file, where, computed, "coupons alone", hint))
    return problems


def _still(
    table: Table, heading: Heading, left: dict[int, tuple[int, float]], first: dict[str, list[float | None]]
) -> dict[int, tuple[int, float]]:
    """The rows that still can be means by this column: of each the columns that say so, and their chance.

    first: the numbers of the first of repeated columns; the others say no more than they differ from it.
    """
    cells = table.column(heading)
    kept = {at: known for at, known in left.items() if not cells[at]}
    if len(kept) == len(left):
        return kept
    numbers = [_number(cell, table.decimal) for cell in cells]
    before = first.setdefault(heading.name, numbers)
    for at, (columns, chance) in left.items():
        if at in kept:
            continue
        reading, above = numbers[at], [number for number in numbers[:at] if number is not None]
        if reading is None or len(above) < 2:
            continue
        mean = math.fsum(above) / len(above)
        step = 10.0 ** -len(cells[at].partition(table.decimal)[2])
        if abs(reading - mean) > 0.5 * step + 1e-9 * abs(mean):
            continue
        spread = max(above) - min(above)
        if before is not numbers:
            pairs = zip(numbers[:at], before[:at], strict=True)
            apart = [a - b for a, b in pairs if a is not None and b is not None]
            spread = min(spread, max(step, max(apart) - min(apart))) if apart else spread
        kept[at] = (columns + 1, chance * min(1.0, step / spread)) if spread else (columns, chance)
    return kept


def _number(cell: str, decimal: str) -> float | None:
    try:
        return parse_number(cell, decimal) if cell else None
    except Unreadable:
        return None
