"""Writing a file whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from laminate.problems import Problem, Refused


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole, on disk, or as it was before; makes its folder.

    Raises `Refused` with the reason where the disk or the folder will not have it.
    """
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
            temporary = Path(file.name)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o644)
        temporary.replace(path)
    except OSError as fault:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        words = fault.strerror or str(fault)
        raise Refused(
            Problem("not-written", str(path), "", words, "a place that can be written", "nothing was changed")
        ) from None
