"""The ends of the check by Monte Carlo, taken from tails alone, are the quantiles of all the draws."""

import numpy as np
import pandas as pd
import pytest

import laminate as lam
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


def test_groups_that_are_not_checked_are_said():
    """Fourteen coupons of as many counts of plies are fourteen groups, of which twelve are checked."""
    rows = [{"specimen": f"s{n}", "plies": n, "thickness [mm]": f"{0.15 * n:.3f}"} for n in range(5, 19)]
    material = {
        "fiber_areal_weight": "150 g/m^2 ± 1.2 (standard)",
        "fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)",
    }
    checked, every = (lam.measure(pd.DataFrame(some), **material) for some in (rows, rows[:12]))
    assert len({check.specimen for check in checked.monte_carlo}) == 12
    assert len(checked.notes) == len(every.notes) + 1
    assert {"s17", "s18"} == {word.strip(",") for word in checked.notes[0].split() if word.startswith("s1")}
