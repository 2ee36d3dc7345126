"""Water vapor against pressure: published values and the table of humidities."""

import math

import pytest
from scipy.optimize import brentq

from laminate.formulas.water import water_vapor_pressure

ATM = 101325.0
KELVIN = 273.15


@pytest.mark.parametrize(("kelvin", "mpa"), [(300, 3.536589e-3), (500, 2.638898), (600, 12.344315)])
def test_saturation(kelvin, mpa):
    # IAPWS-IF97, table 35
    assert water_vapor_pressure(temperature=float(kelvin)) / 1e6 == pytest.approx(mpa, rel=5e-7)


@pytest.mark.parametrize(
    ("humidity", "boils", "at_125", "at_177"),
    [(0.3, 137.6, 0.70, 2.81), (0.5, 120.6, 1.16, 4.68), (0.7, 110.3, 1.63, 6.55), (0.9, 103.0, 2.09, 8.42)],
)
def test_where_vapor_reaches_an_atmosphere_and_the_pressure_needed(humidity, boils, at_125, at_177):
    # arithmetic on IAPWS-IF97
    def vapor(celsius):
        return humidity * float(water_vapor_pressure(temperature=celsius + KELVIN))

    assert brentq(lambda t: vapor(t) - ATM, 90, 180) == pytest.approx(boils, abs=0.05)
    assert vapor(125) / 1e5 == pytest.approx(at_125, abs=0.0051)
    assert vapor(177) / 1e5 == pytest.approx(at_177, abs=0.0051)


@pytest.mark.parametrize(("celsius", "percent"), [(60, 5.8), (100, 0.4), (125, -0.1), (150, 0.7), (177, 2.5)])
def test_kardos_formula_says_the_same(celsius, percent):
    # Kardos, Dudukovic, Dave, Adv. Polym. Sci. 80 (1986): 4962 exp(-4892/T) atm a percent; from memory
    kardos = 4962 * math.exp(-4892 / (celsius + KELVIN)) * 100 * ATM
    own = float(water_vapor_pressure(temperature=celsius + KELVIN))
    assert 100 * (kardos / own - 1) == pytest.approx(percent, abs=0.06)


@pytest.mark.parametrize(("humidity", "celsius"), [(0.7, 110), (0.8, 106), (0.9, 103)])
def test_a_vacuum_bag_passes_an_atmosphere_where_voids_rose_with_humidity(humidity, celsius):
    # carbon/epoxy at 70, 80, 90 %: voids rise in the bag, none in the autoclave, abstract of
    # Compos. Sci. Technol. 70 (2010) 2304; the temperatures are arithmetic
    vapor = humidity * float(water_vapor_pressure(temperature=celsius + KELVIN))
    assert vapor == pytest.approx(ATM, rel=0.03)
    assert vapor < 6e5 + ATM
