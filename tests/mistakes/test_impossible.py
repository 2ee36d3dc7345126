"""Readings that no laminate can give: refused with every cell named, nothing computed."""

import re
from pathlib import Path

import pytest

import laminate as lam
from tests.messages.wording import reads, worded

MAST = Path(__file__).parents[2] / "examples" / "mast"
HEAD = "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]"
LOSS = "specimen,zone,specimen mass [g],residue mass [g],method"
CRUCIBLE = "specimen,zone,crucible mass [g],crucible with specimen [g],crucible with residue [g],method"
SOAKED = "specimen,zone,dry mass [g],saturated mass [g],mass in liquid [g],liquid temperature [degC]"
POINTS = "specimen,zone,field,points,fiber points,void points"
PREPREG = "specimen,lot,area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
SINKER = (
    "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],sinker mass in liquid [g]"
)

CASES = {
    "air and liquid swapped": (HEAD, "1,web,0.5117,1.4427,22.8"),
    "residue and coupon swapped": (LOSS, "1,web,0.9763,1.4425,digestion"),
    "residue over mass in air": (
        "specimen,zone,mass in air [g],residue mass [g],method",
        "1,web,0.9763,1.4425,digestion",
    ),
    "crucible lighter with residue than empty": (CRUCIBLE, "1,web,21.9763,22.4425,21.0000,digestion"),
    "crucible lighter with coupon than with residue": (CRUCIBLE, "1,web,21.0000,21.9763,22.4425,digestion"),
    "heavier dry than saturated": (SOAKED, "1,web,3.0500,3.0450,1.0850,23"),
    "fiber heavier than its prepreg": (PREPREG, "1,L2231,100,1.5060,0.9000,3.1600"),
    "fiber heavier than its prepreg without backing": (PREPREG, "1,L2231,100,3.2390,1.0010,2.2380"),
    "dried and weighed on its backing": (
        f"{PREPREG},dried mass [g]",
        "1,L2231,100,3.2390,1.0010,1.4960,3.2300",
    ),
    "a negative mass": (HEAD, "1,web,-1.4427,0.5117,22.8"),
    "a crucible tared to 0": (CRUCIBLE, "1,web,0.0000,1.4425,0.9763,digestion"),
    "denser than its densest constituent": (HEAD, "1,web,1.4427,0.8117,22.8"),
    "a coupon that floats": (HEAD, "1,web,1.4427,-0.0117,22.8"),
    "a sinker too light": (SINKER, "1,web,1.4427,-0.0117,22.8,0.2"),
    "water hotter than its formula": (HEAD, "1,web,1.4427,0.5117,73"),
    "water without its temperature": (
        "specimen,zone,mass in air [g],mass in liquid [g]",
        "1,web,1.4427,0.5117",
    ),
    "a residue alone": ("specimen,zone,residue mass [g],method", "1,web,0.9763,digestion"),
    "a mass in the liquid alone": (
        "specimen,zone,mass in liquid [g],liquid temperature [degC]",
        "1,web,0.5117,22.8",
    ),
    "points that are neither whole nor half": (POINTS, "1,web,a,100,57.3,1"),
}


@pytest.mark.parametrize("name", list(CASES))
def test_what_cannot_be_is_refused(name, shop):
    shop.unplan()  # what a plan wants and is not there is waited for
    shop.table(*CASES[name])
    for problem in shop.refused(f"impossible: {name}", "measure", "batch.toml"):
        assert problem["place"].startswith("row 2, column '")


HONEST = {
    HEAD: "web,1.4427,0.5117,22.8",
    LOSS: "web,1.4425,0.9763,digestion",
    CRUCIBLE: "web,21.0000,22.4425,21.9763,digestion",
    SOAKED: "web,3.0450,3.0500,1.0850,23",
    SINKER: "web,1.4427,0.7117,22.8,0.2",
}


@pytest.mark.parametrize("name", [name for name, (head, _) in CASES.items() if head in HONEST])
def test_what_cannot_be_is_found_among_many_rows_too(name, shop):
    """Large tables go by columns, which only pick the rows that may be impossible: they must miss none."""
    shop.unplan()
    head, row = CASES[name]
    honest = [f"G{i},{HONEST[head]}" for i in range(260)]
    answers = []
    for others in (honest[:2], honest):
        shop.table(head, *others, row)
        problems = shop.json("measure", "batch.toml", status=[2])["problems"]
        answers.append([(p["code"], p["place"].partition(", ")[2], p["found"]) for p in problems])
        assert {p["place"].partition(",")[0] for p in problems} == {f"row {len(others) + 2}"}
    assert answers[0] == answers[1]


@pytest.mark.parametrize("dried", ["2.2290", "2.2380", "2.2384"])
def test_a_prepreg_that_lost_nothing_or_took_up_moisture_is_computed(dried, shop):
    shop.table(f"{PREPREG},dried mass [g]", f"1,L2231,100,3.2390,1.0010,1.4960,{dried}")
    (test,) = shop.json("measure", "batch.toml")["prepreg"]
    assert test["volatiles"]["value"] == pytest.approx(100 * (2.2380 - float(dried)) / 2.2380)


def test_every_impossible_cell_is_named_at_once_and_nothing_is_computed(shop):
    shop.table(HEAD, "1,web,0.5117,1.4427,22.8", "2,web,1.4609,0.5192,22.8", "3,web,1.4143,0.9032,22.9")
    answer = shop.json("measure", "batch.toml", status=[2])
    assert set(answer) == {"format", "problems"}
    assert [p["place"] for p in answer["problems"]] == [
        "row 2, column 'mass in liquid'",
        "row 4, column 'mass in liquid'",
    ]


def test_an_excluded_row_is_refused_no_longer(shop):
    shop.table(f"{HEAD},excluded", "1,web,0.5117,1.4427,22.8,gone", "2,web,1.4609,0.5192,22.8,")
    assert shop.json("measure", "batch.toml")["average"]["density"]["n"] == 1


@pytest.mark.parametrize("method", ["ignition", "digestion"])
def test_aramid_cannot_be_burnt_off(method, shop):
    shop.change("part.toml", 'kind = "carbon"', 'kind = "aramid"')
    shop.table(LOSS, f"1,web,1.4425,0.9763,{method}")
    if method == "digestion":
        assert shop.json("measure", "batch.toml")["specimens"][0]["fiber_content"]["value"] > 60.0
        return
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("aramid-burnt", "row 2, column 'method'")
    assert (problem["found"], problem["expected"]) == (worded("mistakes: ignition of aramid"), "digestion")
    assert reads("mistakes: aramid cannot be burnt off", problem["hint"])


def test_weighings_of_nearly_equal_things_may_cross_by_their_scatter(shop):
    """Dry above saturated by 0.5 mg, readings scattering by 0.1 mg: 4 x sqrt(2) x 0.1 mg are allowed."""
    shop.table(SOAKED, "1,web,3.0500,3.0495,1.0850,23")
    answer = shop.json("measure", "batch.toml")
    assert answer["specimens"][0]["open_void_content"]["value"] == pytest.approx(
        -100 * 0.0005 / 1.9645, rel=1e-4
    )


@pytest.mark.parametrize("method", ["ignition", ""])
def test_a_loss_of_matrix_says_how_and_burnt_carbon_needs_a_blank(method, shop):
    blank = '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
    shop.change("batch.toml", blank, "")
    shop.change("batch.toml", 'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n', "")
    shop.table(LOSS, f"1,web,1.4425,0.9773,{method}")
    (warning,) = shop.json("measure", "batch.toml")["warnings"]
    if method:
        assert (warning["code"], warning["found"]) == (
            "carbon-burnt",
            worded("mistakes: ignition of carbon"),
        )
        assert reads("mistakes: a loss of matrix says how and burnt", warning["expected"])
        assert reads("mistakes: a loss of matrix says how and burnt, 2", warning["hint"])
    else:
        assert (warning["code"], warning["expected"]) == (
            "method-not-stated",
            worded("mistakes: ignition or digestion"),
        )


GLASS = ("--fiber-density", "2.55 g/cm^3", "--resin-density", "1.2 g/cm^3", "--fiber", "glass")


@pytest.mark.parametrize("options", [(), ("--thermometer", "0.5 K (standard)")])
@pytest.mark.parametrize(
    ("heading", "edges"),
    [("liquid temperature [degC]", ("0", "40")), ("liquid temperature [degF]", ("32", "104"))],
)
def test_water_at_the_very_ends_of_its_formula_is_taken(heading, edges, options, shop):
    """Tanaka et al. 2001, 0 to 40 degC: 999.843 and 992.216 kg/m3 give the densities of the specimen."""
    for edge, water in zip(edges, (0.999843, 0.992216), strict=True):
        shop.table(f"specimen,mass in air [g],mass in liquid [g],{heading}", f"1,1.4427,0.5117,{edge}")
        answer = shop.json(
            "measure",
            "coupons.csv",
            "--fiber-density",
            "1.79 g/cm^3",
            "--resin-density",
            "1.22 g/cm^3",
            *options,
        )
        expected = 1.4427 * (water - 0.0012) / (1.4427 - 0.5117) + 0.0012
        assert answer["specimens"][0]["density"]["value"] == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("tolerance", ["", " ± 0.01 (k=2)"])
@pytest.mark.parametrize(("density", "warned"), [("1.8", True), ("1.64", False)])
def test_voids_below_what_half_digits_explain_are_a_warning(density, warned, tolerance, shop):
    """1 - 1.8 (0.5/2.55 + 0.5/1.2) = -10.3 %: half digits explain 4 points; of 1.64 it is -0.5 %."""
    shop.table(
        "specimen,density [g/cm^3],specimen mass [g],residue mass [g],method", f"1,{density},100,50,ignition"
    )
    answer = shop.json(
        "measure", "coupons.csv", "--fiber-density", f"2.55 g/cm^3{tolerance}",
        "--resin-density", "1.2 g/cm^3", "--fiber", "glass",
    )  # fmt: skip
    codes = {warning["code"] for warning in answer["warnings"]}
    assert ("negative-void-content" in codes) == warned


@pytest.mark.parametrize(
    ("water", "doubted"),
    [
        ("22.8,0.9975", False),
        ("22.8,0.998", False),  # 0.99759 by Tanaka, rounded
        ("22.8,1.00", False),
        ("22.8,1.0035", True),
        ("22.8,1.001", True),
        ("22.8,0.9575", True),
        ("22.8,0.9958", True),
        (",0.9973", False),
        (",1.0021", True),  # no water is so dense
        ("22.8,0.7893", False),  # another liquid, which `measure` has no name for
        (",0.9650", False),  # silicone oil
        (",1.0250", False),  # salt water
    ],
)
def test_a_liquid_of_a_density_that_water_of_its_temperature_has_not(water, doubted, shop):
    head = "specimen,mass in air [g],mass in liquid [g],liquid temperature [degC],liquid density [g/cm^3]"
    for count in (1, 3, 300):
        shop.table(head, *(f"{n},1.4427,0.5517,{water}" for n in range(count)))
        warned = shop.json("measure", "coupons.csv", *GLASS)["warnings"]
        doubts = [w["place"] for w in warned if "liquid density" in w["place"]]
        assert (doubts[:1] == ["row 2, column 'liquid density'"]) == doubted == bool(doubts)
        if count == 1:
            assert [w["code"] for w in warned] == ["unlike-itself"] * doubted


@pytest.mark.parametrize(("liquid", "doubted"), [("water", True), ("water and wetting agent", False)])
def test_a_density_of_the_batch_file_that_water_has_not(liquid, doubted, shop):
    shop.change("batch.toml", 'liquid = "water"', f'liquid = "{liquid}"\nliquid_density = "1.0035 g/cm^3"')
    warned = shop.json("measure", "batch.toml")["warnings"]
    doubts = [(w["code"], w["place"]) for w in warned if w["code"] == "unlike-itself"]
    assert doubts == [("unlike-itself", f"row {n}, column 'specimen'") for n in range(2, 5)] * doubted


def test_a_liquid_density_of_an_option_that_a_column_replaces_is_said(shop):
    for density, noted in (("0.9975", 0), ("0.9970", 1)):
        shop.table(
            "specimen,mass in air [g],mass in liquid [g],liquid density [g/cm^3]",
            f"1,1.4427,0.5517,{density}",
        )
        notes = shop.json("measure", "coupons.csv", *GLASS, "--liquid-density", "0.9975 g/cm^3")["notes"]
        told = [note for note in notes if "--liquid-density" in note]
        assert len(told) == noted
        assert all(words in note for note in told for words in ("0.9975 g/cm^3", "0.997,"))


@pytest.mark.parametrize(
    ("stated", "liquid", "doubted"),
    [
        ("0.997 g/cm^3 ± 0.001 (tolerance)", "water", False),  # 0.99759 by Tanaka at 22.8 degC
        ("1.000 g/cm^3 ± 0.003 (tolerance)", "water", False),
        ("1.0035 g/cm^3 ± 0.0005 (tolerance)", "water", True),
        ("1.0035 g/cm^3 ± 0.0005 (tolerance)", "distilled water", True),
        ("1.0250 g/cm^3 ± 0.0005 (tolerance)", "salt water", False),
    ],
)
def test_a_stated_density_of_the_liquid_is_held_against_water_within_its_spread(
    stated, liquid, doubted, tmp_path
):
    for name in ("part.toml", "batch.toml", "coupons.csv"):
        text = (MAST / name).read_text("utf-8")
        if name == "batch.toml":
            text = re.sub(r"(\[laboratory\]\n)", rf'\1liquid_density = "{stated}"\n', text)
            text = text.replace('liquid = "water"', f'liquid = "{liquid}"')
            assert stated in text
            assert f'"{liquid}"' in text
        (tmp_path / name).write_text(text)
    warned = lam.measure(tmp_path / "batch.toml").to_dict()["warnings"]
    assert any("liquid density" in w["found"] for w in warned) == doubted
