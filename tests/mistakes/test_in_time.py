"""Seen while the specimen is still there: before its matrix is gone, and when a reason no longer answers."""

import math

import pytest

from tests.messages.wording import says


def warnings(shop):
    return shop.json("measure", "batch.toml")["warnings"]


CRUCIBLE = (
    "specimen,zone,method,mass in air [g],mass in liquid [g],liquid temperature [degC],crucible mass [g],"
    "crucible with specimen [g],crucible with residue [g],accepted"
)


@pytest.mark.parametrize(
    ("inside", "told"),
    [
        ("21.5425", []),
        ("22.5425", ["crucible mass reads '20.1000': ", "21.1000 (", "crucible with specimen reads"]),
        ("20.5425", ["crucible with specimen reads '20.5425': ", "21.5425 (one digit wrong)"]),
        ("21.1425", ["crucible with specimen reads '21.1425': ", "21.5425 (one digit wrong)"]),
        ("20.8123", []),  # half of it may have been cut off: no slip makes it the whole
    ],
)
def test_a_specimen_weighs_the_same_before_it_is_digested(shop, inside, told):
    """Air and crucible hold one piece: one gram off is seen while nothing is digested yet."""
    shop.table(CRUCIBLE, f"1,web,digestion,1.4427,0.5117,22.8,20.1000,{inside},,")
    found = warnings(shop)
    assert [w["code"] for w in found] == (["weighed-twice"] if told else [])
    assert all(words in w["hint"] for w in found for words in told)


def test_two_cells_that_may_both_be_wrong_are_both_named(shop):
    """A slip in either mass would give the density."""
    shop.table(
        "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]", "1,web,14.427,0.5117,23"
    )
    (warning,) = warnings(shop)
    for words in (
        "mass in air reads '14.427': ",
        "reads 1.4427 (the decimal",
        "mass in liquid reads '0.5117': ",
        "reads 5.0117 (two digits",
    ):
        assert words in warning["hint"]


def test_pieces_cut_off_every_specimen_are_no_slip(shop):
    rows = [
        f"{n},web,digestion,{air},{liquid},22.8,20.1000,{20.1 + m:.4f},,"
        for n, air, liquid, m in ((1, 1.4427, 0.5117, 0.4427), (2, 1.4431, 0.5118, 0.6))
    ]
    shop.table(CRUCIBLE, *rows)
    assert warnings(shop) == []


def test_a_specimen_that_waits_for_its_residue_is_measured_so_far(shop):
    shop.table(CRUCIBLE, "1,web,digestion,1.4427,0.5117,22.8,20.1000,21.5425,,", "2,web,digestion,,,,20.2,,,")
    answer = shop.json("measure", "batch.toml")
    assert "density" in answer["specimens"][0]
    assert "fiber_volume" not in answer["specimens"][0]
    assert says("mistakes: a specimen that waits for its residue", answer["notes"])
    assert says("mistakes: a specimen that waits for its residue, 2", answer["notes"])


def test_a_residue_without_its_crucible_is_refused_where_no_plan_waits_for_it(shop):
    shop.table(CRUCIBLE, "1,web,digestion,1.4427,0.5117,22.8,,21.5425,21.0763,")
    assert "incomplete: 1 lacks 'crucible mass', thickness" in shop.json("measure", "batch.toml")["notes"]
    shop.unplan()
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert problem["found"] == "no 'crucible mass' beside 'crucible with specimen'"


TWO = "1,web,digestion,1.4427,0.3817,22.8,20.1000,22.5425,,{}"


def answers(shop, accepted):
    shop.table(CRUCIBLE, TWO.format(accepted))
    return {w["code"]: w["accepted"] for w in warnings(shop)}


def test_a_reason_answers_what_it_names_and_nothing_else(shop):
    """One piece at 2.4425 and 1.4427 g, and a density of 1.356 g/cm^3: two doubts."""
    both = {"weighed-twice": None, "unlike-prediction": None}
    assert answers(shop, "") == {"weighed-twice": None}
    assert answers(shop, "one piece: cut in two") == both | {"weighed-twice": "cut in two"}
    assert answers(shop, "one piece 2.4425 g: cut; with care") == both | {"weighed-twice": "cut; with care"}
    assert answers(shop, "one piece: cut; mass in liquid 0.3817: weighed twice") == {
        "weighed-twice": "cut", "unlike-prediction": "weighed twice",
    }  # fmt: skip
    assert answers(shop, "thickness: on a ridge") == {"weighed-twice": None}


@pytest.mark.parametrize(
    "said",
    ["one piece: ...", "One piece 2.4425 g: -", "one piece: cut; mass in liquid: n/a", "methods:", "..."],
)
def test_what_stands_behind_a_name_is_a_reason_too(said, shop):
    shop.table(CRUCIBLE, TWO.format(said))
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("wrong-word", "row 2, column 'accepted'")
    assert problem["found"] == f"'{said}'"


def test_a_reason_for_another_reading_no_longer_answers(shop):
    """A second slip in the same row makes another mass of the piece: the old reason does not answer it."""
    shop.table(CRUCIBLE, TWO.format("one piece 1.4300 g: wet when weighed"))
    (warning,) = warnings(shop)
    assert warning["accepted"] is None
    assert says("mistakes: a reason for another reading no longer", warning["hint"])


def test_a_reason_that_names_nothing_answers_no_two_warnings(shop):
    lines = [CRUCIBLE.replace("method,", "method,thickness 1 [mm],thickness 2 [mm],")]
    lines.append("1,web,digestion,2.871,28.71,1.4427,0.5117,22.8,20.1000,22.5425,,fine")
    shop.table(*lines)
    found = warnings(shop)
    assert {w["code"] for w in found} == {"weighed-twice", "unlike-prediction"}
    assert all(
        w["accepted"] is None and says("mistakes: a reason that names nothing answers", w["hint"])
        for w in found
    )


def test_a_reason_that_names_nothing_hides_no_second_doubt(shop):
    """Without a reason the density is not told while two readings disagree: a bare one may mean either."""
    text = (
        shop.read("coupons.csv").replace("2.865,2.868,2.866", "2.865,2.968,2.866").replace("0.5032", "0.4830")
    )
    heading, *rows = text.splitlines()
    both = {"repeats-disagree", "unlike-fellows"}
    for reason, codes in (("", {"repeats-disagree"}), ("fine", both), ("thickness 2: fine", both)):
        shop.table(f"{heading},accepted", *(f"{row}," for row in rows[:2]), f"{rows[2]},{reason}")
        doubts = [w for w in warnings(shop) if w["place"].startswith("row 4")]
        assert ({w["code"] for w in doubts} & both, sum(bool(w["accepted"]) for w in doubts)) == (
            codes,
            reason.count(":"),
        )


def test_of_two_repeats_the_one_that_fits_the_lot_is_right(shop):
    """Two readings cannot say which of them is wrong; what the lot gives can, and is said alone."""
    shop.table("specimen,zone,thickness 1 [mm],thickness 2 [mm]", "1,web,2.873,28.71")
    (warning,) = warnings(shop)
    assert warning["hint"].startswith("thickness 2 reads '28.71': ")
    assert says("mistakes: of two repeats the one that fits", warning["hint"])


@pytest.mark.parametrize(
    ("rows", "place"),
    [
        (["1,web,2.781,2.871,,", "2,web,2.870,2.872,,"], "row 2, column 'thickness 1'"),
        (["1,web,2.871,2.781,,", "2,web,2.870,2.872,,"], "row 2, column 'thickness 2'"),
        (["1,web,,,1.4427,1.4724"], "row 2, column 'mass in air 2'"),
        (["1,web,,,1.4724,1.4427"], "row 2, column 'mass in air 1'"),
    ],
)
def test_of_two_repeats_the_less_likely_one_is_accused(rows, place, shop):
    """Its peers, or another weighing of the piece, tell which of the two it is."""
    head = "specimen,zone,thickness 1 [mm],thickness 2 [mm],mass in air 1 [g],mass in air 2 [g],dry mass [g]"
    shop.table(head, *(f"{row},{'1.4425' if row[-1] != ',' else ''}" for row in rows))
    told = warnings(shop)
    assert {w["place"] for w in told if w["code"] == "repeats-disagree"} == {place}


@pytest.mark.parametrize(
    ("rows", "place", "guess"),
    [
        (["1.4427,1.4428,0.5117", "1.4068,1.4609,0.5192"], "row 3, column 'mass in air 1'", "1.4608"),
        (["1.4427,1.4428,0.5117", "1.4609,1.4068,0.5192"], "row 3, column 'mass in air 2'", "1.4608"),
        (["1.4427,1.4428,0.5117", "1.4609,1.4906,0.5192"], "row 3, column 'mass in air 2'", "1.4606"),
        (["1.4068,1.4609,0.5192"], "row 2, column 'mass in air 1'", None),
    ],
)
def test_of_two_weighings_in_air_the_one_that_gives_the_density_of_its_peers_is_right(
    rows, place, guess, shop
):
    """Pieces of one laminate have one density; a piece alone has no peers, so nothing says what was meant."""
    head = "specimen,zone,mass in air 1 [g],mass in air 2 [g],mass in liquid [g],liquid temperature [degC]"
    shop.table(head, *(f"{name},web,{row},22.8" for name, row in enumerate(rows, 1)))
    (warning,) = [w for w in warnings(shop) if w["code"] == "repeats-disagree"]
    assert warning["place"] == place
    assert guess is None or guess in warning["hint"]
    assert ("1.4" in warning["hint"]) == (guess is not None)


def test_what_follows_from_two_weighings_that_disagree_accuses_no_other_reading(shop):
    """The mean of 1.4156 and a slip has not the density of many peers; 0.5094 for 0.5049 would mend that."""
    pieces = [(1.4156 + 0.0023 * i, 1.549 * (1 + 0.0008 * math.sin(2.4 * i))) for i in range(60)]
    rows = [f"{i},web,{a:.4f},{a:.4f},{a * (1 - 0.9975 / d):.4f},22.8" for i, (a, d) in enumerate(pieces)]
    rows[0] = "0,web,1.4554,1.4156,0.5049,22.8"
    head = "specimen,zone,mass in air 1 [g],mass in air 2 [g],mass in liquid [g],liquid temperature [degC]"
    shop.table(head, *rows)
    assert [w["place"] for w in warnings(shop)] == ["row 2, column 'mass in air 1'"]


def test_a_guess_for_one_of_two_weighings_is_like_the_other(shop):
    """1.4309 for the right 1.4609 would make their mean the specimen mass as well, and spoil it."""
    head = "specimen,zone,method,mass in air 1 [g],mass in air 2 [g],mass in liquid [g]"
    rows = ["1.4427,1.4427,0.5117", "1.4609,1.4906,0.5192", "1.4143,1.4143,0.5032"]
    burnt = ["1.4425,0.9763", "1.4607,0.9884", "1.4141,0.9573"]
    lines = zip(rows, burnt, strict=True)
    table = [f"{i},web,digestion,{weighed},22.8,{masses}" for i, (weighed, masses) in enumerate(lines)]
    shop.table(f"{head},liquid temperature [degC],specimen mass [g],residue mass [g]", *table)
    (warning,) = warnings(shop)
    assert warning["place"] == "row 3, column 'mass in air 2'"
    assert "1.4606" in warning["hint"]
    assert "1.4309" not in warning["hint"]
