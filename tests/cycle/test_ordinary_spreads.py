"""What is taken where a value states no ±, and an out-life that is over."""

import re
from pathlib import Path

import pytest

from laminate.curing.answers import CANNOT, IN_TIME
from laminate.values.said import NoSpread

from .planned_shop import first, planned
from .shop import BATCH, PART, Press, answer, changed
from .test_left_out import no_better

SPREAD = re.compile(r" ± [^\"]*")
PLAN = (Path(__file__).parents[2] / "examples" / "cycle" / "part.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [("28 min ± 3 (tolerance)", "28 min", "gel_time"), ("20 % ± 10 (tolerance)", "20 %", "out_life")],
)
def test_a_gel_time_or_an_out_life_without_a_spread_has_an_ordinary_one_and_it_is_said(
    tmp_path, old, new, key
):
    whole, less = (
        answer(tmp_path, Press(closes=47.0).csv(), batch, part, draws=2000)
        for batch, part in ((BATCH, PART), (BATCH.replace(old, new), PART.replace(old, new)))
    )
    no_better(less, whole, 0.02)
    (warning,) = [words for words in less.warnings if words not in whole.warnings]
    assert key in warning
    exact = answer(tmp_path, Press(closes=47.0).csv(), BATCH.replace(old, f"{new} (exact)"), draws=300)
    assert not any("carries no ±" in words for words in exact.warnings)


@pytest.mark.parametrize("share", ["0 %", "0 % (exact)", "0 % ± 1 (tolerance)"])
def test_a_share_of_nothing_is_no_better_than_none(tmp_path, share):
    hot = changed(PLAN, (PLAN[PLAN.index("[cycle.hold]") : PLAN.index("[cycle.hot]")], ""))
    line = re.search(r"out_life = .*\n", hot)[0]
    none = first(tmp_path, changed(hot, (line, "")))
    found = first(tmp_path, changed(hot, ("20 % ± 10 (tolerance)", share)))
    assert found.verdict == none.verdict == CANNOT
    no_better(found, none)
    assert any(share in words and "out_life" in words for words in found.warnings)
    logged = [
        answer(tmp_path, Press(closes=44.0).csv(), batch, changed(PART, (old, new)), draws=500)
        for batch, old, new in (
            (BATCH, "20 % ± 10 (tolerance)", share),
            (changed(BATCH, ('out_time = "12 d"\n', "")), re.search(r"out_life = .*\n", PART)[0], ""),
        )
    ]
    no_better(*logged, 0.02)


def test_gel_times_of_neat_resin_are_said(tmp_path):
    """Fibers move the gel point: J. Compos. Mater. 48 (2014) 917, abstract."""
    neat = ('gel_test = "prepreg"', 'gel_test = "neat resin"')
    plans = [first(tmp_path, text, draws=20) for text in (PLAN, changed(PLAN, neat))]
    logs = [answer(tmp_path, Press().csv(), part=text, draws=100) for text in (PART, changed(PART, neat))]
    for plain, found in (plans, logs):
        (warning,) = [words for words in found.warnings if words not in plain.warnings]
        assert "neat resin" in warning
        assert found.verdict == plain.verdict


def test_an_out_time_past_the_out_life_is_said(tmp_path):
    past = BATCH.replace('out_time = "12 d"', 'out_time = "31 d"')
    warnings = [answer(tmp_path, Press().csv(), batch, draws=300).warnings for batch in (BATCH, past)]
    (warning,) = [words for words in warnings[1] if words not in warnings[0]]
    assert "31 d" in warning
    assert "30 d" in warning


@pytest.mark.parametrize(("width", "before"), [("31.00", CANNOT), ("31.20", IN_TIME)])
@pytest.mark.parametrize(
    "key",
    ["fiber_areal_weight", "bulk_modulus", "contact", "conductivity|heat_capacity", "expansion|width|bleed"],
)
def test_a_spread_left_out_buys_no_cycle_that_is_in_time(tmp_path, key, width, before):
    """Alone or with its like; a value that is said to be exact counts as exact."""
    stated = changed(PLAN, ("31.20 mm", f"{width} mm"))

    def hold(edit):
        lines = [edit(line) if re.match(rf"({key}) =", line) else line for line in stated.splitlines()]
        return first(tmp_path, "\n".join(lines))

    assert hold(str).verdict == before
    bare = hold(lambda line: SPREAD.sub("", line))
    assert bare.verdict in (CANNOT, before)
    exact = hold(lambda line: SPREAD.sub(" (exact)", line))
    assert exact.chance.both >= hold(str).chance.both - 0.02
    assert any(isinstance(line, NoSpread) for line in bare.not_measured)


def test_the_spreads_that_keep_a_cycle_back_are_asked_for(tmp_path):
    stated = changed(PLAN, ("31.20 mm", "31.02 mm"), ("150 g/m^2 ± 2 (tolerance)", "150 g/m^2"))
    bare = first(tmp_path, stated)
    assert (bare.verdict, "ud150 areal weight" in bare.why[0]) == (CANNOT, True)
    exact = first(tmp_path, changed(stated, ('"150 g/m^2"', '"150 g/m^2 (exact)"')))
    assert exact.verdict == IN_TIME


def test_the_humidities_of_a_plan_are_read_from_the_same_draws(tmp_path):
    """Vapor presses least where the prepreg is dry: no humidity stated is read as the dampest."""
    stated = changed(PLAN, ("31.20 mm", "31.00 mm"), ("150 g/m^2 ± 2 (tolerance)", "150 g/m^2"))
    hold = [zone for zone in planned(tmp_path, stated).zones if zone.cycle == "hold"]
    damp, *dry = (zone.chance.both for zone in hold)
    assert damp <= min(dry)
    assert len({zone.chance.pressed_before_gel for zone in hold}) == 1
