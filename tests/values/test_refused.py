"""What cannot be read safely is refused, and says what was found, what is expected and what would mend it."""

import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from laminate.values.unit_names import KINDS
from laminate.values.units import Spread, Unreadable, Value, column_unit, parse, parse_spread
from tests.messages.wording import worded

MEANINGS = "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it"
FORMS = f"{MEANINGS}, or 1.790(5) for a standard uncertainty in the last digits"
DENSITY, LENGTH = 'a density, such as "1.79 g/cm^3"', 'a length, such as "2.95 mm"'
DENSITY_FIRST = 'a density, number first, such as "1.79 g/cm^3"'
LENGTH_FIRST = 'a length, number first, such as "2.95 mm"'
POINT = "write the decimal sign as a point, and no thousands separator"
FRACTION = "write a fraction as a decimal number, such as 0.125"
RANGE = "a range is written as its middle ± half its width (tolerance)"
UNEVEN = "an uneven tolerance is written as the middle of its range ± half its width (tolerance)"
LENGTHS = "units known here: mm, um, m, cm, in, ft, mil, uin, yd"


def refusal(read, *arguments, **options):
    with pytest.raises(Unreadable) as caught:
        read(*arguments, **options)
    return caught.value.found, caught.value.expected, caught.value.hint


@pytest.mark.parametrize(
    ("text", "kind", "found", "expected", "hint"),
    [
        # another kind of quantity: what came, what was expected
        ("2.95 mm", "density", "'2.95 mm', a length", DENSITY, ""),
        ("12 m", "time", "'12 m', a length", 'a time, such as "40 min"', ""),
        ("5 C", "pressure", "'5 C', a temperature", 'a pressure or modulus, such as "0.85 GPa"', ""),
        ("125 deg", "temperature", "'125 deg', an angle", 'a temperature, such as "125 degC"', ""),
        ("1.79 g/cm^3 ± 0.01 mm (k=2)", "density", "'1.79 g/cm^3 ± 0.01 mm (k=2)', a length", DENSITY, ""),
        ("5 mm", "number", "'5 mm', a length", "a plain number, without a unit", ""),
        ("10 ± 2 mm (k=2)", "number", "'10 ± 2 mm (k=2)', a length", "a plain number, without a unit", ""),
        ("10 apples", "number", "'10 apples'", "a plain number, without a unit", ""),
        (
            "0.2 degC",
            "temperature_difference",
            "'0.2 degC'",
            'a temperature difference in K, such as "0.2 K"',
            "a temperature difference is written in K",
        ),
        # units that are not known, or only in other capitals: a milliohm, a megameter, a gauge pressure
        ("5 mOhm", "length", "the unknown unit 'mOhm' in '5 mOhm'", LENGTH, LENGTHS),
        ("5 Mm", "length", "the unknown unit 'Mm' in '5 Mm'", LENGTH, LENGTHS),
        ("5 mm thick", "length", "the unknown unit 'mm thick' in '5 mm thick'", LENGTH, LENGTHS),
        (
            "5 psig",
            "pressure",
            "the unknown unit 'psig' in '5 psig'",
            'a pressure or modulus, such as "0.85 GPa"',
            "units known here: Pa, kPa, MPa, GPa, bar, psi, ksi, Msi, hPa",
        ),
        # no unit
        (
            150,
            "areal_weight",
            "'150' without a unit",
            'an areal weight with its unit, such as "150 g/m^2"',
            "",
        ),
        (
            "0.35",
            "fraction",
            "'0.35' without a unit",
            'a percentage with its unit, such as "35 %"',
            "did you mean 35 % or 0.35 %?",
        ),
        (
            35,
            "fraction",
            "'35' without a unit",
            'a percentage with its unit, such as "35 %"',
            "did you mean 35 %?",
        ),
        (
            "125 ± 3 K (tolerance)",  # 125 K, or 125 degC with a difference of 3 K
            "temperature",
            "'125 ± 3 K (tolerance)' without a unit",
            'a temperature with its unit, such as "125 degC"',
            "",
        ),
        # a ± that can be read in two ways
        (
            "1.79 g/cm^3 ± 0.01",
            "density",
            "'1.79 g/cm^3 ± 0.01', whose ± does not say what it means",
            FORMS,
            "",
        ),
        (
            "1.79 g/cm3 ± 0,01",
            "density",
            "'1.79 g/cm3 ± 0,01', whose ± does not say what it means",
            FORMS,
            "",
        ),
        (
            "1.79 g/cm^3 ± 0.01 k=2",
            "density",
            "'1.79 g/cm^3 ± 0.01 k=2', whose ± does not say what it means",
            FORMS,
            "",
        ),
        (
            "1.79 g/cm^3 (k=2)",
            "density",
            "'1.79 g/cm^3 (k=2)'",
            "a ± before '(k=2)', or nothing after the unit",
            "",
        ),
        (
            "1.790(5) g/cm^3 ± 0.01 (k=2)",
            "density",
            "'1.790(5) g/cm^3 ± 0.01 (k=2)'",
            "either digits in brackets or a ±, not both",
            "",
        ),
        (
            "1.79 g/cm^3 ± 0.01(2) (k=2)",
            "density",
            "'1.79 g/cm^3 ± 0.01(2) (k=2)'",
            "a plain number after the ±",
            "",
        ),
        (
            "1.79 g/cm^3 ± -0.01 (k=2)",
            "density",
            "'1.79 g/cm^3 ± -0.01 (k=2)'",
            "a positive number after the ±",
            "",
        ),
        (
            "1 mm ± 2 mm ± 3 mm (k=2)",
            "length",
            "'1 mm ± 2 mm ± 3 mm (k=2)'",
            'one ±, as in "2.95 mm ± 0.1 (standard)"',
            "",
        ),
        (
            "125 degC ± 2 % (k=2)",
            "temperature",
            "'125 degC ± 2 % (k=2)'",
            "the ± of a temperature in K or in the unit of the value",
            "",
        ),
        (
            "300 ppm ± 5 % (standard)",
            "fraction",
            "'300 ppm ± 5 % (standard)'",
            "the ± in ppm, as the value",
            "",
        ),
        (
            "35 wt % ± 2 vol % (standard)",
            "fraction",
            "'35 wt % ± 2 vol % (standard)'",
            "value and ± both of the mass (wt %) or both of the volume (vol %)",
            "",
        ),
        # numbers
        ("1.79 g/cm3 ± 0,01 (k=2)", "density", "'1.79 g/cm3 ± 0,01 (k=2)'", DENSITY_FIRST, POINT),
        ("1,79 g/cm3", "density", "'1,79 g/cm3'", DENSITY_FIRST, POINT),
        ("1,234.5 mm", "length", "'1,234.5 mm'", LENGTH_FIRST, POINT),
        ("1.234,5 mm", "length", "'1.234,5 mm'", LENGTH_FIRST, POINT),
        ("1 234 mm", "length", "'1 234 mm'", LENGTH_FIRST, POINT),
        ("1'234 mm", "length", "'1'234 mm'", LENGTH_FIRST, POINT),
        ("1_234 mm", "length", "'1_234 mm'", LENGTH_FIRST, POINT),
        ("1.2.3 mm", "length", "'1.2.3 mm'", LENGTH_FIRST, POINT),
        ("1/8 in", "length", "'1/8 in'", LENGTH_FIRST, FRACTION),
        ("2 1/2 in", "length", "'2 1/2 in'", LENGTH_FIRST, FRACTION),
        ("1.7-1.9 g/cm^3", "density", "'1.7-1.9 g/cm^3'", DENSITY_FIRST, RANGE),
        ("1.7 – 1.9 g/cm^3", "density", "'1.7 – 1.9 g/cm^3'", DENSITY_FIRST, RANGE),
        ("1.7 to 1.9 g/cm^3", "density", "'1.7 to 1.9 g/cm^3'", DENSITY_FIRST, RANGE),
        ("2.95 +0.03/-0.01 mm", "length", "'2.95 +0.03/-0.01 mm'", LENGTH_FIRST, UNEVEN),
        ("1.79e-3(5)e-3 mm", "length", "'1.79e-3(5)e-3 mm'", LENGTH_FIRST, ""),
        ("1e-3 x 10^-3 mm", "length", "'1e-3 x 10^-3 mm'", LENGTH_FIRST, ""),
        ("5 6 mm", "length", "'5 6 mm'", LENGTH_FIRST, ""),
        ("mm 5", "length", "'mm 5'", LENGTH_FIRST, ""),
        ("--5 mm", "length", "'--5 mm'", LENGTH_FIRST, ""),
        ("\u0663 mm", "length", "'\u0663 mm'", LENGTH_FIRST, ""),
        ("", "length", "''", LENGTH_FIRST, ""),
        ("± 0.01 mm (k=2)", "length", "'± 0.01 mm (k=2)'", LENGTH_FIRST, ""),
        ("2.95 mm ± (k=2)", "length", "'2.95 mm ± (k=2)'", LENGTH_FIRST, ""),
        ("nan mm", "length", "'nan mm'", 'a finite number, as in "2.95 mm"', ""),
        ("-inf", "length", "'-inf'", 'a finite number, as in "2.95 mm"', ""),
        ("1e400 mm", "length", "'1e400 mm'", 'a finite number, as in "2.95 mm"', ""),
        ("1e305 GPa", "pressure", "'1e305 GPa'", 'a finite number, as in "0.85 GPa"', ""),
        (
            "1 mm ± 1e305 (k=1e-10)",
            "length",
            "'(k=1e-10)' in '1 mm ± 1e305 (k=1e-10)'",
            f"what the ± means: {FORMS}",
            "",
        ),
        (math.nan, "number", "'nan'", 'a finite number, as in "1.10"', ""),
        (-math.inf, "number", "'-inf'", 'a finite number, as in "1.10"', ""),
        ("-300 degC", "temperature", "'-300 degC'", "a temperature above absolute zero, -273.15 degC", ""),
        # not a text at all
        (True, "number", "true", 'a plain number, such as "1.10"', ""),
        (None, "length", "nothing", LENGTH, ""),
        ([1], "length", "a list", LENGTH, ""),
        ({"mm": 1}, "length", "a table", LENGTH, ""),
    ],
)
def test_messages(text, kind, found, expected, hint):
    assert refusal(parse, text, kind) == (found, expected, hint)


@pytest.mark.parametrize(
    "meaning",
    [
        "k=0",
        "k=-2",
        "k",
        "2",
        "2 sigma",
        "tol",
        "dof=3",
        "standard, dof=0",
        "standard, dof",
        "tolerance, dof=3",
        "standard, k=2",
        "k=2, k=3",
        "95",
        "0 %",
        "100 %",
        "-95 %",
        "95 %, 99 %",
        "standard, dof=2, dof=3",
        "",
        "k=1e999",
        "standard, dof=9, often",
    ],
)
def test_a_meaning_that_is_not_known_is_refused(meaning):
    written = f"1.79 g/cm^3 ± 0.01 ({meaning})"
    expected = (f"'({meaning})' in '{written}'", f"what the ± means: {FORMS}", "")
    assert refusal(parse, written, "density") == expected


@pytest.mark.parametrize(
    ("text", "kind", "found", "expected"),
    [
        ("0.1 mg", "mass", "'0.1 mg', which does not say what it means", MEANINGS),
        (
            "0.1 (standard)",
            "mass",
            "'0.1 (standard)' without a unit",
            'a mass with its unit, such as "3.1004 g"',
        ),
        ("0.1 mm (k=2)", "mass", "'0.1 mm (k=2)', a length", 'a mass, such as "3.1004 g"'),
        ("0.1(1) mg (k=2)", "mass", "'0.1(1) mg (k=2)'", "a plain number before its meaning"),
        ("-0.1 mg (k=2)", "mass", "'-0.1 mg (k=2)'", "a positive number before its meaning"),
        ("1 % (k=2)", "temperature", "'1 % (k=2)', a percentage", 'a temperature, such as "125 degC"'),
        ("1e305 GPa (k=2)", "pressure", "'1e305 GPa (k=2)'", 'a finite number, as in "0.85 GPa"'),
        (0.1, "mass", "0.1", 'a mass and what it means, such as "3.1004 g (standard)"'),
    ],
)
def test_messages_of_a_spread(text, kind, found, expected):
    assert refusal(parse_spread, text, kind) == (found, expected, "")


def test_a_share_of_the_reading_may_be_refused():
    found, _, _ = refusal(parse_spread, "1 % (k=2)", "mass", relative_allowed=False)
    assert found == "'1 % (k=2)', a percentage"


def test_messages_of_a_heading():
    number = "a plain number, without a unit"
    assert refusal(column_unit, "mm", "number") == ("the unit 'mm'", number, "")
    expected = "the unit of a mass in brackets, such as [g]"
    assert refusal(column_unit, " ", "mass") == (worded("values: no unit in the heading"), expected, "")
    assert refusal(column_unit, "mm", "mass") == ("'mm', a length", 'a mass, such as "3.1004 g"', "")


def test_the_exception_is_a_sentence():
    with pytest.raises(ValueError, match=r"'0\.35'"):
        parse("0.35", "fraction")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("5 pct^2", "fraction"),  # a general reader of units makes picocarats of pct
        ("5 mPa", "pressure"),  # millipascals are not megapascals
        ("5 mN", "force"),
        ("5 C", "force"),  # coulombs
        ("20 mil", "angle"),  # 1/6400 of a turn
        ("1.79 g/cm", "density"),
        ("12 ton", "mass"),  # short, long or metric
        ("5 lb/in^2", "pressure"),  # of mass or of force
        ("5 F", "length"),
    ],
)
def test_a_unit_with_another_meaning_is_refused(text, kind):
    with pytest.raises(Unreadable):
        parse(text, kind)


@pytest.mark.parametrize(
    "text",
    [
        "(" * 100_000,
        "1" * 100_000,
        "1 mm" + " " * 100_000 + "x",
        "1 mm ± 1" + " (" * 50_000,
        "1(" + "9" * 100_000 + ")",
        "(1 ± 1)" + " " * 150 + "(" * 40,
        "1" + " " * 180 + "x",
        "1 " + "m " * 90,
        "1 " + "- " * 90,
    ],
)
def test_a_long_text_does_not_hang(text):
    start = time.perf_counter()
    with pytest.raises(Unreadable) as caught:
        parse(text, "length")
    assert time.perf_counter() - start < 0.5
    assert len(str(caught.value)) < 600


@given(
    st.text(max_size=60)
    | st.text(alphabet="0123456789.,eE+-±()/^% kdofgmincstaelr°µ=x*", max_size=40)
    | st.floats()
    | st.integers()
    | st.none(),
    st.sampled_from(list(KINDS)),
)
def test_whatever_is_written_is_read_or_refused(text, kind):
    """No other exception, and nothing but finite numbers."""
    for read, result in ((parse, Value), (parse_spread, Spread)):
        try:
            found = read(text, kind)
        except Unreadable as refused:
            words = (refused.found, refused.expected)
        else:
            words = ("read", "read")
            assert isinstance(found, result)
            assert math.isfinite(found.spread if isinstance(found, Value) else found.u)
        assert all(words)
