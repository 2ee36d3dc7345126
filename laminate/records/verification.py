"""Proving who signed a record in which role, and that nothing changed since."""

from __future__ import annotations

import time as clock
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from laminate.records.allowed_signers import Entry, read_allowed_signers, utc, why_not
from laminate.records.copies import CopySignature, beside_copies, in_words, statements_of
from laminate.records.differences import Recompute, Rejudged, rejudge
from laminate.records.files import (
    SignatureFile,
    backdated,
    find,
    former_names,
    other_record,
    read_file,
    way_out,
)
from laminate.records.other_records import replacing
from laminate.records.page_beside import PageMaker, compare_page
from laminate.records.revocation import NOTHING_REVOKED, Revoked, read_revoked
from laminate.records.rules import (
    Finding,
    Record,
    conflicts,
    read_record,
    record_of,
    release_faults,
    too_early,
)
from laminate.records.statement import ROLES, Malformed, Statement, checked_role, seconds, statement_name
from laminate.values.canonical import sha256
from laminate.values.durable import MOST_TABLE
from laminate.values.problems import refusal

Needed = str | Sequence[str] | None
"""One role, several, or none."""

CLOCK_TOLERANCE = 300
"""How far [s] a claimed time may lie ahead of the clock of who verifies; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature as `verify` found it; what cannot be read of it is None."""

    file: str
    role: str | None
    name: str | None
    time: str | None
    key: str | None
    goods: str | None
    concession: str | None
    reasons: tuple[Finding, ...]

    @property
    def proven(self) -> bool:
        """Whether nothing stands against it."""
        return not self.reasons


@dataclass(frozen=True, slots=True)
class Verification:
    """What `verify` found: the record, its answer (None where it cannot be read), and each signature.

    reasons: what stands against the record as a whole; notes: what the answer does not rest on; said: what
    stands beside the answer, computed today (computed), or as the record has it where that cannot be;
    elsewhere: those of the notes that tell what other records say of it, and who signed copies of it;
    but_for: its page or its words, where another version of the program made them.
    """

    record: str
    sha256: str
    answer: str | None
    signatures: tuple[Signature, ...]
    reasons: tuple[Finding, ...]
    notes: tuple[str, ...]
    said: Record | None = None
    computed: bool = False
    elsewhere: tuple[str, ...] = ()
    but_for: tuple[str, ...] = ()

    @property
    def beside(self) -> Mapping[str, Any]:
        """What stands beside the answer, nothing where the record cannot be read."""
        return self.said.beside if self.said else {}

    @property
    def concession(self) -> str | None:
        """Number, authority and reason of the concession, None without one."""
        return (self.said.granted or None) if self.said else None

    @property
    def answer_today(self) -> str | None:
        """The answer computed today, None where it cannot be."""
        return self.said.answer if self.said and self.computed else None

    @property
    def released(self) -> bool:
        """Whether a proven signature releases it."""
        return any(signature.proven and signature.role == "released" for signature in self.signatures)

    @property
    def proven(self) -> bool:
        """Whether nothing stands against the record and each of its signatures."""
        return not self.reasons and all(signature.proven for signature in self.signatures)


def verify(
    record_path: Path,
    allowed_signers_path: Path,
    revoked_path: Path | None = None,
    need: Needed = None,
    now: str | None = None,
    page: PageMaker | None = None,
    *,
    recompute: Recompute,
) -> Verification:
    """Prove who signed a record in which role, and that nothing changed since.

    record_path: the record; allowed_signers_path: an OpenSSH allowed-signers file; revoked_path: an OpenSSH
    key revocation list or a list of public keys; need: roles that must be among the proven ones; now: like
    2026-11-20T09:30:00Z, left out: the clock's; recompute: judges the inputs of the record again and tells
    what differs; what the batch does not meet is taken from there, never from the record; page: makes the
    page of a record with some of the signatures beside it, and report.html beside the record is held against
    it.

    Raises Refused where the call or one of these files (not: a statement or signature) is wrong.
    """
    roles = needed_roles(need)
    try:
        at = int(clock.time()) if now is None else seconds(now)
    except Malformed as error:
        raise refusal("bad-call", "", "now", str(error), "a moment in UTC") from None
    signers = read_signers(allowed_signers_path, revoked_path)
    data = read_file(record_path, "record", MOST_TABLE)
    reasons: list[Finding] = []
    stated: Record | None = None
    try:
        stated = read_record(data)
    except Malformed as error:
        reasons.append(Finding("bad-record", f"the record is not as it was written: {error}"))
    again = rejudge(recompute, data) if stated is not None else Rejudged(())
    digest = sha256(data)
    copies = beside_copies(record_path, data)
    verification = proven(record_path, digest, stated, said_today(again), signers, roles, at, copies=copies)
    counts = partial(allowed, signers=signers, now=at)
    differs, page_notes, unknown_page = compare_page(record_path, data, page, again)
    others = [f"'{name}' replaces this record" for name in replacing(record_path, digest)]
    others += in_words(copies, find(record_path), counts)
    return replace(
        verification,
        reasons=(*reasons, *verification.reasons, *differs),
        notes=(*others, *again.notes, *verification.notes, *page_notes, *signers.notes),
        elsewhere=tuple(others),
        but_for=tuple(filter(None, (unknown_page, "words" if again.apart else ""))),
    )


def needed_roles(need: Needed) -> tuple[str, ...]:
    """The roles that must be signed, each once. Raises Refused where one is unknown."""
    given = [need] if isinstance(need, str) else need or ()
    try:
        return tuple(dict.fromkeys(map(checked_role, given)))
    except Malformed as error:
        raise refusal("bad-call", "", "--need", str(error), f"one of {', '.join(ROLES)}") from None


@dataclass(frozen=True, slots=True)
class Signers:
    """Who may sign, and which keys are revoked; notes: what was not looked at."""

    allowed: tuple[Entry, ...]
    revoked: Revoked
    notes: tuple[str, ...]


def read_signers(allowed_signers_path: Path, revoked_path: Path | None) -> Signers:
    """Read an allowed-signers file, and a list of revoked keys where there is one. Raises Refused."""
    data = read_file(allowed_signers_path, "allowed-signers file")
    allowed = read_allowed_signers(data, str(allowed_signers_path))
    if revoked_path is None:
        note = "no revocation file was given: a revoked key would not be noticed"
        return Signers(allowed, NOTHING_REVOKED, (note,))
    revoked = read_revoked(read_file(revoked_path, "revocation file"), str(revoked_path))
    return Signers(allowed, revoked, tuple(revoked.ignored))


def proven(
    record_path: Path,
    digest: str,
    stated: Record | None,
    today: Record | None,
    signers: Signers,
    roles: Collection[str],
    at: int,
    listed: Sequence[str] | None = None,
    copies: Sequence[CopySignature] = (),
) -> Verification:
    """Prove the signatures beside a record.

    digest: SHA-256 of its bytes; stated: what it says, None where it cannot be read; today: what is said of
    its inputs, None where that is not known; roles: that must be among the proven ones; at: the present [s
    since 1970 UTC]; listed: the sorted names in its folder, where many records are looked at; copies: what
    stands beside copies of the record, of which counts what is `allowed`.
    """
    matches = find(record_path, listed)
    whole = (match.statement for match in matches if not match.faults)
    current = any(statement is not None and statement.record == digest for statement in whole)
    by_name = {match.path.name: match for match in matches}
    of_copies = [row for row in copies if allowed(row[0], signers, at)]
    faults_of: dict[str, list[Finding]] = {}
    for match in matches:
        faults = [*match.faults, *other_record(match, digest, others_match=current)]
        faults += _not_allowed(match, signers, at, matches)
        faults += _not_as_before(record_path, match, by_name)
        faults += backdated(match.statement, matches) if match.statement else []
        faults_of[match.path.name] = faults
    judged: list[Signature] = []
    for match in matches:
        statement, faults = match.statement, list(faults_of[match.path.name])
        if statement is not None:
            others = [(other, "") for other in matches if other is not match]
            faults += conflicts(statement, match.key, statements_of([*others, *of_copies]))
            if statement.role == "released" and statement.record == digest:
                faults += _not_releasable(record_path, today, statement, faults_of)
            if today is not None and statement.record == digest:
                faults += too_early(statement, today)
        concession = statement.concession if statement else None
        made = Signature(match.path.name, concession=concession, reasons=tuple(faults), **match.stated)
        judged.append(made)
    judged.sort(key=lambda made: (made.time is None, made.time, made.file))
    signed = {signature.role for signature in judged if signature.proven}
    former = former_names(record_path, digest) if not judged and listed is None else []
    names = "".join(f"; its signatures want it named '{path.name}' again" for path in former)
    missing = [f"no proven signature in the role '{role}'" for role in roles if role not in signed]
    reasons = [] if judged else [Finding("unsigned", f"nobody signed this record{names}")]
    reasons += [Finding("role-missing", words) for words in missing]
    notes = ("times are as the signers claim them; no other clock confirms them",) if judged else ()
    answer, beside, computed = stated.answer if stated else None, today or stated, today is not None
    record, signatures = str(record_path), tuple(judged)
    return Verification(record, digest, answer, signatures, tuple(reasons), notes, beside, computed)


def said_today(again: Rejudged) -> Record | None:
    """What signing needs to know of what is said today; None where nothing is."""
    if again.content is None:
        return None
    try:
        return record_of(again.content)
    except Malformed:
        return None


def allowed(file: SignatureFile, signers: Signers, now: int) -> bool:
    """Whether a signature holds, and was made by somebody who may sign so; now: [s since 1970 UTC]."""
    return not file.faults and not any(_not_allowed(file, signers, now, ()))


def _not_allowed(
    file: SignatureFile, signers: Signers, now: int, there: Sequence[SignatureFile]
) -> Iterator[Finding]:
    statement = file.statement
    if file.key is not None and file.key in signers.revoked:
        yield Finding("revoked", f"the key {file.key.fingerprint} is revoked")
    if statement is None:
        return
    if statement.seconds > now + CLOCK_TOLERANCE:
        words = f"the claimed time {statement.time} lies ahead of the clock, {utc(now)}"
        yield Finding("time-ahead", words)
    if file.signed is not None:
        name, at, key, space = statement.name, statement.seconds, file.signed.key, file.signed.namespace
        reason = why_not(signers.allowed, name=name, key=key, namespace=space, at=at)
        if reason is not None:
            code, words = reason
            yield Finding(code, words + (way_out(file, there) if code == "unknown-signer" else ""))


def _not_as_before(record: Path, file: SignatureFile, by_name: dict[str, SignatureFile]) -> Iterator[Finding]:
    """What differs between the signatures a statement lists and those that are there."""
    for listed in file.statement.earlier if file.statement else ():
        described = f"'{listed.role}' of '{listed.name}', which was there when this one was made,"
        there = by_name.get(statement_name(record, listed.role, listed.name))
        if there is None or there.data is None or there.armored is None:
            yield Finding("earlier-removed", f"the signature {described} is missing")
            continue
        digests = {"statement": sha256(there.data), "signature": sha256(there.armored)}
        for what in (what for what, digest in digests.items() if digest != getattr(listed, what)):
            yield Finding("earlier-changed", f"the {what} {described} was changed or replaced since")


def _not_releasable(
    record_path: Path, record: Record | None, statement: Statement, faults_of: dict[str, list[Finding]]
) -> Iterator[Finding]:
    if record is None:
        words = "what the batch does not meet is not known: the record cannot be computed again here"
        yield Finding("not-computed", words)
        return
    earlier = (listed for listed in statement.earlier if listed.role == "prepared")
    names = [statement_name(record_path, listed.role, listed.name) for listed in earlier]
    yield from release_faults(record, prepared=any(faults_of.get(name) == [] for name in names))
    if statement.concession != record.concession:
        words = "the concession in the record is not the one that was signed"
        yield Finding("other-concession", words)
