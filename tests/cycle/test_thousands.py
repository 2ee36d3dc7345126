"""Points and commas of a log in whole numbers: between thousands, or before decimals."""

import numpy as np
import pytest

from laminate.curing.answers import IN_TIME
from laminate.values.problems import Refused

from .shop import BATCH, Press, answer

PRESS = Press()
RAMP = np.clip((PRESS.minutes - 8.0) * 1.5, 0.0, 6.0)
"""The bladder fills in four minutes [bar]: 0, 750, 1500, ... mbar."""


def log(bag, *, unit="mbar", warm=".0f", bar=None, sep=";", seconds="{:.0f}"):
    """The shop's log with whole numbers of everything; bag: what writes its pressure, of mbar."""
    lines = [f"Time [s]{sep}TC 3 [degC]{sep}top [degC]{sep}bag [{unit}]"]
    pressures = RAMP if bar is None else bar
    for row in zip(PRESS.minutes, PRESS.laminate, PRESS.platen, pressures, strict=True):
        time, laminate, platen, pressure = row
        cells = [seconds.format(60.0 * time), f"{laminate:{warm}}", f"{platen:{warm}}", bag(1e3 * pressure)]
        lines.append(sep.join(cells))
    return "\n".join(lines) + "\n"


def grouped(sign):
    return lambda number: f"{number:,.0f}".replace(",", sign)


@pytest.mark.parametrize("sign", [".", ","])
def test_a_sign_between_thousands_is_asked_about(tmp_path, sign):
    with pytest.raises(Refused) as refused:
        answer(tmp_path, log(grouped(sign)), draws=100)
    (problem,) = refused.value.problems
    assert (problem.code, problem.place) == ("thousands", "row 20, bag [mbar]")
    assert f"'1{sign}500'" in problem.found


@pytest.mark.parametrize("sign", [".", ","])
def test_times_too_are_asked_about_before_they_run_back(tmp_path, sign):
    text = log("{:.0f}".format).splitlines()
    rows = [f"{grouped(sign)(30 * at)}{row[row.index(';') :]}" for at, row in enumerate(text[1:])]
    with pytest.raises(Refused) as refused:
        answer(tmp_path, "\n".join([text[0], *rows]), draws=100)
    assert [(p.code, p.place) for p in refused.value.problems] == [("thousands", "row 36, Time [s]")]


def test_millions_are_asked_about_too(tmp_path):
    with pytest.raises(Refused) as refused:
        answer(tmp_path, log(lambda mbar: f"{100 * mbar:,.0f}".replace(",", "."), unit="Pa"), draws=100)
    assert [p.code for p in refused.value.problems] == ["thousands"]


ABSOLUTE = RAMP + 1.013
ORDINARY = [
    log("{:.0f}".format),
    log(lambda mbar: f"{mbar / 1e3:.3f}", unit="bar"),
    log(lambda mbar: f"{mbar / 1e3:.3f}".replace(".", ","), unit="bar"),
    log(lambda mbar: f"{mbar / 1e3:g}", unit="bar"),
    log(lambda mbar: f"{mbar / 1e3:g}", unit="bar", sep=","),
    log(lambda mbar: f"{mbar / 1e3:.3f}" if mbar else "0", unit="bar", warm=".1f"),
    log(lambda mbar: f"{mbar:.3f}", seconds="{:.1f}"),
    log(lambda mbar: f"{mbar / 1e3:.3f}" if mbar else "---", unit="bar"),
]


@pytest.mark.parametrize("text", ORDINARY)
def test_decimals_are_read_unasked(tmp_path, text):
    zone = answer(tmp_path, text, draws=500)
    assert zone.verdict == IN_TIME
    assert zone.event("pressed").time.value / 60 == pytest.approx(10.0, abs=0.1)


@pytest.mark.parametrize("unit", ["bar", "mbar"])
def test_three_decimals_in_every_row_are_decimals(tmp_path, unit):
    """1.013 bar to 7.013 bar; nothing in the file tells of whole numbers of mbar."""
    text = log(lambda mbar: f"{mbar / 1e3:.3f}", unit="bar", bar=ABSOLUTE)
    absolute = BATCH.replace('base = "over ambient"', 'base = "absolute"')
    assert answer(tmp_path, text, absolute, draws=500).verdict == IN_TIME
