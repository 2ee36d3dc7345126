"""The verdict on a count under rubber is that of the nominal values, in a fixed list of words."""

import pytest

from laminate.press.filling import fill
from laminate.show.fill_json import ANSWER
from laminate.show.fill_words import counts_grid
from tests.press.parts import press

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
