"""The ends of the check by Monte Carlo, taken from tails alone, are the quantiles of all the draws."""

import numpy as np
import pytest

from laminate.coupons.monte_check import DRAWS, SHARES, _ends

GENERATOR = np.random.default_rng(5)
NORMAL = GENERATOR.standard_normal(DRAWS)


@pytest.mark.parametrize(
    "errors",
    [
        NORMAL,
        1e-9 * NORMAL,
        NORMAL + 0.2 * NORMAL**2,
        GENERATOR.exponential(size=DRAWS),  # nothing lies in its lower tail: all are sorted
        GENERATOR.uniform(-1.0, 1.0, DRAWS),
        NORMAL + 3.0,
    ],
    ids=["normal", "small", "curved", "one-sided", "uniform", "moved"],
)
def test_the_ends_are_the_quantiles_of_all_draws(errors):
    wanted = [*np.quantile(errors, SHARES), np.quantile(np.abs(errors), 1 - 2 * SHARES[0])]
    assert _ends(errors, float(errors.std())) == pytest.approx(wanted, rel=1e-12)
