"""Answers as tables: one row a thing, a column a quantity and its u, the unit in the heading."""

import re
import shutil
from importlib.resources import as_file, files

import pandas as pd
import pytest
from matplotlib.figure import Figure

import laminate as lam

EXAMPLES = files("laminate.examples")
MAST, BATCH = EXAMPLES / "mast" / "part.toml", EXAMPLES / "mast" / "batch.toml"
ANSWERS = {
    "fill": (lambda: lam.fill(MAST, draws=1000), lambda a: sum(len(zone["counts"]) for zone in a["zones"])),
    "core": (lambda: lam.core(MAST, draws=1000), lambda a: len(a["cores"])),
    "cycle": (lambda: lam.cycle(EXAMPLES / "cycle" / "batch.toml", draws=100), lambda a: len(a["zones"])),
    "measure": (lambda: lam.measure(BATCH), lambda a: len(a["specimens"] + a["prepreg"])),
    "report": (lambda: lam.report(BATCH), lambda a: len(a["characteristics"] + a["process"])),
    "correct": (
        lambda: lam.correct(EXAMPLES / "glass" / "batch.toml"),
        lambda a: sum(len(zone["differences"]) for zone in a["zones"]),
    ),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_quantity_has_one_column_and_its_u(name):
    """Also where rows lack it: a zone between hard faces has no pressure, one that rubber presses has one."""
    ask, rows = ANSWERS[name]
    answer = ask()
    frame = answer.to_frame()
    assert len(frame) == rows(answer.to_dict())
    assert frame.columns.is_unique
    bare = {re.sub(r" \[[^]]*\]$", "", column) for column in frame.columns if column.endswith("]")}
    assert bare
    assert not bare & set(frame.columns)
    spreads = [column for column in frame.columns if re.search(r" u( \[|$)", column)]
    assert {frame[column].dtype.kind for column in spreads} <= {"f"}
    assert {column.replace(" u", "") for column in spreads} <= set(frame.columns)


def test_tests_of_a_prepreg_are_rows_too():
    weighed = {"area [cm^2]": 100.0, "prepreg mass [g]": [2.239, 2.240], "fiber mass [g]": [1.5, 1.501]}
    labels = ["first", "second"]
    answer = lam.measure(pd.DataFrame({"specimen": ["P1", "P2"], "backing mass [g]": 0.0, **weighed}, labels))
    frame = answer.to_frame()
    assert (list(frame.index), list(frame["specimen"])) == (labels, ["P1", "P2"])
    assert frame["areal_weight [g/m^2]"].tolist() == pytest.approx([150.0, 150.1])  # 1.5 g on 100 cm^2
    assert answer["P2"].resin_content.value == pytest.approx(100.0 * (1.0 - 1.501 / 2.240))
    assert answer.plot(Figure().subplots()).get_ylabel()


def test_units_of_what_is_not_known_stand_in_the_heading():
    frame = lam.fill(MAST, zones="web", draws=1000).to_frame()
    assert {"bleed_at_no_pressure [%]", "pressure_at_gel [MPa]"} <= set(frame.columns)
    assert frame["pressure_at_gel [MPa]"].isna().all()


def test_attributes_of_a_prediction_are_rows():
    one = lam.predict(fiber_areal_weight="134 g/m^2", resin_content="35 %", fiber_density="1.79 g/cm^3",
                      resin_density="1.30 g/cm^3").to_frame()  # fmt: skip
    assert list(one.columns) == ["attribute", "value", "unit", "u"]
    assert one["u"].dtype.kind == "f"
    assert list(lam.predict(MAST).to_frame().columns) == ["zone", "attribute", "value", "unit", "u"]


def test_limits_stand_beside_results_in_their_unit():
    frame = lam.report(BATCH).to_frame().set_index("label")
    row = frame.loc["fiber_volume.web"]
    low, high = (row[f"limits average {bound} [%]"] for bound in ("min", "max"))
    assert (low, high) == (56.0, 62.0)
    assert low < row["result [%]"] < high
    assert not [column for column in frame if column.endswith(" unit")]


def test_a_process_reading_outside_its_limits_stands_among_the_rows(tmp_path):
    """Who filters the rows by their decision must see what makes the batch fail."""
    with as_file(EXAMPLES / "mast") as folder:
        shutil.copytree(folder, tmp_path / "mast")
    batch = tmp_path / "mast" / "batch.toml"
    text = batch.read_text("utf-8")
    assert '"126 degC ± 1' in text
    batch.write_text(text.replace('"126 degC ± 1', '"131 degC ± 1'), "utf-8")
    answer = lam.report(batch)
    frame = answer.to_frame().set_index("name")
    failing = frame[frame["decision"] == "does not conform"]
    assert list(failing.index) == ["cure temperature"]
    assert failing["result [degC]"].item() == 131.0
    assert answer["cure temperature"].decision == answer.answer == "does not conform"


def test_what_is_not_known_is_no_number_in_a_column_of_numbers():
    """A batch of logs alone has no coupons: nothing gives a chance."""
    frame = lam.report(EXAMPLES / "cycle" / "batch.toml").to_frame()
    assert frame["probability_of_conformity"].dtype.kind == "f"
    assert frame["probability_of_conformity"].isna().all()


def test_predicted_and_achieved_are_numbers_of_each_attribute():
    answer = lam.correct(EXAMPLES / "glass" / "batch.toml")
    frame = answer.to_frame().set_index("attribute")
    for row in answer.zones["panel"].differences:
        unit = row.difference.unit
        found = frame.loc[row.attribute]
        for key in ("predicted", "achieved", "difference"):
            quantity = getattr(row, key)
            assert (found[f"{key} [{unit}]"], found[f"{key} u [{unit}]"]) == (quantity.value, quantity.u)
    gap = frame["predicted [%]"] - frame["achieved [%]"] - frame["difference [%]"]
    assert gap.abs().max() < 1e-9
