"""From a batch to a released record: reported, signed by three people, verified, and nothing changed."""

from __future__ import annotations

import base64
import json
import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from laminate.canonical import canonical
from laminate.cli import app
from laminate.signing.signed_beside import signed_beside

from .conftest import PEOPLE, Shop


def reported(shop: Shop, batch: Path, *more: str) -> int:
    return app.status(["report", str(batch), "--out", str(shop.folder), *more])


def verified(shop: Shop) -> int:
    return app.status(
        ["verify", str(shop.record), "--allowed-signers", str(shop.allowed), "--need", "released"]
    )


@pytest.fixture
def batch(checkout: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(checkout / "examples/mast", tmp_path / "batch")) / "batch.toml"


def test_reported_signed_and_verified(shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert reported(shop, batch) == 0
    assert "Not signed when this page was made." in (shop.folder / "report.html").read_text("utf-8")
    shop.sign_all()
    assert verified(shop) == 0
    capsys.readouterr()
    before = shop.record.read_bytes()
    assert reported(shop, batch) == 0
    assert shop.record.read_bytes() == before
    page = (shop.folder / "report.html").read_text("utf-8")
    who = "prepared by Ann Lee; reviewed by Bob Ray; released by Eve Müller."
    assert f"Signed beside the record when this page was made: {who}" in page
    assert "Not signed" not in page
    assert verified(shop) == 0
    assert capsys.readouterr().out.count(" proven\n") == len(PEOPLE)


def test_another_record_never_takes_the_place_of_a_signed_one(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(shop, batch) == 0
    shop.sign_all()
    before = {file.name: file.read_bytes() for file in shop.folder.iterdir()}
    batch.write_text(batch.read_text("utf-8").replace("quantity = 12", "quantity = 13"), "utf-8")
    capsys.readouterr()
    assert reported(shop, batch, "--json") == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["found"]) == ("signed-record", "another record, signed")
    assert {file.name: file.read_bytes() for file in shop.folder.iterdir()} == before
    shop.record.unlink()
    assert reported(shop, batch) == 2
    assert not shop.record.exists()
    for file in shop.folder.glob("record.*"):
        file.unlink()
    assert reported(shop, batch) == 0


def test_a_record_that_was_forged_and_then_signed_is_not_proven(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    batch.with_name("part.toml").write_text(
        batch.with_name("part.toml").read_text("utf-8").replace('max = "2.95 mm"', 'max = "2.86 mm"'), "utf-8"
    )
    assert reported(shop, batch) == 1
    forged = json.loads(shop.record.read_bytes())
    forged["answer"] = "conforms"
    for one in forged["characteristics"]:
        one["decision"] = "conforms"
    shop.record.write_bytes(canonical(forged))
    shop.sign_all()
    capsys.readouterr()
    assert verified(shop) == 1
    out = capsys.readouterr().out
    assert "answer: the record says 'conforms', computed again it is 'does not conform'" in out


def test_any_byte_of_a_signed_record_counts(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(shop, batch) == 0
    shop.sign_all()
    honest = shop.record.read_bytes()
    for place in range(0, len(honest), len(honest) // 12):
        shop.record.write_bytes(honest[:place] + bytes([honest[place] ^ 1]) + honest[place + 1 :])
        assert verified(shop) == 1, place
    shop.record.write_bytes(honest)
    assert verified(shop) == 0


def test_an_auditor_finds_the_files_in_the_record(shop: Shop, batch: Path) -> None:
    """With nothing but a JSON reader: the bytes are there, and have the digests that the record names."""
    assert reported(shop, batch) == 0
    rows = json.loads(shop.record.read_bytes())["inputs"]
    assert len(rows) == 3
    for row in rows:
        data = base64.b64decode(row["base64"])
        assert data == (batch.parent / row["file"]).read_bytes()
        assert sha256(data).hexdigest() == row["sha256"]


def test_what_is_wrong_with_a_statement_is_listed(shop: Shop) -> None:
    shop.sign("ann")
    shop.sign("bob")
    digest = sha256(shop.record.read_bytes()).hexdigest()
    good = signed_beside(shop.record, digest)
    assert [(row["role"], row["name"], row["remark"]) for row in good] == [
        ("prepared", "Ann Lee", None),
        ("reviewed", "Bob Ray", None),
    ]
    assert all(row["key"] and row["key"].startswith("SHA256:") for row in good)
    shop.signature("bob").unlink()
    prepared, reviewed = signed_beside(shop.record, "0" * 64)
    assert "the record was changed after it was signed" in (prepared["remark"] or "")
    assert "is missing" in (reviewed["remark"] or "")
    assert reviewed["key"] is None
    shop.statement("bob").write_bytes(b"{}")
    assert signed_beside(shop.record, digest)[1]["name"] == shop.statement("bob").name
    assert signed_beside(shop.folder / "not there" / "record.json", digest) == []
