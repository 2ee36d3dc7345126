"""Each code says one thing, and the page of codes is up to date."""

import subprocess
import sys
from collections import defaultdict

import pytest

from tests.house.codes import raised
from tests.house.conftest import _modules

CALL = [sys.executable, "-m", "tests.house.codes"]

TEMPLATES = {
    "blank-unlikely": 3,  # its method, its mass, its loss: each is compared with other things
    "broken-quotes": 2,  # or words of the reader of CSV
    "file-access": 2,  # words of the operating system
    "missing-reading": 2,  # at the bench a coupon that is not finished "waits for" its readings
    "given-twice": 2,  # what stands where, or an option by its count
    "mixed-decimals": 3,  # by cell of a table, by row of a log, or commas between the cells too
    "not-a-number": 2,  # a table of a million rows knows the row alone, not the cell
    "not-written": 2,  # words of the operating system
    "output-lost": 2,  # words of the operating system
    "unlike-fellows": 2,  # a grid, and the points counted on it
    "wrong-call": 2,  # words of the parser of arguments
    "wrong-columns": 3,  # columns unlike each other, one that is missing, a ± that its columns do not make
    "wrong-order": 3,  # two values, or a curve as a whole
}
"""Codes with more than one template of what is found, and why."""


def test_each_code_has_one_template_of_what_is_found(checkout):
    templates = defaultdict(set)
    for code, found, _, _ in raised(_modules(checkout)):
        templates[code].add(found)
    assert len(templates) > 150
    several = {code: len(found) for code, found in templates.items() if len(found) > 1}
    assert several == TEMPLATES


def test_the_page_of_codes_is_up_to_date(checkout):
    made = subprocess.run(CALL, cwd=checkout, capture_output=True, check=True).stdout.decode("utf-8")
    if (checkout / "tests/messages/codes.md").read_text("utf-8") != made:
        pytest.fail("codes.md: run `python -m tests.house.codes --write`")
