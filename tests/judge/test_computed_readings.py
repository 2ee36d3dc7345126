"""Readings that a program computed: their digits tell no step, so that one is asked for."""

import openpyxl
import pytest

from laminate.judging.reported import report
from tests.read.workbooks import saved, with_results

from .rows import rows_of

WORDS = ("specimen", "zone", "position", "lot", "operator", "method")
THICK = [f"thickness {n} [mm]" for n in (1, 2, 3)]
STATED = (
    'repeatability = "0.002 mm (standard)"',
    'repeatability = "0.002 mm (standard)"\nresolution = "0.01 mm"',
)


def workbook(shop, readings, *, formula=False):
    """The example's coupons as a workbook, each with one thickness three times; formula: as its result."""
    book, rows, results = openpyxl.Workbook(), rows_of(shop), {}
    sheet = book.active
    sheet.append([*rows[0]])
    for row, reading in zip(rows, readings, strict=True):
        numbers = dict.fromkeys(THICK, reading)
        cells = {name: text if name in WORDS else float(text) for name, text in row.items()} | numbers
        sheet.append([*cells.values()])
        for name in THICK if formula else ():
            cell = sheet.cell(sheet.max_row, [*cells].index(name) + 1, "=1*1")
            results[cell.coordinate] = str(reading)
    (shop.folder / "coupons.xlsx").write_bytes(with_results(saved(book), results))
    shop.change("batch.toml", 'coupons = ["coupons.csv"]', 'coupons = ["coupons.xlsx"]')
    shop.change("part.toml", 'min = "2.75 mm"', 'min = "2.864 mm"')


def answered(shop):
    judgement = report(shop.folder / "batch.toml").judgement
    return judgement.answer, {(held.rule, held.say.partition(":")[0]) for held in judgement.held_back}


@pytest.mark.parametrize("typed", [(2.87, 2.88, 2.89), (12.87 - 10.0, 2.880000000000001, 12.89 - 10.0)])
def test_what_a_program_subtracted_has_the_step_of_what_was_read(shop, typed):
    """Limit 2.864 mm: 2.870 ± 1.96 sqrt(0.01^2/12 + 0.002^2/3 + 0.0015^2) = 0.0067 mm reaches it."""
    workbook(shop, typed)
    assert answered(shop) == ("undecided", set())


def test_a_computed_reading_that_decides_asks_for_the_resolution(shop):
    """0.1131 in x 25.4 = 2.87274 mm, read to 0.0254 mm; no digit tells it."""
    workbook(shop, (2.87274, 2.88036, 2.88544), formula=True)
    assert answered(shop) == ("undecided", {(10, "batch.toml, [instrument.micrometer]")})
    shop.change("batch.toml", STATED[0], STATED[1].replace("0.01", "0.0254"))
    assert answered(shop) == ("undecided", set())


def test_a_reading_of_more_digits_than_an_instrument_gives_asks_for_it_too(shop):
    workbook(shop, (2.87274015748, 2.88036129412, 2.88544331791))
    assert answered(shop)[1] == {(10, "batch.toml, [instrument.micrometer]")}


def test_a_computed_reading_with_its_resolution_stated_conforms(shop):
    workbook(shop, (2.89, 2.89, 2.9), formula=True)
    shop.change("batch.toml", *STATED)
    assert answered(shop) == ("conforms", set())


def test_measure_asks_for_it_under_the_answer(shop):
    workbook(shop, (2.87, 2.88, 2.89), formula=True)
    assert '[instrument.micrometer] resolution = "0.01 mm"' in shop.run("measure", "batch.toml").out
    shop.change("batch.toml", *STATED)
    assert "[instrument.micrometer]" not in shop.run("measure", "batch.toml").out


@pytest.mark.parametrize("adds", ["=${}${}", "={}{}-10+10", "= {}{} + 0.00"])
def test_a_formula_that_adds_typed_cells_holds_nothing_back(shop, adds):
    """`=1*1` computes; `=G2` says what stands in G2, unless a formula stands there."""
    workbook(shop, (2.89, 2.89, 2.9))
    path = shop.folder / "coupons.xlsx"
    book = openpyxl.load_workbook(path)
    sheet = book.active
    first, second, _ = (cell.column_letter for cell in sheet[1] if cell.value in THICK)
    readings = [sheet[f"{second}{row}"].value for row in range(2, sheet.max_row + 1)]
    results = {f"{second}{row}": str(reading) for row, reading in enumerate(readings, 2)}
    for row in range(2, sheet.max_row + 1):
        sheet[f"{second}{row}"] = adds.format(first, row)
    path.write_bytes(with_results(saved(book), results))
    assert answered(shop) == ("conforms", set())
    sheet[f"{first}2"] = "=1*1"
    path.write_bytes(with_results(saved(book), results | {f"{first}2": "2.89"}))
    assert answered(shop) == ("undecided", {(10, "batch.toml, [instrument.micrometer]")})
