"""Signatures, keys and statements made by hand that a careless reader would take."""

from __future__ import annotations

import base64
import hashlib
import json
import struct
from pathlib import Path

import pytest

from laminate.records.allowed_signers import read_allowed_signers
from laminate.records.revocation import MAGIC, read_revoked
from laminate.records.sshsig import Unsound, private_key, public_key, read
from laminate.records.statement import Malformed, read_statement
from laminate.values.canonical import canonical
from laminate.values.problems import Refused
from tests.messages.wording import says

from .conftest import Shop, make_key, public

DATA = b"what is signed"


def text(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def crafted(
    key: Path,
    algorithm: bytes,
    *,
    magic: bytes = b"SSHSIG",
    version: int = 1,
    reserved: bytes = b"",
    hashed: bytes = b"sha512",
    after: bytes = b"",
) -> bytes:
    """A signature after PROTOCOL.sshsig whose cryptography holds, whatever its fields say."""
    signer = private_key(key)
    digest = hashlib.new(hashed.decode(), DATA).digest()
    signed = b"SSHSIG" + text(b"space") + text(reserved) + text(hashed) + text(digest)
    blob = magic + struct.pack(">I", version) + text(signer.public_data) + text(b"space")
    blob += text(reserved) + text(hashed) + text(signer.sign(signed, algorithm)) + after
    return b"-----BEGIN SSH SIGNATURE-----\n" + base64.b64encode(blob) + b"\n-----END SSH SIGNATURE-----\n"


@pytest.fixture(scope="session")
def rsa(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_key(tmp_path_factory.mktemp("rsa") / "rsa", "rsa", bits="2048")


def test_the_craft_itself_makes_signatures_that_hold(keys: dict[str, Path], rsa: Path) -> None:
    for key, algorithm in ((keys["ann"], b"ssh-ed25519"), (rsa, b"rsa-sha2-512"), (rsa, b"rsa-sha2-256")):
        for hashed in (b"sha512", b"sha256"):
            made = crafted(key, algorithm, hashed=hashed)
            assert read(made).namespace == "space"
            assert read(made).holds(DATA)
            assert not read(made).holds(DATA + b".")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"magic": b"SSHSIH"}, "does not begin"),
        ({"version": 2}, "format version is 2"),
        ({"reserved": b"x"}, "reserved field"),
        ({"hashed": b"sha1"}, "hash 'sha1'"),
        ({"hashed": b"sha384"}, "hash 'sha384'"),
        ({"after": b"\0"}, "bytes after its end"),
    ],
)
def test_other_forms_are_refused(keys: dict[str, Path], changes: dict[str, bytes], told: str) -> None:
    with pytest.raises(Unsound, match=told):
        read(crafted(keys["ann"], b"ssh-ed25519", **changes))  # type: ignore[arg-type]


def test_rsa_with_sha_1_is_refused_although_it_holds(rsa: Path) -> None:
    with pytest.raises(Unsound, match="algorithm 'ssh-rsa' is not accepted"):
        read(crafted(rsa, b"ssh-rsa"))


def test_one_key_has_one_form(rsa: Path) -> None:
    """The same RSA key with a needless zero before its modulus would be another key to a careless reader."""
    blob = base64.b64decode(public(rsa).split()[1])
    assert public_key(blob).blob == blob
    head, modulus = blob[:-257], blob[-257:]
    padded = head[:-4] + text(b"\0" + modulus)
    with pytest.raises(Unsound, match="proper form"):
        public_key(padded)
    for bad in (blob + b"\0", blob[:-1], b"", b"\0\0\0\7ssh-rsa"):
        with pytest.raises(Unsound):
            public_key(bad)


def test_a_quote_in_an_option(keys: dict[str, Path]) -> None:
    line = f'Ann namespaces="a\\"b,c" {public(keys["ann"])}'
    assert read_allowed_signers(line.encode(), "allowed")[0].namespaces == b'a"b,c'
    for options in ('namespaces="a"b"', 'namespaces="a\\"', '"namespaces"="a"'):
        with pytest.raises(Refused):
            read_allowed_signers(f"Ann {options} {public(keys['ann'])}".encode(), "allowed")


def test_an_extension_with_more_than_it_should_have() -> None:
    header = MAGIC + struct.pack(">IQQQ", 1, 7, 0, 0) + text(b"") + text(b"")
    extension = text(b"new") + b"\0" + text(b"") + b"more"
    with pytest.raises(Refused) as caught:
        read_revoked(header + b"\xff" + text(extension), "revoked")
    assert says("signature: an extension with more than it should", str(caught.value))


def test_earlier_signatures_stand_once_and_in_order(signed: Shop) -> None:
    content = json.loads(signed.statement("eve").read_bytes())
    first, second = content["earlier"]
    assert len(read_statement(canonical(content)).earlier) == 2
    for earlier in ([second, first], [first, first, second]):
        with pytest.raises(Malformed, match="order"):
            read_statement(canonical({**content, "earlier": earlier}))
