"""Every way to write a value, and what its ± means (JCGM 100:2008, 4.3 and 7.2)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from laminate.values.unit_names import KINDS
from laminate.values.units import SIValue, Spread, column_unit, kind_of, parse, parse_spread, scale

ROOT3 = math.sqrt(3.0)
# two-sided 95 %: normal 1.959964 (any table of the normal distribution); Student t of JCGM 100, table G.2
NORMAL_95 = 1.959964
T_95 = {1: 12.71, 2: 4.30, 4: 2.78, 9: 2.26, 10: 2.23, 20: 2.09, 50: 2.01}


@pytest.mark.parametrize(
    ("text", "value", "u", "shape"),
    [
        ("1.79 g/cm^3", 1790.0, None, "exact"),
        ("1.79 g/cm^3 ± 0.01 (tolerance)", 1790.0, 10 / ROOT3, "rectangular"),
        ("1.79 g/cm^3 ± 0.01 (standard)", 1790.0, 10.0, "normal"),
        ("1.79 g/cm^3 ± 0.01 (k=2)", 1790.0, 5.0, "normal"),
        ("1.79 g/cm^3 ± 0.01 (k = 2.5)", 1790.0, 4.0, "normal"),
        ("1.79 g/cm^3 ± 0.01 (95 %)", 1790.0, 10 / NORMAL_95, "normal"),
        ("1.79 g/cm^3 ± 0.01 (95%)", 1790.0, 10 / NORMAL_95, "normal"),
        ("1.79 g/cm^3 +/- 0.01 (k=2)", 1790.0, 5.0, "normal"),
        ("1.79 g/cm^3 +- 0.01 (K=2)", 1790.0, 5.0, "normal"),
        ("1.79 g/cm^3±0.01(k=2)", 1790.0, 5.0, "normal"),
        ("  1.79g/cm3  ±0.01  ( Standard ) ", 1790.0, 10.0, "normal"),
        ("1.79 g/cm^3 ± 0.01 g/cm^3 (k=2)", 1790.0, 5.0, "normal"),
        ("1.79 g/cm^3 ± 10 kg/m^3 (k=2)", 1790.0, 5.0, "normal"),
        ("1.79 ± 0.01 g/cm^3 (k=2)", 1790.0, 5.0, "normal"),
        ("(1.79 ± 0.01) g/cm^3 (k=2)", 1790.0, 5.0, "normal"),
        ("1.79 g/cm^3 ± 2 % (tolerance)", 1790.0, 35.8 / ROOT3, "rectangular"),
        ("1.790(5) g/cm^3", 1790.0, 5.0, "normal"),
        ("1.79(1) g/cm^3", 1790.0, 10.0, "normal"),
        ("1.790(15)g/cm^3", 1790.0, 15.0, "normal"),
        ("1790(5) kg/m^3", 1790.0, 5.0, "normal"),
        ("1.790(5)e3 kg/m^3", 1790.0, 5.0, "normal"),
        ("1.790e3(5) kg/m^3", 1790.0, 5.0, "normal"),
        ("0.06467 lb/in^3 ± 0.00018 (standard)", 1790.06, 4.98238, "normal"),
        ("0.06467(18) lb/in^3", 1790.06, 4.98238, "normal"),
        ("111.75 lb/ft^3 ± 0.6 % (k=2)", 1790.06, 5.37019, "normal"),
    ],
)
def test_a_density_in_every_form(text, value, u, shape):
    read = parse(text, "density")
    assert read.value == pytest.approx(value, rel=2e-6)
    assert read.shape == shape
    if u is None:
        assert read.u is None
        assert read.spread == 0.0
    else:
        assert read.u == pytest.approx(u, rel=2e-6)
        assert read.spread == read.u
    assert math.isinf(read.dof)
    assert read.text == text.strip()


@pytest.mark.parametrize(
    ("text", "kind", "value", "u"),
    [
        # pounds, inches and ounces: exact definitions of NIST SP 811, arithmetic beside
        ("0.0079 in ± 0.0002 (tolerance)", "length", 0.0079 * 0.0254, 0.0002 * 0.0254 / ROOT3),
        ("7.9 mil ± 0.2 (standard)", "length", 7.9 * 25.4e-6, 0.2 * 25.4e-6),
        ("0.116 in ± 1 mil (k=2)", "length", 0.116 * 0.0254, 0.5 * 25.4e-6),
        ("4.42 oz/yd^2 ± 0.06 (k=2)", "areal_weight", 4.42 * 0.03390574747, 0.03 * 0.03390574747),
        ("4.42(3) oz/yd2", "areal_weight", 4.42 * 0.03390574747, 0.03 * 0.03390574747),
        ("100 psi ± 5 (95 %)", "pressure", 689475.7293, 5 * 6894.757293 / NORMAL_95),
        ("123 ksi ± 1 % (standard)", "pressure", 848.055147e6, 8.48055147e6),
        ("134.9 lbf ± 0.2 (standard)", "force", 134.9 * 4.4482216153, 0.2 * 4.4482216153),
        ("2.65 lb ± 0.01 oz (standard)", "mass", 2.65 * 0.45359237, 0.01 * 0.028349523125),
        ("31 in^2", "area", 31 * 6.4516e-4, None),
    ],
)
def test_us_units_carry_their_spread(text, kind, value, u):
    read = parse(text, kind)
    assert read.value == pytest.approx(value, rel=1e-9)
    assert read.u == (None if u is None else pytest.approx(u, rel=1e-7))


@pytest.mark.parametrize(
    ("text", "dof", "u"),
    [
        ("3.1004 g ± 0.1 mg (standard, dof=9)", 9, 1e-7),
        ("3.1004 g ± 0.1 mg (standard,dof = 9)", 9, 1e-7),
        ("3.1004 g ± 0.1 mg (k=2, dof=16.7)", 16.7, 0.5e-7),
    ],
)
def test_degrees_of_freedom_are_kept(text, dof, u):
    read = parse(text, "mass")
    assert (read.value, read.dof) == (pytest.approx(3.1004e-3, rel=1e-15), dof)
    assert read.u == pytest.approx(u, rel=1e-12)


@pytest.mark.parametrize(("dof", "t"), T_95.items())
def test_a_confidence_with_degrees_of_freedom_is_students(dof, t):
    read = parse(f"2.95 mm ± 1 mm (95 %, dof={dof})", "length")
    assert 1e-3 / read.spread == pytest.approx(t, abs=0.005)
    assert read.dof == dof


@pytest.mark.parametrize("text", ["2.95 mm ± 0 (tolerance)", "2.95 mm ± 0.0 mm (standard)", "2.95(0) mm"])
def test_a_stated_zero_is_not_the_same_as_nothing_stated(text):
    assert parse(text, "length").u == 0.0
    assert parse("2.95 mm", "length").u is None


def test_a_tolerance_gives_its_half_width_back():
    assert parse("120 degC ± 2 (tolerance)", "temperature").half_width == pytest.approx(2.0, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "value", "u"),
    [
        ("35 %", 0.35, None),
        ("35 % ± 2 % (tolerance)", 0.35, 0.02 / ROOT3),  # points of a percentage, not a share of it
        ("35 % ± 2 (tolerance)", 0.35, 0.02 / ROOT3),
        ("35 ± 2 % (tolerance)", 0.35, 0.02 / ROOT3),
        ("35 % ± 500 ppm (standard)", 0.35, 0.0005),
        ("33 wt % ± 1 % (standard)", 0.33, 0.01),
        ("300 ppm ± 20 (standard)", 3e-4, 2e-5),
        ("0 %", 0.0, None),
        ("-0.4 % ± 0.2 (standard)", -0.004, 0.002),
    ],
)
def test_the_spread_of_a_percentage_is_in_points(text, value, u):
    read = parse(text, "fraction")
    assert read.value == pytest.approx(value, rel=1e-15)
    assert read.u == (None if u is None else pytest.approx(u, rel=1e-12))
    assert read.relative is False


def test_a_relative_spread_says_that_it_is_one():
    read = parse("150 g/m^2 ± 2 % (tolerance)", "areal_weight")
    assert read.relative is True
    assert read.half_width == pytest.approx(0.003, rel=1e-12)
    assert parse("-20 mm ± 2 % (standard)", "length").spread == pytest.approx(4e-4, rel=1e-12)
    assert parse("10 ± 5 % (standard)", "number").spread == pytest.approx(0.5, rel=1e-12)
    assert parse("100 mm ± 20 ppm (k=2)", "length").spread == pytest.approx(1e-6, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "basis"),
    [
        ("%", None),
        ("wt %", "mass"),
        ("weight %", "mass"),
        ("% w/w", "mass"),
        ("vol %", "volume"),
        ("ppm", None),
    ],
)
def test_a_percentage_says_what_it_is_a_share_of(unit, basis):
    assert parse(f"35 {unit}", "fraction").basis == basis


def test_only_a_percentage_has_a_basis():
    assert parse("12 cm^3", "volume").basis is None


@pytest.mark.parametrize(
    ("text", "kelvin", "u"),
    [
        ("125 degC", 398.15, None),
        ("125 °C ± 3 °C (tolerance)", 398.15, 3 / ROOT3),
        ("125 degC ± 3 K (tolerance)", 398.15, 3 / ROOT3),
        ("125 degC ± 3 (tolerance)", 398.15, 3 / ROOT3),
        ("125 ± 3 °C (tolerance)", 398.15, 3 / ROOT3),
        ("257 degF ± 5.4 (tolerance)", 398.15, 3 / ROOT3),
        ("257 °F ± 5.4 °F (tolerance)", 398.15, 3 / ROOT3),
        ("257 F ± 3 K (tolerance)", 398.15, 3 / ROOT3),
        ("125 degC ± 5.4 degF (tolerance)", 398.15, 3 / ROOT3),
        ("398.15 K ± 3 degC (tolerance)", 398.15, 3 / ROOT3),
        ("(398.15 ± 3) K (tolerance)", 398.15, 3 / ROOT3),
        ("125.0(5) degC", 398.15, 0.5),
        ("257.0(9) degF", 398.15, 0.5),
        ("-40 degF", 233.15, None),
        ("-40 °C", 233.15, None),
        ("32 Fahrenheit", 273.15, None),
        ("0 deg C", 273.15, None),
        ("0 degrees C", 273.15, None),
        ("0 ° C", 273.15, None),
        ("0 ℃", 273.15, None),
        ("0C", 273.15, None),
        ("0 Kelvin", 0.0, None),
    ],
)
def test_the_spread_of_a_temperature_is_a_difference(text, kelvin, u):
    read = parse(text, "temperature")
    assert read.value == pytest.approx(kelvin, abs=1e-12)
    assert read.u == (None if u is None else pytest.approx(u, rel=1e-12))


@pytest.mark.parametrize(
    ("text", "kind", "spread"),
    [
        ("0.1 mg (standard)", "mass", Spread(1e-7, text="0.1 mg (standard)")),
        ("± 0.1 mg (standard)", "mass", Spread(1e-7, text="± 0.1 mg (standard)")),
        ("0.004 mm (k=2)", "length", Spread(2e-6, text="0.004 mm (k=2)")),
        ("0.01 % (standard)", "mass", Spread(1e-4, relative=True, text="0.01 % (standard)")),
        ("1 % (standard, dof=4)", "fraction", Spread(0.01, dof=4.0, text="1 % (standard, dof=4)")),
    ],
)
def test_a_spread_stands_alone(text, kind, spread):
    read = parse_spread(text, kind)
    assert read.u == pytest.approx(spread.u, rel=1e-12)
    assert (read.relative, read.dof, read.shape, read.text) == (spread.relative, spread.dof, "normal", text)


def test_the_spread_of_a_thermometer_is_a_difference():
    for text in ("0.9 degF (tolerance)", "0.5 degC (tolerance)", "0.5 K (tolerance)"):
        read = parse_spread(text, "temperature")
        assert read.u == pytest.approx(0.5 / ROOT3, rel=1e-12)
        assert read.shape == "rectangular"


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        (".5 mm", "length", 5e-4),
        ("5. mm", "length", 5e-3),
        ("+5 mm", "length", 5e-3),
        ("1.5e-4 in", "length", 3.81e-6),
        ("1.5E-4 in", "length", 3.81e-6),
        ("265e-6 /K", "expansion", 265e-6),
        ("265e-6/K", "expansion", 265e-6),
        ("265 x 10^-6 /K", "expansion", 265e-6),
        ("265 × 10⁻⁶ /K", "expansion", 265e-6),
        ("265·10⁻⁶ K⁻¹", "expansion", 265e-6),
        ("265 10^-6/K", "expansion", 265e-6),
        ("265 1e-6/K", "expansion", 265e-6),
        ("\u221240 degC", "temperature", 233.15),
        ("40\u00a0min", "time", 2400.0),
        ("1/8 in".replace("1/8", "0.125"), "length", 3.175e-3),
    ],
)
def test_a_number_as_people_write_it(text, kind, value):
    assert parse(text, kind).value == pytest.approx(value, rel=1e-12)


def test_a_number_without_unit_may_be_a_number():
    assert parse(1.1, "number") == SIValue(1.1, text="1.1")
    assert parse(10, "number").value == 10.0
    assert parse("1.10", "number").value == 1.1
    read = parse("10 ± 2 (tolerance)", "number")
    assert (read.value, read.half_width) == (10.0, pytest.approx(2.0, rel=1e-15))


def test_a_number_of_numpy_is_a_number():
    assert parse(np.float64(1.1), "number") == SIValue(1.1, text="1.1")


NUMBERS = st.floats(1e-3, 1e6).map(lambda number: float(f"{number:.6g}"))


@pytest.mark.parametrize("kind", [kind for kind, known in KINDS.items() if known.units])
@given(number=NUMBERS)
def test_the_same_value_in_two_units_reads_equal(kind, number):
    coherent = parse(f"{number!r} {next(iter(KINDS[kind].units))}", kind).value
    for unit in KINDS[kind].units:
        factor, offset = (1.0, 0.0) if kind == "number" else scale(unit, kind)
        written = f"{(coherent - offset) / factor!r} {unit}"
        assert parse(written, kind).value == pytest.approx(coherent, rel=1e-12)


@given(mantissa=st.integers(1, 10**6), decimals=st.integers(0, 6), digits=st.integers(1, 999))
def test_digits_in_brackets_are_a_standard_uncertainty(mantissa, decimals, digits):
    number, u = (f"{integer / 10**decimals:.{decimals}f}" for integer in (mantissa, digits))
    short = parse(f"{number}({digits}) g/cm^3", "density")
    long = parse(f"{number} g/cm^3 ± {u} (standard)", "density")
    assert short.value == long.value
    assert short.u == pytest.approx(long.u, rel=1e-14)


@given(number=NUMBERS, u=NUMBERS, k=st.floats(0.5, 5.0))
def test_an_expanded_uncertainty_is_k_standard_ones(number, u, k):
    expanded = parse(f"{number!r} mm ± {k * u!r} (k={k!r})", "length")
    assert expanded.u == pytest.approx(parse(f"{number!r} mm ± {u!r} (standard)", "length").u, rel=1e-12)


@pytest.mark.parametrize(
    ("heading", "kind", "factor"),
    [("MM", "length", 1e-3), ("G/CM3", "density", 1e3), ("Oz/Sq. Yd.", "areal_weight", 0.0339057474748823)],
)
def test_a_heading_is_forgiven_its_capitals(heading, kind, factor):
    assert column_unit(heading, kind) == (pytest.approx(factor, rel=1e-14), 0.0)


def test_a_heading_of_temperatures_has_an_offset():
    factor, offset = column_unit("degF", "temperature")
    assert factor * 212 + offset == pytest.approx(373.15, abs=1e-12)
    assert column_unit(" - ", "number") == (1.0, 0.0)


def test_a_unit_is_found_again_from_what_it_measures():
    assert kind_of("4.42 oz/yd^2 ± 0.06 (k=2)") == "areal_weight"
    assert kind_of("0.2 K") == "temperature"
    assert kind_of("5 parsec") is None
    assert scale("g", "mass") == (1e-3, 0.0)
