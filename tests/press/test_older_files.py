"""Part files from before rooms: what each of their keys becomes, what is said of it, and what is refused."""

import math

import pytest

from laminate.files.part import part_of
from laminate.press.cores import core
from laminate.press.filling import fill
from laminate.press.layup import Layup
from laminate.press.state import State
from laminate.show import core_json
from laminate.values.problems import Refused
from tests.messages.wording import says

from .parts import press, raw

COUNTS = {"skin": 20, "web": 20}
RUBBER = {"held": "no", "width": "32.2 mm"}
PTFE = {"material": "PTFE", "expansion": "150e-6 /K", "held": "no", "width": "31.2 mm"}


def fore(**more):
    return lambda t: t["core"]["fore"].update(more)


def of(edit, **more):
    return core(
        part_of(raw(edit), "part.toml"), "part.toml", **{"draws": 1000, "plies": {"skin": 20}, **more}
    )


def said(made):
    return " ".join(made.inputs.supposed)


def refusal(make):
    with pytest.raises(Refused) as refused:
        make()
    return refused.value.problems[0]


def test_held_on_its_sides_is_a_slice_a_meter_high_and_long():
    made = press()
    (room,) = made.rooms
    x = made.inputs.numbers()
    assert (room.kind, room.rubber, room.free, room.side("skin").side) == ("box", True, False, "width")
    assert [room.size(what, x) for what in ("width", "height", "length")] == [38.6e-3, 1.0, 1.0]
    assert room.core_volume(room.cores[0], x) == 30.64e-3
    assert "clearance" in said(made)
    assert "by its mass" in said(made)
    assert core_json.ANSWER.json(of(lambda t: None))["cores"][0]["balance"] == "widths"


def test_held_between_end_walls_is_a_slice_of_a_round_room():
    made = press(fore(held="ends", width="31 mm"))
    (room,) = made.rooms
    x = made.inputs.numbers()
    assert (room.kind, room.side("skin").side) == ("round", "round")
    assert room.core_volume(room.cores[0], x) == pytest.approx(math.pi / 4 * 0.031**2)
    assert "clearance" in said(made)


def test_rubber_that_nothing_holds_has_a_touch_and_no_pressure():
    found = of(fore(**RUBBER)).cores[0]
    assert found.governing.contact is not None
    assert (found.governing.pressure, found.holds) == (None, None)
    assert found.governing.reason
    assert "sizes" in said(press(fore(**RUBBER)))
    answer = fill(part_of(raw(fore(**RUBBER)), "part.toml"), "part.toml", zones=["skin"], plies={"skin": 20})
    assert answer.zones[0].best.verdict == "not judged"


def test_a_hard_core_that_nothing_holds_leaves_a_gap():
    """(38.6 (1 + 23.6e-6 97) - 31.2 (1 + 150e-6 95))/2 (arithmetic)."""
    gap = (38.6 * (1 + 23.6e-6 * 97) - 31.2 * (1 + 150e-6 * 95)) / 2
    state = State(press(fore(**PTFE)).at(), COUNTS)
    assert 1e3 * state.gap("skin") == pytest.approx(gap, rel=1e-12)
    assert state.pressure("fore") is None


GROWS = {"nylon 6,6": "100e-6 /K", "aluminium 6061": "23.6e-6 /K"}


@pytest.mark.parametrize("held", ["sides", "ends"])
@pytest.mark.parametrize("material", ["PTFE", "nylon 6,6", "aluminium 6061", "PTFE by word"])
@pytest.mark.parametrize("verb", ["press", "fill", "core"])
def test_a_hard_core_is_not_held(held, material, verb):
    hard = {"material": material} if "word" not in material else {"acts_as": "hard"}
    hard |= {"expansion": grows} if (grows := GROWS.get(material)) else {}
    edit = fore(**hard, held=held)
    verbs = {
        "press": lambda: press(edit),
        "fill": lambda: fill(part_of(raw(edit), "part.toml"), "part.toml"),
        "core": lambda: of(edit),
    }
    problem = refusal(verbs[verb])
    assert (problem.code, problem.place) == ("hard-core-held", "core.fore.held")
    assert 'held = "no"' in problem.expected


VOLUMES = {
    "volume": "1 l", "cavity_volume": "1.26 l", "laminate_area": "0.0653 m^2", "insert_volume": "2 cm^3",
    "insert_expansion": "12.5e-6 /K",
}  # fmt: skip


def test_volumes_stay_volumes_for_all_questions():
    made = press(fore(**VOLUMES))
    (room,) = made.rooms
    hot = room.inserts(made.at().growth("gel"), made.inputs.numbers())
    assert (room.kind, hot) == ("volume", pytest.approx(2e-6 * (1.0 + 12.5e-6 * 97.0) ** 3, rel=1e-12))
    assert "volumes" in said(made)
    found = of(fore(**VOLUMES))
    assert core_json.ANSWER.json(found)["cores"][0]["balance"] == "volumes"
    assert found.cores[0].governing.contact is not None
    asked = fill(part_of(raw(fore(**VOLUMES)), "part.toml"), "part.toml", zones=["skin"], plies={"skin": 20})
    assert asked.zones[0].best.pressure_at_gel is not None


def test_one_laminate_area_of_several_zones_is_refused():
    def edit(tables):
        fore(**VOLUMES)(tables)
        tables["zone"]["tip"] = {**tables["zone"]["skin"]}

    problem = refusal(lambda: press(edit))
    assert (problem.place, problem.expected) == ("core.fore.laminate_area", "area in each zone")


def two(first=None, **second):
    def edit(tables):
        skin = tables["zone"]["skin"]
        if first:
            skin["area"] = first
        tables["zone"]["tip"] = {**skin, **second}

    return edit


def test_two_zones_with_areas_are_places_along_one_core():
    made = press(two("0.03 m^2", area="0.01 m^2"))
    (room,) = made.rooms
    x = made.inputs.numbers()
    assert [side.cover(x) for side in room.sides] == pytest.approx([1.5, 0.5])
    assert says("press: two zones with areas are places along", said(made))


@pytest.mark.parametrize(
    "edit",
    [two(), two("0.03 m^2", cavity="48 mm"), lambda t: (two()(t), fore(**PTFE)(t))],
    ids=["no areas", "other width", "hard"],
)
def test_two_zones_that_take_one_width_are_refused(edit):
    problem = refusal(lambda: press(edit))
    assert (problem.code, problem.place) == ("one-width", "core fore")
    assert "[room." in problem.expected


def test_two_open_counts_beside_one_core_are_refused():
    part = part_of(raw(two("0.03 m^2", area="0.01 m^2")), "part.toml")
    for make in (lambda: fill(part, "part.toml", draws=500), lambda: core(part, "part.toml", draws=500)):
        problem = refusal(make)
        assert problem.code == "count-open"
        assert "--plies" in problem.expected


def test_places_beside_a_hard_core_have_the_gap_of_their_own_walls():
    def edit(tables):
        two("0.03 m^2", area="0.01 m^2")(tables)
        fore(**PTFE)(tables)

    made, alone = press(edit), press(fore(**PTFE))
    counts = {**COUNTS, "tip": 24}
    assert State(made.at(), counts).gap("skin") == pytest.approx(
        State(alone.at(), COUNTS).gap("skin"), rel=1e-12
    )
    assert State(made.at(), counts).gap("tip") == State(made.at(), counts).gap("skin")


def test_a_wanted_gap_is_a_core_without_pressure():
    zone = of(lambda t: None, gap_wanted=2.9e-3).cores[0].governing

    def as_wide(tables):
        tables["core"]["fore"]["width"] = f"{1e3 * zone.cold_width.value!r} mm"

    made = press(as_wide)
    state = State(made.at(), COUNTS, 0.0, laid={"skin": Layup.of_thickness(2.9e-3)})
    assert state.pressure("fore") == pytest.approx(0.0, abs=1.0)
    assert abs(state.unfilled(made.rooms[0], {"skin": 0.0})) < 1e-15


def test_an_offset_moves_a_hard_core_alone():
    aside = {"offset": "0.1 mm"}
    plain, moved = (press(fore(**PTFE, **more)) for more in ({}, aside))
    gaps = moved.cases["skin"].sides(moved.inputs.numbers())
    gap = State(plain.at(), COUNTS).gap("skin")
    assert gaps == pytest.approx([gap + 1e-4, gap - 1e-4], rel=1e-12)
    pressed = press(fore(**aside))
    assert State(pressed.at(), COUNTS, 0.0).pressure("fore") == State(press().at(), COUNTS, 0.0).pressure(
        "fore"
    )
    assert "offset" in said(pressed)


def test_a_projected_area_of_the_core_is_that_of_its_laminates_too():
    made = press()
    (room,) = made.rooms
    assert room.projected_area(made.inputs.numbers()) == 0.036
    assert "projected area" in said(made)


@pytest.mark.parametrize(
    ("edit", "state", "way"),
    [
        (lambda t: t["tool"].update(closes="cold"), "nominal at_maximum", 0),
        (lambda t: t["tool"].update(compliance="1e-4 MPa^-1"), "nominal at_maximum", -1),
        (lambda t: t["zone"]["skin"].update(bleed_limit="5 %"), "lowest at_maximum", 1),
        (fore(temperature="119 degC"), "nominal at_gel", 1),
    ],
)
def test_other_keys_stay_as_they_are(edit, state, way):
    before, after = (of(e).cores[0].governing.pressure[state].value for e in (lambda t: None, edit))
    assert (after > before) - (after < before) == way
