"""What an answer hangs on: doubts and exclusions that would make it another one hold it back."""

from __future__ import annotations

import json
import re

import pytest

from laminate.history.correcting import correct
from tests.messages.wording import says

from .calls import call, swap


def table(mast):
    """The coupon table, as rows of cells with their headings."""
    head, *rows = (line.split(",") for line in (mast / "coupons.csv").read_text("utf-8").splitlines())
    return [dict(zip(head, row, strict=True)) for row in rows]


def write(mast, rows):
    lines = [",".join(rows[0]), *(",".join(row.values()) for row in rows)]
    (mast / "coupons.csv").write_text("\n".join(lines) + "\n", "utf-8")


def first_words(capsys, mast):
    status, out, err = call(capsys, mast / "batch.toml")
    assert (status, err) == (0, "")
    return " ".join(out.split("\n\n")[0].split())


def test_coupons_in_doubt_that_are_all_there_are_hold_the_answer_back(mast, capsys):
    """Every thickness with its point moved: the doubts come first, and the tool only if they are right."""
    text = (mast / "coupons.csv").read_text("utf-8")
    (mast / "coupons.csv").write_text(re.sub(r"\b2\.8(\d\d)\b", r"28.\1", text), "utf-8")
    words = first_words(capsys, mast)
    doubted, _, tool = words.partition("If they are right: ")
    assert says("correct: doubts that decide", doubted)
    assert says("correct: a part thicker than the hot gap, 2", tool)
    answer = json.loads(call(capsys, mast / "batch.toml", "--json")[1])
    (zone,) = answer["zones"]
    assert zone["worth_changing"] is None
    assert zone["hangs_on"] == [{"kind": "doubt", "names": ["0101", "0102", "0103"], "advice": True}]
    assert {d["means_something"] for d in zone["differences"]} == {None}
    assert any("row 2" in doubt for doubt in answer["doubts"])


def test_a_doubt_that_decides_nothing_is_told_beside_the_advice(mast, capsys):
    """One digit of a residue wrong: fiber volume is in doubt, and the gap is asked for by thickness."""
    before = correct([mast / "batch.toml"]).zones[0].best.changes[0]
    swap(mast / "coupons.csv", ("0.9763", "0.9163"))
    correction = correct([mast / "batch.toml"])
    (zone,) = correction.zones
    assert len(correction.asides.doubts) == 1
    assert "residue mass" in correction.asides.doubts[0]
    assert zone.worth_changing is True
    assert zone.best.changes[0].then == pytest.approx(before.then, rel=1e-9)
    assert says("correct: a doubt beside the advice", first_words(capsys, mast))


def test_an_exclusion_that_decides_holds_the_answer_back_until_it_is_approved(mast, capsys):
    """Only the thickest coupon counts: with the others the part lies near its middle."""
    rows = table(mast)
    for row, thin in zip(rows[1:], ("2.83", "2.82"), strict=True):
        row |= {name: f"{thin}{i}" for i, name in enumerate(n for n in row if n.startswith("thickness"))}
    for row in rows:
        row["excluded"] = "" if row is rows[0] else "on a ridge"
    write(mast, rows)
    correction = correct([mast / "batch.toml"])
    (zone,) = correction.zones
    assert [(h.kind, h.names) for h in zone.hinges if h.advice] == [("exclusion", ("0102", "0103"))]
    assert correction.asides.excluded == ("0102: on a ridge", "0103: on a ridge")
    words = first_words(capsys, mast)
    assert says("correct: exclusions that decide", words)
    assert says("correct: an exclusion beside the answer", words)
    approved = "".join(
        f'\n[[exclusion]]\nspecimen = "{name}"\ncause = "a ridge of the tool"\napproved_by = "AB"\n'
        'number = "N-1"\ndate = 2026-11-28\n'
        for name in ("0102", "0103")
    )
    with (mast / "batch.toml").open("a", encoding="utf-8") as file:
        file.write(approved)
    (zone,) = correct([mast / "batch.toml"]).zones
    assert not any(hinge.kind == "exclusion" for hinge in zone.hinges)


def test_a_zone_under_rubber_hangs_on_its_doubts_too(mast, capsys):
    swap(mast / "coupons.csv", (",web,", ",skin,"))
    text = (mast / "coupons.csv").read_text("utf-8")
    (mast / "coupons.csv").write_text(re.sub(r"\b2\.8(\d\d)\b", r"28.\1", text), "utf-8")
    (zone,) = correct([mast / "batch.toml"]).rubber
    assert zone.worth_changing is None
    assert [(h.kind, h.names) for h in zone.hinges] == [("doubt", ("0101", "0102", "0103"))]
    assert says("correct: doubts that decide", first_words(capsys, mast))


def test_sound_coupons_hang_on_nothing(mast):
    correction = correct([mast / "batch.toml"])
    assert correction.zones[0].hinges == ()
    assert (correction.asides.doubts, correction.asides.excluded) == ((), ())
