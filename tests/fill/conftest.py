"""The example part with something changed, and its zones."""

from collections.abc import Callable

import pytest

from laminate.files.part import Part, part_of
from laminate.press.filling import ZoneFill, fill
from tests.press.parts import raw

# The same gaps between rigid faces: a hard core that grows as much as rubber held at its sides does.
SIDES = (1.0 + 265e-6 * 95.0) ** 3 / (1.0 + 23.6e-6 * 97.0) ** 2
HARD = {
    "expansion": f"{(SIDES - 1.0) / 95.0!r} /K",
    "acts_as": "hard",
    "held": "no",
    "width": "30.64 mm ± 0.03 (tolerance)",
    "temperature": "118 degC",
    "offset": "0 mm",
    "projected_area": "0.036 m^2",
}


@pytest.fixture(scope="session")
def part() -> Callable[..., Part]:
    """The example part after an edit of its tables."""

    def make(edit: Callable[[dict], object] = lambda raw: None) -> Part:
        tables = raw()
        tables["core"]["fore"] = dict(HARD)
        edit(tables)
        return part_of(tables, "part.toml")

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
