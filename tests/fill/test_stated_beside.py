"""Other zones of room and press stand at the counts that the part file states; none is bought by silence."""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.show import fill_json
from laminate.show.fill_words import force_words, stated_words
from tests.messages.wording import says

EXAMPLES = Path(__file__).parents[2] / "examples"
MAST, BOX, OIL = (
    tomllib.loads((EXAMPLES / name / "part.toml").read_text("utf-8")) for name in ("mast", "box", "oil")
)


def filled(tables, values, **more):
    raw = copy.deepcopy(tables)
    for (table, name, key), value in values.items():
        raw[table].setdefault(name, {}).update({key: value})
    raw["tool"] |= raw["tool"].pop("", {})
    return fill(part_of(raw, "part.toml"), "part.toml", draws=2000, inverse=False, **more)


def of(answer, zone):
    return next(z for z in answer.zones if z.zone == zone)


def weak(force="320 kN", area="0.3 m^2", **plies):
    """The mast in a press that its skin, where it is pressed, leaves little of."""
    stated = {("zone", zone, "plies"): count for zone, count in plies.items()}
    return {("tool", "", "clamp_force"): force, ("zone", "web", "projected_area"): area, **stated}


@pytest.mark.parametrize("zones", [None, ["web"]])
def test_a_gap_is_judged_with_the_count_that_is_stated_beside_it(zones):
    """(320 - 4.893 x 36) / 0.3 = 0.48 MPa, where 0.7 is wanted; 19 plies, the nearest, press with nothing."""
    web = of(filled(MAST, weak(skin=20), zones=zones), "web")
    assert (web.use, web.left_to_close) == (None, pytest.approx(0.48e6, abs=0.005e6))


@pytest.mark.parametrize("zones", [None, ["web"]])
@pytest.mark.parametrize("press", [weak(), weak("900 kN", "1.2 m^2")])
def test_a_count_that_is_left_out_and_does_not_press_buys_no_gap(press, zones):
    web = of(filled(MAST, press, zones=zones), "web")
    assert (web.grade, web.missing) == ("risky", ("zone.skin.plies",))


def test_a_gap_beside_a_count_that_presses_is_used_without_it_stated():
    for values, zones in (({}, ["web"]), ({}, None), (weak("900 kN", "0.006 m^2", skin=20), None)):
        web = of(filled(MAST, values, zones=zones), "web")
        assert (web.grade, web.missing) == ("use", ())


def test_a_way_out_of_a_gap_has_its_chance_with_the_press_that_closes_it():
    wanted = {("zone", "web", "wanted_pressure"): "0.45 MPa"}
    web = of(filled(MAST, weak(skin=20) | wanted, plies={"web": 21}), "web")
    (other,) = [way for way in web.window.what_opens_it if way.what == "ply count"]
    then = next(row for row in web.rows if row.plies == other.plies)
    assert other.chance == then.chance.all == pytest.approx(0.52, abs=0.05)


def test_a_gap_beside_less_than_is_advised_there_is_not_used():
    """19 plies of skin, as stated, leave all 12 MPa of the clamp; 20, which are advised, leave 10.2 of 11."""
    wanted = {("zone", "web", "wanted_pressure"): "11 MPa"}
    for stated, grade, missing in ((19, "risky", ("zone.skin.plies",)), (20, "do not", ())):
        answer = filled(MAST, weak("1200 kN", "0.1 m^2", skin=stated) | wanted)
        web = of(answer, "web")
        assert (of(answer, "skin").best.plies, web.grade, web.missing) == (20, grade, missing)


def wide(**plies):
    return {("core", "box", "width"): "39.30 mm ± 0.01 (tolerance)"} | {
        ("zone", zone, "plies"): count for zone, count in plies.items()
    }


def test_two_zones_of_a_room_are_each_judged_with_what_is_stated_for_the_other():
    answer = filled(BOX, wide(sides=20, caps=24))
    sides, caps = answer.zones
    assert [(z.best.plies, z.grade) for z in answer.zones] == [(19, "use"), (24, "use")]
    assert caps.best.pressure_at_gel.value == pytest.approx(11.4e6, abs=0.05e6)
    assert caps.best.pressure_at_worst.value == pytest.approx(19.7e6, abs=0.05e6)
    assert says("fill: a stated count that tables are judged with", stated_words(answer, sides, "metric"))
    (alone,) = filled(BOX, wide(sides=20, caps=24), zones=["sides"]).zones
    assert alone.best.chance == sides.best.chance


def test_the_answers_and_the_press_are_of_what_is_advised_for_every_zone():
    answer, laid = (filled(BOX, wide(sides=sides, caps=24)) for sides in (20, 19))
    sides, caps = answer.zones
    assert (sides.together, caps.together.plies, laid.zones[1].together) == (None, 24, None)
    for moment in ("pressure_at_gel", "pressure_at_worst"):
        alike = getattr(laid.zones[1].best, moment)
        assert getattr(caps.together, moment) == pytest.approx(alike, rel=1e-9)
        assert getattr(caps.best, moment).value > alike.value
    assert caps.together.chance == laid.zones[1].best.chance
    for force in ("at_gel", "at_worst", "gives_way_at", "chance_holds"):
        assert getattr(answer.forces, force) == pytest.approx(getattr(laid.forces, force), rel=1e-9)


def test_json_says_with_which_counts_the_press_was_judged_and_holds_the_rows_that_reasons_are_of():
    """Rows of the caps stand beside 20 plies at the sides; press and reason are of the 19 advised."""
    told, laid = (fill_json.ANSWER.json(filled(BOX, wide(sides=n, caps=24))) for n in (20, 19))
    (sides, caps), laid_caps = told["zones"], laid["zones"][1]
    assert told["press"]["plies"] == laid["press"]["plies"] == {"sides": 19, "caps": 24}
    assert (sides["together"], laid_caps["together"]) == (None, None)
    beside, alike = (next(c for c in z["counts"] if c["plies"] == 24) for z in (caps, laid_caps))
    assert caps["why"] == laid_caps["why"]
    assert caps["together"]["pressure_at_gel"]["value"] == pytest.approx(alike["pressure_at_gel"]["value"])
    assert beside["pressure_at_gel"]["value"] > 1.2 * alike["pressure_at_gel"]["value"]
    told = fill_json.ANSWER.json(filled(BOX, wide(sides=21, caps=25)))  # not all are advised
    assert told["press"]["plies"] == {"sides": 21, "caps": 25}


def test_the_press_is_of_what_is_stated_where_not_all_are_advised():
    answer, laid = (filled(BOX, wide(sides=sides, caps=caps)) for sides, caps in ((21, 25), (18, 23)))
    assert [zone.together for zone in answer.zones] == [None, None]
    assert answer.forces.at_worst.value > 1.1 * laid.forces.at_worst.value
    words = stated_words(answer, answer.zones[0], "metric")
    assert says("fill: a stated count that other zones are judged with", words)


def test_two_counts_that_replace_stated_ones_are_not_judged_together():
    """18 plies at the sides press beside 25 stated, 23 at the caps beside 21 stated, not 18 and 23."""
    answer = filled(BOX, wide(sides=21, caps=25))
    assert [(z.best.plies, z.grade, z.missing) for z in answer.zones] == [
        (18, "risky", ("zone.caps.plies",)),
        (23, "risky", ("zone.sides.plies",)),
    ]
    both = filled(BOX, wide(sides=18, caps=23))
    stated = [next(row for row in z.rows if row.plies == z.case.zone.plies) for z in both.zones]
    assert [row.verdict for row in stated] == ["not pressed", "not pressed"]


def test_a_force_of_another_count_than_the_stated_one_is_said_with_its_count():
    """One zone alone: the press is of 17 plies, the best count, whatever the part file states."""
    for stated, named in ((17, False), (18, True)):
        answer = filled(OIL, {("zone", "wall", "plies"): stated})
        (line, *_) = force_words(answer, "metric")
        assert (answer.zones[0].best.plies, "17 plies" in line) == (17, named)
