"""Canonical JSON against RFC 8785 as printed, and in one form alone."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from laminate.values.canonical import canonical, read_canonical, rounded, sha256


def test_the_example_of_rfc_8785() -> None:
    """RFC 8785, sections 3.2.2 and 3.2.4: sample input and its bytes; numbers there have up to 17 digits."""
    sample = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    printed = """
      7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c 22 6e 75 6d
      62 65 72 73 22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31 65 2b 33 30 2c 34 2e 35
      2c 30 2e 30 30 32 2c 31 65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66
      5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d"""
    expected = bytes.fromhex(printed)
    assert json.loads(expected) == json.loads(sample)
    assert read_canonical(expected) == json.loads(sample)
    twelve = expected.replace(b"333333333.3333333", b"333333333.333")
    assert canonical(json.loads(sample)) == twelve


def test_keys_are_sorted_as_rfc_8785_section_3_2_3_says() -> None:
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    sorted_keys = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert list(json.loads(canonical(dict.fromkeys(keys, 0)))) == sorted_keys


@pytest.mark.parametrize(
    ("number", "written"),
    [
        (57.4200000000001, b"57.42"),
        (1 / 3, b"0.333333333333"),
        (2 / 3e9, b"6.66666666667e-10"),
        (0.1 + 0.2, b"0.3"),
        (-0.0, b"0"),
        (1e21, b"1e+21"),
        (123456789012345.0, b"123456789012000"),
        (5e-324, b"5e-324"),
        (2**53 - 1, b"9007199254740991"),
        (2.0**60, b"1152921504610000000"),
        (True, b"true"),
    ],
)
def test_numbers(number: float, written: bytes) -> None:
    assert canonical(number) == written


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_no_number_that_is_not_finite(number: float) -> None:
    with pytest.raises(ValueError, match=r"^results\[1\]\.value: "):
        canonical({"results": [1, {"value": number}]})


@pytest.mark.parametrize("content", [b"bytes", 2**53, -(2**53), {1: 2}, {"a": {3}}, object(), [1j]])
def test_no_content_that_json_does_not_know(content: Any) -> None:
    with pytest.raises(ValueError, match=r"JSON|not text"):
        canonical(content)


json_content = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(1 - 2**53, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(json_content)
def test_one_content_has_one_form(content: Any) -> None:
    written = canonical(content)
    assert canonical(read_canonical(written)) == written
    for other in (json.dumps([content], indent=1).encode(), written + b" ", b" " + written):
        with pytest.raises(ValueError, match="canonical"):
            read_canonical(other)


numbers_near_a_change_of_form = st.builds(
    lambda sign, digits, power: sign * float(f"{digits}e{power}"),
    st.sampled_from([1, -1]),
    st.integers(1, 10**12),
    st.integers(-30, 25),
)


@given(
    numbers_near_a_change_of_form,
    st.sampled_from(["plain", "[1e-6,0.00001]", ",1.5e-5,", '"1.0', "-0", "\x7f\u2028"]),
)
def test_the_quick_way_is_that_of_the_reference(number: float, text: str) -> None:
    content = {"n": number, text: [text, round(number, 9)]}
    slowly = rfc8785.dumps(rounded(content))
    assert canonical(content) == slowly
    assert rfc8785.dumps(read_canonical(slowly)) == slowly
    other = json.dumps(json.loads(slowly), separators=(",", ":"), ensure_ascii=False, sort_keys=True).encode()
    if other != slowly:
        with pytest.raises(ValueError, match="canonical"):
            read_canonical(other)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff",
        b'{"a":1,"a":1}',
        b"NaN",
        b"Infinity",
        b"01",
        b'"\\ud800"',
        b"[" * 99_999,
        b"1.0",
        b"1e400",
        b'{"a":1e-6}',
        b'{"a":[2.5e-5],"b":"1e-6"}',
    ],
)
def test_what_is_not_canonical_is_refused_in_words(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        read_canonical(data)


def test_sha256_of_two_blocks() -> None:
    """FIPS 180-2, appendix B.2, as published by NIST."""
    message = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"
    assert sha256(message) == "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
