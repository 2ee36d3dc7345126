"""What every test shares."""

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds pyproject.toml."""
    return Path(__file__).parents[1]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark whatever times something, so that it runs alone: `pytest -m benchmark --benchmark-only`."""
    for item in items:
        if "benchmark" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.benchmark)
