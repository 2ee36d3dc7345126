"""How dear the chances of `fill` are: ten zones with 100 000 draws each, over bare numpy on the same draws.

A ratio measured in one run on one machine, never an absolute time.
Run alone: `pytest -m benchmark --benchmark-only tests/benchmarks`.
"""

import copy
import time
import tomllib
from pathlib import Path

import numpy as np
import pytest

from laminate.files.part import part_of
from laminate.press.counts import chances, counts_near
from laminate.press.filling import make_case
from laminate.values.input_key import Key

DRAWS, ZONES = 100_000, 10
AIM = 3.0
AREAL, RESIN, VOLATILES = (Key("prepreg", "ud150", q) for q in ("areal_weight", "resin_content", "volatiles"))
FIBER, CURED = Key("fiber", "carbon", "density"), Key("resin", "epoxy", "density")
LIQUID = Key("resin", "epoxy", "liquid_density")


@pytest.fixture(scope="module")
def cases():
    before = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"
    raw = tomllib.loads(before.read_text("utf-8"))
    skin = raw["zone"].pop("skin")
    core = raw["core"].pop("fore") | {"acts_as": "hard", "held": "no", "width": "32.06 mm ± 0.03 (tolerance)"}
    raw["core"] = {f"c{i}": copy.deepcopy(core) for i in range(ZONES)}
    raw["zone"] = {
        f"z{i}": {**skin, "core": f"c{i}", "cavity": f"{38.6 + 0.01 * i:.2f} mm ± 0.03 (tolerance)"}
        for i in range(ZONES)
    }
    raw.pop("plan")
    raw["limits"].pop("thickness")
    part = part_of(raw, "part.toml")
    return [make_case(part, name, "part.toml", None, None) for name in part.zone]


def whole(cases):
    return [chances(case.of_draws(DRAWS, 1), counts_near(case)) for case in cases]


def bare(cases):
    """The same sources drawn in the same order, and the shortest numpy that gives the same four shares."""
    found = []
    for case in cases:
        generator = np.random.default_rng(1)
        x = dict(case.inputs.numbers())
        for source in case.inputs.sources():
            if source.shape == "rectangular":
                z = generator.uniform(-np.sqrt(3.0), np.sqrt(3.0), (DRAWS, 1))
            else:
                z = generator.standard_normal((DRAWS, 1))
            x[source.name] = x[source.name] + z * source.moves[source.name]
        x |= {str(name): value for name, value in x.items()}
        name, (core,) = case.name, case.cores
        rise, core_rise = (
            x["gel temperature"] - x["room temperature"],
            x[f"core {core} temperature"] - x["room temperature"],
        )
        tool = 1 + x["tool expansion"] * rise
        growth = 1 + x[f"core {core} expansion"] * core_rise
        gap = (x[f"{name} cavity"] * tool - x[f"core {core} width"] * growth) / 2
        shares = []
        for n in counts_near(case):
            areal = x[AREAL] * (1 + x[f"{name} ud150 ply scatter"] / np.sqrt(n))
            resin = areal / (1 - x[RESIN] - x[VOLATILES]) * x[RESIN]
            fiber, liquid = (
                n * areal / x[FIBER],
                n * resin / x[LIQUID],
            )
            cured = n * resin / x[CURED]
            fills = fiber + liquid >= gap
            closes = np.maximum(fiber + 0.85 * liquid, fiber / 0.68) <= gap
            bleed = np.clip(
                1 - (gap - fiber) / liquid, 0.0, np.minimum(0.15, 1 - (fiber / 0.68 - fiber) / liquid)
            )
            volume = fiber / (fiber + (1 - bleed) * cured)
            individual = (volume >= 0.54) & (volume <= 0.64)
            average = (volume >= 0.56) & (volume <= 0.62)
            masks = (fills, closes, average, individual, fills & closes & average & individual)
            shares.append([float(np.mean(mask)) for mask in masks])
        found.append(shares)
    return found


def seconds(function, cases):
    start = time.perf_counter()
    function(cases)
    return time.perf_counter() - start


def measured_ratio(cases, times=5):
    """Least time of each, taken in turns, so that whatever else the machine does strikes both."""
    pairs = [(seconds(whole, cases), seconds(bare, cases)) for _ in range(times)]
    return min(pair[0] for pair in pairs) / min(pair[1] for pair in pairs)


def test_fill_over_bare_numpy(benchmark, cases):
    answer, plain = whole(cases), bare(cases)
    for rows, shares in zip(answer, plain, strict=True):
        got = [[c.fills, c.closes, c.within_average, c.within_individual, c.all] for c in rows]
        assert got == pytest.approx(np.array(shares), abs=2e-5)
    benchmark.pedantic(whole, args=(cases,), rounds=3, iterations=1)
    ratio = measured_ratio(cases)
    benchmark.extra_info["ratio to bare numpy"] = round(ratio, 2)
    assert ratio < AIM
