"""How dear an uncertainty is, as ratios measured in one run on one machine: never an absolute time.

Run alone: `pytest -m benchmark --benchmark-only tests/benchmarks`.
"""

import time

import numpy as np
import pytest
from uncertainties import ufloat

from laminate.formulas import immersion, matrix_loss
from laminate.values.uncertainty import STEP, Source, propagate

COLUMN, SAMPLE = 100_000, 1_000
OWN = {"air": 1e-7, "liquid": 2e-7, "empty": 1e-7, "full": 1e-7, "residue": 1e-7}  # kg
SHARED = {"water": 0.05, "air density": 0.02, "char": 1e-3, "loss": 2e-3, "fiber": 5.0, "resin": 6.0}


def attributes(x):
    density = immersion.density(
        mass_in_air=x["air"],
        mass_in_liquid=x["liquid"],
        liquid_density=x["water"],
        air_density=x["air density"],
    )
    specimen = x["full"] - x["empty"]
    fiber = matrix_loss.fiber_mass(
        specimen=specimen, residue=x["residue"] - x["empty"], residue_share=x["char"], fiber_loss=x["loss"]
    )
    content = matrix_loss.fiber_content(fiber_mass=fiber, specimen=specimen)
    return {
        "density": density,
        "fiber_volume": matrix_loss.volume_fraction(
            content=content, density=density, constituent_density=x["fiber"]
        ),
        "void_content": matrix_loss.void_content(
            density=density, contents=[content, 1 - content], densities=[x["fiber"], x["resin"]]
        ),
    }


def coupons(rows):
    generator = np.random.default_rng(1)
    specimen, crucible = (m * (1 + 0.02 * generator.standard_normal(rows)) for m in (3.1e-3, 20e-3))
    return {
        "air": specimen,
        "liquid": specimen * (1 - 997.5 / 1580),
        "empty": crucible,
        "full": crucible + specimen,
        "residue": crucible + 0.65 * specimen,
        "water": 997.54,
        "air density": 1.2,
        "char": 0.002,
        "loss": 0.004,
        "fiber": 1790.0,
        "resin": 1300.0,
    }


SOURCES = [Source(name, {name: u}, shared=False) for name, u in OWN.items()]
SOURCES += [Source(name, {name: u}) for name, u in SHARED.items()]


def bare(x):
    """One plain evaluation, and one with a complex input for every source: the least that it can cost."""
    attributes(x)
    for source in SOURCES:
        attributes(x | {name: x[name] + STEP * 1j * move for name, move in source.moves.items()})


def by_object(x):
    """The same rows, one after the other, with a library of numbers that carry their uncertainty."""
    for i in range(SAMPLE):
        row = {name: ufloat(x[name][i], u) for name, u in OWN.items()}
        row |= {name: ufloat(x[name], u) for name, u in SHARED.items()}
        _ = [number.std_dev for number in attributes(row).values()]


def seconds(work, *arguments):
    start = time.perf_counter()
    work(*arguments)
    return time.perf_counter() - start


@pytest.fixture(scope="module")
def column():
    return coupons(COLUMN)


def test_a_row_costs_a_hundredth_of_numbers_that_carry_their_uncertainty(benchmark, column):
    sample = coupons(SAMPLE)
    rows = propagate(attributes, sample, SOURCES)["void_content"]
    number = attributes(
        {name: ufloat(sample[name][0], u) for name, u in OWN.items()}
        | {name: ufloat(sample[name], u) for name, u in SHARED.items()}
    )["void_content"]
    assert rows.standard_uncertainty[0] == pytest.approx(number.std_dev, rel=1e-12)
    benchmark.pedantic(propagate, (attributes, column, SOURCES), rounds=5, warmup_rounds=1)
    ours = min(seconds(propagate, attributes, column, SOURCES) for _ in range(3)) / COLUMN
    theirs = min(seconds(by_object, sample) for _ in range(3)) / SAMPLE
    benchmark.extra_info["times cheaper per row"] = round(theirs / ours)
    assert theirs / ours > 100


def test_derivatives_cost_about_as_many_evaluations_as_there_are_sources(benchmark, column):
    benchmark.pedantic(propagate, (attributes, column, SOURCES), rounds=5, warmup_rounds=1)
    pairs = [(seconds(propagate, attributes, column, SOURCES), seconds(bare, column)) for _ in range(7)]
    ratio = min(ours for ours, _ in pairs) / min(least for _, least in pairs)
    benchmark.extra_info["propagate / bare evaluations"] = round(ratio, 2)
    assert ratio <= 1.3
