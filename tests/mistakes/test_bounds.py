"""What no laminate of the constituents can be, what is hardly one, and cells of a row that say two things."""

import math
import re

import pytest

from laminate.formulas.cavity import CLOSE_PACKED
from tests.messages.wording import reads, says

WEIGHED = "crucible mass [g],crucible with specimen [g],crucible with residue [g]"
CRUCIBLE = f"specimen,method,{WEIGHED},specimen mass [g],residue mass [g]"
AREA = "specimen,mass in air [g],area [cm^2],length [mm],width [mm]"
IN_CRUCIBLE = "1,digestion,20.1000,21.5425,21.0763"
DENSITIES = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")


def measure(shop, *lines, status=(0,), more=()):
    shop.table(*lines)
    return shop.json("measure", "coupons.csv", *DENSITIES, *more, status=status)


def refused(shop, *lines, more=()):
    return measure(shop, *lines, status=[2], more=more)["problems"]


def warned(shop, *lines, more=()):
    return [(w["code"], w["place"], w["found"]) for w in measure(shop, *lines, more=more)["warnings"]]


def test_thinner_than_its_fibers(shop):
    """20 plies of 150 g/m^2 at 1.79 g/cm^3 are 1.676 mm of fiber alone."""
    more = ("--fiber-areal-weight", "150 g/m^2")
    (problem,) = refused(shop, "specimen,plies,thickness [mm]", "1,20,0.287", more=more)
    assert problem["place"] == "row 2, column 'thickness'"
    assert reads("mistakes: more than its fibers", problem["expected"], least=f"{20 * 0.150 / 1.79:.4g} mm")
    assert says("mistakes: thinner than its fibers", problem["hint"])


@pytest.mark.parametrize(("thickness", "told"), [("1.70", True), ("2.87", False), ("17.0", True)])
def test_fiber_volumes_that_no_molding_has(thickness, told, shop):
    """Round fibers that all touch fill pi/sqrt(12) of a section."""
    assert math.isclose(CLOSE_PACKED, math.pi / (2 * math.sqrt(3)))
    found = warned(
        shop, "specimen,plies,thickness [mm]", f"1,20,{thickness}", more=("--fiber-areal-weight", "150 g/m^2")
    )
    assert [code for code, _, _ in found] == (["unlike-prediction"] if told else [])


def test_more_fiber_than_specimen(shop):
    """Corrected for a fiber loss of 5 %, hardly any matrix was lost: 1.4424/0.95/1.4425 is 105 %."""
    (problem,) = refused(
        shop, "specimen,method,specimen mass [g],residue mass [g]", "1,digestion,1.4425,1.4424",
        more=("--fiber-loss", "5 %"),
    )  # fmt: skip
    content = 100 * 1.4424 / 0.95 / 1.4425
    assert reads("mistakes: a fiber content from a mass", problem["found"], content=f"{content:.4g} %")


@pytest.mark.parametrize("kind", ["blank resin", "blank fiber"])
def test_a_blank_that_gains_mass(kind, shop):
    """Few digits are no excuse for a fifth too much."""
    problems = refused(
        shop, "specimen,kind,method,specimen mass [g],residue mass [g]", f"R1,{kind},digestion,1.0,1.2",
        "1,specimen,digestion,1.4425,0.9763",
    )  # fmt: skip
    assert [p["place"] for p in problems] == ["row 2, column 'residue mass'"]


def test_a_density_below_both_constituents(shop):
    told = warned(shop, "specimen,density [g/cm^3]", "1,1.05")
    assert told == [("unlike-prediction", "row 2, column 'density'", "density 1.05 g/cm^3")]
    assert warned(shop, "specimen,density [g/cm^3]", "1,1.55") == []


def test_a_crucible_that_drifts_though_its_last_zeros_are_not_written(shop):
    """20.1 and 20.4 stand beside 21.5425: the balance shows four places."""
    head = f"specimen,method,{WEIGHED},crucible again [g]"
    (told,) = warned(shop, head, "1,digestion,20.1,21.5425,21.0763,20.4")
    assert reads("mistakes: a crucible that drifts though its last", told[2])
    assert warned(shop, head, "1,digestion,20.1,21.5425,21.0763,20.1") == []


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ((CRUCIBLE, f"{IN_CRUCIBLE},1.4000,0.9763"), "specimen mass over that in the crucible"),
        ((CRUCIBLE, f"{IN_CRUCIBLE},1.4425,0.9000"), "residue mass over that in the crucible"),
        ((CRUCIBLE, f"{IN_CRUCIBLE},1.4425,0.9763"), ""),
        ((AREA, "1,2.7,6.08,40,20"), "area over length"),
        ((AREA, "1,3.5,8.01,40,20"), ""),
    ],
)  # fmt: skip
def test_what_a_row_says_twice_must_agree(lines, told, shop):
    found = [text for _, _, text in warned(shop, *lines)]
    assert len(found) == bool(told)
    assert all(text.startswith(told) for text in found)


NO_REASONS = (
    "no", "No", "x", "xxx", "yes", "0", "...", "12", ";", "tbc", "to do", "not yet", "k.A.", "J",
    "thickness: 2.87 mm",
    "2.872 mm", "2.872mm", "+ 1.4427 g", "N 1.4427 g", "22.8 degC", "1.4427", "2 %", "0.1131 in",
)  # fmt: skip


@pytest.mark.parametrize("word", NO_REASONS)
def test_a_word_that_is_no_reason_excludes_nothing(word, shop):
    (problem,) = refused(shop, "specimen,thickness [mm],excluded", f"1,2.95,{word}", "2,2.87,")
    assert problem["place"] == "row 2, column 'excluded'"
    assert reads("mistakes: a word that is no reason excludes", problem["expected"])


@pytest.mark.parametrize(
    "words",
    ["edge", "2.872 mm on a ridge", "2 cracks", "lost", "cracked: 3 mm", "Riß", "measured again, 2.872 mm"],
)
def test_words_beside_a_number_are_a_reason(words, shop):
    answer = measure(shop, "specimen,thickness [mm],excluded", f'1,2.95,"{words}"', "2,2.87,")
    assert [specimen["excluded"] for specimen in answer["specimens"]] == [words, None]


def test_plies_counted_alike_are_not_blamed_for_a_thickness(shop):
    rows = [f"{i},20,{t}" for i, t in enumerate(("2.87", "2.872", "2.869", "3.05"))]
    (told,) = warned(shop, "specimen,plies,thickness [mm]", *rows)
    assert told[1] == "row 5, column 'thickness'"


def test_extraction_says_how_volatiles_were_reckoned(shop):
    head = "specimen,lot,area [cm^2],prepreg mass [g],fiber mass [g]"
    answer = measure(shop, head.replace("lot,", ""), "1,100,2.252,1.50")
    assert answer["prepreg"][0]["resin_content"]["value"] == pytest.approx(100 * (2.252 - 1.5) / 2.252)
    assert any(says("mistakes: extraction says how volatiles were", note) for note in answer["notes"])
    shop.table(head, "1,L2231,100,2.252,1.50")
    answer = shop.json("measure", "batch.toml")
    assert answer["prepreg"][0]["resin_content"]["value"] == pytest.approx(
        100 * ((2.252 - 1.5) / 2.252 - 0.004)
    )
    assert any("0.4 % of volatiles" in note for note in answer["notes"])


def test_spaces_of_a_heading_may_be_missing(shop):
    answer = measure(
        shop, "specimen,massinair [g],mass_inliquid[g],liquidtemperature (degC)", "1,1.4427,0.5117,22.8"
    )
    assert answer["specimens"][0]["density"]["value"] == pytest.approx(1.545, abs=1e-3)


def test_a_backing_of_nothing_is_no_fault(shop):
    """One prepreg still has its film, the other has lost it."""
    head = "specimen,lot,area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
    shop.table(head, "P1,L2231,100,2.6533,0.4,1.5060", "P2,L2231,100,2.2610,0,1.5012")
    assert len(shop.json("measure", "batch.toml")["prepreg"]) == 2


def test_fiber_heavier_than_the_dried_prepreg(shop):
    head = "specimen,lot,area [cm^2],prepreg mass [g],fiber mass [g],dried mass [g]"
    shop.table(head, "P1,L2231,100,2.2610,2.2440,1.5060")
    found = {p["found"] for p in shop.json("measure", "batch.toml", status=[2])["problems"]}
    assert "'2.2440', not below dried mass '1.5060'" in found


def test_a_crucible_misread_is_seen_while_nothing_is_digested(shop):
    """No mass in air to hold it against: 2.41 g stands beside 1.44 and 1.46."""
    rows = ("1,digestion,21.4312,22.8737,", "2,digestion,20.9876,22.4483,", "3,digestion,20.1234,22.5375,")
    (told,) = warned(shop, f"specimen,method,{WEIGHED}", *rows)
    assert reads("mistakes: a crucible misread is seen while", told[2])
    assert told[1].startswith("row 4")


def test_one_crucible_has_one_mass(shop):
    head = f"specimen,method,crucible,{WEIGHED}"
    rows = ("1,digestion,C4,21.4312,22.8737,22.4076", "2,digestion,C4,20.9876,22.4483,21.9760")
    (told,) = warned(shop, head, *rows)
    assert told[2] == "crucible 'C4' at '20.9876', at '21.4312' with '1'"


def test_milligrams_under_grams_in_a_whole_column(shop):
    """The crucibles show 1.44 g: a thousand times less."""
    head = f"specimen,method,mass in air [g],{WEIGHED}"
    rows = [
        f"{i},digestion,{m},20.1000,{20.1 + m / 1000 - 0.0002:.4f},"
        for i, m in enumerate((1442.7, 1460.9, 1414.3))
    ]
    shop.table(head, *rows)
    found = shop.json("measure", "coupons.csv", *DENSITIES)["warnings"]
    assert len(found) == 3
    for warning in found:
        assert warning["place"].endswith("column 'mass in air'")
        assert "1000" in warning["hint"] or says(
            "mistakes: milligrams under grams in a whole", warning["hint"]
        )


def test_of_two_areas_the_certificate_decides(shop):
    head = "specimen,lot,area [cm^2],prepreg mass [g],fiber mass [g]"
    shop.table(head, "P1,L2231,10.0,2.2520,1.5060", "P2,L2231,100,2.2531,1.5069")
    places = {w["place"] for w in shop.json("measure", "batch.toml")["warnings"]}
    assert places == {"row 2, column 'area'"}


def test_of_two_blanks_the_one_that_blanks_give_is_right(shop):
    head = "specimen,kind,method,specimen mass [g],residue mass [g]"
    rows = ("R1,blank resin,digestion,1.0000,0.9002", "R2,blank resin,digestion,1.0000,0.0020")
    shop.table(head, *rows, "1,specimen,digestion,1.4425,0.9763")
    told = [
        w["place"]
        for w in shop.json("measure", "coupons.csv", *DENSITIES)["warnings"]
        if "blank" in w["code"]
    ]
    assert told == ["row 2, column 'specimen'"]


@pytest.mark.parametrize(("one", "other"), [("0.9763", "0.9884"), ("0.9763", "0.9573"), ("0.5117", "0.5192")])
def test_readings_that_two_specimens_have_exchanged(one, other, shop):
    """Each alone is plausible; put back, the zone scatters many times less."""
    text = shop.read("coupons.csv")
    head = text.splitlines()[0]
    shop.write("coupons.csv", text.replace(one, "*").replace(other, one).replace("*", other))
    column = "residue mass" if one.startswith("0.9") else "mass in liquid"
    found = shop.json("measure", "batch.toml")["warnings"]
    assert column in head
    assert len(found) == 2
    assert all(w["place"].endswith(f"column '{column}'") for w in found)
    assert all(
        "swapped" in w["code"] or says("mistakes: readings that two specimens", w["hint"]) for w in found
    )


@pytest.mark.parametrize("warm", ["0101", "0102", "0103"])
def test_a_doubt_about_a_temperature_hides_no_exchange(warm, shop):
    """The wet masses of two coupons exchanged, and a point moved in the temperature of one of three."""
    text = shop.read("coupons.csv").replace("0.5117", "*").replace("0.5192", "0.5117").replace("*", "0.5192")
    lines = [
        re.sub(r"\b22\.(\d)\b", r"2.2\1", line) if line.startswith(warm) else line
        for line in text.splitlines()
    ]
    shop.write("coupons.csv", "\n".join(lines) + "\n")
    warnings = shop.json("measure", "batch.toml")["warnings"]
    exchanged = {w["place"].partition(",")[0] for w in warnings if w["code"] == "swapped-cells"}
    assert exchanged == {"row 2", "row 3"}
    (of_temperature,) = [w for w in warnings if w["code"] != "swapped-cells"]
    assert of_temperature["place"].endswith("column 'liquid temperature'")


def test_a_doubt_about_a_temperature_hides_no_other_reading(shop):
    """Two digits of a wet mass swapped beside a temperature whose point moved: both are read again."""
    text = shop.read("coupons.csv").replace("0.5032,22.9", "0.5302,2.29")
    assert "0.5302,2.29" in text
    shop.write("coupons.csv", text)
    warnings = shop.json("measure", "batch.toml")["warnings"]
    places = {w["place"] for w in warnings}
    assert places == {"row 4, column 'liquid temperature'", "row 4, column 'mass in liquid'"}
    shop.write("coupons.csv", text.replace("0.5302", "0.5032"))
    warnings = shop.json("measure", "batch.toml")["warnings"]
    assert [w["place"] for w in warnings] == ["row 4, column 'liquid temperature'"]


def test_an_exchange_that_the_row_itself_refutes_is_not_proposed(shop):
    """Voids of 3.2 to 4.8 %: with the masses in air exchanged the densities would be alike, and neither row's
    specimen mass would be that of its mass in air any more: 1.4127 g beside 1.3883 g."""
    head = "specimen,plies,mass in air [g],mass in liquid [g],liquid temperature [degC],method"
    rows = (
        "C1,20,1.6107,0.5382,20.4,digestion,1.6102,1.0991",
        "C2,20,1.4131,0.4640,20.8,digestion,1.4127,0.9702",
        "C3,20,1.3883,0.4706,20.6,digestion,1.3882,0.9528",
    )
    shop.table(f"{head},specimen mass [g],residue mass [g]", *rows)
    assert shop.json("measure", "coupons.csv", *DENSITIES)["warnings"] == []
    shop.table(head, *(row.rpartition(",")[0].rpartition(",")[0].replace("digestion", "") for row in rows))
    alone = shop.json("measure", "coupons.csv", *DENSITIES)["warnings"]
    assert [w["code"] for w in alone] == ["swapped-cells", "swapped-cells"]


@pytest.mark.parametrize(
    ("voids", "asked"),
    [((0.012, 0.018, 0.034), 0), ((0.001, 0.002, 0.022), 1), ((0.018, 0.019, 0.09), 1)],
)
def test_a_porous_laminate_scatters_more(voids, asked, shop):
    """Voids scatter by a share of themselves: two points more than another are many where there are none."""
    bare, rows = 1.0 / (0.6768 / 1.79 + 0.3232 / 1.22), []
    for name, share in enumerate(voids):
        air, liquid = (0.95 * (bare * (1.0 - share) - fluid) for fluid in (0.0012, 0.9976))
        rows.append(f"{name},{air:.4f},{liquid:.4f},22.8,digestion,{air:.4f},{0.6768 * air:.4f}")
    head = "specimen,mass in air [g],mass in liquid [g],liquid temperature [degC],method"
    shop.table(f"{head},specimen mass [g],residue mass [g]", *rows)
    places = {w["place"] for w in shop.json("measure", "coupons.csv", *DENSITIES)["warnings"]}
    last = f"row {len(voids) + 1}, column 'mass in liquid'"
    assert places == ({last} if asked else set())
