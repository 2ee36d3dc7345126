"""The coupon on which the ways to carry an uncertainty are compared: immersion and loss of matrix."""

from types import SimpleNamespace

import pytest

from laminate.formulas import immersion, matrix_loss
from laminate.show.budget import shares

# Reference laminate of the trade's textbooks: 65 % fiber by mass, 1.58, 1.79 and 1.30 g/cm3.
INPUTS = {
    "air": 3.1e-3,  # kg, specimen in air
    "liquid": 1.144e-3,  # kg, specimen in water
    "water": 997.54,  # kg/m3
    "air density": 1.2,  # kg/m3
    "crucible": 20e-3,  # kg
    "with specimen": 23.1e-3,  # kg
    "with residue": 22.02e-3,  # kg
    "residue share": 0.002,
    "fiber loss": 0.004,
    "fiber density": 1790.0,  # kg/m3
    "resin density": 1300.0,  # kg/m3
}
SPREADS = {
    "air": 1e-7,
    "liquid": 2e-7,
    "water": 0.05,
    "air density": 0.02,
    "crucible": 1e-7,
    "with specimen": 1e-7,
    "with residue": 1.5e-7,
    "residue share": 0.001,
    "fiber loss": 0.002,
    "fiber density": 5.0,
    "resin density": 6.0,
}
READINGS = ("air", "liquid", "crucible", "with specimen", "with residue")


def budget(contributions, sources=None):
    """Share of each source in the variance, largest first; with sources, contributions are of one row."""
    if sources is not None:
        contributions = dict(zip((source.name for source in sources), contributions[:, 0], strict=True))
    return {share.source: share.percent / 100.0 for share in shares(contributions)}


def attributes(x):
    """Density, fiber volume and void content from any kind of number."""
    density = immersion.density(
        mass_in_air=x["air"],
        mass_in_liquid=x["liquid"],
        liquid_density=x["water"],
        air_density=x["air density"],
    )
    specimen = x["with specimen"] - x["crucible"]
    fiber = matrix_loss.fiber_mass(
        specimen=specimen,
        residue=x["with residue"] - x["crucible"],
        residue_share=x["residue share"],
        fiber_loss=x["fiber loss"],
    )
    content = matrix_loss.fiber_content(fiber_mass=fiber, specimen=specimen)
    return {
        "density": density,
        "fiber_volume": matrix_loss.volume_fraction(
            content=content, density=density, constituent_density=x["fiber density"]
        ),
        "void_content": matrix_loss.void_content(
            density=density,
            contents=[content, 1 - content],
            densities=[x["fiber density"], x["resin density"]],
        ),
    }


@pytest.fixture(scope="session")
def coupon():
    return SimpleNamespace(inputs=INPUTS, spreads=SPREADS, readings=READINGS, attributes=attributes)
