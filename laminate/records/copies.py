"""Files with the bytes of a record: what is signed beside one of them counts for all."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from laminate.records.files import SignatureFile, find, former_names
from laminate.records.other_records import listed
from laminate.records.rules import Claim
from laminate.values.canonical import sha256
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.sequences import by_key

CopySignature = tuple[SignatureFile, str]
"""A pair of files, and the copy of the record that they lie beside."""

Counts = Callable[[SignatureFile], bool]
"""Whether a pair of files counts as a signature."""


def sound(file: SignatureFile) -> bool:
    """Whether nothing is wrong with a pair of files in itself."""
    return not file.faults


def statements_of(files: Iterable[CopySignature]) -> list[Claim]:
    """What stands beside a record, sound or not; without the key, where nobody signed it with that one."""
    return [
        (file.statement, file.key if sound(file) else None, copy) for file, copy in files if file.statement
    ]


def beside_copies(record: Path, data: bytes, among: Path | None = None) -> list[CopySignature]:
    """What stands beside files of any name with the bytes of a record, where `records_among` looks.

    A link to the record is such a file: what is signed beside the one is not beside the other. So is a name
    that the record itself had. Raises Refused where there is no folder `among`.
    """
    digest = sha256(data)
    folder = record.resolve().parent
    folders = [folder, *(listed(among, "--among", links=True).folders if among else ())]
    with contextlib.suppress(OSError):
        folders += folder.parent.iterdir()
    places = {record.parent.resolve() / record.name}
    copies = {f"{path} (its former name)": path for path in former_names(record, digest)}
    for path in (path for folder in folders for path in _alike(folder, data)):
        place = path.parent.resolve() / path.name
        if place not in places:
            copies[str(path)] = path
        places.add(place)
    return beside_each(dict(sorted(copies.items())), digest)


def _alike(folder: Path, data: bytes) -> Iterator[Path]:
    """The files in a folder with these bytes; none where it cannot be looked into, or is none."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            with contextlib.suppress(OSError):
                alike = entry.is_file() and entry.stat().st_size == len(data)
                if alike and read_regular(Path(entry), MOST_TABLE) == data:
                    yield Path(entry)


def beside_each(copies: Mapping[str, Path], digest: str) -> list[CopySignature]:
    """What stands beside copies of a record, by what they are called, and speaks of that record."""
    files = [(file, name) for name, copy in copies.items() for file in find(copy)]
    return [(file, name) for file, name in files if file.statement and file.statement.record == digest]


def in_words(
    copies: Iterable[CopySignature], there: Iterable[SignatureFile], counts: Counts = sound
) -> list[str]:
    """Who signed beside copies of a record and not beside the record, or so that it does not count."""
    mine = {(file.stated["role"], file.stated["name"]) for file in there}
    others = by_key(
        (copy, f"{statement.role} by {statement.name}{'' if counts(file) else ', which is not proven'}")
        for file, copy in copies
        if (statement := file.statement) and not (counts(file) and (statement.role, statement.name) in mine)
    )
    words = "is the same record; beside it stands"
    return [f"'{copy}' {words}: {'; '.join(who)}" for copy, who in others.items()]
