"""Independent arithmetic of the contract: what is printed after the example part, to half the last digit."""

import pytest


@pytest.fixture(scope="module")
def answer(fore):
    return fore()


def degrees(found):
    return found.value - 273.15


def mpa(answer, name):
    return answer.governing.pressure[name].value / 1e6


def test_contact_and_liquid_full(answer):
    assert degrees(answer.governing.contact) == pytest.approx(97, abs=0.5)
    assert degrees(answer.governing.liquid_full) == pytest.approx(111, abs=0.5)


def test_nominal_pressure_and_clamp(answer):
    assert mpa(answer, "nominal at_gel") == pytest.approx(4.8, abs=0.05)
    assert mpa(answer, "nominal at_maximum") == pytest.approx(12.8, abs=0.05)
    assert answer.clamp_limit.value / 1e6 == pytest.approx(14.3, abs=0.05)
    assert not answer.opens


def test_locked_maximum_is_above_the_clamp_and_said_so(answer):
    assert mpa(answer, "locked_maximum at_maximum") == pytest.approx(24, abs=0.5)
    assert answer.locked_opens
