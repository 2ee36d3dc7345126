"""Readings that no laminate can give: refused with every cell named, nothing computed."""

import pytest

from tests.messages.wording import reads, worded

HEAD = "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]"
LOSS = "specimen,zone,specimen mass [g],residue mass [g],method"
CRUCIBLE = "specimen,zone,crucible mass [g],crucible with specimen [g],crucible with residue [g],method"
SOAKED = "specimen,zone,dry mass [g],saturated mass [g],mass in liquid [g],liquid temperature [degC]"
POINTS = "specimen,zone,field,points,fiber points,void points"
PREPREG = "specimen,lot,area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
SINKER = (
    "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],sinker mass in liquid [g]"
)
SWAPPED = "are cells swapped or mistyped?"

CASES = {
    "air and liquid swapped": (
        (HEAD, "1,web,0.5117,1.4427,22.8"),
        "wrong-order", "mass in liquid",
        "'1.4427', not below mass in air '0.5117'", "mass in liquid below mass in air",
        "are the two cells swapped?",
    ),
    "residue and coupon swapped": (
        (LOSS, "1,web,0.9763,1.4425,digestion"),
        "wrong-order", "residue mass",
        "'1.4425', not below specimen mass '0.9763'", "residue mass below specimen mass",
        "the residue cannot outweigh the coupon: are cells swapped or mistyped?",
    ),
    "residue over mass in air": (
        ("specimen,zone,mass in air [g],residue mass [g],method", "1,web,0.9763,1.4425,digestion"),
        "wrong-order", "residue mass",
        "'1.4425', not below mass in air '0.9763'", "residue mass below mass in air",
        "the residue cannot outweigh the coupon: are cells swapped or mistyped?",
    ),
    "crucible lighter with residue than empty": (
        (CRUCIBLE, "1,web,21.9763,22.4425,21.0000,digestion"),
        "wrong-order", "crucible with residue",
        "'21.0000', not above crucible mass '21.9763'",
        "crucible with residue above crucible mass", SWAPPED,
    ),
    "crucible lighter with coupon than with residue": (
        (CRUCIBLE, "1,web,21.0000,21.9763,22.4425,digestion"),
        "wrong-order", "crucible with residue",
        "'22.4425', not below crucible with specimen '21.9763'",
        "crucible with residue below crucible with specimen",
        "the residue cannot outweigh the coupon: are cells swapped or mistyped?",
    ),
    "heavier dry than saturated": (
        (SOAKED, "1,web,3.0500,3.0450,1.0850,23"),
        "wrong-order", "saturated mass",
        "'3.0450', not above dry mass '3.0500'", "saturated mass above dry mass", SWAPPED,
    ),
    "fiber heavier than its prepreg": (
        (PREPREG, "1,L2231,100,1.5060,0.9000,3.1600"),
        "wrong-order", "fiber mass",
        "'3.1600', not below prepreg mass '1.5060'", "fiber mass below prepreg mass", SWAPPED,
    ),
    "a negative mass": (
        (HEAD, "1,web,-1.4427,0.5117,22.8"),
        "impossible-value", "mass in air", "'-1.4427 g'", "a mass above 0, up to 100 kg", "",
    ),
    "denser than its densest constituent": (
        (HEAD, "1,web,1.4427,0.8117,22.8"),
        "impossible-density", "mass in liquid",
        "a density of 2.279 g/cm^3 from '1.4427' (mass in air), '0.8117' (mass in liquid), "
        "'22.8' (liquid temperature)",
        "from 0.61 to 1.8 g/cm^3, which the constituents allow",
        "weigh again: are cells swapped, or a digit or unit wrong?",
    ),
    "a coupon that floats": (
        (HEAD, "1,web,1.4427,-0.0117,22.8"),
        "specimen-floats", "mass in liquid",
        "'-0.0117', a coupon that floats", "a mass above 0 in the liquid",
        "weigh it with a sinker, and fill in 'sinker mass in liquid'",
    ),
    "a sinker too light": (
        (SINKER, "1,web,1.4427,-0.0117,22.8,0.2"),
        "specimen-floats", "mass in liquid",
        "'-0.0117', a coupon that floats with its sinker", "a mass above 0 in the liquid",
        "weigh it with a heavier sinker",
    ),
    "water hotter than its formula": (
        (HEAD, "1,web,1.4427,0.5117,73"),
        "water-temperature", "liquid temperature",
        "water at '73'", "water from 0 to 40 degC",
        "is the unit in the heading right? for another liquid give its density",
    ),
    "water without its temperature": (
        ("specimen,zone,mass in air [g],mass in liquid [g]", "1,web,1.4427,0.5117"),
        "missing-reading", "mass in liquid",
        "no 'liquid temperature' beside a mass in water",
        "the temperature of the water, or a 'liquid density'", "",
    ),
    "a residue alone": (
        ("specimen,zone,residue mass [g],method", "1,web,0.9763,digestion"),
        "missing-reading", "residue mass",
        "no 'specimen mass' or 'mass in air' beside 'residue mass'", "the readings that go together", "",
    ),
    "a mass in the liquid alone": (
        ("specimen,zone,mass in liquid [g],liquid temperature [degC]", "1,web,0.5117,22.8"),
        "missing-reading", "mass in liquid",
        "no 'mass in air' or 'dry mass' and 'saturated mass' beside 'mass in liquid'",
        "the readings that go together", "",
    ),
    "points that are neither whole nor half": (
        (POINTS, "1,web,a,100,57.3,1"),
        "impossible-value", "points",
        "'57.3 points'", "whole points in field 'a', or halves for those on an edge", "",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", list(CASES))
def test_what_cannot_be_is_refused(name, shop):
    lines, code, column, found, expected, hint = CASES[name]
    shop.table(*lines)
    problems = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert {
        "code": code, "file": "coupons.csv", "place": f"row 2, column '{column}'", "found": found,
        "expected": expected, "hint": hint,
    } in problems  # fmt: skip


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
