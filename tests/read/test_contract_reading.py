"""What a batch says against its part, keys that were misspelled, values that an option cannot take."""

import re
from pathlib import Path

import pytest

from tests.messages.wording import begins, reads, says, worded


def problems(shop, *call):
    return shop.json(*call, status=[2])["problems"]


@pytest.mark.parametrize(("plies", "status"), [(3, [2]), (4, [0, 1]), (20, [0, 1])])
def test_plies_laid_up_include_those_that_the_part_fixes(plies, status, shop):
    """The web fixes four."""
    shop.change("batch.toml", "web = 20", f"web = {plies}")
    answer = shop.json("report", "batch.toml", status=status)
    if status == [2]:
        (problem,) = answer["problems"]
        assert problem["place"] == "batch.plies.web"
        assert reads("read: plies laid up include those", problem["expected"])


def test_a_misspelled_process_reading_names_the_one_meant(shop):
    shop.change("batch.toml", "cure temperature", "cure temprature")
    (problem,) = problems(shop, "report", "batch.toml")
    assert problem["found"] == "'cure temprature'"
    assert reads("read: a misspelled process reading names", problem["hint"])


def test_a_process_reading_without_a_limit_is_told(shop):
    text = shop.read("batch.toml") + '\n[process."vacuum"]\nvalue = "20 kPa ± 1 (tolerance)"\n'
    shop.write("batch.toml", text)
    remarks = shop.json("report", "batch.toml", status=[0, 1])["remarks"]
    assert says("read: a process reading without a limit", remarks)


def test_the_share_of_a_single_lot_is_all_of_it(shop):
    shop.change("batch.toml", 'number = "L2231"', 'number = "L2231"\nshare = "60 %"')
    (problem,) = problems(shop, "report", "batch.toml")
    assert reads("read: the share of a single lot is all", problem["found"])


@pytest.mark.parametrize("word", ["limts", "lmits"])
def test_misspelled_limits_name_the_key(word, shop):
    shop.change("part.toml", "[limits]", f"[{word}]")
    hints = [p["hint"] for p in problems(shop, "fill", "part.toml") if p["place"] == word]
    assert hints == [worded("read: did you mean the limits")]


def test_yes_or_no_is_said_in_these_words(shop):
    shop.change("part.toml", 'stays = "yes"', 'stays = "maybe"')
    (problem,) = problems(shop, "fill", "part.toml")
    assert problem["expected"] == '"yes" or "no"'


def test_what_the_part_does_not_say_is_told(shop):
    shop.change("part.toml", 'closes = "hot"', "")
    shop.change("part.toml", 'form = "unidirectional"', "")
    shop.change("part.toml", 'packing_limit = "68 %"', "")
    zone = shop.json("fill", "part.toml", status=(1,))["zones"][0]  # too little is told to advise a count
    assert says("read: what the part does not say is told", zone["not_measured"])
    assert any(begins("read: what the part does not say is told, 2", one) for one in zone["not_measured"])


@pytest.mark.parametrize(
    ("option", "found", "expected"),
    [
        ("--draws=100", "'100'", "1000 or more"),
        ("--seed=x", "'x'", worded("read: no such value")),
    ],
)
def test_a_value_that_an_option_cannot_take(option, found, expected, shop):
    (problem,) = problems(shop, "fill", "part.toml", option)
    assert (problem["found"], problem["expected"]) == (found, expected)


def test_under_a_bladder_nothing_says_how_many_plies(shop):
    """No gap, no limit on the thickness: no count is advised, and one that is asked for is answered."""
    before = Path(__file__).parents[1] / "press" / "data" / "mast_before.toml"
    text = before.read_text("utf-8")
    for line in ('cavity = "38.60 mm ± 0.03 (tolerance)"', 'core = "fore"', "walls = 2"):
        kept = [one for one in text.splitlines() if not one.startswith(line)]
        assert len(kept) == len(text.splitlines()) - 1
        text = "\n".join(kept)
    text = text.replace("[zone.skin]", '[zone.skin]\nbladder = "tube"')
    shop.write("part.toml", f'{text}\n[bladder.tube]\npressure = "0.6 MPa"\n')
    skin = shop.json("fill", "part.toml", status=[1])["zones"][1]
    assert skin["use"] is None
    assert says("read: under a bladder nothing says how many", skin["why"])
    asked = shop.json("fill", "part.toml", "--plies", "skin=20", status=[0, 1])["zones"][1]
    assert [row["plies"] for row in asked["counts"]] == [20]
    assert (asked["use"], asked["best"], asked["grade"]) == (None, 20, "state the bleed")


def test_the_coverage_factor_is_the_one_that_was_used(shop):
    """±1 K as a rectangle: U is the half-width, so U/u is the root of three."""
    (reading,) = shop.json("report", "batch.toml", status=[0, 1])["process"][0]["result"]["individual"][
        "readings"
    ]
    assert reading["expanded_uncertainty"] == pytest.approx(1.0)
    assert reading["coverage_factor"] == pytest.approx(3**0.5)


def test_a_humidity_that_nothing_uses_is_no_silent_option(shop):
    text = shop.read("part.toml")
    tables = re.split(r"(?m)^(?=\[)", text)
    without = [table for table in tables if not re.match(r"\[(room|core|zone|plan)\.(skin|fore)", table)]
    shop.write("part.toml", "".join(without))
    (problem,) = problems(shop, "fill", "part.toml", "--stored-humidity", "45 %")
    assert problem["code"] == "option-not-used"


def test_a_finding_names_the_file_that_its_cell_stands_in(shop):
    """Immersion in one table, digestion of the same specimens in the other."""
    shop.change("batch.toml", '["coupons.csv"]', '["one.csv", "two.csv"]')
    shop.write("one.csv", "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]\n"
               "1,web,1.4427,0.5117,22.8\n")  # fmt: skip
    head = "specimen,method,specimen mass [g],residue mass [g]\n"
    shop.write("two.csv", f"{head}1,digestion,1.4425,1.9763\n")
    assert [p["file"] for p in problems(shop, "measure", "batch.toml")] == ["two.csv"]
    shop.write("two.csv", f"{head}1,digestion,1.8425,0.9763\n")
    told = {w["place"]: w["file"] for w in shop.json("measure", "batch.toml")["warnings"]}
    assert told == {"row 2, column 'specimen mass'": "two.csv"}


@pytest.mark.parametrize(
    ("named", "place"),
    [
        ('part = "part.toml"', "batch.part"),
        ('coupons = ["coupons.csv"]', "batch.coupons[1]"),
    ],
)
def test_a_name_that_no_file_can_have_is_one_that_is_not_there(named, place, shop):
    shop.change("batch.toml", named, named.replace(".", "\\u0000."))
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("file-missing", place)
