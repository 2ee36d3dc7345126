"""U of coupons by every method, of rounded readings and of repeats, covers the truth as often as it says.

The fast version runs always; `pytest -m long` runs every combination with so many trials that the sampling
error is below 0.1 %, and prints the table of DEVELOPERS.md with `-s`.
"""

import itertools
import math

import numpy as np
import pytest

import laminate as lam
from laminate.values.averages import average
from laminate.values.uncertainty import Result, Source

from . import trials

LEAST = 0.945
FAST, FULL = 20_000, 100_000
STEPS, FREEDOMS = (0.0, 0.5, 1.0, 3.0), (1, 4, math.inf)
RATIOS, COUNTS = (0.0, 0.3, 1.0, 3.0), (2, 3, 4, 6, 10)
SHARES, FIELDS, POINTS, UNEVEN = (0.6, 0.3, 0.05, 0.01, 0.002), (2, 3, 5, 10, 30), (25, 100, 400), (0.0, 0.3)


def surely(covered, count):
    """Whether a share of so many trials may be 94.5 % or more: short of it by 3 sampling errors at most."""
    return covered + 3.0 * math.sqrt(LEAST * (1.0 - LEAST) / count) >= LEAST


def of_coupons(count, steps, freedoms):
    for method, step, dof in itertools.product(trials.METHODS, steps, freedoms):
        for (attribute, _), covered in trials.shares(method, step, dof, count, 7).items():
            yield f"{method}: {attribute}", (step, dof), covered


def of_points(count, fields, points):
    for share, n, grid, uneven in itertools.product(SHARES, fields, points, UNEVEN):
        yield "point count", (share, n, grid, uneven), trials.point_counts(share, n, grid, uneven, count, 8)


def of_averages(count, counts, ratios):
    for n, step, ratio, dof in itertools.product(counts, STEPS, ratios, FREEDOMS):
        found = trials.rounded_averages(n, step, ratio, dof, count, 9)
        yield f"average of {n}", (step, ratio, dof), found


def of_repeats(count, steps):
    for repeats, coupons, step in itertools.product((2, 3, 5), (1, 3, 6), steps):
        yield f"{repeats} repeats", (coupons, step), trials.repeats(repeats, coupons, step, count, 10)


def held(found, count):
    """The least share of each kind; each case must hold."""
    least = {}
    for what, case, covered in found:
        assert surely(covered, count), (what, case, covered)
        if covered < least.get(what, (2.0,))[0]:
            least[what] = (covered, case)
    return least


@pytest.mark.slow
def test_coupons_by_every_method_are_covered():
    held(of_coupons(FAST // 2, (0.0, 3.0), (1, math.inf)), FAST // 2)


@pytest.mark.slow
def test_averages_repeats_and_counted_points_are_covered():
    held(of_averages(FAST, (2, 3, 10), (0.0, 1.0)), FAST)
    held(of_repeats(FAST, (0.0, 1.0, 3.0)), FAST)
    held(of_points(FAST, (2, 10), (25, 100)), FAST)


@pytest.mark.long
def test_every_combination_is_covered():
    """Prints the least share of each kind, and where it is."""
    found = itertools.chain(
        of_coupons(FULL, STEPS, FREEDOMS),
        of_averages(FULL, COUNTS, RATIOS),
        of_repeats(FULL, (0.0, 0.3, 1.0, 2.0, 3.0, 6.0)),
        of_points(FULL, FIELDS, POINTS),
    )
    least = held(found, FULL)
    for what, (covered, case) in least.items():
        print(f"| {what} | {100 * covered:.1f} % | {case} |")
    assert all(covered >= LEAST for covered, _ in least.values()), least


def test_the_averages_are_those_of_the_program():
    generator = np.random.default_rng(3)
    for step, dof in itertools.product((0.0, 2.0), (4, math.inf)):
        written = np.round(generator.standard_normal((1, 5)) * 3.0) / 3.0
        sources = (Source("reading, resolution", {}, rounded=True), Source("density", {}, dof=dof))
        parts = np.array([np.full(5, step / math.sqrt(12.0)), np.full(5, 0.7)])
        found = average([Result(written[0], parts, sources)]).expanded(0.95)
        assert found == pytest.approx(float(trials.rule_of_averages(written, step, 0.7, dof)[0]), rel=1e-12)


def test_the_repeats_and_the_points_are_those_of_the_program():
    import pandas as pd

    made = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.28 g/cm^3"}
    written = np.array([[[2.86, 2.87], [2.88, 2.86], [2.85, 2.86]]])
    frame = pd.DataFrame({"specimen": ["a", "b", "c"]}, dtype=object)
    for at in (0, 1):
        frame[f"thickness {at + 1} [mm]"] = [f"{v:.2f}" for v in written[0, :, at]]
    for row in lam.measure(frame, **made).to_dict()["specimens"]:
        wide = float(trials.rule_of_repeats(written, 0.01)[0])
        assert row["thickness"]["expanded_uncertainty"] == pytest.approx(wide, rel=1e-9)
    for voids in ([0, 1, 0], [2, 2, 2], [30, 28, 33]):
        frame = pd.DataFrame({"specimen": "a", "field": ["1", "2", "3"], "points": "100"}, dtype=object)
        frame["void points"] = [str(v) for v in voids]
        (row,) = lam.measure(frame, **made).to_dict()["specimens"]
        wide = 100.0 * float(trials.rule_of_points(np.array([voids]) / 100.0, 300)[0])
        assert row["void_content"]["expanded_uncertainty"] == pytest.approx(wide, rel=1e-9)
