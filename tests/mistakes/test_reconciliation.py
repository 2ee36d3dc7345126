"""Methods that disagree: what would reconcile them, and the least-squares adjustment; by GTC and by hand."""

import math

import GTC
import numpy as np
import pytest

from laminate.coupons.adjustment import adjust
from laminate.coupons.evaluation import Made, measure
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.recipes import of_options
from laminate.files.coupons import Coupon, Coupons
from laminate.values.units import parse, parse_spread
from tests.messages.wording import says

FIBER, RESIN, AREAL, PLIES = (1790.0, 5.0), (1220.0, 5.0), (0.1500, 0.0010), 20
SPREADS = {"density": 2.0, "specimen mass": 1e-7, "residue mass": 2e-7, "thickness": 3e-6}


def gauges():
    of = {"density": "2 kg/m^3", "specimen mass": "0.1 mg", "residue mass": "0.2 mg", "thickness": "3 um"}
    kinds = {"density": "density", "thickness": "length"}
    return {
        name: Gauge(name, parse_spread(f"{text} (standard)", kinds.get(name, "mass")))
        for name, text in of.items()
    }


def coupon(name, density, residue, thickness, **words):
    """Specimen of 2 g; density [g/cm^3], residue [g], thickness [mm]."""
    numbers = {
        "density": 1e3 * density, "specimen mass": 2e-3, "residue mass": 1e-3 * residue,
        "thickness": 1e-3 * thickness,
    }  # fmt: skip
    texts = {
        "density": f"{density:.4f}", "specimen mass": "2.0000", "residue mass": f"{residue:.4f}",
        "thickness": f"{thickness:.3f}",
    }  # fmt: skip
    places = {label: f"row {name}, column '{label}'" for label in numbers}
    return Coupon(name, "c.csv", numbers, places, texts, {"method": "digestion", **words})


def measured(*coupons, areal="150.0 g/m^2 ± 1.0 (standard)"):
    recipe = of_options(
        parse("1.790 g/cm^3 ± 0.005 (standard)", "density"),
        parse("1.220 g/cm^3 ± 0.005 (standard)", "density"),
        parse(areal, "areal_weight"),
    )(PLIES)
    return measure(Coupons(coupons, ()), Bench(gauges()), lambda c: Made(None, recipe))


def adjusted(result):
    return adjust(result.specimens, result.bench, result.whole.rows)


def in_gtc(coupons):
    """Fiber volume both ways of every coupon as uncertain numbers of GTC, and the shared inputs."""
    fiber, areal = (
        GTC.ureal(*pair, label=label) for pair, label in ((FIBER, "fiber"), (AREAL, "areal weight"))
    )
    pairs = []
    for one in coupons:
        own = {name: GTC.ureal(one.numbers[name], SPREADS[name]) for name in SPREADS}
        digested = own["residue mass"] / own["specimen mass"] * own["density"] / fiber
        pairs.append((digested, PLIES * areal / (fiber * own["thickness"])))
    return pairs, fiber, areal


COUPONS = [
    coupon("1", 1.5450, 1.3400, 2.880),
    coupon("2", 1.5430, 1.3420, 2.872),
    coupon("3", 1.5460, 1.3380, 2.886),
]


def test_the_uncertainty_of_a_difference_is_that_of_a_reference_library():
    specimens = measured(*COUPONS).specimens
    pairs, _, _ = in_gtc(COUPONS)
    for specimen, (digested, by_thickness) in zip(specimens, pairs, strict=True):
        difference = digested - by_thickness
        volume = next(a for a in specimen.agreement if a.attribute == "fiber_volume")
        assert volume.difference == pytest.approx(difference.x, rel=1e-12)
        assert volume.allowed == pytest.approx(1.9599639845 * difference.u, rel=1e-9)
        # the fiber density moves both alike: taken as independent they would be held to a wider difference
        assert math.hypot(digested.u, by_thickness.u) > 1.02 * difference.u


def test_the_adjustment_is_the_conditional_mean_that_a_reference_library_gives():
    """Shared inputs given that both ways agree: ``x - C_xd C_dd^-1 d``, covariances from GTC."""
    adjustment = adjusted(measured(*COUPONS))
    pairs, fiber, areal = in_gtc(COUPONS)
    differences = [digested - by_thickness for digested, by_thickness in pairs]
    d = np.array([one.x for one in differences])
    between = np.array([[GTC.get_covariance(a, b) for b in differences] for a in differences])
    assert adjustment.conditions == adjustment.degrees_of_freedom == 3
    assert adjustment.no_voids == 0
    assert adjustment.chi_squared == pytest.approx(d @ np.linalg.solve(between, d), rel=1e-6)
    by_name = {one.input: one for one in adjustment.inputs}
    for name, number in (("fiber density", fiber), ("fiber areal weight", areal)):
        shared = np.array([GTC.get_covariance(number, one) for one in differences])
        gain = np.linalg.solve(between, shared)
        assert by_name[name].adjusted == pytest.approx(number.x - gain @ d, rel=1e-9)
        assert by_name[name].adjusted_u == pytest.approx(math.sqrt(number.v - gain @ shared), rel=1e-6)
        assert by_name[name].shift_in_u == pytest.approx(-(gain @ d) / number.u, rel=1e-6, abs=1e-9)
    assert by_name["resin density"].shift_in_u == 0.0


def test_the_chance_of_more_is_that_of_chi_squared():
    """Two degrees of freedom: the chance of more than q is exp(-q/2)."""
    adjustment = adjusted(measured(*COUPONS[:2]))
    assert adjustment.degrees_of_freedom == 2
    assert adjustment.p == pytest.approx(math.exp(-adjustment.chi_squared / 2), rel=1e-12)


def test_the_suspects_come_in_the_order_of_what_they_must_move():
    """Residue 3 % too high: by hand each input alone, to first order, in its own standard uncertainties."""
    off = coupon("1", 1.5600, 1.3900, 2.850)
    found = next(d for d in measured(off).discrepancies if d.attribute == "fiber_volume")
    digested, thick = 0.695 * 1560.0 / 1790.0, 3.0 / (1790.0 * 2.85e-3)
    slopes = {
        "fiber areal weight": (-thick / 0.15, AREAL[1]),
        "fiber density": (-(digested - thick) / 1790.0, FIBER[1]),
        "density": (digested / 1560.0, 2.0),
        "thickness": (thick / 2.85e-3, 3e-6),
        "residue mass": (digested / 1.39e-3, 2e-7),
        "specimen mass": (-digested / 2e-3, 1e-7),
    }
    assert found.difference == pytest.approx(digested - thick, rel=1e-12)
    sizes = {name: -found.difference / (slope * u) for name, (slope, u) in slopes.items()}
    with_u = [s for s in found.suspects if s.standard_uncertainties is not None]
    assert {s.input: s.standard_uncertainties for s in with_u} == pytest.approx(sizes, rel=1e-9)
    assert [s.input for s in with_u] == sorted(sizes, key=lambda name: abs(sizes[name]))


def test_a_suspect_in_words():
    """Void content -1.6 %: the fiber density alone would have to be lower or higher by a readable step."""
    low = coupon("1", 1.5900, 1.3400, 2.850)
    found = next(d for d in measured(low).discrepancies if len(d.methods) == 1)
    w, rho = 0.67, 1590.0
    voids = 1 - rho * (w / 1790.0 + (1 - w) / 1220.0)
    assert found.difference == pytest.approx(voids, rel=1e-9)
    shift = -voids / (rho * (1 - w) / 1220.0**2)
    first = found.suspects[0]
    assert first.input == "resin density"
    assert first.shift == pytest.approx(shift, rel=1e-9)
    assert first.sentence() == f"resin density 1.220 -> {(1220 + shift) / 1000:.3f} g/cm^3, {shift / 5:.1f} u"


def test_a_suspect_that_cannot_be_is_not_named():
    """A residue read 0.3 g low: blanks below zero would explain it, and there are none."""
    off = coupon("1", 1.5600, 1.0900, 2.850)
    found = measured(off).discrepancies
    assert found
    for one in found:
        assert one.wrong_reading
        assert says("mistakes: a suspect that cannot be is not named", one.sentence())
        for suspect in one.suspects:
            assert suspect.reconciled is None or suspect.reconciled > 0.0


def test_an_input_without_a_spread_comes_last_and_says_so():
    off = coupon("1", 1.5600, 1.3900, 2.850)
    found = next(d for d in measured(off, areal="150.0 g/m^2").discrepancies if d.attribute == "fiber_volume")
    assert [s.input for s in found.suspects if s.standard_uncertainties is None] == ["fiber areal weight"]
    # to first order both ways agree where 20 plies of m_f give the digested 0.6057
    wanted = 0.695 * 1560.0 * 2.85e-3 / 20
    assert found.suspects[-1].reconciled == pytest.approx(wanted, rel=1e-9)
    assert found.suspects[-1].sentence() == "fiber areal weight 150.0 -> 154.5 g/m^2, no ± stated"


@pytest.mark.parametrize(("density", "warned"), [(1.5520, False), (1.5900, True)])
def test_a_negative_void_content_is_doubted_only_below_two_uncertainties(density, warned):
    """u of the void content here is 0.5 points: -0.1 % is chance, -2.6 % speaks against the densities."""
    result = measured(*(coupon(str(i), density + 0.0001 * i, 1.3420, 2.850 + 0.001 * i) for i in range(3)))
    told = [w for w in result.warnings if w.code == "negative-void-content"]
    assert len(told) == (3 if warned else 0)
    voids = result.specimens[0].best["void_content"]
    assert voids.value < 0.0 or not warned
    if warned:
        hint = "so for 3 of 3 coupons: no slip of one cell; what would explain it alone: "
        assert told[0].hint.startswith(hint)
        assert "density" in told[0].hint


def test_nothing_to_adjust_where_every_coupon_was_measured_one_way():
    one = coupon("1", 1.5450, 1.3400, 2.850)
    del one.numbers["thickness"], one.texts["thickness"]
    assert adjusted(measured(one)) is None


def test_the_adjustment_changes_nothing_it_was_given():
    result = measured(*COUPONS)
    before = [one.value for s in result.specimens for one in s.every.values()]
    adjustment = adjusted(result)
    assert [one.value for s in result.specimens for one in s.every.values()] == before
    mean, after = adjustment.means["fiber_volume"]
    assert mean == pytest.approx(np.mean([s.best["fiber_volume"].value for s in result.specimens]))
    assert after != mean


def test_the_count_of_the_batch_file_explains_rows_that_say_another(shop):
    shop.write("coupons.csv", shop.read("coupons.csv").replace(",JM,20,", ",JM,21,"))
    answer = shop.json("report", "batch.toml", status=[1])
    for discrepancy in answer["reconciliation"]["discrepancies"]:
        first, *others = discrepancy["suspects"]
        assert (first["input"], first["value"], first["reconciled"], first["unit"]) == ("plies", 21, 20, "")
        scatter = next(each for each in others if each["input"] == "ud150 ply scatter")
        assert (scatter["value"], scatter["unit"]) == (None, "%")
        assert -10.0 < scatter["shift"] < -3.0
    hints = [w["hint"] for w in answer["warnings"] if w["code"] == "methods-disagree"]
    assert len(hints) == 3
    assert all("21 -> 20" in hint and " g/m" not in hint for hint in hints)


def test_another_count_that_does_not_explain_it_is_not_named(shop):
    shop.write("coupons.csv", shop.read("coupons.csv").replace(",JM,20,", ",JM,21,"))
    shop.change("batch.toml", "plies = { web = 20, skin = 20 }", "plies = { web = 22, skin = 20 }")
    answer = shop.json("report", "batch.toml", status=[1])
    inputs = [s["input"] for d in answer["reconciliation"]["discrepancies"] for s in d["suspects"]]
    assert inputs
    assert "plies" not in inputs
