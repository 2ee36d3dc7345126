"""The page itself, driven by its keys: everything with the keyboard, in the order in which the keys came."""

import os

import pytest
from textual import events

from laminate.bench.table import BenchTable
from laminate.cli.bench.line import InputLine
from laminate.cli.bench.page import EntryScreen
from laminate.cli.bench.words import HELP, REPLY, TYPE
from laminate.values.durable import replace_file
from tests.messages.wording import says

from .conftest import READINGS

SIZE = (80, 24)


def typed(*texts):
    """The keys that type each text and Enter."""
    return [key for text in texts for key in (*_keys(text), "enter")]


def _keys(text):
    return [{" ": "space", ".": "full_stop", "-": "minus", ",": "comma"}.get(sign, sign) for sign in text]


async def burst(page, pilot, *texts):
    """Every key at once, none waiting for the one before to be answered."""
    for text in texts:
        for sign in f"{text}\r":
            page.query_one(InputLine).post_message(events.Key({"\r": "enter"}.get(sign, sign), sign))
    await pilot.pause()


def screen(page, part):
    return str(page.query_one(part).render())


@pytest.fixture
def page(session):
    return EntryScreen(session, "26-031  MAST-04 B")


async def test_a_batch_is_typed_as_a_balance_would(page, session):
    async with page.run_test(size=SIZE) as pilot:
        for readings in READINGS.values():
            await burst(page, pilot, *readings)
        assert session.left() == 0
        assert says("bench: a batch is typed as a balance would", screen(page, "#said"))
        assert says("bench: a batch is typed as a balance would, 2", screen(page, "#head"))
    table = BenchTable(session.table.path)
    words = ("zone", "position", "kind", "lot", "method", "remark", "replaces")
    labels = [label for label in session.labels if label not in words]
    assert [tuple(table.text(row, label) for label in labels) for row in session.rows] == [*READINGS.values()]


async def test_derived_values_appear_at_once(page):
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press(*typed(*READINGS["0101"][:3]))
        assert "density" in screen(page, "#derived")
        assert "1.54524 ± 0.00043 g/cm³" in screen(page, "#derived")
        assert "± covers 95 %" in screen(page, "#derived")
        assert "fiber volume" not in screen(page, "#derived")
        page.cell = (page.cell[0], "liquid temperature")
        await pilot.press(*typed("73.0 F", "as read"))
        assert "73.0 F is 22.78 °C" in screen(page, "#said")
        await burst(page, pilot, *READINGS["0101"][3:])
        assert "coupon 0102" in screen(page, "#head")
        said = screen(page, "#said")
        assert "0101: density" in said
        assert "fiber volume 58.74 ± 0.31 %" in said
        assert "void content" in " ".join(said.split())


async def test_a_burst_of_keys_keeps_its_order(page, session):
    """Balances send a reading and Enter in one instant; digits must not run into the next cell."""
    async with page.run_test(size=SIZE) as pilot:
        await burst(page, pilot, *READINGS["0101"][:3])
        labels = ("mass in air", "mass in liquid", "liquid temperature")
        assert [session.table.text(session.rows[0], label) for label in labels] == [
            "1.4427",
            "0.5117",
            "22.8",
        ]


@pytest.mark.parametrize("end", ["enter", "tab", "ctrl+j"])
async def test_whatever_ends_an_entry(page, session, end):
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press(*_keys("1.4427"), end, *(["ctrl+j"] if end == "enter" else []))
        assert session.table.text(session.rows[0], "mass in air") == "1.4427"
        assert page.cell == (session.rows[0], "mass in liquid")


async def test_pasted_lines_are_entries(page, session):
    async with page.run_test(size=SIZE) as pilot:
        page.query_one(InputLine).post_message(events.Paste("1.4427\r\n0.5117\n22"))
        await pilot.pause()
        assert session.table.text(session.rows[0], "mass in liquid") == "0.5117"
        assert page.query_one(InputLine).value == "22"


async def test_mistakes_are_said_and_mended(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press(*typed("1.44x"))
        assert "Not kept" in screen(page, "#said")
        assert session.table.text(row, "mass in air") == ""
        await pilot.press(*typed("0.5117", "1.4427"))
        said = " ".join(screen(page, "#said").split())
        assert says("bench: what no specimen can have is not kept", said)
        assert page.cell == (row, "mass in liquid")
        await pilot.press("up", *typed("1.4427", "swapped"))
        assert page.cell == (row, "mass in liquid")
        await pilot.press(*typed("511.7 mg"))
        assert "511.7 mg is 0.5117 g" in screen(page, "#said")
        assert session.table.text(row, "mass in liquid") == "0.5117"
        await pilot.press("f9")
        assert "Taken back: mass in liquid of 0101." in screen(page, "#said")
        assert page.cell == (row, "mass in liquid")
        await pilot.press(*typed("0.5117"), "up", "delete", *typed("slipped"))
        assert session.table.text(row, "mass in liquid") == ""


async def test_long_findings_are_shown_whole(page, session):
    """The line below grows with what is to be said; the cells keep at least six lines."""
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    session.type(row, "crucible mass", "20.1000")
    async with page.run_test(size=SIZE) as pilot:
        session.type(row, "crucible with specimen", "22.5425")
        page.show()
        await pilot.pause()
        said = screen(page, "#said").splitlines()
        assert len(said) > 4
        assert max(map(len, said)) < 80
        text = " ".join(" ".join(said).split())
        assert says("bench: long findings are shown whole", text)
        assert "begun with" not in text
        assert page.query_one("#said").size.height == len(said)
        assert page.query_one("#cells").size.height == 24 - 6 - len(said)
        assert ">" in screen(page, "#cells")


async def test_a_new_specimen_that_is_there_already_is_told(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f2", *typed("0103"))
        assert says("bench: a new specimen that is there already", screen(page, "#said"))
        assert page.cell[0] == session.rows[2]
        assert len(session.rows) == 3
        await pilot.press("f2", *typed("0104"))
        assert not says("bench: a new specimen that is there already", screen(page, "#said"))
        assert session.name(page.cell[0]) == "0104"
        assert not says("bench: two names of one coupon", screen(page, "#said"))


async def test_a_name_that_is_read_as_another_is_asked_about(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f3", *typed("102"))
        assert says("bench: a coupon of a name alike", screen(page, "#said"))
        await pilot.press("f2", *typed("102"))
        assert session.name(page.cell[0]) == "102"
        assert says("bench: two names of one coupon", " ".join(screen(page, "#said").split()))
        await pilot.press("f9")
        assert [session.name(row) for row in session.rows] == ["0101", "0102", "0103"]
        await pilot.press("f3", *typed("0199"))
        assert "?" not in screen(page, "#said")


@pytest.mark.parametrize("name", ["mean", "Max.", "Signed: JM"])
async def test_a_name_that_reads_as_no_coupon_is_not_added(name, page, session):
    """Its row would be left out, and the next reading would go to another coupon."""
    before, cell = session.table.data, page.cell
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f2")
        await burst(page, pilot, name)
        said = " ".join(screen(page, "#said").split())
        assert says("bench: a name that reads as no coupon", said, name=name)
    assert (session.table.data, page.cell) == (before, cell)


async def test_a_doubt_holds_until_it_is_answered(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press(*typed("1.4427", "0.3817", "22.8"))
        assert page.cell == (row, "liquid temperature")
        assert "Saved, please check" in screen(page, "#said")
        assert "?" in screen(page, "#cells")
        await pilot.press("f6")
        assert "Reason" in screen(page, "#said")
        await pilot.press(*typed("weighed twice"))
        assert session.table.text(row, "accepted") == "mass in air 1.4427: weighed twice"
        assert page.cell == (row, "crucible")
        await pilot.press("f7", *typed("dropped"))
        assert session.table.text(row, "excluded") == "dropped"
        assert "(excluded)" in screen(page, "#head")
        await pilot.press("f7")
        assert session.table.text(row, "excluded") == ""


async def test_the_other_keys(page, session):
    rows = session.rows
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("f1")
        assert "another row" in screen(page, "#cells")
        await pilot.press("f1", "pagedown")
        assert page.cell == (rows[1], "mass in air")
        await pilot.press("pageup", "pageup", "f4")
        assert page.cell == (rows[0], "mass in air 2")
        assert "mass in air 2" in screen(page, "#cells")
        await pilot.press("f4")
        assert page.cell == (rows[0], "mass in air")
        assert says("bench: one more reading where a cell is empty", screen(page, "#said"))
        await pilot.press("f2", *typed("0012"))
        assert session.name(page.cell[0]) == "0012"
        await pilot.press("f3", *typed("0103"))
        assert page.cell[0] == rows[2]
        await pilot.press("f3", *typed("9"))
        assert "No coupon '9'" in screen(page, "#said")
        await pilot.press("f5", "down")
        assert session.name(page.cell[0]) == "0012"
        await pilot.press("f8", *typed("KL"), *typed("1.5"))
        assert session.table.text(session.rows[3], "operator") == "KL"
        await pilot.press("f2", "escape")
        assert page.question is None
        await pilot.press("f10")
    assert page.return_value is None


async def test_who_measures_is_asked_where_it_is_not_said(page, session):
    session.operator = ""
    page = EntryScreen(session, "26-031")
    async with page.run_test(size=SIZE) as pilot:
        assert "Who measures?" in screen(page, "#said")
        await pilot.press("escape", *typed("JM"), *typed("1.4427"))
        assert session.table.text(session.rows[0], "operator") == "JM"
        assert session.table.text(session.rows[0], "mass in air") == "1.4427"


async def test_a_full_disk_is_said_and_the_reading_can_be_typed_again(page, session, monkeypatch):
    def full(*_):
        raise OSError(28, os.strerror(28))

    async with page.run_test(size=SIZE) as pilot:
        with monkeypatch.context() as patched:
            patched.setattr(os, "fsync", full)
            await pilot.press(*typed("1.4427"))
        assert says("bench: a full disk is said and the reading", screen(page, "#said"))
        assert page.failure is not None
        assert page.cell == (session.rows[0], "mass in air")
        await pilot.press(*typed("1.4427"))
        assert page.failure is None
        assert session.table.text(session.rows[0], "mass in air") == "1.4427"


async def test_a_table_changed_outside_is_said(page, session):
    async with page.run_test(size=SIZE) as pilot:
        replace_file(session.table.path, session.table.data.replace(b"0103", b"0133"))
        await pilot.press(*typed("1.4427"))
        assert says("bench: what another program wrote", screen(page, "#said"))
        await pilot.press(*typed("1.4427"))
        assert session.table.text(session.rows[0], "mass in air") == "1.4427"
        assert session.name(session.rows[2]) == "0133"


@pytest.mark.parametrize("size", [(80, 24), (60, 16), (200, 60)])
async def test_it_fits_the_terminal(page, size):
    async with page.run_test(size=size) as pilot:
        await pilot.press(*typed("1.4427"))
        for part in ("#head", "#cells", "#said", "#entry", "#next"):
            region = page.query_one(part).region
            assert region.height > 0
            assert region.bottom <= size[1]
        assert ">" in screen(page, "#cells")


async def until_a_doubt(page, pilot):
    """The readings of 0101 up to thickness 1, then a slip of one digit."""
    await burst(page, pilot, *READINGS["0101"][:8], "3.871")
    assert page.cell == (page.session.rows[0], "thickness 2")
    assert "Saved, please check" in screen(page, "#said")


async def test_after_a_doubt_nothing_typed_blind_replaces_the_reading(page, session):
    """Further readings, equal ones too, are not taken; each is told."""
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        before = session.table.data
        for texts in (("2.872",), ("2.872",), ("3.871",), ("2.868", "2.868", "2.868")):
            await burst(page, pilot, *texts)
            assert page.cell == (row, "thickness 2")
            assert session.table.data == before
        said = " ".join(screen(page, "#said").split())
        assert "NOT RECORDED: 2.872, 2.872, 3.871, 2.868, 2.868, 2.868. thickness 2 holds 3.871." in said
        assert says("bench: after a doubt nothing typed blind", said)
        await pilot.press("escape", *typed("2.868"), "f1", "f1", "f5", "f5", *typed("2.868"))
        assert session.table.data == before


async def test_enter_alone_goes_on_and_the_doubt_stays_open(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await pilot.press("enter")
        assert page.cell == (row, "thickness 3")
        assert session.open_doubts(row)
        await pilot.press(*typed("2.872"))
        assert [session.table.text(row, f"thickness {n}") for n in (1, 2, 3)] == ["2.873", "3.871", "2.872"]


async def test_a_doubtful_reading_is_emptied_and_measured_again(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await pilot.press("delete", *typed("read wrongly"), *typed("2.871"))
        assert session.table.text(row, "thickness 2") == "2.871"
        assert page.cell == (row, "thickness 3")


async def test_a_balance_that_ends_with_two_signs_answers_no_doubt(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await burst(page, pilot, *READINGS["0101"][:8])
        for ends in (("enter", "ctrl+j"), ("ctrl+j", "enter")):
            await pilot.press(*_keys("3.871"), *ends)
            assert page.cell == (session.rows[0], "thickness 2")
            assert session.table.text(*page.cell) == "3.871"
        page.query_one(InputLine).post_message(events.Paste("\r\n\r\n"))
        await pilot.pause()
        assert page.cell == (session.rows[0], "thickness 2")
        await pilot.press("enter")
        assert page.cell == (session.rows[0], "thickness 3")


async def test_arrows_leave_a_doubt_and_come_back_to_mend_it(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await pilot.press("down", "up", *typed("2.871", "read wrongly"))
        assert session.table.text(row, "thickness 2") == "2.871"


async def test_a_reason_marks_the_doubt_as_answered_and_taking_it_back_returns(page, session):
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await pilot.press("f6", *typed("2.872 mm"))
        assert says("bench: a reason marks the doubt as answered", screen(page, "#said"))
        await pilot.press(*typed("on a ridge"))
        while session.open_doubts(row):
            await pilot.press("f6", *typed("on a ridge"))
        assert page.cell == (row, "thickness 3")
        (line,) = [line for line in screen(page, "#cells").splitlines() if "thickness 2" in line]
        assert line.startswith(" r thickness 2")
        await pilot.press("f9")
        assert page.cell == (row, "thickness 2")
        assert session.open_doubts(row)
        before = session.table.data
        await pilot.press(*typed("2.868"))
        assert session.table.data == before
        await pilot.press("f7", *typed("dropped"))
        assert page.cell == (session.rows[1], "mass in air")
        await pilot.press("f9")
        assert page.cell == (row, "thickness 2")


async def test_at_the_end_open_doubts_are_named_and_nothing_is_replaced(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await until_a_doubt(page, pilot)
        await burst(page, pilot, "")
        for text in (READINGS["0101"][9], *READINGS["0102"], *READINGS["0103"]):
            await burst(page, pilot, text)
            if "Saved, please check" in screen(page, "#said"):
                await pilot.press("enter")
        said = " ".join(screen(page, "#said").split())
        assert session.left() == 0
        assert not says("bench: a batch is typed as a balance would", said)
        assert says("bench: what is still open", said, cells=", ".join(session.unsettled()))
        assert "0101" in session.unsettled()
        before = session.table.data
        await burst(page, pilot, "2.999", "2.999")
        assert session.table.data == before
        assert "NOT RECORDED: 2.999, 2.999. thickness 3 holds 2.866." in screen(page, "#said")


async def test_one_cell_to_go(page, session):
    async with page.run_test(size=SIZE) as pilot:
        for row in session.rows:
            wanted = [label for label in session.labels if session.wanted(row, label)]
            for label, text in zip(wanted, READINGS[session.name(row)], strict=True):
                session.type(row, label, text)
        session.empty(session.rows[0], "thickness 3", "slipped")
        page.show()
        await pilot.pause()
        assert says("bench: one cell to go", screen(page, "#head"))


async def test_words_are_not_repeated(page, session):
    async with page.run_test(size=SIZE) as pilot:
        await pilot.press("up", "up", "up", "up", "up", "up", "f4")
        assert page.cell == (session.rows[0], "zone")
        assert says("bench: words are not repeated", screen(page, "#said"))
        assert "zone 2" not in session.table.labels
        assert page.failure is None


async def test_long_numbers_are_whole_or_end_in_an_ellipsis(page, session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.442700000")
    session.table.keep({(row, "liquid temperature"): "22.777777777777777", (row, "remark"): "x" * 60})
    async with page.run_test(size=SIZE):
        lines = screen(page, "#cells").splitlines()
        assert any("mass in air" in line and " 1.442700000 g" in line for line in lines)
        assert any(" 22.7777777777… degC" in line for line in lines)
        assert max(map(len, lines)) <= 44


def test_every_line_of_the_help_fits_80_columns():
    assert max(map(len, HELP.splitlines())) < 60
    assert max(map(len, [TYPE, REPLY])) <= 60
    assert len(HELP.splitlines()) <= 14


async def test_a_reason_is_of_the_cell_that_it_was_asked_about(page, session):
    """One more reading is begun while the question is open: the answer still goes where it was asked."""
    row = session.rows[0]
    async with page.run_test(size=SIZE) as pilot:
        await burst(page, pilot, *READINGS["0101"])
        page.cell, page.held = (row, "thickness 2"), None
        await pilot.press(*typed("2.870"), "f4", *typed("misread"))
        assert [session.table.text(row, f"thickness {n}") for n in (2, 4)] == ["2.870", ""]
        page.cell, page.held = (row, "thickness 3"), None
        await pilot.press("delete", "f4", *typed("slipped"))
        assert [session.table.text(row, f"thickness {n}") for n in (2, 3, 4)] == ["2.870", "", ""]
