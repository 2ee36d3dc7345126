"""What may be a record among others and cannot be read refuses a release; what is none is noted."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest

from laminate.records.signature import NotAllowed

from .conftest import OTHER_ID, Shop, put, released, sealed


@pytest.fixture
def named(tmp_path: Path) -> Path:
    """A folder to look among, with a link to itself, and an archive elsewhere."""
    for name in ("elsewhere/old", "named/r1"):
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "named/again").symlink_to(tmp_path / "named")
    (tmp_path / "named/archive").symlink_to(tmp_path / "elsewhere")
    return tmp_path / "named"


@pytest.mark.parametrize(
    ("file", "end", "code"),
    [
        ("r1/RECORD.JSON", None, "same-readings"),
        ("archive/old/record.json", None, "same-readings"),
        ("r1/old.json", 9000, "unread-record"),
        ("r1/old.json", 15, "unread-record"),
        ("r1/record.json", 0, "unread-record"),
        ("r1/Record.json.GZ", None, "same-readings"),
        ("r1/record.json.7z", 15, "unread-record"),
    ],
)
def test_what_may_be_a_record_in_a_named_folder_is_read_or_refuses(
    first: Shop, named: Path, file: str, end: int | None, code: str
) -> None:
    (named / file).write_bytes(sealed(first.folder.parent / "files", OTHER_ID)[:end])
    assert released(first, among=named) == [code]


def unread(first: Shop, among: Path | None = None) -> str:
    """The file that alone refuses a release."""
    with pytest.raises(NotAllowed) as refused:
        first.sign("eve", time="2026-11-22T00:00:00Z", among=among)
    (finding,) = refused.value.findings
    assert finding.code == "unread-record"
    return finding.words.split("'")[1]


@pytest.mark.parametrize("end", [1, 9000])
def test_a_broken_record_beside_is_named_and_refuses(first: Shop, end: int) -> None:
    put(first, sealed(first.folder.parent / "files", OTHER_ID)[:end])
    assert unread(first).endswith("other/record.json")


@pytest.mark.parametrize("lost", ["answer", "batch", "inputs"])
def test_a_record_that_lost_a_key_is_named_and_refuses(first: Shop, named: Path, lost: str) -> None:
    content = json.loads(sealed(first.folder.parent / "files", OTHER_ID))
    content = {key: value for key, value in content.items() if key not in (lost, "characteristics")}
    (named / "r1/record.json").write_text(json.dumps(content), "utf-8")
    assert unread(first, named) == str(named / "r1/record.json")


@pytest.mark.parametrize("data", [b"", b'{"title": "LP"}', b"[]"])
def test_a_record_of_another_program_beside_is_noted_and_refuses_nothing(first: Shop, data: bytes) -> None:
    put(first, data)
    notes = first.sign("eve", time="2026-11-22T00:00:00Z").notes
    assert sum("other/record.json" in note for note in notes) == 1


OTHER_FILES = {
    "._record.json": b"\0\5\x16\7",
    "empty.json": b"",
    "settings.json": b'{\n // "answer": 1\n "batch": 2}',
    "nan.json": b'{"stress": NaN}',
    "lines.json": b'{"a": 1}\n{"b": 2}\n',
    "bom.json": b'\xef\xbb\xbf{"a": 1}',
    "utf16.json": '{"a": 1}'.encode("utf-16"),
    "meta.json.gz": b"\x1f\x8b",
    "record.json.sha256": b"0a",
    "record.json": b'{"title": "LP"}',
    "._record.json.gz": b"\0\5\x16\7",
}


@pytest.mark.parametrize("name", OTHER_FILES)
def test_what_is_no_record_in_a_named_folder_is_noted_and_refuses_nothing(
    first: Shop, named: Path, name: str
) -> None:
    (named / "r1" / name).write_bytes(OTHER_FILES[name])
    (named / "r1/other.json").write_text('{"a": 1}', "utf-8")
    (named / "r1/a.csv").write_text("1", "utf-8")
    notes = first.sign("eve", time="2026-11-22T00:00:00Z", among=named).notes
    assert not any("--among" in note for note in notes)
    assert [str(named) in note for note in notes].count(True) == 2
    assert sum(f"r1/{name}" in note and "r1/other.json" not in note for note in notes) == 1


@pytest.mark.parametrize("to", ["loop.json", "gone.json"])
def test_a_link_to_nothing_or_to_itself_is_noted_and_refuses_nothing(
    first: Shop, named: Path, to: str
) -> None:
    (named / "r1/loop.json").symlink_to(to)
    notes = first.sign("eve", time="2026-11-22T00:00:00Z", among=named).notes
    assert sum("r1/loop.json" in note for note in notes) == 1


def test_a_record_that_is_a_link_to_nothing_refuses(first: Shop, named: Path) -> None:
    (named / "r1/record.json").symlink_to("gone.json")
    assert unread(first, named) == str(named / "r1/record.json")


def test_a_folder_that_may_not_be_opened_is_noted_and_refuses_nothing(
    first: Shop, named: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed, scan = named / "lost+found", os.scandir
    closed.mkdir()

    def scandir(path: Any) -> Any:
        if Path(path) == closed:
            raise PermissionError(errno.EACCES, "denied", str(path))
        return scan(path)

    monkeypatch.setattr(os, "scandir", scandir)
    notes = first.sign("eve", time="2026-11-22T00:00:00Z", among=named).notes
    assert sum("lost+found" in note for note in notes) == 1
