"""Coverage, scatter, outliers, tolerance factors and capability of repeated values.

As in CMH-17 volume 1, chapter 8, and JCGM 100:2008, unless another source is named.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from . import special
from .control_chart import ControlLimits as ControlLimits
from .control_chart import control_limits_individuals as control_limits_individuals
from .lot_scatter import between_lots_f as between_lots_f
from .number import Number, bounds

LEVEL = 0.05
"""Chance of a false yes of the tests here; common practice, no source."""


def students_t(*, confidence: Number, dof: Number) -> Number:
    """Coverage factor of Student's t, two-sided; of the normal distribution where the degrees are infinite.

    confidence : share inside [0..1]
    dof : degrees of freedom, any real number above 0, or infinite [-]

    JCGM 100 annex G, table G.2: 4.30 for two degrees of freedom at 95 %.

    >>> round(students_t(confidence=0.95, dof=2), 2), round(students_t(confidence=0.95, dof=float("inf")), 2)
    (4.3, 1.96)
    """
    if isinstance(confidence, float) and isinstance(dof, float):
        return _one_students_t(confidence, dof)
    share = (1 + np.asarray(confidence, dtype=float)) / 2
    degrees = np.asarray(dof, dtype=float)
    normal = special.ndtri(share)
    with np.errstate(divide="ignore"):
        factor = np.asarray(normal + _above_normal(normal, 1.0 / degrees))
    few = np.broadcast_to(degrees < MANY_DEGREES, factor.shape)
    if few.any():
        factor[few] = special.stdtrit(*(np.broadcast_to(x, factor.shape)[few] for x in (degrees, share)))
    return factor if factor.ndim else float(factor)


MANY_DEGREES = 1000.0
"""From so many degrees of freedom on the series of Student's t is exact to 13 digits."""


def _above_normal(z: Number, x: Number) -> Number:
    """What Student's t is above the normal distribution's z at 1/x degrees of freedom.

    Source: Abramowitz and Stegun, 26.7.5 (first three terms second-hand, from a program that names it; the
    fourth from memory); checked with the distribution itself.
    """
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    fourth = (79.0 * z**9 + 776.0 * z**7 + 1482.0 * z**5 - 1920.0 * z**3 - 945.0 * z) / 92160.0
    return x * (first + x * (second + x * (third + x * fourth)))


@lru_cache(4096)
def _one_students_t(confidence: float, dof: float) -> float:
    from statistics import NormalDist

    share = (1.0 + confidence) / 2.0
    return NormalDist().inv_cdf(share) if math.isinf(dof) else float(special.stdtrit(dof, share))


def welch_satterthwaite(*, contributions: Sequence[Number], dofs: Sequence[Number]) -> Number:
    """Effective degrees of freedom, ``(sum u_i^2)^2/sum(u_i^4/nu_i)`` (JCGM 100, G.4.1).

    contributions : u_i, standard uncertainties of independent groups [unit of the result]
    dofs : nu_i of each, infinite where it is known [-]

    Infinite where no group with finite degrees contributes. JCGM 100 H.1.6 (nm): 16.75, rounded down to 16.

    >>> int(welch_satterthwaite(contributions=[25, 9.7, 2.9, 16.6], dofs=[18, 25.6, 50, 2]))
    16
    """
    total = sum(np.asarray(u, dtype=float) ** 2 for u in contributions) ** 2
    spread = sum(np.asarray(u, dtype=float) ** 4 / dof for u, dof in zip(contributions, dofs, strict=True))
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = np.where(np.asarray(spread) > 0, total / spread, np.inf)
    return effective if effective.ndim else float(effective)


def expanded_by_terms(
    *, contributions: Sequence[Number], dofs: Sequence[Number], confidence: float
) -> Number:
    """Expanded uncertainty of a sum, each term with the Student's t of its own, ``[sum (t_i u_i)^2]^0.5``.

    contributions : u_i, standard uncertainties of independent terms [unit of the result]
    dofs : nu_i of each, infinite where it is known [-]
    confidence : two-sided [0..1]

    Covers the confidence or more at every ratio of the terms and all degrees of freedom, which the effective
    degrees of Welch and Satterthwaite do not. Source: S. K. Banerjee, Sankhya 22 (1960) 357, from memory.

    >>> round(expanded_by_terms(contributions=[1.0, 1.0], dofs=[2, float("inf")], confidence=0.95), 3)
    4.728
    """
    pairs = zip(_factors(confidence, tuple(dofs)), contributions, strict=True)
    expanded = sum((t * u) ** 2 for t, u in pairs) ** 0.5
    return np.asarray(expanded) if np.ndim(expanded) else float(expanded)


@lru_cache(4096)
def _factors(confidence: float, dofs: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(_one_students_t(confidence, float(dof)) for dof in dofs)


def degrees_of_factor(*, factor: Number, confidence: float) -> Number:
    """Degrees of freedom at which Student's t for the confidence is the factor; the inverse of `students_t`.

    factor : U/u [-]; at the normal distribution's factor or below, the degrees are infinite
    confidence : two-sided [0..1]

    >>> round(degrees_of_factor(factor=4.302653, confidence=0.95), 5)
    2.0
    """
    share = (1 + confidence) / 2
    given, normal = np.asarray(factor, dtype=float), float(special.ndtri(share))
    above = given - normal
    ended = ~(above <= normal * 1e-9)
    few = ended & ~(above <= _above_normal(normal, 1.0 / MANY_DEGREES))
    x = np.where(ended & ~few, above / _above_normal(normal, 1.0), 0.0)
    slope = (normal**3 + normal) / 4.0
    for _ in range(8):  # what follows the first power is at most a thousandth of it
        x = np.where(x > 0.0, x + (above - _above_normal(normal, x)) / slope, 0.0)
    with np.errstate(divide="ignore"):
        degrees = np.asarray(1.0 / x)
    if few.any():  # slow: only where it has to be
        degrees[few] = special.stdtridf(share, given[few])
    return degrees if degrees.ndim else float(degrees)


def _needs(least: int, n: int) -> None:
    if n < least:
        raise ValueError(f"needs {least} values or more, got {n}")


def normed_residuals(*, values: Sequence[float]) -> np.ndarray:
    """Distance of each value from the mean over the standard deviation, ``|x_i - mean|/s``.

    values : three or more; all equal gives zeros

    Raises ValueError for fewer.

    >>> normed_residuals(values=[1.0, 2.0, 3.0]).tolist()
    [1.0, 0.0, 1.0]
    """
    sample = np.asarray(values, dtype=float)
    _needs(3, sample.size)
    away, deviation = np.abs(sample - sample.mean()), sample.std(ddof=1)
    return away / deviation if deviation > 0 else np.zeros_like(sample)


def critical_normed_residual(*, n: int) -> float:
    """Normed residual above which one value of n is an outlier, two-sided.

    ``(n-1)/sqrt(n) sqrt(t^2/(n-2+t^2))``, t of Student at ``1 - LEVEL/(2n)`` with n - 2 degrees (CMH-17).

    n : number of values, three or more

    Raises ValueError for fewer values. ASTM E178: 1.15, 1.48 for 3, 4 values.

    >>> round(critical_normed_residual(n=3), 2), round(critical_normed_residual(n=4), 2)
    (1.15, 1.48)
    """
    _needs(3, n)
    squared = special.stdtrit(n - 2, 1 - LEVEL / (2 * n)) ** 2
    return float((n - 1) / n**0.5 * (squared / (n - 2 + squared)) ** 0.5)


def scatters_more(*, deviation: float, dof: float, stated: float, stated_dof: float = np.inf) -> bool:
    """Tell whether an observed scatter is more than a stated standard deviation explains.

    ``nu s^2/sigma^2 > chi^2_(1 - LEVEL, nu)``, the one-sided test of a variance; where the stated one was
    estimated itself, ``s^2/sigma^2 > F_(1 - LEVEL; nu, its degrees)`` (the same with infinite ones).

    deviation : s, observed [unit of the readings]
    dof : nu, its degrees of freedom [-]
    stated : sigma, 0 where none is stated [unit of the readings]
    stated_dof : degrees of freedom of sigma [-]

    Source of the test: NIST/SEMATECH e-Handbook 1.3.5.8, second-hand.

    >>> scatters_more(deviation=2.0, dof=2.0, stated=1.0), scatters_more(deviation=1.5, dof=2.0, stated=1.0)
    (True, False)
    """
    if np.isinf(stated_dof):
        most = float(special.chdtri(dof, LEVEL)) / dof
    else:
        most = float(special.fdtri(dof, stated_dof, 1.0 - LEVEL))
    return deviation > 0.0 and deviation**2 > stated**2 * most


def scatters_less(*, deviation: float, dof: float, stated: float) -> bool:
    """Tell whether an observed scatter is less than a stated standard deviation lets expect.

    ``nu s^2/sigma^2 < chi^2_(LEVEL, nu)``, the one-sided test of a variance.

    deviation : s, observed [unit of the readings]
    dof : nu, its degrees of freedom [-]
    stated : sigma [unit of the readings]

    Source of the test: NIST/SEMATECH e-Handbook 1.3.5.8, second-hand.

    >>> scatters_less(deviation=0.1, dof=2.0, stated=1.0), scatters_less(deviation=0.5, dof=2.0, stated=1.0)
    (True, False)
    """
    return dof * deviation**2 < stated**2 * float(special.chdtri(dof, 1.0 - LEVEL))


def tolerance_factor(*, n: int, population: float, confidence: float = 0.95) -> float:
    """One-sided tolerance factor k, so that mean - k s is below a share of the population with confidence.

    ``k = t'(n-1, sqrt(n) z_p)_confidence/sqrt(n)``, t' the non-central t. B-basis: population 0.90, A-basis
    0.99, confidence 0.95 (CMH-17 volume 1, chapter 8).

    n : number of values, two or more
    population : p [0..1]
    confidence : [0..1]

    Raises ValueError for fewer values.

    >>> round(tolerance_factor(n=40, population=0.90, confidence=0.99), 4)
    1.9017
    """
    _needs(2, n)
    shift = n**0.5 * special.ndtri(population)
    return float(special.nctdtrit(n - 1, shift, confidence) / n**0.5)


class Capability(NamedTuple):
    """Capability index with its interval."""

    cpk: float
    low: float
    high: float


def capability(*, mean: float, deviation: float, minimum: float | None, maximum: float | None) -> float:
    """Capability index Cpk, the distance to the nearer limit over three standard deviations.

    ``min[(max - mean), (mean - min)]/(3 s)``. NIST/SEMATECH e-Handbook 7.1.6 (process capability), from
    memory.

    mean : of the values
    deviation : s, above 0
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    Raises ValueError where there is no limit or no scatter.

    >>> round(capability(mean=16.0, deviation=2.0, minimum=8.0, maximum=20.0), 4)
    0.6667
    """
    low, high = bounds(minimum, maximum)
    nearest = min(mean - low, high - mean)
    if math.isinf(nearest) or not deviation > 0:
        raise ValueError("capability needs a limit and a scatter above 0")
    return nearest / (3 * deviation)


def capability_interval(*, cpk: float, n: int, confidence: float = 0.95) -> Capability:
    """Two-sided interval of Cpk, ``Cpk +- z sqrt(1/(9n) + Cpk^2/(2(n-1)))``.

    cpk : from `capability`
    n : number of values, two or more
    confidence : two-sided [0..1]

    NIST/SEMATECH e-Handbook 6.1.6. Raises ValueError for fewer values.

    >>> [round(bound, 3) for bound in capability_interval(cpk=1.33, n=30)]
    [1.33, 0.968, 1.692]
    """
    _needs(2, n)
    half = float(special.ndtri((1 + confidence) / 2)) * (1 / (9 * n) + cpk**2 / (2 * (n - 1))) ** 0.5
    return Capability(cpk, cpk - half, cpk + half)
