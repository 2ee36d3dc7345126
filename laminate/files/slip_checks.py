"""Values of a part file that contradict what it says itself: a unit or a digit that slipped."""

from __future__ import annotations

from laminate.files.raw_file import Keys, RawFile
from laminate.values.quantities import M2, Unit
from laminate.values.said import Figure, Said, between

FAR, SLACK = 1.5, 2e-6
"""Factor beyond the tables, and step [1/K], up to which a measured expansion is that of its material."""
FAR_AREA = 100.0
"""Factor between the face of a laminate and its area seen as the tool opens: common practice, no source."""
MOST = 2e-3
"""Largest expansion that is read [1/K]."""
PER_KELVIN = Unit("ppm/K", 1e6)


def check_slips(file: RawFile) -> None:
    """Note expansions unlike the material, and areas far apart."""
    for table, _ in file.tables("core.*"):
        _expansion(file, table)
    _expansion(file, ("tool",))
    for table, _ in file.tables("zone.*"):
        _expansion(file, table, "inner_")
        face, seen = (file.value("area", *table, key) for key in ("area", "projected_area"))
        if face and seen and not 1.0 / FAR_AREA <= seen.value / face.value <= FAR_AREA:
            expected = Said("a projected area near that of the face, ", Figure(face.value, M2))
            areas = f"'{seen.text}' beside area '{face.text}'"
            file.say("areas-far-apart", (*table, "projected_area"), areas, expected, "check the unit")


def _expansion(file: RawFile, table: Keys, of: str = "") -> None:
    """An expansion beside a material of the tables is near what they have; of: what both keys begin with."""
    key = f"{of}expansion"
    material, given = file.table(*table).get(f"{of}material"), file.value("expansion", *table, key)
    if given is None or not isinstance(material, str):
        return
    if abs(given.value) > MOST:
        return  # said of the value itself
    if table[0] == "core" and given.value <= 0.0:
        return  # said of the core, that it does not grow
    low, high = tabulated_range(material, given.value)
    known = (low, high) != (given.value, given.value)
    if known and not low / FAR - SLACK <= given.value <= high * FAR + SLACK:
        expected = Said(f"an expansion of {material}, tabulated as ", between(low, high, PER_KELVIN, 3))
        hint = "check unit and digits, or give the material a name of its own"
        file.say("unlike-material", (*table, key), f"'{given.text}' of {material}", expected, hint)


def tabulated_range(material: str, given: float) -> tuple[float, float]:
    """Least and largest expansion of a material in the tables [1/K]; that given where they have none."""
    from laminate.files.reference_tables import find

    try:
        row = find(material, "expansion")
    except LookupError:
        return given, given
    rows = (row, *row.others())
    return min(r.low for r in rows), max(r.high for r in rows)
