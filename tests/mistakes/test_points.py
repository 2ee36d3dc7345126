"""Points counted over fields: a count in the wrong cell or column, and counts that no laminate gives."""

import pytest

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
    counts = [(fiber + i % 2, 0) for i in range(8)]
    assert len(warnings(shop, counts)) == places


def test_an_excluded_count_is_not_doubted(shop):
    shop.table(f"{HEAD},excluded", *(f"p,web,{i},100,1,{58 + i},torn while polishing" for i in range(4)))
    assert shop.json("measure", "coupons.csv")["warnings"] == []


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
