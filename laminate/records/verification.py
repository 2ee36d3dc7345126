"""Proving who signed a record in which role, and that nothing changed since."""

from __future__ import annotations

import time as clock
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from laminate.records.allowed_signers import Entry, read_allowed_signers, utc, why_not
from laminate.records.differences import Recompute, Rejudged, rejudge
from laminate.records.files import Found, backdated, find, other_record, read_file
from laminate.records.page_beside import PageMaker, compare_page
from laminate.records.revocation import NOTHING_REVOKED, Revoked, read_revoked
from laminate.records.rules import (
    BESIDE,
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

    def as_json(self) -> dict[str, object]:
        """The signature with stable keys."""
        return {
            "file": self.file,
            "role": self.role,
            "name": self.name,
            "time_claimed": self.time,
            "key": self.key,
            "goods": self.goods,
            "concession_sha256": self.concession,
            "verdict": "proven" if self.proven else "not proven",
            "reasons": [reason.as_json() for reason in self.reasons],
        }


@dataclass(frozen=True, slots=True)
class Verification:
    """What `verify` found: the record, its answer (None where it cannot be read), and each signature.

    reasons: what stands against the record as a whole; notes: what the answer does not rest on; said: what
    stands beside the answer, computed today (computed), or as the record has it where that cannot be.
    """

    record: str
    sha256: str
    answer: str | None
    signatures: tuple[Signature, ...]
    reasons: tuple[Finding, ...]
    notes: tuple[str, ...]
    said: Record | None = None
    computed: bool = False

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

    def as_json(self) -> dict[str, object]:
        """The answer with stable keys."""
        return {
            "record": self.record,
            "record_sha256": self.sha256,
            "answer": self.answer,
            "answer_today": self.answer_today,
            **(self.said.beside if self.said else dict.fromkeys(BESIDE)),
            "concession": self.concession,
            "proven": self.proven,
            "reasons": [reason.as_json() for reason in self.reasons],
            "signatures": [signature.as_json() for signature in self.signatures],
            "notes": list(self.notes),
        }


def verify(
    record_path: Path,
    allowed_signers_path: Path,
    revoked_path: Path | None = None,
    need: str | None = None,
    now: str | None = None,
    page: PageMaker | None = None,
    *,
    recompute: Recompute,
) -> Verification:
    """Prove who signed a record in which role, and that nothing changed since.

    record_path: the record; allowed_signers_path: an OpenSSH allowed-signers file; revoked_path: an OpenSSH
    key revocation list or a list of public keys; need: a role that must be among the proven ones; now: like
    2026-11-20T09:30:00Z, left out: the clock's; recompute: judges the inputs of the record again and tells
    what differs; what the batch does not meet is taken from there, never from the record; page: makes the
    page of a record with some of the signatures beside it, None where it cannot, and report.html beside the
    record is held against it.

    Raises Refused where the call or one of these files (not: a statement or signature) is wrong.
    """
    try:
        role = None if need is None else checked_role(need)
    except Malformed as error:
        raise refusal("bad-call", "", "--need", str(error), f"one of {', '.join(ROLES)}") from None
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
    verification = proven(record_path, sha256(data), stated, _today(again), signers, role, at)
    sound = verification.computed and not again.findings
    against, told = compare_page(record_path, data, page if sound else None)
    differs = [Finding("recomputed-differs", words) for words in again.findings]
    return replace(
        verification,
        reasons=(*reasons, *verification.reasons, *differs, *against),
        notes=(*again.notes, *verification.notes, *told, *signers.notes),
    )


@dataclass(frozen=True, slots=True)
class Signers:
    """Who may sign, and which keys are revoked; notes: what was not looked at."""

    allowed: tuple[Entry, ...]
    revoked: Revoked
    notes: tuple[str, ...]


def read_signers(allowed_signers_path: Path, revoked_path: Path | None) -> Signers:
    """Read an allowed-signers file, and a list of revoked keys where there is one. Raises Refused."""
    allowed = read_allowed_signers(
        read_file(allowed_signers_path, "allowed-signers file"), str(allowed_signers_path)
    )
    if revoked_path is None:
        told = "no revocation file was given: a revoked key would not be noticed"
        return Signers(allowed, NOTHING_REVOKED, (told,))
    revoked = read_revoked(read_file(revoked_path, "revocation file"), str(revoked_path))
    return Signers(allowed, revoked, tuple(revoked.ignored))


def proven(
    record_path: Path,
    digest: str,
    stated: Record | None,
    today: Record | None,
    signers: Signers,
    role: str | None,
    at: int,
    listed: Sequence[str] | None = None,
) -> Verification:
    """Prove the signatures beside a record.

    digest: SHA-256 of its bytes; stated: what it says, None where it cannot be read; today: what is said of
    its inputs, None where that is not known; role: that must be among the proven ones; at: the present [s
    since 1970 UTC]; listed: the sorted names in its folder, where many records are looked at.
    """
    files = find(record_path, listed)
    signatures = _judged(record_path, today, digest, files, signers.allowed, signers.revoked, at)
    signatures.sort(key=lambda one: (one.time is None, one.time, one.file))
    reasons: list[Finding] = []
    if not signatures:
        reasons.append(Finding("unsigned", "nobody signed this record"))
    if role is not None and not any(signature.proven and signature.role == role for signature in signatures):
        reasons.append(Finding("role-missing", f"no proven signature in the role '{role}'"))
    told = "times are as the signers claim them; no other clock confirms them"
    return Verification(
        str(record_path),
        digest,
        stated.answer if stated else None,
        tuple(signatures),
        tuple(reasons),
        (told,) if signatures else (),
        today or stated,
        today is not None,
    )


def _today(again: Rejudged) -> Record | None:
    """What signing needs to know of what is said today; None where nothing is."""
    if again.content is None:
        return None
    try:
        return record_of(again.content)
    except Malformed:
        return None


def _judged(
    record_path: Path,
    record: Record | None,
    digest: str,
    matches: Sequence[Found],
    allowed: Sequence[Entry],
    revoked: Revoked,
    now: int,
) -> list[Signature]:
    current = any(
        not match.faults and match.statement and match.statement.record == digest for match in matches
    )
    by_name = {match.path.name: match for match in matches}
    alone: dict[str, list[Finding]] = {}
    for match in matches:
        faults = [*match.faults, *other_record(match, digest, others_match=current)]
        faults += _not_allowed(match, allowed, revoked, now)
        faults += _not_as_before(record_path, match, by_name)
        faults += backdated(match.statement, matches) if match.statement else []
        alone[match.path.name] = faults
    together: list[Signature] = []
    for match in matches:
        faults = list(alone[match.path.name])
        if match.statement is not None:
            others = [
                (other.statement, other.signed.key if other.signed else None)
                for other in matches
                if other is not match and other.statement is not None
            ]
            faults += conflicts(match.statement, match.signed.key if match.signed else None, others)
            if match.statement.role == "released" and match.statement.record == digest:
                faults += _not_releasable(record_path, record, match.statement, alone)
            if record is not None and match.statement.record == digest:
                faults += too_early(match.statement, record)
        together.append(_signature(match, faults))
    return together


def _signature(file: Found, faults: Sequence[Finding]) -> Signature:
    said = file.statement
    return Signature(
        file=file.path.name,
        role=said.role if said else None,
        name=said.name if said else None,
        time=said.time if said else None,
        key=file.signed.key.fingerprint if file.signed else None,
        goods=said.goods if said else None,
        concession=said.concession if said else None,
        reasons=tuple(faults),
    )


def _not_allowed(file: Found, allowed: Sequence[Entry], revoked: Revoked, now: int) -> list[Finding]:
    findings: list[Finding] = []
    if file.signed is not None and file.signed.key in revoked:
        findings.append(Finding("revoked", f"the key {file.signed.key.fingerprint} is revoked"))
    if file.statement is None:
        return findings
    if file.statement.seconds > now + CLOCK_TOLERANCE:
        words = f"the claimed time {file.statement.time} lies ahead of the clock, {utc(now)}"
        findings.append(Finding("time-ahead", words))
    if file.signed is not None:
        reason = why_not(
            allowed,
            name=file.statement.name,
            key=file.signed.key,
            namespace=file.signed.namespace,
            at=file.statement.seconds,
        )
        if reason is not None:
            findings.append(Finding(*reason))
    return findings


def _not_as_before(record: Path, file: Found, by_name: dict[str, Found]) -> list[Finding]:
    """What differs between the signatures a statement lists and those that are there."""
    findings: list[Finding] = []
    for listed in file.statement.earlier if file.statement else ():
        told = f"'{listed.role}' of '{listed.name}', which was there when this one was made,"
        there = by_name.get(statement_name(record, listed.role, listed.name))
        if there is None or there.data is None or there.armored is None:
            findings.append(Finding("earlier-removed", f"the signature {told} is missing"))
            continue
        if sha256(there.data) != listed.statement:
            findings.append(Finding("earlier-changed", f"the statement {told} was changed or replaced since"))
        if sha256(there.armored) != listed.signature:
            findings.append(Finding("earlier-changed", f"the signature {told} was changed or replaced since"))
    return findings


def _not_releasable(
    record_path: Path, record: Record | None, statement: Statement, alone: dict[str, list[Finding]]
) -> list[Finding]:
    if record is None:
        words = "what the batch does not meet is not known: the record cannot be computed again here"
        return [Finding("not-computed", words)]
    prepared = any(
        listed.role == "prepared" and alone.get(statement_name(record_path, listed.role, listed.name)) == []
        for listed in statement.earlier
    )
    findings = release_faults(record, prepared=prepared)
    if statement.concession != record.concession:
        words = "the concession in the record is not the one that was signed"
        findings.append(Finding("other-concession", words))
    return findings
