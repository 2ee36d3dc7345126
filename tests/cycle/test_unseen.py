"""What a log does not show, or shows wrongly, is taken to the side that calls no bad part good."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.formulas.conduction import Layer, conduct, mesh
from tests.messages.wording import says

from .shop import BATCH, PART, Press, answer, changed

NO_SENSORS = changed(PART, (PART.splitlines()[-1] + "\n", ""))
TC_3 = 'reads = "laminate", instrument = "thermocouples", place = "middle"'
STAND_IN = changed(BATCH, (TC_3, 'reads = "other"'))
LOOSE = "cycle: a laminate far below a platen at rest"


def gel_of(folder, press):
    """When the first of it gels, as the whole log tells [min]."""
    return answer(folder, press.csv(), draws=300).event("gel first").time.value / 60.0


def spoken(zone):
    """Everything that is said of a zone's verdict."""
    return "\n".join([*zone.why, *zone.warnings])


def without_bag(press, first, last):
    """A log whose gauge has no reading in some rows."""
    rows = press.csv().splitlines()
    lost = (press.minutes >= first) & (press.minutes <= last)
    cut = [f"{row.rsplit(',', 1)[0]},---" if gone else row for row, gone in zip(rows[1:], lost, strict=True)]
    return "\n".join([rows[0], *cut]) + "\n"


def following(press, lag, gain=1.0):
    """A laminate that follows the platen, a lag of first order behind it [min]."""
    fine = np.arange(0.0, press.total + 0.01, 0.01)
    platen, warm = np.interp(fine, press.minutes, press.platen), np.empty_like(fine)
    warm[0] = 23.0
    for k in range(1, len(fine)):
        warm[k] = warm[k - 1] + 0.01 / lag * (23.0 + gain * (platen[k] - 23.0) - warm[k - 1])
    return np.interp(press.minutes, fine, warm)


@pytest.mark.parametrize(
    ("around", "verdict"), [((-0.2, 0.2), IN_TIME), ((-1.0, 1.0), CANNOT), ((-12.0, -6.0), IN_TIME)]
)
def test_a_pressure_not_read_at_gel_for_5_percent_of_the_clock_is_not_known(tmp_path, around, verdict):
    """At 124 degC the clock gains 4 % a minute; one row lost is below 5 %."""
    press = Press()
    gel = gel_of(tmp_path, press)
    zone = answer(tmp_path, without_bag(press, gel + around[0], gel + around[1]), draws=500)
    assert zone.verdict == verdict
    assert verdict == IN_TIME or says("cycle: the pressure is not read at gel", spoken(zone))


@pytest.mark.parametrize(
    ("every", "phase", "closes", "verdict"),
    [
        (10, 41, 47.0, CANNOT),
        (10, 41, 30.0, IN_TIME),
        (5, 44, 47.0, CANNOT),
        (5, 44, 36.0, IN_TIME),
        (10, 41, 70.0, LATE),
    ],
)
def test_a_gauge_read_seldom_tells_the_lower_of_its_readings(tmp_path, every, phase, closes, verdict):
    """It gels at 49.8 min, and the clock gains 4 % a minute: a straight line of 10 min tells of no moment."""
    press = Press(closes=closes)
    heading, *rows = press.csv().splitlines()
    kept = [
        row if at % every == phase % every else f"{row.rsplit(',', 1)[0]},"
        for at, row in zip(press.minutes, rows, strict=True)
    ]
    zone = answer(tmp_path, "\n".join([heading, *kept]) + "\n", draws=2000)
    assert zone.verdict == verdict
    assert zone.event("gel first").time.value / 60.0 == pytest.approx(49.8, abs=0.05)


def test_draws_that_gel_where_the_pressure_is_not_read_count_as_not_pressed(tmp_path):
    press = Press()
    gel = gel_of(tmp_path, press)
    zone = answer(tmp_path, without_bag(press, gel + 0.6, gel + 4.1), draws=2000)
    assert zone.verdict == CANNOT
    assert zone.chance.both < 0.7
    assert says("cycle: draws gel where the pressure is not read", spoken(zone))


def test_a_pressure_released_after_the_gel_of_a_stand_in_may_miss_that_of_the_laminate(tmp_path):
    press = Press()
    press.bag[press.minutes > 62.0] = 0.0
    zone = answer(tmp_path, press.csv(), STAND_IN, NO_SENSORS, draws=500)
    assert zone.event("gel first").time.value / 60.0 < 60.0
    assert zone.verdict == CANNOT
    assert says("cycle: released after a stand-in gelled", spoken(zone), minutes="62")


def test_a_log_that_ends_soon_after_a_stand_in_gelled_tells_of_no_release(tmp_path):
    press = Press()
    cut = press.csv(press.minutes <= 62.0)
    zone = answer(tmp_path, cut, STAND_IN, NO_SENSORS, draws=500)
    assert zone.verdict == CANNOT
    assert says("cycle: a log that ends after a stand-in gelled", spoken(zone), minutes="62")
    assert answer(tmp_path, cut, draws=500).verdict == IN_TIME


@pytest.mark.parametrize("cooled", [False, True])
def test_a_stand_in_presses_in_time_where_it_is_released_cold_or_not_at_all(tmp_path, cooled):
    press = Press()
    if cooled:
        late = press.minutes > 90.0
        press.platen[late] = np.maximum(125.0 - 5.0 * (press.minutes[late] - 90.0), 40.0)
        press.bag[press.minutes > 100.0] = 0.0
    zone = answer(tmp_path, press.csv(), STAND_IN, NO_SENSORS, draws=500)
    assert zone.verdict == IN_TIME


@pytest.mark.parametrize("closes", [10.0, 57.0])
@pytest.mark.parametrize("how", ["loose", "stopped", "flickers", "stopped at the end of the ramp"])
def test_a_loose_or_stopped_thermocouple_says_pressed_in_time_only_as_the_platen_does(tmp_path, how, closes):
    press = Press(closes=closes, total=180.0)
    press.laminate = following(press, 2.0)
    gel = gel_of(tmp_path, press)
    assert answer(tmp_path, press.csv(), draws=500).verdict == (IN_TIME if closes < gel else LATE)
    if how == "loose":
        from_then = press.minutes > 25.0
        press.laminate[from_then] = (23.0 + 0.91 * (press.platen - 23.0))[from_then]
    else:
        at = {"stopped": 32.0, "flickers": 31.5}.get(how, 33.0)
        row = int(np.argmax(press.minutes >= at))
        press.laminate[row:] = press.laminate[row]
        press.laminate[row:] += 0.1 * (np.arange(len(press.minutes) - row) % 2) * (how == "flickers")
    zone = answer(tmp_path, press.csv(), draws=500)
    assert zone.verdict == (IN_TIME if closes < gel else CANNOT)
    assert says(LOOSE, "\n".join(zone.warnings if zone.good else zone.why))


@pytest.mark.parametrize("lag", [5.0, 20.0, 60.0, 120.0])
@pytest.mark.parametrize("hot_press", [False, True])
def test_a_laminate_that_lags_is_not_doubted(tmp_path, lag, hot_press):
    press = Press(total=600.0, step=1.0)
    if hot_press:
        press.platen[:] = 125.0
    press.laminate = following(press, lag) + 0.1 * np.random.RandomState(1).standard_normal(601)
    zone = answer(tmp_path, press.csv(), draws=500)
    assert not says(LOOSE, spoken(zone))
    assert zone.verdict == IN_TIME


@pytest.mark.parametrize("core", [(0.025, 0.2, 1.6e6), (0.03, 167.0, 2.4e6)], ids=["silicone", "aluminium"])
def test_a_laminate_before_a_core_heated_from_one_side_is_not_doubted(tmp_path, core):
    """The thermocouple on the core's face, behind 20 mm of tool and 6 mm of laminate; invented contacts."""
    tool = Layer(0.02, 167.0, 2.4e6, 3, 400.0)
    net = mesh(layers=[tool, Layer(0.006, 0.6, 1.6e6, 6, 1000.0), Layer(*core, 10, 500.0)])
    press = Press(total=300.0, step=1.0)
    seconds = press.minutes * 60.0

    def face(time):
        return float(np.interp(time, seconds, press.platen))

    warm = conduct(net=net, start=np.full(19, 23.0), times=seconds, face=face)
    press.laminate = warm[:, net.first[2]]
    zone = answer(tmp_path, press.csv(), draws=500)
    assert not says(LOOSE, spoken(zone))
    assert zone.verdict == IN_TIME


@pytest.mark.parametrize("plies", [200, 670])
@pytest.mark.parametrize("hot_press", [False, True])
def test_a_thick_laminate_heated_from_one_side_is_not_doubted(tmp_path, plies, hot_press):
    """30 and 100 mm, the thermocouple on the far face: the second lags three hours."""
    net = mesh(layers=[Layer(0.00015 * plies, 0.6, 1.6e6, 20, 500.0)])
    press = Press(total=700.0, step=1.0)
    if hot_press:
        press.platen[:] = 125.0
    seconds = press.minutes * 60.0

    def face(time):
        return float(np.interp(time, seconds, press.platen))

    press.laminate = conduct(net=net, start=np.full(20, 23.0), times=seconds, face=face)[:, -1]
    zone = answer(tmp_path, press.csv(), part=changed(PART, ("10 ud150", f"{plies} ud150")), draws=500)
    assert not says(LOOSE, spoken(zone))
    assert zone.verdict == IN_TIME


def test_a_laminate_that_rests_a_little_below_the_platen_is_not_doubted(tmp_path):
    press = Press(total=200.0)
    press.laminate = following(press, 4.0, gain=0.95)
    zone = answer(tmp_path, press.csv(), draws=500)
    assert not says(LOOSE, spoken(zone))
    assert zone.verdict == IN_TIME


def test_a_laminate_between_two_platens_of_which_the_other_is_as_cold_is_not_doubted(tmp_path):
    press = Press(total=200.0)
    press.laminate = following(press, 2.0, gain=0.85)
    rows = press.csv().splitlines()
    below = ["foot [degC]", *(f"{value - 1.0:.1f}" for value in press.laminate)]
    log = "\n".join(f"{row},{value}" for row, value in zip(rows, below, strict=True)) + "\n"
    foot = '"foot" = { reads = "platen", instrument = "thermocouples" }\n'
    both = answer(tmp_path, log, BATCH + foot, changed(PART, ("platen = 1", "platen = 2")), draws=500)
    assert not says(LOOSE, spoken(both))
    assert says(LOOSE, spoken(answer(tmp_path, press.csv(), draws=500)))


@pytest.mark.parametrize(
    ("rest", "pressed", "verdict", "doubted"),
    [
        (0.0, 3.1, IN_TIME, False),
        (0.05, 3.2, IN_TIME, False),
        (0.4, 3.1, CANNOT, True),
        (0.4, 6.0, IN_TIME, True),
    ],
)
def test_a_gauge_that_rests_above_its_zero_may_press_that_much_less(
    tmp_path, rest, pressed, verdict, doubted
):
    """The gauge is good to 0.05 bar (k=2): 3.1 bar over a rest of 0.4 are 2.7, of 3 needed."""
    press = Press()
    press.bag = np.where(press.minutes >= press.closes, pressed, rest)
    zone = answer(tmp_path, press.csv(), draws=1000)
    assert zone.verdict == verdict
    assert says("cycle: a gauge that rests above its zero", spoken(zone)) is doubted


def test_a_gauge_that_only_flickers_by_its_last_digit_never_moves(tmp_path):
    press = Press()
    press.bag = 6.0 + 0.01 * (np.arange(len(press.minutes)) % 2)
    zone = answer(tmp_path, press.csv(), draws=500)
    assert zone.verdict == CANNOT
    assert says("cycle: a gauge that never moves", spoken(zone))
    press.bag = 6.0 + 0.01 * (np.arange(len(press.minutes)) % 4)
    assert answer(tmp_path, press.csv(), draws=500).verdict == IN_TIME


@pytest.mark.parametrize("wanted", ["", 'wanted_pressure = "3.5 bar"\n'])
def test_a_pressure_that_was_on_and_too_low_is_said_with_what_was_wanted(tmp_path, wanted):
    part = PART + "\n" + wanted
    zone = answer(tmp_path, Press(bar=0.8).csv(), part=part, draws=500)
    assert zone.verdict == LATE
    key, least = ("wanted_pressure", "0.35 MPa") if wanted else ("pressed_at", "0.3 MPa")
    assert says("cycle: on, and too low", zone.why[0], key=key, least=least)
    late = Press(closes=70.0)
    assert not says(
        "cycle: on, and too low", answer(tmp_path, late.csv(), draws=500).why[0], key=key, least=least
    )


@pytest.mark.parametrize(("lag", "said"), [(1.0, False), (8.0, True)])
def test_plies_nearer_the_tool_than_the_only_sensor_may_gel_before_the_press(tmp_path, lag, said):
    """Pressed between the gel that the platen tells and that of the sensor, 3 min before it."""
    press = Press()
    press.laminate = following(press, lag)
    press.bag = np.where(press.minutes >= gel_of(tmp_path, press) - 3.0, press.bar, 0.0)
    zone = answer(tmp_path, press.csv(), draws=300)
    assert says("cycle: plies nearer the tool gel sooner", spoken(zone)) is said


@pytest.mark.parametrize(
    ("before_gel", "of_lot", "said"), [(5.5, False, True), (12.0, False, False), (5.5, True, False)]
)
def test_a_lot_whose_gel_times_nobody_measured_may_gel_before_the_press(tmp_path, before_gel, of_lot, said):
    """Gel times of a resin are 13 min by one data sheet and 12 to 22 by another: 30 % between lots."""
    press = Press()
    times = next(line for line in BATCH.splitlines() if line.startswith("gel_time"))
    batch = BATCH if of_lot else changed(BATCH, (f"{times}\n", ""))
    press.bag = np.where(press.minutes >= gel_of(tmp_path, press) - before_gel, press.bar, 0.0)
    zone = answer(tmp_path, press.csv(), batch, draws=1000)
    assert zone.verdict == IN_TIME
    assert says("cycle: a faster lot gels before the press", spoken(zone)) is said


@pytest.mark.parametrize("last", [66.0, 119.0])
def test_a_pressure_not_read_after_a_stand_in_gelled_may_be_off(tmp_path, last):
    """Platen alone: the laminate may gel later, and nobody reads the bladder then."""
    press = Press()
    whole = answer(tmp_path, press.csv(), STAND_IN, NO_SENSORS, draws=300)
    assert whole.verdict == IN_TIME
    zone = answer(tmp_path, without_bag(press, 60.0, last), STAND_IN, NO_SENSORS, draws=300)
    assert (zone.verdict, bool(zone.why)) == (CANNOT, True)


def test_a_thermocouple_that_begins_late_is_not_hotter_than_a_platen_before(tmp_path):
    """Its first reading says nothing of the rows before."""
    press = Press()
    rows = press.csv().splitlines()
    late = press.minutes < 5.0
    cut = [
        ",".join([*row.split(",")[:1], "", *row.split(",")[2:]]) if gone else row
        for row, gone in zip(rows[1:], late, strict=True)
    ]
    zone = answer(tmp_path, "\n".join([rows[0], *cut]) + "\n", draws=300)
    assert not [words for words in (*zone.why, *zone.warnings) if "exotherm" in words]
