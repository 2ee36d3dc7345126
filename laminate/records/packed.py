"""What lies in archives and compressed files, read in memory and never unpacked to the disk."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import re
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, NamedTuple

from laminate.records.files import is_signature
from laminate.values.durable import MOST_TABLE

MOST_UNPACKED = 4 << 30
"""Most bytes that are unpacked to look through all files together."""
MOST_MEMBERS = 200_000
_DEEPEST = 6
"""How many archives and compressions within one another are opened."""
_HEAD = 512
"""Bytes that tell what a file is: the first header of a tar archive, with its check sum."""
_JSON = re.compile(rb"(?:\xef\xbb\xbf)?\s*\{")
_ZIP = (b"PK\3\4", b"PK\5\6")
_COMPRESSED: dict[bytes, Callable[[Any], Any]] = {
    b"\x1f\x8b": lambda stream: gzip.GzipFile(fileobj=stream),
    b"BZh": bz2.BZ2File,
    b"\xfd7zXZ\0": lzma.LZMAFile,
}
_NOT_OPENED = (b"7z\xbc\xaf\x27\x1c", b"Rar!\x1a\x07", b"\x28\xb5\x2f\xfd")
"""What 7z, rar and zstd begin with."""
_BROKEN = (
    zipfile.BadZipFile, tarfile.TarError, zlib.error, lzma.LZMAError, EOFError, OSError, RuntimeError,
    LookupError, ValueError,
)  # fmt: skip


class Member(NamedTuple):
    """What may be a record or a signature: a file, or something in an archive.

    path: that of the archive, then the name within; data: its bytes, its first ones where the rest cannot be
    read; fault: why not, in words; unseen: it is a damaged archive, and nobody knows what else was in it.
    """

    path: Path
    data: bytes
    fault: str = ""
    unseen: bool = False


@dataclass
class Unpacking:
    """Looks into files; left, members: how many more bytes and members are unpacked, of all together."""

    left: int = MOST_UNPACKED
    members: int = MOST_MEMBERS

    def look(self, path: Path) -> Iterator[Member]:
        """What may be a record, or is a signature, in a file of any name: JSON objects by how they begin.

        An archive that cannot be read is a member with a fault; a file that cannot be opened is none.
        """
        try:
            if not path.is_file():  # a pipe would be waited for
                return
            file = path.open("rb")
        except (OSError, ValueError):
            return
        with file:
            yield from self._look(_Stream(file, self), path, file)

    def _look(self, stream: _Stream, path: Path, file: IO[bytes] | None, depth: int = 0) -> Iterator[Member]:
        """file: the file itself, None inside an archive."""
        head = b""
        try:
            head = stream.head()
            opener = next((opener for begin, opener in _COMPRESSED.items() if head.startswith(begin)), None)
            each = self._tarred if _is_tar(head) else self._zipped if _is_zip(head, file) else None
            known = opener or each or _JSON.match(head) or not head.strip(b"\0")
            named = path.suffix.lower() in (".tar", ".zip")
            if head.startswith(_NOT_OPENED) or (named and not known):
                yield Member(path, head, "is packed in a way that this program does not open")
            elif not (opener or each):
                inside = file is None and is_signature(path)
                if inside or _JSON.match(head) or path.name.lower() == "record.json":
                    yield Member(path, stream.read(MOST_TABLE))
            elif depth == _DEEPEST:
                yield Member(path, head, "lies too deep in archives")
            elif opener:
                yield from self._look(_Stream(opener(stream), self), path, None, depth + 1)
            elif each:
                yield from each(stream, path, file, depth)
        except _TooMuch:
            yield Member(path, head, "is too large to be looked through")
        except _BROKEN:
            yield Member(path, head, "is damaged or locked", unseen=_is_tar(head))

    def _zipped(self, stream: _Stream, path: Path, file: IO[bytes] | None, depth: int) -> Iterator[Member]:
        source = file or io.BytesIO(stream.read(MOST_TABLE))
        try:
            archive = zipfile.ZipFile(source)
        except _BROKEN:
            source.seek(0)
            if b"record.json" in source.read(MOST_TABLE).lower():
                yield Member(path / "record.json", b"", "lies in a damaged archive")
            raise
        with archive:
            for row in archive.infolist():
                self._count()
                within = path / row.filename.replace("\\", "/").lstrip("/")
                try:
                    member = archive.open(row)
                except _BROKEN:
                    yield Member(within, b"", "is locked or damaged")
                    continue
                with member:
                    yield from self._look(_Stream(member, self), within, None, depth + 1)

    def _tarred(self, stream: _Stream, path: Path, file: IO[bytes] | None, depth: int) -> Iterator[Member]:
        if file is not None:
            file.seek(0)
        with tarfile.open(fileobj=file or stream, mode="r:" if file else "r|") as archive:  # type: ignore[call-overload]
            for row in archive:
                self._count()
                member = archive.extractfile(row) if row.isreg() else None
                if member is not None:
                    within = path / row.name.lstrip("/")
                    yield from self._look(_Stream(member, self), within, None, depth + 1)

    def _count(self) -> None:
        self.members -= 1
        if self.members < 0:
            raise _TooMuch


def _is_tar(head: bytes) -> bool:
    """Whether a file begins as a tar archive does, of the old form too, which its check sum alone tells."""
    try:
        return head[257:262] == b"ustar" or tarfile.TarInfo.frombuf(head, "utf-8", "replace").chksum > 0
    except tarfile.HeaderError:
        return False


def _is_zip(head: bytes, file: IO[bytes] | None) -> bool:
    """Whether a file is a zip archive, after something else too, as one that unpacks itself is.

    file: read so far as its head, and left so; None inside an archive, where the beginning alone tells.
    """
    if file is None or head.startswith(_ZIP) or _JSON.match(head):
        return head.startswith(_ZIP)
    place = file.tell()
    after = zipfile.is_zipfile(file)
    file.seek(place)
    return after


class _TooMuch(Exception):
    """More than is unpacked."""


class _Stream:
    """A stream that is read forward, with what was looked at put back; counts what is read."""

    def __init__(self, stream: IO[bytes], unpacking: Unpacking) -> None:
        self._stream, self._unpacking, self._back = stream, unpacking, b""

    def head(self) -> bytes:
        """Its first bytes, which are read again."""
        self._back = self.read(_HEAD)
        return self._back

    def read(self, size: int = -1) -> bytes:
        """So many bytes, fewer at the end. Raises _TooMuch where too many were read of all files."""
        if size < 0:
            size = MOST_TABLE
        back, self._back = self._back[:size], self._back[size:]
        rest = self._stream.read(min(size - len(back), self._unpacking.left + 1))
        self._unpacking.left -= len(rest)
        if self._unpacking.left < 0:
            raise _TooMuch
        return back + rest
