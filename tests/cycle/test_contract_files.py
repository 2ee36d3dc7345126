"""Files with nothing but the keys that everybody writes: what is asked for elsewhere may be left out."""

import re
from dataclasses import replace

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.curing.charges import contents
from laminate.curing.draws import Columns, gel_lines, generator
from laminate.files.part import part_of
from laminate.files.toml import load
from tests.messages.wording import says

from . import shop
from .shop import Press, answer, changed

PART = changed(shop.PART, (shop.PART.splitlines()[-1] + "\n", ""))
GEL_TIME = re.search(r"gel_time = .*\n", shop.BATCH)[0]
BATCH = changed(
    shop.BATCH,
    ('share = "100 %"\n', ""),
    (' (exact)"', '"'),
    (GEL_TIME, ""),
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
    assert any("45 %" in words for words in less.not_measured)


@pytest.mark.parametrize(
    ("closes", "of_part", "of_lot"),
    [(42.0, IN_TIME, IN_TIME), (45.0, CANNOT, IN_TIME), (50.0, CANNOT, CANNOT), (60.0, CANNOT, LATE),
     (70.0, LATE, LATE)],
)  # fmt: skip
def test_gel_times_of_the_part_decide_less_than_those_of_the_lot(closes, of_part, of_lot, tmp_path):
    """Another lot gels within ± 30 % of it, beside the tolerance of the test."""
    log, lot = Press(closes=closes).csv(), changed(BATCH, ("[[lot]]\n", f"[[lot]]\n{GEL_TIME}"))
    part, mine = (answer(tmp_path, log, batch, PART, draws=2000) for batch in (BATCH, lot))
    assert (part.verdict, mine.verdict) == (of_part, of_lot)
    assert says("cycle: gel times that are not of the lot", "; ".join(part.warnings))
    assert not says("cycle: gel times that are not of the lot", "; ".join(mine.warnings))
    if closes == 45.0:
        assert says("cycle: the lot matters most", part.matters_most.input)


def test_the_spread_from_lot_to_lot_is_one_factor_on_all_gel_times_of_a_charge(tmp_path):
    path = tmp_path / "part.toml"
    path.write_text(re.sub(r"( min) ± \d \(tolerance\)", r"\1 (exact)", PART), "utf-8")
    (charge,) = contents(part_of(load(path, "part.toml")[0], "part.toml"), "skin", ()).charges
    columns = Columns(generator(), 4000)
    factors = []
    for a, b in (gel_lines(charge, columns), gel_lines(charge, columns)):
        assert b == pytest.approx(charge.line.b, rel=1e-9)
        factors.append(np.exp(a - charge.line.a))
        assert (factors[-1].min(), factors[-1].max()) == pytest.approx((0.7, 1.3), abs=1e-3)
        assert factors[-1].std() == pytest.approx(0.3 / 3.0**0.5, rel=0.03)
    assert abs(np.corrcoef(*factors)[0, 1]) < 0.05
    a, _ = gel_lines(replace(charge, of_lot=True), columns)
    assert a == pytest.approx(charge.line.a, rel=1e-9)


def test_pressed_in_the_last_fifth_is_in_time_with_a_caution(tmp_path):
    """Close to gel, with a test and a thermometer that are good enough for it."""
    gel = changed(GEL_TIME, ("10 min ± 1", "10 min ± 0.3"), ("28 min ± 3", "28 min ± 1"))
    batch = changed(BATCH, ("[[lot]]\n", f"[[lot]]\n{gel}"))
    found = answer(tmp_path, Press(closes=46.5).csv(), batch, PART, draws=2000)
    assert (found.verdict, found.gel_clock.when_pressed > 0.8) == (IN_TIME, True)
    assert any("last fifth" in words for words in found.warnings)
