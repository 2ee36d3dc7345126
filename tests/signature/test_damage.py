"""One byte changed anywhere: noticed, or the content is the same. The seed is fixed."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from laminate.records.allowed_signers import read_allowed_signers
from laminate.values.problems import Refused

from .conftest import PEOPLE, ROLE_OF, Shop, make_key, ssh_keygen

SEED = 20261120


def changed(data: bytes, draw: random.Random) -> bytes:
    """One byte replaced, put in or taken out."""
    place, byte = draw.randrange(len(data)), bytes([draw.randrange(256)])
    if draw.random() < 0.8:
        byte = bytes([data[place] ^ draw.choice([1, 2, 4, 8, 16, 32, 64, 128, draw.randrange(1, 256)])])
        return data[:place] + byte + data[place + 1 :]
    return data[:place] + byte + data[place:] if draw.random() < 0.5 else data[:place] + data[place + 1 :]


def proven(shop: Shop) -> bool | None:
    """Whether all is proven; None where a file was refused."""
    try:
        return shop.verify(need="released").proven
    except Refused:
        return None


@pytest.fixture
def sealed(signed: Shop) -> Shop:
    """A signed record."""
    assert proven(signed) is True
    return signed


@pytest.fixture(params=["ed25519", "ecdsa", "rsa"])
def sealed_by_each_kind(request: pytest.FixtureRequest, shop: Shop, tmp_path: Path) -> Shop:
    """A signed record; Bob's key is of each kind in turn."""
    bits = {"rsa": "2048"}.get(request.param, "")
    shop.keys = {**shop.keys, "bob": make_key(tmp_path / "bob", request.param, bits=bits)}
    shop.allow_all()
    shop.sign_all()
    assert proven(shop) is True
    return shop


def test_record_and_statements(sealed: Shop) -> None:
    draw = random.Random(SEED)
    for path in (sealed.record, *(sealed.statement(who) for who in PEOPLE)):
        good = path.read_bytes()
        for _ in range(400):
            bad = changed(good, draw)
            path.write_bytes(bad)
            assert proven(sealed) is (bad == good), bad
        path.write_bytes(good)
    assert proven(sealed) is True


def test_a_signature_that_a_later_one_lists(sealed_by_each_kind: Shop) -> None:
    """Any other byte is noticed, line ends included: the later statement has its digest."""
    shop, draw = sealed_by_each_kind, random.Random(SEED + 1)
    path = shop.signature("bob")
    good = path.read_bytes()
    for _ in range(450):
        bad = changed(good, draw)
        path.write_bytes(bad)
        assert proven(shop) is (bad == good), bad


def test_the_last_signature_which_no_other_lists(sealed_by_each_kind: Shop) -> None:
    """Bob alone signs: armor, key and signature must tell; where the lines break says nothing."""
    shop, draw = sealed_by_each_kind, random.Random(SEED + 2)
    for who in PEOPLE:
        shop.statement(who).unlink()
        shop.signature(who).unlink()
    shop.sign("bob")
    path = shop.signature("bob")
    good, noticed = path.read_bytes(), 0
    for _ in range(500):
        bad = changed(good, draw)
        path.write_bytes(bad)
        if shop.verify().proven:
            assert bad.replace(b"\n", b"") == good.replace(b"\n", b""), bad
        else:
            noticed += 1
    assert noticed > 460


def accepted_by_ssh_keygen(shop: Shop, at: str) -> bool:
    return all(
        ssh_keygen(
            *("-Y", "verify", "-f", str(shop.allowed), "-I", PEOPLE[who], f"-Overify-time={at}"),
            *("-n", f"laminate-record-{ROLE_OF[who]}", "-s", str(shop.signature(who))),
            stdin=shop.statement(who).read_bytes(),
            wanted=None,
        ).returncode
        == 0
        for who in PEOPLE
    )


def test_allowed_signers(sealed: Shop) -> None:
    """What is proven with a damaged file, ssh-keygen accepts with it too; the same content stays proven."""
    dates = 'valid-after="20260101Z",valid-before="20271231235959Z"'
    sealed.allow(
        "# who signs what",
        *(sealed.line(who, f'namespaces="laminate-record-{ROLE_OF[who]}",{dates}') for who in PEOPLE),
    )
    assert proven(sealed) is True
    good, draw = sealed.allowed.read_bytes(), random.Random(SEED + 3)
    content = read_allowed_signers(good, "allowed")
    outcomes: dict[bool | None, int] = {True: 0, False: 0, None: 0}
    for _ in range(400):
        bad = changed(good, draw)
        sealed.allowed.write_bytes(bad)
        outcome = proven(sealed)
        outcomes[outcome] += 1
        if outcome is None:
            continue
        if read_allowed_signers(bad, "allowed") == content:
            assert outcome is True, bad
        if outcome:
            assert accepted_by_ssh_keygen(sealed, "20261120110000Z"), bad
    assert min(outcomes.values()) > 5, outcomes
