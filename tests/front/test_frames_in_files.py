"""Frames of `measure_frame` that went through a file: `combine` takes them, unless a column is missing."""

import io

import numpy as np
import pandas as pd
import pytest
from uncertainties import ufloat

import laminate as lam

SHARED = ufloat(0, 0.005, "both densities, dof 3")
GIVEN = {
    "fiber_density": (1.79 + SHARED, "g/cm^3"),
    "resin_density": (1.28 + SHARED, "g/cm^3"),
    "balance": "0.2 mg (standard, dof=7)",
    "balance_calibration": "2 mg (standard, dof=4)",
    "balance_resolution": "0.1 mg",
    "thermometer_resolution": "0.1 K",
}
ROWS = pd.DataFrame({
    "specimen": ["A", "B", "C", "D"],
    "mass in air [g]": ["1.4427", "1.4609", "1.4518", "1.4502"],
    "mass in liquid [g]": ["0.5117", "0.5192", "0.5157", "0.5149"],
    "liquid temperature [degC]": "22.8",
    "method": ["digestion", "digestion", "digestion", ""],
    "specimen mass [g]": ["1.4425", "1.4607", "1.4516", ""],
    "residue mass [g]": ["0.9763", "0.9884", "0.9827", ""],
    "excluded": ["", "", "", ""],
})  # fmt: skip


def measured(rows=ROWS, **zones):
    return lam.measure_frame(rows.assign(**zones), **GIVEN)


def from_file(frame, **options):
    return pd.read_csv(io.StringIO(frame.to_csv(index=False)), **options)


@pytest.mark.parametrize("zones", [{}, {"zone": ["web", "", "web", ""]}, {"zone": ["1", "", "1", "2"]}])
@pytest.mark.parametrize("options", [{}, {"dtype": str}])
def test_averages_are_those_of_the_frames_that_were_written(zones, options):
    whole = measured(**zones)
    wanted = lam.combine([whole])
    assert {*wanted.zone} == {*zones.get("zone", [""])}
    for parts in ([whole], [whole.iloc[:2], whole.iloc[2:]]):
        read = [from_file(part, **options) for part in parts]
        pd.testing.assert_frame_equal(lam.combine(read), wanted, rtol=1e-12)


@pytest.mark.parametrize("nothing", [np.nan, None, "", pd.NA])
def test_an_empty_zone_is_one_however_a_frame_holds_it(nothing):
    frame = measured(zone=["web", "web", "", ""])
    frame["zone"] = pd.Series(["web", "web", nothing, nothing], dtype=object)
    as_category = frame.astype({"zone": "category"})
    for each in (frame, as_category):
        rows = lam.combine([each]).query("attribute == 'density'")
        assert dict(zip(rows.zone, rows.n, strict=True)) == {"web": 2, "": 2}


def test_an_excluded_row_and_an_empty_part_stay_so_in_a_file():
    whole = measured(ROWS.assign(excluded=["cracked", "", "", ""]))
    wanted = lam.combine([whole])
    assert set(wanted.n) == {2, 3}
    parts = [from_file(part) for part in (whole.iloc[:0], whole.iloc[:1], whole.iloc[1:])]
    pd.testing.assert_frame_equal(lam.combine(parts), wanted, rtol=1e-12)


@pytest.mark.parametrize("gone", [
    "specimen", "zone", "counts", "density [g/cm^3]", "density u [g/cm^3]",
    "void_content own variance [(%)^2]", "void_content method", "density own variance, dof 7.0 [(g/cm^3)^2]",
    "fiber_volume from 'both densities, dof 3' [%]",
    "density from calibration of balance, dof 4.0 [g/cm^3]", "resin_volume from mass in air, resolution [%]",
])  # fmt: skip
def test_a_column_that_is_missing_is_named(gone):
    for frame in (measured(), from_file(measured())):
        assert gone in frame
        with pytest.raises(lam.Refused) as refusal:
            lam.combine([frame.drop(columns=gone)])
        assert [(p.code, p.place) for p in refusal.value.problems] == [("wrong-columns", f"column '{gone}'")]


def test_a_cause_that_is_missing_everywhere_is_seen_by_what_is_left():
    frame = measured()
    less = frame.drop(columns=[name for name in frame if "from 'both" in name])
    with pytest.raises(lam.Refused) as refusal:
        lam.combine([less])
    assert refusal.value.problems[0].place == "column 'fiber_volume u [%]'"


def test_columns_beside_and_attributes_left_out_whole_change_nothing():
    frame = measured()
    wanted = lam.combine([frame]).set_index("attribute").loc[["void_content", "density"]]
    some = frame[[n for n in frame if n.startswith(("spec", "zone", "counts", "void", "density"))]]
    more = some.assign(**{"age [d]": 3.0, "by": "JM"})
    for each in (some, more, from_file(more)):
        found = lam.combine([each]).set_index("attribute").loc[["void_content", "density"]]
        pd.testing.assert_frame_equal(found, wanted, rtol=1e-12)
    rounded = pd.read_csv(io.StringIO(frame.to_csv(index=False, float_format="%.6g")))
    assert len(lam.combine([rounded])) == len(lam.combine([frame]))
