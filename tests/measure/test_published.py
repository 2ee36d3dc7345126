"""Coupon tables through the program against published examples and the reference laminate."""

import math

import pytest

GLASS = ("--fiber-density", "2.5 g/cm^3", "--resin-density", "1.2 g/cm^3")
KAW = ("specimen,mass in air [g],mass in liquid [g],liquid density [g/cm^3],residue mass [g],method",
       "K1,3.697,1.636,1.000,2.595,digestion")  # fmt: skip


def only(answer):
    (specimen,) = answer["specimens"]
    return specimen


def theoretical(specimen):
    """Density without voids that the answer stands for [g/cm^3]."""
    return specimen["density"]["value"] / (1.0 - specimen["void_content"]["value"] / 100.0)


def test_digestion_and_immersion_as_in_kaw(shop):
    """Kaw, Mechanics of Composite Materials, ch. 3 problem: arithmetic on its inputs, no air term."""
    shop.table(*KAW)
    specimen = only(shop.json("measure", "coupons.csv", *GLASS, "--air-density", "0"))
    assert specimen["density"]["value"] == pytest.approx(1.79379, abs=5e-6)
    assert specimen["void_content"]["value"] == pytest.approx(5.078, abs=5e-4)
    assert specimen["fiber_volume"]["value"] == pytest.approx(50.364, abs=5e-4)
    assert theoretical(specimen) == pytest.approx(1.88976, abs=5e-6)
    # nothing has a ± but the last decimals: 0.001 g of each mass, 0.001 g/cm^3 of the liquid, d/sqrt(12);
    # V_f = R rho_l/((m - i) rho_f): dV/V = 1/R, 1/(m - i) twice and 1/rho_l
    steps = [0.001 / 2.595, 0.001 / 2.061, 0.001 / 2.061, 0.001 / 1.0]
    u = 50.364 * math.hypot(*steps) / math.sqrt(12)
    assert specimen["fiber_volume"]["standard_uncertainty"] == pytest.approx(u, rel=1e-4)
    total = sum(specimen[key]["value"] for key in ("fiber_volume", "resin_volume", "void_content"))
    assert total == pytest.approx(100.0, abs=1e-10)


@pytest.mark.parametrize("option", [(), ("--air-density", "0.0012 g/cm^3"), ("--air-density", "1.2 kg/m^3")])
def test_air_weighs_on_the_void_content(option, shop):
    """The same with air of 0.0012 g/cm^3, which is the default: 5.13 %."""
    shop.table(*KAW)
    specimen = only(shop.json("measure", "coupons.csv", *GLASS, *option))
    assert specimen["void_content"]["value"] == pytest.approx(5.13, abs=5e-3)


def test_burn_off_as_in_a_textbook_problem(shop):
    """1.63 g to 0.76 g of glass, 2400 and 1200 kg/m3, 1500 kg/m3 measured (textbook problem)."""
    shop.table(
        "specimen,density [kg/m^3],specimen mass [g],residue mass [g],method", "B1,1500,1.63,0.76,ignition"
    )
    answer = shop.json(
        "measure",
        "coupons.csv",
        "--fiber-density",
        "2400 kg/m^3",
        "--resin-density",
        "1200 kg/m^3",
        "--fiber",
        "glass",
    )
    specimen = only(answer)
    assert 1000.0 * theoretical(specimen) == pytest.approx(1564.80, abs=5e-3)
    assert specimen["void_content"]["value"] == pytest.approx(4.141, abs=5e-4)
    assert specimen["methods"] == ["ignition", "density given", "ignition and density given"]
    assert specimen["warnings"] == []


# Reference laminate: w_f 0.65, densities 1.58, 1.79 and 1.30 g/cm^3 with u 0.003, 0.002, 0.01 and 0.01; what
# each adds to u(V_v) by hand, from V_v = 1 - rho (w_f/rho_f + w_r/rho_r) (ASTM D3171, D2734).
BY_HAND = {
    "fiber density": 100 * 1.58 * 0.65 / 1.79**2 * 0.01,
    "resin density": 100 * 1.58 * 0.35 / 1.30**2 * 0.01,
    "density": 100 * (0.65 / 1.79 + 0.35 / 1.30) * 0.002,
    "content": 100 * 1.58 * (1 / 1.30 - 1 / 1.79) * 0.003,
}
FIBER, RESIN = "1.79 g/cm^3 ± 0.01 (standard)", "1.30 g/cm^3 ± 0.01 (standard)"
REFERENCE = ("--fiber-density", FIBER, "--resin-density", RESIN)


def test_where_the_uncertainty_of_the_void_content_comes_from(shop):
    """u(V_v) = 0.49 points: fiber density 0.32, resin density 0.33, density 0.13, fiber content 0.10."""
    assert [round(share, 2) for share in BY_HAND.values()] == [0.32, 0.33, 0.13, 0.10]
    # two readings 0.004 apart scatter by 0.004/sqrt(2), their mean by 0.002; a fiber loss of u = 0.003/0.65
    # moves the fiber content by 0.003
    shop.table(
        "specimen,density 1 [g/cm^3],density 2 [g/cm^3],specimen mass [g],residue mass [g],method",
        "R1,1.57800000,1.58200000,2.00000000,1.30000000,digestion",  # the last decimal adds nothing
    )
    loss = f"0 % ± {100 * 0.003 / 0.65!r} (standard)"
    answer = shop.json("measure", "coupons.csv", *REFERENCE, "--fiber", "glass", "--fiber-loss", loss)
    void = only(answer)["void_content"]
    assert void["value"] == pytest.approx(100 * (1 - 1.58 * (0.65 / 1.79 + 0.35 / 1.30)), abs=1e-9)
    assert void["standard_uncertainty"] == pytest.approx(math.hypot(*BY_HAND.values()), rel=1e-9)
    assert round(void["standard_uncertainty"], 2) == 0.49


def test_the_budget_of_an_average_names_the_four_contributions(shop):
    """Ten coupons alike: the shared densities and the fiber loss stay, of the readings' 0.13 little.

    The last decimals stay as well: 100 (0.65/1.79 + 0.35/1.30) 0.001/sqrt(12) = 0.02 of the density, and of
    the masses of 0.01 g, 100 x 1.58 (1/1.30 - 1/1.79) 0.01/2/sqrt(12) = 0.05 (residue) and 0.65 of it.
    """
    shop.table(
        "specimen,density 1 [g/cm^3],density 2 [g/cm^3],specimen mass [g],residue mass [g],method",
        *(f"R{i},1.578,1.582,2.00,1.30,digestion" for i in range(10)),
    )
    loss = f"0 % ± {100 * 0.003 / 0.65!r} (standard)"
    answer = shop.json("measure", "coupons.csv", *REFERENCE, "--fiber", "glass", "--fiber-loss", loss)
    budget = {line["input"]: line for line in answer["budget"]["void_content"]}
    assert sum(line["share"] for line in budget.values()) == pytest.approx(100.0, abs=1e-9)
    found = {name: round(abs(line["standard_uncertainty"]), 2) for name, line in budget.items()}
    assert found == {
        "resin density": 0.33,
        "fiber density": 0.32,
        "fiber loss": 0.10,
        "residue mass, resolution": 0.05,
        "scatter between coupons": 0.04,
        "specimen mass, resolution": 0.03,
        "density, resolution": 0.02,
    }
