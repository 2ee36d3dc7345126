"""`correct` where rubber presses: the bleed that a thickness tells of, and changes that are safe."""

from __future__ import annotations

import copy
import json
import random
import re
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

from laminate.cli import tables
from laminate.files.part import part_of
from laminate.history.correcting import correct
from laminate.history.rubber import BEYOND, THICKER
from laminate.press.press import press_of
from laminate.press.state import State
from laminate.show.correct_words import blocks
from laminate.show.rubber_words import first_line
from tests.messages.wording import reads, says

from .calls import call, swap

BEFORE = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"


def press(edit=None):
    """The press of that part after an edit."""
    now = tomllib.loads(BEFORE.read_text("utf-8"))
    if edit is not None:
        edit(now)
    return press_of(part_of(now, "part.toml"), "part.toml")


def rubber(mast, thickness, limits=(2.75, 2.95), edit=(), plies=20):
    """The answer for skin coupons of one thickness [mm] in the part with its core by widths."""
    text = BEFORE.read_text("utf-8")
    for old, new in (
        ("[limits.thickness.web]",
         f'[limits.thickness.skin]\nindividual = {{ min = "{limits[0]} mm", max = "{limits[1]} mm" }}\n\n'
         "[limits.thickness.web]"),
        *edit,
    ):  # fmt: skip
        assert text.count(old) == 1
        text = text.replace(old, new)
    (mast / "part.toml").write_text(text)
    (mast / "skin.csv").write_text(
        "specimen,zone,thickness [mm],accepted\n"
        + "".join(
            f"S{i},skin,{thickness + tiny:.9f},thickness: computed to so many digits\n"
            for i, tiny in enumerate((-1e-6, 0.0, 1e-6))
        )
    )
    batch = (mast / "batch.toml").read_text()
    batch = batch.replace('fiber_areal_weight = "150.6 g/m^2 ± 1.0 (k=2)"\n', "")
    batch = re.sub(r"resin_content = .*\nresin_basis = .*\nvolatiles = .*\n", "", batch)
    batch = re.sub(r"\[fiber.carbon\]\ndensity = .*\n", "[fiber.carbon]\n", batch)
    (mast / "batch.toml").write_text(
        batch.replace('coupons = ["coupons.csv"]', 'coupons = ["coupons.csv", "skin.csv"]').replace(
            "skin = 20", f"skin = {plies}"
        )
    )
    return correct([mast / "batch.toml"]).rubber[0]


@pytest.mark.parametrize(
    ("thickness", "bleed", "gel", "worst"), [(2.860, 2.8, 2.05, 9.73), (2.830, 5.3, 0.34, 7.87)]
)
def test_thickness_tells_the_bleed_and_the_pressure(mast, thickness, bleed, gel, worst):
    """Arithmetic, computed by other code: 20 plies of the part with its core by widths."""
    zone = rubber(mast, thickness)
    assert 100.0 * zone.bleed == pytest.approx(bleed, abs=0.05)
    assert zone.now.gel / 1e6 == pytest.approx(gel, abs=0.006)
    assert zone.now.worst / 1e6 == pytest.approx(worst, abs=0.006)
    assert not zone.check


def test_thinner_than_the_core_can_press_is_said_and_nothing_proposed(mast):
    zone = rubber(mast, 2.800)
    assert 100.0 * zone.bleed == pytest.approx(7.7, abs=0.05)
    assert 100.0 * zone.none_left_at == pytest.approx(5.784, abs=5e-4)
    assert zone.check == BEYOND
    assert zone.proposals == ()


def test_no_core_size_is_proposed_and_what_opens_the_tool_is_refused(mast):
    zone = rubber(mast, 2.860, limits=(2.95, 3.05))
    assert {one.what for one in zone.proposals} <= {
        "ply_count", "bleed", "ud150 resin_content", "ud150 areal_weight"
    }  # fmt: skip
    count = next(one for one in zone.proposals if one.what == "ply_count")
    assert (count.then, count.refused) == (21, "opens the tool")  # 900 kN at most 600 kN
    for one in zone.proposals:
        assert one.refused
        assert (one.before.gel, one.before.worst) == (zone.now.gel, zone.now.worst)
    found = correct([mast / "batch.toml"])
    assert any(getattr(one, "text", "").endswith("pressed by rubber") for one in blocks(found, "metric"))


def test_a_wider_core_presses_harder_and_is_no_thinner():
    """Arithmetic, computed by other code: 0.16 mm at 3 % bleed."""
    found = []
    for width in ("30.64 mm ± 0.03 (tolerance)", "30.80 mm ± 0.03 (tolerance)"):
        wide = press(lambda t, w=width: t["core"]["fore"].update(width=w))
        state = State(wide.at(), {"skin": 20, "web": 20}, 0.03)
        thick = float(state.attributes("skin", ("thickness",))["thickness"])
        found.append((state.pressure("fore") / 1e6, state.worst("fore") / 1e6, thick))
    assert [one[0] for one in found] == pytest.approx([1.93, 6.57], abs=0.006)
    assert [one[1] for one in found] == pytest.approx([9.60, 14.66], abs=0.006)
    assert found[0][2] == found[1][2]


def test_the_bleed_is_as_uncertain_as_the_material_leaves_it(mast):
    """By hand, first order: b = 1 - (h - f)/r, r of fiber weight and resin content; f and r as of the part.

    20 plies: f 1.6760 mm, r 1.2184 mm, h 2.86 mm, (h - f)/r = 0.9718. Fiber weight ±2 of 150 g/m2 moves
    f and r alike: h/r x 1.333 %/sqrt 3. Resin content w, 33 % ±1: r goes with w/(1 - w - v), v 0.4 %.
    Ply scatter 1 %/sqrt 20. Densities 0.279 and 0.41 % at one u; volatiles 0.2 %.
    """
    zone = rubber(mast, 2.860)
    assert zone.run.thickness.u < 5e-6
    spread = 2.86 / 1.2184  # of a relative change of f and r together
    weight = spread * 2 / 150 / 3**0.5
    scatter = spread * 0.01 / 20**0.5
    resin = 0.9718 * (0.01 / 3**0.5) * (1 / 0.33 + 1 / 0.67)
    fiber_density = 1.6760 / 1.2184 * 0.005 / 1.79
    resin_density = 0.9718 * 0.005 / 1.22
    by_hand = np.hypot.reduce([weight, scatter, resin, fiber_density, resin_density])
    assert zone.run.bleed.u == pytest.approx(by_hand, rel=0.02)


def test_voids_that_were_measured_are_bleed_as_well(mast):
    """b = 1 - [h(1 - V_v) - f]/r: 1 % of voids in 2.86 mm is 0.0286 mm of 1.2184 mm of resin."""
    layup = State(press().at(), {"skin": 20, "web": 20}).layups["skin"]
    more = layup.bleed_of(2.86e-3, 0.01) - layup.bleed_of(2.86e-3)
    assert more == pytest.approx(0.0286 / 1.2184, rel=1e-4)
    assert rubber(mast, 2.860).run.void_content is None
    text = (mast / "coupons.csv").read_text("utf-8")
    (mast / "skin.csv").write_text(re.sub(r"(?m)^(\d)", r"S\1", text.replace(",web", ",skin")))
    (zone,) = correct([mast / "batch.toml"]).rubber
    run = zone.run
    assert run.void_content is not None
    assert run.bleed.value == pytest.approx(layup.bleed_of(run.thickness.value, run.void_content), rel=1e-9)
    # the zone at that bleed, with those voids, is as thick as it was measured
    assert 0.0 <= run.bleed.value <= zone.none_left_at
    assert zone.now.thickness == pytest.approx(run.thickness.value, rel=1e-9)


def test_thicker_than_with_no_bleed_is_said_and_nothing_proposed(mast):
    """20 plies are 2.8944 mm with no bleed (arithmetic, computed by other code)."""
    assert rubber(mast, 2.894).check == ""


def test_no_resin_explains_a_part_that_is_thicker_still(mast):
    zone = rubber(mast, 2.910)
    assert (zone.check, zone.proposals, zone.core_alone) == (THICKER, (), None)
    assert zone.bleed < 0.0


def test_without_a_clamp_force_no_change_is_called_possible(mast):
    zone = rubber(mast, 2.860, edit=[('clamp_force = "600 kN"', "")])
    assert zone.proposals
    assert all(one.refused for one in zone.proposals)
    pressed = [one for one in zone.proposals if one.after.gel > 1e5 and one.what != "ply_count"]
    assert pressed
    assert all(reads("correct: no change without a clamp force", one.refused) for one in pressed)


def written(tables, one):
    """The part with a proposal written into it, and its count and bleed."""
    tables, count, bleed = copy.deepcopy(tables), None, None
    if one.what == "ply_count":
        count = int(one.then)
    elif one.what == "bleed":
        bleed = one.then
    elif one.what.endswith("resin_content"):
        tables["prepreg"]["ud150"]["resin_content"] = f"{100 * one.then:.9f} %"
    else:
        tables["prepreg"]["ud150"]["fiber_areal_weight"] = f"{1e3 * one.then:.9f} g/m^2"
    return tables, count, bleed


def fresh(mast, folder):
    """A copy of the untouched example."""
    shutil.copytree(mast, folder)
    return folder


def test_no_proposal_written_into_the_part_opens_the_tool_or_unpresses_it(mast, tmp_path):
    """Random core, clamp and limits; the part is read anew with the proposal in it."""
    rng, checked, refused = random.Random(1), 0, set()
    for case in range(8):
        width, force = rng.uniform(30.60, 30.85), rng.uniform(450, 900)
        thickness = rng.uniform(2.80, 2.89)
        middle = thickness + rng.uniform(-0.12, 0.12)
        edit = [
            ('width = "30.64 mm ± 0.03 (tolerance)"', f'width = "{width:.3f} mm ± 0.03 (tolerance)"'),
            ('clamp_force = "600 kN"', f'clamp_force = "{force:.0f} kN"'),
        ]
        here = fresh(mast, tmp_path / f"case{case}")
        zone = rubber(here, thickness, limits=(round(middle - 0.1, 3), round(middle + 0.1, 3)), edit=edit)
        now = tomllib.loads((here / "part.toml").read_text("utf-8"))
        refused |= {one.refused for one in zone.proposals}
        for one in zone.proposals:
            if one.refused:
                continue
            changed, count, bleed = written(now, one)
            again = press_of(part_of(changed, "part.toml"), "part.toml")
            used = zone.bleed if bleed is None else bleed
            state = State(again.at(), {"skin": count or 20, "web": 20}, {"skin": max(used, 0.0)})
            assert state.worst_force <= 1e3 * round(force)
            assert state.pressed("skin")
            assert state.pressure("fore") == pytest.approx(one.after.gel, rel=1e-6)
            assert state.worst("fore") == pytest.approx(one.after.worst, rel=1e-6)
            checked += 1
    assert checked >= 6
    assert {"opens the tool", "not pressed"} & refused


def test_the_core_that_keeps_the_pressure_does(mast):
    zone = rubber(mast, 2.860)
    now = tomllib.loads((mast / "part.toml").read_text("utf-8"))
    checked = 0
    for one in zone.proposals:
        changed, count, bleed = written(now, one)
        changed["core"]["fore"]["width"] = f"{1e3 * one.core.width[1]:.12f} mm"
        state = State(
            press_of(part_of(changed, "part.toml"), "part.toml").at(),
            {"skin": count or 20, "web": 20},
            {"skin": zone.bleed if bleed is None else bleed},
        )
        assert state.pressure("fore") == pytest.approx(zone.now.gel, rel=1e-5)
        checked += 1
    assert checked == 4


def test_the_keys_of_a_zone_under_rubber(mast, capsys):
    rubber(mast, 2.860)
    status, out, err = call(capsys, mast / "batch.toml", "--json")
    assert (status, err) == (0, "")
    web, skin = json.loads(out)["zones"]
    assert set(web) <= set(skin)
    assert skin["bleed_achieved"]["value"] == pytest.approx(2.82, abs=0.05)
    assert skin["bleed_achieved"]["standard_uncertainty"] > 2.0
    for one in skin["proposals"]:
        assert {"what", "now", "then", "pressure_before", "pressure_after", "refused"} <= set(one)
        for state in (one["before"], one["after"]):
            for key in ("thickness", "fiber_volume", "at_gel", "at_worst"):
                assert state[key]["low"] <= state[key]["value"] <= state[key]["high"]


def test_one_zone_is_answered_first_and_within_forty_lines(mast, capsys, monkeypatch):
    rubber(mast, 2.860)
    swap(mast / "batch.toml", ('"coupons.csv", "skin.csv"', '"skin.csv"'))
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    lines = call(capsys, mast / "batch.toml")[1].splitlines()
    assert lines[0].startswith("Zone skin, 20 plies: ")
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert len(call(capsys, mast / "batch.toml", "--why")[1].splitlines()) > len(lines)


def test_a_stated_bleed_is_what_the_coupons_are_compared_with(mast):
    rubber(mast, 2.860, edit=[("[zone.skin]", '[zone.skin]\nbleed = "3 % ± 2 (tolerance)"')])
    (zone,) = correct([mast / "batch.toml"]).rubber
    thickness = next(one for one in zone.differences if one.attribute == "thickness")
    assert 1e3 * thickness.predicted.mean.value == pytest.approx(2.8579, abs=6e-5)
    assert says("correct: a stated bleed is what the coupons", thickness.difference.mean.parts)


def test_the_first_line_tells_the_thickness_that_the_change_gives(mast):
    """A whole ply does not reach the middle of the limits."""
    strong = ('clamp_force = "600 kN"', 'clamp_force = "900 kN"')
    zone = rubber(mast, 2.860, (2.94, 2.98), edit=(strong,))
    first = next(proposal for proposal in zone.proposals if not proposal.refused)
    assert first.what == "ply_count"
    assert f"{1e3 * first.after.thickness:.3f} mm" in first_line(zone, "metric")
