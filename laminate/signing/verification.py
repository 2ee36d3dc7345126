"""Proving who signed a record in which role, and that nothing changed since."""

from __future__ import annotations

import time as clock
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from laminate.canonical import sha256
from laminate.problems import Problem, Refused
from laminate.signing.allowed_signers import Entry, read_allowed_signers, utc, why_not
from laminate.signing.files import Found, backdated, find, other_record, read_file
from laminate.signing.page_beside import PageMaker, compare_page
from laminate.signing.revocation import NOTHING_REVOKED, Revoked, read_revoked
from laminate.signing.rules import Finding, Record, conflicts, read_record, release_faults
from laminate.signing.statement import ROLES, Malformed, Statement, checked_role, seconds, statement_name

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

    reasons: what stands against the record as a whole; notes: what the answer does not rest on; concession:
    of the record in words, None without one.
    """

    record: str
    sha256: str
    answer: str | None
    signatures: tuple[Signature, ...]
    reasons: tuple[Finding, ...]
    notes: tuple[str, ...]
    concession: str | None = None

    @property
    def released(self) -> bool:
        """Whether a proven signature releases it."""
        return any(one.proven and one.role == "released" for one in self.signatures)

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
    recompute: Callable[[bytes], list[str]] | None = None,
    page: PageMaker | None = None,
) -> Verification:
    """Prove who signed a record in which role, and that nothing changed since.

    record_path: the record; allowed_signers_path: an OpenSSH allowed-signers file; revoked_path: an OpenSSH
    key revocation list or a list of public keys; need: a role that must be among the proven ones; now: like
    2026-11-20T09:30:00Z, left out: the clock's; recompute: tells in words where the record, computed again
    from its embedded inputs, says something else; page: makes the page of a record with some of the
    signatures beside it, None where it cannot, and report.html beside the record is held against it.

    Raises Refused where the call or one of these files (not: a statement or signature) is wrong.
    """
    try:
        role = None if need is None else checked_role(need)
    except Malformed as error:
        raise Refused(Problem("bad-call", "", "--need", str(error), f"one of {', '.join(ROLES)}")) from None
    try:
        at = int(clock.time()) if now is None else seconds(now)
    except Malformed as error:
        raise Refused(Problem("bad-call", "", "now", str(error), "a moment in UTC")) from None
    data = read_file(record_path, "record")
    allowed = read_allowed_signers(
        read_file(allowed_signers_path, "allowed-signers file"), str(allowed_signers_path)
    )
    revoked = NOTHING_REVOKED
    if revoked_path is not None:
        revoked = read_revoked(read_file(revoked_path, "revocation file"), str(revoked_path))
    reasons: list[Finding] = []
    record: Record | None = None
    try:
        record = read_record(data)
    except Malformed as error:
        reasons.append(Finding("bad-record", f"the record is not as it was written: {error}"))
    found = find(record_path)
    signatures = _judged(record_path, record, sha256(data), found, allowed, revoked, at)
    signatures.sort(key=lambda one: (one.time is None, one.time, one.file))
    if not signatures:
        reasons.append(Finding("unsigned", "nobody signed this record"))
    if role is not None and not any(one.proven and one.role == role for one in signatures):
        reasons.append(Finding("role-missing", f"no proven signature in the role '{role}'"))
    if recompute is not None and record is not None:
        reasons += [Finding("recomputed-differs", words) for words in _differences(recompute, data)]
    notes = list(revoked.ignored)
    if revoked_path is None:
        notes.append("no revocation file was given: a revoked key would not be noticed")
    unsound = {"bad-record", "recomputed-differs"} & {reason.code for reason in reasons}
    sound = recompute is not None and not unsound
    against, told = compare_page(record_path, data, page if sound else None)
    reasons += against
    notes += told
    if recompute is None:
        notes.append("the record was not computed again from its inputs")
    if signatures:
        notes.append("times are as the signers claim them; no other clock confirms them")
    return Verification(
        str(record_path),
        sha256(data),
        record.answer if record else None,
        tuple(signatures),
        tuple(reasons),
        tuple(notes),
        record.granted or None if record else None,
    )


def _differences(recompute: Callable[[bytes], list[str]], data: bytes) -> list[str]:
    try:
        return recompute(data)
    except Refused as refusal:
        return [f"it cannot be computed again: {problem.sentence()}" for problem in refusal.problems]


def _judged(
    record_path: Path,
    record: Record | None,
    digest: str,
    found: Sequence[Found],
    allowed: Sequence[Entry],
    revoked: Revoked,
    now: int,
) -> list[Signature]:
    current = any(not one.faults and one.statement and one.statement.record == digest for one in found)
    by_name = {one.path.name: one for one in found}
    alone: dict[str, list[Finding]] = {}
    for one in found:
        faults = [*one.faults, *other_record(one, digest, others_match=current)]
        faults += _not_allowed(one, allowed, revoked, now)
        faults += _not_as_before(record_path, one, by_name)
        faults += backdated(one.statement, found) if one.statement else []
        alone[one.path.name] = faults
    together: list[Signature] = []
    for one in found:
        faults = list(alone[one.path.name])
        if one.statement is not None:
            others = [
                (other.statement, other.signed.key if other.signed else None)
                for other in found
                if other is not one and other.statement is not None
            ]
            faults += conflicts(one.statement, one.signed.key if one.signed else None, others)
            if record is not None and one.statement.role == "released" and one.statement.record == digest:
                faults += _not_releasable(record_path, record, one.statement, alone)
        together.append(_signature(one, faults))
    return together


def _signature(one: Found, faults: Sequence[Finding]) -> Signature:
    said = one.statement
    return Signature(
        file=one.path.name,
        role=said.role if said else None,
        name=said.name if said else None,
        time=said.time if said else None,
        key=one.signed.key.fingerprint if one.signed else None,
        goods=said.goods if said else None,
        concession=said.concession if said else None,
        reasons=tuple(faults),
    )


def _not_allowed(one: Found, allowed: Sequence[Entry], revoked: Revoked, now: int) -> list[Finding]:
    found: list[Finding] = []
    if one.signed is not None and one.signed.key in revoked:
        found.append(Finding("revoked", f"the key {one.signed.key.fingerprint} is revoked"))
    if one.statement is None:
        return found
    if one.statement.seconds > now + CLOCK_TOLERANCE:
        words = f"the claimed time {one.statement.time} lies ahead of the clock, {utc(now)}"
        found.append(Finding("time-ahead", words))
    if one.signed is not None:
        reason = why_not(
            allowed,
            name=one.statement.name,
            key=one.signed.key,
            namespace=one.signed.namespace,
            at=one.statement.seconds,
        )
        if reason is not None:
            found.append(Finding(*reason))
    return found


def _not_as_before(record: Path, one: Found, by_name: dict[str, Found]) -> list[Finding]:
    """What differs between the signatures a statement lists and those that are there."""
    found: list[Finding] = []
    for listed in one.statement.earlier if one.statement else ():
        told = f"'{listed.role}' of '{listed.name}', which was there when this one was made,"
        there = by_name.get(statement_name(record, listed.role, listed.name))
        if there is None or there.data is None or there.armored is None:
            found.append(Finding("earlier-removed", f"the signature {told} is missing"))
            continue
        if sha256(there.data) != listed.statement:
            found.append(Finding("earlier-changed", f"the statement {told} was changed or replaced since"))
        if sha256(there.armored) != listed.signature:
            found.append(Finding("earlier-changed", f"the signature {told} was changed or replaced since"))
    return found


def _not_releasable(
    record_path: Path, record: Record, statement: Statement, alone: dict[str, list[Finding]]
) -> list[Finding]:
    prepared = any(
        listed.role == "prepared" and alone.get(statement_name(record_path, listed.role, listed.name)) == []
        for listed in statement.earlier
    )
    found = release_faults(record, prepared=prepared)
    if statement.concession != record.concession:
        words = "the concession in the record is not the one that was signed"
        found.append(Finding("other-concession", words))
    return found
