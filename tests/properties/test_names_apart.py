"""Equal names in different tables of a part do not touch each other."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from laminate.files.part import part_of
from laminate.press.counts import numbers_at
from laminate.press.inputs import zone_case
from laminate.press.prediction import predict_zone
from laminate.press.shared_inputs import estimates
from laminate.values.input_key import Key, in_words

NAMES = st.sampled_from(["main", "stack", "liquid", "air", "web", "a b", "web gap", "charge", "é", "fiber"])


def part(fiber, resin, prepreg, layer, zone="web"):
    return part_of(
        {
            "format": 1,
            "part": {"number": "P", "issue": "A"},
            "temperature": {"room": "23 degC", "gel": "120 degC", "cure": "125 degC"},
            "fiber": {fiber: {"kind": "carbon", "density": "1.79 g/cm^3 ± 0.01 (k=2)"}},
            "resin": {
                resin: {
                    "density": "1.22 g/cm^3 ± 0.01 (k=2)",
                    "liquid_density": "1.12 g/cm^3 ± 0.02 (tolerance)",
                }
            },
            "prepreg": {
                prepreg: {
                    "fiber": fiber,
                    "resin": resin,
                    "fiber_areal_weight": "150 g/m^2 ± 2 (tolerance)",
                    "ply_scatter": "1 % (standard)",
                    "resin_content": "33 % ± 1 (tolerance)",
                }
            },
            "layer": {
                layer: {"areal_weight": "60 g/m^2 ± 1 (k=2)", "thickness": "0.05 mm", "counts_as": "neither"}
            },
            "tool": {"expansion": "23e-6 /K"},
            "zone": {
                zone: {"gap": "2.95 mm ± 0.03 (tolerance)", "stack": [f"1 {layer}"], "fill_with": prepreg}
            },
        },
        "part.toml",
    )


def numbers(made, zone="web"):
    one = predict_zone(made, zone, 20)
    case = zone_case(made, zone, "part.toml")
    laid = estimates(lambda x: numbers_at(case, 20, x), case.inputs)
    return [
        *((one.value(key), one.standard_uncertainty(key)) for key in one.attributes),
        *((one.value, one.u) for one in laid.values()),
    ]


@settings(max_examples=20, deadline=None)
@given(fiber=NAMES, resin=NAMES, prepreg=NAMES, layer=NAMES)
def test_names_change_no_number(fiber, resin, prepreg, layer):
    layer = f"{layer} layer" if layer == prepreg else layer  # a stack entry tells these two by name
    expected = numbers(part("carbon", "epoxy", "ud150", "film"))
    assert numbers(part(fiber, resin, prepreg, layer)) == [
        (pytest.approx(value, rel=1e-12), None if u is None else pytest.approx(u, rel=1e-9))
        for value, u in expected
    ]


def test_the_table_is_said_where_two_read_alike():
    fiber, resin = Key("fiber", "main", "density"), Key("resin", "main", "density")
    assert in_words([fiber, resin]) == {fiber: "fiber main density", resin: "resin main density"}
    assert in_words([fiber, "area"]) == {fiber: "main density", "area": "area"}
