"""Roots of monotonic functions by bisection: arithmetic, with no other source."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .number import Number

HALVINGS = 40
"""Of a span: to 1e-12 of it."""
STEPS = 200


def rising_root(*, function: Callable[[Number], Number], low: Number, high: Number) -> Number:
    """Root of a real function that rises through zero between two points, by bisection, for each element.

    function : value at a point [any unit]
    low, high : where the function is at most 0, and at least 0 [any unit]

    The end that it does not pass where it has no root between them. A scalar problem gives a float.

    >>> round(rising_root(function=lambda x: x**2 - 2, low=0.0, high=2.0), 9)
    1.414213562
    """
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = function(middle) < 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return high if np.ndim(high) else float(high)


def bracketed_root(*, function: Callable[[float], float], low: float, high: float) -> float | None:
    """Root of a function that changes its sign once between two points, by bisection; None where it does not.

    function : value at a point [any unit]
    low, high : the points, low below high [any unit]

    It ends where no number lies between the two.

    >>> round(bracketed_root(function=lambda x: 2 - x**2, low=0.0, high=2.0), 12)
    1.414213562373
    >>> bracketed_root(function=lambda x: 2 + x**2, low=0.0, high=2.0)
    """
    start = function(low)
    if start * function(high) > 0.0:
        return None
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        value = function(middle)
        if value * start > 0.0:
            low = middle
        else:
            high = middle
    return high
