"""What a formula computes with, and the two places where it may look at the real part of it."""

from __future__ import annotations

import math
from typing import Any, TypeAlias

import numpy as np

Number: TypeAlias = Any
"""A float, a numpy array, a complex number, or a number with uncertainty: whatever knows + - * / **."""


def real_part(value: Number) -> Number:
    """Give the number itself, without its complex step or its uncertainty.

    >>> real_part(2.5 + 1e-30j)
    2.5
    """
    plain: Number = getattr(value, "nominal_value", value)
    return np.real(plain)


def choose(condition: Number, yes: Number, no: Number) -> Number:
    """Take `yes` where the condition holds and `no` elsewhere; a scalar stays the kind of number it was.

    >>> choose(True, 1, 2)
    1
    """
    if getattr(condition, "ndim", 0):
        if np.shape(yes) == condition.shape and condition.all():  # far cheaper than to pick one by one
            return yes
        return np.where(condition, yes, no)
    return yes if condition else no


def bounds(minimum: float | None, maximum: float | None) -> tuple[float, float]:
    """Give both limits as numbers, infinite where there is none.

    >>> bounds(None, 2.0)
    (-inf, 2.0)
    """
    return -math.inf if minimum is None else minimum, math.inf if maximum is None else maximum


NOTHING = 1e-9
"""A difference below this share of a value is none: a number of a drawing has no more digits."""


def within(value: Number, low: float, high: float, band: Number = 0.0) -> Number:
    """Tell whether values are inside limits by a band or more (negative: at most so far outside).

    A difference below `NOTHING` of value or band is none; an infinite value or band is inside no limit.

    >>> bool(within((1.93 + 1.94 + 1.95) / 3, 1.90, 1.94)), bool(within(math.inf, 1.90, 1.94))
    (True, False)
    """
    size = np.maximum(np.abs(value), np.abs(band))
    slack = NOTHING * np.where(np.isfinite(size), size, 0.0)
    with np.errstate(invalid="ignore"):  # no limit, and a band without end
        return (value >= low + band - slack) & (value <= high - band + slack)


def cosine(value: Number) -> Number:
    """Take the cosine of an angle [rad]; of a complex step or an uncertainty the first order alone.

    >>> cosine(0.0)
    1.0
    """
    plain = real_part(value)
    if isinstance(plain, float):
        at, slope = math.cos(plain), -math.sin(plain)
    else:
        at, slope = np.cos(plain), -np.sin(plain)
    return at if plain is value else at + slope * (value - plain)
