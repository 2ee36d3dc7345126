"""The questions turned round, each answered by asking forward again."""

import re
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.counts import chance_of_all
from laminate.press.filling import fill, make_case
from laminate.press.inverse import Wanted, gap_for, order_for, tolerances_for
from laminate.show.fill_words import inverse_words
from laminate.values.input_key import Key
from tests.messages.wording import says


@pytest.fixture
def web(part):
    return make_case(part(), "web", "part.toml", None, None)


DRAWS = 20_000


def tolerances(case, wanted):
    """Which tolerances bring the chance of 16 plies there."""

    case = case.of_draws(DRAWS, 1)

    def chance_with(scaled):
        return chance_of_all(case, 16, scaled)

    return tolerances_for(case.inputs, wanted, chance_with)


def example(case):
    path = Path(__file__).parents[2] / "examples" / case / "part.toml"
    return tomllib.loads(path.read_text("utf-8"))


def test_the_gap_for_a_fiber_volume_gives_it(web, zone, row):
    wanted = gap_for(web, 16, 0.60)
    assert wanted.hindrance == ""
    gap = f"{1e3 * wanted.sizes['gap']!r} mm"
    found = row(zone("web", lambda raw: raw["zone"]["web"].update(gap=gap)), 20)
    assert found.part["fiber_volume"].value == pytest.approx(0.60, abs=1e-9)
    assert found.bleed.value == pytest.approx(wanted.bleed, abs=1e-9)


@pytest.mark.parametrize("what", ["cavity", "core width"])
def test_against_a_core_cavity_or_width_gives_it(part, zone, row, what):
    wanted = gap_for(make_case(part(), "skin", "part.toml", None, None), 20, 0.60)
    size = f"{1e3 * wanted.sizes[what]!r} mm"

    def changed(raw):
        if what == "cavity":
            raw["zone"]["skin"]["cavity"] = size
        else:
            raw["core"]["fore"]["width"] = size

    assert row(zone("skin", changed), 20).part["fiber_volume"].value == pytest.approx(0.60, abs=1e-9)


@pytest.mark.parametrize(
    ("fiber_volume", "hindrance"), [(0.50, "shortfall"), (0.63, "bleed limit"), (0.75, "packing limit")]
)
def test_what_stands_against_a_wish_is_said(web, fiber_volume, hindrance):
    assert gap_for(web, 16, fiber_volume).hindrance == hindrance


def test_the_areal_weight_to_order_gives_the_fiber_volume(web, zone, row):
    order = order_for(web, 16, 0.60)
    assert order.hindrance == ""
    weight = f"{1e3 * order.areal_weight!r} g/m^2"
    found = row(
        zone("web", lambda raw: raw["prepreg"]["ud150"].update(fiber_areal_weight=weight), plies={"web": 20}),
        20,
    )
    assert found.part["fiber_volume"].value == pytest.approx(0.60, abs=1e-9)
    assert found.bleed.value == pytest.approx(order.bleed, abs=1e-9)


@pytest.mark.parametrize("end", [0, 1])
def test_at_the_ends_of_the_resin_content_it_just_fills_or_just_closes(web, zone, row, end):
    order = order_for(web, 16, None)
    share = f"{100 * order.resin_content[end]!r} %"
    found = row(zone("web", lambda raw: raw["prepreg"]["ud150"].update(resin_content=share)), 20)
    assert found.bleed.value == pytest.approx((0.0, 0.15)[end], abs=1e-9)
    assert order.fiber_volume_there[0] == pytest.approx(order.fiber_volume_there[1], rel=1e-9)


def test_an_areal_weight_of_prepreg_is_ordered_as_such(part):
    def of_prepreg(raw):
        ud = raw["prepreg"]["ud150"]
        del ud["fiber_areal_weight"]
        ud["prepreg_areal_weight"] = "225 g/m^2 ± 3 (tolerance)"

    order = order_for(make_case(part(of_prepreg), "skin", "part.toml", None, None), 20, 0.60)
    assert order.of_prepreg
    assert 0.2 < order.areal_weight < 0.26


NARROWED = {
    ("prepreg", "ud150", "resin_content"): ("33 %", 1.0),
    ("prepreg", "ud150", "areal_weight"): ("150 g/m^2", 2.0),
    ("zone", "web", "gap"): ("2.95 mm", 0.03),
}


@pytest.mark.parametrize("wanted", [0.985, 0.99])
@pytest.mark.parametrize("draws", [DRAWS, 50_000])
def test_the_tolerance_it_names_brings_the_chance_there(zone, row, wanted, draws):
    """The answer is asked again with each ± as named; with a hundredth more it does not get there."""

    def chance(table, name, key, half):
        def edit(raw):
            written = "fiber_areal_weight" if key == "areal_weight" else key
            raw[table][name][written] = f"{NARROWED[table, name, key][0]} ± {half:.9f} (tolerance)"

        return row(zone("web", edit, draws=draws), 20).chance.all

    now = zone("web", draws=draws, inverse=True, wanted=Wanted(chance=wanted))
    assert row(now, 20).chance.all < wanted
    factors = {need.input: need.factor for need in now.tolerances if need.input in map(Key._make, NARROWED)}
    able = {tuple(key): factor for key, factor in factors.items() if factor}
    assert ("prepreg", "ud150", "resin_content") in able
    for key, factor in able.items():
        assert 0 < factor < 1
        half = NARROWED[key][1]
        assert chance(*key, factor * half) >= wanted > chance(*key, (factor + 0.01) * half)


def test_an_input_that_cannot_do_it_alone_is_said(web):
    needs = {need.input: need for need in tolerances(web, 0.999)}
    assert needs[Key("fiber", "carbon", "density")].factor is None
    assert needs["all of them"].factor is not None
    assert list(needs)[-1] == "all of them"


@pytest.mark.parametrize("case", ["mast", "bladder"])
def test_the_bleed_for_a_fiber_volume_gives_it_under_rubber_and_bladders(case):
    raw, name = example(case), {"mast": "skin", "bladder": "wall"}[case]
    asked = fill(part_of(raw, ""), zones=[name], wanted=Wanted(fiber_volume=0.595), draws=1000).zones[0]
    assert 0.0 < asked.wishes.bleed < asked.wishes.end
    raw["zone"][name]["bleed"] = f"{100 * asked.wishes.bleed!r} %"
    (bled,) = fill(part_of(raw, ""), zones=[name], plies={name: asked.best.plies}, draws=1000).zones
    assert bled.best.part["fiber_volume"].value == pytest.approx(0.595, abs=1e-9)
    for volume, least, most in ((0.50, -1.0, 0.0), (0.70, asked.wishes.end, 1.0)):
        other = fill(part_of(raw, ""), zones=[name], wanted=Wanted(fiber_volume=volume), draws=1000).zones[0]
        assert least < other.wishes.bleed < most


def test_the_tolerance_it_names_under_rubber_brings_the_chance_there():
    raw = example("mast")
    (skin,) = fill(part_of(raw, ""), zones=["skin"], wanted=Wanted(chance=0.98), draws=4000).zones
    assert skin.best.chance.all < 0.96
    need = next(need for need in skin.wishes.tolerances if need.factor and need.input == "all of them")
    assert 0.0 < need.factor < 1.0
    every = (need.input for need in skin.wishes.tolerances[:-1])
    assert Key("zone", "skin", "bleed") in set(every)

    def narrowed(tables):
        for name, value in tables.items():
            if isinstance(value, dict):
                narrowed(value)
            elif isinstance(value, str) and "±" in value:
                tables[name] = re.sub(r"± ([\d.e-]+)", lambda u: f"± {float(u[1]) * need.factor!r}", value)

    narrowed(raw)
    (found,) = fill(part_of(raw, ""), zones=["skin"], plies={"skin": skin.best.plies}, draws=4000).zones
    assert 0.98 <= found.best.chance.all < 0.985


def test_an_input_that_does_not_enter_is_no_help_under_a_bladder():
    """Temperatures move no bladder: its own ± and what is laid up do."""
    raw = example("bladder")
    raw["zone"]["wall"]["wanted_pressure"] = "0.59 MPa"
    (wall,) = fill(part_of(raw, ""), draws=2000).zones
    chance = wall.best.chance.at_most
    helps = {name for name, share in wall.moves if share > chance}
    assert Key("bladder", "tube", "pressure") in helps
    assert all(share == chance for name, share in wall.moves if getattr(name, "table", "") == "temperature")
    assert not any(getattr(name, "table", "") == "temperature" for name in helps)


def test_what_is_not_asked_under_rubber_is_not_computed():
    (skin,) = fill(part_of(example("mast"), ""), zones=["skin"], draws=1000).zones
    assert (skin.wishes.chance, skin.wishes.bleed, skin.wishes.tolerances) == (None, None, ())


def test_a_chance_that_is_not_known_has_no_tolerances_and_says_why(shop):
    """Without a bleed there is none; with it less than it has is there already."""
    ask = ("fill", "part.toml", "--zone", "skin", "--draws", "2000", "--chance-wanted")
    assert words_of(shop, *ask, "50 %")["chance_wanted"] == 0.5
    shop.change("part.toml", 'bleed = "3 % ± 2 (tolerance)"', "")
    assert words_of(shop, *ask, "99 %", status=[1])["tolerance_for_chance"] == []


def words_of(shop, *call, status=(0,)):
    """The JSON of a zone, once its screen is seen to say more than it does unasked."""
    lines = set(shop.run(*call[:-2]).out.splitlines())
    assert set(shop.run(*call).out.splitlines()) - lines
    return shop.json(*call, status=status)["zones"][0]


def test_fill_asks_them_all_at_once(zone):
    answer = zone("web", inverse=True, wanted=Wanted(fiber_volume=0.60, chance=0.99), plies={"web": 20})
    assert answer.gap_wanted.plies == answer.order.plies == answer.discussed.plies == 20
    assert answer.tolerances
    assert answer.chance_wanted == 0.99


def test_what_a_lack_of_resin_leaves_is_said(zone):
    answer = zone("web", inverse=True, wanted=Wanted(fiber_volume=0.50), plies={"web": 20})
    assert answer.gap_wanted.hindrance == "shortfall"
    assert says("fill: a wish that takes more resin than there is", " ".join(inverse_words(answer, "metric")))
