"""The interval that peers give, and the readings one slip away."""

import math

import numpy as np
import pytest
from scipy import stats

from laminate.coupons.peers import MANY, WEIGHT, factor, from_others, intervals, scatter_left
from laminate.coupons.slips import decimals_of, factor_words, one_slip_away


def test_two_equal_fellows_leave_the_plausible_scatter():
    """Pooled: (8 x 2^2 + 0)/(8 + 1), with 9 degrees of freedom, for one more beside two."""
    center, half = from_others([10.0, 10.0], 2.0)
    assert WEIGHT == 8.0
    assert center == 10.0
    assert half == pytest.approx(factor(2, 2) * math.sqrt(32 / 9 * 1.5), rel=1e-12)


def test_the_factor_is_students():
    """t at 0.9995 is 4.781 with 9 and 4.587 with 10 degrees of freedom (a table, read)."""
    assert factor(2, 2) == pytest.approx(4.781, abs=5e-4)
    assert factor(3, 2) == pytest.approx(4.587, abs=5e-4)
    assert factor(3, 4) == pytest.approx(stats.t.isf(0.00025, 10), rel=1e-9)


@pytest.mark.parametrize("n", [4, 6, 12, 39])
def test_what_the_farthest_takes_from_the_scatter_is_known(n):
    """By simulation, 20 000 normal samples."""
    values = np.random.default_rng(n).standard_normal((20_000, n))
    far = np.argmax(np.abs(values - np.median(values, axis=1)[:, None]), axis=1)
    near = np.where(np.arange(n) == far[:, None], np.nan, values)
    assert scatter_left(n) == pytest.approx(np.nanvar(near, axis=1, ddof=1).mean(), abs=0.035)


def test_a_second_slip_does_not_hide_the_first():
    center, half = from_others([1.55, 1.551, 1.549, 1.70], 0.005)
    without, smaller = from_others([1.55, 1.551, 1.549], 0.005)
    assert center == pytest.approx(1.5505)
    assert without == pytest.approx(1.55)
    assert smaller < half < 1.1 * smaller


@pytest.mark.parametrize("n", [2, 6, MANY + 1, 400])
def test_one_far_reading_is_outside_and_the_others_are_not(n):
    values = [1.55 + 0.001 * (i % 3) for i in range(n - 1)] + [1.65]
    found = intervals(values, 0.003, "like the others")
    inside = [interval.low <= value <= interval.high for value, interval in zip(values, found, strict=True)]
    assert inside[-1] is False
    assert all(inside[:-1]) or n == 2  # of two that differ neither can be told to be the wrong one


def test_one_reading_has_no_fellow():
    assert intervals([1.55], 0.003, "") == [None]


@pytest.mark.parametrize(
    ("text", "kind", "meant"),
    [
        ("1.4247", "mass", "1.4427"),
        ("1442.7", "mass", "1.4427"),
        ("0.511", "mass", "0.5117"),
        ("1.44427", "mass", "1.4427"),
        ("1.9427", "mass", "1.4427"),
        ("0.05089", "mass", "1.4427"),
        ("72.949", "length", "2.872"),
        ("2,143", "length", "2,413"),
        ("-0.52", "mass", "-5.2"),
    ],
)
def test_the_reading_that_was_meant_is_one_slip_away(text, kind, meant):
    wanted = float(meant.replace(",", "."))
    assert any(math.isclose(one.number, wanted, rel_tol=2e-4) for one in one_slip_away(text, kind))


@pytest.mark.parametrize("text", ["", "NA", "0.0", "1e-3"])
def test_what_is_no_written_number_has_no_slips(text):
    assert list(one_slip_away(text, "mass")) == []


def test_every_reading_is_offered_once():
    numbers = [one.number for one in one_slip_away("1.1221", "mass")]
    assert len(numbers) == len(set(numbers))
    assert 1.1221 not in numbers


@pytest.mark.parametrize(
    ("ratio", "words"), [(1 / 25.4, "inches"), (28.0, "ounces"), (0.1, "decimal"), (2, "")]
)
def test_the_factor_between_units(ratio, words):
    kind = "length" if words == "inches" else "mass"
    assert (words in factor_words(ratio, kind)) if words else factor_words(ratio, kind) == ""


def test_decimal_places_of_what_is_written():
    assert [decimals_of(text) for text in ("1.20", "1,2", "12", "12.", "abc")] == [2, 1, None, 0, None]


def test_a_crucible_with_its_coupon_may_weigh_what_another_weighs_empty(shop):
    """Exchanged by way of trial one coupon weighs nothing: no number comes of it, no warning of numpy."""
    shop.table(
        "specimen,mass in air [g],mass in liquid [g],liquid temperature [degC],method,crucible mass [g],"
        "crucible with specimen [g],crucible with residue [g]",
        "S1,2.1952,1.0040,23.2,ignition,26.1689,28.3638,27.6406",
        "S2,2.1078,0.9738,23.1,ignition,26.7874,28.8940,28.2106",
        "S3,1.9710,0.9091,23.1,ignition,24.8175,26.7874,26.1502",
        "S4,1.9017,0.8723,23.1,ignition,26.9807,28.8816,28.2632",
        "S5,1.8728,0.8647,23.0,ignition,26.0822,27.9552,27.3561",
    )
    densities = ("--fiber-density", "2.55 g/cm^3", "--resin-density", "1.20 g/cm^3")
    assert shop.json("measure", "coupons.csv", *densities)["warnings"] == []


NEAR = [1.5432, 1.5441, 1.5455, 1.5462, 1.5470, 1.5448, 1.5439, 1.5478]


@pytest.mark.parametrize(
    ("far", "outside"),
    [
        ([1.602, 1.515, 1.607, 1.483], 4),
        ([1.602, 1.483, 1.607], 3),
        ([1.602, 1.605, 1.607, 1.604], 0),  # of another make
        ([1.5520, 1.5390, 1.5535, 1.5380], 0),
    ],
)
def test_several_far_ones_do_not_hide_each_other(far, outside):
    values = NEAR + far
    found = intervals(values, 0.003 * 1.545, "", several=True)
    wrong = [
        at for at, (x, like) in enumerate(zip(values, found, strict=True)) if not like.low <= x <= like.high
    ]
    assert wrong == list(range(len(NEAR), len(NEAR) + outside))


@pytest.mark.parametrize("n", [8, 12, 20, 30])
def test_looking_for_several_accuses_no_sample_of_one_make_more(n):
    samples = 1.545 + 0.006 * np.random.default_rng(n).standard_normal((100, n))
    alone, several = (
        [[(i.low, i.high) for i in intervals(values, 0.0046, "", several=many)] for values in samples]
        for many in (False, True)
    )
    assert alone == several


def test_coupons_of_three_makes_are_not_several_slips():
    values = [*NEAR, 1.545 * 1.02, 1.545 * 1.021, 1.545 * 0.98, 1.545 * 0.981]
    for at, like in enumerate(intervals(values, 0.003 * 1.545, "", several=True)):
        assert like.low <= values[at] <= like.high
