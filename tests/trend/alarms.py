"""How often chance alone makes a steady series show a signal: `python -m tests.trend.alarms`."""

from __future__ import annotations

import numpy as np

from laminate.history.control import ALARMS, STEADY, TOO_FEW, chart_of

TRIALS, SEED = 20_000, 1


def share(n: int, trials: int, seed: int = SEED) -> float:
    """The share of series of n independent values of one normal distribution that show a signal."""
    values = np.random.default_rng([seed, n]).standard_normal((trials, n))
    return sum(chart_of(row).state not in (STEADY, TOO_FEW) for row in values.tolist()) / trials


if __name__ == "__main__":
    for n in ALARMS:
        print(f"{n}: {share(n, TRIALS):.4f}", flush=True)
