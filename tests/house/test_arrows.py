"""read -> compute -> judge -> show: no import runs against the arrows."""

import sys

VERBS = {
    f"laminate.{name}"
    for name in (
        "predict",
        "fill",
        "expanding_core",
        "measure",
        "judge",
        "correct",
        "trend",
        "record",
        "signature",
    )
}


def under(name: str, *rooms: str) -> bool:
    return any(name == room or name.startswith(f"{room}.") for room in rooms)


def against(modules, rooms, forbidden, *, typing_only=True, but=()):
    """Each import that stands in one of the rooms and reaches what is forbidden there."""
    found = [
        f"{module.name} imports {name}"
        for module in modules
        if under(module.name, *rooms) and not under(module.name, *but)
        for name in sorted(module.imports(typing_only=typing_only))
        if forbidden(name)
    ]
    assert any(under(module.name, *rooms) for module in modules), f"no module in {rooms}"
    return found


def test_formulas_know_arithmetic_alone(modules):
    def foreign(name):
        return not (
            under(name, "numpy", "scipy.special", "laminate.formulas")
            or name.partition(".")[0] in sys.stdlib_module_names
        )

    assert against(modules, ["laminate.formulas"], foreign) == []


def test_reading_knows_neither_verbs_nor_showing(modules):
    assert (
        against(modules, ["laminate.read"], lambda n: under(n, "laminate.show", "laminate.cli", *VERBS)) == []
    )


def test_the_press_knows_no_verb(modules):
    assert against(modules, ["laminate.press"], lambda n: under(n, "laminate.cli", *VERBS)) == []


def test_showing_knows_neither_reading_nor_formulas(modules):
    assert against(modules, ["laminate.show"], lambda n: under(n, "laminate.read", "laminate.formulas")) == []


def test_showing_takes_results_and_runs_no_verb(modules):
    """A result's type may be named for the type checker, nothing more."""
    assert against(modules, ["laminate.show"], lambda n: under(n, *VERBS), typing_only=False) == []


def test_computing_does_not_know_how_it_is_shown(modules):
    shown = ["laminate.show", "jinja2", "matplotlib"]
    after = {"laminate.record"}  # it keeps what was said
    computing = [room for room in VERBS - after if any(module.name == room for module in modules)]
    below = ("formulas", "press", "zone", "uncertainty", "units", "problems")
    rooms = [*(f"laminate.{name}" for name in below), *computing]
    assert against(modules, rooms, lambda n: under(n, *shown)) == []


def test_the_library_does_not_know_the_command_line(modules):
    command_line = ["laminate.cli", "argparse", "typer", "click", "rich", "textual"]
    but = ["laminate.cli", "laminate.__main__"]
    assert against(modules, ["laminate"], lambda n: under(n, *command_line), but=but) == []


def test_one_module_knows_the_unit_library(modules):
    assert against(modules, ["laminate"], lambda n: under(n, "pint"), but=["laminate.units"]) == []


def test_tables_and_the_bench_alone_draw_on_the_screen(modules):
    but = ["laminate.cli.tables", "laminate.cli.bench"]
    assert against(modules, ["laminate"], lambda n: under(n, "rich", "textual"), but=but) == []


def test_the_walk_sees_an_import_against_the_arrows(modules):
    """The walk itself: it finds imports inside functions, relative ones, and tells typing from running."""
    app = next(module for module in modules if module.name == "laminate.cli.app")
    assert "laminate.cli.engineer" in app.imports()
    assert "collections.abc.Callable" in app.imports()
    assert "collections.abc.Callable" not in app.imports(typing_only=False)
    general = next(module for module in modules if module.name == "laminate.cli.general")
    assert "importlib.resources.files" in general.imports()
