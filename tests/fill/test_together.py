"""Rooms that are filled together: the force on the clamp is the sum over all of them."""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.press.press import press_of
from laminate.press.state import State
from laminate.show import fill_json
from laminate.show.fill_words import stated_words
from laminate.show.pressed_words import advice
from laminate.values.problems import Refused
from tests.messages.wording import says

EXAMPLE = tomllib.loads((Path(__file__).parents[2] / "examples" / "mast" / "part.toml").read_text("utf-8"))
DRAWS = 4000


def rooms(edit=lambda raw: None, names=("fore", "aft")):
    """The mast's skin so many times in one press."""
    raw = copy.deepcopy(EXAMPLE)
    raw.pop("plan", None)
    raw["limits"].pop("thickness", None)
    ((_, core),) = raw["core"].items()
    room, skin = raw["room"]["skin"], raw["zone"]["skin"]
    for table in ("room", "core", "zone"):
        raw[table] = {}
    for name in names:
        raw["room"][name] = copy.deepcopy(room)
        raw["core"][name] = {**copy.deepcopy(core), "room": name}
        raw["zone"][name] = {**copy.deepcopy(skin), "room": name}
    edit(raw)
    return part_of(raw, "part.toml")


def clamp(force, more=lambda raw: None):
    def edit(raw):
        raw["tool"]["clamp_force"] = force
        more(raw)

    return edit


def filled(part, **more):
    return fill(part, "part.toml", draws=DRAWS, **more)


def row(zone, plies):
    return next(row for row in zone.rows if row.plies == plies)


def test_two_rooms_that_hold_alone_open_the_tool_together():
    """One room pushes with 491 kN on 900 kN, two with 982."""
    (alone,) = filled(rooms(clamp("900 kN"), ("fore",))).zones
    assert (alone.grade, alone.best.plies, alone.best.verdict) == ("use", 20, "presses")
    answer = filled(rooms(clamp("900 kN")))
    assert answer.forces.at_worst.value == pytest.approx(2 * 491e3, rel=0.07)
    for zone in answer.zones:
        assert zone.use is None
        assert zone.best.chance.holds < 0.6
        assert zone.best.verdict != "presses"
    assert answer.forces.chance_holds == pytest.approx(min(z.best.chance.holds for z in answer.zones))


def test_each_room_is_judged_with_the_count_of_the_other():
    part = rooms(clamp("2000 kN"))
    answer = filled(part)
    assert [(z.grade, z.best.plies) for z in answer.zones] == [("use", 20), ("use", 20)]
    press = press_of(part, "part.toml")

    def formula(conditions):
        return {"holds": State(conditions, {"fore": 20, "aft": 20}).holds}

    share = press.of_draws(DRAWS, 1).simulate(formula)["holds"].mean()
    assert [z.best.chance.holds for z in answer.zones] == [share, share]
    assert all(zone.beside for zone in answer.zones)
    told = fill_json.ANSWER.json(answer)["zones"]
    assert all(
        zone["supposed"][: len(z.beside)] == [*z.beside] for zone, z in zip(told, answer.zones, strict=True)
    )


def test_a_room_that_nobody_asked_about_pushes_too():
    (zone,) = filled(rooms(clamp("900 kN")), zones=["fore"]).zones
    assert zone.best.chance.holds < 0.6
    assert "zone.aft.plies" in zone.missing
    (strong,) = filled(rooms(clamp("2000 kN")), zones=["fore"]).zones
    assert (strong.grade, strong.use) == ("risky", None)
    (stated,) = filled(
        rooms(clamp("2000 kN", lambda raw: raw["zone"]["aft"].update(plies=20))), zones=["fore"]
    ).zones
    assert (stated.grade, stated.beside, stated.missing) == ("use", (), ())


def test_a_gap_beside_rubber_says_at_which_count_the_press_is_judged():
    raw = copy.deepcopy(EXAMPLE)
    raw["zone"]["skin"].pop("plies", None)
    (web,) = filled(part_of(raw, "part.toml"), zones=["web"]).zones
    assert any("20 plies in skin" in note for note in web.not_measured)
    raw["zone"]["skin"]["plies"] = 20
    (web,) = filled(part_of(raw, "part.toml"), zones=["web"]).zones
    assert not any("plies in skin" in note for note in web.not_measured)


def test_a_stated_count_that_opens_the_tool_lets_no_other_be_used():
    (zone,) = filled(
        rooms(clamp("900 kN", lambda raw: raw["zone"]["aft"].update(plies=21))), zones=["fore"]
    ).zones
    assert (zone.use, zone.best.chance.holds < 0.1) == (None, True)


def test_answers_do_not_depend_on_the_order_of_the_zones():
    one, other = (filled(rooms(clamp("1200 kN"), names)) for names in (("fore", "aft"), ("aft", "fore")))
    best = [{z.zone: z.best.plies for z in answer.zones} for answer in (one, other)]
    assert best[0] == best[1]
    assert one.forces.at_worst.value == pytest.approx(other.forces.at_worst.value)


def test_three_rooms():
    answer = filled(rooms(clamp("1200 kN"), ("one", "two", "three")))
    assert answer.forces.at_worst.value > 1.2e6
    assert all(z.use is None and z.best.chance.holds < 0.5 for z in answer.zones)


@pytest.mark.parametrize("names", [("fore",), ("fore", "aft")])
def test_without_a_clamp_force_nothing_is_judged(names):
    answer = filled(rooms(lambda raw: raw["tool"].pop("clamp_force"), names))
    for zone in answer.zones:
        assert (zone.grade, zone.best.verdict, zone.best.plies) == ("do not", "not judged", 20)
        assert "tool.clamp_force" in zone.missing
        assert {"presses", "fits", "depends on the bleed"}.isdisjoint(r.verdict for r in zone.rows)
        told = next(r for r in fill_json.ANSWER.json(answer)["zones"][0]["counts"] if r["plies"] == 20)
        assert (told["chance"]["holds"], told["chance"]["all"]) == (None, None)
        assert told["chance"]["pressed"] > 0.9
        assert told["chance"]["reason"]
        assert (told["bleed_window"]["tool_holds_from"], told["bleed_window"]["empty"]) == (None, None)
    assert answer.forces.chance_holds is None


def test_without_a_bleed_and_without_a_force_nothing_is_judged():
    def bare(raw):
        raw["tool"].pop("clamp_force")
        for zone in raw["zone"].values():
            zone.pop("bleed")

    for zone in filled(rooms(bare)).zones:
        assert (zone.use, zone.best.verdict) == (None, "not judged")
        assert "tool.clamp_force" in zone.missing


def test_open_ends_are_not_judged():
    def opened(raw):
        raw["room"]["fore"]["ends"] = "open"

    (zone,) = filled(rooms(clamp("900 kN", opened), ("fore",))).zones
    assert (zone.grade, zone.best.verdict) == ("do not", "not judged")
    assert (zone.best.chance.pressed, zone.best.chance.all) == (None, None)
    assert zone.best.chance.holds > 0.9


def test_edges_of_another_room_are_never_supposed():
    def bare(raw):
        raw["core"]["aft"].pop("corner_radius")
        raw["zone"]["aft"]["plies"] = 20

    (zone,) = filled(rooms(clamp("2000 kN", bare)), zones=["fore"]).zones
    assert (zone.use, zone.missing) == (None, ("core.aft.corner_radius",))


def in_one_room(raw):
    """A box whose sides and caps both leave their count open."""
    box = tomllib.loads((Path(__file__).parents[2] / "examples" / "box" / "part.toml").read_text("utf-8"))
    raw.clear()
    raw.update(box)
    for zone in raw["zone"].values():
        zone.pop("plies", None)


@pytest.mark.parametrize("given", [{"sides": 20}, {"caps": 24}])
def test_one_count_given_leaves_the_other_to_be_found(given):
    part = rooms(in_one_room)
    with pytest.raises(Refused) as refusal:
        filled(part)
    assert [(p.code, p.place) for p in refusal.value.problems] == [("count-open", "zone.caps")]
    answer = filled(part, plies=given)
    assert {z.zone: z.best.plies for z in answer.zones} == {"sides": 20, "caps": 24}


def test_the_counts_of_one_room_hold_together():
    """Caps of 25 press harder than 24: the sides are judged with the count that is advised for the caps."""
    part = rooms(in_one_room)
    answer = filled(part, plies={"caps": 25})
    side, cap = answer.zones
    assert (cap.best.plies, row(cap, 25) is cap.best) == (25, True)
    assert side.best.chance.holds == pytest.approx(cap.best.chance.holds)
    assert side.best.pressure_at_worst.value == pytest.approx(cap.best.pressure_at_worst.value)


def shut_cold(raw):
    raw["tool"].update(closes="cold", clamp_force="450 kN", pressure_limit="60 MPa")
    raw["prepreg"]["ud150"]["bulk_factor"] = 1.25
    raw["room"]["fore"]["width"] = "37.55 mm ± 0.03 (tolerance)"
    raw["core"]["fore"].update(width="30.94 mm ± 0.03 (tolerance)", temperature="70 degC ± 1 (tolerance)")
    raw["core"]["fore"]["maximum"] = "75 degC"


def test_a_tool_shut_cold_must_hold_the_stacks_as_they_are_laid_up():
    """20 plies are 2.894 mm cured and a quarter more as laid up: cold they are pressed harder than hot."""
    part = rooms(shut_cold, ("fore",))
    (zone,) = filled(part).zones
    state = State(press_of(part, "part.toml").at(), {"fore": 20})
    room = state.press.room("fore")
    cold = 30.94 * 59.90 * 599.5 / ((37.55 - 2 * 20 * 0.1447205 * 1.25) * 60.0 * 600.0)
    by_hand = 0.85e9 / 10 * (cold**10 - 1)
    assert state.cold_pressure(room) == pytest.approx(by_hand, rel=1e-4)
    assert state.cold_force == pytest.approx(by_hand * 0.036, rel=1e-4)
    assert state.cold_force > 450e3 > state.worst_force
    assert not state.holds
    assert row(zone, 20).verdict == "opens the tool"
    assert row(zone, 20).chance.holds < 0.2

    def hot(raw):
        shut_cold(raw)
        raw["tool"]["closes"] = "hot"

    later = State(press_of(rooms(hot, ("fore",)), "part.toml").at(), {"fore": 20})
    assert (bool(later.holds), later.cold_force) == (True, None)
    told = fill_json.ANSWER.json(filled(part, plies={"fore": 20}))["press"]["opening_force"]
    assert told["shut_cold"]["value"] == pytest.approx(1e-3 * by_hand * 0.036, rel=1e-4)


def test_where_nothing_can_bleed_there_is_one_pressure_and_a_chance():
    """A bleed limit of 0 %: no bleed need be stated, nothing is a range of bleed."""

    def sealed(raw):
        raw["zone"]["fore"].pop("bleed")
        raw["zone"]["fore"]["bleed_limit"] = "0 %"

    (zone,) = filled(rooms(clamp("900 kN", sealed), ("fore",))).zones
    assert zone.missing == ()
    for one in zone.rows:
        assert (one.bleed.low, one.bleed.high, one.ends) == (0.0, 0.0, ())
        assert None not in (one.chance.pressed, one.chance.holds, one.chance.all)
        assert one.window is None or one.window.end == 0.0


def test_the_count_that_a_part_file_states_for_a_bladder_is_shown_and_asked_for():
    """Without a least thickness nothing bounds the count; that of the file is judged as if asked about."""
    raw = tomllib.loads((Path(__file__).parents[2] / "examples" / "bladder" / "part.toml").read_text("utf-8"))
    raw["limits"].pop("thickness")
    (stated,) = filled(part_of(raw, "part.toml")).zones
    (asked,) = filled(part_of(raw, "part.toml"), plies={"wall": 12}).zones
    assert (stated.bounded, asked.grade) == (False, "use")
    assert [row.plies for row in stated.rows] == [12]
    assert row(stated, 12).chance == row(asked, 12).chance
    assert says("fill: a stated count under a bladder", advice(stated, "metric")[1])


def test_a_stated_count_that_is_not_the_best_one_is_told_with_its_verdict():
    """The web of the mast takes 20 plies; 16, which the file may state, leave the gap unfilled."""
    raw = copy.deepcopy(EXAMPLE)
    raw["zone"]["web"]["plies"] = 16
    raw["zone"]["skin"]["plies"] = 21
    answer = filled(part_of(raw, "part.toml"), inverse=False)
    verdicts = {zone.zone: row(zone, {"web": 16, "skin": 21}[zone.zone]).verdict for zone in answer.zones}
    assert verdicts["web"] == "too few"
    for zone in answer.zones:
        assert zone.best.plies == 20
        words = stated_words(answer, zone, "metric")
        assert words
        assert verdicts[zone.zone] in words
    raw["zone"]["web"]["plies"] = raw["zone"]["skin"]["plies"] = 20
    answer = filled(part_of(raw, "part.toml"), inverse=False)
    assert [stated_words(answer, zone, "metric") for zone in answer.zones] == ["", ""]
