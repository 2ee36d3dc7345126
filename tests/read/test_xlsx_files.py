"""Workbooks as files: several sheets, other kinds of file, damage."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.messages.wording import Catalog, worded

from .conftest import Read
from .workbooks import HEAD, ROW, rows, saved, workbook


def test_every_sheet_with_a_header_is_a_table(read: Read) -> None:
    book = openpyxl.Workbook()
    fills = {
        "Read me first": (rows(["specimen: the name", "zone: where"]), "visible"),
        "Immersion": (rows(HEAD, ROW), "visible"),
        "Thickness": (rows(["specimen", "thickness 1 [mm]"], ["01", 2.8]), "visible"),
        "Old": (rows(HEAD, ROW), "hidden"),
        "Lists": (rows(["web"], ["skin"]), "veryHidden"),
        "Areal": (rows(["specimen", "area [cm^2]"]), "visible"),
        "Empty": (rows(), "visible"),
        "Notes": (rows(["cut on Monday"]), "visible"),
    }
    for title, (fill, state) in fills.items():
        sheet = book.create_sheet(title)
        fill(sheet)
        sheet.sheet_state = state
    book.remove(book.worksheets[0])
    tables, problems = read(saved(book), "coupons.xlsx")
    assert problems == []
    assert [table.sheet for table in tables] == ["Immersion", "Thickness", "Old"]
    assert tables[1].place(tables[1].rows[0], tables[1].headings[1]) == "Thickness!B2"
    assert tables[0].notes == (
        "sheet 'Old' (hidden) is read",
        worded("read: a sheet left out, 1"),
        worded("read: a sheet left out, 2"),
        worded("read: a sheet left out, 3"),
    )
    assert tables[1].notes == tables[2].notes == ()


def packed(**parts: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("__", "/").replace("_", "."), content)
    return stream.getvalue()


COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64)

NO_WORKBOOKS: dict[str, tuple[str, bytes]] = {
    "password": ("coupons.xlsx", COMPOUND + "EncryptedPackage".encode("utf-16-le")),
    "old kind": ("coupons.xls", COMPOUND),
    "open document": ("coupons.ods", packed(mimetype="application/vnd.oasis.opendocument.spreadsheet")),
    "binary workbook": ("coupons.xlsb", packed(xl__workbook_bin="")),
    "other zip": ("coupons.xlsx", packed(a_txt="")),
    "cut short": ("coupons.xlsx", workbook(rows(HEAD, ROW))[:2000]),
    "text under that name": ("coupons.xlsx", b"specimen,zone\n01,web\n"),
}


@pytest.mark.parametrize("case", NO_WORKBOOKS)
def test_what_is_no_workbook_is_refused(case: str, read: Read, wording: Catalog) -> None:
    name, data = NO_WORKBOOKS[case]
    tables, problems = read(data, name)
    assert tables == []
    wording.hold_problems(f"no workbook: {case}", problems)


def test_a_broken_sheet_is_refused(read: Read, wording: Catalog) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook(rows(HEAD, ROW)))) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name)[: 200 if "sheet1" in name else None])
    tables, problems = read(stream.getvalue(), "coupons.xlsx")
    assert tables == []
    wording.hold_problems("no workbook: a broken sheet", problems)


def test_a_workbook_is_known_by_its_content(read: Read) -> None:
    (table,), problems = read(workbook(rows(HEAD, ROW)), "coupons.csv")
    assert problems == []
    assert table.sheet == "Coupons"


@pytest.mark.parametrize(("field", "value"), [(8, 1), (10, 99)], ids=["encrypted", "packed unknown"])
def test_a_part_that_cannot_be_unpacked_is_a_finding(field: int, value: int, read: Read) -> None:
    """General purpose bit 0, and the compression method, in every entry of the zip directory."""
    data = bytearray(workbook(rows(HEAD, ROW)))
    at = data.find(b"PK\x01\x02")
    while at >= 0:
        data[at + field] = value
        at = data.find(b"PK\x01\x02", at + 4)
    tables, problems = read(bytes(data), "coupons.xlsx")
    assert not tables
    assert problems


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    deadline=None,
    max_examples=60,
)
@given(at=st.integers(0, 10**6), damage=st.binary(min_size=1, max_size=4))
def test_a_damaged_workbook_is_a_table_or_a_finding(at: int, damage: bytes, read: Read) -> None:
    data = workbook(rows(HEAD, ROW))
    at %= len(data)
    tables, problems = read(data[:at] + damage + data[at + len(damage) :], "coupons.xlsx")
    assert tables or problems
