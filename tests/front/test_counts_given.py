"""Counts as a caller gives them, and the options that a tool needs where no file describes it."""

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

import laminate as lam

MAST = Path(__file__).parents[2] / "examples" / "mast" / "part.toml"
GAP = {
    "gap": "3 mm ± 0.03 (tolerance)", "fiber_areal_weight": "150 g/m^2", "resin_content": "33 %",
    "fiber_density": "1.79 g/cm^3", "resin_density": "1.22 g/cm^3", "draws": 1000,
}  # fmt: skip


@pytest.mark.parametrize("count", [19.0, Decimal(19), Fraction(19)])
def test_a_count_is_that_of_the_one_zone_asked_about(count):
    answer = lam.fill(MAST, zones="web", plies=count, draws=1000)
    assert answer.to_dict() == lam.fill(MAST, zones="web", plies={"web": 19}, draws=1000).to_dict()


@pytest.mark.parametrize("zones", [None, ["web", "skin"]])
def test_a_count_for_several_zones_is_refused(zones):
    with pytest.raises(lam.Refused) as found:
        lam.fill(MAST, zones=zones, plies=20, draws=1000)
    assert [problem.place for problem in found.value.problems] == ["plies"]


@pytest.mark.parametrize("count", ["20.5", "NaN", "sNaN", "Infinity", "-1"])
def test_a_decimal_that_is_no_count_is_refused(count):
    with pytest.raises(lam.Refused) as found:
        lam.fill(MAST, zones="web", plies=Decimal(count), draws=1000)
    assert [(problem.code, problem.place) for problem in found.value.problems] == [("wrong-value", "plies")]


@pytest.mark.parametrize(
    "option",
    [
        {"clamp_force": "500 kN"},
        {"pressure_limit": "5 MPa"},
        {"compliance": "0 MPa^-1"},
        {"tool_temperature": "120 degC"},
    ],
)
def test_what_is_said_of_a_tool_asks_for_its_growth_by_option(option):
    with pytest.raises(lam.Refused) as found:
        lam.fill(**GAP, **option)
    assert [(problem.code, problem.place) for problem in found.value.problems] == [
        ("missing-option", "tool_expansion"),
        ("missing-option", "gel_temperature"),
    ]
    grown = {"tool_expansion": "23.6e-6 /K", "gel_temperature": "120 degC"}
    assert lam.fill(**GAP, **option, **grown).zones["laminate"].counts
