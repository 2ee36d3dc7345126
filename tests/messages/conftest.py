"""The mistakes are made in a part file as people have them from before: a core in a cavity by its widths."""

from pathlib import Path

import pytest

BEFORE = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"


@pytest.fixture
def shop(shop):
    """The example with that part file."""
    shop.write("part.toml", BEFORE.read_text("utf-8"))
    return shop
