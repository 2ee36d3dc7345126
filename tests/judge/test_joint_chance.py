"""The chance that all characteristics hold at once, against draws, closed forms and its bounds."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from laminate.coupons.methods import POINTS
from laminate.judging.acceptance import Reading, acceptance_of
from laminate.judging.joint_chance import chance_together, correlations


def average(value, own, shared, minimum=None, maximum=None, dof=math.inf):
    """A characteristic whose average is held against limits."""
    u = math.hypot(own, *shared.values())
    held = acceptance_of(
        [Reading("average", value, u, dof, 2.0, shared, own)],
        minimum=minimum, maximum=maximum, guard=1.0, attribute="",
    )  # fmt: skip
    return SimpleNamespace(individual=None, average=held, probability=held.probability)


def test_nothing_shared_multiplies():
    ones = [average(0.5, 1.0, {}, minimum=0.0), average(0.2, 1.0, {}, maximum=1.0)]
    assert chance_together(ones) == pytest.approx(stats.norm.cdf(0.5) * stats.norm.cdf(0.8), abs=1e-4)


def test_all_shared_is_the_smallest_or_what_is_left_between():
    up, down = {"a": 1.0}, {"a": -1.0}
    same = [average(0.0, 0.0, up, minimum=0.0), average(0.0, 0.0, up, minimum=-1.0)]
    assert chance_together(same) == pytest.approx(0.5, abs=1e-4)
    against = [average(0.0, 0.0, up, minimum=0.0), average(0.0, 0.0, down, minimum=-1.0)]
    assert chance_together(against) == pytest.approx(stats.norm.cdf(1.0) - 0.5, abs=1e-4)


def test_a_quadrant_of_two_correlated():
    """Closed form 1/4 + asin(r)/(2 pi) (Sheppard 1899, second-hand)."""
    for sign in (1.0, -1.0):
        ones = [
            average(0.0, 0.6, {"a": 0.8}, minimum=0.0),
            average(0.0, 0.8, {"a": sign * 0.6}, minimum=0.0),
        ]
        exact = 0.25 + math.asin(sign * 0.48) / (2 * math.pi)
        assert chance_together(ones) == pytest.approx(exact, abs=2e-4)


def test_against_draws_of_three_with_two_sided_limits():
    shared = [{"a": 0.5, "b": -0.4}, {"a": -0.7, "c": 0.3}, {"b": 0.6, "c": 0.5}]
    own, values = [0.3, 0.4, 0.2], [0.4, -0.1, 0.3]
    limits = [(0.0, 1.5), (-0.9, 0.6), (None, 0.9)]
    ones = [average(v, o, s, *pair) for v, o, s, pair in zip(values, own, shared, limits, strict=True)]
    rng = np.random.default_rng(5)
    z = {name: rng.standard_normal(1_000_000) for name in "abc"}
    inside = np.ones(1_000_000, dtype=bool)
    for v, o, s, (low, high) in zip(values, own, shared, limits, strict=True):
        true = v + o * rng.standard_normal(1_000_000) + sum(c * z[name] for name, c in s.items())
        inside &= (true >= (-np.inf if low is None else low)) & (true <= (np.inf if high is None else high))
    assert chance_together(ones) == pytest.approx(inside.mean(), abs=2e-3)


def test_each_keeps_its_own_chance_and_none_stands_above_the_smallest():
    few = average(0.5, 1.0, {}, minimum=0.0, dof=2.0)
    assert chance_together([few]) == pytest.approx(stats.t.cdf(0.5, 2), abs=1e-6)
    sure = average(40.0, 1.0, {}, minimum=0.0)
    assert chance_together([few, sure]) == pytest.approx(few.probability, abs=1e-6)
    assert chance_together([few, sure]) <= few.probability


def test_what_is_surely_outside_leaves_no_chance():
    """Also an exact value outside, and values at hundreds of u."""
    good = average(0.5, 1.0, {"a": 0.2}, minimum=0.0)
    for own, far in ((0.0, 1.0), (1e-3, 1.0), (1.0, 400.0)):
        for bad in (average(far, own, {}, maximum=0.0), average(-far, own, {}, minimum=0.0, maximum=5.0)):
            assert chance_together([good, bad]) == pytest.approx(0.0, abs=1e-12)
    exact = average(0.5, 0.0, {}, minimum=0.0, maximum=1.0)
    assert chance_together([good, exact]) == pytest.approx(good.probability, abs=1e-9)


def test_without_a_chance_of_one_there_is_none_of_all():
    unknown = SimpleNamespace(individual=None, average=None, probability=None)
    assert chance_together([average(1.0, 1.0, {}, minimum=0.0), unknown]) is None
    assert chance_together([]) is None


def zone_of(*pairs, method="digestion"):
    """A zone of coupons with the contributions to fiber volume and to voids."""
    methods = {"fiber_volume": method, "void_content": method}
    specimens = [
        SimpleNamespace(
            name=f"F{i}",
            every={
                (attribute, method): SimpleNamespace(contributions=lambda c=c: c)
                for attribute, c in zip(methods, pair, strict=True)
            },
        )
        for i, pair in enumerate(pairs)
    ]
    return SimpleNamespace(zone="web", methods=methods, counted=lambda attribute: specimens)


def test_the_correlation_of_fiber_volume_and_voids_is_that_of_draws():
    fiber, voids = {"a": 0.4, "b": -0.3, "c": 0.2}, {"a": -0.1, "b": 0.5, "d": 0.3}
    rng = np.random.default_rng(6)
    z = {name: rng.standard_normal(400_000) for name in "abcd"}
    drawn = [sum(c * z[name] for name, c in one.items()) for one in (fiber, voids)]
    (found,) = correlations([zone_of((fiber, voids))])
    assert found.value == pytest.approx(np.corrcoef(drawn)[0, 1], abs=6e-3)
    (mean,) = correlations([zone_of((fiber, voids), (fiber, {name: -c for name, c in voids.items()}))])
    assert mean.value == pytest.approx(0.0, abs=1e-12)
    assert list(correlations([zone_of(({"a": 0.0}, voids))])) == []


def test_points_counted_tell_no_correlation():
    """Fiber and voids scatter between fields each by itself: one name of both made it 1.00."""
    fields = {"scatter between fields": 0.4}, {"scatter between fields": 0.2}
    assert list(correlations([zone_of(fields, fields, method=POINTS)])) == []
