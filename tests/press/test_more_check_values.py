"""Further figures of the same parts: over the hot face (k = 1), sensitivities, verdicts, clearances, limits.

Computed before by two other programs (arithmetic), but where one is named. No published pressures are known.
"""

import math

import pytest
from scipy.optimize import brentq

from laminate.formulas import press as formulas
from laminate.press.names import GEL
from laminate.press.pressed_count import PressedCount
from laminate.press.state import State
from laminate.press.windows import bleed_window
from laminate.values.input_key import Key

from .parts import box, in_room, oil, press, tube
from .test_check_values import MAST, mpa, over_hot_face


def over_hot(state, room, thickness, tool, core):
    """Room left less the free core, the laminate over the grown face (k = 1) [m^3]."""
    table, conditions = state.press.room(room), state.conditions
    left = table.left(thickness, conditions.growth_at(tool), state.x, cover=1.0)
    return left - sum(
        conditions.cold_volume(table, one) * conditions.core_growth_at(one.name, core) ** 3
        for one in table.cores
    )


def gone_over_hot_face(made, room, plies):
    """Bleed at which no pressure is left at gel, by k = 1."""
    state = State(made.at(), plies, 0.0)
    tool = state.conditions.tool_temperature("gel")
    core = state.conditions.core_temperature(state.press.room(room).cores[0].name, "gel")

    def spare(bleed):
        thick = {zone: state.layups[zone].thickness(bleed) for zone in state.press.room(room).zones}
        return over_hot(state, room, thick, tool, core)

    return brentq(spare, 0.0, 0.2, xtol=1e-12)


def test_no_pressure_is_left_over_the_hot_face():
    gone = gone_over_hot_face(press(), "fore", MAST)
    assert gone == pytest.approx(0.06790, abs=0.51e-5)
    state = State(press().at(), MAST, 0.0)
    thick = {"skin": state.layups["skin"].thickness(gone)}
    assert over_hot_face(state, "fore", "maximum", thick) == mpa(7.581)
    assert gone_over_hot_face(box(), "box", {}) == pytest.approx(0.06086, abs=0.51e-5)


def test_temperatures_over_the_hot_face():
    state = State(press().at(), MAST, 0.0)
    gel = state.x[GEL]
    found = []
    for thick in (state.layups["skin"].laid_up, state.layups["skin"].thickness(0.0)):
        for together in (False, True):

            def spare(t, thick=thick, together=together):
                return over_hot(state, "fore", {"skin": thick}, t if together else gel, t)

            found.append(brentq(spare, 300.0, 450.0, xtol=1e-9) - 273.15)
    assert found == pytest.approx([96.63, 94.13, 110.91, 109.94], abs=0.0051)


def test_a_stiffer_core_bleeds_toward_the_rigid_gap():
    """Bleed at 1 MPa and k = 1 for K of 0.85, 8.5, 85 and 8500 GPa; the rigid gap would bleed 6.790 %."""
    made, found = press(), []
    x = made.inputs.numbers()
    for modulus in (0.85e9, 8.5e9, 85e9, 8500e9):
        stiff = {**x, Key("core", "fore", "bulk_modulus"): modulus}

        def excess(bleed, stiff=stiff):
            state = State(made.at(stiff), MAST, 0.0)
            thick = {"skin": state.layups["skin"].thickness(bleed)}
            return over_hot_face(state, "fore", "gel", thick) - 1e6

        found.append(brentq(excess, 0.0, 0.06790, xtol=1e-10))
    assert found == pytest.approx([0.05343, 0.06644, 0.06775, 0.06790], abs=0.51e-5)


@pytest.mark.parametrize(
    ("name", "half", "moves", "digit"),
    [
        (Key("prepreg", "ud150", "resin_content"), 0.01, (3.2, 1.9), 0.1),
        (Key("prepreg", "ud150", "areal_weight"), 2e-3, (2.1,), 0.1),
        (Key("core", "fore", "temperature"), 2.0, (1.4,), 0.1),
        (Key("core", "fore", "expansion"), 5e-6, (1.2,), 0.1),
        (Key("resin", "epoxy", "liquid_density"), 20.0, (1.2,), 0.1),
        (Key("core", "fore", "width"), 3e-5, (0.85,), 0.01),
        (Key("zone", "skin", "cavity"), 3e-5, (0.79,), 0.01),
        (Key("core", "fore", "bulk_modulus"), 0.2e9, (0.5,), 0.1),
    ],
)
def test_how_far_each_tolerance_moves_the_pressure(name, half, moves, digit):
    """At 3 % bleed, of 1.93 MPa [MPa], where no pressure is below 0; one number for both ways. One code."""
    made = press()
    x, at = made.inputs.numbers(), State(made.at(), MAST, 0.03).pressure("fore")
    both = [State(made.at({**x, name: x[name] + s * half}), MAST, 0.03).pressure("fore") for s in (1, -1)]
    found = sorted(abs(value - at) / 1e6 for value in both)
    assert (both[0] - at) * (both[1] - at) < 0
    for moved in moves:
        assert found[0] - 0.51 * digit <= moved <= found[1] + 0.51 * digit
    if len(moves) == 2:
        assert found == pytest.approx(sorted(moves), abs=0.51 * digit)


def test_how_far_the_bleed_moves_it():
    low, middle, high = (State(press().at(), MAST, b).pressure("fore") / 1e6 for b in (0.01, 0.03, 0.05))
    assert (low - middle, high - middle) == pytest.approx((1.4, -1.4), abs=0.051)
    more = [State(press().at(), {"skin": 21, "web": 20}, b).pressure("fore") / 1e6 for b in (0.0, 0.15)]
    assert more == pytest.approx([12.6, 0.9], abs=0.051)


def wanted(tables):
    tables["zone"]["skin"]["wanted_pressure"] = "0.3 MPa"


def stated(tables):
    wanted(tables)
    tables["zone"]["skin"]["bleed"] = "3 % ± 2 (tolerance)"


@pytest.mark.parametrize(
    ("edit", "verdicts"),
    [
        (stated, ["not pressed", "presses", "opens the tool", "opens the tool"]),
        (wanted, ["not pressed", "depends on the bleed", "depends on the bleed", "opens the tool"]),
    ],
)
def test_verdicts_of_the_mast(edit, verdicts):
    """19 to 22 plies, 0.3 MPa wanted, 600 kN."""
    made = press(edit)
    assert [PressedCount(made, "skin", {"skin": n, "web": 20}).verdict for n in (19, 20, 21, 22)] == verdicts


def test_a_window_without_a_bleed_limit():
    made = press(lambda t: (wanted(t), t["zone"]["skin"].update(bleed_limit="30 %")))
    assert bleed_window(made, "fore", {"skin": 21, "web": 20}).presses == pytest.approx(0.159, abs=0.51e-3)


def test_one_millimeter_of_end_room_takes_off_almost_one_and_a_half():
    """1 mm in 600 mm is 0.17 % of the volume and 1.4 to 1.5 MPa."""
    made = [State(press(in_room("60 mm", length, "0")).at(), MAST, 0.0) for length in ("600 mm", "601 mm")]
    sizes = [state.press.room("box").bare(state.x) for state in made]
    assert sizes[1] / sizes[0] - 1 == pytest.approx(0.0017, abs=0.51e-4)

    def shimmed(millimeters):
        """The core as it is, the room longer."""

        def edit(tables):
            in_room("60 mm", f"{600 + millimeters} mm", "0")(tables)
            core = tables["core"]["fore"]
            core.pop("clearance")
            core.update(height="60 mm", length="600 mm")

        return State(press(edit).at(), MAST, 0.0)

    fall = (shimmed(0).pressure("box") - shimmed(1).pressure("box")) / 1e6
    assert 1.35 <= fall <= 1.55


def test_corners_counted_twice_would_press_far_too_hard():
    """Four-walled box, k = 1: 10.083 MPa where the laminates meet once, 58.3 where they overlap."""
    state = State(box().at(), bleed=0.0)
    g, big = (
        state.conditions.growth("gel"),
        state.conditions.core_growth_at("fore", state.x[Key("core", "fore", "temperature")]),
    )
    w, h, length = (size * g for size in (46e-3, 34e-3, 600e-3))
    side, cap = (state.layups[zone].thickness(0.0) for zone in ("side", "cap"))
    free = 39.02e-3 * 26.02e-3 * 599.0e-3 * big**3
    once = (w - 2 * side) * (h - 2 * cap) * length
    twice = w * h * length - 2 * side * h * length - 2 * cap * w * length
    found = [
        formulas.pressure(cores=[free], bulk_moduli=[0.85e9], bulk_modulus_rises=[10.0], room=room, give=0.0)
        for room in (once, twice)
    ]
    assert found[0] == mpa(10.083)
    assert found[1] / 1e6 == pytest.approx(58.3, abs=0.051)


def test_the_laminate_over_a_hot_face_is_more_than_was_laid_up():
    """0.46 % for aluminum from 23 to 120 degC."""
    g = State(press().at(), MAST, 0.0).conditions.growth("gel")
    assert g**2 - 1 == pytest.approx(0.0046, abs=0.51e-4)


def test_a_hard_core_is_filled_by_so_many_plies():
    def hard(tables):
        tables["core"]["fore"] = {
            "material": "PTFE", "expansion": "150e-6 /K", "held": "no", "width": "20.0 mm",
            "temperature": "155 degC",
        }  # fmt: skip

    found = []
    for n in (15, 16, 17):
        state = State(oil(hard).at(), {"skin": n})
        found.append(state.layups["skin"].thickness(0.0) / state.gap("skin"))
    assert found == pytest.approx([0.9389, 1.0015, 1.0641], abs=0.51e-4)


def test_laminates_beside_a_core_press_the_tool_too():
    """Box: 0.0276 m2 of core and laminates, 0.0234 of the core alone; 18 % more."""
    area = box().room("box").projected_area(box().inputs.numbers())
    core = 39.02e-3 * 599.0e-3
    assert (area, core) == pytest.approx((0.0276, 0.0234), abs=0.51e-4)
    assert area / core - 1 == pytest.approx(0.18, abs=0.005)


def test_pressure_falls_with_the_clearance():
    found = [
        State(press(in_room("60 mm", "600 mm", c)).at(), MAST, 0.0).pressure("box", "maximum")
        for c in ("0", "0.03", "0.06", "0.1", "0.2")
    ]
    assert found == sorted(found, reverse=True)
    assert len(set(found)) == len(found)


def test_a_round_room_loses_no_volume():
    """Core and laminate by mass fill it: area of the cold wall, once, times the thickness."""
    state = State(tube().at(), bleed=0.0)
    g = state.conditions.growth("gel")
    thick = state.thickness("skin")
    inner = math.pi / 4 * (40e-3 * g - 2 * thick) ** 2 * 500e-3 * g
    whole = math.pi / 4 * (40e-3 * g) ** 2 * 500e-3 * g
    laminate = (whole - inner) / g**2
    core = math.pi / 4 * 35.3e-3**2 * 499.5e-3
    grown = core * state.conditions.core_growth_at("fore", state.x[Key("core", "fore", "temperature")]) ** 3
    squeezed = grown * (1 + 10 * state.pressure("box") / 0.85e9) ** -0.1
    assert squeezed + laminate == pytest.approx(whole, rel=1e-12)
