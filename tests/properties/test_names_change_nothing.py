"""What people call their tables changes no number of any answer."""

import contextlib
import datetime as dt
import io
import json
import tomllib
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from laminate.cli import app
from laminate.press.names import scatter_name

EXAMPLE = Path(__file__).parents[2] / "examples" / "mast"
OLD = dict(
    zip(
        ("fiber", "resin", "prepreg", "layer", "web", "skin", "core", "room", "lot"),
        ("carbon", "epoxy", "ud150", "film", "web", "skin", "fore", "skin", "L2231"),
        strict=True,
    )
)
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
NAMES = st.fixed_dictionaries({one: st.sampled_from(WORDS) for one in OLD})
CALLS = (
    ("predict", "part.toml"),
    ("fill", "part.toml", "--draws", "1000"),
    ("core", "part.toml", "--draws", "1000"),
    ("measure", "batch.toml"),
    ("report", "batch.toml"),
    ("correct", "batch.toml"),
)
BARE = set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def toml(table, path=()):
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


def renamed(text, names):
    """The text of a part or batch file with other names in its tables."""
    raw = tomllib.loads(text)
    zones = {OLD["web"]: names["web"], OLD["skin"]: names["skin"]}
    for table in ("fiber", "resin", "prepreg", "layer", "core", "room"):
        if table in raw:
            (found,) = raw[table].values()
            raw[table] = {names[table]: found}
    for table in ("zone", "plan"):
        if table in raw:
            raw[table] = {zones[name]: found for name, found in raw[table].items()}
    for prepreg in raw.get("prepreg", {}).values():
        prepreg |= {"fiber": names["fiber"], "resin": names["resin"]}
    for core in raw.get("core", {}).values():
        core["room"] = names["room"]
    for zone in raw.get("zone", {}).values():
        zone["fill_with"] = names["prepreg"]
        if "room" in zone:
            zone["room"] = names["room"]
        if "stack" in zone:
            zone["stack"] = [f"4 {names['prepreg']}", f"1 {names['layer']}"]
    for plan in raw.get("plan", {}).values():
        if "represented_by" in plan:
            plan["represented_by"] = names["web"]
    limits = raw.get("limits", {})
    if limits:
        limits["thickness"] = {names["web"]: limits["thickness"]["web"]}
        limits["prepreg"] = {names["prepreg"]: limits["prepreg"]["ud150"]}
    if "batch" in raw:
        raw["batch"]["plies"] = {zones[name]: count for name, count in raw["batch"]["plies"].items()}
        (found,) = raw["core_used"].values()
        raw["core_used"] = {names["core"]: found}
        for lot in raw["lot"]:
            lot |= {"prepreg": names["prepreg"], "number": names["lot"]}
    return toml(raw)


def numbers(found):
    """Every number of an answer, in its order; of a list of causes, by size alone."""
    if isinstance(found, dict):
        return [number for one in found.values() for number in numbers(one)]
    if isinstance(found, list):
        return [number for one in found for number in numbers(one)]
    return [found] if isinstance(found, int | float) and not isinstance(found, bool) else []


def answers(folder, names):
    """The numbers of each command's answer with these names."""
    for file in ("part.toml", "batch.toml"):
        (folder / file).write_text(renamed((EXAMPLE / file).read_text("utf-8"), names), "utf-8")
    table = (EXAMPLE / "coupons.csv").read_text("utf-8")
    table = table.replace(",web,", f",{names['web']},").replace(",L2231,", f",{names['lot']},")
    (folder / "coupons.csv").write_text(table, "utf-8")
    found = {}
    for call in CALLS:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = app.status([*call, "--json"])
        assert status in (0, 1), (call, out.getvalue()[:600], err.getvalue())
        found[call[0]] = numbers(json.loads(out.getvalue()))
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("names")


@pytest.fixture(scope="module")
def expected(folder):
    return answers(folder, OLD)


SAME = dict.fromkeys(OLD, "air") | {"skin": "x", "layer": "film"}


@pytest.mark.slow
@settings(max_examples=10, deadline=None)
@given(names=NAMES)
@example(names=SAME)
@example(names=OLD | {"layer": "ud150 film", "prepreg": "ud150", "fiber": "air", "resin": "air"})
def test_names_change_no_number_of_an_answer(names, folder, expected):
    names = dict(names)
    names["skin"] += " b" if names["skin"] == names["web"] else ""
    names["layer"] += " layer" if names["layer"] == names["prepreg"] else ""  # a stack names either
    found = answers(folder, names)
    for command, wanted in expected.items():
        assert len(wanted) > 10, command
        assert found[command] == pytest.approx(wanted, rel=1e-9, abs=1e-12), command


def test_a_name_within_a_name_is_another_key():
    assert scatter_name("a b", "c") != scatter_name("a", "b c")
    assert str(scatter_name("web", "ud_150")) == "web ud_150 ply scatter"
