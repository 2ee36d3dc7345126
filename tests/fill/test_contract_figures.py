"""Independent arithmetic on the example part, to half the last digit."""

import pytest


@pytest.fixture(scope="module")
def answers(zone):
    return {name: zone(name, draws=20_000) for name in ("web", "skin")}


def near(value, printed, digits):
    return value == pytest.approx(printed, abs=0.5 * 10.0**-digits)


@pytest.mark.parametrize(("name", "gap"), [("web", 2.957), ("skin", 2.913)])
def test_hot_gap(answers, name, gap):
    assert near(1e3 * answers[name].hot_gap.value, gap, 3)


@pytest.mark.parametrize(
    ("name", "ratio", "bleed", "thickness", "fiber"),
    [("web", 1.033, 7.3, 2.856, 58.7), ("skin", 1.031, 6.8, 2.812, 59.6)],
)
def test_only_twenty_plies_fit(answers, name, ratio, bleed, thickness, fiber):
    answer = answers[name]
    assert [row.plies for row in answer.rows if row.verdict == "fits"] == [20]
    assert answer.use.plies == 20
    assert near(answer.use.fill_ratio.value, ratio, 3)
    assert near(100 * answer.use.bleed.value, bleed, 1)
    assert near(1e3 * answer.use.part["thickness"].value, thickness, 3)
    assert near(100 * answer.use.part["fiber_volume"].value, fiber, 1)


def test_a_bleed_limit_of_eleven_percent_always_leaves_a_count(zone):
    """The rule printed with formula 5: n 20, 11 %."""
    answer = zone("web", lambda raw: raw["zone"]["web"].update(bleed_limit="1 %"))
    assert answer.use is None
    assert answer.discussed.plies in (19, 20)
    assert 100 * answer.bleed_rule == pytest.approx(11, abs=1)
