"""Curves along a cycle that are known at some times, and straight between them."""

from __future__ import annotations

import numpy as np


def each_at(seconds: np.ndarray, curves: np.ndarray, times: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Curve (times, columns) of each column at a time of its own, by straight lines; the ends go on."""
    at = np.clip(times, seconds[0], seconds[-1])
    after = np.clip(np.searchsorted(seconds, at, side="left"), 1, len(seconds) - 1)
    share = (at - seconds[after - 1]) / (seconds[after] - seconds[after - 1])
    return np.asarray((1.0 - share) * curves[after - 1, columns] + share * curves[after, columns])


def rises(seconds: np.ndarray, curves: np.ndarray) -> np.ndarray:
    """When each curve (times, ...) first rises above 0, by straight lines [s]; inf where it never does."""
    above = curves > 0.0
    at = np.argmax(above, axis=0)[None]
    before = np.maximum(at - 1, 0)
    high, low = (np.take_along_axis(curves, rows, 0)[0] for rows in (at, before))
    share = np.clip(-low / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    time = seconds[before[0]] + share * (seconds[at[0]] - seconds[before[0]])
    return np.where(above.any(axis=0), time, np.inf)


def first_above(seconds: np.ndarray, values: np.ndarray) -> float:
    """The same of one curve."""
    return float(rises(seconds, values))
