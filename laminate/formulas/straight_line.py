"""The straight line through values, and whether its slope is more than scatter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from . import special


class Line(NamedTuple):
    """Intercept at x = 0 and slope with their standard uncertainties, and the chance of such a slope by
    scatter.
    """

    intercept: float
    intercept_u: float
    slope: float
    slope_u: float
    dof: int
    chance: float


def straight_line(*, x: Sequence[float], y: Sequence[float]) -> Line:
    """Line of least squares, ``slope = sum (x - x_m)(y - y_m)/sum (x - x_m)^2`` (JCGM 100:2008, H.3.2).

    The chance is that of a slope this far from 0, either way, where y does not depend on x: Student's t with
    n - 2 degrees of freedom.

    x : abscissae, not all equal
    y : values, as many, three or more

    Raises ValueError for fewer, or where all x are equal. JCGM 100 H.3, correction of a thermometer over its
    temperature less 20 degC: intercept -0.1712(29), slope 0.00218(67).

    >>> line = straight_line(
    ...     x=[1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.010, 6.511],
    ...     y=[-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160])
    >>> [round(number, digits) for number, digits in zip(line[:4], (4, 4, 5, 5))]
    [-0.1712, 0.0029, 0.00218, 0.00067]
    """
    across, up = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if across.size < 3 or across.size != up.size:
        raise ValueError(f"a line with its scatter needs 3 pairs or more, got {across.size} and {up.size}")
    away = across - across.mean()
    spread = float((away**2).sum())
    if spread == 0.0:
        raise ValueError("a line needs two different abscissae")
    slope = float((away * up).sum() / spread)
    intercept = float(up.mean() - slope * across.mean())
    dof = across.size - 2
    scatter = float((((up - intercept - slope * across) ** 2).sum() / dof) ** 0.5)
    slope_u = scatter / spread**0.5
    intercept_u = scatter * float(((across**2).mean() / spread) ** 0.5)
    if slope_u == 0.0:
        return Line(intercept, 0.0, slope, 0.0, dof, 1.0 if slope == 0.0 else 0.0)
    chance = 2.0 * float(special.stdtr(dof, -abs(slope) / slope_u))
    return Line(intercept, intercept_u, slope, slope_u, dof, chance)
