"""The case `glass`: every number of its coupons by hand, undecided with five, decided with seven."""

import json
from importlib.resources import as_file, files
from statistics import fmean, stdev

import pytest

from laminate.cli import app

from .by_hand import INCH, OUNCE, POUND, YARD, contents, density, rows_of, thickness, uncertainty

FIBER, RESIN = (pounds * POUND / (INCH / 10) ** 3 for pounds in (0.0921, 0.0434))
BALANCE = ("air", "liquid", "sinker")
T_95_6 = 2.446912  # Student, two-sided 95 %, 6 degrees of freedom (any table)


@pytest.fixture
def folder():
    with as_file(files("laminate.examples") / "glass") as path:
        yield path


def said(capsys, folder, name):
    status = app.status(["report", str(folder / name), "--json"])
    return status, json.loads(capsys.readouterr().out)


def weighed(row, moved=None):
    """Specimen and residue [g], from the crucible empty, full and after burning."""
    columns = {"empty": "mass", "full": "with specimen", "burnt": "with residue"}
    empty, full, burnt = (
        float(row[f"crucible {words} [g]"]) + (moved or {}).get(name, 0.0) for name, words in columns.items()
    )
    return full - empty, burnt - empty


def blanks(rows):
    """Residue share of neat resin and loss of bare fiber, each the mean of two blanks."""
    share = [b / a for a, b in (weighed(r) for r in rows if r["kind"] == "blank resin")]
    loss = [(a - b) / a for a, b in (weighed(r) for r in rows if r["kind"] == "blank fiber")]
    assert (len(share), len(loss)) == (2, 2)
    return fmean(share), fmean(loss), stdev(share) / 2**0.5, stdev(loss) / 2**0.5


def _readings(moved):
    """The readings of the balance in density, each moved by its own and by what all share."""
    return {name: moved.get(name, 0.0) + moved.get("balance", 0.0) for name in BALANCE}


def by_hand(row, share, loss, moved=None):
    moved = moved or {}
    specimen, residue = weighed(row, moved)
    share, loss = share + moved.get("share", 0.0), loss + moved.get("loss", 0.0)
    fiber = (residue - share * specimen) / (1 - loss - share) / specimen
    celsius = (float(row["liquid temperature [degF]"]) - 32) / 1.8
    rho = density(row, celsius, moved={**moved, **_readings(moved)})
    of_fiber, of_resin = FIBER + moved.get("fiber", 0.0), RESIN + moved.get("resin", 0.0)
    return {
        "density": rho,
        "thickness": INCH * thickness(row, "in"),
        **contents(fiber, rho, of_fiber, of_resin),
    }


def test_each_result_of_each_coupon(capsys, folder):
    _, answer = said(capsys, folder, "decided.toml")
    rows = [*rows_of(folder / "coupons.csv"), *rows_of(folder / "more.csv")]
    share, loss, *_ = blanks(rows)
    specimens = {one["specimen"]: one for one in answer["specimens"]}
    measured = [row for row in rows if not row["kind"]]
    assert [row["specimen"] for row in measured] == [f"G{n}" for n in range(1, 8)]
    for row in measured:
        one = specimens[row["specimen"]]
        for name, value in by_hand(row, share, loss).items():
            assert one[name]["value"] == pytest.approx(value, rel=1e-6, abs=1e-5), (row["specimen"], name)


def test_thickness_and_areal_weight_say_the_same_fiber_volume(capsys, folder):
    """Nine plies of 8.88 oz/yd^2."""
    _, answer = said(capsys, folder, "batch.toml")
    (row,) = (r for r in rows_of(folder / "coupons.csv") if r["specimen"] == "G1")
    volume = 100 * 9 * 8.88 * OUNCE / YARD**2 / (1000 * FIBER * INCH * thickness(row, "in"))
    (first,) = (one for one in answer["specimens"] if one["specimen"] == "G1")
    (other,) = (o for o in first["other_methods"] if o["attribute"] == "fiber_volume")
    assert other["value"] == pytest.approx(volume, rel=1e-6)
    assert abs(volume - first["fiber_volume"]["value"]) < 0.3


def test_the_uncertainty_of_one_coupon(capsys, folder):
    """Each input moved by its standard uncertainty, readings rounded to 0.1 mg and 0.1 degF."""
    _, answer = said(capsys, folder, "batch.toml")
    rows = rows_of(folder / "coupons.csv")
    share, loss, u_share, u_loss = blanks(rows)
    step = 1e-4 / 12**0.5  # of a last decimal [g]
    weighing = (1e-4**2 + step**2) ** 0.5
    thermometer = (0.05**2 + (0.2 / 3**0.5) ** 2 + (0.1 / 1.8 / 12**0.5) ** 2) ** 0.5
    standard = {
        "air": weighing, "liquid": weighing, "sinker": weighing, "kelvin": thermometer,
        "balance": 1e-4, "empty": weighing, "full": weighing, "burnt": weighing,
        "share": u_share, "loss": u_loss, "fiber": 0.0002 * POUND / 2.54**3,
        "resin": 0.0002 * POUND / 2.54**3,
    }  # fmt: skip
    (one,) = (s for s in answer["specimens"] if s["specimen"] == "G1")
    for name in ("density", "fiber_volume", "void_content"):
        u = uncertainty(lambda moved, name=name: by_hand(rows[0], share, loss, moved)[name], standard)
        assert one[name]["standard_uncertainty"] == pytest.approx(u, rel=5e-4), name


def test_undecided_with_five_decided_with_seven(capsys, folder):
    status, five = said(capsys, folder, "batch.toml")
    assert (status, five["answer"]) == (1, "undecided")
    average = next(one for one in five["characteristics"] if one["name"] == "fiber_volume")["result"][
        "average"
    ]
    reading = average["readings"][0]
    assert reading["value"] > 49.4 > reading["value"] - reading["expanded_uncertainty"]
    ways = [way["coupons"] for one in five["characteristics"] for way in one["to_decide"] if "coupons" in way]
    assert ways == [7]
    assert {one["specimen"] for one in five["outliers"]} == {"G3"}
    status, seven = said(capsys, folder, "decided.toml")
    assert (status, seven["answer"]) == (0, "conforms")
    reading = next(one for one in seven["characteristics"] if one["name"] == "fiber_volume")["result"][
        "average"
    ]["readings"][0]
    assert reading["value"] - reading["expanded_uncertainty"] > 49.4
    assert {one["specimen"] for one in seven["outliers"]} == {"G3"}


def test_the_average_of_seven(capsys, folder):
    """Mean, scatter and U: scatter over seven with six degrees, the density of glass in all of them."""
    _, answer = said(capsys, folder, "decided.toml")
    rows = [*rows_of(folder / "coupons.csv"), *rows_of(folder / "more.csv")]
    share, loss, u_share, u_loss = blanks(rows)
    coupons = [row for row in rows if not row["kind"]]
    volumes = [by_hand(row, share, loss)["fiber_volume"] for row in coupons]
    mean = answer["zones"][0]["average"]["fiber_volume"]
    assert mean["value"] == pytest.approx(fmean(volumes), rel=1e-6)
    assert mean["standard_deviation"] == pytest.approx(stdev(volumes), rel=1e-5)
    shared = uncertainty(
        lambda moved: fmean(by_hand(row, share, loss, moved)["fiber_volume"] for row in coupons),
        {"fiber": 0.0002 * POUND / 2.54**3, "share": u_share, "loss": u_loss},
    )
    u = (stdev(volumes) ** 2 / 7 + shared**2) ** 0.5
    assert mean["standard_uncertainty"] == pytest.approx(u, rel=0.01)
    residual = max(abs(v - fmean(volumes)) for v in volumes) / stdev(volumes)
    (flag,) = (
        o for o in answer["outliers"] if o["attribute"] == "fiber_volume" and "ignition" in o["method"]
    )
    assert flag["normed_residual"] == pytest.approx(residual, rel=1e-5)
    assert flag["critical"] == pytest.approx(2.02, abs=0.005)  # ASTM E178, 7 values, 5 % two-sided
    assert mean["expanded_uncertainty"] < T_95_6 * u  # some of it has more degrees of freedom


def test_fill_by_hand(capsys, folder):
    """Nine plies of 8.85 oz/yd^2 with 34 % resin and 0.3 % volatiles, in a gap of 0.085 in of steel."""
    status = app.status(["fill", str(folder / "part.toml"), "--draws", "20000", "--json"])
    zone = json.loads(capsys.readouterr().out)["zones"][0]
    assert (status, zone["grade"], zone["use"]) == (0, "use", 9)
    count = next(one for one in zone["counts"] if one["plies"] == 9)
    weight = 8.85 * OUNCE / YARD**2
    resin = weight * 0.34 / (1 - 0.34 - 0.003)
    liquid = 0.0405 * POUND / 2.54**3
    fiber_layer, resin_layer = 9 * weight / FIBER / 1000, 9 * resin / liquid / 1000
    growth = 1 + 12.8e-6 * (248 - 73.4) / 1.8
    bleed = 1 - (0.085 * INCH * growth - fiber_layer) / resin_layer
    assert count["resin_to_bleed"]["value"] == pytest.approx(100 * bleed, abs=0.1)
    cured = fiber_layer + (1 - bleed) * 9 * resin / RESIN / 1000
    assert count["thickness"]["value"] == pytest.approx(cured, abs=0.002)
    assert count["fiber_volume"]["value"] == pytest.approx(100 * fiber_layer / cured, abs=0.05)
