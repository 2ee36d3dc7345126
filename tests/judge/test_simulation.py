"""Batches with a known truth, judged by what was measured: the stated risks are the true ones."""

import math
from typing import NamedTuple

import numpy as np
import pytest

from laminate.formulas.conformity import CONFORMS, FAILS, decide, probability_of_conformity
from laminate.formulas.statistics import degrees_of_factor, expanded_by_terms
from laminate.judging.acceptance import Reading, acceptance_of
from laminate.values.averages import SCATTER, average
from laminate.values.uncertainty import Result, Source

BATCHES, COUPONS = 20_000, 6
LOW, HIGH = 0.56, 0.62
SCATTERS, SHARED = 0.012, 0.006  # between coupons, and of what all coupons of a batch share


class Judged(NamedTuple):
    truth: np.ndarray
    conforms: np.ndarray
    decision: np.ndarray
    probability: np.ndarray


def measured(truth, seed):
    """Coupons (batches, n) of each batch: its true mean, one shared error, and scatter between coupons."""
    generator = np.random.default_rng(seed)
    shared = SHARED * generator.standard_normal((len(truth), 1))
    return truth[:, None] + shared + SCATTERS * generator.standard_normal((len(truth), COUPONS))


def averages(coupons):
    """Mean, standard uncertainty, degrees of freedom and coverage factor of every batch."""
    own = coupons.std(axis=1, ddof=1) / math.sqrt(coupons.shape[1])
    u = np.hypot(own, SHARED)
    wide = expanded_by_terms(
        contributions=[own, np.full(own.shape, SHARED)],
        dofs=[float(coupons.shape[1] - 1), math.inf],
        confidence=0.95,
    )
    return coupons.mean(axis=1), u, degrees_of_factor(factor=wide / u, confidence=0.95), wide / u


def judged(truth, seed, low=LOW, high=HIGH):
    mean, u, dof, k = averages(measured(truth, seed))
    decision = decide(value=mean, expanded=k * u, minimum=low, maximum=high)
    chance = probability_of_conformity(value=mean, standard_uncertainty=u, dof=dof, minimum=low, maximum=high)
    inside = (truth >= (-math.inf if low is None else low)) & (truth <= high)
    return Judged(truth, inside, decision, chance)


def reliability(found):
    """Stated and true share of conforming batches in each tenth of the stated probability."""
    place = np.minimum((10 * found.probability).astype(int), 9)
    rows = []
    for tenth in range(10):
        here = place == tenth
        rows.append((here.sum(), found.probability[here].mean(), found.conforms[here].mean()))
    return rows


def test_the_columns_are_what_the_program_averages_and_holds():
    coupons = measured(np.linspace(0.54, 0.64, 8), 5)
    mean, u, dof, k = averages(coupons)
    for row, values in enumerate(coupons):
        result = Result(values, np.full((1, COUPONS), SHARED), (Source("fiber density", {}),))
        one = average([result])
        assert one.value == pytest.approx(mean[row], rel=1e-14)
        assert one.standard_uncertainty == pytest.approx(u[row], rel=1e-12)
        assert one.degrees_of_freedom() == pytest.approx(dof[row], rel=1e-9)
        assert one.coverage_factor(0.95) == pytest.approx(k[row], rel=1e-12)
        reading = Reading("average", one.value, u[row], dof[row], k[row], {}, one.contributions[SCATTER])
        held = acceptance_of([reading], minimum=LOW, maximum=HIGH, guard=1.0, attribute="fiber_volume")
        assert held.decision == decide(value=mean[row], expanded=k[row] * u[row], minimum=LOW, maximum=HIGH)


@pytest.mark.parametrize("low", [LOW, None])
def test_the_stated_probability_is_right_where_every_truth_was_as_likely(low):
    """True values uniform over 30 standard uncertainties: never 2 points too sure in any tenth."""
    truth = np.random.default_rng(1).uniform(0.48, 0.70, BATCHES)
    rows = reliability(judged(truth, 2, low=low))
    for count, stated, true in rows:
        assert count > 150
        allowed = 0.02 + 2.0 * math.sqrt(stated * (1 - stated) / count)
        too_sure = (stated - true) if stated > 0.5 else (true - stated)
        assert too_sure < allowed, rows
    whole = sum(count * (stated - true) for count, stated, true in rows) / BATCHES
    assert abs(whole) < 0.01


@pytest.mark.parametrize("limit", [LOW, HIGH])
def test_of_batches_at_the_limit_no_more_than_one_in_forty_is_accepted(limit):
    found = judged(np.full(BATCHES, limit), 3)
    accepted = (found.decision == CONFORMS).mean()
    assert accepted <= 0.025 + 3.0 * math.sqrt(0.025 * 0.975 / BATCHES)
    assert accepted > 0.01
    refused = (found.decision == FAILS).mean()
    assert refused <= 0.025 + 3.0 * math.sqrt(0.025 * 0.975 / BATCHES)


@pytest.mark.parametrize("away", [0.5, 1.0, 2.0])
def test_of_batches_outside_still_fewer(away):
    """Truth outside by half, one and two shared uncertainties."""
    accepted = (judged(np.full(BATCHES, HIGH + away * SHARED), 4).decision == CONFORMS).mean()
    assert accepted < {0.5: 0.015, 1.0: 0.008, 2.0: 0.001}[away]


def test_simple_acceptance_accepts_half_of_what_is_at_the_limit():
    mean = averages(measured(np.full(BATCHES, HIGH), 6))[0]
    decision = decide(value=mean, expanded=0.01, minimum=None, maximum=HIGH, guard=0.0)
    assert (decision == CONFORMS).mean() == pytest.approx(0.5, abs=0.015)


def test_a_narrow_process_is_better_than_its_stated_probability():
    """The flat prior supposes that any truth was as likely.

    Of a process that holds the middle of the limits nearly every batch conforms, whatever one measurement
    says; of one that sits outside, hardly any.
    """
    inside = reliability_of(np.random.default_rng(7).normal(0.605, 0.004, BATCHES))
    outside = reliability_of(np.random.default_rng(8).normal(0.635, 0.004, BATCHES))
    assert inside[0] < inside[1] - 0.1
    assert outside[0] > outside[1] + 0.05


def reliability_of(truth):
    """Mean stated and true probability of the batches that one cannot be sure of."""
    found = judged(truth, 9)
    open_ = (found.probability > 0.2) & (found.probability < 0.8)
    assert open_.sum() > 500
    return found.probability[open_].mean(), found.conforms[open_].mean()


def test_the_probability_of_several_individuals_together_is_right():
    """Three at once that share an error, each true value uniform on its own: right in every fifth."""
    batches, own = 4000, 0.008
    generator = np.random.default_rng(11)
    truth = generator.uniform(0.53, 0.65, (batches, 3))
    shared = SHARED * generator.standard_normal((batches, 1))
    values = truth + shared + own * generator.standard_normal(truth.shape)
    u = math.hypot(own, SHARED)
    stated = np.empty(batches)
    for row, measured_values in enumerate(values):
        readings = [
            Reading(str(i), v, u, math.inf, 2.0, {"density": SHARED}, own)
            for i, v in enumerate(measured_values)
        ]
        held = acceptance_of(readings, minimum=LOW, maximum=HIGH, guard=1.0, attribute="fiber_volume")
        stated[row] = held.probability
    conforms = ((truth >= LOW) & (truth <= HIGH)).all(axis=1)
    for fifth in range(5):
        here = np.minimum((5 * stated).astype(int), 4) == fifth
        allowed = 0.02 + 2.5 * math.sqrt(0.25 / here.sum())
        assert here.sum() > 60
        assert abs(stated[here].mean() - conforms[here].mean()) < allowed
