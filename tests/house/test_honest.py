"""Tests can fail: each holds something, nothing is held to itself, and nothing is left out without a name."""

import ast
import re
from collections.abc import Iterator

import pytest

FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)
HOLDING = re.compile(r"raises|fail|assert_|refus|validate|hold|check|expect")
#: devices and pipes of a POSIX system
SKIPS = {"tests/cli/test_outputs.py"}


def holds(node: ast.AST, helpers: dict[str, ast.AST], depth: int = 3) -> bool:
    """Whether a function asserts, waits for an error, or calls what does."""
    for child in ast.walk(node):
        if isinstance(child, ast.Assert):
            return True
        if isinstance(child, ast.Call):
            if HOLDING.search(ast.unparse(child.func)):
                return True
            helper = helpers.get(child.func.id) if isinstance(child.func, ast.Name) else None
            if helper is not None and helper is not node and depth and holds(helper, helpers, depth - 1):
                return True
    return False


def faults(source: str) -> Iterator[tuple[int, str]]:
    """Line and words of each test that cannot fail."""
    tree = ast.parse(source)
    helpers = {node.name: node for node in ast.walk(tree) if isinstance(node, FUNCTIONS)}
    for name, node in helpers.items():
        if name.startswith("test_") and not holds(node, helpers):
            yield node.lineno, "holds nothing"
    for node in ast.walk(tree):
        if isinstance(node, ast.Assert):
            if isinstance(node.test, ast.Constant | ast.Tuple):
                yield node.lineno, "a constant"
            if isinstance(node.test, ast.Compare) and not any(
                isinstance(child, ast.Call) for child in ast.walk(node.test)
            ):
                sides = [ast.dump(side) for side in (node.test.left, *node.test.comparators)]
                if len(set(sides)) < len(sides):
                    yield node.lineno, "held to itself"


@pytest.mark.parametrize(
    "source",
    ["def test_a():\n    f()", "assert a.b == a.b", "assert (a, 'b')", "def test_a():\n    assert True"],
)
def test_a_test_that_cannot_fail_is_seen(source):
    assert len(list(faults(source))) == 1


def test_every_test_can_fail(checkout):
    found = [
        f"{path.relative_to(checkout)}, line {line}: {words}"
        for path in sorted((checkout / "tests").rglob("*.py"))
        for line, words in faults(path.read_text("utf-8"))
    ]
    assert found == []


def test_nothing_is_left_out_without_a_name(checkout):
    """A marker leaves out: those are named at the end of a run."""
    skip = re.compile(r"pytest\.(skip|importorskip|xfail)\(|mark\.(skip|xfail)|unittest\.skip")
    files = {str(path.relative_to(checkout)): path for path in (checkout / "tests").rglob("*.py")}
    leaving = {name for name, path in files.items() if skip.search(path.read_text("utf-8"))}
    assert leaving == SKIPS
