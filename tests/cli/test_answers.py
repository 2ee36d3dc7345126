"""JSON of `predict`, `measure` and `report`: every key that programs rely on, valid numbers, no more."""

import hashlib
import json
import math
import subprocess
import sys

import pytest

DENSITIES = ("--fiber-density", "1.79 g/cm^3 ± 0.01 (k=2)", "--resin-density", "1.22 g/cm^3 ± 0.01 (k=2)")
PLY = ("predict", "--fiber-areal-weight", "134 g/m^2", "--resin-content", "35 %", *DENSITIES)
QUANTITY = {"value", "unit", "standard_uncertainty"}
AVERAGE = {
    "value", "unit", "n", "standard_deviation", "standard_uncertainty", "expanded_uncertainty",
    "coverage_factor", "effective_degrees_of_freedom",
}  # fmt: skip
UNITS = {
    "cured_ply_thickness": "mm", "thickness": "mm", "fiber_volume": "%", "resin_volume": "%",
    "void_content": "%", "fiber_content": "%", "resin_content": "%", "density": "g/cm^3",
    "areal_weight": "g/m^2", "prepreg_areal_weight": "g/m^2", "mass": "g",
}  # fmt: skip
MEASURED = {"specimens", "average", "budget", "outliers", "warnings"}
PROBLEM = {"code", "file", "place", "found", "expected", "hint"}


def walk(value):
    yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from walk(inner)


def well_formed(answer):
    """Every number finite, every quantity with its unit, uncertainties never negative."""
    assert answer["format"] == 1
    assert all(math.isfinite(value) for value in walk(answer) if isinstance(value, float))
    tables = [value for value in walk(answer) if isinstance(value, dict)]
    quantities = [table for table in tables if {"standard_uncertainty", "value"} <= table.keys()]
    for quantity in quantities:
        assert quantity.keys() >= QUANTITY
        assert quantity["standard_uncertainty"] is None or quantity["standard_uncertainty"] >= 0
    return len(quantities)


def test_predict_from_options_has_its_attributes_at_the_top(shop):
    answer = shop.json(*PLY, "--area", "0.04 m^2")
    assert well_formed(answer) >= 10
    assert answer.keys() >= {*UNITS, "plies", "budget", "not_measured"}
    assert {key: answer[key]["unit"] for key in UNITS} == UNITS
    for key, lines in answer["budget"].items():
        if lines:
            assert sum(line["share"] for line in lines) == pytest.approx(100.0), key
            assert all(line.keys() >= {"input", "share"} for line in lines)
    assert answer["not_measured"] == ["ply areal weight", "ply resin content", "area"]


def test_predict_from_a_part_file_has_zones(shop):
    answer = shop.json("predict", "part.toml")
    well_formed(answer)
    assert [zone["zone"] for zone in answer["zones"]] == ["web", "skin"]
    for zone in answer["zones"]:
        assert zone.keys() >= {*UNITS, "plies", "budget", "not_measured"} - {"mass"}
        assert {key: zone[key]["unit"] for key in UNITS if key in zone} == {
            key: unit for key, unit in UNITS.items() if key in zone
        }
    assert ["mass" in zone for zone in answer["zones"]] == [True, True]


def test_predict_as_in_a_product_data_sheet(shop):
    """HexPly 8552 product data, row 8552/35%/134, AS4: 57.42 %, 0.130 mm, 1.58 g/cm3."""
    answer = shop.json("predict", "--fiber-areal-weight", "134 g/m^2", "--resin-content", "35 %",
                       "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.30 g/cm^3")  # fmt: skip
    assert answer["fiber_volume"]["value"] == pytest.approx(57.42, abs=0.005)
    assert answer["cured_ply_thickness"]["value"] == pytest.approx(0.130, abs=0.0005)
    assert answer["density"]["value"] == pytest.approx(1.58, abs=0.005)


def test_measure_has_every_key(shop):
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = [row.replace("010", "020").replace("web", "skin") for row in rows]
    shop.table(heading, *rows, *more)
    answer = shop.json("measure", "batch.toml")
    assert well_formed(answer) > 30
    assert answer.keys() >= MEASURED
    for specimen in answer["specimens"]:
        assert specimen.keys() >= {"specimen", "zone", "methods", "warnings", "agreement", "fiber_volume"}
        assert specimen["agreement"]
        assert specimen["agreement"][0].keys() >= {"attribute", "methods", "difference", "allowed", "agree"}
    averages = answer["average"]
    assert set(averages["zones"]) == {"web", "skin"}
    for zone in (averages, *averages["zones"].values()):
        for key, unit in UNITS.items():
            if key in zone:
                assert zone[key].keys() >= AVERAGE
                assert zone[key]["unit"] == unit
    assert set(answer["budget"]) == set(averages) - {"zones"}


def test_report_has_every_key(shop):
    answer = shop.json("report", "batch.toml")
    assert well_formed(answer) > 30
    assert answer.keys() >= {"answer", "characteristics", "process", "instruments", "inputs", *MEASURED}
    for one in (*answer["characteristics"], *answer["process"]):
        assert one.keys() >= {
            "name", "zone", "limits", "result", "decision", "reason", "probability_of_conformity",
            "to_decide",
        }  # fmt: skip
        assert 0.0 <= one["probability_of_conformity"] <= 1.0
        assert one["risk_if_accepted"] == pytest.approx(1.0 - one["probability_of_conformity"])
    assert [i["file"] for i in answer["inputs"]] == ["batch.toml", "part.toml", "coupons.csv"]
    for one in answer["inputs"]:
        assert one["sha256"] == hashlib.sha256((shop.folder / one["file"]).read_bytes()).hexdigest()


def test_report_says_what_measure_says(shop):
    measured, reported = shop.json("measure", "batch.toml"), shop.json("report", "batch.toml")
    assert {key: reported[key] for key in measured} == measured


@pytest.mark.parametrize(
    ("change", "status"),
    [
        (None, 0),
        (('max = "2 %"', 'max = "0.5 %"'), 1),
        (('max = "2 %"', 'max = "0.001 %"'), 1),
        (("issue", "isue"), 2),
    ],
)
def test_the_exit_status_says_the_answer(change, status, shop):
    if change:
        shop.write("part.toml", shop.read("part.toml").replace(*change, 1))
    assert shop.run("report", "batch.toml").status == status
    assert shop.run("report", "batch.toml", "--json").status == status
    assert shop.run("measure", "batch.toml").status == (2 if status == 2 else 0)


@pytest.mark.parametrize(
    "call",
    [("predict", "part.toml"), ("measure", "batch.toml"), ("report", "batch.toml"), ("report", "no.toml")],
)
def test_only_json_on_standard_output(call, shop):
    """In a process of its own: nothing before, behind or beside it, the same bytes twice."""
    runs = [
        subprocess.run([sys.executable, "-m", "laminate", *call, "--json"], capture_output=True, check=False)
        for _ in range(2)
    ]
    assert runs[0].stderr == b""
    assert runs[0].stdout == runs[1].stdout
    answer = json.loads(runs[0].stdout)
    assert answer["format"] == 1
    if runs[0].returncode == 2:
        assert all(set(problem) == PROBLEM for problem in answer["problems"])


def test_without_coupons_nothing_is_made_up(shop):
    shop.change("batch.toml", 'coupons = ["coupons.csv"]\n', "")
    answer = shop.json("report", "batch.toml", status=[1])
    assert answer["answer"] == "undecided"
    assert answer["specimens"] == []
    assert shop.run("report", "batch.toml").status == 1
    assert shop.run("measure", "batch.toml").status == 0


def frame(path):
    import pandas as pd

    if path.suffix == ".csv":
        return pd.read_csv(path, dtype={"specimen": str, "lot": str}, keep_default_na=True)
    return pd.read_excel(path, dtype={"specimen": str, "lot": str})


@pytest.mark.parametrize("name", ["results.csv", "results.xlsx", "RESULTS.XLSX"])
def test_the_table_holds_what_the_json_says(name, shop):
    heading, *rows = shop.read("coupons.csv").splitlines()
    again = rows[0].replace("0101", "0104")
    shop.table(f"{heading},excluded", *(f"{row}," for row in rows), f"{again},dropped")
    answer = shop.json("measure", "batch.toml", "--table", name)
    table = frame(shop.folder / name)
    names = ["0101", "0102", "0103", "0104"]
    assert list(table["specimen"]) == [s["specimen"] for s in answer["specimens"]] == names
    compared = 0
    for (_, row), specimen in zip(table.iterrows(), answer["specimens"], strict=True):
        assert (row["zone"], row["lot"]) == (specimen["zone"], specimen["lot"])
        for key, unit in UNITS.items():
            if key not in specimen:
                continue
            words = key.replace("_", " ")
            assert row[f"{words} [{unit}]"] == pytest.approx(specimen[key]["value"], rel=1e-12)
            u = row[f"{words} standard uncertainty [{unit}]"]
            assert u == pytest.approx(specimen[key]["standard_uncertainty"], rel=1e-12)
            compared += 1
    assert compared >= 4 * 8
    assert table["excluded"].fillna("").tolist() == ["", "", "", "dropped"]


def test_a_table_of_formulas_holds_their_text(shop):
    import openpyxl

    shop.table("specimen,density [g/cm^3],lot", "=1+1,1.55,@x")
    assert shop.run("measure", "coupons.csv", *DENSITIES, "--table", "r.xlsx").status == 0
    sheet = openpyxl.load_workbook(shop.folder / "r.xlsx").active
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    assert any("=1+1" in str(cell.value) for cell in cells)
