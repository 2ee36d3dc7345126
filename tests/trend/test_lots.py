"""Pooling: lots and batches that scatter, capability lot by lot, basis values refused, wear of a core."""

from __future__ import annotations

from dataclasses import replace
from statistics import fmean, stdev

import numpy as np
import pytest

from laminate.formulas.lot_scatter import consistency, variance_components
from laminate.history.points import Figures, Key, Origin, Point
from laminate.history.points import series_of as series_over
from laminate.history.trending import Trend, study
from laminate.show.trend_words import first_answer, glance, least_cpk, scatter_words, series_scale
from tests.messages.wording import says

from .test_signals import series_of

LIMITS = {"average": (50.0, 60.0), "individual": (48.0, 62.0)}


def lots_of(*shifts, each=6, coupons=3, between=0.2, within=0.4, seed=1):
    """Batches of several lots, their coupons and lot names."""
    rng = np.random.default_rng(seed)
    table, names = [], []
    for lot, shift in enumerate(shifts):
        for _ in range(each):
            middle = 55.0 + shift + between * rng.standard_normal()
            table.append((middle + within * rng.standard_normal(coupons)).tolist())
            names.append(f"L{lot}")
    return table, names


def by_lot(found):
    return next(one for one in found.scatter if one.by == "material lot")


def studied(table, names, **more):
    series = series_of([fmean(row) for row in table], lots=names, coupons=table, **more)
    series.limits = dict(LIMITS)
    return study(series)


def test_lots_that_do_not_differ_are_pooled():
    found = studied(*lots_of(0, 0, 0, between=0.0))
    assert not by_lot(found).scatters
    average = next(one for one in found.capability if one.scope == "average")
    assert (average.of, average.n) == ("all lots", 18)
    individual = next(one for one in found.capability if one.scope == "individual")
    coupons = [value for point in found.series.points for value in point.coupons]
    assert individual.n == len(coupons) == 54
    assert individual.deviation == pytest.approx(stdev(coupons))
    assert [(one.letter, one.low is None) for one in found.basis] == [("A", True), ("B", False)]


def test_lots_that_differ_are_not_pooled():
    found = studied(*lots_of(0, 2, -2))
    assert by_lot(found).scatters
    average = [one for one in found.capability if one.scope == "average"]
    assert [(one.of, one.cpk is None) for one in average] == [
        ("all lots", True),
        ("L0", False),
        ("L1", False),
        ("L2", False),
    ]
    assert "not pooled" in average[0].why
    assert all(one.low is None and "material lots scatter" in one.why for one in found.basis)


def test_batches_that_differ_count_as_batches_not_as_coupons():
    found = studied(*lots_of(0, 0, 0, between=1.0, within=0.1, seed=4))
    assert not by_lot(found).scatters
    individual = next(one for one in found.capability if one.scope == "individual")
    assert individual.n == 18
    parts = variance_components(lots=[point.coupons for point in found.series.points])
    assert individual.deviation == pytest.approx(parts.total)
    assert individual.deviation > stdev(point.value for point in found.series.points)
    assert all("batches scatter" in one.why for one in found.basis)


def test_a_basis_of_too_few_lots_is_refused():
    found = studied(*lots_of(0, between=0.0, each=30))
    assert all(one.low is None for one in found.basis)
    assert "1 material lot, 3 are needed" in next(one.why for one in found.basis if one.letter == "B")


def test_a_b_basis_bound_holds_ninety_percent_in_ninety_five_of_a_hundred():
    """Of 400 sets of 30 coupons of three like lots, those not refused: the bound is below the 10 % point."""
    below = total = 0
    for seed in range(400):
        found = studied(*lots_of(0, 0, 0, each=5, coupons=2, between=0.0, within=1.0, seed=seed))
        bound = next(one for one in found.basis if one.letter == "B")
        if bound.low is not None:
            total += 1
            below += bound.low < 55.0 - 1.2815515655446004
    assert total > 320
    assert 0.92 < below / total < 0.98


def test_few_batches_have_no_capability():
    found = studied(*lots_of(0, each=3, coupons=1))
    assert found.capability
    assert all(one.cpk is None and "5 are needed" in one.why for one in found.capability)


def test_many_coupons_of_few_batches_have_no_capability():
    """Coupons of one batch or four say nothing of the scatter from batch to batch."""
    for batches in (1, 4):
        found = studied(*lots_of(0, each=batches, coupons=12))
        individual = next(one for one in found.capability if one.scope == "individual")
        assert (individual.n, individual.cpk) == (12 * batches, None)
        assert individual.why.startswith(f"{batches} batch")


def test_equal_batches_have_no_capability():
    found = studied([[55.0]] * 8, ["L0"] * 8)
    assert found.capability
    assert all(
        one.cpk is None and says("trend: equal batches have no capability", one.why)
        for one in found.capability
    )


def test_wear_of_a_core_shows_as_a_slope():
    rng = np.random.default_rng(8)
    moldings = list(range(1, 21))
    table = [[55.0 + 0.1 * n + 0.2 * rng.standard_normal()] for n in moldings]
    found = studied(table, ["L0"] * 20, moldings=moldings)
    assert found.wear[0].shows
    assert found.wear[0].slope == pytest.approx(0.1, abs=4 * found.wear[0].slope_u)
    flat = [[55.0 + 0.2 * rng.standard_normal()] for _ in moldings]
    assert not studied(flat, ["L0"] * 20, moldings=moldings).wear[0].shows


def test_a_core_whose_moldings_do_not_rise_tells_no_wear():
    assert studied([[55.0 + 0.1 * n] for n in range(8)], ["L0"] * 8, moldings=[12] * 8).wear == ()


def test_a_new_core_is_a_step_and_no_wear():
    """Two cores of one name, none of which wears; the second, new one makes thicker parts."""
    rng = np.random.default_rng(9)
    moldings = [*range(31, 43), *range(1, 13)]
    table = [[55.0 + (n < 13) + 0.1 * rng.standard_normal()] for n in moldings]
    series = series_of([row[0] for row in table], moldings=moldings)
    second = [replace(p, origin=replace(p.origin, cores=(("fore", "C-2", n),)))
              for p, n in zip(series.points, moldings, strict=True)][12:]  # fmt: skip
    series.points[12:] = second
    assert [(one.core, one.n, one.shows) for one in study(series).wear] == [
        ("fore C-1", 12, False),
        ("fore C-2", 12, False),
    ]


def test_limits_are_those_of_the_issue_that_came_last():
    """Issue A, then B with a closer limit, then one more batch to A."""
    key = Key("P-1", "void_content", "web", "%")
    figures = []
    for n, issue in enumerate("AABBA", 1):
        origin = Origin(f"26-{n}", f"2026-01-{n:02}", issue, ("L1",), "P1", (), "", "conforms")
        point = Point(origin, 1.0, None, 1, (), "", "conforms")
        figures.append(Figures(origin, ((key, point, {"individual": (None, 2.0 if issue == "A" else 1.2)}),)))
    (series,) = series_over(figures)
    assert (series.limits, series.limits_since) == ({"individual": (None, 1.2)}, "26-3")
    assert says("trend: limits of the newest issue", first_answer(study(series), "void content"))


def test_a_batch_without_a_limit_makes_no_issue_the_newest():
    """Issue A with a limit, B with none, then A with a wider one, which holds."""
    key = Key("P-1", "void_content", "web", "%")
    figures = []
    for n, (issue, most) in enumerate((("A", 2.0), ("B", None), ("A", 2.5)), 1):
        origin = Origin(f"26-{n}", f"2026-01-{n:02}", issue, ("L1",), "P1", (), "", "conforms")
        point = Point(origin, 1.0, None, 1, (), "", "conforms")
        figures.append(Figures(origin, ((key, point, most and {"individual": (None, most)}),)))
    for every in (False, True):
        (series,) = series_over(figures, every=every)
        assert (series.limits, series.limits_since) == ({"individual": (None, 2.5)}, "26-3")


def test_changes_of_lot_are_marked():
    found = studied(*lots_of(0, 0, each=3))
    assert [(mark.place, mark.words) for mark in found.marks] == [(3, "material lot L1")]


def test_an_instrument_that_changed_is_marked_where_coupons_were_measured():
    """Another balance, then its new calibration; a process reading has no such instrument."""
    weighed = ["BAL-02, certificate K-5521"] * 2 + [
        "BAL-03, certificate K-5521",
        "BAL-03, calibrated 2027-05-01",
    ]
    series = series_of([1.0, 1.1, 0.9, 1.0])
    series.points = [
        replace(p, origin=replace(p.origin, instruments=(("balance", each),)))
        for p, each in zip(series.points, weighed, strict=True)
    ]
    series.key = replace(series.key, zone="web")
    assert [(mark.place, mark.what) for mark in study(series).marks] == [(2, "instrument"), (3, "instrument")]
    series.key = replace(series.key, zone=None)
    assert study(series).marks == ()


def test_components_recover_what_was_put_in():
    """Of 4000 lots of three values, between 2 and within 1: JCGM 100 H.5 in the large."""
    rng = np.random.default_rng(2)
    lots = (2.0 * rng.standard_normal((4000, 1)) + rng.standard_normal((4000, 3))).tolist()
    found = variance_components(lots=lots)
    assert found.between == pytest.approx(2.0, rel=0.05)
    assert found.within == pytest.approx(1.0, rel=0.05)


def test_consistency_rejects_as_often_as_it_says():
    """Values with a shared cause: chance below 5 % in 5 % of 4000 cases, whatever is shared."""
    rng = np.random.default_rng(6)
    covariance = np.diag([1.0, 4.0, 0.25]) + 9.0
    table = rng.multivariate_normal(np.zeros(3), covariance, 4000)
    share = np.mean([consistency(values=row, covariance=covariance).chance < 0.05 for row in table])
    assert 0.04 < share < 0.06


def material(values, lots, prepregs=("ud", "woven"), coupons=3):
    """A series of batches with a lot of each prepreg, and coupons without scatter between batches."""
    rng = np.random.default_rng(3)
    table = [(value + 0.2 * rng.standard_normal(coupons)).tolist() for value in values]
    series = series_of([fmean(row) for row in table], coupons=table)
    series.points = [
        replace(p, origin=replace(p.origin, lots=each, prepregs=tuple(zip(prepregs, each, strict=False))))
        for p, each in zip(series.points, lots, strict=True)
    ]
    series.limits = dict(LIMITS)
    return study(series)


def test_one_lot_in_three_spellings_is_one_lot():
    found = material([55.0] * 9, [(name,) for name in ("L2305", "l2305", "L-23O5") * 3], ("ud",))
    assert [group.n for group in by_lot(found).groups] == [9]
    assert found.marks == ()
    assert [(one.lots, one.low) for one in found.basis] == [(1, None), (1, None)]
    assert {one.of for one in found.capability} == {"all lots"}


def test_lots_are_counted_for_each_prepreg():
    """Two lots of each of two prepregs in turn: four pairs, and two lots."""
    pairs = [(f"L{n % 2}", f"W{n // 2 % 2}") for n in range(8)]
    found = material([55.0] * 8, pairs)
    assert [one.lots for one in found.basis] == [2, 2]
    assert says("trend: two lots of a prepreg", next(one.why for one in found.basis if one.letter == "B"))
    enough = material([55.0] * 9, [(f"L{n % 3}", f"W{n // 3}") for n in range(9)])
    assert [(one.lots, one.low is None) for one in enough.basis] == [(3, True), (3, False)]


def test_the_lots_of_one_prepreg_are_tested_alone():
    """The second prepreg alone scatters; of its pairs with the first one only two have two batches."""
    pairs = [(f"L{n}", f"W{n // 5}") for n in range(10)]
    found = material([55.0] * 5 + [57.0] * 5, pairs)
    assert [(one.by, one.scatters) for one in found.scatter if "lot" in one.by] == [
        ("material lot", None),
        ("material lot of woven", True),
    ]
    assert all("material lots scatter" in one.why for one in found.basis)
    assert says(
        "trend: lots of one prepreg", scatter_words(found.scatter[1], series_scale(found.series, "metric"))
    )


def test_lots_in_another_order_are_the_same():
    found = material([55.0] * 6, [("L1", "W1"), ("W1", "L1")] * 3)
    assert [group.name for group in by_lot(found).groups] == ["L1 + W1"]


def test_the_index_of_one_lot_does_not_stand_for_the_process():
    """Lots that differ: no index in the first table; wide limits: none in the line of the series."""
    apart, alike = studied(*lots_of(0, 2, -2)), studied(*lots_of(0, 0, 0, between=0.0))
    assert [one.whole for one in apart.capability if one.cpk is not None] == [False] * 6
    assert least_cpk(apart) is None
    assert least_cpk(alike) == min(one.cpk for one in alike.capability)
    *_, row = glance(Trend("", (), (), (), (apart, alike), False, ()), "metric").rows[0]
    assert row == "lots differ"


def test_an_index_below_one_stands_in_the_line_of_its_series():
    """Limits 50 to 60 on averages of 57 to 59: (60 - 58)/(3 s)."""
    good, bad = lots_of(0, 0, 0, between=0.0), lots_of(3.8, 3.8, 3.8, between=0.5)
    assert "Cpk" not in first_answer(studied(*good), "fiber volume")
    found = studied(*bad)
    assert least_cpk(found) < 1
    assert f"; Cpk {least_cpk(found):.2f}, below 1" in first_answer(found, "fiber volume")
