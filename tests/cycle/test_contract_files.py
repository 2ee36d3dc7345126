"""Files with nothing but the keys that everybody writes: what is asked for elsewhere may be left out."""

import re

import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE

from . import shop
from .shop import Press, answer, changed

PART = changed(shop.PART, (shop.PART.splitlines()[-1] + "\n", ""))
BATCH = changed(
    shop.BATCH,
    ('share = "100 %"\n', ""),
    (' (exact)"', '"'),
    (re.search(r"gel_time = .*\n", shop.BATCH)[0], ""),
    ('repeatability = "0.1 K (standard)"\n', ""),
    ('repeatability = "0.01 bar (standard)"\n', ""),
)
OUT_LIFE = re.search(r"out_life = .*\n", PART)[0]
NO_INSTRUMENT = re.sub(r", instrument = \"[^\"]*\"", "", BATCH)
CASES = {
    "nothing more": (PART, BATCH),
    "at the edge": (PART, changed(BATCH, (', place = "middle"', ""))),
    "no instrument": (
        PART,
        NO_INSTRUMENT[: NO_INSTRUMENT.index("[instrument")] + NO_INSTRUMENT[NO_INSTRUMENT.index("[[log]]") :],
    ),
    "no due date": (PART, changed(BATCH, ("due = 2027-01-01\n", ""))),
    "no humidity": (PART, changed(BATCH, ('stored_humidity = "45 %"\n', ""))),
    "no out-life": (changed(PART, (OUT_LIFE, "")), changed(BATCH, ('out_time = "12 d"\n', ""))),
    "gel times without ±": (changed(PART, (" ± 3 (tolerance)", ""), (" ± 1 (tolerance)", "")), BATCH),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_press_in_time_is_in_time(case, tmp_path):
    part, batch = CASES[case]
    assert answer(tmp_path, Press().csv(), batch, part, draws=1000).verdict == IN_TIME


def test_what_is_left_out_is_said(tmp_path):
    whole = answer(tmp_path, Press().csv(), draws=200)
    less = answer(tmp_path, Press().csv(), *CASES["no instrument"][::-1], draws=200)
    assert "sensors" in less.unknown
    assert len(less.warnings) > len(whole.warnings)
    assert any("stored_humidity" in words and "10 %" in words for words in less.warnings)


def test_a_humidity_without_its_spread_buys_nothing(tmp_path):
    """Near the vapor's pressure it is 'cannot say' with the ± and without; exact has to be said."""
    log, part = Press(bar=0.9).csv(), changed(PART, ('pressed_at = "3 bar"', 'pressed_at = "0.5 bar"'))

    def found(text):
        batch = changed(BATCH, ('"45 %"', f'"{text}"'))
        zone = answer(tmp_path, log, batch, part, draws=2000)
        return zone.verdict, zone.chance.above_vapor

    assert found("80 %") == found("80 % ± 8 (tolerance)")
    assert found("80 %")[0] == CANNOT
    assert found("80 % (exact)")[0] == IN_TIME


@pytest.mark.parametrize(("closes", "verdict"), [(45.0, IN_TIME), (50.0, CANNOT), (60.0, LATE)])
def test_the_gel_times_of_the_part_decide_with_their_own_tolerance(closes, verdict, tmp_path):
    found = answer(tmp_path, Press(closes=closes).csv(), BATCH, PART, draws=2000)
    assert found.verdict == verdict


def test_pressed_in_the_last_fifth_is_in_time_with_a_caution(tmp_path):
    """Close to gel, with a test and a thermometer that are good enough for it."""
    part = changed(
        PART, ("± 3 (tolerance)", "± 1 (tolerance)"), ('min ± 1 (tolerance)"]]', 'min ± 0.3 (tolerance)"]]')
    )
    found = answer(tmp_path, Press(closes=46.5).csv(), BATCH, part, draws=2000)
    assert (found.verdict, found.gel_clock.when_pressed > 0.8) == (IN_TIME, True)
    assert any("last fifth" in words for words in found.warnings)
