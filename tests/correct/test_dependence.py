"""What an answer depends on: doubts and exclusions that would make it another one hold it back."""

from __future__ import annotations

import json
import re

import pytest

from laminate.history.correcting import correct
from tests.messages.wording import says

from .calls import OFF, calibrate, call, swap


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
    doubted, _, tool = words.partition("Only then: ")
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
    thickness, _, bleed = OFF
    swap(
        mast / "part.toml",
        thickness,
        bleed,
        ('average = { min = "56 %", max = "62 %" }\n', ""),
        ('individual = { min = "54 %", max = "64 %" }', 'individual = { max = "64 %" }'),
    )
    before = correct([mast / "batch.toml"]).zones[0].best.changes[0]
    swap(mast / "coupons.csv", ("0.9763", "0.9163"))
    correction = correct([mast / "batch.toml"])
    (zone,) = correction.zones
    assert len(correction.doubts) == 1
    assert "residue mass" in correction.doubts[0]
    assert zone.worth_changing is True
    assert zone.best.changes[0].then == pytest.approx(before.then, rel=1e-9)
    assert says("correct: a doubt beside the advice", first_words(capsys, mast))


def test_an_exclusion_that_decides_holds_the_answer_back_until_it_is_approved(mast, capsys):
    """Only the thickest coupon counts: with the others the part lies near its middle."""
    swap(mast / "part.toml", *OFF)
    rows = table(mast)
    for row, thin in zip(rows[1:], ("2.77", "2.76"), strict=True):
        row |= {name: f"{thin}{i}" for i, name in enumerate(n for n in row if n.startswith("thickness"))}
    for row in rows:
        row["excluded"] = "" if row is rows[0] else "on a ridge"
    write(mast, rows)
    correction = correct([mast / "batch.toml"])
    (zone,) = correction.zones
    assert [(h.kind, h.names) for h in zone.depends_on if h.advice] == [("exclusion", ("0102", "0103"))]
    assert correction.excluded == ("0102: on a ridge", "0103: on a ridge")
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
    assert not any(dependence.kind == "exclusion" for dependence in zone.depends_on)


def test_a_zone_under_rubber_hangs_on_its_doubts_too(mast, capsys):
    swap(mast / "coupons.csv", (",web,", ",skin,"))
    text = (mast / "coupons.csv").read_text("utf-8")
    (mast / "coupons.csv").write_text(re.sub(r"\b2\.8(\d\d)\b", r"28.\1", text), "utf-8")
    (zone,) = correct([mast / "batch.toml"]).rubber
    assert zone.worth_changing is None
    assert [(h.kind, h.names) for h in zone.depends_on] == [("doubt", ("0101", "0102", "0103"))]
    assert says("correct: doubts that decide", first_words(capsys, mast))


def test_sound_coupons_hang_on_nothing(mast):
    correction = correct([mast / "batch.toml"])
    assert correction.zones[0].depends_on == ()
    assert (correction.doubts, correction.excluded) == ((), ())


def without(path, pattern):
    """Take every line out of a file that begins so."""
    text = path.read_text("utf-8")
    less = re.sub(rf"(?m)^{pattern}.*\n", "", text)
    assert less != text
    path.write_text(less, "utf-8")


def depends_on(mast):
    return [(h.kind, h.names, h.advice) for h in correct([mast / "batch.toml"]).zones[0].depends_on]


def test_a_liquid_density_left_out_makes_no_difference_real(mast, capsys):
    """Taken as the cured one, the part looks 0.088 mm thinner than predicted; the gap to have is the same."""
    swap(mast / "part.toml", *OFF)
    without(mast / "part.toml", "liquid_density")
    assert depends_on(mast) == [("left out", ("resin.epoxy.liquid_density",), False)]
    (zone,) = correct([mast / "batch.toml"]).zones
    assert [d.real for d in zone.differences if d.attribute in ("fiber_volume", "thickness")] == [None, None]
    assert zone.worth_changing is True
    assert says("correct: a difference that hangs on a key", first_words(capsys, mast))


def test_a_bleed_limit_left_out_is_asked_for(mast, capsys):
    """Taken as none, no gap would help; the part itself shows that resin bled."""
    before, web, after = (mast / "part.toml").read_text("utf-8").partition("[zone.web]")
    (mast / "part.toml").write_text(
        before + web + re.sub(r"(?m)^bleed_limit.*\n", "", after, count=1), "utf-8"
    )
    assert ("left out", ("zone.web.bleed_limit",), True) in depends_on(mast)
    assert correct([mast / "batch.toml"]).zones[0].worth_changing is None
    assert says("correct: a bleed limit left out", first_words(capsys, mast))


def test_blanks_left_out_are_asked_for_where_usual_ones_change_the_answer(mast):
    """Without them fiber volume lies 1.2 % off its middle, more than its ±; usual ones explain it."""
    limits = ('average = { min = "56 %", max = "62 %" }', 'average = { min = "56.8 %", max = "62.8 %" }')
    swap(mast / "part.toml", limits, OFF[2])
    text = (mast / "batch.toml").read_text("utf-8")
    begin = text.index("[blank]")
    rest = text[begin + 1 :]
    end = rest.index("\n[") if "\n[" in rest else len(rest)
    (mast / "batch.toml").write_text(text[:begin] + rest[end:], "utf-8")
    assert depends_on(mast) == [("left out", ("blank.residue_share, blank.fiber_loss",), True)]


def test_a_spread_left_out_makes_no_difference_real(mast):
    """Thicker by 0.05 mm: more than the ± of a gap without ±, and less than its usual one."""
    swap(mast / "part.toml", ('gap = "2.95 mm ± 0.03 (tolerance)"', 'gap = "2.91 mm"'))
    (zone,) = correct([mast / "batch.toml"]).zones
    assert [h.kind for h in zone.depends_on] == ["left out"]
    assert any("gap" in name for name in zone.depends_on[0].names)
    assert None in {d.real for d in zone.differences}


def test_what_may_lie_outside_its_limits_under_rubber_gets_no_changes_to_make(mast, capsys):
    """Thickness known to 0.2 mm alone: no row that answers a change with yes."""
    swap(mast / "coupons.csv", (",web,", ",skin,"))
    assert "bleed from" in call(capsys, mast / "batch.toml", "--why")[1]
    calibrate(mast / "batch.toml", "0.2 mm (k=2)")
    (zone,) = correct([mast / "batch.toml"]).rubber
    assert zone.worth_changing is None
    assert "bleed from" not in call(capsys, mast / "batch.toml", "--why")[1]
