"""Zones of one room that state unlike bleeds: each bleeds as it states, and no common bleed is supposed.

Numbers: products of sides, Murnaghan's law and bisection, one other code; MPa, mm and shares.
"""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.advice import core_windows
from laminate.press.curves import along_bleed
from laminate.press.filling import fill
from laminate.press.press import press_of
from laminate.press.pressed import half_width
from laminate.press.pressed_count import PressedCount
from laminate.press.room_question import RoomQuestion
from laminate.press.state import State
from laminate.press.windows import bleed_at_no_pressure, bleed_window
from laminate.show import fill_json
from laminate.show.pressed_words import details
from laminate.values.units import parse
from tests.messages.wording import says

BOX = tomllib.loads((Path(__file__).parents[2] / "examples" / "box" / "part.toml").read_text("utf-8"))


def box(**bleeds):
    raw = copy.deepcopy(BOX)
    for zone, bleed in bleeds.items():
        raw["zone"][zone].pop("bleed")
        raw["zone"][zone].update({"bleed": bleed} if bleed else {})
    return part_of(raw, "part.toml")


def unlike():
    return box(sides="0.5 % ± 0.2 (tolerance)", caps="9 % ± 0.5 (tolerance)")


@pytest.mark.parametrize(
    ("plies", "verdict_of_it", "presses"),
    [
        (20, "not pressed", None),  # 0.3 and 8.5 %: no pressure
        (21, "presses", 0.0820892),  # 0.7 and 9.5 %: 4.34; 0.3 and 8.5 %: 13.46 of 25 at most
        (22, "presses", 0.15),  # 0.3 and 8.5 %: 21.13 of 25; 18.1 % is beyond the bleed limit
        (23, "opens the tool", 0.15),  # 0.7 and 9.5 %: 27.8 of 25
    ],
)
def test_each_zone_bleeds_as_it_states(plies, verdict_of_it, presses):
    press, counts = press_of(unlike(), "part.toml"), {"sides": plies, "caps": 24}
    judged, caps = (PressedCount(press, zone, counts) for zone in ("sides", "caps"))
    assert judged.verdict == caps.verdict == verdict_of_it
    window = judged.window
    assert window.presses == (None if presses is None else pytest.approx(presses, abs=1e-7))
    assert window.beside == {"caps": pytest.approx(0.09)}


def test_the_window_is_that_of_the_zone_with_the_other_as_it_states():
    state = State(press_of(unlike(), "part.toml").at(), {"sides": 21, "caps": 24})
    window = bleed_window(state.press, "box", {"sides": 21, "caps": 24}, zone="caps")
    assert (window.presses, window.beside) == (pytest.approx(0.1360109, abs=1e-7), {"sides": 0.005})
    assert bleed_at_no_pressure(state, "box", "sides") == pytest.approx(0.0871834, abs=1e-7)


@pytest.mark.parametrize(("plies", "widths"), [(20, (39.130044, 39.750004)), (21, (38.839939, 39.454984))])
def test_the_core_presses_at_the_most_of_each_and_holds_at_the_least_of_each(plies, widths):
    (window,) = core_windows(
        PressedCount(press_of(unlike(), "part.toml"), "sides", {"sides": plies, "caps": 24})
    )
    assert [1e3 * width for width in window.width[1:]] == pytest.approx(widths, abs=1e-6)


def test_what_the_others_bleed_is_said():
    (zone,) = fill(
        unlike(), "part.toml", zones=["sides"], plies={"sides": 21}, draws=200, inverse=False
    ).zones
    assert says("fill: what the others bleed", " ".join(details(zone, "metric")))
    told = fill_json.ANSWER.json(fill(unlike(), "part.toml", plies={"sides": 21}, draws=200, inverse=False))
    row = next(row for row in told["zones"][0]["counts"] if row["plies"] == 21)
    assert row["bleed_window"]["zones_held"][0]["zone"] == "caps"


@pytest.mark.parametrize("bleeds", [{}, {"sides": "", "caps": ""}, {"caps": ""}])
def test_zones_that_state_no_other_bleed_share_one(bleeds):
    press = press_of(box(**bleeds), "part.toml")
    window = PressedCount(press, "sides", {"sides": 20}).window
    assert window == bleed_window(press, "box", {"sides": 20})
    assert not window.beside


def test_beside_a_zone_that_states_none_the_other_keeps_its_own():
    """20 and 24 plies, 2 % in the caps: presses up to 9.789 % in the sides, holds with none, 13.8 of 25."""
    press, counts = press_of(box(sides=""), "part.toml"), {"sides": 20, "caps": 24}
    window = PressedCount(press, "sides", counts).window
    assert (window.holds, window.presses) == (0.0, pytest.approx(0.0978904, abs=1e-7))
    assert window.beside == {"caps": pytest.approx(0.02)}


def test_no_picture_has_one_axis_for_unlike_bleeds():
    drawn = []
    for part in (unlike(), box()):
        press = press_of(part, "part.toml")
        drawn.append(along_bleed(RoomQuestion(press, press.room("box"), {"sides": 21, "caps": 24})))
    assert [along is None for along in drawn] == [True, False]


@pytest.mark.parametrize(
    "spread", ["2 (tolerance)", "2 (95 %)", "2 (95 %, dof=2)", "0.4648 (standard, dof=2)"]
)
def test_a_stated_bleed_leaves_open_what_it_says(spread):
    """Student's factor for two degrees of freedom is 4.3027: 95 % are 2 % of bleed to each side."""
    assert half_width(parse(f"3 % ± {spread}", "fraction")) == pytest.approx(0.02, rel=1e-3)
