"""A table as a shop would have it, and its answer by columns beside that coupon by coupon."""

import csv
import io
import json
import math
from contextlib import redirect_stdout

import numpy as np

from laminate.cli.app import status
from laminate.front import measuring

OPTIONS = [
    "--fiber-density=1.79 g/cm^3 ± 0.01 (k=2)", "--resin-density=1.28 g/cm^3 ± 0.012 (k=2)",
    "--fiber-areal-weight=150 g/m^2 ± 2 (k=2)", "--balance=0.1 mg (standard)",
    "--thermometer=0.1 K (standard)",
    "--micrometer=0.002 mm (standard)", "--residue-share=0.2 % ± 0.1 (standard)",
]  # fmt: skip
IMMERSED, LOST, SIZED = ("mass in air", "mass in liquid"), ("specimen mass", "residue mass"), "thickness"
COUNT = 320


def table(
    path,
    *,
    seed=1,
    slips=0,
    kinds=("digit",),
    repeats=3,
    zones=(),
    left_out=(),
    plies=(20,),
    methods=("digestion",),
    extra=None,
    empty=None,
    rows=(),
):
    """Coupons as a shop would have them, invented.

    slips: rows with one cell written wrongly; empty: column -> every how many rows its cell is empty; rows:
    more of them, by column.
    """
    generator = np.random.default_rng(seed)
    mass, density, content, thickness = (
        middle * (1 + share * generator.standard_normal(COUNT))
        for middle, share in ((1.44, 0.02), (1.549, 0.0015), (0.677, 0.002), (2.87, 0.002))
    )
    columns = {"specimen": [f"S{i:04d}" for i in range(1, COUNT + 1)]}
    if zones:
        columns["zone"] = [zones[i % len(zones)] for i in range(COUNT)]
    laid = generator.choice(plies, COUNT) if len(plies) > 1 else np.full(COUNT, plies[0])
    columns["plies"] = [str(one) for one in laid]
    columns["method"] = [methods[i * i % 7 % len(methods)] for i in range(COUNT)]
    thickness = thickness * laid / 20
    masses = {
        "mass in air [g]": mass,
        "mass in liquid [g]": mass * (1 - 0.9975 / density),
        "specimen mass [g]": 0.9999 * mass,
        "residue mass [g]": 0.9999 * mass * content,
    }
    columns |= {name: [f"{value:.4f}" for value in column] for name, column in masses.items()}
    water = 22.8 + 0.1 * generator.standard_normal(COUNT)
    columns["liquid temperature [degC]"] = [f"{value:.1f}" for value in water]
    for i in range(repeats):
        name = "thickness [mm]" if repeats == 1 else f"thickness {i + 1} [mm]"
        columns[name] = [f"{v:.3f}" for v in thickness + 0.002 * generator.standard_normal(COUNT)]
    columns = {name: cells for name, cells in columns.items() if not name.startswith(tuple(left_out))}
    readings = [name for name in columns if "[g]" in name or "[mm]" in name]
    for i in generator.choice(COUNT, slips, replace=False):
        name, kind = generator.choice(readings), generator.choice(kinds)
        cell = columns[name][i]
        at = cell.index(".") + 2 + int(generator.integers(2))
        if kind == "digit":
            cell = f"{cell[:at]}{(int(cell[at]) + 3) % 10}{cell[at + 1 :]}"
        elif kind == "dropped":
            cell = cell[:-1]
        elif kind == "doubled":
            cell += "7"
        elif kind == "copied":
            for one in readings:
                columns[one][i] = columns[one][i - 1]
            continue
        columns[name][i] = cell
    columns |= extra or {}
    for name, every in (empty or {}).items():
        columns[name] = ["" if i % every == 1 else cell for i, cell in enumerate(columns[name])]
    for row in rows:
        for name, cells in columns.items():
            cells.insert(COUNT // 2, row.get(name, ""))
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([columns, *zip(*columns.values(), strict=True)])
    return path


def answers(path, monkeypatch, options=OPTIONS):
    """The answer by columns and the one coupon by coupon; whether columns were used."""
    found, used = [], []
    by_columns = measuring._by_columns
    for way in (by_columns, lambda *_: None):

        def plain(*given, way=way):
            answer = way(*given)
            used.append(answer is not None)
            return answer

        monkeypatch.setattr(measuring, "_by_columns", plain)
        with redirect_stdout(io.StringIO()) as out:
            code = status(["measure", str(path), *options, "--json"])
        found.append((code, json.loads(out.getvalue())))
    monkeypatch.setattr(measuring, "_by_columns", by_columns)
    return *found, used[:1] == [True]


def differences(one, other, path=""):
    """Where two answers differ, keys with their order, numbers by more than 1e-12.

    A least-squares adjustment, and degrees of freedom found from a factor near the normal one, enlarge the
    last digit's rounding of their sums: these numbers by more than 1e-9.
    """
    if isinstance(one, dict) and isinstance(other, dict):
        if list(one) != list(other):
            return [(path, list(one), list(other))]
        return [d for key in one for d in differences(one[key], other[key], f"{path}/{key}")]
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return [(path, len(one), len(other))]
        pairs = enumerate(zip(one, other, strict=True))
        return [d for i, (a, b) in pairs for d in differences(a, b, f"{path}/{i}")]
    if isinstance(one, float) and isinstance(other, float | int):
        near = 1e-9 if "/adjustment/" in path or path.endswith("degrees_of_freedom") else 1e-12
        return [] if math.isclose(one, other, rel_tol=near, abs_tol=near) else [(path, one, other)]
    return [] if one == other else [(path, one, other)]
