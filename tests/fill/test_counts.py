"""Verdicts and numbers of a count, against arithmetic done here by hand on the example's values."""

import math
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.show.fill_words import kind_words
from laminate.show.pressed_words import core_size_words
from laminate.values.problems import Refused
from tests.messages.wording import says

EXAMPLES = Path(__file__).parents[2] / "examples"
FIBER = 0.150 / 1790.0
RESIN = 0.150 / (1 - 0.33 - 0.004) * 0.33
LIQUID, CURED = RESIN / 1120.0, RESIN / 1220.0
FILM = 0.05e-3
WEB = 2.95e-3 * (1 + 23.6e-6 * 97)


def test_every_number_of_a_row_by_hand(zone, row):
    found = row(zone("web"), 20)
    bleed = 1 - (WEB - FILM - 20 * FIBER) / (20 * LIQUID)
    thickness = 20 * FIBER + (1 - bleed) * 20 * CURED + FILM
    assert found.fill_plies == 16
    assert found.fill_ratio.value == pytest.approx((20 * (FIBER + LIQUID) + FILM) / WEB, rel=1e-12)
    assert found.bleed.value == pytest.approx(bleed, rel=1e-10)
    assert found.fiber_volume_in_gap.value == pytest.approx(20 * FIBER / (WEB - FILM), rel=1e-12)
    assert found.part["thickness"].value == pytest.approx(thickness, rel=1e-12)
    assert found.part["fiber_volume"].value == pytest.approx(20 * FIBER / thickness, rel=1e-12)
    assert found.thickness_if_gap_holds.value == pytest.approx(WEB, rel=1e-12)
    assert found.void_if_gap_holds.value == pytest.approx(1 - thickness / WEB, rel=1e-10)


def test_what_is_too_few_keeps_all_its_resin_and_what_is_too_many_stops_at_the_limit(zone, row):
    answer = zone("web")
    few, many = row(answer, 19), row(answer, 21)
    assert (few.verdict, many.verdict) == ("too few", "too many")
    assert few.bleed.value < 0
    assert few.part["thickness"].value == pytest.approx(19 * (FIBER + CURED) + FILM, rel=1e-12)
    assert many.part["thickness"].value == pytest.approx(21 * (FIBER + 0.85 * CURED) + FILM, rel=1e-12)


def test_a_stack_that_does_not_fill_is_too_few_even_where_the_tool_does_not_close(zone):
    """Plies of 61 % fiber, packed to 57 %: none is too many that leaves its gap unfilled."""

    def dense(raw):
        raw["prepreg"]["ud150"].update(packing_limit="57 %", resin_content="25 %")

    rows = zone("web", dense).rows
    assert {(r.verdict, r.fill_ratio.value < 1.0) for r in rows} == {("too few", True), ("too many", False)}


def test_the_packing_limit_stops_the_tool_too(zone, row):
    def dense(raw):
        raw["prepreg"]["ud150"]["packing_limit"] = "57 %"

    found = row(zone("web", dense), 20)
    assert found.fiber_volume_in_gap.value > 0.57
    assert found.verdict == "too many"
    assert found.chance.closes < 0.5


@pytest.mark.parametrize(
    ("form", "limit"), [("unidirectional", 0.68), ("non-crimp", 0.60), ("woven", 0.55), ("mat", 0.25)]
)
def test_a_form_has_its_own_packing_limit(form, limit, zone):
    """Common practice, no source."""

    def formed(raw):
        del raw["prepreg"]["ud150"]["packing_limit"]
        raw["prepreg"]["ud150"]["form"] = form

    assert zone("web", formed).packing_limit == limit


def test_mixed_forms_pack_each_to_its_own_limit(zone):
    def mixed(raw):
        raw["prepreg"]["cloth"] = {**raw["prepreg"]["ud150"], "form": "woven", "packing_limit": "50 %"}
        raw["zone"]["web"]["stack"] = ["4 cloth", "1 film"]

    answer = zone("web", mixed)
    n = answer.discussed.fill_plies
    assert answer.packing_limit == pytest.approx((n + 4) / (n / 0.68 + 4 / 0.50), rel=1e-12)


def test_draping_thickens_every_ply(zone, row):
    plain, draped = zone("skin"), zone("skin", lambda raw: raw["zone"]["skin"].update(shear="20 deg"))
    ratio = row(draped, 19).fill_ratio.value / row(plain, 19).fill_ratio.value
    assert ratio == pytest.approx(1 / math.cos(math.radians(20)), rel=1e-12)
    assert draped.use.plies == 19


def test_a_layer_that_leaves_is_in_the_gap_alone(zone, row):
    stays, leaves = zone("web"), zone("web", lambda raw: raw["layer"]["film"].update(stays="no"))
    assert row(leaves, 20).fill_ratio.value == row(stays, 20).fill_ratio.value
    difference = row(stays, 20).part["thickness"].value - row(leaves, 20).part["thickness"].value
    assert difference == pytest.approx(FILM, rel=1e-9)


def test_two_metals(zone):
    def plug(raw):
        raw["zone"]["web"].update(
            inner_expansion="12.5e-6 /K", inner_half_width="100 mm", outer_half_width="103 mm"
        )

    expected = 2.95e-3 + (0.103 * 23.6e-6 - 0.1 * 12.5e-6) * 97
    assert zone("web", plug).hot_gap.value == pytest.approx(expected, rel=1e-12)


def test_the_tool_may_have_its_own_temperature(zone):
    answer = zone("web", lambda raw: raw["tool"].update(temperature="130 degC"))
    assert answer.hot_gap.value == pytest.approx(2.95e-3 * (1 + 23.6e-6 * 107), rel=1e-12)


def test_an_off_centre_core_must_fit_on_both_sides(zone, row):
    centred = zone("skin")
    aside = zone("skin", lambda raw: raw["core"]["fore"].update(offset="0.12 mm"))
    assert row(centred, 20).verdict == "fits"
    assert row(aside, 20).verdict == "too few"  # of both, what comes first: the wide side is not filled
    wide, narrow = row(aside, 20).sides
    assert wide["hot_gap"] - narrow["hot_gap"] == pytest.approx(0.24e-3, rel=1e-9)
    assert wide["fiber_volume"] < narrow["fiber_volume"]


def test_inserts_take_room_in_the_cavity(zone):
    def inserted(raw):
        raw["core"]["fore"].update(insert_thickness="2 mm", width="28.775 mm")

    expected = (36.6e-3 * (1 + 23.6e-6 * 97) - 28.775e-3 * 1.025175**3 / (1 + 23.6e-6 * 97) ** 2) / 2
    assert zone("skin", inserted).hot_gap.value == pytest.approx(expected, rel=1e-12)


def test_no_liquid_density_is_said_and_the_cured_one_stands_in(zone, row):
    answer = zone("web", lambda raw: raw["resin"]["epoxy"].pop("liquid_density"))
    assert row(answer, 20).fill_ratio.value == pytest.approx((20 * (FIBER + CURED) + FILM) / WEB, rel=1e-12)
    assert any("epoxy liquid density: not measured" in note for note in answer.not_measured)


def test_inputs_without_a_spread_and_from_tables_are_named(zone):
    notes = zone("skin").not_measured
    assert any(says("fill: inputs without a spread", note) and "aluminium 6061" in note for note in notes)
    assert says("fill: inputs without a spread, 2", notes)
    assert not any("fiber density" in note for note in notes)


def bladder(raw):
    raw["bladder"] = {"b": {"pressure": "0.6 MPa"}}
    raw["zone"] = {"web": {"bladder": "b", "fill_with": "ud150", "bleed_limit": "10 %"}}
    raw.pop("plan")
    raw.pop("core")


def test_under_a_bladder_thickness_runs_from_no_bleed_to_its_end(zone, row):
    answer = zone("web", bladder)
    assert answer.pressed_by == "bladder"
    assert (answer.use, answer.grade, answer.best.plies) == (None, "state the bleed", 20)
    none, most = row(answer, 20).ends
    assert none["thickness"] == pytest.approx(20 * (FIBER + CURED), rel=1e-12)
    assert most["thickness"] == pytest.approx(20 * (FIBER + 0.9 * CURED), rel=1e-12)
    assert [r.verdict for r in answer.rows if r.plies in (19, 22)] == ["too few", "too many"]


@pytest.mark.parametrize(
    ("pressure", "limit", "verdict"),
    [
        ("0.2 MPa", "3 MPa", "not pressed"),
        ("0.6 MPa", "0.5 MPa", "opens the tool"),
        ("0.6 MPa (exact)", "3 MPa", None),
    ],
)
def test_a_bladder_that_presses_too_little_or_more_than_walls_are_built_for(pressure, limit, verdict):
    """Whatever the limits of thickness say of a count."""
    text = (EXAMPLES / "bladder" / "part.toml").read_text("utf-8")
    raw = tomllib.loads(text)
    raw["bladder"]["tube"]["pressure"] = pressure
    raw["tool"]["pressure_limit"] = limit
    (answer,) = fill(part_of(raw, "part.toml"), draws=1000).zones
    verdicts = {row.verdict for row in answer.rows}
    assert verdicts == {verdict} if verdict else "fits" in verdicts
    assert (answer.use is None) is (verdict is not None)


@pytest.mark.parametrize(("low", "high"), [("60 %", "64 %"), ("45 %", "50 %")])
def test_a_limit_that_no_count_can_meet_moves_no_count(low, high):
    """Fiber volume under a bladder is that of the prepreg less what bleeds, whatever the count."""
    raw = tomllib.loads((EXAMPLES / "bladder" / "part.toml").read_text("utf-8"))
    (before,) = fill(part_of(raw, "part.toml"), draws=1000).zones
    raw["limits"]["fiber_volume"] = {"average": {"min": low, "max": high}}
    (answer,) = fill(part_of(raw, "part.toml"), draws=1000).zones
    assert [row.plies for row in answer.rows] == [row.plies for row in before.rows]
    assert (answer.use, answer.grade, answer.best.verdict) == (None, "do not", "fits")
    assert [(miss.attribute, miss.below) for miss in answer.best.outside] == [("fiber_volume", low == "60 %")]


def test_of_counts_that_all_miss_a_limit_one_that_presses_is_nearest():
    raw = tomllib.loads((EXAMPLES / "box" / "part.toml").read_text("utf-8"))
    raw["limits"]["fiber_volume"] = {"average": {"min": "66 %", "max": "67 %"}}
    zones = fill(part_of(raw, "part.toml"), draws=1000).zones
    assert {zone.best.verdict for zone in zones} <= {"presses", "depends on the bleed"}
    assert {miss.attribute for zone in zones for miss in zone.best.outside} == {"fiber_volume"}


def test_a_core_that_does_not_go_in_between_the_stacks_is_not_advised():
    """Few plies on two sides of a box leave room for many on the others, past which no core goes in."""
    raw = tomllib.loads((EXAMPLES / "box" / "part.toml").read_text("utf-8"))
    raw["zone"]["caps"]["plies"] = 1
    zones = {zone.zone: zone for zone in fill(part_of(raw, "part.toml"), draws=1000).zones}
    room, core = raw["room"]["box"], raw["core"]["box"]
    cold = float(room["width"].split()[0]) - float(core["width"].split()[0])
    plies, ply = zones["sides"].best.plies, zones["sides"].cores[0]
    stacks = 2 * plies * 1.10 * 1e3 * (FIBER + CURED)
    assert 1e3 * ply.left["width"] == pytest.approx(cold - stacks, rel=1e-9)
    assert ply.interference == -min(ply.left.values()) > 0.0
    assert {zone.grade for zone in zones.values()} == {"risky"}


def test_under_a_bladder_packing_ends_the_bleed(zone, row):
    def dense(raw):
        bladder(raw)
        raw["prepreg"]["ud150"]["packing_limit"] = "57 %"

    most = row(zone("web", dense), 20).ends[1]
    liquid = 20 * FIBER / 0.57 - 20 * FIBER
    assert most["thickness"] == pytest.approx(20 * FIBER + liquid * 1120 / 1220, rel=1e-9)


def test_steam_is_named_where_the_bladder_presses_less(zone):
    weak = zone("web", lambda raw: (bladder(raw), raw["bladder"]["b"].update(pressure="0.1 MPa")))
    strong = zone("web", bladder)
    assert weak.steam.voids
    assert weak.steam.resin == pytest.approx(0.1e6 + 101325.0)  # absolute, as the vapor is
    assert not strong.steam.voids
    assert strong.steam.water == pytest.approx(0.2322e6, rel=1e-3)  # saturation at 125 degC, 2.322 bar
    assert not strong.steam.stated


@pytest.mark.parametrize(
    ("edit", "found"),
    [
        (lambda raw: raw["zone"].update(web={"gap": "2.95 mm", "stack": ["1 film"]}), "no plies"),
        (lambda raw: raw["prepreg"]["ud150"].update(resin_content="0 %"), "plies without resin"),
    ],
)
def test_what_has_nothing_to_fill_with_is_refused(zone, edit, found):
    with pytest.raises(Refused) as refused:
        zone("web", edit)
    assert refused.value.problems[0].found == found


@pytest.mark.parametrize(("modulus", "doubted"), [("0.85 MPa ± 0.2 (tolerance)", True), (None, False)])
def test_a_bulk_modulus_that_no_rubber_has_is_doubted_beside_the_answer(modulus, doubted):
    raw = tomllib.loads((EXAMPLES / "box" / "part.toml").read_text("utf-8"))
    if modulus:
        raw["core"]["box"]["bulk_modulus"] = modulus
    answer = fill(part_of(raw, "part.toml"), draws=1000)
    assert ("0.85 MPa" in kind_words(answer, answer.zones[0], "metric")) is doubted


@pytest.mark.parametrize(
    ("values", "shut", "within", "case"),
    [
        ({"pressure_limit": "5 MPa"}, True, False, "fill: no core presses and holds, walls"),
        ({"clamp_force": "100 kN"}, False, True, "fill: no core presses and holds, clamp"),
        (
            {"pressure_limit": "5 MPa", "clamp_force": "100 kN"},
            False,
            False,
            "fill: no core presses and holds, both",
        ),
    ],
)
def test_what_would_help_where_no_core_does_is_what_gives_way(values, shut, within, case):
    raw = tomllib.loads((EXAMPLES / "box" / "part.toml").read_text("utf-8"))
    raw["tool"].update(values)
    window = fill(part_of(raw, "part.toml"), draws=200, zones=["sides"]).zones[0].cores[0]
    assert (window.high, window.shut, window.within) == (None, shut, within)
    (words,) = core_size_words([window], "metric")
    assert says(case, words)
