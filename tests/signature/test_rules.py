"""What `sign` refuses, why, and that it then leaves nothing behind."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from laminate.records import files as signature_files
from laminate.records import signature
from laminate.records.signature import NotAllowed
from laminate.records.sshsig import FileSignature, Unsound
from laminate.records.statement import Malformed, checked_name, read_statement, statement_name
from laminate.values.canonical import canonical, sha256
from laminate.values.problems import Refused
from tests.messages.wording import says

from .conftest import TIMES, Shop, make_key, record_bytes

WEB = ("thickness", "web", "does not conform")
SKIN = ("thickness", "skin", "undecided")
NO_ROWS = (b"null", b'"x"', b"{}", b'{"a":{"b":1}}', b'["x"]', b'[{"approvals":"x"}]', b'[{"approvals":[1]}]')
PROCESS = ("process.cure temperature", None, "does not conform")


def concession(*names: str) -> dict[str, Any]:
    return {
        "number": "W-12",
        "authority": "customer quality",
        "characteristics": list(names),
        "reason": "fits",
    }


def refused(shop: Shop, who: str, role: str | None = None, **more: Any) -> list[str]:
    before = {path.name: path.read_bytes() for path in shop.folder.iterdir()}
    with pytest.raises(NotAllowed) as rule:
        shop.sign(who, role, **more)
    assert {path.name: path.read_bytes() for path in shop.folder.iterdir()} == before
    assert str(rule.value) == "\n".join(finding.words for finding in rule.value.findings)
    return [finding.code for finding in rule.value.findings]


def test_nobody_signs_two_roles(shop: Shop) -> None:
    shop.sign("ann")
    for name in ("Ann Lee", "ann  lee", "ANNLEE", "Ａnn Lee"):
        assert "two-roles-one-name" in refused(shop, "bob", name=name)
    assert refused(shop, "ann", "reviewed", name="Somebody Else") == ["one-key-twice"]
    assert refused(shop, "ann", "prepared", name="Somebody Else") == ["one-key-twice"]
    assert refused(shop, "ann") == ["signed-twice"]
    assert refused(shop, "bob", "prepared", name="ann lee") == ["signed-twice"]
    shop.sign("bob", "prepared")


def test_a_release_needs_a_preparation(shop: Shop) -> None:
    assert refused(shop, "eve") == ["not-prepared"]
    shop.sign("bob")
    assert refused(shop, "eve") == ["not-prepared"]
    shop.sign("ann", time="2026-11-20T10:30:00Z")
    shop.sign("eve")
    assert shop.verify(need="released").proven


def test_released_and_rejected_exclude_each_other(shop: Shop) -> None:
    shop.sign("ann")
    shop.sign("bob", "rejected", goods="scrapped")
    assert refused(shop, "eve") == ["released-and-rejected"]
    shop.allow(shop.line("ann"), shop.line("bob", ""))
    found = shop.verify(need="rejected")
    assert found.proven
    assert [one.goods for one in found.signatures] == [None, "scrapped"]


def test_a_released_record_cannot_be_rejected(signed: Shop) -> None:
    codes = refused(signed, "stranger", "rejected", name="Dan Fox", goods="scrapped")
    assert codes == ["released-and-rejected"]


@pytest.mark.parametrize(
    ("rows", "allowed", "codes"),
    [
        ([WEB], None, ["not-conforming"]),
        ([WEB], concession("thickness.web"), []),
        ([WEB], concession("thickness"), ["concession-too-narrow"]),
        ([WEB], concession("thickness.skin"), ["concession-too-narrow"]),
        ([WEB], concession(), ["concession-too-narrow"]),
        ([WEB, SKIN], concession("thickness.web"), ["concession-too-narrow"]),
        ([WEB, SKIN], concession("thickness.skin", "thickness.web"), []),
        ([WEB, PROCESS], concession("thickness.web", "process.cure temperature"), []),
        ([PROCESS], concession("process"), ["concession-too-narrow"]),
        ([("mass", None, "conforms")], concession("mass"), ["concession-without-subject"]),
        ([], None, ["not-conforming"]),
        ([], concession("mass"), ["concession-without-subject"]),
    ],
)
@pytest.mark.parametrize("answer", ["does not conform", "undecided"])
def test_a_release_of_what_does_not_conform_needs_its_concession(
    shop: Shop, answer: str, rows: list[Any], allowed: dict[str, Any] | None, codes: list[str]
) -> None:
    shop.record.write_bytes(record_bytes(answer, rows, allowed))
    shop.sign("ann")
    if codes:
        assert refused(shop, "eve") == codes
        return
    done = shop.sign("eve")
    assert read_statement(done.statement.read_bytes()).concession == sha256(canonical(allowed))
    found = shop.verify(need="released")
    assert found.proven
    assert found.answer == answer


@pytest.mark.parametrize(
    ("named", "codes"),
    [
        (["thickness.web", "cure temperature", "instrument.micrometer"], []),
        (["thickness.web", "instrument.micrometer"], ["concession-too-narrow"]),
        (["thickness.web", "cure temperature"], ["concession-too-narrow"]),
        (["thickness.web", "cure temperature", "micrometer"], ["concession-too-narrow"]),
    ],
)
def test_process_readings_and_instruments_need_their_concession_too(
    shop: Shop, named: list[str], codes: list[str]
) -> None:
    readings = [
        {"name": "cure temperature", "zone": None, "decision": "does not conform"},
        {"name": "gel time", "zone": None, "decision": "conforms"},
    ]
    instruments = [
        {"name": "balance", "undecided_because": None},
        {"name": "micrometer", "undecided_because": "its calibration was past due"},
    ]
    shop.record.write_bytes(
        record_bytes("does not conform", [WEB], concession(*named), process=readings, instruments=instruments)
    )
    shop.sign("ann")
    if codes:
        assert refused(shop, "eve") == codes
    else:
        shop.sign("eve")
        assert shop.verify(need="released").proven


def test_nothing_held_to_limits_cannot_be_released_through_an_instrument(shop: Shop) -> None:
    instruments = [{"name": "balance", "undecided_because": "past due"}]
    shop.record.write_bytes(
        record_bytes("undecided", [], concession("instrument.balance"), instruments=instruments)
    )
    shop.sign("ann")
    assert refused(shop, "eve") == ["concession-without-subject"]


def test_what_is_not_covered_is_named(shop: Shop) -> None:
    shop.record.write_bytes(record_bytes("undecided", [WEB, SKIN], concession("thickness.web")))
    shop.sign("ann")
    with pytest.raises(NotAllowed, match=r"'undecided'.* thickness\.skin$"):
        shop.sign("eve")


def test_a_record_that_does_not_conform_can_be_prepared_reviewed_and_rejected(shop: Shop) -> None:
    shop.record.write_bytes(record_bytes("does not conform", [WEB]))
    shop.sign("ann")
    shop.sign("bob")
    shop.sign("eve", "rejected", goods="quarantined, rack 7")
    shop.allow(shop.line("ann"), shop.line("bob"), shop.line("eve", 'namespaces="laminate-record-rejected"'))
    assert shop.verify(need="rejected").proven


def test_nobody_signs_after_an_unsound_signature(signed: Shop, copy_of: Any) -> None:
    path = signed.statement("bob")
    path.write_bytes(path.read_bytes().replace(b"T10:", b"T09:"))
    assert refused(signed, "stranger", "reviewed")[0] == "unsound-signature-there"
    path.unlink()
    assert "unsound-signature-there" in refused(signed, "stranger", "reviewed")


def test_nobody_adds_to_the_signatures_of_another_record(signed: Shop) -> None:
    signed.record.write_bytes(record_bytes(n=1.0))
    with pytest.raises(NotAllowed) as caught:
        signed.sign("stranger", "reviewed")
    assert says("signature: the record was changed", str(caught.value))


def test_a_clock_that_goes_back_is_noticed(shop: Shop) -> None:
    shop.sign("ann")
    assert refused(shop, "bob", time="2026-11-20T08:59:59Z") == ["time-order"]
    shop.sign("bob", time=TIMES["prepared"])


@pytest.mark.parametrize(
    ("call", "place"),
    [
        ({"role": "approved"}, "--role"),
        ({"role": "Prepared"}, "--role"),
        ({"name": ""}, "--name"),
        ({"name": "  "}, "--name"),
        ({"name": ".."}, "--name"),
        ({"name": "../Ann"}, "--name"),
        ({"name": "Ann/Lee"}, "--name"),
        ({"name": "Ann\\Lee"}, "--name"),
        ({"name": "Ann\0Lee"}, "--name"),
        ({"name": "Ann\x1b[2J"}, "--name"),
        ({"name": "Ann\u202eLee"}, "--name"),
        ({"name": "Ann\udc80"}, "--name"),
        ({"name": "007"}, "--name"),
        ({"name": "A" * 181}, "--name"),
        ({"name": "ü" * 31}, "--name"),
        ({"goods": "kept"}, "--goods"),
        ({"role": "rejected"}, "--goods"),
        ({"role": "rejected", "goods": " "}, "--goods"),
        ({"role": "rejected", "goods": "--"}, "--goods"),
        ({"role": "rejected", "goods": "x" * 2001}, "--goods"),
        ({"role": "rejected", "goods": "a\x07b"}, "--goods"),
        ({"time": "yesterday"}, "time"),
        ({"time": "2026-02-30T00:00:00Z"}, "time"),
        ({"time": "1969-12-31T23:59:59Z"}, "time"),
    ],
)
def test_a_wrong_call(shop: Shop, call: dict[str, Any], place: str) -> None:
    with pytest.raises(Refused) as refusal:
        shop.sign("ann", **{"role": "prepared", "time": TIMES["prepared"], **call})
    assert [problem.place for problem in refusal.value.problems] == [place]
    assert sorted(path.name for path in shop.folder.iterdir()) == ["allowed_signers", "record.json"]


def test_all_that_is_wrong_with_a_call_is_said_at_once(shop: Shop) -> None:
    with pytest.raises(Refused) as refusal:
        shop.sign("ann", "relased", name="", goods="kept", time="x")
    assert [problem.place for problem in refusal.value.problems] == ["--role", "--name", "time", "--goods"]
    assert says("signature: missing files are wrong calls", refusal.value.problems[0].sentence())


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Ann Lee", "Ann_Lee"),
        ("  Ann \t Lee ", "Ann_Lee"),
        ("J. Smith-Jones", "J%2E_Smith-Jones"),
        ("Ann_Lee", "Ann%5FLee"),
        ("Ann%20Lee", "Ann%2520Lee"),
        ("Jose\u0301", "Jos%C3%A9"),
        ("José", "Jos%C3%A9"),
        ('O\'Neil, "Bo"*?', "O%27Neil%2C_%22Bo%22%2A%3F"),
        ("山田", "%E5%B1%B1%E7%94%B0"),
        ("..A", "%2E%2EA"),
        ("A" * 180, "A" * 180),
    ],
)
def test_names_become_safe_file_names_and_stay_true_in_the_statement(
    shop: Shop, name: str, file: str
) -> None:
    done = shop.sign("ann", name=name)
    assert done.statement == shop.folder / f"record.prepared.{file}.statement"
    assert read_statement(done.statement.read_bytes()).name == checked_name(name)
    shop.allow(f"* {shop.line('ann').split(' ', 3)[3]}")
    assert shop.verify(need="prepared").proven


def test_two_names_never_share_a_file() -> None:
    names = [
        "Ann Lee",
        "Ann_Lee",
        "Ann.Lee",
        "Ann%Lee",
        "Ann%20Lee",
        "Ann-Lee",
        "AnnLee",
        "ann lee",
        "Änn Lee",
    ]
    assert len({statement_name(Path("record.json"), "prepared", name) for name in names}) == len(names)
    with pytest.raises(Malformed):
        checked_name("x" * 181)


@pytest.mark.parametrize(
    "record",
    [
        b"",
        b"{}",
        b'{"answer": "conforms","characteristics":[]}',
        b'{"answer":"fine","characteristics":[]}',
        b'{"answer":"conforms","characteristics":{}}',
        b'{"answer":"conforms"}',
        b'{"answer":"conforms","characteristics":[],"process":1}',
        b'{"answer":"conforms","characteristics":[],"instruments":[{"name":1}]}',
        b'{"answer":"conforms","characteristics":[1]}',
        b'{"answer":"conforms","characteristics":[{"name":"mass","zone":3,"decision":"conforms"}]}',
        b'{"answer":"conforms","characteristics":[],"concession":[]}',
        b'{"answer":"conforms","characteristics":[],"concession":{"number":"1"}}',
        b'{"answer":"conforms","answer":"conforms","characteristics":[]}',
        *(b'{"answer":"conforms","characteristics":[],"exclusions":%b}' % rows for rows in NO_ROWS),
    ],
)
def test_a_record_that_cannot_be_signed(shop: Shop, record: bytes) -> None:
    shop.record.write_bytes(record)
    with pytest.raises(Refused) as refusal:
        shop.sign("ann")
    assert [problem.code for problem in refusal.value.problems] == ["bad-record"]
    shop.record.unlink()
    with pytest.raises(Refused) as caught:
        shop.sign("ann")
    assert says("signature: a record that cannot be signed", str(caught.value))


@pytest.mark.parametrize("fails_at", range(1, 6))
def test_both_files_or_none(shop: Shop, monkeypatch: pytest.MonkeyPatch, fails_at: int) -> None:
    """Two drafts are synced, two links made, the folder synced: whenever the disk dies, nothing is left."""
    steps: list[str] = []

    def step(name: str, real: Any) -> Any:
        def run(*arguments: Any) -> Any:
            steps.append(name)
            if len(steps) >= fails_at:
                raise OSError(errno.EIO, "Input/output error")
            return real(*arguments)

        return run

    monkeypatch.setattr(os, "fsync", step("fsync", os.fsync))
    monkeypatch.setattr(os, "link", step("link", os.link))
    before = sorted(shop.folder.iterdir())
    with pytest.raises(Refused, match="input/output error"):
        shop.sign("ann")
    assert steps[:fails_at] == ["fsync", "fsync", "link", "link", "fsync"][:fails_at]
    assert sorted(shop.folder.iterdir()) == before


def test_a_disk_without_hard_links(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    shop.sign_all()
    assert shop.verify(need="released").proven
    assert not list(shop.folder.glob("*.draft"))
    assert not list(shop.folder.glob(".*"))


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("ending", ["", ".sig"])
def test_nothing_is_ever_overwritten(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, ending: str, links: bool
) -> None:
    """Somebody's file appears between looking and writing."""
    target = Path(f"{shop.statement('ann')}{ending}")
    real = signature_files.write_pair

    def late(*arguments: Any) -> None:
        target.write_bytes(b"somebody's")
        real(*arguments)

    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(signature, "write_pair", late)
    with pytest.raises(NotAllowed) as caught:
        shop.sign("ann")
    assert says("signature: nothing is ever overwritten", str(caught.value))
    assert target.read_bytes() == b"somebody's"
    assert sorted(path.name for path in shop.folder.iterdir()) == sorted(
        ["allowed_signers", "record.json", target.name]
    )


def test_somebody_else_signs_at_the_same_moment(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.sign("ann")
    real = signature_files.write_pair

    def late(*arguments: Any) -> None:
        monkeypatch.setattr(signature, "write_pair", real)
        shop.sign("bob", "rejected", goods="scrapped")
        real(*arguments)

    monkeypatch.setattr(signature, "write_pair", late)
    with pytest.raises(NotAllowed) as caught:
        shop.sign("eve")
    assert says("signature: nothing is ever overwritten", str(caught.value))
    assert [one.role for one in shop.verify().signatures] == ["prepared", "rejected"]


def test_a_folder_that_cannot_be_written(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(signature, "write_pair", full)
    with pytest.raises(Refused) as caught:
        shop.sign("ann")
    assert says("signature: a folder that cannot be written", str(caught.value))


def test_a_key_that_changes_between_reading_and_signing(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FileSignature, "holds", lambda *_: False)
    with pytest.raises(Refused) as caught:
        shop.sign("ann")
    assert says("signature: a key that changes between reading", str(caught.value))


@pytest.mark.parametrize("seed", range(3))
def test_a_damaged_private_key_is_refused_in_words(shop: Shop, tmp_path: Path, seed: int) -> None:
    """Whatever byte is damaged: a sentence, or the same key still."""
    import random

    draw = random.Random(seed)
    kind = ("ed25519", "ecdsa", "rsa")[seed]
    good = make_key(tmp_path / "good", kind, bits="2048" if kind == "rsa" else "").read_bytes()
    key = tmp_path / "damaged"
    outcomes: set[str] = set()
    for _ in range(60):
        place = draw.randrange(len(good))
        key.write_bytes(good[:place] + bytes([draw.randrange(256)]) + good[place + 1 :])
        key.chmod(0o600)
        try:
            done = shop.sign("ann", key_path=key)
        except (Refused, Unsound) as error:
            outcomes.add(type(error).__name__)
        else:
            done.statement.unlink()
            done.signature.unlink()
    assert outcomes == {"Refused"}
