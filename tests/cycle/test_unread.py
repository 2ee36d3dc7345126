"""What a log did not read never makes a figure of it conform, and a figure that fails for certain fails."""

import datetime as dt
import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.show.schemas import schema

from .shop import BATCH, PART, Press, changed

LIMITS = """
[limits.process."peak temperature"]
individual = { max = "130 degC" }
[limits.process."cure temperature"]
individual = { min = "120 degC", max = "128 degC" }
[limits.process."time above"]
individual = { min = "60 min" }
temperature = "115 degC"
"""
NAMES = ("peak temperature", "cure temperature", "time above")
READINGS = "".join(f'[process."{name}"]\nfrom = "log"\nzone = "skin"\n' for name in NAMES)
GOOD = ("conforms", "conforms", "conforms")
OVER_5 = dict.fromkeys(range(150, 155), 145.0)
OVER_2 = {150: 145.0, 151: 145.0}
COLD = {row: 60.0 + row % 2 / 10.0 for row in range(90, 220)}
"""Of 150 min: 52 min are left above 115 degC, which is more than two gel times."""
FEW = {
    "deadline": None,
    "max_examples": 6,
    "suppress_health_check": [HealthCheck.function_scoped_fixture],
}


def logged(laminate=None, platen=None, *, drop=(), dashes=(), **press):
    """A log, other readings in some rows [degC], without some rows and readings of the laminate."""
    lines = Press(**press).csv().splitlines()
    for column, other in ((1, laminate), (2, platen), (1, dict.fromkeys(dashes, "---"))):
        for row, value in (other or {}).items():
            cells = lines[1 + row].split(",")
            cells[column] = str(value)
            lines[1 + row] = ",".join(cells)
    return "\n".join(line for at, line in enumerate(lines) if at - 1 not in drop) + "\n"


def reported(folder, log, batch=BATCH, part=PART):
    (folder / "part.toml").write_text(part + LIMITS, "utf-8")
    (folder / "batch.toml").write_text(batch + READINGS, "utf-8")
    (folder / "log.csv").write_text(log, "utf-8")
    return report(folder / "batch.toml")


def judged(folder, log, batch=BATCH, part=PART):
    return reported(folder, log, batch, part).judgement


def decisions(folder, log, batch=BATCH, part=PART):
    """Of peak temperature, cure temperature and time above."""
    by_name = {c.name: c.decision for c in judged(folder, log, batch, part).process}
    return tuple(by_name[name] for name in NAMES)


def ends(folder, log, name):
    """The ends of a figure [K, s], None where nothing lacks."""
    return judged(folder, log).cycles["skin"].readings[name].ends


def test_a_whole_log_leaves_nothing_open(tmp_path):
    judgement = judged(tmp_path, logged())
    assert tuple(c.decision for c in judgement.process) == GOOD
    assert [judgement.cycles["skin"].readings[name].ends for name in NAMES] == [None] * 3


def test_one_reading_that_lacks_far_below_the_limits_decides_nothing(tmp_path):
    assert decisions(tmp_path, logged(drop=[25])) == GOOD
    assert decisions(tmp_path, logged(dashes=[25])) == GOOD


def test_a_reading_that_lacks_in_the_hold_is_bounded_by_how_the_laminate_moves(tmp_path):
    """124 degC in rows of a minute, heated by 3 K/min before: no 130 degC in two minutes."""
    rows = Press().csv().splitlines()
    minutes = (
        "\n".join([rows[0], *rows[1::2]]).replace(rows[201], rows[201].replace("124.0", "---", 1)) + "\n"
    )
    assert "---" in minutes
    assert decisions(tmp_path, minutes) == GOOD


def test_a_gap_counts_as_far_as_a_laminate_may_heat_or_cool_in_it(tmp_path):
    # 3 rows of half a minute: 2 min at 3 K/min, as it was heated, so half of 6 K up or down: above 115 degC
    few = logged(dashes=[150, 151, 152])
    assert ends(tmp_path, few, "peak temperature") == pytest.approx((397.15, 397.15 + 3.0))
    assert ends(tmp_path, few, "time above") is None
    # 9 rows: 5 min at 10 K/min, which count or do not
    more = logged(dashes=range(150, 159))
    assert ends(tmp_path, more, "peak temperature") == pytest.approx((397.15, 397.15 + 25.0))
    above = (120.0 - 2.0 - 92.0 / 3.0) * 60.0
    assert ends(tmp_path, more, "time above") == pytest.approx((above - 300.0, above), abs=1.0)


def test_a_sensor_that_is_lost_while_hot_leaves_the_time_above_open(tmp_path):
    """From its last reading, or to its first, it may have been above the level all the time."""
    whole = judged(tmp_path, logged()).cycles["skin"].readings["time above"].value
    rows = range(150, len(Press().csv().splitlines()) - 1)
    readings = judged(tmp_path, logged(dashes=rows)).cycles["skin"].readings
    low, high = readings["time above"].ends
    assert low <= readings["time above"].value < whole == pytest.approx(high)
    assert decisions(tmp_path, logged(dashes=rows))[2] == "undecided"
    # from 124 degC it cannot have cooled to the level of 115 degC in half a minute: that counts as above
    assert ends(tmp_path, logged(dashes=[rows[-1]]), "time above") == pytest.approx((whole, whole))


@pytest.mark.parametrize("gap", [{"drop": range(150, 155)}, {"dashes": range(150, 155)}])
def test_an_overshoot_that_was_not_read_leaves_the_peak_undecided(tmp_path, gap):
    assert decisions(tmp_path, logged(OVER_5))[0] == "does not conform"
    judgement = judged(tmp_path, logged(OVER_5, **gap))
    by_name = {c.name: c for c in judgement.process}
    assert by_name["peak temperature"].decision == "undecided"
    assert (by_name["peak temperature"].probability, by_name["peak temperature"].ways) == (None, [])
    # rows are those of the file: the heading is the first
    assert "151" in by_name["peak temperature"].reasons[0]
    elsewhere = {key: range(100, 105) for key in gap}
    assert decisions(tmp_path, logged(OVER_5, **elsewhere))[0] == "does not conform"


def test_the_record_of_a_figure_left_open_says_the_same_again(tmp_path):
    data = seal(reported(tmp_path, logged(OVER_5, drop=range(150, 155))))
    content = json.loads(data)
    by_name = {row["name"]: row for row in content["process"]}
    assert by_name["peak temperature"]["decision"] == "undecided"
    assert by_name["peak temperature"]["probability_of_conformity"] is None
    assert list(recompute(data).findings) == []
    assert list(Draft202012Validator(schema("record")).iter_errors(content)) == []


@settings(**FEW)
@given(first=st.integers(140, 160), count=st.integers(1, 60))
def test_no_rows_taken_out_make_an_overshoot_conform(tmp_path, first, count):
    drop = range(first, min(first + count, 239))
    assert decisions(tmp_path, logged(OVER_5, drop=drop))[0] != "conforms"
    assert decisions(tmp_path, logged(OVER_5, dashes=drop))[0] != "conforms"


@settings(**FEW)
@given(first=st.integers(70, 110), count=st.integers(1, 140))
def test_no_rows_taken_out_make_a_cure_long_enough(tmp_path, first, count):
    assert decisions(tmp_path, logged(COLD, COLD, total=150.0))[2] == "does not conform"
    drop = range(first, min(first + count, 299))
    assert decisions(tmp_path, logged(COLD, COLD, drop=drop, total=150.0))[2] != "conforms"


def test_a_jump_that_every_sensor_shares_is_no_spike(tmp_path):
    assert decisions(tmp_path, logged(OVER_2)) == GOOD
    assert decisions(tmp_path, logged(OVER_2, OVER_2))[0] == "undecided"


@pytest.mark.parametrize(("step", "row", "read"), [(2.0, 30, 145.0), (2.0, 31, 139.0), (5.0, 13, 145.0)])
def test_a_jump_of_minutes_may_be_an_exotherm_whatever_the_platen_reads(tmp_path, step, row, read):
    peak = decisions(tmp_path, logged({row: read}, step=step))[0]
    assert peak == "undecided"
    assert ends(tmp_path, logged({row: read}, step=step), "peak temperature") == pytest.approx(
        (397.15, read + 273.15)
    )
    by_name = {c.name: c for c in judged(tmp_path, logged({row: read}, step=step)).process}
    assert f" {row + 1} " in by_name["peak temperature"].reasons[0]  # the row before, the heading the first


@pytest.mark.parametrize(
    ("step", "jump"),
    [
        (0.5, OVER_2),
        (1.0, {75: 145.0}),
        (0.1, dict.fromkeys(range(750, 753), 145.0)),
        (2.0, {30: 900.0}),
        (2.0, {30: 60.0}),
        (2.0, {10: 75.0}),
    ],
)
def test_a_jump_that_no_laminate_makes_leaves_the_peak_as_it_was_read(tmp_path, step, jump):
    """Over in two minutes, hotter than a resin heats itself, down, or below the peak all the same."""
    assert decisions(tmp_path, logged(jump, step=step))[0] == "conforms"


def test_a_sensor_that_stopped_tells_neither_peak_nor_cure(tmp_path):
    """Stopped in the ramp at 110 degC, last digit flickering, beside a platen that rests at 125."""
    stopped = {row: 110.0 + 0.1 * (row % 2) for row in range(62, 241)}
    assert decisions(tmp_path, logged(stopped)) == ("undecided",) * 3


def test_a_log_that_ends_early_leaves_open_what_came_after(tmp_path):
    assert decisions(tmp_path, logged(total=40.0)) == ("undecided", "undecided", "undecided")
    assert decisions(tmp_path, logged(OVER_5, total=78.0))[0] == "does not conform"
    assert decisions(tmp_path, logged(total=60.0))[0] == "undecided"


def test_without_gel_times_a_log_must_go_on_for_an_hour(tmp_path):
    line = next(row for row in PART.splitlines() if row.startswith("gel_time"))
    part, batch = changed(PART, (line + "\n", "")), changed(BATCH, (line + "\n", ""))
    assert decisions(tmp_path, logged(), batch, part) == GOOD
    assert decisions(tmp_path, logged(total=60.0), batch, part)[:2] == ("undecided", "undecided")


def test_leaving_the_gel_times_out_decides_no_more_of_a_log_that_ends_hot(tmp_path):
    """An hour in the hold is a whole cure with the gel times and without, of a slow resin too."""
    line = next(row for row in PART.splitlines() if row.startswith("gel_time"))
    slow = line.replace("28 min", "65 min").replace("10 min", "30 min")
    assert slow != line
    part, batch = changed(PART, (line, slow)), changed(BATCH, (line, slow))
    bare = changed(PART, (line + "\n", "")), changed(BATCH, (line + "\n", ""))
    for total in (60.0, 90.0, 120.0):
        log = logged(total=total)
        with_them = decisions(tmp_path, log, batch, part)
        without = decisions(tmp_path, log, *reversed(bare))
        assert all(a == b or a == "conforms" for a, b in zip(with_them, without, strict=True))


def test_a_log_that_begins_hot_leaves_open_what_was_before(tmp_path):
    assert decisions(tmp_path, logged(drop=range(60)))[0] == "undecided"


@pytest.mark.parametrize(
    ("part", "batch"),
    [
        (changed(PART, ("laminate = 1", "laminate = 2")), BATCH),
        (PART, changed(BATCH, ('"top" = { reads = "platen", instrument = "thermocouples" }\n', ""))),
    ],
)
def test_a_sensor_that_is_missing_may_have_read_hotter_or_colder(tmp_path, part, batch):
    assert decisions(tmp_path, logged(), batch, part) == ("undecided", "undecided", "undecided")
    assert decisions(tmp_path, logged(OVER_5), batch, part)[0] == "does not conform"
    cold = logged(COLD, COLD, total=150.0)
    assert decisions(tmp_path, cold, batch, part)[2] == "does not conform"


def dated(day):
    """A log whose clock has a date."""
    start = dt.datetime.combine(day, dt.time(8, 0))
    rows = Press().csv().splitlines()[1:]
    times = [start + dt.timedelta(minutes=float(minutes)) for minutes in Press().minutes]
    lines = [
        f"{time:%Y-%m-%d %H:%M:%S},{row.partition(',')[2]}" for time, row in zip(times, rows, strict=True)
    ]
    return "\n".join(["Time,TC 3 [degC],top [degC],bag [bar]", *lines]) + "\n"


@pytest.mark.parametrize(
    ("day", "names"),
    [(dt.date(2026, 11, 18), []), (dt.date(2026, 11, 19), []), (dt.date(2026, 8, 1), ["log.csv"])],
)
def test_a_log_of_another_day_holds_the_batch_back(tmp_path, day, names):
    held = judged(tmp_path, dated(day)).held_back
    assert [reason.name for reason in held] == [*names, "coupons"]
    assert all(str(day) in reason.say for reason in held if reason.name in names)


THERMOCOUPLES = '[instrument.thermocouples]\ncalibration = "1 K (k=2)"\nrepeatability = "0.1 K (standard)"\n'


@pytest.mark.parametrize(
    ("old", "new", "name"),
    [
        ('"laminate", instrument = "thermocouples", ', '"laminate", ', "instrument.TC 3"),
        (f"{THERMOCOUPLES}due = 2027-01-01\n", THERMOCOUPLES, "instrument.thermocouples"),
        (f"{THERMOCOUPLES}due = 2027-01-01", f"{THERMOCOUPLES}due = 2026-11-17", "instrument.thermocouples"),
        (f"{THERMOCOUPLES}due", f"{THERMOCOUPLES}calibrated = 2026-11-19\ndue", "instrument.thermocouples"),
        ("molded = 2026-11-18\n", "", "instrument.thermocouples"),
    ],
)
def test_an_instrument_that_is_missing_or_past_due_holds_the_batch_back(tmp_path, old, new, name):
    held = judged(tmp_path, logged(), changed(BATCH, (old, new))).held_back
    assert [(reason.rule, reason.name) for reason in held if reason.name != "coupons"] == [(5, name)]


def test_a_check_of_the_shop_stands_in_for_a_due_date(tmp_path):
    line = 'traceable = "no: checked in ice and boiling water before use"\n'
    batch = changed(BATCH, (f"{THERMOCOUPLES}due = 2027-01-01\n", THERMOCOUPLES + line))
    assert [reason.name for reason in judged(tmp_path, logged(), batch).held_back] == ["coupons"]


def test_ends_on_both_sides_of_a_window_decide_nothing(tmp_path):
    """Too cold as it was read; had it been hotter after the log ended, it may be too hot."""
    press = Press(hold=110.0, total=40.0)
    assert decisions(tmp_path, press.csv())[1] == "undecided"
    whole = Press(hold=110.0, total=400.0)
    assert decisions(tmp_path, whole.csv())[1] == "does not conform"
    assert np.all(whole.laminate <= 109.0)
