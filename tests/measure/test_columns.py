"""A plain table by columns says what the same table says coupon by coupon."""

import csv
import io
import json
import math
from contextlib import redirect_stdout

import numpy as np
import pandas as pd
import pytest

from laminate.cli.app import status
from laminate.coupons import recipes
from laminate.coupons.checks import impossible
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.groups import evaluate
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.mistakes import find_mistakes, told_of
from laminate.coupons.plain_checks import Unlike, maybe_impossible, table_warnings
from laminate.coupons.plain_group import Grouped
from laminate.coupons.table_checks import check_table
from laminate.files.coupons import Coupons, read_coupons
from laminate.files.plain_table import read_plain
from laminate.front import measuring
from laminate.values.units import Spread, Value

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
):
    """Coupons as a shop would have them, invented; slips: rows with one cell written wrongly."""
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
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([columns, *zip(*columns.values(), strict=True)])
    return path


def answers(path, monkeypatch, options=OPTIONS):
    """The answer by columns and the one coupon by coupon; whether columns were used."""
    found, used = [], []
    by_columns = measuring.plain_answer
    for way in (by_columns, lambda *_, **__: None):

        def plain(*given, way=way, **spelled):
            answer = way(*given, **spelled)
            used.append(answer is not None)
            return answer

        monkeypatch.setattr(measuring, "plain_answer", plain)
        with redirect_stdout(io.StringIO()) as out:
            code = status(["measure", str(path), *options, "--json"])
        found.append((code, json.loads(out.getvalue())))
    monkeypatch.setattr(measuring, "plain_answer", by_columns)
    return *found, used[0]


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


SLIPS = ("digit", "dropped", "doubled", "copied")
READ = ("[g]", "[mm]", "[degC]", "plies")
KINDS = {
    "text": lambda frame: frame,
    "string": lambda frame: frame.astype("string"),
    "category": lambda frame: frame.astype({"zone": "category", "specimen": "category"}),
    "float": lambda frame: frame.astype({name: float for name in frame if name.endswith(READ)}),
    "Float64": lambda frame: frame.astype({name: "Float64" for name in frame if name.endswith(READ)}),
}
CASES = {
    "clean": {},
    "one digit wrong": {"slips": 7},
    "every kind of slip": {"slips": 12, "kinds": SLIPS},
    "two zones": {"slips": 10, "kinds": SLIPS, "zones": ("web", "cap")},
    "two repeats": {"slips": 10, "kinds": SLIPS, "repeats": 2},
    "one thickness": {"slips": 6, "kinds": SLIPS, "repeats": 1},
    "no thickness": {"slips": 6, "kinds": SLIPS, "left_out": ("thickness",)},
    "no loss of matrix": {"slips": 6, "left_out": ("residue", "specimen mass", "method")},
    "no plies": {"slips": 6, "left_out": ("plies",)},
    "two methods": {"slips": 10, "kinds": SLIPS, "methods": ("digestion", "ignition")},
    "two counts of plies": {"slips": 10, "kinds": SLIPS, "plies": (20, 24)},
    "both, in three zones": {
        "slips": 10, "kinds": SLIPS, "plies": (20, 24), "methods": ("ignition", "digestion"),
        "zones": ("web", "cap", "web", "rib", "web"),
    },
    "zones of a few": {
        "slips": 12, "kinds": SLIPS, "methods": ("digestion", "ignition"),
        "zones": [f"z{i}" for i in range(30)] + ["web"] * 40,
    },
    "words beside": {"extra": {"operator": ["JM"] * COUNT, "position": ["50 %s"] * COUNT}},
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_columns_say_what_coupon_by_coupon_says(tmp_path, monkeypatch, name):
    path = table(tmp_path / "coupons.csv", **CASES[name])
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert len(by_columns["specimens"]) == COUNT
    assert differences(by_columns, one_by_one) == []


@pytest.mark.parametrize("left", [0, 12])
def test_they_say_it_where_all_rows_but_a_few_do_not_fit(tmp_path, monkeypatch, left):
    """A wrong areal weight makes methods disagree in all, another in all but some."""
    path = table(tmp_path / "coupons.csv", slips=3)
    lines = [line.split(",") for line in path.read_text().splitlines()]
    for at in range(1, left + 1):
        lines[at][8:] = [f"{float(cell) * 165 / 150:.3f}" for cell in lines[at][8:]]
    path.write_text("\n".join(map(",".join, lines)) + "\n")
    options = [option.replace("150 g", "165 g") for option in OPTIONS]
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch, options)
    assert used
    assert code == other == 0
    assert sum(bool(one["warnings"]) for one in by_columns["specimens"]) > COUNT - 3 * left - 1
    assert differences(by_columns, one_by_one) == []


def test_a_screen_says_once_what_all_share_and_names_twenty(tmp_path, capsys):
    path = table(tmp_path / "coupons.csv")
    assert status(["measure", str(path), *(option.replace("150 g", "165 g") for option in OPTIONS)]) == 0
    out = capsys.readouterr().out
    said = " ".join(out.split())
    assert len(out.splitlines()) <= 40
    assert said.count("320 of 320 coupons (S0001, ") == 2
    assert said.count("S0020 and 300 more") == 2
    assert "S0021" not in said


@pytest.mark.parametrize("kind", KINDS)
def test_they_say_it_of_a_dataframe_of_any_columns_at_its_labels(tmp_path, monkeypatch, kind):
    path = table(tmp_path / "coupons.csv", slips=8, kinds=SLIPS, zones=("web", "cap"))
    frame = KINDS[kind](pd.read_csv(path, dtype=str, keep_default_na=False))
    frame.index = [f"run {i}" for i in range(COUNT)]
    options = {k[2:].replace("-", "_"): v for k, _, v in (option.partition("=") for option in OPTIONS)}
    by_columns, used = measuring.plain_answer, []
    monkeypatch.setattr(measuring, "plain_answer", lambda *given: used.append(by_columns(*given)) or used[0])
    whole = measuring.answer_of(frame, options)
    monkeypatch.setattr(measuring, "plain_answer", lambda *_: None)
    assert used[0] is not None
    assert differences(whole, measuring.answer_of(frame, options)) == []
    names = {warning["place"].partition(",")[0] for warning in whole["warnings"]}
    assert len(names) > 3
    assert names == {f"row {frame.index[at]}" for at, one in enumerate(whole["specimens"]) if one["warnings"]}


@pytest.mark.parametrize("seed", range(2, 6))
def test_they_say_it_of_other_tables_too(tmp_path, monkeypatch, seed):
    path = table(tmp_path / "coupons.csv", seed=seed, slips=9, kinds=SLIPS, zones=("a", "b")[: seed % 3])
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert by_columns["warnings"]
    assert differences(by_columns, one_by_one) == []


FEW_DEGREES = "--balance=0.1 mg (standard, dof=5)"


@pytest.mark.parametrize(
    "options",
    [
        OPTIONS[:2],
        [*OPTIONS, "--confidence=99 %"],
        [*OPTIONS[:3], FEW_DEGREES, "--micrometer=0.002 mm (standard)"],
    ],
)
def test_they_say_it_whatever_the_instruments(tmp_path, monkeypatch, options):
    path = table(tmp_path / "coupons.csv", slips=5)
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch, options)
    assert used
    assert code == other == 0
    assert differences(by_columns, one_by_one) == []


def rewritten(path, at, label, text):
    """One cell of a table written otherwise."""
    rows = [line.split(",") for line in path.read_text().splitlines()]
    rows[at][rows[0].index(label)] = text
    path.write_text("\n".join(map(",".join, rows)) + "\n")
    return path


@pytest.mark.parametrize(
    ("label", "text"),
    [
        ("mass in liquid [g]", "1.9000"), ("residue mass [g]", "1.9000"), ("mass in air [g]", "3.1000"),
        ("liquid temperature [degC]", "41.0"), ("thickness 1 [mm]", "1.0"),
        ("plies", "20.0"), ("plies", "21"), ("method", "ignition"),
    ],
)  # fmt: skip
def test_one_odd_cell_is_answered_in_the_same_words(tmp_path, monkeypatch, label, text):
    path = rewritten(table(tmp_path / "coupons.csv"), 100, label, text)
    (code, by_columns), (other, one_by_one), _ = answers(path, monkeypatch)
    assert code == other
    assert differences(by_columns, one_by_one) == []


@pytest.mark.parametrize(
    ("label", "text"),
    [
        ("mass in air [g]", ""), ("mass in air [g]", "1,44"), ("mass in air [g]", "1.4e0"),
        ("mass in air [g]", "nan"), ("specimen", "S0001"), ("specimen", "mean"), ("specimen", "3-Mar"),
        ("method", "burnt"), ("specimen", "Zürich"), ("mass in air [g]", " 1.4400"),
        ("mass in air [g]", "-1.44"), ("mass in air [g]", "200000"),
    ],
)  # fmt: skip
def test_a_table_that_is_not_plain_is_read_as_ever(tmp_path, monkeypatch, label, text):
    path = rewritten(table(tmp_path / "coupons.csv"), 100, label, text)
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used is False
    assert code == other
    assert differences(by_columns, one_by_one) == []


BENCH = Bench(
    {
        "balance": Gauge("balance", Spread(1e-7), Spread(1e-7)),
        "thermometer": Gauge("thermometer", Spread(0.05), Spread(0.1)),
        "micrometer": Gauge("micrometer", Spread(2e-6), Spread(1.5e-6)),
    },
    residue_share=Value(0.002, 0.001),
)
RECIPE = recipes.of_options(Value(1790.0, 5.0), Value(1280.0, 6.0), Value(0.150, 0.001))


@pytest.fixture
def both(tmp_path):
    """A table with every kind of slip as a group, and coupon by coupon."""
    path = table(tmp_path / "coupons.csv", seed=11, slips=40, kinds=SLIPS)
    plain = read_plain(path, "coupons.csv")
    recipe = RECIPE(20)
    group = Grouped(plain, BENCH, [recipe], np.zeros(COUNT, int), "with volatiles")
    group.read({})
    evaluate(group.groups, 0.95)
    read = read_coupons([(path, "coupons.csv")])
    sound = [c for c in read.coupons if not impossible(c, BENCH, recipe)]
    measured = measure(Coupons(tuple(sound), ()), BENCH, lambda _: Made(None, recipe, basis="with volatiles"))
    return group, read.coupons, recipe, measured


def test_a_row_made_when_asked_for_is_the_coupon_as_read(both):
    group, coupons, _, _ = both
    assert [group[at].coupon for at in range(COUNT)] == list(coupons)


def test_the_mask_of_what_cannot_be_has_all_that_is_found(both):
    group, coupons, recipe, _ = both
    found = {at for at, coupon in enumerate(coupons) if impossible(coupon, BENCH, recipe)}
    mask = maybe_impossible(group)
    assert found <= set(np.flatnonzero(mask).tolist())
    assert mask.sum() <= len(found) + 3


def test_the_masks_of_cells_find_what_the_table_checks_find(both):
    group, coupons, _, _ = both
    expected = check_table(coupons, BENCH)
    assert {problem.code for _, problem in expected} >= {"digits-unlike", "rows-alike"}
    assert table_warnings(group) == expected


def test_the_intervals_of_columns_find_the_rows_that_one_by_one_finds(both):
    group, _, _, _ = both
    specimens = group[:]
    assert told_of(Unlike(group)) == find_mistakes(specimens, group.bench)
