"""A problem is data that speaks one sentence."""

import pytest

from laminate.values.problems import Problem, Refused, did_you_mean, nearest
from tests.messages.wording import reads

PLACE = Problem("wrong-unit", "part.toml", "zone.web.gap", "'3 g', a mass", "a length", "write mm")


@pytest.mark.parametrize(
    ("problem", "sentence"),
    [
        (PLACE, "values: the sentence names what there is"),
        (
            Problem("missing", "", "--resin-content", "nothing", "a percentage"),
            "values: the sentence names what there is, 2",
        ),
        (
            Problem("not-found", "part.toml", "", "the file does not exist", ""),
            "values: the sentence names what there is, 3",
        ),
        (Problem("no-count", "", "", "no ply count fits", ""), "values: the sentence names what there is, 4"),
    ],
)
def test_the_sentence_names_what_there_is(problem, sentence):
    assert reads(sentence, problem.sentence())


def test_json_has_every_key():
    assert PLACE.as_json() == {
        "code": "wrong-unit",
        "file": "part.toml",
        "place": "zone.web.gap",
        "found": "'3 g', a mass",
        "expected": "a length",
        "hint": "write mm",
    }


def test_all_problems_are_raised_at_once():
    other = Problem("missing", "part.toml", "tool", "nothing", "a table")
    refused = Refused(problem for problem in (PLACE, other))
    assert refused.problems == (PLACE, other)
    assert str(refused) == f"{PLACE.sentence()}\n{other.sentence()}"
    assert Refused(PLACE).problems == (PLACE,)


@pytest.mark.parametrize(
    ("word", "known", "meant"),
    [
        ("Fibre Areal Weight", ["fiber_areal_weight", "resin_content"], "fiber_areal_weight"),
        ("resin-content", ["resin_content", "resin_basis"], "resin_content"),
        ("GAP", ["gap", "stack"], "gap"),
        ("clamp", ["zone", "tool"], None),
        ("", ["zone"], None),
        ("zone", [], None),
    ],
)
def test_the_nearest_word(word, known, meant):
    assert nearest(word, known) == meant


def test_a_hint_lists_the_words_where_none_is_near():
    assert reads("values: a hint lists the words where none", did_you_mean("gpa", ["gap", "stack"]))
    assert did_you_mean("pressure", ["zone", "gap"]) == "known: gap, zone"
    assert did_you_mean("pressure", []) == ""
    assert did_you_mean("!", [f"word {i}" for i in range(25)]) == ""
