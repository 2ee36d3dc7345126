"""Batch files with one mistake each: code, place, what the catalog says, and exit status 2."""

import pytest

LOT = '[[lot]]\nprepreg = "ud150"\nnumber = "L2"\nfiber_areal_weight = "150 g/m^2"\nshare = "50 %"\n'

# case of the catalog, which holds code and place -> text, what a person made of it
CASES = {
    "another issue": ('part_issue = "B"', 'part_issue = "C"'),
    "another part": ('part_number = "MAST-04"', 'part_number = "MAST-05"'),
    "no part file": ('"part.toml"', '"prt.toml"'),
    "no coupon file": ('"coupons.csv"', '"coupns.csv"'),
    "a lot without basis": ('resin_basis = "as received"\n', ""),
    "a lot of another prepreg": ('prepreg = "ud150"', 'prepreg = "ud15"'),
    "a lot of several prepregs": ('prepreg = "ud150"', 'prepreg = ["ud150"]'),
    "one table for a list": ("[[lot]]", "[lot]"),
    "a fiber of no part": ("[fiber.carbon]", "[fiber.carbn]"),
    "a core of no part": ("[core_used.fore]", "[core_used.aft]"),
    "plies of no zone": ("plies = { web", "plies = { wep"),
    "a micrometer in grams": ("0.002 mm (standard)", "0.002 mg (standard)"),
    "a bare spread": ("0.002 mm (standard)", "0.002 mm"),
    "a bare spread of temperature": ("0.05 K (standard)", "0.05 K"),
    "an unknown key": ('identity = "BAL-02"', 'identitiy = "BAL-02"'),
    "due before calibrated": ("due = 2027-05-01", "due = 2025-05-01"),
    "a date as text": ("molded = 2026-11-18", 'molded = "18.11.2026"'),
    "a date with a time of day": ("molded = 2026-11-18", "molded = 2026-11-18T08:30:00"),
    "a time of day for an expiry": ("expires = 2027-06-01", "expires = 08:30:00"),
    "a wire without a beaker": ('beaker_diameter = "80 mm"\n', ""),
    "a limit of the batch": ("[process.", "[limits]\nguard = 0\n[process."),
    "a plan of the batch": ("[process.", "[plan.web]\ncoupons = 1\n[process."),
    "another format": ("format = 1", "format = 2"),
}


@pytest.mark.parametrize("command", ["report", "measure"])
@pytest.mark.parametrize("case", CASES)
def test_one_mistake_in_a_batch_file(case, command, shop):
    shop.change("batch.toml", *CASES[case])
    (problem,) = shop.refused(f"batch file: {case}", command, "batch.toml")
    assert problem["file"] == "batch.toml"


def test_two_lots_need_their_shares(shop):
    shop.change("batch.toml", "[[lot]] ", LOT.replace('share = "50 %"\n', "") + "[[lot]] ")
    problems = shop.refused("batch file: two lots without shares", "report", "batch.toml")
    assert [(p["code"], p["place"]) for p in problems[:2]] == [("missing-key", f"lot[{i}]") for i in (1, 2)]


def test_a_lot_stands_once(shop):
    """Named twice, the last one's values were taken and its share counted as another lot's."""
    shop.change("batch.toml", "[[lot]] ", LOT + "[[lot]] ")
    shop.change("batch.toml", 'number = "L2231"', 'number = "L2231"\nshare = "50 %"')
    number = next(line for line in LOT.splitlines() if line.startswith("number"))
    shop.change("batch.toml", number, 'number = "L2231"')
    problems = shop.refused("batch file: one lot twice", "report", "batch.toml")
    assert ("given-twice", "lot[2].number") in {(p["code"], p["place"]) for p in problems}


def test_shares_sum_to_the_whole(shop):
    shop.change("batch.toml", "[[lot]] ", LOT + "[[lot]] ")
    shop.change("batch.toml", 'number = "L2231"', 'number = "L2231"\nshare = "40 %"')
    problems = shop.refused("batch file: shares of 90 %", "report", "batch.toml")
    assert {("wrong-sum", "lot[2].share"), ("lots-differ", "lot[2].resin_content")} <= {
        (p["code"], p["place"]) for p in problems
    }


def test_a_part_file_is_no_batch_file(shop):
    for command in ("report", "measure"):
        (problem,) = shop.refused("a part file for a batch file", command, "part.toml")
        assert (problem["file"], problem["place"]) == ("part.toml", "")


@pytest.mark.parametrize("command", ["report", "predict", "fill"])
def test_a_coupon_table_is_no_toml_file(command, shop):
    (problem,) = shop.refused("a coupon table for a TOML file", command, "coupons.csv")
    assert (problem["file"], problem["place"]) == ("coupons.csv", "")


def test_mistakes_of_batch_and_part_are_told_together(shop):
    """Ten in the batch file and two in the part file that it names, each once."""
    changes = [
        ("format = 1", "format = 2"), ('id = "26-031"', "id = 26"), ("quantity = 12", 'quantity = "12"'),
        ("molded = 2026-11-18", "moldd = 2026-11-18"), ('prepreg = "ud150"', 'prepreg = "ud15"'),
        ("33.1 % ± 0.6 (k=2)", "33.1 % ± 0.6"), ("[fiber.carbon]", "[fiber.carbn]"),
        ('repeatability = "0.1 mg (standard)"', 'repeatability = "0.1 mm (standard)"'),
        ('liquid = "water"', 'liquit = "water"'), ('wire_diameter = "0.2 mm"', 'wire_diameter = "0.2"'),
    ]  # fmt: skip
    for old, new in changes:
        shop.change("batch.toml", old, new)
    places = {
        "format", "batch.id", "batch.quantity", "batch.moldd", "lot[1].prepreg", "lot[1].resin_content",
        "fiber.carbn", "instrument.balance.repeatability", "laboratory.liquit", "laboratory.wire_diameter",
    }  # fmt: skip
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (len(problems), {p["place"] for p in problems}) == (10, places)
    shop.change("part.toml", "walls = 2", "walls = 3")
    shop.change("part.toml", 'kind = "carbon"', 'kind = "carbn"')
    problems = shop.json("report", "batch.toml", status=[2])["problems"]
    ours = {p["place"] for p in problems if p["file"] == "part.toml"}
    assert ours == {"zone.skin.walls", "fiber.carbon.kind"}
    # names that only the part file could confirm wait until it can be read
    assert {p["place"] for p in problems} - ours == places - {"lot[1].prepreg", "fiber.carbn"}
    assert len(problems) == 10


@pytest.mark.parametrize(
    ("old", "new", "code", "place", "example"),
    [
        ("0.05 K (standard)", "0.05 mg (standard)", "wrong-kind", "thermometer.repeatability", "0.2 K"),
        ("0.002 mm (standard)", "0.002 mmm (standard)", "unreadable-value", "micrometer.repeatability", "mm"),
    ],
)
def test_an_instrument_is_asked_for_its_own_kind_of_unit(old, new, code, place, example, shop):
    shop.change("batch.toml", old, new)
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == (code, f"instrument.{place}")
    assert example in problem["expected"]


@pytest.mark.parametrize(
    ("name", "typed"), [("micrometer", "micrometre"), ("thermometer", "Thermometer"), ("balance", "balanse")]
)
def test_an_instrument_that_nothing_is_read_with_is_refused_with_the_nearest(name, typed, shop):
    """Left in, its uncertainty would count for nothing, and nobody would see it."""
    shop.change("batch.toml", f"[instrument.{name}]", f"[instrument.{typed}]")
    for command in ("measure", "report"):
        (problem,) = shop.json(command, "batch.toml", status=[2])["problems"]
        assert (problem["code"], problem["place"]) == ("unknown-name", f"instrument.{typed}")
        assert problem["hint"] == f"did you mean '{name}'?"


def test_an_instrument_that_is_only_not_used_this_time_is_taken(shop):
    shop.add("batch.toml", '[instrument.caliper]\nrepeatability = "0.02 mm (standard)"')
    shop.add("batch.toml", '[instrument."saturated mass"]\nrepeatability = "0.5 mg (standard)"')
    assert shop.json("measure", "batch.toml")["warnings"] == []


def test_a_thermometer_in_degrees_fahrenheit_states_a_difference(shop):
    """0.09 degF are 0.09/1.8 = 0.05 K."""
    before = shop.json("measure", "batch.toml")
    shop.change("batch.toml", "0.05 K (standard)", "0.09 degF (standard)")
    after = shop.json("measure", "batch.toml")
    pairs = zip(before["specimens"], after["specimens"], strict=True)
    for one, other in pairs:
        u = one["density"]["standard_uncertainty"]
        assert other["density"]["standard_uncertainty"] == pytest.approx(u, rel=1e-9)


def test_a_resin_content_that_counts_volatiles_is_above_them(shop):
    shop.change("batch.toml", 'resin_basis = "as received"', 'resin_basis = "with volatiles"')
    assert shop.json("report", "batch.toml", status=[0, 1])["answer"]
    shop.change("batch.toml", "0.4 % ± 0.2 (tolerance)", "40 %")
    (problem,) = shop.refused("batch file: more volatiles than resin", "report", "batch.toml")
    assert (problem["code"], problem["place"]) == ("no-resin", "lot[1].resin_content")
