"""The page of codes is up to date."""

import subprocess
import sys

import pytest

CALL = [sys.executable, "-m", "tests.house.codes"]


def test_the_page_of_codes_is_up_to_date(checkout):
    made = subprocess.run(CALL, cwd=checkout, capture_output=True, check=True).stdout.decode("utf-8")
    if (checkout / "tests/messages/codes.md").read_text("utf-8") != made:
        pytest.fail("codes.md: run `python -m tests.house.codes --write`")
