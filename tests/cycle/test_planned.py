"""Planned cycles: moments, verdicts, and what is left out, which never makes a plan in time."""

import json
import tomllib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.cli import app
from laminate.curing.answers import CANNOT, IN_TIME, LATE, VAPOR
from laminate.curing.planned_cycle import planned as planned_zone
from laminate.files.named_file import NamedFile
from laminate.files.part import part_of
from laminate.files.toml import load
from laminate.show.plan_words import plans
from laminate.values.problems import Refused
from laminate.values.units import SIValue
from tests.messages.wording import begins, reads, says

from . import shop
from .planned_shop import PART, first, planned
from .shop import changed

DRAWS = 100
HEAT = PART[PART.index("[heat.tool]") : PART.index("[heat.core.fore]")]
PLATEN = 'platen = [["0 min", "23 degC"], ["34 min", "125 degC"], ["120 min", "125 degC"]]\n'
NO_CYCLE = PART[: PART.index("[cycle.slow]")]
BLADDER = shop.PART + HEAT + "[cycle.a]\n" + PLATEN


def bladder(minutes, bar=6):
    rise = f'["{minutes} min", "0 bar"], ["{minutes + 1} min", "{bar} bar"]'
    return f'{BLADDER}pressure = [["0 min", "0 bar"], {rise}]\n'


def part(folder, text):
    (folder / "part.toml").write_text(text, "utf-8")
    return part_of(load(NamedFile(folder / "part.toml", "part.toml"))[0], "part.toml")


def times(found):
    return {event.event: event.time.value / 60.0 for event in found.events}


def test_the_moments_of_a_core_in_their_order(tmp_path):
    found = first(tmp_path)
    at = times(found)
    assert found.verdict == IN_TIME
    assert 0.0 < at["touch"] < at["liquid full"] == at["pressed"] < at["gel first"] < at["gel last"]
    assert at["gel last"] < at["clamp reached"]
    assert found.event("touch").time.u > 0.0
    full = found.event("liquid full")
    # until it is full the gas presses: one atmosphere
    assert full.resin_pressure == pytest.approx(101325.0, rel=1e-3)
    gel = found.event("gel first").resin_pressure
    assert gel == pytest.approx(101325.0 + found.applied_pressure_at_gel.value, rel=1e-9)


def test_each_cycle_is_judged_at_the_humidity_given_and_at_three_others(tmp_path):
    found = planned(tmp_path, draws=DRAWS)
    assert [(one.cycle, one.humidity, one.humidity_stated) for one in found.zones] == [
        ("slow", 1.0, False), ("slow", 0.3, True), ("slow", 0.5, True), ("slow", 0.7, True),
    ]  # fmt: skip
    margins = [one.vapor_margin.value for one in found.zones]
    assert margins[1] > margins[2] > margins[3] > margins[0]
    at_one = planned(tmp_path, stored_humidity=SIValue(70 * 0.01, 0.02), draws=DRAWS)
    assert [one.humidity for one in at_one.zones] == [70 * 0.01, 0.3, 0.5, 0.7]
    (shown,) = plans(at_one.zones).values()
    assert [one.humidity for one in shown] == [70 * 0.01, 0.3, 0.5]


def test_the_first_ply_to_gel_and_the_last_are_told_apart(tmp_path):
    found = first(
        tmp_path, NO_CYCLE + '[cycle.hot]\nplaten = [["0 min", "150 degC"], ["120 min", "150 degC"]]\n'
    )
    assert found.event("gel last").time.value > found.event("gel first").time.value + 60.0


def test_into_a_hot_press_the_outer_ply_gels_before_the_core_has_touched(tmp_path):
    hot = '[cycle.hot]\nplaten = [["0 min", "158 degC"], ["120 min", "158 degC"]]\n'
    found = first(tmp_path, changed(NO_CYCLE, ("31.20 mm", "30.90 mm")) + hot)
    assert found.verdict == LATE
    assert times(found)["gel first"] < times(found)["liquid full"]


@pytest.mark.parametrize("stated", [None, "96 degC", "118 degC"])
def test_a_core_that_is_not_as_warm_at_gel_as_fill_and_core_take_it_is_told(tmp_path, stated):
    line = f'expansion = "265e-6 /K (exact)"\ntemperature = "{stated} ± 1 (tolerance)"'
    text = changed(PART, ('expansion = "265e-6 /K (exact)"', line)) if stated else PART
    found = first(tmp_path, text)
    gel, curves = found.event("gel first").time.value, found.curves
    mean = float(np.interp(gel, curves.seconds, curves.temperatures["core fore, mean"])) - 273.15
    told = [words for words in found.warnings if "[core.fore]" in words]
    assert len(told) == (stated is not None and abs(mean - float(stated.split()[0])) > 3.2)
    assert all(f"{mean:.3g} degC" in words and stated.split()[0] in words for words in told)


@pytest.mark.parametrize(("closes", "verdict"), [(5, IN_TIME), (80, LATE), (43, CANNOT)])
def test_a_bladder_takes_its_pressure_from_the_cycle(tmp_path, closes, verdict):
    found = first(tmp_path, bladder(closes))
    assert found.verdict == verdict
    if verdict == CANNOT:
        assert found.matters_most is not None
        assert 0.05 < found.chance.both < 0.95
        assert says("cycle: the chance of a plan", " ".join(found.why))
    if verdict == IN_TIME:
        assert found.applied_pressure_at_gel.value == pytest.approx(6e5)
        assert times(found)["pressed"] == pytest.approx(closes + 0.5, abs=1e-6)


def test_a_laminate_that_is_not_pressed_at_gel_has_no_vapor_margin(tmp_path):
    late = first(tmp_path, bladder(80), stored_humidity=SIValue(0.3), draws=DRAWS)
    assert (late.verdict, late.vapor_margin, late.times_released) == (LATE, None, 0)
    assert late.unknown["vapor_margin"] == late.unknown["pressed"]
    assert late.chance.both is not None
    weak = first(tmp_path, bladder(5, 3.1), stored_humidity=SIValue(0.3), draws=DRAWS)
    assert weak.vapor_margin.value > 0.0


@pytest.mark.parametrize(("bar", "verdict"), [(3, IN_TIME), (2.99, LATE)])
@pytest.mark.parametrize("wanted", ["", 'wanted_pressure = "0.3 MPa"\n'])
def test_as_much_as_is_needed_presses_and_is_never_released(tmp_path, bar, verdict, wanted):
    text = bladder(5, bar)
    text = changed(text, ('pressed_at = "3 bar"\n', f'pressed_at = "3 bar"\n{wanted}'))
    found = first(tmp_path, text, stored_humidity=SIValue(0.3), draws=DRAWS)
    assert (found.verdict, found.times_released) == (verdict, 0)
    if verdict == IN_TIME:
        assert times(found)["pressed"] == pytest.approx(6.0, abs=1e-6)
        assert times(found)["liquid full"] == pytest.approx(6.0, abs=1e-6)
        assert found.chance.both == 1.0


def test_a_release_before_gel_is_said(tmp_path):
    line = '["5 min", "0 bar"], ["6 min", "6 bar"], ["20 min", "6 bar"], ["21 min", "0 bar"]'
    again = f'{line}, ["30 min", "0 bar"], ["31 min", "6 bar"]'
    for points, verdict in ((line, LATE), (again, IN_TIME)):
        found = first(tmp_path, f'{BLADDER}pressure = [["0 min", "0 bar"], {points}]\n', draws=DRAWS)
        assert (found.verdict, found.times_released) == (verdict, 1)
        assert any("released" in words for words in found.warnings)
    assert (
        "released again"
        in first(tmp_path, f'{BLADDER}pressure = [["0 min", "0 bar"], {line}]\n', draws=DRAWS).unknown[
            "pressed"
        ]
    )


def test_plies_that_are_not_stated_are_asked_for_as_they_are_written(tmp_path, capsys):
    path = tmp_path / "part.toml"
    path.write_text(changed(PART, ('stack = ["20 ud150"]', 'fill_with = "ud150"')), "utf-8")
    lines = " ".join(run(capsys, str(path))[1].split())
    assert "plies = 20 in [zone.skin], or --plies skin=20" in lines


def test_a_result_that_one_cycle_does_not_give_names_that_cycle(tmp_path, capsys):
    path = tmp_path / "part.toml"
    hot = '[cycle.hot]\nplaten = [["0 min", "140 degC"], ["120 min", "140 degC"]]\n'
    path.write_text(changed(PART, ("31.20 mm", "30.90 mm")) + hot, "utf-8")
    text = " ".join(run(capsys, str(path), "--why", "--draws", "100")[1].split())
    (line,) = (line for line in text.split("Not given: ")[1:] if "clamp" in line.partition("(")[0])
    assert line.partition(")")[0].endswith("; skin, slow")


def wanting(text, pressure):
    return changed(
        text, ('bladder = "bag"\nstack', f'bladder = "bag"\nwanted_pressure = "{pressure}"\nstack')
    )


@pytest.mark.parametrize(("pressure", "verdict"), [("2 bar", IN_TIME), ("5 bar", IN_TIME), ("7 bar", LATE)])
def test_the_larger_of_what_is_needed_and_what_is_wanted_counts(tmp_path, pressure, verdict):
    found = first(tmp_path, wanting(bladder(5), pressure), draws=DRAWS)
    assert found.verdict == verdict
    if verdict == IN_TIME:
        needed = max(float(pressure.split()[0]), 3.0)
        assert times(found)["pressed"] == pytest.approx(5.0 + needed / 6.0, abs=1e-6)


def test_less_than_is_wanted_is_said_where_the_verdict_does_not_ask_for_it(tmp_path):
    for pressure, less in (("0.3 MPa", False), ("30 MPa", True)):
        text = changed(PART, ('opens = "width"', f'opens = "width"\nwanted_pressure = "{pressure}"'))
        found = first(tmp_path, text, draws=DRAWS)
        assert found.verdict == IN_TIME
        assert any(f"{pressure} wanted" in words for words in found.warnings) == less
    asked = changed(text, ("walls = 2", 'walls = 2\npressed_at = "0.1 MPa"'))
    assert first(tmp_path, asked, draws=DRAWS).verdict == LATE


def test_a_bladder_without_a_planned_pressure_cannot_be_judged(tmp_path):
    found = first(tmp_path, BLADDER, draws=DRAWS)
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    assert "pressure = " in found.why[0]


def test_vapor_above_the_pressure_of_a_weak_bladder(tmp_path):
    wet = changed(bladder(5, 0.5), ('pressed_at = "3 bar"', 'pressed_at = "0.4 bar"'))
    hot = changed(
        wet,
        (
            '["34 min", "125 degC"], ["120 min", "125 degC"]',
            '["40 min", "145 degC"], ["120 min", "145 degC"]',
        ),
    )
    found = planned(tmp_path, hot).zones
    assert [one.verdict for one in found] == [CANNOT, IN_TIME, VAPOR, VAPOR]
    assert found[3].vapor_margin.value < 0.0


@pytest.mark.parametrize("gone", ["", 'pressed_at = "3 bar"\n'])
def test_a_tool_on_its_stops_may_be_late_and_cannot_be_in_time(tmp_path, gone):
    stops = (
        changed(shop.PART, ('bladder = "bag"\nstack', 'gap = "1.6 mm"\nstack'))
        + HEAT
        + "[cycle.a]\n"
        + PLATEN
    ).replace(gone, "")
    late = 'clamp_force = [["0 min", "0 kN"], ["80 min", "0 kN"], ["81 min", "90 kN"]]\n'
    assert first(tmp_path, stops + late, draws=DRAWS).verdict == LATE
    assert (
        first(tmp_path, stops + changed(late, ("80 min", "4 min"), ("81 min", "5 min")), draws=DRAWS).verdict
        == CANNOT
    )
    assert first(tmp_path, stops + 'clamp_force = "90 kN"\n', draws=DRAWS).verdict == CANNOT


def test_a_press_without_stops_presses_with_its_force_over_all_area(tmp_path):
    press = changed(shop.PART, ('bladder = "bag"\nstack', 'projected_area = "0.02 m^2"\nstack'))
    found = first(tmp_path, press + HEAT + "[cycle.a]\n" + PLATEN + 'clamp_force = "20 kN"\n', draws=DRAWS)
    assert found.verdict == IN_TIME
    assert found.applied_pressure_at_gel.value == pytest.approx(1e6)


def test_the_press_must_not_open_before_gel(tmp_path):
    found = first(tmp_path, changed(PART, ("900 kN", "20 kN")), draws=DRAWS)
    assert found.verdict == CANNOT
    assert says("cycle: how often the press may open before gel", "\n".join(found.why), percent="100")
    assert times(found)["clamp reached"] < times(found)["gel first"]


def test_a_thick_laminate_is_not_judged_without_its_own_heat(tmp_path):
    thick = changed(PART, ("20 ud150", "60 ud150"), ("38.60 mm", "50.26 mm"))
    found = first(tmp_path, thick, draws=DRAWS)
    assert found.verdict == CANNOT
    assert any("8 mm" in words for words in found.why)


def test_a_core_heated_from_inside_has_its_temperature_given(tmp_path):
    inside = 'core = { fore = [["0 min", "23 degC"], ["60 min", "110 degC"], ["240 min", "110 degC"]] }\n'
    no_heat = changed(PART, (PART[PART.index("[heat.core.fore]") : PART.index("[cycle.slow]")], ""))
    found = first(tmp_path, no_heat + inside, draws=DRAWS)
    assert found.verdict == IN_TIME
    assert found.curves.temperatures["core fore, mean"][-1] == pytest.approx(383.15)
    assert says("cycle: a core heated from inside", found.curves.temperatures)


@pytest.mark.parametrize(
    "gone",
    [
        PART[PART.index("[heat.core.fore]") : PART.index("[cycle.slow]")],
        PART[PART.index("[heat.laminate]") : PART.index("[heat.core.fore]")],
        PART[PART.index("contact = { platen") : PART.index("[heat.laminate]")],
        'thickness = "20 mm"\n',
        'bulk_modulus = "0.85 GPa ± 0.2 (tolerance)"\nbulk_modulus_rise = 10\n',
        'bleed = "0 %"\nbleed_limit = "0 %"\n',
        'releases = "nothing"\n',
    ],
)
@pytest.mark.parametrize("width", ["30.70 mm", "30.95 mm", "31.20 mm"])
def test_leaving_something_out_never_makes_a_plan_in_time(tmp_path, gone, width):
    whole = changed(PART, ("31.20 mm", width))
    found = first(tmp_path, whole, draws=DRAWS)
    less = changed(whole, (gone, 'releases = "water"\n' if gone.startswith("releases") else ""))
    less = first(tmp_path, less, draws=DRAWS)
    assert found.verdict == IN_TIME or less.verdict != IN_TIME
    if gone.startswith(("[heat", "contact", "thickness")):
        assert less.verdict == CANNOT
        assert "[heat." in less.why[0]


def test_an_out_life_that_is_not_stated_is_no_better(tmp_path):
    whole = first(tmp_path, bladder(44), draws=1000)
    line = 'out_life = { time = "30 d", temperature = "23 degC", share = "20 % ± 10 (tolerance)" }\n'
    less = first(tmp_path, changed(bladder(44), (line, "")), draws=1000)
    assert less.chance.pressed_before_gel <= whole.chance.pressed_before_gel


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rate=st.floats(1.0, 6.0),
    hold=st.floats(85.0, 110.0),
    minutes=st.floats(1.0, 80.0),
    top=st.floats(120.0, 150.0),
    width=st.floats(30.9, 31.6),
)
def test_pressure_at_first_gel_is_never_above_that_at_last_gel_while_it_heats(
    tmp_path, rate, hold, minutes, top, width
):
    """But for a little where the last ply gels as a ramp begins: the tool grows at once, the core later."""
    one = (hold - 23.0) / rate
    end = one + minutes + (top - hold) / rate
    points = [(0.0, 23.0), (one, hold), (one + minutes, hold), (end, top), (end + 240.0, top)]
    platen = ", ".join(f'["{t:.3f} min", "{c:.3f} degC"]' for t, c in points)
    text = changed(NO_CYCLE, ("31.20 mm", f"{width:.3f} mm")) + f"[cycle.a]\nplaten = [{platen}]\n"
    found = planned_zone(part(tmp_path, text), "a", "skin", {}, [None], draws=2)[0]
    early, late = found.event("gel first"), found.event("gel last")
    begins = one + minutes <= late.time.value / 60.0 <= one + minutes + 5.0
    assert early.resin_pressure <= late.resin_pressure * (1.01 if begins else 1.0) + 1.0
    assert early.time.value <= late.time.value


def test_gel_is_never_later_where_the_platen_is_hotter(tmp_path):
    def gel(top):
        text = changed(bladder(5), ("125 degC", f"{top} degC"))
        return first(tmp_path, text, draws=2).event("gel first").time.value

    assert gel(120) > gel(125) > gel(130)


def test_the_same_part_gives_the_same_answer_and_the_seed_decides_nothing(tmp_path):
    one, other = first(tmp_path, bladder(43)), first(tmp_path, bladder(43))
    assert one.chance == other.chance
    third = first(tmp_path, bladder(43), seed=7)
    assert third.chance.both != one.chance.both
    assert third.verdict == one.verdict


def test_a_planned_cycle_fed_back_as_a_log_gives_the_same_verdict(tmp_path):
    for closes, verdict in ((5, IN_TIME), (80, LATE)):
        plan = first(tmp_path, bladder(closes))
        minutes = np.arange(0.0, 120.01, 0.5)
        warm = np.interp(minutes * 60, plan.curves.seconds, plan.curves.temperatures["laminate, at the tool"])
        platen = np.interp(minutes * 60, plan.curves.seconds, plan.curves.temperatures["platen"])
        press = shop.Press()
        press.minutes, press.laminate, press.platen = minutes, warm - 273.15, platen - 273.15
        press.bag = np.interp(minutes, [0, closes, closes + 1], [0, 0, 6])
        batch = changed(shop.BATCH, ('"12 d"', '"30 d"'), ('stored_humidity = "45 % (exact)"\n', ""))
        logged = shop.answer(tmp_path, press.csv(), batch)
        assert logged.verdict == plan.verdict == verdict
        gels = [one.event("gel first").time.value / 60 for one in (plan, logged)]
        assert gels[0] == pytest.approx(gels[1], abs=0.1)


def test_no_cycle_a_wrong_zone_and_a_file_that_is_neither(tmp_path):
    for text, settings_, code in (
        (NO_CYCLE, {}, "missing-key"),
        (PART, {"plies": {"skn": 20}}, "unknown-name"),
        ("format = 1\n", {}, "wrong-file"),
        (
            changed(PART, ('["34 min", "90 degC"]', '["34 min ± 1 (tolerance)", "90 degC"]')),
            {},
            "wrong-value",
        ),
        (PART + 'core = { aft = [["0 min", "23 degC"], ["9 min", "99 degC"]] }\n', {}, "unknown-name"),
    ):
        with pytest.raises(Refused) as refused:
            planned(tmp_path, text, **settings_)
        assert code in {problem.code for problem in refused.value.problems}


def run(capsys, *arguments):
    status = app.status(["cycle", *arguments])
    return status, capsys.readouterr().out


def test_the_command_answers_a_part(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    second = (
        "[cycle.ramp]\n" + PLATEN + '[cycle.hot]\nplaten = [["0 min", "165 degC"], ["120 min", "165 degC"]]\n'
    )
    path = tmp_path / "part.toml"
    path.write_text(changed(PART, ("31.20 mm", "30.90 mm")) + second, "utf-8")
    status, screen = run(capsys, str(path), "--html", str(tmp_path / "page.html"))
    lines = screen.splitlines()
    assert (status, len(lines) <= 40 + 2) == (1, True)
    assert begins("cycle: the command answers a part", lines[0])
    assert says("cycle: the command answers a part, 2", " ".join(lines[-5:]))
    page = (tmp_path / "page.html").read_text("utf-8")
    assert page.count("<figure>") == 3
    assert all(f"{event} at" in page for event in ("touch", "liquid full", "gel first", "gel last"))
    status, text = run(capsys, str(path), "--json", "--stored-humidity", "45 %")
    answer = json.loads(text)
    assert (status, len(answer["zones"])) == (1, 12)
    one = answer["zones"][0]
    assert (one["cycle"], one["log"]) == ("slow", None)
    assert one["humidity"] == {"value": 45.0, "unit": "%", "stated": True}
    events = {event["event"] for event in answer["zones"][4]["events"]}
    assert events >= {"touch", "liquid full", "pressed", "gel first", "gel last", "peak temperature"}


def test_exit_status_0_where_all_is_in_time_and_plies_of_a_plan(tmp_path, capsys):
    path = tmp_path / "part.toml"
    path.write_text(changed(PART, ('stack = ["20 ud150"]', 'fill_with = "ud150"')), "utf-8")
    status, text = run(capsys, str(path), "--json", "--plies", "skin=20")
    assert status == 0
    assert {one["verdict"] for one in json.loads(text)["zones"]} == {IN_TIME}
    assert run(capsys, str(path), "--json")[0] == 1
    assert run(capsys, str(path), "--plies", "skn=20")[0] == 2


def test_the_library_answers_a_part(tmp_path):
    import laminate as lam

    path = tmp_path / "part.toml"
    path.write_text(bladder(5), "utf-8")
    found = lam.cycle(path, stored_humidity="45 %", draws=DRAWS)
    assert found.verdict == IN_TIME
    assert len(found.to_frame()) == 4
    assert len(found.plot().lines) >= 3
    assert [one.humidity.value for one in found.planned("a", "skin")] == [45.0, 30.0, 50.0, 70.0]
    assert reads("cycle: the library answers a part", found.plot(attribute="a").get_title())
    with pytest.raises(AttributeError):
        found.planned("b")
    read = lam.cycle(tomllib.loads(bladder(5)), draws=DRAWS)
    assert read.verdict == IN_TIME


def test_an_evacuated_tool_boils_earlier_until_it_is_full(tmp_path):
    plain = planned(tmp_path, PART, draws=DRAWS).zones[3]
    evacuated = planned(
        tmp_path,
        changed(PART, ('pressure_limit = "25 MPa"', 'pressure_limit = "25 MPa"\nevacuated = "yes"')),
        draws=DRAWS,
    ).zones[3]
    stated = planned(tmp_path, PART + 'cavity_pressure = "50 mbar"\n', draws=DRAWS).zones[3]
    before = [one.vapor_before_pressure[0] for one in (plain, stated, evacuated)]
    assert before[0] < before[1] < before[2]
    assert plain.resin_pressure_at_gel == evacuated.resin_pressure_at_gel


@pytest.mark.parametrize("value", ["1e308 W/m/K", "1e-300 W/m/K"])
def test_what_conducts_like_nothing_there_is_is_refused(tmp_path, value):
    with pytest.raises(Refused) as refused:
        planned(tmp_path, changed(PART, ("167 W/m/K", value)), draws=2)
    assert [problem.code for problem in refused.value.problems] == ["unreadable-value"]


def test_a_core_without_any_room_is_answered(tmp_path):
    found = first(tmp_path, changed(PART, ("31.20 mm", "38.50 mm")), draws=20)
    assert found.verdict == CANNOT
    assert np.isfinite(found.applied_pressure_at_gel.value)
