"""A variable is named for what it holds."""

import ast

import pytest

EMPTY = {"found", "here", "one", "own", "said", "told"}
"""Words that say nothing of what a variable holds."""
KNOWN = {("laminate/formulas/joint_conformity.py", "own")}
"""The uncertainty of one reading alone, beside `shared`."""


def empty_names(source: str) -> set[str]:
    """Variables and parameters of functions that have such a name; `found` may stand beside `expected`."""
    names = set()
    functions = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)
    for function in (node for node in ast.walk(ast.parse(source)) if isinstance(node, functions)):
        inside = list(ast.walk(function))
        parameters = {node.arg for node in inside if isinstance(node, ast.arg)}
        stored = {
            node.id for node in inside if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
        }
        names |= (parameters | stored) - ({"found"} if "expected" in parameters else set())
    return names & EMPTY


@pytest.mark.parametrize(
    ("source", "names"),
    [
        ("def f(told):\n    return [own for own in told]", {"told", "own"}),
        ("f = lambda one: one", {"one"}),
        ("def f(code, found, expected):\n    pass", set()),
        ("class A:\n    own: float = 0.0", set()),
    ],
)
def test_an_empty_name_is_seen(source, names):
    assert empty_names(source) == names


def test_variables_are_named_for_what_they_hold(checkout):
    paths = [path for top in ("laminate", "cli") for path in (checkout / top).rglob("*.py")]
    assert paths
    seen = {
        (path.relative_to(checkout).as_posix(), name)
        for path in paths
        for name in empty_names(path.read_text("utf-8"))
    }
    assert seen == KNOWN
