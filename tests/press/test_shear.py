"""The ± of a shear is drawn and told like any other; the ± of a limit does not count, and that is said."""

import copy
import math

import pytest

from laminate.files.part import part_of
from laminate.press.cores import core
from laminate.press.filling import fill
from laminate.press.prediction import predict_zone
from laminate.press.press import press_of
from laminate.values.input_key import Key
from tests.fill.test_silence import missing
from tests.fill.test_together import EXAMPLE

SHEAR = Key("zone", "web", "shear")
SPREAD = math.radians(5.0) / 3.0**0.5


def mast(shear, zone="web", edit=lambda raw: None):
    raw = copy.deepcopy(EXAMPLE)
    raw["zone"]["web"]["gap"] = "3.13 mm ± 0.03 (tolerance)"
    raw["zone"][zone]["shear"] = shear
    edit(raw)
    return part_of(raw, "part.toml")


@pytest.mark.parametrize(
    ("shear", "fills", "closes"), [("20 deg", 0.9897, 0.9913), ("20 deg ± 5 (tolerance)", 0.9321, 0.9036)]
)
def test_the_shear_is_drawn(shear, fills, closes):
    """400 000 draws of another code; with 1e5 here two standard errors are 0.002."""
    part = mast(shear)
    (web,) = fill(part, "part.toml", zones=["web"], plies={"web": 20}, inverse=False, draws=100_000).zones
    chance = next(row.chance for row in web.rows if row.plies == 20)
    assert (chance.fills, chance.closes) == pytest.approx((fills, closes), abs=0.0025)


def test_the_shear_stands_in_the_budget():
    """Fiber of a ply: 150 g/m2/cos g, and that times tan g u(g)."""
    predicted = predict_zone(mast("20 deg ± 5 (tolerance)"), "web", 16)
    draped = 0.150 / math.cos(math.radians(20.0))
    assert predicted.value("areal_weight") == pytest.approx(draped, rel=1e-12)
    moved = draped * math.tan(math.radians(20.0)) * SPREAD
    assert predicted.contributions("areal_weight")[SHEAR] == pytest.approx(moved, rel=1e-9)


def pressure(shear):
    (asked,) = core(mast(shear, "skin"), "part.toml", plies={"skin": 19}, draws=20_000).cores
    return asked.governing.pressure["nominal worst"]


def test_the_shear_moves_the_pressure_of_a_core():
    """It adds its slope, of two parts sheared a degree either way, times u(g), in squares: 3.6 MPa."""
    exact, loose = pressure("20 deg"), pressure("20 deg ± 5 (tolerance)")
    slope = (pressure("21 deg").value - pressure("19 deg").value) / math.radians(2.0)
    assert loose.value == exact.value
    assert (loose.u**2 - exact.u**2) ** 0.5 == pytest.approx(slope * SPREAD, rel=0.05)


@pytest.mark.parametrize("shear", ["0 deg", "20 deg"])
def test_a_shear_without_a_spread_is_asked_for_nothing(shear):
    assert missing(lambda raw: raw["zone"]["fore"].update(shear=shear)) == ()
    inputs = press_of(mast(shear), "part.toml").inputs
    assert (SHEAR in inputs.values) is (shear != "0 deg")


@pytest.mark.parametrize(
    ("place", "key", "value"),
    [
        (("zone", "web"), "bleed_limit", "15 % ± 3 (tolerance)"),
        (("zone", "web"), "wanted_pressure", "0.7 MPa ± 0.1 (tolerance)"),
        (("prepreg", "ud150"), "packing_limit", "68 % ± 2 (tolerance)"),
    ],
)
def test_the_spread_of_a_limit_is_said_not_to_count(place, key, value):
    def edit(raw):
        raw[place[0]][place[1]][key] = value

    chances = []
    for change, noted in ((edit, True), (lambda raw: None, False)):
        press = press_of(mast("0 deg", edit=change), "part.toml")
        assert (Key(*place, key) in press.inputs.notes) is noted
        (web,) = fill(press.part, "part.toml", zones=["web"], inverse=False, draws=500).zones
        chances.append([row.chance.all for row in web.rows])
    assert chances[0] == chances[1]


def test_the_pressure_wanted_in_a_room_is_a_limit_too():
    def edit(raw):
        raw["room"]["skin"]["wanted_pressure"] = "0.3 MPa ± 0.1 (tolerance)"

    assert (
        Key("zone", "skin", "wanted_pressure") in press_of(mast("0 deg", edit=edit), "part.toml").inputs.notes
    )
