"""Parts on which one ply moves the pressure little: many counts press, and the best of all is looked for."""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill

MAST = tomllib.loads((Path(__file__).parents[2] / "examples" / "mast" / "part.toml").read_text("utf-8"))
DRAWS = 4000


def thick_core(edit=lambda raw: None):
    """Thin plies on one side of a core 58 mm wide: a ply adds 0.8 MPa."""
    raw = copy.deepcopy(MAST)
    raw.pop("plan")
    raw["limits"] = {}
    raw["prepreg"]["ud150"].update(
        fiber_areal_weight="50 g/m^2 ± 0.5 (tolerance)", resin_content="35 % ± 0.5 (tolerance)"
    )
    raw["tool"]["clamp_force"] = "3000 kN"
    raw["room"]["skin"]["width"] = "62.00 mm ± 0.02 (tolerance)"
    raw["core"]["fore"].update(
        width="58.00 mm ± 0.02 (tolerance)",
        expansion="265e-6 /K ± 2e-6 (tolerance)",
        bulk_modulus="0.85 GPa ± 0.05 (tolerance)",
    )
    raw["zone"] = {"skin": {**raw["zone"]["skin"], "walls": 1, "bleed": "3 % ± 1 (tolerance)"}}
    edit(raw)
    return part_of(raw, "part.toml")


def thick(low, high):
    def edit(raw):
        raw["limits"]["thickness"] = {"average": {"min": low, "max": high}}

    return edit


def wide(raw):
    """Sizes and temperature known so badly that more plies press more surely, over tens of counts."""
    raw["tool"]["pressure_limit"] = "40 MPa"
    raw["room"]["skin"]["width"] = "62.0 mm ± 0.2 (tolerance)"
    raw["core"]["fore"].update(
        expansion="265e-6 /K ± 15e-6 (tolerance)",
        width="57.6 mm ± 0.05 (tolerance)",
        temperature="118 degC ± 6 (tolerance)",
    )


def answer(edit, **more):
    (zone,) = fill(thick_core(edit), "part.toml", draws=DRAWS, **more).zones
    return zone


def plies(zone):
    return [row.plies for row in zone.rows]


def test_a_thickness_that_takes_more_plies_than_press_is_reached():
    zone = answer(thick("0.85 mm", "1.2 mm"))
    assert (zone.grade, zone.use.plies) == ("use", 18)
    assert zone.use.chance.all > 0.99
    assert 0.85e-3 < zone.use.part["thickness"].value < 0.92e-3
    assert len(zone.rows) <= 11


def test_the_highest_chance_of_all_counts_is_used_not_that_of_the_first():
    zone = answer(wide)
    assert zone.use.chance.all > 0.998
    for other in (18, 30):
        asked = answer(wide, plies={"skin": other}).best
        assert zone.use.chance.all >= asked.chance.all - 0.002
    assert zone.use.pressure_at_worst.value < asked.pressure_at_worst.value


def test_no_count_beyond_the_last_that_holds_is_asked():
    """The walls give way before the laminate is thick enough."""
    zone = answer(lambda raw: (thick("0.85 mm", "1.2 mm")(raw), raw["tool"].update(pressure_limit="12 MPa")))
    assert zone.use is None
    assert zone.best.chance.all < 0.01


def test_a_part_without_limits_keeps_its_first_count_and_rows():
    zone = answer(lambda raw: None)
    assert plies(zone) == list(range(1, 12))
    assert zone.use.plies == 5
    assert zone.use.chance.all > 0.99


def test_a_bleed_that_nobody_states_names_a_count_within_limits():
    def silent(raw):
        thick("0.85 mm", "1.2 mm")(raw)
        del raw["zone"]["skin"]["bleed"]

    zone = answer(silent)
    assert (zone.grade, zone.best.outside) == ("state the bleed", ())
    assert (zone.best.window.holds, zone.best.window.presses) == (0.0, zone.best.window.end)


def test_a_gap_that_many_counts_fit_uses_the_likeliest():
    def thin(raw):
        raw["zone"] = {
            "web": {**raw["zone"]["skin"], "gap": "10 mm ± 0.01 (tolerance)", "bleed_limit": "25 %"}
        }
        for key in ("room", "side", "walls", "bleed"):
            del raw["zone"]["web"][key]
        del raw["room"], raw["core"]
        for key in ("clamp_force", "pressure_limit", "compliance"):
            raw["tool"].pop(key)
        raw["prepreg"]["ud150"].update(
            fiber_areal_weight="15 g/m^2 ± 0.1 (tolerance)", resin_content="33 %", packing_limit="72 %"
        )
        raw["limits"]["fiber_volume"] = {"average": {"min": "63.6 %"}}

    zone = answer(thin, inverse=False)
    assert zone.use.plies > 730
    assert zone.use.chance.all > 0.5
    assert len(zone.rows) <= 64
    assert all(other.chance.all <= zone.use.chance.all + 0.02 for other in zone.rows)


@pytest.mark.parametrize("asked", [18, 40])
def test_a_count_asked_about_is_among_the_rows(asked):
    zone = answer(thick("0.85 mm", "1.2 mm"), plies={"skin": asked})
    assert zone.best.plies == asked
    assert asked in plies(zone)
    assert 18 in plies(zone)
