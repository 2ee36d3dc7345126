"""What the page says where nobody looks at once: a name that a balance sent, open keys, a row in doubt."""

import json
import os

import pytest

from laminate.bench.table import BenchTable
from laminate.cli import app, sheets
from laminate.cli.bench.page import EntryScreen
from laminate.files.entries import read_history
from laminate.values.durable import replace_file
from laminate.values.problems import Refused
from tests.messages.wording import says

from .conftest import READINGS
from .test_page import SIZE, burst, page, screen, typed, until_a_doubt

__all__ = ["page"]


@pytest.mark.parametrize("sent", ["1.2345", "ST,GS,+0001.4425 g", "22.8 °C"])
@pytest.mark.parametrize("asked_first", [True, False])
async def test_a_reading_is_no_name_of_a_person(sent, asked_first, session):
    """A balance that sends while the page asks who measures must not sign the record."""
    session.operator = "" if asked_first else "JM"
    page = EntryScreen(session, "26-031")
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press(*([] if asked_first else ["f8"]))
        await burst(page, pilot, sent)
        assert says("bench: a reading is no name", " ".join(screen(page, "#said").split()), sent=sent)
        assert session.operator == ("" if asked_first else "JM")
        await burst(page, pilot, "TB 2")
        assert (session.operator, page.question) == ("TB 2", None)


async def test_an_entry_closes_the_keys_and_its_answer_is_seen(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f1", *typed("2.5.3"))
        assert not page.help_shown
        assert page.query_one("#said").display
        assert "2.5.3" in screen(page, "#said")
        await pilot.press("f1")
        assert page.help_shown
        await pilot.press("f1", "f1", *typed("1.4427"))
        assert "1.4427" in screen(page, "#cells")
        assert (page.help_shown, page.cell) == (False, (row, "mass in liquid"))
        await until_a_doubt_with_help(page, pilot)
        assert page.held is not None
        assert screen(page, "#said").strip()


async def until_a_doubt_with_help(page, pilot):
    await pilot.press("f1")
    await burst(page, pilot, "0.3817", "22.8")


async def test_a_row_that_is_left_in_doubt_gives_no_figures(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await burst(page, pilot, "", READINGS["0101"][9])
        while page.cell[0] == session.rows[0]:
            await burst(page, pilot, "")
        said = " ".join(screen(page, "#said").split())
        assert says("bench: a row left in doubt", said)
        assert "±" not in said


def test_a_full_disk_leaves_neither_the_reading_nor_its_line(session, folder, monkeypatch):
    """A file that is written anew needs room: taking the line back must not."""
    session.type(2, "mass in air", "1.4427")

    def full(*_):
        raise OSError(28, os.strerror(28))

    before = session.table.data, session.table.history_path.read_bytes()
    with monkeypatch.context() as patched:
        patched.setattr("laminate.values.durable.replace_files", full)
        with pytest.raises(Refused):
            session.type(2, "mass in liquid", "0.5117")
    assert (session.table.path.read_bytes(), session.table.history_path.read_bytes()) == before
    again = BenchTable(session.table.path)
    assert (again.text(2, "mass in liquid"), again.caught_up) == ("", ())
    session.type(2, "mass in liquid", "0.5118")
    assert read_history(session.table.history_path.read_bytes()).fault == ""


def test_what_is_taken_from_the_history_is_told(session, folder, monkeypatch):
    """The line was on the disk, the table not yet, when the session ended."""
    before = session.table.path.read_bytes()
    session.type(2, "mass in air", "1.4427")
    replace_file(session.table.path, before)
    pages = []
    monkeypatch.setattr(sheets, "_at_a_terminal", lambda: True)
    monkeypatch.setattr(EntryScreen, "run", lambda page: pages.append(page))
    assert app.status(["enter", str(folder / "batch.toml"), "--operator", "JM"]) == 0
    assert any(says("bench: taken from the history", words) for words in pages[0].said)
    assert pages[0].session.table.text(2, "mass in air") == "1.4427"


def test_on_leaving_after_another_program_wrote_the_count_is_told(folder, monkeypatch, capsys):
    def run(page):
        table = page.session.table
        replace_file(table.path, table.data + b"0199\r\n")
        page._do(lambda: page.session.type(2, "mass in air", "1.4427"))

    monkeypatch.setattr(sheets, "_at_a_terminal", lambda: True)
    monkeypatch.setattr(EntryScreen, "run", run)
    monkeypatch.setattr(EntryScreen, "bell", lambda _: None)
    assert app.status(["enter", str(folder / "batch.toml"), "--operator", "JM"]) == 2
    out, err = capsys.readouterr()
    assert says("bench: what is left after another program wrote", out)
    assert says("bench: what another program wrote, on leaving", " ".join(err.split()))
    assert app.status(["enter", str(folder / "batch.toml"), "--operator", "JM", "--json"]) == 2
    assert [*json.loads(capsys.readouterr().out)] == ["format", "problems"]
