"""The example part with something changed, and its zones."""

import copy
import tomllib
from collections.abc import Callable
from importlib.resources import files

import pytest

from laminate.files.part import Part, part_of
from laminate.press.filling import ZoneFill, fill

MAST = tomllib.loads((files("laminate.examples") / "mast" / "part.toml").read_text("utf-8"))


@pytest.fixture(scope="session")
def part() -> Callable[..., Part]:
    """The example part after an edit of its tables."""

    def make(edit: Callable[[dict], object] = lambda raw: None) -> Part:
        raw = copy.deepcopy(MAST)
        edit(raw)
        return part_of(raw, "part.toml")

    return make


@pytest.fixture(scope="session")
def zone(part) -> Callable[..., ZoneFill]:
    """The answer for one zone of the example after an edit of its tables."""

    def make(name: str, edit: Callable[[dict], object] = lambda raw: None, **more) -> ZoneFill:
        more = {"draws": 2000, "inverse": False, **more}
        return fill(part(edit), "part.toml", zones=[name], **more).zones[0]

    return make


@pytest.fixture(scope="session")
def row() -> Callable[..., object]:
    """The row of so many plies."""

    def find(answer: ZoneFill, plies: int):
        return next(row for row in answer.rows if row.plies == plies)

    return find
