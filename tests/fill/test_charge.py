"""The charge list, by hand: plies times the areal weight of the prepreg, and layers, times the area.

Arithmetic: a ply of 150 g/m2 of fiber, 33 % resin and 0.4 % volatiles as received has 150/0.666 = 225.2 g/m2.
"""

import copy
import math

import pytest

from laminate.files.part import part_of
from laminate.press.charge_list import charge_list
from laminate.press.filling import fill
from laminate.show import fill_json
from laminate.show.engineer_page import fill_document
from laminate.show.fill_screen import screen_blocks
from laminate.show.fill_words import fill_blocks
from laminate.show.pages import page_of

from .test_together import EXAMPLE

PLY = 150e-3 / 0.666
PLIES = {"web": 20, "skin": 20}
SKIN, FILM = 20 * PLY * 0.036, 0.060 * 0.031
WEB = 20 * PLY * 0.031 + FILM


def part(edit=lambda raw: None):
    raw = copy.deepcopy(EXAMPLE)
    edit(raw)
    return part_of(raw, "part.toml")


def test_masses_of_one_wall_of_all_walls_and_of_the_part():
    found = charge_list(part(), PLIES)
    web, skin = found.zones
    assert (web.plies, web.walls, web.area.value) == (20, 1, 0.031)
    assert (skin.plies, skin.walls, skin.area.value) == (20, 2, 0.036)
    assert (web.mass.value, web.mass_of_all_walls.value) == pytest.approx((WEB, WEB), rel=1e-12)
    assert (skin.mass.value, skin.mass_of_all_walls.value) == pytest.approx((SKIN, 2 * SKIN), rel=1e-12)
    assert found.mass.value == pytest.approx(WEB + 2 * SKIN, rel=1e-12)
    assert found.mass.value == pytest.approx(0.465824, abs=5e-7)
    assert found.left_out == ()


def test_its_uncertainty_is_that_of_its_inputs():
    """Tolerances: 2 of 150 g/m2, 1 of 33 %, 0.2 of 0.4 %, over the root of 3; scatter 1 % over the root of n.

    Web and skin are of one prepreg: but for the scatter of their plies their errors add.
    """
    web, skin = charge_list(part(), PLIES).zones
    common = math.hypot(2 / 150, 0.01 / 0.666, 0.002 / 0.666) / math.sqrt(3)
    scatter = 0.01 / math.sqrt(20)
    assert skin.mass.u == pytest.approx(SKIN * math.hypot(common, scatter), rel=1e-9)
    assert skin.mass_of_all_walls.u == pytest.approx(2 * skin.mass.u, rel=1e-12)
    assert web.mass.u == pytest.approx((WEB - FILM) * math.hypot(common, scatter), rel=1e-9)
    own = math.hypot((WEB - FILM) * scatter, 2 * SKIN * scatter)
    whole = math.hypot((WEB - FILM + 2 * SKIN) * common, own)
    assert charge_list(part(), PLIES).mass.u == pytest.approx(whole, rel=1e-9)


def test_the_uncertainty_of_an_area_counts():
    found = charge_list(
        part(lambda raw: raw["zone"]["skin"].update(area="0.036 m^2 ± 5 % (standard)")), PLIES
    )
    plain = charge_list(part(), PLIES)
    assert found.zones[1].mass.u == pytest.approx(math.hypot(plain.zones[1].mass.u, 0.05 * SKIN), rel=1e-9)


def test_a_prepreg_by_its_whole_weight_and_draped():
    def edit(raw):
        prepreg = raw["prepreg"]["ud150"]
        prepreg.pop("fiber_areal_weight")
        prepreg["prepreg_areal_weight"] = "230 g/m^2"
        raw["zone"]["skin"]["shear"] = "60 deg"

    _, skin = charge_list(part(edit), PLIES).zones
    assert skin.mass.value == pytest.approx(20 * 0.230 * 0.036 / math.cos(math.radians(60)), rel=1e-9)


def test_what_is_not_given_is_named_and_gives_no_sum():
    found = charge_list(part(lambda raw: raw["zone"]["skin"].pop("area")), PLIES)
    assert (found.mass, found.left_out) == (None, ("zone.skin.area",))
    assert found.zones[1].mass is None
    assert found.zones[0].mass.value == pytest.approx(WEB)
    alone = charge_list(part(), {"skin": 20})
    assert (alone.mass, alone.left_out) == (None, ("plies of web",))


def test_screen_page_and_json_say_the_same():
    answer = fill(part(), "part.toml", draws=1000, inverse=False)
    told = fill_json.ANSWER.json(answer)["charge"]
    assert [(z["zone"], z["plies"], z["walls"], z["area"]["value"]) for z in told["zones"]] == [
        ("web", 20, 1, 0.031), ("skin", 20, 2, 0.036),
    ]  # fmt: skip
    assert told["mass_of_part"]["value"] == pytest.approx(1e3 * (WEB + 2 * SKIN))
    assert told["mass_of_part"]["standard_uncertainty"] == pytest.approx(1e3 * answer.charge.mass.u)
    masses = [(z["mass"]["value"], z["mass_of_all_walls"]["value"]) for z in told["zones"]]
    assert masses == [pytest.approx((1e3 * WEB, 1e3 * WEB)), pytest.approx((1e3 * SKIN, 2e3 * SKIN))]
    short, long = str(screen_blocks(answer, "metric")), str([*fill_blocks(answer, "metric")])
    page = page_of(fill_document(answer, "metric")).replace("\xa0", " ")
    for figure in ("141.5 ± 3.3", "162.2 ± 3.8", "466 ± 11"):
        assert all(figure in said for said in (short, long, page))
    assert "324.3 ± 7.6" in long


def test_no_charge_is_laid_up_where_no_count_is_used():
    answer = fill(part(lambda raw: raw["tool"].pop("pressure_limit")), "part.toml", draws=1000, inverse=False)
    assert "466 ± 11" not in str(screen_blocks(answer, "metric"))
