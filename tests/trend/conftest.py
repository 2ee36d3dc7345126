"""An empty folder of a shop."""

from __future__ import annotations

from pathlib import Path

import pytest

from .shop import Shop


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path / "records")
