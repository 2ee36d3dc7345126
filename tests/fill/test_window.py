"""The closing window, what opens it, the nearest two counts: each change, made, does what it says."""

import re

import pytest

from laminate.press.closing_window import least_bulk_factor
from laminate.press.filling import make_case
from laminate.show.fill_answer import change_words, headline, ways_words
from laminate.values.problems import Refused
from tests.messages.wording import says


def no_bleed(raw):
    raw["zone"]["web"]["bleed_limit"] = "2 %"
    raw["zone"]["skin"]["bleed_limit"] = "2 %"


def shut_cold(raw):
    raw["tool"]["closes"] = "cold"
    raw["zone"]["web"]["bleed_limit"] = "15 %"


def millimeters(value):
    return f"{1e3 * value!r} mm"


def test_an_open_window_holds_the_gap(zone):
    answer = zone("web")
    window = answer.window
    assert window.open
    assert window.smallest_hot_gap.value <= answer.hot_gap.value <= window.largest_hot_gap.value
    assert window.smallest_cold_gap is None
    assert window.what_opens_it == ()
    assert answer.nearest == ()
    assert answer.bleed_rule is None


def test_where_none_fits_two_counts_are_near(zone):
    answer = zone("web", no_bleed)
    assert answer.use is None
    assert [(near.plies, near.verdict) for near in answer.nearest] == [(19, "too few"), (20, "too many")]
    few, many = answer.nearest
    assert few.change < 0 < many.change
    assert not answer.window.open
    assert answer.bleed_rule > 0.02


@pytest.mark.parametrize("which", [0, 1])
def test_the_gap_that_would_make_them_fit_does(zone, which):
    near = zone("web", no_bleed).nearest[which]
    inside = near.to_fit["gap"] + 1e-9 * (1 if near.change > 0 else -1)

    def changed(raw):
        no_bleed(raw)
        raw["zone"]["web"]["gap"] = millimeters(inside)

    answer = zone("web", changed)
    assert answer.use.plies == near.plies
    assert answer.hot_gap.value - zone("web", no_bleed).hot_gap.value == pytest.approx(near.change, abs=2e-9)


@pytest.mark.parametrize("what", ["cavity", "core width"])
@pytest.mark.parametrize("which", [0, 1])
def test_so_does_cavity_or_core(zone, what, which):
    near = zone("skin", no_bleed).nearest[which]
    middle = near.to_middle[what]

    def changed(raw):
        no_bleed(raw)
        if what == "cavity":
            raw["zone"]["skin"]["cavity"] = millimeters(middle)
        else:
            raw["core"]["fore"]["width"] = millimeters(middle)

    assert zone("skin", changed).use.plies == near.plies


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", ["web", "skin"])
def test_sizes_as_they_are_printed_do_what_they_say(zone, row, name, units):
    """Rounded to the micrometer or a tenth of a mil, toward the side that fits."""
    answer = zone(name, no_bleed)
    text = "".join(headline(answer, units))
    sizes = re.findall(r"a (cold gap|cavity|core) of ([\d.]+ (?:mm|in))", text)
    each = len(sizes) // len(answer.nearest)
    assert each == {"web": 1, "skin": 2}[name]
    for i, (what, size) in enumerate(sizes):

        def changed(raw, what=what, size=size):
            no_bleed(raw)
            if what == "core":
                raw["core"]["fore"]["width"] = size
            else:
                raw["zone"][name]["gap" if what == "cold gap" else what] = size

        assert row(zone(name, changed), answer.nearest[i // each].plies).verdict == "fits"
    assert not re.search(r"by 0\.0+ ", text)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_bleed_limit_and_a_bulk_factor_as_they_are_printed_open_it(zone, units):
    def printed(edit, what):
        (way,) = [o for o in zone("web", edit).window.what_opens_it if o.what == what]
        return re.findall(r"\d+\.\d+", change_words(way, units))

    def debulked(raw):
        dense(raw)
        raw["prepreg"]["ud150"]["bulk_factor"] = float(printed(dense, "bulk factor")[1])

    bled = f"{printed(no_bleed, 'bleed limit')[0]} %"
    assert zone("web", lambda raw: raw["zone"]["web"].update(bleed_limit=bled)).use.plies == 20
    assert zone("web", debulked).use.plies == 20


def test_a_longer_bleed_path_opens_it(zone):
    way = next(o for o in zone("web", no_bleed).window.what_opens_it if o.what == "bleed limit")
    assert way.change == pytest.approx(way.needed - 0.02)
    answer = zone("web", lambda raw: raw["zone"]["web"].update(bleed_limit=f"{100 * way.needed + 1e-9!r} %"))
    assert answer.use.plies == way.plies == 20


def test_a_tool_shut_cold_needs_room_for_the_stack_as_laid_up(zone):
    answer = zone("web", shut_cold)
    assert answer.use is None
    window = answer.window
    assert window.plies == 20
    assert window.smallest_cold_gap.value == pytest.approx(window.shortfall + 3.0532e-3 - 0.0068e-3, abs=2e-7)
    assert window.shortfall > 0
    assert {(o.what, o.plies) for o in window.what_opens_it} == {("closes", 20)}
    assert all(near.change is None and near.to_fit == {} for near in answer.nearest)


def bare(raw):
    shut_cold(raw)
    raw["zone"]["web"]["stack"] = []


def dense(raw):
    bare(raw)
    raw["resin"]["epoxy"]["uncured_density"] = "1.18 g/cm^3"


def test_no_debulk_is_advised_that_nobody_can_reach(zone, part):
    """Arithmetic: a ply holds 0.0838 mm of fiber, and of resin 0.0664 mm hot and liquid, 0.0609 mm cured.

    So debulking ends at 1.038; at 1.014 where the cold uncured resin has 1.18 g/cm3, for 0.0630 mm.
    """

    def floor(edit):
        case = make_case(part(edit), "web", "part.toml", None, None)
        return least_bulk_factor(case, 20, case.inputs.numbers())

    assert (floor(bare), floor(dense)) == pytest.approx((1.038, 1.014), abs=0.51e-3)
    needed = 2.95 / (20 * (0.0837989 + 0.0609216))
    assert 1.014 < needed < 1.038
    advised = next(o for o in zone("web", dense).window.what_opens_it if o.what == "bulk factor")
    assert advised.needed == pytest.approx(needed, abs=1e-5)
    assert all(o.what != "bulk factor" for o in zone("web", bare).window.what_opens_it)
    for edit in (bare, dense):
        for gap in ("2.90 mm", "2.93 mm", "2.95 mm", "2.98 mm", "3.02 mm"):

            def narrow(raw, edit=edit, gap=gap):
                edit(raw)
                raw["zone"]["web"]["gap"] = gap

            told = zone("web", narrow, draws=1000).window.what_opens_it
            assert all(o.needed >= floor(edit) for o in told if o.what == "bulk factor")


def test_debulking_as_far_as_it_says_opens_it(zone):
    way = next(o for o in zone("web", dense).window.what_opens_it if o.what == "bulk factor")
    assert way.now == pytest.approx(1.10)

    def debulked(raw):
        dense(raw)
        raw["prepreg"]["ud150"]["bulk_factor"] = way.needed - 1e-9

    assert zone("web", debulked).use.plies == 20


def test_a_core_leaves_room_cold_and_closes_hot(zone):
    answer = zone("skin", shut_cold)
    assert answer.use.plies == 20
    assert answer.window.open
    assert answer.window.shortfall < 0
    laid_up = 1.1 * 20 * (0.15 / 1790 + 0.15 / 0.666 * 0.33 / 1220)
    assert answer.window.smallest_cold_gap.value == pytest.approx(laid_up, rel=1e-9)


def test_two_zones_that_take_one_core_by_its_width_are_refused(zone):
    def shared(raw):
        no_bleed(raw)
        raw["zone"]["tail"] = dict(raw["zone"]["skin"])

    with pytest.raises(Refused) as refusal:
        zone("skin", shared)
    assert "core fore" in refusal.value.problems[0].place


def test_an_off_centre_core_opens_with_room_on_both_sides(zone):
    def aside(raw):
        raw["core"]["fore"]["offset"] = "0.095 mm"
        raw["zone"]["skin"]["bleed_limit"] = "15 %"

    answer = zone("skin", aside)
    assert answer.use is None
    way = next(o for o in answer.window.what_opens_it if o.what == "core width")

    def mended(raw):
        aside(raw)
        raw["core"]["fore"]["width"] = millimeters(way.needed + (1e-9 if way.change > 0 else -1e-9))

    assert zone("skin", mended).use.plies == way.plies


def bleeding(limit):
    return lambda raw: raw["zone"]["web"].update(bleed_limit=limit)


@pytest.mark.parametrize("limit", ["1 %", "2 %", "3 %"])
@pytest.mark.parametrize("which", [0, 1])
def test_the_chance_of_a_gap_that_would_make_them_fit_is_that_of_the_gap_when_made(zone, row, limit, which):
    near = zone("web", bleeding(limit)).nearest[which]

    def made(raw):
        raw["zone"]["web"].update(
            bleed_limit=limit, gap=f"{1e3 * near.to_fit['gap']!r} mm ± 0.03 (tolerance)"
        )

    then = row(zone("web", made), near.plies).chance
    assert near.chance == pytest.approx(then.fills + then.closes - 1.0, abs=1e-9)
    assert 0.05 <= near.chance < 0.5


def test_no_gap_is_named_where_it_cannot_fill_and_close_with_its_tolerance(zone):
    """Without bleed a count fits one gap alone: what opens it is bleed, enough for the tolerances."""
    answer = zone("web", bleeding("0 %"))
    assert [(near.plies, near.to_fit, near.to_middle) for near in answer.nearest] == [
        (19, {}, {}),
        (20, {}, {}),
    ]
    ways = [way for way in answer.window.what_opens_it if way.what != "closes"]
    assert [way.what for way in ways] == ["bleed limit"]
    opened = zone("web", bleeding(f"{100 * ways[0].needed!r} %"))
    chance = next(row.chance for row in opened.rows if row.plies == ways[0].plies)
    assert chance.fills + chance.closes - 1.0 >= 0.05


def test_without_any_tolerance_the_gap_that_is_filled_is_named(zone):
    def exact(raw):
        bleeding("0 %")(raw)
        strip(raw)

    def strip(table):
        for key, value in table.items():
            if isinstance(value, dict):
                strip(value)
            elif isinstance(value, str) and " ± " in value:
                table[key] = value.split(" ± ")[0]
        table.pop("ply_scatter", None)

    answer = zone("web", exact)
    assert [sorted(near.to_fit) for near in answer.nearest] == [["gap"], ["gap"]]


@pytest.mark.parametrize("limit", ["0 %", "2 %", "3 %"])
def test_the_chance_of_a_bleed_path_is_that_of_the_count_once_it_is_made(zone, row, limit):
    """Just enough for the nominal gap is too little half of the time: it would fit, it would not do."""
    answer = zone("web", bleeding(limit))
    (way,) = [way for way in answer.window.what_opens_it if way.what == "bleed limit"]
    then = zone("web", bleeding(f"{100 * way.needed!r} %"))
    assert way.chance == pytest.approx(row(then, way.plies).chance.all, abs=0.01)
    assert 0.4 < way.chance < 0.6
    assert then.grade != "use"
    words = ways_words(answer, "metric")
    assert says("fill: a way out that would fit", words)
    assert not says("fill: a way out that would do", words)


def test_a_way_out_would_do_where_the_count_is_then_used(zone):
    """Asked about 21 plies, 20 are used; with a doubt about an input nothing is."""
    asked = zone("web", bleeding("15 %"), plies={"web": 21})
    (other,) = [way for way in asked.window.what_opens_it if way.what == "ply count"]
    assert (other.plies, other.chance, asked.grade) == (20, asked.use.chance.all, "use")
    assert says("fill: a way out that would do", ways_words(asked, "metric"))

    def doubted(raw):
        bleeding("15 %")(raw)
        raw["prepreg"]["ud150"]["packing_limit"] = "100 %"  # doubted: no fibers pack so

    less = zone("web", doubted, plies={"web": 21})
    assert less.missing
    assert not says("fill: a way out that would do", ways_words(less, "metric"))
