"""What a workbook says beside its numbers is asked about: lines through cells, comments, names made dates."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font

from tests.messages.wording import says


@pytest.fixture
def book(shop):
    """The example's table as a workbook; what is done to its sheet is measured."""
    made = openpyxl.Workbook()
    for line in shop.read("coupons.csv").splitlines():
        made.active.append([_cell(text) for text in line.split(",")])
    shop.change("batch.toml", '"coupons.csv"', '"coupons.xlsx"')
    made.shop = shop
    return made


def _cell(text: str) -> str | float:
    try:
        return float(text) if "." in text else text
    except ValueError:
        return text


def asked(book, *status):
    book.save(Path(book.shop.folder) / "coupons.xlsx")
    return book.shop.json("measure", "batch.toml", status=status or (0,))["warnings"]


def column(book, name: str) -> int:
    return next(cell.column for cell in book.active[1] if str(cell.value).startswith(name))


def test_the_example_as_a_workbook_is_not_asked_about(book):
    assert asked(book) == []


def test_a_row_crossed_out_is_one_question(book):
    for cell in book.active[3]:
        cell.font = Font(strike=True)
    (warning,) = asked(book)
    assert (warning["code"], warning["place"]) == ("struck-through", "Sheet!A3")


def test_a_reading_crossed_out(book):
    cell = book.active.cell(3, column(book, "residue mass"))
    cell.font = Font(strike=True)
    (warning,) = asked(book)
    assert (warning["code"], warning["place"]) == ("struck-through", f"Sheet!{cell.coordinate}")
    assert str(cell.value) in warning["found"]


def test_a_comment_on_a_reading_holds_the_batch_back_until_it_is_answered(book):
    cell = book.active.cell(2, column(book, "mass in air"))
    cell.comment = Comment("pan touched\nthe shield", "JM")
    (warning,) = asked(book)
    assert (warning["code"], warning["place"]) == ("cell-comment", f"Sheet!{cell.coordinate}")
    assert says("mistakes: a comment on a reading holds the batch", warning["found"])
    held = book.shop.json("report", "batch.toml", status=[0, 1])["held_back"]
    assert [one["rule"] for one in held if cell.coordinate in one["what"]] == [2]
    book.active.cell(1, book.active.max_column + 1).value = "accepted"
    book.active.cell(2, book.active.max_column).value = "mass in air: weighed again, the same"
    (warning,) = asked(book)
    assert warning["accepted"] == "weighed again, the same"


def test_a_comment_on_the_heading_explains_and_is_not_asked_about(book):
    book.active["A1"].comment = Comment("the name on its bag", "JM")
    assert asked(book) == []


def test_a_name_that_became_a_date(book):
    book.active["A2"].value = dt.datetime(2026, 3, 1)
    (warning,) = asked(book)
    assert (warning["code"], warning["place"]) == ("name-made-date", "Sheet!A2")


def test_a_name_that_became_a_time(book):
    book.active["A2"].value = dt.time(1, 1)
    (warning,) = asked(book)
    assert (warning["code"], warning["place"]) == ("name-made-date", "Sheet!A2")
    assert says("mistakes: a name that became a time", warning["found"])


@pytest.mark.parametrize(
    ("value", "form", "name"),
    [(1, '"F-"0', "F-1"), (1, '"F-"0.0', None), (20261120000012345, "0", None), (1e15 + 3, "General", None)],
)
def test_a_name_that_a_number_format_shows(value, form, name, book):
    """Two pieces, F-1 and G-1, were one coupon 1; of a long number the last digits are lost."""
    cell = book.active["A2"]
    cell.value, cell.number_format = value, form
    warnings = asked(book)
    assert [(w["code"], w["place"]) for w in warnings] == [("name-made-date", "Sheet!A2")] * (name is None)
    if name:
        names = [s["specimen"] for s in book.shop.json("measure", "batch.toml")["specimens"]]
        assert name in names


@pytest.mark.parametrize(
    "form",
    [
        "0.000[$ in]", "0.000 in", "0.000″", '"in "0.000', '0.000" Zoll"', "0.000[$ in-409]",
        '"2"0.000', '"2."000', "0.000,", '0.000"e-3 m"',
    ],
)  # fmt: skip
def test_a_thickness_that_its_number_format_shows_otherwise(form, book):
    cell = book.active.cell(2, column(book, "thickness 2"))
    cell.number_format = form
    book.save(Path(book.shop.folder) / "coupons.xlsx")
    (problem,) = book.shop.json("measure", "batch.toml", status=(2,))["problems"]
    assert (problem["code"], problem["place"]) == ("unit-in-format", f"Sheet!{cell.coordinate}")


@pytest.mark.parametrize(
    "form",
    ["0.000", "#,##0.000", '0.000" mm"', "0.000[$ mm]", "0.000 [$€-407]", "0.000_);(0.000)", '0.000" (a)"'],
)
def test_an_ordinary_number_format_is_not_asked_about(form, book):
    book.active.cell(2, column(book, "thickness 2")).number_format = form
    assert asked(book) == []


def made_date(cell):
    cell.value = dt.datetime(2026, 3, 1)


def struck(cell):
    cell.font = Font(strike=True)


def emptied(cell):
    cell.value = None


@pytest.mark.parametrize(
    ("heading", "change", "case"),
    [
        ("specimen", made_date, "mistakes: a name is written again"),
        ("specimen", struck, "mistakes: a name without its line"),
        ("method", emptied, "mistakes: a method is written"),
    ],
)
def test_what_no_measuring_mends_is_written(heading, change, case, book):
    change(book.active.cell(2, column(book, heading)))
    asked(book)  # saves the book
    held = book.shop.json("report", "batch.toml", status=[0, 1])["held_back"]
    (doubt,) = [one for one in held if one["rule"] == 2]
    assert says(case, doubt["say"])
    assert not says("mistakes: a reading is measured again", doubt["say"])


@pytest.mark.parametrize(
    ("name", "is_asked"),
    [
        ("01-Mar", True), ("1. Mrz", True), ("Mar-26", True), ("2026-03-01", True), ("01.03.2026", True),
        ("01:01:00", True), ("1:01 PM", True), ("2.02611E+13", True), ("1.00E+02", True), ("1E2", False),
        ("3-1", False), ("5-MAST", False), ("1.2.26", False), ("4-NOVA", False), ("26-031", False),
        ("01.03.26", True), ("03/01/26", True), ("22-08-26", True), ("25.30.26", False), ("01.02.03", False),
    ],
)  # fmt: skip
def test_a_name_in_text_that_looks_like_a_date(name, is_asked, shop):
    shop.table("specimen,zone,thickness [mm]", f"{name},web,2.868")
    told = shop.json("measure", "batch.toml")["warnings"]
    assert [w["code"] for w in told] == ["name-made-date"] * is_asked


@pytest.mark.parametrize(
    ("names", "are_asked"),
    [
        (["01.03.25", "01.03.26"], False), (["26-12-39", "26-12-51", "26-12-52"], False),
        (["26-11-21", "26-12-21", "26-13-21"], False), (["01.03.26", "02.03.26", "A7"], True),
    ],
)  # fmt: skip
def test_numbers_of_three_parts_that_count_up_are_no_dates(names, are_asked, shop):
    shop.table("specimen,zone,thickness [mm]", *(f"{name},web,2.868" for name in names))
    told = shop.json("measure", "batch.toml")["warnings"]
    assert [one["code"] for one in told] == ["name-made-date"] * 2 * are_asked


def test_a_blank_is_asked_about_as_a_specimen_is(shop):
    shop.table("specimen,kind,density [g/cm^3],mass in air [g],mass in liquid [g],liquid temperature [degC]",
               "01-Mar,check standard,2.3290,2.5000,1.4302,23")  # fmt: skip
    assert [w["code"] for w in shop.json("measure", "batch.toml")["warnings"]] == ["name-made-date"]


@pytest.mark.parametrize("name", ["\u200bA", "A\u200d", "A\xad", "A\xa0x", "A\x07"])
def test_a_name_with_a_character_that_nobody_sees_is_refused(name, shop):
    shop.table("specimen,zone,thickness [mm]", "A,web,2.868", f"{name},web,2.870")
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("wrong-word", "row 3, column 'specimen'")
    assert not set(shop.run("measure", "batch.toml").err) & set("\u200b\u200d\xad\xa0\x07")
