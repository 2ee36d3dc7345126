"""A gap looks no better for what is not stated: a grade less, and no answer at all without its shape."""

import copy
import re
import tomllib
from pathlib import Path

import pytest

from laminate.cli import app
from laminate.files.part import part_of
from laminate.press.cores import core
from laminate.press.filling import fill
from laminate.press.unfavorable import unstated
from laminate.show import fill_json
from laminate.show.fill_answer import headline
from laminate.show.fill_screen import screen_blocks
from laminate.show.fill_words import fill_blocks
from laminate.show.numbers import chance

PANEL = tomllib.loads((Path(__file__).parents[2] / "examples" / "panel" / "part.toml").read_text("utf-8"))

SPREADS = (
    "zone.panel.gap",
    "fiber.carbon.density",
    "resin.epoxy.density",
    "resin.epoxy.liquid_density",
    "prepreg.ud150.fiber_areal_weight",
    "prepreg.ud150.resin_content",
)
BARE = (
    "--gap", "3.05 mm", "--fiber-areal-weight", "150 g/m^2 ± 1 (tolerance)", "--resin-content", "33 %",
    "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3", "--bleed-limit", "12 %",
)  # fmt: skip

GAP = "1.96 mm ± 0.02 (tolerance)"


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
    raw["core"]["n"]["projected_area"] = "0.09 m^2"
    panel = raw["zone"]["panel"]
    panel.pop("gap")
    panel.update(cavity="36.84 mm ± 0.03 (tolerance)", core="n", walls=2)


def test_the_example_lacks_nothing():
    assert (zone().grade, zone().missing, zone().use.plies) == ("use", (), 12)


def test_a_key_whose_silence_hides_a_bad_count_costs_a_grade():
    """Liquid resin a tenth lighter than cured would fill more, and not close: 11 plies are not sure."""
    found = zone(lambda raw: (put("zone.panel.gap", GAP)(raw), put("resin.epoxy.liquid_density", None)(raw)))
    assert found.use.chance.all > 0.9
    assert (found.grade, found.missing) == ("risky", ("resin.epoxy.liquid_density",))
    to_do, rest = headline(found, "metric")
    assert ("resin.epoxy.liquid_density" in to_do, "%" in to_do) == (True, False)
    assert chance(found.use.chance.all) in rest


def test_a_chance_too_small_is_the_reason_where_a_key_is_left_out_too():

    def wide(raw):
        nylon(raw)
        put("zone.panel.cavity", "36.84 mm ± 0.2 (tolerance)")(raw)
        put("core.n.offset", None)(raw)

    found = zone(wide)
    to_do, rest = headline(found, "metric")
    assert (found.grade, found.missing) == ("risky", ("core.n.offset",))
    assert found.use.chance.all < 0.9
    assert (chance(found.use.chance.all) in to_do, "core.n.offset" in rest) == (True, True)


def test_a_key_whose_silence_changes_nothing_is_named_alone():
    found = zone(put("prepreg.ud150.ply_scatter", None))
    assert (found.grade, found.missing) == ("use", ())
    assert zone(put("tool.closes", None)).missing == ("tool.closes",)


def test_a_shear_left_out_is_told_and_asked_for_where_a_little_costs_the_grade():
    """Draped by 5 degrees 12 plies hold 0.4 % more, and the tool does not close in 16 % of the draws."""

    def near(shear):
        def edit(raw):
            for key, value in (("gap", "1.97 mm ± 0.02 (tolerance)"), ("shear", shear)):
                put(f"zone.panel.{key}", value)(raw) if value else None
            for prepreg in raw["prepreg"].values():
                prepreg["volatiles"] = "0 % (exact)"

        return zone(edit)

    silent, flat, draped = near(None), near("0 deg"), near("5 deg")
    assert (silent.grade, silent.missing) == ("risky", ("zone.panel.shear",))
    assert (flat.grade, flat.missing, draped.grade) == ("use", (), "risky")
    least = unstated(silent.case, silent.use.fill_plies, silent.use.chance.at_most).least
    assert least == pytest.approx(draped.use.chance.all, abs=0.02)
    assert any(note.startswith("panel shear") for note in silent.not_measured)
    assert not any(note.startswith("panel shear") for note in flat.not_measured)
    assert (zone().grade, zone().missing) == ("use", ())  # in the middle of the window


def test_spreads_left_out_cost_a_grade_where_usual_ones_would():
    """Usual ones leave 12 plies in the middle of their window sure, and near its end not."""

    def bare(*keys):
        def edit(raw):
            for key in keys:
                *tables, last = key.split(".")
                table = raw
                for name in tables:
                    table = table[name]
                table[last] = table[last].split(" ±")[0]

        return edit

    for key in SPREADS:
        assert (zone(bare(key)).grade, zone(bare(key)).missing) == ("use", ())
    near = put("zone.panel.gap", "1.98 mm ± 0.02 (tolerance)")
    for keys, names in {SPREADS[:1]: {"panel gap"}, SPREADS: {"panel gap", "ud150 resin content"}}.items():
        found = zone(lambda raw, keys=keys: (near(raw), bare(*keys)(raw)))
        assert found.use.chance.all > 0.95
        assert found.grade == "risky"
        assert {f"± of {name}" for name in names} <= set(found.missing)


@pytest.mark.parametrize("key", ["core.n.offset", "core.n.temperature", "zone.panel.walls"])
def test_a_count_beside_a_hard_core_is_risky_where_its_place_is_not_stated(key):
    def silent(raw):
        nylon(raw)
        put(key, None)(raw)

    assert zone(nylon).grade == "use"
    whole = answer(silent)
    (found,) = whole.zones
    assert found.grade in ("risky", "do not")
    assert key in fill_json.ANSWER.json(whole)["zones"][0]["missing_for_use"]


@pytest.mark.parametrize("cavity", [36.2, 36.3, 36.5, 36.8, 36.9, 37.1])
@pytest.mark.parametrize("limit", ["4 %", "8 %"])
def test_a_liquid_density_left_out_buys_no_count_beside_a_hard_core(cavity, limit):
    """1.13 of 1.22 g/cm^3 is usual for hot liquid resin: what leaves no count then leaves none unstated."""

    def told(density):
        def edit(raw):
            nylon(raw)
            raw["zone"]["panel"].update(cavity=f"{cavity} mm ± 0.03 (tolerance)", bleed_limit=limit)
            put("resin.epoxy.liquid_density", density)(raw)

        return answer(edit)

    stated, silent = told("1.13 g/cm^3 ± 0.02 (tolerance)"), told(None)
    assert stated.every_zone_fits or not silent.every_zone_fits
    if "not judged" in {row.verdict for row in silent.zones[0].rows}:
        assert "resin.epoxy.liquid_density" in silent.zones[0].left_out


def test_an_input_that_counts_as_exact_is_named_on_the_screen():
    """A gap of ± 0.1 mm is risky; without its ± it may be used, and the screen says which input that is."""
    found = zone(put("zone.panel.gap", "2.02 mm ± 0.1 (tolerance)"))
    assert (found.grade, found.assumed_exact) == ("risky", ())
    bare = answer(put("zone.panel.gap", "2.02 mm"))
    assert (bare.zones[0].grade, bare.zones[0].assumed_exact) == ("use", ("panel gap",))
    assert "panel gap" in " ".join(
        block.text for block in screen_blocks(bare, "metric") if hasattr(block, "text")
    )


def test_a_bladder_with_a_largest_thickness_alone_has_no_count():
    """One ply is within it too: nothing says how many there should be."""
    raw = tomllib.loads((Path(__file__).parents[2] / "examples" / "bladder" / "part.toml").read_text("utf-8"))
    raw["limits"]["thickness"]["wall"]["average"].pop("min")
    found = answer(tables=raw)
    assert (found.every_zone_fits, found.zones[0].grade) == (False, "do not")


@pytest.mark.parametrize("gap", ["2.15 mm ± 0.02 (tolerance)", "0.55 mm ± 0.02 (tolerance)"])
def test_a_count_that_is_not_advised_names_the_density_that_was_left_out(gap):
    """Another density may give another count: the answer says which value it lacks."""
    wide = put("zone.panel.gap", gap)
    density = "resin.epoxy.liquid_density"
    found = zone(lambda raw: (wide(raw), put(density, None)(raw)))
    assert found.grade == "do not"
    assert density in found.missing
    assert density in "".join(headline(found, "metric"))
    assert density not in zone(wide).missing


def test_core_says_so_too():
    def silent(raw):
        nylon(raw)
        raw["zone"]["panel"].update(cavity="36.3 mm ± 0.03 (tolerance)", bleed_limit="4 %")
        put("resin.epoxy.liquid_density", None)(raw)

    for edit, fits in ((nylon, True), (silent, False)):
        raw = copy.deepcopy(PANEL)
        edit(raw)
        found = core(
            part_of(raw, "part.toml"), "part.toml", plies={"panel": zone(nylon).use.plies}, draws=200
        )
        assert found.cores[0].zones[0].plies_fit is fits


def test_a_call_by_options_is_asked_for_options(shop):
    """Its chance stands on the stated tolerances, and its count and exit status stay."""
    few = ("--draws", "2000")
    (found,) = shop.json("fill", *BARE, *few)["zones"]
    assert (found["grade"], found["missing_for_use"]) == ("risky", ["--volatiles", "--liquid-density"])
    assert found["use"] is not None
    whole = shop.json("fill", *BARE, "--liquid-density", "1.12 g/cm^3", *few)["zones"][0]
    assert "--liquid-density" not in whole["missing_for_use"]


def test_the_table_marks_what_the_first_line_says():
    """'use' stands in the table only where the first line says use."""
    for edit in (lambda raw: None, put("tool.closes", None)):
        found = answer(edit)
        grid = next(block for block in fill_blocks(found, "metric") if hasattr(block, "rows"))
        marks = [row[1] for row in grid.rows if "," in row[1]]
        assert marks == [f"fits, {found.zones[0].grade}"]


def test_a_rubber_call_by_options_is_asked_for_options(shop):
    """With everything that options can state a count may be used; what is left out is named by its option."""
    told = (
        "fill", "--room-width", "38.60 mm ± 0.03 (tolerance)", "--room-height", "60 mm ± 0.03 (tolerance)",
        "--room-length", "600 mm", "--core-width", "30.82 mm ± 0.03 (tolerance)", "--core-height",
        "59.9 mm ± 0.03 (tolerance)", "--core-length", "599.5 mm ± 0.2 (tolerance)", "--room-corner-radius",
        "0 mm", "--core-corner-radius", "0 mm", "--core-expansion", "265e-6 /K ± 5e-6 (tolerance)",
        "--bulk-modulus", "0.85 GPa ± 0.2 (tolerance)", "--bulk-modulus-rise", "10", "--core-temperature",
        "118 degC ± 1 (tolerance)", "--core-maximum", "130 degC ± 2 (tolerance)", "--maximum-temperature",
        "130 degC", "--gel-temperature", "120 degC ± 2 (tolerance)", "--tool-expansion",
        "23.6e-6 /K ± 0.3e-6 (tolerance)", "--clamp-force", "900 kN", "--projected-area", "0.036 m^2",
        "--wanted-pressure", "0.3 MPa", "--walls", "2", "--bleed", "3 % ± 2 (tolerance)", "--bleed-limit",
        "15 %", "--fiber-areal-weight", "150 g/m^2 ± 2 (tolerance)", "--resin-content",
        "33 % ± 1 (tolerance)", "--resin-basis", "as received", "--volatiles", "0.4 % ± 0.2 (tolerance)",
        "--fiber-density", "1.79 g/cm^3 ± 0.01 (k=2)", "--resin-density", "1.22 g/cm^3 ± 0.01 (k=2)",
        "--liquid-density", "1.12 g/cm^3 ± 0.02 (tolerance)", "--form", "unidirectional", "--draws", "20000",
    )  # fmt: skip
    more = ("--pressure-limit", "25 MPa", "--compliance", "0 MPa^-1")
    (whole,) = shop.json(*told, *more)["zones"]
    assert (whole["use"], whole["grade"], whole["missing_for_use"]) == (20, "use", [])
    (less,) = shop.json(*told, status=(1,))["zones"]
    assert (less["use"], less["missing_for_use"]) == (None, ["--pressure-limit", "--compliance"])


def test_a_name_with_a_point_is_asked_for_as_it_is_typed():
    """`ep.oxy` is one name, not two keys."""

    def pointed(raw):
        put("zone.panel.gap", GAP)(raw)
        raw["resin"]["ep.oxy"] = raw["resin"].pop("epoxy")
        del raw["resin"]["ep.oxy"]["liquid_density"]
        for prepreg in raw["prepreg"].values():
            prepreg["resin"] = "ep.oxy"

    assert zone(pointed).missing == ('resin."ep.oxy".liquid_density',)


def test_an_expansion_of_the_tables_is_as_wide_as_they_are():
    """Nylon: 144e-6 /K in one table, 88 to 149 in another: 0.09 mm of a gap that 0.17 mm decide."""

    def tabulated(more):
        def edit(raw):
            nylon(raw)
            raw["core"]["n"].pop("acts_as")
            raw["core"]["n"].pop("expansion")
            raw["core"]["n"] |= {"material": "nylon 6,6", **more}
            raw["zone"]["panel"]["cavity"] = "37.00 mm ± 0.03 (tolerance)"

        return zone(edit)

    measured, table = tabulated({"expansion": "144e-6 /K ± 3e-6 (tolerance)"}), tabulated({})
    assert (measured.grade, measured.missing) == ("use", ())
    assert (table.grade, table.use.plies) == ("risky", measured.use.plies)
    (spread,) = table.missing
    assert spread.endswith("n expansion")


@pytest.mark.parametrize(
    ("limit", "asked_for", "gaps"),
    [([], True, 0), (["--bleed-limit", "0 %"], False, 0), (["--bleed-limit", "5 %"], False, 2)],
)
def test_where_no_resin_may_bleed_no_gap_is_named_that_cannot_be_set(limit, asked_for, gaps, capsys):
    """The window of a count has no width then: what would make one fit is a bleed limit."""
    stated = ["--gap", "3 mm", "--fiber-areal-weight", "134 g/m^2", "--resin-content", "35 %"]
    densities = ["--fiber-density", "1.79 g/cm^3", "--resin-density", "1.3 g/cm^3"]
    assert app.status(["fill", *stated, *densities, *limit]) == 1
    first = capsys.readouterr().out.split("\n\n")[0]
    assert (len(re.findall(r"[23]\.\d{3} mm", first)), "--bleed-limit" in first) == (gaps, asked_for)
    assert ("9.7" in first) == (gaps == 0)  # % of the resin that must be free to bleed
