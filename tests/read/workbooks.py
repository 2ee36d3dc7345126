"""Workbooks made cell by cell, with what a spreadsheet program would store beside a formula."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

HEAD = ["specimen", "zone", "mass in air [g]", "thickness [mm]"]
ROW = ["01", "web", 1.5, 2.855]
Fill = Callable[[Worksheet], Any]


def rows(*lines: list[Any]) -> Fill:
    def fill(sheet: Worksheet) -> None:
        for line in lines:
            sheet.append(line)

    return fill


def also(*fills: Fill) -> Fill:
    def fill(sheet: Worksheet) -> None:
        for each in fills:
            each(sheet)

    return fill


def shown(cell: str, form: str) -> Fill:
    return lambda sheet: setattr(sheet[cell], "number_format", form)


def value(cell: str, content: Any) -> Fill:
    return lambda sheet: setattr(sheet[cell], "value", content)


def merge(block: str) -> Fill:
    return lambda sheet: sheet.merge_cells(block)


def workbook(fill: Fill, results: dict[str, str] | None = None) -> bytes:
    """A workbook of one sheet; results are what formulas came to, as a spreadsheet program stores it."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Coupons"
    fill(sheet)
    return with_results(saved(book), results or {})


def saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def with_results(data: bytes, results: dict[str, str]) -> bytes:
    """Put stored results (cell -> attributes and value of its XML) beside formulas."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = part.decode()
                for cell, result in results.items():
                    kind, _, stored = result.rpartition("|")
                    text, count = re.subn(
                        rf'<c r="{cell}"([^>]*)><f>(.*?)</f><v ?/?>(?:</v>)?</c>',
                        rf'<c r="{cell}"\1{kind and f" t={kind!r}"}><f>\2</f><v>{stored}</v></c>',
                        text,
                    )
                    assert count == 1, (cell, text)
                part = text.encode()
            new.writestr(name, part)
    return stream.getvalue()
