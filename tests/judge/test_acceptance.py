"""Values against limits: guard bands, limits without room, probabilities by brute force."""

import math

import numpy as np
import pytest
from scipy import stats

from laminate.formulas.conformity import (
    CONFORMS,
    FAILS,
    UNDECIDED,
    decide,
    has_acceptance_interval,
    probability_of_conformity,
)
from laminate.formulas.joint_conformity import joint_probability
from laminate.judging.acceptance import CANNOT, MISFIT, Reading, acceptance_of, both, room_for
from tests.messages.wording import reads


def reading(value, u=0.01, *, k=2.0, name="1", shared=None, dof=math.inf):
    shared = shared or {}
    own = math.sqrt(u**2 - sum(c * c for c in shared.values()))
    return Reading(name, value, u, dof, k, shared, own)


def against(*readings, low=None, high=None, guard=1.0, attribute="fiber_volume", allowed=0):
    return acceptance_of(
        readings, minimum=low, maximum=high, guard=guard, attribute=attribute, allowed_outside=allowed
    )


def test_the_risk_at_the_edge_of_the_acceptance_interval():
    """ILAC-G8:09/2019, 4.2.3: with w = U (k = 2) the probability of a false accept there is 2.28 %."""
    held = against(reading(0.60 - 0.02), high=0.60)
    assert held.decision == CONFORMS
    assert round(100 * (1 - held.probability), 2) == 2.28
    assert against(reading(0.60 - 0.02 + 1e-9), high=0.60).decision == UNDECIDED


MEAN = (1.93e-3 + 1.94e-3 + 1.95e-3) / 3
KELVIN = 125 + 273.15


@pytest.mark.parametrize(
    ("value", "expanded", "low", "high", "guard", "decision"),
    [
        (MEAN, 0.018e-3, None, 1.94e-3, 0.0, CONFORMS),
        (MEAN + 1e-8, 0.018e-3, None, 1.94e-3, 0.0, FAILS),
        (KELVIN, 0.0, None, (257 + 459.67) / 1.8, 1.0, CONFORMS),
        (KELVIN + 1e-4, 0.0, None, (257 + 459.67) / 1.8, 1.0, FAILS),
        (KELVIN, 0.0, (257 + 459.67) / 1.8, None, 1.0, CONFORMS),
        (0.1, 0.2, None, 0.3, 1.0, CONFORMS),  # 0.3 - 0.2 is less than 0.1 in binary numbers
        (0.1, 0.2, None, 0.3 - 1e-7, 1.0, UNDECIDED),
        (0.3, 0.2, None, 0.1, 1.0, UNDECIDED),  # by the guard band, not by more
        (0.3 + 1e-7, 0.2, None, 0.1, 1.0, FAILS),
        (0.0, 0.2, None, 0.3 - 0.1, 1.0, CONFORMS),
        (math.nan, 0.2, None, 0.1, 1.0, UNDECIDED),
        (0.1, math.nan, None, 0.3, 1.0, UNDECIDED),
    ],
)
def test_what_is_equal_but_for_rounding_is_equal(value, expanded, low, high, guard, decision):
    """JCGM 106:2012, 8.3: inside by the guard band conforms, and binary numbers round."""
    limits = {"minimum": low, "maximum": high}
    assert decide(value=value, expanded=expanded, guard=guard, **limits) == decision
    if not expanded:
        chance = probability_of_conformity(value=value, standard_uncertainty=0.0, **limits)
        assert chance == float(decision == CONFORMS)
        alike = {"values": [value] * 2, "own": [0.0] * 2, "shared": [], **limits}
        assert joint_probability(**alike) == chance


def test_a_limit_leaves_room_for_a_guard_band_that_just_fits():
    exact = {"minimum": 0.1, "maximum": 0.3}
    assert has_acceptance_interval(expanded=0.1, **exact)
    assert has_acceptance_interval(expanded=0.1 * (1 + 1e-12), **exact)
    assert not has_acceptance_interval(expanded=0.1 + 1e-7, **exact)
    assert not has_acceptance_interval(expanded=0.01 + 1e-9, minimum=None, maximum=0.01, hard_minimum=0.0)


def test_on_a_limit_but_for_rounding_nothing_is_to_be_improved():
    assert against(reading(MEAN), high=1.94e-3).margin(reading(MEAN)) == 0.0
    assert against(reading(1.95e-3), high=1.94e-3).margin(reading(1.95e-3)) == pytest.approx(-1e-5)


@pytest.mark.parametrize(
    ("low", "high", "attribute", "room"),
    [
        (0.56, 0.62, "fiber_volume", 0.03),  # half of what lies between two limits
        (None, 0.62, "fiber_volume", 0.62),  # a share is not below zero
        (0.56, None, "fiber_volume", 0.44),  # nor above one
        (None, 0.62, "density", 0.62),
        (0.56, None, "density", math.inf),
        (None, 0.62, "hardness", math.inf),  # of a process: nothing is known of it
    ],
)
def test_the_room_that_limits_leave_for_a_guard_band(low, high, attribute, room):
    """JCGM 106:2012, 8.3.2: the acceptance interval lies inside both limits by the guard band."""
    assert room_for(low, high, attribute) == pytest.approx(room, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "guarded", "simple"),
    [
        (0.555, UNDECIDED, FAILS),
        (0.5399, FAILS, FAILS),
        (0.56, UNDECIDED, CONFORMS),
        (0.575, UNDECIDED, CONFORMS),
        (0.59, CONFORMS, CONFORMS),
        (0.62, UNDECIDED, CONFORMS),
        (0.6401, FAILS, FAILS),
    ],
)
def test_guarded_and_simple_acceptance(value, guarded, simple):
    """JCGM 106:2012, 8.2 and 8.3: w = U or 0, limits 0.56 to 0.62, U 0.02."""
    assert against(reading(value), low=0.56, high=0.62).decision == guarded
    assert against(reading(value), low=0.56, high=0.62, guard=0.0).decision == simple


def test_half_a_guard_band():
    assert against(reading(0.571), low=0.56, guard=0.5).decision == CONFORMS
    assert against(reading(0.569), low=0.56, guard=0.5).decision == UNDECIDED


@pytest.mark.parametrize(
    ("value", "decision", "reasons"),
    [(0.004, UNDECIDED, (CANNOT,)), (0.019, UNDECIDED, (CANNOT,)), (0.0202, FAILS, ()), (0.05, FAILS, ())],
)
def test_no_room_above_the_natural_bound(value, decision, reasons):
    """Void content at most 1 % with U = 1.01 %: nothing can be accepted, far outside stays outside."""
    held = against(reading(value, 0.00505), high=0.01, attribute="void_content")
    assert (held.decision, held.reasons) == (decision, reasons)
    assert held.room == (pytest.approx(0.01) if CANNOT in reasons else None)


@pytest.mark.parametrize(
    ("low", "high", "value", "decision"),
    [
        (0.56, 0.62, 0.59, UNDECIDED),
        (0.56, 0.62, 0.66, FAILS),
        (0.97, None, 0.98, UNDECIDED),
        (None, 0.62, 0.3, CONFORMS),
    ],
)
def test_no_room_between_two_limits(low, high, value, decision):
    """U = 3.1 % of fiber volume between 56 and 62 %, or above 97 % of what cannot exceed 100."""
    held = against(reading(value, 0.0155), low=low, high=high)
    assert held.decision == decision
    assert (CANNOT in held.reasons) == (decision == UNDECIDED)


@pytest.mark.parametrize(
    ("value", "decision"), [(-0.0101, UNDECIDED), (-0.0099, CONFORMS), (0.0, CONFORMS), (-0.05, UNDECIDED)]
)
def test_below_minus_two_u_the_densities_do_not_fit(value, decision):
    held = against(reading(value, 0.005), high=0.02, attribute="void_content")
    assert held.decision == decision
    assert (MISFIT in held.reasons) == (decision == UNDECIDED)
    assert (held.probability is None) == (decision == UNDECIDED)
    assert reads("judge: below minus two u the densities do", MISFIT)


def test_a_misfit_is_not_hidden_by_a_coupon_that_may_be_outside():
    held = against(
        reading(-0.02, 0.005), reading(0.005, 0.005), high=0.02, attribute="void_content", allowed=1
    )
    assert held.decision == UNDECIDED


@pytest.mark.parametrize(
    ("values", "allowed", "decision"),
    [
        ((0.59, 0.60, 0.50), 0, FAILS),
        ((0.59, 0.60, 0.50), 1, CONFORMS),
        ((0.59, 0.565, 0.50), 1, UNDECIDED),
        ((0.59, 0.50, 0.50), 1, FAILS),
        ((0.59, 0.565, 0.60), 1, CONFORMS),
        ((0.59, 0.565, 0.565), 1, UNDECIDED),
    ],
)
def test_how_many_individuals_may_be_outside(values, allowed, decision):
    held = against(*(reading(v, name=str(v)) for v in values), low=0.56, allowed=allowed)
    assert held.decision == decision


SHARED = {"fiber density": 0.006, "resin density": -0.003}


def brute(values, shared, own, low, high, allowed, draws=400_000):
    """Draw what is shared once a batch, the rest for each; tell the batches with few enough outside."""
    generator = np.random.default_rng(7)
    together = generator.standard_normal((draws, len(shared))) @ np.array(list(shared.values()))
    true = np.array(values) + together[:, None] + own * generator.standard_normal((draws, len(values)))
    return ((true < low) | (true > high)).sum(axis=1) <= allowed, true


@pytest.mark.parametrize("allowed", [0, 1, 2])
@pytest.mark.parametrize(
    "values", [(0.565, 0.57, 0.575, 0.58), (0.56, 0.61, 0.59, 0.62), (0.55, 0.63, 0.56, 0.6)]
)
def test_probability_of_several_individuals_by_brute_force(values, allowed):
    readings = [reading(v, 0.01, name=str(i), shared=SHARED) for i, v in enumerate(values)]
    held = against(*readings, low=0.56, high=0.62, allowed=allowed)
    counted, _ = brute(values, SHARED, readings[0].own, 0.56, 0.62, allowed)
    assert held.probability == pytest.approx(counted.mean(), abs=0.006)


def test_probability_of_individuals_and_average_together_by_brute_force():
    """Given what is shared, the average has its own scatter of 0.004."""
    values, scatter = (0.575, 0.585, 0.59), 0.004
    readings = [reading(v, 0.01, name=str(i), shared=SHARED) for i, v in enumerate(values)]
    mean = Reading("average", 0.5833, math.hypot(scatter, *SHARED.values()), math.inf, 2.0, SHARED, scatter)
    individual = against(*readings, low=0.56, high=0.62)
    average = against(mean, low=0.575, high=0.61)
    generator = np.random.default_rng(8)
    draws = 400_000
    together = generator.standard_normal((draws, 2)) @ np.array(list(SHARED.values()))
    one = np.array(values) + together[:, None] + readings[0].own * generator.standard_normal((draws, 3))
    whole = 0.5833 + together + scatter * generator.standard_normal(draws)
    counted = ((one > 0.56) & (one < 0.62)).all(axis=1) & (whole > 0.575) & (whole < 0.61)
    assert both(individual, average) == pytest.approx(counted.mean(), abs=0.006)


@pytest.mark.parametrize("dof", [2.0, 4.4, 30.0, math.inf])
def test_an_average_among_individuals_keeps_the_distribution_that_it_has_alone(dof):
    """Individuals that are inside for certain: together is the average alone, Student's t with its dof."""
    wide = against(*(reading(0.58, 0.01, name=str(i), shared=SHARED) for i in range(3)), low=0.1, high=0.9)
    mean = Reading("average", 0.578, math.hypot(0.004, *SHARED.values()), dof, 2.0, SHARED, 0.004)
    average = against(mean, low=0.575, high=0.61)
    alone = stats.t.cdf(0.61, dof, 0.578, mean.u) - stats.t.cdf(0.575, dof, 0.578, mean.u)
    assert average.probability == pytest.approx(alone, abs=1e-9)
    assert both(wide, average) == pytest.approx(alone, abs=0.006)


@pytest.mark.parametrize("dof", [2.0, 6.0])
def test_individuals_and_an_average_with_few_degrees_of_freedom_by_brute_force(dof):
    """The truth of the average is a draw of Student's t around it that goes with what the coupons share."""
    values, scatter, draws = (0.571, 0.585, 0.59), 0.004, 400_000
    readings = [reading(v, 0.01, name=str(i), shared=SHARED) for i, v in enumerate(values)]
    mean = Reading("average", 0.582, math.hypot(scatter, *SHARED.values()), dof, 2.0, SHARED, scatter)
    individual, average = against(*readings, low=0.56, high=0.62), against(mean, low=0.575, high=0.61)
    generator = np.random.default_rng(9)
    together = generator.standard_normal((draws, 2)) @ np.array(list(SHARED.values()))
    one = np.array(values) + together[:, None] + readings[0].own * generator.standard_normal((draws, 3))
    stretch = np.sqrt(dof / generator.chisquare(dof, draws))
    whole = 0.582 + stretch * (together + scatter * generator.standard_normal(draws))
    counted = ((one > 0.56) & (one < 0.62)).all(axis=1) & (whole > 0.575) & (whole < 0.61)
    assert both(individual, average) == pytest.approx(counted.mean(), abs=0.006)


def test_nothing_shared_leaves_a_product():
    individual = against(reading(0.565, 0.01), low=0.56)
    average = against(Reading("average", 0.58, 0.01, 2.0, 4.3, {}, 0.01), low=0.575)
    expected = individual.probability * stats.t.cdf(0.5, 2.0)
    assert both(individual, average) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("low", "high"), [(0.56, None), (None, 0.60), (0.56, 0.598)])
@pytest.mark.parametrize("allowed", [0, 1])
def test_coupons_that_share_nothing_keep_their_few_degrees_of_freedom(low, high, allowed):
    """Eight values that scatter each by its own Student's t of 4 degrees: a sum over binomial products."""
    values = [0.570 + 0.002 * (i % 3) for i in range(8)]
    held = against(*(reading(v, dof=4.0, name=str(v)) for v in values), low=low, high=high, allowed=allowed)
    ends = (-math.inf if low is None else low, math.inf if high is None else high)
    alone = [stats.t.cdf(ends[1], 4.0, v, 0.01) - stats.t.cdf(ends[0], 4.0, v, 0.01) for v in values]
    expected = math.prod(alone)
    if allowed:
        expected += sum(math.prod(alone) / p * (1.0 - p) for p in alone)
    assert held.probability == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("dof", [1.0, 4.0, 90.0, 1e3, 1e6])
@pytest.mark.parametrize("away", [-1e9, -40.0, -8.0, 0.0, 8.0, 40.0, 1e9])
def test_limits_however_far_leave_a_chance(dof, away):
    """Two values so many u inside or outside of one limit, and far inside of the other."""
    values, limit = [0.5, 0.5 + 1e-6], 0.5 - away * 1e-6
    held = against(*(reading(v, 1e-6, dof=dof, name=str(v)) for v in values), low=limit)
    alone = [stats.t.cdf((v - limit) / 1e-6, dof) for v in values]
    assert held.probability == pytest.approx(math.prod(alone), rel=1e-6, abs=1e-12)
    both_sides = against(*(reading(v, 1e-6, dof=dof, name=str(v)) for v in values), low=limit, high=0.9)
    assert both_sides.probability == pytest.approx(math.prod(alone), rel=1e-6, abs=1e-4 if dof == 1 else 1e-9)


def test_coupons_that_share_all_their_few_degrees_are_one():
    """One cause of 3 degrees moves all: the chance is that of the nearest to the limit, Student's t."""
    values = (0.575, 0.58, 0.585)
    readings = [reading(v, shared={"blank": 0.01}, dof=3.0, name=str(v)) for v in values]
    assert against(*readings, low=0.56).probability == pytest.approx(stats.t.cdf(1.5, 3.0), abs=1e-4)
    two_sided = stats.t.cdf(1.5, 3.0) - stats.t.cdf(-1.5, 3.0)
    assert against(*readings, low=0.56, high=0.60).probability == pytest.approx(two_sided, abs=1e-4)


@pytest.mark.parametrize("dof", [3.0, 9.0])
def test_a_scale_that_coupons_share_is_never_told_more_certain_than_it_is(dof):
    """One repeatability known with few degrees for all ten coupons: JCGM 101, 6.4.9, drawn with one scale."""
    generator, draws = np.random.default_rng(3), 200_000
    scale = np.sqrt(dof / generator.chisquare(dof, (draws, 1)))
    truth = 0.58 + 0.01 * scale * generator.standard_normal((draws, 10))
    counted = float((truth > 0.555).all(axis=1).mean())
    held = against(*(reading(0.58, dof=dof, name=str(i)) for i in range(10)), low=0.555)
    assert held.probability is not None
    assert 0.5 < held.probability < counted + 0.005


def test_one_value_for_both_is_held_to_the_narrower_limits():
    """One planned coupon stands for the average too: one value, four limits."""
    lone = reading(0.58, 0.01)
    individual, average = against(lone, low=0.55, high=0.60), against(lone, low=0.57, high=0.62)
    assert both(individual, average, of_one=True) == pytest.approx(
        stats.norm.cdf(2.0) - stats.norm.cdf(-1.0), rel=1e-9
    )


def test_what_is_shared_makes_the_many_no_less_likely_than_the_one():
    """Ten coupons alike that share everything conform together or not at all."""
    shared = {"fiber density": 0.01}
    one = against(reading(0.57, 0.01, shared=shared), low=0.56).probability
    ten = against(*(reading(0.57, 0.01, name=str(i), shared=shared) for i in range(10)), low=0.56).probability
    apart = against(*(reading(0.57, 0.01, name=str(i)) for i in range(10)), low=0.56).probability
    assert ten == pytest.approx(one, abs=1e-3)
    assert apart == pytest.approx(one**10, rel=1e-6)


def test_a_column_of_values_is_decided_as_each_alone():
    values = np.linspace(0.5, 0.7, 41)
    column = decide(value=values, expanded=0.02, minimum=0.56, maximum=0.62)
    chances = probability_of_conformity(value=values, standard_uncertainty=0.01, minimum=0.56, maximum=0.62)
    for value, decision, chance in zip(values, column, chances, strict=True):
        held = against(reading(float(value)), low=0.56, high=0.62)
        assert (held.decision, held.probability) == (decision, pytest.approx(chance, abs=1e-15))


def test_a_source_that_one_reading_has_alone_correlates_nothing():
    """Independent readings: the chance that both are inside is the product of theirs."""
    one, other = reading(0.575, shared={"calibration": 0.006}), reading(0.612, name="2")
    alone = [against(each, low=0.56, high=0.62).probability for each in (one, other)]
    together = against(one, other, low=0.56, high=0.62).probability
    assert together == pytest.approx(alone[0] * alone[1], abs=2e-4)


@pytest.mark.parametrize(("allowed", "chance"), [(0, 0.51341), (1, 0.83353), (2, 0.85748)])
def test_rounding_counts_to_the_side_that_makes_the_chance_smaller(allowed, chance):
    """By hand: six of a display of 0.01 mm, own and shared scatter 0.0005 mm, the binomial sum integrated.

    Rounded each to its own side 0.5134, 0.8778, 0.9841; rounded together 0.8002, 0.8335, 0.8575.
    """
    step = 0.01 / math.sqrt(12.0)
    readings = [
        Reading(
            "c", value, math.hypot(step, 0.0005, 0.0005), math.inf, 2.0, {"calibration": 0.0005},
            math.hypot(step, 0.0005), rounding={"display": step},
        )
        for value in (2.85, 2.85, 2.86, 2.86, 2.86, 2.86)
    ]  # fmt: skip
    held = acceptance_of(
        readings, minimum=None, maximum=2.863, guard=0.0, attribute="thickness", allowed_outside=allowed
    )
    assert held.probability == pytest.approx(chance, abs=2e-4)


def test_the_worst_reading_is_an_undecided_one_where_there_is_any():
    far, near = reading(0.70, name="outside"), reading(0.595, name="near")
    held = against(far, near, reading(0.50, name="inside"), high=0.60, allowed=1)
    assert held.decisions == (FAILS, UNDECIDED, CONFORMS)
    assert held.worst.name == "near"
    assert against(far, reading(0.50, name="inside"), high=0.60, allowed=1).worst.name == "outside"
