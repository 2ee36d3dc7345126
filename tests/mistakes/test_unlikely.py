"""Readings that are unlikely: one warning with the cell, what it does not fit, and what to do."""

import re
from io import StringIO

import pandas as pd
import pytest

from laminate.front.measuring import measure_answer
from laminate.values.problems import Problem
from tests.messages.wording import facts, reads, says

ADVICE = "; or give the reason in 'accepted'"
ACCEPT = "or give the reason in 'accepted'"
TYPES = "liquid temperature [degC]"
HEAD = f"specimen,zone,mass in air [g],mass in liquid [g],{TYPES}"
CRUCIBLE = (
    "specimen,zone,crucible mass [g],crucible with specimen [g],crucible with residue [g],"
    "crucible again [g],method"
)
POINTS = "specimen,zone,field,points,fiber points,void points"
PREPREG = "specimen,lot,area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g],dried mass [g]"
SOAKED = f"specimen,zone,dry mass [g],saturated mass [g],mass in liquid [g],{TYPES}"
SIZED = f"{HEAD},length [mm],width [mm],thickness [mm]"
SINKER = f"{HEAD},sinker mass in liquid [g]"
DENSITIES = {"fiber_density": "1.786 g/cm^3 ± 0.006 (k=2)", "resin_density": "1.22 g/cm^3 ± 0.01 (k=2)"}
FRAMED = DENSITIES | {
    "fiber_areal_weight": "150.6 g/m^2 ± 1.0 (k=2)", "balance": "0.1 mg (standard)",
    "micrometer": "0.002 mm (standard)", "thermometer": "0.05 K (standard)",
    "residue_share": "0.2 % ± 0.1 (standard)", "fiber_loss": "0.4 % ± 0.2 (standard)",
}  # fmt: skip


def warnings(shop, status=(0,)):
    return shop.json("measure", "batch.toml", status=status)["warnings"]


def hold(wording, case, told):
    """Hold warnings to a case of the catalog of wording."""
    keys = ("code", "file", "place", "found", "expected", "hint")
    wording.hold_problems(f"unlikely: {case}", [Problem(*(one[key] for key in keys)) for one in told])


def changed(shop, old, new):
    """The warnings of the example's table with one text changed."""
    shop.change("coupons.csv", old, new)
    return warnings(shop)


def fields_of(*fiber, row=3, void=1):
    """A table of ten fields of 100 points; the counts of one of them are given."""
    counts = [58, 61, 57, 60, 55, 62, 59, 57, 60, 58]
    lines = [f"p,web,{i + 1},100,{count},1" for i, count in enumerate(counts)]
    lines[row - 1] = f"p,web,{row},{fiber[1] if len(fiber) > 1 else 100},{fiber[0]},{void}"
    return [POINTS, *lines]


def test_what_needs_no_other_reading_is_told_beside_another_slip(shop):
    """Water of 2.28 degC was passed over while the mass in air was in doubt."""
    shop.change("coupons.csv", "1.4609,0.5192,22.8", "14.609,0.5192,2.28")
    places = [one["place"] for one in warnings(shop)]
    assert places.count("row 3, column 'mass in air'") >= 1
    assert places.count("row 3, column 'liquid temperature'") == 1


def test_the_example_raises_no_warning(shop):
    assert warnings(shop) == []


CHANGES = {  # text of the example, and what stands instead
    "two digits swapped": ("1.4427", "1.4247"),
    "milligrams for grams": ("1.4427", "1442.7"),
    "bubbles": ("0.5032", "0.4732"),
    "a warmer liquid": ("0.5192,22.8", "0.5192,28.2"),
    "a wrong count of plies": ("0103,web,tip,L2231,JM,20", "0103,web,tip,L2231,JM,22"),
    "a decimal point moved in one of three repeats": ("2.868,2.869", "28.68,2.869"),
    "two digits swapped in one of three repeats": ("2.868,2.869", "2.688,2.869"),
}


TABLES = {
    # without peers lot, recipe and bleed limit tell: 20 plies of 2.37 mm are too thin
    "one coupon alone": ("specimen,zone,plies,thickness [mm]", "1,web,20,2.371"),
    # (0.7963 - 0.002 x 1.4425)/(1 - 0.004 - 0.002)/1.4425: 55.33 %
    "a residue far from what the certificate predicts": (
        "specimen,zone,specimen mass [g],residue mass [g],method", "1,web,1.4425,0.7963,digestion"),
    "fields of one specimen against each other": fields_of(85),
    "a grid unlike the others": fields_of(57, 1000),
    "fields copied from those before": (
        POINTS, *(f"1,web,{i},400,{230 + i % 5 * 7},{i % 5}" for i in range(10))),
    "running totals": (POINTS, *(f"1,web,{i},{400 * i},{231 * i},{2 * i}" for i in range(1, 9))),
    "a count copied": (POINTS, *(f"{s},web,{i},400,{230 + i * i},{i}" for s in "ab" for i in range(5))),
    # 1.5060 g on 10 cm^2: 1506 g/m^2
    "incoming prepreg": (PREPREG, "i1,L2231,10.0,3.1600,0.9000,1.5060,2.2510"),
    # (3.505 - 3.05)/(3.505 - 1.085): 18.8 %
    "a saturated mass unlike its fellows": (
        SOAKED, "1,web,3.0000,3.0050,1.0650,23", "2,web,3.1000,3.1060,1.1000,23",
        "3,web,3.0500,3.5050,1.0850,23"),
    "a length in inches among millimeters": (
        SIZED, "1,web,1.4427,0.5117,22.8,25.0,13.0,2.872", "2,web,1.4609,0.5192,22.8,25.2,13.0,2.868",
        "3,web,1.4143,0.5032,22.9,0.984,13.0,2.866"),
    # 1 - 1.43 (0.67888/1.786 + 0.32112/1.22): 8.005 %
    "a void content above what is plausible": (
        "specimen,zone,density [g/cm^3],specimen mass [g],residue mass [g],method",
        "1,web,1.43,1.4425,0.9763,digestion"),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_a_table_with_one_unlikely_reading(name, shop, wording):
    shop.table(*TABLES[name])
    hold(wording, name, warnings(shop))


@pytest.mark.parametrize("name", list(CHANGES))
def test_one_wrong_cell_is_named_with_what_it_should_read(name, shop, wording):
    told = changed(shop, *CHANGES[name])
    hold(wording, name, told[:1])
    assert len({warning["place"].partition(",")[0] for warning in told}) == 1


def test_the_thickness_that_its_fellows_tell(shop):
    """A transposition is named from the other readings: 2.143 among about 2.41 was 2.413."""
    head = "specimen,zone,thickness 1 [mm],thickness 2 [mm],thickness 3 [mm],thickness 4 [mm]"
    shop.table(head, "1,skin,2.411,2.143,2.409,2.412")
    warning = warnings(shop)[0]
    assert warning["found"] == "thickness 2 reads '2.143', the others 2.411 and 2.409 and 2.412"
    assert says("mistakes: the thickness that its fellows tell", warning["hint"])


def test_cells_of_two_specimens_swapped_are_both_named(shop):
    text = shop.read("coupons.csv").replace("1.4427", "X").replace("1.4609", "1.4427").replace("X", "1.4609")
    shop.write("coupons.csv", text)
    told = warnings(shop)
    assert [w["place"] for w in told] == ["row 2, column 'mass in air'", "row 3, column 'mass in air'"]
    assert told[0]["hint"].startswith("mass in air reads '1.4609': ")
    assert says("mistakes: cells of two specimens swapped", told[0]["hint"])
    assert told[1]["hint"].startswith("mass in air reads '1.4427': ")
    assert says("mistakes: cells of two specimens swapped, 2", told[1]["hint"])


def test_a_row_copied(shop):
    line = shop.read("coupons.csv").splitlines()[2]
    shop.write("coupons.csv", shop.read("coupons.csv") + line.replace("0102", "0104") + "\n")
    (warning,) = warnings(shop)
    assert (warning["code"], warning["place"]) == ("rows-alike", "row 5, column 'specimen'")
    assert reads("mistakes: a row copied", warning["found"])
    assert reads("mistakes: a row copied, 2", warning["hint"])


def test_a_digit_dropped_shows_where_zeros_are_written(shop):
    shop.change("coupons.csv", "1.4143", "1.4140")
    (warning,) = changed(shop, "0.9884", "0.988")
    assert (warning["code"], warning["place"]) == ("digits-unlike", "row 3, column 'residue mass'")
    assert reads("mistakes: a digit dropped shows where zeros", warning["found"])
    assert reads("mistakes: a digit dropped", warning["hint"])


def test_a_shorter_number_is_no_dropped_digit_where_last_zeros_are_left_out(shop):
    """No number of the example's table ends in a written 0: a spreadsheet may have left one out."""
    assert changed(shop, "0.9884", "0.988") == []


def test_last_zeros_of_one_display_say_nothing_of_another(shop):
    """A spreadsheet with one column formatted to three places leaves the last zeros of the others out."""
    for old, new in (("2.873", "2.870"), ("2.865", "2.860")):
        shop.change("coupons.csv", old, new)
    assert changed(shop, "0.9884", "0.988") == []


def test_more_places_missing_than_zeros_written_are_zeros_left_out(shop):
    shop.change("coupons.csv", "1.4143", "1.4140")
    shop.change("coupons.csv", "1.4609", "1.461")
    shop.change("coupons.csv", "0.5192", "0.519")
    assert changed(shop, "0.9884", "0.988") == []


def test_two_slips_in_repeats_do_not_hide_each_other(shop):
    for old, new in (("2.871", "2.817"), ("2.866,2.868", "2.866,2.888")):
        shop.change("coupons.csv", old, new)
    told = {w["place"] for w in warnings(shop) if w["code"] == "repeats-disagree"}
    assert told == {"row 2, column 'thickness 2'", "row 3, column 'thickness 2'"}


def test_a_digit_too_many(shop):
    told = changed(shop, "0.9884", "0.98841")
    assert reads("mistakes: a digit too many", told[0]["found"])
    assert reads("mistakes: a digit too many, 2", told[0]["hint"])


def test_a_unit_in_the_heading_is_wrong_for_all_rows(shop):
    heading = shop.read("coupons.csv").replace("[mm]", "[in]")
    shop.write("coupons.csv", heading)
    told = warnings(shop)
    assert {w["code"] for w in told} == {"unlike-prediction"}
    assert [w["place"] for w in told] == [f"row {row}, column 'specimen'" for row in (2, 3, 4)]
    hint = "so for 3 of 3 coupons: no slip of one cell; a factor near 25.4: inches and millimeters mixed up"
    assert told[0]["hint"].startswith(hint)
    assert says("mistakes: a heading of all rows", told[0]["hint"])


@pytest.mark.parametrize(("again", "warned"), [("21.0021", True), ("21.0003", False)])
def test_an_empty_crucible_that_drifts(again, warned, shop):
    shop.table(
        CRUCIBLE, f"1,web,21.0000,22.4425,21.9763,{again},digestion",
        "2,web,20.5000,21.9607,21.4884,20.5001,digestion",
    )  # fmt: skip
    told = warnings(shop)
    assert len(told) == warned
    if warned:
        assert (told[0]["code"], told[0]["place"]) == ("unlike-itself", "row 2, column 'crucible again'")
        # 2.1 mg of 1.4425 g
        assert reads("mistakes: an empty crucible that drifts", told[0]["found"])
        assert reads("mistakes: an empty crucible that drifts, 2", told[0]["expected"])
        assert says("mistakes: an empty crucible that drifts, 3", told[0]["hint"])


@pytest.mark.parametrize(("thickness", "warned"), [("3.272", True), ("2.880", False)])
def test_dimensions_against_immersion(thickness, warned, shop):
    shop.table(SIZED, f"1,web,1.4427,0.5117,22.8,25.0,13.0,{thickness}")
    told = [w for w in warnings(shop) if w["code"] == "unlike-itself"]
    assert len(told) == warned
    if warned:
        # 1.4427/(2.5 x 1.3 x 0.3272) over 1.5452 g/cm^3
        assert reads("mistakes: dimensions against immersion", told[0]["found"])
        assert says("mistakes: measure the dimensions", told[0]["hint"])


@pytest.mark.parametrize("void", ["0", "3", "4.5"])
def test_a_few_voids_more_in_one_field_are_chance(void, shop):
    shop.table(*fields_of(57, void=void))
    assert warnings(shop) == []


def test_one_sinker_weighs_the_same_in_every_row(shop):
    rows = (
        "1,web,1.4427,13.0117,22.8,12.5000",
        "2,web,1.4609,13.0192,22.8,12.5002",
        "3,web,1.4143,13.0040,22.9,12.5208",
    )
    shop.table(SINKER, *rows)
    told = [w for w in warnings(shop) if w["found"].startswith("sinker")]
    assert [(w["place"], w["found"]) for w in told] == [
        ("row 4, column 'sinker mass in liquid'", "sinker mass in liquid 12.52 g")
    ]


@pytest.mark.parametrize("excluded", ["", "fell on the floor"])
def test_an_excluded_row_is_no_fellow_and_gets_no_warning(excluded, shop):
    text = shop.read("coupons.csv").splitlines()
    text[0] += ",excluded"
    text[1:] = [
        line.replace("1.4427", "1.4247") + f",{excluded if '0101' in line else ''}" for line in text[1:]
    ]
    shop.table(*text)
    assert len(warnings(shop)) == (0 if excluded else 1)


def test_a_row_answers_its_warning_with_a_reason(shop):
    text = shop.read("coupons.csv").splitlines()
    text[0] += ",accepted"
    text[1:] = [
        line.replace("1.4427", "1.4247") + ("," if "0101" not in line else ",two pieces") for line in text[1:]
    ]
    shop.table(*text)
    (warning,) = warnings(shop)
    assert warning["code"] == "weighed-twice"
    assert warning["hint"].startswith("mass in air reads '1.4247': ")
    assert "reads 1.4427 (" in warning["hint"]
    assert warning["accepted"] == "two pieces"
    (shown,) = shop.json("measure", "batch.toml")["specimens"][0]["warnings"]
    assert shown["accepted"] == "two pieces"


def test_a_coarse_balance_is_not_held_to_a_fine_one(shop):
    """Two readings of one piece in steps of 10 mg may differ by 10 mg."""
    shop.table(
        "specimen,zone,mass in air [g],specimen mass [g],residue mass [g],method",
        "1,web,1.44,1.45,0.98,digestion", "2,web,1.46,1.46,0.99,digestion", "3,web,1.42,1.41,0.96,digestion",
    )  # fmt: skip
    shop.change("batch.toml", 'repeatability = "0.1 mg (standard)"          # of each reading\n', "")
    assert warnings(shop) == []


def test_a_heading_in_another_unit_is_named_and_no_reading(shop, wording):
    """One column of repeats headed in inches over numbers in mm: every row slips alike."""
    shop.change("coupons.csv", "thickness 1 [mm]", "thickness 1 [in]")
    told = [one for one in warnings(shop) if one["code"] == "repeats-disagree"]
    assert [one["place"] for one in told] == [f"row {row}, column 'thickness 1'" for row in (2, 3, 4)]
    hold(wording, "a heading in another unit", told[:1])
    held = shop.json("report", "batch.toml", status=[1])["held_back"]
    assert sum("thickness 1" in one["say"].split("accepted")[0] for one in held) == 3


def test_a_reading_in_another_unit_than_its_heading_is_no_fault_of_the_heading(shop):
    """Inches typed into one cell of a table whose headings agree."""
    shop.change("coupons.csv", ",2.873,", ",0.1131,")
    (told,) = [one for one in warnings(shop) if one["code"] == "repeats-disagree"]
    assert "0.1131" in told["found"]
    assert "2.87" in told["hint"]


TWO = (
    f"{HEAD},plies,method,specimen mass [g],residue mass [g],thickness 1 [mm],thickness 2 [mm]",
    "1,web,1.4427,0.5117,22.8,20,digestion,1.4425,0.9763,2.873,2.871",
    "2,web,1.4609,0.5192,22.8,20,digestion,1.4607,0.9884,2.866,2.868",
    "3,web,1.4143,0.5032,22.9,20,digestion,1.4141,0.9573,2.865,2.868",
)


@pytest.mark.parametrize(("wrong", "meant"), [("2.773", "2.873"), ("2.843", "2.873"), ("3.023", "")])
def test_of_two_repeats_that_disagree_no_other_reading_is_asked_about(wrong, meant, shop):
    """Methods disagree as well then; the residue of a digested coupon could not be weighed again."""
    options = (
        "--fiber-density", "1.786 g/cm^3 ± 0.006 (k=2)", "--resin-density", "1.22 g/cm^3 ± 0.01 (k=2)",
        "--fiber-areal-weight", "150.6 g/m^2 ± 1.0 (k=2)", "--micrometer", "0.002 mm (standard)",
        "--balance", "0.1 mg (standard)", "--thermometer", "0.05 K (standard)", "--residue-share", "0 %",
    )  # fmt: skip
    shop.table(*(line.replace("2.873", wrong) for line in TWO))
    (told,) = shop.json("measure", "coupons.csv", *options)["warnings"]
    assert (told["code"], told["place"]) == ("repeats-disagree", "row 2, column 'thickness 1'")
    assert facts(told["hint"]) == " | ".join(sorted(filter(None, ("'accepted'", meant))))


def test_a_digit_dropped_from_one_of_two_repeats_is_put_back_as_its_column_is_written(shop):
    shop.table("specimen,plies,thickness 1 [mm],thickness 2 [mm]", "1,20,2.71,2.871", "2,20,2.868,2.866")
    (told,) = shop.json("measure", "coupons.csv")["warnings"]
    assert facts(told["hint"]) == "'accepted' | 2.871"


@pytest.mark.parametrize("misread", ["2.830", "2.83", "2.800", "2.8", "2.900", "2.9"])
def test_a_spreadsheet_that_drops_the_last_zero_hides_no_repeat(misread, shop):
    """The step of a reading is that of its column, whose other cells have three decimals."""
    (told,) = changed(shop, "2.873,2.871,2.872", f"{misread},2.871,2.872")
    assert (told["code"], told["place"]) == ("repeats-disagree", "row 2, column 'thickness 1'")


@pytest.mark.parametrize("write", ["{:.1f}", "{:g}"])
def test_repeats_read_to_a_tenth_may_differ_by_one(write, shop):
    tenths = [2.8, 2.9, 2.8, 2.9, 2.9, 3.0, 2.8, 2.8, 2.9]
    text = shop.read("coupons.csv")
    for old, new in zip(re.findall(r"2\.8\d\d", text), tenths, strict=True):
        text = text.replace(old, write.format(new), 1)
    shop.write("coupons.csv", text)
    assert warnings(shop) == []


def test_a_zero_beyond_the_places_of_a_column_is_asked_about_and_makes_no_finer_step(shop):
    """One 2.870 bought a smaller ± for readings to 0.01 mm."""
    shop.write("coupons.csv", re.sub(r"2\.8(\d)\d", r"2.8\1", shop.read("coupons.csv")))
    before = shop.json("measure", "batch.toml")
    shop.change("coupons.csv", "2.87,2.87,2.87", "2.870,2.87,2.87")
    after = shop.json("measure", "batch.toml")
    (told,) = after["warnings"]
    assert (told["code"], told["place"]) == ("digits-unlike", "row 2, column 'thickness 1'")
    expanded = [answer["average"]["thickness"]["expanded_uncertainty"] for answer in (before, after)]
    assert expanded[0] == expanded[1] > 0.01


@pytest.mark.parametrize("column", ["mass in air [g]", "specimen mass [g]", "residue mass [g]"])
def test_a_zero_beyond_the_places_of_one_mass_accuses_no_other_row(column, shop):
    """Weighed to 1 mg: the two weighings of a piece may differ by a step."""
    head = f"specimen,mass in air [g],mass in liquid [g],{TYPES},method,specimen mass [g],residue mass [g]"
    rows = [
        [
            f"{n:03}",
            f"{m:.3f}",
            f"{m * 0.3548:.3f}",
            "22.8",
            "digestion",
            f"{m - 0.001 * (n % 2):.3f}",
            f"{m * 0.677:.3f}",
        ]
        for n, m in ((n, 1.4 + 0.0037 * (n * 7 % 60)) for n in range(60))
    ]
    at = head.split(",").index(column)
    rows[0][at] += "0"
    shop.table(head, *map(",".join, rows))
    options = ("--fiber-density", DENSITIES["fiber_density"], "--resin-density", DENSITIES["resin_density"])
    told = shop.json("measure", "coupons.csv", *options)["warnings"]
    assert [(one["code"], one["place"]) for one in told] == [
        ("digits-unlike", f"row 2, column '{column[:-4]}'")
    ]


@pytest.mark.parametrize(
    ("column", "whole", "code"),
    [("thickness 1 [mm]", 3.0, "methods-disagree"), ("liquid temperature [degC]", 27.0, "unlike-fellows")],
)
def test_a_whole_number_of_a_data_frame_is_not_known_to_one_unit(column, whole, code, shop):
    """Its step is that of its column, as it would be in a file."""
    text = re.sub(r",[^,\n]+,[^,\n]+$", "", shop.read("coupons.csv"), flags=re.MULTILINE)
    frame = pd.read_csv(StringIO(text), dtype={"specimen": str})
    frame.loc[1, column] = whole
    (told,) = measure_answer(frame, FRAMED).to_dict()["warnings"]
    assert told["code"] == code


def test_a_coupon_cut_larger_is_no_slip_where_it_was_weighed_twice(shop):
    """All four of its weighings are 1.6 times those of the others: so is the piece."""
    shop.change("coupons.csv", "1.4609,0.5192", "2.3374,0.8307")
    assert changed(shop, "1.4607,0.9884", "2.3371,1.5814") == []
    assert [w["code"] for w in changed(shop, "2.3371,1.5814", "1.4607,0.9884")] == ["weighed-twice"]


@pytest.mark.parametrize(("piece", "copied"), [("1.4607", 1), ("1.4426", 0)])
def test_a_residue_copied_down_from_the_row_above(piece, copied, shop):
    """Of pieces of 1.4425 and 1.4607 g the residues are 123 steps apart, and scatter by about 103."""
    air = piece.replace("1.4607", "1.4609").replace("1.4426", "1.4428")
    shop.change("coupons.csv", "1.4609,0.5192", f"{air},{0.5192 if copied else 0.5118}")
    told = changed(shop, "1.4607,0.9884", f"{piece},0.9763")
    assert [(w["code"], w["place"]) for w in told] == [
        ("rows-alike", "row 3, column 'residue mass'")
    ] * copied


def test_a_water_weight_copied_down_from_the_row_above(shop):
    shop.change("coupons.csv", "1.4609,0.5192", "1.4709,0.5117")
    told = changed(shop, "1.4607,0.9884", "1.4707,0.9954")
    assert ("rows-alike", "row 3, column 'mass in liquid'") in [(w["code"], w["place"]) for w in told]


def test_a_value_beside_its_bound_has_the_digits_that_tell_them_apart(shop):
    """0.237222 mm a ply beside 0.23718: to four digits both are 0.2372."""
    repeats = ("1.373,1.367,1.368", "1.425,1.420,1.425", "1.354,1.361,1.355", "1.350,1.350,1.349")
    shop.table(
        "specimen,plies,thickness 1 [mm],thickness 2 [mm],thickness 3 [mm]",
        *(f"S{n},6,{cells}" for n, cells in enumerate(repeats, 1)),
    )
    (told,) = shop.json("measure", "coupons.csv")["warnings"]
    assert (told["code"], told["place"]) == ("unlike-fellows", "row 3, column 'thickness 1'")
    value, low, high = (float(x) for x in re.findall(r"0\.\d+", told["found"] + told["expected"]))
    assert value == pytest.approx(4.27 / 18, abs=1e-5)
    assert low < high < value
