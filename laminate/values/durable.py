"""Files that are on the disk, whole, or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
import stat
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

from laminate.values.problems import Problem, Refused, disk_words, refusal

MOST_TEXT = 4 << 20
"""Most bytes of a file that people write: TOML, keys, lists of signers."""

MOST_TABLE = 1 << 30
"""Most bytes of a table or a record."""

LOCK = ".laminate.lock"
"""Name of the file that keeps two calls from writing one folder at a time."""

LEFT_BEHIND = 3600.0
"""Age [s] from which a draft is one that a killed call left."""

_DRAFT, _DRAFT_END = ".laminate-", ".draft"
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}


def replace_file(path: Path, data: bytes) -> None:
    """Put new content in the place of a file: any reader, and any crash, finds the old or the new whole.

    path: need not exist; data: the content. Written beside it, synced, renamed over it, folder synced. Raises
    OSError, also where the path is a device or a pipe; the old content then still stands unless the disk
    failed after the renaming.
    """
    replace_files({path: data})


def replace_files(wanted: Mapping[Path, bytes]) -> None:
    """Put new content in the place of files of one folder: all of them or none, each whole.

    Raises OSError; what was there then still stands.
    """
    drafts: dict[Path, Path] = {}
    before: dict[Path, Path | None] = {}
    try:
        for path, data in wanted.items():
            real = Path(os.path.realpath(path))
            drafts[real] = _drafted(real, data)
        for real, draft in drafts.items():
            before[real] = _kept(real) if len(drafts) > 1 else None
            os.replace(draft, real)
    except BaseException:
        for real in [real for real in before if not drafts[real].exists()]:
            with contextlib.suppress(OSError):
                if (kept := before[real]) is not None:
                    os.replace(kept, real)
                else:
                    real.unlink()
        raise
    finally:
        for left in (*drafts.values(), *before.values()):
            if left is not None:
                with contextlib.suppress(OSError):
                    left.unlink()
    for folder in {real.parent for real in drafts}:
        sync_folder(folder)


def _drafted(real: Path, data: bytes) -> Path:
    """The new content of a file, on the disk beside it, under a name of its own."""
    _clear(real.parent)
    mode = real.stat().st_mode if real.exists() else None
    if mode is not None and not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "a folder, a device or a pipe, not a regular file", str(real))
    draft = draft_beside(real)
    try:
        with draft.open("xb") as file:
            if mode is not None and hasattr(os, "fchmod"):
                os.fchmod(file.fileno(), stat.S_IMODE(mode))
            put(file, data)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    return draft


def put(file: BinaryIO, data: bytes) -> None:
    """Write bytes that are on the disk before this returns."""
    file.write(data)
    file.flush()
    os.fsync(file.fileno())


def _kept(real: Path) -> Path | None:
    """What stands in the place of a file now, under a second name; None where nothing does."""
    if not real.exists():
        return None
    kept = draft_beside(real)
    try:
        os.link(real, kept)
    except OSError:  # a file system without hard links
        shutil.copy2(real, kept)
    return kept


def draft_beside(path: Path) -> Path:
    """A new name beside a file, for content that will take its place."""
    return path.with_name(f"{_DRAFT}{secrets.token_hex(12)}{_DRAFT_END}")


def _clear(folder: Path) -> None:
    """Remove what calls that were killed left behind in a folder."""
    with contextlib.suppress(OSError):
        for left in folder.glob(f"{_DRAFT}*{_DRAFT_END}"):
            if time.time() - left.stat().st_mtime > LEFT_BEHIND:
                left.unlink()


def append(path: Path, data: bytes, size: int) -> None:
    """Add bytes at the end of a file, made where none should be yet, and on the disk before this returns.

    size: the bytes that the file should hold already; where the disk fails it holds those again. Raises
    OSError, as where the file has another size.
    """
    if (new := not path.exists()) and size:
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path))
    with path.open("ab") as file:
        if os.fstat(file.fileno()).st_size != size:
            raise OSError(errno.EBUSY, "another program has changed the file", str(path))
        try:
            put(file, data)
        except BaseException:
            with contextlib.suppress(OSError):
                os.ftruncate(file.fileno(), size)
            raise
    if new:
        sync_folder(path.parent)


def read_regular(path: Path, most: int) -> bytes:
    """The bytes of a regular file of at most `most` bytes.

    A device, a pipe or a larger file is not read. Raises OSError, whose words say which it was.
    """
    try:
        kind = path.stat().st_mode
    except ValueError as error:  # a zero character, or one that the system cannot write
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path)) from error
    if stat.S_ISDIR(kind):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(kind):
        raise OSError(errno.EINVAL, "a device or a pipe, not a regular file", str(path))
    with path.open("rb") as file:
        size = os.fstat(file.fileno()).st_size
        data = file.read(min(size, most) + 1)
        if len(data) > size:  # it has grown, or its system does not tell its size
            data += file.read(max(most + 1 - len(data), 0))
    if max(size, len(data)) > most:
        raise OSError(errno.EFBIG, f"a file of more than {most >> 20} MiB", str(path))
    return data


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last through a power cut, where the system can sync a folder."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some file systems cannot sync a folder
            raise
    finally:
        os.close(handle)


@contextlib.contextmanager
def on_disk(file: str) -> Iterator[None]:
    """Tell a failure of the disk inside the block as a finding about a file. Raises `Refused`."""
    try:
        yield
    except OSError as error:
        raise Refused(disk_problem(error, file)) from None


def disk_problem(error: OSError, file: str) -> Problem:
    """An error of the disk as a finding: what stands in the way, and what to do about it.

    file: as the person called it.
    """
    if error.errno in _FULL:
        hint = "nothing was changed; make room, then do it again"
        return Problem("disk-full", file, "", "no space left on the disk", "room for the new content", hint)
    if error.errno in _FORBIDDEN:
        hint = "nothing was changed; ask for the right to write there, or copy the files to a folder of "
        hint += "your own"
        words = "a read-only disk" if error.errno == errno.EROFS else "a folder that must not be written"
        return Problem("read-only", file, "", words, "the right to write into its folder", hint)
    if error.errno in (errno.EINVAL, errno.EISDIR):
        words = error.strerror or str(error)
        return Problem("not-a-file", file, "", words, "a new or a regular file", "nothing was changed")
    reason = f"cannot be written: {disk_words(error)}"
    return Problem("file-access", file, "", reason, "", "nothing was changed")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all, making its folder. Raises `Refused` where the disk fails."""
    write_together({path: data})


def write_together(wanted: Mapping[Path, bytes]) -> None:
    """Write files of one folder, making it: all of them or none. Raises `Refused` where the disk fails."""
    first = next(iter(wanted))
    try:
        first.parent.mkdir(parents=True, exist_ok=True)
        if len(wanted) == 1:
            replace_files(wanted)
            return
        from filelock import FileLock

        with FileLock(first.with_name(LOCK)):
            replace_files(wanted)
    except OSError as error:
        blamed = [path for path in wanted if os.path.realpath(path) == error.filename]
        whole = first if len(wanted) == 1 else first.parent
        raise Refused(disk_problem(error, str(blamed[0] if blamed else whole))) from None


PAGES = (".html", ".htm")


def write_page(path: Path, data: bytes) -> None:
    """Write a page for people: a device or a pipe is written through, a file whole or not at all.

    Raises `Refused` where the disk fails, and where a file that is there is no page.
    """
    if path.is_file() and path.suffix.casefold() not in PAGES:
        hint = "nothing was written over it"
        raise refusal(
            "wrong-format", str(path), "--html", f"'{path.suffix}'", "a name that ends in .html", hint
        )
    with on_disk(str(path)):
        through = path.exists() and not (path.is_file() or path.is_dir())
        if through:
            path.write_bytes(data)
    if not through:
        write_whole(path, data)
