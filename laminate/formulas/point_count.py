"""Volume fraction by counting points on a section (ASTM E562)."""

from __future__ import annotations

import numpy as np

from .number import Number
from .statistics import students_t


def rare_half_width(*, share: Number, points: Number, confidence: float = 0.95) -> Number:
    """Half-width of the confidence interval of a share that few points are counted on.

    To the farther end of Wilson's interval ``[k + z^2/2 + z sqrt(k (1-p) + z^2/4)]/(N + z^2)``, p the share
    or its complement, the smaller, k = p N (Wilson, J. Am. Stat. Assoc. 22 (1927) 209, second-hand).
    Of few points the scatter between fields says too little: t s/sqrt(n) covers 78 % at one point in 75.

    share : P, of all points [0..1]
    points : N, counted in all fields [-]
    confidence : two-sided [0..1]

    >>> round(float(rare_half_width(share=0.0, points=100)), 4)  # none of 100: up to 3.7 %
    0.037
    """
    z = students_t(confidence=confidence, dof=np.inf)
    p = np.minimum(share, 1.0 - share)
    middle = (p * points + z**2 / 2.0) / (points + z**2)
    return middle - p + z * (p * (1.0 - p) * points + z**2 / 4.0) ** 0.5 / (points + z**2)
