"""The second example: a shaft that no count fills, and what it says to change."""

from importlib.resources import as_file, files

import pytest

from laminate.files.named_file import NamedFile
from laminate.files.part import read_part
from laminate.press.filling import fill
from laminate.show.fill_words import fill_blocks
from tests.messages.wording import says


@pytest.fixture(scope="module")
def paddle():
    with as_file(files("laminate.examples") / "paddle" / "part.toml") as path:
        return read_part(NamedFile.at(path))[0]


def test_no_count_fills_the_shaft_and_the_blade_has_one(paddle):
    answer = fill(paddle, "part.toml", draws=5000, inverse=False)
    shaft, blade = answer.zones
    assert shaft.use is None
    assert not shaft.window.open
    assert (blade.best.plies, blade.grade, blade.use) == (6, "risky", None)
    assert not answer.every_zone_fits


def test_it_says_what_to_change(paddle):
    answer = fill(paddle, "part.toml", draws=5000, zones=["shaft"])
    said = "\n".join(block.text for block in fill_blocks(answer, "metric") if hasattr(block, "text"))
    assert says("fill: it says what to change", said)
    assert says("fill: it says what to change, 2", said)
    assert says("fill: it says what to change, 3", said)
    assert says("fill: it says what to change, 4", said)
    assert says("fill: it says what to change, 5", said)


def test_a_gap_it_names_works(paddle):
    shaft = fill(paddle, "part.toml", draws=5000, zones=["shaft"], inverse=False).zones[0]
    wider = shaft.nearest[1].to_middle["gap"]
    gap = paddle.zone["shaft"].gap
    from dataclasses import replace

    mended = paddle.model_copy(
        update={
            "zone": {
                **paddle.zone,
                "shaft": paddle.zone["shaft"].model_copy(update={"gap": replace(gap, value=wider)}),
            }
        }
    )
    assert fill(mended, "part.toml", draws=5000, zones=["shaft"], inverse=False).zones[0].use.plies == 6
