"""Every method of the coupon table against arithmetic by hand, in the units that people write."""

import math

import pytest

DENSITIES = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
WATER_23 = 0.9975408  # g/cm^3, Tanaka et al., Metrologia 38 (2001) 301
AIR = 0.0012


def measured(shop, *options, densities=DENSITIES):
    return shop.json("measure", "coupons.csv", *densities, *options)["specimens"]


def near(value):
    return pytest.approx(value, rel=1e-7)


def test_immersion_in_water_with_the_buoyancy_of_air(shop):
    shop.table("specimen,mass in air [g],mass in liquid [g],liquid temperature [degC]", "1,2.0000,0.7200,23")
    (one,) = measured(shop)
    assert one["density"]["value"] == near(2.0 * (WATER_23 - AIR) / 1.28 + AIR)
    (printed,) = measured(shop, "--air-density", "0")
    assert printed["density"]["value"] == near(2.0 * WATER_23 / 1.28)


def test_a_sinker_holds_down_what_floats(shop):
    shop.table(
        "specimen,mass in air [g],mass in liquid [g],sinker mass in liquid [g],liquid density [g/cm^3]",
        "foam,1.0000,7.4000,8.0000,0.9980",
    )
    (one,) = measured(shop, densities=("--fiber-density", "1.0 g/cm^3", "--resin-density", "0.55 g/cm^3"))
    assert one["density"]["value"] == near(1.0 * (0.998 - AIR) / (1.0 + 8.0 - 7.4) + AIR)


@pytest.mark.parametrize("column", ["liquid density [g/cm^3]", ""])
def test_another_liquid_by_its_density(column, shop):
    cell = ",0.7890" if column else ""
    shop.table(
        f"specimen,mass in air [g],mass in liquid [g]{',' + column if column else ''}", f"1,2,0.98{cell}"
    )
    (one,) = measured(shop, *([] if column else ["--liquid-density", "0.7890 g/cm^3"]))
    assert one["density"]["value"] == near(2.0 * (0.789 - AIR) / 1.02 + AIR)


WIRES = ("wires = 1\nwire_diameter = \"0.2 mm\"\nbeaker_diameter = \"80 mm\"", "wires = 2\n"
         'wire_diameter = "0.7 mm"\nbeaker_diameter = "76 mm"')  # fmt: skip
FACTOR = 1.0 - 2 * 0.7**2 / 76**2


def test_wires_wet_by_the_liquid_that_rises(shop):
    """Two wires of 0.7 mm in a beaker of 76 mm: 0.99983 (Sartorius LA manual p. 64)."""
    assert round(FACTOR, 5) == 0.99983
    shop.change("batch.toml", *WIRES)
    shop.table(
        "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]", "1,web,2.0,0.72,23"
    )
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["density"]["value"] == near(2.0 * (WATER_23 - AIR) / (1.28 * FACTOR) + AIR)


CRUCIBLE = "crucible mass [g],crucible with specimen [g],crucible with residue [g]"
SATURATED = "dry mass [g],saturated mass [g],mass in liquid [g],liquid temperature [degC]"


def test_open_and_closed_voids_apart_in_a_saturated_specimen(shop):
    shop.table(f"specimen,{SATURATED},specimen mass [g],residue mass [g],method",
               "1,2.0000,2.0120,0.7200,23,2.0000,1.3600,digestion")  # fmt: skip
    (one,) = measured(shop)
    bulk = 2.0 * (WATER_23 - AIR) / 1.292 + AIR
    voids = 100 * (1 - bulk * (0.68 / 1.79 + 0.32 / 1.22))
    assert one["density"]["value"] == near(bulk)
    assert one["open_void_content"]["value"] == near(100 * 0.012 / 1.292)
    assert one["void_content"]["value"] == pytest.approx(voids, abs=1e-5)
    assert one["closed_void_content"]["value"] == pytest.approx(voids - 1.2 / 1.292, abs=1e-5)


def test_wires_and_a_sinker_count_for_a_saturated_specimen_too(shop):
    shop.change("batch.toml", *WIRES)
    shop.table(f"specimen,zone,{SATURATED},sinker mass in liquid [g]", "1,web,2.0000,2.0120,8.7200,23,8.0000")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["density"]["value"] == near(2.0 * (WATER_23 - AIR) / (1.292 * FACTOR) + AIR)
    assert one["open_void_content"]["value"] == near(100 * 0.012 / (1.292 * FACTOR))


def test_a_crucible_is_weighed_empty_full_and_with_the_residue(shop):
    shop.table(
        f"specimen,density [g/cm^3],{CRUCIBLE},method",
        "1,1.55,20.0000,22.0000,21.3600,digestion",
    )
    (one,) = measured(shop)
    assert one["fiber_content"]["value"] == near(68.0)
    assert one["resin_content"]["value"] == near(32.0)
    assert one["fiber_volume"]["value"] == near(100 * 0.68 * 1.55 / 1.79)
    assert one["resin_volume"]["value"] == near(100 * 0.32 * 1.55 / 1.22)


def test_blanks_given_as_options(shop):
    shop.table("specimen,specimen mass [g],residue mass [g],method", "1,2.0000,1.3600,ignition")
    (one,) = measured(shop, "--residue-share", "2 %", "--fiber-loss", "1 %")
    assert one["fiber_content"]["value"] == near(100 * (0.68 - 0.02) / (1 - 0.01 - 0.02))


def test_thickness_with_the_areal_weight_of_the_plies(shop):
    """ASTM D3171 method II: V_f = n m_f/(rho_f h), and with a density what is resin and void."""
    heading = "specimen,plies,thickness 1 [mm],thickness 2 [mm],density [g/cm^3]"
    shop.table(heading, "1,20,2.90,2.92,1.53", "2,19,2.75,2.77,")
    one, two = measured(shop, "--fiber-areal-weight", "150 g/m^2")
    volume = 20 * 0.150 / (1790 * 2.91e-3)
    content = volume * 1.79 / 1.53
    assert one["fiber_volume"]["value"] == near(100 * volume)
    assert one["resin_volume"]["value"] == near(100 * (1 - content) * 1.53 / 1.22)
    assert one["void_content"]["value"] == near(100 * (1 - volume - (1 - content) * 1.53 / 1.22))
    assert one["cured_ply_thickness"]["value"] == near(2.91 / 20)
    assert two["fiber_volume"]["value"] == near(100 * 19 * 0.150 / (1790 * 2.76e-3))
    assert "void_content" not in two


@pytest.mark.parametrize("sides", [("length [mm],width [mm]", "50,20"), ("area [cm^2]", "10")])
def test_density_by_dimensions_and_areal_weight_by_residue(sides, shop):
    columns, cells = sides
    shop.table(
        f"specimen,plies,mass in air [g],thickness [mm],{columns},residue mass [g],method",
        f"1,20,4.45,2.9,{cells},3.02,digestion",
    )
    (one,) = measured(shop)
    assert one["density"]["value"] == near(4.45 / (10 * 0.29))
    assert one["areal_weight"]["value"] == near(3.02 / 1e-3 / 20)


def test_an_area_without_a_mass_in_air_says_nothing(shop):
    shop.table(
        f"specimen,plies,{CRUCIBLE},method,area [cm^2]",
        "1,20,20.0000,22.0000,21.3600,digestion,10",
    )
    (one,) = measured(shop)
    assert one["fiber_content"]["value"] == near(68.0)
    assert "areal_weight" not in one


def test_points_counted_over_fields(shop):
    """ASTM E562: mean over fields, 95 % with Student's t of n - 1 degrees, 2.776 for five fields.

    Five points on voids say less: of 500, Wilson's interval ends at
    (5 + 1.92073 + 1.95996 sqrt(4.95 + 0.96036))/(500 + 3.84146) = 2.3193 %, 1.3193 points above 1 %.
    """
    fields = [(60, 2), (58, 1), (61, 0.5), (57, 1.5), (59, 0)]
    shop.table(
        "specimen,field,points,fiber points,void points",
        *(f"1,{i},100,{fiber},{void}" for i, (fiber, void) in enumerate(fields)),
    )
    (one,) = measured(shop)
    for key, values in (("fiber_volume", [f for f, _ in fields]), ("void_content", [v for _, v in fields])):
        mean = sum(values) / 5
        s = math.sqrt(sum((v - mean) ** 2 for v in values) / 4)
        assert one[key]["value"] == near(mean)
        wide = 2.776 * s / math.sqrt(5) if key == "fiber_volume" else 1.3193
        assert one[key]["expanded_uncertainty"] == pytest.approx(wide, rel=2e-4)
        assert one[key]["method"] == "point count"
    assert one["fiber_volume"]["standard_uncertainty"] == near(math.sqrt(2.5 / 5))


def test_fields_that_count_alike_still_count_few_points(shop):
    """Five fields of 58 of 100: sqrt(p (1 - p)/500), p = 290.5/501 (arithmetic): 2.207 %."""
    shop.table("specimen,field,points,fiber points", *(f"1,{i},100,58" for i in range(5)))
    (one,) = measured(shop)
    assert one["fiber_volume"]["value"] == near(58.0)
    assert one["fiber_volume"]["standard_uncertainty"] == pytest.approx(2.207, abs=5e-4)


@pytest.mark.parametrize(("voids", "noted"), [((2, 1, 0.5, 1.5, 0), True), (None, False)])
def test_whose_count_of_points_says_less_than_its_fields_is_told(shop, voids, noted):
    heading = "specimen,field,points,fiber points" + (",void points" if voids else "")
    rows = [(i, fiber, *([voids[i]] if voids else [])) for i, fiber in enumerate((60, 58, 61, 57, 59))]
    shop.table(heading, *(f"c7,{i},100,{','.join(map(str, rest))}" for i, *rest in rows))
    notes = shop.json("measure", "coupons.csv", *DENSITIES)["notes"]
    assert bool([note for note in notes if "E562" in note and "c7" in note]) is noted


def test_a_single_field_shows_no_scatter(shop):
    shop.table("specimen,field,points,fiber points", "1,a,100,60")
    (one,) = measured(shop)
    assert one["fiber_volume"]["standard_uncertainty"] is None
    assert [w["code"] for w in one["warnings"]] == ["one-field"]


PREPREG = "specimen,lot,area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"


@pytest.mark.parametrize(
    ("basis", "resin"),
    [
        ("as received", (2.3 - 1.5) / 2.3 - 0.01),
        ("with volatiles", (2.3 - 1.5) / 2.3),
        ("volatile-free", ((2.3 - 1.5) / 2.3 - 0.01) / 0.99),
    ],
)
def test_incoming_prepreg_by_extraction_and_oven(basis, resin, shop):
    """ASTM D3529 and D3530; what is found is told on the basis of the part file."""
    shop.write("part.toml", shop.read("part.toml").replace('"as received"', f'"{basis}"'))
    shop.table(f"{PREPREG},dried mass [g]", f"P1,L2231,100,3.2000,0.9000,1.5000,{2.3 * 0.99:.4f}")
    answer = shop.json("measure", "batch.toml")
    (one,) = answer["prepreg"]
    assert answer["specimens"] == []
    assert one["prepreg"] == "ud150"
    assert one["prepreg_areal_weight"]["value"] == near(230.0)
    assert one["areal_weight"]["value"] == near(150.0)
    assert one["volatiles"]["value"] == near(1.0)
    assert one["resin_content"]["value"] == near(100 * resin)


def test_incoming_prepreg_without_an_oven_takes_the_lots_volatiles(shop):
    shop.table(PREPREG, "P1,L2231,100,3.2000,0.9000,1.5000")
    (one,) = shop.json("measure", "batch.toml")["prepreg"]
    assert one["resin_content"]["value"] == near(100 * ((2.3 - 1.5) / 2.3 - 0.004))
    assert "volatiles" not in one


def test_a_count_of_plies_that_the_column_contradicts_is_told_and_no_other(shop):
    """The column holds; a large table, which goes as columns, says so too."""
    options = ("--fiber-density", "1.79 g/cm^3", "--fiber-areal-weight", "150 g/m^2", "--plies")
    for counts, plies, counted in (
        (("20", "20"), "19", 20),
        (("20",) * 300, "19", 20),
        (("20", ""), "20", 20),
        (("", ""), "19", 19),
    ):
        rows = (f"{n},{count},2.87,2.86" for n, count in enumerate(counts))
        shop.table("specimen,plies,thickness 1 [mm],thickness 2 [mm]", *rows)
        answer = shop.json("measure", "coupons.csv", *options, plies)
        notes = [note for note in answer["notes"] if "--plies 19" in note and "'plies' says 20" in note]
        assert len(notes) == (counted == 20 and plies == "19")
        assert answer["specimens"][0]["fiber_volume"]["value"] == near(counted * 15 / 1.79 / 2.865)
        screen = shop.run("measure", "coupons.csv", *options, plies).out
        assert screen.count("--plies 19") == len(notes)
