"""The functions of `scipy.special`, which loads slowly: when the first of them is asked for."""

from __future__ import annotations

from typing import Any


def __getattr__(name: str) -> Any:
    from scipy import special

    function = globals()[name] = getattr(special, name)
    return function
