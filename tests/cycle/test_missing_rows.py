"""Rows and readings that are missing from a log buy nothing: what they may have shown counts."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE

from .shop import BATCH, Press, answer, changed

COLUMNS = {"laminate": 1, "platen": 2, "bag": 3}


def left_out(press, rows, *columns):
    """A log without some rows, or without some readings in them."""
    keep = np.ones(len(press.minutes), bool)
    keep[rows] = False
    if not columns:
        return press.csv(keep)
    heading, *lines = press.csv().splitlines()
    for row in np.flatnonzero(~keep):
        cells = lines[row].split(",")
        for name in columns:
            cells[COLUMNS[name]] = ""
        lines[row] = ",".join(cells)
    return "\n".join([heading, *lines]) + "\n"


def noisy(press, seed=3, size=0.15):
    """The same press with a little noise on its thermocouples [K]."""
    random = np.random.RandomState(seed)
    press.laminate += random.normal(0.0, size, len(press.minutes))
    press.platen += random.normal(0.0, size, len(press.minutes))
    return press


def verdict(folder, log, batch=BATCH):
    """The verdict on the skin."""
    return answer(folder, log, batch, draws=500).verdict


def two_stages():
    """Gelled unpressed in a first hot stage, cooled, heated again and pressed then."""
    press = Press(step=1.0, total=240.0, closes=120.0)
    at = press.minutes
    for curve, lag in ((press.platen, 0.0), (press.laminate, 2.0)):
        first = np.minimum(23.0 + 3.0 * np.maximum(at - lag, 0.0), 121.0)
        cooled = np.maximum(121.0 - 3.0 * np.maximum(at - lag - 70.0, 0.0), 28.0)
        again = np.minimum(28.0 + 3.0 * np.maximum(at - lag - 118.0, 0.0), 118.0)
        curve[:] = np.where(at < 70.0, first, np.where(at < 118.0, cooled, again))
    return noisy(press)


def test_a_hot_stage_left_out_of_a_log_is_not_taken_as_cold(tmp_path):
    press, since = two_stages(), 'zones = ["skin"]\ncharge_heated_since = "0 min"'
    assert verdict(tmp_path, press.csv()) == LATE
    hot = slice(5, 116)
    assert verdict(tmp_path, left_out(press, hot)) == CANNOT
    assert verdict(tmp_path, left_out(press, hot, "laminate", "platen")) == CANNOT
    head = left_out(press, slice(0, 116), "laminate", "platen")
    assert verdict(tmp_path, head, changed(BATCH, ('zones = ["skin"]', since))) == CANNOT
    # the platen tells how hot it was at most
    assert verdict(tmp_path, left_out(press, hot, "laminate")) == CANNOT
    press.platen[hot], press.laminate[hot] = 23.0, 22.0
    assert verdict(tmp_path, left_out(press, hot, "laminate")) == IN_TIME


@pytest.mark.parametrize("columns", [(), ("laminate",), ("laminate", "platen")])
@pytest.mark.parametrize(("first", "count"), [(20, 10), (50, 3), (90, 1), (200, 30)])
def test_a_few_rows_left_out_of_a_log_in_time_change_nothing(tmp_path, columns, first, count):
    """Of a ramp of 3 K/min in rows of half a minute, and of a hold after gel."""
    assert verdict(tmp_path, left_out(Press(), slice(first, first + count), *columns)) == IN_TIME
