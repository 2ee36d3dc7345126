"""No better answer is got by telling less: what is left out is named, and nothing is advised on it."""

import tomllib
from pathlib import Path

import pytest

import laminate as lam
from laminate.files.part import part_of
from laminate.press.advice import missing_for_use
from laminate.press.cores import core
from laminate.press.filling import fill
from laminate.press.names import TOOL_MAXIMUM
from laminate.press.press import press_of
from laminate.press.pressed_count import PressedCount
from laminate.show.blocks import Grid
from laminate.show.core_words import core_blocks, verdict_words
from laminate.show.pressed_words import advice, to_state
from laminate.values.input_key import Key
from tests.messages.wording import says, worded

from .test_together import rooms

COUNTS = {"fore": 20}

KEYS = {
    "room.fore.corner_radius": "room.fore.corner_radius",
    "room.fore.opens": "projected area of room fore",
    "core.fore.corner_radius": "core.fore.corner_radius",
    "core.fore.temperature": "core.fore.temperature",
    "core.fore.expansion": "core.fore.expansion",
    "core.fore.bulk_modulus_at": "core.fore.bulk_modulus_at",
    "tool.clamp_force": "tool.clamp_force",
    "tool.pressure_limit": "tool.pressure_limit",
    "tool.compliance": "tool.compliance",
    "tool.closes": "tool.closes",
    "tool.expansion": "± of tool expansion",
    "temperature.maximum": "temperature.maximum",
    "zone.fore.walls": "zone.fore.walls",
    "zone.fore.bleed": "zone.fore.bleed",
    "resin.epoxy.liquid_density": "resin.epoxy.liquid_density",
    "prepreg.ud150.volatiles": "prepreg.ud150.volatiles",
}
SPREADS = {
    "fiber.carbon.density": "carbon density",
    "resin.epoxy.liquid_density": "epoxy liquid density",
    "prepreg.ud150.fiber_areal_weight": "ud150 areal weight",
    "prepreg.ud150.resin_content": "ud150 resin content",
    "room.fore.width": "room fore width",
    "room.fore.height": "room fore height",
    "core.fore.width": "core fore width",
    "core.fore.expansion": "core fore expansion",
    "core.fore.bulk_modulus": "core fore bulk modulus",
    "core.fore.temperature": "core fore temperature",
    "core.fore.maximum": "core fore maximum",
    "temperature.gel": "gel temperature",
    "zone.fore.bleed": "fore bleed",
}


def at(raw, key):
    *tables, last = key.split(".")
    for table in tables:
        raw = raw[table]
    return raw, last


def without(key):
    def edit(raw):
        table, last = at(raw, key)
        table.pop(last)

    return edit


def bare(key, more=""):
    def edit(raw):
        table, last = at(raw, key)
        table[last] = table[last].split(" ±")[0] + more

    return edit


def missing(edit=lambda raw: None):
    press = press_of(rooms(edit, ("fore",)), "part.toml")
    return missing_for_use(PressedCount(press, "fore", COUNTS))


def test_the_example_lacks_nothing():
    assert missing() == ()


@pytest.mark.parametrize("key", KEYS)
def test_a_key_left_out_is_named(key):
    assert KEYS[key] in missing(without(key))


@pytest.mark.parametrize("key", SPREADS)
def test_an_input_without_a_spread_is_named(key):
    assert missing(bare(key)) == (f"± of {SPREADS[key]}",)
    assert missing(bare(key, " (exact)")) == ()


def test_the_form_of_a_prepreg_is_asked_for():
    def edit(raw):
        raw["prepreg"]["ud150"].pop("form")
        raw["prepreg"]["ud150"].pop("packing_limit")

    assert missing(edit) == ("prepreg.ud150.form",)


def test_what_does_not_move_the_answer_needs_no_spread():
    """The area of a face weighs the charge; a bulk factor is that of the stack before it is pressed."""
    assert missing(lambda raw: raw["zone"]["fore"].update(area="0.036 m^2")) == ()
    assert missing(lambda raw: raw["prepreg"]["ud150"].update(bulk_factor=1.2)) == ()


ZERO = {
    "tool.compliance": "0 MPa^-1", "prepreg.ud150.volatiles": "0 %", "room.fore.corner_radius": "0 mm",
    "zone.fore.walls": 0, "resin.epoxy.liquid_density": "0 g/cm^3", "tool.clamp_force": "0 kN",
}  # fmt: skip


def _stated(key, value):
    def edit(raw):
        table, last = at(raw, key)
        table[last] = value

    return edit


@pytest.mark.parametrize("key", ZERO)
def test_0_is_called_an_answer_where_the_file_takes_it(key):
    try:
        rooms(_stated(key, ZERO[key]), ("fore",))
        taken = True
    except lam.Refused:
        taken = False
    words = to_state(KEYS[key])
    assert says("fill: 0 is an answer", words) is taken
    assert words.startswith(KEYS[key])
    assert not says("fill: 0 is an answer", to_state(f"± of {SPREADS['core.fore.expansion']}"))


@pytest.mark.parametrize("edit", [without("core.fore.bulk_modulus_at"), bare("core.fore.bulk_modulus")])
def test_nothing_is_advised_and_no_tool_is_said_to_hold_on_it(edit):
    part = rooms(edit, ("fore",))
    (zone,) = fill(part, "part.toml", draws=500, inverse=False, plies=COUNTS).zones
    assert (zone.grade, zone.use) == ("risky", None)
    found = core(part, "part.toml", plies=COUNTS, draws=200)
    assert says("fill: whether the tool holds", verdict_words(found.cores[0], "metric"))


def test_what_is_to_be_stated_is_asked_for_with_the_answer():
    (zone,) = fill(rooms(without("tool.compliance"), ("fore",)), draws=500, inverse=False, plies=COUNTS).zones
    assert says("fill: 0 is an answer", "".join(advice(zone, "metric")))


@pytest.mark.parametrize("names", [("fore",), ("fore", "aft")])
def test_a_force_whose_areas_are_not_known_is_not_zero(names):
    """Where one area of two is known, the force is that of one and said to be the least."""
    part = rooms(without("room.fore.opens"), names)
    forces = fill(part, "part.toml", draws=500, inverse=False, plies=dict.fromkeys(names, 20)).forces
    whole = fill(rooms(names=("aft",)), "part.toml", draws=500, inverse=False, plies={"aft": 20}).forces
    known = (whole.at_gel.value, whole.at_worst.value) if len(names) > 1 else (None, None)
    told = (forces.at_gel and forces.at_gel.value, forces.at_worst and forces.at_worst.value)
    assert told == pytest.approx(known)
    assert (forces.whole, whole.whole) == (False, True)
    assert [*map(str, forces.state.left_out)] == ["projected area of room fore"]


def test_a_tool_without_a_clamp_force_is_not_said_to_hold():
    def silent(raw):
        raw["tool"].pop("clamp_force")

    found = core(rooms(silent, ("fore",)), "part.toml", plies=COUNTS, draws=200)
    assert found.cores[0].holds is None
    assert says("fill: whether the tool holds", verdict_words(found.cores[0], "metric"))


def test_drawings_and_cycles_state_some_numbers_without_a_spread():
    """Lengths, areas, set points but that of gel; open ends are stated, closed ones are taken, and said."""
    for key in ("temperature.room", "temperature.maximum", "room.fore.length", "core.fore.length"):
        assert missing(bare(key)) == ()
    press = press_of(rooms(without("room.fore.ends"), ("fore",)), "part.toml")
    assert missing(without("room.fore.ends")) == ()
    assert says("fill: drawings and cycles state some numbers", press.inputs.not_measured())


def test_a_bladder_without_a_spread_is_not_advised():
    def edit(raw):
        raw["bladder"] = {"bag": {"pressure": "0.7 MPa"}}
        raw["zone"] = {"skin": {"bladder": "bag", "stack": ["12 ud150"], "projected_area": "0.03 m^2 (exact)",
                                "bleed": "3 % ± 2 (tolerance)", "bleed_limit": "15 %"}}  # fmt: skip
        raw["room"], raw["core"] = {}, {}

    (zone,) = fill(rooms(edit, ("fore",)), "part.toml", draws=500, inverse=False).zones
    assert zone.missing == (worded("fill: the spread of a bladder is missing"),)
    assert zone.use is None


def test_a_bulk_factor_left_out_lies_below_what_debulking_reaches():
    """Of a stack shut cold it must be stated; else it is said, as contact and a locked core rest on it."""

    def silent(raw):
        raw["prepreg"]["ud150"].pop("bulk_factor")

    def cold(raw):
        silent(raw)
        raw["tool"]["closes"] = "cold"

    assert missing(silent) == ()
    assert "prepreg.ud150.bulk_factor" in missing(cold)
    notes = press_of(rooms(silent, ("fore",)), "part.toml").inputs.not_measured()
    assert any("bulk factor" in note and "debulking" in note for note in notes)
    stated = press_of(rooms(lambda raw: None, ("fore",)), "part.toml").inputs.not_measured()
    assert not any("debulking" in note for note in stated)


HOTTEST = {("tool", "maximum"): "128 degC ± 2 (tolerance)", ("core", "maximum"): "130 degC ± 2 (tolerance)"}


@pytest.mark.parametrize("left_out", HOTTEST)
def test_a_maximum_of_tool_or_rubber_that_is_left_out_is_said(left_out):
    def notes(*keys):
        def change(raw):
            for table, key in HOTTEST:
                (raw[table]["fore"] if table == "core" else raw[table]).pop(key, None)
            for table, key in keys:
                (raw[table]["fore"] if table == "core" else raw[table])[key] = HOTTEST[table, key]

        return press_of(rooms(change, ("fore",)), "part.toml").inputs.steady

    key = TOOL_MAXIMUM if left_out[0] == "tool" else Key("core", "fore", "maximum")
    assert key not in notes(*HOTTEST)
    less = notes(*(other for other in HOTTEST if other != left_out))
    if left_out[0] == "tool":
        assert says("fill: the maximum of a tool is left out", less[key])
    else:
        assert says("fill: the maximum of a core is left out", less[key])


def test_a_bulk_modulus_measured_colder_than_it_gels_is_said_to_press_too_well():
    def change(raw):
        raw["core"]["fore"]["bulk_modulus_at"] = "23 degC"

    inputs = press_of(rooms(change, ("fore",)), "part.toml").inputs
    (words,) = [str(words) for key, words in inputs.notes.items() if str(key).endswith("bulk modulus at")]
    assert says("fill: a bulk modulus measured cold", words)
    (words,) = [words for key, words in inputs.steady.items() if str(key).endswith("bulk modulus at")]
    assert says("fill: a bulk modulus measured cold, 2", words)


def test_one_room_has_one_table_of_pressures():
    raw = tomllib.loads((Path(__file__).parents[2] / "examples" / "box" / "part.toml").read_text("utf-8"))
    found = core(part_of(raw, "part.toml"), plies={"sides": 20}, draws=200)
    tables = [b for b in core_blocks(found, "metric") if isinstance(b, Grid) and "at gel [MPa]" in b.columns]
    assert (len(found.cores[0].zones), len(tables)) == (2, 1)


@pytest.mark.parametrize("plies", [20, 22, 5000])
def test_the_count_to_use_is_graded_alike_whatever_count_is_asked_about(plies):
    material = {"fiber_areal_weight": "150 g/m^2", "resin_content": "33 %", "fiber_density": "1.79 g/cm^3"}
    gap = {"gap": "3 mm", "bleed_limit": "15 %", "resin_density": "1.22 g/cm^3"}
    graded = [
        (zone["use"], zone["grade"], zone["missing_for_use"])
        for more in ({}, {"plies": plies})
        for zone in lam.fill(**material, **gap, **more).to_dict()["zones"]
    ]
    assert graded[0] == graded[1]
    assert graded[0][0] == 21
