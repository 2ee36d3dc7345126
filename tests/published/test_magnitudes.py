"""Sizes of effects on one laminate, by arithmetic: 65 % fiber by weight, 1.58, 1.79 and 1.30 g/cm3.

They are common in the trade, no source; a formula with a slip in it gives another size.
"""

import math

import pytest

from laminate.formulas import areal, core_contact, immersion, matrix_loss, ply, water

FIBER, RESIN, DENSITY, CONTENT = 1790.0, 1300.0, 1580.0, 0.65


def voids(fiber=FIBER, resin=RESIN, density=DENSITY, content=CONTENT):
    return 100 * matrix_loss.void_content(
        density=density, contents=[content, 1 - content], densities=[fiber, resin]
    )


def burnt(**blanks):
    """Fiber content from a residue of 0.65, with what blanks say of it."""
    return matrix_loss.fiber_mass(
        specimen=1.0, residue=CONTENT, **{"residue_share": 0.0, "fiber_loss": 0.0} | blanks
    )


def weighed(*, air=1.2, kelvin=296.15, lost=0.0, read_at=296.15):
    """Density of 2 cm3 weighed in air and in water of one temperature, computed with that of another."""
    volume = 2e-6
    specimen = {
        "mass_in_air": (DENSITY - 1.2) * volume,
        "mass_in_liquid": (DENSITY - water.water_density(temperature=kelvin)) * volume - lost,
    }
    liquid = water.water_density(temperature=read_at)
    return immersion.density(**specimen, liquid_density=liquid, air_density=air)


@pytest.mark.parametrize(
    ("changed", "points", "half"),
    [
        (lambda: voids(fiber=1810.0), 0.64, 0.01),
        (lambda: voids(resin=1320.0), 0.65, 0.01),
        (lambda: voids(content=burnt(fiber_loss=0.01)), 0.22, 0.02),
        (lambda: voids(density=1577.0), 0.19, 0.005),
        (lambda: voids(content=burnt(residue_share=0.01)), 0.12, 0.05),
        (lambda: voids(density=weighed(kelvin=295.15)), 0.023, 0.001),
        (lambda: voids(density=weighed(air=0.0)), 0.04, 0.005),
        (lambda: voids(density=weighed(lost=1e-9 * 997.5)), 0.05, 0.005),
    ],
)
def test_points_of_void_content(changed, points, half):
    """Fiber, resin ± 0.02, fiber burnt 1 %, density ± 0.003, char 1 %, 1 K, air, a bubble of 1 mm3."""
    assert abs(changed() - voids()) == pytest.approx(points, abs=half)


def test_density_without_the_buoyancy_of_air():
    """0.0007 g/cm3 high at 1.58 g/cm3."""
    assert weighed(air=0.0) - weighed() == pytest.approx(0.7, abs=0.05)


def by_thickness(weight=0.15, thickness=2.1e-3):
    return 100 * areal.fiber_volume(
        plies=14, fiber_areal_weight=weight, fiber_density=FIBER, thickness=thickness
    )


def test_points_of_fiber_volume():
    """Areal weight ± 3 %, a gap of 2.1 mm by 0.05 mm, fabric draped by 20 degrees, fiber burnt 1 %."""
    flat = by_thickness()
    assert by_thickness(0.15 * 1.03) - flat == pytest.approx(1.7, abs=0.05)
    assert flat - by_thickness(thickness=2.15e-3) == pytest.approx(1.3, abs=0.05)
    draped = ply.draped(areal_weight=0.15, cos_shear=math.cos(math.radians(20.0)))
    assert draped / 0.15 == pytest.approx(1.064, abs=0.0005)
    assert by_thickness(draped) - flat == pytest.approx(3.6, abs=0.05)
    assert 57.4 * (burnt(fiber_loss=0.01) / CONTENT - 1) == pytest.approx(0.57, abs=0.015)


def test_a_core_lags_its_platens():
    """50 mm of silicone at 0.11 mm2/s: tau 38 min, 45 % of the rise after 15 min; after tau 70 %."""
    tau = 0.05**2 / (math.pi**2 * 1.1e-7)
    assert tau / 60 == pytest.approx(38, abs=0.5)
    rise = core_contact.mean_rise_fraction(time=900.0, thickness=0.05, diffusivity=1.1e-7)
    assert 100 * rise == pytest.approx(45, abs=0.5)
    one = core_contact.mean_rise_fraction(time=tau, thickness=0.05, diffusivity=1.1e-7)
    assert one == pytest.approx(1 - 8 / math.pi**2 * (math.exp(-1) + math.exp(-9) / 9), rel=1e-5)
