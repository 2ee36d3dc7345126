"""What a caller gives for a quantity, a spread or a reading, and what an answer keeps of it."""

import pandas as pd
import pint
import pytest
from uncertainties import ufloat

import laminate as lam
from laminate.front.measuring import UNWRITTEN

from .test_front import KAW, PLY

DENSITIES = {"fiber_density": "2.5 g/cm^3", "resin_density": "1.2 g/cm^3"}


def test_a_figure_keeps_the_degrees_of_freedom_of_its_inputs():
    """All of its ± from one input of three readings: 2 degrees, Student's t 4.303 (JCGM 100, table G.2)."""
    p = lam.predict(**{**PLY, "fiber_density": lam.Value(1.79, "g/cm^3", 0.01, 2)})
    assert p.fiber_volume.dof == pytest.approx(2.0)
    assert p.to_dict()["fiber_volume"]["effective_degrees_of_freedom"] == pytest.approx(2.0)
    assert "effective_degrees_of_freedom" not in p.to_dict()["fiber_content"]  # stated without ±
    edge = p.fiber_volume.value + 4.303 * p.fiber_volume.u
    assert lam.judge(p.fiber_volume, max=f"{edge + 0.01} %").decision == "conforms"
    assert lam.judge(p.fiber_volume, max=f"{edge - 0.01} %").decision == "undecided"


def test_a_share_of_masses_is_a_percentage_and_an_angle_is_none():
    registry = pint.UnitRegistry()
    shares = [registry.Quantity(ufloat(350, 5), "g/kg"), "35 % ± 0.5 (standard)"]
    found, plain = (lam.predict(**{**PLY, "resin_content": share}).fiber_volume for share in shares)
    assert (found.value, found.u) == pytest.approx((plain.value, plain.u), rel=1e-12)
    for unit in ("rad", "mrad", "m/m"):
        with pytest.raises(lam.Refused) as refusal:
            lam.predict(**{**PLY, "resin_content": registry.Quantity(0.35, unit)})
        assert {problem.place for problem in refusal.value.problems} == {"resin_content"}


@pytest.mark.parametrize("text", ["1.79 g/cm^3 ± 0.01", "20 mm ± 1", "33 % ± 1", "20 mm ± 1 (foo)"])
def test_what_is_wrong_behind_the_sign_is_not_blamed_on_the_unit(text):
    for call in (lambda: lam.Value.parse(text), lambda: lam.judge(text, max=text.split(" ±")[0])):
        with pytest.raises(lam.Refused) as refusal:
            call()
        (problem,) = refusal.value.problems
        assert "(standard)" in problem.sentence()
        assert "unknown unit" not in problem.sentence()


def test_a_misspelled_heading_is_told_once():
    rows = pd.DataFrame(KAW).rename(columns={"mass in air [g]": "mas in air [g]"})
    with pytest.raises(lam.Refused) as refusal:
        lam.measure(rows, **DENSITIES)
    assert [problem.code for problem in refusal.value.problems] == ["unknown-column"]


@pytest.mark.parametrize("wrong", [0, 1])
def test_of_two_repeats_without_digits_the_one_unlike_its_peers_is_named(wrong):
    """A float has no digits of which one may be wrong."""
    columns = ["thickness 1 [mm]", "thickness 2 [mm]"]
    rows = pd.DataFrame({"specimen": [f"s{i}" for i in range(60)], **dict.fromkeys(columns, 2.868)})
    for column in columns:
        rows[column] += [0.001 * ((7 * i + len(column)) % 5 - 2) for i in range(60)]
    rows.loc[4, columns[wrong]] = 2.688
    given = {"plies": 20, "fiber_areal_weight": "150 g/m^2", **DENSITIES}
    told = lam.measure(rows, **given).to_dict()["warnings"]
    assert {warning["place"] for warning in told} == {f"row 4, column 'thickness {wrong + 1}'"}


def test_floats_tell_no_digits():
    """A computed mass has sixteen of them, as a number or as text, which says nothing of what was read."""
    rows = pd.DataFrame(
        {
            "specimen": ["1", "2", "3", "4", "5"],
            "mass in air [g]": [3.697, 3.702, 3.7110000000000003, 3.695, 3.704],
            "mass in liquid [g]": [1.636, 1.639, 1.642, 1.635, 1.639],
            "liquid temperature [degC]": ["22.1"] * 5,
        },
        index=pd.Index(list("vwxyz"), name="tray"),
    )
    given = {"fiber_density": "2.5 g/cm^3", "resin_density": "1.2 g/cm^3"}
    m = lam.measure(rows, **given)
    assert m.to_dict()["specimens"][2]["warnings"] == []
    assert UNWRITTEN.split(":")[0] in repr(m)
    assert m.to_frame().index.equals(rows.index)
    typed = lam.measure(rows.astype(str), **given)
    assert typed.to_dict()["specimens"][2]["warnings"] == []
    longer = rows.astype(str).replace("3.7110000000000003", "3.71102")
    asked = lam.measure(longer, **given).to_dict()["specimens"][2]["warnings"]
    assert [w["code"] for w in asked] == ["digits-unlike"]
    assert UNWRITTEN.split(":")[0] not in repr(typed)
    again = pd.concat([rows, rows.iloc[2:3].assign(**{"mass in air [g]": 3.7})])
    with pytest.raises(lam.Refused) as refusal:
        lam.measure(again, **given)
    (problem,) = refusal.value.problems
    assert problem.code == "given-twice"
    assert ("iloc[5]" in problem.place, "iloc[2]" in problem.found) == (True, True)
    assert problem.place.startswith("row x ")


def test_a_confidence_is_a_number_or_a_percentage():
    frame, given = pd.DataFrame(KAW), {"fiber_density": "2.5 g/cm^3", "resin_density": "1.2 g/cm^3"}
    wide = [lam.measure(frame, **given, confidence=c).to_dict() for c in (0.99, "99 %")]
    assert wide[0] == wide[1]
    with pytest.raises(lam.Refused):
        lam.measure(frame, **given, confidence=99)


def test_nothing_needs_no_unit():
    assert lam.predict(**PLY, void_content=0).to_dict() == lam.predict(**PLY, void_content="0 %").to_dict()
    fill = [lam.fill(**PLY, gap="2.9 mm", bleed_limit=none, draws=1000).to_dict() for none in (0, "0 %")]
    assert fill[0] == fill[1]
    for wrong in ({**PLY, "fiber_density": 0}, {**PLY, "void_content": 1}, {**PLY, "void_content": False}):
        with pytest.raises(lam.Refused):
            lam.predict(**wrong)


@pytest.mark.parametrize(
    "balance", [lam.Value(0, "mg", 0.2), (ufloat(0, 0.2), "mg"), "0 mg ± 0.2 (standard)"]
)
def test_a_spread_is_text_or_nothing_give_or_take(balance):
    frame = pd.DataFrame(KAW)
    wanted = lam.measure(frame, **DENSITIES, balance="0.2 mg (standard)").to_dict()["average"]
    assert lam.measure(frame, **DENSITIES, balance=balance).to_dict()["average"] == wanted
    exact = lam.measure(frame, **DENSITIES, balance="0 mg (exact)").to_dict()["average"]
    assert lam.measure(frame, **DENSITIES, balance=0).to_dict()["average"] == exact
    with pytest.raises(lam.Refused):
        lam.measure(frame, **DENSITIES, balance=lam.Value(0.2, "mg"))


def test_a_measured_figure_is_a_value_too():
    m = lam.measure(pd.DataFrame(KAW), **DENSITIES, balance="2 mg (standard)")
    content = m["A"].resin_content
    assert content.to("ppm").value == pytest.approx(1e4 * content.value)
    assert content.si == pytest.approx(content.value / 100)
    assert (content.ufloat.n, content.ufloat.s) == (content.value, content.u)
    p = lam.predict(**{**PLY, "resin_content": content})
    assert (p.resin_content.value, p.resin_content.u) == pytest.approx((content.value, content.u))
    assert "A" in m.specimens
    assert "C" not in m.specimens
    with pytest.raises(AttributeError, match="A, B"):
        m["C"]


def test_plies_scatter_independently_of_each_other():
    """Sixteen plies that scatter by 2 % each: their thickness scatters by 2 %/4 (arithmetic)."""
    part = {
        "format": 1,
        "part": {"number": "1", "issue": "A"},
        "temperature": {"room": "23 degC", "gel": "120 degC"},
        "fiber": {"f": {"kind": "carbon", "density": "1.8 g/cm^3 (exact)"}},
        "resin": {"r": {"density": "1.2 g/cm^3 (exact)"}},
        "zone": {"z": {"gap": "3 mm (exact)", "fill_with": "p"}},
    }
    prepreg = {"fiber": "f", "resin": "r", "fiber_areal_weight": "150 g/m^2", "resin_content": "35 %"}
    shares = []
    for scatter in ("2 % (standard)", "0 % (standard)"):
        part["prepreg"] = {"p": prepreg | {"ply_scatter": scatter}}
        thickness = lam.predict(part, plies={"z": 16}).thickness
        shares.append((thickness.u or 0.0) / thickness.value)
    assert shares == [pytest.approx(0.005, rel=1e-9), 0.0]


@pytest.mark.parametrize("coupons", [1, 2])
def test_two_methods_without_any_spread_are_both_given(coupons):
    """Floats tell no last decimal, and nothing else has a ±: by thickness 20 (0.15/1.79)/2.8 = 59.86 %."""
    readings = {
        "mass in air [g]": 3.697,
        "mass in liquid [g]": 1.36,
        "liquid density [g/cm^3]": 1.0,
        "method": "digestion",
        "residue mass [g]": 2.4,
        "thickness [mm]": 2.8,
        "plies": 20,
    }
    table = pd.DataFrame([{"specimen": name, **readings} for name in "AB"[:coupons]])
    stated = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.30 g/cm^3"}
    m = lam.measure(table, **stated, fiber_areal_weight="150 g/m^2")
    row = m.to_dict()["specimens"][0]
    other = next(one for one in row["other_methods"] if one["attribute"] == "fiber_volume")
    assert row["fiber_volume"]["value"] == pytest.approx(100 * 2.4 / 3.697 * row["density"]["value"] / 1.79)
    assert other["value"] == pytest.approx(100 * 20 * 0.015 / 1.79 / 0.28)
    assert (row["fiber_volume"]["standard_uncertainty"], other["standard_uncertainty"]) == (None, None)
