"""Whether the page beside a record is the page of that record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from laminate.records.other_records import RECORD
from laminate.records.rules import Finding
from laminate.records.signed_beside import signed_beside
from laminate.values.canonical import sha256

PageMaker = Callable[[bytes, Sequence[Mapping[str, Any]]], bytes | None]
"""The page of a record with rows of signatures; None where another version of the program made the record."""

PAGE = "report.html"
MOST_TRIED = 8
"""Signatures that may have been there, one after the other, when the page was made."""


def compare_page(record_path: Path, data: bytes, page: PageMaker | None) -> tuple[list[Finding], list[str]]:
    """What stands against the page beside a record, and notes about it and about pages of other names.

    data: the bytes of the record; page: makes its page, None where that record cannot be relied on. A page
    beside a record of another name is its own where there is no record.json.
    """
    beside = (file for file in record_path.parent.iterdir() if file.suffix.lower() in (".html", ".htm"))
    names = [file.name for file in beside if file.is_file()]
    other = record_path.name != RECORD and record_path.with_name(RECORD).exists()
    findings: list[Finding] = []
    notes: list[str] = []
    for name in sorted(names):
        if page is None or other or name.lower() != PAGE:
            notes.append(f"{name} beside it was not compared with the record")
            continue
        differs, note = _compared(record_path, name, data, page)
        findings += differs
        notes += note
    return findings, notes


def _compared(record_path: Path, name: str, data: bytes, page: PageMaker) -> tuple[list[Finding], list[str]]:
    there = record_path.with_name(name).read_bytes()
    every = signed_beside(record_path, sha256(data))
    for rows in _as_they_came(every):
        made = page(data, rows)
        if made is None:
            other = "another version of this program made the record"
            return [], [f"{name} beside it cannot be compared with the record: {other}"]
        if made == there:
            since = len(every) - len(rows)
            later = f"; {since} of the signatures came after the page was made" if since else ""
            return [], [f"{name} beside it says what the record says{later}"]
    words = "it was changed, or made of another record; 'laminate report BATCH --out DIR' makes it again"
    return [Finding("page-differs", f"{name} beside it is not the page of this record: {words}")], []


def _as_they_came(rows: list[dict[str, str | None]]) -> Iterator[list[dict[str, str | None]]]:
    """The signatures that were there at each moment, by the times that they claim: all, none, and between."""
    yield rows
    by_time = sorted(rows, key=lambda row: row["time"] or "")
    for count in range(min(len(rows), MOST_TRIED)):
        early = by_time[:count]
        yield [row for row in rows if row in early]
