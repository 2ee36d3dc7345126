"""The pressure of a core: monotonic, linear near contact, exact derivatives; warming and casting."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from uncertainties import ufloat

from laminate.formulas import core_contact, press

moduli = st.floats(0.3e9, 70e9)
rises = st.floats(3.0, 12.0)
gives = st.sampled_from([0.0, 1e-12, 2e-11, 1e-9])
CASE = {"core": 1.05, "room": 1.0, "give": 2e-11, "bulk_modulus": 0.85e9, "bulk_modulus_rise": 10.0}


def of_one(formula, core, bulk_modulus, bulk_modulus_rise, **more):
    """A formula of several cores, of one alone."""
    return formula(cores=[core], bulk_moduli=[bulk_modulus], bulk_modulus_rises=[bulk_modulus_rise], **more)


def solved(**terms):
    return of_one(press.pressure, **terms)


def excess_at(pressure, core, room, give, **law):
    """What is too much in a room of one core at a pressure."""
    return core * press.compression(pressure=pressure, **law) - room - give * pressure


@given(st.floats(1e-6, 0.3), gives, moduli, rises)
def test_pressure_balances(excess, give, modulus, rise):
    terms = {
        "core": 1 + excess,
        "room": 1.0,
        "give": give,
        "bulk_modulus": modulus,
        "bulk_modulus_rise": rise,
    }
    pressure = solved(**terms)
    assert pressure > 0
    assert excess_at(pressure, **terms) == pytest.approx(0.0, abs=1e-12)


@given(st.floats(0.9, 1.2), gives, moduli, rises, st.floats(1e-5, 0.1))
def test_more_core_is_never_less_pressure(core, give, modulus, rise, more):
    terms = {"room": 1.0, "give": give, "bulk_modulus": modulus, "bulk_modulus_rise": rise}
    first, second = (solved(core=size, **terms) for size in (core, core + more))
    assert first <= second
    if core + more > 1:
        assert first < second


@given(st.floats(1e-6, 2e-3), gives, moduli, rises)
def test_near_contact_the_linear_form_holds_within_two_percent(excess, give, modulus, rise):
    full = solved(core=1 + excess, room=1.0, give=give, bulk_modulus=modulus, bulk_modulus_rise=rise)
    linear = excess / (1.0 / modulus + give)
    assert full == pytest.approx(linear, rel=0.02)


def test_a_whole_column_of_draws_at_once():
    generator = np.random.default_rng(7)
    core = generator.normal(1.02, 0.02, 2000)
    modulus = generator.uniform(0.6e9, 1.1e9, 2000)
    found = solved(core=core, room=1.0, give=2e-11, bulk_modulus=modulus, bulk_modulus_rise=10.0)
    assert np.isfinite(found).all()
    assert (found[core <= 1] == 0).all()
    for place in range(0, 2000, 97):
        if core[place] > 1:
            terms = CASE | {"core": core[place], "bulk_modulus": modulus[place]}
            sought = brentq(lambda p, t=terms: excess_at(p, **t), 0, 1e9, xtol=1e-6)
            assert found[place] == pytest.approx(sought, rel=1e-9)


def test_an_open_gap_has_no_pressure_and_no_room_has_no_end():
    assert solved(**CASE | {"core": 1.0}) == 0.0
    assert solved(**CASE | {"core": 0.9}) == 0.0
    assert solved(**CASE | {"room": -0.1, "give": 0.0}) == math.inf
    assert solved(**CASE | {"room": -0.1}) == math.inf
    column = solved(**CASE | {"core": np.array([0.9, 1.05]), "give": np.zeros(2)})
    assert column[0] == 0.0
    assert column[1] == pytest.approx(0.085e9 * (1.05**10 - 1), rel=1e-12)


@pytest.mark.parametrize("name", list(CASE))
def test_pressure_has_exact_derivatives(name):
    stepped = solved(**CASE | {name: CASE[name] + 1e-30j}).imag / 1e-30
    column = solved(**CASE | {name: np.full(3, CASE[name]) + 1e-30j}).imag / 1e-30
    h = 1e-5 * CASE[name]
    ahead, behind = (solved(**CASE | {name: CASE[name] + d}) for d in (h, -h))
    assert stepped == pytest.approx((ahead - behind) / (2 * h), rel=1e-6)
    np.testing.assert_allclose(column, stepped, rtol=1e-12)
    tagged = solved(**CASE | {name: ufloat(CASE[name], 1e-3 * CASE[name])})
    assert tagged.nominal_value == pytest.approx(solved(**CASE), rel=1e-12)
    assert tagged.std_dev == pytest.approx(1e-3 * CASE[name] * abs(stepped), rel=1e-9)


@given(st.floats(0.01, 0.2), st.floats(0.5e-3, 4e-3), st.sampled_from([1, 2]), st.floats(-20, 100))
def test_dummy_and_cast_length_undo_each_other(length, dummy, walls, rise):
    terms = {
        "tool_length": length, "walls": walls, "tool_expansion": 23e-6, "core_expansion": 265e-6,
        "cast_rise": rise, "cure_shrinkage": 0.002,
    }  # fmt: skip
    molded = length * (1 + 23e-6 * rise) - walls * dummy
    core = molded * (1 - 0.002) / (1 + 265e-6 * rise)
    assert core_contact.dummy_thickness(core=core, **terms) == pytest.approx(dummy, rel=1e-9)


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
    """50 mm silicone, 1.1e-7 m2/s: 45 % after 15 min (arithmetic)."""
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
