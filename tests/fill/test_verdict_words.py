"""The verdict on a count under rubber is that of the nominal values, in a fixed list of words."""

import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.show.fill_json import ANSWER
from laminate.show.fill_words import counts_grid
from laminate.show.pressed_words import advice
from tests.messages.wording import begins, says
from tests.press.parts import press

BOX = (Path(__file__).parents[2] / "examples" / "box" / "part.toml").read_text("utf-8")
WORDS = {"too many", "not pressed", "opens the tool", "not judged", "presses", "depends on the bleed"}


@pytest.mark.parametrize(
    ("bleed", "verdict"),
    [("0 %", "presses"), ("3 % ± 2 (tolerance)", "presses"), (None, "depends on the bleed")],
)
def test_the_verdict_is_of_the_nominal_values(bleed, verdict):
    """20 plies: window 0 to 5.35 % of the example that presses at 0.3 MPa under 600 kN (arithmetic)."""

    def edit(tables):
        tables["zone"]["skin"].pop("bleed", None)
        tables["zone"]["skin"]["wanted_pressure"] = "0.3 MPa"
        tables["tool"]["clamp_force"] = "600 kN"
        if bleed is not None:
            tables["zone"]["skin"]["bleed"] = bleed

    answer = fill(press(edit).part, "part.toml", zones=["skin"], draws=4000, inverse=False)
    (zone,) = ANSWER.json(answer)["zones"]
    rows = {row["plies"]: row for row in zone["counts"]}
    assert rows[20]["verdict"] == verdict
    assert {row["verdict"] for row in rows.values()} <= WORDS
    cells = {row[0]: row[1] for row in counts_grid(answer.zones[0], "metric").rows}
    holds = rows[20]["chance"]["holds"]
    assert ("may open" in cells["20"]) is (holds is not None and float(holds) < 0.95)
    assert cells["20"].startswith(verdict)


@pytest.mark.parametrize(
    ("plies", "grade", "case"),
    [
        (19, "do not", "fill: a count asked about does not work"),
        (20, "use", "fill: a count asked about may be used"),
        (21, "risky", "fill: a count asked about is risky"),
    ],
)
def test_a_count_asked_about_is_answered_as_such(plies, grade, case):
    """12.5 MPa at worst with 20 plies in the sides of the box, 20.0 with 21, in walls that hold 22."""
    raw = tomllib.loads(BOX)
    raw["tool"]["pressure_limit"] = "22 MPa"
    part = part_of(raw, "part.toml")
    (zone,) = fill(
        part, "part.toml", zones=["sides"], plies={"sides": plies}, draws=4000, inverse=False
    ).zones
    to_do, rest = advice(zone, "metric")
    assert (zone.grade, zone.best.plies) == (grade, plies)
    assert begins(case, to_do)
    assert says("fill: the best beside a count asked about", rest) is (grade != "use")


def test_where_no_count_works_none_is_called_the_best():
    raw = tomllib.loads(BOX)
    raw["tool"]["clamp_force"] = "100 kN"
    part = part_of(raw, "part.toml")
    (zone,) = fill(part, "part.toml", zones=["sides"], plies={"sides": 19}, draws=500, inverse=False).zones
    assert begins("fill: no count works", advice(zone, "metric")[0])
