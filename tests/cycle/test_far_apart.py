"""Readings of the laminate that are all there, with more than 5 % of the gel clock from one to the next."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.judging.reported import report
from tests.messages.wording import says

from .shop import BATCH, PART, Press, answer


@pytest.mark.parametrize(
    ("step", "closes", "verdict"),
    [
        (1.5, 10.0, IN_TIME),
        (2.0, 30.0, IN_TIME),
        (3.0, 12.0, IN_TIME),
        (2.0, 47.0, CANNOT),
        (3.0, 44.0, CANNOT),
        (3.0, 60.0, CANNOT),
        (2.0, 75.0, LATE),
    ],
)
def test_rows_far_apart_hold_back_only_where_what_is_between_them_could_decide(
    tmp_path, step, closes, verdict
):
    """It gels at 49.8 min; the clock gains 4 % a minute then."""
    zone = answer(tmp_path, Press(step=step, closes=closes).csv(), draws=1000)
    assert zone.verdict == verdict
    assert says("cycle: rows far apart", " ".join(map(str, zone.why))) is (verdict == CANNOT)
    assert zone.event("gel first").time.value / 60.0 == pytest.approx(49.8, abs=0.05)


def test_a_row_in_ten_minutes_is_no_log_of_a_cycle(tmp_path):
    rows = Press(closes=10.0).csv().splitlines()
    assert answer(tmp_path, "\n".join([rows[0], *rows[1::20]]) + "\n", draws=500).verdict == CANNOT


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("step", [1.5, 2.0, 3.0])
def test_what_is_between_rows_far_apart_never_makes_another_verdict_of_them(tmp_path, step, seed):
    """A laminate that goes 10 K/min up, or down, after each row and comes back by the next."""
    random = np.random.RandomState(seed)
    press = Press(closes=float(random.uniform(35.0, 70.0)), step=0.25)
    way = press.minutes % step
    swing = 10.0 * np.minimum(way, step - way) * (press.minutes > 32.0)
    press.laminate = press.laminate + swing * random.choice([-1.0, 1.0])
    heading, *rows = press.csv().splitlines()
    thinned = "\n".join([heading, *rows[:: round(step / 0.25)]]) + "\n"
    few, every = (answer(tmp_path, log, draws=500).verdict for log in (thinned, press.csv()))
    assert few in (CANNOT, every)


@pytest.mark.parametrize("minute", [45.0, 51.0, 57.0])
def test_the_pressure_is_held_to_every_moment_at_which_it_may_gel(tmp_path, minute):
    """Released for a while between the soonest gel and the latest."""
    press = Press(step=3.0, closes=10.0)
    assert answer(tmp_path, press.csv(), draws=500).verdict == IN_TIME
    press.bag[press.minutes == minute] = 0.0
    assert answer(tmp_path, press.csv(), draws=500).verdict == CANNOT


LIMITS = """
[limits.process."time from pressed to gel"]
individual = {{ min = "{least} min" }}
"""
READING = '\n[process."time from pressed to gel"]\nfrom = "log"\nzone = "skin"\n'


@pytest.mark.parametrize(
    ("step", "least", "decision"), [(0.5, 24, "conforms"), (3.0, 24, "undecided"), (3.0, 18, "conforms")]
)
def test_the_time_from_pressed_to_gel_has_the_ends_that_rows_far_apart_leave_it(
    tmp_path, step, least, decision
):
    """It is 30.3 min of rows of 3 min, and 25.7 to 36.2 min for what may have been between them."""
    (tmp_path / "part.toml").write_text(PART + LIMITS.format(least=least), "utf-8")
    (tmp_path / "batch.toml").write_text(BATCH + READING, "utf-8")
    (tmp_path / "log.csv").write_text(Press(step=step, closes=20.0).csv(), "utf-8")
    judgement = report(tmp_path / "batch.toml").judgement
    assert [row.decision for row in judgement.process] == [decision]
    figures = judgement.cycles["skin"].readings
    ends = figures["time from pressed to gel"].ends
    assert ends is None or ends == pytest.approx((25.66 * 60.0, 36.20 * 60.0), abs=1.0)
    assert (
        (figures["time from pressed to gel"].ends is None)
        == (step < 1.0)
        == (figures["vapor margin"].ends is None)
    )
