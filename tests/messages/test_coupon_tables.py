"""Coupon tables with one mistake each: code, place, what the catalog says, exit status 2."""

import pytest

COLUMNS = (
    "specimen", "zone", "position", "lot", "plies", "mass in air [g]", "mass in liquid [g]",
    "liquid temperature [degC]", "method", "specimen mass [g]", "residue mass [g]", "thickness 1 [mm]",
    "thickness 2 [mm]",
)  # fmt: skip
CELLS = ("0101", "web", "root", "L2231", "20", "1.4427", "0.5117", "22.8", "digestion", "1.4425", "0.9763",
         "2.873", "2.871")  # fmt: skip
CALL = ("measure", "batch.toml")


def cells(**changes):
    row = dict(zip(COLUMNS, CELLS, strict=True))
    for name, text in changes.items():
        (column,) = [c for c in COLUMNS if c.partition(" [")[0] == name.replace("_", " ")]
        row[column] = text
    return ",".join(row.values())


def refused(shop, case, *lines, call=CALL):
    """The problems of a table, as the catalog of wording says them."""
    shop.table(*lines)
    return shop.refused(f"coupon table: {case}", *call)


HEADING = ",".join(COLUMNS)
# case of the catalog, which holds code and place -> changed cells
ONE = {
    "text in a number": {"mass_in_air": "1.44x"},
    "a unit in a cell": {"mass_in_air": "1.4427 g"},
    "NA": {"mass_in_air": "NA"},
    "infinite": {"mass_in_air": "inf"},
    "NaN": {"thickness_2": "nan"},
    "too large": {"thickness_2": "1e999"},
    "a negative mass": {"mass_in_air": "-1.4"},
    "half a ply": {"plies": "20.5"},
    "fewer plies than fixed": {"plies": "2"},
    "residue over coupon": {"residue_mass": "1.5"},
    "swapped masses": {"mass_in_air": "0.5117", "mass_in_liquid": "1.4427"},
    "a coupon that floats": {"mass_in_liquid": "-0.1"},
    "an unknown zone": {"zone": "wep"},
    "an unknown lot": {"lot": "L2213"},
    "an unknown method": {"method": "burning"},
    "a method nearly right": {"method": "digesion"},
}


@pytest.mark.parametrize("case", ONE)
def test_one_mistake_in_a_row(case, shop):
    for call in (CALL, ("report", "batch.toml")):
        (problem,) = refused(shop, case, HEADING, cells(**ONE[case]), call=call)
        assert problem["place"].startswith("row 2, column ")


@pytest.mark.parametrize(
    ("case", "changed"), [("no temperature", {"liquid_temperature": ""}), ("no zone", {"zone": ""})]
)
def test_one_cell_that_no_plan_wants_and_its_row_does(case, changed, shop):
    shop.unplan()
    for call in (CALL, ("report", "batch.toml")):
        (problem,) = refused(shop, case, HEADING, cells(**changed), call=call)
        assert problem["place"].startswith("row 2, column ")


def test_water_that_boils(shop):
    (problem,) = refused(shop, "water that boils", HEADING, cells(liquid_temperature="150"))
    assert problem["place"] == "row 2, column 'liquid temperature'"


HEADINGS = {
    "no unit": ("mass in air [g]", "mass in air", "missing-unit"),
    "a unit of another kind": ("mass in air [g]", "mass in air [mm]", "wrong-unit"),
    "an unknown column": ("mass in air [g]", "mas in air [g]", "unknown-column"),
}


@pytest.mark.parametrize("case", HEADINGS)
def test_one_mistake_in_a_heading_is_told_once(case, shop):
    """And no reading is said to be missing because its column could not be read."""
    old, new, code = HEADINGS[case]
    (problem,) = refused(shop, case, HEADING.replace(old, new), cells(), cells(specimen="0102"))
    assert problem["code"] == code


def test_a_unit_of_a_heading_that_none_of_the_column_has(shop):
    """Grams under [mg]: every mass in air is a thousandth, and no cell is swapped."""
    heading = HEADING.replace("mass in air [g]", "mass in air [mg]")
    problems = refused(shop, "grams under mg", heading, cells(), cells(specimen="0102", mass_in_air="1.4512"))
    assert {p["code"] for p in problems} == {"wrong-order"}


def test_one_cell_twice_with_different_content(shop):
    (problem,) = refused(shop, "one cell twice", HEADING, cells(), cells(mass_in_air="1.4428"))
    assert problem["place"] == "row 3, column 'mass in air'"


def test_a_decimal_name_twice_may_be_two_names_that_a_program_made_one(shop):
    rows = (cells(specimen="1.1"), cells(specimen="1.1", mass_in_air="1.4428"))
    (problem,) = refused(shop, "a decimal name twice", HEADING, *rows)
    assert "1.10" in problem["hint"]


def test_one_cell_twice_in_two_tables_names_the_other(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    shop.write("more.csv", "specimen;zone;mass in air [mg]\n0101;skin;1442,8\n")
    problems = refused(shop, "one cell twice in two tables", HEADING, cells())
    assert {("more.csv", f"row 2, column '{name}'") for name in ("zone", "mass in air")} <= {
        (p["file"], p["place"]) for p in problems
    }


def test_one_field_twice_in_two_tables_names_the_other(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    head = "specimen,zone,field,points,fiber points"
    shop.table(head, "0101,web,1,400,230", name="more.csv")
    (problem,) = refused(shop, "one field twice", head, "0101,web,1,400,231")
    assert (problem["file"], problem["place"]) == ("more.csv", "row 2, column 'points'")


LOST = ("specimen,zone,method,specimen mass [g],residue mass [g]", ",web,digestion,1.4425,0.9763")


def test_a_name_that_has_lost_its_zeros_is_asked_about(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    shop.table(LOST[0], f"101{LOST[1]}", f"7{LOST[1]}", name="more.csv")
    lines = "specimen,zone,plies,thickness [mm]", "0101,web,20,2.873"
    (problem,) = refused(shop, "a name without its zeros", *lines)
    assert (problem["file"], problem["place"]) == ("more.csv", "row 2, column 'specimen'")


@pytest.mark.parametrize("zone", ["web", "skin"])
def test_two_names_of_one_number_with_contrary_cells_are_two_specimens(shop, zone):
    thickness = "2.874" if zone == "web" else "2.873"
    shop.table("specimen,zone,plies,thickness [mm]", "0101,web,20,2.873", f"101,{zone},20,{thickness}")
    answer = shop.run(*CALL, "--why")
    assert answer.status == 0
    said = " ".join((answer.out + answer.err).split())
    assert (
        "row 3, column 'specimen': '101' and '0101' (coupons.csv: row 2, column 'specimen') are two coupons"
        in said
    )


CRUCIBLES = {
    "73 degF": False, "22.8 °C": False, "21.0234": False, "21,0234": False, "1442.7 mg": False, "2.87": False,
    "2871 um": False, "2871 µm": False, "2.871 mm": False, "0.113 in": False, "5 mmol": True,
    "K3": True, "17": True, "3.2": True, "22.8": True, "73 F": True, "21.0234-A": True, "12 Gr": True,
}  # fmt: skip


@pytest.mark.parametrize("text", CRUCIBLES)
def test_a_reading_in_the_cell_of_the_crucible(shop, text):
    head = "specimen,zone,plies,method,crucible,specimen mass [g],residue mass [g],thickness [mm]"
    line = f'0101,web,20,digestion,"{text}",1.4425,0.9763,2.87'
    if CRUCIBLES[text]:
        shop.table(head, line)
        assert shop.run(*CALL).status == 0
    else:
        (problem,) = refused(shop, f"a reading for the crucible's name, {text}", head, line)
        assert problem["place"] == "row 2, column 'crucible'"


def test_the_same_cell_twice_is_no_mistake(shop):
    shop.table(HEADING, cells(), cells(mass_in_liquid=""), cells(position="root", thickness_1=""))
    assert shop.run(*CALL).status == 0


def test_both_decimal_signs_are_told_once(shop):
    line = cells().replace(",", ";").replace("1.4427", "1,4427")
    (problem,) = refused(shop, "two decimal signs", HEADING.replace(",", ";"), line)
    assert problem["place"] == "row 2, column 'mass in air'"


def test_a_heading_that_cannot_be_read_is_told_before_densities_are_asked_for(shop):
    lines = "specimn,zone,plies,thickness [mm]", "0101,web,20,2.87"
    problems = refused(
        shop, "a misspelled heading without densities", *lines, call=("measure", "coupons.csv")
    )
    assert {p["place"] for p in problems} >= {"row 1, column 'specimn'"}


def test_an_empty_table_and_a_header_alone(shop):
    (problem,) = refused(shop, "empty", "")
    assert problem["place"] == ""
    (problem,) = refused(shop, "a header alone", HEADING)
    assert problem["place"] == "row 1"


def test_blanks_in_both_places(shop):
    lines = ("specimen,kind,zone,specimen mass [g],residue mass "
             "[g],method", "b,blank resin,,2,0.01,digestion",
             "1,,web,2,1.36,digestion")  # fmt: skip
    (problem,) = refused(shop, "blanks in both places", *lines)
    assert problem["place"] == "row 2, column 'kind'"


def test_aramid_is_not_burnt(shop):
    shop.change("part.toml", 'kind = "carbon"\ndensity = "1.79', 'kind = "aramid"\ndensity = "1.44')
    lines = HEADING, cells(method="ignition"), cells(specimen="2", method="digestion")
    (problem,) = refused(shop, "aramid burnt", *lines)
    assert problem["place"] == "row 2, column 'method'"


def test_a_density_that_the_constituents_cannot_give(shop):
    row = cells(mass_in_air="14.427", mass_in_liquid="13.6")
    (problem,) = refused(shop, "a density too high", HEADING, row)
    assert problem["place"] == "row 2, column 'mass in liquid'"


def test_ten_mistakes_in_a_table_are_ten_findings_in_the_order_of_rows(shop):
    problems = refused(
        shop, "ten mistakes", HEADING,
        cells(zone="wep", lot="L2213", mass_in_air="NA"),
        cells(specimen="0102", residue_mass="1.5", zone="skn"),
        cells(specimen="0103", liquid_temperature="150", thickness_1="x"), cells(specimen=""),
        cells(specimen="0104", mass_in_liquid="-0.1"), cells(specimen="0105", method="burning"),
        cells(specimen="0106"),
    )  # fmt: skip
    places = [problem["place"] for problem in problems]
    assert [place.partition(",")[0] for place in places] == [
        f"row {i}" for i in (2, 2, 2, 3, 3, 4, 4, 5, 6, 7)
    ]
    assert {place.partition("column ")[2].strip("'") for place in places} == {
        "mass in air", "zone", "lot", "residue mass", "liquid temperature", "thickness 1", "specimen",
        "mass in liquid", "method",
    }  # fmt: skip
    assert len(places) == 10


def test_a_second_table_is_read_though_the_first_has_mistakes(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    shop.table(HEADING, cells(mass_in_air="x"))
    shop.table(HEADING, cells(specimen="m", zone="wep"), name="more.csv")
    problems = shop.json(*CALL, status=[2])["problems"]
    assert [(p["file"], p["place"]) for p in problems] == [
        ("coupons.csv", "row 2, column 'mass in air'"),
        ("more.csv", "row 2, column 'zone'"),
    ]


@pytest.mark.parametrize("cell", ["1.44x", "NA", "-1.4"])
def test_a_workbook_names_the_cell(cell, shop):
    import openpyxl

    book = openpyxl.Workbook()
    book.active.title = "web"
    book.active.append(COLUMNS)
    row = cells(mass_in_air=cell).split(",")
    numbers = [
        float(c) if c.replace(".", "").replace("-", "").isdigit() and i > 3 else c for i, c in enumerate(row)
    ]
    book.active.append(numbers)
    book.save(shop.folder / "coupons.xlsx")
    shop.change("batch.toml", "coupons.csv", "coupons.xlsx")
    (problem,) = shop.json(*CALL, status=[2])["problems"]
    assert (problem["file"], problem["place"]) == ("coupons.xlsx", "web!F2")


def test_an_excluded_row_may_be_impossible(shop):
    shop.table(f"{HEADING},excluded", f"{cells()},", f"{cells(specimen='2', residue_mass='1.5')},spilled")
    assert shop.run(*CALL).status == 0


def test_a_word_is_quoted_as_it_stands_in_its_cell(shop):
    shop.table(HEADING, cells(method="Burned"))
    (problem,) = shop.json(*CALL, status=[2])["problems"]
    assert (problem["code"], problem["found"]) == ("wrong-word", "'Burned'")
