"""The other records among which one is released."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from laminate.records.contradictions import Seen
from laminate.values.canonical import read_json, sha256
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, Refused, missing_file, wrong_file

RECORD = "record.json"
MARKS = ("answer", "batch", "inputs")


def records_among(record: Path, among: Path | None) -> tuple[list[Seen], list[str]]:
    """The other records, and in words which of them could not be read.

    Those are `record.json` in the record's own folder and in those beside it, and every record in the folder
    `among` or below it: naming a folder leaves none of the others out. Raises Refused where there is none.
    """
    seen: list[Seen] = []
    notes: list[str] = []
    resolved = record.resolve()
    inside = (place / name for place, names in (below(among) if among else ()) for name in names)
    paths = [*_beside(record), *sorted(path for path in inside if path.name.endswith(".json"))]
    for place, path in {path.resolve(): path for path in paths}.items():
        if place == resolved:
            continue
        other = read_seen(path, str(path))
        if other is not None and all(mark in other.content for mark in MARKS):
            seen.append(other)
        elif path.name == RECORD:
            fault = "cannot be read" if other is None else "is no whole record"
            notes.append(f"'{path}' {fault}, so this record was not held against it")
    return seen, notes


def read_seen(path: Path, name: str, holding: bytes = b"") -> Seen | None:
    """A file as a record of a name, without content where it is no table; None where it cannot be read.

    holding: what it must hold, in any case, to be read further.
    """
    try:
        data = read_regular(path, MOST_TABLE)
        content = read_json(data) if holding in data.lower() else None
    except (OSError, ValueError):
        return None
    return Seen(name, sha256(data), content if isinstance(content, dict) else {})


def replacing(record: Path, digest: str) -> list[str]:
    """The records beside one, as `records_among` looks for them, that say they replace it.

    digest: SHA-256 of its bytes. Only files that hold it are read further: a folder may be an archive.
    """
    beside = (read_seen(path, str(path), digest.encode()) for path in _beside(record))
    return [other.file for other in beside if other is not None and other.replaces == digest]


def _beside(record: Path) -> Iterable[Path]:
    folder = record.resolve().parent
    return sorted({path for path in (folder / RECORD, *folder.parent.glob(f"*/{RECORD}")) if path.is_file()})


def below(among: Path) -> Iterator[tuple[Path, list[str]]]:
    """A folder and all below it, each with its files. Raises Refused where there is no folder."""
    if not among.is_dir():
        raise Refused(no_folder(among, "--among"))
    return ((Path(place), names) for place, _, names in os.walk(among))


def no_folder(path: Path, option: str = "") -> Problem:
    """Where records were to be: nothing is there, or a file; option: what names the path, '' an argument."""
    expected = "a folder with records"
    if path.exists():
        return wrong_file(str(path), "a file, not a folder", expected)
    return missing_file(*(("", option, str(path)) if option else (str(path), "", "")), expected)
