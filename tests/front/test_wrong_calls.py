"""Calls that nothing can answer: refused at their parameter, or a TypeError."""

import numpy as np
import pandas as pd
import pytest

import laminate as lam

PLY = {
    "fiber_areal_weight": "134 g/m^2",
    "resin_content": "35 %",
    "fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)",
    "resin_density": "1.30 g/cm^3",
}

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


def places(refusal):
    return {(problem.code, problem.place) for problem in refusal.value.problems}


WRONG_CALLS = {
    "predict": [5, [1], ("a", "b"), b"part.toml", pd.DataFrame(KAW_LIKE := {"specimen": ["A"]})],
    "fill": [5, object()],
    "core": [5],
    "cycle": [None, 5],
    "measure": [None, 5, [5], [], KAW_LIKE],
    "measure_frame": [None, "coupons.csv", KAW_LIKE],
    "combine": [None, [], pd.DataFrame(KAW_LIKE)],
    "report": [None, {}, 5],
    "correct": [None, ["batch.toml"]],
    "trend": [None, 5],
    "read_part": [None, 5],
    "read_batch": [None, {}],
    "materials": [5],
}


@pytest.mark.parametrize(("name", "source"), [(n, s) for n, all_ in WRONG_CALLS.items() for s in all_])
def test_what_cannot_be_asked_about_is_a_wrong_call(name, source):
    with pytest.raises(TypeError):
        getattr(lam, name)(source)


@pytest.mark.parametrize(
    "share",
    [
        [35],
        {},
        ("a", "%"),
        (35, 0.5, "%"),
        (float("nan"), "%"),
        np.array([35.0, 36.0]),
        pd.Series([35]),
        True,
    ],
    ids=repr,
)
def test_what_is_no_quantity_is_refused_at_its_parameter(share):
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "resin_content": share})
    assert places(refusal) == {("unreadable-value", "resin_content")}


@pytest.mark.parametrize(
    ("given", "finding"),
    [
        ({"max": "2 mm"}, ("unreadable-value", "max")),
        ({}, ("missing-value", "max")),
        ({"max": "2 %", "confidence": 2}, ("unreadable-value", "confidence")),
        ({"max": "2 %", "guard": "wide"}, ("wrong-value", "guard")),
        ({"max": "2 %", "min": "3 %"}, ("wrong-order", "min")),
    ],
)
def test_limits_that_say_nothing_are_refused(given, finding):
    with pytest.raises(lam.Refused) as refusal:
        lam.judge("1.2 % ± 0.1 (standard)", **given)
    assert places(refusal) == {finding}
    as_text = lam.judge("1.2 % ± 0.1 (standard)", max="2 %", confidence="95 %")
    assert as_text.to_dict() == lam.judge("1.2 % ± 0.1 (standard)", max="2 %").to_dict()


@pytest.mark.parametrize("column", ["specimen", "zone", "lot"])
@pytest.mark.parametrize("numbers", [[12, 13], [1.0, 2.0]])
@pytest.mark.parametrize("kind", [None, "object", "category", "Int64"])
@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_numbers_in_a_column_of_names_are_refused(column, numbers, kind, call):
    frame = pd.DataFrame({**KAW, column: pd.Series(numbers, dtype=kind)})
    with pytest.raises(lam.Refused) as refusal:
        call(frame, **DENSITIES)
    assert places(refusal) == {("wrong-type", f"column '{column}'")}


def test_an_empty_column_of_names_is_no_number():
    frame = pd.DataFrame({**KAW, "zone": [np.nan, np.nan]})
    assert lam.measure(frame, **DENSITIES)["A"].zone is None


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_a_label_of_several_levels_is_told_level_by_level(call):
    labels = pd.MultiIndex.from_tuples([("lot 7", 1), ("lot 7", 2)])
    frame = pd.DataFrame({**KAW, "mass in air [g]": ["3.697", "a lot"]}, index=labels)
    with pytest.raises(lam.Refused) as refusal:
        call(frame, **DENSITIES)
    assert {problem.place for problem in refusal.value.problems} == {"row lot 7, 2, column 'mass in air'"}
