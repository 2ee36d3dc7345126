"""What a planned curve is before its first point, and after its last."""

import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.values.units import SIValue

from .planned_shop import PART, first
from .test_planned import BLADDER, DRAWS, times


@pytest.mark.parametrize(
    ("points", "verdict", "words"),
    [
        ('["90 min", "6 bar"], ["110 min", "6 bar"]', LATE, 1),
        ('["0 min", "0 bar"], ["89.9 min", "0 bar"], ["90 min", "6 bar"], ["110 min", "6 bar"]', LATE, 0),
        ('["5 min", "6 bar"], ["120 min", "6 bar"]', IN_TIME, 1),
        ('["5 min", "0 bar"], ["6 min", "6 bar"], ["120 min", "6 bar"]', IN_TIME, 0),
        ('["0 min", "6 bar"], ["120 min", "6 bar"]', IN_TIME, 0),
        ('["0 min", "0 bar"], ["10 min", "6 bar"]', IN_TIME, 0),
    ],
)
def test_a_pressure_is_zero_before_its_first_point(tmp_path, points, verdict, words):
    found = first(tmp_path, f"{BLADDER}pressure = [{points}]\n", stored_humidity=SIValue(0.3), draws=DRAWS)
    assert found.verdict == verdict
    assert sum("pressure in [cycle.a]" in line for line in found.warnings) == words
    held = float(points.rpartition('["')[2].split()[0]) < 120.0
    assert any("pressure in [cycle.a]" in line for line in found.screening) is held
    if words and verdict == IN_TIME:
        assert times(found)["pressed"] == pytest.approx(5.0, abs=1e-4)


@pytest.mark.parametrize(
    ("points", "asked"),
    [
        ('["90 min", "118 degC"], ["240 min", "118 degC"]', True),
        ('["5 min", "23 degC"], ["90 min", "118 degC"]', False),
        ('["0 min", "118 degC"], ["240 min", "118 degC"]', False),
    ],
)
def test_how_warm_a_core_is_before_its_first_point_is_asked_for(tmp_path, points, asked):
    found = first(tmp_path, f"{PART}core = {{ fore = [{points}] }}\n", draws=DRAWS)
    assert any("core.fore in [cycle.slow]" in line for line in found.why) is asked
    assert (found.verdict == CANNOT) >= asked
