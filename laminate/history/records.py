"""The records of a folder: which of them verify, which are replaced, and which count."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson

from laminate.values.canonical import read_canonical, sha256
from laminate.values.problems import Problem, Refused

Check = Callable[[Path, bytes], list[str]]
"""What stands against a record, in words; nothing where it verifies."""

Progress = Callable[[int, int], None]

NAME = "record.json"
MARKS = ("answer", "batch", "characteristics")


@dataclass(slots=True)
class Filed:
    """One record as it lies in the folder.

    file: path within the folder; content: what it says, None where it cannot be read; faults: why it does not
    verify; rival: it verifies, but another of the same batch stands against it; replaced_by: the file that
    replaces it; copy_of: the file with the same bytes; notes: in words.
    """

    file: str
    sha256: str
    content: Mapping[str, Any] | None
    faults: list[str] = field(default_factory=list)
    replaced_by: str = ""
    copy_of: str = ""
    undated: bool = False
    rival: bool = False
    notes: list[str] = field(default_factory=list)

    @property
    def verifies(self) -> bool:
        """Whether nothing stands against it."""
        return not self.faults

    @property
    def counts(self) -> bool:
        """Whether its values are used."""
        return self.verifies and not (self.replaced_by or self.copy_of or self.undated)

    @property
    def batch(self) -> str:
        """The batch it says it is of, '' where it cannot be read."""
        return self._said("id")

    @property
    def part(self) -> str:
        """The part it says it is of."""
        return self._said("part_number")

    @property
    def molded(self) -> str:
        """The day it says the batch was molded."""
        return self._said("molded")

    def _said(self, key: str) -> str:
        batch = self.content.get("batch") if self.content else None
        word = batch.get(key) if isinstance(batch, Mapping) else None
        return word if isinstance(word, str) else ""

    @property
    def replaces(self) -> str:
        """SHA-256 of the record that it says it replaces, '' for none."""
        told = self.content.get("replaces") if self.content else None
        word = told.get("record") if isinstance(told, Mapping) else None
        return word.lower() if isinstance(word, str) else ""


def _candidates(folder: Path) -> tuple[list[Path], list[OSError]]:
    """Every JSON file below a folder, and what stood in the way of looking."""
    if not folder.is_dir():
        found = "not a folder" if folder.exists() else "no such folder"
        raise Refused(Problem("file-missing", str(folder), "", found, "a folder with records"))
    closed: list[OSError] = []
    paths = [
        Path(place, name)
        for place, _, names in os.walk(folder, onerror=closed.append)
        for name in names
        if name.endswith(".json")
    ]
    return sorted(paths), closed


def _looks_like_a_record(path: Path, data: bytes) -> bool:
    """A file of that name, or JSON with a record's keys; what is not even JSON may be a damaged record."""
    if path.name == NAME:
        return True
    try:
        content = orjson.loads(data)
    except ValueError:
        return True
    return isinstance(content, dict) and all(mark in content for mark in MARKS)


def gather(folder: Path, check: Check, progress: Progress | None = None) -> tuple[list[Filed], list[str]]:
    """Every record below a folder, checked, and the names of other JSON files, which are passed over.

    check: what stands against a record of canonical bytes; progress: told how many of how many are done.
    Raises `Refused` where there is no folder or no record in it.
    """
    paths, closed = _candidates(folder)
    records = [
        Filed(os.path.relpath(fault.filename or folder, folder), "", None, [_unreadable(fault)])
        for fault in closed
    ]
    others: list[str] = []
    for done, path in enumerate(paths):
        if progress:
            progress(done, len(paths))
        name = path.relative_to(folder).as_posix()
        try:
            data = path.read_bytes()
        except OSError as fault:
            records.append(Filed(name, "", None, [_unreadable(fault)]))
            continue
        if _looks_like_a_record(path, data):
            records.append(_filed(path, name, data, check))
        else:
            others.append(name)
    if progress:
        progress(len(paths), len(paths))
    if not records:
        hint = "'laminate report BATCH --out DIR' writes one"
        raise Refused(
            Problem("no-record", str(folder), "", "no record", "record.json in it or below it", hint)
        )
    resolve(records)
    return records, others


def _unreadable(fault: OSError) -> str:
    return f"it cannot be read ({(fault.strerror or str(fault)).lower()})"


def _filed(path: Path, name: str, data: bytes, check: Check) -> Filed:
    digest = sha256(data)
    try:
        content = read_canonical(data)
    except ValueError as fault:
        return Filed(name, digest, None, [f"it is not as it was written: {fault}"])
    if not isinstance(content, dict) or not all(mark in content for mark in MARKS):
        return Filed(name, digest, None, ["it is not as it was written: it is not a record"])
    filed = Filed(name, digest, content)
    try:
        filed.faults += check(path, data)
    except Refused as refusal:
        filed.faults += [problem.sentence() for problem in refusal.problems]
    if filed.verifies and not (filed.batch and filed.part):
        filed.faults.append("it names no batch or no part")
    return filed


def resolve(records: list[Filed]) -> None:
    """Settle which records count: one a batch, the amended one in the place of the one that it replaces.

    Only records that verify replace others. Two records of one batch of which neither replaces the other do
    not count, and both are told to stand against each other.
    """
    first: dict[str, Filed] = {}
    for filed in (f for f in records if f.verifies):
        filed.undated = not filed.molded
        if filed.sha256 in first:
            filed.copy_of = first[filed.sha256].file
        else:
            first[filed.sha256] = filed
    for filed in list(first.values()):
        if not filed.replaces:
            continue
        earlier = first.get(filed.replaces)
        if earlier is None:
            filed.notes.append("the record that it replaces is not among those that verify here")
        elif earlier.part != filed.part:
            filed.faults.append(f"it says that it replaces a record of another part, '{earlier.file}'")
        else:
            earlier.replaced_by = filed.file
            if earlier.batch != filed.batch:
                filed.notes.append(f"it replaces the record of batch {earlier.batch}")
    for filed in (f for f in first.values() if not f.verifies):
        for other in (f for f in first.values() if f.replaced_by == filed.file):
            other.replaced_by = ""
    for rivals in _rivals(list(first.values())):
        for filed in rivals:
            others = ", ".join(f"'{other.file}'" for other in rivals if other is not filed)
            verb = "is" if len(rivals) == 2 else "are"
            filed.rival = True
            filed.faults.append(
                f"{others} {verb} of the same batch {filed.batch}, and none says in [replaces] that it "
                "stands for the other: which one counts is not known"
            )


def _rivals(records: list[Filed]) -> Iterator[list[Filed]]:
    by_batch: dict[tuple[str, str], list[Filed]] = {}
    for filed in records:
        if filed.verifies and not filed.replaced_by:
            by_batch.setdefault((filed.part, filed.batch), []).append(filed)
    return (found for found in by_batch.values() if len(found) > 1)
