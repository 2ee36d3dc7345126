"""Formulas held to another computation of the same, where an error of sign stays unseen at zero."""

import pytest
from scipy.stats import binomtest

from laminate.formulas.point_count import rare_half_width
from laminate.formulas.press import bleed_of_thickness


@pytest.mark.parametrize("hits", [0, 1, 10, 40, 60, 99])
def test_wilsons_interval_is_that_of_scipy(hits):
    """To the farther end of the interval, of a share or of its complement."""
    ends = binomtest(hits, 100).proportion_ci(0.95, method="wilson")
    farther = max(ends.high - hits / 100, hits / 100 - ends.low)
    assert float(rare_half_width(share=hits / 100, points=100)) == pytest.approx(farther, rel=1e-9)


def test_bleed_is_told_by_a_thickness_with_voids():
    fiber, resin, layers, bleed, voids = 1.2e-3, 1.0e-3, 5e-5, 0.07, 0.02
    thickness = (fiber + (1 - bleed) * resin + layers) / (1 - voids)
    found = bleed_of_thickness(
        thickness=thickness, void_content=voids, fiber=fiber, resin=resin, layers=layers
    )
    assert found == pytest.approx(bleed, rel=1e-9)
