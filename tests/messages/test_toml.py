"""Slips of the hand that make a file no TOML, and days that no month has, in words with their place."""

import pytest

from laminate.files.toml_faults import explained, unclosed_quote
from laminate.values.problems import nearest

SLIPS = {
    "a quote left open": ('side = "width"', 'side = "width', "line 85, column 8"),
    "a single quote left open": ('side = "width"', "side = 'width", "line 85, column 8"),
    "three quotes left open": ('name = "hydrofoil', 'name = """hydrofoil', "line 7, column 8"),
    "a key twice": ("walls = 2", "walls = 2\nwalls = 1", "line 87, column 10"),
    "a word without quotes": ("walls = 2", "walls = two", "line 86, column 9"),
    "a quantity without quotes": ('gap = "2.95 mm', "gap = 2.95 mm", "line 75, column 12"),
    "a table name left open": ("[core.fore]", "[core.fore", "line 58, column 11"),
}


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_named_with_its_place(name, shop):
    old, new, place = SLIPS[name]
    shop.change("part.toml", old, new)
    (problem,) = shop.refused(f"TOML: {name}", "fill", "part.toml")
    assert problem["place"] == place


@pytest.mark.parametrize(
    ("written", "place"), [("2026-02-30", "line 9, column 10"), ('"2026-02-30"', "batch.molded")]
)
def test_a_day_that_no_month_has(written, place, shop):
    shop.change("batch.toml", "molded = 2026-11-18", f"molded = {written}")
    (problem,) = shop.refused(f"TOML: the day {written}", "predict", "batch.toml")
    assert problem["place"] == place


def test_a_quote_in_a_comment_or_behind_a_backslash_closes_nothing():
    assert unclosed_quote('# it is "so\na = "b \\" c"\nd = \'e\\\'') is None
    assert unclosed_quote('a = """one " two""" # "\nb = "') == 28


def test_a_fault_without_words_of_its_own_keeps_those_of_the_reader():
    assert explained("a = 1", "Something else (at line 1, column 2)") == (
        "line 1, column 2", "something else", "TOML: key = value, text in quotes"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("--bled", "--bleed-limit"), ("--weight", "--fiber-areal-weight"), ("--clamp", "--clamp-force"),
        ("--bulkmodulus", "--bulk-modulus"), ("--fibre-density", "--fiber-density"), ("--xyz", None),
    ],
)  # fmt: skip
def test_an_option_is_found_by_one_of_its_words(typed, meant):
    known = (
        "--bleed-limit", "--seed", "--fiber-areal-weight", "--fiber-density", "--clamp-force",
        "--bulk-modulus", "--units", "--gap",
    )  # fmt: skip
    assert nearest(typed, known) == meant


def test_a_room_that_no_table_has_names_the_one_that_is_meant(shop):
    text = shop.read("part.toml")
    head, _, rest = text.partition("[zone.skin]")
    shop.write("part.toml", head + "[zone.skin]" + rest.replace('room = "skin"', 'room = "skn"', 1))
    problems = shop.refused("part file: a room of no table", "fill", "part.toml")
    assert "zone.skin.room" in {problem["place"] for problem in problems}
