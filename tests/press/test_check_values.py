"""Pressures of parts computed before by two other programs: product forms with Newton's steps, and explicit
laminate volumes with Brent's method, equal in every digit here. Arithmetic: no published pressures are known.
"""

import pytest

from laminate.formulas import press as formulas
from laminate.press import cold
from laminate.press.state import State
from laminate.press.windows import (
    bleed_at_no_pressure,
    bleed_window,
    gives_way_at,
    touch,
    volume_for,
    volume_window,
)

from .parts import box, in_room, oil, press, tube, webbed

MAST = {"skin": 20, "web": 20}


def mpa(value):
    return pytest.approx(value * 1e6, abs=0.00051e6)


def both(state, room="fore"):
    return state.pressure(room), state.pressure(room, "maximum")


def over_hot_face(state, room, moment, thickness=None):
    """The pressure with the laminate over the grown face of the tool, as by widths (k = 1)."""
    table, conditions = state.press.room(room), state.conditions
    thick = thickness or {zone: state.layups[zone].thickness(state.bleed_given) for zone in table.zones}
    left = table.left(thick, conditions.growth(moment), state.x, cover=1.0)
    free = [conditions.free_volume(table, core, moment) for core in table.cores]
    return conditions.pressure(table, free, left)


@pytest.mark.parametrize(
    ("bleed", "gel", "highest", "thickness", "fiber"),
    [
        (0.0, 4.056, 11.914, 2.8944, 57.90),
        (0.01, 3.340, 11.135, 2.8822, 58.15),
        (0.02, 2.630, 10.364, 2.8700, 58.40),
        (0.03, 1.926, 9.598, 2.8579, 58.64),
        (0.04, 1.229, 8.840, 2.8457, 58.90),
        (0.06, 0.0, 7.504, 2.8239, 59.35),
        (1.0, 0.0, 7.504, 2.8239, 59.35),
    ],
)
def test_mast_by_its_mass(bleed, gel, highest, thickness, fiber):
    state = State(press().at(), MAST, bleed)
    assert both(state) == (mpa(gel), mpa(highest))
    found = state.attributes("skin")
    assert found["thickness"] == pytest.approx(thickness * 1e-3, abs=0.51e-7)
    assert found["fiber_volume"] == pytest.approx(fiber / 100, abs=0.51e-4)
    assert (state.locked("fore"), state.locked("fore", "maximum")) == (mpa(14.467), mpa(23.234))


@pytest.mark.parametrize(
    ("plies", "gel", "highest"), [(19, 0.0, 3.493), (21, 12.620, 21.226), (22, 22.098, 31.530)]
)
def test_mast_with_other_counts(plies, gel, highest):
    assert both(State(press().at(), {"skin": plies, "web": 20}, 0.0)) == (mpa(gel), mpa(highest))


@pytest.mark.parametrize(
    ("bleed", "gel", "highest"),
    [(0.0, 4.806, 12.814), (0.01, 4.080, 12.023), (0.02, 3.360, 11.239), (0.03, 2.647, 10.463),
     (0.04, 1.940, 9.693), (0.06, 0.544, 8.174)],
)  # fmt: skip
def test_mast_over_the_hot_face(bleed, gel, highest):
    state = State(press().at(), MAST, bleed)
    assert over_hot_face(state, "fore", "gel") == mpa(gel)
    assert over_hot_face(state, "fore", "maximum") == mpa(highest)


def test_mast_locked_over_the_hot_face():
    state = State(press().at(), MAST, 0.0)
    laid_up = {"skin": state.layups["skin"].laid_up}
    assert over_hot_face(state, "fore", "gel", laid_up) == mpa(15.365)
    assert over_hot_face(state, "fore", "maximum", laid_up) == mpa(24.312)


def test_mast_temperatures():
    state = State(press().at(), MAST, 0.0)
    found = [
        touch(state, "fore", liquid=li, together=to) - 273.15 for li in (False, True) for to in (False, True)
    ]
    assert found == pytest.approx([97.78, 95.08, 111.99, 111.03], abs=0.0051)


def test_mast_forces_and_clamp():
    state = State(press().at(), MAST, 0.0)
    assert (state.opening_force(), state.opening_force("maximum")) == pytest.approx((170e3, 453e3), abs=510)
    assert state.worst_force == state.opening_force("maximum")
    assert state.clamp_limit("fore") == pytest.approx(14.3e6, abs=0.051e6)
    assert state.clamp_limit("fore", "maximum") == pytest.approx(16.0e6, abs=0.051e6)
    assert gives_way_at(state) - 273.15 == pytest.approx(135.98, abs=0.0051)
    assert gives_way_at(State(press().at(), MAST, 0.03)) - 273.15 == pytest.approx(140.00, abs=0.0051)
    assert state.worst_moment("fore") == "maximum"
    assert state.left_out == ()


def test_mast_tool_behind_its_core():
    state = State(press(lambda t: t["tool"].update(maximum="120 degC")).at(), MAST, 0.03)
    assert state.pressure("fore", "maximum") == mpa(10.390)


@pytest.mark.parametrize(
    ("compliance", "gel", "wide"), [("2e-5", 3.973, 4.706), ("1e-4", 3.673, 4.348), ("1e-3", 1.995, 2.356)]
)
def test_mast_in_a_tool_that_yields(compliance, gel, wide):
    state = State(press(lambda t: t["tool"].update(compliance=f"{compliance} MPa^-1")).at(), MAST, 0.0)
    assert state.pressure("fore") == mpa(gel)
    assert over_hot_face(state, "fore", "gel") == mpa(wide)


def test_mast_windows():
    made = press(lambda t: t["zone"]["skin"].update(wanted_pressure="0.3 MPa"))

    def window(plies):
        return bleed_window(made, "fore", {"skin": plies, "web": 20})

    assert window(19).presses is None
    assert (window(20).holds, window(20).presses) == (0.0, pytest.approx(0.0535, abs=0.51e-4))
    assert (window(21).holds, window(21).presses) == (pytest.approx(0.0656, abs=0.51e-4), 0.15)
    assert window(22).holds is None
    assert bleed_at_no_pressure(State(made.at(), MAST, 0.0), "fore") == pytest.approx(0.05784, abs=0.51e-5)
    assert bleed_at_no_pressure(State(made.at(), {"skin": 19, "web": 20}, 0.0), "fore") is None


def test_mast_core_sizes():
    made = press(lambda t: t["zone"]["skin"].update(wanted_pressure="0.3 MPa"))
    room = made.room("fore")
    for bleed, width in ((0.02, 30.6529), (0.0, 30.6035)):
        state = State(made.at(), MAST, bleed)
        found = room.core_width(room.cores[0], volume_for(state, "fore", 3e6), state.x)
        assert found == pytest.approx(width * 1e-3, abs=0.51e-7)
    bleeds = ({"skin": 0.01}, {"skin": 0.05})
    least, most = volume_window(made, "fore", MAST, *bleeds)
    assert (least, most) == pytest.approx((30.631e-3, 30.775e-3), abs=0.51e-6)
    strong = press(
        lambda t: (
            t["zone"]["skin"].update(wanted_pressure="0.3 MPa"),
            t["tool"].update(clamp_force="900 kN"),
        )
    )
    assert volume_window(strong, "fore", MAST, *bleeds)[1] == pytest.approx(30.989e-3, abs=0.51e-6)


@pytest.mark.parametrize(
    ("size", "clearance", "gel", "highest"),
    [("60", "0", 4.056, 11.914), ("60", "0.05", 2.437, 10.152), ("60", "0.1", 0.845, 8.420),
     ("60", "0.15", 0.0, 6.716), ("60", "0.2", 0.0, 5.041),
     ("40", "0", 4.056, None), ("40", "0.05", 1.638, None), ("40", "0.1", 0.0, None),
     ("40", "0.15", 0.0, None), ("40", "0.2", 0.0, None)],
)  # fmt: skip
def test_clearance_of_the_bare_sides(size, clearance, gel, highest):
    length = {"60": "600 mm", "40": "400 mm"}[size]
    state = State(press(in_room(f"{size} mm", length, clearance)).at(), MAST, 0.0)
    assert state.pressure("box") == mpa(gel)
    if highest is not None:
        assert state.pressure("box", "maximum") == mpa(highest)


@pytest.mark.parametrize(
    ("bleed", "gel", "highest", "wide", "wide_highest"),
    [
        (0.0, 8.118, 16.149, 10.083, 18.504),
        (0.02, 4.765, 12.511, 6.637, 14.755),
        (0.04, 1.540, 9.010, 3.323, 11.148),
    ],
)
def test_box(bleed, gel, highest, wide, wide_highest):
    state = State(box().at(), bleed=bleed)
    assert both(state, "box") == (mpa(gel), mpa(highest))
    assert over_hot_face(state, "box", "gel") == mpa(wide)
    assert over_hot_face(state, "box", "maximum") == mpa(wide_highest)


def test_box_without_pressure_and_locked():
    state = State(box().at(), bleed=0.10)
    assert bleed_at_no_pressure(state, "box") == pytest.approx(0.04982, abs=0.51e-5)
    assert both(state, "box") == (0.0, mpa(7.339))
    assert state.bleed["side"] == pytest.approx(0.04982, abs=0.51e-5)
    assert (state.locked("box"), state.locked("box", "maximum")) == (mpa(34.743), mpa(45.038))


def test_box_area_counts_the_laminates():
    assert State(box().at(), bleed=0.0).press.room("box").projected_area(
        box().inputs.numbers()
    ) == pytest.approx(0.0276)


@pytest.mark.parametrize(("caps", "expected"), [((23,), 4.929), ((20,), 0.0)])
def test_box_with_unequal_caps(caps, expected):
    def change(tables):
        tables["zone"]["cap"]["walls"] = 1
        tables["zone"]["lower"] = {**tables["zone"]["cap"], "stack": [f"{caps[0]} ud150"]}

    state = State(box(change).at(), bleed=0.0)
    assert over_hot_face(state, "box", "gel") == mpa(expected)


def test_box_with_caps_along_its_length():
    def change(tables):
        tables["zone"]["cap"]["share"] = "60 %"
        tables["zone"]["end"] = {**tables["zone"]["cap"], "share": "40 %", "stack": ["22 ud150"]}

    state = State(box(change).at(), bleed=0.0)
    assert over_hot_face(state, "box", "gel") == mpa(1.985)


def test_box_one_millimeter_longer():
    state = State(box(lambda t: t["room"]["box"].update(length="601 mm")).at(), bleed=0.02)
    assert over_hot_face(state, "box", "gel") == mpa(5.124)


@pytest.mark.parametrize(
    ("tool", "core", "expected"),
    [("3", "0", 4.795), ("6", "0", 11.690), ("0", "1", 4.009), ("0", "2", 1.775), ("6", "3", 4.580)],
)
def test_box_with_round_edges(tool, core, expected):
    def change(tables):
        tables["room"]["box"]["corner_radius"] = f"{tool} mm"
        tables["core"]["fore"]["corner_radius"] = f"{core} mm"

    assert State(box(change).at(), bleed=0.02).pressure("box") == mpa(expected)


def test_two_cores_and_a_web():
    state = State(webbed().at(), bleed=0.0)
    assert state.pressure("box") == mpa(6.206)
    assert over_hot_face(state, "box", "gel") == mpa(6.707)
    assert over_hot_face(state, "box", "maximum") == mpa(14.166)
    assert over_hot_face(State(webbed().at(), bleed=0.03), "box", "gel") == mpa(5.261)
    colder = State(webbed(lambda t: t["core"]["aft"].update(temperature="108 degC")).at(), bleed=0.0)
    assert over_hot_face(colder, "box", "gel") == mpa(3.515)


@pytest.mark.parametrize(
    ("bleed", "gel", "wide"), [(0.0, 3.621, 4.462), (0.03, 1.344, 2.151), (0.06, 0.0, 0.0)]
)
def test_round_room(bleed, gel, wide):
    state = State(tube().at(), bleed=bleed)
    assert state.pressure("box") == mpa(gel)
    assert over_hot_face(state, "box", "gel") == mpa(wide)


@pytest.mark.parametrize(
    ("tool", "mass", "locked", "wide", "wide_locked"),
    [
        ("122", 2.412, 16.978, 3.378, 18.207),
        ("130", 1.834, 16.286, 2.873, 17.608),
        ("135", 1.474, 15.857, 2.558, 17.235),
    ],
)
def test_oil_heated(tool, mass, locked, wide, wide_locked):
    state = State(oil(lambda t: t["tool"].update(temperature=f"{tool} degC")).at(), {"skin": 17}, 0.0)
    assert (state.pressure("fore"), state.locked("fore")) == (mpa(mass), mpa(locked))
    assert over_hot_face(state, "fore", "gel") == mpa(wide)
    assert over_hot_face(state, "fore", "gel", {"skin": state.layups["skin"].laid_up}) == mpa(wide_locked)


def test_oil_heated_core_is_never_taken_colder_than_it_was():
    state = State(oil().at(), {"skin": 17}, 0.0)
    assert state.worst_moment("fore") == "gel"
    assert state.worst("fore") == mpa(2.412)


def test_hard_core():
    def hard(tables):
        tables["core"]["fore"] = {
            "material": "PTFE", "expansion": "150e-6 /K", "held": "no", "width": "20.0 mm",
            "temperature": "155 degC",
        }  # fmt: skip

    state = State(oil(hard).at(), {"skin": 16})
    assert state.gap("skin") == pytest.approx(2.4336e-3, abs=0.51e-7)
    assert state.pressure("fore") is None
    found = [State(oil(hard).at(), {"skin": n}).bleed["skin"] for n in (15, 16, 17)]
    assert found == [0.0, pytest.approx(0.0033, abs=0.51e-4), pytest.approx(0.133, abs=0.51e-3)]


def test_debulk_floor():
    layup = State(press().at(), MAST, 0.0).layups["skin"]
    floor = formulas.debulk_floor(fiber=layup.fiber, liquid=layup.liquid, cured=layup.cured)
    assert floor == pytest.approx(1.038, abs=0.51e-3)
    colder = layup.liquid * 1.12 / 1.18
    assert formulas.debulk_floor(fiber=layup.fiber, liquid=colder, cured=layup.cured) == pytest.approx(
        1.014, abs=0.51e-3
    )


def test_resin_film_is_liquid_when_hot():
    film = {"areal_weight": "60 g/m^2", "thickness": "0.05 mm", "counts_as": "resin"}

    def change(tables):
        tables["layer"]["film"].update(film)
        tables["zone"]["skin"]["stack"] = ["1 film"]

    layup, bare = (State(press(edit).at(), MAST, 0.0).layups["skin"] for edit in (change, None))
    assert layup.thickness(0.0) - bare.thickness(0.0) == pytest.approx(0.0536e-3, abs=0.51e-7)
    assert layup.laid_up - bare.laid_up == pytest.approx(0.05e-3)


@pytest.mark.parametrize(
    ("thickness", "bleed", "gel", "highest"), [(2.860, 0.028, 2.05, 9.73), (2.830, 0.053, 0.34, 7.87)]
)
def test_what_a_measured_thickness_tells(thickness, bleed, gel, highest):
    layup = State(press().at(), MAST, 0.0).layups["skin"]
    found = layup.bleed_of(thickness * 1e-3)
    assert found == pytest.approx(bleed, abs=0.51e-3)
    state = State(press().at(), MAST, {"skin": found})
    assert both(state) == (pytest.approx(gel * 1e6, abs=0.0051e6), pytest.approx(highest * 1e6, abs=0.0051e6))


def test_vapor_and_absolute_pressure():
    state = State(press().at(), MAST, 0.06)
    assert state.conditions.needed("skin") == pytest.approx(0.097e6, abs=510)
    assert state.resin_pressure("skin") == formulas.AMBIENT
    empty = State(press(lambda t: t["tool"].update(evacuated="yes")).at(), MAST, 0.06)
    assert empty.resin_pressure("skin") == 0.0
    assert State(press().at(), MAST, 0.0).resin_pressure("skin") == mpa(4.056 + 0.101325)


def test_cold_clearances():
    state = State(press().at(), MAST, 0.0)
    up = 20 * 0.1591925e-3
    assert cold.clearance(state, "fore") == {"width": pytest.approx(38.60e-3 - 2 * up - 30.64e-3, abs=1e-9)}
    assert cold.pull_out(state, "fore")["width"] == pytest.approx(
        (38.60 - 2 * 2.8944 - 30.64) * 1e-3, abs=2e-7
    )
    assert state.cold_pressure(state.press.room("fore")) == 0.0
