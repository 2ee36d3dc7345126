"""One cell to one number: what is read, and what is refused with the words that mend it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from laminate.files.table import looks_like_number, parse_number
from laminate.values.problems import Problem
from laminate.values.units import Unreadable
from tests.messages.wording import Catalog, reads, says

READ = [
    ("12", ".", 12.0),
    ("+12.", ".", 12.0),
    (" .5 ", ".", 0.5),
    ("-1.5e-3", ".", -0.0015),
    ("\N{MINUS SIGN}2.5", ".", -2.5),
    ("0012", ".", 12.0),
    ("2,855", ",", 2.855),
    (",5", ",", 0.5),
    ("1,5E3", ",", 1500.0),
    ("12", ",", 12.0),
]

POINT = [
    "NA", "n/a", "-", "?", "None", "nan", "inf", "-Infinity", "#DIV/0!", "1e999", "1,5", "1,234.5",
    "1,234,567", "1 234.5", "1\N{NARROW NO-BREAK SPACE}234", "1'234.5", "1.25 g", "35%", "5 m2", "1.44z7",
    "1.5O84", "l.5084", "1.5 l", "about 3", "1.2.3", "0x10", "1.5e", "1_000", "٣", "<0.1",
    ">5", "~1.931", "1.931*", "1.931 ± 0.002", "1.931+/-0.002", "1. 931", "about",
    "2.871.", "Mar 73", "2026-08-22", "22. Aug", "22.08.26",
]  # fmt: skip
COMMA = [
    "NaN", "#NV", "1.5", "1.234,5", "1\N{NO-BREAK SPACE}234,5", "2,9mm", "1,5o84", "2,871,",
]  # fmt: skip
REFUSED = [*((text, ".") for text in POINT), *((text, ",") for text in COMMA)]


@pytest.mark.parametrize(("text", "decimal", "number"), READ)
def test_number_is_read(text: str, decimal: str, number: float) -> None:
    assert parse_number(text, decimal) == number


@pytest.mark.parametrize(("text", "decimal"), REFUSED)
def test_other_text_is_refused_with_what_to_write(text: str, decimal: str, wording: Catalog) -> None:
    with pytest.raises(Unreadable) as caught:
        parse_number(text, decimal)
    said = caught.value
    assert said.found == f"'{text}'"
    problem = Problem("not-a-number", "", "", said.found, said.expected, said.hint)
    wording.hold_problems(f"cell: {text} with decimal {decimal}", [problem])


def test_thousands_with_three_decimals_name_the_other_sign() -> None:
    """1,234 in a table with decimal point is either; the message does not choose for the person."""
    with pytest.raises(Unreadable) as caught:
        parse_number("1,234", ".")
    assert reads("read: thousands with three decimals name", caught.value.hint)


def test_empty_cell_is_no_number() -> None:
    with pytest.raises(Unreadable) as caught:
        parse_number("", ".")
    assert says("read: empty cell is no number", str(caught.value))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_shortest_text_of_any_number_comes_back(number: float) -> None:
    assert parse_number(repr(number), ".") == number
    assert parse_number(repr(number).replace(".", ","), ",") == number


@given(st.text(max_size=12), st.sampled_from(".,"))
def test_any_text_is_a_number_or_a_message(text: str, decimal: str) -> None:
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if looks_like_number(plain, decimal) and "e" not in plain.lower():
        assert parse_number(text, decimal) == float(plain.replace(",", "."))
    elif "e" not in plain.lower():
        with pytest.raises(Unreadable) as caught:
            parse_number(text, decimal)
        assert says("read: any text is a number or a message", str(caught.value))
