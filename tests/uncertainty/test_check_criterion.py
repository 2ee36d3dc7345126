"""Monte Carlo takes over where an end of the 95 % interval differs, whatever is beside (JCGM 101, 8.1)."""

import numpy as np
import pandas as pd
import pytest

import laminate as lam

DENSITIES = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.28 g/cm^3"}
GAUGE = "0.6 mg (standard)"
SMALL = pd.DataFrame({
    "specimen": ["A"], "mass in air [g]": ["0.0300"], "mass in liquid [g]": ["0.0110"],
    "liquid temperature [degC]": ["23.0"],
})  # fmt: skip
DIGESTED = {"method": "digestion", "specimen mass [g]": "0.0300", "residue mass [g]": "0.0200"}
BESIDE = [{}, DIGESTED, {"thickness [mm]": "2.87"}, DIGESTED | {"thickness [mm]": "2.87"}]


def drawn(repeatability, draws=400_000):
    """Draws of the density, written anew; water of 23 degC has 0.9975380 g/cm^3 (Tanaka et al.)."""
    generator = np.random.default_rng(0)
    in_air, in_liquid = (g + generator.normal(0.0, repeatability, draws) for g in (0.03, 0.011))
    return in_air * (0.9975380 - 0.0012) / (in_air - in_liquid) + 0.0012


def density(beside, repeatability):
    answer = lam.measure(
        SMALL.assign(**beside), **DENSITIES, balance=f"{1e3 * repeatability:g} mg (standard)"
    )
    (check,) = (row for row in answer.to_dict()["monte_carlo"] if row["attribute"] == "density")
    return answer["A"].density, check


@pytest.mark.parametrize("repeatability", [0.0004, 0.0006])
def test_a_skew_density_has_the_uncertainty_of_monte_carlo_and_reaches_both_ends(repeatability):
    rho = drawn(repeatability)
    low, high = np.quantile(rho, [0.025, 0.975])
    measured = [density(beside, repeatability) for beside in BESIDE]
    for value, check in measured:
        assert (check["agree"], check["used"]) == (False, "Monte Carlo")
        assert (
            value.u == check["first_order"] == pytest.approx(check["monte_carlo"], abs=5e-4)
        )  # to its digits
        assert check["monte_carlo"] == pytest.approx(rho.std(), rel=5e-3)
        assert check["interval_95"] == pytest.approx([low, high], abs=1e-3)  # their sampling error is 6e-4
        assert value.value + value.expanded_uncertainty == pytest.approx(check["interval_95"][1], rel=1e-12)
        assert value.value - value.expanded_uncertainty <= low
        assert value.expanded_uncertainty == pytest.approx(value.coverage_factor * value.u, rel=1e-9)
    assert len({(value.u, value.expanded_uncertainty) for value, _ in measured}) == 1
    limits = {"max": (check["interval_95"][1] - 1e-6, "g/cm^3")}
    assert lam.judge(measured[0][0], **limits).decision == "undecided"


def test_a_coupon_of_the_usual_size_keeps_first_order():
    row = {"mass in air [g]": "1.4427", "mass in liquid [g]": "0.5117"}
    answer = lam.measure(SMALL.assign(**row), **DENSITIES, balance="0.2 mg (standard)").to_dict()
    assert [check["used"] for check in answer["monte_carlo"]] == ["first order"]
    assert answer["specimens"][0]["density"]["coverage_factor"] == pytest.approx(1.959964, abs=1e-6)


def test_an_average_reaches_as_far_as_its_coupons():
    """Two of equal numbers, which tell no scatter: the floor of their own readings is left."""
    numbers = {name: float(SMALL[name].iloc[0]) for name in SMALL if name != "specimen"}
    measured = lam.measure(pd.DataFrame({"specimen": ["A", "B"], **numbers}), **DENSITIES, balance=GAUGE)
    one, mean = measured["A"].density, measured.average.density
    assert one.coverage_factor > 2.05
    assert mean.coverage_factor == pytest.approx(one.coverage_factor, rel=1e-9)
    assert mean.u == pytest.approx(one.u / 2**0.5, rel=1e-9)
