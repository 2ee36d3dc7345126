"""One cell: whatever a person or a balance may send, and what is refused with what to type instead."""

import pytest

from laminate.bench.cell import read_cell
from laminate.files.table import Heading
from laminate.values.problems import Refused

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
        ("1 oz", MASS, ".", "28.3"),
        ("1.00000 oz", MASS, ".", "28.349523"),
        ("1e3 oz", MASS, ".", "28300"),
        ("73.4 degF", WATER, ".", "23.0000"),
        ("73 F", WATER, ".", "22.778"),
        ("32 degF", WATER, ".", "0.000"),
        ("73.4000000000000000000000000000001 degF", WATER, ".", "23.00000000000"),
        ("296.15 K", WATER, ".", "23.00"),
        ("296 K", WATER, ",", "22,85"),
        ("0.0031000 kg", MASS, ".", "3.1000"),
        ("0", RESIDUE, ".", "0"),
        ("0.5", MASS, ".", "0.5"),
        ("00.5117", MASS, ".", "0.5117"),
        ("22.8 C", WATER, ".", "22.8"),
        ("0.113 in", THICKNESS, ".", "2.8702"),
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
    # (73 - 32)/1.8 = 22.7777..., one degree Fahrenheit is 0.5555 K: tenths, and two digits more
    assert read_cell("73 F", WATER, ".", {}).said == "73 F is 22.778 degC"


@pytest.mark.parametrize(
    ("typed", "heading", "sentence"),
    [
        ("3,100", MASS, "found '3,100', expected a number; write 3.100 or 3100, whichever is meant"),
        ("3.1oo4", MASS, "found the unknown unit 'oo4' in '3.1oo4', expected a mass"),
        ("3.1004 mm", MASS, "found '3.1004 mm', a length, expected a mass"),
        ("NA", MASS, "expected a number; leave the cell empty where nothing was measured"),
        ("-3", MASS, "found '-3 g', expected a mass above 0"),
        ("0", MASS, "found '0 g', expected a mass above 0"),
        ("0101", MASS, "found '0101', expected a reading: nothing measured begins with 0 and has no decimal"),
        ("007", PLIES, "the name of a coupon? go to it first"),
        ("0101 mg", MASS, "found '0101 mg', expected a reading"),
        ("-0101", MASS, "found '-0101', expected a reading"),
        ("1.2.3", MASS, "found '1.2.3', expected a number"),
        ("US,GS,+0003.1004  g", MASS, "the balance says still moving, expected a settled reading"),
        ("S D      3.1004 g", MASS, "the balance says still moving, expected a settled reading"),
        ("OL,GS,+9999999  g", MASS, "the balance says overloaded"),
        ("3.5", PLIES, "expected a whole number of plies, 1 or more"),
        ("300", WATER, "expected a temperature from -100 to 200 degC"),
        ("boiling", METHOD, "found 'boiling', expected one of ignition, digestion"),
        ("digestoin", METHOD, "did you mean 'digestion'?"),
    ],
)
def test_what_is_refused(typed, heading, sentence):
    with pytest.raises(Refused) as refused:
        read_cell(typed, heading, ".", CHOICES)
    assert sentence in str(refused.value)
