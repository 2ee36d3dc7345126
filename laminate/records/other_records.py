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
    paths = [*_beside(record), *sorted(_json_below(among) if among else ())]
    for place, path in {path.resolve(): path for path in paths}.items():
        if place == resolved:
            continue
        try:
            data = read_regular(path, MOST_TABLE)
            content = read_json(data)
        except (OSError, ValueError):
            if path.name == RECORD:
                notes.append(f"'{path}' cannot be read, so this record was not held against it")
            continue
        if isinstance(content, dict) and all(mark in content for mark in MARKS):
            seen.append(Seen(str(path), sha256(data), content))
        elif path.name == RECORD:
            notes.append(f"'{path}' is no whole record, so this record was not held against it")
    return seen, notes


def replacing(record: Path, digest: str) -> list[str]:
    """The records beside one, as `records_among` looks for them, that say they replace it.

    digest: SHA-256 of its bytes. Only files that hold it are read further: a folder may be an archive.
    """
    names: list[str] = []
    for path in _beside(record):
        try:
            data = read_regular(path, MOST_TABLE)
            content = read_json(data) if digest.encode() in data.lower() else None
        except (OSError, ValueError):
            continue
        if isinstance(content, dict) and Seen(str(path), "", content).replaces == digest:
            names.append(str(path))
    return names


def _beside(record: Path) -> Iterable[Path]:
    folder = record.resolve().parent
    return sorted({path for path in (folder / RECORD, *folder.parent.glob(f"*/{RECORD}")) if path.is_file()})


def _json_below(among: Path) -> Iterator[Path]:
    return (place / name for place, names in below(among) for name in names if name.endswith(".json"))


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
