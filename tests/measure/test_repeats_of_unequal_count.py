"""Rows with other counts of repeats tell one scatter together: a reading more never makes a row worth less.

Pooled estimate of the variance: JCGM 100:2008, 4.2.4.
"""

import math

import numpy as np
import pandas as pd
import pytest

import laminate as lam

STATED = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.28 g/cm^3"}
STEP = 0.001 / math.sqrt(12.0)


def table(count, *, third):
    """So many rows with two readings of the thickness [mm], and a third one in the first row."""
    readings = 2.87 + np.round(0.004 * np.random.default_rng(5).standard_normal((count, 3)), 3)
    frame = pd.DataFrame({"specimen": [f"{at:04d}" for at in range(count)]}, dtype=object)
    for at in range(2):
        frame[f"thickness {at + 1} [mm]"] = [f"{value:.3f}" for value in readings[:, at]]
    if third:
        frame["thickness 3 [mm]"] = [f"{readings[0, 2]:.3f}", *[""] * (count - 1)]
    return frame, readings


@pytest.mark.parametrize("count", [5, 250])
def test_the_repeats_of_all_rows_tell_the_scatter_of_one_reading(count):
    """By rows (5) and by columns (250), each against the sum of squares over all rows."""
    frame, readings = table(count, third=True)
    counts = np.array([3, *[2] * (count - 1)])
    squares = [np.square(row[:k] - row[:k].mean()).sum() for row, k in zip(readings, counts, strict=True)]
    variance = sum(squares) / (counts - 1).sum()
    rows = lam.measure(frame, **STATED).to_dict()["specimens"]
    for row, k in zip(rows[:2], counts[:2], strict=True):
        u = math.sqrt((variance + STEP**2) / k + STEP**2)
        assert row["thickness"]["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    assert rows[0]["thickness"]["effective_degrees_of_freedom"] >= (counts - 1).sum()


@pytest.mark.parametrize("count", [3, 80, 250])
def test_a_third_reading_makes_no_row_worth_less(count):
    wide = []
    for third in (False, True):
        first = lam.measure(table(count, third=third)[0], **STATED).to_dict()["specimens"][0]
        wide.append(first["thickness"]["expanded_uncertainty"])
    assert wide[1] < wide[0]
