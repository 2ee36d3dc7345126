"""The case `panel`: 25 records written with it, one of them amended, and their control charts by hand."""

import json
from contextlib import redirect_stdout
from io import StringIO
from itertools import pairwise
from statistics import fmean, stdev

import pytest

from laminate.cli import app
from laminate.examples.panel_batches import KEPT, LOTS, MISREAD, NEWEST
from laminate.history.correcting import correct

from .by_hand import contents, density, rows_of, thickness

FIBER, RESIN = 1.786, 1.22
WIRES = 1 - (0.2 / 80) ** 2
SHARE, LOSS = 0.002, 0.004
OF_SINGLES = 3 / 1.128  # individuals chart: three sigma over d2 of two (NIST/SEMATECH e-Handbook 6.3.2.2)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("panel")
    assert app.status(["example", str(path), "--case", "panel"]) == 0
    return path


@pytest.fixture(scope="module")
def amended(folder):
    """The folder with the record of the amended batch beside the others."""
    assert app.status(["report", str(folder / "batch.toml"), "--out", str(folder / KEPT / "amended")]) == 0
    return folder


@pytest.fixture(scope="module")
def charts(amended):
    with redirect_stdout(StringIO()) as said:
        assert app.status(["trend", str(amended / KEPT), "--json"]) == 0
    return json.loads(said.getvalue())


@pytest.fixture(scope="module")
def by_hand(folder):
    """Fiber volume, voids [%] and thickness [mm] of each coupon, by batch, from the cells alone."""
    from importlib.resources import files

    found = {}
    for row in rows_of(files("laminate.examples") / "panel_batches.csv"):
        rho = density(row, float(row["liquid temperature [degC]"]), wires=WIRES)
        specimen, residue = float(row["specimen mass [g]"]), float(row["residue mass [g]"])
        fiber = (residue - SHARE * specimen) / (1 - LOSS - SHARE) / specimen
        one = {**contents(fiber, rho, FIBER, RESIN), "thickness": thickness(row)}
        found.setdefault(row["batch"], []).append(one)
    return found


def test_25_records_of_five_lots(folder, by_hand):
    records = sorted((folder / KEPT).glob("*/record.json"))
    assert [path.parent.name for path in records] == list(by_hand) == [f"26-{101 + n}" for n in range(25)]
    lots = [json.loads(path.read_text("utf-8"))["batch"]["lots"][0]["number"] for path in records]
    assert lots == [lot for lot in LOTS for _ in range(5)]
    assert {len(coupons) for coupons in by_hand.values()} == {3}
    answers = {json.loads(path.read_text("utf-8"))["answer"] for path in records}
    assert answers == {"conforms"}


def test_each_average_by_hand(charts, by_hand):
    assert {one["name"] for one in charts["series"]} == {"fiber_volume", "void_content", "thickness"}
    for series in charts["series"]:
        assert len(series["batches"]) == 25
        for one in series["batches"]:
            value = fmean(coupon[series["name"]] for coupon in by_hand[one["batch"]])
            assert one["value"] == pytest.approx(value, rel=1e-6, abs=1e-6), (one["batch"], series["name"])


def test_each_control_limit_by_hand(charts, by_hand):
    for series in charts["series"]:
        values = [fmean(c[series["name"]] for c in coupons) for coupons in by_hand.values()]
        moving = fmean(abs(b - a) for a, b in pairwise(values))
        chart = series["chart"]
        assert chart["middle"] == pytest.approx(fmean(values), rel=1e-6)
        assert chart["upper_limit"] == pytest.approx(fmean(values) + OF_SINGLES * moving, rel=1e-6)
        assert chart["lower_limit"] == pytest.approx(fmean(values) - OF_SINGLES * moving, rel=1e-6)
        beyond = [
            name
            for name, value in zip(by_hand, values, strict=True)
            if not chart["lower_limit"] <= value <= chart["upper_limit"]
        ]
        signals = [s["first_batch"] for s in chart["signals"] if s["code"] == "beyond-limit"]
        assert beyond == signals == ([] if series["name"] == "void_content" else ["26-119"])


def test_six_batches_fall_in_a_row(charts, by_hand):
    voids = {name: fmean(c["void_content"] for c in coupons) for name, coupons in by_hand.items()}
    falling = [f"26-{n}" for n in range(107, 113)]
    values = [voids[name] for name in falling]
    assert values == sorted(values, reverse=True)
    (signal,) = next(s for s in charts["series"] if s["name"] == "void_content")["chart"]["signals"]
    assert (signal["first_batch"], signal["last_batch"]) == (falling[0], falling[-1])


def test_capability_of_voids_by_hand(charts, by_hand):
    """Batches and lots do not differ, so 75 coupons are pooled: (limit - mean) / 3 s."""
    values = [c["void_content"] for coupons in by_hand.values() for c in coupons]
    (one,) = next(s for s in charts["series"] if s["name"] == "void_content")["capability"]
    assert (one["n"], one["mean"]) == (75, pytest.approx(fmean(values), rel=1e-6))
    assert one["cpk"] == pytest.approx((2.0 - fmean(values)) / (3 * stdev(values)), rel=1e-5)


def test_the_amended_record_stands_for_the_first(charts, amended):
    first = json.loads((amended / KEPT / NEWEST / "record.json").read_text("utf-8"))
    second = json.loads((amended / KEPT / "amended" / "record.json").read_text("utf-8"))
    weights = [
        next(v["stated"] for v in one["values"] if v["input"] == "w245 areal weight")
        for one in (first, second)
    ]
    assert [text.split(" ")[0] for text in weights] == [MISREAD[1].split(" ")[0], MISREAD[0].split(" ")[0]]
    files = [one["file"] for one in charts["series"][0]["batches"]]
    assert "amended/record.json" in files
    assert f"{NEWEST}/record.json" not in files
    assert len(charts["records"]) == 26


def test_the_newest_conforms_and_needs_no_change(amended, capsys):
    assert app.status(["report", str(amended / "batch.toml"), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["answer"] == "conforms"
    assert answer["replaces"]["record"] != ""
    assert app.status(["correct", str(amended / "batch.toml"), "--json"]) == 0


def test_no_batch_alone_asks_for_a_change_of_what_came_out_as_predicted(folder, tmp_path):
    """Each of the 25 alone: their scatter is no reason to move the gap, but of the odd one."""
    asking = []
    for number in range(101, 126):
        record = folder / KEPT / f"26-{number}" / "record.json"
        assert app.status(["extract", str(record), str(tmp_path / str(number))]) == 0
        (zone,) = correct([tmp_path / str(number) / "batch.toml"]).zones
        assert zone.from_batches == (f"26-{number}",)
        if zone.change:
            assert any(difference.means_something for difference in zone.differences)
            asking.append(number)
    assert asking == [119]
