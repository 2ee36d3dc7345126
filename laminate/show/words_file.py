"""The tables of words beside this module: what keys mean, and formulas."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def words_file(name: str) -> dict[str, Any]:
    """What stands in one of the tables of words."""
    return tomllib.loads(files("laminate.show").joinpath(f"{name}.toml").read_text("utf-8"))
