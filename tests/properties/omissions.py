"""One cell, row, column, key or table of a batch left out: every single omission, and the answer of it."""

from __future__ import annotations

import copy
import csv
import datetime as dt
import io
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from laminate.judging.reported import report
from laminate.values.problems import Refused

FREE_COLUMNS = ("remark", "excluded", "only", "replaces")
"""Without these more counts, not less."""
FREE_TABLES = ("exclusion",)


def answer_of(folder: Path) -> str:
    """The answer of the batch in a folder, 'refused' where its files are."""
    try:
        return report(folder / "batch.toml").judgement.answer
    except Refused:
        return "refused"


def key_omissions(batch: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """What is left out, and the tables without it: each key and each table of a batch file."""
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
    steps = node.items() if isinstance(node, dict) else enumerate(node)
    for step, below in steps:
        yield (*above, step)
        if isinstance(below, dict) or (isinstance(below, list) and below and isinstance(below[0], dict)):
            yield from _paths(below, (*above, step))


def table_omissions(text: str) -> Iterator[tuple[str, str]]:
    """What is left out, and the table without it: each row, column and cell that holds anything."""
    header, *rows = list(csv.reader(io.StringIO(text)))
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
    return value.isoformat() if isinstance(value, dt.date) else str(value).lower()


def single_omissions(folder: Path) -> Iterator[tuple[str, str]]:
    """What was left out and the answer then, for every single omission from batch.toml and coupons.csv."""
    batch_file, table_file = folder / "batch.toml", folder / "coupons.csv"
    batch_text, table_text = batch_file.read_text("utf-8"), table_file.read_text("utf-8")
    for what, tables in key_omissions(tomllib.loads(batch_text)):
        batch_file.write_text(toml(tables), "utf-8")
        yield what, answer_of(folder)
    batch_file.write_text(batch_text, "utf-8")
    for what, text in table_omissions(table_text):
        table_file.write_text(text, "utf-8")
        yield what, answer_of(folder)
    table_file.write_text(table_text, "utf-8")
