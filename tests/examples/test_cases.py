"""Every shipped example is run, and its main numbers are computed here by hand."""

import json
import math
from importlib.resources import as_file, files

import pytest

from laminate.cli import app
from laminate.cli.general import CASES

DRAWS = ["--draws", "20000"]


def run(capsys, verb, case, *options):
    with as_file(files("laminate.examples") / case / "part.toml") as path:
        status = app.status([verb, str(path), *options, "--json"])
    return status, json.loads(capsys.readouterr().out)


def zone_of(answer, name):
    return next(zone for zone in answer["zones"] if zone["zone"] == name)


def count_of(zone, plies):
    return next(count for count in zone["counts"] if count["plies"] == plies)


def ply(*, fiber, resin, liquid, weight, content):
    """Fiber, liquid resin and cured resin of one ply [mm]; content volatile-free, weight [g/m2]."""
    per_area = weight * content / (1 - content)
    return weight / fiber / 1000, per_area / liquid / 1000, per_area / resin / 1000


def pressure(*, room, core, thickness, tool, rubber, at_tool, at_core, modulus, rise=10.0):
    """Gauge pressure [MPa] of one rubber core, by mass: laminates count by their cold area (Murnaghan's law).

    room, core: width, height, length [mm]; thickness: of each of two laminates across a size [mm].
    """
    sides = [thickness.get(name, 0.0) * 2 for name in ("width", "height", "length")]
    growth = 1 + tool * at_tool
    hot = [size * growth for size in room]
    bare = hot[0] * hot[1] * hot[2]
    left = (hot[0] - sides[0]) * (hot[1] - sides[1]) * (hot[2] - sides[2])
    free = bare - (bare - left) / growth**2
    grown = core[0] * core[1] * core[2] * (1 + rubber * at_core) ** 3
    return max(modulus / rise * ((grown / free) ** rise - 1), 0.0)


def test_every_folder_is_a_case():
    folders = {
        entry.name for entry in files("laminate.examples").iterdir() if (entry / "part.toml").is_file()
    }
    assert folders == set(CASES)


@pytest.mark.parametrize("case", sorted(CASES))
def test_predict_answers(capsys, case):
    status, answer = run(capsys, "predict", case)
    assert status == 0
    assert answer["zones"]
    for zone in answer["zones"]:
        assert 40 < zone["fiber_volume"]["value"] < 65


def test_box(capsys):
    status, answer = run(capsys, "fill", "box", "--zone", "sides", *DRAWS)
    assert status == 0
    zone = zone_of(answer, "sides")
    assert (zone["grade"], zone["use"], zone["missing_for_use"]) == ("use", 20, [])
    count = count_of(zone, 20)
    assert count["pressure_at_gel"]["value"] == pytest.approx(4.765, abs=0.0005)
    assert count["pressure_at_worst"]["value"] == pytest.approx(12.511, abs=0.0005)
    assert count["bleed_at_no_pressure"]["value"] == pytest.approx(4.982, abs=0.0005)
    assert answer["press"]["worst_moment"] == "maximum"


def test_box_by_hand(capsys):
    count = count_of(zone_of(run(capsys, "fill", "box", "--zone", "sides", *DRAWS)[1], "sides"), 20)
    one = 0.0837989 + 0.98 * 0.0663610  # of a ply at a bleed of 2 %
    thickness = {"width": 20 * one, "height": 24 * one}
    sizes = {"room": (46.0, 34.0, 600.0), "core": (39.02, 26.02, 599.0), "thickness": thickness}
    material = {"tool": 23.6e-6, "rubber": 265e-6, "modulus": 850.0}
    at_gel = pressure(**sizes, **material, at_tool=97, at_core=95)
    hottest = pressure(**sizes, **material, at_tool=107, at_core=107)
    assert count["pressure_at_gel"]["value"] == pytest.approx(at_gel, abs=1e-3)
    assert count["pressure_at_worst"]["value"] == pytest.approx(hottest, abs=1e-3)


def test_oil_presses_hardest_at_gel(capsys):
    status, answer = run(capsys, "fill", "oil", *DRAWS)
    assert status == 0
    zone = zone_of(answer, "wall")
    assert (zone["grade"], zone["use"]) == ("use", 17)
    assert answer["press"]["worst_moment"] == "gel"
    count = count_of(zone, 17)
    f, liquid, _ = ply(fiber=1.80, resin=1.21, liquid=1.12, weight=150, content=0.34)
    sizes = {"room": (25.2, 80.0, 400.0), "core": (18.5, 79.9, 399.5)}
    material = {"tool": 12.8e-6, "rubber": 250e-6, "modulus": 800.0}
    thickness = {"width": 17 * (f + 0.98 * liquid)}
    at = [pressure(**sizes, **material, thickness=thickness, at_tool=t, at_core=130) for t in (97, 105, 110)]
    assert at == sorted(at, reverse=True)
    assert count["pressure_at_gel"]["value"] == pytest.approx(at[0], abs=0.002)
    assert count["pressure_at_worst"]["value"] == pytest.approx(at[0], abs=0.002)
    area = 0.08 * 0.4 * (1 + 12.8e-6 * 97) ** 2
    assert answer["press"]["opening_force"]["at_gel"]["value"] == pytest.approx(
        1000 * at[0] * area, rel=0.003
    )


def test_bladder(capsys):
    status, answer = run(capsys, "fill", "bladder", *DRAWS)
    assert status == 0
    zone = zone_of(answer, "wall")
    assert (zone["grade"], zone["use"], zone["pressed_by"]) == ("use", 12, "bladder")
    f, _, resin = ply(fiber=1.79, resin=1.22, liquid=1.12, weight=150, content=0.35)
    count = count_of(zone, 12)
    cured = f + 0.97 * resin
    assert count["thickness"]["value"] == pytest.approx(12 * cured, abs=1e-4)
    assert count["fiber_volume"]["value"] == pytest.approx(100 * f / cured, abs=0.01)
    assert answer["press"]["opening_force"]["at_gel"]["value"] == pytest.approx(600 * 0.016, rel=0.01)


def test_panel(capsys):
    status, answer = run(capsys, "fill", "panel", *DRAWS)
    assert status == 0
    zone = zone_of(answer, "panel")
    assert (zone["use"], zone["pressed_by"]) == (12, "matched")
    materials = {"fiber": 1.79, "resin": 1.22, "liquid": 1.12}
    thin = ply(**materials, weight=150, content=0.36)
    thick = ply(**materials, weight=245, content=0.39)
    fiber, liquid, resin = (10 * a + 2 * b for a, b in zip(thin, thick, strict=True))
    hot_gap = 2.0 * (1 + 23.6e-6 * 97)
    bleed = 1 - (hot_gap - fiber) / liquid
    count = count_of(zone, 12)
    assert count["resin_to_bleed"]["value"] == pytest.approx(100 * bleed, abs=0.05)
    assert count["thickness"]["value"] == pytest.approx(fiber + (1 - bleed) * resin, abs=0.001)


def test_paddle_is_answered_no(capsys):
    status, answer = run(capsys, "fill", "paddle", *DRAWS)
    assert status == 1
    assert zone_of(answer, "shaft")["use"] is None
    assert zone_of(answer, "blade")["grade"] == "risky"


def test_mast_is_answered_use(capsys):
    status, answer = run(capsys, "fill", "mast", "--zone", "skin", *DRAWS)
    assert status == 0
    assert (zone_of(answer, "skin")["grade"], zone_of(answer, "skin")["use"]) == ("use", 20)


@pytest.mark.parametrize("case", sorted(set(CASES) - {"mast", "panel"}))  # panel: test_panel_batches
def test_a_case_is_written_whole(tmp_path, capsys, case):
    assert app.status(["example", str(tmp_path / "try"), "--case", case]) == 0
    capsys.readouterr()
    originals = {file.name: file.read_bytes() for file in (files("laminate.examples") / case).iterdir()}
    assert {path.name: path.read_bytes() for path in (tmp_path / "try").iterdir()} == originals


def test_an_unknown_case_is_refused(tmp_path, capsys):
    assert app.status(["example", str(tmp_path / "try"), "--case", "padle", "--json"]) == 2
    problem = json.loads(capsys.readouterr().out)["problems"][0]
    assert (problem["code"], problem["place"]) == ("unknown-case", "--case")
    assert "'paddle'" in problem["hint"]
    assert all(name in problem["expected"] for name in CASES)
    assert not (tmp_path / "try").exists()


def test_core_of_the_box(capsys):
    status, answer = run(capsys, "core", "box", *DRAWS)
    assert status == 0
    core = answer["cores"][0]
    assert (core["tool_holds"], core["worst_moment"]) == (True, "maximum")
    nominal = core["pressure"]["nominal"]  # at no bleed
    assert nominal["at_gel"]["value"] == pytest.approx(8.118, abs=0.0005)
    assert nominal["at_maximum"]["value"] == pytest.approx(16.149, abs=0.0005)


@pytest.mark.parametrize(("case", "moment"), [("oil", "gel"), ("mast", "maximum"), ("paddle", "maximum")])
def test_core_names_its_worst_moment(capsys, case, moment):
    status, answer = run(capsys, "core", case, *DRAWS)
    assert status == 0
    assert [core["worst_moment"] for core in answer["cores"]] == [moment]


@pytest.mark.parametrize("case", ["bladder", "panel", "glass"])
def test_without_a_core_core_is_refused(capsys, case):
    assert run(capsys, "core", case)[0] == 2


def test_cycle(capsys):
    status, answer = run(capsys, "cycle", "cycle")
    assert status == 1
    hold, hot = (
        [one for one in answer["zones"] if one["cycle"] == name] for name in ("hold", "hot")
    )  # fmt: skip
    assert {one["verdict"] for one in hold} == {"pressed in time"}
    assert {one["verdict"] for one in hot} == {"cannot say"}
    assert [one["humidity"]["value"] for one in hold] == [100.0, 30.0, 50.0, 70.0]
    # the line of gel times, by hand: at 115 degC between the two tests
    slope = math.log(48 / 20) / (1 / 383.15 - 1 / 403.15)
    assert 48 * math.exp(slope * (1 / 388.15 - 1 / 383.15)) == pytest.approx(38.2, abs=0.1)
    events = {event["event"]: event["time"]["value"] for event in hold[0]["events"]}
    assert events["touch"] < events["liquid full"] < events["gel first"] < events["gel last"]
    # 20 % of the clock are used before, some 40 min at 85 degC and less later: between the end of the hold
    # and a gel time at 115 degC after it
    assert 60 < events["gel first"] < 80 + 38.2


def test_cycle_of_the_log(capsys):
    with as_file(files("laminate.examples") / "cycle" / "batch.toml") as path:
        status = app.status(["cycle", str(path), "--json"])
    zone = json.loads(capsys.readouterr().out)["zones"][0]
    assert (status, zone["verdict"]) == (0, "pressed in time")
    events = {event["event"]: event["time"]["value"] for event in zone["events"]}
    assert events["pressed"] < events["gel first"]
    assert zone["humidity"]["value"] == 45.0
