"""What a part file may not say of rooms, and the mapping of older keys."""

import pytest

from laminate.press.cores import core
from laminate.press.filling import fill
from laminate.press.names import CURE, GEL
from laminate.press.state import State
from laminate.values.problems import Refused
from tests.messages.wording import says

from .parts import box, press, tube, webbed, zone


def skin(**more):
    return lambda t: t["zone"]["skin"].update(more)


def two(**second):
    def edit(tables):
        tables["zone"]["tip"] = {**tables["zone"]["skin"], **second}

    return edit


REFUSED = {
    "two widths": (press, two(cavity="48 mm"), "one-width", "core fore"),
    "two zones without areas": (press, two(), "one-width", "core fore"),
    "hard and held": (
        press, lambda t: t["core"]["fore"].update(material="PTFE"), "hard-core-held", "core.fore.held",
    ),
    "bleed above its limit": (press, skin(bleed="20 %"), "bleed-above-limit", "zone.skin.bleed"),
    "own maximum too cold": (
        press, lambda t: t["core"]["fore"].update(maximum="110 degC"), "wrong-order", "core.fore.maximum",
    ),
    "tool hotter than the highest": (
        press, lambda t: t["tool"].update(maximum="150 degC"), "wrong-order", "tool.maximum",
    ),
    "new size without a room": (
        press, lambda t: t["core"]["fore"].update(height="60 mm"), "missing-key", "core.fore.height",
    ),
    "no width": (press, lambda t: t["core"]["fore"].pop("width"), "missing-key", "core.fore.width"),
    "room without length": (box, lambda t: t["room"]["box"].pop("length"), "missing-key", "room.box"),
    "diameter in a box": (
        box, lambda t: (t["core"]["fore"].pop("width"), t["core"]["fore"].pop("height"),
                        t["core"]["fore"].update(diameter="20 mm")), "wrong-size", "core.fore.diameter",
    ),
    "sizes and volume": (
        box, lambda t: t["core"]["fore"].update(volume="600 cm^3"), "both-given", "core.fore.volume",
    ),
    "mass alone": (box, lambda t: t["core"]["fore"].update(mass="700 g"), "missing-key", "core.fore"),
    "clearance and height": (
        box, lambda t: t["core"]["fore"].update(clearance="0.1 mm"), "both-given", "core.fore.clearance",
    ),
    "too many walls": (
        box, lambda t: t["zone"].update(more=zone("height", 4, 1)), "too-many-walls", "zone.more.walls",
    ),
    "all with one wall": (
        box, lambda t: t["zone"]["cap"].update(side="all", walls=1), "wrong-value", "zone.cap.walls",
    ),
    "round with one wall": (
        tube, lambda t: t["zone"]["skin"].update(walls=1), "wrong-value", "zone.skin.walls",
    ),
    "more than all of a side": (
        box, lambda t: t["zone"].update(more=zone("height", 4, 2, share="25 %")), "too-many-walls",
        "zone.more.walls",
    ),
    "two webs for two cores": (
        webbed, lambda t: t["zone"]["web"].update(walls=2), "too-many-walls", "zone.web.walls",
    ),
    "a side that a round room has not": (
        tube, lambda t: t["zone"]["skin"].update(side="width"), "wrong-word", "zone.skin.side",
    ),
    "no side": (box, lambda t: t["zone"]["cap"].pop("side"), "wrong-word", "zone.cap.side"),
    "open ends of a volume": (
        tube, lambda t: (t["room"]["box"].clear(), t["room"]["box"].update(volume="628 cm^3", ends="open")),
        "ends-of-volume", "room.box.ends",
    ),
    "opens and area": (
        box, lambda t: t["room"]["box"].update(projected_area="0.03 m^2"), "both-given", "room.box.opens",
    ),
    "one rubber and one hard": (
        webbed, lambda t: t["core"]["aft"].update(acts_as="hard"), "several-cores", "core.aft.acts_as",
    ),
    "several cores in a round room": (
        tube, lambda t: t["core"].update(aft=dict(t["core"]["fore"])), "several-cores", "core.aft.room",
    ),
    "several cores in a room by volume": (
        tube, lambda t: (t["room"].update(box={"volume": "628 cm^3"}), t["zone"]["skin"].pop("side"),
                         t["zone"]["skin"].update(area="0.05 m^2"),
                         t["core"].update(aft=dict(t["core"]["fore"]))), "several-cores", "core.aft.room",
    ),
    "an area of the laminate for two zones": (
        press, lambda t: (t["zone"]["skin"].update(area="0.03 m^2"), two(area="0.01 m^2")(t),
                          t["core"]["fore"].update(volume="700 cm^3", cavity_volume="900 cm^3",
                                                   laminate_area="0.05 m^2")),
        "laminate-area", "core.fore.laminate_area",
    ),
    "cores that fill the room": (
        webbed, lambda t: t["core"]["aft"].update(width="45.9 mm"), "core-too-wide", "room.box",
    ),
    "hard and held at its ends": (
        press, lambda t: t["core"]["fore"].update(material="PTFE", held="ends"), "hard-core-held",
        "core.fore.held",
    ),
    "a room of nobody": (
        box, lambda t: t["zone"]["cap"].update(room="bax"), "unknown-name", "zone.cap.room",
    ),
    "a core larger than its room": (
        box, lambda t: t["core"]["fore"].update(length="620 mm"), "core-too-wide", "core.fore.length",
    ),
    "a core rounder than it is thick": (
        box, lambda t: t["core"]["fore"].update(corner_radius="14 mm"), "wrong-size",
        "core.fore.corner_radius",
    ),
    "a room rounder than it is thick": (
        box, lambda t: t["room"]["box"].update(corner_radius="17.1 mm"), "wrong-size",
        "room.box.corner_radius",
    ),
    "a share of nothing": (
        box, lambda t: t["zone"]["cap"].update(share="0 %"), "unreadable-value", "zone.cap.share",
    ),
    "wanted twice": (
        box, lambda t: t["zone"]["cap"].update(wanted_pressure="1 MPa"), "both-given",
        "zone.cap.wanted_pressure",
    ),
    "a chance that is none": (
        press, lambda t: t["limits"].update(chance="20 %"), "unreadable-value", "limits.chance",
    ),
    "a tool that may open too often": (
        press, lambda t: t["limits"].update(chance_holds="94 %"), "unreadable-value", "limits.chance_holds",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_its_place(case):
    make, edit, code, place = REFUSED[case]
    with pytest.raises(Refused) as refusal:
        make(edit)
    found = {(problem.code, problem.place) for problem in refusal.value.problems}
    assert (code, place) in found
    assert all(problem.file == "part.toml" and problem.expected for problem in refusal.value.problems)


def both_answers(made, plies=None):
    """What `fill` and `core` say of a part."""
    found = []
    for verb in (fill, core):
        with pytest.raises(Refused) as refusal:
            verb(made.part, "part.toml", plies=plies or {}, draws=200)
        found.append([(problem.code, problem.place) for problem in refusal.value.problems])
    return found


@pytest.mark.parametrize(
    "stacks", [{"side": 170}, {"cap": 130}, {"side": 170, "cap": 130}, {"side": 300, "cap": 300}]
)
def test_laminates_that_leave_no_room_at_all(stacks):
    """Two walls of 170 plies are 47.6 mm in 46 mm, two of 130 36.4 mm in 34 mm, bled to their end."""

    def change(tables):
        for name, plies in stacks.items():
            tables["zone"][name]["stack"] = [f"{plies} ud150"]

    assert both_answers(box(change)) == [[("no-room", "core.fore")]] * 2


def test_a_count_asked_for_that_leaves_no_room_at_all():
    assert both_answers(press(), {"skin": 170}) == [[("no-room", "core.fore")]] * 2
    assert (
        both_answers(tube(lambda t: t["zone"]["skin"].update(stack=["150 ud150"])))
        == [[("no-room", "core.fore")]] * 2
    )


def test_places_along_one_core_that_both_leave_their_count_open():
    def change(tables):
        tables["zone"]["skin"]["area"] = "0.03 m^2"
        tables["zone"]["tip"] = {**tables["zone"]["skin"], "area": "0.01 m^2"}

    with pytest.raises(Refused) as refusal:
        fill(press(change).part, "part.toml", draws=200)
    assert [(p.code, p.place) for p in refusal.value.problems] == [("count-open", "zone.tip")]


def test_rubber_without_a_bulk_modulus_has_no_pressure_and_is_not_judged():
    def bare(tables):
        core = tables["core"]["fore"]
        for key in ("bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise", "material"):
            core.pop(key)
        core.update(acts_as="rubber")
        tables["zone"]["skin"]["bleed"] = "3 % ± 2 (tolerance)"

    answer = fill(press(bare).part, "part.toml", zones=["skin"], draws=200)
    (zone,) = answer.zones
    row = next(row for row in zone.rows if row.plies == 20)
    assert (zone.use, row.verdict) == (None, "not judged")
    assert (row.pressure_at_gel, row.pressure_at_worst, row.chance.pressed, row.chance.all) == (None,) * 4
    assert row.none_left_at == pytest.approx(0.05784, abs=0.51e-5)


def test_two_open_counts_in_one_room():
    def change(tables):
        for name in ("side", "cap"):
            tables["zone"][name].pop("stack")
            tables["zone"][name]["fill_with"] = "ud150"

    made = box(change)
    assert State(made.at(), {"cap": 24}, 0.0).rooms == ()
    assert "plies of side" in map(str, State(made.at(), {"cap": 24}, 0.0).left_out)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [("80", "176"), ("100", "212"), ("120", "248"), ("125", "257"), ("130", "266"), ("150", "302")],
)
def test_equal_temperatures_in_two_units_are_in_order_either_way(celsius, fahrenheit):
    texts = f"{celsius} degC", f"{fahrenheit} degF"
    for low, high in (texts, texts[::-1]):

        def change(tables, low=low, high=high):
            tables["temperature"].update(room="20 degC", gel=low, cure=high, maximum=low)
            tables["tool"]["maximum"] = high
            tables["core"]["fore"].update(temperature=low, maximum=high)

        gel, cure = (press(change).inputs.values[name].value for name in (GEL, CURE))
        assert gel == pytest.approx(cure, abs=1e-9)


def test_a_temperature_a_hundredth_above_the_next_is_out_of_order():
    def change(tables):
        tables["temperature"].update(gel="100.01 degC", cure="212 degF")

    with pytest.raises(Refused) as refused:
        press(change)
    assert [(p.code, p.place) for p in refused.value.problems] == [("wrong-order", "temperature.gel")]


def test_places_along_one_core_share_its_length():
    def change(tables):
        tables["zone"]["skin"]["area"] = "0.03 m^2"
        tables["zone"]["tip"] = {**tables["zone"]["skin"], "area": "0.01 m^2"}

    plies = {"skin": 20, "web": 20}
    whole = State(press().at(), plies, 0.0).pressure("fore")
    made = press(change)
    assert made.inputs.supposed
    assert State(made.at(), {**plies, "tip": 20}, 0.0).pressure("fore") == pytest.approx(whole, rel=1e-12)
    less, more = (State(made.at(), {**plies, "tip": n}, 0.0).pressure("fore") for n in (19, 21))
    assert less < whole < more


def test_rubber_between_free_sides_touches_and_no_more():
    state = State(
        press(lambda t: t["core"]["fore"].update(held="no", width="32.2 mm")).at(), {"skin": 20, "web": 20}
    )
    assert state.pressure("fore") is None
    assert says("press: rubber between free sides touches", map(str, state.left_out))


def test_what_is_missing_for_the_force_is_named():
    state = State(
        press(lambda t: (t["tool"].pop("clamp_force"), t["core"]["fore"].pop("projected_area"))).at(),
        {"skin": 20, "web": 20},
    )
    assert set(map(str, state.left_out)) == {"clamp force", "projected area of core fore"}


def test_a_bladder_presses_with_its_own_pressure():
    def change(tables):
        tables["bladder"] = {"bag": {"pressure": "0.7 MPa"}}
        tables["zone"]["skin"] = {
            "bladder": "bag", "stack": ["20 ud150"], "bleed_limit": "15 %", "projected_area": "0.05 m^2",
        }  # fmt: skip

    state = State(press(change).at(), {"web": 20}, 0.05)
    assert (state.pressed_by("skin"), state.bleed["skin"], state.pressed("skin")) == (0.7e6, 0.05, True)
    assert state.opening_force() == pytest.approx(0.7e6 * 0.056)
    assert state.left_to_close == pytest.approx((600e3 - 0.7e6 * 0.05) / 0.006)
