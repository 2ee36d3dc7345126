"""Numbers as tables of numbers and unit libraries give them: counts, decimals, nothing, differences."""

from decimal import Decimal

import numpy as np
import pandas as pd
import pint
import pytest
from uncertainties import ufloat

import laminate as lam

from .test_front import KAW, PLY, places
from .test_given import DENSITIES

CORE = PLY | {
    "cavity": "38.6 mm", "core_width": "30.64 mm", "held": "no", "tool_expansion": "23.6e-6 /K",
    "gel_temperature": "120 degC", "core_expansion": "265e-6 /K", "draws": 1000,
}  # fmt: skip
REGISTRY = pint.UnitRegistry()


def core(**options):
    return lam.core(**{**CORE, "walls": 2, "limit_moldings": 50, **options}).to_dict()


def test_a_count_may_be_a_whole_float():
    counted = core()
    for two, fifty in ((2.0, 50.0), (np.float64(2), np.float64(50)), (np.int64(2), Decimal(50))):
        assert core(walls=two, limit_moldings=fifty) == counted
    for no_count in (2.5, True, "2"):
        with pytest.raises(lam.Refused) as refusal:
            core(walls=no_count)
        assert places(refusal) == {("wrong-type", "walls")}
    with pytest.raises(lam.Refused):
        core(draws=Decimal("sNaN"))


def test_a_decimal_is_a_number():
    wanted = lam.predict(**{**PLY, "fiber_density": "1.79 g/cm^3"}).to_dict()
    assert lam.predict(**{**PLY, "fiber_density": (Decimal("1.79"), "g/cm^3")}).to_dict() == wanted


@pytest.mark.parametrize("nothing", [-0.0, np.float64(-0.0), (-0.0, "%"), Decimal(0)])
def test_nothing_has_no_sign(nothing):
    wanted = lam.predict(**PLY, void_content=0).fiber_volume
    assert lam.predict(**PLY, void_content=nothing).fiber_volume == wanted


def test_a_limit_give_or_take_nothing_is_exact():
    for exact in (lam.Value(2, "mm", 0), "2 mm (exact)"):
        assert lam.judge("1.9 mm", min="1 mm", max=exact).to_dict()["max"] == {"value": 2, "unit": "mm"}
    with pytest.raises(lam.Refused) as refusal:
        lam.judge("1.9 mm", max=lam.Value(2, "mm", 0.1))
    assert places(refusal) == {("limit-with-tolerance", "max")}


@pytest.mark.parametrize("difference", [(120, "delta_degC"), (216, "delta_degF")])
def test_a_difference_is_no_temperature(difference):
    with pytest.raises(lam.Refused) as refusal:
        core(gel_temperature=REGISTRY.Quantity(*difference))
    assert places(refusal) == {("unreadable-value", "gel_temperature")}


def test_a_difference_is_read_where_one_is_due():
    frame = pd.DataFrame(KAW)

    def measured(**options):
        return lam.measure(frame, **DENSITIES, **options).to_dict()["average"]

    wanted = measured(thermometer="0.2 K (standard)", thermometer_resolution="0.1 K")
    spread = REGISTRY.Quantity(ufloat(0, 0.2), "delta_degC")
    step = REGISTRY.Quantity(0.1, "delta_degC")
    assert measured(thermometer=spread, thermometer_resolution=step) == wanted


def test_a_row_may_be_asked_for_by_a_number_of_numpy():
    measured = lam.measure(pd.DataFrame(KAW), **DENSITIES)
    assert measured.specimens[np.int64(1)].specimen == measured.specimens[1].specimen == "B"
