"""Who typed a row and on which day: the cells beside its readings, held against its history."""

import csv
import datetime as dt
import time

import pytest

from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.table import BenchTable
from laminate.files.batch import read_batch
from laminate.files.entries import read_history
from laminate.judging.reported import report
from laminate.values.days import days_in

from .conftest import READINGS
from .test_bench_session import fill

CHANGED = 2
DAY = dt.datetime(2026, 11, 20, 14, 2)


@pytest.fixture(autouse=True)
def zone(monkeypatch):
    """A shop five hours behind UTC."""
    monkeypatch.setenv("TZ", "XXX5")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def at(folder, who, now=DAY):
    table = BenchTable(folder / "coupons.csv", "coupons.csv")
    return Session(table, TableChecker(read_batch(folder / "batch.toml")), who, lambda: now)


def write(folder, **cells):
    """Write texts into the row of 0102 as a spreadsheet program does: text by column."""
    path = folder / "coupons.csv"
    header, *rows = csv.reader(path.read_text("utf-8").splitlines())
    header += [column for column in cells if column not in header]
    for row in rows:
        row += [""] * (len(header) - len(row))
        for column, text in cells.items():
            if row[0] == "0102":
                row[header.index(column)] = text
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])


def held(folder):
    judged = report(folder / "batch.toml").judgement
    return judged, [one for one in judged.held_back if one.rule == CHANGED]


def causes(folder):
    return [one.what.split(": ")[1] for one in held(folder)[1]]


@pytest.mark.parametrize(
    ("column", "text", "held_back"),
    [
        ("operator", "PQ", True),
        ("operator", "PQ, J. Miller", True),
        ("operator", "j. m.", False),
        ("operator", "PQ | JM", False),
        ("operator", "", False),
        ("time", "2026-11-19 14:02", True),
        ("time", "20.12.2026", True),
        ("time", "2026-11-20", False),
        ("time", "20.11.2026 09:00", False),
        ("time", "2026-11-19; 2026-11-20", False),
        ("time", "2026-11-21T02:00+07:00", False),
        ("time", "2026-11-20T02:02Z", False),
        ("time", "2026-11-20T02:02+14:00", True),
        ("time", "morning", False),
        ("time", "", False),
    ],
)
def test_what_the_history_contradicts_is_changed_outside(session, folder, column, text, held_back):
    fill(session)
    write(folder, **{column: text})
    assert causes(folder) == ([f"row 3, column '{column}'"] if held_back else [])
    assert held(folder)[0].answer == ("undecided" if held_back else "conforms")


@pytest.mark.parametrize(("about", "still"), [("operator", []), ("time", ["row 3, column 'operator'"])])
def test_a_reason_that_names_the_cell_answers_it(session, folder, about, still):
    fill(session)
    write(folder, operator="PQ", accepted=f"{about}: JM had left the page open")
    judged, _ = held(folder)
    assert causes(folder) == still
    assert len([words for words in judged.remarks if "'PQ'" in words]) == 1 - len(still)


def test_an_excluded_row_is_asked_about_too(session, folder):
    fill(session)
    session.exclude(3, "dropped into the sink")
    write(folder, operator="PQ")
    assert causes(folder) == ["row 3, column 'operator'"]


def test_several_people_and_days_are_no_change(session, folder):
    """Each is named in the cell, and each day: readings of the first may stand. One of them alone will do."""
    fill(session)
    later = at(folder, "PQ", DAY + dt.timedelta(days=2))
    later.type(3, "thickness 1", "2.867", "read again")
    assert later.table.text(3, "operator") == "JM, PQ"
    assert days_in(later.table.text(3, "time")) == {DAY.date(), DAY.date() + dt.timedelta(days=2)}
    later.type(3, "thickness 2", "2.868", "read again")
    assert later.table.text(3, "time").count("2026-11-22") == 1
    assert causes(folder) == []
    for day, kept in (("2026-11-20", True), ("2026-11-21", False)):
        write(folder, time=day)
        assert (causes(folder) == []) is kept
    write(folder, time="2026-11-22", operator="PQ")
    assert causes(folder) == ["row 3, column 'operator'"]


def test_the_day_of_a_row_typed_elsewhere_outlasts_a_change_of_one_cell(folder):
    """Its other readings are of that day, whether their instruments were in calibration or not."""
    write(folder, time="19.11.2026 08:00", operator="KM", **{"thickness 1 [mm]": "2.866"})
    later = at(folder, "PQ", DAY)
    later.type(3, "thickness 1", "2.867", "read again")
    assert later.table.text(3, "time") == "19.11.2026 08:00; 2026-11-20 14:02"
    later.undo()
    assert later.table.text(3, "time") == "19.11.2026 08:00"


def test_a_person_who_took_everything_back_measured_nothing(session, folder):
    """Taken back, the cells beside a reading are again what they were."""
    fill(session)
    later = at(folder, "PQ", DAY + dt.timedelta(days=2))
    later.type(3, "thickness 1", "2.867", "read again")
    later.undo()
    later.empty(3, "thickness 2", "wet")
    later.undo()
    assert later.table.text(3, "operator") == "JM"
    assert causes(folder) == []


def test_a_reading_that_stood_there_before_is_nobody_s(session, folder):
    """KM wrote the row in a spreadsheet; PQ changed a cell at the bench and took it back."""
    fill(session, ("0101", "0103"))
    titles = ("mass in air [g]", "mass in liquid [g]", "liquid temperature [degC]", "crucible")
    titles += ("crucible mass [g]", "crucible with specimen [g]", "crucible with residue [g]")
    titles += ("thickness 1 [mm]", "thickness 2 [mm]", "thickness 3 [mm]")
    readings = dict(zip(titles, READINGS["0102"], strict=True))
    write(folder, operator="KM", time="2026-11-19", method="digestion", **readings)
    assert causes(folder) == []
    session = at(folder, "PQ")
    session.type(3, "thickness 1", "2.867", "read again")
    session.undo()
    session.empty(3, "thickness 2", "wet")
    session.undo()
    assert (session.table.text(3, "operator"), causes(folder)) == ("KM", [])
    session.type(3, "thickness 1", "2.867", "read again")
    assert (session.table.text(3, "operator"), causes(folder)) == ("KM, PQ", [])


def test_a_number_of_a_person_may_lose_its_zeros(folder):
    fill(at(folder, "0417"))
    write(folder, operator="417")
    assert causes(folder) == []


def test_nobody_at_the_bench_contradicts_nobody(folder):
    fill(at(folder, ""))
    write(folder, operator="PQ")
    assert causes(folder) == []


def test_midnight_is_one_moment(folder):
    """The cell and the line that a change writes have one time, though the clock goes on in between."""
    clock = iter(DAY.replace(hour=23, minute=59, second=59) + dt.timedelta(seconds=n) for n in range(99))
    session = at(folder, "JM")
    session._now = lambda: next(clock)
    session.type(3, "thickness 1", "2.867")
    (line,) = read_history((folder / "coupons.csv.history.jsonl").read_bytes()).lines
    assert line.time[:10] == session.table.text(3, "time")[:10] == "2026-11-20"


@pytest.mark.parametrize("text", ["", "morning", "2026-11-20"])
def test_a_row_that_tells_no_day_has_that_of_its_history(session, folder, text):
    """Not the laboratory's, on which the micrometer was in calibration."""
    path = folder / "batch.toml"
    batch = path.read_text("utf-8").replace("measured = 2026-11-20", "measured = 2026-11-19")
    path.write_text(batch.replace("due = 2027-06-20", "due = 2026-11-19"), "utf-8")
    fill(session)
    write(folder, time=text)
    assert [one.name for one in report(path).judgement.held_back] == ["instrument.micrometer"]
