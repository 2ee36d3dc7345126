"""Worked examples of the Guide (JCGM 100:2008, annex H) and of its supplement (JCGM 101:2008, clause 9).

Inputs of annex H as in the documentation and docstrings of the package GTC, which reproduces them. JCGM 101
from memory. Tolerance: half the last printed digit, and for Monte Carlo the sampling error beside it.
"""

import math

import GTC
import numpy as np
import pytest

from laminate.values.averages import SCATTER, average
from laminate.values.uncertainty import Source, numerical_tolerance, propagate

from .conftest import budget
from .covariances import covariance
from .validation import validate

ROOT3 = math.sqrt(3.0)


GAUGE = {  # nm, 1/degC, degC: value, standard uncertainty, degrees of freedom
    "standard": (50_000_623.0, 25.0, 18),
    "difference": (215.0, 5.8, 24),
    "comparator, random": (0.0, 3.9, 5),
    "comparator, systematic": (0.0, 6.7, 8),
    "expansion": (11.5e-6, 2e-6 / ROOT3, math.inf),
    "expansion difference": (0.0, 1e-6 / ROOT3, 50),
    "temperature difference": (0.0, 0.05 / ROOT3, 2),
    "mean temperature": (-0.1, 0.2, math.inf),
    "cycle": (0.0, 0.5 / math.sqrt(2.0), math.inf),
}


def gauge_length(x):
    d = x["difference"] + x["comparator, random"] + x["comparator, systematic"]
    warm = x["expansion difference"] * (x["mean temperature"] + x["cycle"])
    length = x["standard"] + d - x["standard"] * (warm + x["expansion"] * x["temperature difference"])
    return {"length": length}


@pytest.fixture(scope="module")
def gauge():
    inputs = {name: value for name, (value, _, _) in GAUGE.items()}
    sources = [Source(name, {name: u}, dof=dof) for name, (_, u, dof) in GAUGE.items()]
    return propagate(gauge_length, inputs, sources)["length"]


def test_h1_end_gauge(gauge):
    """JCGM 100 H.1: 50 000 838 nm, u 32 nm, effective degrees of freedom 16.75 (there rounded down to 16)."""
    assert gauge.value[0] == pytest.approx(50_000_838, abs=0.5)
    assert gauge.standard_uncertainty[0] == pytest.approx(32, abs=0.5)
    assert math.floor(gauge.degrees_of_freedom[0]) == 16
    assert gauge.degrees_of_freedom[0] == pytest.approx(16.75, abs=5e-3)


def test_h1_components(gauge):
    """GTC documentation, example H1: components in nm, the last three exactly 0."""
    printed = {
        "standard": (25, 0.5),
        "temperature difference": (16.599, 5e-4),
        "comparator, systematic": (6.7, 0.05),
        "difference": (5.8, 0.05),
        "comparator, random": (3.9, 0.05),
        "expansion difference": (2.88679, 5e-6),
        "expansion": (0, 0),
        "mean temperature": (0, 0),
        "cycle": (0, 0),
    }
    for source, contribution in zip(gauge.sources, gauge.contributions[:, 0], strict=True):
        component, half_digit = printed[source.name]
        assert abs(contribution) == pytest.approx(component, abs=half_digit), source.name
    shares = budget(gauge.contributions, gauge.sources)
    assert list(shares)[:2] == ["standard", "temperature difference"]
    assert sum(shares.values()) == pytest.approx(1.0, rel=1e-15)


def test_h1_as_gtc_computes_it(gauge):
    x = {name: GTC.ureal(value, u, dof) for name, (value, u, dof) in GAUGE.items()}
    length = gauge_length(x)["length"]
    assert gauge.value[0] == pytest.approx(length.x, rel=1e-15)
    assert gauge.standard_uncertainty[0] == pytest.approx(length.u, rel=1e-12)
    assert gauge.degrees_of_freedom[0] == pytest.approx(length.df, rel=1e-12)


VOLTS = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
AMPERES = np.array([19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3])
RADIANS = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def impedance(x):
    z = x["V"] / x["I"]
    return {"R": z * np.cos(x["phi"]), "X": z * np.sin(x["phi"]), "Z": z}


def five_sets():
    """Means, their standard uncertainties and the correlations, of V, I and phi."""
    data = dict(zip(("V", "I", "phi"), (VOLTS, AMPERES, RADIANS), strict=True))
    means = {name: column.mean() for name, column in data.items()}
    u = {name: column.std(ddof=1) / math.sqrt(5) for name, column in data.items()}
    return means, u, np.corrcoef(list(data.values()))


def correlated(u, r):
    """Independent sources that move the inputs together, from standard uncertainties and correlations."""
    names = list(u)
    spread = np.diag([u[name] for name in names])
    factor = np.linalg.cholesky(spread @ np.array(r) @ spread)
    return [Source(f"e{j}", dict(zip(names, factor[:, j], strict=True))) for j in range(len(names))]


def correlation(a, b):
    return (covariance(a, b) / (a.standard_uncertainty * b.standard_uncertainty))[0]


@pytest.mark.parametrize("given_as", ["five sets", "printed inputs"])
def test_h2_resistance_and_reactance(given_as):
    """JCGM 100 H.2, tables H.2 to H.4: from the five sets, and from the printed means and correlations."""
    if given_as == "five sets":
        means, u, r = five_sets()
        u_r = 0.071  # table H.4, second-hand
    else:
        means = {"V": 4.999, "I": 19.661e-3, "phi": 1.04446}
        u = {"V": 3.2e-3, "I": 9.5e-6, "phi": 7.5e-4}
        r = [[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]]
        u_r = 0.070
    found = propagate(impedance, means, correlated(u, r))
    for name, value, half, uncertainty, u_half in (
        ("R", 127.732, 5e-4, u_r, 5e-4),
        ("X", 219.85, 5e-3, 0.30, 5e-3),
        ("Z", 254.26, 5e-3, 0.24, 5e-3),
    ):
        assert found[name].value[0] == pytest.approx(value, abs=half)
        assert found[name].standard_uncertainty[0] == pytest.approx(uncertainty, abs=u_half), name
    assert correlation(found["R"], found["X"]) == pytest.approx(-0.59, abs=5e-3)
    assert correlation(found["R"], found["Z"]) == pytest.approx(-0.49, abs=5e-3)
    assert correlation(found["X"], found["Z"]) == pytest.approx(0.99, abs=5e-3)


def test_h2_without_correlation_is_wrong():
    """JCGM 100 H.2: neglecting the correlations gives u(R) 0.195 ohm instead of 0.071."""
    means, u, _ = five_sets()
    found = propagate(impedance, means, correlated(u, np.eye(3)))
    assert found["R"].standard_uncertainty[0] == pytest.approx(0.195, abs=5e-4)


def test_h2_second_approach_is_the_average_of_the_sets():
    """JCGM 100 H.2.4: R, X, Z of every set, then their means; here the scatter is all there is."""
    found = propagate(impedance, {"V": VOLTS, "I": AMPERES, "phi": RADIANS}, [])
    resistance = average([found["R"]])
    assert resistance.value == pytest.approx(127.732, abs=5e-4)
    assert resistance.standard_uncertainty == pytest.approx(0.071, abs=5e-4)  # second-hand
    assert resistance.degrees_of_freedom() == pytest.approx(4.0, rel=1e-8)
    assert budget(resistance.contributions) == {SCATTER: 1.0}


READINGS = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
CORRECTIONS = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)


def line(x):
    t = READINGS - 20.0
    weights = (t - t.mean()) / np.square(t - t.mean()).sum()
    b = [x[f"b{k}"] for k in range(11)]
    slope = sum(w * b_k for w, b_k in zip(weights, b, strict=True))
    intercept = sum(b) / 11 - slope * t.mean()
    return {"intercept": intercept, "slope": slope, "at 30": intercept + slope * 10.0}


def test_h3_calibration_of_a_thermometer():
    """JCGM 100 H.3: -0.1712(29), 0.00218(67), correlation -0.930, correction at 30 degC -0.1494(41) degC."""
    inputs = {f"b{k}": b for k, b in enumerate(CORRECTIONS)}
    fit = line(inputs)
    residuals = CORRECTIONS - fit["intercept"] - fit["slope"] * (READINGS - 20.0)
    s = math.sqrt(np.square(residuals).sum() / 9)
    found = propagate(line, inputs, [Source(name, {name: s}) for name in inputs])
    for name, value, u, half in (
        ("intercept", -0.1712, 0.0029, 5e-5),
        ("slope", 0.00218, 0.00067, 5e-6),
        ("at 30", -0.1494, 0.0041, 5e-5),
    ):
        assert found[name].value[0] == pytest.approx(value, abs=half)
        assert found[name].standard_uncertainty[0] == pytest.approx(u, abs=half)
    assert correlation(found["intercept"], found["slope"]) == pytest.approx(-0.930, abs=5e-4)


def total(x):
    return {"sum": x["x1"] + x["x2"] + x["x3"] + x["x4"]}


def added(shape, u):
    inputs = {f"x{i}": 0.0 for i in range(1, 5)}
    sources = [Source(name, {name: spread}, shape=shape) for name, spread in zip(inputs, u, strict=True)]
    return propagate(total, inputs, sources)["sum"], validate(
        total, inputs, sources, digits=2, seed=9, most_draws=3_000_000
    )["sum"]


# From memory (JCGM 101:2008, 9.2.2, 9.2.3, 9.2.4). First order: 95 % end points u x 1.96.
@pytest.mark.parametrize(
    ("shape", "u", "first_u", "end", "half_digit", "tolerance", "valid"),
    [
        ("normal", [1, 1, 1, 1], 2.0, 3.92, 0.005, 0.05, True),
        ("rectangular", [1, 1, 1, 1], 2.0, 3.88, 0.005, 0.05, True),
        ("rectangular", [1, 1, 1, 10], 10.1, 17.0, 0.05, 0.5, False),
    ],
)
def test_four_inputs_added(shape, u, first_u, end, half_digit, tolerance, valid):
    first, checked = added(shape, u)
    sampling = 0.01 * first_u / 2.0  # a fifth of the tolerance, to which `validate` draws
    assert checked.settled[0]
    assert first.standard_uncertainty[0] == pytest.approx(first_u, abs=0.05)
    assert checked.standard_uncertainty[0] == pytest.approx(first_u, abs=0.05 + sampling)
    assert checked.value[0] == pytest.approx(0.0, abs=sampling)
    assert checked.low[0] == pytest.approx(-end, abs=half_digit + sampling)
    assert checked.high[0] == pytest.approx(end, abs=half_digit + sampling)
    assert checked.tolerance[0] == pytest.approx(tolerance, rel=1e-12)
    assert bool(checked.validated[0]) is valid


def test_four_rectangular_inputs_exactly():
    """The 97.5 % point of the sum of four rectangular inputs of unit variance is 3.8794, by hand: the tail of
    the cubic spline, 4! x 0.025 = (4 - t)^4, the sum being 2 sqrt(3) t - 4 sqrt(3)."""
    t = 4.0 - (24.0 * 0.025) ** 0.25
    exact = 2.0 * ROOT3 * t - 4.0 * ROOT3
    assert exact == pytest.approx(3.8794, abs=5e-5)
    _, checked = added("rectangular", [1, 1, 1, 1])
    assert checked.high[0] == pytest.approx(exact, abs=0.01)
    assert checked.low[0] == pytest.approx(-exact, abs=0.01)


WEIGHT = {  # mg and kg/m3
    "reference": (100_000.000, 0.050, "normal"),
    "added": (1.234, 0.020, "normal"),
    "air": (1.20, 0.10 / ROOT3, "rectangular"),
    "weight density": (8000.0, 1000.0 / ROOT3, "rectangular"),
    "reference density": (8000.0, 50.0 / ROOT3, "rectangular"),
}


def deviation(x):
    buoyancy = (x["air"] - 1.2) * (1.0 / x["weight density"] - 1.0 / x["reference density"])
    return {"deviation": (x["reference"] + x["added"]) * (1.0 + buoyancy) - 100_000.0}


def test_mass_calibration_where_first_order_fails():
    """From memory (JCGM 101:2008, 9.3, table 6): Monte Carlo 1.2341 mg, u 0.0754; first order 1.2340, 0.0539,
    interval 1.1285 to 1.3395; tolerance 0.005, ends 0.0451 and 0.0430 apart (from the shortest interval, here
    nearly the symmetric one): not validated."""
    inputs = {name: value for name, (value, _, _) in WEIGHT.items()}
    sources = [Source(name, {name: u}, shape=shape) for name, (_, u, shape) in WEIGHT.items()]
    first = propagate(deviation, inputs, sources)["deviation"]
    checked = validate(deviation, inputs, sources, seed=93)["deviation"]
    assert first.value[0] == pytest.approx(1.2340, abs=5e-5)
    assert first.standard_uncertainty[0] == pytest.approx(0.0539, abs=5e-5)
    assert first.value[0] - 1.959964 * first.standard_uncertainty[0] == pytest.approx(1.1285, abs=1e-4)
    assert checked.settled[0]
    assert checked.value[0] == pytest.approx(1.2341, abs=1e-3)
    assert checked.standard_uncertainty[0] == pytest.approx(0.0754, abs=1e-3)
    assert checked.tolerance[0] == pytest.approx(0.005, rel=1e-12)
    assert checked.d_low[0] == pytest.approx(0.0451, abs=2e-3)
    assert checked.d_high[0] == pytest.approx(0.0430, abs=2e-3)
    assert not checked.validated[0]
    gtc = deviation({name: GTC.ureal(value, u) for name, (value, u, _) in WEIGHT.items()})["deviation"]
    assert first.standard_uncertainty[0] == pytest.approx(gtc.u, rel=1e-12)


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [
        (0.00035, 2, 0.000005),  # JCGM 101:2008, 7.9.2, example 1, from memory: g
        (0.00035, 1, 0.00005),
        (2.0, 1, 0.5),  # example 2, from memory: K
        (0.0539, 1, 0.005),
        (10.1, 2, 0.5),
        (0.996, 2, 0.05),  # 1.0, by the definition
        (0.96, 1, 0.5),
        (9.4, 1, 0.5),
        (0.00085, 1, 0.00005),
    ],
)
def test_numerical_tolerance(u, digits, tolerance):
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance, rel=1e-12)
