"""Clamp, wear, hard cores, heating, sizes: what the answer on a core says besides its pressures."""

import math
import tomllib
from pathlib import Path

import pytest

from laminate.files.named_file import NamedFile
from laminate.files.part import part_of, read_part
from laminate.press.cores import core
from laminate.press.curves import along_temperature
from laminate.press.filling import fill
from laminate.press.state import State
from laminate.show.blocks import Sentence
from laminate.show.core_words import core_blocks
from laminate.values.problems import Refused
from tests.messages.wording import begins, reads, says

EXAMPLE = Path(__file__).parents[2] / "examples" / "mast" / "part.toml"


def said(found):
    return "\n".join(block.text for block in core_blocks(found, "metric") if hasattr(block, "text"))


def test_a_weak_clamp_opens_and_flashes(part):
    found = core(part(lambda raw: raw["tool"].update(clamp_force="300 kN")), draws=2000)
    assert found.cores[0].stays_shut is False
    assert not found.good
    assert says("core: a weak clamp opens and flashes", said(found))


def test_the_clamp_bears_every_projected_area_but_a_bladder_by_its_own_pressure(part):
    from laminate.press.press import press_of

    def with_bladder(raw):
        raw["bladder"] = {"b": {"pressure": "0.5 MPa"}}
        raw["zone"]["tip"] = {"bladder": "b", "stack": ["10 ud150"], "projected_area": "0.02 m^2"}

    state = State(press_of(part(with_bladder), "part.toml").at(), {"skin": 20, "web": 20})
    assert state.clamp_limit("fore") == pytest.approx((600e3 - 0.5e6 * 0.02) / 0.042, rel=1e-12)
    assert state.left_out == ()


def test_an_area_that_is_not_given_is_named(part):
    found = core(part(lambda raw: raw["zone"]["web"].pop("projected_area")), draws=2000)
    assert [missing.of for missing in found.cores[0].state.left_out] == ["zone web"]
    assert says("core: an area that is not given is named", said(found))


def test_without_a_clamp_force_nothing_is_said_of_it(part):
    found = core(part(lambda raw: raw["tool"].pop("clamp_force")), draws=2000)
    assert found.cores[0].limits["at_gel"] is None
    assert found.cores[0].stays_shut is None
    assert says("core: without a clamp force nothing is said", said(found))


def test_a_worn_core():
    fresh, worn = (
        core(read_part(NamedFile.at(EXAMPLE))[0], draws=2000, moldings={"fore": n}) for n in (50, 51)
    )
    assert fresh.good
    assert not worn.good
    assert says("core: a worn core", said(worn))


@pytest.mark.parametrize("material", ["PTFE", "nylon 6,6", "aluminium 6061"])
def test_a_hard_core_displaces_and_the_laminate_sets_the_pressure(part, material):
    def hard(raw):
        c = raw["core"]["fore"]
        c.update(material=material, held="no", width="32 mm")
        del c["expansion"]

    found = core(part(hard), draws=2000)
    answer = found.cores[0]
    assert answer.governing.pressure is None
    assert says("core: a hard core displaces and the laminate", answer.governing.reason)
    assert answer.governing.contact is not None
    assert found.good
    assert says("core: a hard core", said(found), material=material)
    assert (answer.forces.at_gel, answer.forces.at_worst) == (None, None)  # nothing computed is no force of 0


def test_a_hard_core_is_not_held_like_rubber(part):
    def hard(raw):
        raw["core"]["fore"].update(material="PTFE", expansion="150e-6 /K", width="31.5 mm")

    with pytest.raises(Refused) as refused:
        core(part(hard), draws=2000)
    assert refused.value.problems[0].place == "core.fore.held"


def test_a_core_that_does_not_go_in_cold(part):
    def wide(raw):
        raw["core"]["fore"].update(material="PTFE", held="no", width="32.6 mm", expansion="150e-6 /K")
        raw["tool"]["closes"] = "cold"

    found = core(part(wide), draws=2000, plies={"skin": 21})
    assert says("core: a core that does not go in cold", said(found))


def test_held_not_at_all_has_contact_alone(part):
    def free(raw):
        raw["core"]["fore"].update(held="no", width="32.2 mm")

    answer = core(part(free), draws=2000).cores[0]
    assert answer.governing.pressure is None
    assert answer.governing.pressure is None
    assert says("core: held not at all has contact alone", answer.governing.reason)
    assert answer.holds is None

    def with_volumes(raw):
        free(raw)
        raw["core"]["fore"].update(volume="1 l", cavity_volume="1.26 l", laminate_area="0.0653 m^2")

    assert core(part(with_volumes), draws=2000).cores[0].governing.pressure["nominal worst"].value > 0


def test_rubber_without_a_modulus_takes_the_tables_and_says_so(part):
    def bare(raw):
        for key in ("bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise"):
            del raw["core"]["fore"][key]

    answer = core(part(bare), draws=2000).cores[0]
    assert answer.governing.pressure["nominal at_gel"].value > 0
    assert any("bulk modulus" in note and "no source" in note for note in answer.governing.not_measured)


def test_a_nameless_core_without_a_modulus_has_no_pressure(part):
    def bare(raw):
        for key in ("bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise", "material"):
            del raw["core"]["fore"][key]

    answer = core(part(bare), draws=2000).cores[0]
    assert answer.governing.pressure is None
    assert reads("core: a nameless core without a modulus", answer.governing.reason)


def test_a_core_heated_through_both_faces_lags(part):
    def heated(raw):
        c = raw["core"]["fore"]
        del c["temperature"]
        c["heating"] = {
            "platen": "125 degC",
            "start": "23 degC",
            "time": "15 min",
            "thickness": "50 mm",
            "diffusivity": "0.11 mm^2/s",
        }

    answer = core(part(heated), draws=2000).cores[0]
    # 50 mm of silicone after 15 min: 45 % of the rise (orders of magnitude in the formulas)
    assert (answer.mean_temperature.value - 296.15) / 102 == pytest.approx(0.45, abs=0.005)
    times, means = zip(*answer.warming, strict=True)
    assert times[0] == 0.0
    assert means[0] == pytest.approx(296.15, abs=1e-9)
    assert list(means) == sorted(means)
    assert means[-1] < 398.15
    assert says("core: a core heated through both faces lags", said(core(part(heated), draws=2000)))


def test_sizes_for_a_wanted_gap(part):
    zone = core(part(), draws=2000, gap_wanted=2.9e-3).cores[0].governing
    tool = 1 + 23.6e-6 * 97
    # by mass: the room of the bare tool less the laminate as it was laid up, cold
    width = (38.6e-3 * tool**3 - 2 * 2.9e-3) / 1.025175**3
    assert zone.gap_asked
    assert zone.cold_width.value == pytest.approx(width, rel=1e-12)
    assert zone.dummy.value == pytest.approx((38.6e-3 - width / 0.998) / 2, rel=1e-9)


@pytest.mark.parametrize("tables", [None, "box"])
def test_a_wanted_gap_is_answered_on_the_plain_screen(part, tables):
    """With core and zone where there are several; without a wish nothing is said of it."""
    asked_of = (
        part() if tables is None else read_part(NamedFile.at(EXAMPLE.parents[1] / tables / "part.toml"))[0]
    )

    def screen(**wish):
        found = core(asked_of, draws=200, **wish)
        return [b.text for b in core_blocks(found, "metric", why=False) if isinstance(b, Sentence)], found

    texts, found = screen(gap_wanted=2.9e-3)
    answered = [text for text in texts if says("core: a wanted gap", text)]
    zones = [zone for each in found.cores for zone in each.zones]
    assert len(answered) == len(zones)
    for zone, text in zip(zones, answered, strict=True):
        assert "2.900 mm" in text
        assert f"{1e3 * zone.cold_width.value:.3f} ±" in text
        assert (f"{zone.zone}: " in text) is (len(zones) > 1)
        assert zone.dummy is None or f"{1e3 * zone.dummy.value:.3f} ±" in text
    assert not any(says("core: a wanted gap", text) for text in screen()[0])


def test_a_wanted_gap_without_a_width_is_answered_too(part):
    def volumes(raw):
        core = {"volume": "1 l", "cavity_volume": "1.26 l", "laminate_area": "0.0653 m^2", "held": "no"}
        raw["core"]["fore"].update(core)

    def free(raw):
        raw["core"]["fore"].update(held="no", width="32.2 mm")

    for edit, why in ((volumes, "volume"), (free, "held")):
        found = core(part(edit), draws=200, gap_wanted=2.9e-3)
        texts = [b.text for b in core_blocks(found, "metric", why=False) if isinstance(b, Sentence)]
        (text,) = [text for text in texts if says("core: a wanted gap, 2", text)]
        assert why in text


def test_without_a_wish_the_core_is_sized_for_the_middle_of_the_window(part):
    zone = core(part(), draws=2000).cores[0].governing
    fiber, liquid = 20 * 0.15 / 1790, 20 * 0.15 / 0.666 * 0.33 / 1120
    assert zone.gap == pytest.approx(fiber + (1 - 0.15 / 2) * liquid, rel=1e-12)


def test_growth_and_clearance_by_hand(part):
    answer = core(part(), draws=2000).cores[0]
    assert answer.free_growth.value == pytest.approx(30.64e-3 * 265e-6 * 95, rel=1e-12)
    assert answer.governing.pull_out.value == pytest.approx(38.6e-3 - 2 * 2.89441e-3 - 30.64e-3, abs=2e-8)


def test_the_locked_maximum_is_never_below_what_the_laminate_presses_unlocked():
    """A bulk factor left out, or below what debulking reaches, makes no stack thinner than its resin."""
    raw = tomllib.loads((EXAMPLE.parents[1] / "box" / "part.toml").read_text("utf-8"))
    for bulk in (1.0, 1.02, 1.10):
        raw["prepreg"]["ud150"]["bulk_factor"] = bulk
        (zone, *_) = core(part_of(raw, "part.toml"), draws=100).cores[0].zones
        for moment in ("at_gel", "at_maximum"):
            nominal, locked = (
                zone.pressure[f"{name} {moment}"].value for name in ("nominal", "locked_maximum")
            )
            assert locked >= nominal > 0.0


def test_locked_the_pressure_rises_by_tenths_of_a_mpa_a_kelvin_and_reaches_the_clamp(part):
    zone = core(part(), draws=2000).cores[0].governing
    assert 0.1e6 < zone.locked_per_kelvin < 1.0e6
    assert zone.contact_together.value < zone.clamp_reached < 273.15 + 130


def test_steam_at_cure_against_the_resin_pressure(part):
    from laminate.values.units import parse

    answer = core(part(), draws=2000, humidity=parse("50 %", "fraction")).cores[0]
    assert answer.steam.stated
    assert answer.steam.water == pytest.approx(0.5 * 0.2322e6, rel=1e-3)
    assert not answer.steam.voids
    # bled to its limit the laminate leaves the gap open at gel: the atmosphere alone presses then
    assert answer.steam.lowest == 101325.0
    assert answer.steam.possible
    assert says("core: steam at cure against the resin", said(core(part(), draws=2000)))


def test_two_zones_of_other_width_on_one_core_are_refused(part):
    def twice(raw):
        raw["zone"]["tail"] = {**raw["zone"]["skin"], "cavity": "38.50 mm"}

    with pytest.raises(Refused) as refused:
        core(part(twice), draws=2000, plies={"skin": 20, "tail": 20})
    assert "[room" in refused.value.problems[0].expected


def test_every_answer_carries_the_cautions(part):
    text = said(core(part(), draws=2000))
    for words in (
        "can overload clamp, bolts and tool",
        "rises steeply with every degree",
        "The locked maximum is a screening value",
        "Hot tooling",
        "fume limits",
        "governing specification, local codes and authorized staff",
    ):
        assert words in text, words


def test_the_curve_starts_at_contact_and_passes_the_highest_temperature(part):
    answer = core(part(), draws=2000).cores[0]
    zone, curve = answer.governing, along_temperature(answer.ask, "fore")
    assert curve.temperature[0] == pytest.approx(zone.contact_together.value - 2.0)
    assert curve.highest == pytest.approx(403.15)
    top = curve.temperature.index(curve.highest)
    assert curve.locked[0] == 0.0
    assert curve.locked[top] == pytest.approx(zone.pressure["locked_maximum at_maximum"].value, rel=1e-9)
    assert curve.nominal[top] == pytest.approx(zone.pressure["nominal at_maximum"].value, rel=1e-9)
    assert all(low <= high for low, high in zip(curve.low, curve.high, strict=True))
    assert math.isfinite(sum(curve.high))


def test_draws_without_any_room_are_said_and_nothing_else():
    """A room of ten times the height: over the tolerances the laminates leave the core nothing."""
    raw = tomllib.loads(EXAMPLE.read_text("utf-8"))
    raw["room"]["skin"]["height"] = "600 mm"
    (zone,) = core(part_of(raw, "part.toml")).cores[0].zones
    assert (zone.pressure, zone.reason != "") == (None, True)


def test_rubber_that_does_not_grow_is_refused_by_fill_too(part):
    """`fill` found 29 plies of the mast that press, forced in cold."""
    for zone in ("skin", "web"):
        with pytest.raises(Refused) as refused:
            fill(part(lambda raw: raw["core"]["fore"].update(expansion="0 /K")), "part.toml", zones=[zone])
        assert [(p.code, p.place) for p in refused.value.problems] == [
            ("core-does-not-grow", "core.fore.expansion")
        ]


@pytest.mark.parametrize(
    ("edit", "place", "found"),
    [
        (
            lambda raw: raw["core"]["fore"].update(expansion="0 /K"),
            "core.fore.expansion",
            "core: what cannot be is refused",
        ),
        (lambda raw: raw["zone"].pop("skin"), "core.fore", "core: what cannot be is refused, 2"),
    ],
)
def test_what_cannot_be_is_refused(part, edit, place, found):
    with pytest.raises(Refused) as refused:
        core(part(edit), "part.toml", draws=2000)
    problem = refused.value.problems[0]
    assert problem.place == place
    assert begins(found, problem.found)


def test_a_core_that_finds_no_room_is_refused(part):
    with pytest.raises(Refused) as refused:
        core(part(), "part.toml", draws=2000, plies={"skin": 200})
    assert (refused.value.problems[0].code, refused.value.problems[0].place) == ("no-room", "core.fore")


def test_a_core_that_never_touches_says_never(part):
    def slim(raw):
        raw["core"]["fore"].update(width="5 mm")

    found = core(part(slim), draws=2000, plies={"skin": 20})
    zone = found.cores[0].governing
    assert zone.contact is None
    assert zone.pressure["locked_maximum at_maximum"].value == 0.0
    assert says("core: a core that never touches says never", said(found))


@pytest.mark.parametrize(
    ("table", "name", "key", "text"),
    [
        ("resin", "epoxy", "liquid_density", "1.12 g/cm^3 ± 0.005 (standard, dof=1)"),
        ("core", "fore", "expansion", "265e-6 /K ± 1e-6 (standard, dof=1)"),
    ],
)
def test_one_degree_of_freedom_leaves_a_range_and_no_deviation(fore, table, name, key, text):
    """Student's t with one degree of freedom has no variance, and single draws may leave the core no room."""

    def pressure(text):
        zone = fore(lambda raw: raw[table][name].update({key: text}), draws=20_000).zones[0]
        return zone.pressure["nominal at_maximum"]

    one, many = pressure(text), pressure(text.replace(", dof=1", ""))
    assert (one.u, many.u is None) == (None, False)
    assert one.value == pytest.approx(many.value, rel=1e-12)
    assert one.low < many.low < many.high < one.high < 2.5 * many.high
