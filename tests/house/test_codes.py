"""The list of codes holds every code that the tests provoke, each with words."""

import csv

from .codes import raised

CATALOG = "tests/messages/wording.csv"
CHOSEN = {"repeats-disagree", "unit-slip", "unlike-itself", "weighed-twice"}
"""Codes of warnings that no call writes out."""


def test_every_code_that_a_test_provokes_is_on_the_page(checkout, modules):
    with (checkout / CATALOG).open(encoding="utf-8", newline="") as lines:
        provoked = {row["code"] for row in csv.DictReader(lines)} - {""}
    assert len(provoked) > 30
    assert provoked - {code for code, *_ in raised(modules)} == CHOSEN


WORDED_ELSEWHERE = {
    *("unreadable-cell", "missing-unit", "wrong-unit"),  # by the reader of values and units
    "not-toml",  # by a table of a reader's messages
    *("missing-value", "wrong-file"),  # by the calls of one function each
    "refused",  # by whoever refuses with a text
}


def test_every_code_says_something_of_its_own(modules):
    """All but those whose words come with the call."""
    said = {}
    for code, found, expected, _ in raised(modules):
        said[code] = said.get(code, False) or bool(set(found + expected) - set("…; "))
    assert {code for code, words in said.items() if not words} == WORDED_ELSEWHERE
