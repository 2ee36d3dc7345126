"""Slips at the bench, and what must not be taken for one."""

import pytest

from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.table import BenchTable
from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.instruments import bench_of
from laminate.coupons.resolution import step_of
from laminate.files.coupons import NUMBERS, base_name
from laminate.files.entries import read_history
from laminate.front.measuring import measured_of
from tests.messages.wording import says

from .conftest import READINGS
from .test_bench_session import fill


def test_a_reading_in_another_unit_keeps_the_step_that_was_read(session, case):
    """0.113 in is 2.87 mm, and known to 0.001 in = 0.0254 mm, not to the digits of the other unit."""
    fill(session)
    for row in session.rows:
        for label, typed in (("thickness 1", "0.1130 in"), ("thickness 2", "0.113 in")):
            answer = session.type(row, label, typed, "in inches")
            assert (answer.kept, answer.stay) == (True, False), answer
    assert [session.table.text(row, "thickness 1") for row in session.rows] == ["2.870"] * 3
    for coupon in (s.coupon for s in measure_batch(case).specimens):
        assert step_of(coupon, "thickness", bench_of(case)) == pytest.approx(0.0254e-3, rel=1e-12)
    history = read_history(session.table.history_path.read_bytes())
    assert [line.typed for line in history.lines[-3:]] == ["0.113 in", "0.1130 in", "0.113 in"]
    assert b'"typed"' not in history.lines[0].data()
    assert history.data() == session.table.history_path.read_bytes()


def test_a_table_measured_alone_takes_its_history_from_beside_it(session):
    """What was read in inches is no finer where the table is measured without its batch."""
    fill(session)
    for row in session.rows:
        session.type(row, "thickness 1", "0.113 in", "in inches")
    path = session.table.path
    bench = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.22 g/cm^3"}
    steps = [c.coupon.steps for c in measured_of(path, bench).specimens]
    assert [step["thickness 1"] for step in steps] == pytest.approx([0.0254e-3] * 3, rel=1e-12)
    u = measured_of(path, bench).specimens[0].best["thickness"].u
    session.table.history_path.unlink()
    assert measured_of(path, bench).specimens[0].best["thickness"].u < u / 5.0


@pytest.mark.parametrize(("label", "text"), [("mass in liquid", "5.192"), ("thickness 2", "2.8.68")])
def test_what_cannot_be_in_a_table_that_is_opened_is_told_at_the_others(label, text, session):
    """All cells are filled, nothing is asked: the page stands on another coupon."""
    fill(session)
    first, second, third = session.rows
    session.table.keep({(second, label): text})
    assert [session.findings(row).elsewhere for row in (first, third)] == [("0102",), ("0102",)]
    session.exclude(second, "dropped")
    assert session.findings(first).elsewhere == ()
    session.exclude(second, "")
    for emptied in [name for name in session.labels if base_name(name) in NUMBERS]:
        session.table.keep({(first, emptied): ""})
    assert session.findings(first).elsewhere == ("0102",)


@pytest.mark.parametrize(
    ("label", "typed"), [("position", "2.9757"), ("crucible", "22.9"), ("position", "2871 um")]
)
def test_a_reading_in_the_cell_of_a_name_is_asked_about(label, typed, session):
    """A temperature read again was saved as the name of the crucible, and nobody was told."""
    first, second, third = session.rows
    session.table.keep({(row, label): "" for row in session.rows})
    answer = session.type(first, label, typed)
    assert (answer.kept, answer.stay) == (True, True)
    assert says("bench: a reading in the cell of a name", answer.said[0], label=label, typed=typed)
    again = session.type(second, label, typed)
    assert (again.kept, again.stay) == (True, False)
    for name in ("K1", "12", "root"):
        named = session.type(third, label, name, "another")
        assert (named.kept, named.stay) == (True, False)


def test_one_more_reading_of_one_coupon_is_wanted_of_no_other(session, case):
    """A fourth thickness of one coupon was asked of all, and the work never came to its end."""
    fill(session, ["0101"])
    left = session.left()
    label = session.again("thickness 3")
    assert (label, session.left()) == ("thickness 4", left)
    assert session.type(session.rows[0], label, "2.872").kept
    assert session.left() == left
    again = Session(BenchTable(session.table.path, "coupons.csv"), TableChecker(case), "JM")
    assert again.left() == left
    fill(again, ["0102", "0103"])
    assert again.left() == 0


def test_one_more_reading_goes_first_where_a_cell_is_empty(session):
    row = session.rows[0]
    session.type(row, "thickness 1", "2.873")
    assert session.still_empty(row, "thickness 1") == "thickness 2"
    session.type(row, "thickness 2", "2.871")
    session.type(row, "thickness 3", "2.872")
    assert session.still_empty(row, "thickness 1") == ""


def test_an_operator_whose_name_has_a_comma_is_written_once(session):
    row = session.rows[0]
    session.operator = "Miller, Jane"
    session.type(row, "mass in air", "1.4427")
    session.type(row, "mass in liquid", "0.5117")
    assert session.table.text(row, "operator") == "Miller, Jane"
    session.operator = "Jan"
    session.type(row, "liquid temperature", "22.8")
    session.type(row, "crucible", "K1")
    assert session.table.text(row, "operator") == ", ".join(("Miller, Jane", "Jan"))


def test_two_coupons_alone_are_not_guessed_to_be_swapped(session):
    """Held against each other alone, two readings always fit when they are swapped."""
    first, second, _ = session.rows
    session.type(first, "mass in air", "1.4427")
    answer = session.type(second, "mass in air", "14.609")
    assert answer.stay
    assert "reads 1.4609" in answer.said[0]


def first_coupon(session, *thicknesses):
    """The first coupon with the readings of the example, then thicknesses one after the other; its doubts."""
    row, doubts = session.rows[0], []
    labels = [label for label in session.labels if session.wanted(row, label)]
    for label, text in zip(labels[:7], READINGS["0101"], strict=False):
        assert session.type(row, label, text).kept
    for n, text in enumerate(thicknesses, 1):
        session.type(row, f"thickness {n}", text)
        doubts.append([problem.place for problem in session.open_doubts(row)])
    return doubts


@pytest.mark.parametrize(("wrong", "right"), [("2.971", "2.872"), ("2.771", "2.872"), ("2.781", "2.874")])
def test_a_second_repeat_takes_no_doubt_of_the_first_away(session, case, wrong, right):
    """Their mean fits, with a ± of two readings that covers all; the first alone fits no better."""
    where = ["row 2, column 'thickness 1'"]
    assert first_coupon(session, wrong, right) == [where, where]
    told = [w for s in measure_batch(case).specimens for w in s.warnings]
    assert [(w.code, w.place) for w in told] == [("repeats-disagree", *where)]
    session.accept(session.rows[0], "on a ridge")
    assert session.open_doubts(session.rows[0]) == []


def test_the_second_of_two_repeats_may_be_the_wrong_one(session):
    assert first_coupon(session, "2.872", "2.971") == [[], ["row 2, column 'thickness 2'"]]


@pytest.mark.parametrize("pair", [("2.872", "2.874"), ("2.850", "2.890"), ("2.901", "2.841")])
def test_repeats_of_an_uneven_laminate_are_no_doubt(session, pair):
    assert first_coupon(session, *pair) == [[], []]


def test_a_count_unlike_the_other_fields_is_asked_about_in_its_own_cell(case, tmp_path):
    path = tmp_path / "fields.csv"
    rows = [f"1,web,{i},100,{fiber},1" for i, fiber in enumerate((58, 60, 57, 59, 61, 58))]
    path.write_text(
        "\n".join(["specimen,zone,field,points,fiber points,void points", *rows, "1,web,7,100,,1"])
    )
    session = Session(BenchTable(path), TableChecker(case), "JM")
    row = session.rows[-1]
    assert session.type(row, "fiber points", "5").stay
    (doubt,) = session.open_doubts(row)
    assert doubt.place == session.table.view.place(row, session.table.heading("fiber points"))
    assert session.type(row, "fiber points", "56", "counted again").kept
    assert session.open_doubts(row) == []
