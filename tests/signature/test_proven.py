"""What is signed by the right people is proven, and the system's ssh-keygen agrees in both directions."""

from __future__ import annotations

import calendar
import json
import time
from dataclasses import replace
from pathlib import Path

import pytest

from laminate.records.differences import Rejudged
from laminate.records.signature import NotAllowed, sign, verify
from laminate.show.verify_json import ANSWER
from laminate.values.canonical import read_canonical, sha256
from laminate.values.problems import Refused
from tests.messages.wording import says

from .conftest import NOW, PEOPLE, ROLE_OF, TIMES, Shop, believed, make_key, public, record_bytes, ssh_keygen


def accepts(shop: Shop, who: str, *, at: str = "20261120110000Z", zone: str = "UTC") -> bool:
    done = ssh_keygen(
        *("-Y", "verify", "-f", str(shop.allowed), "-I", PEOPLE[who]),
        *("-n", f"laminate-record-{ROLE_OF[who]}", "-s", str(shop.signature(who)), f"-Overify-time={at}"),
        stdin=shop.statement(who).read_bytes(),
        zone=zone,
        wanted=None,
    )
    return done.returncode == 0


def test_three_people_sign_and_all_is_proven(signed: Shop) -> None:
    found = signed.verify(need="released")
    assert found.proven
    assert [(one.role, one.name, one.time) for one in found.signatures] == [
        (ROLE_OF[who], PEOPLE[who], TIMES[ROLE_OF[who]]) for who in ("ann", "bob", "eve")
    ]
    assert found.sha256 == sha256(signed.record.read_bytes())
    assert sorted(path.name for path in signed.folder.iterdir()) == sorted(
        ["record.json", "allowed_signers"]
        + [path.name for who in PEOPLE for path in (signed.statement(who), signed.signature(who))]
    )


def test_ssh_keygen_accepts_what_sign_wrote(signed: Shop) -> None:
    for who in PEOPLE:
        assert accepts(signed, who)
    signed.statement("ann").write_bytes(signed.statement("ann").read_bytes() + b" ")
    assert not accepts(signed, "ann")


def test_a_statement_says_what_is_signed(signed: Shop) -> None:
    said = read_canonical(signed.statement("bob").read_bytes())
    assert said == {
        "format": 1,
        "record": sha256(signed.record.read_bytes()),
        "role": "reviewed",
        "name": "Bob Ray",
        "time": "2026-11-20T10:00:00Z",
        "earlier": [
            {
                "role": "prepared",
                "name": "Ann Lee",
                "statement": sha256(signed.statement("ann").read_bytes()),
                "signature": sha256(signed.signature("ann").read_bytes()),
            }
        ],
    }


@pytest.mark.parametrize("hashed", ["sha512", "sha256"])
def test_verify_accepts_what_ssh_keygen_signed(shop: Shop, hashed: str) -> None:
    for who in PEOPLE:
        shop.sign(who)
        shop.signature(who).unlink()
        ssh_keygen(
            *("-Y", "sign", "-f", str(shop.keys[who]), "-n", f"laminate-record-{ROLE_OF[who]}"),
            *(f"-Ohashalg={hashed}", str(shop.statement(who))),
        )
    assert shop.verify(need="released").proven


@pytest.mark.parametrize(
    ("kind", "bits"),
    [("ed25519", ""), ("ecdsa", "256"), ("ecdsa", "384"), ("ecdsa", "521"), ("rsa", "2048"), ("rsa", "3072")],
)
@pytest.mark.parametrize("passphrase", ["", "seven wet plies ±"])
def test_every_kind_of_key(shop: Shop, tmp_path: Path, kind: str, bits: str, passphrase: str) -> None:
    key = make_key(tmp_path / "key", kind, bits=bits, passphrase=passphrase)
    shop.keys = {**shop.keys, "ann": key}
    shop.allow_all()
    asked: list[str] = []

    def ask() -> str:
        asked.append("once")
        return passphrase

    done = shop.sign("ann", passphrase=ask)
    assert asked == (["once"] if passphrase else [])
    assert shop.verify(need="prepared").proven
    assert accepts(shop, "ann")
    assert ssh_keygen("-lf", f"{key}.pub").stdout.split()[1].decode() == done.key
    blob = shop.signature("ann").read_text()
    shop.signature("ann").unlink()
    shop.statement("ann").unlink()
    shop.sign("ann", passphrase=passphrase)
    assert shop.verify(need="prepared").proven
    if kind != "ecdsa":
        assert shop.signature("ann").read_text() == blob


def test_a_wrong_or_missing_passphrase_is_refused(shop: Shop, tmp_path: Path) -> None:
    shop.keys = {**shop.keys, "ann": make_key(tmp_path / "key", passphrase="right")}
    for passphrase, code in (
        (None, "passphrase-needed"),
        ("wrong", "wrong-passphrase"),
        ("", "wrong-passphrase"),
    ):
        with pytest.raises(Refused) as refusal:
            shop.sign("ann", passphrase=passphrase)
        assert [problem.code for problem in refusal.value.problems] == [code]
    assert sorted(path.name for path in shop.folder.iterdir()) == ["allowed_signers", "record.json"]


def test_keys_that_cannot_sign_are_refused(shop: Shop, tmp_path: Path) -> None:
    weak = make_key(tmp_path / "weak", "rsa", bits="1024")
    open_key = make_key(tmp_path / "open")
    open_key.chmod(0o644)
    empty = tmp_path / "empty"
    empty.write_bytes(b"")
    empty.chmod(0o600)
    for path, code in (
        (weak, "unusable-key"),
        (open_key, "open-key"),
        (empty, "unreadable-key"),
        (tmp_path / "none", "unreadable-key"),
        (tmp_path, "unreadable-key"),
        (Path(f"{shop.keys['ann']}.pub"), "public-key"),
    ):
        with pytest.raises(Refused) as refusal:
            shop.sign("ann", key_path=path)
        assert [problem.code for problem in refusal.value.problems] == [code]


def test_a_time_left_out_is_the_clock_s(shop: Shop) -> None:
    before = int(time.time())
    done = sign(shop.record, "prepared", "Ann Lee", shop.keys["ann"], recompute=believed)
    found = verify(shop.record, shop.allowed, recompute=believed)
    assert found.proven
    written = time.strptime(done.time, "%Y-%m-%dT%H:%M:%SZ")
    assert before <= calendar.timegm(written) <= int(time.time())


def test_json_of_both_answers(signed: Shop) -> None:
    answer = json.loads(json.dumps(ANSWER.json(signed.verify()), allow_nan=False))
    assert answer["proven"] is True
    assert answer["answer"] == "conforms"
    assert {one["verdict"] for one in answer["signatures"]} == {"proven"}
    assert {one["role"]: one["key"] for one in answer["signatures"]}["prepared"].startswith("SHA256:")


def test_what_is_not_checked_is_said(signed: Shop) -> None:
    notes = " ".join(signed.verify().notes)
    assert says("signature: what is not checked is said", notes)
    assert says("signature: what is not checked is said, 2", notes)
    signed.folder.joinpath("revoked").write_text("")
    assert "revocation" not in " ".join(signed.verify(revoked_path=signed.folder / "revoked").notes)


def test_recomputing_speaks_through_its_hook(signed: Shop) -> None:
    given: list[bytes] = []

    def recompute(record: bytes) -> Rejudged:
        given.append(record)
        return replace(believed(record), findings=("fiber_volume.web: 57.4 %, its inputs give 58.1 %",))

    found = signed.verify(recompute=recompute)
    assert given == [signed.record.read_bytes()]
    assert not found.proven
    assert [reason.words for reason in found.reasons] == ["fiber_volume.web: 57.4 %, its inputs give 58.1 %"]
    assert all(one.proven for one in found.signatures)


def test_what_is_unmet_comes_from_the_recomputation_never_from_the_record(shop: Shop) -> None:
    """A failing reading cut out of the record would leave its concession wide enough."""
    concession = {"number": "W-1", "authority": "customer", "characteristics": ["x"], "reason": "as agreed"}
    held = [("x", None, "undecided"), ("y", None, "does not conform")]
    shop.record.write_bytes(record_bytes("does not conform", held[:1], concession))
    shop.sign_all()
    whole = record_bytes("does not conform", held, concession)
    assert shop.verify(need="released").proven
    found = shop.verify(need="released", recompute=lambda _: believed(whole))
    (released,) = [one for one in found.signatures if one.role == "released"]
    assert [reason.code for reason in released.reasons] == ["concession-too-narrow"]
    assert not found.proven


def test_a_release_of_a_record_that_cannot_be_computed_again_is_not_proven_and_still_named(
    signed: Shop,
) -> None:
    found = signed.verify(recompute=lambda _: Rejudged(("its inputs are refused now",)))
    assert not found.proven
    assert found.answer_today is None
    verdicts = {one.role: [reason.code for reason in one.reasons] for one in found.signatures}
    assert verdicts == {"prepared": [], "reviewed": [], "released": ["not-computed"]}


def test_several_lines_a_person_and_wildcards(signed: Shop) -> None:
    ann, bob, eve = (public(signed.keys[who]) for who in PEOPLE)
    stranger = public(signed.keys["stranger"])
    signed.allow(
        f'"Ann Lee" namespaces="laminate-record-reviewed" {ann}',
        f'"Ann Lee" {stranger} an old key of hers',
        f'Ann?Lee namespaces="laminate-record-prep*,!*rejected" {ann}',
        "",
        f'"!Bob Ray,*" {ann}',
        f'  "*Ray,!Eve*"\tNamespaces="*",VALID-AFTER="20261101" {bob} # a remark',
        f'"Eve M*ller" {eve}',
    )
    assert signed.verify(need="released", now=NOW).proven
    assert all(accepts(signed, who) for who in PEOPLE)


def test_records_of_another_file_name(tmp_path: Path, keys: dict[str, Path]) -> None:
    record = tmp_path / "26-031.json"
    record.write_bytes(record_bytes())
    sign(record, "prepared", "Ann Lee", keys["ann"], time=TIMES["prepared"], recompute=believed)
    assert (tmp_path / "26-031.prepared.Ann_Lee.statement").is_file()


@pytest.mark.parametrize("signed_as", [{"name": "bob ray"}, {"name": "Bob Rai"}])
def test_a_mistyped_name_tells_its_way_out(shop: Shop, signed_as: dict[str, str]) -> None:
    """By `verify`, and by `sign` under the right name; the way out leads to a record that is proven."""
    shop.sign("ann")
    done = shop.sign("bob", **signed_as)
    pair = {"statement": done.statement.name, "signature": done.signature.name}
    (slip,) = [one for one in shop.verify().signatures if one.role == "reviewed"]
    assert [reason.code for reason in slip.reasons] == ["unknown-signer"]
    assert says("signature: the way out of a slip", slip.reasons[0].words, **pair)
    with pytest.raises(NotAllowed) as refused:
        shop.sign("bob")
    assert says("signature: the way out of a slip", str(refused.value), **pair)
    shop.sign("eve")
    (slip,) = [one for one in shop.verify().signatures if one.role == "reviewed"]
    assert says("signature: the way out of a slip, signed since", slip.reasons[0].words, **pair)
    for file in (done.statement, done.signature, shop.statement("eve"), shop.signature("eve")):
        file.unlink()
    shop.sign("bob")
    shop.sign("eve")
    assert shop.verify(need=["prepared", "reviewed", "released"]).proven


def test_no_way_out_is_told_of_a_rejection(shop: Shop) -> None:
    shop.sign("bob", "rejected", goods="scrapped")
    with pytest.raises(NotAllowed) as refused:
        shop.sign("ann", "released")
    assert "record.rejected.Bob_Ray" not in str(refused.value)
