"""Heat properties slipped by a unit, and a thickness that contradicts sizes: asked about, never in time."""

import pytest

from laminate.curing.answers import CANNOT, IN_TIME, LATE

from .planned_shop import PART, first
from .shop import changed
from .test_core_log import both

DRAWS = 100
CORE = 'conductivity = "0.25 W/m/K (exact)"\n'
LAMINATE = 'conductivity = "0.6 W/m/K (exact)"\n'


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        (CORE, 'conductivity = "2.5 W/m/K"\n', "[heat.core.fore]"),
        (CORE, f'{CORE}thickness = "1.228 mm"\n', "31.2 mm"),
        (CORE, f'{CORE}thickness = "15.6 mm"\n', "31.2 mm"),
        (LAMINATE, f'{LAMINATE}thickness = "0.3 mm"\n', "[heat.laminate]"),
        (LAMINATE, 'conductivity = "6 W/m/K"\n', "[heat.laminate]"),
        ("1.6e6 J/m^3/K", "1.6e3 J/m^3/K", "[heat.laminate]"),
        ("2.43e6 J/m^3/K", "2.43e7 J/m^3/K", "[heat.tool]"),
        ("167 W/m/K", "1670 W/m/K", "[heat.tool]"),
        ("167 W/m/K", "1.67 W/m/K", "aluminium"),
        ('laminate = "1000 W', 'laminate = "10000 W', "contact.laminate in [heat.core.fore]"),
        ('platen = "1000 W', 'platen = "50000 W', "contact.platen in [heat.tool]"),
    ],
)
def test_a_slip_is_asked_about(tmp_path, old, new, named):
    assert first(tmp_path, PART, draws=DRAWS).verdict == IN_TIME
    found = first(tmp_path, changed(PART, (old, new)), draws=DRAWS)
    assert found.verdict == CANNOT
    assert any(named in words for words in found.why)


@pytest.mark.parametrize(
    ("material", "conductivity"),
    [
        ("aluminium 7075", "130"),
        ("aluminum 6061-T6", "167"),
        ("cast zinc", "110"),
        ("steel P20", "29"),
    ],
)
def test_the_conductivity_of_an_ordinary_tool_is_not_asked_about(tmp_path, material, conductivity):
    text = changed(PART, ("167 W/m/K", f"{conductivity} W/m/K"), ("aluminium 6061", material))
    found = first(tmp_path, text.replace("23.6e-6", "12.5e-6") if "steel" in material else text, draws=DRAWS)
    assert not any("[heat.tool]" in words for words in [*found.why, *found.warnings])


def test_a_thickness_that_agrees_with_the_sizes_is_not_asked_about(tmp_path):
    text = changed(
        PART,
        (CORE, f'{CORE}thickness = "31.2 mm (exact)"\n'),
        (LAMINATE, f'{LAMINATE}thickness = "2.9 mm (exact)"\n'),
    )
    assert first(tmp_path, text, draws=DRAWS).verdict == IN_TIME


def test_a_late_cycle_stays_late_and_says_what_is_odd(tmp_path):
    hot = '[cycle.hot]\nplaten = [["0 min", "158 degC"], ["120 min", "158 degC"]]\n'
    text = changed(
        PART[: PART.index("[cycle.slow]")], ("31.20 mm", "30.60 mm"), ("0.25 W/m/K", "0.025 W/m/K")
    )
    found = first(tmp_path, text + hot, draws=DRAWS)
    assert found.verdict == LATE
    assert any("[heat.core.fore]" in words for words in found.warnings)


def test_a_slip_is_asked_about_in_a_log_as_in_a_plan(tmp_path):
    slipped = changed(PART[: PART.index("[cycle.slow]")], (CORE, 'conductivity = "2.5 W/m/K"\n'))
    found = both(tmp_path, 31.2, part=slipped)
    assert [one.verdict for one in found] == [CANNOT, CANNOT]
    assert all(any("[heat.core.fore]" in words for words in one.why) for one in found)


@pytest.mark.parametrize("modulus", ["0.85 MPa ± 0.2 (tolerance)", "85 GPa ± 20 (tolerance)"])
def test_a_bulk_modulus_that_no_rubber_has_is_asked_about(tmp_path, modulus):
    found = first(tmp_path, changed(PART, ("0.85 GPa ± 0.2 (tolerance)", modulus)), draws=DRAWS)
    assert found.verdict != IN_TIME
    assert any(modulus in words for words in [*found.why, *found.warnings])
