"""Rows that are not like the others: excluded, repeated, far off, blank, of two methods, of two lots."""

import json
import math

import pytest

from tests.messages.wording import begins, reads, says, worded

HEADING = "specimen,zone,thickness [mm]"
DENSITIES = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
FIVE = (2.866, 2.868, 2.867, 2.869, 2.866)


def table(shop, values, columns="", cells=()):
    cells = [*cells, *[""] * len(values)]
    shop.table(
        HEADING + columns,
        *(f"c{i},web,{v}{cell}" for i, (v, cell) in enumerate(zip(values, cells, strict=False))),
    )


def test_an_outlier_is_flagged_and_stays(shop):
    """Maximum normed residual, critical 1.71 at n = 5 (E178, truncated) and 1.89 at n = 6 (CMH-17 form)."""
    table(shop, (*FIVE, 2.890))
    answer = shop.json("measure", "batch.toml")
    (outlier, *others) = [o for o in answer["outliers"] if o["attribute"] == "thickness"]
    values = (*FIVE, 2.890)
    mean = sum(values) / 6
    s = math.sqrt(sum((v - mean) ** 2 for v in values) / 5)
    assert others == []
    assert (outlier["specimen"], outlier["zone"], outlier["method"]) == ("c5", "web", "thickness")
    assert outlier["normed_residual"] == pytest.approx((2.890 - mean) / s, rel=1e-9)
    assert outlier["critical"] == pytest.approx(1.887, abs=5e-4)
    assert answer["average"]["thickness"]["n"] == 6


@pytest.mark.parametrize("values", [(2.866, 2.8661, 2.8662, 2.890), FIVE, (2.866,) * 6])
def test_no_outlier_of_four_of_like_ones_or_of_equal_ones(values, shop):
    table(shop, values)
    assert shop.json("measure", "batch.toml")["outliers"] == []


def test_no_outlier_across_zones(shop):
    shop.table(HEADING, *(f"w{i},web,{v}" for i, v in enumerate(FIVE)), "s,skin,2.80")
    assert shop.json("measure", "batch.toml")["outliers"] == []


def test_results_with_and_without_excluded_rows(shop):
    table(shop, (2.866, 2.868, 2.867, 2.890), ",excluded", ("", "", "", ",edge of the molding"))
    answer = shop.json("measure", "batch.toml")
    assert answer["average"]["thickness"]["n"] == 3
    assert answer["average"]["thickness"]["value"] == pytest.approx(2.867)
    whole = answer["average_with_excluded"]["thickness"]
    assert (whole["value"], whole["n"]) == (pytest.approx((2.866 + 2.868 + 2.867 + 2.890) / 4), 4)
    assert [s["excluded"] for s in answer["specimens"]] == [None, None, None, "edge of the molding"]
    words = shop.run("measure", "batch.toml", "--why").out
    assert says("measure: results with and without excluded rows", words)


def test_results_with_the_rows_of_a_table_of_which_all_are_excluded(shop):
    table(shop, (2.866, 2.868), ",excluded", (",lost", ",lost"))
    answer = shop.json("measure", "batch.toml")
    assert "thickness" not in answer.get("average", {})
    whole = answer["average_with_excluded"]["thickness"]
    assert (whole["value"], whole["n"]) == (pytest.approx(2.867), 2)
    assert shop.run("measure", "batch.toml", "--why").out


def test_an_impossible_row_is_shown_once_it_is_excluded(shop):
    shop.table(
        "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],excluded,replaces,remark",
        "1,web,0.5117,1.4427,22.8,cells swapped and the coupon gone,,",
        "2,web,1.4609,0.5192,22.8,,,",
        "3,web,1.4143,0.5032,22.9,,1,the first one was lost",
    )
    answer = shop.json("measure", "batch.toml")
    shown = {s["specimen"]: s for s in answer["specimens"]}
    assert reads("measure: an impossible row is shown once", shown["1"]["excluded"])
    assert "density" not in shown["1"]
    assert answer["average"]["density"]["n"] == 2


def test_a_retest_takes_the_place_of_what_it_repeats(shop):
    shop.table(
        f"{HEADING},replaces,remark",
        "a,web,2.70,,",
        "b,web,2.86,,",
        "a2,web,2.87,a,cut again beside a",
        "a3,web,2.88,a2,and again",
    )
    answer = shop.json("measure", "batch.toml")
    shown = {s["specimen"]: (s["replaces"], s["replaced_by"]) for s in answer["specimens"]}
    assert shown == {"a": (None, "a2"), "b": (None, None), "a2": ("a", "a3"), "a3": ("a2", None)}
    assert answer["average"]["thickness"]["n"] == 2
    assert answer["average"]["thickness"]["value"] == pytest.approx(2.87)


@pytest.mark.parametrize(
    ("replaces", "found", "expected", "hint"),
    [
        ("bb", "'bb'", worded("measure: a retest of nobody is refused"), "known: a, b"),
        ("c", "'c'", worded("measure: a retest of nobody is refused"), "known: a, b"),
    ],
)
def test_a_retest_of_nobody_is_refused(replaces, found, expected, hint, shop):
    shop.table(f"{HEADING},replaces", "a,web,2.86,", "b,web,2.86,", f"c,web,2.87,{replaces}")
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert problem["place"] == "row 4, column 'replaces'"
    assert (problem["found"], problem["expected"]) == (found, expected)


def test_specimens_that_repeat_each_other_are_refused(shop):
    shop.table(f"{HEADING},replaces", "a,web,2.86,b", "b,web,2.86,a", "c,web,2.87,")
    problems = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert [p["place"] for p in problems] == ["row 2, column 'replaces'", "row 3, column 'replaces'"]
    assert reads("measure: specimens that repeat each other", problems[0]["expected"])


AGREE = ("specimen,zone,plies,mass in air [g],mass in liquid [g],liquid temperature [degC],specimen mass [g],"
         "residue mass [g],method,thickness [mm]")  # fmt: skip


def test_two_methods_on_one_specimen_share_their_densities(shop):
    """|y1 - y2| <= k sqrt(u1^2 + u2^2 - 2 u12): the fiber density moves both and counts by the difference."""
    shop.change("batch.toml", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
                'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber', "")  # fmt: skip
    shop.change("part.toml", 'stack = ["4 ud150", "1 film"]', 'stack = ["4 ud150"]')
    shop.table(AGREE, "1,web,20,1.4427,0.5117,22.8,1.4425,0.9763,digestion,2.872")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    (pair,) = [a for a in one["agreement"] if a["attribute"] == "fiber_volume"]
    first, other = one["fiber_volume"], one["other_methods"]
    assert pair["methods"] == ["digestion and immersion", "thickness and areal weight"]
    other = next(m for m in other if (m["attribute"], m["method"]) == ("fiber_volume", pair["methods"][1]))
    assert pair["difference"] == pytest.approx(first["value"] - other["value"], rel=1e-9)
    # by hand: the relative u of the fiber density is in both; areal weight and thickness only in the second
    shared = 0.003 / 1.786
    u1, u2 = first["standard_uncertainty"], other["standard_uncertainty"]
    u12 = shared * first["value"] * shared * other["value"]
    allowed = 1.959964 * math.sqrt(u1**2 + u2**2 - 2 * u12)
    assert pair["allowed"] == pytest.approx(allowed, rel=1e-4)
    assert pair["agree"] == (abs(pair["difference"]) <= allowed)
    assert pair["allowed"] < 1.96 * math.hypot(u1, u2)


def test_without_uncertainties_nothing_is_said_of_agreement(shop):
    shop.table("specimen,plies,density [g/cm^3],specimen mass [g],residue mass [g],method,thickness [mm]",
               "1,20,1.55,2,1.36,digestion,2.87")  # fmt: skip
    call = ("measure", "coupons.csv", *DENSITIES, "--fiber-areal-weight", "150 g/m^2")
    (one,) = shop.json(*call)["specimens"]
    assert one["agreement"] == []
    assert "disagree" not in shop.run(*call).out


def test_blank_rows_say_the_residue_and_the_loss(shop):
    shop.change("batch.toml", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
                'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber', "")  # fmt: skip
    shop.table(
        "specimen,kind,zone,specimen mass [g],residue mass [g],method",
        "n1,blank resin,,2.0000,0.0040,digestion",
        "n2,blank resin,,2.0000,0.0060,digestion",
        "f1,blank fiber,,1.0000,0.9950,digestion",
        "1,,web,2.0000,1.3600,digestion",
        "2,,web,2.0000,1.3640,digestion",
    )
    answer = shop.json("measure", "batch.toml")
    share, loss = 0.0025, 0.005
    assert [s["specimen"] for s in answer["specimens"]] == ["1", "2"]
    content = (0.68 - share) / (1 - loss - share)
    assert answer["specimens"][0]["fiber_content"]["value"] == pytest.approx(100 * content, rel=1e-9)
    lines = {line["input"]: line["standard_uncertainty"] for line in answer["budget"]["fiber_content"]}
    # two shares of 0.2 and 0.3 %; the calibration of the balance (0.1 mg) moves both by 0.1 mg of 2 g;
    # the last decimal, d = 0.1 mg: q^2 = (1 + share^2) d^2/12 of 2 g, q^2/2 in the scatter and q^2 in both
    q2 = (1 + (0.002**2 + 0.003**2) / 2) * (1e-4 / 2) ** 2 / 12
    steps = (1 + share**2) * (1e-4 / 2) ** 2 / 12
    u = math.sqrt((0.001**2 / 2 + q2) / 2 + ((1 - share) * 1e-4 / 2) ** 2 + steps)
    mean = (0.681 - share) / (1 - loss - share)
    assert lines["residue share"] == pytest.approx(100 * (1 - mean) / (1 - loss - share) * u, rel=1e-6)
    assert any(begins("measure: blank rows say the residue", note)
               for note in answer["notes"])  # fmt: skip


@pytest.mark.parametrize("count", [2, 300])
def test_thickness_alone_asks_for_no_density(shop, count):
    shop.table("specimen,thickness 1 [mm],thickness 2 [mm]", *(f"c{i:03d},2.87,2.86" for i in range(count)))
    answer = shop.json("measure", "coupons.csv")
    assert answer["average"]["thickness"]["value"] == pytest.approx(2.865)
    assert "density" not in answer["average"]
    shop.table("specimen,residue mass [g],mass in air [g],thickness [mm]", "c1,0.9763,1.4427,2.87")
    refused = shop.run("measure", "coupons.csv", "--json")
    places = {problem["place"] for problem in json.loads(refused.out)["problems"]}
    assert (refused.status, places) == (2, {"--fiber-density", "--resin-density"})


@pytest.mark.parametrize("count", [2, 300])
@pytest.mark.parametrize(
    ("columns", "cells", "attribute"),
    [
        ("mass in air [g],mass in liquid [g],liquid temperature [degC]", "1.4427,0.5117,22.8", "density"),
        ("specimen mass [g],residue mass [g],method", "1.4425,0.9763,digestion", "fiber_content"),
    ],
)
def test_a_figure_without_fiber_and_resin_density_is_given_without_them(
    columns, cells, attribute, count, shop
):
    shop.table(f"specimen,{columns}", *(f"c{i:03d},{cells}" for i in range(count)))
    given = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.25 g/cm^3")
    with_them, without = (shop.json("measure", "coupons.csv", *more) for more in (given, ()))
    for figure in ("value", "standard_uncertainty"):
        means = (answer["average"][attribute][figure] for answer in (with_them, without))
        assert next(means) == pytest.approx(next(means), rel=1e-12)
    assert without["warnings"] == with_them["warnings"]


def test_a_point_count_of_two_fields_beside_a_thickness_that_disagrees(shop):
    """Two fields of one area of fibers, against plies and areal weight that give far more."""
    shop.table(
        "specimen,field,points,fiber points,void points,plies,thickness [mm]",
        "P1,1,100,40,0,20,2.40",
        "P1,2,100,42,1,,",
    )
    given = (*DENSITIES, "--fiber-areal-weight", "150 g/m^2 ± 2 (k=2)")
    (one,) = shop.json("measure", "coupons.csv", *given)["specimens"]
    assert one["fiber_volume"]["value"] > 0.0
    assert {*one["methods"]} >= {"point count"}


@pytest.mark.parametrize(
    ("rows", "case"),
    [
        (
            "specimen,mass in air [g],length [mm],width [mm],plies\nA,10.1234,100.02,50.01,12\n",
            "measure: a table lacks",
        ),
        ("specimen,mass in air [g],length [mm],width [mm],plies\nA,,,,\n", "measure: a table is blank"),
        ("specimen,thickness [mm],excluded\nA,2.87,fell down and broke\n", "measure: a table is excluded"),
    ],
)
def test_a_table_that_gives_nothing_says_why(rows, case, shop):
    shop.write("coupons.csv", rows)
    answer = shop.run("measure", "coupons.csv")
    assert answer.status == 0
    assert says(case, answer.out)


def test_an_average_of_fewer_coupons_than_another_says_of_how_many(shop):
    heading = "specimen,zone,thickness [mm],method,specimen mass [g],residue mass [g]"
    burnt = "digestion,1.4425,0.9763"
    shop.table(heading, "A,web,2.867,,,", f"B,web,,{burnt}", f"C,web,,{burnt}")
    out = shop.run("measure", "coupons.csv").out
    assert says("measure: counts that differ", out)


@pytest.mark.parametrize("other", ["ignition", "digestion"])
def test_one_row_with_another_method_is_told_beside_the_average(other, shop):
    """The average is of that row alone: its method comes first."""
    rows = [f"{i},{way},1.4425,0.97{i}3" for i, way in enumerate((other, "ignition", "ignition"))]
    shop.table("specimen,method,specimen mass [g],residue mass [g]", *rows)
    out = shop.run("measure", "coupons.csv").out
    assert says("measure: coupons that lost their matrix in two ways", out) == (other != "ignition")
