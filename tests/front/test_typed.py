"""What a type checker sees of the public functions: their options by name, and what they answer with."""

import subprocess
import sys
from pathlib import Path
from typing import TypeVar, get_type_hints

import pytest

from laminate.front.options import Question

CALLS = """import laminate as lam
lam.fill("part.toml", zone=["web"])
lam.fill("part.toml", zones=None, plies={"web": 20}).wrong()
lam.core("part.toml", draws="2000")
lam.trend("records", allowed_signers="signers").to_frame().shape
frame: str = lam.predict("part.toml").to_frame()
version: str = lam.__version__
"""


def test_a_question_keeps_the_type_of_its_function():
    hints = get_type_hints(Question.takes)
    assert hints["function"] is hints["return"]
    assert isinstance(hints["return"], TypeVar)


@pytest.mark.slow
def test_a_checker_finds_a_mistyped_option(tmp_path):
    root, calls = Path(__file__).parents[2], tmp_path / "calls.py"
    calls.write_text(CALLS, "utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--no-error-summary", "--hide-error-context", calls]
    seen = subprocess.run(command, capture_output=True, text=True, cwd=root, check=False).stdout.splitlines()
    errors = [line.removeprefix(str(calls)) for line in seen if ": error: " in line]
    assert [(int(e.split(":")[1]), e.rpartition("[")[2]) for e in errors] == [
        (2, "call-arg]"), (4, "arg-type]"), (6, "assignment]"),
    ]  # fmt: skip
