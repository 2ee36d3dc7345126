"""`judge` of values whose ± is not known, or is of another confidence; a tolerance stays one."""

import math
from importlib.resources import files

import pandas as pd
import pytest

import laminate as lam
from tests.messages.wording import says

GAUGE = {"micrometer": "0.001 mm (standard)", "micrometer_calibration": "0.01 mm (standard)"}
TWO = pd.DataFrame({"specimen": ["A", "B"], "thickness [mm]": ["2.870", "2.880"]})
LAMINATE = {"fiber_areal_weight": "134 g/m^2", "resin_content": "35 %", "resin_density": "1.3 g/cm^3"}


def judged(value, **limits):
    answer = lam.judge(value, **limits)
    return answer.decision, answer.probability_of_conformity


def test_the_average_of_one_coupon_cannot_conform():
    measured = lam.measure(TWO.head(1), **GAUGE)
    mean = measured.average.thickness
    assert mean.u is None
    assert judged(mean, max="2.871 mm") == ("undecided", None)
    assert judged(mean.to("in"), max="2.99 mm") == ("undecided", None)
    assert says("front: a value of an answer without ±", lam.judge(mean, max="2.871 mm").reasons)
    assert judged(mean, max="2.80 mm") == ("does not conform", None)
    assert judged(measured["A"].thickness, max="2.9 mm")[0] == "conforms"


def test_a_unit_behind_a_bracket_is_that_of_value_and_uncertainty():
    """ISO 80000-1, 7.1.4 (from memory): (1.8 ± 0.4) % is 1.8 % ± 0.4 %, no share of 1.8."""
    value = lam.Value.parse("(1.8 ± 0.4) % (k=2)")
    assert (value.value, value.unit, value.u) == (1.8, "%", pytest.approx(0.2, rel=1e-12))
    apart = judged("1.8 % ± 0.4 (k=2)", max="2 %")
    assert (
        judged("(1.8 ± 0.4) % (k=2)", max="2 %") == apart == ("undecided", pytest.approx(0.8413447, abs=1e-6))
    )
    assert judged("1.8 ± 0.4 % (k=2)", max="2 %") == apart
    for text in ("(1.8 ± 0.4) % (k=2)", "1.8 ± 0.4 % (k=2)"):
        with pytest.raises(lam.Refused):
            lam.judge(text, max=2)


@pytest.mark.parametrize("value", [
    lam.Value(1.8, "%", u=0.1), lam.Value(373.15, "K", u=0.5, dof=3), lam.Value(100, "degC", u=0.5),
    lam.Value(3.2, "1", u=0.1), lam.Value(33, "oz/yd^2", u=1), lam.Value(20, "kN", u=1),
], ids=str)  # fmt: skip
def test_a_value_as_it_is_shown_is_read_as_itself(value):
    assert lam.Value.parse(str(value)) == lam.Value.parse(value.text) == value
    assert value.to(value.unit).si == pytest.approx(value.si, rel=1e-12)


def test_the_average_of_equal_coupons_without_any_uncertainty_cannot_conform():
    mean = lam.measure(
        pd.DataFrame({"specimen": ["A", "B"], "thickness [mm]": [2.87, 2.87]})
    ).average.thickness
    assert (mean.u, judged(mean, max="2.95 mm")) == (0.0, ("undecided", None))
    assert judged(lam.Value(mean.value, "mm", 0), max="2.95 mm") == ("conforms", 1.0)


def test_a_figure_conforms_without_uncertainty_where_a_person_says_that_it_is_exact():
    plain = lam.predict(**LAMINATE, fiber_density="1.79 g/cm^3", plies=12).fiber_volume
    assert judged(plain, max="90 %") == ("undecided", None)
    for exact in (lam.Value(plain.value, "%", 0), lam.Value(plain.value, "%"), (plain.value, "%")):
        assert judged(exact, max="90 %") == ("conforms", 1.0)
    told = lam.predict(**LAMINATE, fiber_density="1.79 g/cm^3 ± 0.01 (k=2)", plies=12).fiber_volume
    assert judged(told, max="90 %")[0] == "conforms"


def test_a_value_does_not_conform_at_a_confidence_that_it_was_not_measured_for():
    at_95, at_99 = (lam.measure(TWO, confidence=level, **GAUGE).average.thickness for level in (0.95, 0.99))
    for value in (at_95, at_95.to("in")):
        open_ = lam.judge(value, max="3.1 mm", confidence="99 %")
        assert open_.decision == "undecided"
        assert says("front: a value of another confidence", open_.reasons)
        assert judged(value, max="3.1 mm")[0] == "conforms"
    for limit, decision in (("3.19 mm", "undecided"), ("3.2 mm", "conforms")):  # U 0.3196 mm
        assert judged(at_99, max=limit, confidence="99 %")[0] == decision
    one = lam.measure(TWO, **GAUGE)["A"].thickness  # all its causes have infinite degrees of freedom
    assert judged(one, max="2.9 mm", confidence="99 %")[0] == "conforms"


def test_a_result_of_a_report_is_not_judged_with_degrees_of_freedom_that_it_does_not_tell():
    report = lam.report(files("laminate.examples") / "mast" / "batch.toml")
    volume, cure = report["fiber_volume.web"].result, report.process[0].result
    assert volume.expanded_uncertainty > 2 * volume.u
    assert judged(volume, max="60 %")[0] == "undecided"
    assert judged(cure, max="128 degC")[0] == "conforms"


@pytest.mark.parametrize("text", ["1.79 % ± 0.2 (tolerance)", "20.0 degC ± 2.0 (tolerance)"])
def test_a_tolerance_stays_one(text):
    value = lam.Value.parse(text)
    assert (value.text, value.shape) == (text, "rectangular")
    assert lam.Value.parse(value.text) == value
    other = value.to({"%": "ppm", "degC": "degF"}[value.unit])
    assert lam.Value.parse(other.text).u == pytest.approx(other.u, rel=1e-12)
    assert other.shape == "rectangular"
    limit = (value.value + 1.05 * value.u * math.sqrt(3.0), value.unit)
    for given in (text, value, other):
        assert judged(given, max=limit) == ("conforms", pytest.approx(1.0, abs=1e-12))


def test_the_text_of_a_value_keeps_its_degrees_of_freedom():
    for dof in (2.0, 16.7523456, 1e20):
        value = lam.Value(1, "mm", 0.1, dof)
        assert lam.Value.parse(value.text) == value
    with pytest.raises(lam.Refused) as refusal:
        lam.Value(1, "mm", 0.1, shape="uniform")
    assert refusal.value.problems[0].place == "shape"
