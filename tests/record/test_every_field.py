"""Every field of a sealed record, changed or taken out one at a time: each is noticed."""

import copy
import json
from pathlib import Path

import pytest

from laminate.judging.reported import report
from laminate.records.differences import WORDING, differences
from laminate.records.record import recompute, seal
from laminate.values.canonical import canonical

GLASS = Path(__file__).parents[1] / "properties" / "glass" / "batch.toml"
OTHER = {"version": "0.0.9", "formulas_sha256": "0" * 64}
OF_PEOPLE = {"concession", "replaces", "exclusions", "accepted", "corrections", "declared"}


@pytest.fixture(scope="module", params=["example", "glass"])
def sealed(request, checkout):
    """A record, and what is said of its inputs today."""
    data = seal(report(checkout / "examples/mast/batch.toml" if request.param == "example" else GLASS))
    again = recompute(data)
    assert again.findings == ()
    return json.loads(data), again.content


def others(value):
    """What may stand in the place of a value that says less or other."""
    if isinstance(value, bool):
        return [not value, None]
    if isinstance(value, int | float):
        return [1.01 * value + 0.01, -value - 1.0, None, str(value)]
    if isinstance(value, str):
        return ["", value + " or more", None]
    if value is None:
        return [0.0, "x", []]
    if isinstance(value, list):
        return [[], value[:-1], [*value, *value[-1:]], None] if value else [["x"], None]
    return [{}, None]


def edits(value, path=()):
    """Each place in it with another value there; None for one that is taken out."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        here = (*path, key)
        if isinstance(value, dict):
            yield here, one, None
        for other in others(one):
            if other != one or type(other) is not type(one):
                yield here, one, (other,)
        yield from edits(one, here)


def is_wording(path, old, new):
    """Whether a version may word it so: text for text, the reasons of people apart."""
    words = [i for i, key in enumerate(path) if key in WORDING]
    if not words or new is None or not isinstance(old, str) or not isinstance(new[0], str):
        return False
    if any(path[i] != "reason" or not OF_PEOPLE.intersection(path[:i]) for i in words):
        return bool(new[0]) or len(path) > words[0] + 1
    return False


def chain(value, path):
    """The value with nothing beside the way to the last step of a path, which is compared whole."""
    if len(path) == 1:
        return value
    inner = chain(value[path[0]], path[1:])
    return [inner] if isinstance(value, list) else {path[0]: inner}


def test_no_field_of_a_record_can_be_changed_or_taken_out(sealed):
    """Compared as `verify` compares, under the version that sealed it and under another one."""
    content, said = sealed
    judged = {
        key: value for key, value in content.items() if key not in ("format", "program", "settings", "inputs")
    }
    table, visited = copy.deepcopy(judged), 0
    for path, old, new in edits(judged):
        holder = table
        for step in path[:-1]:
            holder = holder[step]
        kept = holder[path[-1]]
        if new is not None:
            holder[path[-1]] = new[0]
        elif isinstance(holder, dict):
            del holder[path[-1]]
        for same in (True, False):
            found = differences(chain(table, path), chain(said, path), wording=same, chances=not same)
            if not is_wording(path, old, new) or same:
                assert found, (path, old, new, same)
        holder[path[-1]] = kept
        visited += 1
    assert differences(table, {key: said[key] for key in judged}) == []
    assert visited > 2000


def test_what_is_only_of_the_record_is_held_to_as_well(sealed):
    """Format, program, settings and inputs taken out, alone and under another version."""
    content, _ = sealed
    for key in ("format", "program", "settings", "inputs"):
        for program in ({}, OTHER):
            less = copy.deepcopy(content)
            less["program"] |= program
            del less[key]
            assert recompute(canonical(less)).findings
    for index in range(len(content["inputs"])):
        for program in ({}, OTHER):
            less = copy.deepcopy(content)
            less["program"] |= program
            del less["inputs"][index]
            assert recompute(canonical(less)).findings


def test_under_another_version_every_top_level_key_is_wanted(sealed):
    content, _ = sealed
    for key in content.keys() - {"format", "program", "settings", "inputs"}:
        less = copy.deepcopy(content)
        less["program"] |= OTHER
        del less[key]
        assert any(words.startswith(key) for words in recompute(canonical(less)).findings)
