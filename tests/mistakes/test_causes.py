"""What is named as the cause of a doubt: what enters the figure, and nothing else."""

import pytest

from tests.messages.wording import facts

HEAD = (
    "specimen,plies,mass in air [g],mass in liquid [g],liquid temperature [degC],method,"
    "specimen mass [g],residue mass [g],thickness [mm]"
)
ROWS = (
    ("1", "1.4427", "0.5117", "1.4425", "0.9763", "2.872"),
    ("2", "1.4609", "0.5192", "1.4607", "0.9884", "2.868"),
    ("3", "1.4143", "0.5032", "1.4141", "0.9571", "2.866"),
)
KNOWN = (
    "--fiber-density", "1.786 g/cm^3 ± 0.003 (standard)", "--resin-density", "1.22 g/cm^3 ± 0.005 (standard)",
    "--fiber-areal-weight", "150.6 g/m^2 ± 0.5 (standard)", "--balance", "0.1 mg (standard)",
)  # fmt: skip


def warnings(shop, *rows, temperature="22.8"):
    lines = (f"{name},20,{air},{wet},{temperature},digestion,{dry},{left},{thick}" for
             name, air, wet, dry, left, thick in rows)  # fmt: skip
    shop.table(HEAD, *lines)
    return shop.json("measure", "coupons.csv", *KNOWN)["warnings"]


def test_voids_below_zero_are_explained_by_what_enters_them(shop):
    """The resin lost typed as the residue in every row: 1 - 1.545 (0.323/1.786 + 0.677/1.22) is -13.7 %.

    The resin would have to be 1.41 g/cm^3; neither areal weight nor thickness is in that figure.
    """
    rows = [(*row[:4], f"{float(row[3]) - float(row[4]):.4f}", row[5]) for row in ROWS]
    told = [w for w in warnings(shop, *rows) if w["code"] == "negative-void-content"]
    assert len(told) == 3
    assert "resin density 1.22 -> 1.41 g/cm^3" in told[0]["hint"]
    assert "thickness" not in told[0]["hint"]
    assert "areal weight" not in told[0]["hint"]


def test_a_laminate_full_of_voids_is_no_factor_of_a_reading(shop):
    """1 - 1.408 (0.6768/1.786 + 0.3232/1.22): 9.3 % of voids in each of three, of 1 % that are usual."""
    rows = [(*row[:2], f"{float(row[2]) - 0.0893:.4f}", *row[3:5], "3.150") for row in ROWS]
    told = [w for w in warnings(shop, *rows) if w["place"].endswith("'mass in liquid'")]
    assert [facts(w["hint"]) for w in told] == ["'accepted' | 3"] * 3


def test_a_temperature_off_in_every_row_stands_at_the_thermometer(shop):
    told = warnings(shop, *ROWS, temperature="2.28")
    places = {w["place"] for w in told if w["code"] == "unlike-prediction"}
    assert places == {f"row {row}, column 'liquid temperature'" for row in (2, 3, 4)}


@pytest.mark.parametrize("wrong", ["287.2", "28.72"])
def test_a_factor_of_a_thickness_is_still_told(wrong, shop):
    told = [w for w in warnings(shop, *((*row[:5], wrong) for row in ROWS)) if "10" in facts(w["hint"])]
    assert len(told) == 3
