"""The blank sheet asks for as many readings as the plan wants, of the coupons that are cut for them."""

import csv
import json

import openpyxl
import pytest

from laminate.bench.coupon_sheet import csv_text
from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.sheet import blank_table
from laminate.bench.table import BenchTable
from laminate.cli import app
from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch

from .conftest import READINGS


def test_immersion_alone_has_two_columns_for_the_mass_in_air(shop):
    shop.change("part.toml", '["immersion", "digestion", "thickness"]', '["immersion"]')
    shop.run("sheet", "batch.toml", "--out", "blank.csv")
    header = next(csv.reader(shop.read("blank.csv").splitlines()))
    assert [h for h in header if h.startswith("mass in air")] == ["mass in air 1 [g]", "mass in air 2 [g]"]


@pytest.mark.parametrize("methods", [("immersion",), ("immersion", "digestion"), ("saturated immersion",)])
def test_a_cell_keeps_its_order_with_every_repeat_of_another(shop, methods):
    """The workbook of a plan with masses weighed twice: each is held to both of the others."""
    twice = 'repeats = { "mass in air" = 2, "mass in liquid" = 2, "saturated mass" = 2, "residue mass" = 2 }'
    shop.change("part.toml", '["immersion", "digestion", "thickness"]', f"{json.dumps(methods)}\n{twice}")
    for sinker in ([], ["--sinker"]):
        out = f"{len(methods)}{len(sinker)}.xlsx"
        assert shop.run("sheet", "batch.toml", "--out", out, *sinker).status == 0
        sheet = openpyxl.load_workbook(out)["coupons"]
        letters = {str(cell.value).partition(" [")[0]: cell.column_letter for cell in sheet[1]}
        checks = {str(check.sqref)[0]: check for check in sheet.data_validations.dataValidation}
        for name in ("mass in liquid 1", "mass in liquid 2"):
            masses = [label for label in letters if label[:-2] in ("mass in air", "saturated mass")]
            assert len(masses) >= 2
            assert all(f"{letters[mass]}2" in checks[letters[name]].formula1 for mass in masses)


def test_the_number_of_thicknesses_is_the_plans(shop):
    shop.change("part.toml", "coupons = 3\n", "coupons = 3\nrepeats = { thickness = 2 }\n")
    shop.run("sheet", "batch.toml", "--out", "blank.csv")
    header = next(csv.reader(shop.read("blank.csv").splitlines()))
    assert [h for h in header if h.startswith("thickness")] == ["thickness 1 [mm]", "thickness 2 [mm]"]


def test_a_coupon_is_asked_for_what_the_plan_of_its_zone_wants(folder):
    """The web is weighed and digested; the skin has its thickness taken alone, at no position of a name."""
    part, path = folder / "part.toml", folder / "coupons.csv"
    skin = '[plan.skin]\nrepresented_by = "web"'
    text = part.read_text("utf-8")
    assert skin in text
    part.write_text(text.replace(skin, '[plan.skin]\ncoupons = 1\nmethods = ["thickness"]'), "utf-8")
    case = read_batch(folder / "batch.toml")
    path.write_text(csv_text(blank_table(case)), "utf-8")
    session = Session(BenchTable(path, "coupons.csv"), TableChecker(case), "JM")
    asked = {
        session.table.text(row, "zone"): {x for x in session.labels if session.wanted(row, x)}
        for row in session.rows
    }
    assert asked["skin"] == {"thickness 1", "thickness 2", "thickness 3"}
    assert {"mass in air", "mass in liquid", "crucible mass"} < asked["web"]


def test_a_coupon_cut_for_few_methods_is_asked_for_no_reading_of_others(folder, capsys):
    """One coupon digested, two weighed in water, three measured: `sheet` says which, `enter` asks so."""
    part, path = folder / "part.toml", folder / "coupons.csv"
    by_method = "coupons = { immersion = 2, digestion = 1, thickness = 3 }"
    lines = part.read_text("utf-8").splitlines()
    planned = next(line for line in lines if line.startswith("coupons = 3"))
    kept = [line for line in lines if not line.startswith("methods = ")]
    part.write_text("\n".join(by_method if line == planned else line for line in kept), "utf-8")
    case = read_batch(folder / "batch.toml")
    path.write_text(csv_text(blank_table(case)), "utf-8")
    session = Session(BenchTable(path, "coupons.csv"), TableChecker(case), "JM")
    rows = {session.name(row): row for row in session.rows}
    only = {name: session.table.text(row, "only") for name, row in rows.items()}
    assert only == {"0101": "", "0102": "immersion; thickness", "0103": "thickness"}
    asked = {name: [x for x in session.labels if session.wanted(row, x)] for name, row in rows.items()}
    assert asked["0103"] == ["thickness 1", "thickness 2", "thickness 3"]
    assert [x for x in asked["0102"] if "crucible" in x or x == "method"] == []
    assert {"mass in air", "mass in liquid", "liquid temperature"} < {*asked["0102"]}
    for name, row in rows.items():
        for label, typed in zip(asked["0101"], READINGS[name], strict=True):
            if label in asked[name]:
                session.type(row, label, typed)
    assert session.left() == 0
    assert measure_batch(case).warnings == []
    app.status(["report", str(folder / "batch.toml"), "--json"])
    assert [h for h in json.loads(capsys.readouterr().out)["held_back"] if h["rule"] == 1] == []
    path.write_text(path.read_text("utf-8").replace("immersion; thickness", ""), "utf-8")
    app.status(["report", str(folder / "batch.toml"), "--json"])
    (lacks,) = [held for held in json.loads(capsys.readouterr().out)["held_back"] if held["rule"] == 1]
    assert "0102" in lacks["say"]
    assert "only = immersion; thickness" in lacks["say"]


def test_a_piece_of_prepreg_and_a_coupon_are_asked_for_their_own_columns(folder):
    path, case = folder / "coupons.csv", read_batch(folder / "batch.toml")
    path.write_text(csv_text(blank_table(case, prepregs=["ud150"])), "utf-8")
    session = Session(BenchTable(path, "coupons.csv"), TableChecker(case), "JM")
    rows = {session.name(row): row for row in session.rows}
    asked = {name: [x for x in session.labels if session.wanted(row, x)] for name, row in rows.items()}
    assert asked["P0101"] == ["area", "prepreg mass", "backing mass", "fiber mass", "dried mass"]
    assert asked["0101"][:3] == ["mass in air", "mass in liquid", "liquid temperature"]
    assert not {*asked["0101"]} & {*asked["P0101"]}
    session.type(rows["P0101"], "area", "100")
    assert [x for x in session.labels if session.wanted(rows["P0101"], x)] == asked["P0101"][1:]
