"""Numbers that a second reading by hand once found wrong, each held to its own arithmetic."""

import json
import math

import numpy as np
import pytest

from laminate.coupons.monte_check import check
from laminate.formulas import press
from laminate.judging.acceptance import Reading, acceptance_of, both
from laminate.values.uncertainty import Source, propagate
from tests.messages.wording import says


def test_a_cylinder_between_end_walls_presses_alike_by_widths_and_by_volumes():
    """Diameter 30 mm in 32.4 mm less 2 mm of laminate all round, one length: pi/4 d^2 on both sides."""
    growth = 1.05
    free, room = 0.030 * growth, 0.0324 - 2e-3
    modulus = {"bulk_moduli": [0.85e9], "bulk_modulus_rises": [10.0], "give": 0.0}
    by_width = press.pressure(
        cores=[press.round_volume(diameter=free, length=1.0)],
        room=press.round_volume(diameter=room, length=1.0), **modulus,
    )  # fmt: skip
    assert by_width == pytest.approx(0.85e9 / 10.0 * ((free / room) ** 20.0 - 1.0), rel=1e-9)
    by_volume = press.pressure(cores=[free**2], room=0.0324**2 - (0.0324**2 - room**2), **modulus)
    assert by_width == pytest.approx(by_volume, rel=1e-9)


REPEATS = "2.93,2.89,2.91"


def test_repeats_beyond_the_repeatability_bring_their_own_freedom(shop):
    """Three coupons of three readings: pooled s 0.02 mm, 6 degrees of freedom; 0.002 mm stated."""
    text = shop.read("coupons.csv")
    for line in text.splitlines()[1:]:
        text = text.replace(line, ",".join([*line.split(",")[:-3], REPEATS]))
    shop.write("coupons.csv", text)
    one = shop.json("measure", "batch.toml")["specimens"][0]["thickness"]
    step = 0.01 / math.sqrt(12)  # of the last decimal: it adds to the scatter, and stands beside it as shared
    own, shared = math.hypot(0.02, step) / math.sqrt(3), math.hypot(0.0015, step)
    u = math.hypot(own, shared)
    assert one["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    wide = math.hypot(2.44691 * own, 1.95996 * shared)  # t of 6 degrees, JCGM 100 table G.2: 2.45
    assert one["expanded_uncertainty"] == pytest.approx(wide, rel=1e-5)


def test_all_together_are_never_likelier_than_one_alone():
    """Two that share nothing, u of one degree of freedom: Cauchy, (1/2 + atan(2)/pi)^2 (arithmetic)."""
    readings = [Reading(name, 0.0, 1.0, 1.0, 12.7, {}, 1.0) for name in "ab"]
    held = acceptance_of(readings, minimum=-2.0, maximum=None, guard=0.0, attribute="density")
    alone = 0.5 + math.atan(2.0) / math.pi
    assert held.probability == pytest.approx(alone**2, rel=1e-9)
    average = acceptance_of(
        [Reading("average", 0.0, 1.0, 1.0, 12.7, {}, 1.0)], minimum=-2.0, maximum=None, guard=0.0,
        attribute="density",
    )  # fmt: skip
    assert both(held, average) <= average.probability


def test_monte_carlo_disagrees_where_the_formula_bends():
    """y = x^2 at x = 1 with u = 0.5: mean 1.25, u^2 = 4 u^2 + 2 u^4 = 1.125, first order u = 1."""

    def formula(x):
        return {("density", "square"): x["x"] ** 2}

    inputs, sources = {"x": np.array([1.0])}, [Source("x", {"x": 0.5})]
    first = propagate(formula, inputs, sources)
    factors, checks = check(formula, inputs, sources, first, "A")
    assert not checks[0].agree
    assert checks[0].monte_carlo == pytest.approx(math.sqrt(1.125), rel=0.01)
    key = ("density", "square")
    new = factors[key] * float(first[key].standard_uncertainty[0])
    assert new >= 1.06
    # the first-order interval now holds the upper end, (1 + 1.96 u)^2 to a few hundredths of a percent
    assert 1.0 + 1.96 * new >= (1.0 + 1.96 * 0.5) ** 2 * 0.99


def test_monte_carlo_agrees_on_a_line_whatever_the_freedom():
    def formula(x):
        return {("density", "line"): 2.0 * x["x"]}

    inputs, sources = {"x": np.array([1.0])}, [Source("x", {"x": 0.5}, dof=3.0)]
    factors, checks = check(formula, inputs, sources, propagate(formula, inputs, sources), "A")
    assert checks[0].agree
    assert factors == {}


def test_the_coupon_that_decides_is_the_one_over_its_guard_band():
    near = Reading("near, known well", 2.940, 0.0019, math.inf, 1.96, {}, 0.0019)
    far = Reading("further, known badly", 2.930, 0.0116, math.inf, 1.96, {}, 0.0116)
    held = acceptance_of([near, far], minimum=None, maximum=2.95, guard=1.0, attribute="thickness")
    assert held.decisions == ("conforms", "undecided")
    assert held.worst is far


def test_a_lone_tolerance_cannot_lie_outside_its_own_width(shop):
    """126.95 degC within 1 degC is below 128 degC for certain."""
    shop.change("batch.toml", "126 degC ± 1 (tolerance)", "126.95 degC ± 1 (tolerance)")
    reading = shop.json("report", "batch.toml")["process"][0]
    assert reading["decision"] == "conforms"
    assert reading["probability_of_conformity"] == 1.0
    shop.change("batch.toml", "126.95 degC", "127.5 degC")
    reading = json.loads(shop.run("report", "batch.toml", "--json").out)["process"][0]
    assert reading["decision"] == "undecided"
    assert reading["probability_of_conformity"] == pytest.approx(0.75)


def test_the_scatter_from_ply_to_ply_is_in_a_prediction(shop):
    before = shop.json("predict", "part.toml", "--plies", "skin=20")["zones"][0]
    shop.change("part.toml", 'ply_scatter = "1 % (standard)"', 'ply_scatter = "6 % (standard)"')
    after = shop.json("predict", "part.toml", "--plies", "skin=20")["zones"][0]
    thickness = after["thickness"]["value"]
    more = thickness * 0.06 / math.sqrt(20)
    less = thickness * 0.01 / math.sqrt(20)
    expected = math.sqrt(before["thickness"]["standard_uncertainty"] ** 2 - less**2 + more**2)
    assert after["thickness"]["standard_uncertainty"] == pytest.approx(expected, rel=1e-9)


def test_fields_that_are_all_alike_still_count_few_points(shop):
    """Three fields of 20 points, 12 on fiber in each: the farther end of Wilson's interval for 36 of 60."""
    rows = "\n".join(f"P1,{field},20,12,0" for field in (1, 2, 3))
    shop.write("points.csv", f"specimen,field,points,fiber points,void points\n{rows}\n")
    options = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
    one = shop.json("measure", "points.csv", *options)["specimens"][0]["fiber_volume"]
    z, p, n = 1.959964, 0.6, 60
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1.0 - p) / n + (z / (2 * n)) ** 2)
    lower = (middle - half) / (1.0 + z * z / n)
    assert one["value"] == pytest.approx(60.0)
    assert one["standard_uncertainty"] == pytest.approx(100.0 * (p - lower) / z, rel=1e-5)


def test_what_was_left_out_is_said_ahead_of_the_table(shop):
    text = shop.read("coupons.csv")
    head, *rows = text.splitlines()
    odd = rows[0].replace("0101", "0104") + ",looks odd"
    shop.write("coupons.csv", "\n".join([f"{head},excluded", *(f"{row}," for row in rows), odd]) + "\n")
    out = shop.run("report", "batch.toml", "--out", "kept").out
    said = "Excluded from the decision: 0104 (looks odd)."
    assert said in out.split("limit on")[0]
    page = (shop.folder / "kept" / "report.html").read_text("utf-8")
    assert said in page
    assert says("numbers: what was left out is said ahead", page)


def test_water_is_the_liquid_not_the_air(shop):
    shop.change("coupons.csv", "mass in liquid [g]", "mass in water [g]")
    assert says("numbers: water is the liquid not the air", shop.run("measure", "batch.toml").err)
