"""A number of `uncertainties` in several inputs of a planned cycle is one error in all of them."""

import re
import tomllib

import pytest
from uncertainties import ufloat

import laminate as lam
from laminate.curing.draws import Columns, generator
from laminate.values.units import SIValue

from .planned_shop import PART

DRAWS = 1000


def part(changes):
    made = tomllib.loads(re.sub(r" ± \w+ \(tolerance\)", " (exact)", PART))
    made["cycle"] = {"slow": made["cycle"]["slow"]}
    for (table, name, key), value in changes.items():
        made[table][name][key] = value
    return made


def widths(room, core):
    return {("room", "tube", "width"): (38.6 + room, "mm"), ("core", "fore", "width"): (31.2 + core, "mm")}


def pressure(room, core):
    zone = lam.cycle(part(widths(room, core)), draws=DRAWS).to_dict()["zones"][0]
    return zone["applied_pressure_at_gel"]["standard_uncertainty"]


def test_one_error_in_two_sizes_adds_up_or_cancels():
    """Variances of a + b and of a - b sum to twice those of two errors (JCGM 100:2008, equation 16)."""
    x, y = ufloat(0, 0.02, tag="caliper"), ufloat(0, 0.02)
    alike, against, apart = pressure(x, x), pressure(x, -x), pressure(x, y)
    assert alike < 0.7 * apart < 0.7 * against
    assert alike**2 + against**2 == pytest.approx(2.0 * apart**2, rel=0.05)


def test_one_error_of_all_points_of_a_platen_is_that_of_the_curve():
    def platen(first, second, third):
        return {("cycle", "slow", "platen"): [["0 min", first], ["45 min", second], ["120 min", third]]}

    x = ufloat(0, 2.0)
    given = part(platen((23 + x, "degC"), (125 + x, "degC"), (125 + x, "degC")))
    typed = part(platen(*(f"{warm} degC ± 2 (standard)" for warm in (23, 125, 125))))
    zones = [lam.cycle(each, draws=200).to_dict()["zones"] for each in (given, typed)]
    assert zones[0] == zones[1]
    gel = next(event for event in zones[0][0]["events"] if event["event"] == "gel first")
    assert gel["time"]["standard_uncertainty"] > 0.5


def test_its_own_error_and_those_it_shares_are_causes_of_their_own():
    columns = Columns(generator(), 20_000)
    first = SIValue(10.0, 5.0, shape="normal", shared=(("tape", 4.0),))
    second = SIValue(20.0, 2.0, shape="normal", shared=(("tape", -2.0),))
    a, b = columns.of("a", first), columns.of("b", second)
    assert set(columns.inputs) == {"a", "tape"}
    assert (a[0], b[0]) == (10.0, 20.0)
    assert columns.inputs["a"].std() == pytest.approx(3.0, rel=0.02)
    assert a[1:] - columns.inputs["a"] == pytest.approx(-2.0 * (b[1:] - 20.0))
    assert a[1:].std() == pytest.approx(5.0, rel=0.02)
