"""Who may sign what: the rules of signing and what they need to know of a record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from laminate.files.people import same_person
from laminate.files.raw_file import RawFile
from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.records.allowed_signers import utc
from laminate.records.sshsig import PublicKey
from laminate.records.statement import Malformed, Statement
from laminate.values.canonical import canonical, read_canonical, sha256
from laminate.values.days import days_in

FORMAT = 2
"""Of records that can be signed: the earlier one left out what holds a batch back."""

BESIDE = (
    "not_judged",
    "held_back",
    "covers",
    "exclusions",
    "with_every_specimen",
    "accepted",
    "corrections",
    "declared",
    "replaces",
    "remarks",
    "chance_of_all",
    "correlations",
)
"""Keys of a record that are said wherever its answer is."""

Claim = tuple[Statement, PublicKey | None, str]
"""A statement, its key, None where that is not known, and the copy of the record beside which it stands, ''
for the record itself.
"""

ANSWERS = (CONFORMS, FAILS, UNDECIDED)
_MOMENTS = ("batch.molded", "batch.measured", "specimens.*.time", "exclusions.*.approvals.*.date")


@dataclass(frozen=True, slots=True)
class Finding:
    """Why something is not allowed or not proven: a code for programs, a sentence for people."""

    code: str
    words: str


class NotAllowed(Exception):
    """A signature that the rules do not allow; carries every `Finding`."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings: tuple[Finding, ...] = tuple(findings)
        super().__init__("\n".join(finding.words for finding in self.findings))


@dataclass(frozen=True, slots=True)
class Record:
    """What signing needs to know of a record.

    answer: one of `ANSWERS`; judged: whether anything was held to limits; unmet: what does not conform or is
    undecided, by the name a concession uses: a characteristic or process reading as `name.zone` or `name`, an
    instrument or a core that leaves the batch undecided as `instrument.name` or `core.name`, a plan that is
    not met, where the concession names it, as `plan.zone`;
    covered: those that the concession names; concession: its SHA-256 in canonical form, None without one;
    granted: number, authority and reason of the concession in words, '' without one; earliest: the last day
    of molding and measuring, as YYYY-MM-DD, '' where neither is told; format: of the record; beside: by
    `BESIDE`, what stands beside the answer, and what a retest replaces.
    """

    answer: str
    judged: bool
    unmet: tuple[str, ...]
    covered: frozenset[str]
    concession: str | None
    granted: str = ""
    earliest: str = ""
    format: int = 0
    beside: Mapping[str, Any] = field(default_factory=dict)


def read_record(data: bytes) -> Record:
    """Read the answer, the characteristics and the concession of a record.

    Raises Malformed, in words, where the record is not canonical JSON or one of them is not in its form.
    """
    return record_of(read_content(data))


def read_content(data: bytes) -> Any:
    """The content of a record. Raises Malformed where it is not canonical JSON."""
    try:
        return read_canonical(data)
    except ValueError as error:
        raise Malformed(str(error)) from None


def record_of(content: object) -> Record:
    """What signing needs to know of the content of a record. Raises Malformed, in words."""
    if not isinstance(content, dict):
        raise Malformed("it is not an object")
    answer = content.get("answer")
    if answer not in ANSWERS:
        raise Malformed(f"its 'answer' is none of {', '.join(ANSWERS)}")
    if "characteristics" not in content:
        raise Malformed("it has no 'characteristics'")
    rows = [row for key in ("characteristics", "process") for row in _rows(content, key)]
    concession, covered = content.get("concession"), frozenset[str]()
    digest, granted = None, ""
    if concession is not None:
        covered, digest = _covered(concession), sha256(canonical(concession))
        granted = f"concession {concession['number']} of {concession['authority']} for "
        granted += f"{', '.join(concession['characteristics'])}: {concession['reason']}"
    held = [(*_held(row), _by_plan_alone(row)) for row in rows]
    unmet = [plan if plan in covered else name for name, decision, plan in held if decision != CONFORMS]
    unmet += [f"instrument.{name}" for name in _undecided(_rows(content, "instruments"), "name")]
    unmet += [f"core.{name}" for name in _undecided(_rows(content.get("batch"), "cores"), "core")]
    unmet += _held_back(content)
    written = content.get("format")
    number = written if type(written) is int else 0
    replaced = [row for row in _rows(content, "specimens") if row.get("replaced_by")]
    retests = [{key: row.get(key) for key in ("specimen", "replaced_by")} for row in replaced]
    beside = {**{key: content.get(key) for key in BESIDE}, "retests": retests}
    names, earliest = tuple(dict.fromkeys(unmet)), _last_day(content)
    return Record(answer, bool(held), names, covered, digest, granted, earliest, number, beside)


def _held_back(content: dict[str, Any]) -> Iterator[str]:
    """What holds the batch back, by the name that a concession uses, or in words where none may cover it."""
    for row in _rows(content, "held_back"):
        what, name, may = row.get("what"), row.get("name"), row.get("concession")
        if not isinstance(what, str) or not what:
            raise Malformed("one of the reasons that hold it back is not said")
        yield name if may is True and isinstance(name, str) and name else what


def _last_day(content: dict[str, Any]) -> str:
    """The last day on which the batch was molded or measured, or an exclusion approved; '' without any."""
    for row in _rows(content, "exclusions"):
        _rows(row, "approvals")
    moments = [place for pattern in _MOMENTS for place in RawFile(content, "").places(pattern)]
    days = [day for _, text in moments if isinstance(text, str) for day in days_in(text)]
    return str(max(days)) if days else ""


def _rows(content: Any, key: str) -> list[dict[str, Any]]:
    rows = content.get(key, []) if isinstance(content, dict) else []
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise Malformed(f"its '{key}' are not a list of objects")
    return rows


def _undecided(rows: list[dict[str, Any]], key: str) -> Iterator[str]:
    """The names, under a key, of what leaves the batch undecided."""
    for row in rows:
        name, why = row.get(key), row.get("undecided_because")
        if not (isinstance(name, str) and name and isinstance(why, str | None)):
            raise Malformed("one of its instruments or cores lacks a name")
        if why:
            yield name


def _held(row: dict[str, Any]) -> tuple[str, str]:
    name, zone, decision = row.get("name"), row.get("zone"), row.get("decision")
    if not (isinstance(name, str) and name and isinstance(decision, str) and isinstance(zone, str | None)):
        raise Malformed("one of its characteristics lacks a name, a zone or a decision")
    return (f"{name}.{zone}" if zone else name), decision


def _by_plan_alone(row: dict[str, Any]) -> str:
    """`plan.ZONE` of what is undecided for want of planned coupons or readings alone, else ''."""
    zone, result = row.get("zone"), row.get("result")
    if not zone or row.get("decision") != "undecided" or not isinstance(result, dict):
        return ""
    parts = [result.get(which) for which in ("individual", "average")]
    decided = [part.get("decision") for part in parts if isinstance(part, dict)]
    return f"plan.{zone}" if decided and set(decided) == {CONFORMS} else ""


def _covered(concession: Any) -> frozenset[str]:
    if not isinstance(concession, dict):
        raise Malformed("its 'concession' is not an object")
    for key in ("number", "authority", "reason"):
        if not isinstance(concession.get(key), str) or not concession[key].strip():
            raise Malformed(f"its concession has no '{key}'")
    names = concession.get("characteristics")
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise Malformed("its concession has no list of 'characteristics'")
    return frozenset(names)


def release_faults(record: Record, *, prepared: bool) -> Iterator[Finding]:
    """Why a record may not be released.

    prepared: whether a valid `prepared` signature was there before.
    """
    if not prepared:
        yield Finding("not-prepared", "'released' needs a valid 'prepared' signature before it")
    if record.answer == CONFORMS:
        return
    stands = f"the record's answer is '{record.answer}'"
    open_ones = ", ".join(name for name in record.unmet if name not in record.covered)
    if record.concession is None:
        words = f"{stands}, and it has no concession" + (f" for {open_ones}" if open_ones else "")
        yield Finding("not-conforming", words)
    elif open_ones:
        words = f"{stands}, and its concession does not cover {open_ones}"
        yield Finding("concession-too-narrow", words)
    elif not record.judged or not record.unmet:
        words = f"{stands}, for a reason that no concession can cover"
        yield Finding("concession-without-subject", words)


EASTERNMOST = 14 * 3600
"""How far ahead of UTC [s] a clock may be: Line Islands, Kiribati (tz database)."""


def too_early(statement: Statement, record: Record, ahead: int = EASTERNMOST) -> Iterator[Finding]:
    """That the day of the claimed time is before molding, measuring or an approval.

    ahead: how far ahead of UTC [s] the clock of the signer may have been.
    """
    if utc(statement.seconds + ahead)[:10] < record.earliest:
        words = f"the claimed time {statement.time} is before {record.earliest}, when the batch was last "
        words += "molded or measured, or an exclusion approved: are that date, this clock and its time "
        yield Finding("before-measuring", f"{words}zone right?")


def conflicts(statement: Statement, key: PublicKey | None, others: Iterable[Claim]) -> Iterator[Finding]:
    """Which other signatures of the same record stand against this one."""
    for other, other_key, copy in others:
        also = f"'{other.name}' signed as '{other.role}'"
        also += f" beside '{copy}', the same record" if copy else ""
        one_name = same_person(other.name) == same_person(statement.name)
        if one_name and other.role == statement.role:
            words = f"'{other.name}' has already signed this record as '{other.role}'"
            yield from () if copy else (Finding("signed-twice", words),)
        elif one_name:
            yield Finding("two-roles-one-name", f"{also}; nobody signs two roles of one record")
        if key is not None and other_key is not None and key.blob == other_key.blob and not one_name:
            words = f"{also} with the same key, {key.fingerprint}; a key stands for one person and one role"
            yield Finding("one-key-twice", words)
        if {statement.role, other.role} == {"released", "rejected"}:
            words = f"{also}; a record is released or rejected, not both"
            yield Finding("released-and-rejected", words)
