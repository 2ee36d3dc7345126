"""The other records among which one is released."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeGuard

from laminate.records.contradictions import Seen
from laminate.records.rules import ANSWERS
from laminate.values.canonical import read_json, sha256
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, Refused, missing_file, wrong_file

RECORD = "record.json"
_ASIDE = re.compile(r"\.json(?!l).+(?<!\.json)(?<!\.sig)$", re.IGNORECASE)
"""Names of what may be a record, kept under another ending."""
_PACKED = re.compile(r"record\.json\.(?:gz|bz2|xz|zst|zip|7z)$", re.IGNORECASE)
_BEGUN = re.compile(rb'\A{"accepted":\[|"answer"\s*:\s*"(?:%b)"' % "|".join(ANSWERS).encode())
"""What a record begins with, or an answer as one holds it: what is left of it where it is broken off."""
_KEYS = {"answer", "batch", "characteristics", "inputs"}


def records_among(record: Path, digest: str, among: Path | None) -> tuple[list[Seen], list[str], list[str]]:
    """The other records; in words, what may be one and could not be read; and what was passed over.

    Those are `record.json` in the record's own folder and in those beside it, and every record in the folder
    `among` or below it, behind links too: naming a folder leaves none of the others out. What may be one has
    its name, packed or not, or begins like one; `record.json` of another program is passed over, and an empty
    one outside `among`. Raises Refused where there is no such folder. digest: SHA-256 of the record's own
    bytes; a copy of it is no other.
    """
    seen: list[Seen] = []
    inside = listed(among, "--among", links=True) if among else Listed()
    unread = [f"'{path}' is compressed" for path in inside.aside if _PACKED.match(path.name)]
    aside = [str(path) for path in inside.aside if not _PACKED.match(path.name)]
    aside += [str(fault.filename) for fault in inside.closed]
    within = {os.path.realpath(path): path for path, _ in inside.files}
    places = {os.path.realpath(path): path for path in _beside(record)} | within
    places.pop(os.path.realpath(record), None)
    for place, path in places.items():
        named, data, content = path.name.lower() == RECORD, b"", None
        try:
            data = read_regular(path, MOST_TABLE)
            content = read_json(data)
        except OSError as fault:
            broken, words = named, unreadable(fault)
        except ValueError:
            empty = not data.strip() and place not in within
            broken, words = (named and not empty) or bool(_BEGUN.search(data)), "is not as it was written"
        else:
            broken = named and isinstance(content, dict) and len(_KEYS & content.keys()) > 1
            words = "is no whole record"
        other = sha256(data)
        if other == digest:
            continue
        if is_record(content):
            seen.append(Seen(str(path), other, content))
        elif broken:
            unread.append(f"'{path}' {words}")
        elif named or content is None:
            aside.append(str(path))
    return seen, unread, aside


def is_record(content: Any) -> TypeGuard[dict[str, Any]]:
    """Whether JSON has the keys by which a record, or what is left of one, is known."""
    if not isinstance(content, dict) or not {"answer", "batch"} <= content.keys():
        return False
    return "characteristics" in content or "inputs" in content


def unreadable(fault: OSError) -> str:
    """Why something cannot be read, in words."""
    return f"cannot be read ({(fault.strerror or str(fault)).lower()})"


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


@dataclass(frozen=True, slots=True)
class Listed:
    """What lies below a folder.

    files: every JSON file with the sorted names in its own folder; closed: what stood in the way of looking;
    aside: what is not looked at, a name with something behind its '.json' or, where links are not followed, a
    folder that is one; folders: each folder.
    """

    files: list[tuple[Path, list[str]]] = field(default_factory=list)
    closed: list[OSError] = field(default_factory=list)
    aside: list[Path] = field(default_factory=list)
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
        result.aside.extend(at / name for name in names if _ASIDE.search(name))
        linked = [at / name for name in folders if (at / name).is_symlink()]
        result.aside.extend(linked if not links else ())
        again = [path.name for path in linked if path.resolve() in been]
        been.update(path.resolve() for path in linked)
        folders[:] = [name for name in folders if name not in again]
    result.files.sort(key=lambda row: row[0])
    result.aside.sort()
    return result


def no_folder(path: Path, option: str = "") -> Problem:
    """Where records were to be: nothing is there, or a file; option: what names the path, '' an argument."""
    expected = "a folder with records"
    if path.exists():
        return wrong_file(str(path), "a file, not a folder", expected)
    return missing_file(*(("", option, str(path)) if option else (str(path), "", "")), expected)
