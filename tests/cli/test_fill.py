"""The command `fill`: what it prints, its JSON with every key, its mistakes."""

import json
import re

import pytest

from laminate.cli import app
from tests.messages.wording import begins, says

FEW = ("--draws", "2000")
MATERIAL = (
    "--fiber-areal-weight", "150 g/m^2 ± 2 (tolerance)", "--resin-content", "33 %",
    "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3",
)  # fmt: skip


def test_what_to_lay_up_comes_first(shop):
    answer = shop.run("fill", "part.toml", *FEW)
    assert (answer.status, answer.err) == (0, "")
    first, second = answer.out.splitlines()[:2]
    assert first.startswith("web: use 20 plies (16 of ud150 and 4 fixed): 58.7 ± 1.2 % fiber volume, 2.856 ±")
    assert second.startswith("skin: use 20 plies of ud150: 58.6 ±")
    assert says("cli: what to lay up comes first", first)
    assert answer.out.splitlines()[-1].startswith("web: use 20 plies")


@pytest.mark.parametrize(("humidity", "needed"), [((), 0.599), (("--stored-humidity", "50 %"), 0.249)])
def test_a_stored_humidity_counts_for_what_rubber_must_press_with(shop, humidity, needed):
    """At a gel of 165 degC the vapor of a wet prepreg needs more than is wanted."""
    shop.change("part.toml", '"120 degC ± 2 (tolerance)"  ', '"165 degC ± 2 (tolerance)"  ')
    shop.change("part.toml", 'cure = "125 degC', 'cure = "170 degC')
    shop.change("part.toml", 'maximum = "130 degC (exact)"', 'maximum = "175 degC"')
    shop.change("part.toml", 'temperature = "118 degC', 'temperature = "163 degC')
    shop.change("part.toml", 'maximum = "130 degC ± 2', 'maximum = "175 degC ± 2')
    shop.change("part.toml", 'wanted_pressure = "0.3 MPa"', 'wanted_pressure = "0.05 MPa"')
    answer = shop.json("fill", "part.toml", "--zone", "skin", *humidity, *FEW, status=(0, 1))
    assert answer["zones"][0]["needed_pressure"]["value"] == pytest.approx(needed, abs=5e-4)


def test_table_then_reasons_then_cautions(shop):
    out = shop.run("fill", "part.toml", *FEW, "--why").out
    order = ["use 20", "plies  verdict", "sampling error", "web: reasons", "Assumptions", "Caution"]
    places = [out.index(words) for words in order]
    assert places == sorted(places)
    row = next(line for line in out.splitlines() if line.lstrip().startswith("20  fits, use"))
    assert row.split()[3:] == ["1.033", "7.3", "2.856", "58.7", "57.7", row.split()[-1]]


def test_json_has_every_key_of_the_contract(shop):
    answer = shop.json("fill", "part.toml", *FEW)
    assert answer["format"] == 1
    for zone in answer["zones"]:
        assert {
            "zone",
            "hot_gap",
            "cold_gap",
            "use",
            "why",
            "not_measured",
            "counts",
            "closing_window",
        } <= set(zone)
        if zone["pressed_by"] == "rubber":  # no gap: what only a gap has is null
            assert zone["closing_window"] is None
            continue
        window = zone["closing_window"]
        assert {"open", "smallest_hot_gap", "largest_hot_gap", "smallest_cold_gap", "what_opens_it"} <= set(
            window
        )
        assert window["smallest_cold_gap"] is None
        for count in zone["counts"]:
            assert {
                "plies", "fill_plies", "fill_ratio", "fiber_volume", "fiber_volume_in_gap", "thickness",
                "thickness_if_gap_holds", "void_if_gap_holds", "verdict", "chance",
            } <= set(count)  # fmt: skip
            assert ("shortfall" in count) == (count["verdict"] == "too few")
            assert ("resin_to_bleed" in count) != ("shortfall" in count)
            assert {"fills", "closes", "within_limits", "all"} <= set(count["chance"])
            assert all(0 <= share <= 1 for share in count["chance"].values() if share is not None)
            assert count["thickness"]["unit"] == "mm"
            assert count["fiber_volume"]["unit"] == "%"
            assert isinstance(count["fill_ratio"], float)
            assert all(
                quantity["value"] >= 0
                for quantity in (count.get("shortfall"), count.get("resin_to_bleed"))
                if quantity
            )
    assert [zone["use"] for zone in answer["zones"]] == [20, 20]


def test_json_stays_metric_with_us_units(shop):
    assert shop.json("fill", "part.toml", *FEW, "--units", "us") == shop.json("fill", "part.toml", *FEW)


def test_us_units_on_the_screen(shop):
    out = shop.run("fill", "part.toml", *FEW, "--units", "us").out
    assert "0.1124 ± 0.0016 in thick" in out
    assert "part [in]" in out
    assert " mm" not in out.replace("2.95 mm", "").replace("0.05 mm", "").partition("Screening")[0]


def test_one_zone(shop):
    assert [zone["zone"] for zone in shop.json("fill", "part.toml", "--zone", "skin", *FEW)["zones"]] == [
        "skin"
    ]


def test_a_batch_file_brings_its_lots(shop):
    part, batch = (
        shop.json("fill", name, "--zone", "skin", *FEW)["zones"][0] for name in ("part.toml", "batch.toml")
    )
    assert part["counts"] != batch["counts"]


def test_from_options_alone(shop):
    answer = shop.json(
        "fill", "--gap", "3 mm", *MATERIAL, "--bleed-limit", "15 %", "--tool-expansion", "23.6e-6 /K",
        "--gel-temperature", "120 degC", "--liquid-density", "1.12 g/cm^3", *FEW,
    )  # fmt: skip
    zone = answer["zones"][0]
    assert zone["hot_gap"]["value"] == pytest.approx(3 * (1 + 23.6e-6 * 97), rel=1e-12)
    assert zone["use"] == 21
    fiber, liquid = 0.15 / 1.79, 0.15 / 0.67 * 0.33 / 1.12
    expected = 21 * (fiber + liquid) / zone["hot_gap"]["value"]
    row = next(count for count in zone["counts"] if count["plies"] == 21)
    assert row["fill_ratio"] == pytest.approx(expected, rel=1e-12)


def test_without_a_tool_the_gap_is_taken_as_hot_and_said(shop):
    answer = shop.run("fill", "--gap", "3 mm", *MATERIAL, "--bleed-limit", "15 %", *FEW, "--why")
    assert answer.status == 0
    assert says("cli: without a tool the gap is taken as hot", answer.out)
    assert says("cli: without a tool the gap is taken as hot, 2", answer.out)


def test_no_count_is_status_one_and_says_what_would_fit(shop):
    answer = shop.run("fill", "--gap", "3 mm", *MATERIAL, *FEW, "--why")
    assert (answer.status, answer.err) == (1, "")
    first = answer.out.splitlines()[0]
    assert begins("cli: no count is status one", first)
    assert says("cli: no count is status one, 2", first)
    assert says("cli: no count is status one, 3", answer.out)
    found = shop.json("fill", "--gap", "3 mm", *MATERIAL, *FEW, status=(1,))["zones"][0]
    assert found["use"] is None
    assert [near["plies"] for near in found["nearest"]] == [20, 21]
    assert found["bleed_limit_with_a_count_for_any_gap"]["value"] == pytest.approx(11.4, abs=0.05)


def test_the_inverse_questions(shop):
    zone = shop.json(
        "fill", "part.toml", "--zone", "web", "--fiber-volume-wanted", "60 %", "--chance-wanted", "99 %", *FEW
    )
    zone = zone["zones"][0]
    assert zone["gap_for_wanted"]["possible"]
    assert zone["gap_for_wanted"]["cold_sizes"]["gap"]["value"] == pytest.approx(2.882, abs=1e-3)
    assert zone["order"]["areal_weight"]["value"] == pytest.approx(153.5, abs=0.1)
    assert zone["order"]["resin_content_from"]["value"] < 33 < zone["order"]["resin_content_to"]["value"]
    first = zone["tolerance_for_chance"][0]
    assert first["input"] == "ud150 resin content"
    assert first["stated"] == "33 % ± 1 (tolerance)"
    assert 0 < first["factor_on_tolerance"] < 1


def test_other_plies_may_be_asked_about(shop):
    zone = shop.json("fill", "part.toml", "--zone", "web", "--plies", "web=21", *FEW)["zones"][0]
    assert zone["closing_window"]["plies"] == 21
    assert not zone["closing_window"]["open"]
    assert {way["change"] for way in zone["closing_window"]["what_opens_it"]} == {
        "gap",
        "ply_count",
        "bleed_limit",
    }


def test_no_color_and_no_escapes(shop, monkeypatch):
    plain = shop.run("fill", "part.toml", *FEW).out
    monkeypatch.setenv("NO_COLOR", "1")
    assert shop.run("fill", "part.toml", *FEW).out == plain
    assert "\x1b" not in plain


def test_the_page_stands_alone(shop):
    answer = shop.run("fill", "part.toml", *FEW, "--html", "fill.html")
    page = shop.read("fill.html")
    assert "Written: fill.html" in answer.out.splitlines()
    assert page.count("<img") == 5  # the room, its pressure against bleed, gaps, fiber volume of both zones
    assert not re.search(r'(?:src|href)="(?!#|data:)|url\((?!#)|@import|<script', page)
    assert says("cli: the page stands alone, 2", page)
    assert "20 plies 58.7 %, fits" in page
    for line in answer.out.splitlines()[:2]:
        assert line.replace("'", "&#39;") in page
    identifiers = re.findall(r'\bid="([^"]+)"', page)
    assert len(identifiers) == len(set(identifiers))


def test_the_page_is_the_same_twice(shop):
    for name in ("one.html", "two.html"):
        shop.run("fill", "part.toml", *FEW, "--html", name)
    assert shop.read("one.html") == shop.read("two.html")


def refused(shop, *arguments):
    answer = shop.run("fill", *arguments)
    assert (answer.status, answer.out) == (2, "")
    return answer.err.splitlines()


MISTAKES = {
    "a core in no room": ('room = "skin"\nmaterial', 'room = "skim"\nmaterial'),
    "gel above cure": ('gel = "120 degC ± 2 (tolerance)"', 'gel = "127 degC"'),
    "a zone in no room": ('room = "skin"\nside', 'room = "skim"\nside'),
    "expansion without 1e-6": ('expansion = "265e-6 /K ± 5e-6 (tolerance)"', 'expansion = "23.6 /K"'),
    "tolerance wider than the value": (
        'gap = "2.95 mm ± 0.03 (tolerance)"',
        'gap = "2.95 mm ± 3 (tolerance)"',
    ),
    "liquid above cured": (
        'liquid_density = "1.12 g/cm^3 ± 0.02 (tolerance)"',
        'liquid_density = "1.32 g/cm^3"',
    ),
    "gel missing": ('gel = "120 degC ± 2 (tolerance)"', ""),
    "unknown material": (
        'material = "aluminium 6061"\nexpansion = "23.6e-6 /K ± 0.3e-6 (tolerance)"',
        'material = "aluminium 6016"',
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistakes_in_a_part_file(shop, name):
    old, new = MISTAKES[name]
    text = shop.read("part.toml")
    assert old in text
    shop.write("part.toml", text.replace(old, new, 1))
    shop.refused(f"part file of fill: {name}", "fill", "part.toml", *FEW)


def test_all_mistakes_at_once(shop):
    shop.change("part.toml", 'room = "skin"\nside', 'room = "skim"\nside')
    shop.change("part.toml", 'gap = "2.95 mm ± 0.03 (tolerance)"', 'gap = "2.95 kg"')
    shop.change("part.toml", 'bleed_limit = "15 %"\nprojected', 'bleed_limit = "150 %"\nprojected')
    answer = shop.json("fill", "part.toml", status=(2,))
    assert {problem["place"] for problem in answer["problems"]} >= {
        "zone.skin.room",
        "zone.web.gap",
        "zone.web.bleed_limit",
    }


def test_mistakes_in_options_all_at_once(shop):
    lines = refused(
        shop, "--gap", "3 kg", "--resin-content", "33 %", "--form", "knitted", "--units", "metrick"
    )
    assert "--gap: found '3 kg', a mass, expected a length, such as \"2.95 mm\"" in lines
    assert any(line.startswith("--units: found 'metrick'") for line in lines)
    assert any(begins("cli: mistakes in options all at once", line) for line in lines)
    assert any(line.startswith("--fiber-areal-weight is missing") for line in lines)
    assert any(line.startswith("--fiber-density is missing") for line in lines)
    assert any(line.startswith("--resin-density is missing") for line in lines)


@pytest.mark.parametrize(
    "arguments",
    [
        ("part.toml", "--gap", "3 mm"),
        ("part.toml", "--zone", "wed"),
        ("part.toml", "--plies", "20"),
        ("part.toml", "--plies", "web=2"),
        ("part.toml", "--fiber-volume-wanted", "0 %"),
        ("--gap", "3 mm", *MATERIAL, "--tool-expansion", "23.6e-6 /K"),
        ("--gap", "3 mm", *MATERIAL, "--liquid-density", "1.3 g/cm^3"),
        ("--gap", "3 mm", *MATERIAL, "--tool-expansion", "23.6e-6 /K", "--gel-temperature", "10 degC"),
    ],
)
def test_mistakes_in_the_call(shop, arguments):
    shop.refused(
        f"call of fill: {' '.join(word for word in arguments if word not in MATERIAL)}", "fill", *arguments
    )


def test_json_alone_on_standard_output(shop):
    shop.capsys.readouterr()
    assert app.status(["fill", "part.toml", "--json", *FEW, "--html", "page.html"]) == 0
    out, err = shop.capsys.readouterr()
    assert err == ""
    assert json.loads(out)["html"] == "page.html"


def test_plies_without_resin_bleed_nothing_and_no_count_of_them_works(shop):
    """Dry fabric has no resin that could leave or fill the room."""
    shop.change("part.toml", 'resin_content = "33 % ± 1 (tolerance)"', 'resin_content = "0 %"')
    shop.change("part.toml", 'volatiles = "0.4 % ± 0.2 (tolerance)"\n', "")
    answer = shop.json("fill", "part.toml", "--zone", "skin", status=[1])
    (zone,) = answer["zones"]
    assert zone["use"] is None
    assert {row["verdict"] for row in zone["counts"]} == {"too many"}


@pytest.mark.parametrize(("asked", "row"), [("web=24", "24  too many"), ("skin=24", "24  opens the tool")])
def test_the_count_asked_about_is_in_its_table_however_far_it_is(asked, row, shop):
    lines = shop.run("fill", "part.toml", *FEW, "--plies", asked).out.splitlines()
    assert sum(line.strip().startswith(row) for line in lines) == 1
    assert len(lines) <= 40


@pytest.mark.parametrize("command", ["fill", "predict", "core"])
@pytest.mark.parametrize(
    ("key", "most"), [("open_void_content", "1 %"), ("mass", "1 kg"), ("prepreg_areal_weight", "300 g/m^2")]
)
def test_limits_on_what_only_a_laboratory_tells_are_passed_over(shop, command, key, most):
    before = shop.json(command, "part.toml", *FEW[: 2 * (command != "predict")])
    shop.add("part.toml", f'[limits.{key}]\naverage = {{ max = "{most}" }}\n')
    after = shop.json(command, "part.toml", *FEW[: 2 * (command != "predict")])
    (which,) = ("cores" if command == "core" else "zones",)
    for row, other in zip(before[which], after[which], strict=True):
        new = set(map(str, other.get("not_measured", ()))) - set(map(str, row.get("not_measured", ())))
        assert {**row, "not_measured": 0} == {**other, "not_measured": 0}
        assert len(new) <= 1
    if command == "fill":  # the chance to meet the limits does not hold this one: said at once
        assert key.replace("_", " ") in " ".join(shop.run("fill", "part.toml", *FEW).out.split())
