"""Signing a record in a role; proving a signature is in `verification`, and both are public here."""

from __future__ import annotations

import time as clock
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.records.allowed_signers import utc
from laminate.records.contradictions import OtherRecord, contradictions_of, copied_from, replaced_by
from laminate.records.copies import CopySignature, beside_copies, in_words, statements_of
from laminate.records.differences import Recompute, rejudge
from laminate.records.files import (
    SignatureFile,
    backdated,
    find,
    namespace,
    other_record,
    read_file,
    remove,
    signature_names,
    way_out,
    write_pair,
)
from laminate.records.other_records import Others, records_among
from laminate.records.page_beside import PageMaker, compare_page
from laminate.records.rules import (
    FORMAT,
    Finding,
    NotAllowed,
    Record,
    conflicts,
    read_content,
    record_of,
    release_faults,
    too_early,
)
from laminate.records.sshsig import Passphrase, PublicKey, make, private_key, public_key, read
from laminate.records.statement import (
    ROLES,
    Malformed,
    Statement,
    checked,
    checked_goods,
    checked_signer,
    seconds,
    statement_name,
)
from laminate.records.verification import Signature, Verification, said_today, verify
from laminate.values.canonical import sha256
from laminate.values.durable import MOST_TABLE
from laminate.values.problems import Problem, disk_words, refusal, refuse_all
from laminate.values.said import few

if TYPE_CHECKING:
    from asyncssh import SSHKey

__all__ = ["ROLES", "Finding", "NotAllowed", "Signature", "Signed", "Verification", "sign", "verify"]


@dataclass(frozen=True, slots=True)
class Signed:
    """What `sign` wrote: its two files, who signed as what and when by their own claim, key and record.

    concession: in words, where a record that has one is released; answer: of the record, answer_today: as
    computed today, None where it cannot be; beside: what is said wherever its answer is (`rules.BESIDE`),
    computed today, as the record has it where that cannot be; notes: where it differs from its inputs as
    judged again, who signed copies of it, and which other records could not be read.
    """

    statement: Path
    signature: Path
    role: str
    name: str
    time: str
    key: str
    record: str
    concession: str | None = None
    answer: str = ""
    answer_today: str | None = None
    beside: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def _record_to_sign(path: Path, data: bytes) -> tuple[Any, Record]:
    """The content of a record and what it says; raises `Refused` where it is none, or an outdated one."""
    try:
        content = read_content(data)
        record = record_of(content)
    except Malformed as error:
        expected = "a record as 'laminate report' writes it"
        raise refusal("bad-record", str(path), "", str(error), expected) from None
    if record.format < FORMAT:
        outdated = f"a record of format {record.format}, which kept less than its answer needs"
        hint = "write it again: 'laminate extract RECORD DIR', then 'laminate report DIR/batch.toml --out "
        raise refusal("old-record", str(path), "", outdated, f"format {FORMAT}", f"{hint}NEW'")
    return content, record


def _beside_others(
    statement: Statement, public: PublicKey, there: Sequence[SignatureFile], copies: Sequence[CopySignature]
) -> list[Finding]:
    """What the signatures already there, and beside copies of the record, do not allow."""
    faults = [
        Finding("unsound-signature-there", f"{file.path.name}: {fault.words}")
        for file in there
        for fault in (*file.faults, *other_record(file, statement.record))
    ]
    for file in there:
        slip = way_out(file, there) if file.stated["role"] == statement.role else ""
        clashes = conflicts(statement, public, statements_of([(file, "")]))
        faults += [Finding(clash.code, clash.words + slip) for clash in clashes]
    return [*faults, *conflicts(statement, public, statements_of(copies)), *backdated(statement, there)]


def sign(
    record_path: Path,
    role: str,
    name: str,
    key_path: Path,
    passphrase: Passphrase = None,
    time: str | None = None,
    goods: str | None = None,
    among: Path | None = None,
    page: PageMaker | None = None,
    *,
    recompute: Recompute,
) -> Signed:
    """Sign a record in a role: write `record.ROLE.NAME.statement` and its `.sig` beside it.

    record_path: the record; role: one of `ROLES`; name: of who signs; key_path: a private OpenSSH key;
    passphrase: of the key, or a function that asks for it; time: that the signer claims, like
    2026-11-20T09:30:00Z, left out: the clock's; goods: what becomes of them, where they are rejected; among:
    a folder of records that one to be released is held against, beside `record.json` in its own folder and in
    those beside it (in all of them, what is signed beside a file with the same bytes counts in every role);
    page, recompute: as of `verify`; what differs stands against every role but rejected, where it is a note.

    Raises NotAllowed where a rule stands against it, Refused where the call or a file is wrong: nothing is
    written.
    """
    role, name, time, goods = _checked_call(role, name, time, goods)
    data = read_file(record_path, "record", MOST_TABLE)
    content, record = _record_to_sign(record_path, data)
    key = private_key(key_path, passphrase)
    public = public_key(key.public_data)
    before = signature_names(record_path)
    again = rejudge(recompute, data)
    there = find(record_path)
    digest = sha256(data)
    copies = beside_copies(record_path, data, among)
    differs, page_notes, _ = compare_page(record_path, data, page, again)
    notes = [*(finding.words for finding in differs), *again.notes, *in_words(copies, there), *page_notes]
    earlier = tuple(sorted(file.earlier for file in there if file.earlier is not None))
    concession = record.concession if role == "released" else None
    statement = Statement(digest, role, name, time, earlier, goods, concession)
    faults = _beside_others(statement, public, there, copies)
    faults += too_early(statement, record, max(0, clock.localtime(statement.seconds).tm_gmtoff))
    faults += differs if role != "rejected" else []
    if role == "released":
        prepared = any(file.statement and file.statement.role == "prepared" for file in there)
        faults += release_faults(record, prepared=prepared)
        this_record = OtherRecord(record_path.name, digest, content)
        others = records_among(record_path, digest, among)
        archived = [(file, str(copy)) for copy in others.copies for file in others.signed_beside(copy)]
        faults += conflicts(statement, public, statements_of(archived))
        faults += _contradicted(this_record, others)
        notes += [*in_words(archived, there), *_comparison_notes(this_record, others, among)]
        notes += [] if faults else copied_from(this_record, others.seen)
    if faults:
        raise NotAllowed(faults)
    path, today = record_path.with_name(statement_name(record_path, role, name)), said_today(again)
    _place(record_path, path, statement.write(), _armored(key, statement, key_path), before)
    return Signed(
        statement=path,
        signature=path.with_name(f"{path.name}.sig"),
        role=role,
        name=name,
        time=time,
        key=public.fingerprint,
        record=digest,
        concession=record.granted or None if role == "released" else None,
        answer=record.answer,
        answer_today=today.answer if today else None,
        beside=(today or record).beside,
        notes=tuple(notes),
    )


def _armored(key: SSHKey, statement: Statement, key_path: Path) -> bytes:
    """The signature of a statement; raises Refused where it does not hold."""
    armored = make(key, statement.write(), namespace(statement.role))
    signed = read(armored)
    if signed.key != public_key(key.public_data) or not signed.holds(statement.write()):
        raise refusal("bad-key", str(key_path), "", "a key whose signature does not hold", "a key pair")
    return armored


def _contradicted(record: OtherRecord, others: Others) -> Iterator[Finding]:
    """What the other records say against one, and that it stands for one that somebody rejected."""
    yield from (Finding("unread-record", f"{words}{_UNREAD}") for words in others.unread)
    yield from (Finding(code, words) for code, words in contradictions_of(record, others.seen))
    earlier = replaced_by(record, others.seen)
    for other in (other for other in others.seen if other.sha256 in earlier):
        for file in others.signed_beside(other.file):
            if file.statement and file.statement.role == "rejected" and not file.faults:
                words = f"it replaces '{other.file}', which '{file.statement.name}' rejected: "
                yield Finding("replaces-rejected", f"{words}{file.statement.goods}")


_UNREAD = ", so this record cannot be compared with it: put back or unpack it, or move it elsewhere"


def _comparison_notes(record: OtherRecord, others: Others, among: Path | None) -> Iterator[str]:
    """How many other records a release was held against, and what the one it stands for answered."""
    rest, aside = others.seen, others.aside
    if rest:
        yield f"this record was compared with {len(rest)} other record{'s' if len(rest) > 1 else ''}"
    elif among:
        yield f"no other record lies beside it or in '{among}' to compare it with"
    else:
        yield "no other record lies beside it to compare it with: '--among FOLDER' names where they are"
    if aside:
        yield f"not compared, as no record could be read in them: {few(aside)}"
    earlier, answer = replaced_by(record, rest), record.content.get("answer")
    for other in (other for other in rest if other.sha256 in earlier):
        if (was := other.content.get("answer")) != answer:
            yield f"it replaces '{other.file}', whose answer is '{was}', not '{answer}'"
    if record.replaces and record.replaces not in {other.sha256 for other in rest}:
        yield f"the record that it replaces, {record.replaces}, was not there to compare it with"


def _checked_call(
    role: str, name: str, time: str | None, goods: str | None
) -> tuple[str, str, str, str | None]:
    problems: list[Problem] = []
    name = checked_signer(role, name, problems)
    time = utc(int(clock.time())) if time is None else time
    time = checked("time", lambda text: utc(seconds(text)), time, "a moment in UTC", problems)
    if role == "rejected":
        expected = "words on what becomes of the rejected goods"
        goods = checked("--goods", checked_goods, goods or "", expected, problems)
    elif goods is not None:
        expected = f"no --goods with the role '{role}': it belongs to 'rejected'"
        problems.append(Problem("bad-call", "", "--goods", f"'{goods}'", expected))
    refuse_all(problems)
    return role, name, time, goods


def _place(record: Path, path: Path, written: bytes, armored: bytes, before: Sequence[str]) -> None:
    """Write the pair, and take it back where somebody else signed between looking and writing."""
    pair = [path, path.with_name(f"{path.name}.sig")]
    meanwhile = NotAllowed(
        [Finding("signed-meanwhile", "somebody else signed at the same moment; sign again")]
    )
    try:
        write_pair(path, written, armored)
    except FileExistsError:
        raise meanwhile from None
    except OSError as error:
        raise refusal("not-written", str(path), "", disk_words(error), "room for two new files") from None
    if signature_names(record) != sorted([*before, *(file.name for file in pair)]):
        remove(pair)
        raise meanwhile
