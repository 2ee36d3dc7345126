"""Points counted over fields: a count in the wrong cell or column, and counts that no laminate gives."""

import numpy as np
import pytest

from laminate.coupons.copied import copied_counts
from laminate.files.coupons import Coupon, Field
from tests.messages.wording import facts

HEAD = "specimen,zone,field,points,fiber points,void points"
FIBER, VOIDS = (58, 60, 57, 59, 61, 58, 57, 56), (1, 0, 2, 1, 0, 1, 1, 1)


def warnings(shop, counts, name="p"):
    shop.table(HEAD, *(f"{name},web,{i},100,{fiber},{void}" for i, (fiber, void) in enumerate(counts, 1)))
    return shop.json("measure", "coupons.csv")["warnings"]


def with_sixth(fiber, void):
    counts = [*zip(FIBER, VOIDS, strict=True)]
    counts[5] = (fiber, void)
    return counts


def test_a_count_is_asked_about_in_its_own_cell(shop):
    """A digit dropped from 54 leaves 5: which one of ten nobody can tell, and a count has no point."""
    (told,) = warnings(shop, with_sixth(5, 1))
    assert (told["code"], told["place"]) == ("unlike-fellows", "row 7, column 'fiber points'")
    assert facts(told["hint"]) == "'accepted'"
    (told,) = warnings(shop, with_sixth(58, 41))
    assert told["place"] == "row 7, column 'void points'"


def test_a_count_of_which_two_digits_were_swapped_is_named(shop):
    (told,) = warnings(shop, with_sixth(85, 1))
    assert facts(told["hint"]) == "'accepted' | 58"


def test_fiber_and_void_of_one_field_exchanged_are_told_once(shop):
    (told,) = warnings(shop, with_sixth(1, 58))
    assert told["place"] == "row 7, column 'fiber points'"
    assert facts(told["found"]) == "'6' | 1 | 100 | 58"
    assert facts(told["hint"]) == "'accepted'"


def test_a_reason_for_the_field_answers_a_doubt_about_one_of_its_counts(shop):
    rows = [f"p,web,{i},100,{fiber},{void}," for i, (fiber, void) in enumerate(with_sixth(5, 1), 1)]
    rows[5] += "field 6: at the edge of a tow"
    shop.table(f"{HEAD},accepted", *rows)
    (told,) = shop.json("measure", "coupons.csv")["warnings"]
    assert told["accepted"] == "at the edge of a tow"


def test_half_a_point_too_many_is_refused_in_its_own_cell(shop):
    shop.table(HEAD, "p,web,1,100,58.3,1")
    (problem,) = shop.json("measure", "coupons.csv", status=[2])["problems"]
    assert problem["place"] == "row 2, column 'fiber points'"


def test_columns_exchanged_in_a_whole_table(shop):
    """0.9 % of fiber and 58 % of voids: each is what the other should be."""
    (told,) = warnings(shop, zip(VOIDS, FIBER, strict=True))
    assert (told["code"], told["place"]) == ("unlike-prediction", "row 2, column 'specimen'")


@pytest.mark.parametrize(
    ("voids", "places"),
    [((9, 8, 11, 9, 10, 8, 9, 10), 1), ((4, 5, 3, 6, 4, 5, 4, 3), 0), ((9,), 0), ((30,), 1)],
)
def test_voids_above_what_immersion_would_doubt(voids, places, shop):
    """5 % and twice the ± of the count: of one field of 100 points that of the points themselves."""
    told = [w for w in warnings(shop, zip(FIBER, voids, strict=False)) if w["code"] != "one-field"]
    assert [w["place"] for w in told] == ["row 2, column 'specimen'"] * places


@pytest.mark.parametrize(("fiber", "places"), [(5, 1), (30, 0), (97, 1)])
def test_fiber_that_no_molding_has(fiber, places, shop):
    counts = [(fiber + more, 0) for more in (0, 1, 0, 2, 2, 1, 1, 0)]
    assert len(warnings(shop, counts)) == places


def test_an_excluded_count_is_not_doubted(shop):
    shop.table(f"{HEAD},excluded", *(f"p,web,{i},100,1,{58 + i},torn while polishing" for i in range(4)))
    assert shop.json("measure", "coupons.csv")["warnings"] == []


GRID = 400
COUNTS = ((224, 2), (245, 2), (220, 2), (244, 1), (225, 3), (234, 0), (223, 4), (227, 1), (235, 4), (223, 1))


def doubts(shop, of_specimens):
    rows = [
        f"{name},web,{i},{points},{fiber},{void}"
        for name, counts in of_specimens.items()
        for i, (points, fiber, void) in enumerate(counts, 1)
    ]
    shop.table(HEAD, *rows)
    told = shop.json("measure", "coupons.csv")["warnings"]
    return [(w["code"], w["place"], facts(w["found"])) for w in told]


def on_grid(counts):
    return [(GRID, fiber, void) for fiber, void in counts]


def test_the_counts_of_a_coupon_under_another_name(shop):
    """In order, and out of it: of 400 points two fields agree once in about 170."""
    mine = on_grid(COUNTS)
    told = doubts(shop, {"a": mine, "b": mine, "c": mine[::-1]})
    assert told == [
        ("rows-alike", "row 12, column 'specimen'", "'a' | 'b' | 10"),
        ("rows-alike", "row 22, column 'specimen'", "'a' | 'c' | 10"),
    ]


@pytest.mark.parametrize(
    ("counts", "row", "facts_told"),
    [
        (COUNTS[:5] * 2, 7, "'1' | '10' | '5' | '6' | 'a'"),
        (((234, 2),) * 10, 3, "'1' | '10' | '2' | '9' | 'a'"),
        ((*COUNTS[:6], *COUNTS[1:5]), 8, "'10' | '2' | '5' | '7' | 'a'"),
    ],
)
def test_fields_of_one_coupon_copied_from_those_before(counts, row, facts_told, shop):
    told = doubts(shop, {"a": on_grid(counts)})
    assert told == [("rows-alike", f"row {row}, column 'points'", facts_told)]


def test_some_fields_of_another_coupon_copied(shop):
    told = doubts(shop, {"a": on_grid(COUNTS), "b": on_grid((*COUNTS[4:8], (231, 1), (219, 0)))})
    assert told == [("rows-alike", "row 12, column 'points'", "'1' | '4' | '5' | '8' | 'a' | 'b'")]


@pytest.mark.parametrize(
    "of_specimens",
    [
        {"a": on_grid((*COUNTS[:8], COUNTS[0], COUNTS[1]))},  # two fields agree with others
        {"a": [(GRID, "", 0)] * 10, "b": [(GRID, "", 0)] * 10},  # no voids in any field
        {"a": [(16, 9, 0), (16, 8, 0), (16, 9, 0), (16, 9, 0), (16, 8, 0)]},
        {"a": [(GRID, 224, 2)], "b": [(GRID, 224, 2)]},
    ],
)
def test_fields_alike_as_chance_makes_them(of_specimens, shop):
    assert [code for code, *_ in doubts(shop, of_specimens) if code == "rows-alike"] == []


@pytest.mark.parametrize(
    ("specimens", "fields", "points"), [(1, 5, 25), (3, 10, 400), (5, 20, 100), (9, 5, 64)]
)
def test_counts_of_their_own_are_asked_about_in_one_table_of_a_hundred_at_most(specimens, fields, points):
    generator, asked = np.random.default_rng(7), 0
    size = (1000, specimens, fields)
    fiber, void = generator.binomial(points, 0.58, size), generator.binomial(points, 0.006, size)
    for of_fiber, of_void in zip(fiber.tolist(), void.tolist(), strict=True):
        coupons = [
            Coupon(f"{at}", "t.csv", fields=[
                Field(f"{i}", points, f, v, {"points": f"row {i}"}, "t.csv") for i, (f, v) in enumerate(both)
            ])
            for at, both in enumerate(map(zip, of_fiber, of_void))
        ]  # fmt: skip
        asked += any(True for _ in copied_counts(coupons))
    assert asked <= 10


def test_running_totals_in_the_place_of_fields(shop):
    totals = [(GRID * (i + 1), *map(sum, zip(*COUNTS[: i + 1], strict=True))) for i in range(10)]
    ((code, place, told),) = doubts(shop, {"a": totals})
    assert (code, place) == ("running-totals", "row 3, column 'points'")
    assert told == "'1' | '10' | 400 | 4000"


@pytest.mark.parametrize("grids", [(400, 800, 400), (100, 150, 200), (800, 400)])
def test_grids_that_are_no_running_totals(grids, shop):
    told = doubts(shop, {"a": [(points, points * 29 // 50, 0) for points in grids]})
    assert [place for _, place, _ in told] == ["row 3, column 'points'"] * (grids.count(400) == 2)


@pytest.mark.parametrize("word", ["point count", "Point  Count", "immersion", "areal weight"])
def test_a_method_without_a_loss_of_matrix_may_be_named_as_the_plan_does(word, shop):
    rows = [f"p,web,{i},100,{fiber},{void}" for i, (fiber, void) in enumerate(zip(FIBER, VOIDS, strict=True))]
    shop.table(HEAD, *rows)
    plain = shop.json("measure", "coupons.csv")
    shop.table(f"{HEAD},method", *(f"{row},{word}" for row in rows))
    named = shop.json("measure", "coupons.csv")
    assert (named["specimens"], named["warnings"]) == (plain["specimens"], plain["warnings"])


def test_a_loss_of_matrix_still_wants_its_own_word(shop):
    shop.table("specimen,zone,specimen mass [g],residue mass [g],method", "p,web,1.4425,0.9763,point count")
    assert shop.json("measure", "coupons.csv")["warnings"][0]["code"] == "method-not-stated"
