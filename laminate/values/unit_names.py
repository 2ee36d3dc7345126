"""The units of the trade: how each is defined, which kind of quantity it measures and how people spell it.

Definitions are exact: the international yard and pound (1959), standard gravity and the degree Fahrenheit as
in NIST SP 811, appendix B; the inch of mercury is that of 13595.1 kg/m^3. A short list costs a
hundredth of a second where pint's own costs half a second.
"""

from __future__ import annotations

import re
from math import radians
from typing import NamedTuple

PREFIXES = {"micro": 1e-6, "milli": 1e-3, "centi": 1e-2, "hecto": 1e2, "kilo": 1e3, "mega": 1e6, "giga": 1e9}
PLAIN = {"meter": 1.0, "gram": 1e-3, "liter": 1e-3, "second": 1.0, "kelvin": 1.0, "pascal": 1.0, "bar": 1e5}
PLAIN |= {"newton": 1.0, "joule": 1.0, "watt": 1.0, "minute": 60.0, "hour": 3600.0, "day": 86400.0}
PLAIN |= {f"{prefix}{unit}": size * PLAIN[unit] for prefix, size in PREFIXES.items() for unit in [*PLAIN]}
PLAIN |= {"1": 1.0, "percent": 1e-2, "ppm": 1e-6, "degC": 1.0, "radian": 1.0, "degree": radians(1.0)}
"""Metric units in coherent ones: what needs no other takes no registry."""

DEFINITIONS = (
    "".join(f"{prefix}- = {size}\n" for prefix, size in PREFIXES.items())
    + """
meter = [length]
gram = [mass]
second = [time]
kelvin = [temperature]; offset: 0
radian = []
percent = 1e-2
ppm = 1e-6
degC = kelvin; offset: 273.15
degF = 5 / 9 * kelvin; offset: 233.15 + 200 / 9
degree = 3.141592653589793 / 180 * radian
minute = 60 * second
hour = 60 * minute
day = 24 * hour
liter = 1e-3 * meter ** 3
inch = 0.0254 * meter
mil = 1e-3 * inch
foot = 12 * inch
yard = 3 * foot
pound = 453.59237 * gram
ounce = pound / 16
newton = kilogram * meter / second ** 2
pascal = newton / meter ** 2
bar = 1e5 * pascal
joule = newton * meter
watt = joule / second
kilogram_force = 9.80665 * newton
tonne_force = 1e3 * kilogram_force
inch_of_mercury = 13595.1 * 9.80665 * 0.0254 * pascal
pound_force = 9.80665 * meter / second ** 2 * pound
kip = 1e3 * pound_force
psi = pound_force / inch ** 2
ksi = 1e3 * psi
Msi = 1e6 * psi
"""
)


class Kind(NamedTuple):
    """A kind of quantity: its words, an example, its coherent unit, and spelling -> expression of each unit.

    Spellings are folded ones (`units.parse` forgives more): symbols, `^` for powers, no spaces.
    """

    words: str
    example: str
    coherent: str
    units: dict[str, str]


_SYMBOLS = """
g=gram mg=milligram kg=kilogram ug=microgram lb=pound oz=ounce gsm=gram/meter**2 osy=ounce/yard**2
m=meter mm=millimeter cm=centimeter um=micrometer in=inch ft=foot yd=yard mil=mil uin=microinch
l=liter ml=milliliter s=second min=minute h=hour d=day K=kelvin
N=newton kN=kilonewton MN=meganewton lbf=pound_force kip=kip kgf=kilogram_force tf=tonne_force
Pa=pascal kPa=kilopascal MPa=megapascal GPa=gigapascal hPa=hectopascal bar=bar mbar=millibar
psi=psi ksi=ksi Msi=Msi inHg=inch_of_mercury J=joule kJ=kilojoule MJ=megajoule
"""
_EXPRESSIONS = dict(symbol.split("=") for symbol in _SYMBOLS.split())


def _units(spellings: str) -> dict[str, str]:
    """The expression of each spelling that is made of symbols."""
    return {
        spelling: re.sub("[A-Za-z]+", lambda symbol: _EXPRESSIONS[symbol[0]], spelling).replace("^", "**")
        for spelling in spellings.split()
    }


AREAL_WEIGHT = _units("g/m^2 gsm kg/m^2 mg/cm^2 g/cm^2 oz/yd^2 osy oz/ft^2 lb/ft^2")
DENSITY = _units("g/cm^3 g/ml g/l kg/l") | {"kg/dm^3": "kilogram/liter"}
DENSITY |= _units("kg/m^3 mg/mm^3 lb/in^3 lb/ft^3")
LENGTH = _units("mm um m cm in ft mil uin yd")
MASS = _units("g mg kg lb oz ug")
_PERCENT = "% wt% vol% ppm %wt %vol wt-% vol-% %w/w %v/v %bywt %byvol ppmwt"
FRACTION = {spelling: "ppm" if "ppm" in spelling else "percent" for spelling in _PERCENT.split()}
TEMPERATURE = {"degC": "degC", "degF": "degF", "K": "kelvin", "C": "degC", "F": "degF"}
TEMPERATURE_DIFFERENCE = {"K": "kelvin", "mK": "millikelvin"}
_STEPS = {"K": "kelvin", "degC": "kelvin", "C": "kelvin", "degF": "delta_degF", "F": "delta_degF"}
_PER = {
    "1": "/{} 1/{} m/m/{} mm/mm/{} in/in/{} in/in-{}",
    "ppm": "ppm/{} 1e-6/{} um/m/{} um/m{} um/(m{}) um/m-{} uin/in/{} uin/in-{}",
}
EXPANSION = {
    pattern.format(degree): f"{size}/{step}"
    for size, patterns in _PER.items()
    for pattern in patterns.split()
    for degree, step in _STEPS.items()
} | {"K^-1": "1/kelvin", "degC^-1": "1/kelvin", "degF^-1": "1/delta_degF"}
PRESSURE = _units("Pa kPa MPa GPa bar psi ksi Msi hPa mbar N/mm^2 inHg") | {"lbf/in^2": "psi"}
COMPLIANCE = {
    pattern.format(pressure): f"1/{expression}"
    for pattern in ("{}^-1", "1/{}", "/{}")
    for pressure, expression in PRESSURE.items()
    if "/" not in pressure
} | {"%/MPa": "percent/megapascal"}
FORCE = _units("N kN lbf kip kgf MN tf")
AREA = _units("cm^2 m^2 in^2 mm^2 ft^2")
VOLUME = _units("cm^3 ml in^3 mm^3 l m^3")
TIME = _units("s min h d")
DIFFUSIVITY = _units("mm^2/s m^2/s cm^2/s")
CONDUCTIVITY = dict.fromkeys(("W/m/K", "W/mK", "W/(mK)", "W/(m*K)", "W/m/degC"), "watt/meter/kelvin")
CONDUCTANCE = dict.fromkeys(
    ("W/m^2/K", "W/m^2K", "W/(m^2K)", "W/(m^2*K)", "W/m^2/degC"), "watt/meter**2/kelvin"
)
HEAT_CAPACITY = _units("J/m^3/K kJ/m^3/K MJ/m^3/K J/cm^3/K")
HEATING_RATE = {f"{degree}/min": f"{step}/minute" for degree, step in _STEPS.items()} | _units("K/s")
ANGLE = {"deg": "degree", "°": "degree", "rad": "radian"}

KINDS = {
    "areal_weight": Kind("an areal weight", "150 g/m^2", "kilogram/meter**2", AREAL_WEIGHT),
    "density": Kind("a density", "1.79 g/cm^3", "kilogram/meter**3", DENSITY),
    "length": Kind("a length", "2.95 mm", "meter", LENGTH),
    "mass": Kind("a mass", "3.1004 g", "kilogram", MASS),
    "fraction": Kind("a percentage", "35 %", "dimensionless", FRACTION),
    "temperature": Kind("a temperature", "125 degC", "kelvin", TEMPERATURE),
    "temperature_difference": Kind(
        "a temperature difference in K", "0.2 K", "kelvin", TEMPERATURE_DIFFERENCE
    ),
    "angle": Kind("an angle", "20 deg", "radian", ANGLE),
    "expansion": Kind("a linear expansion", "23.6e-6 /K", "1/kelvin", EXPANSION),
    "pressure": Kind("a pressure or modulus", "0.85 GPa", "pascal", PRESSURE),
    "compliance": Kind("a compliance", "0.0002 MPa^-1", "1/pascal", COMPLIANCE),
    "force": Kind("a force", "600 kN", "newton", FORCE),
    "area": Kind("an area", "0.031 m^2", "meter**2", AREA),
    "volume": Kind("a volume", "12 cm^3", "meter**3", VOLUME),
    "time": Kind("a time", "40 min", "second", TIME),
    "diffusivity": Kind("a thermal diffusivity", "0.11 mm^2/s", "meter**2/second", DIFFUSIVITY),
    "conductivity": Kind("a thermal conductivity", "0.6 W/m/K", "watt/meter/kelvin", CONDUCTIVITY),
    "conductance": Kind("a contact conductance", "1000 W/m^2/K", "watt/meter**2/kelvin", CONDUCTANCE),
    "heat_capacity": Kind(
        "a heat capacity of a volume", "1.6e6 J/m^3/K", "joule/meter**3/kelvin", HEAT_CAPACITY
    ),
    "heating_rate": Kind("a rate of heating", "2 K/min", "kelvin/second", HEATING_RATE),
    "number": Kind("a plain number", "1.10", "dimensionless", {}),
}

# whole words, in any capitals -> the symbol that the tables above use
WORDS = {
    word: symbol
    for symbol, words in {
        "g": "gram grams gramme grammes",
        "mg": "milligram milligrams",
        "kg": "kilogram kilograms kilo kilos",
        "lb": "lbs lbm pound pounds",
        "oz": "ounce ounces",
        "m": "meter meters metre metres",
        "cm": "centimeter centimeters centimetre centimetres",
        "mm": "millimeter millimeters millimetre millimetres",
        "um": "micrometer micrometers micrometre micrometres micron microns",
        "in": "inch inches",
        "ft": "foot feet",
        "yd": "yard yards",
        "mil": "mils thou",
        "uin": "microinch microinches",
        "m^2": "sqm",
        "in^2": "sqin",
        "cm^3": "cc ccm",
        "l": "liter liters litre litres",
        "ml": "milliliter milliliters millilitre millilitres",
        "%": "percent pct",
        "wt": "weight mass",
        "vol": "volume",
        "C": "celsius",
        "F": "fahrenheit",
        "K": "kelvin kelvins",
        "deg": "degree degrees",
        "rad": "radian radians",
        "s": "sec secs second seconds",
        "min": "mins minute minutes",
        "h": "hr hrs hour hours",
        "d": "day days",
    }.items()
    for word in words.split()
}
