"""From a batch to a released record: reported, signed by three people, verified, and nothing changed."""

from __future__ import annotations

import base64
import json
import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from laminate.cli import app
from laminate.records.record import page_of, recompute
from laminate.records.signature import NotAllowed
from laminate.records.signed_beside import signed_beside
from laminate.show.verify_json import ANSWER
from laminate.values.canonical import canonical, read_canonical
from tests.messages.wording import says, worded

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
    assert says("signature: reported signed and verified", (shop.folder / "report.html").read_text("utf-8"))
    shop.sign_all()
    assert verified(shop) == 0
    capsys.readouterr()
    before = shop.record.read_bytes()
    assert reported(shop, batch) == 0
    assert shop.record.read_bytes() == before
    page = (shop.folder / "report.html").read_text("utf-8")
    who = "prepared by Ann Lee; reviewed by Bob Ray; released by Eve Müller."
    assert says("signature: signed when the page was made", page, who=who)
    assert "Not signed" not in page
    assert verified(shop) == 0
    assert capsys.readouterr().out.count(" proven\n") == len(PEOPLE)


def test_another_record_never_takes_the_place_of_a_signed_one(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(shop, batch) == 0
    shop.sign_all()
    before = {file.name: file.read_bytes() for file in shop.folder.iterdir()}
    batch.write_text(batch.read_text("utf-8").replace('press = "P2"', 'press = "P3"'), "utf-8")
    capsys.readouterr()
    assert reported(shop, batch, "--json") == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["found"]) == ("signed-record", worded("signature: another record"))
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
    assert says("signature: a record that was forged and then", out)


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
    assert says("signature: the record was changed", prepared["remark"] or "")
    assert "is missing" in (reviewed["remark"] or "")
    assert reviewed["key"] is None
    shop.statement("bob").write_bytes(b"{}")
    assert signed_beside(shop.record, digest)[1]["name"] == shop.statement("bob").name
    assert signed_beside(shop.folder / "not there" / "record.json", digest) == []


def test_the_page_beside_a_record_is_held_against_it(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Made before, between and after the signatures it is the page of the record; changed it is not."""
    assert reported(shop, batch) == 0
    page = shop.folder / "report.html"
    shop.sign("ann")
    assert reported(shop, batch) == 0
    between = page.read_bytes()
    shop.sign("bob")
    shop.sign("eve")
    capsys.readouterr()
    assert verified(shop) == 0
    said = "report.html beside it says what the record says; 2 of the signatures came after the page was made"
    assert said in capsys.readouterr().out
    assert reported(shop, batch) == 0
    capsys.readouterr()
    assert verified(shop) == 0
    assert says("signature: the page beside a record is held", capsys.readouterr().out)
    for changed in (
        between.replace(b"58.79", b"58.97", 1), between + b"\n", b"",
        between.replace(b"prepared by Ann Lee", b"released by Ann Lee"),
    ):  # fmt: skip
        assert changed != between
        page.write_bytes(changed)
        assert verified(shop) == 1
        assert says("signature: the page beside a record is held, 2", capsys.readouterr().out)
    page.unlink()
    assert verified(shop) == 0
    assert "report.html" not in capsys.readouterr().out


def test_a_changed_page_is_found_by_another_name_too(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the page, or of the record; a page whose name says nothing is named as not compared."""
    assert reported(shop, batch) == 0
    for who in PEOPLE:
        shop.sign(who)
    page = shop.folder / "report.html"
    changed = page.read_bytes().replace(b"58.79", b"58.97", 1)
    page.write_bytes(changed)
    (folder := shop.folder.parent / "other").mkdir()
    for file in shop.folder.glob("record.*"):
        shutil.copy(file, folder / file.name.replace("record.", "26-031.", 1))
    for name in ("report.html", "Report.HTML"):
        (folder / name).write_bytes(changed)
        call = ["verify", str(folder / "26-031.json"), "--allowed-signers", str(shop.allowed), "--json"]
        capsys.readouterr()
        assert app.status(call) == 1
        codes = [reason["code"] for reason in json.loads(capsys.readouterr().out)["reasons"]]
        assert codes == ["page-differs"]
        (folder / name).unlink()
    page.rename(shop.folder / "mast.html")
    assert verified(shop) == 0
    assert "mast.html" in capsys.readouterr().out


@pytest.mark.parametrize("page", ["right", "wrong"])
@pytest.mark.parametrize("words", ["right", "wrong"])
def test_a_page_or_words_of_another_version_are_not_proven_in_silence(
    shop: Shop, batch: Path, words: str, page: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page that this version makes of the record too is proven, whatever version the record names."""
    assert reported(shop, batch) == 0
    content = read_canonical(shop.record.read_bytes())
    assert isinstance(content, dict)
    content["program"]["version"] = "0.0.9"
    if words == "wrong":
        content["covers"]["text"] = "zones web and skin"
    data = canonical(content)
    shop.record.write_bytes(data)
    shop.folder.joinpath("report.html").write_bytes(page_of(data) if page == "right" else b"60.00 %")
    shop.sign("ann", recompute=recompute, page=page_of)
    unknown = [name for name, how in (("report.html", page), ("words", words)) if how == "wrong"]
    found = shop.verify(recompute=recompute, page=page_of)
    assert (found.proven, list(found.but_for), ANSWER.json(found)["but_for"]) == (True, unknown, unknown)
    capsys.readouterr()
    assert app.status(["verify", str(shop.record), "--allowed-signers", str(shop.allowed)]) == 0
    assert capsys.readouterr().out.startswith("Proven: ") is (not unknown)


def test_who_signs_is_told_that_the_page_is_not_the_page_of_the_record(shop: Shop, batch: Path) -> None:
    assert reported(shop, batch) == 0
    page = shop.folder / "report.html"
    right = page.read_bytes()
    page.write_bytes(right.replace(b"58.79", b"60.00"))
    for who in PEOPLE:
        with pytest.raises(NotAllowed) as refused:
            shop.sign(who, recompute=recompute, page=page_of)
        assert "page-differs" in [finding.code for finding in refused.value.findings]
        page.write_bytes(right)
        shop.sign(who, recompute=recompute, page=page_of)
        page.write_bytes(right.replace(b"58.79", b"60.00"))
    page.unlink()
    assert shop.verify(recompute=recompute, page=page_of).proven


def test_no_page_is_written_over_that_of_a_signed_record(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(shop, batch) == 0
    call = ["report", str(batch), "--html"]
    page = shop.folder / "report.html"
    before = page.read_bytes()
    assert app.status([*call, str(page)]) == 0
    page.write_bytes(before)
    shop.sign("ann")
    capsys.readouterr()
    assert app.status([*call, str(page), "--json"]) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["place"]) == ("signed-page", "--html")
    assert page.read_bytes() == before
    assert app.status([*call, str(shop.folder / "other.html")]) == 0


def test_a_page_beside_a_record_that_does_not_stand_is_not_compared(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(shop, batch) == 0
    data = shop.record.read_bytes()
    shop.record.write_bytes(data.replace(b'"quantity":12', b'"quantity":13'))
    shop.sign_all()
    capsys.readouterr()
    assert verified(shop) == 1
    assert says("signature: a page beside a record", capsys.readouterr().out)


def test_a_release_under_concession_says_so(
    shop: Shop, batch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A core past its moldings, released by the concession that names it."""
    text = batch.read_text("utf-8").replace("moldings = 12", "moldings = 57")
    batch.write_text(text, "utf-8")
    assert reported(shop, batch) == 1
    shop.sign("ann")
    with pytest.raises(NotAllowed, match=r"'undecided'.* core\.fore$"):
        shop.sign("eve")
    for file in shop.folder.glob("record.*"):
        file.unlink()
    batch.write_text(
        text + '[concession]\nnumber = "W-12"\nauthority = "customer quality"\n'
        'characteristics = ["core.fore"]\nreason = "re-measured at 56"\n',
        "utf-8",
    )
    assert reported(shop, batch) == 1
    shop.sign("ann")
    granted = "concession W-12 of customer quality for core.fore: re-measured at 56"
    assert shop.sign("eve").concession == granted
    capsys.readouterr()
    assert verified(shop) == 0
    assert f"released under {granted}\n" in capsys.readouterr().out
