"""The files inside a record: their names and their bytes."""

from __future__ import annotations

import base64
import binascii
import posixpath
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.files.entries import history_name
from laminate.files.named_file import NamedFile, relative_name
from laminate.files.raw_file import RawFile
from laminate.files.toml import load
from laminate.values.canonical import sha256
from laminate.values.problems import Refused

if TYPE_CHECKING:
    from laminate.files.batch import Batch

ROLES = ("batch", "part", "coupons", "history", "log")
DEEPEST = 8
"""Most folders that a name may climb out of the batch file's own."""

LONGEST = 400
"""Most characters of a name."""

_DRIVE = re.compile(r"[A-Za-z]:")


class Damaged(ValueError):
    """Embedded files that cannot be used; `findings` says everything in words."""

    def __init__(self, findings: Iterable[str]) -> None:
        self.findings = list(findings)
        super().__init__("; ".join(self.findings))


@dataclass(frozen=True, slots=True)
class Embedded:
    """One file inside a record.

    name: relative to the folder of the batch file, as the batch file names it; role: one of `ROLES`.
    """

    name: str
    role: str
    data: bytes


def why_not_a_name(name: str) -> str:
    """Why a name cannot stand in a record, '' where it can.

    >>> why_not_a_name("../part.toml")
    ''
    >>> why_not_a_name("/home/part.toml")
    'it is an absolute path'
    """
    faults = (
        (name.split("/")[-1] in ("", ".", ".."), "it names no file"),
        (name.startswith("/") or _DRIVE.match(name), "it is an absolute path"),
        ("\\" in name, "it has a backslash; write / between folders"),
        (not name.isprintable(), "it has a character that cannot be printed"),
        (len(name) > LONGEST, f"it has more than {LONGEST} characters"),
        (parent_levels(name) > DEEPEST, f"it goes up more than {DEEPEST} folders"),
    )
    return next((why for fault, why in faults if fault), "")


def parent_levels(name: str) -> int:
    """How many folders a name climbs out of the one it starts from, at most."""
    level = deepest = 0
    for part in name.split("/"):
        level += -1 if part == ".." else 0 if part in ("", ".") else 1
        deepest = min(deepest, level)
    return -deepest


def record_names(batch: Batch, batch_file: str, files: Collection[str] = ()) -> list[tuple[str, str, str]]:
    """Role, key path and name of every file of a batch, each once, the batch file first.

    files: the called names of what was read, of which the histories count.
    """
    histories = [history_name(name) for name in batch.batch.coupons]
    read = [name for name in histories if relative_name(batch_file, name) in files]
    entries = [
        ("batch", "", batch_file),
        ("part", "batch.part", batch.batch.part),
        *(("coupons", "batch.coupons", name) for name in batch.batch.coupons),
        *(("history", "batch.coupons", name) for name in read),
        *(("log", f"log[{at}].file", log.file) for at, log in enumerate(batch.log, 1)),
    ]
    once: dict[str, tuple[str, str, str]] = {}
    for entry in entries:
        once.setdefault(entry[2], entry)
    return list(once.values())


def embedded(rows: object) -> list[Embedded]:
    """The files of a record's `inputs`. Raises Damaged with everything that is wrong with them."""
    if not isinstance(rows, list) or not rows:
        raise Damaged(["the record has no list of 'inputs'"])
    findings: list[str] = []
    files: list[Embedded] = []
    for row in rows:
        try:
            files.append(_one(row))
        except Damaged as fault:
            findings += fault.findings
    names = [file.name for file in files]
    findings += [f"the input '{name}' stands there twice" for name in _twice(names)]
    contents = {(posixpath.normpath(file.name), file.data) for file in files if names.count(file.name) == 1}
    for place in _twice([place for place, _ in contents]):
        findings.append(f"two inputs with different bytes would be written to one file, '{place}'")
    for role in ("batch", "part"):
        count = sum(file.role == role for file in files)
        if count != 1 and not findings:
            findings.append(f"the record has {count or 'no'} inputs in the role '{role}', and needs one")
    if findings:
        raise Damaged(findings)
    return files


def _twice(names: Sequence[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})


def _one(row: object) -> Embedded:
    if not isinstance(row, dict):
        raise Damaged(["one of the inputs is not an object"])
    name = row.get("file")
    if not isinstance(name, str):
        raise Damaged(["one of the inputs has no name under 'file'"])
    shown = name if name.isprintable() else ascii(name)[1:-1]
    texts: dict[str, str] = {}
    for key in ("role", "sha256", "base64"):
        value = row.get(key)
        if not isinstance(value, str):
            raise Damaged([f"the input '{shown}' has no text under '{key}'"])
        texts[key] = value
    extra = sorted(row.keys() - {"file", *texts})
    if extra:
        raise Damaged([f"the input '{shown}' has the unknown key '{extra[0]}'"])
    reason = why_not_a_name(name)
    if reason:
        raise Damaged([f"the name of the input '{shown}' is refused: {reason}"])
    if texts["role"] not in ROLES:
        raise Damaged([f"the input '{shown}' has a role that is none of {', '.join(ROLES)}"])
    try:
        data = base64.b64decode(texts["base64"], validate=True)
    except (binascii.Error, ValueError):
        raise Damaged([f"the bytes of the input '{shown}' are not base64"]) from None
    if base64.b64encode(data).decode("ascii") != texts["base64"]:
        raise Damaged([f"the bytes of the input '{shown}' are not base64 in its standard form"])
    if sha256(data) != texts["sha256"]:
        words = f"the bytes of the input '{shown}' have the SHA-256 {sha256(data)}"
        raise Damaged([f"{words}, and the record says {texts['sha256'][:80]}"])
    return Embedded(name, texts["role"], data)


def file_bytes(files: Sequence[Embedded]) -> tuple[str, dict[str, bytes]]:
    """The name of the batch file, and the bytes of each file by the name that it has beside that one.

    Raises Damaged where the batch file names a file that is not embedded, or an embedded one is not named.
    """
    batch = next(file for file in files if file.role == "batch")
    others = {relative_name(batch.name, file.name): file.data for file in files if file is not batch}
    contents = {batch.name: batch.data, **others}
    try:
        raw, _ = load(NamedFile(Path(batch.name), batch.name, contents))
    except Refused:  # said in full when the batch is read
        return batch.name, contents
    raw_file = RawFile(raw, batch.name)
    named: set[tuple[str, str]] = set()
    for role, pattern in (("part", "batch.part"), ("coupons", "batch.coupons.*"), ("log", "log.*.file")):
        named |= {(role, name) for _, name in raw_file.places(pattern) if isinstance(name, str)}
    there = {(file.role, file.name) for file in files if file.role != "batch"}
    named |= there & {("history", history_name(name)) for role, name in named if role == "coupons"}
    findings = [f"the batch file names '{name}', which is not embedded" for _, name in sorted(named - there)]
    unlike = "and the batch file does not name it so"
    findings += [f"the input '{n}' is embedded as {role}, {unlike}" for role, n in sorted(there - named)]
    if findings:
        raise Damaged(findings)
    return batch.name, contents


def text_at(content: Any, *keys: str) -> str:
    """The text under keys within each other, '' where there is none."""
    word = RawFile(content, "").at(*keys)
    return word if isinstance(word, str) else ""
