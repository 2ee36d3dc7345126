"""Habits that hold for every module: small, silent, explained, and nothing imported that is not declared."""

import ast
import re
import tomllib
from importlib import metadata

import pytest

LONGEST = 450
#: formulas that take any quantity, in whatever unit it has
UNIT_FREE = {"statistics", "control_chart", "conformity", "joint_conformity", "roots"}
SOURCE = re.compile(
    r"ASTM|\bISO\b|\bEN \d|JCGM|CMH-17|\bNIST\b|OIML|handbook|et al|source|principle|definition|arithmetic"
    r"|\b(19|20)\d\d\b",
    re.IGNORECASE,
)


def test_no_module_holds_two_rooms(checkout):
    folders = ["laminate", "cli", "reference", "examples", "tests"]
    files = [path for folder in folders for path in (checkout / folder).rglob("*.py")]
    assert len(files) > 10
    lengths = {str(path.relative_to(checkout)): path.read_text("utf-8").count("\n") for path in files}
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST} == {}


def test_the_library_prints_nothing(modules):
    printing = [
        f"{module.name}, line {node.lineno}"
        for module in modules
        if not module.name.startswith(("laminate.cli", "laminate.examples"))
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func) in {"print", "sys.stdout.write", "sys.stderr.write"}
    ]
    assert not printing, "\n".join(printing)


def test_every_module_says_what_it_is(modules):
    assert [module.name for module in modules if not ast.get_docstring(module.tree)] == []


def _formulas(modules):
    """Every public formula; `number` holds what they share to compute with."""
    for module in modules:
        if module.name.startswith("laminate.formulas.") and module.name != "laminate.formulas.number":
            for node in module.tree.body:
                if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                    yield module, node


def test_formulas_take_keywords_alone(modules):
    positional = [
        f"{module.name}.{node.name}"
        for module, node in _formulas(modules)
        if node.args.args or node.args.posonlyargs or node.args.vararg
    ]
    assert not positional, "\n".join(positional)


def test_every_argument_of_a_formula_is_explained_with_its_unit(modules):
    """A line `name : symbol and words [unit]` for each; a unit where it is a number, [-] for a bare one."""
    unexplained = []
    for module, node in _formulas(modules):
        unit_free = module.name.rpartition(".")[2] in UNIT_FREE
        text = ast.get_docstring(node) or ""
        for argument in node.args.kwonlyargs:
            line = re.search(
                rf"^(?:\w+, )*{argument.arg}(?:, \w+)* : ((?:.|\n)*?)(?=^[\w, ]+ : |^\s*$|\Z)",
                text,
                re.MULTILINE,
            )
            number = "Number" in ast.unparse(argument.annotation or ast.Name("Number"))
            if line is None or (number and not unit_free and not re.search(r"\[[^])]+[])]", line[1])):
                unexplained.append(f"{module.name}.{node.name}: {argument.arg}")
    assert not unexplained, "\n".join(unexplained)


def test_every_formula_names_its_source(modules):
    """In its docstring, or once for all in its module's."""
    silent = [
        f"{module.name}.{node.name}"
        for module, node in _formulas(modules)
        if not SOURCE.search(f"{ast.get_docstring(module.tree)}\n{ast.get_docstring(node)}")
    ]
    assert not silent, "\n".join(silent)


def _declared(checkout, *, extra):
    project = tomllib.loads((checkout / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = project["dependencies"] + (project["optional-dependencies"]["test"] if extra else [])
    return {re.split(r"[<>=\[ ]", requirement)[0].lower().replace("-", "_") for requirement in wanted}


def _undeclared(imports, declared):
    import sys

    homes = metadata.packages_distributions()

    def declares(top):
        return bool({home.lower().replace("-", "_") for home in homes.get(top, [])} & declared)

    known = set(sys.stdlib_module_names) | {"laminate", "tests"}
    tops = {name.partition(".")[0] for name in imports} - known
    return sorted(
        top for top in tops if not {home.lower().replace("-", "_") for home in homes.get(top, [])} & declared
    )


def test_what_is_imported_is_declared(checkout, modules):
    imports = {name for module in modules for name in module.imports()}
    assert _undeclared(imports, _declared(checkout, extra=False)) == []


def test_what_the_tests_import_is_declared(checkout):
    imports = set()
    for path in (checkout / "tests").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                imports |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                imports.add(node.module)
    assert _undeclared(imports, _declared(checkout, extra=True)) == []


@pytest.mark.parametrize("name", ["Problem", "Refused", "__version__"])
def test_public_names_load_when_they_are_asked_for(name):
    import laminate

    assert getattr(laminate, name)
    assert name in dir(laminate)


def test_every_public_name_exists():
    import laminate

    assert [name for name in laminate.__all__ if not hasattr(laminate, name)] == []


def test_an_unknown_name_is_named():
    import laminate

    with pytest.raises(AttributeError, match="no attribute 'fiber'"):
        _ = laminate.fiber


#: where a number stands in a picture, or in no unit: counts of a statistic, and confidences as they were set
NUMBERS_BY_HAND = {
    "correct_page", "correct_words", "decision_json", "interval_drawing", "measured_words",
    "measuring_json", "page_words", "report_cycle", "report_summary", "report_tables", "report_view",
    "section_picture", "trend_words",
}  # fmt: skip


def test_one_place_writes_numbers_with_their_digits(modules):
    """A format of digits, such as `:.2f` or `:g`, stands in `show.numbers` alone."""
    by_hand = {
        module.name.rpartition(".")[2]: f"line {node.lineno}"
        for module in modules
        if module.name.startswith("laminate.show.") and module.name != "laminate.show.numbers"
        for node in ast.walk(module.tree)
        if isinstance(node, ast.FormattedValue)
        and node.format_spec is not None
        and re.search(r"\.|[efg]'$", ast.unparse(node.format_spec))
    }
    assert {name: line for name, line in by_hand.items() if name not in NUMBERS_BY_HAND} == {}
