"""Formulas that the page of `report` prints: each is reached by what a batch can be measured with."""

import tomllib
from importlib.resources import files

from laminate.show.report_formulas import formulas

KNOWN = tomllib.loads((files("laminate.show") / "formulas.toml").read_text("utf-8"))["formula"]
METHODS = (
    "immersion",
    "saturated immersion",
    "digestion and density",
    "thickness",
    "thickness and areal weight",
)


def printed(methods, columns=(), wires="0"):
    answer = {
        "specimens": [{"methods": list(methods)}],
        "readings": [{"specimen": "0101", "column": column} for column in columns],
        "measuring": [{"input": "wires through the surface", "stated": wires}],
    }
    return [row for grid in formulas(answer) for row in grid.rows]


def test_every_formula_is_printed_for_some_batch():
    columns = ("liquid temperature", "crucible with residue", "sinker mass in liquid")
    bare = {row[1:3] for row in printed(METHODS)}
    full = {row[1:3] for wires in ("0", "2") for row in printed(METHODS, columns, wires)}
    wired = {row[1:3] for row in printed(METHODS, wires="1")}
    assert {(row["formula"], row["symbols"]) for row in KNOWN} == bare | full | wired


def test_one_density_by_immersion_is_printed():
    for columns in ((), ("sinker mass in liquid",)):
        for wires in ("0", "1"):
            names = [row[0] for row in printed(["immersion"], columns, wires)]
            assert names == ["density by immersion"]


def test_nothing_measured_prints_none():
    assert printed([]) == []
