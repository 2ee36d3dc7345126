"""One misspelled key gives one finding, whatever it brings about."""

import re
import tomllib

import pytest

from laminate.files.part import part_of
from laminate.values.problems import Refused

KEY = re.compile(r"(\w{3,})( = )")


def misspelled(line):
    """A line whose key lacks its last letter but one."""
    return KEY.sub(lambda key: f"{key[1][:-2]}{key[1][-1]}{key[2]}", line, count=1)


@pytest.mark.parametrize("case", ["mast", "glass", "panel", "box", "bladder", "oil", "paddle", "cycle"])
def test_each_key_of_an_example_misspelled_is_told_once(case, checkout):
    lines = (checkout / "examples" / case / "part.toml").read_text("utf-8").splitlines()
    at = [number for number, line in enumerate(lines) if KEY.match(line)]
    assert len(at) > 20
    several = {}
    for number in at:
        text = "\n".join([*lines[:number], misspelled(lines[number]), *lines[number + 1 :]])
        with pytest.raises(Refused) as refused:
            part_of(tomllib.loads(text), "part.toml")
        if len(problems := refused.value.problems) > 1 or problems[0].code != "unknown-key":
            several[lines[number]] = [problem.sentence() for problem in problems]
    assert several == {}
