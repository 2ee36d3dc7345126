"""How `trend` tells what there is: chances, values without scatter, names, what was not used and why."""

from __future__ import annotations

import json
import re

import pytest

from laminate.cli import app
from laminate.history.points import Key, Series
from laminate.judging.reported import report
from laminate.records.record import seal
from laminate.show.numbers import chance
from laminate.show.trend_words import title
from tests.messages.wording import reads, says

from .shop import Shop

SAME = [[5.0, 5.1], [5.0, 5.1], [5.0, 5.1], [5.0, 5.1], [5.0, 5.1], [5.0, 5.1], [5.0, 5.1]]


@pytest.fixture
def call(shop: Shop, capsys: pytest.CaptureFixture[str]):
    def called(*arguments: str) -> tuple[int, str, str]:
        capsys.readouterr()
        status = app.status(["trend", str(shop.folder), *arguments])
        return status, *capsys.readouterr()

    return called


def test_a_chance_is_never_written_in_powers_of_ten():
    for share in (0.0, 1e-9, 0.001, 0.04, 0.0996, 0.1, 0.5, 0.984, 0.9849, 0.99, 0.9951, 0.99951, 1.0):
        number = chance(share).removesuffix(" %").removeprefix("under ").removeprefix("over ")
        assert "e" not in number
        assert abs(float(number) - 100 * share) <= 0.11
        assert 0.0 < float(number) < 100.0


def test_values_that_do_not_scatter_show_no_pattern_and_no_difference(shop: Shop, call):
    """Seven batches alike in two lots, over the moldings of a core: only rounding is left."""
    for number, coupons in enumerate(SAME, 1):
        shop.batch(number, coupons, lot="L1" if number < 4 else "L2")
    status, out, _ = call("--why")
    assert status == 0
    assert says("trend: values that do not scatter show", out)
    assert says("trend: values that do not scatter show, 2", out)
    assert "a molding" not in out
    assert says("trend: values that do not scatter show, 3", out)
    assert "not pooled" not in out


def test_limits_are_shown_as_they_were_set(shop: Shop, call):
    shop.batches([[5.0, 5.1], [5.2, 5.0], [4.9, 5.0]])
    _, out, _ = call("--why")
    assert "limits [mm]" in out
    assert "  2 to 8  " in out


def test_an_unknown_part_or_zone_names_those_there_are(shop: Shop, call):
    shop.batches([[5.0], [5.1]])
    status, out, err = call("--part", "P1", "--zone", "wbe")
    assert (status, out) == (2, "")
    assert reads("trend: an unknown part or zone names those", err)
    assert call("--part", "P-1", "--zone", "web")[0] == 0


def test_what_is_not_used_is_told_with_the_reason(shop: Shop, call):
    shop.batch(1, [5.0])
    path = shop.folder / "26-001" / "record.json"
    path.write_bytes(path.read_bytes().replace(b"2026-01-01", b"2026-01-09", 1))
    assert says("trend: what is not used is told", call()[1])
    shop.batch(1, [5.0])
    shop.batch(1, [5.4], where="again")
    out = call()[1]
    assert says("trend: what is not used is told, 2", out)
    assert says("trend: what is not used is told, 3", out)


def test_batches_that_do_not_conform_are_told_first(shop: Shop, call):
    """Limits 2 to 8 mm; the last batch does not say how long its lot was out, so it is undecided."""
    shop.batches([[5.0], [9.0], [9.1], [5.1]])
    path = shop.folder / "26-004" / "batch.toml"
    path.write_text(path.read_text("utf-8").replace('out_time = "1 d"\n', ""), "utf-8")
    (path.parent / "record.json").write_bytes(seal(report(path)))
    status, out, _ = call()
    assert status == 0
    assert says("trend: batches that do not conform", out.splitlines()[0])
    assert says("trend: batches that do not conform, of a series", out)
    assert says("trend: batches that do not conform, by name", out)
    status, whole, _ = call("--why")
    assert (status, whole.splitlines()[0]) == (0, out.splitlines()[0])
    assert len(re.findall(r"the batch( +|$)", whole, re.MULTILINE)) == 3
    status, out, _ = call("--json")
    answer = json.loads(out)
    assert (status, answer["do_not_conform"], answer["undecided"]) == (0, ["26-002", "26-003"], ["26-004"])
    assert answer["all_verify"]
    assert says("trend: batches that do not conform", answer["text"])


def test_limits_of_few_batches_are_not_shown_at_a_glance(shop: Shop, call):
    shop.batches([[5.0], [5.1], [5.05]])
    (row,) = re.findall(r"^laminate thickness, zone web  .*$", call()[1], re.MULTILINE)
    assert re.split(r"  +", row)[2] == "–"
    assert says("trend: provisional limits", call("--why")[1])


def test_batches_of_other_parts_do_not_count(shop: Shop, call):
    shop.batches([[5.0], [5.1]])
    Shop(shop.folder, part="P-2").batch(7, [9.0])
    assert "26-007" in call()[1]
    assert "26-007" not in call("--part", "P-1")[1]


def test_a_batch_without_date_is_told_first(shop: Shop, call):
    shop.batches([[5.0], [5.1]])
    shop.batch(9, [9.0], molded="")
    status, out, _ = call()
    assert status == 0
    assert says("trend: a batch without date is not used", out)
    assert out.splitlines()[0] == call("--why")[1].splitlines()[0]
    assert says("trend: not every record is used", out.splitlines()[0])
    assert out.count("26-009") == 2
    _, out, _ = call("--json")
    record = json.loads(out)["records"][2]
    assert (record["status"], len(record["reasons"])) == ("without date", 1)


def test_a_prepreg_is_named_in_words():
    series = Series(Key("P-1", "prepreg.ud150.resin_content", None, "%", "lot"))
    assert reads("trend: a prepreg is named in words", title(series, with_part=False))


def test_a_screen_is_enough_without_the_reasons(shop: Shop, call, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    shop.batches([[5.0 + 0.01 * n, 5.02] for n in range(14)])
    _, out, _ = call()
    lines = out.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert "laminate thickness, zone web" in lines[0]
    assert any(line.startswith("laminate thickness, zone web: 14 batches") for line in lines)
    _, whole, _ = call("--why")
    assert len(whole.splitlines()) > len(lines)
