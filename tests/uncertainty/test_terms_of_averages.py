"""Averages term by term: what adds, what averages out, and which Student's t each term carries.

Banerjee, Sankhya 22 (1960) 247 (second-hand): U squared is the sum of the squared terms, each with the t of
its own degrees of freedom. Values of t from a table (NIST/SEMATECH e-Handbook, 1.3.6.7.2): 4.303 at 2,
2.776 at 4, 2.228 at 10, all two-sided at 95 %.
"""

import math

import numpy as np
import pytest

import laminate as lam
from laminate.formulas.statistics import students_t
from laminate.values.averages import SCATTER, Average, average, over_zones
from laminate.values.uncertainty import Result, Scalars, Source, numerical_tolerance, sources_of
from laminate.values.units import SIValue

T = {2: 4.3027, 4: 2.7764, 10: 2.2281, math.inf: 1.95996}
COMMON = Source("calibration", {"mass": 1.0}, dof=4)
READING = Source("reading", {"mass": 1.0}, dof=10, shared=False)
STEP = Source("last decimal", {"mass": 1.0}, rounded=True)


def rows(values, shared, own, rounding=0.0):
    """A result of rows, with one shared source, one of each row, and the rounding of its column."""
    each = [[shared] * len(values), [own] * len(values), [rounding] * len(values)]
    return Result(np.array(values), np.array(each), (COMMON, READING, STEP))


def test_the_scatter_of_three_rows_beside_a_shared_source():
    mean = average([rows([9.0, 10.0, 11.0], shared=0.4, own=0.1)])
    assert (mean.value, mean.n, mean.standard_deviation) == (pytest.approx(10.0), 3, pytest.approx(1.0))
    assert mean.standard_uncertainty == pytest.approx(math.sqrt(1.0 / 3 + 0.16), rel=1e-12)
    expanded = math.sqrt(T[2] ** 2 / 3 + (T[4] * 0.4) ** 2)
    assert mean.expanded(0.95) == pytest.approx(expanded, rel=1e-4)
    assert mean.coverage_factor(0.95) == pytest.approx(expanded / mean.u, rel=1e-4)
    assert (mean.dofs["calibration"], mean.dofs[SCATTER]) == (4, 2)
    assert mean.expanded(None, 2.0) == pytest.approx(2.0 * mean.u, rel=1e-12)
    assert mean.coverage_factor(None, 2.0) == 2.0


def test_rows_that_scatter_less_than_their_readings_carry_those():
    """s = 0.1 with t(2), against readings of 1.0 with t(10): the larger product is that of the readings."""
    mean = average([rows([9.9, 10.0, 10.1], shared=0.0, own=1.0)])
    assert mean.standard_uncertainty == pytest.approx(1.0 / math.sqrt(3.0), rel=1e-12)
    assert mean.expanded(0.95) == pytest.approx(T[10] / math.sqrt(3.0), rel=1e-4)


def test_a_rounding_adds_to_the_scatter_though_the_rows_are_equal():
    """s = 0: q of the last decimal stands for it with the t of the rows, and moves all rows alike besides."""
    mean = average([rows([10.0, 10.0, 10.0], shared=0.0, own=0.0, rounding=0.3)])
    assert mean.standard_uncertainty == pytest.approx(0.3 * math.sqrt(1.0 / 3 + 1.0), rel=1e-12)
    assert mean.expanded(0.95) == pytest.approx(0.3 * math.sqrt(T[2] ** 2 / 3 + T[math.inf] ** 2), rel=1e-4)


def test_a_scatter_of_nothing_but_the_arithmetic_is_none():
    values = [1.0, 1.0 + 4e-16, 1.0]
    mean = average([rows(values, shared=0.0, own=0.0)])
    assert mean.standard_deviation == 0.0
    assert (mean.u, mean.degrees_of_freedom()) == (0.0, math.inf)
    assert mean.coverage_factor(0.95) == pytest.approx(T[math.inf], rel=1e-4)


def test_a_figure_that_is_known_exactly_has_no_floor():
    """An own source of no size is no floor: it would lend its few degrees of freedom to nothing."""
    (scatter,) = average([rows([1.0, 2.0], shared=0.0, own=0.0)]).scatters
    assert scatter.own == ()


def test_two_zones_add_their_terms_by_their_share_of_the_rows():
    """Three rows and one part in four; a shared source moves both zones alike."""
    few = Source("calibration", {"mass": 1.0}, dof=2)
    web = average([rows([9.0, 10.0, 11.0], shared=0.4, own=0.0)])
    two = Result(np.array([20.0, 22.0]), np.array([[0.8, 0.8]]), (few,))
    skin = average([two])
    whole = over_zones([web, skin], [9.0, 10.0, 11.0, 20.0, 22.0])
    assert (whole.value, whole.n) == (pytest.approx(14.4), 5)
    assert whole.contributions["calibration"] == pytest.approx(0.6 * 0.4 + 0.4 * 0.8, rel=1e-12)
    assert whole.dofs["calibration"] == 2
    variance = 0.6**2 * 1.0 / 3 + 0.4**2 * 2.0 / 2
    assert whole.contributions[SCATTER] == pytest.approx(math.sqrt(variance), rel=1e-12)
    assert whole.standard_deviation == pytest.approx(np.std([9.0, 10.0, 11.0, 20.0, 22.0], ddof=1))
    t1 = 12.7062  # the same table, at 1
    expanded = 0.6**2 * T[2] ** 2 / 3 + 0.4**2 * t1**2 * 2.0 / 2 + (T[2] * 0.56) ** 2
    assert whole.expanded(0.95) == pytest.approx(math.sqrt(expanded), rel=1e-4)


def test_the_whole_of_two_rows_has_a_scatter():
    lone = [Average(value, 1, None) for value in (1.0, 3.0)]
    whole = over_zones(lone, [1.0, 3.0])
    assert whole.standard_deviation == pytest.approx(math.sqrt(2.0))
    assert over_zones(lone[:1], [1.0]).standard_deviation is None


def test_a_pooled_scatter_keeps_its_degrees_where_the_count_changes():
    mean = average([rows([9.0, 10.0, 11.0], shared=0.0, own=0.0)], pooled_deviation=(1.0, 10.0))
    assert (mean.outdone, mean.scatters[0].pooled) == (False, True)
    assert mean.of_count(6).expanded(0.95) == pytest.approx(T[10] / math.sqrt(6.0), rel=1e-4)
    own = average([rows([9.0, 10.0, 11.0], shared=0.0, own=0.0)])
    assert own.of_count(5).expanded(0.95) == pytest.approx(T[4] / math.sqrt(5.0), rel=1e-4)


def test_an_exact_value_is_no_source_and_a_common_number_is_one():
    exact = SIValue(2.0, text="2")
    one, other = (
        SIValue(v, text="", shared=(("thermometer", move),)) for v, move in ((5.0, 0.2), (7.0, -0.1))
    )
    (source,) = sources_of({"a": exact, "b": one, "c": other})
    assert (source.name, dict(source.moves)) == ("thermometer", {"b": 0.2, "c": -0.1})


def test_a_number_that_moves_two_inputs_is_one_variable():
    """Sum and difference of two inputs that one number moves by 0.2 and 0.2."""
    scalars = Scalars()
    one, other = (
        scalars.take(name, SIValue(v, text="", shared=(("thermometer", 0.2),)))
        for name, v in (("a", 5.0), ("b", 7.0))
    )
    assert (one + other).std_dev == pytest.approx(0.4, rel=1e-12)
    assert (other - one).std_dev == pytest.approx(0.0, abs=1e-15)
    assert one.std_dev == pytest.approx(0.2, rel=1e-12)


def test_one_significant_digit_is_the_default():
    """JCGM 101:2008, 7.9.2, examples: 2 K with one digit has 0.5 K, 0.00035 g has 0.00005 g."""
    assert numerical_tolerance(2.0) == 0.5
    assert numerical_tolerance(0.00035) == pytest.approx(0.00005, rel=1e-12)


@pytest.mark.parametrize(("variance", "more"), [(2.370, False), (2.374, True)])
def test_a_scatter_above_what_was_stated_has_one_degree_less_than_rows(variance, more):
    """Five rows, a stated scatter of 1: chi-square of 4 degrees at 95 % is 9.488 (table), over 4: 2.372."""
    values = 10.0 + math.sqrt(variance / 8.0) * np.array([-5.0, 1.0, 1.0, 1.0, 2.0])  # whose variance is 8
    assert average([rows(values, shared=0.0, own=0.0)], pooled_deviation=(1.0, math.inf)).outdone is more


def test_without_uncertainty_the_degrees_are_endless():
    found = Result(np.zeros(2), np.array([[0.0, 1.0]]), (Source("own", {}, dof=5.0),))
    assert found.covering_degrees(0.95) == pytest.approx([math.inf, 5.0])


def test_what_each_group_of_rows_saw_of_its_scatter_is_pooled():
    """JCGM 100:2008, G.4.1, example: 0.25, 0.57, 0.82 of 9, 4, 14 degrees of freedom have 19 together.

    t is 2.093 at 19 degrees of freedom (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    """
    seen = [Source("spread", {"mass": 1.0}, dof=dof, shared=False, estimate=dof) for dof in (9.0, 4.0, 14.0)]
    parts = [
        Result(np.array([10.0]), np.array([[own]]), (source,))
        for own, source in zip((0.25, 0.57, 0.82), seen, strict=True)
    ]
    mean = average(parts)
    (scatter,) = mean.scatters
    ((_, dof),) = scatter.own
    assert dof == pytest.approx(19.0, abs=0.05)
    assert mean.expanded(0.95) == pytest.approx(
        2.093 * math.sqrt((0.25**2 + 0.57**2 + 0.82**2) / 9), rel=1e-3
    )


def test_what_was_stated_once_is_not_known_better_by_more_groups():
    stated = [Source("each reading", {"mass": 1.0}, dof=4.0, shared=False)] * 2
    mean = average([Result(np.array([10.0]), np.array([[1.0]]), (source,)) for source in stated])
    assert mean.scatters[0].own == ((pytest.approx(1.0), 4.0),)


def test_a_computed_number_carries_the_t_of_each_input():
    """One of 2 degrees of freedom beside one that is known; the same by columns as by single numbers."""
    numbers = Scalars()
    few, known = (
        numbers.take(name, SIValue(1.0, u, dof))
        for name, u, dof in (("few", 0.3, 2.0), ("known", 0.4, math.inf))
    )
    factor = math.hypot(T[2] * 0.3, T[math.inf] * 0.4) / 0.5
    assert numbers.factor(few + known, confidence=0.95) == pytest.approx(factor, rel=1e-4)
    assert numbers.factor(few, confidence=0.95) == pytest.approx(T[2], rel=1e-4)
    assert numbers.factor(3.0, confidence=0.95) == pytest.approx(T[math.inf], rel=1e-4)
    sources = Source("few", {"mass": 1.0}, dof=2), Source("known", {"mass": 1.0})
    result = Result(np.array([2.0, 2.0]), np.array([[0.3, 0.0], [0.4, 0.0]]), sources)
    assert result.coverage_factor(0.95) == pytest.approx([factor, 0.0], rel=1e-4)


def test_a_predicted_thickness_carries_the_t_of_each_input():
    """10 plies of fibers weighed with one degree of freedom: t of one is 12.706 (e-Handbook, 1.3.6.7.2)."""
    lay = lam.predict(
        plies=10, fiber_areal_weight="150 g/m^2 ± 1.2 (standard, dof=1)",
        resin_content="35 % ± 0.6 (standard)",
        fiber_density="1.79 g/cm^3 ± 0.01 (k=2)", resin_density="1.22 g/cm^3 ± 0.01 (k=2)",
    ).to_dict()  # fmt: skip
    factors = {"areal_weight": 12.706}
    lines = ((line["key"][2], line["standard_uncertainty"]) for line in lay["budget"]["thickness"])
    expanded = math.hypot(*(factors.get(name, T[math.inf]) * size for name, size in lines))
    u, dof = (lay["thickness"][key] for key in ("standard_uncertainty", "effective_degrees_of_freedom"))
    assert students_t(confidence=0.95, dof=dof) * u == pytest.approx(expanded, rel=1e-4)
    assert expanded == pytest.approx(0.156, abs=5e-4)
