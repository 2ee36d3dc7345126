"""What must hold whatever is molded and measured: nothing is lost, what is predicted is measured."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from laminate.coupons import recipes
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.methods import attributes
from laminate.coupons.readings import columns_of, plan_of
from laminate.files.coupons import Coupon, Coupons
from laminate.files.part import part_of
from laminate.press.prediction import predict_zone
from laminate.press.stack import ingredients
from laminate.values.uncertainty import propagate
from laminate.values.units import SIValue, Spread

WATER_20 = 998.2067  # kg/m^3, Tanaka et al., Metrologia 38 (2001) 301
EXACT = Bench(air_density=SIValue(1.2))


def between(low, high):
    return st.floats(low, high, allow_nan=False).map(lambda x: float(f"{x:.6g}"))


plies = st.fixed_dictionaries(
    {
        "areal": between(50, 600),
        "resin": between(20, 60),
        "volatiles": between(0.1, 3),
        "basis": st.sampled_from(["as received", "volatile-free", "with volatiles"]),
        "fiber": between(1.4, 2.6),
        "epoxy": between(1.1, 1.35),
        "count": st.integers(1, 60),
        "film": st.sampled_from(["neither", "resin", "fiber", ""]),
        "bleed": between(0, 25),
        "voids": between(0, 6),
        "given": st.sampled_from(["fiber_areal_weight", "prepreg_areal_weight"]),
    }
)


def part(made):
    """A part of one prepreg, with a film in it or none."""
    raw = {
        "format": 1,
        "part": {"number": "P", "issue": "A"},
        "fiber": {"f": {"kind": "glass", "density": f"{made['fiber']} g/cm^3"}},
        "resin": {"r": {"density": f"{made['epoxy']} g/cm^3"}},
        "prepreg": {
            "p": {
                "fiber": "f",
                "resin": "r",
                made["given"]: f"{made['areal']} g/m^2",
                "resin_content": f"{made['resin']} %",
                "resin_basis": made["basis"],
                "volatiles": f"{made['volatiles']} %",
            }
        },
        "zone": {"z": {"fill_with": "p", "gap": "3 mm"}},
    }
    if made["film"]:
        raw["layer"] = {
            "film": {"areal_weight": "60 g/m^2", "thickness": "0.05 mm", "counts_as": made["film"]}
        }
        raw["zone"]["z"]["stack"] = ["1 film"]
    return part_of(raw, "part.toml")


def predicted(made):
    here = part(made)
    shares = (SIValue(made[key] / 100) for key in ("voids", "bleed"))
    void, bleed = shares
    found = predict_zone(here, "z", made["count"], void_content=void, bleed=bleed, area=SIValue(0.01))
    return here, {key: found.value(key) for key in found.attributes}


def coupon(name="1", **numbers):
    """A coupon of readings by column, spelled with underscores [SI]."""
    labels = {key.replace("_", " "): value for key, value in numbers.items()}
    return Coupon(name, "coupons.csv", labels, {}, dict.fromkeys(labels, ""))


@given(made=plies)
@settings(deadline=None)
def test_the_volumes_of_a_prediction_sum_to_one(made):
    _, found = predicted(made)
    film = 0.05e-3 / found["thickness"] if made["film"] == "neither" else 0.0
    total = found["fiber_volume"] + found["resin_volume"] + found["void_content"] + film
    assert total == pytest.approx(1.0, abs=1e-12)
    assert found["mass"] == pytest.approx(0.01 * found["thickness"] * found["density"], rel=1e-12)
    assert found["fiber_content"] == pytest.approx(
        1.0 - found["resin_content"] - (0.06 * 0.01 / found["mass"] if made["film"] == "neither" else 0.0),
        abs=1e-12,
    )


weighings = st.fixed_dictionaries(
    {
        "mass": between(0.5, 20),
        "density": between(1.15, 2.4),
        "content": between(0.2, 0.9),
        "temperature": between(1, 39),
        "air": between(0, 1.3),
        "share": between(0, 0.02),
        "loss": between(0, 0.02),
        "fiber": between(2.0, 2.7),
        "resin": between(1.0, 1.14),
    }
)


@given(made=weighings)
@settings(deadline=None)
def test_the_volumes_of_a_specimen_sum_to_one_by_every_method(made):
    mass = made["mass"] * 1e-3
    one = coupon(
        mass_in_air=mass, mass_in_liquid=mass * (1 - 1.0 / made["density"]), thickness=2e-3, plies=10.0,
        liquid_temperature=273.15 + made["temperature"], specimen_mass=mass,
        residue_mass=made["content"] * mass,
    )  # fmt: skip
    bench = Bench(
        air_density=SIValue(made["air"]),
        residue_share=SIValue(made["share"]),
        fiber_loss=SIValue(made["loss"]),
    )
    fiber, resin = SIValue(made["fiber"] * 1e3), SIValue(made["resin"] * 1e3)
    recipe = recipes.of_options(fiber, resin, SIValue(0.2))(10)
    x, _, _ = columns_of([one], plan_of(one, bench), recipe, bench)
    found = attributes(x, plan_of(one, bench), recipe)
    methods = {method for attribute, method in found if attribute == "void_content"}
    assert len(methods) == 2
    for method in methods:
        volume = found.get(
            ("fiber_volume", method), found.get(("fiber_volume", "thickness and areal weight"))
        )
        total = volume + found["resin_volume", method] + found["void_content", method]
        assert total == pytest.approx(1.0, abs=1e-12)
        contents = [found[key, method.partition(" and imm")[0]] for key in ("fiber_content", "resin_content")]
        assert sum(contents) == pytest.approx(1.0, abs=1e-14)


WITH_FILM = {
    "areal": 150.0, "resin": 33.0, "volatiles": 1.0, "basis": "as received", "fiber": 1.79, "epoxy": 1.25,
    "count": 8, "film": "resin", "bleed": 0.05, "voids": 0.0, "given": "fiber_areal_weight",
}  # fmt: skip


@given(made=plies, area=between(1e-4, 1e-2))
@settings(deadline=None)
@example(made=WITH_FILM, area=1e-3)
def test_a_perfect_coupon_measures_what_was_predicted(made, area):
    """Weighed in air and water, digested, its thickness taken: masses follow from the prediction alone."""
    here, found = predicted(made)
    rho, mass = found["density"], found["density"] * found["thickness"] * area
    lift = mass * (WATER_20 - 1.2) / (rho - 1.2)
    one = coupon(
        mass_in_air=mass, mass_in_liquid=mass - lift, liquid_temperature=293.15, thickness=found["thickness"],
        specimen_mass=mass, residue_mass=found["fiber_content"] * mass, plies=float(made["count"]),
    )  # fmt: skip
    made_of = recipes.of_zone(_Case(here), "z", frozenset(), made["count"])
    bench = Bench(air_density=SIValue(1.2), liquid_density=SIValue(WATER_20))
    plan = plan_of(one, bench)
    x, _, _ = columns_of([one], plan, made_of, bench)
    measured = {key: float(value[0]) for key, value in attributes(x, plan, made_of).items()}
    assert measured["density", "immersion"] == pytest.approx(rho, rel=1e-12)
    assert measured["fiber_content", "loss of matrix"] == pytest.approx(found["fiber_content"], rel=1e-12)
    for method in ("loss of matrix and immersion", "thickness and areal weight"):
        assert measured["fiber_volume", method] == pytest.approx(found["fiber_volume"], rel=1e-11)
    assert measured["cured_ply_thickness", "thickness"] == pytest.approx(
        found["cured_ply_thickness"], rel=1e-11
    )
    if made["film"] == "":
        assert measured["void_content", "loss of matrix and immersion"] == pytest.approx(
            found["void_content"], abs=1e-11
        )
        assert measured["resin_volume", "loss of matrix and immersion"] == pytest.approx(
            found["resin_volume"], rel=1e-10
        )


class _Case:
    """A part of which nothing was certified."""

    class batch:  # noqa: N801
        lot = ()

    def __init__(self, part):
        self.part = part

    def ingredients(self, lots):
        return ingredients(self.part)


GAUGES = {
    "balance": Gauge("balance", Spread(1e-7), Spread(1e-4, relative=True)),
    "thermometer": Gauge("thermometer", Spread(0.05), Spread(0.1)),
    "micrometer": Gauge("micrometer", Spread(2e-6), Spread(1.5e-6)),
}
BENCH = Bench(GAUGES, residue_share=SIValue(0.002, 0.001), fiber_loss=SIValue(0.004, 0.002))
OPTIONS = recipes.of_options(SIValue(1790.0, 5.0), SIValue(1220.0, 6.0), SIValue(0.150, 0.001))


def full(name, stretch):
    mass = 2e-3 * stretch[0]
    return coupon(
        name,
        mass_in_air=mass,
        mass_in_liquid=mass * (1 - 0.997 / (1.545 * stretch[1])),
        thickness=2.87e-3 * stretch[2],
        liquid_temperature=293.15 + stretch[3],
        specimen_mass=mass * 0.999,
        residue_mass=0.677 * mass * stretch[1],
    )


stretches = st.lists(
    st.tuples(between(0.5, 2), between(0.99, 1.01), between(0.98, 1.02), between(-5, 5)),
    min_size=2,
    max_size=6,
)


@given(stretch=stretches)
@settings(max_examples=6, deadline=None)
def test_a_table_is_its_rows_one_by_one(stretch):
    """Values, uncertainties and budgets of a specimen do not depend on who else is in the table."""
    rows = [full(str(i), s) for i, s in enumerate(stretch)]
    recipe = OPTIONS(20)

    def run(coupons):
        return measure(Coupons(tuple(coupons), ()), BENCH, lambda one: Made(None, recipe)).specimens

    together = run(rows)
    for row, one in zip(rows, together, strict=True):
        (alone,) = run([row])
        assert one.every.keys() == alone.every.keys()
        for key, measured in one.every.items():
            assert measured.value == pytest.approx(alone.every[key].value, rel=1e-12)
            assert measured.u == pytest.approx(alone.every[key].u, rel=1e-12)
            other = alone.every[key].contributions()
            for name, share in measured.contributions().items():
                assert share == pytest.approx(other[name], rel=1e-9, abs=1e-12 * measured.u)


@given(stretch=stretches)
@settings(max_examples=25, deadline=None)
def test_complex_step_and_a_library_of_uncertain_numbers_agree(stretch):
    """Every attribute by every method, through the recipe of a table with all its sources."""
    recipe = OPTIONS(20)
    one = full("1", stretch[0])
    plan = plan_of(one, BENCH)
    x, sources, _ = columns_of([one], plan, recipe, BENCH)
    first = propagate(lambda inputs: attributes(inputs, plan, recipe), x, sources)
    numbers = {name: float(np.ravel(value)[0]) for name, value in x.items()}
    for source in sources:
        cause = ufloat(0.0, 1.0, tag=source.name)
        for name, move in source.moves.items():
            numbers[name] = numbers[name] + cause * float(np.ravel(move)[0])
    second = attributes(numbers, plan, recipe)
    assert len(first) > 10
    for key, result in first.items():
        number = second[key]
        assert result.value[0] == pytest.approx(number.nominal_value, rel=1e-12, abs=1e-15)
        assert result.standard_uncertainty[0] == pytest.approx(number.std_dev, rel=1e-11)


G_LB, G_OZ = 453.59237, 28.349523125


def swapped(shop, masses, temperature, length, densities, areal):
    """The same coupon and options, numbers and headings in other units, unrounded."""
    mass_factor, mass = masses
    degrees = {"degC": 20.0, "degF": 68.0, "K": 293.15}[temperature]
    length_factor, unit = length
    shop.table(
        f"specimen,plies,mass in air [{mass}],mass in liquid [{mass}],liquid temperature [{temperature}],"
        f"specimen mass [{mass}],residue mass [{mass}],thickness [{unit}],method",
        f"1,20,{2.0 / mass_factor!r},{0.722 / mass_factor!r},{degrees!r},{2.0 / mass_factor!r},"
        f"{1.352 / mass_factor!r},{2.87 / length_factor!r},digestion",
    )
    options = (
        "--fiber-density",
        densities[0],
        "--resin-density",
        densities[1],
        "--fiber-areal-weight",
        areal,
        "--balance-resolution=1 g",  # coarser than any of the numbers as they are written
        "--thermometer-resolution=1 K",
        "--micrometer-resolution=0.1 mm",
    )
    return shop.json("measure", "coupons.csv", *options)["specimens"][0]


LB_IN3 = 453.59237 / 25.4**3 * 1000  # g/cm^3 of one lb/in^3
OZ_YD2 = 28.349523125 / 0.9144**2  # g/m^2 of one oz/yd^2
US_DENSITIES = (
    f"{1.79 / LB_IN3!r} lb/in^3 ± {0.01 / LB_IN3!r} (k=2)",
    f"{1.22 / LB_IN3!r} lb/in^3 ± {0.01 / LB_IN3!r} (k=2)",
)
SI_DENSITIES = ("1790 kg/m^3 ± 10 (k=2)", "1220 kg/m^3 ± 10 (k=2)")
DENSITIES = ("1.79 g/cm^3 ± 0.01 (k=2)", "1.22 g/cm^3 ± 0.01 (k=2)")


@pytest.mark.parametrize(
    ("masses", "temperature", "length", "densities", "areal"),
    [
        ((1e-3, "mg"), "degC", (1000.0, "m"), SI_DENSITIES, "0.150 kg/m^2"),
        ((G_LB, "lb"), "degF", (25.4, "in"), US_DENSITIES, f"{150.0 / OZ_YD2!r} oz/yd^2"),
        ((G_OZ, "oz"), "degF", (0.0254, "mil"), US_DENSITIES, "150 gsm"),
        ((1000.0, "kg"), "degF", (1e-3, "um"), DENSITIES, "150 g/m²"),
    ],
)  # fmt: skip
def test_other_units_are_the_same_coupon(masses, temperature, length, densities, areal, shop):
    plain = swapped(shop, (1.0, "g"), "degC", (1.0, "mm"), DENSITIES, "150 g/m^2")
    other = swapped(shop, masses, temperature, length, densities, areal)
    quantities = [key for key, value in plain.items() if isinstance(value, dict)]
    assert len(quantities) >= 8
    for key in quantities:
        assert other[key]["value"] == pytest.approx(plain[key]["value"], rel=1e-12, abs=1e-11)
        u = plain[key]["standard_uncertainty"]
        assert other[key]["standard_uncertainty"] == (u if u is None else pytest.approx(u, rel=1e-11))


def test_other_units_are_the_same_prediction(shop):
    common = ("--resin-content", "35 %", "--plies", "16")
    plain = (
        "--fiber-areal-weight", "134 g/m^2", "--area", "0.04 m^2",
        "--fiber-density", DENSITIES[0], "--resin-density", DENSITIES[1],
    )  # fmt: skip
    us = (
        "--fiber-areal-weight", f"{134.0 / OZ_YD2!r} oz/yd^2", "--area", f"{0.04 / 0.0254**2!r} in^2",
        "--fiber-density", US_DENSITIES[0], "--resin-density", US_DENSITIES[1],
    )  # fmt: skip
    first, second = (shop.json("predict", *options, *common) for options in (plain, us))
    for key in ("fiber_volume", "cured_ply_thickness", "thickness", "density", "areal_weight", "mass"):
        assert second[key]["value"] == pytest.approx(first[key]["value"], rel=1e-12)
        u = first[key]["standard_uncertainty"]
        assert second[key]["standard_uncertainty"] == (u if u is None else pytest.approx(u, rel=1e-11))
    assert math.isclose(
        first["mass"]["value"], 0.04e6 * first["thickness"]["value"] * first["density"]["value"] / 1e3
    )
