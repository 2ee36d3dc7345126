"""Chances: seeded, against closed forms where there are some, and the rule that picks the count."""

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist

import pytest

from laminate.files.part import part_of
from laminate.press.counts import Chance, GapRow
from laminate.press.filling import best, fill
from laminate.press.press import press_of
from laminate.press.shared_inputs import Estimate, estimates
from laminate.press.state import State

EXAMPLES = Path(__file__).parents[2] / "examples"


def exact(raw):
    """Nothing carries a spread but the gap."""
    raw["temperature"].update(gel="120 degC")
    raw["fiber"]["carbon"]["density"] = "1.79 g/cm^3"
    raw["resin"]["epoxy"].update(density="1.22 g/cm^3", liquid_density="1.12 g/cm^3")
    ud = raw["prepreg"]["ud150"]
    ud.pop("ply_scatter")
    ud.update(fiber_areal_weight="150 g/m^2", resin_content="33 %", volatiles="0.4 %")
    raw["zone"]["web"]["gap"] = "2.95 mm ± 0.05 (standard)"
    raw["zone"]["web"]["stack"] = []
    raw.pop("limits")


def test_a_normal_gap_gives_the_normal_chance(zone, row):
    draws = 40_000
    found = row(zone("web", exact, draws=draws), 20)
    stack = found.fill_ratio.value * 2.95e-3  # cold gap that it just fills
    expected = NormalDist(2.95e-3, 0.05e-3).cdf(stack)
    assert found.chance.fills == pytest.approx(
        expected, abs=5 * math.sqrt(expected * (1 - expected) / draws) + 1e-3
    )


def test_scatter_from_ply_to_ply_falls_with_the_root_of_the_count(zone, row):
    def scattered(raw):
        exact(raw)
        raw["zone"]["web"]["gap"] = "2.95 mm"
        raw["prepreg"]["ud150"]["ply_scatter"] = "2 % (standard)"

    found = row(zone("web", scattered), 20)
    assert found.fill_ratio.u / found.fill_ratio.value == pytest.approx(0.02 / math.sqrt(20), rel=1e-9)


def test_a_tolerance_of_the_lot_does_not_average_out(zone, row):
    def lot(raw):
        exact(raw)
        raw["zone"]["web"]["gap"] = "2.95 mm"
        raw["prepreg"]["ud150"]["fiber_areal_weight"] = "150 g/m^2 ± 2 % (standard)"

    found = row(zone("web", lot), 20)
    assert found.fill_ratio.u / found.fill_ratio.value == pytest.approx(0.02, rel=1e-9)


def test_first_order_agrees_with_draws_where_nearly_linear(part):
    import numpy as np

    from laminate.press.counts import numbers_at
    from laminate.press.filling import make_case
    from laminate.values.uncertainty import monte_carlo

    case = make_case(part(), "web", "part.toml", None, None)
    x = case.inputs.numbers()
    drawn = monte_carlo(lambda y: numbers_at(case, 16, y), x, case.inputs.sources(), draws=40_000, seed=3)

    first = estimates(lambda y: numbers_at(case, 16, y), case.inputs)
    for name in ("fill_ratio", "bleed", "thickness_if_gap_holds", "fiber_volume_in_gap"):
        assert float(np.std(drawn[name])) == pytest.approx(first[name].u, rel=0.02), name


def test_the_same_seed_gives_the_same_chances_and_another_seed_nearly(zone):
    once, again, other = (zone("web", seed=seed, draws=5000) for seed in (1, 1, 2))
    assert [row.chance for row in once.rows] == [row.chance for row in again.rows]
    assert [row.chance for row in once.rows] != [row.chance for row in other.rows]
    for one, two in zip(once.rows, other.rows, strict=True):
        assert abs(one.chance.all - two.chance.all) < 6 * math.hypot(one.chance.error(), two.chance.error())


def test_limits_narrow_the_chance(zone, row):
    def narrow(raw):
        raw["limits"]["fiber_volume"] = {"average": {"min": "58.7 %", "max": "62 %"}}

    wide, held = row(zone("web", draws=20_000), 20), row(zone("web", narrow, draws=20_000), 20)
    assert held.chance.within_average == pytest.approx(0.5, abs=0.03)
    assert held.chance.all < wide.chance.all
    assert held.chance.within_limits <= min(held.chance.within_average, held.chance.within_individual)


def test_a_limit_that_the_plan_misses_is_named(zone):
    def missed(raw):
        raw["limits"]["fiber_volume"] = {"average": {"min": "60 %"}}

    assert "fiber_volume (average)" in map(str, zone("web", missed).use.outside)


def fitting(plies, share, bleed):
    chance = Chance(10_000, all=share, at_most=share)
    return GapRow(
        plies=plies, fill_plies=plies, fill_ratio=Estimate(1.0), bleed=Estimate(bleed),
        fiber_volume_in_gap=Estimate(0.6), part={}, thickness_if_gap_holds=None, void_if_gap_holds=None,
        verdict="fits", chance=chance,
    )  # fmt: skip


def test_the_highest_chance_is_used():
    use, tied = best([fitting(20, 0.90, 0.02), fitting(21, 0.97, 0.08)])
    assert (use.plies, tied) == (21, ())


def test_what_the_draws_do_not_tell_apart_is_settled_by_less_bleed():
    use, tied = best([fitting(20, 0.9701, 0.02), fitting(21, 0.9705, 0.08)])
    assert (use.plies, tied) == (20, (21,))


def test_only_what_fits_is_used():
    few = replace(fitting(19, 0.99, -0.1), verdict="too few")
    assert best([few, fitting(20, 0.2, 0.02)])[0].plies == 20
    assert best([few]) == (None, ())


@pytest.mark.parametrize(("width", "kink"), [("39.04", True), ("39.30", False)])
def test_the_spread_under_rubber_holds_95_percent_of_the_draws_where_bleed_stops_early(width, kink):
    """Fibers packed to 57 % end the bleed alike in all draws but a third that lose their pressure before."""
    raw = tomllib.loads((EXAMPLES / "box" / "part.toml").read_text("utf-8"))
    raw["prepreg"]["ud150"]["packing_limit"] = "57 %"
    raw["core"]["box"]["width"] = f"{width} mm ± 0.01 (tolerance)"
    for zone in raw["zone"].values():
        zone["bleed"] = "6 % ± 0.5 (tolerance)"
    part, plies = part_of(raw, "part.toml"), {"sides": 20, "caps": 24}
    press = press_of(part, "part.toml", draws=10_000)
    shown = fill(part, "part.toml", zones=["sides"], plies=plies, draws=10_000).zones[0].best.part
    first_order = estimates(lambda x: State(press.at(x), plies).attributes("sides"), press.inputs)
    drawn = press.simulate(lambda at: State(at, plies).attributes("sides"))

    def held(of, key):
        return float((abs(drawn[key] - of[key].value) <= of[key].expanded).mean())

    assert (held(first_order, "fiber_volume") < 0.9) is kink
    assert (shown["fiber_volume"] != first_order["fiber_volume"]) is kink
    assert min(held(shown, key) for key in ("fiber_volume", "thickness")) > 0.94
