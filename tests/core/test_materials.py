"""What is said of a core by what it is made of: hard or rubber, and inputs that its material cannot have."""

import pytest

from laminate.press.cores import core
from laminate.show import core_json
from laminate.show.core_words import core_blocks
from laminate.values.problems import Refused
from tests.messages.wording import says


def said(found, units="metric"):
    return "\n".join(block.text for block in core_blocks(found, units) if hasattr(block, "text"))


def aluminium(raw):
    made = raw["core"]["fore"]
    made.update(material="aluminium 6061", held="no", width="32.6 mm ± 0.03 (tolerance)")
    del made["expansion"]


def test_a_metal_core_has_none_of_the_cautions_of_rubber(part):
    text = said(core(part(aluminium), draws=1000))
    for word in ("ilicone", "PTFE", "dummy of", "cure shrinkage", "cast temperature", "fume", "screening"):
        assert word not in text
    assert says("core: a metal core has none of the cautions", text)
    assert says("core: a metal core has none of the cautions, 2", text)
    assert "Hot tooling" in text
    assert "authorized staff" in text


@pytest.mark.parametrize(
    ("material", "word"), [("PTFE", "PTFE: ventilate"), ("silicone rubber", "Silicone rubber: ventilate")]
)
def test_fume_is_named_of_the_material_at_hand(part, material, word):
    def made_of(raw):
        raw["core"]["fore"].update(material=material, held="no", width="32 mm", expansion="150e-6 /K")

    text = said(core(part(made_of), draws=1000))
    assert word in text
    assert text.count("fume limits") == 1


def test_contact_cold_crushes_only_where_the_tool_is_shut_cold(part):
    def cold(raw):
        aluminium(raw)
        raw["tool"]["closes"] = "cold"

    hot, shut = (said(core(part(edit), draws=1000, plies={"skin": 21})) for edit in (aluminium, cold))
    assert says("core: contact cold crushes only", hot)
    assert "without crushing" not in hot
    assert says("core: contact cold crushes only, 2", shut)


def test_a_core_full_at_every_temperature_has_no_absurd_one(part):
    found = core(part(aluminium), draws=1000, plies={"skin": 21})
    assert says("core: a core full at every temperature", said(found))
    assert " -" not in said(found).split("\n")[0]
    json = core_json.ANSWER.json(found)["cores"][0]["liquid_full_temperature"]
    assert json["value"] < 0.0  # the equation's answer stays for programs


def test_a_core_that_touches_beyond_the_cycle_is_said_so(part):
    def narrow(raw):
        raw["core"]["fore"].update(width="29.7 mm ± 0.03 (tolerance)")

    found = core(part(narrow), draws=1000, plies={"skin": 20})
    top = found.cores[0]
    assert top.governing.contact.value > top.highest_temperature
    first = "\n".join(said(found).split("\n")[:2])
    assert says("core: a core that touches beyond the cycle", first)
    assert says("core: a core that touches beyond the cycle, 2", first)


@pytest.mark.parametrize("modulus", ["850 GPa", "9 GPa", "20 MPa"])
def test_a_modulus_that_no_rubber_has_is_named(part, modulus):
    def wrong(raw):
        raw["core"]["fore"]["bulk_modulus"] = modulus

    if modulus == "850 GPa":  # harder than diamond, about 440 GPa
        with pytest.raises(Refused, match=r"'850 GPa'.* 0\.1 MPa to 500 GPa"):
            part(wrong)
        return
    found = core(part(wrong), draws=1000)
    expected = (
        f"fore: a bulk modulus of {modulus} is not that of rubber: silicone rubber has about 0.6 to 1.2 GPa"
    )
    assert expected in said(found)
    assert any(line.startswith(expected) for line in core_json.ANSWER.json(found)["cores"][0]["cautions"])


def test_the_modulus_of_the_example_is_that_of_rubber(part):
    assert "is not that of rubber" not in said(core(part(), draws=1000))


def test_a_nameless_core_that_grows_like_metal_is_named(part):
    def nameless(raw):
        raw["core"]["fore"].update(expansion="23.6e-6 /K", width="32.4 mm", held="no")
        del raw["core"]["fore"]["material"]

    assert says("core: a nameless core that grows like metal", said(core(part(nameless), draws=1000)))


def test_a_core_held_on_its_sides_moves_by_more_than_its_free_growth(part):
    """(1 + 265e-6 95)^3 / (1 + 23.6e-6 97)^2 - 1 is 7.25 %, of 30.64 mm 2.22 mm; free 0.771 mm."""
    found = core(part(), draws=1000)
    growth = (1 + 265e-6 * 95) ** 3 / (1 + 23.6e-6 * 97) ** 2 - 1
    assert found.cores[0].movement.value == pytest.approx(30.64e-3 * growth, rel=1e-12)
    assert says("core: a core held on its sides moves by more", said(found))


def test_a_pressure_that_the_clamp_does_not_hold_is_marked_in_the_table(part):
    def weak(raw):
        raw["tool"]["clamp_force"] = "300 kN"

    grid = next(b for b in core_blocks(core(part(weak), draws=1000), "metric") if hasattr(b, "rows"))
    rows = {row[0]: row for row in grid.rows}
    assert (rows["no bleed"][1], rows["no bleed"][3]) == ("4.1", "11.9, opens")  # the clamp holds 7.1 MPa
    assert rows["locked maximum"][3] == "23.2, opens"
    assert "±" not in " ".join(cell for row in grid.rows for cell in row)


def test_us_units_count_a_degree_in_fahrenheit(part):
    found = core(part(), draws=1000)
    slope = found.cores[0].governing.locked_per_kelvin / 6894.757 / 1.8
    assert says("core: a slope in US units", said(found, "us"), slope=f"{slope:.0f} psi")


def test_a_core_that_never_closes_the_gap_does_not_press(part):
    def small(raw):
        raw["core"]["fore"].update(width="28 mm ± 0.03 (tolerance)")

    text = said(core(part(small), draws=1000, plies={"skin": 20}))
    assert says("core: a core that never closes the gap", text)
    assert "Nominal pressure 0.00" not in text
    assert "it gains 0.00" not in text
