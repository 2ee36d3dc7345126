"""What a log's columns read: clocks, gauges, thermocouples, and what stands in for one that is not there."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.curing.cycling import cycle
from laminate.files.log_cells import MOST_ROWS
from laminate.values.problems import Refused
from tests.messages.wording import says

from .shop import BATCH, PART, Press, answer, changed

BAG = BATCH.splitlines()[-1] + "\n"
ATM = 101325.0


def refusal(folder, log, batch=BATCH, part=PART):
    """The first thing found wrong."""
    with pytest.raises(Refused) as refused:
        answer(folder, log, batch, part, draws=100)
    return refused.value.problems[0]


def clocked(press, start, moved=()):
    """A log with a clock of the day; moved: rows from which the clock is shifted, and by how much [s]."""
    seconds = start + press.minutes * 60.0
    for row, shift in moved:
        seconds[row:] += shift
    rows = press.csv().splitlines()
    lines = []
    for row, at in zip(rows[1:], seconds, strict=True):
        at = int(at) % 86400
        lines.append(f"{at // 3600:02d}:{at // 60 % 60:02d}:{at % 60:02d},{row.split(',', 1)[1]}")
    return "\n".join([rows[0].replace("Time [min]", "Time"), *lines]) + "\n"


def test_midnight_for_the_second_time_is_refused(tmp_path):
    found = refusal(tmp_path, clocked(Press(), 86000.0, [(60, 80000.0)]))
    assert found.code == "unreadable-time"
    assert "midnight" in found.found


def test_an_hour_ahead_is_told_and_never_in_time_where_the_clock_ran_on(tmp_path):
    found = answer(tmp_path, clocked(Press(), 7200.0, [(70, 3600.0)]), draws=300)
    assert any("summer time" in words for words in found.mended)
    assert found.verdict == CANNOT


def test_more_rows_than_are_read_are_refused_with_what_to_do(tmp_path):
    rows = "\n".join(f"{k},23.0,23.0,0.0" for k in range(MOST_ROWS + 1))
    found = refusal(tmp_path, f"Time [s],TC 3 [degC],top [degC],bag [bar]\n{rows}\n")
    assert found.code == "too-many-rows"
    assert says("cycle: more rows than are read are refused", found.hint)


def test_fewer_than_ten_rows_between_60_degc_and_gel_cannot_be_said(tmp_path):
    press = Press(step=6.0)
    found = answer(tmp_path, press.csv(), draws=300)
    assert found.verdict == CANNOT
    assert any("fewer than 10 rows" in words for words in found.why)


def test_a_sensor_at_room_temperature_is_left_out(tmp_path):
    press = Press()
    press.platen = np.full_like(press.platen, 23.0) + 0.3 * np.sin(press.minutes)
    found = answer(tmp_path, press.csv(), part=changed(PART, ("platen = 1", "platen = 0")), draws=300)
    assert any(words.startswith("top: ") for words in found.left_out)
    assert found.verdict == IN_TIME


def test_a_little_below_zero_is_told(tmp_path):
    press = Press()
    press.bag[:5] = -0.2
    found = answer(tmp_path, press.csv(), draws=300)
    assert any(says("cycle: a little below zero is told", words) for words in found.warnings)


@pytest.mark.parametrize(("inches", "below"), [(29.0, False), (31.0, True)])
def test_a_vacuum_gauge_that_reads_below_no_pressure_at_all_is_told(tmp_path, inches, below):
    """29.92 inHg below an atmosphere is zero, absolute."""
    rows = Press().csv().splitlines()
    log = "\n".join([f"{rows[0]},vac [inHg]", *(f"{row},{inches}" for row in rows[1:])]) + "\n"
    batch = BATCH + '"vac" = { reads = "cavity pressure", base = "below ambient" }\n'
    found = answer(tmp_path, log, batch, draws=300)
    assert any(says("cycle: a little below zero is told", words) for words in found.warnings) is below
    if below:
        with pytest.raises(Refused) as refused:
            answer(tmp_path, log.replace(",31.0", ",36.0"), batch, draws=300)
        assert [problem.code for problem in refused.value.problems] == ["below-zero"]


def test_a_platen_that_stands_in_may_be_in_time_and_is_never_late(tmp_path):
    none = changed(
        BATCH, ('reads = "laminate", instrument = "thermocouples", place = "middle"', 'reads = "other"')
    )
    part = changed(PART, ("laminate = 1", "laminate = 0"))
    early, late = (answer(tmp_path, Press(closes=t).csv(), none, part, draws=500) for t in (10.0, 70.0))
    assert (early.verdict, late.verdict) == (IN_TIME, CANNOT)
    for name in ("cure temperature", "peak temperature", "time above"):
        assert name not in early.readings
        assert name in early.unknown


def test_cure_temperature_is_that_of_the_coldest_sensor_and_the_peak_that_of_the_hottest(tmp_path):
    press = Press()
    rows = press.csv().splitlines()
    log = "\n".join(
        [
            f"{rows[0]},TC 4 [degC]",
            *(f"{r},{v + 2:.1f}" for r, v in zip(rows[1:], press.laminate, strict=True)),
        ]
    )
    batch = BATCH + '"TC 4" = { reads = "laminate", instrument = "thermocouples", place = "middle" }\n'
    found = answer(tmp_path, log + "\n", batch, draws=300)
    # while within 3 K of its highest, 124 degC: the last minute of the ramp, then the hold
    assert found.readings["cure temperature"].value - 273.15 == pytest.approx(124.0, abs=0.05)
    assert found.readings["peak temperature"].value - 273.15 == pytest.approx(126.0)


def test_three_kelvin_for_the_place_unless_it_is_the_middle(tmp_path):
    press = Press(closes=48.0)
    middle = answer(tmp_path, press.csv(), draws=2000)
    edge = answer(tmp_path, press.csv(), changed(BATCH, (', place = "middle"', "")), draws=2000)
    wide = edge.event("gel first").time.u > middle.event("gel first").time.u
    assert wide
    assert any("3 K" in words for words in edge.warnings)
    assert not any("3 K" in words for words in middle.warnings)


PRESS = changed(
    PART,
    ('bladder = "bag"\nstack', 'projected_area = "0.02 m^2"\nstack'),
    ('"bladder pressure" = 1', '"clamp force" = 0, "ram pressure" = 1'),
)


def test_a_ram_presses_with_its_pressure_times_its_area_over_all_area_that_carries(tmp_path):
    ram = BAG.replace("bladder pressure", "ram pressure").replace(" }", ', ram_area = "314 cm^2" }')
    found = answer(tmp_path, Press(bar=6.0).csv(), changed(BATCH, (BAG, ram)), PRESS, draws=300)
    assert found.verdict == IN_TIME
    assert found.applied_pressure_at_gel.value == pytest.approx(6e5 * 0.0314 / 0.02)
    flash = (
        PRESS
        + '[zone.land]\ngap = "1 mm"\nprojected_area = "0.01 m^2"\nstack = ["9 ud150"]\nbleed_limit = "0 %"\n'
    )
    less = answer(tmp_path, Press(bar=6.0).csv(), changed(BATCH, (BAG, ram)), flash, draws=300)
    assert less.applied_pressure_at_gel.value == pytest.approx(6e5 * 0.0314 / 0.03)


@pytest.mark.parametrize("jumps", [True, False])
def test_a_logger_that_stood_still_read_nothing_meanwhile(tmp_path, jumps):
    """All columns repeat row 31 for 15 min of the ramp; at the end of the hold they may well repeat."""
    heading, *rows = Press().csv().splitlines()
    begun, ended = (31, 61) if jumps else (len(rows) - 31, len(rows))
    kept = rows[begun].partition(",")[2]
    rows[begun:ended] = [f"{row.partition(',')[0]},{kept}" for row in rows[begun:ended]]
    found = answer(tmp_path, "\n".join([heading, *rows]) + "\n", draws=300)
    assert found.verdict == (CANNOT if jumps else IN_TIME)
    assert sum("29 rows" in words for words in found.left_out) == jumps


@pytest.mark.parametrize(
    ("clamp", "limit", "verdict"),
    [("20 kN", "2 MPa", IN_TIME), ("9 kN", "2 MPa", CANNOT), ("20 kN", "0.9 MPa", CANNOT)],
)
def test_a_closing_press_far_beyond_its_clamp_or_tool_is_in_no_unit_to_believe(
    tmp_path, clamp, limit, verdict
):
    """6 bar on 314 cm^2 are 18.84 kN, 0.94 MPa on the laminate."""
    ram = BAG.replace("bladder pressure", "ram pressure").replace(" }", ', ram_area = "314 cm^2" }')
    part = f'{PRESS}\n[tool]\nmaterial = "steel P20"\nclamp_force = "{clamp}"\npressure_limit = "{limit}"\n'
    found = answer(tmp_path, Press(bar=6.0).csv(), changed(BATCH, (BAG, ram)), part, draws=300)
    assert found.verdict == verdict


def test_forces_in_tonnes_and_a_gauge_below_ambient(tmp_path):
    # 2 tonne-force = 19.6133 kN by definition of standard gravity
    rows = Press().csv().replace("bag [bar]", "bag [tf]").replace(",6.00", ",2.00").splitlines()
    log = "\n".join([f"{rows[0]},vac [inHg]", *(f"{row},22" for row in rows[1:])]) + "\n"
    force = '"bag" = { reads = "clamp force", instrument = "cell" }\n'
    force += '"vac" = { reads = "cavity pressure", base = "below ambient" }\n'
    cell = '[instrument.cell]\ncalibration = "0.1 kN (k=2)"\ndue = 2027-01-01\n[[log]]'
    batch = changed(BATCH, (BAG, force), ("[[log]]", cell))
    found = answer(tmp_path, log, batch, PRESS, draws=300)
    assert found.applied_pressure_at_gel.value == pytest.approx(19613.3 / 0.02, rel=1e-9)
    # 22 inHg below ambient is 0.0268 MPa absolute: what presses before it is full
    assert found.events[0].resin_pressure == pytest.approx(0.0268e6, abs=50.0)


@pytest.mark.parametrize("unit", ["t", "ton"])
def test_a_force_in_tons_is_refused(tmp_path, unit):
    log = Press().csv().replace("bag [bar]", f"bag [{unit}]")
    batch = changed(BATCH, (BAG, '"bag" = { reads = "clamp force" }\n'))
    found = refusal(tmp_path, log, batch, PRESS)
    assert found.code == "column-unit"
    assert "tf" in found.expected + found.hint


def test_on_its_stops_the_force_says_nothing_of_the_resin_and_can_still_be_late(tmp_path):
    stops = changed(PART, ('bladder = "bag"\nstack', 'gap = "1.6 mm"\nstack'))
    cell = '[instrument.cell]\ncalibration = "1 kN (k=2)"\ndue = 2027-01-01\n[[log]]'
    force = '"bag" = { reads = "clamp force", instrument = "cell" }\n'
    batch = changed(BATCH, (BAG, force), ("[[log]]", cell))
    early, late = (
        answer(tmp_path, Press(closes=t).csv().replace("bag [bar]", "bag [kN]"), batch, stops, draws=500)
        for t in (5.0, 70.0)
    )
    assert (early.verdict, late.verdict) == (CANNOT, LATE)
    assert early.resin_pressure_at_gel is None


def test_below_the_coldest_gel_test_the_line_is_a_guess_both_ways(tmp_path):
    # a hold at 105 degC is below 120 - 10: with it the resin gels, without it the clock stands still
    press = Press(hold=105.0, total=300.0, closes=120.0, step=1.0)
    found = answer(tmp_path, press.csv(), draws=500)
    assert found.verdict == CANNOT
    assert found.gel_clock.below_tested_range > 0.5


def test_above_the_hottest_gel_test_before_gel_cannot_be_said(tmp_path):
    press = Press(closes=2.0, step=0.1)
    press.platen = np.minimum(23.0 + 20.0 * press.minutes, 175.0)
    press.laminate = np.minimum(23.0 + 20.0 * np.maximum(press.minutes - 0.5, 0.0), 174.0)
    found = answer(tmp_path, press.csv(), draws=500)
    assert found.verdict == CANNOT
    assert any(says("cycle: above the hottest gel test before gel", words) for words in found.why)


def test_an_ordinary_ramp_gains_an_eighth_of_its_clock_below_90_degc():
    # 2 K/min to 125 degC; 28 min at 120, 10 min at 150: 12 % below 90 degC, arithmetic
    b = np.log(2.8) / (1 / 393.15 - 1 / 423.15)
    minutes = np.arange(0.0, 300.0, 0.01)
    warm = np.minimum(23.0 + 2.0 * minutes, 125.0) + 273.15
    used = np.cumsum(0.01 / (28.0 * np.exp(b * (1.0 / warm - 1.0 / 393.15))))
    below = used[int(np.argmax(warm >= 363.15))]
    assert 0.08 < below < 0.16


def test_no_out_life_means_it_must_hold_with_a_third_of_the_clock_used(tmp_path):
    part = changed(
        PART, ('out_life = { time = "30 d", temperature = "23 degC", share = "20 % ± 10 (tolerance)" }\n', "")
    )
    early, between, late = (
        answer(tmp_path, Press(closes=t).csv(), part=part, draws=500) for t in (10, 47, 70)
    )
    assert (early.verdict, between.verdict, late.verdict) == (IN_TIME, CANNOT, LATE)
    assert any("30%" in words for words in early.warnings)


@pytest.mark.parametrize(
    ("seconds", "bad"), [("nan", True), ("inf", True), ("1e400", True), ("", False), ("1e308", True)]
)
def test_a_time_that_is_no_number(tmp_path, seconds, bad):
    rows = Press().csv().splitlines()
    rows[20] = f"{seconds},{rows[20].split(',', 1)[1]}"
    if bad:
        assert refusal(tmp_path, "\n".join(rows) + "\n").place.startswith(("row 21", "row 22"))
    else:
        answer(tmp_path, "\n".join(rows) + "\n", draws=100)
        assert says(
            "cycle: a time that is no number", cycle(tmp_path / "batch.toml", draws=100).zones[0].left_out
        )


def test_a_number_too_large_for_its_unit_is_no_reading(tmp_path):
    rows = Press().csv().splitlines()
    rows[20] = rows[20].rsplit(",", 1)[0] + ",1e308"
    found = answer(tmp_path, "\n".join(rows) + "\n", draws=100)
    assert any(words.startswith("bag: 1 of") for words in found.left_out)


@pytest.mark.parametrize(
    ("rest", "pressed", "verdict"),
    [(0.0, 3.5, IN_TIME), (1.01, 3.5, CANNOT), (1.01, 6.0, IN_TIME), (0.5, 3.6, IN_TIME), (6.0, 6.0, CANNOT)],
)
def test_a_gauge_that_rests_at_one_atmosphere_or_never_moves_is_asked_about(tmp_path, rest, pressed, verdict):
    """An absolute gauge, said to read over ambient, has 1.01 bar too much: 3.5 for 2.5 bar, of 3 needed."""
    press = Press(bar=pressed)
    press.bag = np.where(press.minutes >= press.closes, pressed, rest)
    found = answer(tmp_path, press.csv(), draws=500)
    assert found.verdict == verdict
    if verdict == CANNOT:
        assert "'bag'" in found.why[0]
