"""What cannot be read safely is refused, and says what was found, what is expected and what would mend it."""

import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from laminate.values.problems import Problem
from laminate.values.unit_names import KINDS
from laminate.values.units import SIValue, Spread, Unreadable, column_unit, parse, parse_spread


def held(wording, case, read, *arguments, **options):
    """Hold what is said of a text that is no value to a case of the catalog of wording."""
    with pytest.raises(Unreadable) as caught:
        read(*arguments, **options)
    said = caught.value
    problem = Problem("unreadable-value", "", "", said.found, said.expected, said.hint)
    wording.hold_problems(case, [problem])


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        # another kind of quantity: what came, what was expected
        ("2.95 mm", "density"),
        ("12 m", "time"),
        ("5 C", "pressure"),
        ("125 deg", "temperature"),
        ("1.79 g/cm^3 ± 0.01 mm (k=2)", "density"),
        ("5 mm", "number"),
        ("10 ± 2 mm (k=2)", "number"),
        ("10 apples", "number"),
        ("0.2 degC", "temperature_difference"),
        # units that are not known, or only in other capitals: a milliohm, a megameter, a gauge pressure
        ("5 mOhm", "length"),
        ("5 Mm", "length"),
        ("5 mm thick", "length"),
        ("5 psig", "pressure"),
        # no unit
        (150, "areal_weight"),
        ("0.35", "fraction"),
        (35, "fraction"),
        ("125 ± 3 K (tolerance)", "temperature"),  # 125 K, or 125 degC with a difference of 3 K
        # a ± that can be read in two ways
        ("1.79 g/cm^3 ± 0.01", "density"),
        ("1.79 g/cm3 ± 0,01", "density"),
        ("1.79 g/cm^3 ± 0.01 k=2", "density"),
        ("1.79 g/cm^3 (k=2)", "density"),
        ("1.790(5) g/cm^3 ± 0.01 (k=2)", "density"),
        ("1.79 g/cm^3 ± 0.01(2) (k=2)", "density"),
        ("1.79 g/cm^3 ± -0.01 (k=2)", "density"),
        ("1 mm ± 2 mm ± 3 mm (k=2)", "length"),
        ("125 degC ± 2 % (k=2)", "temperature"),
        ("300 ppm ± 5 % (standard)", "fraction"),
        ("35 wt % ± 2 vol % (standard)", "fraction"),
        # numbers
        ("1.79 g/cm3 ± 0,01 (k=2)", "density"),
        ("1,79 g/cm3", "density"),
        ("1,234.5 mm", "length"),
        ("1.234,5 mm", "length"),
        ("1 234 mm", "length"),
        ("1'234 mm", "length"),
        ("1_234 mm", "length"),
        ("1.2.3 mm", "length"),
        ("1/8 in", "length"),
        ("2 1/2 in", "length"),
        ("1.7-1.9 g/cm^3", "density"),
        ("1.7 – 1.9 g/cm^3", "density"),
        ("1.7 to 1.9 g/cm^3", "density"),
        ("2.95 +0.03/-0.01 mm", "length"),
        ("1.79e-3(5)e-3 mm", "length"),
        ("1e-3 x 10^-3 mm", "length"),
        ("5 6 mm", "length"),
        ("mm 5", "length"),
        ("--5 mm", "length"),
        ("\u0663 mm", "length"),
        ("", "length"),
        ("± 0.01 mm (k=2)", "length"),
        ("2.95 mm ± (k=2)", "length"),
        ("nan mm", "length"),
        ("-inf", "length"),
        ("1e400 mm", "length"),
        ("0.5 mm ± 1e300 (standard)", "length"),
        ("1e305 GPa", "pressure"),
        ("1 mm ± 1e305 (k=1e-10)", "length"),
        (math.nan, "number"),
        (math.nan, "fraction"),
        (-math.inf, "number"),
        ("-300 degC", "temperature"),
        # not a text at all
        (True, "number"),
        (None, "length"),
        ([1], "length"),
        ({"mm": 1}, "length"),
    ],
)
def test_messages(text, kind, wording):
    held(wording, f"value: {text!r} of kind {kind}", parse, text, kind)


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
        "k=301",
        "standard, dof=9, often",
    ],
)
def test_a_meaning_that_is_not_known_is_refused(meaning, wording):
    held(wording, f"meaning: ({meaning})", parse, f"1.79 g/cm^3 ± 0.01 ({meaning})", "density")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("0.1 mg", "mass"),
        ("0.1 (standard)", "mass"),
        ("0.1 mm (k=2)", "mass"),
        ("0.1(1) mg (k=2)", "mass"),
        ("-0.1 mg (k=2)", "mass"),
        ("1 % (k=2)", "temperature"),
        ("1e305 GPa (k=2)", "pressure"),
        (0.1, "mass"),
    ],
)
def test_messages_of_a_spread(text, kind, wording):
    held(wording, f"spread: {text!r} of kind {kind}", parse_spread, text, kind)


def test_a_share_of_the_reading_may_be_refused(wording):
    case = "spread: a share where none is allowed"
    held(wording, case, parse_spread, "1 % (k=2)", "mass", relative_allowed=False)


@pytest.mark.parametrize(("unit", "kind"), [("mm", "number"), (" ", "mass"), ("mm", "mass")])
def test_messages_of_a_heading(unit, kind, wording):
    held(wording, f"heading: {unit!r} of kind {kind}", column_unit, unit, kind)


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
    for read, result in ((parse, SIValue), (parse_spread, Spread)):
        try:
            found = read(text, kind)
        except Unreadable as refused:
            words = (refused.found, refused.expected)
        else:
            words = ("read", "read")
            assert isinstance(found, result)
            assert math.isfinite(found.spread if isinstance(found, SIValue) else found.u)
        assert all(words)
