"""How JSON leaves the command line: one value, a line a member of a list, never a number that is none."""

import json
import math

import numpy as np
import pytest

from laminate.cli.answers import print_json

ANSWER = {
    "specimens": [{"specimen": str(i), "value": i / 7, "u": None} for i in range(2003)],
    "average": {"n": 3, "zones": {}},
    "notes": ['a ± of two "words"', "é\n"],
    "small": [1e-6, 1e22, 0.1, np.float64(2.5)],
    "none": [],
}


def test_a_pipe_gets_the_same_value_with_one_specimen_a_line(capsys):
    print_json(ANSWER)
    text = capsys.readouterr().out
    assert json.loads(text) == {"format": 1, **ANSWER}
    assert list(json.loads(text)) == ["format", *ANSWER]
    lines = text.splitlines()
    assert [json.loads(line.rstrip(",")) for line in lines[2:2005]] == ANSWER["specimens"]


def test_a_terminal_gets_it_indented(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    print_json(ANSWER)
    text = capsys.readouterr().out
    assert json.loads(text) == {"format": 1, **ANSWER}
    assert text.startswith('{\n  "format": 1,\n  "specimens": [\n    {\n      "specimen": "0",\n')


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_number_that_is_not_finite_is_refused_before_anything_is_written(capsys, number):
    with pytest.raises(ValueError, match=str(float(number))):
        print_json({**ANSWER, "deep": {"list": [{"value": number}]}})
    assert capsys.readouterr().out == ""
