"""Roots of monotonic functions on whole arrays: Newton's steps, kept inside a bracket by bisection.

The method is that of Press et al., Numerical Recipes, section 9.4: Newton-Raphson with root bracketing
(second-hand, from programs that name it).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .number import Number

STEPS = 200


def increasing_root(
    *,
    function: Callable[[Number], Number],
    slope: Callable[[Number], Number],
    low: Number,
    high: Number,
    tolerance: float,
) -> Number:
    """Root of a real function that rises through zero between `low` and `high`, for each element.

    function : value at a point [any unit]
    slope : derivative at a point [as function, over as low]
    low : where the function is at most 0 [any unit]
    high : where the function is at least 0, finite [as low]
    tolerance : last step of Newton, its error being far smaller [as low]

    A step of Newton that leaves the bracket, or does not halve it in two steps, is replaced by bisection.
    A scalar problem gives a float.

    >>> round(increasing_root(function=lambda x: x**2 - 2, slope=lambda x: 2 * x, low=0.0, high=2.0,
    ...                       tolerance=1e-9), 12)
    1.414213562373
    """
    low, high = np.broadcast_arrays(np.asarray(low, dtype=float), np.asarray(high, dtype=float))
    low, high, point = low.copy(), high.copy(), 0.5 * (low + high)
    before = high - low
    for step in range(STEPS):
        value = function(point)
        low = np.where(value <= 0, point, low)
        high = np.where(value >= 0, point, high)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            following = point - value / slope(point)
        width = high - low
        halve = ~((following >= low) & (following <= high))
        if step % 2:
            # Newton from one side leaves the other end of the bracket where it was: no failure as long as
            # its steps shrink faster than bisection would.
            halve |= np.abs(following - point) > 0.5 * before
            before = np.abs(following - point)
        following = np.where(halve, 0.5 * (low + high), following)
        settled = (np.abs(following - point) <= tolerance) | (width <= tolerance)
        point = following
        if np.all(settled):
            break
    return point if point.ndim else float(point)


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
