"""Pressures against the balance itself, and what each state of the laminate means."""

import pytest

from laminate.formulas.press import compression
from laminate.press.core_results import MOMENTS
from laminate.press.cores import Stacks
from laminate.press.press import press_of
from laminate.press.state import State
from laminate.press.windows import touch
from tests.messages.wording import says

ROOM, GEL, CORE, TOP = 23.0, 120.0, 118.0, 130.0
TOOL, RUBBER = 23.6e-6, 265e-6
COUNTS = {"skin": 20, "web": 20}
STATES = ("lowest", "nominal", "locked_maximum")
FIBER, RESIN = 20 * 0.15 / 1790, 20 * 0.15 / 0.666 * 0.33
FULL, LAID_UP = FIBER + RESIN / 1120, 1.1 * (FIBER + RESIN / 1220)


def worst(core):
    """Its largest nominal pressure [Pa]."""
    return max(core.governing.pressure[f"nominal {moment}"].value for moment in MOMENTS)


@pytest.fixture(scope="module")
def state(part):
    return State(press_of(part(), "part.toml").at(), COUNTS, 0.0)


@pytest.mark.parametrize("moment", ["gel", "maximum"])
@pytest.mark.parametrize("locked", [False, True])
def test_the_pressure_balances_the_volumes(state, locked, moment):
    """A square meter of the skin: the core under pressure and what was laid up fill the hot tool."""
    pressure = state.locked("fore", moment) if locked else state.pressure("fore", moment)
    core, tool = (CORE, GEL) if moment == "gel" else (TOP, TOP)
    squeezed = compression(pressure=pressure, bulk_modulus=0.85e9, bulk_modulus_rise=10)
    filled = 30.64e-3 * (1 + RUBBER * (core - ROOM)) ** 3 * squeezed + 2 * (LAID_UP if locked else FULL)
    assert filled == pytest.approx(38.6e-3 * (1 + TOOL * (tool - ROOM)) ** 3, rel=1e-12)


def test_lowest_nominal_locked_rise_and_so_do_they_with_heat(fore):
    found = {n: p.value for n, p in fore(plies={"skin": 20}).governing.pressure.items()}
    for moment in MOMENTS:
        lowest, nominal, locked = (found[f"{state} {moment}"] for state in STATES)
        assert lowest < nominal < locked
    for state in STATES:
        assert found[f"{state} at_gel"] < found[f"{state} at_maximum"]


def test_where_the_gap_is_not_closed_nothing_presses(fore):
    assert fore().governing.pressure["lowest at_gel"].value == 0.0


@pytest.mark.parametrize("liquid", [False, True])
@pytest.mark.parametrize("together", [False, True])
def test_at_contact_core_and_stack_fill_the_tool(state, liquid, together):
    at = touch(state, "fore", liquid=liquid, together=together) - 273.15
    filled = 30.64e-3 * (1 + RUBBER * (at - ROOM)) ** 3 + 2 * (FULL if liquid else LAID_UP)
    tool = at if together else GEL
    assert filled == pytest.approx(38.6e-3 * (1 + TOOL * (tool - ROOM)) ** 3, rel=1e-11)


def test_a_yielding_cavity_takes_pressure_off(fore):
    twenty = {"skin": 20}
    rigid = fore(plies=twenty)
    soft = fore(lambda raw: raw["tool"].update(compliance="0.0005 MPa^-1"), plies=twenty)
    pressed = {name: one for name, one in rigid.governing.pressure.items() if one.value}
    assert pressed
    for name, pressure in pressed.items():
        assert soft.governing.pressure[name].value < pressure.value


def volumes(raw):
    raw["core"]["fore"].update(volume="1 l", cavity_volume="1.26 l", laminate_area="0.0653 m^2")


@pytest.mark.parametrize("locked", [False, True])
def test_volumes_balance(part, locked):
    state = State(press_of(part(volumes), "part.toml").at(), COUNTS, 0.0)
    pressure = state.locked("fore", "maximum") if locked else state.pressure("fore", "maximum")
    squeezed = compression(pressure=pressure, bulk_modulus=0.85e9, bulk_modulus_rise=10)
    filled = 1e-3 * (1 + RUBBER * 107) ** 3 * squeezed + 0.0653 * (LAID_UP if locked else FULL)
    assert filled == pytest.approx(1.26e-3 * (1 + TOOL * 107) ** 3, rel=1e-12)


def test_inserts_of_a_volume_balance_press_harder(fore):
    def inserted(raw):
        volumes(raw)
        raw["core"]["fore"].update(insert_volume="2 cm^3", insert_expansion="12.5e-6 /K")

    more, less = fore(inserted), fore(volumes)
    assert worst(more) > worst(less)


def test_without_a_laminate_area_the_zones_give_it(fore):
    def by_zone(raw):
        volumes(raw)
        del raw["core"]["fore"]["laminate_area"]
        raw["zone"]["skin"]["area"] = f"{0.0653 / 2!r} m^2"

    assert worst(fore(by_zone)) == pytest.approx(worst(fore(volumes)), rel=1e-12)


def test_every_stated_tolerance_widens_the_pressure(fore):
    def exact(raw):
        c = raw["core"]["fore"]
        c.update(expansion="265e-6 /K", bulk_modulus="0.85 GPa", width="30.64 mm")

    loose, tight = (a.governing.pressure["nominal at_maximum"] for a in (fore(), fore(exact)))
    assert tight.u < loose.u
    assert loose.low < loose.value < loose.high
    assert tight.value == loose.value


def test_the_chance_of_opening_counts_the_draws_above_the_clamp(fore):
    found = fore(draws=20_000).governing.pressure
    assert found["nominal at_maximum"].above_clamp == pytest.approx(0.15, abs=0.02)
    assert found["locked_maximum at_maximum"].above_clamp > 0.9


def test_the_highest_temperature_takes_its_tolerance_in(fore):
    plain = fore(plies={"skin": 20})
    wider = fore(
        lambda raw: raw["temperature"].update(maximum="130 degC ± 3 (tolerance)"), plies={"skin": 20}
    )
    assert wider.highest_temperature == plain.highest_temperature
    spread = [answer.governing.pressure["nominal worst"].u for answer in (plain, wider)]
    assert spread[1] > spread[0]  # drawn, not added
    at_cure = fore(lambda raw: raw["temperature"].pop("maximum"), plies={"skin": 20})
    assert at_cure.highest_temperature == pytest.approx(273.15 + 125)


def test_a_stack_not_known_as_laid_up_is_taken_liquid_full_and_said_so(part):
    from laminate.press.cores import core
    from laminate.values.units import SIValue

    answer = core(part(), "part.toml", stacks=Stacks(SIValue(3.0e-3)), draws=2000).cores[0].governing
    assert answer.contact == answer.liquid_full
    assert not any(state.startswith("lowest") for state in answer.pressure)
    assert any(says("core: a stack not known as laid up is taken", note) for note in answer.not_measured)
    both = core(part(), "part.toml", stacks=Stacks(SIValue(3.0e-3), SIValue(3.18e-3)), draws=2000).cores[0]
    assert both.governing.pressure["locked_maximum at_maximum"].value > worst(both)
