"""Quality's commands `sign` and `verify`: who said so, and proof that nothing changed since."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from laminate.show.page_words import chance, plain, several
from laminate.values.problems import Problem, Refused, refusal

from . import tables
from .answers import NO, print_json
from .options import argument, flag, option

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
    "remarks": "note",
    "chance_of_all": "chance that all limits are met",
    "correlations": "correlation",
}
_LEADING = ("what", "say", "specimen", "key")

_NO_KEY = (
    "ssh-keygen -t ed25519 -f KEY makes one, and "
    "'laminate sign --print-signer --role ROLE --name NAME --key KEY' "
    "prints its line for the allowed-signers file"
)
_RELEASE = "Release stays with the governing specification, local codes and authorized staff."
_RECORD = argument("RECORD", "record.json, as report wrote it")
_AMONG = "with released: other records to hold it against; default: those in folders beside it"


def sign(
    role: Annotated[str, option("ROLE", "prepared, reviewed, released or rejected")],
    name: Annotated[str, option("NAME", "of who signs, as the allowed-signers file has it")],
    record: Annotated[Path | None, _RECORD] = None,
    key: Annotated[Path | None, option("FILE", "private OpenSSH key of who signs")] = None,
    print_signer: Annotated[
        bool, flag("--print-signer", "sign nothing; print this role's line for the allowed-signers file")
    ] = False,
    goods: Annotated[str | None, option("TEXT", "with rejected: what becomes of the goods")] = None,
    among: Annotated[Path | None, option("FOLDER", _AMONG)] = None,
    passphrase_file: Annotated[
        Path | None, option("FILE", "holds the key's passphrase; asked for without it")
    ] = None,
    as_json: Annotated[bool, flag("--json", "the same as JSON")] = False,
) -> None:
    """Sign a record in a role.

    Writes a statement and its signature beside the record, never over a file. Nobody signs two roles of one
    record; released needs prepared and a record that conforms, or a concession that covers what does not.
    """
    from laminate.records import signature
    from laminate.records.signers_line import signer_line

    if key is None:
        raise refusal("missing", "", "--key", "nothing", "FILE (private OpenSSH key of who signs)", _NO_KEY)
    secret = _asked if passphrase_file is None else _first_line(passphrase_file)
    if print_signer:
        line = signer_line(role, name, key, secret)
        print_json({"line": line}) if as_json else print(line)
        return
    if record is None:
        raise refusal("missing", "", "RECORD", "nothing", "record.json, as report wrote it")
    try:
        done = signature.sign(record, role, name, key, secret, goods=goods, among=among)
    except signature.Rule as rule:
        if as_json:
            print_json({"signed": False, "reasons": [finding.as_json() for finding in rule.findings]})
        else:
            tables.paragraph("Not signed:", bold=True)
            _below(*(finding.words for finding in rule.findings))
        raise typer.Exit(NO) from None
    if as_json:
        print_json({"signed": True, **done.as_json()})
    else:
        _show_signed(done)


def extract(
    record: Annotated[Path, _RECORD],
    folder: Annotated[Path, argument("DIR", "new or empty: where the files are written")],
    as_json: Annotated[bool, flag("--json", "the written files as JSON")] = False,
) -> None:
    """Write the files inside a record to a folder.

    The record is not verified: 'laminate verify' does that.
    """
    from laminate.records.extracting import extract as written
    from laminate.records.files import read_file
    from laminate.records.inputs import Damaged
    from laminate.records.record import inputs_of
    from laminate.values.durable import MOST_TABLE

    try:
        files = inputs_of(read_file(record, "record", MOST_TABLE))
    except Damaged as fault:
        expected, file = "a record as 'laminate report --out' writes it", str(record)
        problems = [Problem("bad-record", file, "", words, expected) for words in fault.findings]
        raise Refused(problems) from None
    written_files = written(files, folder)
    if as_json:
        print_json(written_files.as_json())
        return
    count = several(len(written_files.files), "file")
    sentence = f"{count} written. To judge the batch: laminate report {written_files.batch}"
    tables.paragraph(plain(sentence), bold=True)
    _below(*(f"{role}: {path}" for path, role, _ in written_files.files))
    tables.paragraph("The record was not verified: 'laminate verify' does that.")


def verify(
    record: Annotated[Path, _RECORD],
    allowed_signers: Annotated[
        Path, option("FILE", "OpenSSH allowed-signers file: who may sign what, and when")
    ],
    revoked: Annotated[
        Path | None, option("FILE", "OpenSSH key revocation list, or a list of public keys")
    ] = None,
    need: Annotated[
        list[str] | None, option("ROLE", "that must be signed, for instance released; repeatable")
    ] = None,
    as_json: Annotated[bool, flag("--json", "the same as JSON")] = False,
) -> None:
    """Check who signed a record and that nothing changed since.

    The record is computed again from the files inside it, and report.html beside it is held against it. Says
    in words what differs. Exit status 0: all of it is proven; 1: it is not.
    """
    from laminate.records import signature
    from laminate.records.record import page_of, recompute

    verification = signature.verify(record, allowed_signers, revoked, need, recompute=recompute, page=page_of)
    if as_json:
        print_json(verification.as_json())
    else:
        _show_verified(verification)
    if not verification.proven:
        raise typer.Exit(NO)


def _asked() -> str:
    if not sys.stdin.isatty():
        hint = "name a file that holds it: --passphrase-file FILE"
        raise refusal("passphrase-needed", "", "--key", "a key with a passphrase", "the passphrase", hint)
    from getpass import getpass

    from .waiting import stop

    stop()
    try:
        return getpass("passphrase of the key: ", stream=sys.stderr)
    except EOFError:
        raise typer.Abort from None


def _first_line(path: Path) -> str:
    from laminate.records.files import read_file

    try:
        first = read_file(path, "passphrase").decode("utf-8").split("\n", 1)[0].removesuffix("\r")
    except UnicodeDecodeError:
        first = ""
    if not first:
        actual, expected = "no text in the first line", "a passphrase, in UTF-8"
        raise Refused(Problem("bad-passphrase", str(path), "", actual, expected))
    return first


def _show_signed(done: Signed) -> None:
    sentence = f"Signed as {done.role} by {done.name}, at {done.time} by the clock of this machine."
    tables.paragraph(plain(sentence), bold=True)
    _below(
        f"record SHA-256: {done.record}",
        f"key: {done.key}",
        f"statement: {done.statement}",
        f"signature: {done.signature}",
        f"the record's answer: {done.answer}",
        *_beside(done.beside),
        *([f"under {done.concession}"] if done.concession else ()),
    )
    for note in done.notes:
        tables.paragraph(plain(f"Note: {note}."))
    if done.role == "released":
        tables.paragraph(_RELEASE)


def _below(*sentences: str) -> None:
    for sentence in sentences:
        tables.paragraph(plain(sentence), indent=2)


def _show_verified(verification: Verification) -> None:
    answer, today = verification.answer, verification.answer_today
    by = [
        f"{signature.role} by {signature.name}" for signature in verification.signatures if signature.proven
    ]
    sentence = f"{verification.record}, {answer or 'answer not read'}; "
    sentence += "; ".join(by) or "no signature is proven"
    first = plain(f"{'Proven' if verification.proven else 'NOT PROVEN'}: {sentence}.")
    tables.paragraph(first, bold=True)
    _below(*(reason.words for reason in verification.reasons))
    _below(f"record SHA-256: {verification.sha256}", f"the record's answer: {answer or 'cannot be read'}")
    if today != answer:
        _below(f"the answer computed today: {today or 'none, it cannot be computed again here'}")
    if verification.said is not None:
        _below(*_beside(verification.said.beside))
    if verification.concession:
        under = "released under" if verification.released else "not released; the record has"
        _below(f"{under} {verification.concession}")
    if verification.signatures:
        print()
        columns = ("name", "role", "time claimed (UTC)", "key", "verdict")
        tables.table(columns, [_row(signature) for signature in verification.signatures])
    for signature in verification.signatures:
        _below(*(f"{signature.file}: {reason.words}" for reason in signature.reasons))
        if signature.goods is not None:
            _below(f"what becomes of the goods, says {signature.name}: {signature.goods}")
    print()
    for note in verification.notes:
        tables.paragraph(plain(f"Note: {note}."))
    tables.paragraph(_RELEASE)
    tables.paragraph(first, bold=True)


def _beside(beside: Mapping[str, Any]) -> Iterator[str]:
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
                yield f"{words} of {pair} in {row['zone']}: {row['value']:.2f}"
            else:
                text = chance(row) if key == "chance_of_all" else _said(row)
                yield f"{words}: {text}"


def _said(row: Any) -> str:
    """A row of the record on one line: what has a value, the text that leads it without its key."""
    if isinstance(row, list):
        return ", ".join(map(_said, row))
    if isinstance(row, float):
        return f"{row:.4g}"
    if not isinstance(row, Mapping):
        return str(row)
    lead = [str(row[key]) for key in _LEADING if row.get(key)]
    rest = [
        f"{key.replace('_', ' ')} {_said(value)}"
        for key, value in row.items()
        if key not in (*_LEADING, "rule", "concession") and value not in (None, "", [], {})
    ]
    return "; ".join([*lead, *rest])


def _row(signature: Signature) -> tuple[str, ...]:
    cells = (signature.name, signature.role, signature.time, signature.key)
    return (*(text or "?" for text in cells), "proven" if signature.proven else "not proven")
