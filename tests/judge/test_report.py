"""A batch through `report`: every rule of limits, plan, instruments and process, and the answer."""

import pytest

from tests.messages.wording import reads, says, worded

from .rows import rows_of, write

ZONE = "specimen,zone,position,thickness [mm]"
GOOD = ("1,web,root,2.868", "2,web,mid,2.870", "3,web,tip,2.866")
ANY = (0, 1)
DAY = "the day of measuring 2026-11-20"


def report(shop, status=ANY):
    return shop.json("report", "batch.toml", status=status)


def characteristic(answer, name, zone="web"):
    (one,) = [
        c for c in (*answer["characteristics"], *answer["process"]) if (c["name"], c["zone"]) == (name, zone)
    ]
    return one


def thickness_only(
    shop, *rows, plan="coupons = 3", limits='individual = { min = "2.75 mm", max = "2.95 mm" }'
):
    """A part that is held to its thickness alone."""
    text = shop.read("part.toml")
    start = text.index("[plan.web]")
    shop.write(
        "part.toml",
        f"{text[:start]}[plan.web]\n{plan}\n[limits]\nguard = 1.0\n[limits.thickness.web]\n{limits}\n",
    )
    shop.table(f"{ZONE},accepted", *(f"{row},measured again and the same" for row in rows or GOOD))
    shop.cut(web=len(rows or GOOD))


def test_the_example_conforms(shop):
    answer = report(shop, status=[0])
    assert answer["answer"] == "conforms"
    assert {c["decision"] for c in (*answer["characteristics"], *answer["process"])} == {"conforms"}


def test_one_individual_outside_decides(shop):
    thickness_only(shop, *GOOD[:2], "3,web,tip,2.99")
    answer = report(shop, status=[1])
    one = characteristic(answer, "thickness")
    assert (answer["answer"], one["decision"]) == ("does not conform", "does not conform")
    assert reads("judge: one individual outside decides", one["reason"])
    assert one["probability_of_conformity"] < 1e-6


def test_an_average_outside_decides_though_every_individual_is_inside(shop):
    both = 'individual = { min = "2.75 mm", max = "2.95 mm" }\naverage = { min = "2.90 mm" }'
    thickness_only(shop, limits=both)
    one = characteristic(report(shop), "thickness")
    decisions = (one["result"]["individual"]["decision"], one["result"]["average"]["decision"])
    assert (*decisions, one["decision"]) == ("conforms", "does not conform", "does not conform")
    assert reads("judge: an average outside decides though", one["reason"])


def test_guard_zero_is_simple_acceptance(shop):
    rows = ("1,web,root,2.949", "2,web,mid,2.949", "3,web,tip,2.949")
    thickness_only(shop, *rows)
    assert report(shop)["answer"] == "undecided"
    shop.change("part.toml", "guard = 1.0", "guard = 0")
    assert report(shop)["answer"] == "conforms"


def test_a_limit_of_the_zone_replaces_the_general_one(shop):
    thickness_only(shop)
    shop.add("part.toml", '[limits.thickness]\nindividual = { max = "2.0 mm" }')
    shop.change("part.toml", "[limits.thickness.web]\n", "")
    text = shop.read("part.toml")
    assert text.count("individual =") == 2
    shop.write("part.toml", text.replace(
        'individual = { min = "2.75 mm", max = "2.95 mm" }\n', "[limits.thickness.web]\n"
        'individual = { min = "2.75 mm", max = "2.95 mm" }\n'))  # fmt: skip
    shop.table(f"{ZONE},accepted", *(f"{row}," for row in GOOD), "s,skin,,2.80,measured again")
    answer = report(shop)
    assert characteristic(answer, "thickness", "web")["decision"] == "conforms"
    assert characteristic(answer, "thickness", "skin")["decision"] == "does not conform"


@pytest.mark.parametrize(
    ("plan", "rows", "reason"),
    [
        ("coupons = 4", GOOD, "not enough coupons: 3 of 4 planned"),
        ('coupons = 3\npositions = ["root", "heel"]', GOOD, "not enough coupons: none from position heel"),
        ('coupons = 3\nmethods = ["immersion"]', GOOD, "not enough coupons: immersion on 0 of 3 planned"),
        ('coupons = 3\nmethods = ["thickness"]', GOOD, None),
        ("coupons = 2", (*GOOD[:2], "3,web,tip,2.80"), None),
    ],
)
def test_the_plan_must_be_measured(plan, rows, reason, shop):
    thickness_only(shop, *rows, plan=plan)
    answer = report(shop)
    one = characteristic(answer, "thickness")
    if reason is None:
        assert answer["answer"] == "conforms"
    else:
        assert (answer["answer"], one["decision"], one["reason"]) == ("undecided", "undecided", reason)


def test_missing_coupons_are_what_would_decide(shop):
    thickness_only(shop, plan="coupons = 5")
    (way,) = characteristic(report(shop), "thickness")["to_decide"]
    assert way["coupons"] == 5


def test_an_individual_outside_decides_even_where_coupons_are_missing(shop):
    thickness_only(shop, "1,web,root,2.60")
    assert report(shop)["answer"] == "does not conform"


def test_an_average_outside_does_not_decide_where_coupons_are_missing(shop):
    thickness_only(shop, "1,web,root,2.60", "2,web,mid,2.61", limits='average = { min = "2.75 mm" }')
    shop.change("part.toml", "coupons = 3", "coupons = 4")
    assert report(shop)["answer"] == "undecided"


def test_areal_weight_may_be_planned(shop):
    shop.change("part.toml", '"immersion", "digestion", "thickness"]', '"areal weight"]')
    text = shop.read("coupons.csv").splitlines()
    shop.table(text[0] + ",area [cm^2]", *(f"{row},3.25" for row in text[1:]))
    assert report(shop)["answer"] == "conforms"
    shop.table(text[0], *text[1:])
    assert "areal weight on 0 of 3 planned" in characteristic(report(shop), "void_content")["reason"]


@pytest.mark.parametrize(
    ("plan", "decision", "reason"),
    [
        ("coupons = 1", "conforms", "inside the limits by the guard band"),
        ("coupons = 2", "undecided", None),
        ('coupons = 1\npooled_scatter = { thickness = "0.01 mm (standard, dof=20)" }', "conforms", None),
        ('coupons = 1\npooled_scatter = { thickness = "0.1 mm (standard, dof=20)" }', "undecided", None),
    ],
)
def test_the_average_of_one_coupon(plan, decision, reason, shop):
    thickness_only(shop, GOOD[0], plan=plan, limits='average = { min = "2.75 mm", max = "2.95 mm" }')
    one = characteristic(report(shop), "thickness")
    assert one["decision"] == decision
    if reason:
        assert one["reason"] == reason
    if plan == "coupons = 2":
        assert says("judge: the average of one coupon", one["reason"])


def test_no_plan_and_one_coupon_leave_the_average_open(shop):
    thickness_only(shop, GOOD[0], limits='average = { min = "2.75 mm", max = "2.95 mm" }')
    shop.change("part.toml", "[plan.web]\ncoupons = 3\n", "")
    one = characteristic(report(shop), "thickness")
    assert one["decision"] == "undecided"
    assert reads("judge: no plan and one coupon leave", one["reason"])


@pytest.mark.parametrize(("allowed", "answer"), [(0, "does not conform"), (1, "conforms")])
def test_so_many_may_be_outside(allowed, answer, shop):
    thickness_only(shop, *GOOD, "4,web,root,2.60", plan=f"coupons = 3\nallowed_outside = {allowed}")
    assert report(shop)["answer"] == answer


@pytest.mark.parametrize("allowed", [3, 4, 5])
def test_a_plan_by_which_no_coupon_can_fail_is_remarked(allowed, shop):
    thickness_only(shop, *GOOD, "4,web,root,2.60", plan=f"coupons = 3\nallowed_outside = {allowed}")
    remarks = report(shop)["remarks"]
    assert any(says("judge: as many outside as there are", remark) for remark in remarks) is (allowed >= 4)


def test_a_limit_that_nothing_was_measured_for(shop):
    thickness_only(shop, *GOOD)
    shop.add("part.toml", '[limits.void_content]\nindividual = { max = "2 %" }')
    answer = report(shop)
    one = characteristic(answer, "void_content")
    assert (answer["answer"], one["decision"]) == ("undecided", "undecided")
    assert reads("judge: a limit that nothing was measured", one["reason"])
    assert one["result"]["value"] is None


def test_a_part_without_limits_is_undecided(shop):
    text = shop.read("part.toml")
    shop.write("part.toml", text[: text.index("[limits]")])
    answer = report(shop, status=[1])
    assert (answer["answer"], answer["reasons"]) == ("undecided", [worded("judge: no limits")])


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("due = 2027-05-01\n", "due = 2026-11-19\n", f"calibration was due on 2026-11-19, before {DAY}"),
        ("due = 2027-05-01\n", "", "no due date of calibration"),
        ("calibrated = 2026-05-01\n", "calibrated = 2026-12-01\n", f"calibrated on 2026-12-01, after {DAY}"),
        ("measured = 2026-11-20\n", "", "due date given, but the day of measuring is not"),
    ],
)  # fmt: skip
def test_an_instrument_out_of_calibration_leaves_the_batch_open(old, new, reason, shop):
    shop.change("batch.toml", old, new)
    answer = report(shop, status=[1])
    assert answer["answer"] == "undecided"
    assert f"balance BAL-02: {reason}" in answer["reasons"]
    assert f"balance BAL-02: {reason}" in shop.run("report", "batch.toml").out


@pytest.mark.parametrize("time", ["20270502T0810", "2027/05/02", "2.5.2027 08:10", "2027–05–02"])
def test_a_row_measured_after_the_due_date_tells_its_day_as_shops_write_it(time, shop):
    first, *others = rows_of(shop)
    write(shop, [{**first, "time": time}, *others])
    answer = report(shop, status=[1])
    assert {held["rule"] for held in answer["held_back"]} == {5}
    assert all("2027-05-02" in held["what"] for held in answer["held_back"])


def test_due_on_the_day_of_measuring_is_in_time(shop):
    shop.change("batch.toml", "due = 2027-05-01\n", "due = 2026-11-20\n")
    assert report(shop)["answer"] == "conforms"


def test_an_instrument_that_read_nothing_does_not_matter(shop):
    shop.add("batch.toml", '[instrument.caliper]\nidentity = "CAL-1"\ndue = 2020-01-01')
    answer = report(shop)
    assert answer["answer"] == "conforms"
    (caliper,) = [i for i in answer["instruments"] if i["name"] == "caliper"]
    assert caliper["state"].endswith("; not used")


def test_a_reading_without_an_instrument_leaves_the_batch_open(shop):
    text = shop.read("batch.toml")
    start, end = text.index("[instrument.thermometer]"), text.index("[instrument.micrometer]")
    shop.write("batch.toml", text[:start] + text[end:])
    answer = report(shop, status=[1])
    assert answer["reasons"] == [worded("judge: no thermometer")]


@pytest.mark.parametrize(
    ("value", "answer"),
    [
        ("126 degC ± 1 (tolerance)", "conforms"),
        ("127.5 degC ± 1 (tolerance)", "undecided"),
        ("131 degC ± 1 (tolerance)", "does not conform"),
        ("258.8 degF ± 1.8 (tolerance)", "conforms"),
    ],
)
def test_process_readings_are_held_to_limits_too(value, answer, shop):
    shop.change("batch.toml", "126 degC ± 1 (tolerance)", value)
    found = report(shop)
    one = characteristic(found, "cure temperature", None)
    assert (found["answer"], one["decision"]) == (answer, answer)
    assert one["result"]["unit"] == "degC"
    assert one["limits"]["individual"] == {"min": pytest.approx(122), "max": pytest.approx(128)}
    if answer == "undecided":
        (way,) = one["to_decide"]
        assert way["contribution_now"] == pytest.approx(1 / 3**0.5)
        assert way["contribution_needed"] == pytest.approx(0.5 / 3**0.5, rel=1e-5)  # ± 0.5 K, a tolerance


def test_a_process_reading_that_is_missing(shop):
    text = shop.read("batch.toml")
    shop.write("batch.toml", text[: text.index("[process.")])
    answer = report(shop, status=[1])
    one = characteristic(answer, "cure temperature", None)
    assert (answer["answer"], one["reason"]) == ("undecided", worded("judge: no such reading"))
    assert one["limits"] == {
        "individual": {"min": pytest.approx(122), "max": pytest.approx(128)},
        "average": None,
        "unit": "degC",
    }


@pytest.mark.parametrize(
    ("limit", "value", "number", "unit"),
    [
        ("3 K/min", "2.5 K/min ± 0.1 (standard)", 2.5, "K/min"),
        ("12 cm^3", "9 ml ± 1 (standard)", 9.0, "cm^3"),
        ("2 in^2", "9.29 cm^2 ± 0.1 (standard)", 9.29, "cm^2"),
        ("0.5 deg", "0.2 deg ± 0.01 (standard)", 0.2, "deg"),
        ("3", "2", 2.0, ""),
    ],
)
def test_a_process_reading_of_any_kind_has_its_unit(limit, value, number, unit, shop):
    part, batch = shop.read("part.toml"), shop.read("batch.toml")
    shop.write("part.toml", part + f'\n[limits.process.extra]\nindividual = {{ max = "{limit}" }}\n')
    shop.write("batch.toml", batch + f'\n[process.extra]\nvalue = "{value}"\nsource = "log"\n')
    extra = characteristic(report(shop), "extra", None)
    assert (extra["result"]["value"], extra["result"]["unit"]) == (pytest.approx(number), unit)
    assert extra["limits"]["unit"] == unit


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ("126", "judge: another kind"),
        ('"126 mm"', "judge: another kind, 2"),
    ],
)
def test_a_process_reading_of_another_kind_is_refused(value, found, shop):
    shop.change("batch.toml", '"126 degC ± 1 (tolerance)"', value)
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert problem["place"] == 'process."cure temperature".value'
    assert reads(found, problem["found"])


@pytest.mark.parametrize(
    ("certificate", "decision"), [("33.1 % ± 0.6 (k=2)", "conforms"), ("33.8 % ± 0.6 (k=2)", "undecided"),
                                  ("35 % ± 0.6 (k=2)", "does not conform")]
)  # fmt: skip
def test_a_lot_is_held_by_its_certificate(certificate, decision, shop):
    shop.change("batch.toml", "33.1 % ± 0.6 (k=2)", certificate)
    one = characteristic(report(shop), "prepreg.ud150.resin_content", None)
    assert (one["decision"], one["lot"]) == (decision, "lot L2231")


def test_one_that_does_not_conform_comes_before_what_is_undecided(shop):
    thickness_only(shop, *GOOD[:2], "3,web,tip,2.60")
    shop.add("part.toml", '[limits.void_content]\nindividual = { max = "2 %" }')
    answer = report(shop)
    assert {c["decision"] for c in answer["characteristics"]} == {"undecided", "does not conform"}
    assert answer["answer"] == "does not conform"


def test_voids_that_the_densities_cannot_give_are_not_decided(shop):
    shop.change("part.toml", '[resin.epoxy]\ndensity = "1.22', '[resin.epoxy]\ndensity = "1.19')
    answer = report(shop, status=[1])
    one = characteristic(answer, "void_content")
    assert (answer["answer"], one["decision"], one["probability_of_conformity"]) == (
        "undecided",
        "undecided",
        None,
    )
    assert reads("judge: voids that the densities cannot give", one["reason"])
    assert one["result"]["value"] < 0


def test_a_limit_that_this_method_cannot_be_accepted_against(shop):
    shop.change("part.toml", 'individual = { max = "2 %" }', 'individual = { max = "0.3 %" }')
    one = characteristic(report(shop), "void_content")
    assert one["decision"] == "undecided"
    assert reads("judge: a limit that this method cannot", one["reason"])
    shop.change("part.toml", 'individual = { max = "0.3 %" }', 'individual = { max = "0.01 %" }')
    assert characteristic(report(shop), "void_content")["decision"] == "does not conform"


RETESTS = f"{ZONE},replaces,remark"
AGAIN = ("q0,web,root,2.871,r0,once more", "q1,web,tip,2.868,r0,once more")
ROWS = ("1,web,root,2.60,,", "2,web,mid,2.868,,", "3,web,tip,2.866,,")


def retests(count, remark="cut again", first="1"):
    return [f"r{i},web,{('root', 'mid', 'tip')[i % 3]},2.87{i},{first},{remark}" for i in range(count)]


@pytest.mark.parametrize(
    ("plan", "rows", "reason"),
    [
        ("retests = 1\nretest_coupons = 2", retests(2), None),
        ("retests = 1\nretest_coupons = 4", retests(2),
         "not enough coupons: 2 retest coupons, the plan asks for 4"),
        ("retests = 0", retests(3), "the plan allows no retest"),
        ("retests = 1\nretest_coupons = 1", [*retests(1), "q,web,root,2.87,r0,once more"],
         "2 rounds of retests, the plan allows 1"),
        ("retests = 2\nretest_coupons = 2", [*retests(2), "q,web,root,2.87,r0,once more"],
         "not enough coupons: 1 retest coupon in round 2, the plan asks for 2"),
        ("retests = 2\nretest_coupons = 2", [*retests(2), *AGAIN], None),
        ("retests = 2\nretest_coupons = 2", [*retests(1), *AGAIN],
         "not enough coupons: 1 retest coupon, the plan asks for 2"),
        *(("retests = 1\nretest_coupons = 2", retests(2, remark),
           "retest without a reason in the column 'remark': r0, r1") for remark in ("", "...", "-")),
    ],
)  # fmt: skip
def test_retests_only_within_the_plan(plan, rows, reason, shop):
    thickness_only(shop, plan=f"coupons = 3\n{plan}")
    shop.table(RETESTS, *ROWS, *rows)
    shop.cut(web=len(ROWS) + len(rows))
    answer = report(shop)
    one = characteristic(answer, "thickness")
    assert answer["answer"] == ("undecided" if reason else "conforms")
    if reason:
        assert one["reason"] == reason
    assert answer["specimens"][0]["replaced_by"] is not None


def test_a_row_is_excluded_with_a_reason_and_the_result_is_given_with_it_too(shop):
    thickness_only(shop, *GOOD)
    shop.table(f"{ZONE},excluded", *(f"{row}," for row in GOOD), "4,web,tip,2.60,dropped on the floor")
    shop.cut(web=4)
    answer = report(shop, status=[1])
    assert (answer["answer"], answer["held_back"][0]["name"]) == ("undecided", "exclusion.4")
    assert characteristic(answer, "thickness")["result"]["n"] == 3
    assert answer["average_with_excluded"]["thickness"]["n"] == 4


def test_a_concession_is_shown_and_changes_nothing(shop):
    thickness_only(shop, *GOOD[:2], "3,web,tip,2.99")
    shop.add("batch.toml", '[concession]\nnumber = "W-12"\nauthority = "customer quality"\n'
             'characteristics = ["thickness.web"]\nreason = "one tip is thick"')  # fmt: skip
    answer = report(shop, status=[1])
    assert answer["answer"] == "does not conform"
    assert answer["concession"]["number"] == "W-12"
    words = shop.run("report", "batch.toml").out
    assert says("judge: a concession is shown and changes", words)


def test_the_prior_is_said(shop):
    answer = report(shop)
    assert [*{c["prior"] for c in answer["characteristics"]}] == [worded("judge: the prior")]
    assert "flat prior" in shop.run("report", "batch.toml", "--why").out


@pytest.mark.parametrize(("fields", "decision"), [(1, "undecided"), (2, "conforms")])
def test_points_of_one_field_decide_nothing(fields, decision, shop):
    text = shop.read("part.toml")
    start = text.index("[plan.web]")
    limits = '[limits.fiber_volume]\nindividual = { min = "50 %" }\n'
    shop.write("part.toml", f"{text[:start]}{limits}")
    shop.table(
        "specimen,zone,field,points,fiber points",
        *(f"{i},web,{j},100,{60 + 0.5 * j}" for i in (1, 2) for j in range(fields)),
    )
    one = characteristic(report(shop), "fiber_volume")
    assert one["decision"] == decision
    if fields == 1:
        assert reads("judge: points of one field decide nothing", one["reason"])
