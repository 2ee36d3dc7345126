"""The example part with something changed, and its core."""

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from laminate.files.part import Part, part_of
from laminate.press.core_results import CoreAnswer
from laminate.press.pressing import core

BEFORE = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"
MAST = tomllib.loads(BEFORE.read_text("utf-8"))


@pytest.fixture(scope="session")
def part() -> Callable[..., Part]:
    """The example part after an edit of its tables."""

    def make(edit: Callable[[dict], object] = lambda raw: None) -> Part:
        raw = copy.deepcopy(MAST)
        edit(raw)
        return part_of(raw, "part.toml")

    return make


@pytest.fixture(scope="session")
def fore(part) -> Callable[..., CoreAnswer]:
    """The answer for the core of the example after an edit of its tables."""

    def make(edit: Callable[[dict], object] = lambda raw: None, **more) -> CoreAnswer:
        return core(part(edit), "part.toml", **{"draws": 2000, **more}).cores[0]

    return make
