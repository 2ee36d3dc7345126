"""The state on columns of draws and on complex numbers: chances of two programs, and exact derivatives."""

import numpy as np
import pytest

from laminate.press.names import GEL
from laminate.press.state import State
from laminate.press.windows import bleed_at_no_pressure, bleed_window, gives_way_at, touch, volume_window
from laminate.values.uncertainty import propagate

from .parts import box, press

DRAWS = 20_000


def stated(tables):
    tables["zone"]["skin"].update(bleed="3 % ± 2 (tolerance)", wanted_pressure="0.3 MPa")


def chances(made, counts, **more):
    def formula(conditions):
        found = {}
        for n in counts:
            state = State(conditions, {"skin": n, "web": 20})
            found[f"{n} pressed"], found[f"{n} holds"] = state.pressed("skin"), state.holds
        return found

    drawn = made.of_draws(DRAWS, 1).simulate(formula, **more)
    return {
        n: [
            100 * float(np.mean(mask))
            for mask in (
                drawn[f"{n} pressed"],
                drawn[f"{n} holds"],
                drawn[f"{n} pressed"].astype(bool) & drawn[f"{n} holds"].astype(bool),
            )
        ]
        for n in counts
    }


def test_chances_of_the_mast():
    """Two programs gave these shares; the sampling error of 20 000 draws is 0.4 points."""
    found = chances(press(stated), (19, 20, 21))
    assert found[19] == pytest.approx([0.5, 100, 0.5], abs=0.4)
    assert found[20] == pytest.approx([72.7, 95.7, 68.4], abs=1.2)
    assert found[21] == pytest.approx([100, 23.5, 23.5], abs=1.2)


def test_a_draw_is_the_state_of_its_numbers():
    made = press(stated)

    def formula(conditions):
        state = State(conditions, {"skin": 20, "web": 20})
        kept = {name: value for name, value in conditions.x.items() if np.ndim(value)}
        return {"P": state.pressure("fore"), "worst": state.worst("fore"), "b": state.bleed["skin"], **kept}

    drawn = made.of_draws(200, 2).simulate(formula)
    for i in range(0, 200, 7):
        x = {name: float(drawn[name][i]) if name in drawn else v for name, v in made.inputs.numbers().items()}
        state = State(made.at(x), {"skin": 20, "web": 20})
        assert state.pressure("fore") == pytest.approx(drawn["P"][i], abs=1e-3)
        assert state.worst("fore") == pytest.approx(drawn["worst"][i], abs=1e-3)
        assert state.bleed["skin"] == pytest.approx(drawn["b"][i], abs=1e-12)


@pytest.mark.parametrize(("make", "bleed"), [(press, 0.02), (press, 0.08), (box, 0.02), (box, 0.08)])
def test_derivatives_are_those_of_differences(make, bleed):
    made = make()
    room = made.rooms[0].name

    def formula(x):
        state = State(made.at(x), {"skin": 20, "web": 20}, bleed)
        return {
            "gel": state.pressure(room) + 0.0 * state.x[GEL],
            "worst": state.worst(room),
            "bleed": state.bleed[made.rooms[0].zones[0]],
            "force": state.worst_force,
            "touch": touch(state, room),
        }

    x = made.inputs.numbers()
    sources = made.inputs.sources()
    found = propagate(formula, x, sources)
    for i, source in enumerate(sources):
        ((name, move),) = source.moves.items()
        step = 1e-3 * move
        up, down = (formula({**x, name: x[name] + sign * step}) for sign in (1, -1))
        for key, result in found.items():
            expected = pytest.approx((up[key] - down[key]) / 2e-3, rel=2e-4, abs=1e-9 * abs(up[key]) + 1e-6)
            assert result.contributions[i, 0] == expected, (key, name)


def new_example(tables):
    """The mast in a room with all that an advice needs."""
    tables["room"] = {
        "skin": {
            "width": "38.60 mm ± 0.03 (tolerance)", "height": "60.00 mm ± 0.03 (tolerance)",
            "length": "600.0 mm ± 0.1 (tolerance)", "corner_radius": "0 mm", "opens": "width",
            "wanted_pressure": "0.3 MPa",
        }
    }  # fmt: skip
    tables["tool"].update(
        clamp_force="900 kN", pressure_limit="25 MPa", expansion="23.6e-6 /K ± 0.3e-6 (tolerance)"
    )
    core = tables["core"]["fore"]
    for key in ("held", "offset", "projected_area"):
        core.pop(key)
    core.update(
        room="skin", width="30.82 mm ± 0.03 (tolerance)", height="59.90 mm ± 0.03 (tolerance)",
        length="599.5 mm ± 0.2 (tolerance)", corner_radius="0 mm", temperature="118 degC ± 1 (tolerance)",
    )  # fmt: skip
    tables["temperature"]["maximum"] = "130 degC ± 2 (tolerance)"
    skin = tables["zone"]["skin"]
    skin.pop("cavity"), skin.pop("core")
    skin.update(room="skin", side="width", bleed="3 % ± 2 (tolerance)")


def test_an_example_that_is_used():
    made = press(new_example)
    found = chances(made, (19, 20, 21))
    assert found[19] == pytest.approx([11.0, 100, 11.0], abs=1.0)
    assert found[20] == pytest.approx([95.8, 99.4, 95.3], abs=0.6)
    assert found[21] == pytest.approx([100, 57.1, 57.1], abs=1.4)
    plies = {"skin": 20, "web": 20}
    state, none = State(made.at(), plies), State(made.at(), plies, 0.0)
    assert state.pressure("skin") == pytest.approx(4.89e6, abs=0.0051e6)
    assert state.worst("skin") == pytest.approx(12.83e6, abs=0.0051e6)
    assert (none.pressure("skin"), none.worst("skin")) == pytest.approx((7.10e6, 15.22e6), abs=0.0051e6)
    assert none.worst_force == pytest.approx(591e3, abs=510)
    assert bleed_at_no_pressure(none, "skin") == pytest.approx(0.0996, abs=0.51e-4)
    window = bleed_window(made, "skin", plies)
    assert (window.holds, window.presses) == (0.0, pytest.approx(0.0952, abs=0.51e-4))
    assert [gives_way_at(s) - 273.15 for s in (none, state)] == pytest.approx([142, 146], abs=0.51)
    room = made.room("skin")
    widths = [
        1e3 * room.core_width(room.cores[0], volume, state.x)
        for volume in volume_window(made, "fore", plies, {"skin": 0.01}, {"skin": 0.05})
    ]
    assert widths == pytest.approx([30.708, 31.067], abs=0.51e-3)
