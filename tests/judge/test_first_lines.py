"""What a report says ahead of its table: what was left out, permitted or amended, cores, plies, dates."""

import pytest

from tests.messages.wording import begins, reads, says, worded

ZONE = "specimen,zone,position,thickness [mm]"
GOOD = ("1,web,root,2.868", "2,web,mid,2.870", "3,web,tip,2.866")


def report(shop, status=(0, 1)):
    return shop.json("report", "batch.toml", status=status)


def thickness_only(shop, *rows, plan="coupons = 3"):
    """A part that is held to its thickness alone."""
    text = shop.read("part.toml")
    rules = '[limits]\nguard = 1.0\n[limits.thickness.web]\nindividual = { min = "2.75 mm", max = "2.95 mm" }'
    shop.write("part.toml", f"{text[: text.index('[plan.web]')]}[plan.web]\n{plan}\n{rules}\n")
    shop.table(ZONE, *(rows or GOOD))


def test_what_the_answer_would_be_with_every_specimen(shop):
    thickness_only(shop, *GOOD)
    assert report(shop, status=[0])["with_every_specimen"] is None
    shop.table(f"{ZONE},excluded", *(f"{row}," for row in GOOD), "4,web,tip,2.60,dropped on the floor")
    answer = report(shop, status=[1])
    every = answer["with_every_specimen"]
    assert every["answer"] == "does not conform"
    (one,) = every["characteristics"]
    assert (one["label"], one["decision"]) == ("thickness.web", "does not conform")
    assert reads("judge: what the answer would be with every", one["reason"])
    lines = shop.run("report", "batch.toml").out.splitlines()
    assert says("judge: what the answer would be with every, 2", lines[:4])
    assert says("judge: what the answer would be with every, 3", lines[:5])


def test_with_every_specimen_the_answer_may_stay(shop):
    thickness_only(shop, *GOOD)
    shop.table(f"{ZONE},excluded", *(f"{row}," for row in GOOD), "4,web,tip,2.869,cut crooked")
    shop.cut(web=4)
    every = report(shop, status=[0])["with_every_specimen"]
    assert every["answer"] == "conforms"
    out = shop.run("report", "batch.toml").out
    assert says("judge: with every specimen the answer may", out)


def test_a_replaced_specimen_counts_among_every_specimen(shop):
    thickness_only(shop, plan="coupons = 3\nretests = 1\nretest_coupons = 1")
    shop.table(f"{ZONE},replaces,remark", *(f"{row},," for row in GOOD[:2]), "3,web,tip,2.99,,",
               "3R,web,tip,2.866,3,burr on the first")  # fmt: skip
    shop.cut(web=4)
    answer = report(shop)
    assert (answer["answer"], answer["with_every_specimen"]["answer"]) == ("conforms", "does not conform")
    assert says("judge: a replaced specimen counts among every", shop.run("report", "batch.toml").out)


def test_a_core_past_its_moldings_leaves_the_batch_undecided(shop):
    shop.change("batch.toml", "moldings = 12", "moldings = 50")
    assert report(shop, status=[0])["batch"]["cores"][0]["undecided_because"] is None
    shop.change("batch.toml", "moldings = 50", "moldings = 57")
    answer = report(shop, status=[1])
    reason = "core fore C-07: 57 moldings, past its limit of 50"
    assert (answer["answer"], answer["reasons"]) == ("undecided", [reason])
    assert answer["batch"]["cores"][0]["undecided_because"] == reason
    assert {c["decision"] for c in answer["characteristics"]} == {"conforms"}
    lines = shop.run("report", "batch.toml").out.splitlines()
    assert lines[1] == f"Cause: {reason}."


def test_plies_of_the_batch_file_against_those_of_the_coupons(shop):
    """One ply too many in every row moves no coupon away from its peers: 61.7 for 58.8 % of fiber."""
    text = shop.read("coupons.csv")
    (history,) = report(shop)["remarks"]
    assert begins("judge: plies of the batch file against those", history)
    rows = text.replace(",JM,20,", ",JM,21,")
    shop.write("coupons.csv", rows)
    answer = report(shop, status=[1])
    warnings = [w for s in answer["specimens"] for w in s["warnings"] if w["code"] == "plies-differ"]
    assert [w["place"] for w in warnings] == [f"row {row}, column 'plies'" for row in (2, 3, 4)]
    assert answer["answer"] == "undecided"
    heading, *others = rows.splitlines()
    shop.table(f"{heading},accepted", *(f"{row},plies 21: a patch lies on every coupon" for row in others))
    answer = report(shop, status=[0, 1])
    doubts = [held["what"] for held in answer["held_back"] if "'plies'" in held["what"]]
    assert (doubts, len(answer["accepted"])) == ([], 3)


def test_a_coupon_with_fewer_readings_than_the_others_is_remarked_where_no_plan_asks_for_them(shop):
    text = shop.read("coupons.csv")
    shop.write("coupons.csv", text.replace("2.865,2.868,2.866", "2.865,,2.866"))
    (remark, _history) = report(shop, status=[0])["remarks"]
    assert all(word in remark for word in ("zone web", "thickness", "3 readings", "0103"))
    key = '[plan.web] repeats = { "thickness" = 3 }'
    assert key in remark
    shop.change("part.toml", "[plan.skin]", f"{key.split('] ')[1]}\n[plan.skin]")
    answer = report(shop, status=[1])
    assert [held["rule"] for held in answer["held_back"]] == [1]
    assert "0103 lacks 'thickness' 1 of 3 times" in answer["held_back"][0]["what"]
    assert len(answer["remarks"]) == 1
    shop.change("part.toml", '"thickness" = 3', '"thickness" = 2')
    (remark, _history) = report(shop, status=[0])["remarks"]
    assert all(word in remark for word in ("zone web", "thickness", "3 readings", "0103"))
    shop.write("coupons.csv", text)
    assert report(shop, status=[0])["answer"] == "conforms"


CONCESSION = '[concession]\nnumber = "W-12"\nauthority = "customer quality"\nreason = "trial"\n'


@pytest.mark.parametrize(
    ("named", "hint"),
    [
        ("thickness.wbe", "judge: a concession names what there is"),
        ("thickness.skin", "judge: a concession names what there is"),
        ("cure temprature", "read: a misspelled process reading names"),
        ("instrument.balanse", "judge: a concession names what there is, 2"),
        ("core.for", "judge: a concession names what there is, 3"),
        ("prepreg.ud150.resin content", "judge: a concession names what there is, 4"),
    ],
)
def test_a_concession_names_what_there_is(shop, named, hint):
    shop.add("batch.toml", f'{CONCESSION}characteristics = ["fiber_volume.web", "{named}"]')
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert problem["place"] == "concession.characteristics[2]"
    assert problem["found"] == f"'{named}'"
    assert reads(hint, problem["hint"])


@pytest.mark.parametrize(
    "named",
    ["thickness.web", "cure temperature", "instrument.balance", "core.fore", "prepreg.ud150.resin_content"],
)
def test_every_name_that_a_concession_may_use(shop, named):
    shop.add("batch.toml", f'{CONCESSION}characteristics = ["{named}"]')
    assert report(shop, status=[0])["concession"]["characteristics"] == [named]


def test_a_concession_for_nothing_is_refused(shop):
    shop.add("batch.toml", f"{CONCESSION}characteristics = []")
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["place"], problem["found"]) == ("concession.characteristics", "0 names")


def test_concession_and_amendment_stand_near_the_answer(shop):
    replaces = f'[replaces]\nrecord = "{"ab" * 32}"\nreason = "wrong lot"'
    shop.add("batch.toml", f'{CONCESSION}characteristics = ["thickness.web"]\n{replaces}')
    lines = shop.run("report", "batch.toml").out.splitlines()
    assert says("judge: concession and amendment stand near", lines[:4])
    assert f"Amended: this replaces the record {'ab' * 32}. Reason: wrong lot." in lines[:4]


def test_what_a_concession_does_not_cover_is_named(shop):
    shop.change("batch.toml", "due = 2027-05-01", "due = 2026-11-19")
    shop.change("batch.toml", "moldings = 12", "moldings = 57")
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "2.86 mm"')
    shop.add("batch.toml", f'{CONCESSION}characteristics = ["thickness.web"]')
    first = "\n".join(shop.run("report", "batch.toml").out.splitlines()[:6])
    assert says("judge: a concession that does not cover all", first)
    assert "instrument.balance, core.fore." in first
    shop.change(
        "batch.toml",
        'characteristics = ["thickness.web"]',
        'characteristics = ["thickness.web", "core.fore", "instrument.balance"]',
    )
    assert not says("judge: a concession that does not cover all", shop.run("report", "batch.toml").out)


def test_dates_that_cannot_be_are_refused(shop):
    shop.change("batch.toml", "retain_until = 2036-11-18", "retain_until = 2026-11-17")
    shop.add(
        "batch.toml",
        '[[exclusion]]\nspecimen = "0101"\ncause = "dropped"\napproved_by = "R. Stone"\n'
        'number = "NC-1"\ndate = 2026-11-17\n',
    )
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    assert [(problem["code"], problem["place"]) for problem in problems] == [
        ("wrong-order", "exclusion[1].date"), ("wrong-order", "batch.retain_until")
    ]  # fmt: skip
    assert problems[1]["found"] == worded("judge: before the batch was molded")
    assert "2026-11-20" in problems[0]["found"]


def test_an_overdue_balance_is_told_as_the_cause_in_the_second_line(shop):
    shop.change("batch.toml", "due = 2027-05-01", "due = 2026-11-19")
    lines = shop.run("report", "batch.toml").out.splitlines()
    assert reads("judge: an overdue balance is told", lines[1])


def test_no_row_of_the_table_says_more_than_its_characteristic(shop):
    """Every coupon lies outside its limits, and whether it was read right is in doubt."""
    rows = shop.read("coupons.csv").replace(",2.8", ",2.6")
    shop.write("coupons.csv", rows)
    answer = report(shop, status=[1])
    (thickness,) = [one for one in answer["characteristics"] if one["label"] == "thickness.web"]
    parts = [thickness["result"][which] for which in ("individual", "average")]
    assert thickness["decision"] == "undecided"
    assert "does not conform" in {part["decision"] for part in parts if part}
    lines = shop.run("report", "batch.toml").out.splitlines()
    (row,) = [line for line in lines if line.startswith("thickness, web")]
    assert ("undecided" in row, "does not" in row) == (True, False)


def test_a_coupon_below_zero_alone_is_weighed_again_before_densities_are_changed(shop):
    """One digit of one coupon; the others are above zero with the same densities."""
    shop.change("coupons.csv", ",0.9884,", ",0.9484,")
    (reason,) = (one for one in report(shop, status=[1])["held_back"] if one["rule"] == 9)
    where = [reason["say"].index(place) for place in ("coupons.csv", "0102", "batch.toml")]
    assert where == sorted(where)
    screen = shop.run("report", "batch.toml").out
    assert "2" in screen.splitlines()[0].partition(":")[2]  # open doubt, and this


def test_fewer_coupons_than_the_plan_has_are_measured_first(shop):
    """Nobody wrote how many were cut: the plan is not met either way."""
    thickness_only(shop, plan="coupons = 4")
    (reason,) = (one for one in report(shop, status=[1])["held_back"] if "zone web" in one["what"])
    assert reason["say"].index("coupons.csv") == 0
    assert reason["say"].index("cut = {") > 0
    shop.cut(web=4)
    (reason,) = (one for one in report(shop, status=[1])["held_back"] if "zone web" in one["what"])
    assert reason["say"].index("batch.toml") == 0


@pytest.mark.parametrize("gone", [["2.873,2.871,2.872"], ["2.873,2.871,2.872", "2.866,2.868,2.869"]])
def test_the_first_line_counts_what_holds_the_batch_back(gone, shop):
    """What is to be written for a cause is no cause of its own."""
    for repeats in gone:
        shop.change("coupons.csv", repeats, ",,")
    assert len(report(shop, status=[1])["reasons"]) == len(gone)
    assert f" {len(gone)} " in shop.run("report", "batch.toml").out.splitlines()[0]
