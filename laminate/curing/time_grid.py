"""Times at which heat is computed: a minute apart, ten seconds where what heats changes fast."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

STEP, FAST_STEP = 60.0, 10.0
FAST = 5.0 / 60.0
"""Heating faster than this is a step [K/s]; no source."""
AFTER = 300.0
GROWS = 30.0
"""After that a step is the time since what heats changed fast, over this: heat into a core slows down so."""
MOST = 4000
SOON = tuple(2.0**-n for n in range(1, 8))
"""Shares of the first fast step. A step much longer than a cell takes to warm puts it past what heats it."""


def time_grid(
    seconds: np.ndarray, temperatures: np.ndarray, start: float, also: Sequence[float] = ()
) -> np.ndarray:
    """Rising times over a curve of straight lines [s].

    seconds, temperatures: what heats [s, K]; start: temperature of everything at the first time [K]; also:
    times that must be among them.
    """
    begin, end = float(seconds[0]), float(seconds[-1])
    slope = np.abs(np.diff(temperatures)) / np.diff(seconds)
    fast = [(float(seconds[i]), float(seconds[i + 1])) for i in np.flatnonzero(slope > FAST)]
    if abs(float(temperatures[0]) - start) > 1.0:
        fast.append((begin, begin))
    stretch = max(1.0, (end - begin) / STEP / MOST)
    times = {begin, end, *(float(t) for t in also if begin <= t <= end)}
    times.update(np.arange(begin, end, STEP * stretch).tolist())
    merged: list[list[float]] = []
    for since, until in sorted(fast):
        if merged and since <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], min(until + AFTER, end))
        else:
            merged.append([since, min(until + AFTER, end)])
    for since, until in merged:
        step = max(FAST_STEP, (until - since) / MOST)
        times.update(np.arange(since, until, step).tolist())
        times.update(since + step * share for share in SOON if since + step * share < until)
        settled = until - min(AFTER, until - since)
        while until < end and (step := (until - settled) / GROWS) < STEP * stretch:
            until += max(step, FAST_STEP)
            times.add(min(until, end))
    grid = np.array(sorted(times))
    keep = np.concatenate([[True], np.diff(grid) > 1e-6])
    return np.asarray(grid[keep])
