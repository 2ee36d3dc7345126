"""Every ± of `correct` is that of the number it stands beside: its own u times its own coverage factor."""

import json
import re
import shutil
from importlib.resources import as_file, files

import pytest

from laminate.cli import app
from laminate.history.correcting import correct
from laminate.show.correct_page import correct_figures
from laminate.show.correct_words import first_answer
from laminate.show.rubber_words import first_line

from .test_rubber import rubber

T_1 = 12.7062
"""Student's factor at 95 % for one degree of freedom, as of two coupons."""


def written(name, words):
    """Value and ± that stand behind a word."""
    pair = re.search(rf"{name} (\d+(?:\.\d+)?) ± (\d+(?:\.\d+)?)", words)
    assert pair, (name, words)
    return tuple(map(float, pair.groups()))


def measured(capsys, batch, zone):
    """The averages of a zone as `measure` has them, in the units of the page."""
    app.status(["measure", str(batch), "--json"])
    zones = json.loads(capsys.readouterr().out)["zones"]
    (averages,) = (entry["average"] for entry in zones if entry["zone"] == zone)
    return averages


def near(spread, right):
    """Whether a ± is this one, told to its two digits."""
    return spread == pytest.approx(right, rel=0.05)


@pytest.fixture
def two(tmp_path):
    """The panel with two of its coupons."""
    with as_file(files("laminate.examples") / "panel") as folder:
        shutil.copytree(folder, tmp_path / "two")
    table = tmp_path / "two" / "coupons.csv"
    rows = table.read_text("utf-8").splitlines(keepends=True)
    table.write_text("".join(rows[:3]), "utf-8")
    return tmp_path / "two" / "batch.toml"


def test_in_the_pictures_predicted_and_achieved_have_their_own(two, capsys):
    """Two coupons have 12.7, the prediction from stated ± has 1.96: the measurement is the uncertain one."""
    found = correct([two])
    capsys.readouterr()
    (zone,) = found.zones
    averages = measured(capsys, two, zone.zone)
    for key, figure in zip(("fiber_volume", "thickness"), correct_figures(found, "metric"), strict=True):
        row = next(d for d in zone.differences if d.attribute == key)
        scale = 100.0 if key == "fiber_volume" else 1e3
        assert near(written("chieved", figure.words)[1], averages[key]["expanded_uncertainty"])
        assert near(written("redicted", figure.words)[1], 1.95996 * scale * row.predicted.mean.u)
        assert row.achieved.mean.factor > 3.0 > row.predicted.mean.factor


def two_of_skin(mast, *thicknesses, edit=()):
    """The answer of the skin under rubber, from two coupons [mm]."""
    rubber(mast, 2.845, edit=edit)
    rows = "".join(f"S{i},skin,{thick}\n" for i, thick in enumerate(thicknesses))
    (mast / "skin.csv").write_text(f"specimen,zone,thickness [mm]\n{rows}", "utf-8")
    return correct([mast / "batch.toml"])


def test_under_rubber_the_first_sentence_has_the_spread_of_the_thickness(mast, capsys):
    """2.852 and 2.839 mm: s 0.00919 mm of one degree of freedom, not the factor of the bleed."""
    found = two_of_skin(mast, 2.852, 2.839)
    (zone,) = found.rubber
    thick, spread = written("It came out", first_line(zone, "metric"))
    assert (thick, spread) == (2.845, pytest.approx(T_1 * 0.00919 / 2**0.5, abs=0.0015))
    assert near(spread, measured(capsys, mast / "batch.toml", "skin")["thickness"]["expanded_uncertainty"])
    assert zone.run.bleed.factor < 0.5 * zone.run.thickness.factor


def test_under_rubber_the_pictures_have_it_too(mast, capsys):
    found = two_of_skin(mast, 2.852, 2.839)
    averages = measured(capsys, mast / "batch.toml", "skin")
    figure = next(f for f in correct_figures(found, "metric") if "skin: laminate thickness" in f.title)
    assert near(written("chieved", figure.words)[1], averages["thickness"]["expanded_uncertainty"])


@pytest.mark.parametrize("case", ["mast", "panel", "glass"])
def test_the_pictures_of_the_examples_say_what_measure_says(case, capsys, tmp_path):
    with as_file(files("laminate.examples") / case) as folder:
        shutil.copytree(folder, tmp_path / case)
    found = correct([tmp_path / case / "batch.toml"])
    (zone,) = found.zones
    averages = measured(capsys, tmp_path / case / "batch.toml", zone.zone)
    figures = correct_figures(found, "metric")
    for aim, figure in zip(zone.centring.aims, figures, strict=True):
        assert near(written("chieved", figure.words)[1], averages[aim.attribute]["expanded_uncertainty"])


def test_a_change_has_the_factor_of_what_it_reaches(two):
    (zone,) = correct([two]).zones
    for aim in zone.centring.aims:
        (change,) = aim.changes
        assert change.expanded / change.u == pytest.approx(aim.now.factor, rel=0.02)


def test_the_first_line_says_of_the_next_batch_what_is_of_the_next_batch(mast, capsys):
    """± 0.040 mm is that of the next batch, ± 0.008 mm that of what was measured."""
    found = correct([mast / "batch.toml"])
    (zone,) = found.zones
    line = first_answer(zone, "metric", found.coverage)
    volume, thickness = zone.centring.aims
    assert near(written("fiber volume", line)[1], 100.0 * volume.now.expanded)
    assert near(written("laminate thickness", line)[1], 1e3 * thickness.now.expanded)
    measured_now = measured(capsys, mast / "batch.toml", "web")["thickness"]["expanded_uncertainty"]
    assert 1e3 * thickness.now.expanded > 3.0 * measured_now


def test_under_rubber_both_are_told_apart(mast):
    stated = ("[zone.skin]", '[zone.skin]\nbleed = "3 % ± 2 (tolerance)"')
    (zone,) = two_of_skin(mast, 2.852, 2.839, edit=[stated]).rubber
    line = first_line(zone, "metric")
    ((aim, coming), *_) = zone.aims
    assert aim.attribute == "thickness"
    assert near(written("laminate thickness", line)[1], 1e3 * coming.expanded)
    assert near(written("It came out", line)[1], 1e3 * zone.run.thickness.expanded)
    assert coming.expanded > 1.05 * zone.run.thickness.expanded
