"""Signatures beside another file with the same bytes count as the record's own, where they can be seen."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from laminate.history.trending import Trend, trend
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.records.signature import NotAllowed, sign
from laminate.records.verification import verify

from .conftest import NOW, Shop, believed, record_bytes


def codes_of(shop: Shop, who: str, role: str | None = None, **more: object) -> list[str]:
    """Why a signature is refused; none where it is made."""
    try:
        shop.sign(who, role, **more)
    except NotAllowed as rule:
        return [finding.code for finding in rule.findings]
    return []


def put(shop: Shop, place: str) -> Shop:
    """A copy of the record alone, in the same folder or in one beside it."""
    path = (shop.folder / place).resolve()
    path.parent.mkdir(exist_ok=True)
    shutil.copy(shop.record, path)
    copy = Shop(path.parent, shop.keys)
    shutil.copy(shop.allowed, copy.folder.parent)
    return copy


@pytest.fixture
def rejected(shop: Shop) -> Shop:
    shop.sign("ann")
    shop.sign("bob", "rejected", goods="scrapped")
    shop.allow(shop.line("ann"), shop.line("bob", ""), shop.line("eve"))
    return shop


@pytest.fixture
def copy(rejected: Shop) -> Shop:
    made = put(rejected, "../copy/record.json")
    shutil.copy(rejected.allowed, made.folder)
    return made


def test_a_rejected_record_is_not_released_as_a_copy(rejected: Shop, copy: Shop) -> None:
    assert codes_of(copy, "ann") == []  # who prepared the one may prepare the other
    with pytest.raises(NotAllowed) as refused:
        copy.sign("eve")
    assert [finding.code for finding in refused.value.findings] == ["released-and-rejected"]
    assert str(rejected.record) in str(refused.value)


def renamed(shop: Shop, name: str) -> Path:
    return shop.record.rename(shop.record.with_name(name))


def test_a_renamed_record_tells_the_name_that_its_signatures_want(signed: Shop) -> None:
    path = renamed(signed, "26-031.json")
    (signed.folder / "notes.statement").write_text("of nothing")
    proof = verify(path, signed.allowed, recompute=believed, need="released", now=NOW)
    assert [reason.code for reason in proof.reasons] == ["unsigned", "role-missing"]
    assert "'record.json'" in proof.reasons[0].words
    (sentence,) = proof.elsewhere
    assert all(who in sentence for who in ("record.json", "Ann Lee", "Bob Ray"))
    path.rename(signed.record)
    assert signed.codes() == set()


def test_a_record_beside_the_signatures_of_another_was_not_renamed(signed: Shop) -> None:
    signed.record.unlink()
    path = signed.folder / "26-032.json"
    path.write_bytes(record_bytes(n=58.0))
    proof = verify(path, signed.allowed, recompute=believed, now=NOW)
    assert "record.json" not in proof.reasons[0].words
    assert proof.elsewhere == ()


def test_a_rejected_record_is_not_released_under_another_name(rejected: Shop) -> None:
    path = renamed(rejected, "26-031.json")
    more = {"recompute": believed, "time": NOW}
    sign(path, "prepared", name="Ann Lee", key_path=rejected.keys["ann"], **more)
    with pytest.raises(NotAllowed) as refused:
        sign(path, "released", name="Eve Müller", key_path=rejected.keys["eve"], **more)
    assert [finding.code for finding in refused.value.findings] == ["released-and-rejected"]


def test_a_released_record_is_not_rejected_as_a_copy(shop: Shop) -> None:
    shop.sign_all()
    copy = put(shop, "../copy/record.json")
    assert "released-and-rejected" in codes_of(copy, "stranger", "rejected", goods="scrapped")


def test_a_copy_under_another_name_in_the_same_folder_counts(rejected: Shop) -> None:
    shutil.copy(rejected.record, rejected.folder / "other.bak")
    rejected.record.rename(rejected.folder / "kept")
    for file in rejected.folder.glob("record.*.statement*"):
        file.rename(file.with_name(file.name.replace("record.", "kept.", 1)))
    (rejected.folder / "other.bak").rename(rejected.record)
    rejected.sign("ann")
    assert codes_of(rejected, "eve") == ["released-and-rejected"]


def test_a_link_to_the_record_drops_nothing(rejected: Shop) -> None:
    folder = rejected.folder.parent / "linked"
    folder.mkdir()
    (folder / "record.json").symlink_to(rejected.record)
    linked = Shop(folder, rejected.keys)
    linked.sign("ann")
    assert codes_of(linked, "eve") == ["released-and-rejected"]


def test_copies_below_a_named_folder_count_in_every_role(rejected: Shop, tmp_path: Path) -> None:
    (tmp_path / "far/away/alone").mkdir(parents=True)
    archive = Path(shutil.move(rejected.folder, tmp_path / "archive"))
    shop = Shop(tmp_path / "far/away/alone", rejected.keys)
    shutil.copy(archive / "record.json", shop.record)
    assert codes_of(shop, "bob", "prepared", among=archive) == ["two-roles-one-name"]
    shop.sign("ann")
    assert codes_of(shop, "eve", among=archive) == ["released-and-rejected"]
    assert codes_of(shop, "eve") == []


def test_nobody_signs_two_roles_of_two_copies(rejected: Shop, copy: Shop) -> None:
    copy.sign("ann")
    assert codes_of(copy, "bob") == ["two-roles-one-name"]
    assert codes_of(copy, "bob", name="Dan Fox") == ["one-key-twice"]


def test_signatures_of_another_record_beside_a_copy_do_not_count(shop: Shop) -> None:
    shop.sign("ann")
    shop.sign("eve", "rejected", goods="scrapped")
    shop.record.write_bytes(record_bytes(n=1.0))
    copy = put(shop, "../copy/record.json")
    copy.sign("bob", "prepared")
    assert codes_of(copy, "eve") == []


def test_a_copy_is_no_other_record_to_hold_a_release_against(shop: Shop) -> None:
    shop.sign("ann")
    put(shop, "../copy/record.json")
    done = shop.sign("eve")
    assert any("--among" in note for note in done.notes)


def test_verify_says_what_stands_beside_a_copy(rejected: Shop, copy: Shop) -> None:
    assert copy.codes() == {"unsigned"}
    copy.sign("ann")
    proof = copy.verify()
    assert proof.proven
    (sentence,) = proof.elsewhere
    assert all(word in sentence for word in (str(rejected.record), "rejected", "Bob Ray"))
    assert "Ann Lee" not in sentence  # as here
    assert proof.notes[0] == sentence
    assert rejected.verify().elsewhere == ()


def release_unseen(copy: Shop) -> None:
    """As one releases it where the rejected copy cannot be seen."""
    away = copy.folder.parent.parent / "away" / "copy"
    away.parent.mkdir(exist_ok=True)
    shutil.move(copy.folder, away)
    unseen = Shop(away, copy.keys)
    unseen.sign("ann")
    unseen.sign("eve")
    shutil.move(away, copy.folder)


def test_neither_of_two_copies_is_proven_where_one_is_rejected_and_one_released(
    rejected: Shop, copy: Shop
) -> None:
    assert rejected.verify().proven
    release_unseen(copy)
    assert copy.codes(need="released") == {"released-and-rejected", "role-missing"}
    assert rejected.codes() == {"released-and-rejected"}


@pytest.fixture
def archive(shop: Shop, checkout: Path) -> Path:
    """The worked example, rejected in one folder and released in another."""
    shop.record.write_bytes(seal(report(checkout / "examples/mast/batch.toml")))
    folder = shop.folder.parent / "archive"
    folder.mkdir()
    copy = Shop(folder / "copy", shop.keys)
    shutil.copytree(shop.folder, copy.folder)
    copy.sign("ann", time="2026-11-21T00:00:00Z")
    copy.sign("eve", time="2026-11-22T00:00:00Z")
    shop.sign("ann", time="2026-11-21T00:00:00Z")
    shop.sign("bob", "rejected", goods="scrapped", time="2026-11-22T00:00:00Z")
    shop.allow(shop.line("ann"), shop.line("bob", ""), shop.line("eve"))
    shutil.move(shop.folder, folder / "first")
    return folder


def studied(archive: Path, *, signed: bool) -> Trend:
    signers = archive / "first/allowed_signers" if signed else None
    return trend(archive, recompute=recompute, allowed_signers=signers)


def test_trend_counts_no_record_that_is_rejected_and_released(archive: Path) -> None:
    answer = studied(archive, signed=True)
    assert [filed.counts for filed in answer.records] == [False, False]
    for filed, other in zip(answer.records, reversed(answer.records), strict=True):
        (fault,) = filed.faults
        assert other.file in fault
    shutil.rmtree(archive / "first")
    shutil.copy(archive / "copy/allowed_signers", archive)
    alone = trend(archive, recompute=recompute, allowed_signers=archive / "allowed_signers")
    assert [filed.counts for filed in alone.records] == [True]


def test_trend_names_such_a_record_where_signatures_are_not_asked_for(archive: Path) -> None:
    answer = studied(archive, signed=False)
    assert [filed.counts for filed in answer.records] == [True, False]
    for filed, other in zip(answer.records, reversed(answer.records), strict=True):
        (note,) = filed.notes
        assert other.file in note
    assert answer.all_verify


def test_trend_says_nothing_of_copies_signed_alike(archive: Path) -> None:
    shutil.rmtree(archive / "first")
    shutil.copytree(archive / "copy", archive / "first")
    answer = studied(archive, signed=True)
    assert [(filed.faults, filed.notes) for filed in answer.records] == [([], []), ([], [])]


def test_signatures_that_hold_for_nobody_beside_a_copy_are_noted(archive: Path) -> None:
    """Those of the wrong key, and of a person whom nobody allows to sign: `verify` and `trend` agree."""
    copy, first = Shop(archive / "copy", {}), Shop(archive / "first", {})
    shutil.copy(first.allowed, copy.allowed)
    assert copy.codes() == {"released-and-rejected"}
    first.allow(first.allowed.read_text().splitlines()[0], first.allowed.read_text().splitlines()[2])
    shutil.copy(first.allowed, copy.allowed)
    assert copy.codes(need="released") == set()
    assert "Bob Ray" in copy.verify().notes[0]
    first.signature("bob", "rejected").unlink()
    shutil.copy(copy.signature("eve"), first.signature("ann"))
    assert copy.codes(need="released") == set()
    assert "Ann Lee" in copy.verify().notes[0]
    answer = studied(archive, signed=True)
    assert [(filed.file, filed.counts) for filed in answer.records] == [
        ("copy/record.json", True),
        ("first/record.json", False),
    ]
