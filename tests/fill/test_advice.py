"""What `fill` advises: no count that fits and misses a limit is laid up, and it says what to change."""

import copy
import math
import re

import pytest

from laminate.press.filling import fill
from laminate.press.gap_change import overfull
from laminate.press.shared_inputs import Estimate
from laminate.show import fill_json
from laminate.show.fill_words import PRESSED, VERDICTS, fill_blocks, headline
from laminate.show.pressed_words import advice
from tests.messages.wording import begins, reads, says


def words(answer, units="metric"):
    return "\n".join(block.text for block in fill_blocks(answer, units) if hasattr(block, "text"))


def grids(answer):
    return [block for block in fill_blocks(answer, "metric") if hasattr(block, "rows")]


def exact(raw):
    """The tables without any ±."""
    for key, value in list(raw.items()):
        if isinstance(value, dict):
            exact(value)
        elif isinstance(value, str):
            raw[key] = re.sub(r" ± .*", "", value)
    raw.pop("ply_scatter", None)


def at_most(high, low="40 %"):
    def edit(raw):
        raw["limits"]["fiber_volume"] = {"individual": {"min": low, "max": high}}

    return edit


def test_a_count_inside_every_limit_is_laid_up(zone):
    answer = zone("web")
    assert answer.advised
    assert "".join(headline(answer, "metric")).startswith("web: use 20 plies")
    assert answer.gap_change is None


def test_a_count_that_misses_a_limit_is_not_laid_up(zone, part):
    """20 plies come out at 58.7 %, by the independent arithmetic of the example; the drawing allows 58 %."""
    answer = zone("web", at_most("58 %"))
    assert answer.use.plies == 20
    assert not answer.advised
    (miss,) = answer.use.outside
    assert (miss.attribute, miss.scope, miss.bound, miss.below) == ("fiber_volume", "individual", 0.58, False)
    said = "".join(headline(answer, "metric"))
    assert begins("fill: a count that misses a limit", said)
    assert says("fill: a count that misses a limit, 2", said)
    rows = grids(fill(part(at_most("58 %")), zones=["web"], draws=2000, inverse=False))[0].rows
    assert not any("use" in row[1] for row in rows)


def test_the_gap_that_it_names_brings_the_count_inside(zone):
    edit = at_most("58.5 %")
    found = zone("web", edit).gap_change

    def mended(raw):
        edit(raw)
        raw["zone"]["web"]["gap"] = f"{1e3 * found.sizes['gap']:.6f} mm ± 0.03 (tolerance)"

    again = zone("web", mended)
    assert again.use.plies == found.plies
    assert again.advised
    assert again.use.chance.all == pytest.approx(found.chance, abs=0.001)
    assert again.hot_gap.value == pytest.approx(found.hot_gap, abs=1e-8)


def test_limits_that_no_gap_reaches_are_said_so(zone):
    """20 plies hold 56.8 % of fiber before anything bleeds: nothing makes it 50 %."""
    answer = zone("web", at_most("50 %"))
    assert answer.gap_change is None
    assert says("fill: limits that no gap reaches are said so", "".join(headline(answer, "metric")))


def test_a_count_likelier_to_fail_than_not_is_not_laid_up(zone):
    def loose(raw):
        raw["zone"]["web"]["gap"] = "2.95 mm ± 0.4 (tolerance)"

    answer = zone("web", loose)
    assert answer.use.outside == ()
    assert answer.use.chance.all < 0.5
    said = "".join(headline(answer, "metric"))
    assert begins("fill: a count likelier to fail", said)
    assert says("fill: a count likelier to fail, 2", said)
    assert "Closer tolerances" in said


def test_without_any_tolerance_a_chance_only_says_inside_or_outside(part):
    answer = fill(part(exact), zones=["web"], draws=1000)
    (zone,) = answer.zones
    assert not zone.toleranced
    assert zone.advised
    assert says("fill: without any tolerance a chance only", words(answer))
    assert "sampling error" not in words(answer)
    assert [row[-1] for row in grids(answer)[0].rows] == [
        "outside",
        "outside",
        "inside",
        "outside",
        "outside",
    ]
    notes = fill_json.ANSWER.json(answer)["zones"][0]["not_measured"]
    assert reads("fill: without any tolerance a chance only, 2", notes[0])


def test_more_resin_than_there_is_is_no_number_to_act_on(part):
    def narrow(raw):
        raw["zone"]["web"].update(gap="0.2 mm", stack=[])

    answer = fill(part(narrow), zones=["web"], draws=1000, inverse=False)
    (zone,) = answer.zones
    beyond = [row for row in zone.rows if row.bleed.value > 1.0]
    assert beyond
    shown = {int(row[0]): row[3] for row in grids(answer)[0].rows}
    assert all(shown[row.plies] == ">100" for row in beyond)
    assert not re.search(r"\b[1-9]\d\d\.\d %", words(answer))


def bladder(raw):
    raw["bladder"] = {"air": {"pressure": "0.6 MPa"}}
    raw["zone"] = {"tip": {"bladder": "air", "stack": ["10 ud150"], "bleed_limit": "10 %"}}
    raw["limits"], raw["plan"] = {}, {}


def test_a_bladder_has_no_footnote_of_a_gap(part):
    said = words(fill(part(bladder), draws=1000))
    assert PRESSED in said
    assert VERDICTS not in said


def test_a_prepreg_that_holds_more_fiber_than_it_packs_to_is_said_so(part):
    """33 % resin by weight: 0.67/1.79 of fiber against 0.33/1.12 of liquid resin is 56.0 % by volume."""

    def woven(raw):
        bladder(raw)
        raw["prepreg"]["ud150"].update(form="woven", volatiles="0 %")
        del raw["prepreg"]["ud150"]["packing_limit"]

    answer = fill(part(woven), draws=1000)
    (one,) = overfull(answer.zones[0].case)
    assert one.own == pytest.approx(0.67 / 1.79 / (0.67 / 1.79 + 0.33 / 1.12), rel=1e-12)
    expected = (
        "ud150 holds 56.0 % fiber by volume before any resin bleeds, above 55.0 %, the packing limit of"
    )
    assert expected in "".join(advice(answer.zones[0], "metric"))
    assert expected in fill_json.ANSWER.json(answer)["zones"][0]["why"]


def test_the_spread_on_screen_is_expanded_and_in_json_standard(zone, part):
    answer = zone("web")
    volume = answer.use.part["fiber_volume"]
    assert volume.expanded == pytest.approx(1.96 * volume.u, rel=1e-4)
    shown = float(re.search(r"± ([\d.]+) % fiber volume", "".join(headline(answer, "metric")))[1])
    assert shown == pytest.approx(196.0 * volume.u, rel=0.05)
    assert "(± at 95 %)" in "".join(headline(answer, "metric"))
    rows = fill_json.ANSWER.json(fill(part(), zones=["web"], draws=2000, inverse=False))["zones"][0]["counts"]
    of_json = next(row for row in rows if row["plies"] == 20)["fiber_volume"]["standard_uncertainty"]
    assert of_json == pytest.approx(100.0 * volume.u, rel=1e-9)


def test_few_degrees_of_freedom_widen_the_expanded_uncertainty(zone):
    """Student's t at 95 % and 4 degrees of freedom is 2.776 (any table of t)."""

    def measured(raw):
        for table in (raw["zone"]["web"], *raw["fiber"].values(), *raw["resin"].values()):
            exact(table)
        exact(raw["prepreg"]["ud150"])
        exact(raw["temperature"])
        raw["zone"]["web"]["gap"] = "2.95 mm ± 0.01 (standard, dof=4)"

    gap = zone("web", measured).hot_gap
    assert gap.k == pytest.approx(2.776, abs=5e-4)
    assert gap.expanded == pytest.approx(2.776 * gap.u, rel=2e-4)


def test_an_estimate_without_uncertainty_has_no_expanded_one():
    assert Estimate(1.0).expanded is None
    assert math.isclose(copy.copy(Estimate(1.0, 0.5)).expanded, 0.98, rel_tol=1e-3)
