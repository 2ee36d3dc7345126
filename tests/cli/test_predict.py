"""The screen of `predict`: where the count comes from, and what no laminate can be."""

import math

import pytest

from tests.messages.wording import says

PLY = {
    "--fiber-areal-weight": "150 g/m^2", "--resin-content": "33 %", "--fiber-density": "1.79 g/cm^3",
    "--resin-density": "1.22 g/cm^3",
}  # fmt: skip


def call(**changed):
    given = {**PLY, **{f"--{name.replace('_', '-')}": text for name, text in changed.items()}}
    return ("predict", *(word for pair in given.items() for word in pair))


def test_an_ordinary_laminate_has_no_warning(shop):
    assert "Warning" not in shop.run(*call()).out
    assert "warnings" not in shop.json(*call())


def test_more_fiber_than_packs_is_warned_of(shop):
    """4 % resin by weight: 0.96/1.79 of fiber against 0.04/1.22 of resin is 94.2 % by volume."""
    share = 0.96 / 1.79 / (0.96 / 1.79 + 0.04 / 1.22)
    out = shop.run(*call(resin_content="4 %")).out
    assert says("cli: more fiber than packs, first", out, share=f"{100 * share:.1f} %")
    assert says("cli: more fiber than packs, at most", out, most=f"{100 * math.pi / math.sqrt(12):.1f} %")
    (warning,) = shop.json(*call(resin_content="4 %"))["warnings"]
    assert warning.startswith("fiber volume 94.2 %")


@pytest.mark.parametrize(
    ("changed", "figure"),
    [
        ({"void_content": "60 %"}, "60 %"),  # 6.0 without its point
        ({"fiber_areal_weight": "3 kg/m^2"}, "2.9 mm"),  # 3/1790 + 3*33/67/1220 m
    ],
)
def test_voids_and_plies_of_an_unlikely_size_are_warned_of(changed, figure, shop):
    (warning,) = shop.json(*call(**changed))["warnings"]
    assert figure in warning
    assert figure in shop.run(*call(**changed)).out


def test_a_form_packs_to_its_own_limit(shop):
    shop.change("part.toml", 'packing_limit = "68 %"', 'packing_limit = "50 %"')
    out = shop.run("predict", "part.toml", "--plies", "web=20").out
    assert says("cli: a form packs to its own limit", out)


def test_a_fiber_lighter_than_its_resin_is_warned_of(shop):
    answer = shop.run(*call(fiber_density="1.1 g/cm^3", resin_density="1.3 g/cm^3"))
    assert answer.status == 0
    assert says("cli: a fiber lighter than its resin", answer.out)
    assert says("cli: a fiber lighter than its resin, 2", answer.out)


def test_densities_exchanged_are_told_wherever_they_enter_a_figure(shop):
    """1.28 g/cm^3 of carbon under 1.79 of resin: by options of few and of many rows, and of a batch."""
    densities = ("--fiber", "carbon", "--fiber-density", "1.28 g/cm^3", "--resin-density", "1.79 g/cm^3")
    for count in (3, 300):
        rows = [f"{n},{2.87 + n % 7 / 1000:.3f},20" for n in range(count)]
        shop.table("specimen,thickness [mm],plies", *rows)
        call = ("measure", "coupons.csv", "--fiber-areal-weight", "150 g/m^2", *densities)
        (note,) = [note for note in shop.json(*call)["notes"] if "1.28" in note]
        assert "1.79" in note
        assert shop.run(*call).out.index("1.28 g/cm³") < shop.run(*call).out.index("\n\n")


def test_densities_exchanged_in_a_part_are_told_beside_the_decision(shop):
    for file, fiber in (
        ("part.toml", "1.79 g/cm^3 ± 0.01 (k=2)"),
        ("batch.toml", "1.786 g/cm^3 ± 0.006 (k=2)"),
    ):
        shop.change(file, f'density = "{fiber}"', 'density = "1.22 g/cm^3 ± 0.006 (k=2)"')
    shop.change("part.toml", '[resin.epoxy]\ndensity = "1.22', '[resin.epoxy]\ndensity = "1.79')
    assert "1.79 g/cm" in shop.json("report", "batch.toml", status=[1])["remarks"][0]
    for call in (("measure", "batch.toml"), ("fill", "part.toml", "--draws", "1000")):
        assert "1.22 g/cm³" in " ".join(shop.run(*call).out.split())


@pytest.mark.parametrize(
    ("gap", "said"),
    [
        ("2.95 mm", "cli: where the count comes from"),
        ("0.4 mm", "cli: where the count comes from, 2"),
    ],
)
def test_where_the_count_comes_from(gap, said, shop):
    shop.change("part.toml", 'gap = "2.95 mm', f'gap = "{gap}')
    shop.change("part.toml", 'stack = ["4 ud150", "1 film"]', 'stack = ["1 film"]')
    assert says(said, shop.run("predict", "part.toml").out)


@pytest.mark.parametrize(
    ("case", "line", "written"),
    [
        ("mast", "", ""),
        ("mast", 'closes = "hot"', ""),  # a gap that is risky for want of it
        ("mast", 'bleed = "3 % ± 2 (tolerance)"', ""),  # rubber without a bleed
        ("mast", 'clamp_force = "900 kN"', 'clamp_force = "300 kN"'),  # no count under rubber
        ("paddle", "", ""),
        ("bladder", 'average = { min = "1.65 mm", ', "average = { "),  # nothing says how many
    ],
)
def test_what_it_says_of_the_count_is_what_fill_says(case, line, written, shop):
    shop.run("example", "new", "--case", case)
    if line:
        shop.change("new/part.toml", line, written)
    screen = " ".join(shop.run("fill", "new/part.toml").out.split())
    zones = shop.json("predict", "new/part.toml")["zones"]
    for zone in zones:
        last = screen.rpartition(f" {zone['zone']}: ")[2].partition("; ")[0].rstrip(".")
        assert last
        assert last in zone["plies_from"]


def test_plies_as_asked_for(shop):
    assert says("cli: plies as asked", shop.run("predict", "part.toml", "--plies", "web=19").out)
    assert says("cli: plies as asked, 2", shop.run("predict", "batch.toml").out)


def test_a_count_that_fill_does_not_advise_is_said_so(shop):
    shop.change("part.toml", 'individual = { min = "54 %", max = "64 %" }', 'individual = { max = "55 %" }')
    shop.change("part.toml", 'average = { min = "56 %", max = "62 %" }', "")
    out = shop.run("predict", "part.toml").out
    assert says("cli: a count that fill does not advise", out)


def test_the_mass_of_all_walls_is_that_of_each(shop):
    """By hand: 0.036 m2 of 20 plies of 150 g/m2, resin as received less volatiles, no bleed, on two walls."""
    zones = {z["zone"]: z for z in shop.json("predict", "part.toml")["zones"]}
    for name, walls in (("web", 1), ("skin", 2)):
        mass, whole = zones[name]["mass"], zones[name]["mass_of_all_walls"]
        assert whole["value"] == pytest.approx(walls * mass["value"], rel=1e-12)
        assert whole["standard_uncertainty"] == pytest.approx(walls * mass["standard_uncertainty"], rel=1e-12)
        assert whole["unit"] == "g"


def test_what_is_rounding_of_the_computer_is_no_uncertainty(shop):
    """Fiber volume at a stated resin content does not depend on the fiber weight, whose ± cancels."""
    answer = shop.json(*call(fiber_areal_weight="134 g/m^2 ± 2 (k=2)", plies="12"))
    for key in ("fiber_volume", "resin_volume", "density", "resin_content"):
        assert answer[key]["standard_uncertainty"] == 0.0, key
        assert answer["budget"][key] == []
    thickness = answer["thickness"]
    assert thickness["standard_uncertainty"] / thickness["value"] == pytest.approx(1 / 134)
