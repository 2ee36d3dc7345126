"""What would center a zone beside a hard core: sizes of room and core, from the gap that `fill` has."""

import tomllib

import pytest

from laminate.files.part import part_of
from laminate.history.correcting import correct_cases
from laminate.press.press import press_of
from laminate.press.state import State

from .bench import PART, Bench, measured

CORE = """\
[core.fore]
material = "PTFE"
expansion = "150e-6 /K ± 2e-6 (tolerance)"
temperature = "118 degC ± 2 (tolerance)"
"""
GAP = 'gap = "2.84 mm ± 0.03 (tolerance)"'
OLD = PART.replace(GAP, 'cavity = "38.6 mm ± 0.03 (tolerance)"\ncore = "fore"\nwalls = 2')
OLD += CORE + 'held = "no"\nwidth = "32.45 mm ± 0.03 (tolerance)"\n'
NEW = PART.replace(GAP, 'room = "box"\nside = "height"\nwalls = 2')
NEW += (
    CORE
    + """\
room = "box"
width = "59 mm"
height = "32.45 mm ± 0.03 (tolerance)"
length = "600 mm"
[room.box]
width = "60 mm"
height = "38.6 mm ± 0.03 (tolerance)"
length = "601 mm"
opens = "height"
"""
)


@pytest.mark.parametrize(
    ("part", "sizes", "place"),
    [
        (OLD, ["cavity", "core width"], ("zone", "web", "cavity")),
        (NEW, ["room height", "core height"], ("room", "box", "height")),
    ],
    ids=["old", "room"],
)
def test_each_size_alone_brings_the_gap_that_centers(tmp_path, part, sizes, place):
    bench = Bench(tmp_path, 3, part)
    truth = bench.truth(60e-6)
    zone = correct_cases([measured(bench.batch("b-1", truth))]).zones[0]
    aim = zone.centring.aims[0]
    assert (aim.hindrance, [change.size for change in aim.changes]) == ("", sizes)
    case = bench.case("L1")
    x = case.inputs.numbers()
    for change in aim.changes:
        moved = {**x, case.size_name(change.size): change.then}
        assert case.hot_gap(moved) == pytest.approx(aim.hot_gap, rel=1e-12)
        assert change.now == x[case.size_name(change.size)]
    # the press of the changed part has that gap
    raw = tomllib.loads(part)
    table = raw
    for key in place[:-1]:
        table = table[key]
    table[place[-1]] = f"{1e3 * aim.changes[0].then!r} mm"
    state = State(press_of(part_of(raw, "part.toml"), "part.toml").at(), {"web": 20})
    assert state.gap("web") == pytest.approx(aim.hot_gap, rel=1e-9)
