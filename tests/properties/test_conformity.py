"""Decisions, chances and charts: against scipy.stats, closed forms and hand-made cases."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from laminate.formulas import conformity, control_chart, statistics
from laminate.formulas.joint_conformity import Mean, joint_probability

numbers = st.floats(-5, 5)


@given(numbers, st.floats(0.0, 2.0), st.floats(0.0, 2.0))
def test_a_decision_is_guarded_on_both_sides(value, expanded, guard):
    band = guard * expanded
    answer = conformity.decide(value=value, expanded=expanded, minimum=-1.0, maximum=2.0, guard=guard)
    slack = 1e-9 * max(abs(value), band)  # what is equal but for rounding is equal
    if answer == "conforms":
        assert -1 + band - slack <= value <= 2 - band + slack
    elif answer == "does not conform":
        assert value < -1 - band or value > 2 + band
    else:
        assert min(abs(value + 1), abs(value - 2)) <= band * (1 + 1e-12) + 1e-12


def test_many_values_are_decided_at_once():
    values = np.array([0.55, 0.565, 0.59, 0.6249, 0.7, np.nan])
    answers = conformity.decide(value=values, expanded=0.01, minimum=0.56, maximum=0.62)
    assert answers.tolist() == [
        "undecided", "undecided", "conforms", "undecided", "does not conform", "undecided"
    ]  # fmt: skip
    assert conformity.decide(value=0.62, expanded=0.01, minimum=None, maximum=0.62, guard=0.0) == "conforms"


def test_where_nothing_can_be_accepted():
    """A guard band wider than the interval, and a void content that cannot be below zero."""
    ask = conformity.has_acceptance_interval
    assert ask(expanded=0.01, minimum=0.56, maximum=0.62)
    assert not ask(expanded=0.04, minimum=0.56, maximum=0.62)
    assert ask(expanded=0.04, minimum=0.56, maximum=0.62, guard=0.5)
    assert ask(expanded=0.009, minimum=None, maximum=0.01, hard_minimum=0.0)
    assert not ask(expanded=0.011, minimum=None, maximum=0.01, hard_minimum=0.0)
    assert not ask(expanded=0.011, minimum=0.99, maximum=None, hard_maximum=1.0)
    assert conformity.decide(value=0.5, expanded=0.04, minimum=0.56, maximum=0.62) == "does not conform"


@given(numbers, st.floats(0.01, 3.0), st.sampled_from([1.0, 2.5, 30.0, math.inf]))
def test_probability_of_conformity_against_scipy_stats(value, spread, dof):
    law = stats.norm(value, spread) if math.isinf(dof) else stats.t(dof, value, spread)
    terms = {"value": value, "standard_uncertainty": spread, "dof": dof}
    both = conformity.probability_of_conformity(minimum=-1.0, maximum=2.0, **terms)
    assert both == pytest.approx(law.cdf(2.0) - law.cdf(-1.0), abs=1e-12)
    upper = conformity.probability_of_conformity(minimum=None, maximum=2.0, **terms)
    assert upper == pytest.approx(law.cdf(2.0), abs=1e-12)


def test_no_uncertainty_is_no_chance():
    found = conformity.probability_of_conformity(
        value=np.array([0.0, 1.0, 1.1]), standard_uncertainty=0.0, minimum=None, maximum=1.0
    )
    assert found.tolist() == [1.0, 1.0, 0.0]


@pytest.mark.parametrize(
    ("own", "shared"),
    [
        ([0.5, 0.3, 0.4], np.zeros((0, 3))),
        ([0.5, 0.3, 0.4], [[0.6, 0.6, 0.6]]),
        ([0.01, 0.02, 0.01], [[0.6, 0.5, -0.7]]),
        ([0.2, 0.3, 0.2], [[0.6, 0.5, 0.7], [0.05, -0.04, 0.0]]),
        ([0.2, 0.3, 0.2], [[0.6, 0.5, 0.7], [0.5, -0.4, 0.2]]),
        ([0.2, 0.3, 0.2], [[0.6, 0.5, 0.7], [0.5, -0.4, 0.2], [0.1, 0.4, -0.6], [0.2, 0.2, 0.2]]),
    ],
)
@pytest.mark.parametrize(("minimum", "maximum"), [(None, 1.0), (-1.0, 1.0)])
def test_joint_probability_against_the_multivariate_normal(own, shared, minimum, maximum):
    values, shared = np.array([0.2, 0.5, -0.1]), np.asarray(shared, dtype=float)
    law = stats.multivariate_normal(
        values, np.diag(np.square(own)) + shared.T @ shared, maxpts=2_000_000, abseps=1e-8, releps=1e-8
    )
    lower = None if minimum is None else np.full(3, minimum)
    expected = law.cdf(np.full(3, maximum), lower_limit=lower, rng=np.random.default_rng(1))
    found = joint_probability(values=values, own=own, shared=shared, minimum=minimum, maximum=maximum)
    assert found == pytest.approx(expected, abs=1e-4)


def test_many_individuals_with_many_sources_against_plain_simulation():
    """Ten individuals, six unlike sources: 400 000 draws of the sources, their own part by the normal law."""
    generator = np.random.default_rng(5)
    shared, values, own = generator.normal(0, 0.2, (6, 10)), generator.normal(0, 0.1, 10), np.full(10, 0.1)
    law = stats.norm(values + generator.normal(size=(400_000, 6)) @ shared, own)
    simulated = (law.cdf(0.5) - law.cdf(-0.5)).prod(axis=1)
    found = joint_probability(values=values, own=own, shared=shared, minimum=-0.5, maximum=0.5)
    assert found == pytest.approx(simulated.mean(), abs=4 * simulated.std() / 400_000**0.5)


def test_some_individuals_without_own_or_shared_part():
    values, own, shared = [0.1, 0.3, 0.2], [0.1, 0.0, 0.0], [[0.3, 0.2, 0.0], [0.1, -0.2, 0.0]]
    found = joint_probability(values=values, own=own, shared=shared, minimum=-0.2, maximum=0.6)
    covariance = np.diag(np.square(own[:2])) + np.array(shared)[:, :2].T @ np.array(shared)[:, :2]
    law = stats.multivariate_normal(values[:2], covariance)
    expected = law.cdf([0.6, 0.6], lower_limit=[-0.2, -0.2])
    assert found == pytest.approx(expected, abs=1e-4)
    values[2] = 0.7
    assert joint_probability(values=values, own=own, shared=shared, minimum=-0.2, maximum=0.6) == 0.0


@given(numbers, numbers, st.floats(0.05, 2.0))
def test_individuals_that_share_everything_are_one(first, second, spread):
    """No own uncertainty, one shared source: both are inside when the farther one is."""
    found = conformity.joint_probability(
        values=[first, second], own=[0.0, 0.0], shared=[[spread, spread]], minimum=None, maximum=1.0
    )
    alone = conformity.probability_of_conformity(
        value=max(first, second), standard_uncertainty=spread, minimum=None, maximum=1.0
    )
    assert found == pytest.approx(alone, abs=1e-9)


def test_joint_probability_repeats_itself_and_knows_certainty():
    shared = [[0.3, 0.2], [0.1, -0.2]]
    twice = [
        joint_probability(values=[0.1, 0.2], own=[0.1, 0.1], shared=shared, minimum=0.0, maximum=1.0)
        for _ in range(2)
    ]
    assert twice[0] == twice[1]
    assert joint_probability(values=[0.5], own=[0.0], shared=[], minimum=0.0, maximum=1.0) == 1.0
    assert joint_probability(values=[1.5], own=[0.0], shared=[], minimum=0.0, maximum=1.0) == 0.0
    with pytest.raises(ValueError, match="one number"):
        joint_probability(values=[0.5, 0.4], own=[0.1], shared=[], minimum=0.0, maximum=1.0)


@given(st.floats(0.5, 0.999), st.one_of(st.floats(1.0, 200.0), st.just(math.inf)))
def test_students_t_against_scipy_stats(confidence, dof):
    expected = stats.t.ppf((1 + confidence) / 2, dof)
    assert statistics.students_t(confidence=confidence, dof=dof) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("n", [2, 5, 30, 200])
@pytest.mark.parametrize("population", [0.5, 0.9, 0.99])
def test_tolerance_factor_covers_as_often_as_it_says(n, population):
    factor = statistics.tolerance_factor(n=n, population=population, confidence=0.95)
    shift = n**0.5 * stats.norm.ppf(population)
    assert stats.nct.cdf(factor * n**0.5, n - 1, shift) == pytest.approx(0.95, abs=1e-7)


def test_scatter_between_lots_against_scipy_stats():
    generator = np.random.default_rng(3)
    lots = [generator.normal(mean, 1.0, size) for mean, size in [(0.0, 5), (0.5, 8), (1.5, 3)]]
    expected = stats.f_oneway(*lots)
    found = statistics.between_lots_f(lots=lots)
    assert found == pytest.approx((expected.statistic, expected.pvalue), rel=1e-10)
    assert statistics.between_lots_f(lots=[[1.0, 1.0], [2.0, 2.0]]) == (math.inf, 0.0)
    assert statistics.between_lots_f(lots=[[1.0, 1.0], [1.0, 1.0]]) == (0.0, 1.0)
    with pytest.raises(ValueError, match="two lots or more"):
        statistics.between_lots_f(lots=[[1.0, 2.0]])


def test_welch_satterthwaite_needs_no_finite_degrees():
    assert statistics.welch_satterthwaite(contributions=[1.0, 2.0], dofs=[math.inf, math.inf]) == math.inf
    assert statistics.welch_satterthwaite(contributions=[0.0, 2.0], dofs=[3, 7]) == pytest.approx(7.0)
    column = statistics.welch_satterthwaite(contributions=[np.array([1.0, 0.0]), 1.0], dofs=[4, math.inf])
    assert column.tolist() == [16.0, math.inf]


def test_a_far_value_is_found_and_a_level_row_has_none():
    values = [10.1, 10.0, 9.9, 10.0, 12.0, 10.1]
    residuals = statistics.normed_residuals(values=values)
    assert residuals.argmax() == 4
    assert residuals.max() > statistics.critical_normed_residual(n=6)
    assert not statistics.normed_residuals(values=[2.0] * 5).any()
    for ask in (statistics.critical_normed_residual, statistics.tolerance_factor):
        with pytest.raises(ValueError, match="got 1"):
            ask(n=1, **({"population": 0.9} if ask is statistics.tolerance_factor else {}))


@pytest.mark.parametrize(
    ("limits", "expected"), [((8.0, None), 4 / 3), ((None, 20.0), 2 / 3), ((8.0, 20.0), 2 / 3)]
)
def test_capability_takes_the_nearer_limit(limits, expected):
    minimum, maximum = limits
    found = statistics.capability(mean=16.0, deviation=2.0, minimum=minimum, maximum=maximum)
    assert found == pytest.approx(expected)
    with pytest.raises(ValueError, match="a scatter"):
        statistics.capability(mean=16.0, deviation=0.0, minimum=minimum, maximum=maximum)


def test_signals_of_a_chart_are_rare_in_noise_and_there_when_made():
    level = [0.1, -0.2, 0.3, -0.1, 0.2, -0.3, 0.15, -0.25, 0.3, 0.1, -0.1]
    signals = [
        control_chart.beyond_limits(values=level, centre=0.0, sigma=0.3),
        control_chart.nine_on_one_side(values=level, centre=0.0),
        control_chart.six_rising_or_falling(values=level),
        control_chart.fourteen_alternating(values=level),
        control_chart.two_of_three_beyond_two_sigma(values=level, centre=0.0, sigma=0.3),
        control_chart.four_of_five_beyond_one_sigma(values=level, centre=0.0, sigma=0.3),
    ]
    assert signals == [[], [], [], [], [], []]
    assert control_chart.nine_on_one_side(values=[1.0] * 8 + [-1.0] + [1.0] * 8, centre=0.0) == []
    assert control_chart.six_rising_or_falling(values=[6, 5, 4, 3, 2, 1, 0]) == [5, 6]
    assert control_chart.six_rising_or_falling(values=[1, 2, 3, 3, 4, 5]) == []
    assert control_chart.two_of_three_beyond_two_sigma(values=[2.1, -2.1, 0.0], centre=0.0, sigma=1.0) == []
    assert control_chart.four_of_five_beyond_one_sigma(values=[-1.1] * 4, centre=0.0, sigma=1.0) == []
    assert control_chart.four_of_five_beyond_one_sigma(values=[-1.1] * 5, centre=0.0, sigma=1.0) == [4]
    with pytest.raises(ValueError, match=r"2 .* got 1"):
        control_chart.control_limits_individuals(values=[1.0])


def by_brute_force(values, own, shared, limits, allowed, mean, points=2**15):
    """The chance over a scrambled Sobol sequence of what is shared, and of the average's chi squared."""
    m = len(shared)
    share = stats.qmc.Sobol(m + 1, rng=np.random.default_rng(3)).random(points)
    z = stats.norm.ppf(np.clip(share[:, :m], 1e-15, 1 - 1e-15))
    law = stats.norm(values + z @ shared, own)
    inside = law.cdf(limits[1]) - law.cdf(limits[0])
    few = np.zeros((points, allowed + 1))
    few[:, 0] = 1.0
    for p in inside.T:
        few[:, 1:] = few[:, 1:] * p[:, None] + few[:, :-1] * (1 - p)[:, None]
        few[:, 0] *= p
    stretch = 1.0 if math.isinf(mean.dof) else np.sqrt(mean.dof / stats.chi2.ppf(share[:, m], mean.dof))
    law = stats.norm(mean.value + stretch * (z @ mean.shared), stretch * mean.own)
    return (few.sum(axis=1) * (law.cdf(mean.maximum) - law.cdf(mean.minimum))).mean()


@pytest.mark.parametrize("dof", [1.0, 3.7, 30.0, math.inf])
@pytest.mark.parametrize("allowed", [0, 1])
@pytest.mark.parametrize("away", [0.7, 1.5, 3.0])
def test_individuals_and_their_average_against_brute_force(dof, allowed, away):
    """Two shared sources, limits so many standard uncertainties away: chances from a third to near 1."""
    generator = np.random.default_rng(int(10 * away) + allowed)
    shared = np.array([[0.5], [0.3]]) * (1 + 0.1 * generator.standard_normal((2, 6)))
    own, values = np.full(6, 0.4), 0.2 * generator.standard_normal(6)
    whole = math.hypot(0.4, 0.5, 0.3)
    mean = Mean(
        values.mean(), 0.4 / 6**0.5, shared.mean(axis=1), dof, -0.8 * away * whole, 0.7 * away * whole
    )
    limits = (-1.2 * away * whole, away * whole)
    found = joint_probability(
        values=values, own=own, shared=shared, minimum=limits[0], maximum=limits[1],
        allowed_outside=allowed, mean=mean,
    )  # fmt: skip
    assert found == pytest.approx(by_brute_force(values, own, shared, limits, allowed, mean), abs=2e-4)


@pytest.mark.parametrize(("n", "said"), [(90, True), (200, False)])
def test_where_many_share_many_sources_it_cannot_be_said(n, said):
    """Four strong unlike sources: the lattice takes up to a hundred individuals that may be outside."""
    shared = np.random.default_rng(7).standard_normal((4, n))
    mean = Mean(0.0, 0.1, shared.mean(axis=1), 5.0, -1.0, 1.0)
    found = joint_probability(
        values=np.zeros(n), own=np.full(n, 0.1), shared=shared, minimum=-3.0, maximum=3.0, mean=mean
    )
    assert (found is not None and 0.0 < found < 1.0) is said


@pytest.mark.parametrize("weak", [0.1, 0.29])
def test_a_weak_direction_widens_one_value_once(weak):
    """By the normal distribution: its own part and what it shares add as squares."""
    found = joint_probability(values=[1.0], own=[1.0], shared=[[weak]], minimum=None, maximum=2.0)
    assert found == pytest.approx(stats.norm.cdf(1.0 / np.hypot(1.0, weak)), abs=1e-6)


def test_what_is_not_known_is_inside_no_limit():
    """An end that was not read is infinite, and so is a ± that nobody knows."""
    assert conformity.decide(value=math.inf, expanded=0.1, minimum=None, maximum=2.0) == "does not conform"
    assert conformity.decide(value=1.0, expanded=math.inf, minimum=None, maximum=2.0) == "undecided"
    assert (
        conformity.decide(value=math.nan, expanded=0.1, minimum=None, maximum=2.0)
        == conformity.decide(value=1.0, expanded=math.nan, minimum=None, maximum=2.0)
        == "undecided"
    )
