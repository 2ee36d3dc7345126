"""What `sign` has signed and what `verify` has proven, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.blocks import Block, Grid, Sentence, items, sentences
from laminate.show.document import Document
from laminate.show.page_words import chance
from laminate.values.said import fixed, with_size

if TYPE_CHECKING:
    from laminate.records.signature import Signature, Signed, Verification

_BESIDE = {
    "covers": "it covers",
    "held_back": "held back",
    "not_judged": "note",
    "exclusions": "excluded",
    "retests": "retested",
    "with_every_specimen": "with every specimen the answer would be",
    "accepted": "doubt accepted",
    "corrections": "corrected",
    "declared": "declared",
    "replaces": "amended, it replaces",
    "remarks": "note",
    "chance_of_all": "chance that all limits are met",
    "correlations": "correlation",
}
_LEADING = ("what", "say", "specimen", "key")
RELEASE = "Release stays with the governing specification, local codes and authorized staff."


def signed_document(done: Signed) -> Document:
    """What was signed, and what the record says."""
    signed = f"Signed as {done.role} by {done.name}, at {done.time} by the clock of this machine. "
    first = Sentence(f"{signed}Answer: {_answer(done.answer, done.answer_today)}.", strong=True)
    under = [f"under {done.concession}"] if done.concession else []
    files = [f"{name}: {getattr(done, name)}" for name in ("key", "statement", "signature")]
    lines = items([*beside_lines(done.beside), *under, f"record SHA-256: {done.record}", *files])
    notes = sentences(f"Note: {note}." for note in done.notes)
    blocks = [first, *notes, *lines, *sentences([RELEASE if done.role == "released" else ""])]
    return Document("Signed record", "", lambda: blocks, blocks)


def _answer(stated: str | None, today: str | None) -> str:
    """The answer that is computed today, and what the record says where that is another."""
    if stated is None or stated == today:
        return stated or "answer not read"
    return f"{f'{today}, computed' if today else 'not computed'} today (the record says {stated})"


def verified_document(verification: Verification, units: str = "metric") -> Document:
    """Whether all of it is proven, by whom, and what stands against it; no figure of it has other units."""
    answer = _answer(verification.answer, verification.answer_today)
    by = [f"{signed.role} by {signed.name}" for signed in verification.signatures if signed.proven]
    proven = "Proven" if verification.proven else "NOT PROVEN"
    if verification.proven and verification.but_for:
        proven += f" but for {' and '.join(verification.but_for)}, of another version of the program"
    who = "; ".join(by) or "no signature is proven"
    first = Sentence(f"{proven}: {verification.record}, {answer}; {who}.", strong=True)
    blocks: list[Block] = [first, *items(_of_record(verification))]
    if verification.signatures:
        columns = ("name", "role", "time claimed (UTC)", "key", "verdict")
        blocks.append(Grid(columns, tuple(map(_row, verification.signatures))))
    for signature in verification.signatures:
        blocks += items(f"{signature.file}: {reason.words}" for reason in signature.reasons)
        if signature.goods is not None:
            blocks += items([f"what becomes of the goods, says {signature.name}: {signature.goods}"])
    rest = [note for note in verification.notes if note not in verification.elsewhere]
    blocks += sentences([*(f"Note: {note}." for note in rest), RELEASE])
    return Document("Verified record", "", lambda: blocks, [*blocks, first])


def _of_record(verification: Verification) -> Iterator[str]:
    """What stands against the record, and what it says itself."""
    yield from (reason.words for reason in verification.reasons)
    yield from verification.elsewhere
    yield f"record SHA-256: {verification.sha256}"
    yield from beside_lines(verification.beside)
    if verification.concession:
        under = "released under" if verification.released else "not released; the record has"
        yield f"{under} {verification.concession}"


def beside_lines(beside: Mapping[str, Any]) -> Iterator[str]:
    """What is said wherever the answer of a record is, a line each."""
    for key, words in _BESIDE.items():
        rows = beside.get(key) or []
        for row in rows if isinstance(rows, list) else [rows]:
            if key == "covers" and row.get("text"):
                yield row["text"]
            elif key == "with_every_specimen":
                yield f"{words}: {row['answer']}"
            elif key == "correlations":
                pair = " and ".join(name.replace("_", " ") for name in row["of"])
                yield f"{words} of {pair} in {row['zone']}: {fixed(row['value'], 2)}"
            else:
                yield f"{words}: {chance(row) if key == 'chance_of_all' else _said(row)}"


def _said(row: Any) -> str:
    """A row of the record on one line: what has a value, the text that leads it without its key."""
    if isinstance(row, list):
        return ", ".join(map(_said, row))
    if isinstance(row, float):
        return with_size(row, None)
    if not isinstance(row, Mapping):
        return str(row)
    lead = [str(row[key]) for key in _LEADING if row.get(key)]
    others = [key for key in row if key not in (*_LEADING, "rule", "concession")]
    stated = [key for key in others if row[key] not in (None, "", [], {})]
    rest = [f"{key.replace('_', ' ')} {_said(row[key])}" for key in stated]
    return "; ".join([*lead, *rest])


def _row(signature: Signature) -> tuple[str, ...]:
    cells = (signature.name, signature.role, signature.time, signature.key)
    return (*(text or "?" for text in cells), "proven" if signature.proven else "not proven")
