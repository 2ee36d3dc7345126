"""OpenSSH keys and file signatures: the library signs and verifies, this file reads what a signature says.

Format: OpenSSH PROTOCOL.sshsig, sections 1 (armor), 2 (blob) and 3 (signed data).
"""

from __future__ import annotations

import base64
import binascii
import functools
import hashlib
import os
import re
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from laminate.values.durable import MOST_TEXT, read_regular
from laminate.values.problems import Problem, Refused, marked, refusal, refuse_all

if TYPE_CHECKING:
    from asyncssh import SSHKey

T = TypeVar("T")
Passphrase = str | Callable[[], str] | None
"""A passphrase, or a function that asks for it once it is known to be needed."""

KINDS = {
    b"ssh-ed25519": (b"ssh-ed25519",),
    b"ecdsa-sha2-nistp256": (b"ecdsa-sha2-nistp256",),
    b"ecdsa-sha2-nistp384": (b"ecdsa-sha2-nistp384",),
    b"ecdsa-sha2-nistp521": (b"ecdsa-sha2-nistp521",),
    b"ssh-rsa": (b"rsa-sha2-512", b"rsa-sha2-256"),
}
"""Kinds of key that may sign, each with its signature algorithms (RSA with SHA-1 is none of them)."""

RSA_BITS = 2048
"""Least RSA modulus: 112 bits of security (NIST SP 800-57 part 1 rev. 5, table 2)."""

_MAGIC = b"SSHSIG"
_BEGIN, _END = b"-----BEGIN SSH SIGNATURE-----", b"-----END SSH SIGNATURE-----"


class Unsound(ValueError):
    """Bytes that are no usable key or signature; says why in words."""


class Fields:
    """Reads the fields of a binary SSH structure (RFC 4251, section 5) and refuses what is cut short."""

    def __init__(self, data: bytes) -> None:
        self._data, self._at = data, 0

    def take(self, count: int) -> bytes:
        """The next count bytes."""
        if count > len(self._data) - self._at:
            raise Unsound("it is cut short")
        self._at += count
        return self._data[self._at - count : self._at]

    def number(self, size: int = 4) -> int:
        """The next unsigned number of size bytes, highest byte first."""
        return int.from_bytes(self.take(size), "big")

    def string(self) -> bytes:
        """The next string: a length of four bytes, then that many bytes."""
        return self.take(self.number())

    @property
    def left(self) -> bool:
        """Whether bytes are left to read."""
        return self._at < len(self._data)

    def end(self) -> None:
        """Refuse bytes after the last field."""
        if self.left:
            raise Unsound("it has bytes after its end")


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key: its wire form, which alone tells two keys apart, and words for people."""

    blob: bytes
    kind: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class FileSignature:
    """What an armored OpenSSH signature says of itself; `holds` tells whether it was made over some data.

    before: the signed bytes that stand before the digest of the data; signature: over both.
    """

    key: PublicKey
    namespace: str
    hash: str
    before: bytes
    signature: bytes

    def holds(self, data: bytes) -> bool:
        """Whether it was made over data with its key; who may use the key is not asked here."""
        digest = hashlib.new(self.hash, data).digest()
        try:
            return _opened(self.key.blob)[1].verify(self.before + _string(digest), self.signature)
        except ValueError:
            return False


def public_key(blob: bytes) -> PublicKey:
    """Read a public key from its wire form (RFC 4253, section 6.6).

    Raises Unsound where it is of another kind than `KINDS`, too short, or not in its one proper form.
    """
    return _opened(blob)[0]


@functools.lru_cache
def _opened(blob: bytes) -> tuple[PublicKey, SSHKey]:
    """A public key, and what verifies with it."""
    import asyncssh

    kind = Fields(blob).string()
    if kind not in KINDS:
        raise Unsound(f"keys of the kind '{_words(kind)}' are not accepted")
    line = kind + b" " + base64.b64encode(blob)
    try:
        key = asyncssh.import_public_key(line)
    except (asyncssh.KeyImportError, ValueError) as error:
        raise Unsound(f"the public key cannot be read ({error})") from None
    if key.public_data != blob:
        raise Unsound("the public key is not in its proper form")
    if kind == b"ssh-rsa" and (bits := getattr(key.pyca_key, "key_size", 0)) < RSA_BITS:
        raise Unsound(f"the RSA key has {bits} bits, fewer than {RSA_BITS}")
    return PublicKey(blob, kind.decode(), key.get_fingerprint()), key


def key_from_text(text: bytes) -> PublicKey:
    """Read a public key from the words it has in an OpenSSH file: its kind and its base64, then a remark."""
    words = text.split(maxsplit=2)
    if len(words) < 2:
        raise Unsound("no public key")
    blob = base64_bytes(words[1])
    if Fields(blob).string() != words[0]:
        raise Unsound("the kind of key written before the key is not the kind it is")
    return public_key(blob)


def read_lines(code: str, data: bytes, read: Callable[[int, bytes], T], file: str, expected: str) -> list[T]:
    """What is read of each line, by its number and text, that is neither empty nor a comment.

    Raises `Refused` with every line that cannot be used: none is passed over.
    """
    entries, problems = list[T](), list[Problem]()
    for number, line in enumerate(data.split(b"\n"), 1):
        text = line.removesuffix(b"\r").strip(b" \t")
        if not text.strip() or text.startswith(b"#"):
            continue
        try:
            entries.append(read(number, text))
        except Unsound as error:
            problems.append(bad_line(code, file, number, str(error), expected))
    refuse_all(problems)
    return entries


def bad_line(code: str, file: str, number: int, fault: str, expected: str, hint: str = "") -> Problem:
    """The finding about a line that cannot be used."""
    return Problem(code, file, f"line {number}", fault, expected, hint)


def private_key(path: Path, passphrase: Passphrase = None) -> SSHKey:
    """Read a private OpenSSH key; the passphrase is asked for only where the key has one.

    Raises Refused: no such file, one that others may read, no private key, or a wrong passphrase.
    """
    import asyncssh

    def refuse(code: str, found: str, expected: str, hint: str = "") -> Refused:
        return refusal(code, str(path), "", found, expected, hint)

    wanted = "a private OpenSSH key (ed25519, ecdsa or rsa)"
    try:
        data = read_regular(path, MOST_TEXT)
        mode = path.stat()
    except OSError as error:
        raise refuse("unreadable-key", f"no key that can be read ({error.strerror})", wanted) from None
    if re.match(rb"\s*(ssh-|ecdsa-|sk-|---- BEGIN SSH2 PUBLIC)", data):
        raise refuse("public-key", "a public key", wanted, "sign with the file without .pub")
    if os.name == "posix" and mode.st_uid == os.getuid() and stat.S_IMODE(mode.st_mode) & 0o077:
        open_key = f"a key that other people may read (mode {stat.S_IMODE(mode.st_mode):o})"
        raise refuse("open-key", open_key, "a key that its owner alone may read", f"chmod 600 {path}")
    try:
        key = _import(data, passphrase)
    except asyncssh.KeyEncryptionError:
        unfit = "a passphrase that does not open the key"
        raise refuse("wrong-passphrase", unfit, "its passphrase") from None
    except (asyncssh.KeyImportError, ValueError) as error:
        raise refuse("unreadable-key", f"no key that can be read ({error})", wanted) from None
    if key is None:
        raise refuse("passphrase-needed", "a key with a passphrase", "the passphrase")
    try:
        public_key(key.public_data)
    except Unsound as error:
        raise refuse("unusable-key", f"no key that can be used ({error})", wanted) from None
    return key


def _import(data: bytes, passphrase: Passphrase) -> SSHKey | None:
    """The private key, or None where it needs a passphrase and none is given."""
    import asyncssh

    try:
        return asyncssh.import_private_key(data)
    except asyncssh.KeyImportError as error:
        if "Passphrase must be specified" not in str(error):
            raise
    secret = passphrase() if callable(passphrase) else passphrase
    return None if secret is None else asyncssh.import_private_key(data, secret)


def make(key: SSHKey, data: bytes, namespace: str) -> bytes:
    """Sign data in a namespace, hashed with SHA-512; the answer is what a .sig file holds."""
    import asyncssh

    return asyncssh.create_sshsig(key, data, namespace=namespace, hash_name="sha512")


def read(armored: bytes) -> FileSignature:
    """Read what an armored signature says of itself.

    Raises Unsound, in words, where it is not exactly the armor, the blob and the algorithms of the format.
    """
    lines = armored.removesuffix(b"\n").split(b"\n")
    if len(lines) < 3 or lines[0] != _BEGIN or lines[-1] != _END:
        raise Unsound("it is not an armored OpenSSH signature")
    fields = Fields(base64_bytes(b"".join(lines[1:-1])))
    if fields.take(6) != _MAGIC:
        raise Unsound("it does not begin as an OpenSSH signature does")
    if (version := fields.number()) != 1:
        raise Unsound(f"its format version is {version}, and 1 is known")
    key = public_key(fields.string())
    namespace, reserved, hashed, signature = (fields.string() for _ in range(4))
    fields.end()
    if reserved:
        raise Unsound("its reserved field is not empty")
    if hashed not in (b"sha512", b"sha256"):
        raise Unsound(f"its hash '{_words(hashed)}' is not accepted")
    if (algorithm := Fields(signature).string()) not in KINDS[key.kind.encode()]:
        raise Unsound(f"its algorithm '{_words(algorithm)}' is not accepted")
    before = _MAGIC + _string(namespace) + _string(reserved) + _string(hashed)
    return FileSignature(key, _words(namespace), hashed.decode(), before, signature)


def _string(data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + data


def base64_bytes(text: bytes) -> bytes:
    """The bytes of a base64 text; raises Unsound where it is none, or not in its one proper form."""
    try:
        data = base64.b64decode(text, validate=True)
    except binascii.Error:
        raise Unsound("it is not base64 text") from None
    if base64.b64encode(data) != text:
        raise Unsound("its base64 text is not in its proper form")
    return data


def _words(data: bytes) -> str:
    return marked(data.decode("utf-8", "backslashreplace"))[:80]
