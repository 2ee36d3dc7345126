"""`laminate correct` as it is called, and its answers where one can be had by hand."""

from __future__ import annotations

import json
import re
import shutil

import numpy as np
import pytest

from laminate.history.correcting import correct
from laminate.values.problems import Refused
from tests.messages.wording import begins, reads, says

from .calls import calibrate, call, swap


def test_the_worked_example(mast, capsys):
    """The predicted values are those of the part file's independent arithmetic: 58.7 to 59.0 %, 2.856 mm."""
    status, out, err = call(capsys, mast / "batch.toml", "--json")
    assert (status, err) == (0, "")
    answer = json.loads(out)
    assert answer["format"] == 1
    assert reads("correct: the worked example", answer["difference_is"])
    (zone,) = answer["zones"]
    assert (zone["zone"], zone["plies"]) == ("web", 20)
    found = {one["attribute"]: one for one in zone["differences"]}
    thickness = found["thickness"]
    assert thickness["predicted"]["value"] == pytest.approx(2.856, abs=0.001)
    difference = thickness["predicted"]["value"] - thickness["achieved"]["value"]
    assert thickness["difference"]["value"] == pytest.approx(difference, abs=1e-12)
    assert not any(one["means_something"] for one in zone["differences"])
    assert "decides" in zone["proposal"]
    assert {one["attribute"] for one in zone["centre"]} == {"fiber_volume", "thickness"}
    assert [count["plies"] for count in zone["counts"]] == [18, 19, 20, 21, 22]
    assert [count["verdict"] for count in zone["counts"]] == [
        "too few",
        "too few",
        "fits",
        "too many",
        "too many",
    ]


def test_in_words(mast, capsys):
    status, out, err = call(capsys, mast / "batch.toml")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert reads("correct: in words", lines[1])
    assert begins("correct: in words, 2", lines[0])
    assert says("correct: in words, 3", out)
    assert says("correct: in words, 4", out)
    assert says("correct: ply counts in the gap", call(capsys, mast / "batch.toml", "--why")[1])


def test_us_units(mast, capsys):
    _, out, _ = call(capsys, mast / "batch.toml", "--units", "us")
    # 2.8567 mm / 25.4
    assert re.search(r"^laminate thickness \[in\] +0\.1124?\d* ", out, re.MULTILINE)
    assert " mm" not in out


def test_the_gap_for_the_middle_of_thickness_by_hand(mast):
    """The plate shrinks from gap to cold by a fixed share of its resin alone, so thickness goes with the gap.

    Cured resin fills rho_rl/rho_r of what it filled liquid: dh/dgap = 1.12/1.22, times the tool's growth.
    """
    (zone,) = correct([mast / "batch.toml"]).zones
    one = next(c for c in zone.centring.aims if c.aim.attribute == "thickness")
    (gap,) = one.changes
    slope = 1.12 / 1.22 * (1 + 23.6e-6 * 97)
    assert gap.change == pytest.approx((2.85e-3 - one.now.value) / slope, rel=1e-9)
    assert gap.u == pytest.approx(one.now.u / slope, rel=0.02)


def test_both_middles_that_no_gap_can_reach(mast):
    """Limits that ask for more fiber in more thickness than 20 plies hold."""
    swap(mast / "part.toml", ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.80 mm", max = "3.00 mm"'))
    (zone,) = correct([mast / "batch.toml"]).zones
    found = zone.centring
    assert found.cannot_both
    volume, thickness = found.aims
    assert found.between is not None
    then = found.between.then
    off = [one.aim.off(then[one.aim.attribute]) for one in (volume, thickness)]
    assert abs(off[0]) == pytest.approx(abs(off[1]), rel=1e-6)
    ends = sorted(one.changes[0].then for one in (volume, thickness))
    assert ends[0] < found.between.changes[0].then < ends[1]


def test_a_middle_that_no_gap_can_reach(mast, capsys):
    """61 % of fiber in 20 plies would take more bleed than there is."""
    limits = ('average = { min = "56 %", max = "62 %" }', 'average = { min = "58 %", max = "64 %" }')
    swap(mast / "part.toml", limits)
    _, out, _ = call(capsys, mast / "batch.toml")
    assert says("correct: a middle that no gap can reach", out)
    assert says("correct: a middle that no gap can reach, 2", out)


def test_without_limits_on_both_sides_the_prediction_is_the_aim(mast):
    swap(
        mast / "part.toml",
        ('average = { min = "56 %", max = "62 %" }\n', ""),
        ('individual = { min = "54 %", max = "64 %" }', 'individual = { max = "64 %" }'),
        ('individual = { min = "2.75 mm", max = "2.95 mm" }', 'individual = { max = "2.95 mm" }'),
    )
    (zone,) = correct([mast / "batch.toml"]).zones
    (one,) = zone.centring.aims
    assert (one.aim.attribute, one.aim.words) == ("fiber_volume", "the prediction")
    predicted = zone.differences[0].predicted.mean.value
    assert one.aim.middle == pytest.approx(predicted, rel=1e-12)
    assert one.then["fiber_volume"] == pytest.approx(predicted, rel=1e-9)


def test_counts_that_the_gap_cannot_take_say_why(mast):
    """A limit far above what 20 plies give in any gap they fill."""
    swap(mast / "part.toml", ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.95 mm", max = "3.35 mm"'))
    (zone,) = correct([mast / "batch.toml"]).zones
    one = next(c for c in zone.centring.aims if c.aim.attribute == "thickness")
    assert one.hindrance == "shortfall"
    assert one.changes == ()
    assert one.hot_gap is not None


def test_nominal_material_is_that_of_the_part_file(mast):
    batch, nominal = (
        correct([mast / "batch.toml"], nominal=n).zones[0].centring.aims[1].changes[0] for n in (False, True)
    )
    assert nominal.u > batch.u
    assert nominal.then != batch.then


def test_a_batch_given_twice_and_one_of_another_part(mast, tmp_path, capsys):
    status, out, err = call(capsys, mast / "batch.toml", mast / "batch.toml")
    assert (status, out) == (2, "")
    assert says("correct: a batch given twice and one", err)
    other = tmp_path / "other"
    shutil.copytree(mast, other)
    for name in ("batch.toml", "part.toml"):
        swap(other / name, ("MAST-04", "MAST-05"))
    status, _, err = call(capsys, mast / "batch.toml", other / "batch.toml")
    assert status == 2
    assert "batch.part_number: found part 'MAST-05', expected part 'MAST-04', as in" in err


def test_a_zone_without_its_plies_is_refused(mast):
    swap(mast / "batch.toml", ("plies = { web = 20, skin = 20 }\n", ""))
    with pytest.raises(Refused) as refused:
        correct([mast / "batch.toml"])
    assert [problem.place for problem in refused.value.problems] == ["batch.plies.web"]


def test_json_has_no_number_that_is_not_finite(mast, capsys):
    _, out, _ = call(capsys, mast / "batch.toml", "--json")

    def walk(found):
        if isinstance(found, dict):
            return [n for value in found.values() for n in walk(value)]
        if isinstance(found, list):
            return [n for value in found for n in walk(value)]
        return [found] if isinstance(found, float) else []

    numbers = walk(json.loads(out, parse_constant=lambda word: pytest.fail(word)))
    assert len(numbers) > 100
    assert np.isfinite(numbers).all()


def test_the_lots_of_one_batch_are_causes_of_their_own(mast):
    """Half of each lot: each certificate is one cause, in the prediction as in coupons that name a lot."""
    lot = (mast / "batch.toml").read_text("utf-8").partition("[[lot]]")[2].partition("[fiber.carbon]")[0]
    first = lot.replace('number = "L2231"', 'number = "L2231"\nshare = "50 %"')
    second = first.replace("L2231", "L2240").replace("C-0192", "C-0201")
    swap(mast / "batch.toml", (f"[[lot]]{lot}", f"[[lot]]{first}[[lot]]{second}"))
    (zone,) = correct([mast / "batch.toml"]).zones
    volume = next(d for d in zone.differences if d.attribute == "fiber_volume")
    parts = {n: p for n, p in volume.predicted.mean.parts.items() if n.startswith("ud150 areal weight")}
    lots = ["lot L2231, certificate C-0192", "lot L2240, certificate C-0201"]
    assert sorted(name.rpartition("from ")[2] for name in parts) == lots
    one, other = parts.values()
    assert one == pytest.approx(other, rel=1e-9)
    names = [name for name in volume.difference.mean.parts if name.startswith("ud150 areal weight")]
    assert sorted(name.rpartition("from ")[2] for name in names) == lots


def test_a_part_thicker_than_the_hot_gap_is_said_plainly(mast, capsys):
    """Read 0.3 mm thicker, 3.169 mm, the part is 0.212 mm more than the hot gap of 2.957 mm."""
    path = mast / "coupons.csv"
    path.write_text(re.sub(r"\b2\.8(\d\d)\b", r"3.1\1", path.read_text("utf-8")), "utf-8")
    status, out, err = call(capsys, mast / "batch.toml")
    assert (status, err) == (0, "")
    first = out.splitlines()[0]
    assert says("correct: a part thicker than the hot gap", first)
    assert says("correct: a part thicker than the hot gap, 2", first)
    assert says("correct: a part thicker than the hot gap, 3", first)
    assert "To bring" not in out
    assert not says("correct: ply counts in the gap", out)
    (zone,) = correct([mast / "batch.toml"]).zones
    assert zone.misfit.excess == pytest.approx(zone.misfit.actual - 2.95e-3 * (1 + 23.6e-6 * 97), rel=1e-9)


def test_a_part_as_thick_as_predicted_closed(mast):
    assert correct([mast / "batch.toml"]).zones[0].misfit is None


def test_every_spread_on_the_screen_is_expanded(mast, capsys):
    _, out, _ = call(capsys, mast / "batch.toml", "--why")
    (zone,) = correct([mast / "batch.toml"]).zones
    one = next(d for d in zone.differences if d.attribute == "thickness")
    row = next(line for line in out.splitlines() if line.startswith("laminate thickness [mm]"))
    assert float(row.split()[6]) == pytest.approx(1e3 * one.difference.mean.expanded, rel=0.05)
    assert re.search(r"^attribute +predicted +achieved +difference +± \(95 %\)", out, re.MULTILINE)
    assert "(standard)" not in out.split("where the ±")[0]
    assert re.search(r"^input +standard ± +share", out, re.MULTILINE)
    json_one = json.loads(call(capsys, mast / "batch.toml", "--json")[1])["zones"][0]["differences"][1]
    assert json_one["difference"]["standard_uncertainty"] == pytest.approx(1e3 * one.difference.mean.u)


def test_a_fixed_factor_stands_in_the_heading(mast, capsys):
    swap(mast / "part.toml", ('confidence = "95 %"', "coverage_factor = 2"))
    assert "± (k = 2)" in call(capsys, mast / "batch.toml")[1]


def first_words(capsys, *batches):
    status, out, _ = call(capsys, *batches)
    assert status == 0
    return " ".join(out.split("\n\n")[0].split())


def test_a_worse_measurement_turns_nothing_into_no_change_needed(mast, capsys):
    """Thicker than its limit by 0.06 mm: known to 0.3 mm that is no middle."""
    rows = (mast / "coupons.csv").read_text("utf-8")
    thick = re.sub(r"2\.8\d\d", lambda reading: f"{float(reading[0]) + 0.05:.3f}", rows)
    (mast / "coupons.csv").write_text(thick, "utf-8")
    calibrate(mast / "batch.toml", "0.3 mm (k=2)")
    (zone,) = correct([mast / "batch.toml"]).zones
    assert "thickness" in [aim.attribute for aim in zone.open_aims]
    assert (zone.change, zone.worth_changing) == (False, None)
    assert says("correct: what may lie outside its limits", first_words(capsys, mast / "batch.toml"))


def test_a_lone_coupon_is_told_to_have_no_scatter(mast, capsys):
    assert not says("correct: one coupon alone", first_words(capsys, mast / "batch.toml"))
    table = mast / "coupons.csv"
    table.write_text("\n".join(table.read_text("utf-8").splitlines()[:2]) + "\n", "utf-8")
    (zone,) = correct([mast / "batch.toml"]).zones
    assert zone.lone
    assert says("correct: one coupon alone", first_words(capsys, mast / "batch.toml"))


def test_batches_that_contradict_each_other_need_no_change_and_get_none(mast, capsys):
    other = mast.parent / "other"
    shutil.copytree(mast, other)
    swap(other / "batch.toml", ("26-031", "26-032"))
    rows = (other / "coupons.csv").read_text("utf-8")
    thin = re.sub(r"2\.8\d\d", lambda reading: f"{float(reading[0]) - 0.04:.3f}", rows)
    (other / "coupons.csv").write_text(thin, "utf-8")
    (zone,) = correct([mast / "batch.toml", other / "batch.toml"]).zones
    assert (zone.contradict, zone.change, zone.worth_changing) == (True, False, None)
    words = first_words(capsys, mast / "batch.toml", other / "batch.toml")
    assert says("correct: batches that contradict each other", words)


def test_a_limit_on_one_side_is_no_middle_and_is_not_forgotten(mast, capsys):
    """Thicker than the only limit; without limits nothing lies in a middle."""
    part = (mast / "part.toml").read_text("utf-8")
    begin = part.index("[limits.")
    (mast / "part.toml").write_text(part[:begin], "utf-8")
    assert says("correct: no limits with a middle", first_words(capsys, mast / "batch.toml"))
    only = '[limits.thickness.web]\nindividual = { max = "2.80 mm" }\n'
    (mast / "part.toml").write_text(part[:begin] + only, "utf-8")
    (zone,) = correct([mast / "batch.toml"]).zones
    mean = next(d.achieved.mean for d in zone.differences if d.attribute == "thickness")
    ((name, value, half),) = zone.one_sided_excess
    assert (name, value) == ("thickness", mean.value)
    assert 1.9 < half / mean.u < 5.0  # Student's t at 95 %
    assert says("correct: a limit on one side", first_words(capsys, mast / "batch.toml"))
    assert (zone.change, zone.worth_changing) == (False, None)
    _, out, _ = call(capsys, mast / "batch.toml", "--json")
    assert json.loads(out)["zones"][0]["worth_changing"] is None
    (mast / "part.toml").write_text(part[:begin] + only.replace("2.80", "3.20"), "utf-8")
    (zone,) = correct([mast / "batch.toml"]).zones
    assert zone.one_sided_excess == ()


def test_a_change_smaller_than_its_spread_is_none(mast, capsys):
    """Thickness lies 0.05 mm above its middle and fiber volume 1.1 % above its own: no gap serves both."""
    swap(
        mast / "part.toml",
        ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.71 mm", max = "2.93 mm"'),
        ('average = { min = "56 %", max = "62 %" }', 'average = { min = "54.4 %", max = "61 %" }'),
    )
    (zone,) = correct([mast / "batch.toml"]).zones
    assert all(aim.means_something for aim in zone.centring.aims)
    first = zone.best.changes[0]
    assert abs(first.change) < first.expanded
    assert (zone.within, zone.open_aims, zone.worth_changing) == (True, [], False)
    assert says("correct: a change smaller than its ±", first_words(capsys, mast / "batch.toml"))


@pytest.mark.parametrize(
    ("gap", "full"), [("29.5 mm ± 0.03 (tolerance)", 3.066), ("2.95 in ± 0.03 (tolerance)", 3.066)]
)
def test_a_gap_that_its_plies_do_not_fill_is_not_moved(mast, capsys, gap, full):
    """A slip by ten, or of the unit: 20 plies fill a tenth of it, and no change of it can be proposed."""
    before = (mast / "part.toml").read_text("utf-8")
    changed = before.replace('gap = "2.95 mm ± 0.03 (tolerance)"', f'gap = "{gap}"')
    assert changed != before
    (mast / "part.toml").write_text(changed, "utf-8")
    (zone,) = correct([mast / "batch.toml"]).zones
    assert (zone.kind, zone.worth_changing) == ("unfilled", None)
    assert 1e3 * zone.misfit.bound == pytest.approx(full, abs=0.02)
    assert says("correct: a gap that its plies do not fill", first_words(capsys, mast / "batch.toml"))


def test_a_part_thinner_than_its_plies_can_be_pressed_contradicts_them(mast, capsys):
    """200 plies typed for 20."""
    swap(mast / "batch.toml", ("web = 20", "web = 200"))
    (zone,) = correct([mast / "batch.toml"]).zones
    assert (zone.kind, zone.worth_changing) == ("thinner", None)
    assert says("correct: a part thinner than its plies", first_words(capsys, mast / "batch.toml"))
