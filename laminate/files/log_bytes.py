"""The bytes of the logs that a batch file names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, Refused, missing_file


def log_bytes(
    logs: Sequence[tuple[str, str]], path: Path, called: str, held: Mapping[str, bytes] | None
) -> dict[str, bytes]:
    """The bytes of every log by name as called.

    logs: each as the batch file names it, and as called; path, called: of the batch file; held: the bytes of
    every file, read in the place of the disk. Raises `Refused` with each that cannot be read.
    """
    contents: dict[str, bytes] = {}
    problems: list[Problem] = []
    for index, (file, name) in enumerate(logs, 1):
        try:
            contents[name] = read_regular(path.parent / file, MOST_TABLE) if held is None else held[name]
        except (OSError, KeyError):
            folder = [p.name for p in path.parent.glob("*.*")] if held is None else []
            expected = "a log that can be read, relative to this file"
            problems.append(missing_file(called, f"log[{index}].file", file, expected, folder))
    if problems:
        raise Refused(problems)
    return contents
