"""Whether the page beside a record is the page of that record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from laminate.records.differences import Rejudged
from laminate.records.other_records import RECORD
from laminate.records.rules import Finding
from laminate.records.signed_beside import signed_beside
from laminate.values.canonical import sha256

PageMaker = Callable[[bytes, Sequence[Mapping[str, Any]]], bytes]
"""The page of a record with rows of signatures."""

PAGE = "report.html"
_DIFFERS = (
    "is not the page of this record: it was changed, or made of another record; 'laminate report BATCH --out "
    "DIR' makes it again"
)
_UNKNOWN = (
    "is not the page that this version of the program makes of the record, and may say anything; 'laminate "
    "extract RECORD DIR' and 'laminate report DIR/batch.toml' show what the record says"
)
MOST_TRIED = 8
"""Signatures that may have been there, one after the other, when the page was made."""


def compare_page(
    record_path: Path, data: bytes, page: PageMaker | None, again: Rejudged
) -> tuple[list[Finding], list[str], str]:
    """What stands against a record judged again and the page beside it, notes about that page and those of
    other names, and the name of a page that another version of the program may have made so.

    data: the bytes of the record; page: makes its page, None where that cannot be; again: how it was judged
    again. A page beside a record of another name is its own where there is no record.json.
    """
    beside = (file for file in record_path.parent.iterdir() if file.suffix.lower() in (".html", ".htm"))
    names = [file.name for file in beside if file.is_file()]
    other = record_path.name != RECORD and record_path.with_name(RECORD).exists()
    findings = [Finding("recomputed-differs", words) for words in again.findings]
    notes, unknown = list[str](), ""
    for name in sorted(names):
        if page is None or not again.sound or other or name.lower() != PAGE:
            notes.append(f"{name} beside it was not compared with the record")
        elif note := _same(record_path, name, data, page):
            notes.append(note)
        elif again.foreign:
            unknown = name
            notes.append(f"{name} beside it {_UNKNOWN}")
        else:
            findings.append(Finding("page-differs", f"{name} beside it {_DIFFERS}"))
    return findings, notes, unknown


def _same(record_path: Path, name: str, data: bytes, page: PageMaker) -> str:
    """That a page is the one of the record, in words; '' where it is not."""
    there = record_path.with_name(name).read_bytes()
    every = signed_beside(record_path, sha256(data))
    for rows in _as_they_came(every):
        if page(data, rows) == there:
            since = len(every) - len(rows)
            later = f"; {since} of the signatures came after the page was made" if since else ""
            return f"{name} beside it says what the record says{later}"
    return ""


def is_of_signed(path: Path) -> bool:
    """Whether a page would be the one beside a record that somebody signed."""
    path = path.resolve()
    return path.name.lower() == PAGE and path.parent.is_dir() and any(path.parent.glob("*.statement"))


def _as_they_came(rows: list[dict[str, str | None]]) -> Iterator[list[dict[str, str | None]]]:
    """The signatures that were there at each moment, by the times that they claim: all, none, and between."""
    yield rows
    by_time = sorted(rows, key=lambda row: row["time"] or "")
    for count in range(min(len(rows), MOST_TRIED)):
        yield [row for row in rows if row in by_time[:count]]
