"""The line that lets a person sign in a role, for an allowed-signers file."""

from __future__ import annotations

import re
from pathlib import Path

from laminate.records.files import namespace, read_file
from laminate.records.sshsig import Passphrase, Unsound, key_from_text, private_key
from laminate.records.statement import checked_signer
from laminate.values.problems import Problem, refusal, refuse_all

_SPECIAL = re.compile(r'["*?!,]')


def signer_line(role: str, name: str, key_path: Path, passphrase: Passphrase = None) -> str:
    """A line of ssh-keygen(1), section ALLOWED SIGNERS: one name, one role, one key.

    key_path: a private key; its public half is read from the file with .pub beside it where there is one, so
    that no passphrase is asked for. What a pattern would take for more than itself in the name is written
    as ? (any one character). Raises Refused.
    """
    problems: list[Problem] = []
    name = checked_signer(role, name, problems)
    refuse_all(problems)
    kind, text = _public(key_path, passphrase)
    return f'"{_SPECIAL.sub("?", name)}" namespaces="{namespace(role)}" {kind} {text}'


def _public(path: Path, passphrase: Passphrase) -> tuple[str, str]:
    beside = path if path.suffix == ".pub" else path.with_name(f"{path.name}.pub")
    if beside.is_file():
        text = read_file(beside, "public key")
    else:
        text = private_key(path, passphrase).export_public_key("openssh")
    try:
        key_from_text(text)
    except Unsound as error:
        fault = f"no key that can be used ({error})"
        raise refusal("unusable-key", str(beside), "", fault, "an OpenSSH public key") from None
    kind, key, *_ = text.split()
    return kind.decode(), key.decode()
