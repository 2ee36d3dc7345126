"""Hard cores: gaps, touch and sizes come from the one state of the press, however the part is written.

PTFE figures: computed by two other codes (arithmetic).
"""

import pytest

from laminate.files.part import part_of
from laminate.press.cores import Stacks, core
from laminate.press.filling import fill
from laminate.press.names import GEL, ROOM
from laminate.press.state import State
from laminate.press.windows import touch
from laminate.show import core_json, core_words, fill_json
from laminate.show.fill_answer import closing_words, headline
from laminate.values.input_key import Key
from laminate.values.problems import Refused
from laminate.values.uncertainty import propagate
from laminate.values.units import SIValue
from tests.messages.wording import says

from .parts import box, oil, press, raw, webbed, zone

HARD = {"PTFE": "150e-6 /K", "nylon 6,6": "100e-6 /K", "aluminium 7075": "23.4e-6 /K"}
COUNTS = {"skin": 24, "web": 20}


def ptfe(tables):
    tables["core"]["fore"] = {
        "material": "PTFE", "expansion": "150e-6 /K", "held": "no", "width": "20.0 mm",
        "temperature": "155 degC", "offset": "0 mm",
    }  # fmt: skip


def old(material, width="31.2 mm"):
    """The mast with a hard core in keys from before rooms."""

    def edit(tables):
        made = tables["core"]["fore"]
        made.update(material=material, expansion=HARD[material], held="no", width=width, offset="0 mm")

    return edit


def new(material, width="31.2 mm", side="width"):
    """The same in a room, along its width or its height."""

    def edit(tables):
        old(material, width)(tables)
        made = tables["core"]["fore"]
        for key in ("held", "projected_area", "cast", "offset"):
            made.pop(key, None)
        other = "height" if side == "width" else "width"
        tables["room"] = {"box": {side: tables["zone"]["skin"]["cavity"], other: "60 mm", "length": "600 mm"}}
        tables["room"]["box"]["opens"] = side
        made.pop("width")
        made.update({"room": "box", side: width, other: "60 mm", "length": "600 mm"})
        skin = tables["zone"]["skin"]
        skin.pop("cavity"), skin.pop("core")
        skin.update(room="box", side=side)

    return edit


def part(edit):
    return part_of(raw(edit), "part.toml")


def skin_of(answer):
    return next(one for one in answer.zones if one.zone == "skin")


@pytest.mark.parametrize(
    ("plies", "ratio", "bleed"), [(15, 0.9389, None), (16, 1.0015, 0.0033), (17, 1.0641, 0.133)]
)
def test_ptfe(plies, ratio, bleed):
    made = oil(ptfe)
    answer = fill(made.part, "part.toml", plies={"skin": plies}, draws=500, inverse=False).zones[0]
    row = next(one for one in answer.rows if one.plies == plies)
    assert answer.hot_gap.value == pytest.approx(2.4336e-3, abs=0.51e-7)
    assert row.fill_ratio.value == pytest.approx(ratio, abs=0.51e-4)
    assert row.verdict == ("too few" if bleed is None else "fits")
    if bleed is not None:
        assert row.bleed.value == pytest.approx(bleed, abs=0.51e-3)
        assert State(made.at(), {"skin": plies}).bleed["skin"] == pytest.approx(row.bleed.value, rel=1e-12)


@pytest.mark.parametrize("material", HARD)
def test_fill_core_and_press_have_one_gap_however_it_is_written(material):
    gaps = []
    for edit in (old(material), new(material), new(material, side="height")):
        made = part(edit)
        asked = skin_of(fill(made, "part.toml", draws=500, inverse=False))
        sized = core(made, "part.toml", plies={"skin": 24}, gap_wanted=asked.hot_gap.value, draws=500).cores[
            0
        ]
        gaps += [State(press(edit).at(), COUNTS).gap("skin"), asked.hot_gap.value]
        # the core for the gap that it has is the core that it is
        assert sized.governing.cold_width.value == pytest.approx(31.2e-3, rel=1e-12)
        assert sized.governing.now.value == 31.2e-3
        assert fill_json.ANSWER.json(fill(made, draws=500, inverse=False))["zones"]
    assert gaps == pytest.approx([gaps[0]] * len(gaps), rel=1e-12)


@pytest.mark.parametrize("material", HARD)
@pytest.mark.parametrize("together", [False, True])
@pytest.mark.parametrize("liquid", [False, True])
def test_where_it_touches_the_gap_is_the_stack(material, together, liquid):
    state = State(press(new(material)).at(), COUNTS)
    at = touch(state, "box", "skin", together=together, liquid=liquid)
    layup, x = state.layups["skin"], state.x
    stack = layup.thickness(0.0) if liquid else layup.laid_up
    growth = 1 + 23.6e-6 * ((at if together else x[GEL]) - x[ROOM])
    grown = 1 + x[Key("core", "fore", "expansion")] * (at - x[ROOM])
    if abs(at) < 1e4:
        assert (38.6e-3 * growth - 31.2e-3 * grown) / 2 == pytest.approx(stack, rel=1e-9)
    else:  # a core of the tool's own growth closes no gap
        assert material == "aluminium 7075"


def test_a_core_that_grows_less_than_its_tool_never_closes_the_gap():
    state = State(press(old("aluminium 7075", "30 mm")).at(), COUNTS)
    assert touch(state, "fore", together=True) == float("inf")
    found = core(part(old("aluminium 7075", "30 mm")), "part.toml", plies={"skin": 24}, draws=500).cores[0]
    assert found.governing.contact_together is None


@pytest.mark.parametrize(
    "edit", [old("PTFE"), new("PTFE"), lambda tables: None], ids=["old", "new", "rubber"]
)
@pytest.mark.parametrize("together", [False, True])
def test_touch_has_exact_derivatives(edit, together):
    made = press(edit)
    room = made.rooms[0].name

    def formula(x):
        return {"touch": touch(State(made.at(x), COUNTS), room, together=together)}

    x, sources = made.inputs.numbers(), made.inputs.sources()
    result = propagate(formula, x, sources)["touch"]
    found = {s.name: float(c[0]) for s, c in zip(result.sources, result.contributions, strict=True)}
    for source in sources:
        (name, move), *_ = source.moves.items()
        ahead, behind = (formula({**x, name: x[name] + 1e-3 * move * way})["touch"] for way in (1, -1))
        wanted = (ahead - behind) / 2e-3
        assert found.get(source.name, 0.0) == pytest.approx(wanted, rel=1e-4, abs=1e-5)


def test_two_hard_cores_and_a_web_share_the_row():
    """(72 g - 30.0 G - 30.4 G)/3: two side laminates and the web between (arithmetic)."""

    def hard(tables):
        for made in tables["core"].values():
            made.update(acts_as="hard", expansion="150e-6 /K")

    state = State(webbed(hard).at())
    gap = (72 * (1 + 23.6e-6 * 97) - 60.4 * (1 + 150e-6 * 95)) / 3
    assert [1e3 * state.gap(name) for name in ("side", "web")] == pytest.approx([gap, gap], rel=1e-12)


def test_across_the_row_the_largest_core_leaves_the_gap():
    def hard(tables):
        tables["room"]["box"]["height"] = "40 mm"
        for made, height in zip(tables["core"].values(), ("33 mm", "34 mm"), strict=True):
            made.update(acts_as="hard", expansion="150e-6 /K", height=height)
        tables["zone"]["cap"] = zone("height", 20)

    gap = (40 * (1 + 23.6e-6 * 97) - 34 * (1 + 150e-6 * 95)) / 2
    assert 1e3 * State(webbed(hard).at()).gap("cap") == pytest.approx(gap, rel=1e-12)


def test_stacks_along_one_side_have_one_gap():
    def hard(tables):
        tables["core"]["fore"].update(acts_as="hard", expansion="150e-6 /K")
        tables["zone"]["side"]["share"] = "60 %"
        tables["zone"]["tip"] = zone("width", 16, share="40 %")

    state = State(box(hard).at())
    gap = (46 * (1 + 23.6e-6 * 97) - 39.02 * (1 + 150e-6 * 95)) / 2
    assert [1e3 * state.gap(name) for name in ("side", "tip")] == pytest.approx([gap, gap], rel=1e-12)


def test_all_round_a_box_both_gaps_must_close():
    """39.02 in 46 mm leaves 3.44 mm, 27.5 in 34 mm 3.01 mm hot (arithmetic); 22 plies fill one, not both."""

    def hard(tables):
        tables["core"]["fore"].update(acts_as="hard", expansion="150e-6 /K", height="27.5 mm")
        tables["zone"] = {"ring": {"room": "box", "side": "all", "walls": 2, "fill_with": "ud150"}}
        tables["zone"]["ring"]["bleed_limit"] = "15 %"

    made = box(hard)
    grown, tool = 1 + 150e-6 * 95, 1 + 23.6e-6 * 97
    wide, high = ((46 * tool - 39.02 * grown) / 2, (34 * tool - 27.5 * grown) / 2)
    assert [1e3 * g for g in made.cases["ring"].sides(made.inputs.numbers())] == pytest.approx([wide, high])
    answer = fill(made.part, "part.toml", draws=500, inverse=False).zones[0]
    fits = {row.plies: row.verdict for row in answer.rows}
    for plies, word in fits.items():
        laid = made.layups({"ring": plies}, made.inputs.numbers())["ring"]
        full, least = 1e3 * laid.thickness(0.0), 1e3 * laid.thickness(laid.end)
        good = full >= max(wide, high) and least <= min(wide, high)
        assert (word == "fits") is good


def test_a_hard_core_by_volume_is_refused():
    def heavy(tables):
        made = tables["core"]["fore"]
        for key in ("width", "height", "length"):
            made.pop(key)
        made.update(acts_as="hard", volume="600 cm^3")

    with pytest.raises(Refused) as refused:
        box(heavy)
    assert refused.value.problems[0].place == "core.fore"


def test_core_says_no_pressure_and_what_the_clamp_has_left():
    found = core(part(new("PTFE")), "part.toml", plies={"skin": 24}, draws=500)
    told = core_json.ANSWER.json(found)["cores"][0]
    hot = {what: 1e3 * more.value for what, more in found.cores[0].too_large_hot.items()}
    grown = 150e-6 * 95 - 23.6e-6 * 97  # cold as large as its room
    assert hot == pytest.approx({"height": 60 * grown, "length": 600 * grown})
    assert not found.good
    assert (told["balance"], told["held"], told["tool_opens"], told["vapor"]) == ("widths", "no", None, None)
    assert told["pressure"]["nominal"] is None
    assert told["pressure"]["reason"]
    area = 0.6 * 0.06 + 0.006
    assert told["clamp_limit"]["value"] == pytest.approx(600e-3 / area)
    assert told["press"]["left_to_close"]["value"] == pytest.approx(600e-3 / area)
    assert told["cold_clearance"]["height"]["value"] == 0.0


@pytest.mark.parametrize(("material", "facts"), [("PTFE", ("19", "30 degC")), ("nylon 6,6", ("moisture",))])
def test_what_the_tables_say_of_a_material_holds_beside_its_measured_expansion(material, facts):
    """Callister B.6: PTFE has transitions, nylon takes up moisture."""
    found = core(part(new(material)), "part.toml", plies={"skin": 24}, draws=500)
    lines = core_json.ANSWER.json(found)["cores"][0]["cautions"]
    assert [line for line in lines if "Callister B.6" in line and all(fact in line for fact in facts)]


@pytest.mark.parametrize(("kind", "word"), [("old", "widths"), ("box", "box"), ("volume", "volumes")])
def test_the_balance_of_rubber_is_named_as_it_is(kind, word):
    def volume(tables):
        tables["core"]["fore"].update(volume="1 l", cavity_volume="1.26 l", laminate_area="0.0653 m^2")

    made = {"old": lambda: press(), "box": lambda: box(), "volume": lambda: press(volume)}[kind]().part
    plies = {} if kind == "box" else {"skin": 20}
    assert (
        core_json.ANSWER.json(core(made, "part.toml", plies=plies, draws=500))["cores"][0]["balance"] == word
    )


def test_a_film_in_a_gap_is_the_same_for_fill_and_press():
    """The web of the mast has a resin film between matched halves."""
    made = press()
    state = State(made.at(), {"skin": 20, "web": 20})
    row = next(
        r for r in fill(made.part, zones=["web"], draws=500, inverse=False).zones[0].rows if r.plies == 20
    )
    assert state.bleed["web"] == pytest.approx(row.bleed.value, rel=1e-12)
    part = state.attributes("web")
    assert part["thickness"] == pytest.approx(row.part["thickness"].value, rel=1e-12)
    assert part["fiber_volume"] == pytest.approx(row.part["fiber_volume"].value, rel=1e-12)


@pytest.mark.parametrize("bled", [None, SIValue(2.8e-3)])
def test_a_stack_without_plies_beside_a_hard_core(bled):
    stacks = Stacks(SIValue(3.6e-3), SIValue(3.8e-3), bled)
    zone = core(part(new("PTFE")), "part.toml", stacks=stacks, draws=500).cores[0].governing
    growth, grown = 1 + 23.6e-6 * 97, 1 + 150e-6 * (zone.liquid_full.value - 296.15)
    assert (38.6e-3 * growth - 31.2e-3 * grown) / 2 == pytest.approx(3.6e-3, rel=1e-9)
    assert zone.pull_out.value == pytest.approx(38.6e-3 - 31.2e-3 - 7.2e-3, rel=1e-9)
    assert zone.contact.value < zone.liquid_full.value


def shut_part(core_width="40.20 mm ± 0.02 (tolerance)", bulk_factor=1.1):
    """The four-walled box with a core of metal: 20 plies on each side, where the tool does not open."""

    def hard(tables):
        made = tables["core"]["fore"]
        for key in ("material", "bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise"):
            made.pop(key)
        made.update(acts_as="hard", expansion="12e-6 /K", width=core_width, height="27 mm")
        tables["tool"].update(clamp_force="900 kN", pressure_limit="60 MPa")
        tables["room"]["box"]["wanted_pressure"] = "0.3 MPa"
        tables["temperature"]["gel"] = "120 degC (exact)"
        tables["prepreg"]["ud150"].pop("bulk_factor")
        tables["prepreg"]["ud150"] |= {"bulk_factor": bulk_factor} if bulk_factor else {}

    return box(hard).part


def shut_in(*changed, **more):
    return fill(shut_part(*changed, **more), "part.toml", draws=2000, inverse=False)


def test_a_hard_core_is_forced_in_where_the_tool_does_not_open():
    """40.20 mm and 2 x 20 x 0.1591925 mm as laid up in 46 mm, at any temperature (arithmetic)."""
    answer = shut_in()
    side, cap = answer.zones
    over = 40.20 + 2 * 20 * 0.1591925 - 46.0
    assert 1e3 * side.interference["width"].value == pytest.approx(over, abs=1e-4)
    assert (side.use.plies, side.use.verdict, side.grade) == (20, "fits", "risky")
    assert (cap.interference, cap.goes_in) == ({}, True)
    told = fill_json.ANSWER.json(answer)["zones"][0]["forced_in_by"]["width"]
    assert told["value"] == pytest.approx(over, abs=1e-4)
    assert told["standard_uncertainty"] > 0.0
    assert says("fill: a hard core that must be forced in", "".join(headline(side, "metric")))
    assert not says("fill: a hard core that must be forced in", "".join(headline(cap, "metric")))


def test_a_stack_whose_bulk_is_not_stated_is_asked_for():
    (side, _) = shut_in(bulk_factor=None).zones
    assert (side.grade, side.use.verdict) == ("risky", "fits")
    assert "prepreg.ud150.bulk_factor" in side.missing


def test_a_hard_core_that_may_have_to_be_forced_in_is_told_with_its_spread():
    """40.15 mm leave 3 µm with plies debulked to 1.01: far less than the ± of the stacks."""
    side, _ = shut_in("40.15 mm ± 0.02 (tolerance)", 1.01).zones
    assert -1e-5 < side.interference["width"].value < 0.0
    assert (side.goes_in, side.grade == "use") == (False, False)
    assert says("fill: a hard core that may have to be forced in", "".join(headline(side, "metric")))


def test_core_answers_for_each_zone_of_a_hard_core_by_its_own_direction():
    """40.20 mm grow by 12e-6 /K x 95 K, 27 mm as much (arithmetic); the tool opens along the height."""
    found = core(shut_part(), "part.toml", draws=1000)
    (answer,) = found.cores
    _, *lines = core_words.headline(answer, "metric")
    zones = {zone.zone: zone for zone in answer.zones}
    texts = {name: next(line for line in lines if f"zone {name}," in line) for name in zones}
    assert says("core: a hard core that the tool does not open for", texts["side"])
    assert says("core: contact cold crushes only", texts["cap"])
    assert answer.interference == {
        "width": pytest.approx(-(40.20 + 2 * 20 * 0.1591925 - 46.0) * 1e-3, abs=1e-7)
    }
    assert any(says("core: a hard core that must be forced in", line) for line in lines)
    for name, size in {"side": 40.20, "cap": 27.0}.items():
        assert zones[name].growth.value == pytest.approx(size * 12e-6 * 95 * 1e-3, rel=1e-9)
    assert says(
        "core: growth across a zone", next(core_words.temperature_words(answer, zones["cap"], "metric"))
    )
    told = {zone["zone"]: zone for zone in core_json.ANSWER.json(found)["cores"][0]["zones"]}["side"]
    assert (told["contact_temperature"], told["contact_temperature_together"]) == (None, None)
    assert told["contact_reason"]
    assert told["growth_across"]["value"] == pytest.approx(40.20 * 12e-6 * 95, rel=1e-6)


def test_a_core_that_is_stated_hard_is_not_called_unlike_rubber():
    """12e-6 /K of a core without a material: `acts_as` says what it is."""
    (answer,) = core(shut_part(), "part.toml", draws=1000).cores
    assert answer.stated.material is None
    assert list(core_words.unlikely(answer, "metric")) == []


def test_all_that_a_hard_core_lacks_is_asked_for_at_once():
    def lacking(tables):
        old("PTFE", "31.0 mm")(tables)
        for key in ("offset", "projected_area"):
            tables["core"]["fore"].pop(key, None)
        tables["zone"]["skin"].update(wanted_pressure="0.3 MPa", projected_area="0.01 m^2 (exact)")
        tables["tool"]["clamp_force"] = "900 kN"

    zone = fill(part_of(raw(lacking), "part.toml"), "part.toml", zones=["skin"], draws=1000).zones[0]
    words = closing_words(zone, "metric")[1]
    assert zone.best.verdict == "not judged"
    assert [key in words for key in ("core.fore.offset", "projected area of core fore")] == [True, True]
