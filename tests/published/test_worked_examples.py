"""Worked examples as printed, one data file each: every step is a formula, every check a printed value.

A quantity is written as its source prints it. Without a tolerance of its own a check allows half the last
printed digit. `how_known` is one of: read, second-hand, inputs read, from memory.
"""

import importlib
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

EXAMPLES = sorted((Path(__file__).parent / "data").glob("*.toml"))
HOW_KNOWN = {"read", "second-hand", "inputs read", "from memory"}
UNITS = {
    "": 1.0, "%": 1e-2, "g/cm^3": 1e3, "kg/m^3": 1.0, "g/m^2": 1e-3, "m": 1.0, "mm": 1e-3, "in": 0.0254,
    "kg": 1.0, "g": 1e-3, "K": 1.0, "degC": 1.0, "MPa": 1e6, "atm": 101325.0, "/K": 1.0,
}  # fmt: skip
QUANTITY = re.compile(r"(-?\d+(?:\.(\d*))?(?:e(-?\d+))?)(?: (\S+))?")


def quantity(text):
    """A printed quantity: its value in SI and half its last digit."""
    found = QUANTITY.fullmatch(text)
    if not found:
        raise ValueError(f"{text!r} is no quantity")
    number, decimals, exponent, unit = found.groups()
    factor = UNITS[unit or ""]
    half = 0.5 * 10.0 ** (int(exponent or 0) - len(decimals or "")) * factor
    return float(number) * factor + (273.15 if unit == "degC" else 0.0), half


def argument(given, results):
    if isinstance(given, list):
        return [argument(item, results) for item in given]
    if not isinstance(given, str):
        return given
    if given.startswith("="):
        name, _, field = given[1:].partition(".")
        return getattr(results[name], field) if field else results[name]
    return quantity(given)[0] if QUANTITY.fullmatch(given) else given


def run(example):
    """Every step of an example; its results by name."""
    results = {}
    for step in example["step"]:
        module, _, name = step["call"].rpartition(".")
        formula = getattr(importlib.import_module(f"laminate.formulas.{module}"), name)
        given = {key: argument(value, results) for key, value in step["with"].items()}
        results[step["name"]] = formula(**given)
    return results


def hold(check, results, source):
    """Raise where a result is not what the source prints."""
    found = float(argument("=" + check["of"], results))
    if "between" in check:
        low, high = (quantity(text)[0] for text in check["between"])
        if not low <= found <= high:
            raise AssertionError(f"{check['of']}: {found!r} is not between {low!r} and {high!r} ({source})")
        return
    printed, half = quantity(check["printed"])
    allowed = quantity(check["tolerance"])[0] if "tolerance" in check else half
    # A printed value may itself lie on a rounding edge, and binary numbers just beside it.
    if not abs(found - printed) <= allowed * (1 + 1e-9):
        raise AssertionError(f"{check['of']}: {found!r} is not {printed!r} ± {allowed!r} ({source})")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_worked_example(path):
    example = tomllib.loads(path.read_text("utf-8"))
    assert example["how_known"] in HOW_KNOWN
    assert example["source"]
    assert example["check"]
    results = run(example)
    for check in example["check"]:
        hold(check, results, example["source"])


def test_there_are_examples():
    assert len(EXAMPLES) >= 15


@pytest.mark.parametrize(("printed", "fails"), [("57.43 %", True), ("57.42 %", False), ("57.4 %", False)])
def test_the_runner_raises_on_a_wrong_value(printed, fails):
    check = {"of": "v", "printed": printed}
    results = {"v": np.float64(0.57424)}
    if fails:
        with pytest.raises(AssertionError, match=r"is not 0\.5743"):
            hold(check, results, "none")
    else:
        hold(check, results, "none")


def test_the_runner_raises_outside_a_range():
    check = {"of": "v", "between": ["1.84 g/cm^3", "1.97 g/cm^3"]}
    hold(check, {"v": 1850.0}, "none")
    with pytest.raises(AssertionError, match="is not between"):
        hold(check, {"v": 1980.0}, "none")
