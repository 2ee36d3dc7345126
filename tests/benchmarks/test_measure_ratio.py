"""How dear a measured coupon is, as ratios within one run: never an absolute time.

Run alone: `pytest -m benchmark --benchmark-only tests/benchmarks`.
"""

import gc
import time

import numpy as np
import pytest
from uncertainties import ufloat

from laminate.coupons import recipes
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.methods import attributes
from laminate.coupons.readings import columns_of, plan_of
from laminate.files.coupons import Coupon, Coupons
from laminate.values.uncertainty import propagate
from laminate.values.units import SIValue, Spread

MANY, SOME, FEW = 100_000, 1_000, 250
GAUGES = {
    "balance": Gauge("balance", Spread(1e-7), Spread(1e-7)),
    "thermometer": Gauge("thermometer", Spread(0.05), Spread(0.1)),
    "micrometer": Gauge("micrometer", Spread(2e-6), Spread(1.5e-6)),
}
BENCH = Bench(GAUGES, residue_share=SIValue(0.002, 0.001), fiber_loss=SIValue(0.004, 0.002))
RECIPE = recipes.of_options(SIValue(1790.0, 5.0), SIValue(1220.0, 6.0), SIValue(0.150, 0.001))(20)


def coupons(count):
    """Coupons of one laminate, weighed in air and water, digested, and measured across."""
    generator = np.random.default_rng(1)
    mass, density, content, thickness = (
        middle * (1 + share * generator.standard_normal(count))
        for middle, share in ((2e-3, 0.05), (1545.0, 0.002), (0.68, 0.003), (2.87e-3, 0.003))
    )
    columns = {
        "mass in air": mass,
        "mass in liquid": mass * (1 - 997.5 / density),
        "liquid temperature": np.full(count, 296.15),
        "specimen mass": mass * 0.999,
        "residue mass": content * mass * 0.999,
        "thickness": thickness,
    }
    rows = np.array(list(columns.values())).T.tolist()
    labels = dict.fromkeys(columns, "")
    word = {"method": "digestion"}
    return [
        Coupon(str(i), "", dict(zip(columns, row, strict=True)), {}, labels, word)
        for i, row in enumerate(rows)
    ]


def engine(table):
    """From the readings of a table to every attribute by every method with its contributions."""
    plan = plan_of(table[0], BENCH)
    x, sources, _ = columns_of(table, plan, RECIPE, BENCH)
    return propagate(lambda inputs: attributes(inputs, plan, RECIPE), x, sources)


def by_object(table):
    """The same for one coupon after the other with a library of numbers that carry their uncertainty."""
    plan = plan_of(table[0], BENCH)
    x, sources, _ = columns_of(table, plan, RECIPE, BENCH)
    shared = {source.name: ufloat(0.0, 1.0) for source in sources if source.shared}
    found = []
    for i in range(len(table)):
        numbers = {name: float(value[i]) if np.ndim(value) else value for name, value in x.items()}
        for source in sources:
            cause = shared.get(source.name) or ufloat(0.0, 1.0)
            for name, move in source.moves.items():
                numbers[name] = numbers[name] + cause * float(move[i] if np.ndim(move) else move)
        found.append({key: number.std_dev for key, number in attributes(numbers, plan, RECIPE).items()})
    return found


def whole(table):
    """A table with all that is checked and compared."""
    return measure(Coupons(tuple(table), ()), BENCH, lambda coupon: Made(None, RECIPE))


def seconds(work, table):
    gc.collect()
    gc.freeze()  # what the tests before left in memory is no cost of this one
    start = time.perf_counter()
    work(table)
    taken = time.perf_counter() - start
    gc.unfreeze()
    return taken


def test_a_coupon_costs_a_hundredth_of_numbers_that_carry_their_uncertainty(benchmark):
    table = coupons(MANY)
    first, second = engine(table[:50]), by_object(table[:50])
    for key, result in first.items():
        assert result.standard_uncertainty == pytest.approx([row[key] for row in second], rel=1e-11)
    benchmark.pedantic(engine, (table,), rounds=1)
    ours = min(seconds(engine, table) for _ in range(3)) / MANY
    theirs = min(seconds(by_object, table[:SOME]) for _ in range(2)) / SOME
    ratio = theirs / ours
    benchmark.extra_info["times cheaper a coupon"] = round(ratio)
    assert ratio > 100


def test_checks_and_comparisons_grow_with_the_table_and_no_faster(benchmark):
    """A whole table four times as long takes at most six times as long."""
    table = coupons(4 * SOME)
    whole(table[:FEW])
    benchmark.pedantic(whole, (table[:SOME],), rounds=1)
    short = min(seconds(whole, table[:SOME]) for _ in range(2))
    ratio = min(seconds(whole, table) for _ in range(2)) / short
    benchmark.extra_info["four times the coupons, times as long"] = round(ratio, 2)
    assert ratio < 6
