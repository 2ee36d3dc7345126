"""Logs as presses and loggers write them, and with the faults that they have; each is a file in `data`."""

from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from laminate.curing.answers import CANNOT, IN_TIME
from laminate.curing.cycling import cycle
from laminate.values.problems import Refused

from .shop import BATCH, PART, Press, answer, changed

DATA = Path(__file__).parent / "data"
FORMATS = {
    "minutes.csv": "",
    "seconds_tab.txt": "",
    "hours_semicolon_comma.csv": "",
    "iso.csv": "",
    "day_first.csv": "",
    "am_pm.csv": "",
    "midnight.csv": "",
    "date_and_time.csv": "",
    "two_orders.csv": 'dates = "day first"\n',
    "preamble_units_row.csv": 'preamble = 3\nunits_row = "yes"\n',
    "utf16.csv": "",
    "equal_stamps.csv": "",
    "missing.csv": "",
    "spikes.csv": "",
}


def read(folder, name, keys=""):
    (folder / "part.toml").write_text(PART, "utf-8")
    batch = changed(BATCH, ('zones = ["skin"]\n', f'zones = ["skin"]\n{keys}'))
    (folder / "batch.toml").write_text(batch, "utf-8")
    (folder / "log.csv").write_bytes((DATA / name).read_bytes())
    return cycle(folder / "batch.toml", draws=1000).zones[0]


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return read(tmp_path_factory.mktemp("plain"), "minutes.csv")


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_gives_the_same_answer(tmp_path, plain, name):
    found = read(tmp_path, name, FORMATS[name])
    assert found.verdict == plain.verdict == IN_TIME
    gel, expected = (one.event("gel first").time.value / 60 for one in (found, plain))
    assert gel == pytest.approx(expected, abs=1.1 if name == "equal_stamps.csv" else 0.1)


@pytest.mark.parametrize(("molded", "warned"), [("2026-11-18", 0), ("2026-11-19", 0), ("2026-11-25", 1)])
@pytest.mark.parametrize("name", ["iso.csv", "day_first.csv", "date_and_time.csv"])
def test_a_log_of_another_day_than_the_molding_is_told(tmp_path, molded, warned, name):
    (tmp_path / "part.toml").write_text(PART, "utf-8")
    batch = changed(BATCH, ("molded = 2026-11-18", f"molded = {molded}"))
    (tmp_path / "batch.toml").write_text(batch, "utf-8")
    (tmp_path / "log.csv").write_bytes((DATA / name).read_bytes())
    (zone,) = cycle(tmp_path / "batch.toml", draws=100).zones
    assert sum(f"molded on {molded}" in warning for warning in zone.warnings) == warned


def test_what_was_mended_and_left_out_is_told(tmp_path):
    def told(name):
        found = read(tmp_path, name)
        return len(found.mended), found.left_out

    assert told("midnight.csv")[0] == 1
    assert told("equal_stamps.csv")[0] == 1
    assert "6 of 91" in told("missing.csv")[1][0]
    assert "2 readings" in told("spikes.csv")[1][0]


def test_a_still_sensor_that_was_the_only_one_leaves_nothing_to_say(tmp_path):
    found = read(tmp_path, "still_sensor.csv")
    assert found.verdict == CANNOT
    assert any("TC 3" in words for words in found.left_out)


def test_swapped_sensors_are_asked_about(tmp_path):
    assert read(tmp_path, "swapped.csv").verdict == CANNOT
    assert (
        read(tmp_path, "swapped.csv", 'accepted = "the laminate lies on the hot side"\n').verdict == IN_TIME
    )


def test_rows_missing_for_more_than_a_twentieth_of_the_clock(tmp_path):
    assert read(tmp_path, "gap.csv").verdict == CANNOT


def test_cells_beyond_the_heading_are_refused_with_their_row(tmp_path):
    """A decimal comma in a file that commas separate would cut 127,4 to 127."""
    read(tmp_path, "minutes.csv")
    log = tmp_path / "log.csv"
    rows = log.read_text("utf-8").splitlines()
    log.write_text("\n".join([*rows[:5], rows[5] + ",7", *rows[6:]]), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    (problem,) = refused.value.problems
    assert (problem.code, problem.place) == ("too-many-cells", "row 6")


@pytest.mark.parametrize("date", ["18/11/2026", "2026-11-31"])
def test_a_date_unlike_those_above_is_named_with_its_own_row(tmp_path, date):
    read(tmp_path, "iso.csv")
    log = tmp_path / "log.csv"
    rows = log.read_text("utf-8").splitlines()
    rows[40] = rows[40].replace("2026-11-18", date)
    log.write_text("\n".join(rows), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    (problem,) = refused.value.problems
    assert (problem.place.split(",")[0], date in problem.found, problem.hint) == ("row 41", True, "")


@pytest.mark.parametrize(
    ("unit", "keys"),
    [("[barg]", ("bar", "over ambient")), ("[bar(g)]", ("bar", "over ambient")),
     ("(bar(a))", ("bar", "absolute")), ("[psia]", ("psi", "absolute"))],
)  # fmt: skip
def test_a_unit_that_says_its_base_is_answered_with_both_keys(tmp_path, unit, keys):
    read(tmp_path, "minutes.csv")
    log = tmp_path / "log.csv"
    log.write_text(log.read_text("utf-8").replace("[bar]", unit, 1), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    (problem,) = refused.value.problems
    assert problem.code == "column-unit"
    assert all(f'"{key}"' in problem.hint for key in keys)


def test_a_day_that_two_orders_read_differently_is_asked_for(tmp_path):
    """11/12 is a day of November or of December, however short the log is."""
    read(tmp_path, "minutes.csv")
    log = tmp_path / "log.csv"
    heading, *rows = log.read_text("utf-8").splitlines()
    head = ",".join(["Time", *heading.split(",")[1:]])
    times = (f"11/12/2026 {8 + at // 60:02}:{at % 60:02}:00" for at in range(len(rows)))
    clock = [",".join([when, *row.split(",")[1:]]) for when, row in zip(times, rows, strict=True)]
    log.write_text("\n".join([head, *clock]), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    assert [(p.code, p.place.split(",")[0]) for p in refused.value.problems] == [("unreadable-time", "row 2")]
    assert "dates = " in refused.value.problems[0].hint


@pytest.mark.parametrize(
    ("name", "keys", "code", "place"),
    [
        ("runs_back.csv", "", "unreadable-time", "row 42"),
        ("summer_time.csv", "", "unreadable-time", "row 32"),
        ("two_orders.csv", "", "unreadable-time", "row 2"),
        ("two_clocks.csv", "", "time-column", "row 1"),
        ("below_zero.csv", "", "below-zero", "row 2"),
        ("mixed_decimals.csv", "", "mixed-decimals", ""),
        ("preamble_units_row.csv", "", "column-missing", "row 1"),
        ("minutes.csv", "preamble = 200\n", "empty-file", ""),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(tmp_path, name, keys, code, place):
    with pytest.raises(Refused) as refused:
        read(tmp_path, name, keys)
    first = refused.value.problems[0]
    assert (first.code, first.file.endswith("log.csv")) == (code, True)
    assert first.place.startswith(place)


def test_summer_time_is_hinted_at(tmp_path):
    with pytest.raises(Refused) as refused:
        read(tmp_path, "summer_time.csv")
    assert "summer time" in refused.value.problems[0].hint


def test_lines_below_the_readings_are_told_to_go(tmp_path):
    read(tmp_path, "iso.csv")
    log = tmp_path / "log.csv"
    rows = log.read_text("utf-8").splitlines()
    log.write_text("\n".join([*rows, "End of file"]), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    (problem,) = refused.value.problems
    assert (problem.place.split(",")[0], bool(problem.hint)) == (f"row {len(rows) + 1}", True)


def test_a_preamble_without_a_separator_is_told_too(tmp_path):
    read(tmp_path, "minutes.csv")
    log = tmp_path / "log.csv"
    log.write_text("Press 4\nCycle 1120\n" + log.read_text("utf-8"), "utf-8")
    with pytest.raises(Refused) as refused:
        cycle(tmp_path / "batch.toml", draws=100)
    assert all("preamble = 2" in problem.hint for problem in refused.value.problems)


def test_the_preamble_that_is_meant_is_told(tmp_path):
    with pytest.raises(Refused) as refused:
        read(tmp_path, "preamble_units_row.csv")
    assert "preamble = 3" in refused.value.problems[0].hint


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (', base = "over ambient"', "", "missing-key"),
        ('base = "over ambient"', 'base = "gauge"', "wrong-word"),
        ('zones = ["skin"]', 'zones = ["skn"]', "unknown-name"),
        ('file = "log.csv"', 'file = "lag.csv"', "file-missing"),
        ('"TC 3" =', '"TC 9" =', "column-missing"),
        ('instrument = "gauge 4" }', 'instrument = "gauge 5" }', "unknown-name"),
        ('calibration = "0.05 bar (k=2)"', 'calibration = "1 K (k=2)"', "wrong-kind"),
        ('reads = "platen", ', 'reads = "platen", place = "edge", ', "unused-key"),
    ],
)
def test_a_wrong_key_is_refused(tmp_path, old, new, code):
    with pytest.raises(Refused) as refused:
        answer(tmp_path, Press().csv(), changed(BATCH, (old, new)))
    assert code in {problem.code for problem in refused.value.problems}


def test_a_logger_and_a_press_that_write_two_files_are_joined_as_they_are_told(tmp_path):
    """The press a few seconds behind the logger: rows of one have no reading of the other."""
    heading, *rows = Press().csv().splitlines()
    *temperatures, bag = BATCH.rpartition('"bag"')
    log = '[[log]]\nfile = "press.csv"\nzones = ["skin"]\n[log.columns]\n'
    with pytest.raises(Refused) as refused:
        answer(tmp_path, "\n".join([heading, *rows]), "".join([temperatures[0], log, '"bag"', bag]))
    twice = [problem for problem in refused.value.problems if problem.code == "twice"]
    assert [(problem.place, problem.hint != "") for problem in twice] == [("log[2].zones[1]", True)]
    joined = []
    for row in rows:
        time, laminate, platen, pressure = row.split(",")
        joined += [f"{time},{laminate},{platen},", f"{float(time) + 0.1:.2f},,,{pressure}"]
    zone = answer(tmp_path, "\n".join([heading, *joined]), draws=500)
    assert zone.verdict == IN_TIME
    assert zone.event("pressed").time.value / 60 == pytest.approx(10.1, abs=0.5)


@pytest.mark.parametrize("spread", ["2.7 degF (k=2)", "1.5 degC (k=2)", "1500 mK (k=2)", "1.5 K (k=2)"])
def test_the_spread_of_a_thermocouple_is_a_difference_in_any_degrees(tmp_path, spread):
    said = changed(BATCH, ('calibration = "1 K (k=2)"', f'calibration = "{spread}"'))
    peak = answer(tmp_path, Press().csv(), said, draws=100).readings["peak temperature"]
    assert peak.u == pytest.approx(np.hypot(0.75, 0.1))


def test_a_bladder_zone_needs_the_pressure_that_closes_it(tmp_path):
    with pytest.raises(Refused) as refused:
        answer(tmp_path, Press().csv(), part=changed(PART, ('pressed_at = "3 bar"\n', "")))
    assert "missing-key" in {problem.code for problem in refused.value.problems}


CELLS = st.one_of(
    st.floats(-100, 400).map(lambda v: f"{v:.1f}"),
    st.sampled_from(["", "---", "OVER", "9999", "1,5", "1.2.3"]),
)


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(rows=st.lists(st.tuples(CELLS, CELLS, CELLS, CELLS), min_size=0, max_size=30))
def test_random_logs_are_answered_or_refused(tmp_path, rows):
    log = "\n".join(["Time [min],TC 3 [degC],top [degC],bag [bar]", *(",".join(row) for row in rows)])
    found = None
    with suppress(Refused):
        found = answer(tmp_path, log, draws=200)
    assert found is None or found.verdict != IN_TIME


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    closes=st.floats(5, 75),
    hold=st.floats(110, 145),
    noise=st.integers(0, 99),
    dips=st.lists(st.floats(12, 60), max_size=2),
    gone=st.lists(st.integers(0, 120), max_size=40),
)
@example(closes=5.0, hold=121.5, noise=2, dips=[60.0], gone=[60])
@example(
    closes=5.0, hold=110.875, noise=17, dips=[], gone=[117]
)  # beside where nothing counts for the latest gel
def test_fewer_rows_never_give_a_better_verdict(tmp_path, closes, hold, noise, dips, gone):
    press = Press(closes=closes, hold=hold, step=1.0)
    random = np.random.RandomState(noise)
    press.laminate = press.laminate + random.normal(0, 0.3, press.laminate.size)
    for dip in dips:
        press.bag[(press.minutes >= dip) & (press.minutes < dip + 3)] = 0.0
    keep = np.ones(press.minutes.size, dtype=bool)
    keep[gone] = False
    whole = answer(tmp_path, press.csv(), draws=500)
    less = answer(tmp_path, press.csv(keep=keep), draws=500)
    assert whole.verdict == IN_TIME or less.verdict != IN_TIME
