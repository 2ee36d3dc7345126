"""What a batch file says of its coupons: lots, certificates, plies, mixed stacks, instruments."""

import math

import pytest

from tests.messages.wording import reads, says, worded

HEADING = "specimen,zone,lot,thickness [mm]"
SECOND = """
[[lot]]
prepreg = "ud150"
number = "L2232"
share = "40 %"
fiber_areal_weight = "148.0 g/m^2 ± 2.0 (k=2)"
resin_content = "33.5 % ± 0.6 (k=2)"
resin_basis = "as received"
volatiles = "0.4 % ± 0.2 (tolerance)"
"""
FILM = 'stack = ["4 ud150", "1 film"]'


def two_lots(shop):
    shop.change("batch.toml", 'number = "L2231"', 'number = "L2231"\nshare = "60 %"')
    shop.add("batch.toml", SECOND)


def volume(areal, thickness, density=1786.0, plies=20):
    return pytest.approx(100 * plies * areal / (density * thickness), rel=1e-9)


def test_the_values_of_the_batch_come_before_nominal_ones_and_it_is_said(shop):
    shop.table(HEADING, "1,web,L2231,2.87")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["fiber_volume"]["value"] == volume(0.1506, 2.87e-3)
    answer = shop.json("report", "batch.toml", status=[1])
    origins = {v["input"]: v["from"] for v in answer["values"]}
    assert origins["carbon density"] == "certificate F-118"
    assert origins["ud150 areal weight"] == "lot L2231, certificate C-0192"
    assert origins["epoxy density"] == "part file"
    words = shop.run("report", "batch.toml", "--why").out
    assert says("measure: the values of the batch come before", words)


def test_without_certificates_the_part_file_holds(shop):
    text = shop.read("batch.toml")
    start, end = text.index("[[lot]]"), text.index("[instrument.balance]")
    shop.write("batch.toml", text[:start] + text[end:])
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["fiber_volume"]["value"] == volume(0.150, 2.87e-3, density=1790.0)


def test_two_lots_are_mixed_by_their_shares(shop):
    two_lots(shop)
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["fiber_volume"]["value"] == volume(0.6 * 0.1506 + 0.4 * 0.148, 2.87e-3)


def test_a_coupon_that_names_no_lot_is_of_any_of_them(shop):
    """Lots of 150.6 and 148.0 g/m^2, u 0.5 and 1.0, shares 60 and 40 %: their difference and the larger u.

    u^2 = u_max^2 + sum of share (lot - mean)^2; by hand sqrt(1 + 1.6224) = 1.619 g/m^2.
    """
    two_lots(shop)
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87", "2,web,2.87")
    lines = {b["input"]: b for b in shop.json("measure", "batch.toml")["budget"]["fiber_volume"]}
    per = 100 * 20 / (1786.0 * 2.87e-3)
    parts = ("ud150 areal weight", "ud150 lot L2231 or lot L2232")
    u = math.hypot(*(lines[part]["standard_uncertainty"] for part in parts)) / per
    assert u == pytest.approx(1e-3 * (1.0**2 + 0.6 * 1.04**2 + 0.4 * 1.56**2) ** 0.5, rel=1e-9)


@pytest.mark.parametrize("lots", [("L2231", "L2231"), ("L2232", "L2232"), ("L2231", "L2232")])
@pytest.mark.parametrize("second", ["150.6 g/m^2 ± 2.0 (k=2)", "150.0 g/m^2 ± 1.0 (k=2)"])
def test_leaving_the_lots_of_coupons_out_never_lowers_the_uncertainty(second, lots, shop):
    two_lots(shop)
    shop.change("batch.toml", "148.0 g/m^2 ± 2.0 (k=2)", second)
    shop.table(HEADING, *(f"{n},web,{lot},2.87" for n, lot in enumerate(lots, 1)))
    named = shop.json("measure", "batch.toml")["average"]["fiber_volume"]["standard_uncertainty"]
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87", "2,web,2.87")
    unnamed = shop.json("measure", "batch.toml")["average"]["fiber_volume"]["standard_uncertainty"]
    assert unnamed >= named


def test_a_coupon_that_names_its_lot_takes_that_lots_values(shop):
    two_lots(shop)
    shop.table(HEADING, "1,web,L2231,2.87", "2,web,L2232,2.87")
    first, second = shop.json("measure", "batch.toml")["specimens"]
    assert first["fiber_volume"]["value"] == volume(0.1506, 2.87e-3)
    assert second["fiber_volume"]["value"] == volume(0.1480, 2.87e-3)


def test_the_errors_of_two_certificates_are_two(shop):
    """Half of each: u = hypot(0.5/2, 1.0/2) g/m^2 of the mean areal weight, not their sum."""
    two_lots(shop)
    shop.table(HEADING, "1,web,L2231,2.87", "2,web,L2232,2.87")
    lines = {b["input"]: b for b in shop.json("measure", "batch.toml")["budget"]["fiber_volume"]}
    per = 100 * 20 / (1786.0 * 2.87e-3)
    found = {name: abs(line["standard_uncertainty"]) for name, line in lines.items()}
    assert found["ud150 areal weight, lot L2231"] == pytest.approx(per * 0.5e-3 / 2, rel=1e-9)
    assert found["ud150 areal weight, lot L2232"] == pytest.approx(per * 1.0e-3 / 2, rel=1e-9)
    assert "ud150 areal weight" not in found


def test_an_areal_weight_of_the_prepreg_loses_resin_and_volatiles(shop):
    shop.change("batch.toml", 'fiber_areal_weight = "150.6 g/m^2 ± 1.0 (k=2)"',
                'prepreg_areal_weight = "225.0 g/m^2 ± 1.0 (k=2)"')  # fmt: skip
    shop.table(HEADING, "1,web,L2231,2.87")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["fiber_volume"]["value"] == volume(0.225 * (1 - 0.331 - 0.004), 2.87e-3)


@pytest.mark.parametrize(("column", "plies"), [(",19", 19), (",", 20)])
def test_the_coupon_may_say_its_plies(column, plies, shop):
    shop.table(f"{HEADING},plies", f"1,web,L2231,2.87{column}")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert one["plies"] == plies
    assert one["fiber_volume"]["value"] == volume(0.1506, 2.87e-3, plies=plies)


def test_a_zone_of_fixed_plies_has_these(shop):
    shop.change("part.toml", f'{FILM}\nfill_with = "ud150"', 'stack = ["18 ud150", "1 film"]')
    shop.change("batch.toml", "plies = { web = 20, skin = 20 }", "plies = { skin = 20 }")
    shop.table(HEADING, "1,web,L2231,2.87")
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    assert (one["plies"], one["fiber_volume"]["value"]) == (18, volume(0.1506, 2.87e-3, plies=18))
    shop.table(f"{HEADING},plies", "1,web,L2231,2.87,19")
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert problem["found"] == "'19'"
    assert reads("measure: a zone of fixed plies has these", problem["expected"])


def test_the_thickness_of_a_film_is_no_ply(shop):
    shop.table(HEADING, "1,web,L2231,2.87", "2,skin,L2231,2.80")
    web, skin = shop.json("measure", "batch.toml")["specimens"]
    assert web["cured_ply_thickness"]["value"] == pytest.approx((2.87 - 0.05) / 20)
    assert skin["cured_ply_thickness"]["value"] == pytest.approx(2.80 / 20)


GLASS = """
[fiber.glass]
kind = "glass"
density = "2.54 g/cm^3 ± 0.02 (k=2)"

[prepreg.fabric]
fiber = "glass"
resin = "epoxy"
form = "woven"
fiber_areal_weight = "300 g/m^2"
resin_content = "40 %"
"""


def test_a_mixed_stack_has_the_harmonic_mean_of_its_fibers(shop):
    """16 plies of carbon and 4 of glass: sums of masses over sums of volumes."""
    shop.add("part.toml", GLASS)
    shop.change("part.toml", FILM, 'stack = ["4 fabric"]')
    shop.table("specimen,zone,density [g/cm^3],specimen mass [g],residue mass [g],method,thickness [mm]",
               "1,web,1.66,2,1.34,digestion,3.0")  # fmt: skip
    text = shop.read("batch.toml")
    start, end = text.index("[blank]"), text.index('[process."cure')
    shop.write("batch.toml", text[:start] + text[end:])
    (one,) = shop.json("measure", "batch.toml")["specimens"]
    mass, bulk = 16 * 0.1506 + 4 * 0.300, 16 * 0.1506 / 1786 + 4 * 0.300 / 2540
    fiber = mass / bulk
    assert one["fiber_volume"]["value"] == pytest.approx(100 * 0.67 * 1660 / fiber, rel=1e-9)
    voids = 1 - 1660 * (0.67 / fiber + 0.33 / 1220)
    assert one["void_content"]["value"] == pytest.approx(100 * voids, rel=1e-7)
    by_thickness = next(m for m in one["other_methods"] if m["method"] == "thickness and areal weight")
    assert by_thickness["value"] == pytest.approx(100 * bulk / 3.0e-3, rel=1e-9)


INSTRUMENTS = (
    '\n[instrument.fine]\nidentity = "BAL-07"\nrepeatability = "0.01 mg (standard)"\ndue = 2027-01-01\n'
)


def test_a_column_may_name_another_balance(shop):
    """The row's balance weighed in air; in the liquid only the column `liquid balance` names another.

    Seven decimals: the last of them adds nothing.
    """
    shop.add("batch.toml", INSTRUMENTS)
    shop.table(
        "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],balance,liquid balance",
        "1,web,2.0000000,0.7200000,23.000,fine,", "2,web,2.0000000,0.7200000,23.000,,fine",
        "3,web,2.0000000,0.7200000,23.000,,",
    )  # fmt: skip
    found = [s["density"]["standard_uncertainty"] for s in shop.json("measure", "batch.toml")["specimens"]]
    air, liquid = 0.72 / 1.28**2, 2.0 / 1.28**2  # of d(m_a/(m_a - m_i)), each in 1/g
    factor = 1 - (0.2 / 80) ** 2
    scale = (0.9975408 - 0.0012) / factor
    water = 2.0 / 1.28 / factor * 0.000237 * math.hypot(0.05, 0.2 / math.sqrt(3))  # g/cm^3 per K at 23 degC

    def by_hand(u_air, u_liquid, shared):
        return math.hypot(scale * air * u_air, scale * liquid * u_liquid, scale * shared, water)

    assert found[0] == pytest.approx(by_hand(1e-5, 1e-4, liquid * 1e-4), rel=5e-3)
    assert found[1] == pytest.approx(by_hand(1e-4, 1e-5, air * 1e-4), rel=5e-3)
    assert found[2] == pytest.approx(by_hand(1e-4, 1e-4, (liquid - air) * 1e-4), rel=5e-3)


@pytest.mark.parametrize(
    ("name", "found", "hint"),
    [
        ("fin", "'fin'", worded("measure: a balance that the batch file does not, 2")),
        ("micrometer", worded("measure: a balance that the batch file does not"), ""),
    ],
)
def test_a_balance_that_the_batch_file_does_not_have_is_refused(name, found, hint, shop):
    shop.add("batch.toml", INSTRUMENTS)
    shop.table("specimen,kind,zone,specimen mass [g],residue mass [g],method,balance",
               f"1,,web,2.0,1.36,digestion,{name}", "2,check standard,,,,,fine")  # fmt: skip
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["place"], problem["found"]) == ("row 2, column 'balance'", found)
    assert reads("measure: a balance that the batch file", problem["expected"])
    assert problem["hint"] == (hint or "known: balance, fine")


def test_a_balance_of_the_options_reads_whatever_the_column_says(shop):
    shop.table(
        "specimen,specimen mass [g],residue mass [g],method,balance", "1,2.0000,1.3600,digestion,BAL-02"
    )
    densities = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
    (one,) = shop.json("measure", "coupons.csv", *densities, "--balance", "0.1 mg (standard)")["specimens"]
    reading = math.hypot(1e-4, 1e-4 / math.sqrt(12))  # its scatter and its last decimal
    u = 100 * math.hypot(reading / 2, 0.68 * reading / 2)
    assert one["fiber_content"]["standard_uncertainty"] == pytest.approx(u, rel=1e-9)


@pytest.mark.parametrize("stated", ["0.05 mm", "0.20 mm"])
def test_a_film_that_counts_as_resin_leaves_the_plies_by_its_mass(shop, stated):
    """Formula 3: 60 g/m^2 over 1.22 g/cm^3 are 0.0492 mm of it, whatever the film had before."""
    part = shop.read("part.toml")
    start = part.index("[layer.film]")
    end = part.index("\n[", start)
    film = f'[layer.film]\nareal_weight = "60 g/m^2"\nthickness = "{stated}"\ncounts_as = "resin"\n'
    shop.write("part.toml", part[:start] + film + part[end:])
    specimen = shop.json("measure", "batch.toml")["specimens"][0]
    plies, thickness = specimen["plies"], specimen["thickness"]["value"]
    expected = (thickness - 0.060 / 1.22) / plies
    assert specimen["cured_ply_thickness"]["value"] == pytest.approx(expected, rel=1e-9)


def test_the_spread_of_a_shear_moves_what_areal_weight_gives(shop):
    """V_f = n m_f/(cos g rho_f h): its share is V_f tan g u(g), at 20 +- 5 deg 1.83 % of it."""
    shop.change("part.toml", 'shear = "0 deg"', 'shear = "20 deg ± 5 (tolerance)"')
    shop.table(HEADING, "1,web,L2231,3.05")
    answer = shop.json("measure", "batch.toml")
    lines = {line["input"]: line for line in answer["budget"]["fiber_volume"]}
    volume = answer["specimens"][0]["fiber_volume"]["value"]
    moved = volume * math.tan(math.radians(20.0)) * math.radians(5.0) / 3.0**0.5
    assert lines["web shear"]["standard_uncertainty"] == pytest.approx(moved, rel=1e-6)
