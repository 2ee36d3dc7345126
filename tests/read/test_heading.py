"""What is forgiven in a heading, and what is not."""

from __future__ import annotations

import pytest

from laminate.files.heading import read_heading

READ = [
    ("mass in air [g]", "mass in air", None, "g"),
    ("mass in air (g)", "mass in air", None, "g"),
    ("Mass_In_Air [ g ]", "mass in air", None, "g"),
    ("mass  in\N{NO-BREAK SPACE}air\N{NO-BREAK SPACE}[g]", "mass in air", None, "g"),
    ("mass\nin air\n[g]", "mass in air", None, "g"),
    ("mass in air[g]", "mass in air", None, "g"),
    ("mass in air [g", "mass in air", None, "g"),
    ("mass [g] in air", "mass in air", None, "g"),
    ("mass (in air) [g]", "mass in air", None, "g"),
    ("mass (in air)", "mass in air", None, ""),
    ("mass in air, g", "mass in air", None, "g"),
    ("mass in air / g", "mass in air", None, "g"),
    ("mass in air", "mass in air", None, ""),
    ("density [g/cm^3]", "density", None, "g/cm^3"),
    ("density / g/cm^3", "density", None, "g/cm^3"),
    ("density, g/cm^3", "density", None, "g/cm^3"),
    ("liquid temperature (°C)", "liquid temperature", None, "°C"),
    ("thickness 1 [mm]", "thickness", 1, "mm"),
    ("Thickness_12 (mm)", "thickness", 12, "mm"),
    ("thickness2 [mm]", "thickness", 2, "mm"),
    ("thickness 02 [mm]", "thickness", 2, "mm"),
    ("thickness 3, mm", "thickness", 3, "mm"),
    ("thickness (3) [mm]", "thickness", 3, "mm"),
    ("thickness (3)", "thickness", 3, ""),
    ("crucible again [g]", "crucible again", None, "g"),
    ("crucible mass 2 [g]", "crucible mass", 2, "g"),
]

NOT_KNOWN = [
    ("thickness 0 [mm]", "thickness 0", "mm"),
    ("thickness -1 [mm]", "thickness -1", "mm"),
    ("thickness 1.5 [mm]", "thickness 1.5", "mm"),
    ("crucible agian [g]", "crucible agian", "g"),
    ("mass in air, g, dry", "mass in air, g, dry", ""),
    ("mass in air g", "mass in air g", ""),
    ("mass-in-air [g]", "mass-in-air", "g"),
    ("1", "1", ""),
]


@pytest.mark.parametrize(("text", "name", "number", "unit"), READ)
def test_heading_is_read(text: str, name: str, number: int | None, unit: str, known: frozenset[str]) -> None:
    heading = read_heading(text, 3, known)
    assert (heading.name, heading.number, heading.unit, heading.index) == (name, number, unit, 3)
    assert heading.text == text


@pytest.mark.parametrize(("text", "name", "unit"), NOT_KNOWN)
def test_other_heading_keeps_its_name(text: str, name: str, unit: str, known: frozenset[str]) -> None:
    heading = read_heading(text, 0, known)
    assert (heading.name, heading.number, heading.unit) == (name, None, unit)
    assert heading.name not in known
