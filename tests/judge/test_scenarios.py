"""One change each from the example that conforms; beside each the answer, and why it must be so."""

import re

import pytest

from tests.messages.wording import says

OPEN, GOOD, BAD = "undecided", "conforms", "does not conform"

# file, old, new -> answer, rules that hold it back, a word of why
SCENARIOS = {
    # instruments of deciding figures
    "a balance without identity": ("batch", 'identity = "BAL-02"\n', "", OPEN, {5}),
    "a balance without a due date": ("batch", "due = 2027-05-01\n", "", OPEN, {5}),
    "a balance without a day of calibration": ("batch", "calibrated = 2026-05-01\n", "", OPEN, {5}),
    "a balance past due on that day": ("batch", "due = 2027-05-01", "due = 2026-11-19", OPEN, {5}),
    "a balance due on that day": ("batch", "due = 2027-05-01", "due = 2026-11-20", GOOD, set()),
    "a balance calibrated later": ("batch", "calibrated = 2026-05-01", "calibrated = 2026-12-01", OPEN, {5}),
    "a shop's own check in place of a calibration": (
        "batch", "calibrated = 2026-05-01\ndue = 2027-05-01\n",
        'traceable = "no: checked with weight W-3, 100 g, before use"\n', GOOD, set()),
    "a shop's own check does not mend a past due date": (
        "batch", "due = 2027-05-01\n", 'due = 2026-11-01\ntraceable = "no: checked with W-3"\n', OPEN, {5}),
    "a shop's own check does not name the balance": (
        "batch", 'identity = "BAL-02"\n', 'traceable = "no: checked with W-3"\n', OPEN, {5}),
    "a shop's own check does not say what the balance is worth": (
        "batch", 'repeatability = "0.1 mg (standard)"          # of each reading\n',
        'traceable = "no: checked with W-3"\n', OPEN, {10}),
    "no day of measuring": ("batch", "measured = 2026-11-20\n", "", OPEN, {5}),
    # cores
    "the use of a core not told": ("batch", "moldings = 12\n", "", OPEN, {6}),
    "a core not told at all": (
        "batch", '[core_used.fore]\nidentity = "C-07"\nmoldings = 12\n', "", OPEN, {6}),
    "a core past its moldings": ("batch", "moldings = 12\n", "moldings = 51\n", OPEN, {6}),
    "a core at its last molding": ("batch", "moldings = 12\n", "moldings = 50\n", GOOD, set()),
    # lots
    "a lot expired": ("batch", "expires = 2027-06-01 ", "expires = 2026-11-17 ", OPEN, {7}),
    "a lot on its last day": ("batch", "expires = 2027-06-01 ", "expires = 2026-11-18 ", GOOD, set()),
    "a lot out for too long": ("batch", 'out_time = "12 d" ', 'out_time = "31 d" ', OPEN, {7}),
    "a lot out for too long, in hours": ("batch", 'out_time = "12 d" ', 'out_time = "721 h" ', OPEN, {7}),
    "a lot out for too long by its ±": (
        "batch", 'out_time = "12 d" ', 'out_time = "29.9 d ± 5 (tolerance)" ', OPEN, {7}),
    "a lot that lasts for less by its ±": ("batch", '"30 d"\n', '"13 d ± 2 (standard)"\n', OPEN, {7}),
    "a lot out for long enough with its ±": (
        "batch", 'out_time = "12 d" ', 'out_time = "20 d ± 5 (tolerance)" ', GOOD, set()),
    "an expiry that nobody told": (
        "batch", "expires = 2027-06-01                         # at", "# at", OPEN, {7}),
    "an out time that nobody told": ("batch", 'out_time = "12 d" ', "", OPEN, {7}),
    "an out life that nobody told": ("batch", 'out_life = "30 d"\n', "", OPEN, {7}),
    "an out time that nobody recorded": (
        "batch", 'out_time = "12 d" ', 'out_time = "not recorded: before the log began" ', GOOD, set()),
    "no day of molding": ("batch", "molded = 2026-11-18\n", "", OPEN, {7}),
    "a shorter out life in the part": (
        "part", "bulk_factor = 1.10 ", 'out_life = "10 d"\nbulk_factor = 1.10 ', OPEN, {7}),
    "a shelf life in the part, and no day on which the lot was made": (
        "part", "bulk_factor = 1.10 ", 'shelf_life = "365 d"\nbulk_factor = 1.10 ', OPEN, {7}),
    # ± where one is needed
    "a fiber density without ±": ("batch", '"1.786 g/cm^3 ± 0.006 (k=2)"', '"1.786 g/cm^3"', OPEN, {10}),
    "a fiber density exact on purpose": (
        "batch", '"1.786 g/cm^3 ± 0.006 (k=2)"', '"1.786 g/cm^3 (exact)"', GOOD, set()),
    "a resin density without ±": (
        "part", 'density = "1.22 g/cm^3 ± 0.01 (k=2)"  ', 'density = "1.22 g/cm^3"  ', OPEN, {10}),
    "a liquid resin density without ±, which decides nothing": (
        "part", '"1.12 g/cm^3 ± 0.02 (tolerance)"', '"1.12 g/cm^3"', GOOD, set()),
    "a resin content of a certificate without ±": (
        "batch", '"33.1 % ± 0.6 (k=2)"', '"33.1 %"', OPEN, {10}),
    "a calibration that nobody told": ("batch", 'calibration = "0.003 mm (k=2)"\n', "", OPEN, {10}),
    "a cure temperature without ±": ("batch", '"126 degC ± 1 (tolerance)"', '"126 degC"', OPEN, {10}),
    "the liquid not told": ("batch", 'liquid = "water"\n', "", OPEN, {10}),
    "the air not told": ("batch", 'air_density = "0.0012 g/cm^3"\n', "", OPEN, {10}),
    "the air taken as nothing": (
        "batch", 'air_density = "0.0012 g/cm^3"', 'air_density = "0 g/cm^3"', GOOD, set()),
    "the wires not told": (
        "batch", 'wires = 1\nwire_diameter = "0.2 mm"\nbeaker_diameter = "80 mm"\n', "", OPEN, {10}),
    # blanks
    "one blank not told": (
        "batch", 'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n', "", OPEN, {11}),
    "a blank without ±": ("batch", '"0.4 % ± 0.2 (standard)"', '"0.4 %"', OPEN, {10}),
    "no blank, and why": (
        "batch", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
        'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n',
        '[blank]\nnone = "digested in the same acid for ten years, no loss found"\n', GOOD, set()),
    "no blank, and no word of it": (
        "batch", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
        'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n', "", OPEN, {11}),
}  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "answer", "rules"), SCENARIOS.values(), ids=list(SCENARIOS))
def test_one_change_from_the_example(file, old, new, answer, rules, shop):
    shop.change(f"{file}.toml", old, new)
    found = shop.json("report", "batch.toml", status=[0 if answer == GOOD else 1])
    assert (found["answer"], {one["rule"] for one in found["held_back"]}) == (answer, rules)
    assert all(one["what"] for one in found["held_back"])


def test_a_failure_stands_beside_what_holds_the_batch_back(shop):
    shop.change("batch.toml", 'identity = "BAL-02"\n', "")
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "2.80 mm"')
    found = shop.json("report", "batch.toml", status=[1])
    assert found["answer"] == BAD
    assert [(one["rule"], one["name"], one["concession"]) for one in found["held_back"]] == [
        (5, "instrument.balance", True)
    ]


def test_a_row_may_have_a_day_of_its_own(shop):
    header, *rows = shop.read("coupons.csv").splitlines()
    shop.table(f"{header},time", f"{rows[0]},2027-05-02T08:00", *(f"{r}," for r in rows[1:]))
    found = shop.json("report", "batch.toml", status=[1])
    assert {one["name"] for one in found["held_back"]} == {"instrument.balance", "instrument.thermometer"}


def test_an_instrument_that_no_deciding_figure_uses_keeps_nothing_open(shop):
    shop.change("batch.toml", 'identity = "MIC-11"\n', "")
    assert shop.json("report", "batch.toml", status=[1])["answer"] == OPEN
    text = shop.read("part.toml")
    start, end = text.index("[limits.thickness.web]"), text.index("[limits.prepreg.ud150")
    shop.write("part.toml", text[:start] + text[end:])
    assert shop.json("report", "batch.toml")["answer"] == GOOD


def test_the_lines_to_write_name_file_table_and_key(shop):
    for old in ('identity = "BAL-02"\n', 'out_life = "30 d"\n', 'liquid = "water"\n', "moldings = 12\n"):
        shop.change("batch.toml", old, "")
    said = [one["say"] for one in shop.json("report", "batch.toml", status=[1])["held_back"]]
    for place in ("[instrument.balance]: identity =", "lot[1]: out_life =", "[laboratory]: liquid =",
                  "[core_used.fore]: moldings ="):  # fmt: skip
        assert any(f"batch.toml, {place}" in one for one in said), (place, said)


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('liquid = "water"\n', "liquid"),
        ('air_density = "0.0012 g/cm^3"\n', "air_density"),
        ('wires = 1\nwire_diameter = "0.2 mm"\nbeaker_diameter = "80 mm"\n', "wires"),
        ('fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n', "fiber_loss"),
    ],
)
def test_a_line_to_write_has_dots_for_what_only_the_shop_knows(line, key, shop):
    shop.change("batch.toml", line, "")
    (held,) = shop.json("report", "batch.toml", status=[1])["held_back"]
    assert re.search(rf'\b{key} = "?\.\.\.', held["say"])


ROWS = {
    "0101": "0101,web,root,L2231,JM,20,1.4427,0.5117,22.8,digestion,1.4425,0.9763,2.873,2.871,2.872",
    "0102": "0102,web,mid,L2231,JM,20,1.4609,0.5192,22.8,digestion,1.4607,0.9884,2.866,2.868,2.869",
    "0103": "0103,web,tip,L2231,JM,20,1.4143,0.5032,22.9,digestion,1.4141,0.9573,2.865,2.868,2.866",
}
HEADER = (
    "specimen,zone,position,lot,operator,plies,mass in air [g],mass in liquid [g],liquid temperature [degC],"
    "method,specimen mass [g],residue mass [g],thickness 1 [mm],thickness 2 [mm],thickness 3 [mm]"
)
MORE = "0104,web,mid,L2231,JM,20,1.4311,0.5081,22.9,digestion,1.4309,0.9680,2.867,2.869,2.870"
THICK = MORE.replace("2.867,2.869,2.870", "2.967,2.969,2.970")
APPROVED = """
[[exclusion]]
specimen = "0104"
cause = "cut across the edge of the mold"
approved_by = "R. Stone"
number = "NC-031"
date = 2026-11-21
"""


def table(shop, *rows, extra="excluded,accepted,time"):
    """The example's rows with three more columns; a row is the text, and what stands in those columns."""
    told = [row if isinstance(row, tuple) else (row, ",,") for row in rows]
    shop.table(f"{HEADER},{extra}", *(f"{row},{words}" for row, words in told))
    shop.cut(web=len(rows))


def rules(shop, answer):
    found = shop.json("report", "batch.toml", status=[0 if answer == GOOD else 1])
    assert found["answer"] == answer, found["reasons"]
    return found, {one["rule"] for one in found["held_back"]}


GOOD_ROWS = tuple(ROWS.values())


@pytest.mark.parametrize(
    ("approval", "operator", "answer"),
    [
        ("", "JM", OPEN),  # 'looks odd' alone excludes no bad coupon
        (APPROVED, "JM", GOOD),
        (APPROVED, "", OPEN),  # the operator is not named
        (APPROVED.replace("R. Stone", "j.m."), "JM", OPEN),  # nobody approves their own
        (APPROVED.replace("cause", 'method = "thickness"\ncause'), "JM", OPEN),  # the row leaves out more
    ],
)
def test_an_exclusion_that_matters_is_approved(approval, operator, answer, shop):
    table(shop, *GOOD_ROWS, (THICK.replace(",JM,", f",{operator},"), "looks odd,,"))
    shop.add("batch.toml", approval)
    found, held = rules(shop, answer)
    assert held == ({3} if answer == OPEN else set())
    (one,) = found["exclusions"]
    assert (one["specimen"], one["reason"], one["matters"] is not None) == ("0104", "looks odd", True)
    assert (one["approvals"] == []) is (approval == "")
    if answer == OPEN:
        assert [(h["name"], h["concession"]) for h in found["held_back"]] == [("exclusion.0104", True)]


def test_a_coupon_that_counts_and_is_bad_fails(shop):
    table(shop, *GOOD_ROWS, (THICK, ",methods: measured again and the same,"))
    assert rules(shop, BAD)[1] == set()


def test_an_exclusion_that_changes_nothing_needs_no_approval(shop):
    table(shop, *GOOD_ROWS, (MORE, "spare,,"))
    found, held = rules(shop, GOOD)
    assert (held, found["exclusions"][0]["matters"]) == (set(), None)


@pytest.mark.parametrize("cell", ["0.9680", "1.4311"])
def test_an_excluded_row_that_cannot_be_computed_matters(cell, shop):
    table(shop, *GOOD_ROWS, (MORE.replace(cell, ""), "residue lost,,"))
    assert rules(shop, OPEN)[1] == {1, 3}
    assert shop.run("report", "batch.toml").out.count("[[exclusion]]") == 1


@pytest.mark.parametrize(
    ("old", "new", "held"), [("0.9763", "0.9100", {2, 9}), ("2.873,2.871,2.872", "2.573,2.571,2.572", {2})]
)
def test_one_wrong_reading_is_one_cause(old, new, held, shop):
    shop.change("coupons.csv", old, new)
    found, rules_ = rules(shop, OPEN)
    assert rules_ == held
    (doubt,) = (one for one in found["held_back"] if one["rule"] == 2)
    assert "0101" in doubt["say"]
    assert not any("batch.toml" in (one["say"] or "") for one in found["held_back"])


@pytest.mark.parametrize(("specimen", "excluded"), [("0109", "lost"), ("0104", "")])
def test_an_approval_of_what_is_not_excluded_is_refused(specimen, excluded, shop):
    table(shop, *GOOD_ROWS, (MORE, f"{excluded},,"))
    shop.add("batch.toml", APPROVED.replace("0104", specimen))
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert problem["place"] == "exclusion[1].specimen"


def test_rows_copied_from_one_are_in_doubt(shop):
    first = ROWS["0101"]
    copies = [
        first.replace("0101,web,root", f"{name},web,{at}") for name, at in (("0102", "mid"), ("0103", "tip"))
    ]
    table(shop, first, *copies)
    found, held = rules(shop, OPEN)
    assert held == {2}
    assert {one["code"] for one in found["warnings"]} >= {"rows-alike"}


def test_two_weighings_that_are_alike_are_in_doubt_and_one_thickness_is_not(shop):
    alike = ROWS["0102"].replace("1.4609,0.5192", "1.4427,0.5117").replace("1.4607,0.9884", "1.4425,0.9765")
    table(shop, ROWS["0101"], alike, ROWS["0103"])
    assert 2 in rules(shop, OPEN)[1]
    table(shop, ROWS["0101"], ROWS["0102"].replace("2.868", "2.871"), ROWS["0103"])
    assert rules(shop, GOOD)[1] == set()


def test_a_doubt_is_open_until_it_is_answered(shop):
    odd = ROWS["0103"].replace("2.868", "2.898")
    table(shop, ROWS["0101"], ROWS["0102"], odd)
    found, held = rules(shop, OPEN)
    assert held == {2}
    assert found["held_back"][0]["concession"] is False
    table(shop, ROWS["0101"], ROWS["0102"], (odd, ",thickness 2: on a ridge,"))
    found, held = rules(shop, GOOD)
    assert held == set()
    assert [(one["specimen"], one["reason"]) for one in found["accepted"]] == [("0103", "on a ridge")]


def test_a_failure_that_rests_on_a_doubt_alone_is_undecided(shop):
    odd = ROWS["0103"].replace("2.865,2.868,2.866", "2.865,3.868,2.866")
    table(shop, ROWS["0101"], ROWS["0102"], odd)
    found, held = rules(shop, OPEN)
    assert 2 in held
    thickness = next(one for one in found["characteristics"] if one["name"] == "thickness")
    assert thickness["decision"] == OPEN


def test_a_failure_beside_a_doubt_stands(shop):
    bad = ROWS["0102"].replace("2.866,2.868,2.869", "2.996,2.998,2.999")
    bad = (bad, ",methods: measured again and the same,")
    table(shop, ROWS["0101"], bad, ROWS["0103"].replace("1.4143", "1.4193"))
    assert 2 in rules(shop, BAD)[1]


DASHED = ("A1-A12", "031-01-031-12", "MAST-04-1‑MAST-04-12", "A1-A6, B1-B6", "A1-A9 and A11-A13")

SHORT = ("SN 031-01 to SN 031-11", "031-01 up to 031-11.", "031-01—031-11", r"031-01\n031-02")


@pytest.mark.parametrize(
    ("old", "new", "answer"),
    [
        ("quantity = 12", "quantity = 13", OPEN),
        ('serials = "031-01 to 031-12"', 'serials = "031-01, 031-02, 031-04 to 031-13"', GOOD),
        ('serials = "031-01 to 031-12"', 'serials = "see the traveler"', GOOD),
        ('serials = "031-01 to 031-12"', 'serials = "031-01 to 031-11"', OPEN),
        *(('"031-01 to 031-12"', f'"{serials}"', GOOD) for serials in DASHED),
        ('"031-01 to 031-12"', '"A1-A11"', OPEN),
        *(('"031-01 to 031-12"', f'"{serials}"', OPEN) for serials in SHORT),
        ('"031-01 to 031-12"', '"A12-A1"', OPEN),
        ('"031-01 to 031-12"', '"031-01"', OPEN),
        ('"031-01 to 031-12"', '"A1-B12"', OPEN),
        ('quantity = 12\nserials = "031-01 to 031-12"', 'quantity = 1\nserials = "A1-A12"', GOOD),
    ],
)
def test_quantity_is_the_count_of_serials(old, new, answer, shop):
    shop.change("batch.toml", old, new)
    assert rules(shop, answer)[1] == ({2} if answer == OPEN else set())


@pytest.mark.parametrize(
    ("serials", "remarks"),
    [
        *(
            (serials, 1)
            for serials in ("031-1A to 031-12A", "031-12 to 031-01", "031-01 to O31-12", "SN 1-4")
        ),
        *(
            (serials, 1)
            for serials in ("LH 7, RH 7", "LH 1 to LH 4, RH 1 to RH 4", "traveler 4711", "Nos. 1-12")
        ),
        *((serials, 0) for serials in ("see the traveler", "Nos. 1 to 12", "S/N A-01 to S/N A-12")),
    ],
)
def test_serials_that_cannot_be_counted_are_said_beside_the_answer(serials, remarks, shop):
    shop.change("batch.toml", "031-01 to 031-12", serials)
    answer = shop.json("report", "batch.toml", status=[0])
    assert sum("batch.toml, [batch]: serials" in remark for remark in answer["remarks"]) == remarks


@pytest.mark.parametrize("time", ["2026-11-17T10:00", "11/17/2026 10:00", "17 Nov 2026"])
def test_nothing_is_measured_before_it_is_molded(time, shop):
    table(shop, (ROWS["0101"], f",,{time}"), ROWS["0102"], ROWS["0103"])
    assert rules(shop, OPEN)[1] == {2}


@pytest.mark.parametrize(
    ("time", "answer"),
    [
        *(
            (time, OPEN)
            for time in ("11/12/2026", "46346", "Nov 2026", "2026-11", "201126", "20 brumaire 2026")
        ),
        *((time, GOOD) for time in ("07:45", "10:15-10:40", "shift 2", "20.11.2026", "20261120T1015")),
        *((time, GOOD) for time in ("11/20/2026", "Nov 20, 2026", "20 novembre 2026")),
    ],
)
def test_a_day_that_cannot_be_read_is_not_that_of_the_laboratory(time, answer, shop):
    quoted = f'"{time}"' if "," in time else time
    table(shop, (ROWS["0101"], f",,{quoted}"), ROWS["0102"], ROWS["0103"])
    found, held = rules(shop, answer)
    assert held == ({2} if answer == OPEN else set())
    assert any(time in reason["what"] for reason in found["held_back"]) is (answer == OPEN)


def test_a_day_of_measuring_before_molding_is_one_doubt_of_the_batch(shop):
    shop.change("batch.toml", "measured = 2026-11-20", "measured = 2026-11-17")
    found, held = rules(shop, OPEN)
    assert held == {2}
    (one,) = (reason for reason in found["held_back"] if "2026-11-17" in reason["what"])
    assert "batch.toml" in one["say"]
    assert not one["concession"]


def test_a_batch_of_before_is_undecided_with_a_line_for_each_thing_that_is_missing(shop):
    for old in (
        'identity = "TH-05"\n', "calibrated = 2026-03-12\ndue = 2027-03-12\n", 'identity = "MIC-11"\n',
        "calibrated = 2026-06-20\ndue = 2027-06-20\n", 'out_time = "12 d" ', 'out_life = "30 d"\n',
        "expires = 2027-06-01 ",
    ):  # fmt: skip
        text = shop.read("batch.toml")
        at = text.index(old)
        end = text.index("\n", at + len(old) - 1) + 1 if not old.endswith("\n") else at + len(old)
        shop.write("batch.toml", text[:at] + text[end:])
    found, held = rules(shop, OPEN)
    assert held == {5, 7}
    wanted = {
        "instrument.thermometer": ("identity", "due", "calibrated"),
        "instrument.micrometer": ("identity", "due", "calibrated"),
        "lot.L2231": ("expires", "out_time", "out_life"),
    }
    for one in found["held_back"]:
        assert all(f"{key} = " in one["say"] for key in wanted[one["name"]]), one
        assert one["say"].startswith("batch.toml, ")
    shown = shop.run("report", "batch.toml").out
    assert all(one["say"] in " ".join(shown.split()) for one in found["held_back"])


def test_a_concession_names_what_holds_the_batch_back_and_changes_nothing(shop):
    shop.change("batch.toml", 'identity = "BAL-02"\n', "")
    shop.change("batch.toml", "moldings = 12\n", "")
    shop.change("batch.toml", 'out_time = "12 d" ', "")
    table(shop, *GOOD_ROWS, (THICK, "looks odd,,"))
    names = ["instrument.balance", "core.fore", "lot.L2231", "exclusion.0104"]
    shop.add("batch.toml", '[concession]\nnumber = "W-12"\nauthority = "customer quality"\n'
             f'characteristics = {names}\nreason = "as agreed"'.replace("'", '"'))  # fmt: skip
    found, held = rules(shop, OPEN)
    assert held == {3, 5, 6, 7}
    assert {one["name"] for one in found["held_back"] if one["concession"]} == {*names}
    assert not says("judge: a concession that does not cover all", shop.run("report", "batch.toml").out)
