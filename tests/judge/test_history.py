"""What the history of a table holds a batch back for."""

import csv
import datetime as dt
import json
import shutil
from importlib.resources import files

import openpyxl
import pytest

from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.table import BenchTable
from laminate.files.batch import read_batch
from laminate.files.entries import Compared, compare, corrections, read_history
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.show.report_json import report_json
from laminate.values.problems import Refused
from tests.bench.test_saved_by_a_spreadsheet import saved


@pytest.fixture
def folder(tmp_path):
    for file in (files("laminate.examples") / "mast").iterdir():
        shutil.copy(str(file), tmp_path / file.name)
    return tmp_path


def bench(folder):
    checker = TableChecker(read_batch(folder / "batch.toml"))
    now = dt.datetime(2026, 11, 20, 14, 2)
    return Session(BenchTable(folder / "coupons.csv"), checker, "JM", lambda: now)


def correct(folder, text="2.868", why="read wrongly", label="thickness 1"):
    session = bench(folder)
    row = session.rows[0]
    was = session.table.text(row, label)
    assert session.type(row, label, text).was == was
    assert session.type(row, label, text, why).kept
    return was


def rules(folder):
    return [one.rule for one in report(folder / "batch.toml").judgement.held_back]


def test_what_was_there_is_kept_and_told(folder):
    before = rules(folder)
    was = correct(folder)
    judged = report(folder / "batch.toml")
    (one,) = judged.judgement.corrections
    assert (one.old, one.new, one.why, one.who, one.doubts) == (was, "2.868", "read wrongly", "JM", ())
    answer = report_json(judged)
    assert answer["corrections"] == [one.as_json()]
    assert "coupons.csv.history.jsonl" in [file["file"] for file in answer["inputs"]]
    assert rules(folder) == before


def test_the_history_is_sealed_and_recomputed(folder):
    correct(folder)
    data = seal(report(folder / "batch.toml"))
    assert b'"role":"history"' in data
    assert recompute(data).findings == ()


def test_what_was_typed_in_another_unit_is_sealed_and_read(folder):
    correct(folder, "0.1130 in")
    path = folder / "coupons.csv.history.jsonl"
    assert b'"typed":"0.1130 in"' in path.read_bytes()
    data = seal(report(folder / "batch.toml"))
    assert recompute(data).findings == ()
    (line,) = path.read_bytes().splitlines(keepends=True)
    for forged in (b"", b"2.87", b"x in", b"0.1130  "):
        path.write_bytes(line.replace(b"0.1130 in", forged))
        assert 12 in rules(folder)
    path.write_bytes(line.replace(b"0.1130 in", b"0.1130 parsec"))
    assert 12 not in rules(folder)


def test_a_missing_history_is_missed(folder):
    before = rules(folder)
    correct(folder)
    (folder / "coupons.csv.history.jsonl").unlink()
    assert sorted(rules(folder)) == sorted([*before, 12])


def test_a_history_that_a_workbook_has_lost_is_missed(folder):
    correct(folder)
    book = openpyxl.Workbook()
    for row in csv.reader((folder / "coupons.csv").read_text("utf-8").splitlines()):
        book.active.append(row)
    book.save(folder / "coupons.xlsx")
    batch = folder / "batch.toml"
    batch.write_text(batch.read_text("utf-8").replace("coupons.csv", "coupons.xlsx"), "utf-8")
    kept = folder / "coupons.csv.history.jsonl"
    kept.rename(folder / "coupons.xlsx.history.jsonl")
    whole = rules(folder)
    (folder / "coupons.xlsx.history.jsonl").unlink()
    assert len(rules(folder)) > len(whole)


def test_a_line_that_is_changed_or_taken_out_breaks_the_chain(folder):
    correct(folder)
    correct(folder, "2.869")
    path = folder / "coupons.csv.history.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    for broken in (lines[1:], lines[:1], [lines[0].replace(b"wrongly", b"rightly"), lines[1]]):
        path.write_bytes(b"".join(broken))
        assert 12 in rules(folder)
    path.write_bytes(b"".join([lines[0].replace(b"wrongly", b"rightly"), lines[1]]))
    with pytest.raises(Refused) as refusal:
        BenchTable(folder / "coupons.csv")
    assert [problem.code for problem in refusal.value.problems] == ["broken-history"]


def test_a_history_whose_entries_are_gone_is_noticed(folder):
    correct(folder)
    table = folder / "coupons.csv"
    lines = [line.rsplit(",", 1)[0] for line in table.read_text("utf-8").splitlines()]
    table.write_text("\n".join(lines) + "\n", "utf-8")
    assert 12 in rules(folder)


def test_a_cell_changed_elsewhere_is_an_open_doubt(folder):
    before = rules(folder)
    correct(folder)
    table = folder / "coupons.csv"
    text = table.read_text("utf-8")
    assert text.count(",2.868") >= 1
    table.write_text(text.replace(",2.868", ",2.867", 1), "utf-8")
    assert sorted(rules(folder)) == sorted([*before, 2])


def test_a_reading_taken_out_and_measured_again_is_one_correction(folder):
    session = bench(folder)
    row = session.rows[0]
    was = session.table.text(row, "thickness 1")
    session.empty(row, "thickness 1", "slipped")
    session.type(row, "thickness 1", "2.868")
    history = read_history(session.table.history_path.read_bytes())
    (one,) = corrections(history, "coupons.csv")
    assert (one.old, one.new, one.why) == (was, "2.868", "slipped")
    assert compare(session.table.view, history) == Compared()


def test_a_session_that_ended_between_history_and_table_is_taken_up(folder):
    table = (folder / "coupons.csv").read_bytes()
    correct(folder)
    after = (folder / "coupons.csv").read_bytes()
    (folder / "coupons.csv").write_bytes(table)
    bench_table = BenchTable(folder / "coupons.csv")
    assert compare(bench_table.view, bench_table.history) == Compared()
    assert bench_table.text(bench_table.view.rows[0].number, "thickness 1") == "2.868"
    assert after != table


def test_a_line_cut_off_is_dropped(folder):
    correct(folder)
    path = folder / "coupons.csv.history.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"before":"')
    BenchTable(folder / "coupons.csv")
    assert path.read_bytes() == whole


def bettered(folder):
    """Three readings near a limit, each corrected a little: none alone makes the difference."""
    part, table = folder / "part.toml", folder / "coupons.csv"
    part.write_text(part.read_text("utf-8").replace('max = "2.95 mm"', 'max = "2.884 mm"'), "utf-8")
    text = table.read_text("utf-8")
    assert ",2.873,2.871,2.872" in text
    table.write_text(text.replace(",2.873,2.871,2.872", ",2.883,2.881,2.882"), "utf-8")
    worse = {one.label: one.decision for one in report(folder / "batch.toml").judgement.characteristics}
    for n in (1, 2, 3):
        correct(folder, f"2.86{n}", "read wrongly", f"thickness {n}")
    return worse["thickness.web"]


def test_corrections_without_doubt_that_better_the_answer_are_held_back(folder):
    assert bettered(folder) != "conforms"
    now = report(folder / "batch.toml").judgement
    assert {one.label: one.decision for one in now.characteristics}["thickness.web"] == "conforms"
    assert len(now.corrections) == 3
    assert now.corrections[0].doubts == ()
    assert 2 in [one.rule for one in now.held_back]
    assert now.answer == "undecided"


def test_what_was_corrected_is_weighed_in_the_decimal_sign_of_the_table(folder):
    """A spreadsheet program has written every other reading with a comma since."""
    bettered(folder)
    before = report(folder / "batch.toml").judgement.held_back
    saved(folder / "coupons.csv")
    judged = report(folder / "batch.toml").judgement
    assert ([one.rule for one in judged.held_back], judged.answer) == ([2], "undecided")
    assert judged.held_back == before


def test_a_reason_for_each_corrected_column_answers_that(folder):
    bettered(folder)
    table = folder / "coupons.csv"
    lines = table.read_text("utf-8").splitlines()
    words = "; ".join(f"thickness {n}: anvil was dirty" for n in (1, 2, 3))
    lines = [f"{lines[0]},accepted", f"{lines[1]},{words}", *(f"{line}," for line in lines[2:])]
    table.write_text("\n".join(lines) + "\n", "utf-8")
    assert 2 not in rules(folder)


@pytest.mark.parametrize(
    ("label", "text", "held"),
    [
        ("thickness 1", "2.991", [2]),
        ("thickness 1", "2.868", []),
        ("thickness 1", "28.68", []),  # such a coupon there cannot be
        ("plies", "20", []),
    ],
)
def test_a_row_that_was_taken_back_is_weighed_as_if_it_were_there(folder, label, text, held):
    """Typed at the bench and undone, row and all: what stood in it is a correction like any other."""
    before = rules(folder)
    session = bench(folder)
    row = session.add("0199", session.rows[0])
    session.type(row, label, text)
    while session.undo():
        pass
    assert row not in session.rows
    assert compare(session.table.view, session.table.history) == Compared()
    judged = report(folder / "batch.toml").judgement
    assert [one.rule for one in judged.held_back] == before + held
    assert all("0199" in one.what and "0199" in one.say for one in judged.held_back[len(before) :])


def test_a_repeat_that_was_taken_back_with_its_column_is_weighed(folder):
    part = folder / "part.toml"
    part.write_text(part.read_text("utf-8").replace('max = "2.95 mm"', 'max = "2.877 mm"'), "utf-8")
    session = bench(folder)
    new = session.again("thickness 1")
    session.type(session.rows[0], new, "2.882")
    while session.undo():
        pass
    assert new not in session.labels
    assert 2 in rules(folder)


def test_a_row_typed_elsewhere_beside_a_history_is_told(folder):
    """A history that one coupon has says nothing of the others."""
    (whole,) = [words for words in report(folder / "batch.toml").judgement.remarks if "coupons.csv" in words]
    for left in (["0102", "0103"], ["0103"], []):
        session = bench(folder)
        row = session.rows[2 - len(left)]
        session.empty(row, "thickness 1", "slipped")
        session.type(row, "thickness 1", "2.868")
        judged = report(folder / "batch.toml")
        remarks = [words for words in judged.judgement.remarks if "history" in words]
        assert remarks == ([whole.replace("coupons.csv", f"coupon {', '.join(left)}")] if left else [])
        assert (
            report_json(judged)["remarks"] == json.loads(seal(judged))["remarks"] == judged.judgement.remarks
        )


def test_what_the_report_asked_to_measure_again_was_in_doubt(folder):
    """All masses in liquid 16 mg low: no row tells it alone, the methods of all do."""
    table = folder / "coupons.csv"
    right = ("0.5117", "0.5192", "0.5032")
    text = table.read_text("utf-8")
    for mass in right:
        text = text.replace(mass, f"{float(mass) - 0.016:.4f}")
    table.write_text(text, "utf-8")
    assert 2 in rules(folder)
    session = bench(folder)
    for row, mass in zip(session.rows, right, strict=True):
        assert session.type(row, "mass in liquid", mass, "read wrongly").kept
    assert rules(folder) == []


@pytest.mark.parametrize(
    ("typed", "saved", "held"),
    [
        ("2.870", "2.87", False),
        ("2.000", "2", False),
        ("2.870", "2.8700", True),
        ("2.870", "2.87 mm", True),
        ("2.870", "", True),
        ("2.871", "", True),
    ],
)
def test_last_zeros_that_a_spreadsheet_drops_change_no_reading(folder, typed, saved, held):
    """More digits than were read would say that the display is finer."""
    correct(folder, typed)
    table = folder / "coupons.csv"
    changed = table.read_text("utf-8").replace(typed, saved, 1)
    table.write_text(changed, "utf-8")
    bench_table = BenchTable(table)
    assert bool(compare(bench_table.view, bench_table.history).outside) is held
