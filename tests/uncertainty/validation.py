"""First order held against Monte Carlo on whole columns (JCGM 101:2008, clause 8)."""

import math
from types import SimpleNamespace

import numpy as np

from laminate.formulas.statistics import students_t
from laminate.values.uncertainty import monte_carlo, numerical_tolerance, propagate

BATCH = 10_000


def validate(formula, inputs, sources, *, seed, digits=1, most_draws=1_000_000):
    """Each attribute by first order and by Monte Carlo, and whether the ends of their 95 % intervals agree.

    digits: significant digits of u in which both must agree; batches are drawn until mean, u and both ends
    are known to a fifth of the tolerance (twice their standard deviation), or `most_draws` is reached.

    Source: JCGM 101:2008, 7.9.4 and clause 8.
    """
    first = propagate(formula, inputs, sources)
    seen, found = {name: [] for name in first}, {}
    for batch in range(1, max(2, most_draws // BATCH) + 1):
        drawn = monte_carlo(formula, inputs, sources, draws=BATCH, seed=100 * seed + batch)
        for name, values in drawn.items():
            ends = np.quantile(values, [0.025, 0.975], axis=0)
            seen[name].append([values.mean(axis=0), values.std(axis=0, ddof=1), *ends])
        if batch >= 10 or batch * BATCH >= most_draws:
            found = {name: compared(first[name], np.array(seen[name]), digits) for name in first}
            if all(validation.settled.all() for validation in found.values()):
                break
    return found


def compared(first, batches, digits):
    """First order beside the batches (h, 4, n) of mean, u, low and high."""
    value, u, low, high = batches.mean(axis=0)
    error = 2.0 * batches.std(axis=0, ddof=1).max(axis=0) / math.sqrt(len(batches))
    own = first.standard_uncertainty
    smallest = np.maximum(1e-12 * np.abs(first.value), np.finfo(float).tiny)
    meaningful = numerical_tolerance(np.maximum(np.where(own > 0.0, own, u), smallest), digits)
    tolerance = np.maximum(meaningful, smallest)
    half = np.asarray(students_t(confidence=0.95, dof=first.degrees_of_freedom)) * own
    d_low, d_high = np.abs(first.value - half - low), np.abs(first.value + half - high)
    return SimpleNamespace(
        value=value, standard_uncertainty=u, low=low, high=high, d_low=d_low, d_high=d_high,
        tolerance=tolerance, settled=error <= tolerance / 5.0, draws=len(batches) * BATCH,
        validated=np.maximum(d_low, d_high) <= tolerance,
    )  # fmt: skip
