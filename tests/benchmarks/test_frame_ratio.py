"""How dear `measure_frame` is beside the bare evaluations that it needs, as a ratio within one run."""

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd

import laminate as lam

_found = importlib.util.spec_from_file_location(
    "propagation", Path(__file__).with_name("test_propagation_ratio.py")
)
propagation = importlib.util.module_from_spec(_found)
_found.loader.exec_module(propagation)
bare, coupons, seconds = propagation.bare, propagation.coupons, propagation.seconds

ROWS = 100_000


def test_a_frame_costs_a_few_times_its_bare_evaluations(benchmark):
    x = coupons(ROWS)
    columns = {"mass in air": "air", "mass in liquid": "liquid", "crucible mass": "crucible"}
    columns |= {"crucible with specimen": "with specimen", "crucible with residue": "with residue"}
    frame = pd.DataFrame({f"{name} [g]": 1e3 * np.asarray(x[key]) for name, key in columns.items()})
    frame = frame.assign(specimen=[str(i) for i in range(ROWS)], method="digestion")
    given = {
        "fiber_density": "1.79 g/cm^3 ± 0.01", "resin_density": "1.30 g/cm^3 ± 0.01",
        "liquid_density": "0.99754 g/cm^3 ± 0.0001", "residue_share": "0.2 % ± 0.1",
        "fiber_loss": "0.4 % ± 0.2",
        "balance": "0.1 mg (standard)", "balance_calibration": "0.1 mg (standard)",
    }  # fmt: skip
    given = {name: f"{text} (k=2)" if "±" in text else text for name, text in given.items()}
    ours = min(seconds(lambda: lam.measure_frame(frame, **given)) for _ in range(3))
    least = min(seconds(bare, x) for _ in range(3))
    benchmark.pedantic(lam.measure_frame, (frame,), given, rounds=2)
    benchmark.extra_info["measure_frame / bare evaluations"] = round(ours / least, 1)
    assert ours / least < 60
