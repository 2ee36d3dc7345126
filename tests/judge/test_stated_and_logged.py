"""Where a typed value contradicts its log, and which statements a certificate's figure rests on."""

from types import SimpleNamespace as Table

import pytest

from laminate.judging.logged import contradicted
from laminate.judging.stated import of_certificates, of_constant
from laminate.values.input_key import Key
from laminate.values.units import SIValue

KEYS = ("fiber_areal_weight", "prepreg_areal_weight", "resin_content")


def contradictions(apart, *, zone="", text="126.85 degC", logged="cure temperature", u=4.0):
    """Typed with u = 3 K and logged with u = 4 K: 5 K together (JCGM 100:2008, 5.1.2)."""
    typed = Table(value=SIValue(400.0, 3.0, text=text), zone=zone)
    case = Table(name="batch.toml", batch=Table(process={"cure temperature": typed}))
    cycles = {"web": Table(readings={logged: Table(value=400.0 + apart, u=u)})}
    return [held.name for held in contradicted(case, cycles)]


@pytest.mark.parametrize("apart", [9.9, -9.9, 10.1, -10.1])
def test_a_typed_value_contradicts_its_log_from_two_u_on(apart):
    assert contradictions(apart) == (["cure temperature"] if abs(apart) > 10.0 else [])


def test_a_log_without_an_uncertainty_adds_none():
    assert [bool(contradictions(apart, u=None)) for apart in (5.9, 6.1)] == [False, True]


def test_only_the_log_of_its_zone_and_a_reading_of_its_kind_contradict():
    assert contradictions(50.0, zone="web") == ["cure temperature"]
    assert contradictions(50.0, zone="skin") == []
    assert contradictions(50.0, text="400 s") == []
    assert contradictions(50.0, logged="peak temperature") == []


def lot(number, prepreg="ud", **told):
    return Table(number=number, called=f"lot {number}", prepreg=prepreg, **{**dict.fromkeys(KEYS), **told})


def resting(attribute, held="lot L2", prepreg="ud"):
    """Places of the statements, for a figure of the second lot of two."""
    value = SIValue(0.33, 0.01)
    direct = lot("L2", fiber_areal_weight=value, prepreg_areal_weight=value, resin_content=value)
    derived = lot("L3", prepreg_areal_weight=value, resin_content=value)
    lots = [lot("L2", "fabric", resin_content=value), direct, derived]
    case = Table(name="batch.toml", batch=Table(lot=lots))
    rule = Table(prepreg=prepreg, attribute=attribute)
    return [stated.place for stated in of_certificates(case, [Table(rule=rule, lot=held)])]


def test_a_certificate_states_its_figure_or_what_it_follows_from():
    assert resting("areal_weight") == ["lot[2] fiber_areal_weight"]
    assert resting("resin_content") == ["lot[2] resin_content"]
    assert resting("areal_weight", "lot L3") == ["lot[3] prepreg_areal_weight", "lot[3] resin_content"]


def test_a_figure_that_no_certificate_gives_rests_on_none():
    assert resting("areal_weight", "") == []
    assert resting("areal_weight", prepreg=None) == []
    assert resting("areal_weight", "lot L4") == []


def constant(quantity, written, *, table="prepreg", name="ud"):
    """Places where a constant of a coupon is stated, by the lot that its row names."""
    value = SIValue(0.33, 0.01)
    lots = [lot("L1", "fabric"), *(lot(number, resin_content=value) for number in ("L2", "L3"))]
    part = Table(
        prepreg={"ud": lot("ud", resin_content=value, fiber_areal_weight=value)},
        fiber={"carbon": Table(density=value)},
    )
    batch = Table(lot=lots, batch=Table(part="part.toml"), fiber={})
    case = Table(name="batch.toml", batch=batch, part=part)
    evidence = Table(specimen=Table(coupon=Table(word=lambda column: written if column == "lot" else "")))
    return [stated.place for stated in of_constant(case, Key(table, name, quantity), evidence)]


def test_a_constant_of_a_coupon_is_stated_by_its_lot_by_every_lot_or_by_the_part():
    assert constant("resin_content", "L3") == ["lot[3] resin_content"]
    assert constant("resin_content", "") == ["lot[2] resin_content", "lot[3] resin_content"]
    assert constant("areal_weight", "L3") == ["[prepreg.ud] fiber_areal_weight"]


def test_only_the_density_of_a_fiber_is_stated_in_its_table():
    assert constant("density", "", table="fiber", name="carbon") == ["[fiber.carbon] density"]
    assert constant("diameter", "", table="fiber", name="carbon") == []
