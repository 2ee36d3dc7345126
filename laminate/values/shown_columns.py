"""Columns of numbers as they are shown, free of the last digit's binary dust."""

from __future__ import annotations

from typing import Any

import numpy as np

from laminate.values.quantities import Unit, shown

_POWERS = np.array([float(f"1e{n}") for n in range(23)])


def shown_columns(numbers: Any) -> Any:
    """Numbers in their unit, of any shape, with 15 digits, as those that are `shown` one by one."""
    size = np.abs(numbers)
    with np.errstate(all="ignore"):
        places = np.fmin(np.fmax(14.0 - np.floor(np.log10(size)), 0.0), 22.0)
        power = _POWERS[places.astype(np.intp)]
        product = numbers * power
        whole = np.rint(product)
        half = np.nonzero(product - np.floor(product) == 0.5)
        whole[half] = _to_nearest(numbers[half], power[half], product[half])
        decimal = whole / power
    # another count of digits than 15, or a power that is no exact number: one by one
    digits = np.abs(whole)
    odd = (size > 0.0) & ~((digits >= 1e14) & (digits < 1e15))
    for at in zip(*np.nonzero(odd), strict=True):
        decimal[at] = shown(float(numbers[at]), Unit("", 1.0))
    return decimal


def _to_nearest(column: Any, power: Any, product: Any) -> Any:
    """Products that lie half way between two whole numbers, to the one that is nearer before any rounding.

    Source: the exact error of a product of two floats is itself one; T. J. Dekker, Numerische Mathematik 18
    (1971) 224, splits both in halves.
    """
    (high, low), (power_high, power_low) = map(_halves, (column, power))
    error = ((high * power_high - product) + high * power_low + low * power_high) + low * power_low
    return np.where(error > 0.0, np.ceil(product), np.where(error < 0.0, np.floor(product), np.rint(product)))


def _halves(column: Any) -> tuple[Any, Any]:
    """Two numbers of half the digits that add up to each."""
    scaled = column * (2.0**27 + 1.0)
    high = scaled - (scaled - column)
    return high, column - high
