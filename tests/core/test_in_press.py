"""A rubber core in its press: what the tool holds at every moment, with every room and draw counted."""

import copy
import tomllib
from pathlib import Path
from textwrap import wrap

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from laminate.files.part import part_of
from laminate.press.cores import core
from laminate.press.curves import along_bleed
from laminate.press.filling import fill
from laminate.press.press import press_of
from laminate.press.state import State
from laminate.show import core_json
from laminate.show.blocks import Heading, Sentence
from laminate.show.core_words import core_blocks, verdict_words
from laminate.show.pressed_words import core_size_words
from tests.messages.wording import says
from tests.press.parts import webbed

ROOT = Path(__file__).parents[2]
NOW = tomllib.loads((ROOT / "examples" / "mast" / "part.toml").read_text("utf-8"))
BOX = tomllib.loads((ROOT / "examples" / "box" / "part.toml").read_text("utf-8"))
BEFORE = tomllib.loads((ROOT / "tests" / "press" / "data" / "mast_before.toml").read_text("utf-8"))


def tables_before(edit=lambda raw: None):
    """The tables of the part by widths after an edit."""
    raw = copy.deepcopy(BEFORE)
    edit(raw)
    return raw


def answer(edit=lambda raw: None, **more):
    """The answer for the example after an edit of its tables."""
    raw = copy.deepcopy(NOW)
    edit(raw)
    return core(part_of(raw, "part.toml"), "part.toml", **{"draws": 2000, **more})


def before(edit=lambda raw: None, **more):
    """The core of the part by widths after an edit of its tables."""
    part = part_of(tables_before(edit), "part.toml")
    return core(part, "part.toml", plies={"skin": 20}, **{"draws": 2000, **more}).cores[0]


def second_room(raw):
    """The same room, core and laminate once more."""
    raw["room"]["aft"] = copy.deepcopy(raw["room"]["skin"])
    raw["core"]["aft"] = {**copy.deepcopy(raw["core"]["fore"]), "room": "aft"}
    raw["zone"]["back"] = {**copy.deepcopy(raw["zone"]["skin"]), "room": "aft"}
    raw["plan"]["back"] = {"represented_by": "web"}


def test_the_example_holds():
    """4.89 and 12.83 MPa expected, 7.10 and 15.22 with no bleed, 591 kN, 142 degC, core 30.708 to 31.067 mm,
    the tool holds in 99.4 % of the draws: arithmetic, one other code.
    """
    found = answer(plies={"skin": 20}, draws=40_000)
    one = found.cores[0]
    pressure = {name: p.value / 1e6 for name, p in one.governing.pressure.items()}
    assert pressure["expected at_gel"] == pytest.approx(4.89, abs=0.01)
    assert pressure["expected worst"] == pytest.approx(12.83, abs=0.01)
    assert pressure["nominal at_gel"] == pytest.approx(7.10, abs=0.01)
    assert pressure["nominal worst"] == pytest.approx(15.22, abs=0.01)
    press = one
    assert press.forces.at_worst.value / 1e3 == pytest.approx(591, abs=1)
    assert press.forces.gives_way_at - 273.15 == pytest.approx(142, abs=0.5)
    assert 1e3 * press.windows[0].width[1] == pytest.approx(30.708, abs=1e-3)
    assert 1e3 * press.windows[0].width[2] == pytest.approx(31.067, abs=1e-3)
    assert press.opens == pytest.approx(0.006, abs=0.002)
    assert (press.holds, press.worst_moment, press.expected_moment) == (True, "maximum", "maximum")
    assert found.good


def test_the_chance_that_the_clamp_holds():
    """95.7 % of the draws at 600 kN with a bleed of 3 +- 2 %: arithmetic, one other code."""
    one = before(lambda raw: raw["zone"]["skin"].update(bleed="3 % ± 2 (tolerance)"), draws=40_000)
    assert one.opens == pytest.approx(0.043, abs=0.004)
    assert one.forces.chance_holds == pytest.approx(1.0 - one.opens)
    assert one.governing.pressure["expected worst"].above_clamp == pytest.approx(one.opens)


def test_without_a_stated_bleed_there_is_no_chance_but_that_with_no_bleed():
    one = before()
    assert (one.ask.stated, one.forces.chance_holds) == (False, None)
    assert one.opens == pytest.approx(one.governing.pressure["nominal worst"].above_clamp)


@pytest.mark.parametrize("counts", [{}, {"skin": 20, "back": 20}])
@pytest.mark.parametrize("cores", [None, ["fore"]])
def test_every_room_pushes_on_the_clamp_whoever_says_its_count(counts, cores):
    """Two rooms of 0.036 m2 at 15.22 MPa and a web of 0.006 m2 at 7.10 MPa: 1138.5 kN against 900."""
    found = answer(second_room, plies=counts, cores=cores)
    for one in found.cores:
        assert one.forces.state.left_out == ()
        assert one.forces.at_worst.value / 1e3 == pytest.approx(1138.5, abs=1)
        assert one.stays_shut is False
    assert not found.good


@pytest.mark.parametrize(
    ("counts", "cores", "supposed"),
    [
        ({}, None, []),  # the count of a core that is asked about is the one that `fill` finds best
        ({}, ["fore"], ["back"]),
        ({"skin": 20}, None, ["back"]),
        ({"skin": 20, "back": 20}, ["fore"], []),
    ],
)
def test_the_count_of_a_further_zone_is_asked_for(counts, cores, supposed):
    told = core_json.ANSWER.json(answer(second_room, plies=counts, cores=cores, draws=200))["cores"][0]
    lacks = [key for key in told["missing_for_use"] if key.endswith(".plies")]
    assert lacks == [f"zone.{zone}.plies" for zone in supposed]
    assert len(told["supposed"]) == len(supposed)


def test_of_two_open_zones_of_one_room_the_one_that_nobody_asks_about_is_told():
    raw = copy.deepcopy(BOX)
    raw["zone"]["caps"].pop("plies")
    asked = core(part_of(raw, "part.toml"), plies={"sides": 21}, draws=200)
    assert asked.cores[0].missing == ("zone.caps.plies",)
    texts = [block.text for block in core_blocks(asked, "metric", why=False) if isinstance(block, Sentence)]
    assert says("core: the count of a further zone", " ".join(texts))
    assert says("fill: whether the tool holds", verdict_words(asked.cores[0], "metric"))


def test_each_row_is_held_against_the_clamp_with_every_room_in_its_state():
    """Two rooms at 12.83 MPa with the stated bleed leave a clamp of 1 000 kN shut, at 15.22 with none not."""

    def edit(raw):
        second_room(raw)
        raw["tool"]["clamp_force"] = "1000 kN"

    found = answer(edit, plies={"skin": 20, "back": 20})
    for each in found.cores:
        pressure = each.governing.pressure
        expected, nominal = (pressure[f"{state} at_maximum"].value for state in ("expected", "nominal"))
        assert each.bears(expected, "at_maximum", "expected")
        assert not each.bears(nominal, "at_maximum", "nominal")
        others = 0.036 * expected + 0.006 * pressure["expected at_gel"].value
        assert each.ask.limit("expected", "at_maximum") == pytest.approx((1e6 - others) / 0.036, rel=1e-6)
    texts = [block.text for block in core_blocks(found, "metric") if isinstance(block, Sentence)]
    assert len([text for text in texts if "553" in text and "kN" in text]) == 1


@pytest.mark.parametrize(
    ("edit", "missing"),
    [
        (lambda raw: raw["tool"].pop("clamp_force"), "clamp force"),
        (lambda raw: raw["room"]["skin"].pop("opens"), "projected area of room skin"),
        (lambda raw: raw["zone"]["web"].pop("projected_area"), "projected area of zone web"),
    ],
)
def test_what_is_not_given_is_not_judged(edit, missing):
    found = answer(edit, plies={"skin": 20})
    press = found.cores[0]
    assert [*map(str, press.forces.state.left_out)] == [missing]
    assert (press.stays_shut, press.holds, press.opens) == (None, None, None)
    said = core_json.ANSWER.json(found)["cores"][0]
    assert (said["tool_holds"], said["tool_opens"]) == (None, None)


LESS = {
    "zone.skin.walls": lambda raw: raw["zone"]["skin"].pop("walls"),  # it then never presses
    "resin.epoxy.liquid_density": lambda raw: raw["resin"]["epoxy"].pop("liquid_density"),  # 591 kN before
}
DOUBTED = {
    "resin.epoxy.liquid_density": lambda raw: raw["resin"]["epoxy"].update(liquid_density="1.22 g/cm^3"),
    "core.fore.bulk_modulus": lambda raw: raw["core"]["fore"].update(bulk_modulus="0.085 GPa ± 0.02 (k=2)"),
    "temperature.room": lambda raw: raw["temperature"].update(room="73 degC"),
}


@pytest.mark.parametrize(("clamp", "ends"), [("450 kN", "closed"), ("900 kN", "closed"), ("900 kN", "open")])
@pytest.mark.parametrize(("key", "change"), [*LESS.items(), *DOUBTED.items()])
def test_on_a_key_left_out_or_a_value_in_doubt_no_tool_is_said_to_hold(key, change, clamp, ends):
    def edit(raw):
        change(raw)
        raw["tool"]["clamp_force"] = clamp
        raw["room"]["skin"]["ends"] = ends

    found = answer(edit, plies={"skin": 20}, draws=200)
    one = found.cores[0]
    assert (one.stays_shut, one.within_limit, one.holds) == (None, None, None)
    assert any(key in missing for missing in one.missing)
    told = core_json.ANSWER.json(found)["cores"][0]
    keys = ("tool_holds", "tool_opens", "within_pressure_limit", "chance_tool_does_not_hold")
    assert [told[name] for name in keys] == [None] * 4
    assert told["locked_tool_opens"] is not False
    (window,) = told["volume_window"]
    assert window["width"]["value"] == 30.82
    assert (window["least_width"], window["most_width"]) == (None, None)
    assert list(core_size_words(one.windows, "metric")) == []
    words = verdict_words(one, "metric")
    assert says("fill: whether the tool holds", words) is (ends == "closed")
    assert key in words


@pytest.mark.parametrize(
    "edit",
    [
        lambda raw: raw["zone"]["skin"].pop("walls"),
        lambda raw: raw["tool"].pop("clamp_force"),
        lambda raw: raw["room"]["skin"].update(ends="open"),
    ],
)
def test_where_the_tool_is_not_judged_no_core_is_said_to_press_and_hold(edit):
    found = answer(edit, plies={"skin": 20}, draws=200)
    assert along_bleed(found.cores[0].ask).window is None
    zone = fill(found.part, "part.toml", zones=["skin"], draws=200).zones[0]
    assert all(row.unjudged or zone.best.verdict == "not judged" for row in zone.rows)
    assert [(core.low, core.high) for core in zone.cores] == [(None, None)]
    assert list(core_size_words(zone.cores, "metric")) == []


def test_the_area_of_all_walls_needs_no_count_of_walls():
    def volumes(raw):
        core = {"volume": "1 l", "cavity_volume": "1.26 l", "laminate_area": "0.0653 m^2", "held": "no"}
        raw["core"]["fore"].update(core)
        raw["zone"]["skin"].pop("walls")

    one = before(volumes, draws=200)
    assert one.stays_shut is not None
    assert "zone.skin.walls" not in one.missing


def test_what_is_not_stated_is_named_where_the_tool_may_open_too():
    """The part by widths may open its tool in 14.8 % of the draws with no bleed."""
    one = before()
    assert (one.stays_shut, one.opens) == (True, pytest.approx(0.148, abs=0.02))
    words = verdict_words(one, "metric")
    assert says("cli: the core may open the tool", words)
    assert "tool.pressure_limit" in words


def test_a_clamp_that_is_too_small_already_is_told_whatever_is_left_out():
    def edit(raw):
        raw["zone"]["web"].pop("projected_area")
        raw["tool"]["clamp_force"] = "500 kN"

    found = answer(edit, plies={"skin": 20})
    assert found.cores[0].stays_shut is False
    assert core_json.ANSWER.json(found)["cores"][0]["tool_opens"] is True
    assert not found.good


@pytest.mark.parametrize(("limit", "good"), [("15.1 MPa", False), ("15.3 MPa", True)])
def test_walls_hold_their_own_limit_and_the_clamp_its_own(limit, good):
    """15.22 MPa with no bleed at the maximum."""
    found = answer(lambda raw: raw["tool"].update(pressure_limit=limit), plies={"skin": 20})
    one = found.cores[0]
    assert (one.stays_shut, one.within_limit, found.good) == (True, good, good)
    said = core_json.ANSWER.json(found)["cores"][0]
    assert (said["tool_opens"], said["tool_holds"], said["within_pressure_limit"]) == (False, good, good)
    assert one.opens > 0.1


@pytest.mark.parametrize(("clamp", "holds"), [("300 kN", False), ("900 kN", True)])
def test_open_ends_are_not_judged_but_the_clamp_is_by_the_most_they_can_press(clamp, holds):
    def edit(raw):
        raw["room"]["skin"]["ends"] = "open"
        raw["tool"]["clamp_force"] = clamp

    found = answer(edit, plies={"skin": 20})
    press = found.cores[0]
    assert (press.ask.room.open_ends, press.holds, press.opens, found.good) == (True, holds, None, holds)
    assert core_json.ANSWER.json(found)["cores"][0]["tool_opens"] is not holds
    first = next(b.text for b in core_blocks(found, "metric") if hasattr(b, "text"))
    assert says("core: open ends are not judged but the clamp", first)
    filled = fill(found.part, "part.toml", zones=["skin"], plies={"skin": 20}, draws=2000).zones[0].best
    assert filled.verdict == ("not judged" if holds else "opens the tool")


def test_the_clamp_holds_more_at_the_maximum_than_at_gel():
    """Gaps of 0.006 m2 see the resin pressure at gel, 4.056 MPa, and keep that: 600 kN / 0.042 m2 then, and
    (600 kN - 24.3 kN) / 0.036 m2 = 15.99 MPa later.
    """
    one = before()
    assert one.limits["at_gel"] / 1e6 == pytest.approx(14.286, abs=5e-4)
    assert one.limits["at_maximum"] / 1e6 == pytest.approx(15.991, abs=5e-4)
    assert not one.bears(15.5e6, "at_gel")
    assert one.bears(15.5e6, "at_maximum")


def test_resin_pressure_is_absolute_beside_the_water_in_it():
    """4.89 MPa above ambient, 0.101325 MPa of that; saturated water at 120 degC: 0.19867 MPa.

    Second-hand: 198672.6 Pa by the IAPWS equation, 1.985 bar in the steam table of a textbook.
    """
    found = core_json.ANSWER.json(answer(plies={"skin": 20}))["cores"][0]["vapor"]
    assert found["resin_pressure_absolute"]["value"] == pytest.approx(4.99, abs=0.01)
    assert found["water_vapor_pressure"]["value"] == pytest.approx(0.1987, abs=3e-4)
    assert found["needed_above_ambient"]["value"] == pytest.approx(0.3)


@pytest.mark.parametrize("tables", [NOW, tables_before()])
def test_the_screen_fits_forty_lines_of_eighty(tables):
    found = core(part_of(copy.deepcopy(tables), "p"), "p", plies={"skin": 20}, draws=2000)
    lines = 0
    for block in core_blocks(found, "metric", why=False):
        if isinstance(block, Sentence):
            lines += len(wrap(block.text, 80))
        else:
            lines += 2 if isinstance(block, Heading) else len(block.rows) + 3
    assert lines <= 40


@settings(max_examples=12, deadline=None)
@given(
    st.floats(29.5, 31.0), st.floats(100.0, 160.0), st.floats(120.0, 150.0), st.integers(18, 23),
    st.floats(0.0, 0.15),
)  # fmt: skip
def test_worst_is_never_below_the_pressure_of_any_moment(width, hot, top, plies, bleed):
    tables = tables_before()
    tables["core"]["fore"].update(width=f"{width!r} mm", temperature=f"{hot!r} degC")
    tables["temperature"].update(cure=f"{(120 + top) / 2!r} degC", maximum=f"{top!r} degC")
    press = press_of(part_of(tables, "p"), "p")
    state = State(press.at(), {"skin": plies}, bleed)
    found = {m: state.pressure("fore", m) for m in ("gel", "cure", "maximum")}
    assert state.worst("fore") == max(found.values())
    assert found[state.worst_moment("fore")] == state.worst("fore")
    free = core(part_of(tables, "p"), "p", plies={"skin": plies}, draws=50).cores[0]
    nominal = State(press.at(), {"skin": plies}, 0.0)
    assert free.state.worst("fore") == max(nominal.pressure("fore", m) for m in found) >= state.worst("fore")


@pytest.mark.parametrize(("evacuated", "first"), [("no", True), ("yes", False)])
def test_a_core_that_presses_only_above_the_boil_of_water_is_told(evacuated, first):
    """A core of 30 mm presses from well above 100 degC on; water has 1 atm there (IAPWS)."""

    def edit(raw):
        raw["core"]["fore"]["width"] = "30.2 mm ± 0.03 (tolerance)"
        raw["tool"]["evacuated"] = evacuated

    found = answer(edit, plies={"skin": 20})
    told = core_json.ANSWER.json(found)["cores"][0]["vapor_before_pressure"]
    assert (told is not None) is first
    if told is not None:
        assert told["presses_from"]["value"] > 99.6
        assert told["water_vapor_pressure"]["value"] > 0.101325
        assert told["pressures"] == "absolute"
    assert core_json.ANSWER.json(answer(plies={"skin": 20}))["cores"][0]["vapor_before_pressure"] is None


def test_an_evacuated_cavity_has_no_gas_where_nothing_presses():
    def edit(raw):
        raw["tool"]["evacuated"] = "yes"

    lowest = [before(e).steam.lowest for e in (lambda raw: None, edit)]
    assert lowest == [101325.0, 0.0]
    assert before(edit).steam.resin == before().steam.resin > 101325.0


@pytest.mark.parametrize("hot", ["fore", "aft"])
def test_the_hottest_core_of_a_room_counts_whichever_is_named_first(hot):
    """Two like cores that press from 114.4 degC on, where water has 1.657 bar (IAPWS); one gets 130."""

    def edit(tables):
        for name in ("fore", "aft"):
            warm = "130 degC" if name == hot else "105 degC"
            core = {"width": "29.8 mm", "bulk_modulus": "0.85 GPa", "temperature": warm, "maximum": warm}
            tables["core"][name].update(core)

    for each in core(webbed(edit).part, draws=50).cores:
        at, water = each.vapor_first
        assert at - 273.15 == pytest.approx(114.37, abs=0.01)
        assert water == pytest.approx(1.65706e5, rel=1e-5)
