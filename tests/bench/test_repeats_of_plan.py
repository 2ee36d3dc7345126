"""The blank sheet asks for as many readings as the plan wants."""

import csv


def test_immersion_alone_has_two_columns_for_the_mass_in_air(shop):
    shop.change("part.toml", '["immersion", "digestion", "thickness"]', '["immersion"]')
    shop.run("sheet", "batch.toml", "--out", "blank.csv")
    header = next(csv.reader(shop.read("blank.csv").splitlines()))
    assert [h for h in header if h.startswith("mass in air")] == ["mass in air 1 [g]", "mass in air 2 [g]"]


def test_the_number_of_thicknesses_is_the_plans(shop):
    shop.change("part.toml", "coupons = 3\n", "coupons = 3\nrepeats = { thickness = 2 }\n")
    shop.run("sheet", "batch.toml", "--out", "blank.csv")
    header = next(csv.reader(shop.read("blank.csv").splitlines()))
    assert [h for h in header if h.startswith("thickness")] == ["thickness 1 [mm]", "thickness 2 [mm]"]
