"""The other records among which one is released."""

from __future__ import annotations

import os
from collections.abc import Iterable
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
    paths = [*beside(record), *(below(among, ".json") if among is not None else ())]
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
    for path in beside(record):
        try:
            data = read_regular(path, MOST_TABLE)
            content = read_json(data) if digest.encode() in data.lower() else None
        except (OSError, ValueError):
            continue
        if isinstance(content, dict) and Seen(str(path), "", content).replaces == digest:
            names.append(str(path))
    return names


def beside(record: Path, name: str = RECORD) -> Iterable[Path]:
    """Every file of a name, or pattern of it, in a record's own folder and in those beside it."""
    folder = record.resolve().parent
    return sorted({path for path in (*folder.glob(name), *folder.parent.glob(f"*/{name}")) if path.is_file()})


def below(among: Path, ending: str = "") -> Iterable[Path]:
    """Every file with an ending in a folder or below it. Raises Refused where there is no such folder."""
    if not among.is_dir():
        raise Refused(no_folder(among, "--among"))
    return sorted(
        Path(place, name) for place, _, names in os.walk(among) for name in names if name.endswith(ending)
    )


def no_folder(path: Path, option: str = "") -> Problem:
    """Where records were to be: nothing is there, or a file; option: what names the path, '' an argument."""
    expected = "a folder with records"
    if path.exists():
        return wrong_file(str(path), "a file, not a folder", expected)
    return missing_file(*(("", option, str(path)) if option else (str(path), "", "")), expected)
