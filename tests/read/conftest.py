"""What the tests of the table readers share: columns of a coupon table, bytes read as a file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from laminate.files.named_file import NamedFile
from laminate.files.table import Table
from laminate.files.tables import read_table
from laminate.values.problems import Problem

Read = Callable[[bytes, str], tuple[list[Table], list[Problem]]]


@pytest.fixture(scope="session")
def known() -> frozenset[str]:
    words = "specimen zone position kind lot operator time remark plies excluded density method thickness"
    words += " length width area field points crucible degassed balance"
    phrases = (
        "mass in air",
        "mass in liquid",
        "liquid temperature",
        "crucible mass",
        "crucible again",
        "fiber points",
        "void points",
        "saturated mass",
    )
    return frozenset(words.split()) | frozenset(phrases)


@pytest.fixture
def read(tmp_path: Path, known: frozenset[str]) -> Read:
    """Read bytes under a name; the findings come back as of a file of that name, which is checked here."""

    def read_bytes(data: bytes, name: str) -> tuple[list[Table], list[Problem]]:
        path = tmp_path / name
        path.write_bytes(data)
        problems: list[Problem] = []
        tables = read_table(NamedFile.at(path), known=known, problems=problems)
        assert {problem.file for problem in problems} <= {str(path)}
        assert {table.file for table in tables} <= {str(path)}
        return tables, [replace(problem, file=name) for problem in problems]

    return read_bytes
