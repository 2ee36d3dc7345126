"""Clocks of a log: which are read, and which are asked about since they can be read two ways."""

import pytest

from laminate.curing.answers import IN_TIME
from laminate.values.problems import Refused

from .shop import BATCH, Press, answer, changed

GEL = 56.7  # min, of the log with its time in minutes


def times(cell, heading="Time", step=0.5, **press):
    """The shop's log with another clock; cell: of seconds from the first row."""
    lines = Press(step=step, **press).csv().splitlines()
    rows = [f"{cell(round(step * 60) * at)},{line.partition(',')[2]}" for at, line in enumerate(lines[1:])]
    return "\n".join([lines[0].replace("Time [min]", heading), *rows]) + "\n"


def named(unit):
    """The batch with the unit of the time in [log.columns]."""
    return changed(
        BATCH, ("[log.columns]\n", f'[log.columns]\n"Time" = {{ reads = "time", unit = "{unit}" }}\n')
    )


def gel(folder, log, batch=BATCH):
    """When the first gels [min], of a zone that is pressed in time."""
    zone = answer(folder, log, batch, draws=500)
    assert zone.verdict == IN_TIME
    return zone.event("gel first").time.value / 60


def asked(folder, log, batch=BATCH):
    """Code, row, and the hint."""
    with pytest.raises(Refused) as refused:
        answer(folder, log, batch, draws=100)
    (problem,) = refused.value.problems
    return problem.code, problem.place.split(",")[0], problem.hint


def in_minutes(s, start=0):
    return f"{(s + start) // 60}:{(s + start) % 60:02}"


def in_hours(s, start=0):
    return in_minutes(s // 60 + start)


def in_three(s, start=0):
    return f"{(s + start) // 3600:02}:{(s + start) // 60 % 60:02}:{s % 60:02}"


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return gel(tmp_path_factory.mktemp("plain"), times(lambda s: f"{s / 60}", "Time [min]"))


@pytest.mark.parametrize("heading", ["Time", "Time [min]", "Time [s]", "Time (min)"])
def test_minutes_and_seconds_are_no_hours(tmp_path, heading):
    code, row, hint = asked(tmp_path, times(in_minutes, heading))
    assert (code, row) == ("unreadable-time", "row 2")
    assert '"mm:ss"' in hint
    assert '"hh:mm"' in hint


@pytest.mark.parametrize("unit", ["hh:mm:ss", "H:MM:SS"])
def test_hours_that_a_heading_has_and_no_row_are_asked_about(tmp_path, unit):
    assert '"mm:ss"' in asked(tmp_path, times(in_minutes, f"Time [{unit}]"))[2]
    assert '"mm:ss"' in asked(tmp_path, times(in_minutes), named(unit))[2]


@pytest.mark.parametrize("unit", ["h", "hh:mm"])
def test_hours_have_no_decimals_behind_their_minutes(tmp_path, unit):
    log = times(lambda s: f"{in_minutes(s, 600)}.5", f"Time [{unit}]")
    assert asked(tmp_path, log)[:2] == ("unreadable-time", "row 2")


def test_a_clock_that_lost_its_hours_is_asked_for_them(tmp_path):
    """As a spreadsheet writes 23:20:10.0 back: 20:10.0, which begins anew every hour."""
    code, row, hint = asked(tmp_path, times(lambda s: f"{in_minutes((s + 1200) % 3600)}.0"))
    assert (code, row, "hours" in hint) == ("unreadable-time", "row 82", True)


def test_a_clock_that_passes_24_hours_is_asked_about_where_it_does(tmp_path):
    """From 3:20 on, so that the first row may be an hour of the day."""
    code, row, hint = asked(tmp_path, times(lambda s: in_minutes(s, 200)))
    assert (code, row, '"mm:ss"' in hint) == ("unreadable-time", "row 44", True)


@pytest.mark.parametrize("unit", ["mm:ss", "m:ss", "MM:SS"])
def test_the_way_out_is_read(tmp_path, plain, unit):
    assert gel(tmp_path, times(in_minutes), named(unit)) == pytest.approx(plain, abs=1e-6)
    assert gel(tmp_path, times(in_minutes, f"Time [{unit}]")) == pytest.approx(plain, abs=1e-6)


def test_the_other_way_out_is_read_too(tmp_path, plain):
    assert gel(tmp_path, times(in_hours, step=1.0), named("hh:mm")) == pytest.approx(plain, abs=0.1)
    assert gel(tmp_path, times(in_hours, "Time [h:mm]", 1.0)) == pytest.approx(plain, abs=0.1)


def test_minutes_and_seconds_go_on_with_hours(tmp_path, plain):
    log = times(lambda s: in_minutes(s) if s < 3600 else in_three(s))
    assert gel(tmp_path, log, named("mm:ss")) == pytest.approx(plain, abs=1e-6)
    assert asked(tmp_path, log)[0] == "unreadable-time"


def test_hundredths_of_a_second_tell_that_they_are_seconds(tmp_path, plain):
    assert gel(tmp_path, times(lambda s: f"{in_minutes(s)}.00")) == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize(
    ("cell", "heading", "step"),
    [
        (lambda s: in_hours(s, 23 * 60 + 20) if s < 2400 else in_hours(s - 2400), "Time", 1.0),
        (lambda s: in_hours(s, 14 * 60), "Time (UTC)", 0.5),
        (lambda s: in_hours(s, 60) + " PM", "Time", 1.0),
        (lambda s: in_hours(s), "Time [h]", 1.0),
        (in_three, "Time", 0.5),
        (in_three, "Time [hh:mm:ss]", 0.5),
        (lambda s: in_three(s, 50000), "Time", 0.5),
        (lambda s: f"2026-11-18 {in_hours(s)}", "Time", 1.0),
    ],
)  # fmt: skip
def test_ordinary_clocks_are_read_unasked(tmp_path, plain, cell, heading, step):
    assert gel(tmp_path, times(cell, heading, step)) == pytest.approx(plain, abs=0.5)


DATES = [
    "18-Nov-2026 ", "18 Nov 2026 ", "18. Nov. 2026 ", "18/Nov/26 ", "18-NOVEMBER-2026 ", "Nov 18, 2026 ",
    "November 18 2026 ", "Wed 18-Nov-2026 ", "Wednesday, November 18, 2026 ", "Wed, 18 Nov 2026 ",
    "2026-Nov-18 ", "Wed 2026-11-18 ", "Wed ",
]  # fmt: skip


@pytest.mark.parametrize("date", DATES)
@pytest.mark.parametrize("dates", ["", 'dates = "day first"\n', 'dates = "month first"\n'])
def test_months_by_name_and_days_of_the_week_are_read(tmp_path, plain, date, dates):
    batch = changed(BATCH, ('zones = ["skin"]\n', f'zones = ["skin"]\n{dates}'))
    log = times(lambda s: f'"{date}{in_three(s, 36000)}"')
    assert gel(tmp_path, log, batch) == pytest.approx(plain, abs=1e-6)


def test_a_day_of_its_own_column_may_name_its_month(tmp_path, plain):
    log = times(lambda s: f"18 Nov 2026,{in_three(s, 36000)}", "Date,Time")
    assert gel(tmp_path, log) == pytest.approx(plain, abs=1e-6)
    warned = changed(BATCH, ("molded = 2026-11-18", "molded = 2026-11-25"))
    assert any("2026-11-25" in words for words in answer(tmp_path, log, warned, draws=100).warnings)


@pytest.mark.parametrize(
    "cell", ["18-Brumaire-2026 10:00:00", "10h30", "Nov 18 10:00:00", "31-Nov-2026 10:00:00"]
)
@pytest.mark.parametrize("batch", [BATCH, named("s")])
def test_what_is_no_clock_is_told_which_are(tmp_path, cell, batch):
    code, row, hint = asked(tmp_path, times(lambda s: cell), batch)
    assert (code, row, hint) == ("unreadable-time", "row 2", "")


def test_a_text_among_numbers_is_told_the_row_of_a_number(tmp_path):
    lines = times(lambda s: f"{s / 60}", "Time [min]").splitlines()
    lines[9] = "x" + lines[9]
    with pytest.raises(Refused) as refused:
        answer(tmp_path, "\n".join(lines))
    (problem,) = refused.value.problems
    assert (problem.place.split(",")[0], "row 2" in problem.expected) == ("row 10", True)
