"""A sensor that reads the pressure of the resin passes the checks that a bladder's gauge passes."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE

from .shop import BATCH, PART, Press, answer, changed

SENSOR = changed(BATCH, ('reads = "bladder pressure"', 'reads = "resin pressure"'))
ABSOLUTE = changed(SENSOR, ('base = "over ambient"', 'base = "absolute"'))
ONE = changed(
    PART, ('"bladder pressure" = 1, "resin pressure" = 0', '"bladder pressure" = 0, "resin pressure" = 1')
)
PANEL = changed(ONE, ('bladder = "bag"\n', 'gap = "2.0 mm"\nprojected_area = "0.09 m^2"\n')) + (
    '[tool]\nmaterial = "aluminium 6061"\nclamp_force = "500 kN"\npressure_limit = "3 MPa"\n'
)
FORCE = """\
"force" = { reads = "clamp force", instrument = "load cell" }
[instrument."load cell"]
calibration = "1 kN (k=2)"
repeatability = "0.5 kN (standard)"
due = 2027-01-01
"""
ATM = 1.01325


def lagging(bar, step, minutes=5.0):
    """Readings that follow by a lag."""
    read, follows = [], 0.0
    for value in bar:
        follows += (value - follows) * step / minutes
        read.append(follows)
    return np.array(read)


@pytest.mark.parametrize("part", [ONE, PANEL])
@pytest.mark.parametrize("log", ["noise", "lag", "absolute", "evacuated", "falls after gel"])
def test_an_ordinary_sensor_is_relied_on(tmp_path, part, log):
    press, noise = Press(), np.random.default_rng(3)
    if log == "noise":
        press.bag = press.bag + noise.normal(0.0, 0.02, len(press.bag)).clip(-0.04, 0.04)
    elif log == "lag":
        press.bag = lagging(press.bag, press.step)
    elif log == "absolute":
        press.bag = press.bag + ATM
    elif log == "evacuated":
        press.bag = np.where(press.minutes < press.closes, 0.05, press.bag + ATM)
    else:
        press.bag = np.where(press.minutes > 80.0, 0.0, press.bag)
    batch = ABSOLUTE if log in ("absolute", "evacuated") else SENSOR
    assert answer(tmp_path, press.csv(), batch, part, draws=500).verdict == IN_TIME


@pytest.mark.parametrize(
    ("part", "bar", "batch", "doubt"),
    [
        (ONE, lambda m: 0.0 * m + 8.0, SENSOR, "never moves"),
        (ONE, lambda m: 0.0 * m + 8.0, ABSOLUTE, "never moves"),
        (ONE, lambda m: np.where(m < 10.0, ATM, 3.5), SENSOR, "less than one atmosphere"),
        (ONE, lambda m: np.where(m < 10.0, 0.0, 29.0), SENSOR, "[bladder.bag]"),
        (PANEL, lambda m: np.where(m < 10.0, 0.0, 31.0), SENSOR, "pressure_limit"),
        (PANEL, lambda m: np.where(m < 10.0, 0.0, 200.0), SENSOR, "clamp_force"),
    ],
)
def test_a_sensor_that_reads_what_cannot_be_is_asked_about(tmp_path, part, bar, batch, doubt):
    press = Press()
    press.bag = bar(press.minutes)
    found = answer(tmp_path, press.csv(), batch, part, draws=500)
    assert found.verdict == CANNOT
    assert any(doubt in words for words in found.why)


def test_too_little_is_late_whatever_else_the_sensor_reads(tmp_path):
    press = Press(bar=2.0)
    assert answer(tmp_path, press.csv(), SENSOR, ONE, draws=500).verdict == LATE


def test_far_more_than_the_force_that_is_logged_gives_is_asked_about(tmp_path):
    """60 kN on 0.09 m2 are 0.67 MPa: 6 bar in the resin are what it gives, 20 are not."""
    part = changed(PANEL, ('"resin pressure" = 1', '"resin pressure" = 1, "clamp force" = 1'))
    for bar, verdict in ((6.0, IN_TIME), (20.0, CANNOT)):
        press = Press(bar=bar)
        head, *rows = press.csv().splitlines()
        force = [f"{row},{60.0 if on else 0.0}" for row, on in zip(rows, press.bag > 0.0, strict=True)]
        log = "\n".join([f"{head},force [kN]", *force]) + "\n"
        assert answer(tmp_path, log, SENSOR + FORCE, part, draws=500).verdict == verdict


def test_what_a_gauge_is_compared_with_is_said_in_place_of_keys_that_stand_in_the_part(tmp_path):
    found = answer(tmp_path, Press().csv(), SENSOR, PANEL, draws=500)
    assert "clamp_force" not in found.unknown["clamp reached"]
