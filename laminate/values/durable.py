"""Files that are on the disk, whole, or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from pathlib import Path

from laminate.values.problems import Problem, Refused

MOST_TEXT = 4 << 20
"""Most bytes of a file that people write: TOML, keys, lists of signers."""

MOST_TABLE = 1 << 30
"""Most bytes of a table or a record."""

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}


def replace_file(path: Path, data: bytes) -> None:
    """Put new content in the place of a file: any reader, and any crash, finds the old or the new whole.

    path: need not exist; data: the content. Written beside it, synced, renamed over it, folder synced. Raises
    OSError; the old content then still stands unless the disk failed after the renaming.
    """
    real = Path(os.path.realpath(path))
    draft = draft_of(real)
    try:
        with draft.open("wb") as file:
            if real.exists():
                os.fchmod(file.fileno(), stat.S_IMODE(real.stat().st_mode))
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, real)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    sync_folder(real.parent)


def read_regular(path: Path, most: int) -> bytes:
    """The bytes of a regular file of at most `most` bytes.

    A device, a pipe or a larger file is not read. Raises OSError, whose words say which it was.
    """
    kind = path.stat().st_mode
    if stat.S_ISDIR(kind):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(kind):
        raise OSError(errno.EINVAL, "a device or a pipe, not a regular file", str(path))
    with path.open("rb") as file:
        too_large = os.fstat(file.fileno()).st_size > most
        data = b"" if too_large else file.read(most + 1)
        if too_large or len(data) > most:
            raise OSError(errno.EFBIG, f"a file of more than {most >> 20} MiB", str(path))
    return data


def draft_of(path: Path) -> Path:
    """Where the new content of a file is written before it takes its place."""
    return path.with_name(f".{path.name}.draft")


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last through a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some file systems cannot sync a folder
            raise
    finally:
        os.close(handle)


def disk_problem(error: OSError, file: str) -> Problem:
    """An error of the disk as a finding: what stands in the way, and what to do about it.

    file: as the person called it.
    """
    if error.errno in _FULL:
        hint = "nothing was changed; make room, then do it again"
        return Problem("disk-full", file, "", "no space left on the disk", "room for the new content", hint)
    if error.errno in _FORBIDDEN:
        hint = (
            "nothing was changed; ask for the right to write there, or copy the files to a folder of your own"
        )
        words = "a read-only disk" if error.errno == errno.EROFS else "a folder that must not be written"
        return Problem("read-only", file, "", words, "the right to write into its folder", hint)
    found = (error.strerror or str(error)).lower()
    return Problem("file-access", file, "", found, "a disk that can be written", "nothing was changed")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all, making its folder. Raises `Refused` where the disk fails."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, data)
    except OSError as error:
        raise Refused(disk_problem(error, str(path))) from None
