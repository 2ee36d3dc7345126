"""The files beside a record: finding the statements and their signatures, and writing a new pair."""

from __future__ import annotations

import bisect
import contextlib
import errno
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from laminate.records.rules import Finding
from laminate.records.sshsig import FileSignature, PublicKey, Unsound, read
from laminate.records.statement import ROLES, Earlier, Malformed, Statement, read_statement, statement_name
from laminate.values.canonical import sha256
from laminate.values.durable import MOST_TEXT, draft_beside, put, read_regular, sync_folder
from laminate.values.problems import disk_words, refusal

T = TypeVar("T")
LARGEST = 1 << 20
"""Most bytes of a statement or signature; real ones have a few thousand."""

_CUT_OFF = ": signing was cut off or the file was lost; put it back, or remove the statement and sign again"
_ENDINGS = (".statement", ".statement.sig")


def namespace(role: str) -> str:
    """The namespace in which a role signs."""
    return f"laminate-record-{role}"


@dataclass(frozen=True, slots=True)
class SignatureFile:
    """One statement and its signature as they lie beside a record.

    path: of the statement; data, armored: the bytes of the two files, None where one cannot be read;
    statement, signed: what they say, None where they are not in their form; faults: what is wrong with the
    pair in itself, whatever the record and the allowed signers are.
    """

    path: Path
    data: bytes | None
    armored: bytes | None
    statement: Statement | None
    signed: FileSignature | None
    faults: tuple[Finding, ...]

    @property
    def key(self) -> PublicKey | None:
        """The key that signed it."""
        return self.signed.key if self.signed else None

    @property
    def stated(self) -> dict[str, str | None]:
        """Role, name, time, goods and key, None for what cannot be read."""
        words = {name: getattr(self.statement, name, None) for name in ("role", "name", "time", "goods")}
        return {**words, "key": self.key.fingerprint if self.key else None}

    @property
    def earlier(self) -> Earlier | None:
        """The pair as a later statement lists it."""
        if self.statement is None or self.data is None or self.armored is None:
            return None
        return Earlier(self.statement.role, self.statement.name, sha256(self.data), sha256(self.armored))


def signature_names(record: Path, listed: Sequence[str] | None = None) -> list[str]:
    """The names of all files beside a record that are, or pretend to be, its statements and signatures.

    listed: the sorted names of its folder, where many records are looked at.
    """
    names = sorted(os.listdir(record.parent)) if listed is None else listed
    begun, end = (bisect.bisect_left(names, f"{record.stem}{sign}") for sign in "./")  # / follows .
    return [name for name in names[begun:end] if name.endswith(_ENDINGS)]


def is_signature(path: Path) -> bool:
    """Whether a file is, by its name, a statement or the signature of one."""
    return path.name.endswith(_ENDINGS)


def find(
    record: Path, listed: Sequence[str] | None = None, packed: Mapping[Path, bytes] | None = None
) -> list[SignatureFile]:
    """Every statement or signature beside a record, each read once and checked in itself.

    packed: the bytes of each, where the record lies in an archive.
    """
    stems = dict.fromkeys(name.removesuffix(".sig") for name in signature_names(record, listed))
    return [_load(record, record.with_name(stem), packed) for stem in stems]


def former_names(record: Path, digest: str) -> list[Path]:
    """The names beside a record that no file has, under which statements speak of it: it was renamed.

    digest: SHA-256 of its bytes.
    """
    names = sorted(os.listdir(record.parent))
    there = {Path(name).stem for name in names if not name.endswith((*_ENDINGS, ".html"))}
    stems = {name.rsplit(".", 3)[0] for name in names if name.endswith(_ENDINGS[0])} - there
    gone = [record.with_name(f"{stem}.json") for stem in sorted(stems)]
    speak = {path: [file.statement.record for file in find(path, names) if file.statement] for path in gone}
    return [path for path in gone if digest in speak[path]]


def _load(record: Path, path: Path, packed: Mapping[Path, bytes] | None) -> SignatureFile:
    faults: list[Finding] = []
    data = _bytes(path, "statement", faults, packed)
    armored = _bytes(path.with_name(f"{path.name}.sig"), "signature", faults, packed)
    statement = _parsed(read_statement, data, "bad-statement", "the statement is not in its form", faults)
    signed = _parsed(read, armored, "bad-signature", "the signature cannot be used", faults)
    if data is not None and signed is not None:
        if not signed.holds(data):
            words = "the signature does not hold: the statement was changed after it was signed, or it was "
            words += f"not signed with the key {signed.key.fingerprint}"
            faults.append(Finding("does-not-hold", words))
        if statement is not None and signed.namespace != namespace(statement.role):
            words = f"it was signed in the namespace '{signed.namespace}', not '{namespace(statement.role)}'"
            faults.append(Finding("wrong-namespace", words))
    if statement is not None:
        faults.extend(_misnamed(record, path, statement))
    return SignatureFile(path, data, armored, statement, signed, tuple(faults))


def _parsed(
    read_it: Callable[[bytes], T], data: bytes | None, code: str, words: str, faults: list[Finding]
) -> T | None:
    """What bytes say; None, and a finding, where they are not in their form."""
    try:
        return read_it(data) if data is not None else None
    except (Malformed, Unsound) as error:
        faults.append(Finding(code, f"{words}: {error}"))
        return None


def _bytes(path: Path, what: str, faults: list[Finding], packed: Mapping[Path, bytes] | None) -> bytes | None:
    if packed and path in packed:
        return packed[path]
    try:
        return read_regular(path, LARGEST)
    except OSError as error:
        if not path.is_file():
            there = "is not a file" if os.path.lexists(path) else "is missing"
            cut_off = "" if what == "statement" or there != "is missing" else _CUT_OFF
            faults.append(Finding(f"no-{what}", f"the {what} '{path.name}' {there}{cut_off}"))
            return None
        large = error.errno == errno.EFBIG
        words = f"has more than {LARGEST} bytes" if large else f"cannot be read ({error.strerror})"
        faults.append(Finding(f"{'bad' if large else 'no'}-{what}", f"the {what} {words}"))
        return None


def _misnamed(record: Path, path: Path, statement: Statement) -> Iterator[Finding]:
    role = path.name.removeprefix(f"{record.stem}.").split(".", 1)[0]
    if path.name == statement_name(record, statement.role, statement.name):
        return
    if role != statement.role:
        naming = f"the file is named '{role}'" if role in ROLES else "the file is named for no role"
        yield Finding("swapped-role", f"{naming}, and the statement says '{statement.role}'")
    else:
        yield Finding("swapped-name", f"the file is not named as the statement of '{statement.name}' is")


def write_pair(path: Path, data: bytes, armored: bytes) -> None:
    """Write a statement and its signature: both or none, complete or not at all, and never over a file.

    path: of the statement. Raises FileExistsError or another OSError, and then neither file is there.
    """
    wanted = {path: data, path.with_name(f"{path.name}.sig"): armored}
    drafts: list[Path] = []
    placed: list[Path] = []
    try:
        for content in wanted.values():
            # Not named after its target: that name may be as long as a name can be.
            _write_new(draft_beside(path), content, drafts)
        for draft, (target, content) in zip(tuple(drafts), wanted.items(), strict=True):
            try:
                os.link(draft, target)
            except OSError:  # a file system without hard links; a file that is there stops this too
                _write_new(target, content, placed)
            else:
                placed.append(target)
        sync_folder(path.parent)
    except BaseException:
        remove(placed)
        raise
    finally:
        remove(drafts)


def _write_new(path: Path, content: bytes, made: list[Path]) -> None:
    with path.open("xb") as file:
        made.append(path)
        put(file, content)


def remove(paths: list[Path]) -> None:
    """Remove files that this program has just made."""
    for path in paths:
        with contextlib.suppress(FileNotFoundError):
            path.unlink()


def other_record(file: SignatureFile, digest: str, *, others_match: bool = False) -> Iterator[Finding]:
    """That the statement speaks of another record; others_match: some other one speaks of this record."""
    if file.statement is not None and file.statement.record != digest:
        digests = f"(signed {file.statement.record}, here {digest})"
        if others_match:
            words = "it is a signature of another record, put beside this one"
            yield Finding("other-record", f"{words} {digests}")
        else:
            words = "the record was changed after it was signed, or this is a signature of another record"
            yield Finding("record-changed", f"{words} {digests}")


def way_out(file: SignatureFile, there: Iterable[SignatureFile]) -> str:
    """How a signature under a mistyped name is taken out again; there: all signatures of the record."""
    mine = (file.stated["role"], file.stated["name"])
    others = (each.statement for each in there if each.statement)
    since = [f"'{other.name}'" for other in others if mine in {(e.role, e.name) for e in other.earlier}]
    words = f"; if the name is mistyped, remove '{file.path.name}' and '{file.path.name}.sig' "
    if since:
        return f"{words}with the signatures made since, by {', '.join(since)}, and let all of them sign again"
    return f"{words}before anyone else signs, and sign again"


def backdated(statement: Statement, matches: Sequence[SignatureFile]) -> Iterator[Finding]:
    """The signatures listed as already there whose claimed time is later than this one's."""
    listed = {(earlier.role, earlier.name) for earlier in statement.earlier}
    for other in (match.statement for match in matches if match.statement is not None):
        if (other.role, other.name) in listed and other.seconds > statement.seconds:
            words = f"the claimed time {statement.time} is before {other.time}, claimed by '{other.name}', "
            yield Finding("time-order", f"{words}whose signature was there already")


def read_file(path: Path, what: str, most: int = MOST_TEXT) -> bytes:
    """The bytes of a file (what: its kind, for the message); raises Refused where it cannot be read.

    most: how many bytes it may have.
    """
    try:
        return read_regular(path, most)
    except OSError as error:
        raise refusal("file-access", str(path), "", disk_words(error), f"a readable {what}") from None
