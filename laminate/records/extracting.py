"""The files inside a record, written out again, so that the batch can be looked at and judged anew."""

from __future__ import annotations

import contextlib
import os
import posixpath
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from laminate.records.inputs import Embedded, parent_levels
from laminate.values.canonical import sha256
from laminate.values.durable import draft_beside, put, sync_folder
from laminate.values.problems import Refused, disk_words, refusal


@dataclass(frozen=True, slots=True)
class Extracted:
    """What was written: the batch file, and each file with its role and SHA-256."""

    batch: Path
    files: tuple[tuple[Path, str, str], ...]


def extract(files: Sequence[Embedded], folder: Path) -> Extracted:
    """Write embedded files into a new or empty folder, nothing outside it: all of them or none.

    The folders that their names climb are made inside it. Raises Refused.
    """

    def refuse(code: str, found: str, expected: str) -> Refused:
        return refusal(code, str(folder), "", found, expected, "nothing was written")

    new = not os.path.lexists(folder)
    if not new and (folder.is_symlink() or not folder.is_dir() or any(folder.iterdir())):
        obstacle = "a folder with something in it" if folder.is_dir() else "something that is no folder"
        raise refuse("folder-not-empty", obstacle, "a new or an empty folder")
    names = {part for file in files for part in file.name.split("/")}
    inner = "in"
    while inner in names:
        inner += "n"
    below = [inner] * max(parent_levels(file.name) for file in files)
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        draft = draft_beside(folder / "any")
        made.append(draft)
        draft.mkdir()
        placed = {file.name: _write(draft, posixpath.join(*below, file.name), file.data) for file in files}
        for entry in sorted(draft.iterdir()):
            made.append(folder / entry.name)
            os.rename(entry, folder / entry.name)
        draft.rmdir()
        sync_folder(folder)
    except OSError as error:
        for path in made:
            shutil.rmtree(path, ignore_errors=True) if path.is_dir() else path.unlink(missing_ok=True)
        if new:
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise refuse("not-written", disk_words(error), "room for the files of the record") from None
    rows = tuple((folder / placed[file.name], file.role, sha256(file.data)) for file in files)
    return Extracted(next(path for path, role, _ in rows if role == "batch"), rows)


def _write(folder: Path, name: str, data: bytes) -> str:
    """Write one file, making each folder that its name goes through; returns where it is."""
    parts = name.split("/")
    for count in range(1, len(parts)):
        (folder / posixpath.normpath("/".join(parts[:count]))).mkdir(parents=True, exist_ok=True)
    place = posixpath.normpath(name)
    path = folder / place
    if path.is_file() and path.read_bytes() == data:
        return place  # one file under two spellings of its name
    with path.open("xb") as file:
        put(file, data)
    return place
