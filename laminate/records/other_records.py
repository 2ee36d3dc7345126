"""The other records among which one is released."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeGuard

from laminate.records.contradictions import OtherRecord
from laminate.records.files import SignatureFile, find, is_signature
from laminate.records.packed import Member, Unpacking
from laminate.records.rules import ANSWERS
from laminate.values.canonical import read_json, sha256
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, Refused, disk_words, missing_file, wrong_file

RECORD = "record.json"
_ASIDE = re.compile(r"\.json(?!l).+(?<!\.json)(?<!\.sig)$", re.IGNORECASE)
"""Names of what may be a record, kept under another ending."""
_NAMED = re.compile(r"record\.json(?:\.(?:gz|bz2|xz|zst|zip|7z))?$", re.IGNORECASE)
_BEGUN = re.compile(rb'\A{"accepted":\[|"answer"\s*:\s*"(?:%b)"' % "|".join(ANSWERS).encode())
"""What a record begins with, or an answer as one holds it: what is left of it where it is broken off."""
_KEYS = {"answer", "batch", "characteristics", "inputs"}


@dataclass(slots=True)
class Others:
    """The other records among which one is released.

    seen: those that can be read; copies: what has the bytes of the record, packed; unread: what may be one
    and cannot be read, in words; aside: what was passed over; packed: signatures in archives.
    """

    seen: list[OtherRecord] = field(default_factory=list)
    copies: list[Path] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    aside: list[str] = field(default_factory=list)
    packed: dict[Path, bytes] = field(default_factory=dict)

    def signed_beside(self, record: str | Path) -> list[SignatureFile]:
        """What is signed beside one of them, in its archive where it lies in one."""
        path = Path(record)
        if path.exists() or not self.packed:
            return find(path.with_name(_ASIDE.sub(".json", path.name)))
        names = sorted(other.name for other in self.packed if other.parent == path.parent)
        return find(path, names, self.packed)


def records_among(record: Path, digest: str, among: Path | None) -> Others:
    """The other records of a record: what may be one has its name, packed or not, or begins like one.

    Those are `record.json` in the record's own folder and in those beside it, and every record in the folder
    `among` or below it, behind links too: naming a folder leaves none of the others out. Beside it and among
    them are those in archives, compressed, and under an ending other than '.json'. `record.json` of another
    program is passed over, and an empty one outside `among`. Raises Refused where there is no such folder.
    digest: SHA-256 of the record's own bytes; a copy of it is no other.
    """
    inside = listed(among, "--among", links=True) if among else Listed()
    within = {os.path.realpath(path): path for path, _ in inside.files}
    places = {os.path.realpath(path): path for path in _beside(record)} | within
    places.pop(os.path.realpath(record), None)
    packed = {os.path.realpath(path): path for path in (*_packed_beside(record), *inside.others)}
    others = Others(aside=[str(fault.filename) for fault in inside.closed])
    for place, path in places.items():
        try:
            member = Member(path, read_regular(path, MOST_TABLE))
        except OSError as fault:
            member = Member(path, b"", unreadable(fault))
        if sha256(member.data) != digest:
            _put(others, member, lax=place not in within)
    unpacking = Unpacking()
    for path in packed.values():
        for member in members_of(path, unpacking):
            if member.path != path and is_signature(member.path):
                others.packed[member.path] = member.data
            elif sha256(member.data) != digest:
                _put(others, member)
            elif member.path != path or path.stat().st_size != len(member.data):
                others.copies.append(member.path)
    return others


def _put(others: Others, member: Member, *, lax: bool = False) -> None:
    """Put what may be a record where it belongs; lax: an empty one is none."""
    path, content = member.path, None
    named, begun = bool(_NAMED.match(path.name)), like_record(member.data)
    broken, words = named or begun or member.unseen, member.fault
    if not words:
        try:
            content = read_json(member.data)
        except ValueError:
            broken, words = (
                begun or (named and bool(member.data.strip() or not lax)),
                "is not as it was written",
            )
        else:
            broken = named and isinstance(content, dict) and len(_KEYS & content.keys()) > 1
            words = "is no whole record"
    if is_record(content):
        others.seen.append(OtherRecord(str(path), sha256(member.data), content))
    elif broken:
        others.unread.append(f"'{path}' {words}")
    elif named or member.fault or (content is None and path.suffix.lower() == ".json"):
        others.aside.append(str(path))


def members_of(path: Path, unpacking: Unpacking) -> Iterator[Member]:
    """What may be a record in a file that does not end in '.json', itself by its name where it tells."""
    some = False
    for member in unpacking.look(path):
        some = True
        yield member
    if not some and (_ASIDE.search(path.name) or _NAMED.match(path.name)):
        yield Member(path, b"", "is compressed")


def may_hold(path: Path, unpacking: Unpacking) -> bool:
    """Whether a file that does not end in '.json' is, or may hold, a record."""
    for member in members_of(path, unpacking):
        others = Others()
        if not is_signature(member.path):
            _put(others, member)
        if others.seen or others.unread or others.aside:
            return True
    return False


def like_record(data: bytes) -> bool:
    """Whether bytes that are no JSON may be what is left of a record, or one saved as UTF-16."""
    return bool(_BEGUN.search(data.replace(b"\0", b"")))


def is_record(content: Any) -> TypeGuard[dict[str, Any]]:
    """Whether JSON has the keys by which a record, or what is left of one, is known."""
    if not isinstance(content, dict) or not {"answer", "batch"} <= content.keys():
        return False
    return "characteristics" in content or "inputs" in content


def unreadable(fault: OSError) -> str:
    """Why something cannot be read, in words."""
    return f"cannot be read ({disk_words(fault)})"


def read_seen(path: Path, name: str, holding: bytes = b"") -> OtherRecord | None:
    """A file as a record of a name, without content where it is no table; None where it cannot be read.

    holding: what it must hold, in any case, to be read further.
    """
    try:
        data = read_regular(path, MOST_TABLE)
        content = read_json(data) if holding in data.lower() else None
    except (OSError, ValueError):
        return None
    return OtherRecord(name, sha256(data), content if isinstance(content, dict) else {})


def replacing(record: Path, digest: str) -> list[str]:
    """The records beside one, as `records_among` looks for them, that say they replace it.

    digest: SHA-256 of its bytes. Only files that hold it are read further: a folder may be an archive.
    """
    beside = (read_seen(path, str(path), digest.encode()) for path in _beside(record))
    return [other.file for other in beside if other is not None and other.replaces == digest]


def _beside(record: Path) -> Iterable[Path]:
    folder = record.resolve().parent
    return sorted({path for path in (folder / RECORD, *folder.parent.glob(f"*/{RECORD}")) if path.is_file()})


def _packed_beside(record: Path) -> Iterator[Path]:
    """The files that do not end in '.json' in a record's own folder, those beside it, and the one of both."""
    above = record.resolve().parent.parent
    folders = [above]
    with contextlib.suppress(OSError):
        folders += sorted(path for path in above.iterdir() if path.is_dir())
    for folder in folders:
        with contextlib.suppress(OSError):
            yield from sorted(
                path for path in folder.iterdir() if _may_be_packed(path.name) and path.is_file()
            )


def _may_be_packed(name: str) -> bool:
    return not name.lower().endswith((".json", ".sig", ".statement", ".html"))


@dataclass(frozen=True, slots=True)
class Listed:
    """What lies below a folder.

    files: every JSON file with the sorted names in its own folder; others: what may hold a record, too;
    closed: what stood in the way of looking; links: folders that are not looked into; folders: each folder.
    """

    files: list[tuple[Path, list[str]]] = field(default_factory=list)
    closed: list[OSError] = field(default_factory=list)
    others: list[Path] = field(default_factory=list)
    links: list[Path] = field(default_factory=list)
    folders: list[Path] = field(default_factory=list)


def listed(folder: Path, option: str = "", *, links: bool = False) -> Listed:
    """What lies below a folder, each folder once; links: whether those to folders are followed.

    option: what names the folder, '' an argument. Raises Refused where there is none.
    """
    if not folder.is_dir():
        raise Refused(no_folder(folder, option))
    result, been = Listed(), {folder.resolve()}
    for place, folders, names in os.walk(folder, onerror=result.closed.append, followlinks=links):
        within, at = sorted([*folders, *names]), Path(place)
        result.folders.append(at)
        result.files.extend((at / name, within) for name in names if name.lower().endswith(".json"))
        result.others.extend(at / name for name in names if _may_be_packed(name))
        linked = [at / name for name in folders if (at / name).is_symlink()]
        result.links.extend(linked if not links else ())
        again = [path.name for path in linked if path.resolve() in been]
        been.update(path.resolve() for path in linked)
        folders[:] = [name for name in folders if name not in again]
    result.files.sort(key=lambda row: row[0])
    result.others.sort()
    return result


def no_folder(path: Path, option: str = "") -> Problem:
    """Where records were to be: nothing is there, or a file; option: what names the path, '' an argument."""
    expected = "a folder with records"
    if path.exists():
        return wrong_file(str(path), "a file, not a folder", expected)
    return missing_file(*(("", option, str(path)) if option else (str(path), "", "")), expected)
