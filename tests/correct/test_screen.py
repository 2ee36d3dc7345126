"""`correct` on one screen: 24 lines between the answers for one zone, 8 more for a further one, 40 in all."""

from __future__ import annotations

import re

import pytest

from laminate.cli import app, tables
from laminate.examples.panel_batches import KEPT

from .calls import call
from .test_rubber import rubber

ONE, MORE, ALL = 24, 8, 40


@pytest.fixture
def narrow(monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 80)


@pytest.fixture(scope="module")
def batches(tmp_path_factory):
    """The 25 batches of the case `panel`."""
    folder = tmp_path_factory.mktemp("panel")
    assert app.status(["example", str(folder), "--case", "panel"]) == 0
    for number in range(101, 126):
        record = folder / KEPT / f"26-{number}" / "record.json"
        assert app.status(["extract", str(record), str(folder / str(number))]) == 0
    return [folder / str(number) / "batch.toml" for number in range(101, 126)]


def lines_between(out, zones=1):
    """Lines between what the first lines say to do, a paragraph a zone, and the same at the end."""
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    end = max(at for at, line in enumerate(lines) if line.startswith("Zone ") and ": " in line)
    first = len(lines) - end  # what to do, as long as at the end
    assert lines[0].startswith("Zone ")
    assert len(lines) <= max(ALL, 2 * first + ONE + MORE * (zones - 1))
    return end - first


@pytest.mark.parametrize("count", [1, 2, 5, 25])
def test_any_number_of_batches_of_one_zone(batches, count, capsys, narrow):
    status, out, _ = call(capsys, *batches[:count])
    assert status == 0
    assert lines_between(out) <= ONE
    assert re.search(r"^fiber volume \[%\] ", out, re.MULTILINE)


@pytest.mark.parametrize("limits", [(2.75, 2.95), (2.85, 3.05)])
def test_two_zones_one_of_them_under_rubber(mast, limits, capsys, narrow):
    rubber(mast, 2.860, limits=limits, edit=[("[zone.skin]", '[zone.skin]\nbleed = "3 % ± 2 (tolerance)"')])
    text = (mast / "coupons.csv").read_text("utf-8")
    assert ",web," in text
    status, out, _ = call(capsys, mast / "batch.toml")
    assert status == 0
    assert len(out.splitlines()) <= ALL
    assert lines_between(out, 2) <= ONE + MORE
    for zone in ("web", "skin"):
        assert re.search(rf"^Zone {zone}, 20 plies: ", out, re.MULTILINE)
    more = re.search(r"See --why: .*?\.", " ".join(out.split()))[0]
    assert re.search(r"\d+ more", more)
    whole = call(capsys, mast / "batch.toml", "--why")[1]
    assert len(whole.splitlines()) > len(out.splitlines())
