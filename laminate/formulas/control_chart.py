"""Control chart for individual values: its limits, and the patterns that chance seldom makes.

The patterns are the run tests of Nelson, J. Quality Technology 16 (1984) 237 (second-hand). Each function
gives the places (from 0) at which a pattern is complete.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

RANGE_OF_TWO = 1.128
"""Mean range of two normal values over their standard deviation, as printed in tables (d2)."""

SAME = 1e-10
"""Equal values differ in their last bits once they are averaged, converted or written: a difference below
this share of the greatest of them is none.
"""


class ControlLimits(NamedTuple):
    """Centre and limits of a chart of individual values."""

    centre: float
    lower: float
    upper: float
    moving_range: float


def control_limits_individuals(*, values: Sequence[float]) -> ControlLimits:
    """Centre and limits, ``mean +- 3 (mean moving range)/1.128`` (NIST/SEMATECH e-Handbook 6.3.2.2).

    values : in order of time, two or more

    Raises ValueError for fewer.

    >>> chart = control_limits_individuals(values=[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
    ...                                            53.6, 52.1])
    >>> [round(value, 4) for value in chart]
    [50.81, 45.8159, 55.8041, 1.8778]
    """
    sample = np.asarray(values, dtype=float)
    if sample.size < 2:
        raise ValueError(f"a control chart needs 2 values or more, got {sample.size}")
    centre, moving = float(sample.mean()), float(np.abs(np.diff(sample)).mean())
    half = 3 * moving / RANGE_OF_TWO
    return ControlLimits(centre, centre - half, centre + half, moving)


def _complete(count: int, length: int, pattern: Callable[[slice], bool]) -> list[int]:
    return [last for last in range(length - 1, count) if pattern(slice(last - length + 1, last + 1))]


def _beyond(differences: ArrayLike, values: Sequence[float], least: float = 0.0) -> NDArray[np.float64]:
    """1 where a difference is more than the least, -1 where it is less than minus that, else 0."""
    away, rounding = np.asarray(differences, dtype=float), SAME * float(np.abs(values).max(initial=0.0))
    return np.where(np.abs(away) > least + rounding, np.sign(away), 0.0)


def _from_centre(values: Sequence[float], centre: float, least: float = 0.0) -> NDArray[np.float64]:
    return _beyond(np.asarray(values, dtype=float) - centre, values, least)


def beyond_limits(*, values: Sequence[float], centre: float, sigma: float) -> list[int]:
    """Places of values more than three sigma from the centre.

    values : in order of time
    centre : of the chart
    sigma : a third of the distance from centre to limit

    >>> beyond_limits(values=[0.0, 3.1, -3.2, 2.9], centre=0.0, sigma=1.0)
    [1, 2]
    """
    return np.flatnonzero(_from_centre(values, centre, 3 * sigma)).tolist()


def nine_on_one_side(*, values: Sequence[float], centre: float) -> list[int]:
    """Places where nine values in a row have been on one side of the centre.

    values : in order of time
    centre : of the chart

    >>> nine_on_one_side(values=[1.0] * 10, centre=0.0)
    [8, 9]
    """
    side = _from_centre(values, centre)
    return _complete(side.size, 9, lambda run: bool(abs(side[run].sum()) == 9))


def six_rising_or_falling(*, values: Sequence[float]) -> list[int]:
    """Places where six values in a row have risen, or fallen, each beyond the one before.

    values : in order of time

    >>> six_rising_or_falling(values=[1, 2, 3, 4, 5, 6, 5])
    [5]
    """
    step = _beyond(np.diff(values), values)
    return [last + 1 for last in _complete(step.size, 5, lambda run: bool(abs(step[run].sum()) == 5))]


def fourteen_alternating(*, values: Sequence[float]) -> list[int]:
    """Places where fourteen values in a row have gone up and down in turn.

    values : in order of time

    >>> fourteen_alternating(values=[0, 1] * 7)
    [13]
    """
    step = _beyond(np.diff(values), values)
    turns = step[1:] * step[:-1]
    return [last + 2 for last in _complete(turns.size, 12, lambda run: bool((turns[run] == -1).all()))]


def _several(values: Sequence[float], centre: float, distance: float, of: int, least: int) -> list[int]:
    side = _from_centre(values, centre, distance)
    return _complete(
        side.size, of, lambda run: bool(side[run][-1] and (side[run] == side[run][-1]).sum() >= least)
    )


def two_of_three_beyond_two_sigma(*, values: Sequence[float], centre: float, sigma: float) -> list[int]:
    """Places where two of three values in a row lie more than two sigma out on the same side.

    values : in order of time
    centre : of the chart
    sigma : a third of the distance from centre to limit

    >>> two_of_three_beyond_two_sigma(values=[2.1, 0.0, 2.2, -2.5], centre=0.0, sigma=1.0)
    [2]
    """
    return _several(values, centre, 2 * sigma, 3, 2)


def four_of_five_beyond_one_sigma(*, values: Sequence[float], centre: float, sigma: float) -> list[int]:
    """Places where four of five values in a row lie more than one sigma out on the same side.

    values : in order of time
    centre : of the chart
    sigma : a third of the distance from centre to limit

    >>> four_of_five_beyond_one_sigma(values=[1.1, 1.2, 0.0, 1.3, 1.4], centre=0.0, sigma=1.0)
    [4]
    """
    return _several(values, centre, sigma, 5, 4)
