"""Volume fraction by counting points on a section (ASTM E562)."""

from __future__ import annotations

import numpy as np

from .number import Number
from .statistics import students_t


def field_fractions(*, points: Number, counted: Number) -> Number:
    """Point fraction of each field, ``P_i = counted/points``; a point on the edge counts a half.

    points : points of the grid in each field [-]
    counted : of them on the constituent, halves allowed [-]

    >>> field_fractions(points=100, counted=56.5)
    0.565
    """
    return counted / points


def mean_fraction(*, fractions: Number) -> Number:
    """Volume fraction, the mean of the point fractions of all fields (ASTM E562 section 12).

    fractions : one a field [0..1]

    >>> round(float(mean_fraction(fractions=[0.5, 0.6])), 6)
    0.55
    """
    return np.mean(np.asarray(fractions), axis=-1)


def confidence_half_width(*, fractions: Number, confidence: float = 0.95) -> Number:
    """Half-width of the confidence interval of the mean, ``t s/sqrt(n)``, t of Student with n - 1.

    fractions : one a field [0..1], at least two fields
    confidence : two-sided [0..1]

    ASTM E562 section 12 and table 1 (t is 2.776 for five fields, not 1.96).
    Raises ValueError for fewer than two fields.

    >>> round(float(confidence_half_width(fractions=[0.54, 0.56, 0.55, 0.57, 0.53])), 4)
    0.0196
    """
    fields = np.asarray(fractions)
    n = fields.shape[-1]
    if n < 2:
        raise ValueError("a confidence interval needs two fields or more")
    mean = np.mean(fields, axis=-1, keepdims=True)
    deviation = (np.sum((fields - mean) ** 2, axis=-1) / (n - 1)) ** 0.5
    return students_t(confidence=confidence, dof=n - 1) * deviation / n**0.5


def relative_accuracy(*, half_width: Number, mean: Number) -> Number:
    """Relative accuracy, half-width over mean (ASTM E562 section 12 gives it in percent).

    half_width : of the confidence interval [0..1]
    mean : volume fraction [0..1], not 0

    >>> round(relative_accuracy(half_width=0.0196, mean=0.56), 3)
    0.035
    """
    return half_width / mean


def rare_half_width(*, share: Number, points: Number, confidence: float = 0.95) -> Number:
    """Half-width of the confidence interval of a share that few points are counted on.

    To the farther end of Wilson's interval ``[k + z^2/2 + z sqrt(k (1-p) + z^2/4)]/(N + z^2)``, p the share
    or its complement, the smaller, k = p N (Wilson, J. Am. Stat. Assoc. 22 (1927) 209, from memory).
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
