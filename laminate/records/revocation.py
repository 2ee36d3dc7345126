"""Revoked keys: an OpenSSH key revocation list (PROTOCOL.krl) or a plain list of public keys."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from laminate.records.sshsig import Fields, PublicKey, Unsound, key_from_text, read_lines
from laminate.values.problems import refusal

MAGIC = b"SSHKRL\n\0"
_CERTIFICATES, _KEYS, _SHA1, _SIGNATURE, _SHA256, _EXTENSION = 1, 2, 3, 4, 5, 255


_BYTES = {_KEYS: None, _SHA1: 20, _SHA256: 32}
"""How a section lists keys: in wire form, or by digests of it of so many bytes."""


@dataclass(frozen=True, slots=True)
class Revoked:
    """Revoked keys, by wire form and by digest of it for each kind of section, and what was not used."""

    listed: Mapping[int, Collection[bytes]]
    ignored: tuple[str, ...] = ()

    def __contains__(self, key: PublicKey) -> bool:
        sha1, sha256 = hashlib.sha1(key.blob, usedforsecurity=False), hashlib.sha256(key.blob)
        forms = {_KEYS: key.blob, _SHA1: sha1.digest(), _SHA256: sha256.digest()}
        return any(form in self.listed.get(kind, ()) for kind, form in forms.items())


NOTHING_REVOKED = Revoked({})


def read_revoked(data: bytes, file: str) -> Revoked:
    """Read a revocation file; what cannot be read is refused: it might revoke the key asked about.

    data: the bytes of the file; file: its name for messages. Raises Refused.
    """
    if not data.startswith(MAGIC):
        keys = read_lines("bad-revoked-line", data, _listed_key, file, "a public key or a comment")
        return Revoked({_KEYS: set(keys)})
    try:
        return _revocation_list(Fields(data[len(MAGIC) :]))
    except Unsound as error:
        raise refusal("bad-revocation-list", file, "", str(error), "an OpenSSH key revocation list") from None


def _listed_key(_: int, text: bytes) -> bytes:
    return key_from_text(text).blob


def _revocation_list(fields: Fields) -> Revoked:
    if (version := fields.number()) != 1:
        raise Unsound(f"its format version is {version}, and 1 is known")
    _version, _generated, flags = fields.number(8), fields.number(8), fields.number(8)
    _reserved, _comment = fields.string(), fields.string()
    if flags:
        raise Unsound("it has flags, and none are known")
    revoked_by_kind: dict[int, set[bytes]] = {kind: set() for kind in _BYTES}
    ignored: list[str] = []
    while fields.left:
        kind, section = fields.number(1), Fields(fields.string())
        if kind in revoked_by_kind:
            revoked_by_kind[kind].update(_list(section, _BYTES[kind]))
        elif kind == _CERTIFICATES:
            _certificates(section)
            ignored.append("a section on certificates, which sign nothing here, was not used")
        elif kind == _EXTENSION:
            ignored.append(_extension(section))
        elif kind == _SIGNATURE:
            raise Unsound("it is signed itself, and that is not checked here")
        else:
            raise Unsound(f"its section of the kind {kind} is not known")
    return Revoked(revoked_by_kind, tuple(ignored))


def _list(section: Fields, size: int | None) -> list[bytes]:
    members: list[bytes] = []
    while section.left:
        members.append(section.string())
        if size is not None and len(members[-1]) != size:
            raise Unsound(f"a digest in it has {len(members[-1])} bytes instead of {size}")
        if size is None:
            Fields(members[-1]).string()
    if not members:
        raise Unsound("a section of it is empty")
    if size is not None and members != sorted(members):
        raise Unsound("digests in it are not in rising order")
    return members


def _certificates(section: Fields) -> None:
    _authority, _reserved = section.string(), section.string()
    while section.left:
        section.number(1)
        section.string()


def _extension(section: Fields) -> str:
    name, critical, _content = section.string(), section.number(1), section.string()
    section.end()
    shown_name = name.decode("utf-8", "backslashreplace")
    if critical:
        raise Unsound(f"its extension '{shown_name}' must be understood, and is not")
    return f"the extension '{shown_name}' was not used"
