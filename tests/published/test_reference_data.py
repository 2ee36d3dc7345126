"""Published data sets and reference libraries: source and tolerance beside each check."""

import math

import numpy as np
import pytest
from iapws import IAPWS95
from iapws.iapws97 import _PSat_T

from laminate.formulas import press, statistics, water

# NIST StRD, univariate, Michelso: speed of light in air, thousands of km/s (certified values second-hand).
MICHELSO = """
299.85 299.74 299.90 300.07 299.93 299.85 299.95 299.98 299.98 299.88 300.00 299.98 299.93 299.65 299.76
299.81 300.00 300.00 299.96 299.96 299.96 299.94 299.96 299.94 299.88 299.80 299.85 299.88 299.90 299.84
299.83 299.79 299.81 299.88 299.88 299.83 299.80 299.79 299.76 299.80 299.88 299.88 299.88 299.86 299.72
299.62 299.86 299.97 299.95 299.88 299.91 299.85 299.87 299.84 299.84 299.85 299.84 299.84 299.84 299.89
299.81 299.81 299.82 299.80 299.77 299.76 299.74 299.75 299.76 299.91 299.92 299.89 299.86 299.88 299.72
299.84 299.85 299.85 299.78 299.89 299.84 299.78 299.81 299.76 299.81 299.79 299.81 299.82 299.85 299.87
299.87 299.81 299.74 299.81 299.94 299.95 299.80 299.81 299.87 299.72
"""


def test_mean_and_deviation_of_a_certified_data_set():
    """The residual of the farthest value, 299.62, gives the deviation that the formulas use."""
    values = [float(value) for value in MICHELSO.split()]
    assert len(values) == 100
    mean = statistics.control_limits_individuals(values=values).centre
    assert mean == pytest.approx(299.852400000000, rel=1e-15)
    farthest = statistics.normed_residuals(values=values).max()
    assert (299.852400000000 - 299.62) / farthest == pytest.approx(0.0790105478190518, rel=1e-11)


@pytest.mark.parametrize("celsius", range(15, 31))
def test_water_against_iapws95(celsius):
    """Within 0.001 kg/m3 of IAPWS-95 at one atmosphere, 15 to 30 degC, as in the package iapws."""
    reference = IAPWS95(T=273.15 + celsius, P=0.101325).rho
    assert water.water_density(temperature=273.15 + celsius) == pytest.approx(reference, abs=1e-3)


@pytest.mark.parametrize(("celsius", "printed", "half"), [(100, 1.001, 5e-4), (177, 9.23, 5e-3)])
def test_water_vapor_pressure(celsius, printed, half):
    """In atmospheres, and to rounding the IAPWS-IF97 of the package iapws.

    On the temperature scale of 1990 water boils at 99.97 degC, so 100 degC is 1.001 and not 1.000 atm.
    """
    pressure = water.water_vapor_pressure(temperature=273.15 + celsius)
    assert pressure / 101325 == pytest.approx(printed, abs=half)
    assert pressure == pytest.approx(1e6 * _PSat_T(273.15 + celsius), rel=1e-10)


def test_vapor_pressure_over_the_whole_range_against_the_library():
    kelvin = np.linspace(273.15, 647.0, 200)
    reference = [1e6 * _PSat_T(float(t)) for t in kelvin]
    np.testing.assert_allclose(water.water_vapor_pressure(temperature=kelvin), reference, rtol=1e-9)


# PDMS, Tait form of Danner and High, Handbook of Polymer Solution Thermodynamics, 25-70 degC (second-hand).
TAIT_C = 0.0894


def tait_volume(celsius):
    return 1.0122e-3 + 7.7266e-7 * celsius + 1.9944e-9 * celsius**2


def tait_b(celsius):
    return 87.746e6 * math.exp(-6.256e-3 * celsius)


def test_bulk_modulus_of_silicone():
    assert tait_b(25) / TAIT_C / 1e6 == pytest.approx(839.4, abs=0.05)
    assert tait_b(70) / TAIT_C / 1e6 == pytest.approx(633.4, abs=0.05)
    rise = 1 / TAIT_C - 1
    assert rise == pytest.approx(10.19, abs=0.005)
    # far beyond the range of the figures
    assert [tait_b(t) / TAIT_C / 1e6 for t in (120, 130)] == pytest.approx([463, 435], abs=0.51)


def test_full_rigid_cavity():
    """From 25 to 70 degC 32.19 MPa by the Tait form; the law used here within 0.5 %, exp(-P/K) 19 % low."""
    ratio = tait_volume(70) / tait_volume(25)
    exact = tait_b(70) * (math.exp((1 - 1 / ratio) / TAIT_C) - 1)
    assert exact / 1e6 == pytest.approx(32.19, abs=0.005)
    modulus, rise = tait_b(70) / TAIT_C, 1 / TAIT_C - 1
    alone = press.pressure(
        cores=[1e-3 * ratio], bulk_moduli=[modulus], bulk_modulus_rises=[rise], room=1e-3, give=0.0
    )
    assert alone == pytest.approx(modulus / rise * (ratio**rise - 1), rel=1e-12)
    assert alone == pytest.approx(exact, rel=5e-3)
    assert alone / 1e6 == pytest.approx(32.299, abs=0.0006)
    assert modulus * math.log(ratio) == pytest.approx(0.81 * exact, rel=0.01)
