"""The larger and the smaller of two numbers: floats, columns of draws, complex or uncertain ones."""

from __future__ import annotations

from typing import Any

import numpy as np

from laminate.formulas.number import choose, real_part


def larger(number: Any, other: Any) -> Any:
    """The larger of two numbers, element by element; the first of equal ones."""
    if np.ndim(number) and not (np.iscomplexobj(number) or np.iscomplexobj(other)):
        return np.maximum(number, other)
    return choose(real_part(number) >= real_part(other), number, other)


def smaller(number: Any, other: Any) -> Any:
    """The smaller of two numbers, element by element; the first of equal ones."""
    return -larger(-number, -other)
