"""A table of 'enter' that a spreadsheet program has opened and saved: other spellings, the same readings."""

import csv
import re

import pytest

from laminate.bench.catching_up import names_with_zeros
from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.table import BenchTable
from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch
from laminate.files.entries import Compared, History, Line, compare
from laminate.files.table import Heading, Row, Table
from laminate.judging.reported import report
from laminate.values.problems import Refused

from .conftest import READINGS
from .test_bench_session import fill

CHANGED, BROKEN = 2, 12


def saved(path, *, sign=",", name=str, change=("", "")):
    """Write the table as a spreadsheet does: numbers without last zeros, in its own decimal sign.

    name: what becomes of a coupon's name; change: text of a cell and what is typed over it.
    """
    rows = list(csv.reader(path.read_text("utf-8").splitlines()))
    for row in rows[1:]:
        row[0] = name(row[0])
        for at, cell in enumerate(row[1:], 1):
            row[at] = cell.replace(*change)
            if number := re.fullmatch(r"(\d+)\.(\d*?)0*", row[at]):
                row[at] = sign.join(filter(None, number.groups()))
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=";" if sign == "," else ",").writerows(rows)
    return BenchTable(path, path.name)


def again(table, folder):
    return Session(table, TableChecker(read_batch(folder / "batch.toml")), "KS")


def held(folder):
    judged = report(folder / "batch.toml").judgement
    return judged, [(one.rule, one.what) for one in judged.held_back if one.rule in (CHANGED, BROKEN)]


@pytest.mark.parametrize("sign", [",", "."])
def test_another_spelling_is_no_change(session, folder, sign):
    fill(session)
    before, _ = held(folder)
    table = saved(session.table.path, sign=sign)
    assert table.text(2, "crucible mass") == f"20{sign}1"
    assert (compare(table.view, table.history), table.breaks) == (Compared(), ())
    judged, causes = held(folder)
    assert (causes, judged.answer) == ([], before.answer)


def test_a_real_change_stays_named_alone(session, folder):
    fill(session)
    table = saved(session.table.path, change=("0.5192", "0.5195"))
    ((place, line, _),) = compare(table.view, table.history).outside
    assert (place, line.specimen, line.new) == ("row 3, column 'mass in liquid'", "0102", "0.5192")


@pytest.mark.parametrize(
    ("typed", "cell", "same"),
    [("2.87", "2,870", True), ("2.871", "2,8710", False), ("2.87", "2,87 mm", False)],
)
def test_zeros_count_up_to_the_last_decimal_of_the_column(session, typed, cell, same):
    """A display of more digits than anything in the column was typed with would be a finer one."""
    fill(session)
    session.type(2, "thickness 1", typed, "read again")
    table = saved(session.table.path)
    table.keep({(2, "thickness 1"): cell})
    assert (compare(table.view, table.history).outside == ()) is same
    assert Session(table, session.checker, "KS").type(2, "thickness 1", typed).kept
    assert compare(table.view, table.history) == Compared()


@pytest.mark.parametrize(("typed", "old"), [("0,5195", "0,5192"), ("0.5192", None), ("0.5193", "0,5192")])
def test_what_was_changed_outside_is_typed_again(session, folder, typed, old):
    """The report prints this way out: the number that is there, the one that was, or another."""
    fill(session)
    session = again(saved(session.table.path, change=("0.5192", "0.5195")), folder)
    before = len(session.table.history.lines)
    if old:
        assert session.type(3, "mass in liquid", typed).was == old
    assert session.type(3, "mass in liquid", typed, "read wrongly" if old else "").kept
    session = again(BenchTable(session.table.path, "coupons.csv"), folder)
    assert compare(session.table.view, session.table.history) == Compared()
    assert session.table.text(3, "mass in liquid") == typed.replace(".", ",")
    assert (len(session.table.history.lines), session.table.text(3, "entry")) == (before + 1, str(before + 1))
    judged, causes = held(folder)
    expected = [(old, typed.replace(".", ","))] if old else []
    assert ([(one.old, one.new) for one in judged.corrections], causes) == (expected, [])


def test_taking_that_back_leaves_the_change_open(session, folder):
    fill(session)
    session = again(saved(session.table.path, change=("0.5192", "0.5195")), folder)
    session.type(3, "mass in liquid", "0.5195", "read wrongly")
    session.undo()
    table = BenchTable(session.table.path)
    assert [place for place, _, _ in compare(table.view, table.history).outside] == [
        "row 3, column 'mass in liquid'"
    ]
    assert table.breaks == ()


def test_a_number_typed_again_is_a_line_and_no_correction(session, folder):
    fill(session)
    session = again(saved(session.table.path), folder)
    before = len(session.table.history.lines)
    assert session.type(3, "crucible mass", "20.2000").kept
    assert session.table.text(3, "entry") == str(before + 1)
    assert compare(session.table.view, session.table.history) == Compared()
    assert report(folder / "batch.toml").judgement.corrections == []
    assert session.type(3, "crucible mass", "20.20000").was == "20,2000"


def test_a_reading_taken_out_elsewhere_is_typed_again(session, folder):
    fill(session)
    session = again(saved(session.table.path, change=("0.5192", "")), folder)
    assert session.type(3, "mass in liquid", "0.5193").was == "0,5192"
    assert session.type(3, "mass in liquid", "0.5192").kept
    assert compare(session.table.view, session.table.history) == Compared()


def test_the_step_of_another_unit_stays(session, folder, case):
    """0.113 in is known to 0.0254 mm, however a spreadsheet writes the 2.870 mm that it became."""
    fill(session)
    session.type(2, "thickness 1", "0.1130 in", "in inches")
    steps = measure_batch(case).specimens[0].coupon.steps
    saved(session.table.path)
    assert measure_batch(read_batch(folder / "batch.toml")).specimens[0].coupon.steps == steps != {}


def test_a_session_that_ended_early_is_taken_up_in_the_sign_of_the_table(session):
    fill(session)
    older = saved(session.table.path).path.read_bytes()
    session = Session(BenchTable(session.table.path), session.checker, "KS")
    session.type(2, "crucible mass", "20.1001", "read wrongly")
    session.table.path.write_bytes(older)
    table = BenchTable(session.table.path)
    assert (table.caught_up, table.text(2, "crucible mass")) == (("crucible mass of 0101",), "20,1001")


def test_a_name_without_its_zeros_is_named_and_put_back(session, folder):
    fill(session)
    session.table.path.write_text(session.table.path.read_text("utf-8").replace("2.869", "2.8690"), "utf-8")
    whole = session.table.view
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BenchTable, "_take_up", lambda table: session.table.history)
        table = saved(session.table.path, name=lambda text: text.lstrip("0"))
    compared = compare(table.view, table.history)
    assert (compared.breaks, compared.outside) == ((), ())
    assert [(one.row, one.now, one.was) for one in compared.renamed] == [
        (n, name.lstrip("0"), name) for n, name in enumerate(READINGS, 2)
    ]
    _, causes = held(folder)
    assert [rule for rule, _ in causes] == [BROKEN] * 3
    assert all("coupons.csv: row" in what and "jsonl" not in what for _, what in causes)
    table = BenchTable(session.table.path, "coupons.csv")
    assert [row.cells[0] for row in table.view.rows] == [row.cells[0] for row in whole.rows]
    assert (table.breaks, table.caught_up) == ((), tuple(f"name of {name}" for name in READINGS))
    assert held(folder)[1] == []


def test_names_that_nothing_was_typed_of_stay(session):
    """A coupon may really be called 103."""
    fill(session, ("0101", "0102"))
    for name in ("1104", "7b"):
        session.add(name)
    table = saved(session.table.path, name=lambda text: text.lstrip("0"))
    assert [row.cells[0] for row in table.view.rows] == ["0101", "0102", "103", "1104", "7b"]
    assert table.caught_up == ("name of 0101", "name of 0102")


HEADINGS = tuple(
    Heading(name, None, "", name, at) for at, name in enumerate(("specimen", "field", "replaces", "entry"))
)


def test_zeros_go_back_to_where_they_were():
    """A field of view is no coupon, and a retest names the coupon that it replaces."""

    def line(n, specimen, field):
        return Line(n, "", "2026-11-20T10:00:00+00:00", "JM", specimen, "", field, "points", None, "400")

    history = History((line(1, "W1", "01"), line(2, "0102", "")))
    rows = (Row(2, ("W1", "1", "", "1")), Row(3, ("102", "", "", "2")), Row(4, ("5", "", "102", "")))
    table = Table("coupons.csv", "", HEADINGS, rows)
    assert names_with_zeros(table, history) == {
        (2, "field"): "01",
        (3, "specimen"): "0102",
        (4, "replaces"): "0102",
    }


def test_without_lost_zeros_no_name_gets_any(session):
    fill(session, ("0101",))
    session.add("7")
    table = BenchTable(session.table.path)
    assert (table.caught_up, table.text(5, "specimen")) == ((), "7")


def test_another_name_is_told_and_left(session, folder):
    """It may have been corrected: nobody but a person knows which of the two is right."""
    fill(session)
    text = session.table.path.read_text("utf-8")
    session.table.path.write_text(text.replace("\n0102,", "\n0107,"), "utf-8")
    table = BenchTable(session.table.path, "coupons.csv")
    assert (table.text(3, "specimen"), len(table.breaks)) == ("0107", 1)
    _, causes = held(folder)
    assert [rule for rule, _ in causes] == [BROKEN]
    assert "'0107'" in causes[0][1]
    assert "'0102'" in causes[0][1]


def test_a_name_that_another_row_has_is_not_given_twice(session):
    fill(session)
    text = session.table.path.read_text("utf-8")
    lines = text.splitlines(keepends=True)
    copy = lines[2].replace("0102,", "102,", 1)
    session.table.path.write_text("".join([*lines, copy]), "utf-8")
    table = BenchTable(session.table.path, "coupons.csv")
    assert [row.cells[0] for row in table.view.rows] == ["0101", "0102", "0103", "102"]
    assert table.breaks != ()


def test_a_table_saved_while_it_is_open_is_not_written_over(session):
    fill(session)
    saved(session.table.path)
    with pytest.raises(Refused):
        session.type(2, "crucible mass", "20.1001", "read wrongly")


@pytest.mark.parametrize(
    ("column", "text", "causes", "remarks"),
    [
        ("accepted", "mass in liquid: read on the note as 0.5195", 0, 1),
        ("accepted", "mass in air: read on the note as 0.5195", 1, 0),
        ("excluded", "dropped into the sink", 0, 0),
    ],
)
def test_a_change_outside_is_answered_as_any_doubt(session, folder, column, text, causes, remarks):
    fill(session)
    table = saved(session.table.path, change=("0.5192", "0.5195"))
    table.keep({(3, column): text})
    judged, held_back = held(folder)
    assert len(held_back) == causes
    assert len([words for words in judged.remarks if "'0,5195'" in words]) == remarks


def test_a_word_changed_outside_is_not_answered_by_an_exclusion(session, folder):
    fill(session)
    session.exclude(3, "dropped into the sink")
    table = saved(session.table.path)
    table.keep({(3, "excluded"): "dropped", (3, "crucible"): "K9"})
    assert len(held(folder)[1]) == 2


@pytest.mark.parametrize(
    ("day", "causes"),
    [("11/20/2026", 0), ("20/11/26", 0), ("20 Nov 26", 1), ("11/21/2026", 1), ("46346", 1)],
)
def test_a_day_in_the_order_of_a_country_is_that_of_the_history(session, folder, day, causes):
    """The page wrote 2026-11-20; what no line of the row was typed on is no spelling of it."""
    fill(session)
    text = session.table.path.read_text("utf-8")
    assert text.count("2026-11-20 14:02,10") == 1
    session.table.path.write_text(text.replace("2026-11-20 14:02,10", f"{day} 14:02,10"), "utf-8")
    judged, held_back = held(folder)
    assert (len(held_back), judged.answer) == (causes, "undecided" if causes else "conforms")


@pytest.mark.parametrize(("after", "causes"), [("; crucible mass: weighed warm", 0), ("", 0), (None, 2)])
def test_a_reason_of_the_page_stays_and_others_may_stand_beside_it(session, folder, after, causes):
    """It names the reading with a point, which has a comma now; what to add to it the report prints."""
    fill(session)
    session.type(2, "thickness 1", "2.8731", "read to 0.1 um")
    session.accept(2, "on a ridge")
    reason = session.table.text(2, "accepted")
    assert reason
    table = saved(session.table.path)
    table.keep({(2, "accepted"): "" if after is None else f"{reason}{after}"})
    assert len(held(folder)[1]) == causes
