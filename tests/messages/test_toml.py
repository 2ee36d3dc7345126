"""Slips of the hand that make a file no TOML, and days that no month has, in words with their place."""

import pytest

from laminate.files.toml_faults import explained, unclosed_quote
from laminate.values.problems import nearest

SLIPS = {
    "a quote left open": ('side = "width"', 'side = "width'),
    "a single quote left open": ('side = "width"', "side = 'width"),
    "three quotes left open": ('name = "hydrofoil', 'name = """hydrofoil'),
    "a key twice": ("walls = 2", "walls = 2\nwalls = 1"),
    "a word without quotes": ("walls = 2", "walls = two"),
    "a quantity without quotes": ('gap = "2.95 mm', "gap = 2.95 mm"),
    "a table name left open": ("[core.fore]", "[core.fore"),
}


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_named_with_its_place(name, shop):
    shop.change("part.toml", *SLIPS[name])
    shop.refused(f"TOML: {name}", "fill", "part.toml")


@pytest.mark.parametrize("written", ["2026-02-30", '"2026-02-30"'])
def test_a_day_that_no_month_has(written, shop):
    shop.change("batch.toml", "molded = 2026-11-18", f"molded = {written}")
    shop.refused(f"TOML: the day {written}", "predict", "batch.toml")


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
