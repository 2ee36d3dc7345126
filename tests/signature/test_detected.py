"""Whatever differs is named in words, and never proven."""

from __future__ import annotations

import shutil
from collections.abc import Callable

import pytest

from laminate.records.sshsig import make, private_key
from laminate.records.statement import read_statement
from laminate.values.problems import Refused
from tests.messages.wording import reads, says

from .conftest import PEOPLE, TIMES, Shop, make_key, public, record_bytes, ssh_keygen

Copy = Callable[[Shop, str], Shop]


def sign_statement(
    shop: Shop, who: str, *, statement_of: str | None = None, namespace: str | None = None
) -> None:
    """Sign a statement as it lies there, with the system's ssh-keygen."""
    path = shop.statement(statement_of or who)
    path.with_name(f"{path.name}.sig").unlink(missing_ok=True)
    space = namespace or f"laminate-record-{path.name.split('.')[1]}"
    ssh_keygen("-Y", "sign", "-f", str(shop.keys[who]), "-n", space, str(path))


def forge(shop: Shop, who: str, **changes: object) -> None:
    """Change a statement and sign it again with its own signer's key."""
    import json

    from laminate.values.canonical import canonical

    path = shop.statement(who)
    path.write_bytes(canonical({**json.loads(path.read_bytes()), **changes}))
    sign_statement(shop, who)


def words(shop: Shop, who: str, **more: object) -> str:
    name = shop.statement(who).name
    reasons = next(one for one in shop.verify(**more).signatures if one.file == name).reasons
    return " | ".join(reason.words for reason in reasons)


def test_unsigned(shop: Shop) -> None:
    assert shop.codes() == {"unsigned"}
    assert shop.codes(need="released") == {"unsigned", "role-missing"}


def test_a_needed_role_is_missing(shop: Shop) -> None:
    shop.sign("ann")
    assert shop.codes() == set()
    assert shop.codes(need="released") == {"role-missing"}


def test_the_record_was_changed(signed: Shop) -> None:
    signed.record.write_bytes(record_bytes(n=57.43))
    assert signed.codes() == {"record-changed"}
    assert says("signature: the record was changed", words(signed, "ann"))


@pytest.mark.parametrize(
    "record",
    [b"", b"\xff", b"null", b"{", b'{"answer":"conforms"}', b"[" * 100_000, record_bytes() + b"\n", b"1e999"],
)
def test_the_record_is_no_record_any_more(signed: Shop, record: bytes) -> None:
    signed.record.write_bytes(record)
    assert {"bad-record", "record-changed"} <= signed.codes()


def test_the_statement_was_changed(signed: Shop) -> None:
    path = signed.statement("bob")
    path.write_bytes(path.read_bytes().replace(b"T10:00:00Z", b"T10:00:01Z"))
    assert signed.codes() == {"does-not-hold", "earlier-changed"}
    assert says("signature: the statement was changed", words(signed, "bob"))
    assert "'reviewed' of 'Bob Ray'" in words(signed, "eve")


def test_not_signed_with_the_key_it_names(signed: Shop) -> None:
    other = make(private_key(signed.keys["stranger"]), b"something else", "laminate-record-reviewed")
    signed.signature("bob").write_bytes(other)
    assert {"does-not-hold", "unknown-key"} <= signed.codes()


def test_the_signer_is_unknown(signed: Shop) -> None:
    signed.allow(signed.line("ann"), signed.line("eve"))
    assert signed.codes() == {"unknown-signer"}
    assert says("signature: the signer is unknown", words(signed, "bob"))
    signed.allow(signed.line("ann"), signed.line("eve"), f"robert {public(signed.keys['bob'])}")
    assert says("signature: the signer is unknown, 2", words(signed, "bob"))


def test_known_signer_with_an_unknown_key(signed: Shop) -> None:
    signed.allow(signed.line("ann"), signed.line("eve"), f'"Bob Ray" {public(signed.keys["stranger"])}')
    assert signed.codes() == {"unknown-key"}


def test_a_name_is_matched_with_its_capitals(signed: Shop) -> None:
    signed.allow(signed.line("ann"), signed.line("eve"), signed.line("bob").replace("Bob Ray", "bob ray"))
    assert signed.codes() == {"unknown-signer"}


def test_a_key_that_may_not_sign_in_this_role(signed: Shop) -> None:
    signed.allow(
        signed.line("ann"), signed.line("bob"), signed.line("eve", 'namespaces="laminate-record-re?iewed"')
    )
    assert signed.codes(need="released") == {"wrong-namespace", "role-missing"}
    assert says("signature: a key that may not sign in this role", words(signed, "eve"))


def test_signed_in_another_namespace(signed: Shop) -> None:
    signed.allow(signed.line("ann"), signed.line("bob", ""), signed.line("eve"))
    sign_statement(signed, "bob", namespace="file")
    assert {"wrong-namespace", "earlier-changed"} == signed.codes()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ('valid-before="20261120100000Z"', None),
        ('valid-before="20261120095959Z"', "after valid-before, 2026-11-20T09:59:59Z"),
        ('valid-after="20261120100000Z"', None),
        ('valid-after="20261120100001Z"', "before valid-after, 2026-11-20T10:00:01Z"),
        ('valid-after="20261120",valid-before="20261121"', None),
        ('valid-after="20250101",valid-before="20260101"', "after valid-before"),
    ],
)
def test_the_claimed_time_and_the_validity_of_the_key(signed: Shop, options: str, told: str | None) -> None:
    signed.allow(signed.line("ann"), signed.line("eve"), signed.line("bob", options))
    assert signed.codes() == ({"outside-validity"} if told else set())
    if told:
        assert told in words(signed, "bob")
        assert says("signature: the claimed time and the validity", words(signed, "bob"))


def test_a_claimed_time_ahead_of_the_clock(signed: Shop) -> None:
    assert signed.codes(now="2026-11-20T10:55:00Z") == set()
    assert signed.codes(now="2026-11-20T10:54:59Z") == {"time-ahead"}
    assert says(
        "signature: a claimed time ahead of the clock", words(signed, "eve", now="2026-11-20T10:00:00Z")
    )


def test_a_signature_without_its_sig_or_statement(signed: Shop, copy_of: Copy) -> None:
    first, second = copy_of(signed, "first"), copy_of(signed, "second")
    first.signature("eve").unlink()
    assert first.codes() == {"no-signature"}
    assert "is missing" in words(first, "eve")
    second.statement("eve").unlink()
    assert second.codes() == {"no-statement"}
    signed.signature("eve").unlink()
    signed.signature("eve").mkdir()
    assert signed.codes() == {"no-signature"}


def test_an_earlier_signature_was_removed_or_made_anew(signed: Shop, copy_of: Copy) -> None:
    removed = copy_of(signed, "removed")
    removed.statement("bob").unlink()
    removed.signature("bob").unlink()
    assert removed.codes() == {"earlier-removed"}
    assert says("signature: an earlier signature was removed", words(removed, "eve"))
    forge(signed, "bob", time="2026-11-20T10:30:00Z")
    assert signed.codes() == {"earlier-changed"}


def test_the_last_signature_can_be_taken_away_and_need_notices(signed: Shop) -> None:
    signed.statement("eve").unlink()
    signed.signature("eve").unlink()
    assert signed.codes() == set()
    assert signed.codes(need="released") == {"role-missing"}


def test_signatures_of_another_record(signed: Shop, copy_of: Copy, tmp_path_factory: object) -> None:
    other = copy_of(signed, "other")
    for who in PEOPLE:
        other.statement(who).unlink()
        other.signature(who).unlink()
    other.record.write_bytes(record_bytes(answer="undecided", characteristics=[("mass", None, "undecided")]))
    other.sign("ann")
    for path in (signed.statement("bob"), signed.signature("bob")):
        shutil.copy(path, other.folder)
    assert {"other-record", "earlier-changed"} == other.codes()
    assert says("signature: signatures of another record", words(other, "bob"))
    for path in (signed.statement("eve"), signed.signature("eve")):
        shutil.copy(path, other.folder)
    assert {"other-record", "role-missing"} <= other.codes(need="released")


def test_a_role_swapped_by_renaming(signed: Shop) -> None:
    signed.statement("bob").rename(signed.statement("bob", "released"))
    signed.signature("bob").rename(signed.signature("bob", "released"))
    assert {"swapped-role", "earlier-removed"} == signed.codes()
    found = [
        one for one in signed.verify().signatures if one.file == signed.statement("bob", "released").name
    ]
    assert reads("signature: a role swapped by renaming", found[0].reasons[0].words)


def test_a_role_swapped_in_the_statement(signed: Shop) -> None:
    path = signed.statement("bob", "released")
    text = signed.statement("bob").read_bytes().replace(b'"reviewed"', b'"released"')
    path.write_bytes(text)
    signed.signature("bob").rename(f"{path}.sig")
    signed.statement("bob").unlink()
    assert {"does-not-hold", "wrong-namespace", "earlier-removed"} <= signed.codes()


def test_a_file_under_another_name(signed: Shop) -> None:
    path = signed.folder / "record.prepared.Somebody.statement"
    shutil.copy(signed.statement("ann"), path)
    shutil.copy(signed.signature("ann"), f"{path}.sig")
    assert {"swapped-name", "signed-twice"} == signed.codes()
    for file in (path, path.with_name(f"{path.name}.sig")):
        file.rename(file.with_name(file.name.replace("prepared", "approved")))
    assert {"swapped-role", "signed-twice"} == signed.codes()


def test_a_revoked_key(signed: Shop) -> None:
    revoked = signed.folder / "revoked"
    revoked.write_text(f"# lost on 2026-11-25\n\n{public(signed.keys['bob'])} bob\n")
    assert signed.codes(revoked_path=revoked) == {"revoked"}
    assert "is revoked" in words(signed, "bob", revoked_path=revoked)
    revoked.write_text(f"{public(signed.keys['stranger'])}\n")
    assert signed.codes(revoked_path=revoked) == set()


def test_two_roles_by_one_name(shop: Shop) -> None:
    shop.sign("ann")
    shop.sign("eve", "reviewed", name="Somebody Else")
    shop.allow(shop.line("ann"), f"* {public(shop.keys['eve'])}")
    path = shop.folder / "record.reviewed.Somebody_Else.statement"
    for file in (path, path.with_name(f"{path.name}.sig")):
        file.rename(file.with_name(file.name.replace("Somebody_Else", "ann__LEE".replace("__", "_"))))
    statement = shop.folder / "record.reviewed.ann_LEE.statement"
    statement.write_bytes(statement.read_bytes().replace(b"Somebody Else", b"ann LEE"))
    statement.with_name(f"{statement.name}.sig").unlink()
    ssh_keygen("-Y", "sign", "-f", str(shop.keys["eve"]), "-n", "laminate-record-reviewed", str(statement))
    assert shop.codes() == {"two-roles-one-name"}


def test_two_names_with_one_key(signed: Shop) -> None:
    sign_statement(signed, "ann", statement_of="bob")
    signed.allow(signed.line("ann"), signed.line("eve"), f'"Bob Ray" {public(signed.keys["ann"])}')
    assert signed.codes() == {"one-key-twice", "earlier-changed"}


def test_released_without_prepared(signed: Shop) -> None:
    assert signed.verify().released
    for who in ("ann", "bob"):
        signed.statement(who).unlink()
        signed.signature(who).unlink()
    forge(signed, "eve", earlier=[])
    assert signed.codes(need="released") == {"not-prepared", "role-missing"}


def test_prepared_added_after_the_release_does_not_count(signed: Shop) -> None:
    forge(signed, "eve", earlier=[])
    assert signed.codes() == {"not-prepared"}


def test_released_on_a_preparation_that_is_not_proven(signed: Shop) -> None:
    signed.allow(signed.line("bob"), signed.line("eve"))
    assert signed.codes() == {"unknown-signer", "not-prepared"}
    verification = signed.verify()
    assert {row.role: row.proven for row in verification.signatures} == {
        "prepared": False, "reviewed": True, "released": False
    }  # fmt: skip
    assert not verification.released


def test_released_before_what_it_lists(signed: Shop) -> None:
    forge(signed, "eve", time="2026-11-20T08:00:00Z")
    assert signed.codes() == {"time-order"}


def test_released_and_rejected(shop: Shop, copy_of: Copy) -> None:
    shop.sign("ann")
    other = copy_of(shop, "other")
    shop.sign("eve")
    other.sign("bob", "rejected", goods="scrapped, cut up and weighed")
    for path in (other.statement("bob", "rejected"), other.signature("bob", "rejected")):
        shutil.copy(path, shop.folder)
    shop.allow(shop.line("ann"), shop.line("eve"), shop.line("bob", ""))
    assert shop.codes() == {"released-and-rejected"}
    assert [one.proven for one in shop.verify().signatures] == [True, False, False]


@pytest.mark.parametrize("who", list(PEOPLE))
@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\0",
        b"{}",
        b"null",
        b"[]",
        b'{"format":1}',
        b"\xff\xfe",
        b"NaN",
        b"[" * 50_000,
        b'"\\ud800"',
        b"9" * 5000,
        b"x" * ((1 << 20) + 1),
    ],
)
def test_a_malformed_statement_or_signature(signed: Shop, who: str, content: bytes) -> None:
    kept = signed.statement(who).read_bytes()
    signed.statement(who).write_bytes(content)
    assert "bad-statement" in signed.codes()
    signed.statement(who).write_bytes(kept)
    signed.signature(who).write_bytes(content)
    assert "bad-signature" in signed.codes()


@pytest.mark.parametrize(
    "changes",
    [
        {"format": 2},
        {"format": True},
        {"format": "1"},
        {"remark": "fine"},
        {"record": "0" * 63},
        {"record": "A" * 64},
        {"record": 1},
        {"role": "approved"},
        {"role": None},
        {"name": ""},
        {"name": "ann  lee"},
        {"name": "../ann"},
        {"name": "Ann\u200bLee"},
        {"name": 7},
        {"time": "2026-11-20 10:00:00Z"},
        {"time": "2026-11-31T10:00:00Z"},
        {"time": "2026-11-20T10:00:00+00:00"},
        {"time": 0},
        {"earlier": {}},
        {"earlier": [1]},
        {"earlier": [{"role": "prepared"}]},
        {"goods": "kept"},
        {"concession": "0" * 64},
        {"goods": None},
    ],
)
def test_a_statement_signed_in_another_form(shop: Shop, changes: dict[str, object]) -> None:
    shop.sign("bob")
    assert shop.codes() == set()
    forge(shop, "bob", **changes)
    assert "bad-statement" in shop.codes()
    assert "does-not-hold" not in shop.codes()


def test_a_statement_signed_in_another_layout(shop: Shop) -> None:
    import json

    shop.sign("bob")
    path = shop.statement("bob")
    path.write_bytes(json.dumps(json.loads(path.read_bytes()), indent=1).encode())
    sign_statement(shop, "bob")
    assert shop.codes() == {"bad-statement"}


def test_signatures_in_another_form(signed: Shop) -> None:
    good = signed.signature("eve").read_bytes()
    lines = good.split(b"\n")
    for bad in (
        good[:-2],
        good + b"\n",
        b"\n" + good,
        good.replace(b"\n", b"\r\n"),
        b"\n".join([lines[0], lines[1] + b"=", *lines[2:]]),
        b"\n".join([lines[0], *lines[2:]]),
        good.replace(b"SSH SIGNATURE", b"PGP SIGNATURE"),
        good + good,
        b"\n".join([lines[0], b"", *lines[1:-3], lines[-3][:-3] + b"!" + lines[-3][-2:], *lines[-2:]]),
    ):
        signed.signature("eve").write_bytes(bad)
        assert "bad-signature" in signed.codes()
    wrapped = b"".join(lines[1:-2])
    signed.signature("eve").write_bytes(b"\n".join([lines[0], wrapped, lines[-2], b""]))
    assert signed.codes() == set()


def test_a_key_too_short_or_of_another_kind(shop: Shop, tmp_path: object) -> None:
    shop.sign("bob")
    weak = make_key(shop.folder / "weak", "rsa", bits="1024")
    shop.signature("bob").unlink()
    ssh_keygen("-Y", "sign", "-f", str(weak), "-n", "laminate-record-reviewed", str(shop.statement("bob")))
    assert shop.codes() == {"bad-signature"}
    assert "1024 bits" in words(shop, "bob")
    shop.allow(shop.line("ann"), f'"Bob Ray" {public(weak)}')
    with pytest.raises(Refused, match="1024 bits"):
        shop.verify()


def test_missing_files_are_wrong_calls(signed: Shop) -> None:
    for missing in ("record", "allowed_signers", "revoked"):
        revoked = signed.folder / "revoked"
        if missing != "revoked":
            revoked.write_text("")
            path = signed.record if missing == "record" else signed.allowed
            kept = path.read_bytes()
            path.unlink()
        else:
            revoked.unlink()
        with pytest.raises(Refused) as refusal:
            signed.verify(revoked_path=revoked)
        assert [problem.code for problem in refusal.value.problems] == ["file-access"]
        if missing != "revoked":
            path.write_bytes(kept)
    with pytest.raises(Refused) as caught:
        signed.verify(need="release")
    assert says("signature: missing files are wrong calls", str(caught.value))


def test_the_statement_reads_back_as_it_was_written(signed: Shop) -> None:
    for who in PEOPLE:
        data = signed.statement(who).read_bytes()
        assert read_statement(data).write() == data
        assert read_statement(data).time in TIMES.values()


def test_released_under_another_concession(shop: Shop) -> None:
    held = [("thickness", "web", "undecided")]
    written = {
        "number": "W-12",
        "authority": "customer",
        "characteristics": ["thickness.web"],
        "reason": "fits",
    }
    shop.record.write_bytes(record_bytes("undecided", held, written))
    shop.sign("ann")
    shop.sign("eve")
    assert shop.codes(need="released") == set()
    forge(shop, "eve", concession="0" * 64)
    assert shop.codes() == {"other-concession"}
    assert reads("signature: released under another concession", words(shop, "eve"))
