"""The examples by options alone: the same numbers as by their files."""

import re

import pytest

import laminate as lam
from laminate.front.options import CORE, FILL, PREDICT

FEW = ("--draws", "2000")
OIL = {
    "room_temperature": "25 degC", "gel_temperature": "122 degC", "maximum_temperature": "135 degC",
    "fiber_density": "1.80 g/cm^3 ± 0.01 (k=2)", "resin_density": "1.21 g/cm^3 ± 0.01 (k=2)",
    "liquid_density": "1.12 g/cm^3 ± 0.01 (tolerance)", "packing_limit": "68 %",
    "fiber_areal_weight": "150 g/m^2 ± 2 (tolerance)", "resin_content": "34 % ± 0.5 (tolerance)",
    "resin_basis": "as received", "bulk_factor": "1.10", "tool_expansion": "12.8e-6 /K ± 0.3e-6 (tolerance)",
    "clamp_force": "900 kN", "pressure_limit": "25 MPa", "room_width": "25.20 mm ± 0.02 (tolerance)",
    "room_height": "80.00 mm ± 0.03 (tolerance)", "room_length": "400.0 mm ± 0.1 (tolerance)",
    "projected_area": "0.032 m^2", "wanted_pressure": "0.3 MPa",
    "core_expansion": "250e-6 /K ± 5e-6 (tolerance)", "core_material": "silicone rubber",
    "bulk_modulus": "0.8 GPa ± 0.2 (tolerance)", "bulk_modulus_rise": "10",
    "core_width": "18.50 mm ± 0.02 (tolerance)", "core_height": "79.90 mm ± 0.03 (tolerance)",
    "core_length": "399.5 mm ± 0.2 (tolerance)", "room_corner_radius": "0 mm", "core_corner_radius": "0 mm",
    "core_temperature": "155 degC ± 2 (tolerance)", "core_maximum": "155 degC ± 2 (tolerance)", "walls": "2",
    "bleed": "2 % ± 1 (tolerance)", "bleed_limit": "15 %",
}  # fmt: skip
"""The oil-heated core of the examples."""


def typed(given):
    return [word for name, text in given.items() for word in (f"--{name.replace('_', '-')}", text)]


@pytest.fixture(scope="module")
def oil(tmp_path_factory, checkout):
    path = tmp_path_factory.mktemp("oil") / "part.toml"
    path.write_text((checkout / "examples" / "oil" / "part.toml").read_text("utf-8"))
    return path


def rows(answer):
    """Numbers that rest on no draws, by plies."""
    return {
        row["plies"]: (
            row["verdict"],
            row["pressure_at_gel"]["value"],
            row["pressure_at_worst"]["value"],
            row["bleed_at_no_pressure"]["value"] if row["bleed_at_no_pressure"] else None,
            row["fiber_volume"]["value"],
        )
        for row in answer["zones"][0]["counts"]
    }


def test_fill_by_options_says_what_it_says_by_file(shop, oil):
    by_file = shop.json("fill", str(oil), *FEW, status=(0, 1))
    by_options = shop.json("fill", *typed(OIL), *FEW, status=(0, 1))
    found, wanted = rows(by_options), rows(by_file)
    assert found.keys() == wanted.keys()
    for plies, row in wanted.items():
        assert found[plies][0] == row[0]
        assert [v is None for v in found[plies]] == [v is None for v in row]
        told = [
            (one, other) for one, other in zip(found[plies][1:], row[1:], strict=True) if other is not None
        ]
        assert [one for one, _ in told] == pytest.approx([other for _, other in told], rel=1e-9, abs=1e-9)
    for moment, force in by_file["press"]["opening_force"].items():  # the file states more ±
        assert by_options["press"]["opening_force"][moment]["value"] == force["value"]
    assert by_file["zones"][0]["missing_for_use"] == []
    missing = by_options["zones"][0]["missing_for_use"]
    assert "--compliance" in missing  # 0 by default, not stated
    assert not any("core" in words and "bulk" not in words for words in missing)


def test_core_by_options_says_what_it_says_by_file(shop, oil):
    by_file = shop.json("core", str(oil), "--plies", "wall=17", *FEW, status=(0, 1))["cores"][0]
    by_options = shop.json("core", *typed(OIL), "--plies", "17", *FEW, status=(0, 1))["cores"][0]
    for state in ("lowest", "nominal", "locked_maximum", "expected"):
        for moment in ("at_gel", "at_maximum"):
            one, other = (found["pressure"][state][moment]["value"] for found in (by_options, by_file))
            assert one == pytest.approx(other, rel=1e-9, abs=1e-9)
    for key in ("contact_temperature", "liquid_full_temperature", "clamp_limit"):
        assert by_options[key]["value"] == pytest.approx(by_file[key]["value"], rel=1e-9)


def test_the_library_takes_the_same_options(oil):
    by_options = lam.fill(**OIL | {"walls": 2, "bulk_modulus_rise": 10}, draws=2000)
    by_file = lam.fill(oil, draws=2000)
    forces = by_options.press.opening_force, by_file.press.opening_force
    assert [force.at_worst.value for force in forces] == [forces[1].at_worst.value] * 2
    assert [force.at_gel.value for force in forces] == [forces[1].at_gel.value] * 2
    one, other = lam.core(**OIL | {"walls": 2}, plies=17, draws=2000), lam.core(oil, plies=17, draws=2000)
    names = ("oil", "core")
    both = [a.cores[n].pressure["worst"]["value"] for a, n in ((other, names[0]), (one, names[1]))]
    assert both[0] == pytest.approx(both[1], rel=1e-9)


def test_what_is_refused_is_told_at_its_option(shop):
    def places(*arguments):
        answer = shop.json(*arguments, status=(2,))
        return [problem["place"] for problem in answer["problems"]]

    wrong = {**OIL, "bleed": "20 %"}
    assert places("fill", *typed(wrong)) == ["--bleed"]
    assert places("core", *typed({**OIL, "core_width": "26 mm"})) == ["--core-width"]
    assert places("fill", *typed({**OIL, "core_maximum": "120 degC"})) == ["--core-maximum"]
    less = {name: text for name, text in OIL.items() if name not in ("room_height", "core_length")}
    assert places("fill", *typed(less)) == ["--room-height", "--core-length"]
    assert places("fill", *typed(OIL), "--gap", "3 mm")[0].startswith("--")
    assert places("fill", *typed(OIL), "--held", "sides") == ["--held"]
    assert places("core", *typed(OIL), "--stack", "3 mm") != []
    with pytest.raises(lam.Refused) as refusal:
        lam.fill(**wrong | {"walls": 2})
    assert [problem.place for problem in refusal.value.problems] == ["bleed"]


def test_every_option_of_a_command_is_in_the_one_table(capsys):
    from laminate.cli import app

    for command, table in (("predict", PREDICT), ("fill", FILL), ("core", CORE)):
        assert app.status([command, "--help"]) == 0
        out = capsys.readouterr().out
        assert {f"--{name.replace('_', '-')}" for name in table.without_file} - set(
            re.findall(r"--[a-z-]+", out)
        ) == set()
