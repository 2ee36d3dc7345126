"""Values that hardly any part has keep a count from being advised, and ordinary ones beside them do not."""

import copy
import shutil
import tomllib
from pathlib import Path

import pytest

import laminate as lam
from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.press.prediction import predict_zone
from laminate.press.unlikely import unlikely
from laminate.show import fill_json
from laminate.values.input_key import Key
from tests.messages.wording import says

EXAMPLES = Path(__file__).parents[2] / "examples"
MAST = tomllib.loads((EXAMPLES / "mast" / "part.toml").read_text("utf-8"))
INNER = {"inner_material": "steel P20", "inner_expansion": "12.5e-6 /K ± 0.3e-6 (tolerance)"}
LIQUID, ROOM, GAP = "resin.epoxy.liquid_density", "temperature.room", "zone.web.gap"
GEL = "temperature.gel"


def filled(zone, *edits, tables=MAST):
    """One zone of the mast after edits: path of a key, and its value."""
    tables = copy.deepcopy(tables)
    for path, value in edits:
        *names, last = path.split(".")
        table = tables
        for name in names:
            table = table.setdefault(name, {})
        table[last] = value
    part = part_of(tables, "part.toml")
    (answer,) = fill(part, "part.toml", zones=[zone], draws=2000, inverse=False).zones
    return answer


def doubted(answer):
    return [".".join(filter(None, key)) for key in unlikely(answer.case)]


@pytest.mark.parametrize("zone", ["web", "skin"])
@pytest.mark.parametrize(
    ("edit", "doubts"),
    [
        ((LIQUID, "1.22 g/cm^3 ± 0.01 (k=2)"), [LIQUID]),  # that of the cured resin
        ((LIQUID, "1.22 g/cm^3 (exact)"), [LIQUID]),
        ((LIQUID, "0.9 g/cm^3 ± 0.01 (k=2)"), [LIQUID]),
        ((LIQUID, "1.00 g/cm^3 ± 0.01 (k=2)"), []),
        ((LIQUID, "1.08 g/cm^3 ± 0.01 (k=2)"), []),
        ((LIQUID, "1.18 g/cm^3 ± 0.01 (k=2)"), []),
        ((ROOM, "23 degF"), [ROOM]),
        ((ROOM, "-100 degC"), [ROOM]),
        ((ROOM, "73.4 degC"), [ROOM]),
        ((ROOM, "73.4 degF"), []),
        ((ROOM, "10 degC"), []),
        ((ROOM, "38 degC"), []),
        ((GEL, "23 degC ± 2 (tolerance)"), [GEL]),
        ((GEL, "32 degC (exact)"), [GEL]),
        ((GEL, "40 degC ± 2 (tolerance)"), []),
        (("prepreg.ud150.packing_limit", "100 %"), ["prepreg.ud150.packing_limit"]),
        (("prepreg.ud150.packing_limit", "75 %"), []),
    ],
)
def test_an_unlikely_value_is_asked_about_and_nothing_is_advised_on_it(zone, edit, doubts):
    answer = filled(zone, edit)
    assert doubted(answer) == doubts
    assert [m for m in answer.missing if any(key in m for key in doubts)] == list(answer.missing)
    assert len(answer.missing) == len(doubts)
    if doubts:
        assert answer.grade != "use"


def test_a_bulk_modulus_that_no_rubber_has_is_asked_about():
    key = "core.fore.bulk_modulus"
    soft, usual = (
        filled("skin", (key, f"{modulus} ± 20 % (tolerance)")) for modulus in ("85 MPa", "0.7 GPa")
    )
    assert (doubted(soft), doubted(usual)) == ([key], [])
    assert (soft.grade != "use", usual.grade) == (True, "use")


@pytest.mark.parametrize(
    ("key", "material", "value", "asked"),
    [
        ("core.fore.expansion", "RTV-9", "795e-6 /K ± 5e-6 (tolerance)", True),  # by volume
        ("core.fore.expansion", None, "795e-6 /K ± 5e-6 (tolerance)", True),
        ("core.fore.expansion", "RTV-9", "26.5e-6 /K ± 5e-6 (tolerance)", True),
        ("core.fore.expansion", "RTV-9", "110e-6 /K ± 5e-6 (tolerance)", False),  # filled nitrile rubber
        ("core.fore.expansion", "RTV-9", "265e-6 /K ± 5e-6 (tolerance)", False),
        ("core.fore.expansion", "RTV-9", "340e-6 /K ± 5e-6 (tolerance)", False),
        ("core.fore.expansion", "silicone rubber", "420e-6 /K ± 5e-6 (tolerance)", False),  # as tabulated
        ("tool.expansion", "plate", "70.8e-6 /K ± 0.3e-6 (tolerance)", True),
        ("tool.expansion", None, "38.4e-6 /K ± 0.3e-6 (tolerance)", True),
        ("tool.expansion", None, "0.236e-6 /K ± 0.003e-6 (tolerance)", True),
        ("tool.expansion", "carbon", "-0.2e-6 /K ± 0.1e-6 (tolerance)", False),
        ("tool.expansion", "carbon", "0.3e-6 /K ± 0.1e-6 (tolerance)", False),
        ("tool.expansion", "filled epoxy", "32e-6 /K ± 2e-6 (tolerance)", False),
        ("tool.expansion", "plate", "-12.5e-6 /K ± 0.3e-6 (tolerance)", True),
        ("tool.expansion", None, "1.6e-6 /K ± 0.3e-6 (tolerance)", False),
        ("tool.expansion", "zinc", "27.4e-6 /K ± 0.3e-6 (tolerance)", False),
        ("core.fore.bulk_modulus_rise", "silicone rubber", 1, True),
        ("core.fore.bulk_modulus_rise", "silicone rubber", 100, True),
        ("core.fore.bulk_modulus_rise", "silicone rubber", 7, False),
        ("core.fore.bulk_modulus_rise", "silicone rubber", 12, False),
    ],
)
def test_an_expansion_or_a_rise_of_no_such_thing_is_asked_about(key, material, value, asked):
    place = key.rpartition(".")[0]
    acts_as = [("core.fore.acts_as", "rubber")] if place == "core.fore" else []
    answer = filled("skin", (key, value), (f"{place}.material", material), *acts_as)
    assert doubted(answer) == [key] * asked
    assert [m.split()[-1] for m in answer.missing if key in m and "±" not in m] == [key] * asked
    assert not (asked and answer.grade == "use")


@pytest.mark.parametrize(
    ("value", "asked"), [("110e-6 /K", False), ("216e-6 /K", False), ("330e-6 /K", True)]
)
def test_a_plastic_core_grows_less_than_a_volume(value, asked):
    hard = {"acts_as": "hard", "material": "plastic", "expansion": f"{value} ± 5e-6 (tolerance)"}
    edits = [(f"core.fore.{key}", word) for key, word in hard.items()]
    assert doubted(filled("skin", *edits)) == ["core.fore.expansion"] * asked


@pytest.mark.parametrize(
    ("at_gel", "hottest", "asked"),
    [
        ("120", "123.5", False),  # within the ± of both: 2 K / sqrt(3), and that of cure
        ("118", "120", True),  # the laminate around it cures at 125 degC
        ("118", "125", False),
        ("118", "124", False),
        ("118", "135", False),
        ("105", "112", False),  # a thick core in a short cycle
    ],
)
def test_a_core_that_stays_colder_than_its_laminate_cures_is_asked_about(at_gel, hottest, asked):
    temperatures = {
        "temperature": f"{at_gel} degC ± 1 (tolerance)",
        "maximum": f"{hottest} degC ± 2 (tolerance)",
    }
    answer = filled("skin", *((f"core.fore.{key}", value) for key, value in temperatures.items()))
    assert doubted(answer) == ["core.fore.maximum"] * asked
    assert not (asked and answer.grade == "use")


def test_a_layer_denser_than_copper_is_asked_about():
    heavy, mesh = (("layer.film.areal_weight", weight) for weight in ("600 g/m^2", "440 g/m^2"))
    (words,) = unlikely(filled("web", heavy).case).values()
    assert says("fill: unlikely, a layer denser than copper", words)
    assert doubted(filled("web", mesh)) == []


@pytest.mark.parametrize(
    ("inner", "outer", "gap", "doubts"),
    [
        ("17.05 mm (exact)", "20.00 mm (exact)", "3.25 mm ± 0.03 (tolerance)", [GAP]),
        ("17.05 mm (exact)", "20.00 mm (exact)", "29.5 mm ± 0.03 (tolerance)", [GAP]),
        ("17.05 mm", "20.00 mm", "3.25 mm ± 0.03 (tolerance)", [GAP]),
        ("17.05 mm (exact)", "20.00 mm (exact)", "2.95 mm ± 0.03 (tolerance)", []),
        ("17.00 mm ± 0.1 (tolerance)", "20.00 mm ± 0.1 (tolerance)", "2.95 mm ± 0.03 (tolerance)", []),
        ("17 mm", "20 mm", "2.95 mm ± 0.03 (tolerance)", []),  # to whole mm
        ("0.67 in", "0.79 in", "2.95 mm ± 0.03 (tolerance)", []),
    ],
)
def test_a_gap_that_its_half_widths_do_not_leave_is_asked_about(inner, outer, gap, doubts):
    sizes = {"inner_half_width": inner, "outer_half_width": outer, "gap": gap, **INNER}
    answer = filled("web", *((f"zone.web.{key}", value) for key, value in sizes.items()))
    assert doubted(answer) == doubts
    assert any("zone.web.gap" in m for m in answer.missing) == bool(doubts)
    if doubts:
        assert says(
            "fill: unlikely, a gap against its half-widths", unlikely(answer.case)[Key("zone", "web", "gap")]
        )
        assert answer.grade != "use"


@pytest.mark.parametrize(
    ("weight", "doubts"),
    [
        ('prepreg_areal_weight = "150.6 g/m^2 ± 1.0 (k=2)"', True),  # that of the fiber
        ('fiber_areal_weight = "160.6 g/m^2 ± 1.0 (k=2)"', True),
        ('fiber_areal_weight = "15.06 g/m^2 ± 0.1 (k=2)"', True),
        ('fiber_areal_weight = "152.9 g/m^2 ± 1.0 (k=2)"', False),
        ('fiber_areal_weight = "147.5 g/m^2"', False),
        ('prepreg_areal_weight = "225.1 g/m^2 ± 1.0 (k=2)"', False),
    ],
)
def test_a_lot_far_from_its_part_is_asked_about(tmp_path, weight, doubts):
    shutil.copytree(EXAMPLES / "mast", tmp_path / "mast")
    batch = tmp_path / "mast" / "batch.toml"
    text = batch.read_text("utf-8")
    stated = next(line for line in text.splitlines() if line.startswith("fiber_areal_weight"))
    batch.write_text(text.replace(stated, weight), "utf-8")
    zone = lam.fill(batch, zones="web", draws=2000).zones["web"]
    assert any(f"lot.ud150.{weight.split()[0]}" in m for m in zone.missing_for_use) == doubts
    if doubts:
        assert zone.grade != "use"
    case = lam.read_batch(batch)
    warnings = predict_zone(case.part, "web", 16, made=case.ingredients()).warnings
    assert bool(warnings) == doubts
    assert repr(lam.predict(batch)).count("\nWarning: ") == doubts  # once, of two zones
    if weight.startswith("prepreg") and doubts:
        assert says("fill: unlikely, a lot far from its part", warnings[0])


@pytest.mark.parametrize(
    ("of_part", "of_batch", "key"),
    [
        (
            {"150 g/m^2 ± 2 (tolerance)": "150 g/m^2 ± 0.5 (k=2)"},
            'fiber_areal_weight = "153 g/m^2 ± 1 (k=2)"',
            "",
        ),
        (
            {},
            'fiber_areal_weight = "105.6 g/m^2"\nresin_basis = "volatile-free"',
            "lot.ud150.fiber_areal_weight",
        ),
        ({"33 % ± 1 (tolerance)": "33 % (exact)"}, 'resin_content = "38.1 %"', "lot.ud150.resin_content"),
        ({"33 % ± 1 (tolerance)": "33 % (exact)"}, 'resin_content = "34.9 %"', ""),
    ],
)
def test_an_ordinary_lot_is_taken_and_a_far_one_asked_about(tmp_path, of_part, of_batch, key):
    shutil.copytree(EXAMPLES / "mast", tmp_path / "mast")
    part, batch = tmp_path / "mast" / "part.toml", tmp_path / "mast" / "batch.toml"
    text = part.read_text("utf-8")
    for old, new in of_part.items():
        assert old in text
        text = text.replace(old, new)
    part.write_text(text, "utf-8")
    lines = batch.read_text("utf-8").splitlines()
    keys = [line.split(" = ")[0] for line in of_batch.splitlines()]
    at = next(k for k, line in enumerate(lines) if line.startswith(keys[0]))
    lines[at] = of_batch
    batch.write_text(
        "\n".join(line for line in lines if line == of_batch or line.split(" = ")[0] not in keys), "utf-8"
    )
    missing = lam.fill(batch, zones="web", draws=2000).zones["web"].missing_for_use
    assert [m.split()[-1] for m in missing if "lot." in m] == ([key] if key else [])


def test_a_density_of_the_batch_far_from_the_part_is_asked_about(tmp_path):
    shutil.copytree(EXAMPLES / "mast", tmp_path / "mast")
    batch = tmp_path / "mast" / "batch.toml"
    text = batch.read_text("utf-8")
    assert 'density = "1.786 g/cm^3' in text
    batch.write_text(text.replace('density = "1.786 g/cm^3', 'density = "1.686 g/cm^3'), "utf-8")
    missing = lam.fill(batch, zones="web", draws=2000).zones["web"].missing_for_use
    assert [m.split()[-1] for m in missing if "fiber." in m] == ["fiber.carbon.density"]


@pytest.mark.parametrize(
    ("edit", "case"),
    [
        ((LIQUID, "1.22 g/cm^3 (exact)"), "fill: unlikely, a liquid as dense as cured"),
        ((ROOM, "23 degF"), "fill: unlikely, a room in another unit"),
        ((GEL, "30 degC ± 2 (tolerance)"), "fill: unlikely, a gel hardly above the room"),
        (("prepreg.ud150.packing_limit", "100 %"), "fill: unlikely, fibers packed beyond round ones"),
        (
            ("core.fore.bulk_modulus", "85 MPa ± 20 (tolerance)"),
            "fill: unlikely, a bulk modulus of no rubber",
        ),
        (("core.fore.bulk_modulus_rise", 1), "fill: unlikely, a rise of no rubber"),
        (("core.fore.maximum", "120 degC"), "fill: unlikely, a core colder than its laminate"),
    ],
)
def test_what_is_unlikely_is_said(edit, case):
    (words,) = unlikely(filled("skin", edit).case).values()
    assert says(case, words)


@pytest.mark.parametrize(
    ("zone", "key", "value", "asked"),
    [
        ("skin", "tool.compliance", "0.02 MPa^-1 (exact)", True),  # for 0.02 GPa^-1
        ("skin", "tool.compliance", "0.001 MPa^-1 (exact)", False),
        ("skin", "tool.temperature", "120 degF ± 1 (tolerance)", True),
        ("web", "tool.temperature", "120 degF ± 1 (tolerance)", True),
        ("skin", "tool.temperature", "135 degC ± 1 (tolerance)", True),  # the highest is 130 degC
        ("skin", "tool.temperature", "100 degC ± 1 (tolerance)", False),
        ("skin", "core.fore.temperature", "138 degC ± 1 (tolerance)", False),  # as given, not raised
        ("skin", "room.skin.wanted_pressure", "0.3 kPa", True),
        ("skin", "room.skin.wanted_pressure", "0.5 bar", False),
        ("web", "zone.web.wanted_pressure", "0.7 kPa", True),
        ("web", "zone.web.wanted_pressure", "0 MPa", False),
        ("skin", "prepreg.ud150.resin_content", "64 % ± 1 (tolerance)", True),  # that of the fiber
        ("skin", "prepreg.ud150.resin_content", "55 % ± 1 (tolerance)", False),
        (
            "skin",
            "prepreg.ud150",
            {**MAST["prepreg"]["ud150"], "form": "mat", "resin_content": "68 % ± 1 (tolerance)"},
            False,
        ),
    ],
)
def test_what_no_press_cycle_or_prepreg_has_is_asked_about(zone, key, value, asked):
    core = copy.deepcopy(MAST["core"]["fore"])
    core.pop("maximum")
    answer = filled(zone, ("core.fore", core), (key, value))
    assert doubted(answer) == [key] * asked
    assert not (asked and answer.grade == "use")


@pytest.mark.parametrize(
    ("area", "asked"),
    [("0.0036 m^2", True), ("0.072 m^2", False), ("0.036 m^2", False), ("0.04 m^2", False)],
)
def test_a_projected_area_that_is_that_of_no_face_of_the_room_is_asked_about(area, asked):
    """Of 38.6 x 60 x 600 mm: 0.0023, 0.0232 and 0.036 m^2 (arithmetic); two such cavities have 0.072."""
    room = copy.deepcopy(MAST["room"]["skin"])
    room.pop("opens")
    answer = filled("skin", ("room.skin", room), ("room.skin.projected_area", f"{area} (exact)"))
    assert doubted(answer) == ["room.skin.projected_area"] * asked


def test_a_rubber_of_the_tables_that_is_stated_hard_is_asked_about():
    assert doubted(filled("skin", ("core.fore.acts_as", "hard"))) == ["core.fore.acts_as"]
    assert doubted(filled("skin", ("core.fore.acts_as", "rubber"))) == []


HARD = {"acts_as": "hard", "material": "PTFE", "expansion": "150e-6 /K ± 5e-6 (tolerance)"}


@pytest.mark.parametrize(
    ("sizes", "too_large"),
    [
        # 600 mm x (1 + 23.6e-6 x 97 K), 599.5 mm x (1 + 150e-6 x 95 K) and so on (arithmetic)
        ({}, {"length": 599.5 * (1 + 150e-6 * 95) - 600 * (1 + 23.6e-6 * 97)}),
        ({"length": "590 mm ± 0.2 (tolerance)"}, {}),
        ({"length": "592.8 mm ± 0.2 (tolerance)"}, {}),
        ({"ends": "open"}, {}),
    ],
)
def test_a_hard_core_that_outgrows_the_bare_ends_of_the_tool_is_no_count_to_use(sizes, too_large):
    room = copy.deepcopy(MAST["room"]["skin"]) | {key: sizes[key] for key in sizes if key == "ends"}
    core = copy.deepcopy(MAST["core"]["fore"]) | HARD | {"height": "59.0 mm ± 0.03 (tolerance)"}
    core |= {key: sizes[key] for key in sizes if key != "ends"}
    for key in ("bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise", "maximum", "corner_radius"):
        core.pop(key, None)
    answer = filled("skin", ("core.fore", core), ("room.skin", room))
    assert {what: 1e3 * more.value for what, more in answer.interference.items()} == pytest.approx(too_large)
    assert answer.goes_in == (not too_large)
    assert not (too_large and answer.grade == "use")


@pytest.mark.parametrize(("uses", "worn"), [(60, ["fore"]), (50, []), (None, [])])
def test_a_core_past_its_moldings_is_no_core_to_use(uses, worn):
    tables = copy.deepcopy(MAST)
    tables["core"]["fore"]["limit_moldings"] = 50
    moldings = {"fore": uses} if uses is not None else {}
    answer = fill(part_of(tables, "part.toml"), "part.toml", draws=1000, inverse=False, moldings=moldings)
    assert (list(answer.worn), answer.good) == (worn, not worn)
    assert fill_json.ANSWER.json(answer)["cores_past_their_moldings"] == worn


HEATING = {
    "platen": "125 degC ± 1 (tolerance)",
    "start": "23 degC ± 1 (tolerance)",
    "time": "25 min ± 0.5 (tolerance)",
    "thickness": "30.82 mm ± 0.1 (tolerance)",
    "diffusivity": "0.13 mm^2/s ± 0.003 (tolerance)",
}


@pytest.mark.parametrize(
    ("key", "value", "unlike"),
    [
        ("thickness", "15.4 mm ± 0.1 (tolerance)", True),
        ("thickness", "59.9 mm", False),
        ("thickness", "1.213 in", False),
        ("diffusivity", "1.1 mm^2/s ± 0.05 (tolerance)", True),
        ("diffusivity", "0.08 mm^2/s", False),
        ("diffusivity", "0.4 mm^2/s", False),
        ("time", "20 h ± 1 (tolerance)", True),
        ("time", "3 h", False),
        ("platen", "138 degC ± 1 (tolerance)", True),
        ("platen", "130 degC ± 1 (tolerance)", False),
        ("start", "60 degC", False),  # heated before
    ],
)
def test_what_heats_a_core_is_held_against_its_sizes_the_gel_and_the_highest_temperature(key, value, unlike):
    edit = ("core.fore.heating", HEATING | {key: value})
    tables = copy.deepcopy(MAST)
    del tables["core"]["fore"]["temperature"]
    answer = filled("skin", edit, tables=tables)
    assert doubted(answer) == ([f"core.fore.heating.{key}"] if unlike else [])
    assert any(f"core.fore.heating.{key}" in m for m in answer.missing if "±" not in m) is unlike
    assert not (unlike and answer.grade == "use")


def test_a_hard_core_by_its_clearance_is_that_of_its_sizes():
    """60 x 600 mm less twice 0.1 mm are 59.8 x 599.8 mm (arithmetic)."""
    core = copy.deepcopy(MAST["core"]["fore"]) | {"acts_as": "hard", "material": "aluminium 6061"}
    core |= {"expansion": "23.6e-6 /K ± 0.3e-6 (tolerance)", "width": "32.6 mm ± 0.03 (tolerance)"}
    for key in ("bulk_modulus", "bulk_modulus_at", "bulk_modulus_rise", "maximum", "corner_radius"):
        core.pop(key, None)
    bare = {key: core[key] for key in core if key not in ("height", "length")}
    sized = filled("skin", ("core.fore", core | {"height": "59.8 mm", "length": "599.8 mm"}))
    freed = filled("skin", ("core.fore", bare | {"clearance": "0.1 mm"}))
    assert [row.verdict for row in freed.rows] == [row.verdict for row in sized.rows]
    assert (freed.goes_in, sized.goes_in) == (True, True)
