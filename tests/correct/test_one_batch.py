"""What one batch tells of the next: how batches scatter it does not, so what is stated counts for it."""

from __future__ import annotations

import json
import re
import shutil

import pytest

from laminate.history.correcting import correct
from tests.messages.wording import says

from .calls import OFF, call, swap
from .test_rubber import rubber


def read_thicker(mast, by):
    """Every thickness of the coupon table, thicker by so much [mm]."""
    rows = (mast / "coupons.csv").read_text("utf-8")
    thick = re.sub(r"\b2\.8\d\d\b", lambda reading: f"{float(reading[0]) + by:.3f}", rows)
    (mast / "coupons.csv").write_text(thick, "utf-8")


def of_thickness(mast, *others):
    """The answer for the web, its comparison and its aim in thickness."""
    (zone,) = correct([mast / "batch.toml", *others]).zones
    difference = next(d for d in zone.differences if d.attribute == "thickness")
    return zone, difference, next(aim for aim in zone.centring.aims if aim.attribute == "thickness")


def another(mast, number, by=0.0):
    """A further batch of the part, its readings its own, thicker by so much [mm]."""
    other = mast.parent / f"other-{number}"
    shutil.copytree(mast, other)
    swap(other / "batch.toml", ("26-031", f"26-{number:03}"))
    rows = (other / "coupons.csv").read_text("utf-8")
    mass = re.compile(r"\b([12]\.\d{3})(\d)\b")
    rows = mass.sub(lambda reading: f"{reading[1]}{(int(reading[2]) + number) % 10}", rows)
    (other / "coupons.csv").write_text(rows, "utf-8")
    read_thicker(other, by)
    return other / "batch.toml"


def lines_of(capsys, *batches):
    status, out, _ = call(capsys, *batches)
    assert status == 0
    return " ".join(out.split())


def test_of_one_batch_what_is_stated_counts_as_scatter(mast):
    """0.019 mm off its middle, the difference ± 0.04 mm: the coupons agree far better than batches may."""
    zone, thickness, aim = of_thickness(mast)
    achieved = thickness.achieved.mean
    assert aim.now.expanded == pytest.approx(thickness.difference.mean.expanded, rel=0.1)
    assert aim.now.u > 3.0 * achieved.u
    assert aim.now.value == pytest.approx(achieved.value, rel=1e-12)
    assert achieved.expanded < abs(aim.away) < aim.now.expanded
    assert (zone.change, zone.worth_changing, zone.from_batches) == (False, False, ("26-031",))


def test_screen_and_json_say_that_one_batch_tells_no_scatter(mast, capsys):
    assert says("correct: one batch tells no scatter", lines_of(capsys, mast / "batch.toml"))
    (zone,) = json.loads(call(capsys, mast / "batch.toml", "--json")[1])["zones"]
    assert (zone["from_batches"], zone["worth_changing"]) == (["26-031"], False)
    for aim in zone["centre"]:
        difference = next(d for d in zone["differences"] if d["attribute"] == aim["attribute"])
        assert aim["off_by_more_than_its_uncertainty"] is False
        of_batches = aim["scatter_between_batches"]["standard_uncertainty"]
        assert 0.5 < of_batches / difference["difference"]["standard_uncertainty"] <= 1.0
        assert aim["now"]["standard_uncertainty"] > of_batches


def test_a_batch_off_by_more_than_batches_may_scatter_gets_its_advice_as_a_guess(mast, capsys):
    """0.069 mm above its middle and 0.06 mm above what is predicted of a smaller gap."""
    swap(mast / "part.toml", ('gap = "2.95 mm', 'gap = "2.89 mm'), *OFF)
    zone, thickness, aim = of_thickness(mast)
    assert thickness.means_something
    assert aim.means_something
    assert (zone.change, zone.worth_changing) == (True, True)
    assert zone.best.changes[0].change < -0.02e-3
    assert says("correct: a guess from one batch", lines_of(capsys, mast / "batch.toml"))


def test_near_its_limits_the_change_is_named_as_a_guess(mast, capsys):
    """0.019 mm off its middle within limits of 0.03 mm: the next may lie outside, and may not."""
    swap(mast / "part.toml", ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.82 mm", max = "2.88 mm"'))
    zone, _, aim = of_thickness(mast)
    assert aim in zone.open_aims
    assert (zone.change, zone.worth_changing) == (False, None)
    words = lines_of(capsys, mast / "batch.toml")
    assert says("correct: what may lie outside its limits", words)
    assert says("correct: the change that one batch near its limits asks for", words)


def test_batches_that_agree_tell_more_of_the_next_than_one(mast, capsys):
    """What is stated counts with 1/sqrt(n) of it; the coupons' own scatter averages out beside it."""
    others = [another(mast, n, by) for n, by in ((32, 0.001), (33, -0.001), (34, 0.0))]
    spreads = []
    for count in (0, 1, 3):
        zone, thickness, aim = of_thickness(mast, *others[:count])
        assert not zone.contradict
        assert len(zone.from_batches) == count + 1
        spreads.append((aim.scatter, aim.now.u, thickness.achieved.mean.u))
    (first, _, _), (second, _, _), (third, _, _) = spreads
    assert [second / first, third / first] == pytest.approx([0.5**0.5, 0.5], rel=0.02)
    assert spreads[0][1] > spreads[1][1] > spreads[2][1]
    words = lines_of(capsys, mast / "batch.toml", *others)
    assert says("correct: batches that agree", words)
    assert not says("correct: one batch tells no scatter", words)


def test_batches_that_scatter_count_what_is_seen(mast):
    others = [another(mast, n, by) for n, by in ((32, 0.04), (33, -0.04), (34, 0.02))]
    zone, thickness, aim = of_thickness(mast, *others)
    assert zone.contradict
    seen = thickness.difference.mean.parts["scatter between batches"]
    assert aim.scatter == pytest.approx(abs(seen), rel=1e-12)


def test_without_the_spread_of_the_gap_no_order_is_bought(mast):
    """0.029 mm off its middle: more than what is stated beside the gap, less than the usual ± of one."""
    read_thicker(mast, 0.01)
    swap(mast / "part.toml", ('gap = "2.95 mm ± 0.03 (tolerance)"', 'gap = "2.95 mm"'))
    zone, _, _ = of_thickness(mast)
    assert [dependence.kind for dependence in zone.depends_on if dependence.advice] == ["left out"]
    assert zone.worth_changing is None


STATED = ("[zone.skin]", '[zone.skin]\nbleed = "3 % ± 2 (tolerance)"')


def test_under_rubber_the_stated_bleed_counts_as_scatter(mast, capsys):
    """2.860 mm, 0.03 mm off its middle: 2 % of bleed are 0.02 x 1.2184 mm of resin, rectangular."""
    off = (2.74, 3.04)
    zone = rubber(mast, 2.860, limits=off, edit=[STATED])
    (aim, now), *_ = zone.aims
    assert (aim.attribute, aim.middle) == ("thickness", pytest.approx(2.89e-3))
    assert zone.run.thickness.u < 5e-6
    assert now.u > 0.02 * 1.2184e-3 / 3**0.5
    assert zone.run.thickness.expanded < abs(now.value - aim.middle) < now.expanded
    assert (zone.change, zone.worth_changing) == (False, False)
    assert not says("correct: a guess under rubber", lines_of(capsys, mast / "batch.toml"))


def test_under_rubber_a_change_from_one_batch_is_a_guess(mast, capsys):
    """Without a stated bleed nothing tells how batches may scatter, and that is said."""
    zone = rubber(mast, 2.860, limits=(2.74, 2.92))
    assert zone.worth_changing is True
    assert zone.able
    assert zone.from_batches == ("26-031",)
    words = lines_of(capsys, mast / "batch.toml")
    assert says("correct: a guess under rubber", words)
    assert says("correct: no stated bleed to tell scatter", words)
