"""How dear a verdict on a press cycle is: over the bare evaluations of its draws, in one run on one machine.

Run alone: `pytest -m benchmark --benchmark-only tests/cycle`.
"""

import time

import numpy as np
import pytest

from laminate.curing.cycling import cycle
from laminate.formulas.conduction import Layer, conduct, mesh

from . import planned_shop, shop

LOG_DRAWS, PLAN_DRAWS = 10_000, 400
#: measured 4.7 and 2.8 on two shared cores of a Linux machine; wide, for a busy one
LOG_AIM, PLAN_AIM = 20.0, 12.0


@pytest.fixture
def log(tmp_path):
    shop.answers(tmp_path, shop.Press().csv())
    return tmp_path / "batch.toml"


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "part.toml").write_text(planned_shop.PART, "utf-8")
    return tmp_path / "part.toml"


def bare_log():
    """The gel clock of each draw over the rows of the log, row by row, and where it reaches 1."""
    random, press = np.random.RandomState(1), shop.Press()
    x = 1.0 / (press.laminate + 273.15) - 1.0 / 393.15
    cold = np.log(28.0 * 60.0 + 104.0 * random.uniform(-1.7, 1.7, LOG_DRAWS))
    hot = np.log(10.0 * 60.0 + 35.0 * random.uniform(-1.7, 1.7, LOG_DRAWS))
    b = (cold - hot) / (1.0 / 393.15 - 1.0 / 423.15)
    used, gel = np.full(LOG_DRAWS, 0.08), np.zeros(LOG_DRAWS)
    before = np.exp(-cold - b * x[0])
    for at in range(1, len(x)):
        rate = np.exp(-cold - b * x[at])
        after = used + 15.0 * (rate + before)
        gel = np.where((used < 1.0) & (after >= 1.0), press.minutes[at], gel)
        used, before = after, rate
    return gel


def bare_plan():
    """The heat of each draw with every contact closed, by the same formula."""
    random = np.random.RandomState(1)
    one, other, third = (h * random.uniform(0.4, 1.6, PLAN_DRAWS) for h in (1000.0, 2000.0, 1000.0))
    layers = [
        Layer(0.020, 167.0, 2.43e6, 3, one),
        Layer(0.003, 0.6, 1.6e6, 10, other),
        Layer(0.0156, 0.25, 1.6e6, 12, third),
    ]
    net = mesh(layers=layers)
    points = np.array([0.0, 34.0, 90.0, 105.0, 240.0]) * 60.0, np.array([23.0, 90.0, 90.0, 125.0, 125.0])
    start = np.full((25, PLAN_DRAWS), 296.15)
    return conduct(
        net=net,
        start=start,
        times=np.arange(0.0, 14401.0, 60.0),
        face=lambda t: np.full(PLAN_DRAWS, np.interp(t, *points) + 273.15),
    )


def ratio_of(ours, bare, benchmark):
    """The least time of each, in turns."""
    ours()
    bare()
    first, second = [], []
    for _ in range(5):
        start = time.perf_counter()
        bare()
        middle = time.perf_counter()
        ours()
        second.append(middle - start)
        first.append(time.perf_counter() - middle)
    benchmark.pedantic(ours, rounds=1)
    benchmark.extra_info["ratio"] = min(first) / min(second)
    benchmark.extra_info["seconds"] = min(first)
    return min(first) / min(second)


def test_ten_thousand_draws_of_a_log(log, benchmark):
    assert cycle(log).draws == LOG_DRAWS
    assert ratio_of(lambda: cycle(log), bare_log, benchmark) < LOG_AIM


def test_four_hundred_draws_of_a_plan(plan, benchmark):
    assert cycle(plan).draws == PLAN_DRAWS
    assert ratio_of(lambda: cycle(plan), bare_plan, benchmark) < PLAN_AIM
