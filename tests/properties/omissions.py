"""One cell, row, column, key or table of a batch left out: every single omission, and the answer of it."""

from __future__ import annotations

import copy
import csv
import datetime as dt
import io
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from laminate.coupons import groups
from laminate.files import batch as batch_files
from laminate.files.named_file import NamedFile
from laminate.judging import acceptance, characteristics, judgement
from laminate.judging.reported import report_of
from laminate.values.problems import Refused

Files = dict[str, bytes]

FREE_COLUMNS = ("remark", "excluded", "only", "replaces")
"""Without these more counts, not less."""
FREE_TABLES = ("exclusion", "replaces")
BATCH = "batch.toml"


def files_of(folder: Path) -> Files:
    """The files of a case by name."""
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}


def answer_of(files: Files) -> str:
    """The answer of a batch, 'refused' where its files are."""
    try:
        return report_of(BATCH, files).judgement.answer
    except Refused:
        return "refused"


def without_figures(monkeypatch) -> None:
    """Judge for the answer alone, many times over one part.

    Chances, ways to decide, the answer with every specimen and the check by Monte Carlo, which makes a ±
    wider if anything, are left out; a part file that stays the same is read once. What conforms this way is
    to be judged again in full.
    """

    read_part = batch_files.read_part

    @lru_cache(8)
    def read(name: str, data: bytes) -> Any:
        return read_part(NamedFile.of_bytes(name, data))

    def remembered(file: NamedFile) -> Any:
        return read(file.name, file.stored[file.name]) if file.stored is not None else read_part(file)

    monkeypatch.setattr(batch_files, "read_part", remembered)
    monkeypatch.setattr(groups, "check", lambda *_: ({}, []))
    monkeypatch.setattr(acceptance.Acceptance, "probability", None)
    monkeypatch.setattr(characteristics, "both", lambda *_, **__: None)
    monkeypatch.setattr(characteristics.CharacteristicsOf, "_ways", lambda *_: [])
    monkeypatch.setattr(judgement, "with_every", lambda *_: None)


def omissions(files: Files) -> Iterator[tuple[str, Files]]:
    """What is left out, and the files then: each key and table of the batch file, each row, column and cell
    of its coupon tables, each line of a history, and a whole history.
    """
    batch = tomllib.loads(files[BATCH].decode())
    for what, tables in key_omissions(batch):
        yield what, {**files, BATCH: toml(tables).encode()}
    for name, data in files.items():
        if name.endswith(".csv") and name in batch["batch"]["coupons"]:
            for what, text in table_omissions(data.decode()):
                yield f"{name} {what}", {**files, name: text.encode()}
        elif name.endswith(".jsonl"):
            yield name, {other: kept for other, kept in files.items() if other != name}
            lines = data.splitlines(keepends=True)
            for at in range(len(lines)):
                yield f"{name} line {at + 1}", {**files, name: b"".join(lines[:at] + lines[at + 1 :])}


def key_omissions(batch: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """What is left out, and the tables without it: each key, table and entry of a list of a batch file."""
    for path in list(_paths(batch, ())):
        if path[0] in FREE_TABLES:
            continue
        without = copy.deepcopy(batch)
        here: Any = without
        for step in path[:-1]:
            here = here[step]
        del here[path[-1]]
        yield ".".join(map(str, path)), without


def _paths(node: Any, above: tuple[Any, ...]) -> Iterator[tuple[Any, ...]]:
    for step, below in node.items() if isinstance(node, dict) else enumerate(node):
        yield (*above, step)
        if isinstance(below, dict | list):
            yield from _paths(below, (*above, step))


def table_omissions(text: str) -> Iterator[tuple[str, str]]:
    """What is left out, and the table without it: each row, column and cell that holds anything."""
    header, *rows = list(csv.reader(io.StringIO(text)))
    rows = [row + [""] * (len(header) - len(row)) for row in rows]
    for number, row in enumerate(rows):
        yield f"row {row[0]}", written([header, *rows[:number], *rows[number + 1 :]])
    for at, name in enumerate(header):
        if name in FREE_COLUMNS:
            continue
        yield f"column {name}", written([line[:at] + line[at + 1 :] for line in (header, *rows)])
        for number, row in enumerate(rows):
            if row[at]:
                blank = [*row[:at], "", *row[at + 1 :]]
                yield f"cell {row[0]}, {name}", written([header, *rows[:number], blank, *rows[number + 1 :]])


def written(lines: list[list[str]]) -> str:
    """Rows as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(lines)
    return out.getvalue()


def toml(tables: dict[str, Any]) -> str:
    """Tables as TOML: what a batch file holds and no more."""
    lines: list[str] = []
    _write(lines, tables, ())
    return "\n".join(lines) + "\n"


def _write(lines: list[str], table: dict[str, Any], above: tuple[str, ...]) -> None:
    plain = {k: v for k, v in table.items() if not isinstance(v, dict) and not _of_tables(v)}
    if above:
        lines.append(f"[{'.'.join(map(_key, above))}]")
    lines += [f"{_key(key)} = {_value(value)}" for key, value in plain.items()]
    for key, value in table.items():
        if isinstance(value, dict):
            _write(lines, value, (*above, key))
        elif _of_tables(value):
            for one in value:
                lines.append(f"[[{_key(key)}]]")
                lines += [f"{_key(k)} = {_value(v)}" for k, v in one.items()]


def _of_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _key(key: str) -> str:
    return '"' + key + '"'


def _value(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    return value.isoformat() if isinstance(value, dt.date) else str(value).lower()


def lines_of_a_row(files: Files, specimen: str, *, row: bool) -> Files:
    """The files without the lines of a specimen's history, its number in `entry`, and the row itself."""
    name = "coupons.csv"
    lines = files[f"{name}.history.jsonl"].splitlines(keepends=True)
    kept = [line for line in lines if f'"specimen":"{specimen}"'.encode() not in line]
    header, *rows = list(csv.reader(io.StringIO(files[name].decode())))
    rows = [cells + [""] * (len(header) - len(cells)) for cells in rows]
    at = header.index("entry")
    rows = [[*c[:at], "", *c[at + 1 :]] if c[0] == specimen else c for c in rows]
    rows = [cells for cells in rows if not (row and cells[0] == specimen)]
    return {**files, f"{name}.history.jsonl": b"".join(kept), name: written([header, *rows]).encode()}
