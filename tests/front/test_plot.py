"""Pictures that answers draw on axes: names in words, one unit, limits, keys that stay in the picture."""

import shutil
from itertools import pairwise

import pandas as pd
import pytest
from matplotlib.figure import Figure

import laminate as lam
from laminate.examples.panel_batches import write_records
from tests.messages.wording import reads

PLY = {
    "fiber_areal_weight": "134 g/m^2",
    "resin_content": "35 %",
    "fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)",
    "resin_density": "1.30 g/cm^3",
}


def names(axes):
    return [label.get_text().replace("\n", " ") for label in axes.get_xticklabels()]


def key(axes):
    return [text.get_text().replace("\n", " ") for text in axes.get_legend().get_texts()]


def heights(axes):
    """The values of what is drawn with ±, by the key."""
    return {drawn.get_label(): list(drawn.lines[0].get_ydata()) for drawn in axes.containers}


def bare():
    return Figure().add_subplot()


def assert_inside(axes):
    """Nothing of axes runs out of its picture, and no two names below cover each other."""
    figure = axes.figure
    for drawn in figure.axes:
        box = drawn.get_tightbbox().transformed(figure.transFigure.inverted())
        assert min(box.x0, box.y0) > -0.001
        assert max(box.x1, box.y1) < 1.001
    boxes = [label.get_window_extent() for label in axes.get_xticklabels() if label.get_text()]
    assert not any(a.overlaps(b) for a, b in pairwise(boxes))


def test_a_picture_has_one_unit_on_its_axis_and_tells_the_others():
    axes = lam.predict(**PLY, plies=20).plot(bare())
    assert "[mm]" in axes.get_ylabel()
    assert names(axes) == ["laminate thickness", "cured ply thickness"]
    assert axes.get_xlabel().endswith("%, g/cm³, g/m²")
    assert_inside(axes)


def test_an_attribute_is_chosen_and_names_have_their_zone(checkout):
    answer = lam.predict(checkout / "examples" / "mast" / "part.toml")
    axes = answer.plot(bare())
    assert names(axes) == [
        f"{zone}: {what}"
        for zone in ("web", "skin")
        for what in ("laminate thickness", "cured ply thickness")
    ]
    assert_inside(axes)
    axes = answer.plot(bare(), attribute="fiber_volume")
    assert axes.get_ylabel().startswith("fiber volume [%]")
    volumes = [answer.zones[zone].fiber_volume.value for zone in ("web", "skin")]
    assert heights(axes)["value"] == pytest.approx(volumes)


def test_long_names_are_drawn_whole():
    names = [f"coupon {'x' * 50} {number}" for number in range(3)]
    thickness = {"thickness 1 [mm]": ["2.87"] * 3, "thickness 2 [mm]": ["2.88"] * 3}
    frame = pd.DataFrame({"specimen": names, **thickness})
    axes = lam.measure(frame, fiber_density="1.79 g/cm^3", resin_density="1.28 g/cm^3").plot(bare())
    drawn = [label.get_text().replace("\n", "").replace(" ", "") for label in axes.get_xticklabels()]
    assert drawn == [name.replace(" ", "") for name in names]
    assert_inside(axes)


def test_a_judged_value_is_drawn_between_its_limits():
    axes = lam.judge("1.2 % ± 0.1 (standard)", min="0.9 %", max="2 %").plot(bare())
    lines = {line.get_label(): set(line.get_ydata()) for line in axes.get_lines()}
    assert lines["min 0.9 %"] == {0.9}
    assert lines["max 2 %"] == {2.0}
    assert key(axes) == ["min 0.9 %", "max 2 %", "value"]
    assert_inside(axes)


def test_a_batch_is_drawn_with_its_limits_and_a_comparison_with_both_values(checkout):
    batch = checkout / "examples" / "mast" / "batch.toml"
    axes = lam.report(batch).plot(bare())
    assert names(axes)[:2] == ["web: fiber volume", "web: void content"]
    limits = {tuple(line.get_ydata()) for line in axes.get_lines() if line.get_label() == "limits, average"}
    assert {(56.0, 56.0), (62.0, 62.0)} <= limits
    assert_inside(axes)
    answer = lam.correct(batch)
    axes = answer.plot(bare())
    assert key(axes) == ["predicted", "achieved"]
    first = answer.zones["web"].differences[0]
    drawn = heights(axes)
    assert drawn["predicted"][0] == pytest.approx(first.predicted.value)
    assert drawn["achieved"][0] == pytest.approx(first.achieved.value)


def test_a_trend_is_drawn_one_series_a_picture(checkout, tmp_path):
    for name in ("part.toml", "batch.toml", "coupons.csv"):
        shutil.copy(checkout / "examples" / "panel" / name, tmp_path)
    write_records(tmp_path)
    trend = lam.trend(tmp_path / "kept")
    axes = trend.plot(bare())
    first, second = trend.to_dict()["series"][:2]
    assert axes.get_title() == "panel: fiber volume"
    assert heights(axes)["value"] == [row["value"] for row in first["batches"]]
    assert_inside(axes)
    assert len(names(axes)) == 25
    axes = trend.plot(bare(), attribute=second["name"])
    assert axes.get_title() == "panel: void content"
    assert heights(axes)["value"] == [row["value"] for row in second["batches"]]


def test_letters_and_lines_have_a_key_in_the_picture(checkout):
    mast, cycle = checkout / "examples" / "mast" / "part.toml", checkout / "examples" / "cycle" / "part.toml"
    axes = lam.core(mast, draws=1000).plot(bare())
    assert [words[:2] for words in key(axes)[-3:]] == ["g:", "c:", "m:"]
    assert {"gel 118 °C", "highest 130 °C"} <= {text.get_text() for text in axes.texts}
    assert_inside(axes)
    axes = lam.fill(mast, draws=1000).plot(bare())
    assert "thin: 19 and 21 plies" in key(axes)
    assert_inside(axes)
    assert_inside(lam.fill(mast, draws=1000).plot(bare(), "section"))
    axes = lam.cycle(cycle, draws=100).plot(bare())
    assert [words[:2] for words in key(axes)[-5:]] == ["a:", "b:", "c:", "d:", "e:"]
    assert_inside(axes)


def test_counts_without_a_line_are_told_apart_from_those_with_one(checkout):
    answer = lam.fill(checkout / "examples" / "paddle" / "part.toml", draws=1000)
    figure = next(f for f in answer.document().draw() if "bleed" in f.title)
    assert reads(
        "fill: other counts of a picture, none of them in it", figure.words[figure.words.index("Without") :]
    )
    assert "thin" not in figure.words.lower()
