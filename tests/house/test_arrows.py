"""Every room stands in one order, and no import runs against it."""

import sys

ROOMS = [
    "formulas",
    "values",
    "files",
    "press",
    "curing",
    "coupons",
    "judging",
    "records",
    "history",
    "show",
    "bench",
    "front",
]
"""In the order of their arrows: a room imports only what stands above it."""
AGAINST = {
    "laminate.files.batch": {"laminate.press"},  # the material values of a batch go through its stack
    "laminate.records.record": {"laminate.show"},  # it keeps what was said
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


def test_every_room_imports_only_what_stands_above_it(modules):
    there = {module.name.split(".")[1] for module in modules if module.name.count(".") > 1}
    assert there - {"cli", "examples"} <= set(ROOMS), "a room that has no place in the order"
    for at, room in enumerate(ROOMS):
        if room not in there:
            continue
        below = [f"laminate.{other}" for other in ROOMS[at + 1 :]]
        found = against(modules, [f"laminate.{room}"], lambda n, below=below: under(n, *below), but=AGAINST)
        assert found == []
    for name, allowed in AGAINST.items():
        at = ROOMS.index(name.split(".")[1])
        below = [f"laminate.{other}" for other in ROOMS[at + 1 :] if f"laminate.{other}" not in allowed]
        assert against(modules, [name], lambda n, below=below: under(n, *below)) == []


def test_no_module_has_the_name_of_a_public_function(modules):
    import laminate

    taken = {module.name.split(".")[1] for module in modules if module.name.startswith("laminate.")}
    assert taken & set(laminate.__all__) == set()


def test_the_library_does_not_know_the_command_line(modules):
    command_line = ["laminate.cli", "argparse", "typer", "click", "rich", "textual"]
    but = ["laminate.cli", "laminate.__main__", "laminate.show.terminal"]
    assert against(modules, ["laminate"], lambda n: under(n, *command_line), but=but) == []


def test_one_module_knows_the_unit_library(modules):
    assert against(modules, ["laminate"], lambda n: under(n, "pint"), but=["laminate.values.units"]) == []


def test_tables_and_the_bench_alone_draw_on_the_screen(modules):
    but = ["laminate.show.terminal", "laminate.cli.tables", "laminate.cli.bench"]
    assert against(modules, ["laminate"], lambda n: under(n, "rich", "textual"), but=but) == []


def test_the_walk_sees_an_import_against_the_arrows(modules):
    """The walk itself: it finds imports inside functions, relative ones, and tells typing from running."""
    app = next(module for module in modules if module.name == "laminate.cli.app")
    assert "laminate.cli.program.run" in app.imports()
    assert "collections.abc.Sequence" in app.imports()
    assert "collections.abc.Sequence" not in app.imports(typing_only=False)
    general = next(module for module in modules if module.name == "laminate.cli.general")
    assert "importlib.resources.files" in general.imports()
