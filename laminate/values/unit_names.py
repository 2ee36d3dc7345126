"""The units of the trade: how each is defined, which kind of quantity it measures and how people spell it.

Definitions are exact: the international yard and pound (1959), standard gravity and the degree Fahrenheit as
in NIST SP 811, appendix B; the inch of mercury is that of 13595.1 kg/m^3. A short list costs a
hundredth of a second where pint's own costs half a second.
"""

from __future__ import annotations

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


AREAL_WEIGHT = {
    "g/m^2": "gram/meter**2",
    "gsm": "gram/meter**2",
    "kg/m^2": "kilogram/meter**2",
    "mg/cm^2": "milligram/centimeter**2",
    "g/cm^2": "gram/centimeter**2",
    "oz/yd^2": "ounce/yard**2",
    "osy": "ounce/yard**2",
    "oz/ft^2": "ounce/foot**2",
    "lb/ft^2": "pound/foot**2",
}
DENSITY = {
    "g/cm^3": "gram/centimeter**3",
    "g/ml": "gram/milliliter",
    "g/l": "gram/liter",
    "kg/l": "kilogram/liter",
    "kg/dm^3": "kilogram/liter",
    "kg/m^3": "kilogram/meter**3",
    "mg/mm^3": "milligram/millimeter**3",
    "lb/in^3": "pound/inch**3",
    "lb/ft^3": "pound/foot**3",
}
LENGTH = {
    "mm": "millimeter",
    "um": "micrometer",
    "m": "meter",
    "cm": "centimeter",
    "in": "inch",
    "ft": "foot",
    "mil": "mil",
    "uin": "microinch",
    "yd": "yard",
}
MASS = {"g": "gram", "mg": "milligram", "kg": "kilogram", "lb": "pound", "oz": "ounce", "ug": "microgram"}
FRACTION = {
    "%": "percent",
    "wt%": "percent",
    "vol%": "percent",
    "ppm": "ppm",
    "%wt": "percent",
    "%vol": "percent",
    "wt-%": "percent",
    "vol-%": "percent",
    "%w/w": "percent",
    "%v/v": "percent",
    "%bywt": "percent",
    "%byvol": "percent",
    "ppmwt": "ppm",
}
TEMPERATURE = {"degC": "degC", "degF": "degF", "K": "kelvin", "C": "degC", "F": "degF"}
TEMPERATURE_DIFFERENCE = {"K": "kelvin", "mK": "millikelvin"}
_STEPS = {"K": "kelvin", "degC": "kelvin", "C": "kelvin", "degF": "delta_degF", "F": "delta_degF"}
EXPANSION = {
    pattern.format(degree): f"{size}/{step}"
    for pattern, size in (
        ("/{}", "1"),
        ("1/{}", "1"),
        ("ppm/{}", "ppm"),
        ("1e-6/{}", "ppm"),
        ("um/m/{}", "ppm"),
        ("um/m{}", "ppm"),
        ("um/(m{})", "ppm"),
        ("um/m-{}", "ppm"),
        ("m/m/{}", "1"),
        ("mm/mm/{}", "1"),
        ("in/in/{}", "1"),
        ("in/in-{}", "1"),
        ("uin/in/{}", "ppm"),
        ("uin/in-{}", "ppm"),
    )
    for degree, step in _STEPS.items()
} | {"K^-1": "1/kelvin", "degC^-1": "1/kelvin", "degF^-1": "1/delta_degF"}
PRESSURE = {
    "Pa": "pascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "GPa": "gigapascal",
    "bar": "bar",
    "psi": "psi",
    "ksi": "ksi",
    "Msi": "Msi",
    "hPa": "hectopascal",
    "mbar": "millibar",
    "N/mm^2": "newton/millimeter**2",
    "lbf/in^2": "psi",
    "inHg": "inch_of_mercury",
}
COMPLIANCE = {
    pattern.format(pressure): f"1/{expression}"
    for pattern in ("{}^-1", "1/{}", "/{}")
    for pressure, expression in PRESSURE.items()
    if "/" not in pressure
} | {"%/MPa": "percent/megapascal"}
FORCE = {
    "N": "newton",
    "kN": "kilonewton",
    "lbf": "pound_force",
    "kip": "kip",
    "kgf": "kilogram_force",
    "MN": "meganewton",
    "tf": "tonne_force",
}
AREA = {
    "cm^2": "centimeter**2",
    "m^2": "meter**2",
    "in^2": "inch**2",
    "mm^2": "millimeter**2",
    "ft^2": "foot**2",
}
VOLUME = {
    "cm^3": "centimeter**3",
    "ml": "milliliter",
    "in^3": "inch**3",
    "mm^3": "millimeter**3",
    "l": "liter",
    "m^3": "meter**3",
}
TIME = {"s": "second", "min": "minute", "h": "hour", "d": "day"}
DIFFUSIVITY = {"mm^2/s": "millimeter**2/second", "m^2/s": "meter**2/second", "cm^2/s": "centimeter**2/second"}
CONDUCTIVITY = {
    "W/m/K": "watt/meter/kelvin",
    "W/mK": "watt/meter/kelvin",
    "W/(mK)": "watt/meter/kelvin",
    "W/(m*K)": "watt/meter/kelvin",
    "W/m/degC": "watt/meter/kelvin",
}
CONDUCTANCE = {
    "W/m^2/K": "watt/meter**2/kelvin",
    "W/m^2K": "watt/meter**2/kelvin",
    "W/(m^2K)": "watt/meter**2/kelvin",
    "W/(m^2*K)": "watt/meter**2/kelvin",
    "W/m^2/degC": "watt/meter**2/kelvin",
}
HEAT_CAPACITY = {
    "J/m^3/K": "joule/meter**3/kelvin",
    "kJ/m^3/K": "kilojoule/meter**3/kelvin",
    "MJ/m^3/K": "megajoule/meter**3/kelvin",
    "J/cm^3/K": "joule/centimeter**3/kelvin",
}
HEATING_RATE = {
    "K/min": "kelvin/minute",
    "degC/min": "kelvin/minute",
    "C/min": "kelvin/minute",
    "degF/min": "delta_degF/minute",
    "F/min": "delta_degF/minute",
    "K/s": "kelvin/second",
}
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
