"""One person at a time in one coupon table: a lock file beside it says who has it."""

from __future__ import annotations

import contextlib
import datetime as dt
import getpass
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import orjson

from laminate.values.problems import Problem, Refused

_ATTEMPTS = 20


@contextlib.contextmanager
def held(table: Path, name: str, *, take_over: bool = False) -> Iterator[str]:
    """Hold a table; yields what is to be said of a session that ended without leaving, or ''.

    table: its file; name: as the person called it; take_over: even from a session on another computer whose
    end cannot be seen from here. The lock is the system's own on the lock file, so it ends with the process,
    however that ends. Raises `Refused` with who has the table, OSError where the folder cannot be written.
    """
    path = lock_of(table)
    handle, notice = _take(path, name, take_over)
    try:
        yield notice
    finally:
        path.unlink(missing_ok=True)
        os.close(handle)


def lock_of(table: Path) -> Path:
    """The lock file of a table."""
    real = Path(os.path.realpath(table))
    return real.with_name(f"{real.name}.lock")


def user() -> str:
    """Who is logged in."""
    with contextlib.suppress(KeyError, OSError):  # no such entry on this computer
        return getpass.getuser()
    return f"user {os.getuid()}"


def _take(path: Path, name: str, take_over: bool) -> tuple[int, str]:
    for _ in range(_ATTEMPTS):
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        with contextlib.ExitStack() as closing:
            closing.callback(os.close, handle)
            free = _free(handle)
            if not _same(handle, path):  # its holder has just left and removed it
                continue
            before = _holder(handle)
            elsewhere = bool(before) and before.get("host") != socket.gethostname()
            if not free or (elsewhere and not take_over):
                raise Refused(_in_use(before, name, path, sure=not free))
            closing.pop_all()  # it stays open
        _sign(handle)
        ended = f"The session of {_who(before)}, ended without leaving the page."
        return handle, f"{ended} Every reading it had taken is here." if before else ""
    raise Refused(_in_use({}, name, path, sure=True))


def _free(handle: int) -> bool:
    """Take the system's lock; where the disk knows none, believe the process named in the file."""
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        before = _holder(handle)
        return not before or before.get("host") != socket.gethostname() or not _alive(before.get("pid"))
    return True


def _alive(process: object) -> bool:
    try:
        os.kill(int(str(process)), 0)
    except PermissionError:
        return True
    except (ValueError, ProcessLookupError):
        return False
    return True


def _same(handle: int, path: Path) -> bool:
    with contextlib.suppress(FileNotFoundError):
        return os.path.samestat(os.fstat(handle), path.stat())
    return False


def _holder(handle: int) -> dict[str, object]:
    """Who signed the lock file; {} where nobody has."""
    with contextlib.suppress(ValueError):
        holder_keys = orjson.loads(os.pread(handle, 4096, 0))
        return holder_keys if isinstance(holder_keys, dict) else {}
    return {}


def _sign(handle: int) -> None:
    now = dt.datetime.now().astimezone().isoformat(sep=" ", timespec="minutes")
    mine = {"user": user(), "host": socket.gethostname(), "pid": os.getpid(), "since": now}
    os.ftruncate(handle, 0)
    os.pwrite(handle, orjson.dumps(mine), 0)


def _who(holder: dict[str, object]) -> str:
    if not holder:
        return "somebody"
    return f"{holder.get('user')} on {holder.get('host')}, since {holder.get('since')}"


def _in_use(holder: dict[str, object], name: str, path: Path, *, sure: bool) -> Problem:
    process = f" (process {holder['pid']})" if holder.get("pid") else ""
    occupied = f"already being filled in by {_who(holder)}{process}"
    ended = f"if that session has ended, say --take-over, or remove {path.name}"
    hint = "they leave the page first" if sure else ended
    return Problem("in-use", name, "", occupied, "one person at a time", hint)
