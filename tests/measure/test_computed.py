"""Readings that a program computed, in files and in DataFrames: what is said of them, and their digits."""

import io
import json

import pandas as pd
import pytest

import laminate as lam
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.resolution import untold_words
from laminate.files.coupons import Coupon

DENSITIES = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.22 g/cm^3"}
HEAD = "specimen,mass in air [g],mass in liquid [g],liquid temperature [degC],method,residue mass [g]"
ROW = "{},1.4427,0.5117,22.8,digestion,0.9763"
NOISY = ("2.870000000000001", "2.8799999999999994", "2.8900000000000006")
MEANS = ("2.8733333333", "2.8713333333", "2.8723333333")


def table(thicknesses):
    rows = (f"{ROW.format(name)},{each}" for name, each in zip("ABC", thicknesses, strict=True))
    return "\n".join([f"{HEAD},thickness [mm]", *rows, ""])


def test_powers_of_ten_keep_the_last_decimal():
    """As an instrument may export it: 1.4427e+00 g has a step of 0.1 mg, not of 1 g."""
    plain = table(("2.870", "2.880", "2.890"))
    powers = plain.replace("1.4427", "1.4427e+00").replace("0.5117", "5.117E-1").replace("0.9763", "976.3e-3")
    powers = powers.replace("2.870", "0.2870e1")
    answers = [
        lam.measure(pd.read_csv(io.StringIO(text), dtype=str), **DENSITIES) for text in (plain, powers)
    ]
    assert answers[0].average.density.u < 0.001
    first, second = (answer.to_dict() for answer in answers)
    assert (first["average"], first["specimens"]) == (second["average"], second["specimens"])


@pytest.mark.parametrize("thicknesses", [NOISY, MEANS])
def test_text_in_a_frame_is_read_as_in_a_file(thicknesses, tmp_path):
    path = tmp_path / "coupons.csv"
    path.write_text(table(thicknesses), "utf-8")
    frame = pd.read_csv(path, dtype=str)
    answers = [lam.measure(source, **DENSITIES).to_dict() for source in (str(path), frame)]
    assert answers[0]["average"] == answers[1]["average"]
    assert answers[0]["notes"] == answers[1]["notes"]


def test_a_column_of_numbers_keeps_what_it_holds():
    frame = pd.read_csv(io.StringIO(table(NOISY)))
    thick = [row.thickness.value for row in lam.measure(frame, **DENSITIES).specimens]
    assert thick == pytest.approx([float(each) for each in NOISY], rel=1e-15)
    assert lam.measure(frame, **DENSITIES).average.thickness.u < 0.0058  # 0.01/sqrt(3): no step of 0.01 mm


def test_the_screen_and_the_keys_say_of_what_was_computed_the_same(tmp_path, shop):
    path = tmp_path / "coupons.csv"
    path.write_text(table(MEANS), "utf-8")
    options = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
    screen = " ".join(shop.run("measure", str(path), *options).out.split())
    notes = json.loads(shop.run("measure", str(path), *options, "--json").out)["notes"]
    (note,) = [note for note in notes if "resolution" in note]
    assert note in screen
    assert "--micrometer-resolution" in note
    options += ("--micrometer-resolution", "0.01 mm")
    notes = json.loads(shop.run("measure", str(path), *options, "--json").out)["notes"]
    assert [note for note in notes if "resolution" in note] == []


def computed(*labels, **words):
    numbers = dict.fromkeys(labels, 1.0)
    return Coupon(
        "A", "t.csv", numbers, words=words, computed={*labels}, given=dict.fromkeys(labels, ("", ""))
    )


@pytest.mark.parametrize("label", ["density", "area"])
def test_without_an_option_the_line_of_a_batch_file_is_said_alone(label):
    (sentence,) = untold_words([computed(label)], Bench())
    assert "--" not in sentence
    assert "[instrument." in sentence


def test_beside_a_batch_file_no_option_is_said():
    bench = Bench({"fine": Gauge("fine", None, None, 0.0)}, registered=True)
    coupon = computed("mass in air", "thickness", balance="fine")
    sentences = untold_words([coupon], bench)
    assert ["[instrument.fine]" in sentences[0], "[instrument.micrometer]" in sentences[1]] == [True, True]
    assert "--" not in "".join(sentences)


def test_columns_stand_in_the_order_of_the_table():
    labels = ("width", "thickness 2", "length", "thickness 1")
    (sentence,) = untold_words([computed(*labels)], Bench())
    assert sentence.startswith("width, thickness, length:")


def test_what_is_taken_as_exact_is_counted_where_the_spread_is_shown():
    """Three are named, densities first; as many as the answer's own list has are counted."""
    frame = pd.read_csv(io.StringIO(table(MEANS)), dtype=str)
    bare = lam.measure(frame, **DENSITIES)
    exact = bare.to_dict()["not_measured"]
    shown = " ".join(str(bare).split())
    named = ", ".join(sorted(exact, key=lambda name: "density" not in name)[:3])
    assert f"{named} and {len(exact) - 3} more" in shown
    (without_blank,) = (note for note in bare.to_dict()["notes"] if "blank" in note)
    assert shown.count(without_blank[1:]) == 1
    spread = {name: f"{value} ± 0.01 (k=2)" for name, value in DENSITIES.items()}
    assert "fiber density" not in str(lam.measure(frame, **spread))
