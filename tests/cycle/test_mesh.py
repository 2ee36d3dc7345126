"""Halving steps and doubling cells changes a planned cycle little; the first to gel is a face."""

from pathlib import Path

import pytest

from laminate.curing import heat_stack, time_grid
from laminate.curing.planned_cycle import planned as planned_zone
from laminate.curing.pressing import vapor_pressure
from laminate.values.units import SIValue

from .planned_shop import PART
from .shop import changed
from .test_planned import NO_CYCLE, PLATEN, bladder, part, times

EXAMPLE = (Path(__file__).parents[2] / "examples" / "cycle" / "part.toml").read_text("utf-8")
COOLED = """[cycle.cooled]
platen = [["0 min", "23 degC"], ["34 min", "115 degC"], ["55 min", "115 degC"], ["70 min", "100 degC"],
          ["300 min", "100 degC"]]
"""
MESHES = {
    "slow": changed(PART, ("31.20 mm", "31.60 mm")),
    "ramp": changed(NO_CYCLE, ("31.20 mm", "31.60 mm")) + "[cycle.ramp]\n" + PLATEN,
    "step": changed(NO_CYCLE, ("31.20 mm", "31.60 mm"))
    + '[cycle.step]\nplaten = [["0 min", "140 degC"], ["120 min", "140 degC"]]\n',
    "hot": EXAMPLE,
    "hold": EXAMPLE,
    "cooled": EXAMPLE[: EXAMPLE.index("[cycle.hold]")] + COOLED,
}


@pytest.mark.parametrize("name", MESHES)
def test_half_the_step_and_twice_the_cells_change_little(tmp_path, name, monkeypatch):
    plan = part(tmp_path, MESHES[name])
    zone = next(iter(plan.zone))
    (coarse,) = planned_zone(plan, name, zone, {}, [None], draws=2)
    monkeypatch.setattr(heat_stack, "CELLS", {layer: 2 * count for layer, count in heat_stack.CELLS.items()})
    for constant, factor in (("STEP", 0.5), ("FAST_STEP", 0.5), ("GROWS", 2.0), ("MOST", 2)):
        monkeypatch.setattr(time_grid, constant, factor * getattr(time_grid, constant))
    (fine,) = planned_zone(plan, name, zone, {}, [None], draws=2)
    assert len(fine.curves.seconds) > 1.8 * len(coarse.curves.seconds)
    for event in ("gel first", "gel last"):
        assert times(coarse)[event] == pytest.approx(times(fine)[event], abs=0.2)
    pressure = fine.applied_pressure_at_gel.value
    assert pressure > 1e6
    assert coarse.applied_pressure_at_gel.value == pytest.approx(pressure, rel=0.03)
    assert coarse.vapor_margin.value == pytest.approx(fine.vapor_margin.value, rel=0.02)
    assert times(coarse)["pressed"] == pytest.approx(times(fine)["pressed"], abs=0.05)


@pytest.mark.parametrize(("thickness", "contact"), [("1 mm", 3000), ("2 mm", 3000), ("3 mm", 10000)])
def test_nothing_is_hotter_than_the_platen_that_heats_it(tmp_path, thickness, contact):
    """Contacts that warm a thin tool in a second, on a platen that is hot from the start."""
    text = changed(
        EXAMPLE[: EXAMPLE.index("[cycle.hold]")],
        ('thickness = "20 mm"', f'thickness = "{thickness}"'),
        (EXAMPLE[(at := EXAMPLE.index("contact = {")) : EXAMPLE.index("}", at) + 1],
         f'contact = {{ platen = "{contact} W/m^2/K", laminate = "{contact} W/m^2/K" }}'),
    )  # fmt: skip
    text += '[cycle.step]\nplaten = [["0 min", "135 degC"], ["120 min", "135 degC"]]\n'
    (found, *_) = planned_zone(part(tmp_path, text), "step", "wall", {}, [None], draws=2)
    curves = found.curves.temperatures
    assert {name: curve.max() - 408.15 for name, curve in curves.items() if curve.max() > 408.16} == {}
    assert max(curve.max() for curve in curves.values()) == pytest.approx(408.15, abs=0.01)


def test_the_first_of_a_laminate_to_gel_is_its_face(tmp_path):
    """The example's hot cycle by other code, a stiff integrator, 120 cells: 16.92 min, 2.49 MPa absolute."""
    found = planned_zone(part(tmp_path, EXAMPLE), "hot", "wall", {}, [None], draws=2)[0]
    assert times(found)["gel first"] == pytest.approx(16.92, abs=0.1)
    assert found.resin_pressure_at_gel.value == pytest.approx(2.49e6, rel=0.08)


@pytest.mark.parametrize("humidity", [None, SIValue(0.3)])
def test_the_margin_begins_when_it_is_pressed(tmp_path, humidity):
    """Where a core's pressure rises through that of the vapor it is 0 then, else an atmosphere less vapor."""
    found = planned_zone(part(tmp_path, EXAMPLE), "hold", "wall", {}, [humidity], draws=2)[0]
    full, pressed = found.event("liquid full"), found.event("pressed")
    gel, least = found.readings["vapor margin at gel"].value, found.vapor_margin
    assert gel == pytest.approx(found.resin_pressure_at_gel.value, rel=0.03)
    if humidity is None:
        assert (least.value, least.u) == (0.0, None)
        assert pressed.time.value > full.time.value
    else:
        assert pressed.time.value == full.time.value
        assert least.value == pytest.approx(101325.0 - 0.3 * vapor_pressure(full.temperature), rel=1e-3)


def test_the_margin_of_a_bladder_begins_at_what_is_needed(tmp_path):
    """Pressed at 3 bar over ambient, on the way to 6."""
    found = planned_zone(part(tmp_path, bladder(5)), "a", "skin", {}, [SIValue(0.3)], draws=2)[0]
    pressed = found.event("pressed")
    least = 101325.0 + 3e5 - 0.3 * vapor_pressure(pressed.temperature)
    assert found.vapor_margin.value == pytest.approx(least, rel=1e-3)
    hotter = 0.3 * vapor_pressure(found.event("gel first").temperature)
    at_gel = found.readings["vapor margin at gel"].value
    assert at_gel == pytest.approx(101325.0 + 6e5 - hotter, rel=1e-3)
