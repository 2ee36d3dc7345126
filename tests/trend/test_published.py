"""Published numbers through the verb: from coupon files to records to the trend over them."""

from __future__ import annotations

import itertools
from statistics import fmean, stdev

import numpy as np
import pytest

from laminate.history.trending import Studied, trend
from laminate.records.record import recompute

from .shop import Shop

# NIST/SEMATECH e-Handbook 6.3.2.2, second-hand; molded as tenths of a millimeter of thickness.
NIST = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# Spiegel, Probability and Statistics, analysis of variance, lifetimes of three samples; read in a reprint.
LIFETIMES = [[507, 511, 509], [504, 506, 508, 505, 502], [510, 508, 506, 508]]


def studied(shop: Shop) -> Studied:
    found = trend(shop.folder, recompute=recompute)
    assert [filed.faults for filed in found.records if filed.faults] == []
    return next(one for one in found.studied if one.series.key.name == "thickness")


def test_control_chart_of_the_handbook(shop):
    """NIST/SEMATECH e-Handbook 6.3.2.2: middle 50.81, limits 55.8041, 45.8159, mean moving range 1.8778."""
    shop.batches([[value / 10] for value in NIST])
    chart = studied(shop).chart
    assert chart is not None
    printed = [
        (chart.centre, 50.81),
        (chart.upper, 55.8041),
        (chart.lower, 45.8159),
        (chart.moving_range, 1.8778),
    ]
    for found, said in printed:
        assert 10 * found == pytest.approx(said, abs=5e-5)
    assert chart.signals == ()
    assert chart.state == "steady"


def test_f_of_three_samples(shop):
    """Spiegel: mean squares 36/2 and 36/9; F lies between the 95 % point 4.26 and the 99 % point 8.02."""
    number = itertools.count(1)
    for lot, values in enumerate(LIFETIMES, 1):
        for value in values:
            shop.batch(next(number), [value / 100], lot=f"L{lot}")
    found = studied(shop)
    test = next(one for one in found.scatter if one.by == "material lot")
    assert test.ratio == pytest.approx(36 / 2 / (36 / 9), rel=1e-9)
    assert 0.01 < test.chance < 0.05
    assert [(group.name, group.n, round(100 * group.mean, 9)) for group in test.groups] == [
        ("L1", 3, 509),
        ("L2", 5, 505),
        ("L3", 4, 508),
    ]
    assert test.scatters


def standardized(n: int, mean: float, deviation: float) -> list[float]:
    """So many values with exactly this mean and standard deviation."""
    raw = np.random.default_rng(2).standard_normal(n).tolist()
    centre, spread = fmean(raw), stdev(raw)
    return [mean + deviation * (value - centre) / spread for value in raw]


def test_capability_interval_of_the_textbook(tmp_path):
    """Montgomery, Introduction to Statistical Quality Control, an exercise.

    Limits 90 and 100, n 30, mean 97, s 1.6: inputs read; the output is arithmetic with the interval that the
    book and NIST/SEMATECH 6.1.6 give:
    Cpk 0.625 (3/4.8), half-width 1.96 sqrt(1/270 + 0.625^2/58) = 0.20025.
    """
    shop = Shop(tmp_path, limits=(9.0, 10.0))
    shop.batches([[value] for value in standardized(30, 9.7, 0.16)])
    average = next(one for one in studied(shop).capability if one.scope == "average")
    assert average.n == 30
    assert average.cpk == pytest.approx(0.625, rel=1e-9)
    assert average.cpk - average.low == pytest.approx(0.20025, abs=5e-6)
    assert average.high - average.cpk == pytest.approx(0.20025, abs=5e-6)


# CMH-17-1G, table of k_B, second-hand: https://rdrr.io/cran/cmstatr/src/tests/testthat/test-basis.R
@pytest.mark.parametrize(("n", "factor"), [(5, 3.408), (10, 2.355), (20, 1.927), (30, 1.778)])
def test_b_basis_factor(tmp_path, n, factor):
    shop = Shop(tmp_path)
    values = standardized(n, 5.0, 0.1)
    for number, value in enumerate(values, 1):
        shop.batch(number, [value], lot=f"L{number % 3}")
    found = studied(shop)
    basis = next(one for one in found.basis if one.letter == "B")
    assert basis.n == n
    assert basis.factor == pytest.approx(factor, abs=0.0025)
    assert not any(one.scatters for one in found.scatter if one.by == "material lot")
    if n < 18:
        assert basis.low is None
        assert f"{n} coupons, 18 are needed" in basis.why
    else:
        assert basis.low == pytest.approx(5.0 - basis.factor * 0.1, rel=1e-9)
        assert basis.high == pytest.approx(5.0 + basis.factor * 0.1, rel=1e-9)
