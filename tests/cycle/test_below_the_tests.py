"""Gel far below the coldest gel test: what the clock gains there may count or not; the verdict must hold."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from tests.messages.wording import says

from . import shop
from .planned_shop import first
from .shop import BATCH, Press, answer, changed
from .test_planned import BLADDER, PLATEN

TESTS = '[["120 degC", "28 min ± 3 (tolerance)"], ["150 degC", "10 min ± 1 (tolerance)"]]'
COLD = '[["120 degC", "28 min ± 3 (tolerance)"], ["90 degC", "94 min ± 9 (tolerance)"]]'
CASE = "cycle: gel far below the coldest gel test"


def held(hold, closes, opens, total=400.0):
    """A hold below 110 degC, 10 K below the coldest test, with 6 bar from `closes` until `opens` [min]."""
    press = Press(closes=closes, hold=hold, total=total, step=1.0)
    press.bag[press.minutes >= opens] = 0.0
    return press


@pytest.mark.parametrize(("closes", "opens"), [(20.0, 250.0), (20.0, 399.0), (250.0, 400.0)])
def test_a_gel_below_the_tests_that_may_not_have_been_while_pressed_cannot_be_said(tmp_path, closes, opens):
    found = answer(tmp_path, held(95.0, closes, opens).csv(), draws=1000)
    gel = found.event("gel first").time.value / 60.0
    assert found.gel_clock.below_tested_range == pytest.approx(1.0 - found.gel_clock.start.value)
    assert (closes < gel < opens) == (closes == 20.0)
    assert (found.verdict, found.chance.both) == (CANNOT, None if closes == 20.0 else 0.0)
    assert [says(CASE, why) for why in found.why] == [True]
    assert found.unknown.get("chance") == (found.why[0] if closes == 20.0 else None)


@pytest.mark.parametrize(("closes", "opens"), [(20.0, 250.0), (20.0, 399.0)])
def test_a_test_at_a_lower_temperature_takes_it_away(tmp_path, closes, opens):
    batch = changed(BATCH, (TESTS, COLD))
    found = answer(tmp_path, held(95.0, closes, opens).csv(), batch, draws=1000)
    assert found.verdict == IN_TIME
    assert found.gel_clock.below_tested_range < 0.05


@pytest.mark.parametrize(
    ("closes", "opens", "verdict"),
    # gel at some 115 min with the hold at 95 degC and at 235 without it, in a second hold at 124 degC
    [(20.0, 400.0, IN_TIME), (20.0, 180.0, CANNOT), (180.0, 400.0, CANNOT), (300.0, 400.0, LATE)],
)
def test_where_it_gels_with_and_without_the_cold_part_both_must_agree(tmp_path, closes, opens, verdict):
    press = held(95.0, closes, opens)
    hot = np.minimum(94.0 + 3.0 * (press.minutes - 200.0), 124.0)
    press.laminate, press.platen = np.maximum(press.laminate, hot), np.maximum(press.platen, hot + 1.0)
    found = answer(tmp_path, press.csv(), draws=1000)
    assert found.verdict == verdict
    assert any(says(CASE, why) for why in found.why) == (verdict == CANNOT)


def test_an_ordinary_ramp_is_in_time_though_some_of_its_clock_ran_below_the_tests(tmp_path):
    """2 K/min to 125 degC, tests at 100 and 125 degC: 12 % of the clock below 90 degC."""
    press = Press(total=180.0)
    press.platen = np.minimum(23.0 + 2.0 * press.minutes, 126.0)
    press.laminate = press.platen - 1.0
    gel = '[["100 degC", "60 min ± 6 (tolerance)"], ["125 degC", "22 min ± 2 (tolerance)"]]'
    found = answer(tmp_path, press.csv(), changed(BATCH, (TESTS, gel)), draws=1000)
    assert found.verdict == IN_TIME
    assert found.chance.both > 0.99
    assert 0.05 < found.gel_clock.below_tested_range < 0.25


def test_how_much_of_the_clock_ran_below_the_tests_is_told_at_gel_not_a_row_later(tmp_path):
    """The same hold read each minute and each five: the clock of the row after gel is past one."""
    shares = []
    for step in (1.0, 5.0):
        press = Press(total=180.0, step=step)
        press.platen = np.minimum(23.0 + 2.0 * press.minutes, 126.0)
        press.laminate = press.platen - 1.0
        gel = '[["100 degC", "60 min ± 6 (tolerance)"], ["125 degC", "22 min ± 2 (tolerance)"]]'
        found = answer(tmp_path, press.csv(), changed(BATCH, (TESTS, gel)), draws=100)
        shares.append(found.gel_clock.below_tested_range)
    assert shares[1] == pytest.approx(shares[0], abs=0.015)


def test_a_pressure_released_between_the_soonest_gel_and_the_latest_is_not_in_time(tmp_path):
    """An out-life that is not stated: in time with no clock used, and with three tenths of it."""
    line = 'out_life = { time = "30 d", temperature = "23 degC", share = "20 % ± 10 (tolerance)" }\n'
    part, batch = changed(shop.PART, (line, "")), changed(BATCH, ('out_time = "12 d"\n', ""))
    verdicts = []
    for opens in (49.0, 100.0):
        press = Press(hold=121.0)
        press.bag[press.minutes >= opens] = 0.0
        verdicts.append(answer(tmp_path, press.csv(), batch, part, draws=1000).verdict)
    assert verdicts == [CANNOT, IN_TIME]


@pytest.mark.parametrize(("hold", "verdict"), [(95, CANNOT), (125, IN_TIME)])
def test_a_plan_that_is_held_far_below_the_tests_cannot_be_said(tmp_path, hold, verdict):
    cold = changed(PLATEN, ("125 degC", f"{hold} degC"), ('"120 min"', '"400 min"'))
    points = '["0 min", "0 bar"], ["10 min", "6 bar"], ["250 min", "6 bar"], ["251 min", "0 bar"]'
    found = first(tmp_path, changed(BLADDER, (PLATEN, cold)) + f"pressure = [{points}]\n")
    assert found.event("gel first") is not None
    assert found.verdict == verdict
    assert any(says(CASE, why) for why in found.why) == (verdict == CANNOT)
