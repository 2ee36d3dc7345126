"""What people call their tables changes no number of any answer."""

import contextlib
import datetime as dt
import io
import json
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from laminate.cli import app
from laminate.press.names import scatter_name

EXAMPLES = Path(__file__).parents[2] / "examples"
OLD = {
    "fiber": ("carbon",),
    "resin": ("epoxy",),
    "prepreg": ("ud150",),
    "layer": ("film",),
    "zone": ("web", "skin", "wall"),
    "core": ("fore",),
    "room": ("skin", "tube"),
    "lot": ("L2231", "L2240"),
    "cycle": ("hold", "hot"),
    "instrument": ("thermocouples",),
}
"""Table -> the names that the examples give in it; `zone` alone has two in one file, and `cycle`."""
KEYED = dict.fromkeys(OLD, "") | {"plan": "zone", "plies": "zone", "thickness": "zone", "core_used": "core"}
"""Tables whose keys are names -> of which table, where that has another name."""
REFERS = dict.fromkeys(("fiber", "resin", "prepreg", "room", "instrument"), "") | {
    "fill_with": "prepreg",
    "represented_by": "zone",
    "zones": "zone",
    "number": "lot",
}
"""Keys whose values are names -> of which table, where that has another name."""
WORDS = ["air", "main", "web", "skin", "fore", "core fore", "room skin", "gap", "mass in air", "void content"]
WORDS += [
    "scatter between coupons",
    "tool",
    "é",
    "a b",
    "density",
    "bleed",
    "readings of the coupon",
    "x of y",
]
GAUGES = [word for word in WORDS if word not in ("density", "mass in air")]
"""Names that an instrument may have: that of a column says what it reads."""
NAMES = st.fixed_dictionaries({one: st.sampled_from(GAUGES if one == "instrument" else WORDS) for one in OLD})
CALLS = (
    ("mast", "predict", "part.toml"),
    ("mast", "fill", "part.toml", "--draws", "1000"),
    ("mast", "core", "part.toml", "--draws", "1000"),
    ("mast", "measure", "batch.toml"),
    ("mast", "report", "batch.toml", "--out", "records/1"),
    ("mast", "correct", "batch.toml"),
    ("mast", "trend", "records", "--every"),
    ("cycle", "cycle", "batch.toml"),
    ("cycle", "cycle", "part.toml"),
)
BARE = set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def toml(table):
    """A table of a file as text."""

    def value(found):
        if isinstance(found, dict):
            return "{ " + ", ".join(f"{key(k)} = {value(v)}" for k, v in found.items()) + " }"
        if isinstance(found, list):
            return f"[{', '.join(map(value, found))}]"
        return found.isoformat() if isinstance(found, dt.date) else json.dumps(found, ensure_ascii=False)

    def key(word):
        return word if set(word) <= BARE else json.dumps(word, ensure_ascii=False)

    return "".join(f"{key(name)} = {value(found)}\n" for name, found in table.items())


def renamed(found, names, inside=""):
    """What stands in a file below a key, with other names: table and old name -> new name."""
    if isinstance(found, dict):
        table = KEYED.get(inside, inside) or inside
        return {names.get((table, key), key): renamed(value, names, key) for key, value in found.items()}
    if isinstance(found, list):
        return [renamed(one, names, inside) for one in found]
    if inside == "stack":
        count, _, name = found.partition(" ")
        return f"{count} {names.get(('prepreg', name)) or names['layer', name]}"
    return names.get((REFERS.get(inside) or inside, found), found) if inside in REFERS else found


def numbers(found):
    """Every number of an answer, in its order."""
    if isinstance(found, dict | list):
        below = found.values() if isinstance(found, dict) else found
        return [number for one in below for number in numbers(one)]
    return [found] if isinstance(found, int | float) and not isinstance(found, bool) else []


def answers(folder, names):
    """The numbers of each command's answer with these names."""
    for case in ("mast", "cycle"):
        (folder / case).mkdir(exist_ok=True)
        for file in (EXAMPLES / case).iterdir():
            text = file.read_text("utf-8")
            if file.suffix == ".toml":
                text = toml(renamed(tomllib.loads(text), names))
            if file.name == "coupons.csv":
                text = text.replace(",web,", f",{names['zone', 'web']},")
                text = text.replace(",L2231,", f",{names['lot', 'L2231']},")
            (folder / case / file.name).write_text(text, "utf-8")
    found = []
    for case, *call in CALLS:
        out, err = io.StringIO(), io.StringIO()
        here = folder / case
        with contextlib.chdir(here), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = app.status([*call, "--json"])
        assert status in (0, 1), (call, out.getvalue()[:600], err.getvalue())
        found.append(numbers(json.loads(out.getvalue())))
        assert len(found[-1]) > 10, call
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("names")


@pytest.fixture(scope="module")
def expected(folder):
    return answers(folder, {(table, name): name for table, names in OLD.items() for name in names})


def held(chosen, folder, expected):
    """Hold every answer with the names chosen, one a table, to the answer with the names of the examples."""
    names = {(table, name): chosen[table] for table, old in OLD.items() for name in old}
    names["zone", "skin"] += " b"
    names["cycle", "hot"] += " b"
    for call, found, wanted in zip(CALLS, answers(folder, names), expected, strict=True):
        assert found == pytest.approx(wanted, rel=1e-9, abs=1e-12), call


def test_one_name_in_every_table_changes_no_number(folder, expected):
    held(dict.fromkeys(OLD, "air") | {"layer": "air air"}, folder, expected)


@pytest.mark.slow
@settings(max_examples=10, deadline=None)
@given(chosen=NAMES)
def test_names_change_no_number_of_an_answer(chosen, folder, expected):
    layer = chosen["layer"] + " layer" * (chosen["layer"] == chosen["prepreg"])  # a stack names either
    held(chosen | {"layer": layer}, folder, expected)


def test_a_name_within_a_name_is_another_key():
    assert scatter_name("a b", "c") != scatter_name("a", "b c")
    assert str(scatter_name("web", "ud_150")) == "web ud_150 ply scatter"
