"""Limits that hold exactly, and another solver on random rooms."""

import math
import random
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from laminate.press.state import State
from laminate.press.windows import bleed_at_no_pressure
from laminate.values.input_key import Key

from .parts import box, press, webbed

MAST = {"skin": 20, "web": 20}


def stiff(modulus):
    return press(lambda t: t["core"]["fore"].update(bulk_modulus=f"{modulus} GPa"))


def test_a_stiff_core_is_a_rigid_gap():
    """Bleed at 1 MPa goes to the bleed without pressure as the bulk modulus grows."""
    state = State(stiff(499).at(), MAST, 0.0)
    gone = bleed_at_no_pressure(state, "fore")
    assert gone == pytest.approx(0.05784, abs=0.51e-5)
    found = []
    for modulus in (0.85, 8.5, 85, 499):
        made = stiff(modulus)
        found.append(
            brentq(lambda b, made=made: State(made.at(), MAST, b).pressure("fore") - 1e6, 0.0, gone - 1e-12)
        )
    assert found == sorted(found)
    assert found[-1] == pytest.approx(gone, abs=3e-5)


def test_a_volume_is_its_sizes():
    whole = State(box().at(), bleed=0.02).pressure("box")

    def volume(tables):
        core = tables["core"]["fore"]
        for key in ("width", "height", "length"):
            core.pop(key)
        core["volume"] = f"{39.02 * 26.02 * 599.0:.6f} mm^3"

    def mass(tables):
        volume(tables)
        core = tables["core"]["fore"]
        core.pop("volume")
        core.update(mass=f"{39.02 * 26.02 * 599.0 * 1.25e-3:.9f} g", density="1.25 g/cm^3")

    assert State(box(volume).at(), bleed=0.02).pressure("box") == pytest.approx(whole, rel=1e-6)
    assert State(box(mass).at(), bleed=0.02).pressure("box") == pytest.approx(whole, rel=1e-6)


def test_a_room_by_volume_is_its_sizes():
    """One stack on both walls of 60 x 600 mm in 38.6 mm: its area and the volume of the room say the same."""

    def flat(tables):
        own = tables["core"]["fore"]
        for key in ("held", "offset", "projected_area"):
            own.pop(key)
        own.update(room="box", height="59.9 mm", length="599.5 mm")
        tables["room"] = {
            "box": {"width": "38.60 mm", "height": "60 mm", "length": "600 mm", "opens": "width"}
        }
        skin = tables["zone"]["skin"]
        skin.pop("cavity"), skin.pop("core")
        skin.update(room="box", side="width", walls=2)

    def volume(tables):
        flat(tables)
        tables["room"]["box"] = {"volume": f"{38.6 * 60 * 600!r} mm^3", "projected_area": "0.036 m^2"}
        tables["zone"]["skin"].pop("side")
        tables["zone"]["skin"]["area"] = "0.036 m^2"

    sized, whole = (State(press(edit).at(), {"skin": 21, "web": 20}, 0.02) for edit in (flat, volume))
    for moment in ("gel", "cure", "maximum"):
        assert sized.pressure("box", moment) > 1e6
        assert whole.pressure("box", moment) == pytest.approx(sized.pressure("box", moment), rel=1e-9)


def test_one_core_in_halves_is_one_core():
    def halves(tables):
        core = tables["core"].pop("fore")
        tables["core"] = {name: {**core, "width": "19.51 mm"} for name in ("left", "right")}

    whole = State(box().at(), bleed=0.02)
    cut = State(box(halves).at(), bleed=0.02)
    for moment in ("gel", "cure", "maximum"):
        assert cut.pressure("box", moment) == pytest.approx(whole.pressure("box", moment), rel=1e-12)


def test_no_side_laminates_and_no_clearance_is_the_slab():
    def flat(tables):
        tables["room"] = {
            "box": {"width": "38.60 mm", "height": "60 mm", "length": "600 mm", "opens": "width"}
        }
        own = tables["core"]["fore"]
        for key in ("held", "offset", "projected_area"):
            own.pop(key)
        own.update(room="box", clearance="0 mm")
        skin = tables["zone"]["skin"]
        skin.pop("cavity"), skin.pop("core")
        skin.update(room="box", side="width")

    for bleed in (0.0, 0.02, 0.05):
        slab, room = State(press().at(), MAST, bleed), State(press(flat).at(), MAST, bleed)
        for moment in ("gel", "maximum"):
            assert room.pressure("box", moment) == pytest.approx(slab.pressure("fore", moment), rel=1e-12)


def test_no_bleed_left_is_one_number():
    made = press(lambda t: t["zone"]["skin"].update(bleed_limit="0 %"))
    assert State(made.at(), MAST, 1.0).pressure("fore") == State(made.at(), MAST, 0.0).pressure("fore") > 0


def falls(values):
    return all(a > b for a, b in pairwise(values))


def test_pressure_falls_and_rises():
    def sized(key, table, value):
        return box(lambda t: t[table][{"room": "box", "core": "fore"}[table]].update({key: value}))

    def at(made):
        return State(made.at(), bleed=0.0).pressure("box")

    assert falls([State(box().at(), bleed=b).pressure("box") for b in np.linspace(0, 0.045, 7)])
    assert falls([at(sized("corner_radius", "core", f"{r} mm")) for r in (0, 1, 2)])
    assert falls([at(sized("length", "room", f"{600 + d} mm")) for d in (0, 1, 2)])
    assert falls([at(box(lambda t, h=h: t["tool"].update(temperature=f"{h} degC"))) for h in (110, 120, 130)])
    assert falls([-at(sized("length", "core", f"{597 + d} mm")) for d in (0, 1, 2)])
    assert falls([-at(sized("corner_radius", "room", f"{r} mm")) for r in (3, 4, 6)])
    assert falls([-at(sized("temperature", "core", f"{h} degC")) for h in (114, 118, 122)])
    assert falls(
        [-at(box(lambda t, n=n: t["zone"]["cap"].update(stack=[f"{n} ud150"]))) for n in (24, 25, 26)]
    )


@pytest.mark.parametrize("make", [press, box, webbed])
@pytest.mark.parametrize("bleed", [0.0, 0.03, 0.15])
def test_volume_is_kept_and_the_worst_is_the_worst(make, bleed):
    state = State(make().at(), MAST if make is press else {}, bleed)
    room = state.rooms[0]
    for moment in ("gel", "cure", "maximum"):
        found = state.pressure(room.name, moment)
        assert state.worst(room.name) >= found >= 0
        thick = {zone: state.thickness(zone) for zone in room.zones}
        left = room.left(thick, state.conditions.growth(moment), state.x)
        squeezed = 0.0
        for core in room.cores:
            free = state.conditions.free_volume(room, core, moment)
            k = state.x[Key("core", core.name, "bulk_modulus")]
            squeezed += free * (1 + 10 * found / k) ** (-1 / 10)
        assert squeezed == pytest.approx(left, rel=1e-12) if found > 0 else squeezed <= left * (1 + 1e-12)


def explicit(case, bleed, moment):
    """Pressure from the volume of every laminate and Brent's method: no code of the program."""
    t0, tool, core, t = 296.15, case["tool"], case["core"], case["temperatures"]
    tool_hot, core_hot = t[moment]
    g, big_g = 1 + tool * (tool_hot - t0), 1 + core * (core_hot - t0)
    w, h, length = case["room"]
    thick = {
        key: n * (0.0837988826815642e-3 + (1 - bleed) * case["liquid"]) for key, n in case["plies"].items()
    }
    hot_w, hot_h, hot_l = w * g, h * g, length * g
    side = 2 * thick["side"] * hot_h * hot_l
    cap = 2 * thick["cap"] * (hot_w - 2 * thick["side"]) * hot_l
    over_face = side + cap
    left = hot_w * hot_h * hot_l - over_face / g**2
    free = math.prod(case["sizes"]) * big_g**3
    if free <= left:
        return 0.0
    k, rise = case["modulus"], case["rise"]

    def excess(p):
        return free * math.exp(-math.log1p(rise * p / k) / rise) - left - case["give"] * w * h * length * p

    high = 1e6
    while excess(high) > 0:
        high *= 2
    return brentq(excess, 0.0, high, xtol=1e-9, rtol=1e-15, maxiter=500)


def test_another_solver_on_a_thousand_rooms():
    made = box()
    draw = random.Random(7)
    nominal = made.inputs.numbers()
    liquid = State(made.at(), bleed=0.0).layups["side"].liquid / 20
    pressed = 0
    for _ in range(1000):
        bleed = draw.uniform(0, 0.04)
        gel = (draw.uniform(388, 396), draw.uniform(388, 396))
        case = {
            "tool": draw.uniform(10e-6, 25e-6),
            "core": draw.uniform(250e-6, 280e-6),
            "room": [size + draw.uniform(-2e-4, 2e-4) for size in (46e-3, 34e-3, 600e-3)],
            "sizes": [size + draw.uniform(-1e-4, 2e-4) for size in (39e-3, 26e-3, 599e-3)],
            "modulus": draw.uniform(0.3e9, 2e9),
            "rise": draw.uniform(4, 12),
            "liquid": liquid,
            "plies": {"side": 20, "cap": 24},
            "give": draw.choice([0.0, draw.uniform(0, 1e-9)]),
            "temperatures": {"gel": gel, "maximum": (403.15, 403.15)},
        }
        sizes = ("width", "height", "length")
        named = {str(name): name for name in nominal}
        changed = {
            **{f"room box {what}": value for what, value in zip(sizes, case["room"], strict=True)},
            **{f"core fore {what}": value for what, value in zip(sizes, case["sizes"], strict=True)},
            "tool expansion": case["tool"],
            "core fore expansion": case["core"],
            "core fore bulk modulus": case["modulus"],
            "core fore bulk modulus rise": case["rise"],
            "tool compliance": case["give"],
            "gel temperature": gel[0],
            "core fore temperature": gel[1],
        }
        x = {**nominal, **{named[words]: value for words, value in changed.items()}}
        state = State(made.at(x), bleed=bleed)
        for moment in ("gel", "maximum"):
            used = state.bleed["side"]
            found = state.pressure("box", moment)
            assert found == pytest.approx(explicit(case, used, moment), abs=1e-6, rel=1e-13)
            pressed += found > 0
    assert 500 < pressed < 2000
