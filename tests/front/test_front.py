"""The library as a notebook calls it: plain values in, answers that show themselves out."""

import copy
import json
import math
import pickle
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files

import numpy as np
import pandas as pd
import pint
import pytest
from uncertainties import ufloat

import laminate as lam
from tests.messages.wording import says

PLY = {
    "fiber_areal_weight": "134 g/m^2",
    "resin_content": "35 %",
    "fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)",
    "resin_density": "1.30 g/cm^3",
}


def places(refusal):
    return {(problem.code, problem.place) for problem in refusal.value.problems}


def test_a_prediction_in_one_call():
    """HexPly 8552 product data, physical properties, row 8552/35%/134, AS4: 57.42 %, 0.130 mm (read)."""
    p = lam.predict(**PLY, plies=12)
    assert p.fiber_volume.value == pytest.approx(57.42, abs=0.005)
    assert p.cured_ply_thickness.value == pytest.approx(0.130, abs=0.0005)
    assert p.thickness.to("mil").value == pytest.approx(p.thickness.value / 0.0254, rel=1e-12)
    assert p.fiber_volume.u > 0.0
    assert p.plies == 12


@pytest.mark.parametrize(
    "density",
    [
        (1.79, "g/cm^3"),
        lam.Value(1790.0, "kg/m^3"),
        pint.UnitRegistry().Quantity(1.79, "g/cm^3"),
        (np.float64(1.79), "g/cm^3"),
    ],
    ids=["pair", "value", "pint", "numpy"],
)
def test_a_quantity_in_any_form_gives_the_same(density):
    plain = lam.predict(**{**PLY, "fiber_density": "1.79 g/cm^3"})
    given = lam.predict(**{**PLY, "fiber_density": density})
    assert given.fiber_volume.value == pytest.approx(plain.fiber_volume.value, rel=1e-13)


def test_a_unit_that_the_files_do_not_know_converts_itself():
    registry = pint.UnitRegistry()
    tonnes = registry.Quantity(ufloat(1.79, 0.005), "tonne/m**3")
    found = lam.predict(**{**PLY, "fiber_density": tonnes}).fiber_volume
    grams = lam.predict(**{**PLY, "fiber_density": registry.Quantity(ufloat(1.79, 0.005), "g/cm**3")})
    assert (found.value, found.u) == pytest.approx(
        (grams.fiber_volume.value, grams.fiber_volume.u), rel=1e-12
    )
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "fiber_density": registry.Quantity(3.0, "ampere")})
    assert places(refusal) == {("unreadable-value", "fiber_density")}


@pytest.mark.parametrize("plies", [0, 12.5, "12", True, -1, float("nan")])
def test_a_count_is_a_whole_number(plies):
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "plies": plies})
    assert places(refusal) == {("wrong-value", "plies")}


def test_a_count_of_numpy_is_one():
    assert [lam.predict(**{**PLY, "plies": n}).plies for n in (np.int64(12), 12.0)] == [12, 12]


def test_a_name_that_a_part_does_not_have_is_refused(shop):
    part = shop.folder / "part.toml"
    calls = {
        "zones": lambda: lam.fill(part, zones=["webb"]),
        "plies": lambda: lam.predict(part, plies={"webb": 20}),
        "cores": lambda: lam.core(part, cores="for"),
        "moldings": lambda: lam.core(part, moldings={"for": 3}),
    }
    for place, call in calls.items():
        with pytest.raises(lam.Refused) as refusal:
            call()
        assert places(refusal) == {("unknown-name", place)}
    with pytest.raises(lam.Refused) as refusal:
        lam.fill(part, draws=0, zones="web")
    assert places(refusal) == {("wrong-value", "draws")}


def test_what_a_command_asks_beside_a_part_the_library_asks_too(shop):
    part, batch = shop.folder / "part.toml", shop.folder / "batch.toml"
    asked = ["--chance-wanted", "99 %", "--fiber-volume-wanted", "59 %", "--draws", "2000", "--zone", "web"]
    filled = lam.fill(part, zones="web", chance_wanted="99 %", fiber_volume_wanted="59 %", draws=2000)
    said = shop.json("fill", "part.toml", *asked, status=[0, 1])
    assert filled.to_dict()["zones"] == said["zones"]
    cored = lam.core(batch, gap_wanted="2.9 mm", draws=2000).to_dict()["cores"]
    assert (
        cored
        == shop.json("core", "batch.toml", "--gap-wanted", "2.9 mm", "--draws", "2000", status=[0, 1])[
            "cores"
        ]
    )
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**PLY, void_content="100 %")
    assert places(refusal) == {("wrong-value", "void_content")}


def test_an_answer_stays_as_it_is():
    for answer in (lam.predict(**PLY), lam.report(files("laminate.examples") / "mast" / "batch.toml")):
        with pytest.raises(AttributeError):
            del answer._data
        for twin in (copy.copy(answer), copy.deepcopy(answer), pickle.loads(pickle.dumps(answer))):
            assert (twin.to_dict(), repr(twin)) == (answer.to_dict(), repr(answer))


def test_what_is_no_table_is_a_wrong_call():
    for source in (None, KAW):
        with pytest.raises(TypeError):
            lam.measure(source, **DENSITIES)


def test_many_threads_get_one_answer():
    with ThreadPoolExecutor(8) as pool:
        found = {one.fiber_volume.value for one in pool.map(lambda _: lam.predict(**PLY), range(16))}
    assert len(found) == 1


def test_a_number_with_uncertainty_keeps_it():
    text = lam.predict(**PLY)
    number = lam.predict(**{**PLY, "fiber_density": (ufloat(1.79, 0.005), "g/cm^3")})
    assert number.fiber_volume.u == pytest.approx(text.fiber_volume.u, rel=1e-12)


def fiber_volume(x):
    """With uncertainties alone: fiber thickness over fiber and resin thickness, of the ply above."""
    of = {"fiber_density": 1.79, "resin_density": 1.30, "resin_content": 35, **x}
    fiber = 134 / of["fiber_density"]
    resin = 134 * of["resin_content"] / (100 - of["resin_content"]) / of["resin_density"]
    return 100 * fiber / (fiber + resin)


def given(x):
    units = {"fiber_density": "g/cm^3", "resin_density": "g/cm^3", "resin_content": "%"}
    return {**PLY, "fiber_density": "1.79 g/cm^3"} | {name: (value, units[name]) for name, value in x.items()}


def moved_together():
    """Numbers that share what moves them: by a step, by more than one cause, over tables, and all the way."""
    step, scale, other = ufloat(0, 0.005, tag="liquid"), ufloat(1, 0.004), ufloat(0, 0.002)
    content = ufloat(35, 1)
    return {
        "step": {"fiber_density": 1.79 + step, "resin_density": 1.30 + step},
        "scale": {"fiber_density": 1.79 * scale, "resin_density": 1.30 * scale},
        "own": {"fiber_density": 1.79 + step + other, "resin_density": 1.30 - step},
        "basis": {"resin_content": content, "resin_density": 1.30 + (content - 35) / 500},
        "alone": {"fiber_density": 1.79 + step + other},
    }


@pytest.mark.parametrize("case", moved_together())
def test_numbers_that_move_together_keep_their_correlation(case):
    x = moved_together()[case]
    wanted = fiber_volume(x)
    p = lam.predict(**given(x))
    assert p.fiber_volume.value == pytest.approx(wanted.n, rel=1e-12)
    assert (p.fiber_volume.u or 0.0) == pytest.approx(wanted.s, rel=1e-9, abs=1e-9)
    if case in ("step", "own"):
        assert "liquid" in {row["input"] for row in p.to_dict()["budget"]["fiber_volume"]}
        flat = fiber_volume({name: ufloat(value.n, value.s) for name, value in x.items()})
        assert abs(flat.s - wanted.s) > 0.1 * wanted.s


def test_a_shared_number_moves_every_table_of_a_part():
    """The same densities within a mapping of a part, and beside options, give the same."""
    x = moved_together()["step"]
    options = lam.predict(**given(x))
    prepreg = {"fiber": "c", "resin": "e", "fiber_areal_weight": "134 g/m^2", "resin_content": "35 %"}
    part = {
        "format": 1,
        "part": {"number": "P", "issue": "A"},
        "fiber": {"c": {"kind": "carbon", "density": (x["fiber_density"], "g/cm^3")}},
        "resin": {"e": {"density": (x["resin_density"], "g/cm^3")}},
        "prepreg": {"u": prepreg},
        "temperature": {"room": "23 degC", "gel": "120 degC"},
        "tool": {"material": "aluminum 6061"},
        "zone": {"web": {"gap": "1.6 mm", "bleed_limit": "15 %", "fill_with": "u"}},
    }  # fmt: skip
    tables = lam.predict(part, plies={"web": 1})
    assert tables.fiber_volume.u == pytest.approx(options.fiber_volume.u, rel=1e-12)
    filled = lam.fill(part, draws=2000)
    row = filled.zones["web"].counts[0]
    flat = {name: ufloat(value.n, value.s) for name, value in x.items()}
    part["fiber"]["c"]["density"] = (flat["fiber_density"], "g/cm^3")
    part["resin"]["e"]["density"] = (flat["resin_density"], "g/cm^3")
    other = lam.fill(part, draws=2000).zones["web"].counts[0]
    assert other.thickness.value == pytest.approx(row.thickness.value, rel=1e-12)
    bled, other_bled = (
        row.get("resin_to_bleed") or row.shortfall,
        other.get("resin_to_bleed") or other.shortfall,
    )
    assert bled.value == pytest.approx(other_bled.value, rel=1e-9)
    assert abs(bled.u / other_bled.u - 1) > 0.05


def test_a_shared_number_moves_coupons_as_one_cause():
    """Densities that move together by a share move the void content as one cause, held to a closed form."""
    scale = ufloat(1, 0.004, tag="balance of the densities")
    frame = pd.DataFrame(KAW)
    densities = {"fiber_density": (2.5 * scale, "g/cm^3"), "resin_density": (1.2 * scale, "g/cm^3")}
    m = lam.measure(frame, **densities, air_density=0)
    share = 2.595 / 3.697
    density = 3.697 / (3.697 - 1.636)
    wanted = 100 * (1 - density * (share / (2.5 * scale) + (1 - share) / (1.2 * scale)))
    assert m["A"].void_content.value == pytest.approx(wanted.n, rel=1e-9)
    found = {row["input"]: row["standard_uncertainty"] for row in m.to_dict()["budget"]["void_content"]}
    assert found["balance of the densities"] == pytest.approx(wanted.s, rel=2e-3)
    rows = lam.measure_frame(frame, **densities, air_density=0)
    column = rows["void_content from 'balance of the densities' [%]"]
    assert abs(column.iloc[0]) == pytest.approx(wanted.s, rel=1e-9)


def test_a_prediction_with_a_shared_number_is_told():
    """Its ± is that of one cause: 1.96 times what the `uncertainties` library says."""
    scale = ufloat(1, 0.004, tag="balance of the densities")
    given = {**PLY, "fiber_density": (1.79 * scale, "g/cm^3"), "resin_density": (1.22 * scale, "g/cm^3")}
    answer = lam.predict(**given)
    assert answer.cured_ply_thickness.u / answer.cured_ply_thickness.value == pytest.approx(0.004, rel=1e-6)
    assert f"± {1.96 * answer.cured_ply_thickness.u:.2g} mm" in repr(answer)


def test_what_an_answer_gives_away_does_not_change_it(shop):
    """Every question, of the example's files: its dictionary, its lists and its tables."""
    batch, part = shop.folder / "batch.toml", shop.folder / "part.toml"
    assert shop.run("report", "batch.toml", "--out", "kept").status == 0
    answers = [
        lam.measure(batch), lam.report(batch), lam.correct(batch), lam.trend(shop.folder / "kept"),
        lam.fill(part, draws=1000), lam.judge("1.2 % ± 0.1 (standard)", max="2 %"),
    ]  # fmt: skip
    for answer in answers:
        before = json.dumps(answer.to_dict())
        waiting = [answer.to_dict()]
        while waiting:
            one = waiting.pop()
            waiting += [value for value in one.values() if isinstance(value, dict)]
            waiting += [row for value in one.values() if isinstance(value, list) for row in value
                        if isinstance(row, dict)]  # fmt: skip
            for value in one.values():
                if isinstance(value, list):
                    value.append("more")
            one["more"] = 1
        assert json.dumps(answer.to_dict()) == before
    measured = answers[0]
    measured.notes.append("more")
    assert "more" not in measured.notes
    with pytest.raises(AttributeError):
        measured.average.void_content = 0.0
    for answer in answers:
        assert len(answer.to_frame()) > 0, answer
    frame = answers[3].to_frame()
    assert {"part_number", "name", "zone", "batch", "value", "unit", "u"} <= set(frame.columns)
    assert len(frame) == sum(len(one["batches"]) for one in answers[3].to_dict()["series"])


def test_findings_stand_at_the_parameters():
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(fiber_areal_weight="134 g/m^2", resin_content=35, fiber_density="1.79 mm")
    assert places(refusal) == {
        ("missing-option", "resin_density"),
        ("unreadable-value", "resin_content"),
        ("unreadable-value", "fiber_density"),
    }


def test_a_misspelled_parameter_is_a_wrong_call():
    with pytest.raises(TypeError, match="fiber_density"):
        lam.predict(fibre_densty="1.79 g/cm^3")


def test_values_convert_and_come_back():
    value = lam.Value.parse("125 degC ± 3 (tolerance)")
    assert value.u == pytest.approx(3 / math.sqrt(3))
    assert value.si == pytest.approx(398.15)
    assert value.to("degF").value == pytest.approx(257.0)
    assert value.to("degF").u == pytest.approx(1.8 * value.u)
    assert lam.Value.parse(value.text).value == value.value
    with pytest.raises(lam.Refused):
        value.to("mm")


KAW = {
    "specimen": ["A", "B"],
    "zone": ["web", "web"],
    "mass in air [g]": ["3.697", "3.697"],
    "mass in liquid [g]": ["1.636", "1.630"],
    "liquid density [g/cm^3]": ["1.000", "1.000"],
    "method": ["ignition", "ignition"],
    "specimen mass [g]": ["3.697", "3.697"],
    "residue mass [g]": ["2.595", "2.595"],
}
DENSITIES = {"fiber_density": "2.5 g/cm^3", "resin_density": "1.2 g/cm^3", "air_density": 0}


def test_coupons_of_a_dataframe():
    """Kaw, Mechanics of Composite Materials, ch. 3: voids 5.078 %, fiber volume 0.50364 (inputs read)."""
    frame = pd.DataFrame(KAW, index=["x", "y"])
    before = frame.copy()
    m = lam.measure(frame, **DENSITIES)
    assert m["A"].void_content.value == pytest.approx(5.078, abs=5e-4)
    assert m["A"].fiber_volume.value == pytest.approx(50.364, abs=5e-4)
    assert m.to_frame()["specimen"].tolist() == ["A", "B"]
    assert "void_content [%]" in m.to_frame().columns
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.parametrize("kind", ["string", "category", "object"])
def test_columns_of_any_kind(kind):
    frame = pd.DataFrame(KAW).astype({"zone": kind, "specimen": kind})
    numbers = frame.assign(**{"residue mass [g]": [2.595, np.nan]})
    assert lam.measure(numbers, **DENSITIES)["A"].void_content.value == pytest.approx(5.078, abs=5e-4)


def test_a_frame_tells_its_own_row_labels():
    frame = pd.DataFrame({**KAW, "mass in air [g]": ["3.697", "a lot"]}, index=["x", "y"])
    with pytest.raises(lam.Refused) as refusal:
        lam.measure(frame, **DENSITIES)
    assert {problem.place for problem in refusal.value.problems} == {"row y, column 'mass in air'"}
    heavier = pd.DataFrame({**KAW, "mass in liquid [g]": ["1.636", "3.9"]})
    with pytest.raises(lam.Refused) as refusal:
        lam.measure(heavier, **DENSITIES)
    assert places(refusal) == {("wrong-order", "row 1, column 'mass in liquid'")}


def test_wrong_types_are_refused():
    frame = pd.DataFrame({**KAW, "specimen": [12, 13]})
    with pytest.raises(lam.Refused) as refusal:
        lam.measure(frame, **DENSITIES)
    assert places(refusal) == {("wrong-type", "column 'specimen'")}


def test_the_example_in_the_library_says_what_the_commands_say(shop):
    report = lam.report(shop.folder / "batch.toml")
    assert report.answer == shop.json("report", "batch.toml", status=[0, 1])["answer"]
    assert report.to_frame().shape[0] == len(report.characteristics) + len(report.process)
    filled = lam.fill(shop.folder / "part.toml", draws=2000)
    assert {"zone", "plies"} <= set(filled.to_frame().columns)
    assert [zone.zone for zone in filled.zones] == [
        zone["zone"] for zone in shop.json("fill", "part.toml", "--draws", "2000", status=[0, 1])["zones"]
    ]


def test_a_mapping_is_a_part_file(shop):
    import tomllib

    tables = tomllib.loads((shop.folder / "part.toml").read_text())
    assert lam.read_part(tables) == lam.read_part(shop.folder / "part.toml")
    tables["zone"]["web"]["gap"] = "3 kg"
    with pytest.raises(lam.Refused) as refusal:
        lam.read_part(tables)
    assert places(refusal) == {("unreadable-value", "zone.web.gap")}


def test_one_value_against_limits():
    assert lam.judge("1.2 % ± 0.1 (standard)", max="2 %").decision == "conforms"
    open_ = lam.judge(lam.Value(1.9, "%", u=0.1), max="2 %")
    assert open_.decision == "undecided"
    assert 0.5 < open_.probability_of_conformity < 1.0
    with pytest.raises(lam.Refused):
        lam.judge("1.2 %")
    assert not open_.reasons
    plain = lam.judge(3.0, min=0, max=4)
    assert (plain.decision, plain.value.value, plain.max.unit) == ("conforms", 3.0, "")
    exact = lam.judge("1.2 %", max="2 %")
    assert exact.decision == "conforms"
    assert says("front: one value without ± against limits", exact.reasons)


def test_an_answer_shows_itself():
    answer = lam.measure(pd.DataFrame({**KAW, "specimen": ["<b>A</b>", "B"]}), **DENSITIES)
    lines = repr(answer).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    page = answer._repr_html_()
    assert page.startswith("<div")
    assert "<b>A" not in page
    assert "script" not in page
    with pytest.raises(AttributeError):
        answer.average = 1
    import matplotlib as mpl

    mpl.use("agg")
    axes = answer.plot()
    assert axes.get_ylabel().startswith("fiber volume [%]")


def test_every_public_name_is_there_and_no_module_takes_it():
    names = [name for name in lam.__all__ if name != "__version__"]
    code = f"import laminate; [getattr(laminate, n).__doc__ or 1/0 for n in {names}]"
    subprocess.run([sys.executable, "-c", code], check=True)
    assert sorted(lam._HOME) == sorted(names)


def test_a_quantity_of_an_answer_is_judged_as_its_value_is():
    frame = pd.DataFrame({"specimen": ["A"], "thickness 1 [mm]": ["2.87"], "thickness 2 [mm]": ["2.88"]})
    measured = lam.measure(frame, fiber_density="1.79 g/cm^3", resin_density="1.28 g/cm^3")["A"].thickness
    value = lam.Value(
        measured.value, "mm", measured.standard_uncertainty, measured.effective_degrees_of_freedom
    )
    assert lam.judge(measured, max="2.9 mm").to_dict() == lam.judge(value, max="2.9 mm").to_dict()


def test_a_part_and_a_batch_are_seen_on_one_screen():
    for folder in sorted(path for path in (files("laminate.examples")).iterdir() if path.is_dir()):
        if (folder / "part.toml").is_file():
            part = lam.read_part(folder / "part.toml")
            assert max(len(repr(part)), len(str(part))) <= 24 * 80
            assert all(repr(name) in repr(part) for name in (part.part.number, *part.zone))
    case = lam.read_batch(files("laminate.examples") / "mast" / "batch.toml")
    assert len(repr(case)) <= 24 * 80
    assert repr(case.batch.batch.id) in repr(case)


def test_a_quantity_of_a_part_is_no_value_and_says_both_of_its_numbers():
    room = lam.read_part(files("laminate.examples") / "mast" / "part.toml").temperature.room
    assert type(room).__name__ != "Value"
    assert (room.value, lam.Value.parse(room.text).value, lam.Value.parse(room.text).si) == (
        296.15,
        23,
        296.15,
    )
    assert all(text in repr(room) for text in ("296.15", "'23 degC'"))
