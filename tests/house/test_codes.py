"""The list of codes holds every code that the tests provoke, each with words."""

import csv

from .codes import raised

CATALOG = "tests/messages/wording.csv"


def test_every_code_that_a_test_provokes_is_on_the_page(checkout, modules):
    with (checkout / CATALOG).open(encoding="utf-8", newline="") as lines:
        provoked = {row["code"] for row in csv.DictReader(lines)} - {""}
    assert len(provoked) > 30
    assert provoked - {code for code, _, _ in raised(modules)} == set()


def test_every_code_says_something_of_its_own(modules):
    """All but `not-toml`, whose words stand in a table of the reader's messages."""
    said = {}
    for code, sentence, _ in raised(modules):
        said[code] = said.get(code, False) or bool(set(sentence) - set("…; "))
    assert [code for code, words in said.items() if not words] == ["not-toml"]
