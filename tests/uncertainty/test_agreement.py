"""Complex step, the library `uncertainties` and GTC carry an uncertainty through the same formulas alike."""

import math

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import covariance_matrix, ufloat

from laminate.values.uncertainty import Scalars, Source, deviation, monte_carlo, nominal, propagate
from laminate.values.units import SIValue

from .conftest import budget
from .covariances import covariance
from .validation import validate

ATTRIBUTES = ("density", "fiber_volume", "void_content")

shares = st.lists(st.floats(0.9, 1.1), min_size=11, max_size=11)
sizes = st.lists(st.floats(0.1, 10.0), min_size=11, max_size=11)
degrees = st.lists(st.integers(2, 60) | st.just(math.inf), min_size=11, max_size=11)


def drawn(coupon, stretch, size):
    """Inputs near the reference laminate: masses together, so that they stay in order, and the rest apart."""
    values = dict(coupon.inputs)
    for name, share in zip(values, stretch, strict=True):
        values[name] *= stretch[0] if name in coupon.readings else share
    spreads = {name: u * s for (name, u), s in zip(coupon.spreads.items(), size, strict=True)}
    return values, spreads


@given(stretch=shares, size=sizes, dofs=degrees)
def test_three_ways_agree(coupon, stretch, size, dofs):
    values, spreads = drawn(coupon, stretch, size)
    sources = [Source(name, {name: u}, dof=dof) for (name, u), dof in zip(spreads.items(), dofs, strict=True)]
    first = propagate(coupon.attributes, values, sources)
    by_name = coupon.attributes({name: ufloat(value, spreads[name]) for name, value in values.items()})
    by_gtc = coupon.attributes(
        {name: GTC.ureal(values[name], spreads[name], dof) for name, dof in zip(values, dofs, strict=True)}
    )
    for name in ATTRIBUTES:
        u = first[name].standard_uncertainty[0]
        assert first[name].value[0] == pytest.approx(by_name[name].nominal_value, rel=1e-12, abs=1e-14)
        assert first[name].value[0] == pytest.approx(by_gtc[name].x, rel=1e-12, abs=1e-14)
        assert u == pytest.approx(by_name[name].std_dev, rel=1e-12)
        assert u == pytest.approx(by_gtc[name].u, rel=1e-12)
        assert first[name].degrees_of_freedom[0] == pytest.approx(by_gtc[name].df, rel=1e-11)


@given(stretch=shares, size=sizes)
def test_the_covariance_of_two_attributes(coupon, stretch, size):
    values, spreads = drawn(coupon, stretch, size)
    first = propagate(coupon.attributes, values, [Source(name, {name: u}) for name, u in spreads.items()])
    gtc = coupon.attributes({name: GTC.ureal(values[name], spreads[name]) for name in values})
    named = coupon.attributes({name: ufloat(values[name], spreads[name]) for name in values})
    matrix = covariance_matrix([named[name] for name in ATTRIBUTES])
    for i, a in enumerate(ATTRIBUTES):
        for j, b in enumerate(ATTRIBUTES):
            scale = gtc[a].u * gtc[b].u
            found = covariance(first[a], first[b])[0]
            assert found == pytest.approx(GTC.get_covariance(gtc[a], gtc[b]), abs=1e-12 * scale)
            assert found == pytest.approx(matrix[i][j], abs=1e-12 * scale)
    assert covariance(first["density"], first["density"]) == pytest.approx(
        first["density"].standard_uncertainty ** 2, rel=1e-14
    )


@given(stretch=shares, offset=st.floats(1e-8, 1e-6))
def test_a_source_that_moves_several_inputs_is_a_correlation(coupon, stretch, offset):
    """The balance reads all its masses wrong by the same amount; GTC: one number added to every reading."""
    values, spreads = drawn(coupon, stretch, [1.0] * 11)
    balance = Source("balance", dict.fromkeys(coupon.readings, offset))
    own = [Source(name, {name: u}) for name, u in spreads.items()]
    first = propagate(coupon.attributes, values, [*own, balance])
    shift = GTC.ureal(0.0, offset)
    x = {name: GTC.ureal(value, spreads[name]) for name, value in values.items()}
    gtc = coupon.attributes({name: n + shift if name in coupon.readings else n for name, n in x.items()})
    for name in ATTRIBUTES:
        assert first[name].standard_uncertainty[0] == pytest.approx(gtc[name].u, rel=1e-12)
        assert first[name].contributions[-1, 0] == pytest.approx(
            GTC.component(gtc[name], shift) * math.copysign(1, first[name].contributions[-1, 0]), rel=1e-11
        )


def test_the_offset_of_a_balance_cancels_in_a_difference():
    """Sum of squares by hand: two readings, 0.1 mg each, and an offset of 0.3 mg that both share."""
    sources = [
        Source("first", {"a": 1e-7}, shared=False),
        Source("second", {"b": 1e-7}, shared=False),
        Source("balance", {"a": 3e-7, "b": 3e-7}),
    ]
    found = propagate(
        lambda x: {"lost": x["a"] - x["b"], "both": x["a"] + x["b"]}, {"a": 3e-3, "b": 1e-3}, sources
    )
    assert found["lost"].contributions[2, 0] == 0.0
    assert found["lost"].standard_uncertainty[0] == pytest.approx(math.sqrt(2) * 1e-7, rel=1e-14)
    assert found["both"].standard_uncertainty[0] == pytest.approx(math.sqrt(2 + 36) * 1e-7, rel=1e-14)
    assert "balance" not in budget(found["lost"].contributions, sources)


def test_reference_laminate():
    """The contract's formula 20: u(V_v) 0.49 points; fiber density 0.32, resin density 0.33, density 0.13,
    fiber content 0.10, from arithmetic on w_f 0.65 and 1.58, 1.79, 1.30 g/cm3."""
    from laminate.formulas.matrix_loss import void_content

    sources = [
        Source("fiber density", {"rho_f": 10.0}),
        Source("resin density", {"rho_r": 10.0}),
        Source("density", {"rho": 2.0}),
        Source("fiber content", {"w": 0.003}),
    ]
    voids = propagate(
        lambda x: {
            "v": void_content(
                density=x["rho"], contents=[x["w"], 1 - x["w"]], densities=[x["rho_f"], x["rho_r"]]
            )
        },
        {"w": 0.65, "rho": 1580.0, "rho_f": 1790.0, "rho_r": 1300.0},
        sources,
    )["v"]
    assert voids.standard_uncertainty[0] == pytest.approx(0.0049, abs=5e-5)
    printed = [0.0032, 0.0033, 0.0013, 0.0010]
    assert np.abs(voids.contributions[:, 0]) == pytest.approx(printed, abs=5e-5)


@given(stretch=shares, size=sizes)
def test_scalars_are_the_same_mechanism(coupon, stretch, size):
    values, spreads = drawn(coupon, stretch, size)
    first = propagate(coupon.attributes, values, [Source(name, {name: u}) for name, u in spreads.items()])
    scalars = Scalars()
    x = {name: scalars.take(name, SIValue(values[name], spreads[name], shape="normal")) for name in values}
    for name, number in coupon.attributes(x).items():
        assert nominal(number) == pytest.approx(first[name].value[0], rel=1e-12, abs=1e-14)
        assert deviation(number) == pytest.approx(first[name].standard_uncertainty[0], rel=1e-12)
        signed = scalars.contributions(number)
        for source, contribution in zip(first[name].sources, first[name].contributions[:, 0], strict=True):
            assert signed.get(source.name, 0.0) == pytest.approx(contribution, rel=1e-11, abs=1e-25)
        assert budget(signed) == pytest.approx(
            budget(first[name].contributions, first[name].sources), rel=1e-11
        )


def test_exact_scalars_stay_floats():
    scalars = Scalars()
    exact = scalars.take("gap", SIValue(2.95e-3, text="2.95 mm"))
    assert type(exact) is float
    assert type(scalars.take("stated zero", SIValue(1.0, 0.0, shape="rectangular"))) is float
    assert (nominal(exact), deviation(exact), scalars.contributions(exact)) == (2.95e-3, None, {})


def test_the_same_name_is_the_same_number():
    scalars = Scalars()
    gap = SIValue(2.95e-3, 3e-5, shape="rectangular", text="2.95 mm")
    difference = scalars.take("gap", gap) - scalars.take("gap", gap)
    assert deviation(difference) == 0.0
    assert budget(scalars.contributions(difference)) == {}
    with pytest.raises(ValueError, match=r"'gap' is already 2\.95 mm, not 3 mm"):
        scalars.take("gap", SIValue(3e-3, text="3 mm"))


def test_monte_carlo_draws_what_was_said():
    """JCGM 101, 6.4.2 (rectangular), 6.4.7 (Gaussian), 6.4.9 (t: its variance is dof/(dof - 2))."""
    sources = [
        Source("flat", {"a": 2.0}, shape="rectangular"),
        Source("bell", {"b": 2.0}),
        Source("few", {"c": 2.0}, dof=6),
    ]
    drawn = monte_carlo(dict, {"a": 1.0, "b": 1.0, "c": 1.0}, sources, draws=400_000, seed=1)
    for name, spread in (("a", 2.0), ("b", 2.0), ("c", 2.0 * math.sqrt(6 / 4))):
        assert drawn[name].shape == (400_000, 1)
        assert drawn[name].mean() == pytest.approx(1.0, abs=0.02)
        assert drawn[name].std() == pytest.approx(spread, rel=0.01)
    half = 2.0 * math.sqrt(3.0)
    assert drawn["a"].min() == pytest.approx(1.0 - half, abs=1e-3)
    assert drawn["a"].max() == pytest.approx(1.0 + half, abs=1e-3)
    assert np.abs(drawn["a"] - 1.0).max() <= half


def test_monte_carlo_draws_shared_sources_once():
    both = [Source("own", {"a": 1.0}, shared=False), Source("shared", {"b": 1.0})]
    drawn = monte_carlo(dict, {"a": np.zeros(3), "b": np.zeros(3)}, both, draws=20_000, seed=2)
    assert np.ptp(drawn["b"], axis=1).max() == 0.0
    assert abs(np.corrcoef(drawn["a"].T)[0, 1]) < 0.03
    again = monte_carlo(dict, {"a": np.zeros(3), "b": np.zeros(3)}, both, draws=20_000, seed=2)
    assert np.array_equal(drawn["a"], again["a"])


def test_first_order_holds_for_a_coupon(coupon):
    """All eleven sources through the formulas of the laboratory: nearly linear, so both ways agree."""
    sources = [Source(name, {name: u}) for name, u in coupon.spreads.items()]
    checked = validate(coupon.attributes, coupon.inputs, sources, seed=3)
    for name, first in propagate(coupon.attributes, coupon.inputs, sources).items():
        assert checked[name].settled.all()
        assert checked[name].validated.all()
        assert checked[name].standard_uncertainty == pytest.approx(first.standard_uncertainty, rel=0.02)


def test_first_order_sees_nothing_at_the_bottom_of_a_parabola():
    """y = x^2 at 0: the derivative is 0; by hand the mean is u^2, the standard deviation sqrt(2) u^2."""
    checked = validate(lambda x: {"y": x["x"] ** 2}, {"x": 0.0}, [Source("x", {"x": 1.0})], seed=4)["y"]
    assert not checked.validated[0]
    assert checked.value[0] == pytest.approx(1.0, abs=0.02)
    assert checked.standard_uncertainty[0] == pytest.approx(math.sqrt(2.0), abs=0.05)


def test_an_exact_result_is_validated_row_by_row():
    x = {"x": np.array([1.0, 2.0])}
    checked = validate(lambda x: {"y": 3.0 * x["x"]}, x, [Source("elsewhere", {})], seed=5)["y"]
    assert checked.validated.tolist() == [True, True]
    assert checked.value == pytest.approx([3.0, 6.0], rel=1e-14)
    assert checked.settled.all()


def test_too_few_draws_are_said_so():
    sources = [Source("x", {"x": 1.0})]
    checked = validate(dict, {"x": 0.0}, sources, seed=6, digits=2, most_draws=20_000)["x"]
    assert checked.draws == 20_000
    assert not checked.settled[0]
