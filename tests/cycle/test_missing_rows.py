"""Rows and readings that are missing from a log buy nothing: what they may have shown counts."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.curing.answers import CANNOT, IN_TIME, LATE

from .shop import BATCH, PART, Press, answer, changed

UNCOUNTED = changed(PART, (PART.splitlines()[-1] + "\n", ""))
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


def verdict(folder, log, batch=BATCH, part=PART):
    """The verdict on the skin."""
    return answer(folder, log, batch, part, draws=500).verdict


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


@pytest.mark.parametrize("columns", [(), ("platen",), ("bag",)])
def test_a_logger_that_hung_has_hung_however_few_of_its_rows_are_left(tmp_path, columns):
    press, hung = noisy(Press(closes=56.0, step=1.0)), slice(20, 44)
    for curve in (press.laminate, press.platen, press.bag):
        curve[hung] = curve[20]
    assert verdict(tmp_path, press.csv()) == CANNOT
    rows = np.setdiff1d(np.arange(20, 44), [20, 24, 28, 31, 35, 39, 43])
    assert verdict(tmp_path, left_out(press, rows, *columns)) == CANNOT
    for begins_late in ("bag", "platen"):
        assert verdict(tmp_path, left_out(press, slice(0, 32), begins_late)) == CANNOT


def test_a_sensor_that_stood_still_has_stood_still_however_few_of_its_readings_are_left(tmp_path):
    press = noisy(Press(closes=48.0, step=1.0))
    press.laminate[26:38] = press.laminate[26]
    assert verdict(tmp_path, press.csv()) == CANNOT
    for rows in (np.arange(27, 37, 2), np.arange(29, 34)):
        for columns in ((), ("laminate",), ("platen",), ("laminate", "platen")):
            assert verdict(tmp_path, left_out(press, rows, *columns)) == CANNOT


@pytest.mark.parametrize("columns", [(), ("laminate",)])
def test_readings_that_jump_up_for_a_minute_are_no_spike_with_one_of_them_left_out(tmp_path, columns):
    press = noisy(Press(closes=44.0, step=0.25))
    press.laminate[130:134] += 45.0
    assert verdict(tmp_path, press.csv()) == CANNOT
    for row in range(130, 134):
        assert verdict(tmp_path, left_out(press, [row], *columns)) == CANNOT
    press.laminate[131:134] -= 45.0
    assert verdict(tmp_path, press.csv()) == IN_TIME


def test_readings_that_jump_down_are_left_out_beside_a_lost_row_too(tmp_path):
    """They would put gel off."""
    press = Press(closes=48.5)
    whole = answer(tmp_path, press.csv(), draws=500)
    press.laminate[52:55] -= 60.0
    less = answer(tmp_path, left_out(press, [53]), draws=500)
    assert any("jump" in words for words in less.left_out)
    assert less.verdict == whole.verdict == CANNOT

    steep = Press(step=1.0)
    steep.laminate[22:24] -= 40.0
    beside = answer(tmp_path, left_out(steep, [21], "laminate"), draws=100)
    assert any("jump" in words for words in beside.left_out)


def test_a_pressure_released_while_the_laminate_is_not_read_may_miss_its_gel(tmp_path):
    press = Press(closes=41.5)
    off = (press.minutes > 55.0) & (press.minutes < 66.0)
    press.bag[off] = 0.0
    assert verdict(tmp_path, press.csv()) == CANNOT
    assert verdict(tmp_path, left_out(press, off, "laminate")) == CANNOT


def test_a_laminate_above_a_platen_is_so_beside_its_straight_line_too(tmp_path):
    press = noisy(Press(step=0.5))
    hotter = slice(40, 60)
    press.laminate[hotter] = press.platen[hotter] + 9.0
    assert verdict(tmp_path, press.csv()) == CANNOT
    assert verdict(tmp_path, left_out(press, hotter, "platen")) == CANNOT
    assert verdict(tmp_path, left_out(Press(step=0.5), hotter, "platen")) == IN_TIME
    assert verdict(tmp_path, left_out(Press(step=0.5), slice(40, 241), "platen"), part=UNCOUNTED) == IN_TIME


def test_a_loose_thermocouple_is_loose_below_a_platen_that_is_hardly_read(tmp_path):
    press = noisy(Press(closes=50.0, total=150.0))
    press.laminate = 23.0 + 0.86 * (press.platen - 23.0)
    assert verdict(tmp_path, press.csv(), part=UNCOUNTED) == CANNOT
    for last in (90, 130):
        assert verdict(tmp_path, left_out(press, slice(40, last), "platen"), part=UNCOUNTED) == CANNOT


@pytest.mark.parametrize("last", [140.0, 94.5])
def test_the_spread_of_a_time_above_is_what_its_shorter_side_lacks(tmp_path, last):
    """Heated by 3 K/min and cooled by 2, to the end or to 115 degC alone, where the longer side is cut."""
    press = Press(total=140.0)
    cools = press.minutes > 90.0
    press.laminate[cools] = 124.0 - 2.0 * (press.minutes[cools] - 90.0)
    limits = '[limits.process."time above"]\nindividual = { min = "40 min" }\ntemperature = "115 degC"\n'
    found = answer(tmp_path, press.csv(press.minutes <= last), part=PART + limits, draws=300)
    above = found.readings["time above"]
    assert above.value == pytest.approx((94.5 - 2.0 - 92.0 / 3.0) * 60.0, abs=1.0)
    assert above.u == pytest.approx(np.hypot(0.5, 0.1) * (1.0 / 3.0 + 1.0 / 2.0) * 60.0, rel=0.01)


EVENTS = st.sampled_from(["none", "hung", "stuck", "hotter", "colder", "released", "loose"])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 10**6),
    event=EVENTS,
    closes=st.floats(42.0, 60.0),
    noise=st.tuples(st.sampled_from([0.0, 0.1, 0.5]), st.sampled_from([0.2, 0.5, 1.0])),
    when=st.tuples(st.floats(3.0, 60.0), st.sampled_from([1.0, 5.0, 20.0])),
    beside=st.tuples(st.integers(-3, 3), st.integers(-3, 30)),
    columns=st.sampled_from([(), ("laminate",), ("platen",), ("bag",), ("laminate", "platen")]),
)
def test_no_rows_or_readings_left_out_of_a_log_press_it_in_time(
    tmp_path, seed, event, closes, noise, when, beside, columns
):
    """noise: size [K] and step of the rows [min]; when: start and length of the event [min]."""
    press = noisy(Press(closes=closes, step=noise[1]), seed, noise[0])
    rows = np.flatnonzero((press.minutes >= when[0]) & (press.minutes < sum(when)))
    for name in {"hung": COLUMNS, "stuck": ["laminate"]}.get(event, ()):
        getattr(press, name)[rows] = getattr(press, name)[rows[0]]
    press.laminate[rows] += {"hotter": 20.0, "colder": -20.0}.get(event, 0.0)
    press.bag[rows] *= event != "released"
    if event == "loose":
        press.laminate = 23.0 + 0.85 * (press.platen - 23.0)
    first = max(int(rows[0]) + beside[0], 0)
    lost = slice(first, min(max(int(rows[-1]) + beside[1], first + 1), len(press.minutes) - 1))
    if verdict(tmp_path, press.csv()) != IN_TIME:
        assert verdict(tmp_path, left_out(press, lost, *columns)) != IN_TIME


@pytest.mark.parametrize("column", ["laminate", "platen", "bag"])
def test_a_column_written_less_often_than_the_others_lacks_nothing(tmp_path, column):
    """Every minute in a log of 10 s."""
    press = Press(step=1.0 / 6.0)
    rows = [row for row in range(len(press.minutes)) if row % 6]
    assert verdict(tmp_path, left_out(press, rows, column)) == IN_TIME


@pytest.mark.parametrize("then", [5, 15])
def test_a_logger_that_writes_less_often_from_some_time_on_lacks_nothing(tmp_path, then):
    """Every 2 s up to 40 min, then every 10 or 30 s."""
    press = Press(step=1.0 / 30.0)
    rows = [row for row in range(len(press.minutes)) if press.minutes[row] > 40.0 and row % then]
    assert verdict(tmp_path, left_out(press, rows)) == IN_TIME
