"""Records in archives, compressed or under another ending stand against a release like those lying open."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import shutil
import tarfile
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from laminate.records import packed
from laminate.records.packed import Unpacking

from .conftest import OTHER_ID, Shop, put, released, sealed

WHEN = "2026-11-22T00:00:00Z"


def tarred(files: Mapping[str, bytes], mode: str = "w") -> bytes:
    stream = io.BytesIO()
    with tarfile.open(fileobj=stream, mode=mode) as archive:
        for name, data in files.items():
            row = tarfile.TarInfo(name)
            row.size = len(data)
            archive.addfile(row, io.BytesIO(data))
    return stream.getvalue()


def old_tarred(files: Mapping[str, bytes]) -> bytes:
    """Without 'ustar', as tar wrote before POSIX."""
    data = bytearray(tarred(files))
    for at in (at for at in range(0, len(data), 512) if data[at + 257 : at + 262] == b"ustar"):
        data[at + 257 : at + 512] = bytes(255)
        data[at + 148 : at + 156] = b" " * 8
        data[at + 148 : at + 155] = b"%06o\0" % sum(data[at : at + 512])
    return bytes(data)


def zipped(files: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return stream.getvalue()


def folder(data: bytes) -> dict[str, bytes]:
    return {"bad/photo.jpg": b"\xff\xd8\xff" * 9000, "bad/record.json": data}


FORMS: dict[str, Callable[[bytes], bytes]] = {
    "bad.zip": lambda data: zipped(folder(data)),
    "bad.tar": lambda data: tarred(folder(data)),
    "v7.tar": lambda data: old_tarred(folder(data)),
    "v7.backup.gz": lambda data: gzip.compress(old_tarred(folder(data))),
    "unpacks-itself.exe": lambda data: b"MZ" + bytes(9000) + zipped(folder(data)),
    "bad.tar.gz": lambda data: tarred(folder(data), "w:gz"),
    "bad.tbz2": lambda data: tarred(folder(data), "w:bz2"),
    "bad.tar.xz": lambda data: tarred(folder(data), "w:xz"),
    "year.zip": lambda data: zipped({"week/bad.tgz": tarred(folder(data), "w:gz")}),
    "renamed.dat": lambda data: zipped({"26-032.txt": data}),
    "record.json.gz": gzip.compress,
    "old.bz2": bz2.compress,
    "record.json.xz": lzma.compress,
    "record.txt": bytes,
    "record.json.bak": bytes,
}


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("place", ["named", "beside", "own"])
def test_a_packed_record_is_read_like_any_other(first: Shop, tmp_path: Path, name: str, place: str) -> None:
    folders = {"named": tmp_path / "named/deep", "beside": first.folder.parent, "own": first.folder}
    folders[place].mkdir(parents=True, exist_ok=True)
    (folders[place] / name).write_bytes(FORMS[name](sealed(first.folder.parent / "files", OTHER_ID)))
    assert released(first, among=tmp_path / "named" if place == "named" else None) == ["same-readings"]


DAMAGED: dict[str, Callable[[bytes], bytes]] = {
    "cut.tar": lambda data: tarred(folder(data))[:40000],
    "cut.tar.gz": lambda data: tarred(folder(data), "w:gz")[:-200],
    "cut.zip": lambda data: zipped(folder(data))[:-50],
    "cut.gz": lambda data: gzip.compress(data)[:-9],
    "locked.zip": lambda data: locked(zipped(folder(data))),
    "lost.zip": lambda data: zipped(folder(data[:9000])),
    "old.tar": lambda data: tarred({"bad/record.json": b""}),
}


def locked(archive: bytes) -> bytes:
    """A zip whose files say that they need a password."""
    for begin, flags in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        parts = archive.split(begin)
        after = flags - len(begin)
        parts[1:] = [part[:after] + bytes([part[after] | 1]) + part[after + 1 :] for part in parts[1:]]
        archive = begin.join(parts)
    return archive


@pytest.mark.parametrize("name", DAMAGED)
def test_an_archive_that_may_hold_a_record_and_cannot_be_read_refuses(first: Shop, name: str) -> None:
    (first.folder.parent / name).write_bytes(DAMAGED[name](sealed(first.folder.parent / "files", OTHER_ID)))
    assert {*released(first)} == {"unread-record"}


HONEST = {
    "photos.zip": zipped({"1.jpg": b"\xff\xd8" * 999, "2.txt": b"a note", "settings.xml": b"<a/>"}),
    "photos.tar.gz": tarred({"1.jpg": b"\xff\xd8" * 999}, "w:gz"),
    "empty.zip": zipped({}),
    "empty.tar": tarred({}),
    "photos-v7.tar": old_tarred({"1.jpg": b"\xff\xd8" * 999}),
    "photos.exe": b"MZ" + bytes(999) + zipped({"1.jpg": b"\xff\xd8" * 999}),
    "program.exe": b"MZ" + bytes(99_999),
    "coupons.xlsx": zipped({"xl/workbook.xml": b"<a/>"}),
    "log.csv.gz": gzip.compress(b"t;T\n" * 999),
    "coupons.csv.history.jsonl": b'{"a": 1}\n{"b": 2}\n',
    "settings.txt": b'{"a": 1}',
    "notes.txt": b"all is well",
    "nothing.zip": b"",
}


def test_what_holds_no_record_is_not_named_and_refuses_nothing(first: Shop) -> None:
    for name, data in HONEST.items():
        (first.folder.parent / name).write_bytes(data)
    notes = first.sign("eve", time=WHEN, among=first.folder.parent).notes
    assert not any(name in note for name in HONEST for note in notes)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("photos.bin", b"7z\xbc\xaf\x27\x1c" + b"\0" * 600),
        ("photos.bin", b"Rar!\x1a\x07\1\0"),
        ("photos.bin", b"\x1f\x8b\0"),
        ("photos.tar", b"something else" * 99),
        ("photos.zip", b"something else" * 99),
    ],
)
def test_what_cannot_be_looked_into_is_named_and_refuses_nothing(first: Shop, name: str, data: bytes) -> None:
    (first.folder.parent / name).write_bytes(data)
    notes = first.sign("eve", time=WHEN).notes
    assert sum(name in note for note in notes) == 1


def test_a_copy_in_an_archive_counts_with_what_is_signed_beside_it(first: Shop, tmp_path: Path) -> None:
    copy = Shop(Path(shutil.copytree(first.folder, tmp_path / "elsewhere/26-031")), first.keys)
    copy.sign("bob", "rejected", time=WHEN, goods="scrapped")
    files = {f"26-031/{path.name}": path.read_bytes() for path in copy.folder.iterdir()}
    (first.folder.parent / "old.tgz").write_bytes(tarred(files, "w:gz"))
    assert released(first) == ["released-and-rejected"]


def test_a_rejected_record_in_an_archive_is_not_replaced(first: Shop) -> None:
    changes = ("batch.toml", "quantity = 12", "quantity = 11")
    put(first, sealed(first.folder.parent / "files", changes), "earlier")
    earlier = Shop(first.folder.parent / "earlier", first.keys)
    digest = earlier.sign("bob", "rejected", time=WHEN, goods="scrapped").record
    replaces = ("batch.toml", "[batch]\n", f'[replaces]\nrecord = "{digest}"\nreason = "new"\n\n[batch]\n')
    for path in first.folder.glob("record.*"):
        path.unlink()
    first.record.write_bytes(sealed(first.folder.parent / "files", replaces))
    first.sign("ann", time="2026-11-21T00:00:00Z")
    files = {f"earlier/{path.name}": path.read_bytes() for path in earlier.folder.iterdir()}
    shutil.rmtree(earlier.folder)
    (first.folder.parent / "earlier.zip").write_bytes(zipped(files))
    assert released(first) == ["replaces-rejected"]


def test_a_pipe_in_the_folder_is_not_waited_for(first: Shop, tmp_path: Path) -> None:
    (tmp_path / "named").mkdir()
    os.mkfifo(tmp_path / "named/pipe.zip")
    assert [*Unpacking().look(tmp_path / "named/pipe.zip")] == []
    assert released(first, among=tmp_path / "named") == []


def test_only_so_much_is_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "large.tgz").write_bytes(tarred({"1.jpg": bytes(1 << 20), "record.json": b"{}"}, "w:gz"))
    assert [member.path.name for member in Unpacking().look(tmp_path / "large.tgz")] == ["record.json"]
    for less in (Unpacking(left=1 << 19), Unpacking(members=0)):
        (member,) = less.look(tmp_path / "large.tgz")
        assert (member.path.name, bool(member.fault), member.unseen) == ("large.tgz", True, False)
    monkeypatch.setattr(packed, "_DEEPEST", 1)
    (member,) = Unpacking().look(tmp_path / "large.tgz")
    assert member.fault
