"""One cell to one number: what is read, and what is refused with the words that mend it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from laminate.files.table import looks_like_number, parse_number
from laminate.values.units import Unreadable
from tests.messages.wording import reads, says

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

EMPTY = "leave the cell empty where nothing was measured"
FORMULA = "correct the formula, or leave the cell empty"
GROUPS = "write it without thousands separators"
UNIT = "alone: a unit belongs in the heading, words in the column 'remark'"

REFUSED = [
    ("NA", ".", "a number", EMPTY),
    ("n/a", ".", "a number", EMPTY),
    ("-", ".", "a number", EMPTY),
    ("?", ".", "a number", EMPTY),
    ("None", ".", "a number", EMPTY),
    ("nan", ".", "a number", EMPTY),
    ("NaN", ",", "a number with decimal comma", EMPTY),
    ("inf", ".", "a number", EMPTY),
    ("-Infinity", ".", "a number", EMPTY),
    ("#DIV/0!", ".", "a number", FORMULA),
    ("#NV", ",", "a number with decimal comma", FORMULA),
    ("1e999", ".", "a number that can be measured", "this one is too large to be read"),
    ("1,5", ".", "a number", "the decimal sign of this table is '.': write 1.5"),
    ("1.5", ",", "a number with decimal comma", "the decimal sign of this table is ',': write 1,5"),
    ("1,234.5", ".", "a number", GROUPS),
    ("1.234,5", ",", "a number with decimal comma", GROUPS),
    ("1,234,567", ".", "a number", GROUPS),
    ("1 234.5", ".", "a number", GROUPS),
    ("1\N{NO-BREAK SPACE}234,5", ",", "a number with decimal comma", GROUPS),
    ("1\N{NARROW NO-BREAK SPACE}234", ".", "a number", GROUPS),
    ("1'234.5", ".", "a number", GROUPS),
    ("1.25 g", ".", "a number", f"write 1.25 {UNIT}"),
    ("35%", ".", "a number", f"write 35 {UNIT}"),
    ("5 m2", ".", "a number", f"write 5 {UNIT}"),
    ("1.44z7", ".", "a number", ""),
    ("2,9mm", ",", "a number with decimal comma", f"write 2,9 {UNIT}"),
    ("1.5O84", ".", "a number", "letter O? read it again, and type it in digits"),
    ("l.5084", ".", "a number", "letter l? read it again, and type it in digits"),
    ("1,5o84", ",", "a number with decimal comma", "letter o? read it again, and type it in digits"),
    ("1.5 l", ".", "a number", f"write 1.5 {UNIT}"),
    ("about 3", ".", "a number", ""),
    ("1.2.3", ".", "a number", ""),
    ("0x10", ".", "a number", ""),
    ("1.5e", ".", "a number", ""),
    ("1_000", ".", "a number", ""),
    ("٣", ".", "a number", ""),
    ("<0.1", ".", "a number", ""),
]


@pytest.mark.parametrize(("text", "decimal", "number"), READ)
def test_number_is_read(text: str, decimal: str, number: float) -> None:
    assert parse_number(text, decimal) == number


@pytest.mark.parametrize(("text", "decimal", "expected", "hint"), REFUSED)
def test_other_text_is_refused_with_what_to_write(text: str, decimal: str, expected: str, hint: str) -> None:
    with pytest.raises(Unreadable) as caught:
        parse_number(text, decimal)
    assert (caught.value.found, caught.value.expected, caught.value.hint) == (f"'{text}'", expected, hint)


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
