"""The example part with something changed, and its core."""

from collections.abc import Callable

import pytest

from laminate.files.part import Part, part_of
from laminate.press.core_results import CoreAnswer
from laminate.press.cores import core
from tests.press.parts import raw


@pytest.fixture(scope="session")
def part() -> Callable[..., Part]:
    """The example part after an edit of its tables."""
    return lambda edit=None: part_of(raw(edit), "part.toml")


@pytest.fixture(scope="session")
def fore(part) -> Callable[..., CoreAnswer]:
    """The answer for the core of the example after an edit of its tables."""

    def make(edit: Callable[[dict], object] | None = None, **more) -> CoreAnswer:
        return core(part(edit), "part.toml", **{"draws": 2000, **more}).cores[0]

    return make
