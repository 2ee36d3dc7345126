"""Quality's commands `sign` and `verify`: who said so, and proof that nothing changed since."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from laminate.show.blocks import Sentence, items
from laminate.show.page_words import several
from laminate.show.signed_words import signed_document
from laminate.values.problems import Problem, Refused, refusal

from .answers import NO, print_done, print_json
from .command_options import command
from .options import argument, flag, option

if TYPE_CHECKING:
    from laminate.front.answer import Answer

_NO_KEY = (
    "ssh-keygen -t ed25519 -f KEY makes one, and "
    "'laminate sign --print-signer --role ROLE --name NAME --key KEY' "
    "prints its line for the allowed-signers file"
)
_RECORD = argument("RECORD", "record.json, as report wrote it")
_AMONG = "more records to compare it with than those in folders beside it"


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
    from laminate.records.record import page_of, recompute
    from laminate.records.signers_line import signer_line
    from laminate.show.sign_json import ANSWER

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
        done = signature.sign(
            record, role, name, key, secret, None, goods, among, page_of, recompute=recompute
        )
    except signature.NotAllowed as rule:
        first = Sentence("Not signed:", strong=True)
        print_done(
            ANSWER.json(rule), [first, *items(finding.words for finding in rule.findings)], as_json=as_json
        )
        raise typer.Exit(NO) from None
    print_done(ANSWER.json(done), signed_document(done).screen(), as_json=as_json)


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
    from laminate.show.extract_json import ANSWER
    from laminate.values.durable import MOST_TABLE

    try:
        files = inputs_of(read_file(record, "record", MOST_TABLE))
    except Damaged as fault:
        expected, file = "a record as 'laminate report --out' writes it", str(record)
        raise Refused(Problem("bad-record", file, "", words, expected) for words in fault.findings) from None
    written_files = written(files, folder)
    count = several(len(written_files.files), "file")
    sentence = f"{count} written. To judge the batch: laminate report {written_files.batch}"
    listed = items(f"{role}: {path}" for path, role, _ in written_files.files)
    last = Sentence("The record was not verified: 'laminate verify' does that.")
    first = Sentence(sentence, strong=True)
    print_done(ANSWER.json(written_files), [first, *listed, last], as_json=as_json)


@command(how="", as_json="the same as JSON")
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
) -> Answer:
    """Check who signed a record and that nothing changed since.

    The record is computed again from the files inside it, and report.html beside it is held against it. Says
    in words what differs. Exit status 0: all of it is proven; 1: it is not.
    """
    from laminate.front.batch_calls import verified

    return verified(record, allowed_signers, revoked, need)


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
