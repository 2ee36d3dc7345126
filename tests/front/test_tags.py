"""The tag of a number of `uncertainties` is a name of its own, whatever it reads like."""

import pandas as pd
import pytest
from uncertainties import ufloat

import laminate as lam

ROWS = pd.DataFrame({
    "specimen": ["A", "B", "C"],
    "mass in air [g]": ["1.4427", "1.4609", "1.4518"],
    "mass in liquid [g]": ["0.5117", "0.5192", "0.5157"],
    "liquid temperature [degC]": "22.8",
    "method": "digestion",
    "specimen mass [g]": ["1.4425", "1.4607", "1.4516"],
    "residue mass [g]": ["0.9763", "0.9884", "0.9827"],
})  # fmt: skip
BENCH = {
    "balance_calibration": "2 mg (standard)",
    "balance_resolution": "0.1 mg",
    "thermometer_resolution": "0.1 K",
    "air_density": "0.0012 g/cm^3 ± 0.0001 (standard)",
    "residue_share": "0.2 % ± 0.1 (standard)",
}
WANTED = {"void_content": 0.67740, "density": 0.00473}
"""U at 95 % with a tag that reads like no cause, the first held to the `uncertainties` library."""


def densities(*numbers):
    moved = sum(numbers)
    return {"fiber_density": (1.79 + moved, "g/cm^3"), "resin_density": (1.28 + moved, "g/cm^3")}


@pytest.mark.parametrize("tag", [
    "X", "scatter between coupons", "residue share", "air density", "fiber density", "calibration of balance",
    "anything, resolution", "mass in air, resolution", "x, dof 3.0", "own variance", "a' [%]", "x\ny",
])  # fmt: skip
def test_no_tag_is_taken_for_another_cause(tag):
    given = {**densities(ufloat(0, 0.005, tag)), **BENCH}
    measured = lam.measure(ROWS, **given).average
    combined = lam.combine([lam.measure_frame(ROWS.iloc[:1], **given), lam.measure_frame(ROWS[1:], **given)])
    for key, wanted in WANTED.items():
        expanded = float(combined.set_index("attribute").expanded[key])
        assert measured[key].expanded_uncertainty == pytest.approx(wanted, abs=5e-6)
        assert expanded == pytest.approx(measured[key].expanded_uncertainty, rel=1e-12)


@pytest.mark.parametrize("tags", [("x", "x"), ("x #2", "x"), (None, None)])
def test_two_numbers_are_two_causes_whatever_their_tags(tags):
    """sqrt(0.003^2 + 0.004^2) = 0.005, as of one."""
    both = [ufloat(0, size, tag) for size, tag in zip((0.003, 0.004), tags, strict=True)]
    given = {**densities(*both), **BENCH}
    measured = lam.measure(ROWS, **given)
    assert measured.average.void_content.expanded_uncertainty == pytest.approx(0.67740, abs=5e-6)
    combined = lam.combine([lam.measure_frame(ROWS, **given)]).set_index("attribute")
    assert float(combined.expanded["void_content"]) == pytest.approx(0.67740, abs=5e-6)
    keys = [row["key"] for row in measured.to_dict()["budget"]["void_content"] if row["key"]]
    assert len({tuple(key) for key in keys if key[0] == "number"}) == 2
