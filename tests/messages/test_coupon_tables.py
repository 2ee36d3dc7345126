"""Coupon tables with one mistake each: the exact sentence, the place where it stands, exit status 2."""

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


def told(shop, *lines, call=CALL):
    """What is written to standard error for a table, after its name."""
    shop.table(*lines)
    answer = shop.run(*call)
    assert (answer.status, answer.out) == (2, "")
    return [line.removeprefix("coupons.csv: ") for line in answer.err.splitlines()]


HEADING = ",".join(COLUMNS)
ONE = {
    "text in a number": (
        {"mass_in_air": "1.44x"}, "row 2, column 'mass in air': found '1.44x', expected a number"),
    "a unit in a cell": (
        {"mass_in_air": "1.4427 g"}, "row 2, column 'mass in air': found '1.4427 g', expected a number; "
        "write 1.4427 alone: a unit belongs in the heading, words in the column 'remark'"),
    "NA": ({"mass_in_air": "NA"}, "row 2, column 'mass in air': found 'NA', expected a number; "
           "leave the cell empty where nothing was measured"),
    "infinite": ({"mass_in_air": "inf"}, "row 2, column 'mass in air': found 'inf', expected a number; "
                 "leave the cell empty where nothing was measured"),
    "NaN": ({"thickness_2": "nan"}, "row 2, column 'thickness 2': found 'nan', expected a number; "
            "leave the cell empty where nothing was measured"),
    "too large": ({"thickness_2": "1e999"}, "row 2, column 'thickness 2': found '1e999', "
                  "expected a number that can be measured; this one is too large to be read"),
    "a negative mass": (
        {"mass_in_air": "-1.4"}, "row 2, column 'mass in air': found '-1.4 g', expected a mass above 0, "
        "up to 100 kg"),
    "half a ply": (
        {"plies": "20.5"}, "row 2, column 'plies': found '20.5', expected a whole number of plies, 1 or "
                           "more"),
    "fewer plies than fixed": (
        {"plies": "2"}, "row 2, column 'plies': found '2' plies, expected at least the 4 that the part file "
        "fixes"),
    "residue over coupon": (
        {"residue_mass": "1.5"}, "row 2, column 'residue mass': found residue mass '1.5', not below specimen "
        "mass '1.4425', expected residue mass below specimen mass; the residue cannot outweigh the coupon: "
        "are cells swapped or mistyped?"),
    "swapped masses": (
        {"mass_in_air": "0.5117", "mass_in_liquid": "1.4427"},
        "row 2, column 'mass in liquid': found mass in liquid '1.4427', not below mass in air '0.5117', "
        "expected mass in liquid below mass in air; are the two cells swapped?"),
    "a coupon that floats": (
        {"mass_in_liquid": "-0.1"}, "row 2, column 'mass in liquid': found '-0.1', a coupon that floats, "
        "expected a mass above 0 in the liquid; weigh it with a sinker, and fill in 'sinker mass in liquid'"),
    "no temperature": (
        {"liquid_temperature": ""}, "row 2, column 'mass in liquid': found a mass in water without the "
        "temperature of the water, expected the cell 'liquid temperature', or 'liquid density'"),
    "an unknown zone": (
        {"zone": "wep"}, "row 2, column 'zone': found 'wep', expected a zone of the part file; "
        "did you mean 'web'?"),
    "no zone": (
        {"zone": ""}, "row 2, column 'specimen': found no zone for coupon '0101', expected one of web, "
                      "skin"),
    "an unknown lot": (
        {"lot": "L2213"}, "row 2, column 'lot': found 'L2213', expected a lot of the batch file; "
        "did you mean 'L2231'?"),
    "an unknown method": (
        {"method": "burning"}, "row 2, column 'method': found 'burning', expected one of 'ignition', "
        "'digestion'"),
    "a method nearly right": (
        {"method": "digesion"}, "row 2, column 'method': found 'digesion', expected one of 'ignition', "
        "'digestion'; did you mean 'digestion'?"),
}  # fmt: skip


@pytest.mark.parametrize("case", ONE)
def test_one_mistake_in_a_row(case, shop):
    changes, sentence = ONE[case]
    assert told(shop, HEADING, cells(**changes)) == [sentence]
    assert told(shop, HEADING, cells(**changes), call=("report", "batch.toml")) == [sentence]


def test_water_that_boils(shop):
    (sentence,) = told(shop, HEADING, cells(liquid_temperature="150"))
    assert sentence.startswith(
        "row 2, column 'liquid temperature': found water at '150', expected water from 0 to 40 °C"
    )
    assert sentence.endswith("; is the unit in the heading right? for another liquid give its density")


HEADINGS = {
    "no unit": ("mass in air [g]", "mass in air", "column 'mass in air': found no unit in the heading, "
                "expected the unit of a mass in brackets, such as [g]"),
    "a unit of another kind": ("mass in air [g]", "mass in air [mm]",
                               "column 'mass in air [mm]': found 'mm', a length, expected a mass, "
                               'such as "3.1004 g"'),
    "an unknown column": ("mass in air [g]", "mas in air [g]", "row 1, column 'mas in air': found "
                          "'mas in air [g]', expected a known column; did you mean 'mass in air'?"),
}  # fmt: skip


@pytest.mark.parametrize("case", HEADINGS)
def test_one_mistake_in_a_heading_is_told_once(case, shop):
    """And no reading is said to be missing because its column could not be read."""
    old, new, sentence = HEADINGS[case]
    assert told(shop, HEADING.replace(old, new), cells(), cells(specimen="0102")) == [sentence]


def test_one_cell_twice_with_different_content(shop):
    assert told(shop, HEADING, cells(), cells(mass_in_air="1.4428")) == [
        "row 3, column 'mass in air': found '1.4428 g' for coupon '0101', which has '1.4427 g' in row 2, "
        "column "
        "'mass in air', expected one content for one cell; repeats go into numbered columns, such as "
        "'thickness 1 [mm]', 'thickness 2 [mm]'"
    ]


def test_one_cell_twice_in_two_tables_names_the_other(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    shop.write("more.csv", "specimen;zone;mass in air [mg]\n0101;skin;1442,8\n")
    found = told(shop, HEADING, cells())
    assert (
        "more.csv: row 2, column 'zone': found 'skin' for coupon '0101', which has 'web' in coupons.csv: "
        "row 2, column 'zone', expected one content for one cell" in found
    )
    assert (
        "more.csv: row 2, column 'mass in air': found '1442,8 mg' for coupon '0101', which has '1.4427 g' "
        "in coupons.csv: row 2, column 'mass in air', expected one content for one cell; repeats go into "
        "numbered columns, such as 'thickness 1 [mm]', 'thickness 2 [mm]'"
    ) in found


def test_one_field_twice_in_two_tables_names_the_other(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    head = "specimen,zone,field,points,fiber points"
    shop.table(head, "0101,web,1,400,230", name="more.csv")
    found = told(shop, head, "0101,web,1,400,231")
    assert found == [
        "more.csv: row 2, column 'points': found field '1' of coupon '0101' again, first in coupons.csv: "
        "row 2, column 'points', expected one row for one field, told apart in the column 'field'"
    ]


LOST = ("specimen,zone,method,specimen mass [g],residue mass [g]", ",web,digestion,1.4425,0.9763")


def test_a_name_that_has_lost_its_zeros_is_asked_about(shop):
    shop.change("batch.toml", '"coupons.csv"', '"coupons.csv", "more.csv"')
    shop.table(LOST[0], f"101{LOST[1]}", f"7{LOST[1]}", name="more.csv")
    assert told(shop, "specimen,zone,plies,thickness [mm]", "0101,web,20,2.873") == [
        "more.csv: row 2, column 'specimen': found '101', and '0101' in coupons.csv: row 2, "
        "column 'specimen', expected one name for one coupon; write it alike in both, with its zeros; if "
        "they are two, give one another name"
    ]


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
        assert told(shop, head, line) == [
            f"row 2, column 'crucible': found '{text}', expected the name of the crucible, not a reading; "
            "has a cell moved into the column beside its own? a name like this needs a letter before it"
        ]


def test_the_same_cell_twice_is_no_mistake(shop):
    shop.table(HEADING, cells(), cells(mass_in_liquid=""), cells(position="root", thickness_1=""))
    assert shop.run(*CALL).status == 0


def test_both_decimal_signs_are_told_once(shop):
    line = cells().replace(",", ";").replace("1.4427", "1,4427")
    assert told(shop, HEADING.replace(",", ";"), line) == [
        "row 2, column 'mass in air': found decimal comma (1,4427), and decimal point (0.5117) in row 2, "
        "column 'mass in liquid', expected one decimal sign in the whole file; write every number with the "
        "same sign"
    ]


def test_an_empty_table_and_a_header_alone(shop):
    shop.write("coupons.csv", "\n")
    assert shop.run(*CALL).err == (
        "coupons.csv: found an empty file, expected a header and at least one row\n"
    )
    assert told(shop, HEADING) == ["row 1: found a header and no row below it, expected at least one coupon"]


def test_blanks_in_both_places(shop):
    lines = ("specimen,kind,zone,specimen mass [g],residue mass "
             "[g],method", "b,blank resin,,2,0.01,digestion",
             "1,,web,2,1.36,digestion")  # fmt: skip
    assert told(shop, *lines) == [
        "row 2, column 'kind': found a blank resin row beside [blank] of the batch file, expected one of "
        "the two"
    ]


def test_aramid_is_not_burnt(shop):
    shop.change("part.toml", 'kind = "carbon"', 'kind = "aramid"')
    assert told(shop, HEADING, cells(method="ignition"), cells(specimen="2", method="digestion")) == [
        "row 2, column 'method': found ignition of aramid fiber, expected digestion; aramid burns away with "
        "the "
        "matrix: the residue is not its fiber"
    ]


def test_a_density_that_the_constituents_cannot_give(shop):
    (sentence,) = told(shop, HEADING, cells(mass_in_air="14.427", mass_in_liquid="13.6"))
    assert sentence.startswith("row 2, column 'mass in liquid': found a density of 17.")
    assert sentence.endswith("; weigh again: are cells swapped, or a digit or unit wrong?")


def test_ten_mistakes_in_a_table_are_ten_findings_in_the_order_of_rows(shop):
    found = told(
        shop, HEADING,
        cells(zone="wep", lot="L2213", mass_in_air="NA"),
        cells(specimen="0102", residue_mass="1.5", zone="skn"),
        cells(specimen="0103", liquid_temperature="150", thickness_1="x"), cells(specimen=""),
        cells(specimen="0104", mass_in_liquid="-0.1"), cells(specimen="0105", method="burning"),
        cells(specimen="0106"),
    )  # fmt: skip
    places = [line.partition(": found")[0] for line in found]
    assert [place.partition(",")[0] for place in places] == [
        f"row {i}" for i in (2, 2, 2, 3, 3, 4, 4, 5, 6, 7)
    ]
    assert {place.partition("column ")[2].strip("'") for place in places} == {
        "mass in air", "zone", "lot", "residue mass", "liquid temperature", "thickness 1", "specimen",
        "mass in liquid", "method",
    }  # fmt: skip
    assert len(set(found)) == 10


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
