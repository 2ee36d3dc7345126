"""What lies in a room beside cores and laminates: the inserts of all its cores, and how they grow.

Numbers: explicit volumes of the section and bisection, one other code; MPa with no bleed, at gel and maximum.
"""

import pytest

from laminate.press.cores import core
from laminate.press.state import State
from laminate.press.unstated import not_stated
from laminate.show.core_words import verdict_words
from laminate.values.input_key import Key
from laminate.values.problems import Refused
from tests.fill.test_silence import COUNTS, missing
from tests.fill.test_together import rooms

from .parts import press, webbed

STEEL, ALUMINIUM = {"insert_expansion": "12.5e-6 /K"}, {"insert_expansion": "23.6e-6 /K"}


@pytest.mark.parametrize(
    ("fore", "aft", "gel", "top"),
    [
        ({}, {}, 6.20604, 13.56445),
        ({"insert_volume": "10 cm^3", **STEEL}, {}, 12.85669, 20.80599),
        ({}, {"insert_volume": "10 cm^3", **STEEL}, 12.85669, 20.80599),
        ({"insert_volume": "10 cm^3", **STEEL}, {"insert_volume": "4 cm^3", **ALUMINIUM}, 15.68972, 23.89150),
        ({"insert_volume": "10 cm^3"}, {}, 12.87910, 20.83291),
    ],
    ids=["none", "of the first core", "of the second core", "of both", "as the tool where not told"],
)
def test_the_inserts_of_all_cores_lie_in_the_room(fore, aft, gel, top):
    def edit(tables):
        tables["core"]["fore"].update(fore)
        tables["core"]["aft"].update(aft)

    state = State(webbed(edit).at(), bleed=0.0)
    pressures = [state.pressure("box", moment) / 1e6 for moment in ("gel", "maximum")]
    assert pressures == pytest.approx([gel, top], abs=1e-5)


def inserted(raw):
    raw["core"]["fore"]["insert_volume"] = "2 cm^3 ± 0.01 (tolerance)"


def stated(raw):
    inserted(raw)
    raw["core"]["fore"]["insert_expansion"] = "23.6e-6 /K ± 0.3e-6 (tolerance)"


def test_the_expansion_of_an_insert_is_asked_for():
    assert missing(stated) == ()
    assert missing(inserted) == ("core.fore.insert_expansion",)


def test_no_tool_is_said_to_hold_on_an_insert_that_may_grow():
    asked = core(rooms(inserted, ("fore",)), "part.toml", plies=COUNTS, draws=200)
    assert asked.cores[0].missing == ("core.fore.insert_expansion",)
    assert Key("core", "fore", "insert_expansion") in asked.cores[0].ask.press.inputs.notes
    assert "insert_expansion" in verdict_words(asked.cores[0], "metric")


def test_in_an_older_file_too():
    """10 cm3 that grow as a tool of aluminium: (1 + 23.6e-6 x 97)^3 of it at 120 degC."""

    def volumes(tables):
        tables["core"]["fore"].update(
            volume="1 l", cavity_volume="1.26 l", laminate_area="0.0653 m^2", insert_volume="10 cm^3"
        )

    made = press(volumes)
    state = State(made.at(), {"skin": 20})
    asked = not_stated(state, lambda x: State(made.at(x), {"skin": 20}), "skin")
    assert "core.fore.insert_expansion" in asked
    (room,) = state.rooms
    hot = 1e-5 * (1.0 + 23.6e-6 * 97.0) ** 3
    assert room.inserts(state.conditions.growth("gel"), state.x) == pytest.approx(hot, rel=1e-12)


@pytest.mark.parametrize("held", ["ends", "sides"])
def test_a_thickness_that_no_width_takes_is_said_not_to_count(held):
    def edit(tables):
        tables["core"]["fore"].update(held=held, insert_thickness="2 mm", width="28.775 mm")

    made = press(edit)
    (room,) = made.rooms
    assert any("insert_thickness" in str(words) for words in made.inputs.supposed) is (room.kind == "round")


def test_an_insert_in_a_tool_that_does_not_grow():
    """It stays as it is, or needs a tool whose growth tells how hot it is."""

    def still(**insert):
        def edit(tables):
            tables["tool"].update(material="a ceramic", expansion="0 /K")
            tables["core"]["fore"].update(insert_volume="10 cm^3", **insert)

        return edit

    made = webbed(still())
    (room,) = made.rooms
    assert room.inserts(made.at().growth("gel"), made.inputs.numbers()) == pytest.approx(1e-5, rel=1e-12)
    with pytest.raises(Refused) as refusal:
        webbed(still(**STEEL))
    (problem,) = refusal.value.problems
    assert (problem.code, problem.place) == ("impossible-value", "tool.expansion")
