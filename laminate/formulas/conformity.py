"""A value with uncertainty against limits (JCGM 106): decision, probability of conformity, risks."""

from __future__ import annotations

import math

import numpy as np

from . import special
from .joint_conformity import joint_probability as joint_probability
from .number import NOTHING, Number, bounds, within

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
    it is undecided (JCGM 106:2012, 8.3). guard 0 is simple acceptance: on the limit conforms. What is equal
    but for rounding is equal (`within`).

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
    low, high = bounds(minimum, maximum)
    near = within(value, low, high, -band) | np.isnan(value + band)
    answer = np.where(within(value, low, high, band), CONFORMS, np.where(near, UNDECIDED, FAILS))
    return answer if answer.ndim else str(answer)


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
    low, high = bounds(minimum, maximum)
    hard_low, hard_high = bounds(hard_minimum, hard_maximum)
    most = min(high - band, hard_high)
    return max(low + band, hard_low) <= most + NOTHING * (abs(most) + band)


def _below(distance: Number, spread: Number, dof: Number) -> Number:
    """Chance that a value with a spread is below a bound at a distance; meant for a spread above 0."""
    scaled = distance / np.where(spread > 0, spread, 1.0)
    normal = np.isinf(dof)
    return np.where(normal, special.ndtr(scaled), special.stdtr(np.where(normal, 1.0, dof), scaled))


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
    value, spread, dof = (np.asarray(given, dtype=float) for given in (value, standard_uncertainty, dof))
    low, high = bounds(minimum, maximum)
    outside = _below(low - value, spread, dof) + _below(value - high, spread, dof)
    inside = np.where(spread > 0, 1 - outside, within(value, low, high))
    return inside if inside.ndim else float(inside)
