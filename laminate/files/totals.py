"""Rows of a coupon table that are no specimens: computed from the others, or signed below them."""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.files.table import TABLE_WORDS, TEXT_COLUMNS, Table, number_in
from laminate.values.problems import Problem

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_WORDS = {key: [*map(re.escape, words)] for key, words in TABLE_WORDS["totals"].items()}


def _any(*keys: str) -> str:
    """A pattern for the words of these kinds, the longest first."""
    return "|".join(sorted((word for key in keys for word in _WORDS[key]), key=len, reverse=True))


_TAIL_WORDS = "values?|of|for|over|all|overall|specimens?|coupons?"
_TAIL = rf"(?:,?\s*(?:%|±\s*\w*|=\s*\S+|[(\[].*[)\]]|(?:{_TAIL_WORDS})\b.*))*"
_SURE = (
    rf"(?:(?:[^\W\d_]{{2,}} )*(?:{_any('means', 'scatters')})(?: [^\W\d_]{{2,}})*"
    rf"|(?:{_any('others', 'other_sizes', 'limits')}))(?:{_TAIL}|\s*:.*)"
)
_SHORT = rf"({_any('short', 'short_other_sizes', 'short_limits')}){_TAIL}"
_FOOT = (
    r"(?:signed|signature|unterschrift|unterzeichnet|signé)\b.*"
    rf"|(?:{_any('signed')})(?:\s*:.*| (?:by|von|durch|par|am|on|le)\b.*|)"
    rf"|(?:{_any('noted')})(?:\s*:.*|)"
    r"|(?:page|seite) \d+ (?:of|von|sur|de|/) \d+"
    r"|(?:form|formblatt) [^\W\d_]+-\d.*"
    r"|#\s*[^\W\d_]{2,}\s.*"
)
_LIMIT = re.compile(rf"\b(?:{_any('limits', 'short_limits')}|batch|\w*charge)\b")
_OTHER_SIZE = re.compile(
    rf"[±\s1-6-]*(?:{_any('short_other_sizes')})(?![^\W\d_])"
    rf"|.*(?<![^\W\d_])(?:{_any('scatters', 'other_sizes')})(?![^\W\d_])"
)
"""Names whose numbers need not be of the size of their column."""
_SIGMAS = re.compile(r"[±\s]*[1-6]\s*-?(?:sigma|σ|std\.? ?dev\.?)", re.IGNORECASE)
_LONGEST = 60
_DIGITS = str.maketrans("123456789", "000000000")
_LIKE, _MOST_SPANS = 1.5, 60
"""How far a coupon's number may lie from the others of its column; rows of which every run is looked at."""
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
    if not cell or len(cell) > _LONGEST:
        return ""
    if cell[0].isdigit() or cell[0] == "±":
        return "computed" if _SIGMAS.fullmatch(cell) else ""
    return _word_of_shape(cell.translate(_DIGITS))


@lru_cache(4096)
def _word_of_shape(cell: str) -> str:
    """As `total_word`, of a name whose digits, which make no difference, are all 0."""
    if re.fullmatch(_FOOT, _plain(cell)):
        return "foot"
    name = _without_points(cell)
    if re.fullmatch(_SURE, name):
        return "computed"
    return "short" if re.fullmatch(_SHORT, name) else ""


def _plain(cell: str) -> str:
    return " ".join(cell.casefold().replace("_", " ").split())


def _without_points(cell: str) -> str:
    """A name in small letters without the points of what is short in it."""
    name = _plain(cell)
    name = name.replace(".", " " if re.search(r"[^\W\d_]{2}\.[^\W\d_]{2}", name) else "")
    return " ".join(name.split()).strip(" :=")


def refuted(
    name: str,
    labels: Sequence[str],
    cells: Sequence[str],
    above: Sequence[Sequence[str]],
    counted: Sequence[bool],
) -> bool:
    """Whether a number of a row is not what its name says, and the row may be a coupon.

    labels, cells: of the columns of numbers, repeats of one label; above: the cells of each coupon above it;
    counted: those that are not excluded. A mean, median or extreme of any of the rows lies between the
    readings of its columns, to the digits written. The numbers of a scatter, sum or count lie there, or are
    those of all coupons, of those that count, or, all of one kind, of some rows in succession; or one is
    below two thirds or above three halves of its column. A limit, target or mean of another batch follows
    from none.
    """
    row, numbers = np.array(_readings(cells)), np.array([_readings(line) for line in above])
    filled = ~np.isnan(row) & (~np.isnan(numbers)).any(axis=0) if numbers.size else np.zeros(0, bool)
    if _LIMIT.search(_plain(name)) or not filled.any():
        return False
    like = np.array(labels)[filled, None] == np.array(labels)
    low, high = np.array([(np.nanmin(numbers[:, of]), np.nanmax(numbers[:, of])) for of in like]).T
    row, numbers = row[filled], numbers[:, filled]
    places = [len(cells[int(at)].replace(",", ".").partition(".")[2]) for at in np.flatnonzero(filled)]
    rounding = 0.5 * 10.0 ** -np.array(places, float) + 1e-9 * np.abs(row)
    possible = (row >= low - rounding) & (row <= high + rounding)
    if possible.all() or not _OTHER_SIZE.match(_without_points(name)):
        return not possible.all()
    size, sizes = np.abs(row), np.abs(numbers)
    if (size < np.nanmin(sizes, axis=0) / _LIKE).any() or (size > np.nanmax(sizes, axis=0) * _LIKE).any():
        return False

    def fits(rows: Array) -> Any:
        """Which statistic is the number of which column."""
        return np.abs(_statistics(rows) - row) <= rounding

    whole = (rows for rows in (numbers, numbers[np.array(counted)]) if rows.size)
    if any((fits(rows).any(axis=0) | possible).all() for rows in whole):
        return False
    spans = combinations(range(len(numbers) + 1), 2) if len(numbers) <= _MOST_SPANS else ()
    return not any((fits(numbers[a:b]) | possible).all(axis=1).any() for a, b in spans if b - a > 1)


def _readings(cells: Sequence[str]) -> list[float]:
    """The numbers of cells, with point or comma; NaN where there is none."""
    return [number_in(cell.replace(",", "."), ".") for cell in cells]


def _statistics(rows: Array) -> Array:
    """What people compute below columns (n, k), a row each; NaN of a column without numbers."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # of a column without numbers
        middle, low, high = np.nanmean(rows, axis=0), np.nanmin(rows, axis=0), np.nanmax(rows, axis=0)
        scatters = [np.nanstd(rows, axis=0, ddof=ddof) for ddof in (0, 1)]
        sums = np.nansum(rows, axis=0), np.sum(~np.isnan(rows), axis=0)
        shares = [100.0 * scatter / middle for scatter in scatters]
        return np.array(
            [middle, np.nanmedian(rows, axis=0), low, high, high - low, *sums, *scatters, *shares]
        )


def split(rows: Sequence[tuple[str, str]]) -> tuple[int, list[int]]:
    """Where the rows of specimens end, and which of those before that are none.

    rows: of each its name, and what it is: a word of `total_word`, or 'lone' for a text that stands alone.
    """
    end = len(rows)
    while end and rows[end - 1][1]:
        end -= 1
    shapes = {len(name) for name, what in rows[:end] if not what and name.isalpha()}
    for name, what in rows[end:]:
        if what != "lone" and not (what == "short" and len(name) in shapes and name.isalpha()):
            break
        end += 1
    return end, [at for at, (_, what) in enumerate(rows[:end]) if what in ("computed", "foot")]


def mean_rows(table: Table) -> Iterator[Problem]:
    """Findings for rows at the end whose numbers are the means of the rows above, whatever they are called.

    A row that says its kind or its field, or is excluded, is taken at its word.
    """
    heading = next((heading for heading in table.headings if heading.name == "specimen"), None)
    if heading is None:
        return
    named = table.column(heading)
    answered = [table.column(h) for h in table.headings if h.name in ("kind", "excluded", "field")]
    columns = (
        (h.name, cells.__getitem__, np.array([number_in(cell, table.decimal) for cell in cells], float))
        for h in table.headings
        if h.name not in TEXT_COLUMNS and (cells := table.column(h))
    )
    hint = "remove the row, or call it 'mean'; for a coupon write 'specimen' in its column 'kind'"
    for at in means_at(named, answered, columns, table.decimal):
        where = table.place(table.rows[at], heading)
        computed = f"'{named[at]}', whose numbers are the means of the rows above it"
        yield Problem("computed-row", table.file, where, computed, "coupons alone", hint)


def means_at(
    names: Sequence[str],
    answered: Sequence[Sequence[str]],
    columns: Iterable[tuple[str, Callable[[int], str], Array]],
    decimal: str,
) -> list[int]:
    """Which of the last rows hold the means of the rows above.

    Every number must be the mean to its written digits, in two columns or more that are not all alike.
    answered: words of each row that say what it is; columns: name, text of a cell, and numbers (n,), NaN
    where there is none.
    """
    left = {
        at: (0, 1.0)
        for at in range(max(2, len(names) - _LAST), len(names))
        if names[at] and not any(column[at] for column in answered)
    }
    first: dict[str, Array] = {}
    for name, text, numbers in columns:
        if not left:
            break
        if any(map(text, left)):
            before = first.setdefault(name, numbers)
            other = None if before is numbers else before
            after = {at: _still(known, text(at), numbers, at, other, decimal) for at, known in left.items()}
            left = {at: known for at, known in after.items() if known}
    return [
        at
        for at, (count, chance) in left.items()
        if count >= 2 and chance <= (_CHANCE if any(map(str.isdigit, names[at])) else _CHANCE_OF_A_WORD)
    ]


def _still(
    known: tuple[int, float], text: str, numbers: Array, at: int, first: Array | None, decimal: str
) -> tuple[int, float] | None:
    """The columns that say that a row is of means, and their chance; None where this column says it is not.

    text: of its cell; first: the numbers of the first of repeated columns; the others say no more than they
    differ from it.
    """
    if not text:
        return known
    reading, above = float(numbers[at]), numbers[:at][~np.isnan(numbers[:at])]
    if math.isnan(reading) or len(above) < 2:
        return None
    mean = float(above.mean())
    step = 10.0 ** -len(text.partition(decimal)[2])
    if abs(reading - mean) > 0.5 * step + 1e-9 * abs(mean):
        return None
    count, chance = known
    spread = float(np.ptp(above))
    if first is not None and not np.isnan(apart := numbers[:at] - first[:at]).all():
        spread = min(spread, max(step, float(np.nanmax(apart) - np.nanmin(apart))))
    return (count + 1, chance * min(1.0, step / spread)) if spread else known
