"""A gap looks no better for what is not stated: a grade less, and no answer at all without its shape."""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.press.pressing import core
from laminate.show.fill_json import fill_json
from laminate.show.fill_words import fill_blocks

PANEL = tomllib.loads((Path(__file__).parents[2] / "examples" / "panel" / "part.toml").read_text("utf-8"))

KEYS = {
    "resin.epoxy.liquid_density": "resin.epoxy.liquid_density",
    "prepreg.ud150.volatiles": "prepreg.ud150.volatiles",
    "prepreg.ud150.ply_scatter": "prepreg.ud150.ply_scatter",
    "tool.closes": "tool.closes",
}
SPREADS = {
    "zone.panel.gap": "panel gap",
    "fiber.carbon.density": "carbon density",
    "resin.epoxy.density": "epoxy density",
    "resin.epoxy.liquid_density": "epoxy liquid density",
    "prepreg.ud150.fiber_areal_weight": "ud150 areal weight",
    "prepreg.ud150.resin_content": "ud150 resin content",
}


def answer(edit=lambda raw: None, tables=PANEL):
    raw = copy.deepcopy(tables)
    edit(raw)
    return fill(part_of(raw, "part.toml"), "part.toml", draws=2000, inverse=False)


def zone(edit=lambda raw: None, tables=PANEL):
    return answer(edit, tables).zones[0]


def put(key, value):
    """Change one key; None leaves it out."""

    def edit(raw):
        *tables, last = key.split(".")
        for table in tables:
            raw = raw[table]
        raw.pop(last) if value is None else raw.update({last: value})

    return edit


def nylon(raw):
    """A hard core beside two walls in place of the gap."""
    raw["core"] = {"n": {"acts_as": "hard", "expansion": "90e-6 /K ± 3e-6 (tolerance)", "held": "no",
                         "width": "32.60 mm ± 0.02 (tolerance)", "offset": "0 mm",
                         "temperature": "118 degC ± 2 (tolerance)"}}  # fmt: skip
    panel = raw["zone"]["panel"]
    panel.pop("gap")
    panel.update(cavity="36.84 mm ± 0.03 (tolerance)", core="n", walls=2)


def test_the_example_lacks_nothing():
    assert (zone().grade, zone().missing, zone().use.plies) == ("use", (), 12)


@pytest.mark.parametrize("key", KEYS)
def test_a_key_left_out_is_named_and_costs_a_grade(key):
    found = zone(put(key, None))
    assert KEYS[key] in found.missing
    assert found.grade != "use"


@pytest.mark.parametrize("key", SPREADS)
def test_a_spread_left_out_is_named_and_costs_a_grade(key):
    *tables, last = key.split(".")
    stated = PANEL
    for table in tables:
        stated = stated[table]
    value = stated[last].split(" ±")[0]
    found = zone(put(key, value))
    assert (found.grade, found.missing) == ("risky", (f"± of {SPREADS[key]}",))
    assert zone(put(key, f"{value} (exact)")).missing == ()


def test_what_hardly_moves_a_gap_needs_no_spread():
    """The growth of a tool, a thin film, volatiles: a tenth of them moves the gap by less than 0.2 %."""
    assert zone(put("prepreg.ud150.volatiles", "0.4 %")).missing == ()
    assert any("expansion" in note for note in zone().not_measured)
    assert not any("expansion" in name for name in zone().missing)


def test_a_chance_may_rise_without_a_spread_the_grade_does_not():
    wide = zone(put("zone.panel.gap", "2.00 mm ± 0.07 (tolerance)"))
    bare = zone(put("zone.panel.gap", "2.00 mm"))
    assert wide.use.chance.all < bare.use.chance.all
    assert (wide.grade, bare.grade) == ("risky", "risky")


@pytest.mark.parametrize("key", ["core.n.offset", "core.n.temperature", "zone.panel.walls"])
def test_gaps_beside_a_hard_core_take_its_place(key):
    def silent(raw):
        nylon(raw)
        put(key, None)(raw)

    assert zone(nylon).use is not None
    whole = answer(silent)
    (found,) = whole.zones
    assert (found.use, found.grade, whole.every_zone_fits) == (None, "do not", False)
    assert "fits" not in {row.verdict for row in found.rows}
    assert key in fill_json(whole)["zones"][0]["missing_for_use"]


def test_core_says_so_too():
    def silent(raw):
        nylon(raw)
        put("core.n.offset", None)(raw)

    for edit, fits in ((nylon, True), (silent, False)):
        raw = copy.deepcopy(PANEL)
        edit(raw)
        found = core(
            part_of(raw, "part.toml"), "part.toml", plies={"panel": zone(nylon).use.plies}, draws=200
        )
        assert found.cores[0].zones[0].plies_fit is fits


def test_a_count_likelier_to_fail_is_no_answer_where_something_is_not_stated():
    def risky(raw):
        put("zone.panel.gap", "2.00 mm ± 0.07 (tolerance)")(raw)

    def silent(raw):
        risky(raw)
        put("resin.epoxy.liquid_density", None)(raw)

    assert answer(risky).every_zone_fits
    assert (zone(silent).grade, answer(silent).every_zone_fits) == ("do not", False)


def test_the_table_marks_what_the_first_line_says():
    """'use' stands in the table only where the first line says use."""
    for edit in (lambda raw: None, put("prepreg.ud150.volatiles", None)):
        found = answer(edit)
        grid = next(block for block in fill_blocks(found, "metric") if hasattr(block, "rows"))
        marks = [row[1] for row in grid.rows if "," in row[1]]
        assert marks == [f"fits, {found.zones[0].grade}"]
