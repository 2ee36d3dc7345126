"""A part with its core by widths, 20 plies, no bleed: computed by two other codes that share nothing with the
program (arithmetic), to half the last digit printed.
"""

import pytest


@pytest.fixture(scope="module")
def answer(fore):
    return fore()


def degrees(found):
    return found.value - 273.15


def mpa(answer, name):
    return answer.governing.pressure[name].value / 1e6


def test_where_it_presses_from_and_is_full(answer):
    assert degrees(answer.governing.contact) == pytest.approx(97.78, abs=0.005)
    assert degrees(answer.governing.contact_together) == pytest.approx(95.08, abs=0.005)
    assert degrees(answer.governing.liquid_full) == pytest.approx(111.99, abs=0.005)
    assert answer.governing.window == pytest.approx(111.99 - 97.78, abs=0.01)


def test_pressures_and_clamp(answer):
    assert mpa(answer, "nominal at_gel") == pytest.approx(4.056, abs=5e-4)
    assert mpa(answer, "nominal at_maximum") == pytest.approx(11.914, abs=5e-4)
    assert mpa(answer, "lowest at_gel") == 0.0
    assert mpa(answer, "lowest at_maximum") == pytest.approx(7.504, abs=5e-4)
    assert answer.limits["at_gel"] / 1e6 == pytest.approx(14.3, abs=0.05)
    assert (answer.holds, answer.worst_moment) == (True, "maximum")


def test_the_locked_maximum_is_above_the_clamp_and_said_so(answer):
    assert mpa(answer, "locked_maximum at_gel") == pytest.approx(14.467, abs=5e-4)
    assert mpa(answer, "locked_maximum at_maximum") == pytest.approx(23.234, abs=5e-4)
    assert answer.locked_opens


def test_a_core_heated_from_inside_is_worst_at_gel(fore):
    """Its mean of 155 degC, the tool at 122: 2.412 MPa at gel, 1.834 with the tool at 130 (arithmetic)."""
    from laminate.files.part import part_of
    from laminate.press.cores import core

    raw = {
        "format": 1,
        "part": {"number": "1", "issue": "A"},
        "temperature": {"room": "25 degC", "gel": "122 degC", "cure": "130 degC", "maximum": "130 degC"},
        "fiber": {"f": {"kind": "carbon", "density": "1.80 g/cm^3"}},
        "resin": {"r": {"density": "1.21 g/cm^3", "liquid_density": "1.12 g/cm^3"}},
        "prepreg": {
            "p": {
                "fiber": "f",
                "resin": "r",
                "fiber_areal_weight": "150 g/m^2",
                "resin_content": "34 %",
                "resin_basis": "as received",
                "bulk_factor": 1.1,
            }
        },
        "tool": {"expansion": "23.4e-6 /K"},
        "core": {
            "c": {
                "expansion": "250e-6 /K",
                "bulk_modulus": "0.8 GPa",
                "bulk_modulus_rise": 10,
                "held": "sides",
                "acts_as": "rubber",
                "width": "18.4 mm",
                "temperature": "155 degC",
            }
        },
        "zone": {
            "z": {"cavity": "25.2 mm", "core": "c", "walls": 2, "fill_with": "p", "bleed_limit": "15 %"}
        },
    }
    found = core(part_of(raw, "part.toml"), "part.toml", plies={"z": 17}, draws=200).cores[0]
    pressure = found.governing.pressure
    assert pressure["nominal at_gel"].value / 1e6 == pytest.approx(2.412, abs=5e-4)
    assert pressure["nominal at_maximum"].value / 1e6 == pytest.approx(1.834, abs=5e-4)
    assert found.worst_moment == "gel"
    assert found.state.worst("c") == pressure["nominal at_gel"].value
