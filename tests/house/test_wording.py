"""Sentences of the program stand in the catalog of wording; tests hold codes, places, numbers and names."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from laminate.files.coupons import COLUMNS
from laminate.values.quantities import ATTRIBUTES

SENTENCE = re.compile(r"(?:^|(?<=[\s(]))[A-Za-z][a-z']*(?:,? [a-zA-Z][a-z']*){2,}")
ASKED = {"says", "begins", "reads", "worded"}
#: answers and names as JSON and records hold them: these are compared, not worded anew
NAMES = (
    "does not conform",
    "pressed in time",
    "opens the tool",
    "state the bleed",
    "depends on the bleed",
    "scatter between coupons",
    "calibration of ",
    "digestion and immersion",
    "loss of matrix",
    "pressed by rubber",
    "proven by signatures",
    "does not verify",
    "all of them",
    "core fore, mean",
    "highest pressure, locked",
    "projected area of core ",
    "ply resin content",
    "did you mean '",
    "row y, column",
)
#: what other programs say, what a test writes itself in several pieces, and names of what is timed
FOREIGN = (
    "division by zero",
    "Not a directory",
    "no such file or directory",
    "no space left on device",
    "document.querySelectorAll(",
    "fill of the example / its imports",
    "ann on elsewhere",
    "cut in two",
    "on a ridge",
    "the hot side",
    "a gap of 2.951 mm",
)


def is_worded(text: str) -> bool:
    """Whether three or more words stand together that are no heading, quantity or answer."""
    for name in sorted({*COLUMNS, *(a.words for a in ATTRIBUTES.values()), *NAMES}, key=len, reverse=True):
        text = text.replace(name, "#")
    return bool(SENTENCE.search(text)) and not any(words in text for words in FOREIGN)


def _compared(tree: ast.Module) -> Iterator[ast.AST]:
    """What is asserted, and the pattern of `match=`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Assert):
            yield node.test
        elif isinstance(node, ast.keyword) and node.arg == "match":
            yield node.value


def _texts(node: ast.AST) -> Iterator[ast.Constant]:
    """Texts below a node, but for cases of the catalog."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node
    for child in ast.iter_child_nodes(node):
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ASKED and child is node.args[0]:
            continue
        yield from _texts(child)


def sentences(source: str) -> list[tuple[int, str]]:
    """Line and text of each sentence that is compared, but for what the module itself writes elsewhere."""
    tree = ast.parse(source)
    compared = [text for node in _compared(tree) for text in _texts(node)]
    decorators = [node.decorator_list for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    hidden = {id(text) for nodes in decorators for node in nodes for text in _texts(node)}
    hidden |= {id(text) for text in compared}
    written = "\n".join(text.value for text in _texts(tree) if id(text) not in hidden)
    return sorted(
        {
            (text.lineno, text.value)
            for text in compared
            if is_worded(text.value) and text.value not in written
        }
    )


def test_a_sentence_that_is_compared_is_seen():
    assert sentences("assert 'the tool hangs open' in out") == [(1, "the tool hangs " + "open")]
    assert sentences("say('the tool hangs open')\nassert 'the tool hangs open' in out") == []
    assert sentences("assert says('the tool hangs open', out) and 'sinker mass in liquid' in out") == []


def test_sentences_stand_in_the_catalog(checkout):
    found = [
        f"{path.relative_to(checkout)}, line {line}: {text}"
        for path in sorted((checkout / "tests").rglob("*.py"))
        if path.parent != checkout / "tests" / "messages" and path != Path(__file__)
        for line, text in sentences(path.read_text("utf-8"))
    ]
    if found:
        pytest.fail("ask the catalog with `says`, `begins`, `reads` or `worded` for\n" + "\n".join(found))
