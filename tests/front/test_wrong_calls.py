"""Calls that nothing can answer: refused at their parameter, or a TypeError."""

import copy
import math
import pickle
import tomllib
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

import laminate as lam

EXAMPLES = files("laminate.examples")
MAST, BATCH = EXAMPLES / "mast" / "part.toml", EXAMPLES / "mast" / "batch.toml"

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
    "measure": [None, 5, [5], [], KAW_LIKE, b"coupons.csv", pd.Series(["A"]), np.zeros((2, 2))],
    "measure_frame": [None, "coupons.csv", KAW_LIKE],
    "combine": [None, [], pd.DataFrame(KAW_LIKE), [1, 2], "frames"],
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
        ({"max": "2 %", "guard": math.nan}, ("wrong-value", "guard")),
        ({"max": "2 %", "guard": -1}, ("wrong-value", "guard")),
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


def test_a_limit_of_nothing_needs_no_unit():
    judged = lam.judge("1.2 % ± 0.1 (standard)", min=0, max=(2, "pct"))
    assert (judged.decision, judged.min.value, judged.max.value) == ("conforms", 0.0, pytest.approx(2.0))
    row = judged.to_frame().iloc[0]
    assert (row["value [%]"], row["value u [%]"], row["max [%]"]) == pytest.approx((1.2, 0.1, 2.0))


def mast(**tables):
    return {**tomllib.loads(MAST.read_text("utf-8")), **tables}


def with_gap(gap):
    zone = mast()["zone"]
    return mast(zone={**zone, "web": {**zone["web"], "gap": gap}})


@pytest.mark.parametrize(
    "make",
    [lam.read_part, lambda tables: lam.Part(**tables), lam.Part.model_validate],
    ids=["read", "Part", "validate"],
)
@pytest.mark.parametrize(
    ("tables", "finding"),
    [
        (mast(format=7), ("wrong-format", "format")),
        (with_gap("3 kg"), ("unreadable-value", "zone.web.gap")),
        (with_gap(True), ("unreadable-value", "zone.web.gap")),
        (mast(fiber={}), ("unknown-name", "prepreg.ud150.fiber")),
        (mast(toool={}), ("unknown-key", "toool")),
    ],
    ids=lambda given: given[1] if isinstance(given, tuple) else "",
)
def test_a_part_in_python_goes_through_the_rules_of_the_file(make, tables, finding):
    with pytest.raises(lam.Refused) as refusal:
        make(tables)
    assert finding in places(refusal)


def test_a_part_in_python_is_that_of_the_file():
    made, read = lam.Part(**with_gap(lam.Value(2.95, "mm", u=0.01))), lam.read_part(MAST)
    assert (made.zone["web"].gap.value, made.zone["web"].gap.u) == pytest.approx((0.00295, 0.00001))
    assert made.limits == read.limits
    assert made.zone["skin"] == read.zone["skin"]
    assert lam.read_part(made) is lam.Part.model_validate(made) is made
    assert lam.Part.model_validate(mast()) == read
    assert lam.predict(made, plies={"web": 20}).fiber_volume.value == pytest.approx(
        lam.predict(MAST, plies={"web": 20}).fiber_volume.value
    )
    assert pickle.loads(pickle.dumps(made)).limits == made.limits


def test_a_refusal_can_be_said_copied_and_sent_to_another_process():
    assert str(lam.Refused("cold")) == "cold"
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "resin_content": "35"})
    for twin in (copy.deepcopy(refusal.value), pickle.loads(pickle.dumps(refusal.value))):
        assert (twin.problems, str(twin)) == (refusal.value.problems, str(refusal.value))


@pytest.mark.parametrize(
    ("call", "finding"),
    [
        (lambda: lam.predict(**PLY, plies=10**400), ("wrong-value", "plies")),
        (lambda: lam.predict(**{**PLY, "area": (True, "m^2")}), ("unreadable-value", "area")),
        (lambda: lam.fill(MAST, draws=10**9), ("wrong-value", "draws")),
        (lambda: lam.fill(MAST, draws=1000, zones=[]), ("missing-value", "zones")),
        (lambda: lam.core(MAST, draws=1000, cores=()), ("missing-value", "cores")),
        (lambda: lam.judge("1.2 %", max="2 % ± 0.1 (k=2)"), ("limit-with-tolerance", "max")),
        (lambda: lam.fill(MAST, draws=1), ("wrong-value", "draws")),
        (lambda: lam.core(MAST, gap_wanted="2.9 mm ± 0.05 (tolerance)"), ("wrong-value", "gap_wanted")),
        (lambda: lam.core(MAST, draws=999), ("wrong-value", "draws")),
        (lambda: lam.cycle(EXAMPLES / "cycle" / "part.toml", plies=5), ("wrong-value", "plies")),
        (lambda: lam.correct(BATCH, nominal="yes"), ("wrong-value", "nominal")),
        (lambda: lam.trend("kept", every="no"), ("wrong-value", "every")),
        (lambda: lam.verify("record.json", "signers", need="boss"), ("bad-call", "need")),
        (lambda: lam.measure(pd.DataFrame(KAW), **DENSITIES, plies="²"), ("wrong-value", "plies")),
        (lambda: lam.combine([pd.DataFrame({"counts": [], "zone": []})]),
         ("wrong-columns", "column 'specimen'")),
        (lambda: lam.Value("2.9", "mm"), ("wrong-value", "value")),
        (lambda: lam.Value(2.9, "mm", u=-0.1), ("wrong-value", "u")),
        (lambda: lam.Value(math.nan, "mm"), ("wrong-value", "value")),
        (lambda: lam.Value(10**400, "mm"), ("wrong-value", "value")),
        (lambda: lam.Value(2.9, "mm", u=math.inf), ("wrong-value", "u")),
        (lambda: lam.Value(2.9, "mm", u=0.1, dof=0), ("wrong-value", "dof")),
        (lambda: lam.Value(2.9, "mm", u=0.1, dof=math.nan), ("wrong-value", "dof")),
        (lambda: lam.Value(2.9, "foo"), ("unreadable-value", "unit")),
        (lambda: lam.predict(**PLY).document("furlongs"), ("wrong-word", "units")),
    ],
)  # fmt: skip
def test_a_wrong_value_is_refused_at_its_parameter(call, finding):
    with pytest.raises(lam.Refused) as refusal:
        call()
    assert places(refusal) == {finding}


def test_a_count_beyond_the_most_is_told_the_most():
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**PLY, plies=10**30)
    assert str(10**18) in refusal.value.problems[0].expected


def test_a_batch_file_is_no_part_file():
    with pytest.raises(lam.Refused) as refusal:
        lam.read_part(BATCH)
    assert places(refusal) == {("wrong-file", "")}


def test_no_material_has_the_columns_of_all():
    none = lam.materials("kryptonite")
    assert (len(none), list(none.columns)) == (0, list(lam.materials().columns))


def test_a_number_of_numpy_is_one():
    assert lam.Value(np.float64(2.9), "mm", np.float64(0.1)).text == "2.9 mm ± 0.1 (standard)"
    assert lam.Value(np.int64(2), "mm").si == 0.002
    measured = [lam.measure(pd.DataFrame(KAW), **DENSITIES, plies=n)["A"].plies for n in (12, 12.0, "12")]
    assert len(set(measured)) == 1


def test_a_name_that_an_answer_does_not_have_is_an_attribute_error():
    measured = lam.measure(pd.DataFrame(KAW), **DENSITIES)
    for ask in (
        lambda: measured["C"],
        lambda: measured[None],
        lambda: measured.average["porosity"],
        lambda: measured.average.porosity,
        lambda: measured.porosity,
    ):
        with pytest.raises(AttributeError):
            ask()
    assert measured.average.get("porosity", 5) == 5
    assert "porosity" not in measured.average
    assert measured.average["void_content"].value == measured.average.get("void_content").value


@pytest.mark.parametrize(
    "draw",
    [
        lambda: lam.predict(**PLY).plot(attribute="porosity"),
        lambda: lam.measure(pd.DataFrame(KAW), **DENSITIES).plot(attribute="specimen"),
        lambda: lam.fill(MAST, zones="web", draws=1000).plot(attribute="section"),
        lambda: lam.core(MAST, draws=1000).plot(attribute="porosity"),
        lambda: lam.cycle(EXAMPLES / "cycle" / "part.toml", draws=100).plot(attribute="porosity"),
    ],
)
def test_what_an_answer_cannot_draw_is_refused(draw):
    with pytest.raises(lam.Refused) as refusal:
        draw()
    assert places(refusal) == {("nothing-to-draw", "attribute")}


def test_what_is_no_axes_is_a_wrong_call():
    with pytest.raises(TypeError):
        lam.predict(**PLY).plot(5)


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_columns_that_hold_three_digits_are_refused(call):
    frame = pd.DataFrame(
        {"specimen": ["A"], "mass in air [g]": [1.4427], "liquid density [g/cm^3]": [0.9975]}
    )
    short = frame.assign(**{"mass in air [g]": frame["mass in air [g]"].astype("float16")})
    with pytest.raises(lam.Refused) as refusal:
        call(short, fiber_density="1.79 g/cm^3", resin_density="1.25 g/cm^3")
    assert places(refusal) == {("wrong-type", "column 'mass in air [g]'")}


def test_a_resin_content_that_counts_volatiles_is_above_them():
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "resin_basis": "with volatiles", "volatiles": "40 %"})
    assert places(refusal) == {("no-resin", "resin_content")}
    with pytest.raises(lam.Refused) as refusal:
        lam.predict(**{**PLY, "resin_content": "100 %"})
    assert {place for _, place in places(refusal)} == {"resin_content"}


def test_a_part_does_not_change():
    part = lam.read_part(EXAMPLES / "mast" / "part.toml")
    with pytest.raises(AttributeError):
        part.part = None
    with pytest.raises(AttributeError):
        part.fiber["carbon"].density = None
    assert pickle.loads(pickle.dumps(part)) == copy.deepcopy(part) == part
