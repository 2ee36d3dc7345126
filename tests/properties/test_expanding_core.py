"""The pressure of a core: monotonic, linear near contact, with exact derivatives; contact both ways."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from uncertainties import ufloat

from laminate.formulas import cavity, core_contact, expanding_core

moduli = st.floats(0.3e9, 70e9)
rises = st.floats(3.0, 12.0)
gives = st.sampled_from([0.0, 1e-12, 2e-11, 1e-9])
CASE = {"core": 1.05, "room": 1.0, "give": 2e-11, "bulk_modulus": 0.85e9, "bulk_modulus_rise": 10.0}


@given(st.floats(1e-6, 0.3), gives, moduli, rises)
def test_pressure_balances(excess, give, modulus, rise):
    terms = {
        "core": 1 + excess,
        "room": 1.0,
        "give": give,
        "bulk_modulus": modulus,
        "bulk_modulus_rise": rise,
    }
    pressure = expanding_core.pressure(**terms)
    assert pressure > 0
    assert expanding_core.balance(pressure=pressure, **terms) == pytest.approx(0.0, abs=1e-12)


@given(st.floats(0.9, 1.2), gives, moduli, rises, st.floats(1e-5, 0.1))
def test_more_core_is_never_less_pressure(core, give, modulus, rise, more):
    terms = {"room": 1.0, "give": give, "bulk_modulus": modulus, "bulk_modulus_rise": rise}
    first, second = (expanding_core.pressure(core=size, **terms) for size in (core, core + more))
    assert first <= second
    if core + more > 1:
        assert first < second


@given(st.floats(1e-6, 2e-3), gives, moduli, rises)
def test_near_contact_the_linear_form_holds_within_two_percent(excess, give, modulus, rise):
    full = expanding_core.pressure(
        core=1 + excess, room=1.0, give=give, bulk_modulus=modulus, bulk_modulus_rise=rise
    )
    linear = expanding_core.linear_pressure(
        excess=excess, core=1.0, bulk_modulus=modulus, laminate_softness=0.0, cavity=1.0, compliance=give
    )
    assert full == pytest.approx(linear, rel=0.02)


def test_a_whole_column_of_draws_at_once():
    generator = np.random.default_rng(7)
    core = generator.normal(1.02, 0.02, 2000)
    modulus = generator.uniform(0.6e9, 1.1e9, 2000)
    found = expanding_core.pressure(
        core=core, room=1.0, give=2e-11, bulk_modulus=modulus, bulk_modulus_rise=10.0
    )
    assert np.isfinite(found).all()
    assert (found[core <= 1] == 0).all()
    for place in range(0, 2000, 97):
        if core[place] > 1:
            terms = CASE | {"core": core[place], "bulk_modulus": modulus[place]}
            sought = brentq(lambda p, t=terms: expanding_core.balance(pressure=p, **t), 0, 1e9, xtol=1e-6)
            assert found[place] == pytest.approx(sought, rel=1e-9)


def test_an_open_gap_has_no_pressure_and_no_room_has_no_end():
    assert expanding_core.pressure(**CASE | {"core": 1.0}) == 0.0
    assert expanding_core.pressure(**CASE | {"core": 0.9}) == 0.0
    assert expanding_core.pressure(**CASE | {"room": -0.1, "give": 0.0}) == math.inf
    assert math.isfinite(expanding_core.pressure(**CASE | {"room": -0.1}))
    column = expanding_core.pressure(**CASE | {"core": np.array([0.9, 1.05]), "give": np.zeros(2)})
    assert column[0] == 0.0
    assert column[1] == pytest.approx(0.085e9 * (1.05**10 - 1), rel=1e-12)


@pytest.mark.parametrize("name", list(CASE))
def test_pressure_has_exact_derivatives(name):
    stepped = expanding_core.pressure(**CASE | {name: CASE[name] + 1e-30j}).imag / 1e-30
    column = expanding_core.pressure(**CASE | {name: np.full(3, CASE[name]) + 1e-30j}).imag / 1e-30
    h = 1e-5 * CASE[name]
    ahead, behind = (expanding_core.pressure(**CASE | {name: CASE[name] + d}) for d in (h, -h))
    assert stepped == pytest.approx((ahead - behind) / (2 * h), rel=1e-6)
    np.testing.assert_allclose(column, stepped, rtol=1e-12)
    tagged = expanding_core.pressure(**CASE | {name: ufloat(CASE[name], 1e-3 * CASE[name])})
    assert tagged.nominal_value == pytest.approx(expanding_core.pressure(**CASE), rel=1e-12)
    assert tagged.std_dev == pytest.approx(1e-3 * CASE[name] * abs(stepped), rel=1e-9)


def test_widths_and_volumes_agree_on_a_held_core():
    """A slab held on its sides, one square metre of it, with faces that follow the tool."""
    terms = {"tool_expansion": 23.6e-6, "tool_rise": 97.0, "bulk_modulus": 0.85e9, "bulk_modulus_rise": 10.0}
    growth = cavity.core_growth(
        held="sides", core_expansion=265e-6, core_rise=95.0, tool_expansion=23.6e-6, tool_rise=97.0
    )
    slab = expanding_core.slab_pressure(
        cavity=38.6e-3, core=30.64e-3, growth=growth, laminate=6.0e-3, inserts=0.0, compliance=0.0, **terms
    )
    area = (1 + 23.6e-6 * 97.0) ** 2
    volume = expanding_core.volume_pressure(
        cavity=38.6e-3, core=30.64e-3, core_expansion=265e-6, core_rise=95.0, laminate=6.0e-3 * area,
        inserts=0.0, insert_expansion=0.0, insert_rise=0.0, compliance=0.0, **terms,
    )  # fmt: skip
    assert slab == pytest.approx(volume, rel=1e-9)


CONTACT = {
    "cavity": 38.6e-3, "tool_expansion": 23.6e-6, "core": 30.64e-3, "core_expansion": 265e-6,
    "stack": 2.95e-3, "walls": 2,
}  # fmt: skip


@pytest.mark.parametrize("held", cavity.HELD)
@pytest.mark.parametrize("together", [True, False])
def test_contact_leaves_no_gap(held, together):
    if together:
        touch = core_contact.contact_rise_together(held=held, **CONTACT)
        tool = touch.rise
    else:
        touch, tool = core_contact.contact_rise(held=held, tool_rise=97.0, **CONTACT), 97.0
    growth = cavity.core_growth(
        held=held, core_expansion=265e-6, core_rise=touch.rise, tool_expansion=23.6e-6, tool_rise=tool
    )
    gap = cavity.hot_gap_against_core(
        cavity=38.6e-3, tool_expansion=23.6e-6, tool_rise=tool, core=30.64e-3, growth=growth, walls=2
    )
    assert touch.reached is True or touch.reached == np.True_
    assert gap == pytest.approx(2.95e-3, rel=1e-10)


@pytest.mark.parametrize("name", ["cavity", "core", "core_expansion", "tool_expansion", "stack"])
def test_contact_has_exact_derivatives(name):
    def rise(value):
        return core_contact.contact_rise_together(held="sides", **CONTACT | {name: value}).rise

    h = 1e-6 * CONTACT[name]
    stepped = rise(CONTACT[name] + 1e-30j).imag / 1e-30
    assert stepped == pytest.approx((rise(CONTACT[name] + h) - rise(CONTACT[name] - h)) / (2 * h), rel=1e-5)
    tagged = rise(ufloat(CONTACT[name], 1e-6 * CONTACT[name]))
    assert tagged.std_dev == pytest.approx(abs(stepped) * h, rel=1e-6)


def test_a_stack_that_is_never_touched_is_said_so():
    """A core of the tool's own metal never closes the gap; columns mix with those that do, without a NaN."""
    metal = core_contact.contact_rise_together(held="no", **CONTACT | {"core_expansion": 20e-6})
    assert metal.rise == math.inf
    assert not metal.reached
    thick = core_contact.contact_rise_together(held="sides", **CONTACT | {"stack": 0.03})
    assert thick == (-math.inf, True)
    assert (
        core_contact.contact_rise(held="sides", tool_rise=97.0, **CONTACT | {"stack": 0.03}).rise == -math.inf
    )
    stacks = np.array([0.5e-3, 2.95e-3, 30e-3])
    for found in (
        core_contact.contact_rise_together(held="sides", **CONTACT | {"stack": stacks}),
        core_contact.contact_rise(held="sides", tool_rise=97.0, **CONTACT | {"stack": stacks}),
    ):
        assert not np.isnan(found.rise).any()
        assert found.reached.tolist()[1:] == [True, True]
        assert found.rise[2] == -math.inf


@given(st.floats(0.01, 0.2), st.floats(0.5e-3, 4e-3), st.sampled_from([1, 2]), st.floats(-20, 100))
def test_dummy_and_cast_length_undo_each_other(length, dummy, walls, rise):
    terms = {
        "tool_length": length, "walls": walls, "tool_expansion": 23e-6, "core_expansion": 265e-6,
        "cast_rise": rise, "cure_shrinkage": 0.002,
    }  # fmt: skip
    core = core_contact.core_cast_length(dummy=dummy, **terms)
    assert core_contact.dummy_thickness(core=core, **terms) == pytest.approx(dummy, rel=1e-9)


def test_core_for_a_gap_gives_the_gap():
    terms = {"cavity": 38.6e-3, "tool_expansion": 23.6e-6, "tool_rise": 97.0, "growth": 1.07, "walls": 2}
    core = cavity.core_for_gap(gap=2.9e-3, **terms)
    assert cavity.hot_gap_against_core(core=core, **terms) == pytest.approx(2.9e-3, rel=1e-12)
    assert cavity.hot_gap_against_core(core=core, offset=-1e-4, **terms) == pytest.approx(2.8e-3, rel=1e-12)


def conduction(fraction, cells=400):
    """Mean rise of a slab by finite volumes, implicit in time: independent of the series."""
    size = 1.0 / cells
    matrix = np.diag(np.full(cells, 2.0)) - np.diag(np.ones(cells - 1), 1) - np.diag(np.ones(cells - 1), -1)
    matrix[0, 0] = matrix[-1, -1] = 3.0
    eigen, vectors = np.linalg.eigh(matrix / size**2)
    weight = vectors.sum(axis=0) ** 2 / cells
    return 1 - float(np.sum(weight * np.exp(-eigen * fraction)))


@pytest.mark.parametrize("scaled", [0.003, 0.0099, 0.0101, 0.05, 0.3])
def test_mean_rise_against_finite_volumes(scaled):
    found = core_contact.mean_rise_fraction(time=scaled, thickness=1.0, diffusivity=1.0)
    assert found == pytest.approx(conduction(scaled), abs=2e-4)


def test_mean_rise_is_whole_from_start_to_end():
    """50 mm silicone, 1.1e-7 m2/s: tau 38 min and 45 % after 15 min (arithmetic of the design)."""
    assert core_contact.lag_time(thickness=0.05, diffusivity=1.1e-7) / 60 == pytest.approx(38, abs=0.5)
    times = np.array([0.0, 900.0, 1e6])
    rise = core_contact.mean_rise_fraction(time=times, thickness=0.05, diffusivity=1.1e-7)
    assert rise == pytest.approx([0.0, 0.45, 1.0], abs=0.005)
    edge = [
        core_contact.mean_rise_fraction(time=t, thickness=1.0, diffusivity=1.0) for t in (0.01 - 1e-12, 0.01)
    ]
    assert edge[0] == pytest.approx(edge[1], abs=1e-10)
    tagged = core_contact.mean_rise_fraction(time=900.0, thickness=0.05, diffusivity=ufloat(1.1e-7, 1e-9))
    stepped = core_contact.mean_rise_fraction(time=900.0, thickness=0.05, diffusivity=1.1e-7 + 1e-30j)
    assert tagged.std_dev == pytest.approx(1e-9 * stepped.imag / 1e-30, rel=1e-9)
