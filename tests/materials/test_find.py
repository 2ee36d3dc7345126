"""Finding a material: spellings, what is unknown, what every answer says."""

import subprocess
import sys

import pytest

from laminate.files.reference_tables import SourcesDisagree, UnknownMaterial, find, listing
from laminate.values.said import say_in
from tests.messages.wording import says


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("aluminium 6061", "aluminium 6061"),
        ("Aluminum 6061", "aluminium 6061"),
        ("  ALUMINIUM  6061 ", "aluminium 6061"),
        ("6061", "aluminium 6061"),
        ("AL 6061", "aluminium 6061"),
        ("6061-T6", "aluminium 6061"),
        ("aluminum 7075", "aluminium 7075"),
        ("p20", "steel P20"),
        ("AISI 4140", "steel 4140"),
        ("304", "stainless steel 304"),
        ("silicone", "silicone rubber"),
        ("Silicone-Rubber", "silicone rubber"),
        ("Nylon 66", "nylon 6,6"),
        ("PA 6,6", "nylon 6,6"),
        ("ptfe", "PTFE"),
        ("invar 36", "Invar"),
    ],
)
def test_common_spellings(typed: str, name: str) -> None:
    assert find(typed, "expansion").name == name


def test_a_property_may_be_written_in_words() -> None:
    assert find("6061", "Young's modulus") == find("6061", "youngs_modulus")
    assert find("silicone", "bulk modulus") == find("silicone", "bulk_modulus")


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("aluminium", ("aluminium 6061", "aluminium 7075")),
        ("aluminum 6016", ("aluminium 6061",)),
        ("silicone ruber", ("silicone rubber",)),
        ("tool steel", ("steel P20",)),
        ("nylom 6,6", ("nylon 6,6",)),
    ],
)
def test_unknown_name_lists_the_near_ones(typed: str, near: tuple[str, ...]) -> None:
    with pytest.raises(UnknownMaterial, match=f"^{typed!r} ") as raised:
        find(typed, "expansion")
    assert isinstance(raised.value, LookupError)
    assert set(near) <= set(raised.value.near)


@pytest.mark.parametrize("typed", ["unobtainium", "", "   ", "?"])
def test_nothing_near_is_said_by_an_empty_list(typed: str) -> None:
    with pytest.raises(UnknownMaterial) as raised:
        find(typed, "expansion")
    assert raised.value.near == ()


def test_unknown_property_lists_what_the_tables_hold() -> None:
    with pytest.raises(UnknownMaterial) as raised:
        find("silicone rubber", "density")
    assert says("materials: unknown property lists what the tables", str(raised.value))
    assert raised.value.near == ("expansion", "bulk_modulus", "bulk_modulus_rise", "diffusivity")


def test_disagreement_is_told_with_every_figure() -> None:
    with pytest.raises(SourcesDisagree) as raised:
        find("E-glass", "density")
    assert says("materials: disagreement is told with every figure", str(raised.value))
    for figure in ("2.58", "2.54", "2.4 g/cm^3"):
        assert figure in str(raised.value)


def test_a_range_is_a_tolerance_and_a_single_figure_has_none() -> None:
    ptfe = find("PTFE", "expansion")
    assert ptfe.value == pytest.approx(171e-6, rel=1e-12)
    assert ptfe.tolerance == pytest.approx(45e-6, rel=1e-12)
    assert find("steel 4140", "expansion").tolerance is None


def test_every_note_says_tabulated_not_measured_with_source_and_how_known() -> None:
    for m in listing():
        note = m.note()
        assert says("fill: inputs without a spread", note)
        assert m.source in note
        assert m.how_known in note
        assert m.shown in note
        for other in m.others():
            assert other.shown in note


def test_a_note_names_what_other_tables_say() -> None:
    assert says("materials: a note names what other tables say", find("6061", "expansion").note())
    assert "200–300e-6/K (common practice)" in find("silicone", "expansion").note()


def test_listing_narrows_by_use_property_and_text() -> None:
    assert {m.name for m in listing(kind="resin")} == {"epoxy 8552", "epoxy"}
    assert {m.name for m in listing(kind="core", text="aluminum")} == {"aluminium 6061", "aluminium 7075"}
    assert {m.property for m in listing(property="moisture")} == {"moisture"}
    assert listing(text="unobtainium") == []
    assert len(listing()) > len(listing(kind="tool")) > 0


def test_loading_needs_no_heavy_library() -> None:
    code = (
        "import sys; from laminate.files.reference_tables import find; find('6061', 'expansion');"
        "print(sorted({'numpy', 'pandas', 'pint', 'scipy', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("name", "property", "us"),
    [
        ("P20", "expansion", "7e-6/degF"),
        ("PTFE", "expansion", "70–120e-6/degF"),
        ("7075", "expansion", "13e-6/degF"),
        ("PTFE", "density", "0.0784 lb/in^3"),
    ],
)
def test_a_figure_is_said_in_the_units_of_the_reader(name, property, us):
    """Callister prints 126 to 216 (x 1e-6 /K), the data sheet of P20 7.0 (x 1e-6 /degF)."""
    row = find(name, property)
    assert say_in(row.shown, "us") == us
    assert us in say_in(row.note(), "us")
    assert row.shown in row.note()
    assert "/K" not in say_in(row.note(), "us")
