"""Revoked keys, from lists that the system's ssh-keygen made and from lists that nobody should trust."""

from __future__ import annotations

import base64
import hashlib
import random
import struct
from pathlib import Path

import pytest

from laminate.records.revocation import MAGIC, read_revoked
from laminate.records.sshsig import PublicKey, public_key
from laminate.values.problems import Refused
from tests.messages.wording import worded

from .conftest import Shop, make_key, public, ssh_keygen


def wire(key: Path) -> bytes:
    return base64.b64decode(public(key).split()[1])


def read(key: Path) -> PublicKey:
    return public_key(wire(key))


def text(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def revocation_list(*sections: tuple[int, bytes], version: int = 1, flags: int = 0) -> bytes:
    """A list after PROTOCOL.krl, sections 1 to 5."""
    header = MAGIC + struct.pack(">IQQQ", version, 7, 0, flags) + text(b"") + text(b"a comment")
    return header + b"".join(bytes([kind]) + text(content) for kind, content in sections)


@pytest.mark.parametrize("how", ["key", "sha1", "sha256", "hash"])
def test_a_list_made_by_ssh_keygen(signed: Shop, how: str) -> None:
    bob, revoked = signed.keys["bob"], signed.folder / "revoked.krl"
    source = signed.folder / "source"
    fingerprint = ssh_keygen("-lf", f"{bob}.pub").stdout.split()[1].decode()
    source.write_text(
        f"hash: {fingerprint}\n" if how == "hash" else f"{how}: {public(bob)}\n", encoding="ascii"
    )
    ssh_keygen("-k", "-q", "-f", str(revoked), "-z", "3", str(source))
    assert revoked.read_bytes().startswith(MAGIC)
    assert signed.codes(revoked_path=revoked) == {"revoked"}
    for who, key in signed.keys.items():
        said = ssh_keygen("-Q", "-f", str(revoked), f"{key}.pub", wanted=None).returncode
        assert (read(key) in read_revoked(revoked.read_bytes(), "krl")) is (said != 0) is (who == "bob")


def test_many_keys_of_every_kind_in_one_list(tmp_path: Path, signed: Shop) -> None:
    kinds = [("ed25519", ""), ("ecdsa", "384"), ("rsa", "2048")]
    keys = [make_key(tmp_path / f"{kind}{n}", kind, bits=bits) for kind, bits in kinds for n in range(3)]
    source, revoked = tmp_path / "source", tmp_path / "revoked"
    ways = ("key", "sha1", "sha256")
    source.write_text("".join(f"{ways[n % 3]}: {public(key)}\n" for n, key in enumerate(keys)))
    ssh_keygen("-k", "-q", "-f", str(revoked), str(source))
    found = read_revoked(revoked.read_bytes(), "revoked")
    assert sum(map(len, found.listed.values())) == 9
    assert all(read(key) in found for key in keys)
    assert not any(read(key) in found for key in signed.keys.values())
    assert found.ignored == ()


def test_certificates_are_passed_over_and_that_is_said(tmp_path: Path, signed: Shop) -> None:
    source, revoked = tmp_path / "source", tmp_path / "revoked"
    source.write_text(f"serial: 4\nserial: 7-90\nid: someone\nsha256: {public(signed.keys['bob'])}\n")
    ssh_keygen("-k", "-q", "-f", str(revoked), "-s", f"{signed.keys['ann']}.pub", str(source))
    found = read_revoked(revoked.read_bytes(), "revoked")
    assert read(signed.keys["bob"]) in found
    assert read(signed.keys["ann"]) not in found
    assert len(found.ignored) >= 1
    assert "certificates" in found.ignored[0]
    assert set(found.ignored) <= set(signed.verify(revoked_path=revoked).notes)


def test_an_empty_list_revokes_nobody(tmp_path: Path, signed: Shop) -> None:
    revoked = tmp_path / "revoked"
    ssh_keygen("-k", "-q", "-f", str(revoked))
    assert not any(read_revoked(revoked.read_bytes(), "revoked").listed.values())
    assert signed.codes(revoked_path=revoked) == set()


@pytest.mark.parametrize("blank", [b"\r\r\n", b"\x0c\n", b" \t\n"])
def test_an_empty_line_of_a_plain_list_is_passed_over(signed: Shop, blank: bytes) -> None:
    line = public(signed.keys["bob"]).encode() + b"\n"
    assert read_revoked(blank + line + blank, "revoked").listed == read_revoked(line, "revoked").listed


def test_sections_by_hand(signed: Shop) -> None:
    bob = wire(signed.keys["bob"])
    digests = sorted(hashlib.sha256(one).digest() for one in (bob, b"another"))
    listed = b"".join(map(text, digests))
    assert read(signed.keys["bob"]) in read_revoked(revocation_list((5, listed)), "krl")
    assert read(signed.keys["bob"]) in read_revoked(revocation_list((2, text(bob)), (2, text(bob))), "krl")
    extension = text(b"expires@example.org") + b"\0" + text(b"soon")
    found = read_revoked(revocation_list((255, extension), (2, text(bob))), "krl")
    assert found.ignored == (worded("signature: an extension not used"),)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (MAGIC, "cut short"),
        (revocation_list(version=2), "format version is 2"),
        (revocation_list(flags=1), "flags"),
        (revocation_list((2, b"")), "empty"),
        (revocation_list((5, text(b"\0" * 31))), "31 bytes instead of 32"),
        (revocation_list((3, text(b"\0" * 32))), "32 bytes instead of 20"),
        (revocation_list((5, text(b"\2" * 32) + text(b"\1" * 32))), "rising order"),
        (revocation_list((2, text(b"\0\0\0\x7fssh"))), "cut short"),
        (revocation_list((4, b"key")), "signed itself"),
        (revocation_list((6, b"")), "kind 6"),
        (revocation_list((255, text(b"new") + b"\1" + text(b""))), "must be understood"),
        (revocation_list((1, b"\0")), "cut short"),
        (revocation_list((2, text(b"\0\0\0\0")))[:-1], "cut short"),
        (revocation_list() + b"\2", "cut short"),
        (b"SSHKRL\n", "no public key"),
        (b"ssh-ed25519", "no public key"),
        (b"ssh-ed25519 AAAA", "cut short"),
        (b"\x00\x01", "no public key"),
        (b"ssh-rsa AAAAC3NzaC1lZDI1NTE5AAAAIA==", "not the kind it is"),
    ],
)
def test_what_cannot_be_read_is_refused(signed: Shop, data: bytes, told: str) -> None:
    with pytest.raises(Refused, match=told):
        read_revoked(data, "revoked")
    path = signed.folder / "revoked"
    path.write_bytes(data)
    with pytest.raises(Refused):
        signed.verify(revoked_path=path)


def test_every_bad_line_of_a_plain_list_is_named(signed: Shop) -> None:
    lines = [
        "# lost",
        public(signed.keys["bob"]),
        "",
        "nonsense",
        "  " + public(signed.keys["ann"]) + " ann",
        "x y",
    ]
    with pytest.raises(Refused) as refusal:
        read_revoked("\n".join(lines).encode(), "revoked")
    assert [problem.place for problem in refusal.value.problems] == ["line 4", "line 6"]
    found = read_revoked(
        "\r\n".join(line for line in lines if line not in ("nonsense", "x y")).encode(), "revoked"
    )
    assert read(signed.keys["bob"]) in found
    assert read(signed.keys["ann"]) in found
    assert sum(map(len, found.listed.values())) == 2


def test_no_damage_takes_a_key_off_the_list_unnoticed(tmp_path: Path, signed: Shop) -> None:
    """A damaged list is refused, or still revokes; where it does not, ssh-keygen says the same of it."""
    bob, revoked = signed.keys["bob"], tmp_path / "revoked"
    source = tmp_path / "source"
    source.write_text(f"key: {public(bob)}\nsha1: {public(bob)}\n")
    ssh_keygen("-k", "-q", "-f", str(revoked), str(source))
    good, draw = revoked.read_bytes(), random.Random(20261120)
    outcomes = {"refused": 0, "revoked": 0, "not revoked": 0}
    for _ in range(400):
        place = draw.randrange(len(good))
        data = good[:place] + bytes([good[place] ^ draw.randrange(1, 256)]) + good[place + 1 :]
        try:
            listed = read(bob) in read_revoked(data, "revoked")
        except Refused:
            outcomes["refused"] += 1
            continue
        outcomes["revoked" if listed else "not revoked"] += 1
        if not listed:
            revoked.write_bytes(data)
            assert ssh_keygen("-Q", "-f", str(revoked), f"{bob}.pub", wanted=None).returncode == 0
    assert outcomes["refused"] > 50
    assert outcomes["revoked"] > 50
