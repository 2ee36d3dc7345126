"""What plan and part ask for: one change each from the example that conforms, and the answer beside it."""

import pytest

from laminate.files.part import Plan
from tests.messages.wording import says, worded

OPEN, GOOD = "undecided", "conforms"
SKIN = '[plan.skin]\nrepresented_by = "web" '
PLAN = 'coupons = 3\npositions = ["root", "mid", "tip"]\nmethods = ["immersion", "digestion", "thickness"]\n'
BY_METHOD = 'coupons = { immersion = 3, digestion = 3, thickness = 3 }\npositions = ["root", "mid", "tip"]\n'
ISSUE = 'issue = "B"\n'
UD150 = "[prepreg.ud150]\n"

# file, old, new -> answer, rules that hold it back, a zone or key that is named
SCENARIOS = {
    # a reading that the plan wants is not there
    "no residue": ("coupons", "1.4141,0.9573", ",", OPEN, {1}, "0103"),
    "no mass in liquid": ("coupons", "1.4143,0.5032,22.9", "1.4143,,", OPEN, {1}, "0103"),
    "no thickness": ("coupons", "2.865,2.868,2.866", ",,", OPEN, {1}, "0103"),
    "three thicknesses asked and there": (
        "part", "allowed_outside = 0", "repeats = { thickness = 3 }", GOOD, set(), ""),
    "four thicknesses asked": (
        "part", "allowed_outside = 0", "repeats = { thickness = 4 }", OPEN, {1}, "0101"),
    # as many as were cut
    "one more was cut": ("batch", "quantity = 12", "quantity = 12\ncut = { web = 4 }", OPEN, {1}, "web"),
    "so many were cut": ("batch", "quantity = 12", "quantity = 12\ncut = { web = 3 }", GOOD, set(), ""),
    "one was cut of a zone without coupons": (
        "batch", "quantity = 12", "quantity = 12\ncut = { skin = 1 }", OPEN, {1}, "skin"),
    # zones under limits
    "a zone without plan": ("part", SKIN, "# ", OPEN, {4}, "skin"),
    "a zone that nobody measures, with a reason": (
        "part", SKIN, '[plan.skin]\nnot_measured = "too thin to cut" ', GOOD, set(), ""),
    "a zone represented against a limit of its own": (
        "part", "[limits.thickness.web]", '[limits.thickness.skin]\naverage = { min = "1 mm" }\n'
        "[limits.thickness.web]", OPEN, {4}, "skin"),
    "a zone with a plan of its own and nothing measured": (
        "part", SKIN, "[plan.skin]\ncoupons = 1 ", OPEN, {1}, "skin"),
    # counts by method
    "counts by method, met": ("part", PLAN, BY_METHOD, GOOD, set(), ""),
    "counts by method, one not met": (
        "part", PLAN, BY_METHOD.replace("thickness = 3", "thickness = 4"), OPEN, {1}, "web"),
    # what the part asks for
    "an asked density that is told": (
        "part", ISSUE, ISSUE + 'asks = ["fiber.carbon.density"]\n', GOOD, set(), ""),
    "an asked density that is not told": (
        "part", ISSUE, ISSUE + 'asks = ["resin.epoxy.density"]\n', OPEN, {9}, "resin.epoxy.density"),
    "an asked resin content of a lot": (
        "part", ISSUE, ISSUE + 'asks = ["lot.ud150.resin_content"]\n', GOOD, set(), ""),
    "an asked day that no lot tells": (
        "part", ISSUE, ISSUE + 'asks = ["lot.ud150.made"]\n', OPEN, {9}, "lot.ud150.made"),
    "gel times of the lot asked": (
        "part", ISSUE, ISSUE + 'asks = ["lot.ud150.gel_time"]\n', OPEN, {9}, "lot.ud150.gel_time"),
    "serials asked and told": ("part", ISSUE, ISSUE + 'asks = ["batch.serials"]\n', GOOD, set(), ""),
    "two rows of blanks asked": ("part", ISSUE, ISSUE + "blanks = 2\n", OPEN, {11}, "blanks"),
    "pieces of each lot tested": (
        "part", UD150, UD150 + "tested_pieces = 3\n", OPEN, {9}, "0 of 3 pieces of lot L2231 of ud150"),
    "a check standard asked": ("part", ISSUE, ISSUE + "check_standards = 1\n", OPEN, {11}, "check standards"),
}  # fmt: skip
FILES = {"part": "part.toml", "batch": "batch.toml", "coupons": "coupons.csv"}


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_one_change_and_the_answer(scenario, shop):
    file, old, new, answer, rules, named = SCENARIOS[scenario]
    shop.change(FILES[file], old, new)
    found = shop.json("report", "batch.toml", status=[0 if answer == GOOD else 1])
    assert (found["answer"], {one["rule"] for one in found["held_back"]}) == (answer, rules)
    if rules:
        assert any(named in one["what"] and one["say"] for one in found["held_back"])


def test_a_layer_that_stays_needs_the_plies(shop):
    shop.change("batch.toml", "plies = { web = 20, skin = 20 }", "plies = { skin = 20 }")
    rows = shop.read("coupons.csv").replace(",JM,20,", ",JM,,")
    shop.write("coupons.csv", rows)
    found = shop.json("report", "batch.toml", status=[1])
    assert 8 in {one["rule"] for one in found["held_back"]}
    assert all("void_content" not in one and "fiber_volume" not in one for one in found["specimens"])


def test_the_answer_says_what_it_covers(shop):
    told = shop.json("report", "batch.toml", status=[0])["covers"]
    assert (told["zones"], told["represented"]) == (["web"], [{"zone": "skin", "by": "web"}])
    assert (told["quantity"], told["serials"]) == (12, "031-01 to 031-12")
    shop.change("batch.toml", 'serials = "031-01 to 031-12"\n', "")
    assert shop.json("report", "batch.toml", status=[0])["covers"]["serials"] is None


def test_nothing_represents_a_zone_where_nothing_was_measured(shop):
    shop.change("batch.toml", 'coupons = ["coupons.csv"]', "coupons = []")
    found = shop.json("report", "batch.toml", status=[1])
    assert (found["covers"]["zones"], found["covers"]["represented"]) == ([], [])
    assert found["not_judged"] == [worded("judge: nothing represents a zone")]
    (one,) = [one for one in found["held_back"] if one["rule"] == 1]
    assert "web" in one["say"]
    assert "cut" not in one["say"]


def test_a_count_that_differs_is_answered_with_the_line_that_says_how_many_were_cut(shop):
    shop.change("batch.toml", "quantity = 12", "quantity = 12\ncut = { web = 4 }")
    (row,) = [row for row in shop.json("report", "batch.toml", status=[1])["held_back"] if row["rule"] == 1]
    assert "cut = { web = 3 }" in row["say"]


WRONG = {
    "an unknown method": (PLAN, BY_METHOD.replace("thickness =", "thicknes ="), "plan.web.coupons.thicknes"),
    "both ways": (PLAN, BY_METHOD + 'methods = ["thickness"]\n', "plan.web.methods"),
    "an unknown column": ("allowed_outside = 0", "repeats = { thicknes = 3 }", "plan.web.repeats.thicknes"),
    "fields of nothing": ("allowed_outside = 0", "fields = 3", "plan.web.fields"),
    "an unknown zone": ('represented_by = "web"', 'represented_by = "wep"', "plan.skin.represented_by"),
    "more than a zone": (
        'represented_by = "web"',
        'represented_by = "web"\ncoupons = 3',
        "plan.skin.coupons",
    ),
    "no reason": ('represented_by = "web"', 'not_measured = "no"', "plan.skin.not_measured"),
    "an unknown table": (ISSUE, ISSUE + 'asks = ["fibre.carbon.density"]\n', "part.asks[1]"),
    "an unknown name": (ISSUE, ISSUE + 'asks = ["fiber.carbn.density"]\n', "part.asks[1]"),
    "an unknown key": (ISSUE, ISSUE + 'asks = ["lot.ud150.resin"]\n', "part.asks[1]"),
}


@pytest.mark.parametrize("mistake", WRONG)
def test_one_mistake_in_a_plan(mistake, shop):
    old, new, place = WRONG[mistake]
    shop.change("part.toml", old, new)
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    assert [(one["file"], one["place"]) for one in problems] == [("part.toml", place)]


def test_immersion_alone_wants_a_second_mass_in_air():
    assert Plan(methods=["immersion"]).repeats_of("mass in air") == 2
    assert Plan(methods=["immersion"], repeats={"mass in air": 1}).repeats_of("mass in air") == 1
    assert Plan(methods=["immersion", "thickness"]).repeats_of("mass in air") == 1


@pytest.mark.parametrize(("cell", "near"), [("mdi", "'mid'"), ("“mid”", "'mid'"), ("keel", "")])
def test_a_position_that_the_plan_does_not_know_is_named_with_its_cell(cell, near, shop):
    shop.change("coupons.csv", ",mid,", f",{cell},")
    found = shop.json("report", "batch.toml", status=[1])
    remark = next(one for one in found["remarks"] if cell in one)
    assert (found["answer"], found["held_back"]) == (OPEN, [])
    assert all(words in remark for words in ("row 3", "'position'", "root", "tip", near))
    assert near or "?" not in remark


@pytest.mark.parametrize(
    ("planned", "cell", "answer"),
    [("Root", "root", GOOD), ("root", "ROOT", GOOD), ("Roof", "root", OPEN), ('root", "Root', "root", OPEN)],
)
def test_capitals_make_no_other_position(planned, cell, answer, shop):
    """Where the plan has both, each is its own."""
    shop.change("part.toml", '"root"', f'"{planned}"')
    shop.change("coupons.csv", ",root,", f",{cell},")
    assert shop.json("report", "batch.toml", status=[answer != GOOD])["answer"] == answer


def test_a_coupon_without_its_position_is_named(shop):
    shop.change("coupons.csv", ",mid,", ",,")
    found = shop.json("report", "batch.toml", status=[1])
    assert any("0102" in one and "mid" in one for one in found["remarks"])


def test_a_row_with_a_name_alone_may_be_a_note_that_goes(shop):
    shop.add("coupons.csv", "balance warmed up for 30 min\n")
    held = shop.json("report", "batch.toml", status=[1])["held_back"]
    assert [says("judge: a row that is a note", one["say"]) for one in held if one["rule"] == 1] == [True]
    shop.add("coupons.csv", "0104,web,tip,L2231,JM\n")
    held = shop.json("report", "batch.toml", status=[1])["held_back"]
    (of_coupon,) = [one["say"] for one in held if one["what"].startswith("incomplete: 0104")]
    assert not says("judge: a row that is a note", of_coupon)
