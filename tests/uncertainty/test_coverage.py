"""The expanded uncertainty of an average covers the truth as often as it says, whatever stands behind it."""

import itertools
import math

import numpy as np
import pytest

from laminate.formulas.conformity import probability_of_conformity
from laminate.formulas.statistics import degrees_of_factor, students_t
from laminate.values.averages import average
from laminate.values.uncertainty import Result, Source

READING = 1.0
BETWEEN, RATIOS, FREEDOMS = (0.0, 1.0, 3.0), (0.0, 0.3, 1.0, 3.0), (1, 4, math.inf)


def estimated(size, dof, trials, generator):
    """What a laboratory states that estimated a standard uncertainty from so many degrees of freedom."""
    return size if math.isinf(dof) else size * np.sqrt(generator.chisquare(dof, trials) / dof)


def batches(n, between, ratio, dof, trials, generator):
    """Mean, scatter and stated shared uncertainty of many batches whose true mean is 0."""
    coupons = math.hypot(between, READING) * generator.standard_normal((trials, n))
    shared = ratio * READING
    mean = coupons.mean(axis=1) + shared * generator.standard_normal(trials)
    return (
        mean,
        coupons.std(axis=1, ddof=1),
        np.broadcast_to(estimated(shared, dof, trials, generator), (trials,)),
    )


def rule(n, s, shared, dof):
    """u and U of the averages, as columns."""
    t, normal = (
        float(students_t(confidence=0.95, dof=n - 1)),
        float(students_t(confidence=0.95, dof=math.inf)),
    )
    u = np.sqrt(np.maximum(s**2, READING**2) / n + shared**2)
    of_coupons = np.maximum((t * s) ** 2, (normal * READING) ** 2) / n
    return u, np.sqrt(of_coupons + (float(students_t(confidence=0.95, dof=dof)) * shared) ** 2)


def test_the_columns_are_what_the_program_averages():
    generator = np.random.default_rng(1)
    for n, dof in itertools.product((2, 5), FREEDOMS):
        values = generator.standard_normal(n)
        sources = (Source("reading", {}, shared=False), Source("density", {}, dof=dof))
        contributions = np.array([np.full(n, READING), np.full(n, 0.7)])
        found = average([Result(values, contributions, sources)])
        u, wide = rule(n, values.std(ddof=1), np.array(0.7), dof)
        assert found.standard_uncertainty == pytest.approx(float(u), rel=1e-12)
        assert found.expanded(0.95) == pytest.approx(float(wide), rel=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize("n", [2, 3, 4, 6, 10])
def test_at_least_as_many_are_covered_as_is_said(n):
    """94.5 % in every case of 50 000 trials, where the sampling error is 0.1 %."""
    generator = np.random.default_rng(n)
    for between, ratio, dof in itertools.product(BETWEEN, RATIOS, FREEDOMS):
        mean, s, shared = batches(n, between, ratio, dof, 50_000, generator)
        covered = (np.abs(mean) <= rule(n, s, shared, dof)[1]).mean()
        assert covered >= 0.945, (n, between, ratio, dof, covered)


@pytest.mark.slow
@pytest.mark.parametrize("n", [2, 3, 6])
def test_no_chance_is_more_than_two_points_too_sure(n):
    """Limits anywhere about the truth, as likely: in each tenth the stated chance to be above the limit."""
    generator = np.random.default_rng(20 + n)
    for between, ratio, dof in itertools.product(BETWEEN, RATIOS, FREEDOMS):
        mean, s, shared = batches(n, between, ratio, dof, 200_000, generator)
        u, wide = rule(n, s, shared, dof)
        size = math.sqrt((between**2 + READING**2) / n + (ratio * READING) ** 2)
        limit = generator.uniform(-8.0 * size, 8.0 * size, mean.shape)
        chance = probability_of_conformity(
            value=mean - limit,
            standard_uncertainty=u,
            dof=degrees_of_factor(factor=wide / u, confidence=0.95),
            minimum=0.0,
            maximum=None,
        )
        place = np.minimum((10 * chance).astype(int), 9)
        for tenth in range(10):
            here = place == tenth
            stated, true = chance[here].mean(), (limit[here] <= 0.0).mean()
            sure = stated - true if stated > 0.5 else true - stated
            sampling = 2.0 * math.sqrt(stated * (1.0 - stated) / here.sum())
            assert sure <= 0.02 + sampling, (n, between, ratio, dof, tenth, stated, true)
