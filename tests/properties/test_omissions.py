"""Leaving out one cell, row, column, key or table never makes 'conforms' of another answer."""

from pathlib import Path

import pytest

from .omissions import answer_of, single_omissions

EXAMPLE = Path(__file__).parents[2] / "examples" / "mast"
BURNT = Path(__file__).parent / "glass"
TWO = {"batch.quantity", "batch.serials"}
"""Two statements that contradict each other, and nobody asked for either."""

# version -> file, old, new; answer; omissions that may make it conform: nobody asked for what is left out
MAST = {
    "a thickness outside": ("part.toml", 'max = "2.95 mm"', 'max = "2.868 mm"', "does not conform", set()),
    "voids too near": ("part.toml", 'max = "2 %"', 'max = "0.7 %"', "undecided", set()),
    "too few coupons": ("part.toml", "coupons = 3", "coupons = 4", "undecided", set()),
    "a position missing": ("part.toml", '"mid", "tip"', '"mid", "heel"', "undecided", set()),
    "an average outside": ("part.toml", 'max = "62 %"', 'max = "58.3 %"', "does not conform", set()),
    "resin content too near": ("part.toml", 'max = "34 %"', 'max = "33.3 %"', "undecided", set()),
    "cure temperature too near": (
        "batch.toml", "126 degC ± 1 (tolerance)", "127.5 degC ± 1 (tolerance)", "undecided", set()),
    "an instrument past due": ("batch.toml", "due = 2027-05-01", "due = 2026-11-19", "undecided", set()),
    "an instrument calibrated later": (
        "batch.toml", "calibrated = 2026-05-01", "calibrated = 2026-11-21", "undecided", set()),
    "an instrument unnamed": ("batch.toml", 'identity = "TH-05"\n', "", "undecided", set()),
    "a core past its moldings": ("batch.toml", "moldings = 12", "moldings = 51", "undecided", set()),
    "a lot past": ("batch.toml", "expires = 2027-06-01", "expires = 2026-11-01", "undecided", set()),
    "a lot out too long": ("batch.toml", 'out_life = "30 d"', 'out_life = "11 d"', "undecided", set()),
    "a density without ±": ("batch.toml", '"1.786 g/cm^3 ± 0.006 (k=2)"', '"1.786 g/cm^3"', "undecided",
                            {"fiber", "fiber.carbon", "fiber.carbon.density"}),
    "a gauge without ±": ("batch.toml", 'calibration = "0.2 K (tolerance)"\n', "", "undecided", set()),
    "no air": ("batch.toml", 'air_density = "0.0012 g/cm^3"\n', "", "undecided", set()),
    "a mass in doubt": ("coupons.csv", "1.4427", "1.4247", "undecided", set()),
    "copied rows": ("coupons.csv", "1.4609,0.5192,22.8,digestion,1.4607,0.9884,2.866,2.868,2.869",
                    "1.4427,0.5117,22.8,digestion,1.4425,0.9763,2.873,2.871,2.872", "undecided", set()),
    "quantity and serials apart": ("batch.toml", "quantity = 12", "quantity = 13", "undecided", TWO),
}  # fmt: skip


GLASS = {
    "fiber volume outside": ("part.toml", 'max = "57 %"', 'max = "51 %"', "does not conform", set()),
    "fiber volume too near": ("part.toml", 'min = "48 %"', 'min = "52.0 %"', "undecided", set()),
    "voids too near": ("part.toml", 'max = "2 %"', 'max = "0.7 %"', "undecided", set()),
    "past its shelf life": ("batch.toml", "made = 2026-03-01", "made = 2025-09-01", "undecided", set()),
    "out for longer than the part allows": (
        "batch.toml", 'out_time = "40 h"', 'out_time = "500 h"', "undecided", set()),
    "a thermometer unnamed": ("batch.toml", 'identity = "TH-05"\n', "", "undecided", set()),
    "no blank of resin": (
        "coupons.csv", "B6,,blank resin,JM,,,,ignition,K6,26.9627,28.4315,26.9685\n"
        "B7,,blank resin,JM,,,,ignition,K7,27.2880,28.6904,27.2937\n", "", "undecided", set()),
    "a residue in doubt": ("coupons.csv", "27.3906", "27.9306", "undecided", set()),
    "a mass in doubt": ("coupons.csv", "2.0090", "2.0900", "undecided", set()),
}  # fmt: skip


def _changed(folder, name, versions, target):
    """The answer of a version; its files stand in `target`."""
    file, old, new, answer, free = versions[name]
    for each in ("part.toml", "batch.toml", "coupons.csv"):
        text = (folder / each).read_text("utf-8")
        if each == file:
            assert text.count(old) == 1, (name, text.count(old))
            text = text.replace(old, new)
        (target / each).write_text(text, "utf-8")
    assert answer_of(target) == answer
    return free


def test_what_is_changed_conforms_before():
    assert [answer_of(folder) for folder in (EXAMPLE, BURNT)] == ["conforms", "conforms"]


# every version takes half a minute or more: a few run always, all of them with `-m long`
ALWAYS = ("copied rows", "a residue in doubt")


def versions(table):
    return [pytest.param(name, marks=() if name in ALWAYS else pytest.mark.long) for name in table]


@pytest.mark.slow
@pytest.mark.parametrize("name", versions(MAST))
def test_the_example(name, tmp_path):
    free = _changed(EXAMPLE, name, MAST, tmp_path)
    assert {what for what, found in single_omissions(tmp_path) if found == "conforms"} <= free


@pytest.mark.slow
@pytest.mark.parametrize("name", versions(GLASS))
def test_glass_burnt_off_beside_blanks_in_two_zones(name, tmp_path):
    free = _changed(BURNT, name, GLASS, tmp_path)
    assert {what for what, found in single_omissions(tmp_path) if found == "conforms"} <= free
