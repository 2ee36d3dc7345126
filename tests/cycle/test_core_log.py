"""A core along a log, driven by conduction; near the packing limit the resin's share is not known."""

from contextlib import suppress

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.values.problems import Refused
from tests.messages.wording import says

from . import planned_shop, shop
from .planned_shop import PART
from .shop import changed

BATCH = changed(
    shop.BATCH,
    ('part_number = "P-1"', 'part_number = "T-1"'),
    ('out_time = "12 d"', 'out_time = "30 d"'),
    ('"bag" = { reads = "bladder pressure", base = "over ambient", instrument = "gauge 4" }\n',
     '"in" = { reads = "laminate", instrument = "thermocouples", place = "middle" }\n'),
)  # fmt: skip
NO_CYCLE = PART[: PART.index("[cycle.slow]")]
RAMP = '[cycle.ramp]\nplaten = [["0 min", "23 degC"], ["34 min", "125 degC"], ["140 min", "125 degC"]]\n'
HEAT = PART[PART.index("[heat.tool]") : PART.index("[cycle.slow]")]


def log_of(plan, noise=0.0, seed=1):
    """A log of the laminate's two faces and the platen as a plan has them."""
    minutes = np.arange(0.0, plan.curves.seconds[-1] / 60.0, 0.5)
    random = np.random.RandomState(seed)
    columns = [
        np.interp(60.0 * minutes, plan.curves.seconds, plan.curves.temperatures[name]) - 273.15
        + noise * random.standard_normal(minutes.size)
        for name in ("laminate, at the tool", "platen", "laminate, inside")
    ]  # fmt: skip
    rows = [f"{t:.1f},{a:.1f},{b:.1f},{c:.1f}" for t, a, b, c in zip(minutes, *columns, strict=True)]
    return "\n".join(["Time [min],TC 3 [degC],top [degC],in [degC]", *rows]) + "\n"


def both(folder, width, cycle=RAMP, part=NO_CYCLE):
    """The answer of a plan, and that of its log."""
    text = changed(part, ("31.20 mm", f"{width} mm")) + cycle
    plan = planned_shop.first(folder, text)
    outside = changed(
        BATCH,
        (
            '"in" = { reads = "laminate", instrument = "thermocouples", place = "middle" }',
            '"in" = { reads = "other" }',
        ),
    )
    return plan, shop.answer(folder, log_of(plan), outside, text, draws=2000)


def test_a_plan_fed_back_as_a_log_gives_the_same_verdict(tmp_path):
    for width, verdict in ((31.2, IN_TIME), (30.0, LATE)):
        plan, logged = both(tmp_path, width)
        assert plan.verdict == logged.verdict == verdict
        assert logged.event("gel first").time.value == pytest.approx(
            plan.event("gel first").time.value, abs=6.0
        )
        if verdict == IN_TIME:
            # the log drives the outside of the laminate: the core is a little colder than the plan's
            planned_pressure = plan.applied_pressure_at_gel.value
            assert 0.8 < logged.applied_pressure_at_gel.value / planned_pressure <= 1.02


@pytest.mark.parametrize(("every", "verdict"), [(2, IN_TIME), (6, CANNOT)])
def test_rows_too_far_apart_tell_too_little_of_what_heats_a_core(tmp_path, every, verdict):
    part = NO_CYCLE + RAMP
    heading, *rows = log_of(planned_shop.first(tmp_path, part)).splitlines()
    zone = shop.answer(tmp_path, "\n".join([heading, *rows[::every]]) + "\n", BATCH, part, draws=500)
    assert zone.verdict == verdict
    assert says("cycle: rows far apart", " ".join(map(str, zone.why))) is (verdict == CANNOT)


def test_a_log_draws_its_thermocouples_and_the_core_and_says_when_it_touched(tmp_path):
    plan, logged = both(tmp_path, 31.2)
    drawn = logged.curves.temperatures
    assert list(drawn) == ["laminate: TC 3", "platen: top", "core fore, mean, computed"]
    platen = np.interp(logged.curves.seconds, plan.curves.seconds, plan.curves.temperatures["platen"])
    assert drawn["platen: top"] == pytest.approx(platen, abs=0.06)
    assert drawn["core fore, mean, computed"][40] < drawn["laminate: TC 3"][40] - 5.0
    # the log drives the outside of the laminate: the core is a little colder than the plan's
    touches = [one.event("touch").time.value for one in (plan, logged)]
    assert touches[0] <= touches[1] < touches[0] + 120.0
    assert logged.readings["highest pressure, locked"].value >= plan.applied_pressure_at_gel.value


def test_where_the_part_has_no_heat_it_cannot_be_said_and_the_line_to_write_is(tmp_path):
    text = changed(NO_CYCLE, (HEAT, ""))
    _, whole = both(tmp_path, 31.2)
    log = log_of(planned_shop.first(tmp_path, NO_CYCLE + RAMP))
    found = shop.answer(tmp_path, log, BATCH, text, draws=1000)
    assert whole.verdict == IN_TIME
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    assert "[heat.laminate]" in found.why[0]
    assert "[heat.core.fore]" in found.why[0]


def test_a_sensor_in_the_resin_needs_no_heat(tmp_path):
    text = changed(NO_CYCLE, (HEAT, ""))
    log = log_of(planned_shop.first(tmp_path, NO_CYCLE + RAMP)).splitlines()
    rows = [f"{row},{'1.0' if k < 70 else '12.0'}" for k, row in enumerate(log[1:])]
    batch = BATCH + '"p" = { reads = "resin pressure", base = "absolute", instrument = "gauge 4" }\n'
    found = shop.answer(tmp_path, "\n".join([f"{log[0]},p [bar]", *rows]) + "\n", batch, text, draws=1000)
    assert found.verdict == IN_TIME
    assert found.applied_pressure_at_gel.value == pytest.approx(12e5 - 101325.0)


def test_the_platen_alone_drives_tool_laminate_and_core(tmp_path):
    plan = planned_shop.first(tmp_path, NO_CYCLE + RAMP)
    other = changed(
        BATCH,
        ('{ reads = "laminate", instrument = "thermocouples", place = "middle" }', '{ reads = "other" }'),
    )
    found = shop.answer(tmp_path, log_of(plan), other, NO_CYCLE, draws=1000)
    assert found.verdict != LATE
    # the platen stands in for the laminate, so gel comes too early and the pressure with it
    assert found.event("gel first").time.value < plan.event("gel first").time.value
    assert found.applied_pressure_at_gel.value < plan.applied_pressure_at_gel.value
    no_tool = changed(NO_CYCLE, ('thickness = "20 mm"\n', ""))
    less = shop.answer(tmp_path, log_of(plan), other, no_tool, draws=1000)
    assert less.verdict == CANNOT
    assert any("[heat.tool]" in words for words in less.why)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (HEAT, ""),
        (PART[PART.index("[heat.core.fore]") : PART.index("[cycle.slow]")], ""),
        ('bulk_modulus = "0.85 GPa ± 0.2 (tolerance)"\nbulk_modulus_rise = 10\n', ""),
        ('expansion = "265e-6 /K (exact)"\n', ""),
        ('bleed = "0 %"\n', ""),
        ('bleed = "0 %"\nbleed_limit = "0 %"\n', ""),
    ],
)
@pytest.mark.parametrize("width", [30.6, 30.95, 31.2])
def test_leaving_something_out_of_the_part_never_makes_it_in_time(tmp_path, old, new, width):
    own = changed(NO_CYCLE, ("31.20 mm", f"{width} mm"), ('bleed_limit = "0 %"', 'bleed_limit = "3 %"'))
    old = old.replace('bleed_limit = "0 %"', 'bleed_limit = "3 %"')
    plan = planned_shop.first(tmp_path, own + RAMP, draws=2)
    whole = shop.answer(tmp_path, log_of(plan), BATCH, own, draws=1000)
    less = shop.answer(tmp_path, log_of(plan), BATCH, changed(own, (old, new)), draws=1000)
    assert whole.verdict == IN_TIME or less.verdict != IN_TIME


@pytest.mark.parametrize(
    "line",
    ['clamp_force = "900 kN"\n', 'pressure_limit = "25 MPa"\n', 'opens = "width"\n'],
)
def test_what_the_press_holds_must_be_known(tmp_path, line):
    plan, whole = both(tmp_path, 31.2)
    less = shop.answer(tmp_path, log_of(plan), BATCH, changed(NO_CYCLE, (line, "")), draws=1000)
    planned = planned_shop.first(tmp_path, changed(NO_CYCLE, (line, "")) + RAMP, draws=100)
    assert whole.verdict == IN_TIME
    assert less.verdict == planned.verdict == CANNOT
    assert "clamp_force" in less.why[0]


def test_a_core_that_grows_out_of_open_ends_has_no_pressure_that_is_known(tmp_path):
    plan, whole = both(tmp_path, 31.2)
    part = changed(NO_CYCLE, ('opens = "width"\n', 'opens = "width"\nends = "open"\n'))
    assert whole.verdict == IN_TIME
    assert shop.answer(tmp_path, log_of(plan), BATCH, part, draws=1000).verdict == CANNOT
    assert planned_shop.first(tmp_path, part + RAMP, draws=100).verdict == CANNOT


def test_a_logged_force_says_when_the_press_opens_and_leaving_it_out_is_no_better(tmp_path):
    plan, _ = both(tmp_path, 31.2)
    log = log_of(plan).splitlines()
    verdicts = {}
    for force in (900, 60):
        text = "\n".join([f"{log[0]},ram [kN]", *(f"{row},{force}" for row in log[1:])]) + "\n"
        for named in (True, False):
            batch = BATCH + '"ram" = { reads = "clamp force", instrument = "cell" }\n' * named
            batch += '[instrument.cell]\ncalibration = "1 kN (k=2)"\ndue = 2027-01-01\n' * named
            verdicts[force, named] = shop.answer(tmp_path, text, batch, NO_CYCLE, draws=1000).verdict
    assert verdicts == {(900, True): IN_TIME, (900, False): CANNOT, (60, True): CANNOT, (60, False): CANNOT}


BLEEDS = changed(shop.PART, ('bleed_limit = "0 %"', 'bleed = "3 % ± 2 (tolerance)"\nbleed_limit = "15 %"'))


@pytest.mark.parametrize(
    ("old", "new", "verdict"),
    [
        ("", "", IN_TIME),
        # 35 % of the resin leaves before 58 % of fiber become 68 %
        ("3 % ± 2 (tolerance)", "34 % ± 2 (tolerance)", CANNOT),
        ('bleed = "3 % ± 2 (tolerance)"\nbleed_limit = "15 %"', 'bleed_limit = "60 %"', CANNOT),
        ('bleed = "3 % ± 2 (tolerance)"\nbleed_limit = "15 %"', 'bleed_limit = "3 %"', IN_TIME),
        ('bleed = "3 % ± 2 (tolerance)"\nbleed_limit = "15 %"\n', "", CANNOT),
        ('resin_content = "33 %"', 'resin_content = "24 %"', CANNOT),
    ],
)
def test_near_the_packing_limit_the_share_of_the_pressure_is_not_known(tmp_path, old, new, verdict):
    part = changed(BLEEDS, (old, new)) if old else BLEEDS
    part = part.replace('bleed_limit = "15 %"', 'bleed_limit = "60 %"') if "34 %" in new else part
    found = shop.answer(tmp_path, shop.Press().csv(), part=part, draws=1000)
    assert found.verdict == verdict
    if "60 %" in part:
        assert any("packing limit" in words for words in found.why)


def test_late_is_late_whatever_the_bed_carries(tmp_path):
    part = changed(BLEEDS, ('bleed = "3 % ± 2 (tolerance)"\nbleed_limit = "15 %"\n', ""))
    assert shop.answer(tmp_path, shop.Press(closes=70.0).csv(), part=part, draws=1000).verdict == LATE


@pytest.mark.parametrize("row", [0, 5, 150])
def test_a_missing_reading_of_the_platen_never_raises_the_chance(tmp_path, row):
    part = changed(NO_CYCLE, ("31.20 mm", "31.0 mm"))
    rows = log_of(planned_shop.first(tmp_path, part + RAMP, draws=2), noise=0.2, seed=0).splitlines()
    whole = shop.answer(tmp_path, "\n".join(rows) + "\n", BATCH, part, draws=1000)
    cells = [line.split(",") for line in rows]
    cells[row + 1][2] = ""
    less = shop.answer(tmp_path, "\n".join(map(",".join, cells)) + "\n", BATCH, part, draws=1000)
    assert whole.chance.both < 1.0
    assert less.chance.both <= whole.chance.both


@pytest.mark.slow
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    width=st.sampled_from([30.9, 31.0, 31.2]),
    noise=st.integers(0, 99),
    gone=st.lists(st.integers(0, 279), max_size=60),
    bad=st.lists(
        st.tuples(
            st.integers(0, 279),
            st.integers(1, 3),
            st.sampled_from(["", "---", "9999", "500", "-20", "1.2.3"]),
        ),
        max_size=8,
    ),
)
def test_fewer_or_spoilt_readings_of_a_core_never_give_a_better_verdict(tmp_path, width, noise, gone, bad):
    part = changed(NO_CYCLE, ("31.20 mm", f"{width} mm"))
    rows = log_of(planned_shop.first(tmp_path, part + RAMP, draws=2), noise=0.2, seed=noise).splitlines()
    whole = shop.answer(tmp_path, "\n".join(rows) + "\n", BATCH, part, draws=300)
    cells = [row.split(",") for row in rows]
    for row, column, text in bad:
        cells[row + 1][column] = text
    kept = [",".join(row) for at, row in enumerate(cells) if at - 1 not in gone]
    with suppress(Refused):
        less = shop.answer(tmp_path, "\n".join(kept) + "\n", BATCH, part, draws=300)
        assert whole.verdict == IN_TIME or less.verdict != IN_TIME
