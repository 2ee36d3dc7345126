"""The worked example as it is written, and its arithmetic, done here by hand."""

import csv
import json
import tomllib
from importlib.resources import files

import pytest

from laminate.cli import app
from tests.messages.wording import reads


def test_it_is_written_whole(tmp_path, capsys):
    assert app.status(["example", str(tmp_path / "new" / "try")]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    names = ["batch.toml", "coupons.csv", "part.toml"]
    assert out.splitlines()[:-1] == [str(tmp_path / "new" / "try" / name) for name in names]
    for name in names:
        original = files("laminate.examples") / "mast" / name
        assert (tmp_path / "new" / "try" / name).read_bytes() == original.read_bytes()


def test_in_json(tmp_path, capsys):
    assert app.status(["example", str(tmp_path / "try"), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["format"] == 1
    assert [path.rpartition("/")[2] for path in answer["written"]] == [
        "batch.toml",
        "coupons.csv",
        "part.toml",
    ]


def test_nothing_is_overwritten(tmp_path, capsys):
    (tmp_path / "part.toml").write_text("mine")
    assert app.status(["example", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert reads("cli: nothing is overwritten", err.rstrip("\n"), file=str(tmp_path / "part.toml"))
    assert [path.name for path in tmp_path.iterdir()] == ["part.toml"]
    assert (tmp_path / "part.toml").read_text() == "mine"


def test_a_file_in_the_way_is_said(tmp_path, capsys):
    (tmp_path / "try").write_text("a file")
    assert app.status(["example", str(tmp_path / "try")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"{tmp_path / 'try'}")
    assert err.count("\n") == 1


def water_density(celsius):
    """g/cm^3. Tanaka et al., Metrologia 38 (2001) 301."""
    fall = (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881))
    return 0.999974950 * (1 - fall)


def test_its_coupons_agree_with_its_batch():
    """Immersion (ASTM D792), void content (ASTM D2734), areal weight and thickness (ASTM D3171 method II)."""
    case = files("laminate.examples") / "mast"
    part = tomllib.loads((case / "part.toml").read_text("utf-8"))
    batch = tomllib.loads((case / "batch.toml").read_text("utf-8"))
    assert (batch["batch"]["part_number"], batch["batch"]["part_issue"]) == (
        part["part"]["number"],
        part["part"]["issue"],
    )
    assert batch["core_used"]["fore"]["moldings"] <= part["core"]["fore"]["limit_moldings"]
    rows = list(csv.DictReader((case / "coupons.csv").read_text("utf-8").splitlines()))
    assert [row["position"] for row in rows] == part["plan"]["web"]["positions"]
    assert {row["lot"] for row in rows} == {lot["number"] for lot in batch["lot"]}
    fiber, resin, air = 1.786, 1.22, 0.0012
    for row in rows:
        in_air, in_water = float(row["mass in air [g]"]), float(row["mass in liquid [g]"])
        water = water_density(float(row["liquid temperature [degC]"]))
        density = in_air * (water - air) / ((in_air - in_water) * (1 - (0.2 / 80) ** 2)) + air
        specimen, residue = float(row["specimen mass [g]"]), float(row["residue mass [g]"])
        fiber_content = (residue - 0.002 * specimen) / (1 - 0.004 - 0.002) / specimen
        fiber_volume = fiber_content * density / fiber
        voids = 1 - density * (fiber_content / fiber + (1 - fiber_content) / resin)
        thickness = sum(float(row[f"thickness {i} [mm]"]) for i in (1, 2, 3)) / 3
        assert 0.003 < voids < 0.008
        assert 2.75 < thickness < 2.95
        assert fiber_volume == pytest.approx(int(row["plies"]) * 150.6e-3 / fiber / thickness, abs=0.001)
