"""Whole columns, blocks of rows and averages."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from laminate.formulas.statistics import students_t
from laminate.values import uncertainty
from laminate.values.averages import SCATTER, average, over_zones
from laminate.values.uncertainty import Result, Source, propagate

from .conftest import budget
from .covariances import covariance


def columns(coupon, rows, seed=7):
    """Readings of many coupons, the rest shared, and a repeatability that differs from row to row."""
    generator = np.random.default_rng(seed)
    x = dict(coupon.inputs)
    stretch = 1.0 + 0.01 * generator.standard_normal(rows)
    for name in coupon.readings:
        x[name] = x[name] * stretch
    sources = [
        Source(
            f"reading, {name}",
            {name: coupon.spreads[name] * generator.uniform(0.5, 2.0, rows)},
            shared=False,
            dof=9,
        )
        for name in coupon.readings
    ]
    sources += [Source(name, {name: u}) for name, u in coupon.spreads.items() if name not in coupon.readings]
    return x, [*sources, Source("balance", dict.fromkeys(coupon.readings, 1e-7), dof=20)]


def one_row(x, sources, i):
    def cut(value):
        return float(value[i]) if np.ndim(value) else value

    rows = [
        Source(s.name, {name: cut(move) for name, move in s.moves.items()}, s.shared, s.dof, s.shape)
        for s in sources
    ]
    return {name: cut(value) for name, value in x.items()}, rows


def test_a_column_equals_its_rows(coupon):
    x, sources = columns(coupon, 25)
    whole = propagate(coupon.attributes, x, sources)
    for i in range(25):
        for name, row in propagate(coupon.attributes, *one_row(x, sources, i)).items():
            assert row.value == pytest.approx(whole[name].value[i], rel=1e-13, abs=1e-15)
            assert row.contributions[:, 0] == pytest.approx(whole[name].contributions[:, i], rel=1e-12)
            assert row.standard_uncertainty == pytest.approx(whole[name].standard_uncertainty[i], rel=1e-12)
            assert row.degrees_of_freedom == pytest.approx(whole[name].degrees_of_freedom[i], rel=1e-11)


@pytest.mark.parametrize("rows", [8191, 8192, 8193, 16385])
def test_the_edges_of_blocks_do_not_show(coupon, rows, monkeypatch):
    x, sources = columns(coupon, rows)
    blocks = propagate(coupon.attributes, x, sources)
    monkeypatch.setattr(uncertainty, "BLOCK", rows)
    whole = propagate(coupon.attributes, x, sources)
    for name, result in whole.items():
        assert result.value.shape == (rows,)
        assert result.contributions.shape == (len(sources), rows)
        np.testing.assert_allclose(blocks[name].value, result.value, rtol=1e-13, atol=1e-15)
        np.testing.assert_allclose(blocks[name].contributions, result.contributions, rtol=1e-11, atol=1e-20)


def test_columns_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match=r"lengths: \[2, 3\]"):
        propagate(dict, {"a": np.zeros(2), "b": np.zeros(3)}, [])


def test_scalars_are_one_row_and_exact_results_have_no_uncertainty():
    found = propagate(lambda x: {"y": 2.0 * x["a"], "one": 1.0}, {"a": 3}, [Source("a", {"a": 1.0})])
    assert (found["y"].value.tolist(), found["one"].value.tolist()) == ([6.0], [1.0])
    assert found["one"].standard_uncertainty.tolist() == [0.0]
    assert not found["one"].contributions.any()
    assert math.isinf(found["one"].degrees_of_freedom[0])
    without = propagate(lambda x: {"y": x["a"]}, {"a": np.arange(3)}, [])["y"]
    assert without.standard_uncertainty.tolist() == [0.0, 0.0, 0.0]
    assert without.contributions.shape == (0, 3)


def test_chosen_rows(coupon):
    x, sources = columns(coupon, 6)
    whole = propagate(coupon.attributes, x, sources)["void_content"]
    some = whole.rows([1, 4])
    assert some.value.tolist() == whole.value[[1, 4]].tolist()
    assert some.standard_uncertainty == pytest.approx(whole.standard_uncertainty[[1, 4]], rel=1e-15)


def test_two_methods_on_one_specimen_share_the_fiber_density():
    """By hand: y1 = 2 f, y2 = 3 f + g, u(f) = 0.1: covariance 2 x 3 x 0.01; g is the second's own."""
    f, g = Source("fiber density", {"f": 0.1}), Source("g", {"g": 0.5})
    one = propagate(lambda x: {"y": 2 * x["f"]}, {"f": np.ones(2)}, [f])["y"]
    two = propagate(lambda x: {"y": 3 * x["f"] + x["g"]}, {"f": np.ones(2), "g": 1.0}, [g, f])["y"]
    assert covariance(one, two) == pytest.approx([0.06, 0.06], rel=1e-14)
    assert covariance(two, one) == pytest.approx([0.06, 0.06], rel=1e-14)


STUDENT_95 = {1: 12.7062, 2: 4.30265, 3: 3.18245, 4: 2.77645, 5: 2.57058, 6: 2.44691, 7: 2.36462,
              12: 2.17881, 30: 2.04227, math.inf: 1.95996}  # fmt: skip


def by_hand(values, contributions, sources):
    """u^2 = max(s^2, own^2)/n + sum of shared ones; U^2 with the Student's t of each, as tables print it."""
    n = len(values)
    mean = sum(values) / n
    s2 = sum((v - mean) ** 2 for v in values) / (n - 1)
    own = [(sum(c * c for c in row) / n, s.dof) for s, row in zip(sources, contributions, strict=True)
           if not s.shared]  # fmt: skip
    shared = [(sum(row) / n, s.dof) for s, row in zip(sources, contributions, strict=True) if s.shared]
    u2 = max(s2, sum(v for v, _ in own)) / n + sum(u**2 for u, _ in shared)
    of_readings = sum(STUDENT_95[dof] ** 2 * v for v, dof in own)
    wide2 = max(STUDENT_95[n - 1] ** 2 * s2, of_readings) / n
    wide2 += sum((STUDENT_95[dof] * u) ** 2 for u, dof in shared)
    return mean, math.sqrt(u2), math.sqrt(wide2)


@given(
    values=st.lists(st.floats(0.5, 0.7), min_size=2, max_size=8, unique=True),
    u=st.lists(st.floats(-0.05, 0.05), min_size=3, max_size=3),
)
@example(values=[0.5, 0.5000000000000001], u=[0.0, 0.0, 0.0])  # nothing but the rounding of the computer
def test_the_average_by_hand(values, u):
    n = len(values)
    sources = (
        Source("own", {}, shared=False, dof=4),
        Source("density", {}, dof=12),
        Source("calibration", {}, dof=30),
    )
    contributions = np.outer(u, 1.0 + 0.1 * np.arange(n))
    mean, uncertainty_, wide = by_hand(values, contributions, sources)
    found = average([Result(np.array(values), contributions, sources)])
    assert found.value == pytest.approx(mean, rel=1e-14)
    assert found.standard_uncertainty == pytest.approx(uncertainty_, rel=1e-6, abs=1e-9)
    assert found.expanded(0.95) == pytest.approx(wide, rel=1e-4, abs=1e-9)
    assert found.expanded(None, 2.0) == pytest.approx(2.0 * uncertainty_, rel=1e-6, abs=1e-9)
    t = students_t(confidence=0.95, dof=found.degrees_of_freedom())
    assert found.expanded(0.95) == pytest.approx(t * found.standard_uncertainty, rel=1e-6)
    assert "own" not in budget(found.contributions)
    assert sum(budget(found.contributions).values()) == pytest.approx(1.0 if found.u else 0.0, rel=1e-14)


def test_what_is_shared_does_not_average_out():
    """100 coupons alike: the density's 0.01 stays, of the readings' 0.01 a tenth is left."""
    sources = (Source("reading", {}, shared=False), Source("density", {}))
    result = Result(np.full(100, 0.6), np.full((2, 100), 0.01), sources)
    found = average([result])
    assert found.standard_uncertainty == pytest.approx(math.hypot(0.01, 0.001), rel=1e-12)
    assert found.contributions == {"density": pytest.approx(0.01), SCATTER: pytest.approx(0.001)}


def test_two_coupons_alike_have_no_less_than_their_readings():
    """Two equal readings: s is 0 with 12.71, the readings' own 0.01 with their 1.96."""
    result = Result(np.full(2, 0.6), np.full((1, 2), 0.01), (Source("reading", {}, shared=False),))
    found = average([result])
    assert found.expanded(0.95) == pytest.approx(1.95996 * 0.01 / math.sqrt(2), rel=1e-5)
    assert math.isinf(found.degrees_of_freedom())


@pytest.mark.parametrize(("stated", "holds"), [(0.0045, True), (0.0040, False)])
def test_a_stated_scatter_yields_to_one_that_is_surely_larger(stated, holds):
    """F(95 %; 2, 20) = 3.493, NIST/SEMATECH e-Handbook 1.3.6.7.3: s/sigma up to 1.869."""
    result = Result(np.array([0.58, 0.588, 0.596]), np.zeros((0, 3)), ())  # s = 0.008
    found = average([result], pooled_deviation=(stated, 20.0))
    assert found.outdone is not holds
    s, dof = (stated, 20.0) if holds else (0.008, 2.0)
    assert found.standard_uncertainty == pytest.approx(s / math.sqrt(3), rel=1e-12)
    assert found.degrees_of_freedom() == pytest.approx(dof, rel=1e-6)


def test_zones_are_not_pooled():
    """Two zones of other thickness: what lies between them is no scatter of the mean."""
    shared = (Source("micrometer", {}),)
    means = [
        average([Result(np.array(v), np.full((1, len(v)), 0.001), shared)])
        for v in ([2.0, 2.004], [4.0, 4.003, 4.006])
    ]
    whole = over_zones(means, [2.0, 2.004, 4.0, 4.003, 4.006])
    assert whole.value == pytest.approx(3.2026, rel=1e-12)
    variances = [0.16 * 0.004**2 / 2 / 2, 0.36 * 0.003**2 / 3, 0.001**2]
    assert whole.standard_uncertainty == pytest.approx(math.sqrt(sum(variances)), rel=1e-12)
    wide = 12.7062**2 * variances[0] + 4.30265**2 * variances[1] + 1.95996**2 * variances[2]
    assert whole.expanded(0.95) == pytest.approx(math.sqrt(wide), rel=1e-5)
    lone = average([Result(np.array([3.0]), np.array([[0.001]]), shared)])
    assert over_zones([means[0], lone], [2.0, 2.004, 3.0]).standard_uncertainty is None


def test_rounding_of_the_computer_is_no_scatter():
    found = average([Result(np.array([0.1 + 0.2, 0.3, 0.3]), np.zeros((0, 3)), ())])
    assert found.standard_deviation == 0.0
    assert found.standard_uncertainty == 0.0


def test_parts_share_by_name_and_signs_cancel():
    """Two methods, one source that moves them in opposite directions: nothing of it is left in the mean."""
    up, down = ((Source("balance", {}),), (Source("balance", {}),))
    parts = [
        Result(np.array([0.58]), np.array([[0.02]]), up),
        Result(np.array([0.60]), np.array([[-0.02]]), down),
    ]
    found = average(parts)
    assert found.n == 2
    assert found.value == pytest.approx(0.59, rel=1e-15)
    assert found.contributions["balance"] == 0.0
    assert found.standard_uncertainty == pytest.approx(0.01, rel=1e-12)  # 0.0141/sqrt(2)


def test_coverage_factor_of_two_and_three_coupons():
    """JCGM 100, table G.2: 12.71 and 4.30 where scatter is all there is."""
    for values, factor in (([0.58, 0.60], 12.71), ([0.58, 0.60, 0.59], 4.30)):
        found = average([Result(np.array(values), np.zeros((0, len(values))), ())])
        assert found.coverage_factor(0.95) == pytest.approx(factor, abs=5e-3)
        assert found.coverage_factor(None, 2.0) == 2.0
        with pytest.raises(ValueError, match="a confidence"):
            found.coverage_factor(None)


def test_one_coupon_shows_no_scatter():
    one = Result(np.array([0.58]), np.array([[0.01]]), (Source("density", {}),))
    assert average([one]).standard_deviation is None
    assert average([one]).standard_uncertainty is None
    pooled = average([one], pooled_deviation=(0.02, 15.0))
    assert pooled.standard_uncertainty == pytest.approx(math.hypot(0.01, 0.02), rel=1e-14)
    assert pooled.contributions[SCATTER] == 0.02
    wide = math.hypot(2.13145 * 0.02, 1.95996 * 0.01)  # t of 15 degrees, JCGM 100 table G.2: 2.13
    assert pooled.expanded(0.95) == pytest.approx(wide, rel=1e-5)


def test_an_average_of_nothing_is_refused():
    with pytest.raises(ValueError, match="one row"):
        average([])
