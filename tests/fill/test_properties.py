"""What must hold for any stack, gap and count."""

import copy

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from laminate.files.part import part_of
from laminate.press.counts import lay, numbers_at
from laminate.press.cured import PREDICTED
from laminate.press.filling import make_case
from laminate.press.inputs import zone_case
from laminate.press.names import VOID
from laminate.press.prediction import predict_zone
from laminate.press.stack import ingredients
from laminate.values.uncertainty import nominal

SETTINGS = settings(max_examples=60, deadline=None)


def part(
    areal=150.0, resin=33.0, gap=2.95, layer=0.05, gel=120.0, expansion=265.0, width=30.64, held="sides"
):
    return part_of(
        {
            "format": 1,
            "part": {"number": "1", "issue": "A"},
            "temperature": {"room": "23 degC", "gel": f"{gel!r} degC"},
            "fiber": {"f": {"kind": "carbon", "density": "1.79 g/cm^3"}},
            "resin": {"r": {"density": "1.22 g/cm^3", "liquid_density": "1.12 g/cm^3"}},
            "prepreg": {
                "p": {
                    "fiber": "f",
                    "resin": "r",
                    "fiber_areal_weight": f"{areal!r} g/m^2",
                    "resin_content": f"{resin!r} %",
                }
            },
            "layer": {"l": {"areal_weight": "60 g/m^2", "thickness": f"{layer!r} mm", "counts_as": "resin"}},
            "tool": {"expansion": "23.6e-6 /K"},
            "core": {"c": {"expansion": f"{expansion!r}e-6 /K", "held": held, "width": f"{width!r} mm"}},
            "zone": {
                "g": {"gap": f"{gap!r} mm", "stack": ["1 l"], "fill_with": "p", "bleed_limit": "15 %"},
                "c": {"cavity": "38.6 mm", "core": "c", "walls": 2, "fill_with": "p", "bleed_limit": "15 %"},
            },
        },
        "part.toml",
    )


@SETTINGS
@given(st.floats(50, 400), st.floats(20, 60), st.floats(1, 8), st.integers(1, 60))
def test_one_ply_more_never_lowers_the_fiber_volume_in_the_gap(areal, resin, gap, count):
    case = zone_case(part(areal, resin, gap), "g", "part.toml")
    x = case.inputs.numbers()
    one, more = (numbers_at(case, n, x)["fiber_volume_in_gap"] for n in (count, count + 1))
    assert more >= one


@SETTINGS
@given(st.floats(60, 200), st.floats(1, 60), st.floats(60, 300))
def test_hotter_never_widens_a_gap_whose_hard_core_outgrows_its_cavity(gel, hotter, expansion):
    gaps = []
    for temperature in (gel, gel + hotter):
        case = zone_case(part(gel=temperature, held="no", expansion=expansion), "c", "part.toml")
        gaps.append(case.hot_gap(case.inputs.numbers()))
    # the core outgrows the cavity where c d(g)/dT > W a_t; at 60e-6/K and these widths it always does
    assert gaps[1] <= gaps[0] + 1e-15


@SETTINGS
@given(st.floats(50, 400), st.floats(20, 60), st.floats(1, 8), st.integers(1, 60), st.floats(0, 0.05))
def test_masses_and_volumes_close(areal, resin, gap, count, voids):
    case = zone_case(part(areal, resin, gap), "g", "part.toml")
    x = {**case.inputs.numbers(), VOID: voids}
    laid = lay(case, count, x)
    found = laid.part()
    area = found["density"] * found["thickness"]
    resin_kept = area - laid.sums.fiber - laid.sums.layers.mass
    bleed = 1 - resin_kept / laid.sums.resin
    assert -1e-12 <= bleed <= laid.layup.end + 1e-12
    bare = found["fiber_volume"] + found["resin_volume"] + found["void_content"]
    # the layer's own thickness counts as resin, so nothing is left over but its share of the voids
    assert bare == pytest.approx(1.0, abs=1e-12)
    assert found["fiber_content"] + found["resin_content"] == pytest.approx(1.0, abs=1e-12)
    assert found["fiber_content"] * area == pytest.approx(laid.sums.fiber, rel=1e-12)


def test_layer_that_counts_as_resin_is_resin_of_the_plies():
    """By its mass over the density of the resin, liquid when hot: 60 g/m^2 over 1.22 and 1.12 g/cm^3."""
    case = zone_case(part(), "g", "part.toml")
    layup, cured = lay(case, 10, case.inputs.numbers()).layup, predict_zone(part(), "g", 10).attributes
    fiber, resin = 10 * 0.150, 10 * 0.150 * 33 / 67
    plies = fiber / 1790 + resin / 1220
    assert layup.thickness(0.0) == pytest.approx(fiber / 1790 + (resin + 0.06) / 1120)
    assert nominal(cured["thickness"]) == pytest.approx(plies + 0.06 / 1220)
    assert nominal(cured["cured_ply_thickness"]) == pytest.approx(plies / 10)


@SETTINGS
@given(st.floats(50, 400), st.floats(20, 60), st.floats(1, 8), st.integers(1, 60))
def test_what_must_bleed_makes_the_stack_as_thick_as_the_gap(areal, resin, gap, count):
    case = zone_case(part(areal, resin, gap), "g", "part.toml")
    x = case.inputs.numbers()
    laid = lay(case, count, x)
    bleed = laid.layup.bleed_for(case.hot_gap(x))
    left = laid.sums.fiber_thickness + (1 - bleed) * laid.sums.liquid_thickness + laid.layup.layers
    assert left == pytest.approx(case.hot_gap(x), rel=1e-12)


def test_other_units_give_the_same_answer():
    metric = {
        "format": 1,
        "part": {"number": "1", "issue": "A"},
        "temperature": {"room": "23 degC", "gel": "120 degC ± 2 (tolerance)"},
        "fiber": {"f": {"kind": "carbon", "density": "1.79 g/cm^3 ± 0.01 (k=2)"}},
        "resin": {"r": {"density": "1.22 g/cm^3", "liquid_density": "1.12 g/cm^3"}},
        "prepreg": {
            "p": {
                "fiber": "f",
                "resin": "r",
                "fiber_areal_weight": "150 g/m^2 ± 2 (tolerance)",
                "resin_content": "33 %",
            }
        },
        "tool": {"expansion": "23.6e-6 /K"},
        "core": {
            "c": {
                "expansion": "764e-6 /K",
                "acts_as": "hard",
                "held": "no",
                "width": "30.64 mm",
                "offset": "0 mm",
                "temperature": "120 degC",
            }
        },
        "zone": {
            "c": {
                "cavity": "38.60 mm ± 0.03 (tolerance)",
                "core": "c",
                "walls": 2,
                "fill_with": "p",
                "bleed_limit": "15 %",
            }
        },
    }
    us = copy.deepcopy(metric)
    us["temperature"] = {"room": "73.4 degF", "gel": "248 degF ± 3.6 (tolerance)"}
    us["fiber"]["f"]["density"] = (
        f"{1.79 / (453.59237 / 16.387064)!r} lb/in^3 ± {0.01 / (453.59237 / 16.387064)!r} (k=2)"
    )
    us["resin"]["r"] = {"density": "1220 kg/m^3", "liquid_density": "1120 kg/m^3"}
    us["prepreg"]["p"]["fiber_areal_weight"] = (
        f"{150 / (28.349523125 / 0.83612736)!r} oz/yd^2 ± {2 / (28.349523125 / 0.83612736)!r} (tolerance)"
    )
    us["tool"]["expansion"] = f"{23.6 / 1.8!r}e-6 /degF"
    us["core"]["c"].update(expansion=f"{764 / 1.8!r}e-6 /degF", width=f"{30.64 / 25.4!r} in")
    us["zone"]["c"]["cavity"] = f"{38600 / 25.4!r} mil ± {30 / 25.4!r} (tolerance)"
    from laminate.press.filling import fill

    one, two = (fill(part_of(raw, "part.toml"), draws=2000, inverse=False).zones[0] for raw in (metric, us))
    assert one.use.plies == two.use.plies
    for first, second in zip(one.rows, two.rows, strict=True):
        assert second.fill_ratio.value == pytest.approx(first.fill_ratio.value, rel=1e-12)
        assert second.fill_ratio.u == pytest.approx(first.fill_ratio.u, rel=1e-9)
        assert second.part["fiber_volume"].value == pytest.approx(first.part["fiber_volume"].value, rel=1e-12)
        assert second.chance.all == pytest.approx(first.chance.all, abs=2 / 2000)


@SETTINGS
@given(st.floats(100, 200), st.floats(25, 45), st.floats(1.5, 6))
def test_the_verdict_follows_ratio_and_limits(areal, resin, gap):
    case = make_case(part(areal, resin, gap), "g", "part.toml", ingredients(part(areal, resin, gap)), None)
    from laminate.press.counts import counts_near, verdict

    x = case.inputs.numbers()
    for count in counts_near(case):
        at = numbers_at(case, count, x)
        said = verdict(case, count)
        assume(abs(at["fill_ratio"] - 1) > 1e-9)
        assert (said == "too few") == (at["fill_ratio"] < 1)
        if said == "fits":
            assert at["bleed"] <= 0.15 + 1e-12
            assert at["fiber_volume_in_gap"] <= 0.68 + 1e-12
        if said == "too many":
            assert at["bleed"] > 0.15 - 1e-12 or at["fiber_volume_in_gap"] > 0.68 - 1e-12


def test_what_a_stack_becomes_is_what_limits_are_held_to():
    case = zone_case(part(), "g", "part.toml")
    assert set(PREDICTED) == set(lay(case, 10, case.inputs.numbers()).part())
