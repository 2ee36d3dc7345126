"""No circles, no huge classes and functions, one class a name, and a drawing that is up to date."""

import ast
from collections import defaultdict

import pytest

from laminate.cli.commands import listed

from .conftest import Module
from .drawing import ORDER, drawing, in_page

MOST_FIELDS, MOST_LINES, MOST_PARAMETERS = 14, 60, 12
#: tables of a file, as people write them, and rows of a reference table
FILE_TABLES = {"Lot", "Batch", "Core", "Zone", "Part", "Material"}
#: answers: what one question of the command line says, as one object
ANSWERS = {
    "Measurement",
    "ZoneCycle",
    "ZoneFill",
    "CoreAnswer",
    "CoreInZone",
    "RubberCorrection",
}
#: the functions of commands, whose parameters are their options
COMMANDS = {f"laminate.cli.{module}.{name}" for name, (module, _) in listed().items()}


def graph(modules: list[Module]) -> dict[str, set[str]]:
    """Module -> the modules that it imports, run time and types."""
    names = {module.name for module in modules}

    def module_of(name: str) -> str:
        while name and name not in names:
            name = name.rpartition(".")[0]
        return name

    return {m.name: {module_of(name) for name in m.imports()} - {"", m.name} for m in modules}


def circles(arrows: dict[str, set[str]]) -> list[set[str]]:
    """Groups of modules each of which reaches the others."""
    reached: dict[str, set[str]] = {}
    for name in arrows:
        seen, todo = set(), [name]
        while todo:
            for other in arrows[todo.pop()] - seen:
                seen.add(other)
                todo.append(other)
        reached[name] = seen
    found: list[set[str]] = []
    for name, seen in reached.items():
        ring = {other for other in seen if name in reached[other]}
        if ring and ring not in found:
            found.append(ring)
    return found


def test_modules_know_each_other_one_way(modules):
    assert [sorted(ring) for ring in circles(graph(modules))] == []


def test_a_circle_is_seen():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set()}) == [{"a", "b", "c"}]


def test_nothing_imports_from_the_front_door(modules):
    """The base Answer loads what it shows by name; `examples` are of people who use the library."""
    import laminate

    public = {"laminate", *(f"laminate.{name}" for name in laminate.__all__)}
    taking = [
        (module.name, name)
        for module in modules
        if not module.name.startswith("laminate.examples")
        for name in module.imports() & public
    ]
    assert taking == []


def test_a_room_has_one_class_of_a_name(modules):
    where = defaultdict(list)
    for module in modules:
        for node in ast.walk(module.tree):
            if isinstance(node, ast.ClassDef):
                where[module.package, node.name].append(module.name)
    assert len(where) > 100
    assert {name: homes for (_, name), homes in where.items() if len(homes) > 1} == {}
    # a part in SI units, handed out beside values in the units of the files, has a class of another name
    assert [room for room, name in where if name == "Value"] == ["laminate.front"]


def _definitions(modules, kinds):
    for module in modules:
        for node in ast.walk(module.tree):
            if isinstance(node, kinds):
                yield module.name, node


def test_a_class_has_few_fields(modules):
    large = {
        node.name
        for _, node in _definitions(modules, ast.ClassDef)
        if sum(
            isinstance(line, ast.AnnAssign) and "ClassVar" not in ast.unparse(line.annotation)
            for line in node.body
        )
        > MOST_FIELDS
    }
    assert large - FILE_TABLES - ANSWERS == set()
    assert (FILE_TABLES | ANSWERS) - large == set(), "mended: take it off the list"


FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def _body_lines(node):
    """Lines from the first statement after the docstring to the last."""
    body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
    return (node.end_lineno or node.lineno) - body[0].lineno + 1


def test_a_function_fits_on_a_screen(modules):
    """All of it but its docstring; of a command, whose options stand in its signature, its body."""
    long = set()
    for name, node in _definitions(modules, FUNCTIONS):
        signature = node.body[0].lineno - node.lineno
        full = f"{name}.{node.name}"
        if _body_lines(node) + (0 if full in COMMANDS else signature) > MOST_LINES:
            long.add(full)
    assert long == set()


def test_a_function_takes_few_parameters(modules):
    """A formula has one for each symbol, a command one for each option."""
    many = [
        f"{name}.{node.name}"
        for name, node in _definitions(modules, FUNCTIONS)
        if not name.startswith("laminate.formulas.")
        and f"{name}.{node.name}" not in COMMANDS
        and len(node.args.args) + len(node.args.kwonlyargs) + len(node.args.posonlyargs) > MOST_PARAMETERS
    ]
    assert many == []


def test_the_drawing_is_up_to_date(checkout, modules):
    page = in_page((checkout / "DEVELOPERS.md").read_text("utf-8"))
    if page != drawing(modules, ORDER):
        pytest.fail("the drawing in DEVELOPERS.md: run `python -m tests.house.drawing --write`")
