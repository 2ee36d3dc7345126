"""The screen of `fill` without --why: 24 lines of 80 columns, eight more for each further zone, 40 in all."""

import tomllib
from pathlib import Path

import pytest

from laminate.cli import tables
from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.press.inverse import Wanted
from laminate.show.fill_screen import screen_blocks
from laminate.show.fill_words import fill_blocks

from .test_together import clamp, rooms

EXAMPLES = Path(__file__).parents[2] / "examples"


def example(name):
    return part_of(tomllib.loads((EXAMPLES / name / "part.toml").read_text("utf-8")), "part.toml")


def bare(raw):
    raw["tool"].pop("clamp_force")
    for name in raw["zone"]:
        raw["zone"][name].pop("bleed")
        raw["core"][name].pop("corner_radius")


PARTS = {
    **{
        name: lambda name=name: example(name) for name in ("mast", "box", "oil", "bladder", "panel", "paddle")
    },
    "one that opens": lambda: rooms(clamp("300 kN"), ("fore",)),
    "one without anything": lambda: rooms(bare, ("fore",)),
    "two": lambda: rooms(clamp("2000 kN")),
    "two that open": lambda: rooms(clamp("900 kN")),
    "two without anything": lambda: rooms(bare),
    "three": lambda: rooms(clamp("3000 kN"), ("one", "two", "three")),
    "five": lambda: rooms(clamp("900 kN"), ("a", "b", "c", "d", "e")),
}


def printed(blocks, capsys):
    tables.print_blocks(blocks)
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize(
    ("name", "units"),
    [*((name, "metric") for name in PARTS), ("mast", "us"), ("paddle", "us"), ("two that open", "us")],
)
def test_it_fits_a_screen_and_leaves_no_answer_out(name, units, capsys, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    answer = fill(PARTS[name](), "part.toml", draws=1000, inverse=False)
    lines = printed(screen_blocks(answer, units), capsys)
    assert len(lines) <= min(40, 24 + 8 * (len(answer.zones) - 1))
    assert max(map(len, lines)) <= 80
    for zone in answer.zones:
        assert any(line.startswith(f"{zone.zone}: ") for line in lines)
        assert f"{zone.zone}: " in " ".join(lines[-3:])
    if answer.forces is not None:
        said = " ".join(lines)
        assert all(str(missing) in said for missing in answer.forces.state.left_out)
    assert len(printed(fill_blocks(answer, units), capsys)) > len(lines)


def test_what_else_was_asked_is_answered_on_the_screen(capsys, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 200)
    wanted = Wanted(fiber_volume=0.58)
    answer = fill(example("panel"), "part.toml", wanted=wanted, plies={"panel": 11}, draws=1000)
    first, *_ = " ".join(printed(screen_blocks(answer, "metric"), capsys)).split("Charge")
    (zone,) = answer.zones
    sizes = (f"{1e3 * zone.gap_wanted.hot_gap:.3f} mm", f"{1e3 * zone.order.areal_weight:.1f} g/m²")
    assert all(size in first for size in ("11 plies", "58.0 %", *sizes))


def test_what_is_missing_stands_directly_under_the_answer(capsys, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 200)
    answer = fill(PARTS["one without anything"](), "part.toml", draws=1000, inverse=False)
    _, doubt, *_ = printed(screen_blocks(answer, "metric"), capsys)
    assert all(key in doubt for key in ("zone.fore.bleed", "tool.clamp_force", "core.fore.corner_radius"))


def test_the_counts_shown_are_those_about_the_best(capsys, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    answer = fill(example("mast"), "part.toml", draws=1000, inverse=False)
    lines = printed(screen_blocks(answer, "metric"), capsys)
    shown = [line.split()[0] for line in lines if line.startswith(" ")]
    assert shown == ["19", "20", "21"] * 2


def test_a_room_far_too_long_shows_no_number_that_is_none(capsys, monkeypatch):
    """Among the draws are some in which the laminate leaves the core no room: their pressure has no end."""
    monkeypatch.setattr(tables, "screen_width", lambda: 200)
    data = tomllib.loads((EXAMPLES / "oil" / "part.toml").read_text("utf-8"))
    data["room"]["tube"]["length"] = "400000 mm ± 0.1 (tolerance)"
    answer = fill(part_of(data, "part.toml"), "part.toml", draws=1000, inverse=False)
    lines = printed(screen_blocks(answer, "metric"), capsys)
    words = {word.strip("().,–") for line in lines for word in line.replace("–", " ").split()}
    assert not words & {"inf", "nan", "-inf"}
