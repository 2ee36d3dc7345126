"""A file as a person calls it: on the disk, or among the bytes that a record holds."""

from __future__ import annotations

import errno
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import Problem, Refused, missing_file, unreadable_file


def relative_name(name: str, other: str) -> str:
    """The called name of a file that another file names relative to itself."""
    return str(Path(name).parent / other)


@dataclass(frozen=True)
class NamedFile:
    """One file.

    path: on the disk; name: as called; stored: bytes by called name, which are read in the place of the disk.
    """

    path: Path
    name: str
    stored: Mapping[str, bytes] | None = None

    @classmethod
    def at(cls, path: Path) -> NamedFile:
        """A file on the disk that is called by its path."""
        return cls(path, str(path))

    @classmethod
    def of_bytes(cls, name: str, data: bytes) -> NamedFile:
        """A file that is not on the disk."""
        return cls(Path(name), name, {name: data})

    def relative(self, other: str) -> NamedFile:
        """A file that this one names relative to itself."""
        return NamedFile(self.path.parent / other, relative_name(self.name, other), self.stored)

    @property
    def exists(self) -> bool:
        """Whether it is there."""
        return self.path.exists() if self.stored is None else self.name in self.stored

    def names_near(self, pattern: str) -> list[str]:
        """The names in its folder that fit a pattern, none where nothing is read from the disk."""
        return sorted(path.name for path in self.path.parent.glob(pattern)) if self.stored is None else []

    def data(self, most: int = MOST_TABLE) -> bytes:
        """Its bytes, at most so many on the disk. Raises OSError."""
        if self.stored is None:
            return read_regular(self.path, most)
        if self.name not in self.stored:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), self.name)
        return self.stored[self.name]

    def read(self, what: str) -> bytes:
        """The bytes of a table or log; what: it is, in words. Raises `Refused`."""
        try:
            return self.data()
        except OSError as fault:
            lost = missing_file(self.name, "", "", what) if self.stored is not None else None
            raise Refused(lost or unreadable_file(self.name, fault, what)) from None

    def lacks(self, place: str, other: str, what: str) -> Problem:
        """The finding that a file which it names is not there, or cannot be read; what: that is, in words."""
        return missing_file(self.name, place, other, what, self.relative(other).names_near("*.*"))
