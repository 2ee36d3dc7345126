"""How dear the state of the press is: ten counts on 100 000 draws, over bare numpy on the same draws.

A ratio measured in one run on one machine, never an absolute time.
Run alone: `pytest -m benchmark --benchmark-only tests/benchmarks`.
"""

import time
import tomllib
from pathlib import Path

import numpy as np
import pytest

from laminate.files.part import part_of
from laminate.press.press import press_of
from laminate.press.state import State
from laminate.values.input_key import Key

DRAWS = 100_000
COUNTS = range(16, 26)
AIM = 3.0


@pytest.fixture(scope="module")
def press():
    data = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"
    raw = tomllib.loads(data.read_text("utf-8"))
    raw["zone"]["skin"]["bleed"] = "3 % ± 2 (tolerance)"
    return press_of(part_of(raw, "part.toml"), "part.toml")


def whole(press):
    def formula(conditions):
        found = {}
        for count in COUNTS:
            state = State(conditions, {"skin": count})
            found[f"{count} gel"], found[f"{count} worst"] = state.pressure("fore"), state.worst("fore")
        return found

    return press.of_draws(DRAWS, 1).simulate(formula)


def bare(press):
    """The same sources drawn in the same order, and the shortest numpy that gives the same pressures."""
    generator = np.random.default_rng(1)
    x = dict(press.inputs.numbers())
    for source in press.inputs.sources():
        if source.shape == "rectangular":
            z = generator.uniform(-np.sqrt(3.0), np.sqrt(3.0), (DRAWS, 1))
        else:
            z = generator.standard_normal((DRAWS, 1))
        ((name, move),) = source.moves.items()
        x[name] = x[name] + z * move
    found = {}
    for start in range(0, DRAWS, 8192):
        block = slice(start, start + 8192)
        y = {name: value[block, 0] if np.ndim(value) else value for name, value in x.items()}
        y |= {str(name): value for name, value in y.items()}
        for count in COUNTS:
            for name, value in _bare_count(y, count).items():
                found.setdefault(f"{count} {name}", []).append(value)
    return {name: np.concatenate(parts) for name, parts in found.items()}


def _bare_count(y, count):
    areal = y[Key("prepreg", "ud150", "areal_weight")] * (1 + y["skin ud150 ply scatter"] / count**0.5)
    resin = y[Key("prepreg", "ud150", "resin_content")]
    mass = areal / (1 - resin - y[Key("prepreg", "ud150", "volatiles")]) * resin
    f, liquid = (
        count * areal / y[Key("fiber", "carbon", "density")],
        count * mass / y[Key("resin", "epoxy", "liquid_density")],
    )
    end = np.maximum(0, np.minimum(0.15, 1 - f * (1 / 0.68 - 1) / liquid))
    bleed = np.clip(y["skin bleed"], 0, end)
    room, modulus = y["room temperature"], y["core fore bulk modulus"]
    cavity, width, a_t, a_c = (
        y["skin cavity"], y["core fore width"], y["tool expansion"], y["core fore expansion"]
    )  # fmt: skip

    def left(b, g):
        return cavity * g**3 - 2 * (f + (1 - b) * liquid)

    def solve(b, core, g):
        free = width * (1 + a_c * (core - room)) ** 3
        ratio = free / left(b, g)
        return np.where(ratio > 1, modulus / 10 * (np.maximum(ratio, 1) ** 10 - 1), 0)

    g = 1 + a_t * (y["gel temperature"] - room)
    spare = left(bleed, g) - width * (1 + a_c * (y["core fore temperature"] - room)) ** 3
    bleed = np.where(spare > 0, np.maximum(bleed - spare / (2 * liquid), 0), bleed)
    gel = np.where(spare > 0, 0, solve(bleed, y["core fore temperature"], g))
    worst = gel
    for name in ("cure temperature", "maximum temperature"):
        at = np.maximum(y[name], y["core fore temperature"])
        worst = np.maximum(worst, solve(bleed, at, 1 + a_t * (y[name] - room)))
    return {"gel": gel, "worst": worst}


def test_bare_gives_the_same(press):
    one, other = whole(press), bare(press)
    for name, value in other.items():
        np.testing.assert_allclose(one[name], value, rtol=1e-7, atol=50.0)


def test_ratio(press, benchmark):
    ours, theirs = [], []
    for _ in range(5):
        start = time.perf_counter()
        bare(press)
        middle = time.perf_counter()
        whole(press)
        theirs.append(middle - start)
        ours.append(time.perf_counter() - middle)
    benchmark.pedantic(whole, args=(press,), rounds=1)
    ratio = min(ours) / min(theirs)
    benchmark.extra_info["ratio"] = ratio
    assert ratio < AIM
