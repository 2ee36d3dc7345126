"""One table of options: commands take theirs from it, and the library takes what its command takes."""

import ast
import inspect
from importlib import import_module

import pytest

import laminate
from laminate.cli import commands
from laminate.front import options
from laminate.front.described import KEYS

TABLES = {
    "predict": options.PREDICT.options,
    "fill": options.FILL.options,
    "core": options.CORE.options,
    "cycle": options.CYCLE.options,
    "measure": options.MEASURE.options,
    "trend": options.TREND.options,
}
#: where an answer goes, and how it is shown
SHOWN = {"as_json", "html", "out", "table", "units", "why"}
#: parameters of a command -> of the library: a name there may be several, and `source` is what is asked about
CALLED = dict.fromkeys(["file", "files"], "source")
VERBS = sorted(set(commands.listed()) & set(laminate.__all__) - {"materials"})


def parameters(name):
    """What a command takes, by the names of the library."""
    function = getattr(import_module(f"laminate.cli.{commands.listed()[name][0]}"), name)
    taken = set(inspect.signature(function).parameters) - SHOWN
    library = inspect.signature(getattr(laminate, name)).parameters
    return {CALLED.get(p, p) if p not in library else p for p in taken}, set(library)


@pytest.mark.parametrize("verb", VERBS)
def test_the_library_takes_what_its_command_takes(verb):
    command, library = parameters(verb)
    assert command == library
    assert set(TABLES.get(verb, ())) <= command


@pytest.mark.parametrize("verb", ["predict", "fill", "core"])
def test_what_stands_for_a_key_of_a_part_comes_from_the_table(verb):
    """No module of the command line says such an option again: its parameter is `given`."""
    module = import_module(f"laminate.cli.{commands.listed()[verb][0]}")
    tree = ast.parse(inspect.getsource(module))
    written = next(n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n.name == verb)
    names = {argument.arg for argument in (*written.args.args, *written.args.kwonlyargs)}
    assert "given" in names
    assert set(TABLES[verb]) <= parameters(verb)[0]
    assert names & set(TABLES[verb]) <= {"bleed"}  # of `predict`: a share that leaves, no key of a part


@pytest.mark.parametrize("name", sorted(name for name, key in KEYS.items() if key.path))
def test_an_option_stands_for_a_key_that_a_part_has(name):
    from laminate.files.part import Part

    path = KEYS[name].path
    schema = Part.model_json_schema()
    at = schema
    for key in path:
        while "$ref" in at or "anyOf" in at or "allOf" in at:
            choices = at.get("anyOf") or at.get("allOf") or [at]
            at = next((one for one in choices if "$ref" in one), choices[0])
            at = schema["$defs"][at["$ref"].rpartition("/")[2]] if "$ref" in at else at
        known = at.get("properties", {})
        assert key in known or isinstance(at.get("additionalProperties"), dict), path
        at = known.get(key) or at["additionalProperties"]
