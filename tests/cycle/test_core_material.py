"""What a core is along a cycle: its bulk modulus at its temperature, and cores that lie in a row."""

import numpy as np
import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.values.problems import Refused

from .planned_shop import PART, first, planned
from .shop import answer, changed
from .test_core_log import BATCH, NO_CYCLE, RAMP, log_of

SCALAR = 'bulk_modulus = "0.85 GPa ± 0.2 (tolerance)"\n'
CONTACT = 'contact = { laminate = "1000 W/m^2/K ± 600 (tolerance)" }\n'


def along(*pairs):
    """The part with a bulk modulus at several temperatures [degC, GPa]."""
    table = ", ".join(f'["{at} degC", "{value} GPa"]' for at, value in pairs)
    return changed(PART, (CONTACT, f"{CONTACT}bulk_modulus = [{table}]\n"))


def at_gel(folder, part):
    return first(folder, part, draws=50).applied_pressure_at_gel.value


def test_one_value_at_every_temperature_is_that_value(tmp_path):
    assert at_gel(tmp_path, along((23, 0.85), (180, 0.85))) == pytest.approx(
        at_gel(tmp_path, PART), rel=1e-12
    )
    without = changed(along((23, 0.85), (180, 0.85)), (SCALAR, ""))
    assert at_gel(tmp_path, without) == pytest.approx(at_gel(tmp_path, PART), rel=1e-12)


def test_the_value_at_the_mean_temperature_of_the_core_counts(tmp_path):
    found = first(tmp_path, along((23, 1.20), (123, 0.70), (180, 0.70)), draws=50)
    gel = found.event("gel first").time.value
    core = found.curves.temperatures["core fore, mean"]
    mean = float(np.interp(gel, found.curves.seconds, core)) - 273.15
    there = 1.20 - 0.005 * (mean - 23.0)
    assert 0.70 < there < 1.0
    same = at_gel(tmp_path, along((23, round(there, 5)), (180, round(there, 5))))
    assert found.applied_pressure_at_gel.value == pytest.approx(same, rel=0.001)
    assert at_gel(tmp_path, along((23, 1.20), (180, 1.20))) > found.applied_pressure_at_gel.value * 1.1


def test_one_value_for_all_temperatures_is_said(tmp_path):
    said = [any("bulk modulus of core fore" in words for words in first(tmp_path, text, draws=2).not_measured)
            for text in (PART, along((23, 0.85), (180, 0.85)))]  # fmt: skip
    assert said == [True, False]


@pytest.mark.parametrize(
    "table", ['[["120 degC", "0.8 GPa"]]', '[["120 degC", "0.8 GPa"], ["90 degC", "0.9 GPa"]]']
)
def test_temperatures_that_do_not_rise_are_refused(tmp_path, table):
    with pytest.raises(Refused) as refused:
        planned(tmp_path, changed(PART, (CONTACT, f"{CONTACT}bulk_modulus = {table}\n")), draws=2)
    assert [problem.code for problem in refused.value.problems] == ["wrong-order"]


# two cores in a row, with a web between them

ROW = changed(
    PART,
    ('width = "38.60 mm (exact)"', 'width = "73.50 mm"'),
    ("[core.fore]", '[core.aft]\nroom = "tube"\nmaterial = "silicone rubber"\nexpansion = "265e-6 /K"\n'
     'bulk_modulus = "0.85 GPa ± 0.2 (tolerance)"\nbulk_modulus_rise = 10\nwidth = "31.20 mm"\n'
     'height = "60.00 mm"\nlength = "600.0 mm"\ncorner_radius = "0 mm"\n[core.fore]'),
    ('bleed_limit = "0 %"\n', 'bleed_limit = "0 %"\n[zone.web]\nroom = "tube"\nside = "width"\nwalls = 1\n'
     'stack = ["20 ud150"]\nbleed = "0 %"\nbleed_limit = "0 %"\n'),
    ("[heat.core.fore]", '[heat.core.aft]\nconductivity = "0.25 W/m/K"\nheat_capacity = "1.6e6 J/m^3/K"\n'
     f"{CONTACT}[heat.core.fore]"),
)  # fmt: skip
IN = '"in" = { reads = "laminate", instrument = "thermocouples", place = "middle" }'


def test_cores_in_a_row_lag_behind_one_core_alone(tmp_path):
    alone = first(tmp_path, PART, draws=2).curves.temperatures["core fore, mean"]
    row = first(tmp_path, ROW, draws=2).curves.temperatures["core fore, mean"]
    half = min(len(alone), len(row)) // 2
    assert (row[5:half] <= alone[5:half]).all()
    assert alone[half] - row[half] > 10.0


@pytest.mark.parametrize(("width", "verdict"), [("73.00 mm", IN_TIME), ("76.00 mm", CANNOT)])
def test_a_wall_between_two_cores_is_planned_as_hot_as_the_platen_and_never_late(tmp_path, width, verdict):
    zones = planned(tmp_path, changed(ROW, ("73.50 mm", width)), draws=100).zones
    skin, web = (next(one for one in zones if one.zone == zone) for zone in ("skin", "web"))
    assert web.verdict == verdict
    assert skin.verdict == (IN_TIME if verdict == IN_TIME else LATE)
    assert web.event("gel first").time.value < skin.event("gel first").time.value
    assert web.chance.both is None or web.chance.both <= skin.chance.both
    assert [event.event for event in web.events].count("touch") <= 1


def test_a_wall_between_two_cores_with_nothing_at_the_tool_is_told_what_to_write(tmp_path):
    lone = changed(ROW, ("walls = 2", "walls = 1"))
    found = planned(tmp_path, lone, draws=20).zones[0]
    assert found.verdict == CANNOT
    assert "walls = 2" in found.why[0]


def test_a_wall_between_two_cores_is_judged_by_a_sensor_in_it(tmp_path):
    log = log_of(first(tmp_path, NO_CYCLE + RAMP, draws=2))
    batch = changed(BATCH, ('zones = ["skin"]', 'zones = ["web"]'), (IN, '"in" = { reads = "other" }'))
    row = changed(ROW[: ROW.index("[cycle.slow]")], ('width = "73.50 mm"', 'width = "72.60 mm"'))
    found = {width: answer(tmp_path, log, batch, changed(row, ("72.60 mm", width)), draws=300)
             for width in ("72.60 mm", "76.00 mm")}  # fmt: skip
    assert found["72.60 mm"].zone == "web"
    assert found["72.60 mm"].applied_pressure_at_gel is not None
    assert found["72.60 mm"].chance.both is not None or found["72.60 mm"].verdict == CANNOT
    assert found["76.00 mm"].verdict != IN_TIME
    blind = changed(
        batch, ('"TC 3" = { reads = "laminate", instrument = "thermocouples", place = "middle" }\n', "")
    )
    assert answer(tmp_path, log, blind, row, draws=300).verdict == CANNOT


@pytest.mark.parametrize("gone", ["room.tube", "core.fore"])
def test_edges_that_are_left_out_are_asked_for(tmp_path, gone):
    """Rounded edges of a core lower its pressure: those that nobody states are not taken as sharp."""
    start = PART.index(f"[{gone}]")
    less = PART[:start] + PART[start:].replace('corner_radius = "0 mm"\n', "", 1)
    assert first(tmp_path, PART, draws=100).verdict == IN_TIME
    found = first(tmp_path, less, draws=100)
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    assert f"corner_radius in [{gone}]" in found.why[0]


def test_ends_that_are_left_out_are_said_where_the_answer_is(tmp_path):
    bare, stated = (
        first(tmp_path, text, draws=100)
        for text in (PART, changed(PART, ('opens = "width"', 'opens = "width"\nends = "closed"')))
    )
    (line,) = set(bare.screening) - set(stated.screening)
    assert "room tube" in line
