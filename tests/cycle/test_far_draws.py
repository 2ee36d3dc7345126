"""One degree of freedom draws a few values very far out: exact themselves, and no harm to the others."""

import math
from pathlib import Path

import numpy as np
import pytest

from laminate.curing.answers import IN_TIME
from laminate.curing.charges import contents_of
from laminate.curing.draws import ClockTable, Columns, gel_lines, generator
from laminate.files.named_file import NamedFile
from laminate.files.part import read_part

from .shop import BATCH, PART, Press, answer

TWO = '[["120 degC", "28 min ± 3 (tolerance)"], ["150 degC", "10 min ± 1 (tolerance)"]]'
THREE = TWO.replace("]]", '], ["135 degC", "17.5 min ± 1 (tolerance)"]]')
ONE_DOF = '[["120 degC", "28 min ± 1 (standard, dof=1)"], ["150 degC", "10 min ± 0.3 (standard, dof=1)"]]'
DRAWS = 1000


def by_rows(press: Press, b: float, error: float, target: float, coldest: float | None) -> float:
    """Gel of one draw, row by row, in logarithms so that nothing overflows [s]."""
    used, before = 0.0, None
    for seconds, celsius in zip(press.minutes * 60.0, press.laminate, strict=True):
        kelvin = celsius + 273.15
        power = -target - b * (1.0 / max(kelvin + error, 1.0) - 1.0 / 393.15)
        rate = math.exp(min(power, 690.0)) if coldest is None or kelvin >= coldest else 0.0
        if before is not None:
            gained = (seconds - before[0]) * (rate + before[1]) / 2.0
            if used + gained >= 1.0:
                return before[0] + (1.0 - used) / gained * (seconds - before[0])
            used += gained
        before = seconds, rate
    return math.inf


def lines(tmp_path: Path, gel_time: str) -> tuple[np.ndarray, np.ndarray]:
    (tmp_path / "part.toml").write_text(PART.replace(TWO, gel_time), encoding="utf-8")
    part, _ = read_part(NamedFile.at(tmp_path / "part.toml"))
    (charge, *_) = contents_of(part, "skin", (), planned=True).charges
    return gel_lines(charge, Columns(generator(), DRAWS))


@pytest.mark.parametrize("coldest", [None, 383.15], ids=["all counts", "the cold does not count"])
@pytest.mark.parametrize("far", ["three gel times", "gel times of dof=1", "thermometer of dof=1"])
def test_every_draw_is_its_own_integral_over_the_rows(tmp_path, far, coldest):
    press = Press()
    error = 0.5 * generator(2).standard_normal(DRAWS)
    if far == "thermometer of dof=1":
        error = 0.5 * generator(2).standard_t(1, DRAWS)
    a, b = lines(tmp_path, {"three gel times": THREE, "gel times of dof=1": ONE_DOF}.get(far, TWO))
    if far == "three gel times":  # and some so far out that exp() overflows either way
        b[:4], a[4:6] = (-3e7, -5e6, 5e6, 3e7), (-1e4, 1e4)
    assert np.ptp(b) > 9000.0 or np.ptp(error) > 60.0
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        table = ClockTable(press.minutes * 60.0, press.laminate + 273.15, b, error, coldest)
        times = table.reached(a)
    expected = [by_rows(press, *draw, coldest) for draw in zip(b, error, a, strict=True)]
    assert times == pytest.approx(np.array(expected), abs=0.2)
    assert np.isfinite(times).mean() > 0.9


@pytest.mark.parametrize(
    "pair",
    [(TWO, THREE), (TWO, ONE_DOF), ('"1 K (k=2)"', '"0.5 K (standard, dof=1)"')],
    ids=["three gel times", "gel times of dof=1", "thermometer of dof=1"],
)
@pytest.mark.filterwarnings("error")
def test_a_source_of_one_degree_of_freedom_leaves_the_chance_of_an_early_press(tmp_path, pair):
    old, new = pair
    batch, part = BATCH.replace(old, new), PART.replace(old, new)
    found = answer(tmp_path, Press().csv(), batch, part, draws=2000)
    assert found.chance.pressed_before_gel > 0.97
    assert found.event("gel first").time.u > 0.0
    if old != TWO:
        assert found.verdict == IN_TIME
