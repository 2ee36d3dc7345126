"""The allowed-signers file is read as the system's ssh-keygen reads it, and strictly."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from laminate.records.allowed_signers import matches, read_allowed_signers, utc
from laminate.values.problems import Refused

from .conftest import PEOPLE, Shop, make_key, public, ssh_keygen


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Iterator[str]:
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield request.param
    monkeypatch.undo()
    time.tzset()


MOMENTS = ["20260115", "202601151230", "20260115123045", "20260701", "202607010030", "20260701003015"]


@pytest.mark.parametrize("zone", ["UTC", "America/New_York", "Europe/Berlin", "Asia/Kolkata"], indirect=True)
@pytest.mark.parametrize("ending", ["", "Z", "z", "UTC"])
def test_times_are_those_of_ssh_keygen(shop: Shop, zone: str, ending: str) -> None:
    """Its `-Y verify` is asked one second on both sides of our reading of valid-after and valid-before."""
    shop.sign("ann")
    space = ("-n", "laminate-record-prepared", "-s", str(shop.signature("ann")))
    for moment in MOMENTS:
        for option, inside in (("valid-after", 1), ("valid-before", -1)):
            line = shop.line("ann", f'{option}="{moment}{ending}"')
            shop.allow(line)
            entry = read_allowed_signers(line.encode(), "allowed")[0]
            limit = entry.after if option == "valid-after" else entry.before
            assert limit is not None
            for at, good in ((limit + inside, True), (limit, True), (limit - inside, False)):
                stamp = utc(at).replace("-", "").replace(":", "").replace("T", "")
                done = ssh_keygen(
                    *("-Y", "verify", "-f", str(shop.allowed), "-I", "Ann Lee", *space),
                    f"-Overify-time={stamp}",
                    stdin=shop.statement("ann").read_bytes(),
                    zone=zone,
                    wanted=None,
                )
                assert (done.returncode == 0) is good, (moment, option, utc(limit), done.stderr)


@pytest.mark.parametrize(
    ("patterns", "good", "bad"),
    [
        ("Ann Lee", ["Ann Lee"], ["ann lee", "Ann Lee ", "Ann"]),
        ("*", ["Ann Lee", "x"], []),
        ("A*e,B?b*", ["Ann Lee", "Ae", "Bob Ray"], ["Bb", "Eve"]),
        ("*,!Bob*", ["Ann Lee"], ["Bob Ray"]),
        ("!Bob*,*", ["Ann Lee"], ["Bob Ray"]),
        ("!Bob Ray", [], ["Bob Ray", "Ann Lee"]),
        ("a.c", ["a.c"], ["abc"]),
        ("[ab]", ["[ab]"], ["a"]),
        ("**a***b*", ["ab", "xaxbx"], ["ba"]),
        ("M?ller", [], ["Müller"]),
        ("M??ller", ["Müller"], []),
    ],
)
def test_patterns(shop: Shop, patterns: str, good: list[str], bad: list[str]) -> None:
    shop.allow(f'"{patterns}" {public(shop.keys["ann"])}')
    for name in (*good, *bad):
        assert matches(name.encode(), patterns.encode()) is (name in good)
        done = ssh_keygen("-Y", "match-principals", "-f", str(shop.allowed), "-I", name, wanted=None)
        assert (done.returncode == 0) is (name in good), (name, done.stderr)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("Ann", "no principals and key"),
        ("Ann ", "no principals and key"),
        ('"Ann Lee', "no principals and key"),
        ('"" KEY', "no principals"),
        ("Ann ssh-ed25519", "no public key|options"),
        ("Ann ssh-ed25519 AAAA", "cut short"),
        ("Ann ssh-ed25519 ????", "not base64"),
        ("Ann ssh-rsa BLOB", "not the kind it is"),
        ("Ann ssh-dss BLOB", "not the kind it is"),
        ("Ann sk-ssh-ed25519@openssh.com BLOB", "not the kind it is"),
        ("Ann cert-authority KEY", "a certificate authority, which is not supported"),
        ('Ann namespaces="x",CERT-AUTHORITY KEY', "a certificate authority"),
        ("Ann namespaces=x KEY", "options that cannot be read"),
        ("Ann namespaces KEY", "without a value"),
        ('Ann namespace="x" KEY', "did you mean 'namespaces'"),
        ('Ann namespaces="x",namespaces="y" KEY', "twice"),
        ('Ann namespaces="x" valid-after="20260101" KEY', "kind|public key"),
        ('Ann namespaces="x", KEY', "options that cannot be read"),
        ('Ann valid-after="2026-01-01" KEY', "none of YYYYMMDD"),
        ('Ann valid-after="202601011" KEY', "none of YYYYMMDD"),
        ('Ann valid-after="20261301" KEY', "no date"),
        ('Ann valid-after="20260230" KEY', "no date"),
        ('Ann valid-after="202601012400" KEY', "no time of day"),
        ('Ann valid-after="00000101" KEY', "no date"),
        ('Ann valid-after="19700101Z" KEY', "too early"),
        ('Ann valid-after="20260102Z",valid-before="20260102Z" KEY', "not later"),
        ("Ann\0Lee KEY", "zero byte"),
    ],
)
def test_a_line_that_cannot_be_used_is_named(shop: Shop, line: str, told: str) -> None:
    key = public(shop.keys["ann"])
    line = line.replace("KEY", key).replace("BLOB", key.split()[1])
    with pytest.raises(Refused, match=told) as refusal:
        read_allowed_signers(f"# first\n{shop.line('bob')}\n{line}\n".encode(), "allowed")
    assert [problem.place for problem in refusal.value.problems] == ["line 3"]


def test_every_bad_line_is_named_at_once(shop: Shop) -> None:
    shop.allow("nobody", shop.line("ann"), "Bob cert-authority " + public(shop.keys["bob"]))
    shop.sign("ann")
    with pytest.raises(Refused) as refusal:
        shop.verify()
    assert [problem.place for problem in refusal.value.problems] == ["line 1", "line 3"]


@pytest.mark.parametrize("data", [b"", b"\n\n", b"# nobody yet\n", b"\xef\xbb\xbf# marked\n"])
def test_a_file_without_signers_is_refused(data: bytes) -> None:
    with pytest.raises(Refused):
        read_allowed_signers(data, "allowed")


def test_line_ends_of_other_systems_and_a_last_line_without_one(shop: Shop) -> None:
    lines = [shop.line(who) for who in PEOPLE]
    read = read_allowed_signers("\r\n".join(lines).encode(), "allowed")
    assert read == read_allowed_signers("".join(f"{line}\n" for line in lines).encode(), "allowed")
    assert [entry.line for entry in read] == [1, 2, 3]


def test_every_kind_of_key_is_read(shop: Shop, tmp_path: Path) -> None:
    for kind, bits in (
        ("ed25519", ""),
        ("ecdsa", "256"),
        ("ecdsa", "384"),
        ("ecdsa", "521"),
        ("rsa", "2048"),
    ):
        key = make_key(tmp_path / f"{kind}{bits}", kind, bits=bits)
        entry = read_allowed_signers(f"Ann {public(key)} a remark".encode(), "allowed")[0]
        assert entry.key.fingerprint == ssh_keygen("-lf", f"{key}.pub").stdout.split()[1].decode()
