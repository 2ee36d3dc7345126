"""A result between its limits, drawn in characters."""

from __future__ import annotations

from collections.abc import Sequence

from laminate.formulas.number import bounds, within

WIDTH = 11
"""Columns: one beyond each limit, the limits, and those between them."""


def between(values: Sequence[float], expanded: float, low: float | None, high: float | None) -> str:
    """Values on a line between limits: `|` a limit, `o` a value, `-` its ±.

    values: of coupons, or one average; expanded: the largest expanded uncertainty among them; low, high: the
    limits, None where there is none; all in one unit. What lies outside a limit is drawn outside it.

    >>> between([3.0], 1.0, 0.0, 10.0), between([11.0, 5.0], 0.2, 0.0, 10.0), between([0.5], 0.1, None, 2.0)
    ('.|.-o....|.', '.|...o...|o', '..o-.....|.')
    """
    ends = [value + sign * expanded for value in values for sign in (-1.0, 1.0)]
    first = min(ends) if low is None else low
    last = max(ends) if high is None else high
    span = (last - first) or 1.0

    def at(value: float) -> int:
        if not within(value, *bounds(low, high)):
            return 0 if value < first else WIDTH - 1
        inside = round((value - first) / span * (WIDTH - 5))
        return 2 + min(max(inside, 0), WIDTH - 5)

    line = ["."] * WIDTH
    for value in values:
        for column in range(at(value - expanded), at(value + expanded) + 1):
            line[column] = "-"
    for limit, column in ((low, 1), (high, WIDTH - 2)):
        if limit is not None:
            line[column] = "|"
    for value in values:
        line[at(value)] = "o"
    return "".join(line)
