"""A table and its history of which one has lost what the other has: nothing goes on as if both were whole."""

import pytest

from laminate.bench.coupon_sheet import csv_text
from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.sheet import blank_table
from laminate.bench.table import BenchTable
from laminate.cli import app, sheets
from laminate.cli.bench.page import EntryScreen
from laminate.files.batch import read_batch
from laminate.files.entries import Compared, compare
from laminate.values.problems import Refused
from tests.messages.wording import says

from .conftest import READINGS


def typed(session, row=2, names="0101"):
    """The readings of one specimen, one after the other."""
    labels = [label for label in session.labels if session.wanted(row, label)]
    for label, text in zip(labels, READINGS[names], strict=True):
        assert session.type(row, label, text).kept
    return session.table


def lines(table):
    return table.history_path.read_bytes().splitlines(keepends=True)


def refused(table):
    """The finding with which the table cannot be opened; nothing is written then."""
    before = table.path.read_bytes(), table.history_path.read_bytes()
    with pytest.raises(Refused) as refusal:
        BenchTable(table.path, "coupons.csv")
    assert (table.path.read_bytes(), table.history_path.read_bytes()) == before
    (problem,) = refusal.value.problems
    return problem


@pytest.mark.parametrize("lost", [1, 2, 9, 10])
def test_a_history_that_lost_its_end_is_refused_as_a_broken_one(session, lost):
    """Its numbers would be given again, and the table would look as if nothing had been lost."""
    table = typed(session)
    whole = lines(table)
    table.history_path.write_bytes(b"".join(whole[: len(whole) - lost]))
    problem = refused(table)
    assert (problem.code, problem.file) == ("broken-history", "coupons.csv.history.jsonl")
    assert problem.place == f"line {len(whole) - lost + 1}"
    assert "row 2 of coupons.csv" in problem.found
    table.history_path.write_bytes(b"".join(whole))
    assert BenchTable(table.path).caught_up == ()


def test_a_last_line_that_had_reached_the_table_is_not_dropped(session):
    table = typed(session)
    session.exclude(2, "crucible cracked")
    session.exclude(2, "")
    whole = lines(table)
    table.history_path.write_bytes(b"".join(whole[:-1]) + whole[-1][:40])
    assert refused(table).place == f"line {len(whole)}"
    table.history_path.write_bytes(b"".join(whole[:-1]))
    assert refused(table).place == f"line {len(whole)}"
    assert table.text(2, "excluded") == ""


def test_the_row_that_is_newer_may_be_any(session):
    typed(session, 3, "0102")
    before = lines(session.table)
    table = typed(session)
    table.history_path.write_bytes(b"".join(before))
    assert refused(table).place == f"line {len(before) + 1}"


def test_a_history_that_is_gone_is_not_begun_again(session):
    table = typed(session)
    table.history_path.unlink()
    with pytest.raises(Refused) as refusal:
        BenchTable(table.path, "coupons.csv")
    assert [problem.code for problem in refusal.value.problems] == ["broken-history"]
    assert not table.history_path.exists()


def test_a_history_that_goes_while_the_page_is_open_is_not_begun_again(session):
    table = typed(session)
    before = table.path.read_bytes()
    table.history_path.unlink()
    with pytest.raises(Refused) as refusal:
        session.type(3, "thickness 1", "2.866")
    assert [problem.code for problem in refusal.value.problems] == ["file-access"]
    assert (table.path.read_bytes(), table.history_path.exists()) == (before, False)


def test_an_older_table_gets_all_that_was_typed_since(session):
    """Not the readings of the last row alone: corrections, other rows and added columns too."""
    session.type(2, "mass in air", "1.4428")
    older = session.table.path.read_bytes()
    session.type(2, "mass in air", "1.4427", "read wrongly")
    typed(session, 3, "0102")
    session.again("thickness 1")
    session.type(3, "thickness 4", "2.867")
    session.type(4, "position", "heel", "cut there")
    newer, entries = session.table.view, [session.table.text(row, "entry") for row in session.rows]
    session.table.path.write_bytes(older)
    table = BenchTable(session.table.path)
    kept = [*session.labels, "operator", "time"]
    assert [[table.text(row, label) for label in kept] for row in (2, 3, 4)] == [
        [session.table.text(row, label) for label in kept] for row in (2, 3, 4)
    ]
    assert [table.text(row, "entry") for row in (2, 3, 4)] == entries
    assert compare(table.view, table.history) == compare(newer, table.history) == Compared()
    assert set(table.caught_up) >= {"mass in air of 0101", "thickness 4 of 0102", "position of 0103"}


def blank(folder):
    return csv_text(blank_table(read_batch(folder / "batch.toml"))).encode()


def test_a_blank_table_beside_a_history_that_it_does_not_take_up_whole_is_refused(session, folder):
    """Some of the readings alone would come back, as if the others had never been typed."""
    table = typed(session)
    session.add("0199", 2)
    session.type(5, "mass in air", "1.4427")
    table.path.write_bytes(blank(folder))
    problem = refused(table)
    assert (problem.code, problem.file) == ("table-behind", "coupons.csv")
    assert problem.found.endswith("line 1, and 10 more")


def test_a_new_table_beside_the_history_of_another_is_refused(session, folder):
    """The folder of a batch before, its table made anew: its readings are not those of this one."""
    table = typed(session)
    table.path.write_bytes(blank(folder))
    assert refused(table).code == "table-behind"


def test_a_first_change_that_the_table_lacks_is_taken_up(session):
    before = session.table.path.read_bytes()
    session.repeat(2, "0102", "dropped")
    session.table.path.write_bytes(before)
    assert set(BenchTable(session.table.path).caught_up) == {"replaces of 0101", "remark of 0101"}


def test_a_table_behind_its_history_and_changed_elsewhere_is_refused(session):
    older = session.table.path.read_bytes()
    table = typed(session)
    table.path.write_bytes(older.replace(b"L2231,,", b"L2231,1.5,", 1))
    problem = refused(table)
    assert problem.code == "table-behind"
    assert "mass in liquid" in problem.found


def test_entries_alone_that_are_gone_do_not_stop_the_work(session):
    """The readings are there; the report holds the batch back."""
    table = typed(session)
    cells = [line.rsplit(",", 1)[0] for line in table.path.read_text("utf-8").splitlines()]
    table.path.write_text("\n".join(cells) + "\n", "utf-8")
    before = table.path.read_bytes()
    again = BenchTable(table.path, "coupons.csv")
    assert (again.caught_up, again.path.read_bytes()) == ((), before)
    assert again.breaks == compare(again.view, again.history).breaks != ()


def test_a_row_that_was_added_and_taken_back_leaves_nothing_missing(session):
    typed(session)
    before = session.table.path.read_bytes()
    row = session.add("0199", 2)
    session.type(row, "mass in air", "1.4427")
    assert session.undo() == ((row, "mass in air"), "mass in air of 0199")
    assert session.undo() is not None
    assert session.table.path.read_bytes() == before
    again = BenchTable(session.table.path)
    assert (again.caught_up, compare(again.view, again.history)) == ((), Compared())
    session.add("0198", 2)
    session.type(3, "mass in air", "1.4609")
    session.undo()
    assert session.table.text(row, "entry") == ""
    assert compare(session.table.view, session.table.history) == Compared()


def test_a_first_row_that_was_taken_back_leaves_a_table_that_opens(session):
    """Nothing else has been typed yet: the history ends with what took the row back."""
    row = session.add("0199", 2)
    session.type(row, "mass in air", "1.4427")
    assert session.undo() is not None
    assert session.undo() is not None
    before = session.table.path.read_bytes()
    assert BenchTable(session.table.path, "coupons.csv").caught_up == ()
    assert session.table.path.read_bytes() == before


def test_after_a_row_that_was_taken_back_a_session_that_ended_is_taken_up(session):
    row = session.add("0199", 2)
    session.type(row, "mass in air", "1.4427")
    session.undo()
    session.undo()
    before = session.table.path.read_bytes()
    session.type(3, "mass in air", "1.4609")
    session.table.path.write_bytes(before)
    assert BenchTable(session.table.path).caught_up == ("mass in air of 0102",)


@pytest.fixture
def keyboard(monkeypatch):
    pages = []
    monkeypatch.setattr(sheets, "_at_a_terminal", lambda: True)
    monkeypatch.setattr(EntryScreen, "run", lambda page: pages.append(page))
    return pages


def enter(folder):
    return app.status(["enter", str(folder / "batch.toml"), "--operator", "JM"])


@pytest.mark.parametrize("content", [None, b""])
def test_a_table_that_is_gone_is_not_made_anew_beside_its_history(session, folder, keyboard, capsys, content):
    table = typed(session)
    history = table.history_path.read_bytes()
    table.path.unlink()
    if content is not None:
        table.path.write_bytes(content)
    assert enter(folder) == 2
    assert says("bench: a table that is gone", capsys.readouterr().err)
    assert (table.path.exists(), keyboard) == (content is not None, [])
    assert table.history_path.read_bytes() == history


def test_a_row_taken_out_elsewhere_is_told_at_each_opening(session, folder, keyboard):
    typed(session)
    typed(session, 3, "0102")
    text = session.table.path.read_text("utf-8").splitlines(keepends=True)
    session.table.path.write_text("".join(text[:1] + text[2:]), "utf-8")
    for _ in range(2):
        assert enter(folder) == 0
        page = keyboard[-1]
        assert any(says("bench: what the history misses", words) for words in page.said)
        again = Session(page.session.table, TableChecker(read_batch(folder / "batch.toml")), "JM")
        again.type(3, "mass in air", "1.4143" if len(keyboard) == 1 else "1.4144", "again")
