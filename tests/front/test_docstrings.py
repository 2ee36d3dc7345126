"""What `help()` shows of each public name, and that its examples run."""

import doctest
import inspect
import re

import pytest

import laminate as lam

FUNCTIONS = [name for name in lam.__all__ if inspect.isfunction(getattr(lam, name))]
CLASSES = [name for name in lam.__all__ if inspect.isclass(getattr(lam, name))]
COMPUTES = {name for name in FUNCTIONS if name not in ("materials", "read_batch", "read_part")}
METHODS = [
    (kind, name)
    for kind in ("Answer", "Problem", "Value")
    for name, member in vars(getattr(lam, kind)).items()
    if not name.startswith("_")
    and not isinstance(member, property)
    and callable(getattr(getattr(lam, kind), name))
]


def sections(subject):
    """Section -> its text, of a docstring as numpydoc writes it."""
    parts = re.split(r"^(\w+)\n-+\n", inspect.getdoc(subject), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def examples(subject):
    return doctest.DocTestParser().get_examples(inspect.getdoc(subject))


def described(text):
    """The names before each colon of a section."""
    heads = re.findall(r"^(\S.*?) : ", text, flags=re.MULTILINE)
    return {name for head in heads for name in head.split(", ")}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_all_that_a_caller_needs(name):
    function = getattr(lam, name)
    found = sections(function)
    assert found.keys() >= {"Parameters", "Returns", "Examples"} | ({"Notes"} if name in COMPUTES else set())
    assert described(found["Parameters"]) == set(inspect.signature(function).parameters)
    assert "Raises" in found or name == "materials"
    assert examples(function)


@pytest.mark.parametrize("name", CLASSES)
def test_a_class_shows_an_example(name):
    assert examples(getattr(lam, name))


@pytest.mark.parametrize(("kind", "name"), METHODS, ids=".".join)
def test_a_method_says_what_comes_back(kind, name):
    method = getattr(getattr(lam, kind), name)
    found = sections(method)
    assert "Returns" in found
    assert described(found.get("Parameters", "")) == set(inspect.signature(method).parameters) - {"self"}


@pytest.mark.parametrize("name", [*FUNCTIONS, *CLASSES])
def test_an_example_runs_as_it_stands(name):
    """Pasted into a fresh session, with nothing imported before."""
    test = doctest.DocTestParser().get_doctest(inspect.getdoc(getattr(lam, name)), {}, name, name, 0)
    printed = []
    result = doctest.DocTestRunner().run(test, out=printed.append)
    assert result.failed == 0, "".join(printed)
    assert result.attempted >= 2


def test_the_examples_run_with_the_tests(pytestconfig):
    assert pytestconfig.getoption("doctestmodules")
    assert "laminate" in pytestconfig.getini("testpaths")
