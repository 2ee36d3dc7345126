"""Slips at the bench, and what must not be taken for one."""

import pytest

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.instruments import bench_of
from laminate.coupons.resolution import step_of
from laminate.files.entries import read_history

from .test_bench_session import fill


def test_a_reading_in_another_unit_keeps_the_step_that_was_read(session, case):
    """0.113 in is 2.87 mm, and known to 0.001 in = 0.0254 mm, not to the digits of the other unit."""
    fill(session)
    for row in session.rows:
        for label, typed in (("thickness 1", "0.1130 in"), ("thickness 2", "0.113 in")):
            answer = session.type(row, label, typed, "in inches")
            assert (answer.kept, answer.stay) == (True, False), answer
    assert [session.table.text(row, "thickness 1") for row in session.rows] == ["2.870"] * 3
    for coupon in (s.coupon for s in measure_batch(case).specimens):
        assert step_of(coupon, "thickness", bench_of(case)) == pytest.approx(0.0254e-3, rel=1e-12)
    history = read_history(session.table.history_path.read_bytes())
    assert [line.typed for line in history.lines[-3:]] == ["0.113 in", "0.1130 in", "0.113 in"]
    assert b'"typed"' not in history.lines[0].data()
    assert history.data() == session.table.history_path.read_bytes()
