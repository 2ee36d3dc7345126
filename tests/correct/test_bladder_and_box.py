"""From prediction to batch to `correct`: a tube over a bladder, a box with a hard core between its walls."""

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.history.correcting import correct
from laminate.press.press import press_of
from laminate.press.state import State

from .calls import call, swap

EXAMPLES = Path(__file__).parents[2] / "examples"
BATCH = """\
format = 1
[batch]
id = "26-101"
part = "part.toml"
part_number = "{number}"
part_issue = "A"
molded = 2026-06-01
coupons = ["coupons.csv"]
plies = {{ {plies} }}
[instrument.micrometer]
identity = "MIC-1"
repeatability = "0.002 mm (standard)"
calibration = "0.0015 mm (standard)"
calibrated = 2026-01-01
due = 2030-01-01
[laboratory]
measured = 2026-06-02
"""


def write_batch(folder, number, plies, thickness):
    """A batch of the part in a folder, three coupons a zone; thickness: by zone [m]."""
    counts = ", ".join(f"{zone} = {count}" for zone, count in plies.items())
    (folder / "batch.toml").write_text(BATCH.format(number=number, plies=counts))
    rows = [
        f"{zone}{i},{zone},{1e3 * h + tiny:.9f}\n"
        for zone, h in thickness.items()
        for i, tiny in enumerate((-1e-6, 0.0, 1e-6))
    ]
    (folder / "coupons.csv").write_text("specimen,zone,thickness [mm]\n" + "".join(rows))
    return folder / "batch.toml"


def press_in(folder):
    raw = tomllib.loads((folder / "part.toml").read_text("utf-8"))
    return press_of(part_of(raw, "part.toml"), "part.toml")


def tube(folder, bleed, *edit):
    """A batch of the tube whose wall has bled so much."""
    shutil.copy(EXAMPLES / "bladder" / "part.toml", folder / "part.toml")
    swap(folder / "part.toml", *edit)
    height = State(press_in(folder).at(), {"wall": 12}, bleed).attributes("wall", ("thickness",))["thickness"]
    return write_batch(folder, "TUBE-09", {"wall": 12}, {"wall": height})


@pytest.mark.parametrize("bleed", [0.0, 0.03, 0.12])
def test_under_a_bladder_the_thickness_tells_the_bleed(tmp_path, bleed):
    (answer,) = correct([tube(tmp_path, bleed)]).rubber
    assert answer.bleed == pytest.approx(bleed, abs=1e-5)
    assert (answer.check, answer.none_left_at, answer.core_alone) == ("", None, None)
    assert (answer.now.gel, answer.now.worst) == (0.6e6, 0.6e6)
    (difference,) = (d for d in answer.differences if d.attribute == "thickness")
    stated = State(press_in(tmp_path).at(), {"wall": 12}).attributes("wall", ("thickness",))["thickness"]
    achieved = State(press_in(tmp_path).at(), {"wall": 12}, bleed).attributes("wall", ("thickness",))[
        "thickness"
    ]
    assert difference.difference.mean.value == pytest.approx(stated - achieved, abs=1e-8)
    # each change alone, but whole plies, brings the thickness to the middle of its limits
    for proposal in answer.proposals:
        if proposal.what != "ply_count" and not proposal.refused:
            assert proposal.after.thickness == pytest.approx(1.80e-3, rel=1e-6)
            assert proposal.core is None


@pytest.mark.parametrize(
    ("edit", "refused"),
    [
        (('clamp_force = "100 kN"', 'clamp_force = "9 kN"'), "opens the tool"),
        (('wanted_pressure = "0.3 MPa"', 'wanted_pressure = "0.7 MPa"'), "not pressed"),
        (('projected_area = "0.016 m^2 (exact)"', ""), "not judged: no projected area of zone wall"),
    ],
)
def test_a_bladder_that_opens_the_tool_or_presses_too_little_is_no_proposal(tmp_path, edit, refused):
    (zone,) = correct([tube(tmp_path, 0.10, edit)]).rubber
    assert {proposal.refused for proposal in zone.proposals} - {"no nearer"} == {refused}


def test_the_screen_and_the_json_of_a_bladder_speak_of_no_core(tmp_path, capsys):
    status, out, err = call(capsys, tube(tmp_path, 0.10), "--why")
    assert (status, err) == (0, "")
    assert "bladder" in out
    assert "ubber" not in out
    status, out, _ = call(capsys, tmp_path / "batch.toml", "--json")
    (zone,) = json.loads(out)["zones"]
    assert (status, zone["pressed_by"], zone["core_alone"]) == (0, "bladder", None)
    assert zone["bleed_achieved"]["value"] == pytest.approx(10.0, abs=1e-3)
    assert zone["pressure_now"]["at_gel"]["value"] == pytest.approx(0.6)


OPENED = 60e-6
"""More than the gaps' tolerances [m]."""
SIZES = {"sides": "width", "caps": "height"}


@pytest.fixture
def box(tmp_path):
    """A batch of the box with a core of PTFE between its walls, that came out thicker than its gaps."""
    shutil.copy(EXAMPLES / "box" / "part.toml", tmp_path / "part.toml")
    swap(
        tmp_path / "part.toml",
        ('material = "silicone rubber"\nexpansion = "265e-6 /K ± 1e-6 (tolerance)"\n'
         'bulk_modulus = "0.85 GPa ± 0.05 (tolerance)"\n'
         'bulk_modulus_at = "120 degC"\nbulk_modulus_rise = 10\n',
         'material = "PTFE"\nexpansion = "150e-6 /K ± 1e-6 (tolerance)"\n'),
        ('width = "39.02 mm', 'width = "39.80 mm'), ('height = "26.02 mm', 'height = "26.55 mm'),
        ('bleed = "2 % ± 0.5 (tolerance)"\n', ""),
    )  # fmt: skip
    state = State(press_in(tmp_path).at(), {"sides": 20, "caps": 24})
    cured = {zone: state.attributes(zone, ("thickness",))["thickness"] for zone in SIZES}
    assert all(0.0 < state.bleed[zone] < 0.15 for zone in SIZES)
    return write_batch(
        tmp_path, "BOX-01", {"sides": 20, "caps": 24}, {z: h + OPENED for z, h in cured.items()}
    )


def test_each_wall_of_a_box_beside_a_hard_core_is_centered_by_its_own_sizes(box):
    zones = correct([box]).zones
    assert [zone.zone for zone in zones] == [*SIZES]
    for zone in zones:
        (thickness,) = (d for d in zone.differences if d.attribute == "thickness")
        assert thickness.difference.mean.value == pytest.approx(-OPENED, abs=1e-8)
        (aim,) = zone.centring.aims
        size = SIZES[zone.zone]
        assert aim.hindrance == ""
        assert [change.size for change in aim.changes] == [f"room {size}", f"core {size}"]
        # the press of the changed part has the gap that is wanted, and the other wall keeps its own
        plain = State(press_in(box.parent).at(), {"sides": 20, "caps": 24})
        for place, change in zip(("room", "core"), aim.changes, strict=True):
            raw = tomllib.loads((box.parent / "part.toml").read_text("utf-8"))
            raw[place]["box"][size] = f"{1e3 * change.then!r} mm"
            state = State(press_of(part_of(raw, "part.toml"), "part.toml").at(), {"sides": 20, "caps": 24})
            (other,) = SIZES.keys() - {zone.zone}
            assert state.gap(zone.zone) == pytest.approx(aim.hot_gap, rel=1e-9)
            assert state.gap(other) == plain.gap(other)


def test_the_screen_and_the_json_of_such_a_box_say_the_same(box, capsys):
    status, out, err = call(capsys, box, "--why")
    assert (status, err) == (0, "")
    status, told, _ = call(capsys, box, "--json")
    zones = json.loads(told)["zones"]
    assert status == 0
    for zone in zones:
        for change in zone["centre"][0]["changes"]:
            assert f"{change['then']['value']:.3f}" in out
