"""Every unit and its usual spellings, against published factors and against pint's own registry."""

import math
import time

import pint
import pytest

from laminate.values.quantities import ATTRIBUTES, KIND_UNITS, US, Unit, shown, shown_difference
from laminate.values.unit_names import KINDS
from laminate.values.units import _by_registry, _linear, _registry, parse, scale

# NIST Special Publication 811 (2008), appendix B.8: areal weights, densities, psi, lb and lbf second-hand,
# from a table that names it. All follow by arithmetic from the exact inch (25.4 mm), pound (0.45359237 kg)
# and standard gravity (9.80665 m/s2). No tolerance where half a digit is 0.
NIST_SP_811 = [
    ("in", "length", 2.54e-2, 0.0),
    ("ft", "length", 3.048e-1, 0.0),
    ("yd", "length", 9.144e-1, 0.0),
    ("mil", "length", 2.54e-5, 0.0),
    ("uin", "length", 2.54e-8, 0.0),
    ("lb", "mass", 4.5359237e-1, 0.0),
    ("oz", "mass", 2.834952e-2, 5e-9),
    ("oz/yd^2", "areal_weight", 3.390575e-2, 5e-9),
    ("oz/ft^2", "areal_weight", 3.051517e-1, 5e-8),
    ("lb/ft^2", "areal_weight", 4.882428, 5e-7),
    ("lb/in^3", "density", 2.767990e4, 5e-3),
    ("lb/ft^3", "density", 1.601846e1, 5e-6),
    ("psi", "pressure", 6.894757e3, 5e-4),
    ("ksi", "pressure", 6.894757e6, 0.5),
    ("bar", "pressure", 1e5, 0.0),
    ("lbf", "force", 4.448222, 5e-7),
    ("kip", "force", 4.448222e3, 5e-4),
    ("kgf", "force", 9.80665, 0.0),
    ("in^2", "area", 6.4516e-4, 0.0),
    ("ft^2", "area", 9.290304e-2, 0.0),
    ("in^3", "volume", 1.6387064e-5, 0.0),
    ("l", "volume", 1e-3, 0.0),
    ("deg", "angle", 1.745329e-2, 5e-9),
]


@pytest.mark.parametrize(("unit", "kind", "factor", "half_digit"), NIST_SP_811)
def test_published_factors(unit, kind, factor, half_digit):
    assert scale(unit, kind) == (pytest.approx(factor, rel=1e-15, abs=half_digit), 0.0)


def test_published_temperatures():
    """NIST SP 811, B.9: t/degC = (t/degF - 32)/1.8, from freezing to where both scales agree."""
    for fahrenheit, celsius in [
        (32.0, 0.0),
        (98.6, 37.0),
        (212.0, 100.0),
        (-40.0, -40.0),
        (-459.67, -273.15),
    ]:
        kelvin = celsius + 273.15
        assert parse(f"{fahrenheit} degF", "temperature").value == pytest.approx(kelvin, abs=1e-12)
        assert parse(f"{celsius} degC", "temperature").value == pytest.approx(kelvin, abs=1e-12)
    assert scale("/degF", "expansion")[0] == pytest.approx(1.8, rel=1e-15)


@pytest.fixture(scope="module")
def registry():
    registry = pint.UnitRegistry(cache_folder=None)
    registry.define("Msi = 1e6 * psi")
    registry.define("inch_of_mercury = inch_Hg")
    registry.define("millimeter_of_mercury = millimeter_Hg")
    registry.define("tonne_force = metric_ton * standard_gravity")
    return registry


@pytest.mark.parametrize(
    ("kind", "spelling"), [(kind, unit) for kind, known in KINDS.items() for unit in known.units]
)
def test_every_unit_is_worth_what_pint_says(kind, spelling, registry):
    expression = KINDS[kind].units[spelling]
    expression = "milliinch" if expression == "mil" else expression  # pint's own mil is an angle
    factor, offset = scale(spelling, kind)
    if expression in ("degC", "degF"):
        assert offset == pytest.approx(registry.Quantity(0.0, expression).to("kelvin").magnitude, abs=1e-12)
        expression = f"delta_{expression}"
    expected = registry.Quantity(1.0, expression).to(KINDS[kind].coherent).magnitude
    assert factor == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize("kind", KINDS)
def test_metric_units_are_worth_the_same_without_the_registry(kind):
    expressions = set(KINDS[kind].units.values())
    registered = {expression: _by_registry(expression, KINDS[kind].coherent) for expression in expressions}
    assert {each: _linear(each, KINDS[kind].coherent) for each in expressions} == registered


# kind, the unit meant, other spellings of it
SPELLINGS = [
    ("areal_weight", "g/m^2",
     "gsm GSM g/m2 g/m² g/m**2 g/sqm"
     "|g/sq m|g / m^2|g m^-2|g·m⁻²|grams/m^2|gram/square meter"),
    ("areal_weight", "oz/yd^2",
     "oz/yd2 oz/yd² osy OZ/YD2"
     "|oz/sq yd|oz/sq. yd.|oz. / yd.^2|ounces/square yard"),
    ("density", "g/cm^3", "g/cm3 g/cm³ g/cc G/CM3 g/ccm g/ml g/mL|g / cm^3|g cm^-3|g·cm⁻³|g cm-3|g/cubic cm"),
    ("density", "kg/m^3", "kg/m3 kg/m³ KG/M3 g/l|kg m^-3|kg m-3|kilograms/cubic metre"),
    ("density", "lb/in^3", "lb/in3 lbs/in^3 lbm/in3 lb/in³|lb/cu in|lb/cu. in.|pounds/cubic inch"),
    ("length", "mm", "MM millimeter millimetre millimeters"),
    ("length", "um", "µm μm micron microns UM micrometre"),
    ("length", "in", 'in. IN inch inches Inch " ″ ”'),
    ("length", "mil", "mils MIL Mil thou"),
    ("length", "ft", "ft. feet foot FT"),
    ("mass", "g", "G gram grams g."),
    ("mass", "mg", "MG milligram"),
    ("mass", "lb", "lbs lb. lbs. LB pound pounds"),
    ("mass", "oz", "oz. ounce OZ"),
    ("fraction", "%",
     "percent pct ％ wt% wt.% vol% vol.% %wt"
     "|wt %|vol %|wt. %|weight %|mass %|volume %|% wt|% by weight"),
    ("fraction", "ppm", "PPM"),
    ("temperature", "degC", "°C ℃ C c celsius degc ºC|deg C|deg. C|degrees C|° C|degree Celsius"),
    ("temperature", "degF", "°F ℉ F fahrenheit DEGF|deg F|degrees F"),
    ("temperature", "K", "k kelvin"),
    ("angle", "deg", "° degrees degree DEG"),
    ("expansion", "/K", "1/K K^-1 K⁻¹ /degC 1/°C /°C /C m/m/K mm/mm/°C|1/deg C|/ K"),
    ("expansion", "ppm/K",
     "ppm/°C ppm/degC ppm/C 1e-6/K 1e-6/°C µm/m/K um/(m·K) µm/m·°C µm/m-°C"
     "|ppm / K|ppm K^-1|um/(m K)"),
    ("expansion", "1e-6/degF", "ppm/°F ppm/degF ppm/F µin/in/°F µin/in-°F uin/in/F"),
    ("expansion", "/degF", "in/in/°F in/in-°F 1/F|in./in./deg F"),
    ("pressure", "MPa", "mpa MPA N/mm² N/mm2|N / mm^2"),
    ("pressure", "psi", "PSI Psi lbf/in^2 lbf/in²|lbf/sq in|lbf/sq. in."),
    ("pressure", "ksi", "KSI"),
    ("pressure", "kgf/cm^2", "kgf/cm2 kgf/cm² KGF/CM2|kgf / cm^2"),
    ("pressure", "mmHg", "mmhg|mm Hg"),
    ("pressure", "Torr", "torr TORR"),
    ("pressure", "GPa", "gpa GPA"),
    ("compliance", "MPa^-1", "1/MPa /MPa MPa⁻¹ MPA^-1 MPa-1"),
    ("force", "lbf", "LBF"),
    ("force", "kN", "KN kn"),
    ("area", "cm^2", "cm2 cm² CM2|sq cm|sq. cm|square centimeters"),
    ("area", "in^2", "in2 in² sqin|sq in|sq. in.|square inches"),
    ("volume", "cm^3", "cm3 cm³ cc CC ml mL|cu cm"),
    ("volume", "in^3", "in3 in³|cu in|cu. in.|cubic inches"),
    ("time", "min", "minutes Min MIN mins"),
    ("time", "h", "hr hours H hrs hour"),
    ("time", "s", "sec seconds S"),
    ("diffusivity", "mm^2/s", "mm2/s mm²/s MM2/S|mm^2 s^-1|mm² · s⁻¹"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "unit", "others"), SPELLINGS)
def test_usual_spellings(kind, unit, others):
    first, *rest = others.split("|")
    for spelling in [*first.split(), *rest]:
        assert scale(spelling, kind) == pytest.approx(scale(unit, kind), rel=1e-14), spelling


def test_units_that_the_contract_names_are_known():
    named = {
        "areal_weight": "g/m^2 gsm oz/yd^2",
        "density": "g/cm^3 kg/m^3 lb/in^3",
        "length": "mm um m cm in ft mil",
        "mass": "g mg kg lb oz",
        "fraction": "% wt% vol% ppm",
        "temperature": "degC degF K",
        "angle": "deg",
        "expansion": "/K ppm/K 1e-6/degF",
        "pressure": "Pa kPa MPa GPa bar psi ksi mbar inHg kgf/cm^2 mmHg Torr",
        "compliance": "MPa^-1",
        "force": "N kN lbf tf",
        "area": "cm^2 m^2 in^2",
        "volume": "cm^3 ml in^3",
        "time": "s min h d",
        "conductivity": "W/m/K",
        "conductance": "W/m^2/K",
        "heat_capacity": "J/m^3/K",
        "heating_rate": "K/min",
        "diffusivity": "mm^2/s",
        "temperature_difference": "K",
    }
    for kind, units in named.items():
        for unit in units.split():
            assert math.isfinite(scale(unit, kind)[0])
    assert set(named) | {"number"} == set(KINDS)


# what is shown must be what is read: one table of factors each way
READ_AGAIN = [
    (unit, attribute.kind) for attribute in ATTRIBUTES.values() for unit in (attribute.unit, attribute.us)
]


@pytest.mark.parametrize(("unit", "kind"), sorted(set(READ_AGAIN), key=str))
def test_what_is_shown_reads_back(unit: Unit, kind: str):
    factor, _ = scale(unit.text, kind)
    assert factor * unit.per_si == pytest.approx(1.0, rel=1e-14)
    assert parse(f"{shown(0.123456, unit)!r} {unit.text}", kind).value == pytest.approx(0.123456, rel=1e-14)


@pytest.mark.parametrize(
    ("written", "kind", "unit"),
    [("1.5 MPa", "pressure", "MPa"), ("600 kN", "force", "kN"), ("125 degC", "temperature", "degC")],
)
def test_us_units_show_the_same_quantity(written, kind, unit):
    us = next(us for metric, us in US.items() if metric.text == unit)
    si = parse(written, kind).value
    assert parse(f"{shown(si, us)!r} {us.text}", kind).value == pytest.approx(si, rel=1e-14)


def test_a_difference_in_kelvin_is_shown_without_an_offset():
    kelvin = next(unit for unit in US if unit.text == "K")
    assert shown(5.0, US[kelvin]) == pytest.approx(9.0, rel=1e-15)
    celsius = next(unit for unit in US if unit.text == "degC")
    assert shown_difference(5.0, US[celsius]) == pytest.approx(9.0, rel=1e-15)

    """The reason for a list of our own: measured in one run against pint's whole registry."""

    def seconds(work):
        start = time.perf_counter()
        work()
        return time.perf_counter() - start

    own = min(seconds(_registry.__wrapped__) for _ in range(3))
    whole = seconds(lambda: pint.UnitRegistry(cache_folder=None))
    assert own < whole / 4


@pytest.mark.parametrize("kind", KINDS)
def test_the_unit_in_which_a_kind_is_shown_reads_back(kind):
    unit = KIND_UNITS[kind]
    text = f"3{unit.text}" if unit.text.startswith("e-6") else f"3 {unit.text}".rstrip()
    assert shown(parse(text, kind).value, unit) == pytest.approx(3.0, rel=1e-12)
