"""What cannot be bought: coupons cut for some methods, exclusions, allowances, concessions, statements."""

import json

import pytest

from laminate.files.entries import History, lines_of
from laminate.records.rules import read_record
from laminate.show.signed_words import beside_lines
from tests.messages.wording import reads, says

from . import rows as table
from .rows import rows_of

OPEN, GOOD, BAD = "undecided", "conforms", "does not conform"


def write(shop, rows):
    table.write(shop, rows)
    shop.cut(web=len(rows))


MORE = (
    ("0104", "1.4311", "0.5081", "1.4309", "0.9680", "2.867", "2.869", "2.870"),
    ("0105", "1.4527", "0.5164", "1.4525", "0.9829", "2.868", "2.866", "2.869"),
    ("0106", "1.4389", "0.5111", "1.4387", "0.9737", "2.870", "2.869", "2.868"),
)
NAMES = (
    "specimen", "mass in air [g]", "mass in liquid [g]", "specimen mass [g]", "residue mass [g]",
    "thickness 1 [mm]", "thickness 2 [mm]", "thickness 3 [mm]",
)  # fmt: skip


def more(shop, n=0):
    """One row more, as good as the three of the example."""
    return {**rows_of(shop)[0], **dict(zip(NAMES, MORE[n], strict=True))}


LOSS = ("specimen mass [g]", "residue mass [g]")
THICK = tuple(f"thickness {n} [mm]" for n in (1, 2, 3))


def without(row, *columns, **more):
    return {**row, **dict.fromkeys(columns, ""), **more}


def judged(shop):
    found = shop.json("report", "batch.toml", status=(0, 1))
    return found["answer"], {one["rule"] for one in found["held_back"]}, found


# a coupon without a reading that its plan wants


@pytest.mark.parametrize(
    "column", ["zone", "mass in air [g]", "liquid temperature [degC]", "residue mass [g]"]
)
def test_a_coupon_without_a_reading_that_its_plan_wants_is_incomplete_and_the_others_are_measured(
    shop, column
):
    rows = rows_of(shop)
    write(shop, [rows[0], rows[1], without(rows[2], column)])
    answer, rules, found = judged(shop)
    lacks = f"incomplete: 0103 lacks '{column.partition(' [')[0]}'"
    assert (answer, rules) == (OPEN, {1})
    assert [one["what"] for one in found["held_back"]] == [lacks]
    assert lacks in shop.run("report", "batch.toml").out
    measured = shop.json("measure", "batch.toml")
    assert lacks in measured["notes"]
    assert [row["specimen"] for row in measured["specimens"]] == ["0101", "0102", "0103"]
    assert [row["fiber_volume"] is None for row in measured["specimens"][:2]] == [False, False]
    assert {zone["zone"] for zone in measured["zones"]} == {"web"}
    shop.run("report", "batch.toml", "--out", "kept")
    assert json.loads(shop.read("kept/record.json"))["held_back"] == found["held_back"]


def test_a_coupon_without_zone_is_no_coupon_short_of_those_that_were_cut(shop):
    rows = rows_of(shop)
    write(shop, [rows[0], rows[1], without(rows[2], "zone")])
    shop.cut(web=2)
    assert judged(shop)[:2] == (OPEN, {1})


def test_a_reading_that_no_plan_wants_and_that_says_nothing_alone_is_said(shop):
    rows = rows_of(shop)
    write(shop, [rows[0], rows[1], without(rows[2], "liquid temperature [degC]")])
    shop.change("part.toml", '"immersion", "digestion", "thickness"', '"digestion", "thickness"')
    notes = judged(shop)[2]["notes"]
    assert any("'liquid temperature'" in note and "0103" in note for note in notes)


def test_without_a_plan_a_missing_reading_is_refused(shop):
    rows = rows_of(shop)
    write(shop, [rows[0], rows[1], without(rows[2], "liquid temperature [degC]")])
    shop.unplan()
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["file"]) == ("missing-reading", "coupons.csv")


# a coupon that was cut for some methods


@pytest.mark.parametrize(
    ("only", "found", "hint"),
    [
        ("thicknes", "'thicknes'", "did you mean 'thickness'?"),
        ("thickness; all", "'all'", ""),
        ("point count", "'point count'", ""),  # a method, but not of this plan
    ],
)
def test_only_names_methods_of_the_plan(only, found, hint, shop):
    rows = rows_of(shop)
    write(shop, [without(rows[0], *LOSS, "method", only=only), *rows[1:]])
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["file"], problem["place"], problem["found"]) == (
        "coupons.csv",
        "row 2, column 'only'",
        found,
    )
    assert (problem["hint"], "thickness" in problem["expected"]) == (hint, True)
    (same,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert same == problem


@pytest.mark.parametrize(
    ("empty", "only"),
    [
        ((), "immersion, thickness"),
        (("residue mass [g]",), "immersion, thickness"),
        (LOSS, "thickness, digestion"),
        (LOSS, "immersion"),
    ],
)
def test_only_is_refused_beside_a_reading_of_another_method(empty, only, shop):
    rows = rows_of(shop)
    write(shop, [*rows, without(more(shop), *empty, "method", only=only)])
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    assert {(p["code"], p["place"]) for p in problems} == {("contradicting", "row 5, column 'only'")}


def test_only_is_refused_where_the_history_has_a_reading_of_another_method(shop):
    rows = rows_of(shop)
    extra = without(more(shop), *LOSS, "method", only="immersion, thickness", entry="2")
    write(shop, [{**row, "entry": ""} for row in rows] + [extra])
    history = lines_of(
        History(),
        ("0104", "", ""),
        {"residue mass [g]": ("", "0.9763")},
        who="JM",
        time="2026-11-20T09:00:00Z",
    )
    history = lines_of(
        history, ("0104", "", ""), {"residue mass [g]": ("0.9763", "")}, who="JM",
        time="2026-11-20T09:01:00Z", why="not wanted",
    )  # fmt: skip
    (shop.folder / "coupons.csv.history.jsonl").write_bytes(history.data())
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    assert [p["place"] for p in problems] == ["row 5, column 'only'"]
    (shop.folder / "coupons.csv.history.jsonl").unlink()
    write(shop, [*rows, {k: v for k, v in extra.items() if k != "entry"}])
    assert judged(shop)[:2] == (GOOD, set())


def test_the_others_meet_the_plan_where_one_was_cut_for_some_methods(shop):
    rows = rows_of(shop)
    cut = without(rows[0], *LOSS, "method", only="immersion, thickness")
    write(shop, [cut, *rows[1:]])
    answer, rules, found = judged(shop)
    assert (answer, rules) == (OPEN, set())
    reasons = {one["label"]: one["reason"] for one in found["characteristics"]}
    assert "digestion on 2 of 3 planned" in reasons["void_content.web"]


# excluded rows


CAUSE = """
[[exclusion]]
specimen = "0104"
cause = "crucible cracked"
approved_by = "R. Stone"
number = "NC-031"
date = 2026-11-21
"""


@pytest.mark.parametrize("empty", [LOSS, THICK, ("mass in liquid [g]",)])
def test_an_excluded_row_without_its_cause_is_still_incomplete(empty, shop):
    """Where no limit asks for the reading, too: the plan does."""
    text = shop.read("part.toml")
    start, end = text.index("[limits.thickness.web]"), text.index("[limits.prepreg.ud150")
    shop.write("part.toml", text[:start] + text[end:])
    rows = rows_of(shop)
    write(shop, [*rows, without(more(shop), *empty, excluded="spare")])
    answer, rules, found = judged(shop)
    assert (answer, 1 in rules) == (OPEN, True)
    assert [one["concession"] for one in found["held_back"] if one["rule"] == 1] == [False]
    shop.add("batch.toml", CAUSE)
    assert judged(shop)[:2] == (GOOD, set())


def test_a_cause_of_one_method_covers_that_method(shop):
    rows = rows_of(shop)
    write(shop, [*rows, without(more(shop), *LOSS, *THICK, excluded="cracked")])
    shop.add("batch.toml", CAUSE.replace("cause", 'method = "digestion"\ncause'))
    _, rules, found = judged(shop)
    assert 1 in rules
    assert [one["what"] for one in found["held_back"] if one["rule"] == 1] == [
        "incomplete: 0104 lacks thickness"
    ]


def test_an_excluded_row_cut_for_some_methods_is_computed_by_those(shop):
    """`only` does not make a row without its own reading complete."""
    rows = rows_of(shop)
    gone = without(more(shop), *LOSS, *THICK, "method", only="thickness", excluded="lost")
    write(shop, [*rows, without(gone, "mass in liquid [g]")])
    answer, rules, _ = judged(shop)
    assert (answer, rules) == (OPEN, {1, 3})


# coupons outside that the plan allows


def six(shop, *bad, allowed=1):
    both = [*rows_of(shop), *(more(shop, n) for n in range(3))]
    for at, by in bad:
        both[at] |= {c: f"{float(both[at][c]) + by:.3f}" for c in THICK} | {
            "accepted": "thickness 1: measured again; methods: measured again"
        }
    write(shop, [{"accepted": "", **row} for row in both])
    shop.change("part.toml", "coupons = 3", "coupons = 6")
    shop.change("part.toml", "allowed_outside = 0", f"allowed_outside = {allowed}")


def test_a_coupon_outside_that_the_plan_allows_is_said_everywhere(shop):
    six(shop, (3, 0.12))
    answer, rules, found = judged(shop)
    assert (answer, rules) == (GOOD, set())
    thickness = next(one for one in found["characteristics"] if one["name"] == "thickness")
    for said in (thickness["reason"], found["remarks"][0]):
        assert says("judge: a coupon outside that the plan allows", said)
    screen, page = shop.run("report", "batch.toml", "--html", "page.html").out, shop.read("page.html")
    for text in (screen, page):
        assert says("judge: a coupon outside that the plan allows, 2", text)
    shop.run("report", "batch.toml", "--out", "kept")
    assert json.loads(shop.read("kept/record.json"))["remarks"] == found["remarks"]


def test_one_more_outside_than_the_plan_allows_fails(shop):
    six(shop, (3, 0.12), (4, 0.12))
    assert judged(shop)[0] == BAD


# names of coupons in the result


def test_the_result_names_each_coupon_that_fails_or_is_too_close(shop):
    six(shop, (1, 0.12), (3, 0.13), (4, 0.082), allowed=0)
    out = " ".join(shop.run("report", "batch.toml").out.split())
    assert "outside: 0102, 0104" in out
    assert "too close: 0105" in out


# zones that nobody judges


def test_a_planned_zone_that_no_limit_holds_for_is_told_as_such(shop):
    """Limits of the web alone, and a plan for the skin that nobody measured."""
    text = shop.read("part.toml")
    for name in ("fiber_volume", "void_content"):
        text = text.replace(f"[limits.{name}]", f"[limits.{name}.web]")
    text = text.replace('represented_by = "web"  ', "coupons = 1  ")
    shop.write("part.toml", text)
    found = shop.json("report", "batch.toml", status=(0, 1))
    (skin,) = found["not_judged"]
    assert reads("judge: a planned zone that no limit holds", skin)


# quantities of one vote


@pytest.mark.parametrize(
    ("by", "doubt", "remark"), [(0.02, False, False), (0.035, False, True), (0.4, True, False)]
)
def test_methods_apart_are_remarked_and_beyond_99_9_percent_a_doubt(by, doubt, remark, shop):
    rows = rows_of(shop)
    thick = {c: f"{float(rows[0][c]) + by:.3f}" for c in THICK}
    write(shop, [rows[0] | thick, *rows[1:]])
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "3.95 mm"')
    found = shop.json("report", "batch.toml", status=(0, 1))
    named = [one["say"] for one in found["held_back"] if one["rule"] == 2]
    assert any("0101" in what for what in named) is doubt
    agree = {
        one["agree"] for row in found["specimens"] if row["specimen"] == "0101" for one in row["agreement"]
    }
    assert (False in agree) is (doubt or remark)
    told = [words for words in found["remarks"] if "99.9 %" in words]
    assert bool(told) is remark
    assert all("0101" in words and "0102" not in words for words in told)
    if remark:
        out = shop.run("report", "batch.toml", "--html", "page.html").out
        assert "99.9 %" in " ".join(out.split()[:60])
        assert "99.9 %" in shop.read("page.html")


# retests


INCOMING = '[limits.prepreg.ud150.resin_content]\naverage = { min = "32 %", max = "34 %" }\n'
TEMPLATE = """[instrument.template]
identity = "T-1"
repeatability = "0.01 cm^2 (standard)"
calibration = "0.01 cm^2 (standard)"
calibrated = 2026-05-01
due = 2027-05-01
"""


def retested(shop, count):
    """The third coupon is far too thick, and replaced by so many that are good."""
    rows = rows_of(shop)
    thick = {column: "3.1" + rows[2][column][-2:] for column in THICK}
    again = [
        {**rows[2], **dict(zip(NAMES, MORE[n % 3], strict=True)), "specimen": f"02{n:02d}",
         "mass in air [g]": f"{float(MORE[n % 3][1]) + 1e-4 * n:.4f}", "replaces": "0103", "remark": "again"}
        for n in range(count)
    ]  # fmt: skip
    write(shop, [rows[0], rows[1], {**rows[2], **thick}, *again])


def test_a_retest_that_the_plan_does_not_allow_is_an_exclusion(shop):
    retested(shop, 2)
    answer, _rules, found = judged(shop)
    held = {one["name"]: one["concession"] for one in found["held_back"] if one["rule"] == 3}
    assert (answer, held) == (OPEN, {"exclusion.0103": True})
    (line,) = [one["say"] for one in found["held_back"] if one["rule"] == 3]
    assert all(word in line for word in ("[[exclusion]]", "coupons.csv, row of 0103", "excluded"))
    assert [row["specimen"] for row in found["exclusions"]] == ["0103"]
    assert found["with_every_specimen"]["answer"] == BAD


def test_of_a_retest_that_failed_the_coupon_outside_is_not_measured_again_alone(shop):
    shop.change("part.toml", "retests = 1\n", "retests = 2\n")
    retested(shop, 7)
    rows = rows_of(shop)
    rows[8] |= {column: "3.1" + rows[8][column][-2:] for column in THICK}
    write(shop, [*rows[:9], {**rows[9], "replaces": "0205"}])
    answer, _rules, found = judged(shop)
    held = [one["name"] for one in found["held_back"] if one["rule"] == 3]
    assert (answer, held) == (OPEN, ["exclusion.0205"])


def test_retests_that_were_not_measured_as_the_coupon_was_are_none_that_the_plan_allows(shop):
    """Four coupons of which one has too many voids, and six retests that were cut for thickness alone."""
    rows = [*rows_of(shop), {**more(shop), "position": "tip"}]
    air, liquid = (float(rows[2][column]) for column in NAMES[1:3])
    porous = {NAMES[2]: f"{air - (air - liquid) * 1.022:.4f}"} | {
        column: f"{float(rows[2][column]) * 1.022:.3f}" for column in THICK
    }
    again = [
        {**without(more(shop, n % 3), *NAMES[1:5], "liquid temperature [degC]", "method", only="thickness"),
         "specimen": f"02{n:02d}", "replaces": "0103", "remark": "again",
         THICK[n % 3]: f"{2.865 + 0.001 * n:.3f}"}
        for n in range(6)
    ]  # fmt: skip
    weighed = "mass in liquid: weighed three times"
    write(shop, [*rows[:2], {**rows[2], **porous, "accepted": weighed}, rows[3], *again])
    answer, rules, found = judged(shop)
    assert (answer, rules) == (OPEN, {3})
    assert found["with_every_specimen"]["answer"] == BAD
    (voids,) = [c for c in found["characteristics"] if c["name"] == "void_content"]
    assert voids["decision"] == OPEN


def test_prepreg_that_was_tested_again_has_no_plan_that_allows_it(shop):
    shop.change("batch.toml", 'resin_content = "33.1 % ± 0.6 (k=2)"\nresin_basis = "as received"\n', "")
    shop.change("batch.toml", "[instrument.thermometer]", TEMPLATE + "[instrument.thermometer]")
    shop.change("part.toml", INCOMING, INCOMING + 'individual = { min = "31.5 %", max = "34.5 %" }\n')
    shares, names = ("0.66650", "0.66540", "0.64050", "0.66560"), ("P1", "P2", "P3", "P4")
    tests = [
        {"specimen": name, "lot": "L2231", "operator": "JM", "area [cm^2]": "100.00",
         "prepreg mass [g]": f"{2.2388 + 0.0011 * n:.4f}", "dried mass [g]": f"{2.2298 + 0.0011 * n:.4f}",
         "fiber mass [g]": f"{2.2388 * float(share):.4f}",
         "accepted": "fiber mass: checked; prepreg mass: checked; dried mass: checked"}
        for n, (name, share) in enumerate(zip(names, shares, strict=True))
    ]  # fmt: skip
    coupons = rows_of(shop)
    table.write(shop, [*coupons, *tests[:3]])
    assert judged(shop)[0] == BAD
    table.write(shop, [*coupons, *tests[:3], {**tests[3], "replaces": "P3", "remark": "again"}])
    answer, rules, found = judged(shop)
    assert (answer, rules) == (OPEN, {3})
    assert [row["specimen"] for row in found["exclusions"]] == ["P3"]


def test_a_retest_within_the_plan_is_no_exclusion_and_is_sealed_beside_the_answer(shop):
    retested(shop, 6)
    _answer, rules, found = judged(shop)
    assert 3 not in rules
    assert found["exclusions"] == []
    shop.run("report", "batch.toml", "--out", "kept")
    beside = read_record((shop.folder / "kept" / "record.json").read_bytes()).beside
    assert [row["specimen"] for row in beside["retests"]] == ["0103"]
    assert beside["with_every_specimen"]["answer"] == BAD
    said = [*beside_lines(beside)]
    assert any("0103" in line for line in said)
    assert any(BAD in line for line in said)


# values that were mistyped in the batch file, and zones laid up otherwise


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("1.786 g/cm^3", "1.876 g/cm^3", "carbon density 1.876"),
        ("1.786 g/cm^3", "1.768 g/cm^3", "carbon density 1.768"),
        ("150.6 g/m^2", "15.06 g/m^2", "ud150 areal weight 15.06"),
        ('fiber_loss = "0.4 %', 'fiber_loss = "-0.5 %', "[blank] fiber_loss -0.5"),
        ("skin = 20", "skin = 2", "zone skin"),
    ],
)
def test_a_value_of_the_batch_file_that_is_far_from_the_part_is_remarked(shop, old, new, place):
    before = judged(shop)[2]["remarks"]
    shop.change("batch.toml", old, new)
    assert [words for words in judged(shop)[2]["remarks"] if words not in before and place in words]
    assert place in " ".join(shop.run("report", "batch.toml").out.split())


@pytest.mark.parametrize("name", ["", " ", "-", "n/a"])
def test_a_batch_has_a_name(shop, name):
    shop.change("batch.toml", 'id = "26-031"', f'id = "{name}"')
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("wrong-value", "batch.id")


@pytest.mark.parametrize("identity", ["not recorded", "not recorded: label lost", "unknown"])
def test_words_that_name_no_instrument_are_no_identity(shop, identity):
    shop.change("batch.toml", 'identity = "BAL-02"', f'identity = "{identity}"')
    answer, rules, _ = judged(shop)
    assert (answer, 5 in rules) == (OPEN, True)
