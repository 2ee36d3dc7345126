"""The command `materials`, as a person and as a program call it."""

import json
import re
from itertools import pairwise

import pytest

from laminate.cli.app import status
from laminate.files.reference_tables import find, listing
from laminate.show import terminal
from tests.messages.wording import reads, says


def answer(capsys: pytest.CaptureFixture[str], *arguments: str, expected: int = 0) -> tuple[str, str]:
    assert status(["materials", *arguments]) == expected
    out, err = capsys.readouterr()
    return out, err


def test_a_material_with_unit_source_and_how_known(capsys: pytest.CaptureFixture[str]) -> None:
    out, err = answer(capsys, "ptfe", "--property", "expansion", "--why")
    assert err == ""
    row = next(line for line in out.splitlines() if line.startswith("PTFE, "))
    for part in ("linear expansion", "126e-6 to 216e-6/K", "Callister B.6", "read"):
        assert part in row
    assert says("materials: a material with unit source and how", out)
    assert says("materials: a material with unit source and how, 2", out)
    assert says("materials: a material with unit source and how, 3", out)


def test_the_row_taken_by_default_is_marked_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = answer(capsys, "P20", "--property", "linear expansion")
    marked = [line for line in out.splitlines() if line.endswith("taken by default")]
    assert len(marked) == 1
    assert "12.6e-6/K" in marked[0]


@pytest.mark.parametrize(
    ("name", "taken"), [("7075", ["expansion"]), ("304", ["expansion"]), ("E-glass", [])]
)
def test_the_only_expansion_is_marked_as_taken(
    capsys: pytest.CaptureFixture[str], name: str, taken: list[str]
) -> None:
    """`tool.material` takes it: where it is the only one, nobody has to give it."""
    answer(capsys, name)
    rows = listing(text=name)
    assert [row.property for row in rows if row.taken] == taken
    assert all(find(row.name, row.property) is row for row in rows if row.taken)


def test_all_materials_come_without_a_name_and_a_pipe_cuts_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    out, _ = answer(capsys, "--why")
    for name in ("aluminium 7075", "stainless steel 304", "silicone rubber with 60 phr silica", "E-glass"):
        assert any(line.startswith(f"{name}, ") for line in out.splitlines()), name
    assert "…" not in out
    assert "\x1b" not in out


def test_use_narrows(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = answer(capsys, "--kind", "fiber")
    assert "aramid 49" in out
    assert "PTFE" not in out


def test_json_holds_the_same_with_its_origin(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = answer(capsys, "E-glass", "--property", "density", "--json")
    found = json.loads(out)
    assert found["format"] == 1
    assert {(m["source"]["short"], m["value"], m["how_known"]) for m in found["materials"]} == {
        ("Callister B.1", 2.58, "read"),
        ("Gibson (1994)", 2.54, "second-hand"),
        ("Jang (ASM 1994)", 2.54, "second-hand"),
        ("NRC/NAP 1824", 2.4, "read"),
    }
    for m in found["materials"]:
        assert m["unit"] == "g/cm^3"
        assert m["measured"] is False
        assert m["source"]["title"]
        assert m["source"]["table"]


def test_json_of_a_range(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = answer(capsys, "silicone rubber", "--property", "bulk_modulus", "--json")
    (m,) = json.loads(out)["materials"]
    assert (m["low"], m["high"], m["unit"]) == (600.0, 1200.0, "MPa")
    assert m["how_known"] == "no source"


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (
            ["aluminum 6016"],
            "materials: what is not known is told with the",
        ),
        (["unobtainium"], "materials: what is not known is told with the, 2"),
        (
            ["--kind", "fibre"],
            "materials: what is not known is told with the, 3",
        ),
        (["--property", "expansoin"], "materials: what is not known is told with the, 4"),
    ],
)
def test_what_is_not_known_is_told_with_the_near_name(
    capsys: pytest.CaptureFixture[str], arguments: list[str], sentence: str
) -> None:
    out, err = answer(capsys, *arguments, expected=2)
    assert out == ""
    assert says(sentence, err)


def test_nothing_that_fits_all_is_said_and_is_no_fault(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = answer(capsys, "PTFE", "--kind", "fiber")
    assert reads("materials: nothing that fits all is said", out)
    out, _ = answer(capsys, "PTFE", "--kind", "fiber", "--json")
    assert json.loads(out) == {"format": 1, "materials": []}


@pytest.mark.parametrize("width", [80, 40, 200])
def test_a_screen_folds_and_loses_nothing(width: int) -> None:
    text = "[bold]plain[/bold] with a rather long remark that runs on, and a_word_of_" + "x" * 90
    laid = terminal.lines(["what", "says"], [["[0/45]2s", text]], width=width)
    assert max(map(len, laid)) <= width
    body = "".join("".join(laid).split())
    assert "[0/45]2s" in body
    assert body.count("x") == 90
    assert "[bold]plain[/bold]" in body


@pytest.mark.parametrize("call", [[], ["silicone"], ["6061"], ["--kind", "core"], ["--property", "density"]])
def test_no_cell_takes_more_than_two_lines_of_80_columns(
    call: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "3000")
    table = answer(capsys, *call, "--why")[0].split("\n\n")[1].splitlines()
    heading, *rows = [re.split(" {2,}", line.strip()) for line in table if "─" not in line]
    marked = terminal.lines([*heading, "#"], [[*row, "#"] for row in rows], width=83)
    starts = [at for at, line in enumerate(marked) if line.endswith("#")]
    assert len(starts) == 1 + len(rows) > 1
    assert max(after - at for at, after in pairwise([*starts[1:], len(marked)])) <= 2


def test_a_column_with_room_to_spare_gives_way_before_one_that_would_take_three_lines() -> None:
    """Eight words of two letters fit in 11 columns twice, three of twelve need 25."""
    row = [" ".join(["ab"] * 8), " ".join([letter * 12 for letter in "xyz"])]
    laid = terminal.lines(["a", "b"], [row], width=25 + 2 + 11)
    assert len(laid) == 4
    assert max(map(len, laid)) <= 38


def test_a_row_that_fits_is_one_line() -> None:
    laid = terminal.lines(["what"], [["x" * 5000], ["y"]], width=5000)
    assert len(laid) == 4
    assert laid[2] == "x" * 5000
