"""The tabulated values against what the sources print, typed here from the sources a second time."""

import csv
import re
import tomllib
from importlib.resources import files

import pytest

from laminate.files import reference_tables as materials
from laminate.files.part import Core
from laminate.files.reference_tables import (
    KINDS,
    PROPERTIES,
    UNITS,
    SourcesDisagree,
    catalog_entry,
    find,
    listing,
)
from laminate.press.material import acts_as_rubber
from tests.messages.wording import says

REFERENCE = files("laminate.reference")
TABLES = sorted(f.name.removesuffix(".csv") for f in REFERENCE.iterdir() if f.name.endswith(".csv"))
CALLISTER = "Callister and Rethwisch, Fundamentals of Materials Science and Engineering"


def head(table: str) -> dict[str, object]:
    return tomllib.loads((REFERENCE / f"{table}.toml").read_text("utf-8"))


def rows(table: str) -> list[dict[str, str]]:
    return list(csv.DictReader((REFERENCE / f"{table}.csv").read_text("utf-8").splitlines()))


def row_of(name: str, property: str, table: str) -> materials.Material:
    """What one table says, by its file or its short title."""
    (row,) = (m for m in listing(property=property, text=name) if table in (m.file, m.source))
    return row


# Callister, app. B.6: read
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("silicone rubber", 270e-6, 270e-6),
        ("PTFE", 126e-6, 216e-6),
        ("nylon 6,6", 144e-6, 144e-6),
        ("aluminium 6061", 23.6e-6, 23.6e-6),
        ("aluminium 7075", 23.4e-6, 23.4e-6),
        ("steel 4140", 12.3e-6, 12.3e-6),
        ("steel A36", 11.7e-6, 11.7e-6),
        ("stainless steel 304", 17.2e-6, 17.2e-6),
    ],
)
def test_expansion_taken_by_default_is_that_of_callister_b6(name: str, low: float, high: float) -> None:
    found = find(name, "expansion")
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)
    assert found.value == pytest.approx((low + high) / 2, rel=1e-12)
    assert (found.unit, found.file, found.how_known) == ("1/K", "callister-b6", "read")
    assert found.title.startswith(CALLISTER)
    assert found.table.startswith("B.6")


# supplier data sheet: read
def test_6061_expansion_over_two_ranges_of_temperature() -> None:
    sheet = [m for m in listing(property="expansion", text="6061") if m.file == "aluminium-6061-sheet"]
    assert {m.conditions: m.value for m in sheet} == pytest.approx(
        {"20 to 100 degC": 23.6e-6, "20 to 300 degC": 25.2e-6}, rel=1e-12
    )


# P-20 High Hard data sheet: read. 7.0e-6 per degF is 12.6e-6 per K; common practice says about 12.5
def test_p20_is_printed_per_degree_fahrenheit_and_held_per_kelvin() -> None:
    found = find("P20", "expansion")
    assert (found.printed, found.printed_unit, found.conditions) == ("7.0", "1e-6/degF", "70 to 400 degF")
    assert found.value == pytest.approx(7.0e-6 * 9 / 5, rel=1e-12)
    assert found.value == pytest.approx(12.5e-6, rel=0.02)


# Ma et al., J. Mater. Eng. 51(12) (2023) 151: read
def test_silica_filled_silicone_stays_one_compound() -> None:
    found = find("silicone rubber with 60 phr silica", "expansion")
    assert found.value == pytest.approx(210e-6, rel=1e-12)
    assert says("materials: silica filled silicone stays one", found.remark)


# HexPly 8552 product data, physical properties: read
def test_8552_product_data() -> None:
    assert find("8552", "density").value == 1300.0
    assert row_of("AS4", "density", "prepreg-8552-sheet").value == 1790.0
    assert row_of("IM7", "density", "8552 product data").value == 1770.0


# NRC/NAP 1824 table 3-1: read. Gibson (1994), Jang (ASM 1994): second-hand, in pages that reprint the tables
@pytest.mark.parametrize(
    ("name", "gibson", "nrc", "jang"),
    [
        ("E-glass", 2540, 2400, 2540),
        ("S-glass", 2490, 2400, 2480),
        ("standard-modulus carbon", 1800, 1800, 1770),
        ("intermediate-modulus carbon", 1770, 1800, None),
        ("aramid 49", 1470, 1440, 1450),
    ],
)
def test_three_fiber_tables_are_kept_apart(name: str, gibson: int, nrc: int, jang: int | None) -> None:
    found = {m.file: m.value for m in listing(kind="fiber", property="density") if m.name == name}
    assert (found["fibers-gibson"], found["fibers-nrc-1824"], found.get("fibers-jang")) == (gibson, nrc, jang)
    with pytest.raises(SourcesDisagree) as raised:
        find(name, "density")
    said = str(raised.value)
    assert "Gibson (1994)" in said
    assert all(f"{m.shown} ({m.source}" in said for m in listing(property="density") if m.name == name)


# no source: common practice
@pytest.mark.parametrize(
    ("name", "property", "low", "high", "unit"),
    [
        ("silicone rubber", "bulk_modulus", 0.6e9, 1.2e9, "Pa"),
        ("silicone rubber", "bulk_modulus_rise", 10, 10, "1"),
        ("silicone rubber", "diffusivity", 1.1e-7, 1.1e-7, "m^2/s"),
        ("silicone rubber", "expansion", 200e-6, 300e-6, "1/K"),
        ("nylon 6,6", "expansion", 88e-6, 149e-6, "1/K"),
        ("nylon 6,6", "moisture", 0.025, 0.035, "1"),
        ("steel P20", "expansion", 12.5e-6, 12.5e-6, "1/K"),
        ("cured laminate through thickness", "expansion", 30e-6, 60e-6, "1/K"),
    ],
)
def test_orders_of_magnitude_say_that_they_have_no_source(
    name: str, property: str, low: float, high: float, unit: str
) -> None:
    found = row_of(name, property, "common practice")
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)
    assert (found.unit, found.how_known) == (unit, "no source")
    assert "no source" in found.note()


def test_orders_of_magnitude_hold_nothing_else() -> None:
    assert sum(m.how_known == "no source" for m in listing()) == 8


def test_nothing_without_a_source_is_preferred_over_a_source() -> None:
    assert not [m for m in listing() if m.preferred and m.how_known == "no source"]


@pytest.mark.parametrize("table", TABLES)
def test_every_table_declares_its_origin_and_its_units(table: str) -> None:
    origin = head(table)
    for field in ("title", "short", "edition", "table", "page", "read_in", "how_known"):
        assert isinstance(origin[field], str), field
        assert origin[field], field
    assert origin["how_known"] in ("read", "second-hand", "from memory", "no source")
    columns = origin["columns"]
    assert isinstance(columns, dict)
    assert columns
    assert set(columns) <= set(PROPERTIES)
    assert set(columns.values()) <= set(UNITS)
    fixed = {"material", "printed_name", "conditions", "preferred", "remark"}
    for line in rows(table):
        assert set(line) == fixed | set(columns), f"{table}: {line}"
        assert line["printed_name"], f"{table}: {line}"
        assert line["preferred"] in ("", "yes"), f"{table}: {line}"
        assert any(line[column] for column in columns), f"{table}: {line}"
        for column in columns:
            assert re.fullmatch(r"(\d+(\.\d+)?(–\d+(\.\d+)?)?)?", line[column]), f"{table}: {line}"


def test_every_head_has_its_table_and_the_other_way_round() -> None:
    heads = {f.name.removesuffix(".toml") for f in REFERENCE.iterdir() if f.name.endswith(".toml")}
    assert heads - {"materials"} == set(TABLES)
    shorts = [head(table)["short"] for table in TABLES]
    assert len(set(shorts)) == len(shorts)


def test_every_material_has_a_use_and_a_value_and_no_spelling_means_two() -> None:
    catalog = tomllib.loads((REFERENCE / "materials.toml").read_text("utf-8"))
    assert {m.name for m in listing()} == set(catalog)
    owners: dict[str, str] = {}
    for name, entry in catalog.items():
        assert entry["kind"], name
        assert set(entry["kind"]) <= set(KINDS), name
        for spelling in (name, *entry["spellings"]):
            assert owners.setdefault(materials._key(spelling), name) == name, spelling


def test_a_rubber_is_compressed_as_a_material_that_has_a_bulk_modulus() -> None:
    for name in {m.name for m in listing()}:
        entry = catalog_entry(name)
        assert entry["name"] == name
        assert set(entry) <= {"name", "kind", "spellings", "acts_as", "compressed_as"}, name
        assert entry.get("acts_as", "rubber") == "rubber", name
        if other := entry.get("compressed_as"):
            assert "acts_as" in entry, name
            assert find(other, "bulk_modulus").unit == "Pa"
            assert find(other, "bulk_modulus_rise").unit == "1"


def test_a_rubber_is_one_by_its_entry_whatever_it_is_called(monkeypatch) -> None:
    entry = {"kind": ["core"], "spellings": ["FVMQ"], "acts_as": "rubber"}
    monkeypatch.setitem(materials._catalog(), "fluorosilicone", entry)
    monkeypatch.setitem(materials._spellings(), "fvmq", "fluorosilicone")
    assert acts_as_rubber(Core(material="FVMQ", expansion="250e-6 /K"))
    assert not acts_as_rubber(Core(material="PTFE", expansion="150e-6 /K"))
    assert not acts_as_rubber(Core(material="FVMQ", expansion="250e-6 /K", acts_as="hard"))


def test_low_value_and_high_stand_in_order() -> None:
    for m in listing():
        assert 0 < m.low <= m.value <= m.high, m


def test_at_most_one_row_is_preferred_for_each_property_of_a_material() -> None:
    preferred = [(m.name, m.property) for m in listing() if m.preferred]
    assert len(set(preferred)) == len(preferred)


def test_only_fiber_densities_leave_the_choice_open() -> None:
    left_open = set()
    for name, property in {(m.name, m.property) for m in listing()}:
        try:
            find(name, property)
        except SourcesDisagree:
            left_open.add((find_kind(name), property))
    assert left_open == {("fiber", "density")}


def find_kind(name: str) -> str:
    return next(m.kind for m in listing() if m.name == name)


# the same figures in the second column that each source prints
@pytest.mark.parametrize(
    ("name", "property", "table", "low", "high", "in_si", "half_digit"),
    [
        ("silicone rubber", "expansion", "callister-b6", 150, 150, 1.8e-6, 0.5),
        ("PTFE", "expansion", "callister-b6", 70, 120, 1.8e-6, 0.5),
        ("nylon 6,6", "expansion", "callister-b6", 80, 80, 1.8e-6, 0.5),
        ("epoxy", "expansion", "callister-b6", 45, 65, 1.8e-6, 0.5),
        ("aluminium 6061", "expansion", "callister-b6", 13.1, 13.1, 1.8e-6, 0.05),
        ("aluminium 7075", "expansion", "callister-b6", 13.0, 13.0, 1.8e-6, 0.05),
        ("steel A36", "expansion", "callister-b6", 6.5, 6.5, 1.8e-6, 0.05),
        ("steel 1020", "expansion", "callister-b6", 6.5, 6.5, 1.8e-6, 0.05),
        ("steel 4140", "expansion", "callister-b6", 6.8, 6.8, 1.8e-6, 0.05),
        ("stainless steel 304", "expansion", "callister-b6", 9.6, 9.6, 1.8e-6, 0.05),
        ("Invar", "expansion", "callister-b6", 0.9, 0.9, 1.8e-6, 0.05),
        ("PTFE", "density", "callister-b1", 0.0783, 0.0783, 27679.9, 0.0002),
        ("E-glass", "density", "callister-b1", 0.0931, 0.0931, 27679.9, 0.0002),
        ("standard-modulus carbon", "density", "callister-b1", 0.0643, 0.0643, 27679.9, 0.0002),
        ("aramid 49", "density", "callister-b1", 0.0520, 0.0520, 27679.9, 0.0002),
        ("E-glass", "density", "fibers-gibson", 0.092, 0.092, 27679.9, 0.0005),
        ("S-glass", "density", "fibers-gibson", 0.090, 0.090, 27679.9, 0.0005),
        ("standard-modulus carbon", "density", "fibers-gibson", 0.065, 0.065, 27679.9, 0.0005),
        ("intermediate-modulus carbon", "density", "fibers-gibson", 0.064, 0.064, 27679.9, 0.0005),
        ("aramid 49", "density", "fibers-gibson", 0.053, 0.053, 27679.9, 0.0005),
        ("epoxy 8552", "density", "prepreg-8552-sheet", 0.047, 0.047, 27679.9, 0.0005),
        ("steel 4140", "youngs_modulus", "callister-b2", 30, 30, 6.894757e9, 0.5),
        ("stainless steel 304", "youngs_modulus", "callister-b2", 28, 28, 6.894757e9, 0.5),
        ("nylon 6,6", "youngs_modulus", "callister-b2", 0.230, 0.550, 6.894757e9, 0.001),
        ("aluminium 7075", "youngs_modulus", "callister-b2-appendix", 10.3, 10.3, 6.894757e9, 0.05),
    ],
)
def test_both_printed_columns_agree(
    name: str, property: str, table: str, low: float, high: float, in_si: float, half_digit: float
) -> None:
    found = row_of(name, property, table)
    assert (found.low / in_si, found.high / in_si) == pytest.approx((low, high), abs=half_digit)


# ASTM F1684-06 (2021), table 5 and X2.1: second-hand
def test_invar_rises_with_the_range_and_lies_within_the_limits_of_the_standard() -> None:
    rows_of_standard = [m for m in listing(property="expansion", text="Invar") if m.file == "invar-36-f1684"]
    (limits,) = (m for m in rows_of_standard if m.tolerance is not None)
    typical = {m.conditions: m.value for m in rows_of_standard if m.tolerance is None}
    assert typical == pytest.approx(
        {"30 to 100 degC": 1.93e-6, "30 to 150 degC": 2.38e-6, "30 to 200 degC": 3.03e-6}, rel=1e-12
    )
    assert limits.low <= typical[limits.conditions] <= limits.high
    assert find("Invar", "expansion").conditions == "30 to 200 degC"
