"""A value with uncertainty against limits (JCGM 106): decision, probability of conformity, risks."""

from __future__ import annotations

import math

import numpy as np

from . import special
from .joint_conformity import joint_probability as joint_probability
from .number import Number, choose, real_part

CONFORMS, FAILS, UNDECIDED = "conforms", "does not conform", "undecided"


def decide(
    *,
    value: Number,
    expanded: Number,
    minimum: float | None,
    maximum: float | None,
    guard: float = 1.0,
) -> Number:
    """Decide by guarded acceptance, for one value (text) or many (array of texts).

    Inside both limits by the guard band ``w = guard x U`` it conforms; outside one by w it does not; between
    it is undecided (JCGM 106:2012, 8.3). guard 0 is simple acceptance: on the limit conforms.

    value : measured [unit of the limits]
    expanded : U, expanded uncertainty, 0 or more [unit of the limits]
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none
    guard : guard band over U [-]

    A value that is not a number is undecided.

    >>> decide(value=0.58, expanded=0.01, minimum=0.56, maximum=0.62)
    'conforms'
    >>> decide(value=0.565, expanded=0.01, minimum=0.56, maximum=0.62)
    'undecided'
    """
    value, band = np.asarray(value, dtype=float), guard * np.asarray(expanded, dtype=float)
    low, high = _bounds(minimum, maximum)
    conforms = (value >= low + band) & (value <= high - band)
    fails = (value < low - band) | (value > high + band)
    answer = np.where(conforms, CONFORMS, np.where(fails, FAILS, UNDECIDED))
    return answer if answer.ndim else str(answer)


def _bounds(minimum: float | None, maximum: float | None) -> tuple[float, float]:
    return (-math.inf if minimum is None else minimum, math.inf if maximum is None else maximum)


def has_acceptance_interval(
    *,
    expanded: float,
    minimum: float | None,
    maximum: float | None,
    guard: float = 1.0,
    hard_minimum: float | None = None,
    hard_maximum: float | None = None,
) -> bool:
    """Tell whether any true value could be accepted: where not, this method cannot accept against this limit.

    ``max(min + w, hard min) <= min(max - w, hard max)``, ``w = guard x U`` (JCGM 106:2012, 8.3).

    expanded : U, expanded uncertainty
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none
    guard : guard band over U [-]
    hard_minimum : natural lower limit of the quantity (0 for a void content), None where there is none
    hard_maximum : natural upper limit of the quantity, None where there is none

    >>> has_acceptance_interval(expanded=0.012, minimum=None, maximum=0.01, hard_minimum=0.0)
    False
    """
    band = guard * expanded
    low, high = _bounds(minimum, maximum)
    hard_low, hard_high = _bounds(hard_minimum, hard_maximum)
    return max(low + band, hard_low) <= min(high - band, hard_high)


def _below(distance: Number, spread: Number, dof: Number) -> Number:
    """Chance that a value with a spread is below a bound at a distance; meant for a spread above 0."""
    scaled = distance / np.where(spread > 0, spread, 1.0)
    normal = np.isinf(dof)
    return np.where(normal, special.ndtr(scaled), special.stdtr(np.where(normal, 1.0, dof), scaled))


def _outside(
    value: Number, spread: Number, dof: Number, minimum: float | None, maximum: float | None
) -> Number:
    value, spread, dof = (np.asarray(given, dtype=float) for given in (value, spread, dof))
    low, high = _bounds(minimum, maximum)
    outside = _below(low - value, spread, dof) + _below(value - high, spread, dof)
    return np.where(spread > 0, outside, np.where((value >= low) & (value <= high), 0.0, 1.0))


def probability_of_conformity(
    *,
    value: Number,
    standard_uncertainty: Number,
    dof: Number = math.inf,
    minimum: float | None,
    maximum: float | None,
) -> Number:
    """Probability that the true value is inside the limits, given what was measured and a flat prior.

    Normal distribution, or Student's t shifted and scaled where the degrees of freedom are finite
    (JCGM 106:2012, 7; JCGM 101:2008, 6.4.9).

    value : measured [unit of the limits]
    standard_uncertainty : u, 0 or more; 0 gives 0 or 1, on the limit is inside [unit of the limits]
    dof : degrees of freedom of u, or infinite [-]
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    >>> round(probability_of_conformity(value=1.0, standard_uncertainty=0.5, minimum=0.0, maximum=None), 4)
    0.9772
    """
    inside = 1 - _outside(value, standard_uncertainty, dof, minimum, maximum)
    return inside if inside.ndim else float(inside)


def false_accept_risk(
    *,
    value: Number,
    standard_uncertainty: Number,
    dof: Number = math.inf,
    minimum: float | None,
    maximum: float | None,
) -> Number:
    """Risk that an accepted value is in truth outside the limits: one minus the probability of conformity.

    ILAC-G8:09/2019, 4.2.3: at the limit less U (k = 2), 2.28 %.

    value : measured [unit of the limits]
    standard_uncertainty : u, 0 or more [unit of the limits]
    dof : degrees of freedom of u [-]
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    >>> round(100 * false_accept_risk(value=9.0, standard_uncertainty=0.5, minimum=None, maximum=10.0), 2)
    2.28
    """
    risk = _outside(value, standard_uncertainty, dof, minimum, maximum)
    return risk if risk.ndim else float(risk)


def false_reject_risk(
    *,
    value: Number,
    standard_uncertainty: Number,
    dof: Number = math.inf,
    minimum: float | None,
    maximum: float | None,
) -> Number:
    """Risk that a rejected value is in truth inside the limits: its probability of conformity.

    JCGM 106:2012, 9, for one value already measured.

    value : measured [unit of the limits]
    standard_uncertainty : u, 0 or more [unit of the limits]
    dof : degrees of freedom of u [-]
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    >>> round(100 * false_reject_risk(value=11.0, standard_uncertainty=0.5, minimum=None, maximum=10.0), 2)
    2.28
    """
    return probability_of_conformity(
        value=value, standard_uncertainty=standard_uncertainty, dof=dof, minimum=minimum, maximum=maximum
    )


def largest_expected_difference(
    *, first: Number, second: Number, covariance: Number = 0.0, coverage_factor: Number = 2.0
) -> Number:
    """Difference up to which two methods on one specimen agree, ``k (u1^2 + u2^2 - 2 u12)^0.5``.

    first : u1, standard uncertainty of the one [any unit]
    second : u2, standard uncertainty of the other [as first]
    covariance : u12, from the inputs both share [as first, squared]
    coverage_factor : k [-]

    JCGM 100:2008, 5.2.2, for the difference. Rounding below zero counts as zero.

    >>> largest_expected_difference(first=3.0, second=4.0)
    10.0
    """
    squared = first**2 + second**2 - 2 * covariance
    return coverage_factor * choose(real_part(squared) > 0, squared, 0.0) ** 0.5
