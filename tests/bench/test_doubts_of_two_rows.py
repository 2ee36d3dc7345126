"""A doubt that two rows raise together: it stands at the later row, whichever row the page shows."""

import pytest

from laminate.cli.bench.page import EntryScreen
from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch
from laminate.values.problems import Answered

from .conftest import READINGS
from .test_bench_session import fill
from .test_page import SIZE, burst, screen

COPIED = (*READINGS["0102"][:3], "K3", *READINGS["0102"][4:])


def type_row(session, row, texts):
    """Type texts into the cells of a row that are wanted, in their order; what was said of each."""
    labels = [label for label in session.labels if session.wanted(row, label)]
    return {label: session.type(row, label, text) for label, text in zip(labels, texts, strict=False)}


def test_a_copied_row_is_in_doubt_as_soon_as_it_is_one(session, folder):
    fill(session, ("0101", "0102"))
    first, second, third = session.rows
    answers = type_row(session, third, COPIED)
    assert [label for label, answer in answers.items() if answer.stay][:1] == ["liquid temperature"]
    [doubt] = session.open_doubts(third)
    measured = measure_batch(read_batch(folder / "batch.toml"))
    assert (doubt.code, doubt.place) in [(w.code, w.place) for w in measured.warnings]
    assert [session.open_doubts(row) for row in (first, second)] == [[], []]
    assert [session.findings(row).elsewhere for row in session.rows] == [("0103",), ("0103",), ()]
    assert session.unsettled() == ["0103"]
    session.accept(third, "weighed again and again the same")
    assert [type(doubt) for doubt in session.findings(third).doubtful] == [Answered]
    assert session.unsettled() == []


def test_one_crucible_of_two_masses_is_asked_about_at_the_second(session):
    first, second, _ = session.rows
    type_row(session, first, ("1.4427", "0.5117", "22.8", "K1", "25.3011"))
    answers = type_row(session, second, ("1.4609", "0.5192", "22.8", "K1", "26.1024"))
    assert [label for label, answer in answers.items() if answer.stay] == ["crucible mass"]
    place = session.table.view.place(second, session.table.heading("crucible mass"))
    assert [doubt.place for doubt in session.open_doubts(second)] == [place]
    assert session.unsettled() == ["0102"]


def test_a_reading_that_puts_another_row_in_doubt_says_so(session):
    """Typed out of order, the doubt still stands at the later row of the table: the person is sent there."""
    first, second, _ = session.rows
    type_row(session, second, ("1.4609", "0.5192", "22.8", "K1", "26.1024"))
    answers = type_row(session, first, ("1.4427", "0.5117", "22.8", "K1", "25.3011"))
    assert [label for label, answer in answers.items() if answer.stay] == ["crucible mass"]
    assert answers["crucible mass"].said[0].startswith("0102: ")
    assert (session.open_doubts(first), session.unsettled()) == ([], ["0102"])


@pytest.mark.parametrize("answered", [True, False])
async def test_the_page_shows_marks_and_answers_it(answered, session):
    fill(session, ("0101", "0102"))
    page, third = EntryScreen(session, "26-031"), session.rows[2]
    async with page.run_test(size=SIZE) as pilot:
        await burst(page, pilot, *COPIED[:3])
        assert page.cell == (third, "liquid temperature")
        assert page.held is not None
        assert "coupon 0103 ? web" in screen(page, "#head")
        await pilot.press("f6")
        if answered:
            await burst(page, pilot, "weighed again, the same")
            assert [type(doubt) for doubt in session.findings(third).doubtful] == [Answered]
            assert page.held is None
        else:
            await pilot.press("escape", "pageup", "f6")
            assert (page.question, session.name(page.cell[0])) == (None, "0102")
            assert "0103" in screen(page, "#said")
