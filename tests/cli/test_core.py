"""The command `core`: what it prints, its JSON with every key, its mistakes."""

import json
import re
from pathlib import Path

import pytest

from tests.messages.wording import begins, reads, says, worded

FEW = ("--draws", "2000")
SLAB = {
    "--cavity": "38.60 mm ± 0.03 (tolerance)", "--core-width": "30.64 mm", "--walls": "2", "--held": "sides",
    "--core-expansion": "265e-6 /K", "--tool-expansion": "23.6e-6 /K", "--core-temperature": "118 degC",
    "--tool-temperature": "120 degC", "--maximum-temperature": "130 degC", "--stack": "3.0032 mm",
    "--stack-laid-up": "3.1838 mm", "--stack-bled": "2.804 mm", "--bulk-modulus": "0.85 GPa",
    "--bulk-modulus-rise": "10", "--clamp-force": "600 kN", "--projected-area": "0.042 m^2",
    "--gap-wanted": "2.90 mm",
}  # fmt: skip


@pytest.fixture
def shop(shop):
    """The example with a core in a cavity by its widths, as people have part files from before."""
    shop.write("part.toml", (Path(__file__).parents[1] / "press" / "data" / "mast_before.toml").read_text())
    return shop


def call(changed=(), without=()):
    options = {**SLAB, **dict(changed)}
    return [
        "core",
        *FEW,
        *(word for name, value in options.items() if name not in without for word in (name, value)),
    ]


def test_what_happens_comes_first(shop):
    answer = shop.run("core", "part.toml", *FEW)
    assert (answer.status, answer.err) == (0, "")
    first, second = answer.out.splitlines()[:2]
    assert re.search(r" 1\d\.\d % .* 11\.9 MPa", first)
    assert reads("cli: what happens comes first", second)
    assert begins("cli: the core may open the tool", answer.out.splitlines()[-1])
    third = shop.run("core", "part.toml", *FEW, "--why").out.splitlines()[2]
    for number in ("4.1 MPa", "11.9 MPa", "16.0 MPa", "23.2 MPa"):
        assert number in third


def test_cautions_come_last_and_always(shop):
    out = shop.run("core", "part.toml", *FEW).out
    tail = out[out.index("\nCautions\n") :]
    assert says("cli: cautions come last and always", tail)
    assert says("cli: cautions come last and always, 2", tail)
    assert says("cli: cautions come last and always, 3", tail)


def test_json_has_every_key_of_the_contract(shop):
    answer = shop.json("core", "part.toml", *FEW)
    core = answer["cores"][0]
    assert {
        "core", "contact_temperature", "contact_temperature_together", "liquid_full_temperature",
        "mean_temperature", "free_growth", "pressure", "clamp_limit", "cold_width_for_gap", "dummy_thickness",
        "pull_out_clearance",
        "cautions", "not_measured",
    } <= set(core)  # fmt: skip
    for state in ("lowest", "nominal", "locked_maximum"):
        for moment in ("at_gel", "at_maximum"):
            found = core["pressure"][state][moment]
            assert found["unit"] == "MPa"
            assert found["from"] <= found["value"] <= found["to"]
            assert found["gap_closed"] == (found["value"] > 0)
    assert core["pressure"]["reason"] is None
    assert core["contact_temperature"]["unit"] == "degC"
    assert core["free_growth"]["unit"] == "mm"
    assert core["screening_only"]
    assert core["locked_tool_opens"] is True
    assert core["tool_opens"] is False
    assert core["pressure_with_clamp"]["value"] == core["pressure"]["nominal"]["at_maximum"]["value"]
    assert answer["clamp_force"] == {"value": 600.0, "unit": "kN", "standard_uncertainty": None}


def test_from_options_alone_the_figures_of_the_contract(shop):
    core = shop.json(*call())["cores"][0]
    assert core["pressure"]["nominal"]["at_gel"]["value"] == pytest.approx(4.06, abs=0.01)
    assert core["pressure"]["nominal"]["at_maximum"]["value"] == pytest.approx(11.91, abs=0.01)
    assert core["pressure"]["locked_maximum"]["at_maximum"]["value"] == pytest.approx(23.23, abs=0.01)
    assert core["clamp_limit"]["value"] == pytest.approx(14.3, abs=0.05)
    assert core["contact_temperature"]["value"] == pytest.approx(97.8, abs=0.1)
    assert core["gap_wanted"]["value"] == pytest.approx(2.9)


def test_a_stack_not_known_as_laid_up_or_bled(shop):
    answer = shop.json(*call(without=("--stack-laid-up", "--stack-bled")))["cores"][0]
    assert answer["pressure"]["lowest"] is None
    assert answer["contact_temperature"] == answer["liquid_full_temperature"]
    full = shop.json(*call())["cores"][0]["pressure"]["locked_maximum"]["at_maximum"]["value"]
    assert answer["pressure"]["locked_maximum"]["at_maximum"]["value"] < full
    out = shop.run(*call(without=("--stack-laid-up",)), "--why").out
    assert says("cli: a stack not known as laid up or bled", out)
    assert says("cli: a stack not known as laid up or bled, 2", out)


def test_a_clamp_without_the_area_that_it_holds_says_nothing_of_the_clamp(shop):
    answer = shop.json(*call(without=("--projected-area",)))["cores"][0]
    assert answer["clamp_limit"] is None
    assert reads("cli: a clamp without the area that it holds", answer["clamp_reason"])


def test_volumes_from_options(shop):
    more = {
        "--core-volume": "1 l",
        "--cavity-volume": "1.26 l",
        "--laminate-area": "0.0653 m^2",
        "--held": "no",
    }
    core = shop.json(*call(more))["cores"][0]
    assert core["balance"] == "volumes"
    assert core["pressure"]["nominal"]["at_maximum"]["value"] > 0
    assert shop.json(*call({"--held": "no"}))["cores"][0]["pressure"]["nominal"] is None


def test_heating_from_options(shop):
    more = {
        "--platen-temperature": "125 degC", "--start-temperature": "23 degC", "--heating-time": "15 min",
        "--heated-thickness": "50 mm", "--diffusivity": "0.11 mm^2/s",
    }  # fmt: skip
    core = shop.json(*call(more, without=("--core-temperature",)))["cores"][0]
    assert core["mean_temperature"]["value"] == pytest.approx(23 + 0.45 * 102, abs=0.6)
    assert core["mean_temperature_by_time"][0]["mean"]["value"] == pytest.approx(23)


def test_above_the_clamp_is_status_one(shop):
    answer = shop.run(*call({"--clamp-force": "400 kN"}))
    assert answer.status == 1
    assert begins("cli: above the clamp is status one", answer.out)
    found = shop.json(*call({"--clamp-force": "400 kN"}), status=(1,))["cores"][0]
    assert found["tool_opens"]
    assert found["pressure_with_clamp"]["value"] == found["clamp_limit"]["value"]


@pytest.mark.parametrize(("used", "status"), [("50", 0), ("51", 1)])
def test_past_its_moldings_is_status_one(shop, used, status):
    assert shop.run("core", "part.toml", "--moldings", used, *FEW).status == status


def test_a_batch_file_says_how_often_the_core_was_used(shop):
    core = shop.json("core", "batch.toml", *FEW)["cores"][0]
    assert core["moldings"] == 12
    assert core["steam"]["stored_humidity"]["value"] == pytest.approx(45)
    assert core["steam"]["stored_humidity_stated"]
    shop.change("batch.toml", "moldings = 12", "moldings = 60")
    answer = shop.run("core", "batch.toml", *FEW)
    assert answer.status == 1
    assert says("cli: a batch file says how often the core", answer.out)


def test_other_plies(shop):
    few, more = (
        shop.json("core", "part.toml", "--plies", f"skin={n}", *FEW, status=(0, 1)) for n in (19, 21)
    )
    assert few["cores"][0]["contact_temperature"]["value"] > more["cores"][0]["contact_temperature"]["value"]
    assert not few["cores"][0]["plies_fit"]  # 19 plies are not pressed
    assert more["cores"][0]["tool_holds"] is False  # 21 press harder, and open the tool where nothing bleeds


def test_us_units(shop):
    out = shop.run("core", "part.toml", "--units", "us", *FEW).out
    assert "at gel [psi]" in out
    assert says("cli: us units", out)
    assert "MPa" not in out.partition("Screening")[0]


def test_the_page_stands_alone(shop):
    answer = shop.run("core", "part.toml", *FEW, "--html", "core.html")
    assert answer.status == 0
    page = shop.read("core.html")
    assert page.count("<img") == 3  # the room, its pressure against bleed and against temperature
    assert not re.search(r'(?:src|href)="(?!#|data:)|url\((?!#)|@import|<script', page)
    assert says("cli: the page stands alone", page)


def refused(shop, *arguments):
    answer = shop.run(*arguments)
    assert (answer.status, answer.out) == (2, "")
    return answer.err.splitlines()


@pytest.mark.parametrize(
    ("changed", "without", "place", "code"),
    [
        ({}, ("--held",), "--held", "missing-option"),
        ({"--held": "side"}, (), "--held", "wrong-word"),
        ({"--core-width": "39 mm"}, (), "--core-width", "core-too-wide"),
        ({"--core-expansion": "23.6 /K"}, (), "--core-expansion", "unreadable-value"),
        ({"--tool-temperature": "140 degC"}, (), "--tool-temperature", "wrong-order"),
        ({"--core-material": "silicon ruber"}, ("--core-expansion",), "--core-material", "unknown-material"),
        ({}, ("--core-expansion",), "--core-expansion", "missing-option"),
        ({}, ("--stack",), "--stack", "missing-option"),
        ({"--cast-temperature": "23 degC"}, (), "--cure-shrinkage", "missing-option"),
        ({"--stack-bled": "3.1 mm"}, (), "--stack-bled", "wrong-order"),
        ({"--core-volume": "1 l", "--cavity-volume": "1.26 l"}, (), "--laminate-area", "missing-option"),
    ],
)
def test_mistakes_in_options(shop, changed, without, place, code):
    (problem,) = shop.json(*call(changed, without), status=(2,))["problems"]
    assert (problem["place"], problem["code"]) == (place, code)
    (line,) = refused(shop, *call(changed, without))
    assert line.startswith(place)
    assert "laminate." not in line  # no key of a file that nobody wrote


def test_all_mistakes_at_once(shop):
    assert len(refused(shop, "core", "--cavity", "3 kg", "--held", "side")) == 8
    answer = shop.json("core", "--cavity", "3 kg", "--held", "side", status=(2,))
    assert [problem["place"] for problem in answer["problems"]] == [
        "--core-width",
        "--walls",
        "--tool-expansion",
        "--gel-temperature",
        "--core-expansion",
        "--stack",
        "--held",
        "--cavity",
    ]


def test_a_part_without_a_core(shop):
    text = shop.read("part.toml")
    start, end = text.index("[core.fore]"), text.index("[zone.web]")
    skin, plan = text.index("[zone.skin]"), text.index("[plan.web]")
    shop.write("part.toml", text[:start] + text[end:skin] + text[plan:])
    assert refused(shop, "core", "part.toml") == [worded("cli: a part without a core")]


def test_a_core_that_no_zone_names(shop):
    text = shop.read("part.toml")
    shop.write("part.toml", text[: text.index("[zone.skin]")] + text[text.index("[plan.web]") :])
    assert refused(shop, "core", "part.toml") == [worded("cli: a core that no zone names")]


def test_volumes_need_the_area_of_the_laminate(shop):
    shop.change("part.toml", 'held = "sides"', 'volume = "1 l"\ncavity_volume = "1.26 l"\nheld = "sides"')
    assert refused(shop, "core", "part.toml") == [worded("cli: volumes without an area")]
    shop.change("part.toml", 'cavity_volume = "1.26 l"\n', "")
    assert says("cli: volumes need the area of the laminate", refused(shop, "core", "part.toml"))


def test_nothing_is_not_a_number(shop):
    text = shop.run(*call(without=("--clamp-force", "--projected-area")), "--json").out
    assert "NaN" not in text
    assert "Infinity" not in text
    assert json.loads(text)["cores"][0]["clamp_limit"] is None
