"""One cell: whatever a person or a balance may send, and what is refused with what to type instead."""

import pytest

from laminate.bench.cell import read_cell
from laminate.files.table import Heading
from laminate.values.problems import Refused
from tests.messages.wording import says

MASS = Heading("mass in air", None, "g", "mass in air [g]", 1)
WATER = Heading("liquid temperature", None, "degC", "liquid temperature [degC]", 1)
THICKNESS = Heading("thickness", 1, "mm", "thickness 1 [mm]", 1)
PLIES = Heading("plies", None, "", "plies", 1)
RESIDUE = Heading("residue mass", None, "g", "residue mass [g]", 1)
METHOD = Heading("method", None, "", "method", 1)
POSITION = Heading("position", None, "", "position", 1)
CHOICES = {"method": ("ignition", "digestion"), "position": ("root", "mid", "tip")}


@pytest.mark.parametrize(
    ("typed", "heading", "decimal", "text"),
    [
        ("3.1004", MASS, ".", "3.1004"),
        ("3.1004 g", MASS, ".", "3.1004"),
        ("3100.4 mg", MASS, ".", "3.1004"),
        ("3100.40mg", MASS, ".", "3.10040"),
        ("  +   3.1004 g  ", MASS, ".", "3.1004"),
        ("ST,GS,+0003.1004  g", MASS, ".", "3.1004"),
        ("ST,+00003.100  g", MASS, ".", "3.100"),
        ("ST,NT,   3100.4 mg", MASS, ".", "3.1004"),
        ("N     +    3.1004 g", MASS, ".", "3.1004"),
        ("S S      3.1004 g", MASS, ".", "3.1004"),
        ("ST,GS,+0000.5117  g", MASS, ".", "0.5117"),
        ("0.0031004 kg", MASS, ".", "3.1004"),
        ("3,1004", MASS, ".", "3.1004"),
        ("3.1004", MASS, ",", "3,1004"),
        ("3,1004", MASS, "", "3,1004"),
        ("3,100", MASS, ",", "3,100"),
        ("0,100", MASS, ".", "0.100"),
        ("2.871", THICKNESS, ",", "2,871"),
        ("2,871 mm", THICKNESS, ".", "2.871"),
        ("1 oz", MASS, ".", "28"),
        ("1.00000 oz", MASS, ".", "28.3495"),
        ("1e3 oz", MASS, ".", "28350"),
        ("73.4 degF", WATER, ".", "23.00"),
        ("73 F", WATER, ".", "22.8"),
        ("32 degF", WATER, ".", "0.0"),
        ("73.4000000000000000000000000000001 degF", WATER, ".", "23.00000000000"),
        ("296.15 K", WATER, ".", "23.00"),
        ("296 K", WATER, ",", "22,85"),
        ("0.0031000 kg", MASS, ".", "3.1000"),
        ("0", RESIDUE, ".", "0"),
        ("0.5", MASS, ".", "0.5"),
        ("00.5117", MASS, ".", "0.5117"),
        ("22.8 C", WATER, ".", "22.8"),
        ("0.113 in", THICKNESS, ".", "2.87"),
        ("0.083 in", THICKNESS, ".", "2.11"),
        ("20", PLIES, ".", "20"),
        ("d", METHOD, ".", "digestion"),
        ("IGNITION", METHOD, ".", "ignition"),
        ("r", POSITION, ".", "root"),
        ("left of the rib", POSITION, ".", "left of the rib"),
    ],
)
def test_what_is_understood(typed, heading, decimal, text):
    assert read_cell(typed, heading, decimal, CHOICES).text == text


def test_a_conversion_is_said():
    assert read_cell("3100.4 mg", MASS, ".", {}).said == "3100.4 mg is 3.1004 g"
    assert read_cell("3.1004 g", MASS, ".", {}).said == ""
    # (73 - 32)/1.8 = 22.7777..., one degree Fahrenheit is 0.5555 K: tenths
    assert read_cell("73 F", WATER, ".", {}).said == "73 F is 22.8 degC"


def test_what_was_typed_in_another_unit_is_told():
    assert read_cell("73 F", WATER, ".", {}).typed == "73 F"
    assert read_cell("ST,GS,+0003100.40  mg", MASS, ",", {}).typed == "3100.40 mg"
    assert read_cell("0,1130in", THICKNESS, ",", {}).typed == "0.1130 in"
    assert read_cell("3.1004 g", MASS, ".", {}).typed == ""


@pytest.mark.parametrize(
    ("typed", "heading", "sentence"),
    [
        ("3,100", MASS, "bench: what is refused"),
        ("3,100 g", MASS, "bench: what is refused"),
        ("2,871 um", THICKNESS, "bench: what is refused, in a small unit"),
        ("3.1oo4", MASS, "bench: what is refused, 2"),
        ("3.1004 mm", MASS, "bench: what is refused, 3"),
        ("NA", MASS, "bench: what is refused, 4"),
        ("-3", MASS, "bench: what is refused, 5"),
        ("0", MASS, "bench: what is refused, 6"),
        ("0101", MASS, "bench: what is refused, 7"),
        ("007", PLIES, "bench: what is refused, 8"),
        ("0101 mg", MASS, "bench: what is refused, 9"),
        ("-0101", MASS, "bench: what is refused, 10"),
        ("1.2.3", MASS, "bench: what is refused, 11"),
        ("US,GS,+0003.1004  g", MASS, "bench: what is refused, 12"),
        ("S D      3.1004 g", MASS, "bench: what is refused, 12"),
        ("OL,GS,+9999999  g", MASS, "bench: what is refused, 13"),
        ("ST,TR,+   1.4000 g", MASS, "bench: what is refused, a tare"),
        ("T 1.4000 g", MASS, "bench: what is refused, a tare"),
        ("T  +  1.4000 g", MASS, "bench: what is refused, a tare"),
        ("st,tr, 1.4000", MASS, "bench: what is refused, a tare"),
        ("PT 1.4000 g", MASS, "bench: what is refused, a tare"),
        ("ST,PT,+0001.4000  g", MASS, "bench: what is refused, a tare"),
        ("US,TR,+0001.4000  g", MASS, "bench: what is refused, 12"),
        ("3.5", PLIES, "bench: what is refused, 14"),
        ("300", WATER, "bench: what is refused, 15"),
        ("boiling", METHOD, "bench: what is refused, 16"),
        ("digestoin", METHOD, "bench: what is refused, 17"),
        ("1.44O7", MASS, "bench: what is refused, a letter in digits"),
        ("1,44O7 g", MASS, "bench: what is refused, a letter in digits"),
        ("1.4427?", MASS, "bench: what is refused, no unit"),
        ("1.4427 1.4428", MASS, "bench: what is refused, two numbers"),
        ("1.4427 ± 0.0001", MASS, "bench: what is refused, a spread"),
    ],
)
def test_what_is_refused(typed, heading, sentence):
    with pytest.raises(Refused) as refused:
        read_cell(typed, heading, ".", CHOICES)
    assert says(sentence, str(refused.value))
