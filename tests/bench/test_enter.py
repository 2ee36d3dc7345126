"""The command `enter` around its page: which table, who has it, and what leaves when it ends."""

import errno
import json
import os
import re

import pytest

from laminate.bench.lock import held, lock_of
from laminate.bench.table import BenchTable
from laminate.cli import app, sheets
from laminate.cli.bench.page import EntryScreen
from laminate.values.durable import disk_problem
from laminate.values.problems import Refused
from tests.messages.wording import begins, reads, says, worded


@pytest.fixture
def keyboard(monkeypatch):
    """As if at a terminal; returns the pages that were opened, and what is typed into the next ones."""
    ran = []

    def run(page):
        ran.append(page)
        for cell, text in keyboard_types:
            page.session.type(*cell, text)

    keyboard_types = []
    monkeypatch.setattr(sheets, "_at_a_terminal", lambda: True)
    monkeypatch.setattr(EntryScreen, "run", run)
    return ran, keyboard_types


WITHOUT = (
    "'mass in liquid [g]', 'liquid temperature [degC]', 'specimen mass [g]', 'residue mass [g]', 'method', "
    "'thickness [mm]'"
)
"""What a table of names, zones and masses in air has no column for."""


def enter(folder, *options):
    return app.status(["enter", str(folder / "batch.toml"), "--operator", "JM", *options])


def test_without_a_terminal_it_says_what_to_do(folder, capsys):
    assert enter(folder) == 2
    assert reads("bench: without a terminal it says what to do", capsys.readouterr().err)


def test_on_leaving_it_says_what_was_done(folder, keyboard, capsys):
    keyboard[1].append(((2, "mass in air"), "1.4427"))
    assert enter(folder) == 0
    lacks = "incomplete: 0101 lacks immersion, digestion, thickness"
    done = f"{folder / 'coupons.csv'}: 1 cell changed, 29 cells still to be filled in"
    assert capsys.readouterr().out.splitlines() == [lacks, done]
    assert enter(folder, "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer.pop("incomplete") == lacks
    assert answer.pop("not_recorded") is None
    assert answer == {"format": 1, "table": str(folder / "coupons.csv"), "kept": 1, "left": 29, "open": []}
    assert keyboard[0][1].said[0] == lacks
    assert not lock_of(folder / "coupons.csv").exists()


def test_a_name_with_readings_is_asked_about_beside_one_like_it_without(folder, keyboard, capsys):
    """The planned 0102 is still empty, and 102 was added and typed: untouched rows alone are not listed."""
    table = folder / "coupons.csv"
    text = table.read_text("utf-8")
    table.write_text(text + text.splitlines()[2].replace("0102", "102") + "\n", "utf-8")
    keyboard[1].append(((5, "mass in air"), "1.4609"))
    assert enter(folder) == 0
    assert keyboard[0][0].said == ()
    asked = "incomplete: 102 lacks immersion, digestion, thickness; 0102 and 102: one coupon under two names?"
    assert capsys.readouterr().out.splitlines()[0] == asked
    keyboard[1][:] = [((3, "mass in air"), "1.4609")]
    assert enter(folder) == 0
    assert keyboard[0][1].said[0] == asked
    lacks, _, pairs = asked.removeprefix("incomplete: ").partition("; ")
    both = f"incomplete: {lacks.replace('102', '0102')}; {lacks}; {pairs}"
    assert capsys.readouterr().out.splitlines()[0] == both


def test_columns_that_the_plan_wants_and_no_table_has_are_told(folder, keyboard, capsys):
    """Nothing asks for their readings, and 'nothing is left' was all that was said."""
    (folder / "coupons.csv").write_text("specimen,zone,mass in air [g]\n0101,web,1.4427\n")
    assert enter(folder) == 0
    told = worded("bench: columns that no table has", columns=WITHOUT, table=str(folder / "coupons.csv"))
    assert keyboard[0][0].said[1] == told
    assert capsys.readouterr().out.splitlines()[1] == told


def test_a_table_that_is_not_there_is_made_from_the_plan(folder, keyboard, capsys):
    (folder / "coupons.csv").unlink()
    assert enter(folder) == 0
    rows = BenchTable(folder / "coupons.csv").view.rows
    assert [row.cells[0] for row in rows] == ["0101", "0102", "0103"]
    assert enter(folder, "--table", str(folder / "more.csv")) == 0
    new, batch = folder / "more.csv", folder / "batch.toml"
    assert keyboard[0][1].said == (
        worded("bench: a new table is to be named", new=str(new), batch=str(batch)),
    )


def test_a_part_with_limits_of_a_prepreg_alone_gets_the_rows_of_its_incoming_test(folder, keyboard):
    text = (folder / "part.toml").read_text("utf-8")
    limits = '[limits.prepreg.ud150.prepreg_areal_weight]\nindividual = { max = "300 g/m^2" }\n'
    kept = re.sub(r"(?ms)^\[(plan|limits)\b.*?(?=^\[|\Z)", "", text)
    (folder / "part.toml").write_text(f"{kept}\n[limits]\n{limits}", "utf-8")
    batch = folder / "batch.toml"
    stated = re.sub(r"(?m)^(resin_content|resin_basis|volatiles) = .*\n", "", batch.read_text("utf-8"))
    batch.write_text(stated, "utf-8")  # so that no certificate answers
    (folder / "coupons.csv").unlink()
    assert enter(folder) == 0
    view = BenchTable(folder / "coupons.csv").view
    assert len(view.rows) == 3
    assert "prepreg mass" in [heading.name for heading in view.headings]


def test_a_header_alone_gets_the_planned_specimens(folder, keyboard):
    (folder / "coupons.csv").write_text("specimen,zone,mass in air [g],colour\n")
    assert enter(folder) == 0
    assert (folder / "coupons.csv").read_text() == (
        "specimen,zone,mass in air [g],colour\n0101,web,\n0102,web,\n0103,web,\n"
    )
    table = str(folder / "coupons.csv")
    assert keyboard[0][0].said == (
        worded("bench: columns that no table has", columns=WITHOUT, table=table),
        worded("bench: what measure will refuse", table=table),
    )


def test_two_at_once_is_refused(folder, keyboard, capsys):
    with held(folder / "coupons.csv", "coupons.csv"):
        assert enter(folder) == 2
    assert says("bench: two at once is refused", capsys.readouterr().err)
    assert keyboard[0] == []


def test_which_table_is_asked_where_there_are_several(folder, keyboard, capsys):
    text = (folder / "batch.toml").read_text("utf-8")
    several = 'coupons = ["coupons.csv", "second.csv"]'
    (folder / "batch.toml").write_text(text.replace('coupons = ["coupons.csv"]', several), "utf-8")
    assert enter(folder) == 2
    assert says("bench: which table is asked where there", capsys.readouterr().err)
    assert enter(folder, "--table", str(folder / "coupons.csv")) == 0
    assert enter(folder, "--table", str(folder / "coupons.xlsx")) == 2
    assert says("bench: which table is asked where there, 2", capsys.readouterr().err)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EACCES, "bench: a failing disk is said and changes, 3"),
        (errno.EROFS, "bench: a failing disk is said and changes, 2"),
    ],
)
def test_a_folder_that_must_not_be_written_is_said_before_anything_is_typed(
    folder, keyboard, capsys, monkeypatch, number, words
):
    real = os.open

    def refuse(path, flags, *rest, **more):
        if flags & os.O_CREAT and str(path).startswith(str(folder)):
            raise OSError(number, os.strerror(number), str(path))
        return real(path, flags, *rest, **more)

    monkeypatch.setattr(os, "open", refuse)
    assert enter(folder) == 2
    assert says(words, capsys.readouterr().err)
    assert keyboard[0] == []


def test_a_disk_that_failed_last_ends_with_status_2(folder, keyboard, capsys, monkeypatch):
    def run(page):
        page.failure = Refused(disk_problem(OSError(errno.ENOSPC, "full"), "coupons.csv"))

    monkeypatch.setattr(EntryScreen, "run", run)
    assert enter(folder) == 2
    assert begins("bench: a disk that failed last ends", capsys.readouterr().err)
