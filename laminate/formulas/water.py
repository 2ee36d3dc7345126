"""Water: its density, to weigh in, and the pressure of its vapor, which opens voids."""

from __future__ import annotations

import numpy as np

from .number import Number, real_part

ZERO_CELSIUS = 273.15


def _inside(temperature: Number, low: float, high: float, what: str) -> None:
    celsius = real_part(temperature) - ZERO_CELSIUS
    # The subtraction of 273.15 leaves a few 1e-14 K at the ends of the range.
    inside = (celsius >= low - 1e-9) & (celsius <= high + 1e-9)
    if not np.all(inside):
        outside = np.ravel(celsius)[~np.ravel(inside)][0]
        raise ValueError(f"{what} is known from {low + 0.0:g} to {high:g} degC, not at {outside:.6g} degC")


def water_density(*, temperature: Number, beyond: float = 0.0) -> Number:
    """Density of air-free water at one atmosphere.

    ``rho = 999.974950 [1 - (t - 3.983035)^2 (t + 301.797)/(522528.9 (t + 69.34881))]``, t in degC.
    Tanaka et al., Metrologia 38 (2001) 301; uncertainty of the formula below 0.001 kg/m3.

    temperature : T [K], 273.15 to 313.15 (0 to 40 degC)
    beyond : how far outside the range the error of a temperature inside it may reach [K], 0 to 30

    Raises ValueError outside the range, naming it.

    >>> round(water_density(temperature=293.15), 4)
    998.2067
    """
    _inside(temperature, -beyond, 40.0 + beyond, "the density of water")
    t = temperature - ZERO_CELSIUS
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def water_vapor_pressure(*, temperature: Number) -> Number:
    """Saturation pressure of water vapor.

    ``p = [2C/(-B + (B^2 - 4AC)^0.5)]^4`` MPa with A, B, C quadratic in ``theta = T + n9/(T - n10)``.
    IAPWS-IF97 (revised release 2007), region 4, equation 30; its table 35 gives 2.63889776 MPa at 500 K.

    temperature : T [K], 273.15 to 647.096 (0 to 373.946 degC)

    Resin pressure below this, times the relative humidity the prepreg was stored at, can open voids.
    Raises ValueError outside the range, naming it.

    >>> round(water_vapor_pressure(temperature=500.0) / 1e6, 8)
    2.63889776
    """
    _inside(temperature, 0.0, 373.946, "the vapor pressure of water")
    theta = temperature - 0.23855557567849 / (temperature - 650.17534844798)
    a = theta**2 + 1167.0521452767 * theta - 724213.16703206
    b = -17.073846940092 * theta**2 + 12020.824702470 * theta - 3232555.0322333
    c = 14.915108613530 * theta**2 - 4823.2657361591 * theta + 405113.40542057
    return 1e6 * (2 * c / ((b**2 - 4 * a * c) ** 0.5 - b)) ** 4
