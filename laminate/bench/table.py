"""A CSV coupon table on the disk that is filled in cell by cell, every row and column that it holds kept.

Only the rows that change are written anew, and the others get an empty cell where a column is added; all
else, titles and unknown columns included, stays as it is. Every change is on the disk, whole, before `keep`
returns.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from laminate.bench.catching_up import WRITTEN_BESIDE, Cell, missing_cells, names_with_zeros, table_ahead
from laminate.bench.sheet import heading
from laminate.files.coupons import COLUMNS, NUMBERS, base_name, no_names
from laminate.files.csv_table import decode, read_csv, separator_of
from laminate.files.entries import (
    COLUMN,
    History,
    compare,
    history_name,
    key_of,
    lines_by_row,
    lines_of,
    read_history,
)
from laminate.files.named_file import NamedFile
from laminate.files.table import Heading, Row, Table
from laminate.values.durable import append, on_disk, replace_file
from laminate.values.problems import Problem, Refused, refusal

Edits = Mapping[Cell, str]
"""Text by row and label."""
Added = list[Mapping[str, str]]
"""Text by label of each new row."""
Columns = list[tuple[str, str]]
"""Label and heading of each new column."""

_BOM = "\ufeff".encode()
#: findings with which a table can still be filled in; they are told, and `measure` will tell them again
_BEARABLE = {"unknown-column", "column-without-heading", "too-many-cells"}


class Changed(Refused):
    """Another program has written the file since it was read; it has been read again."""


@dataclass(frozen=True)
class _Record:
    """One row: its cells, and its text with the line end, '' once a cell has changed."""

    cells: tuple[str, ...]
    raw: str


@dataclass(frozen=True)
class _Content:
    """The bytes of a file and what they say."""

    data: bytes
    records: tuple[_Record, ...]
    separator: str
    line_end: str
    mark: bool
    view: Table
    told: tuple[Problem, ...]


class BenchTable:
    """A coupon table that is being filled in.

    path: its CSV file; name: as the person called it; caught_up: cells taken from the history, where a
    session ended before the table had them; breaks: in words, what is missing of either. Raises `Refused`
    where it cannot be read as a table, or has lost what its history has, or the other way round.
    """

    def __init__(self, path: Path, name: str | None = None) -> None:
        self.path, self.name = path, name or str(path)
        self._show(_read(self.name, _bytes(path, self.name)))
        self._history_size = 0
        self.caught_up: tuple[str, ...] = ()
        self.breaks: tuple[str, ...] = ()
        self.history = self._take_up()

    def _show(self, content: _Content) -> None:
        """Take up what the disk holds: its bytes, the table as every other command reads it, what is told.

        told: what `measure` will refuse although the table can be filled in.
        """
        self._content, self.data, self.view, self.told = content, content.data, content.view, content.told

    @property
    def labels(self) -> list[str]:
        """The columns: 'mass in air', 'thickness 2'."""
        return [heading.label for heading in self.view.headings]

    def heading(self, label: str) -> Heading:
        """The heading of a column. Raises KeyError where there is none."""
        return {heading.label: heading for heading in self.view.headings}[label]

    def row(self, number: int) -> Row:
        """A row by its number. Raises KeyError where it is no row of a specimen."""
        return self.view.by_number[number]

    def text(self, number: int, label: str) -> str:
        """The text of a cell, '' where it or its column is not there."""
        return self.view.text(self.row(number), label)

    def typed_last(self, number: int, label: str) -> str:
        """What was typed last into a cell by its history, in the table's decimal sign; else its text."""
        lines = lines_by_row(self.history).get(key_of(self.view, self.row(number)), [])
        column = self._heading_text(label)
        mine = [line for line in lines if line.column == column]
        return mine[-1].spelled(mine[-1].new, self.view.decimal) if mine else self.text(number, label)

    @property
    def decimal(self) -> str:
        """The decimal sign of the numbers, '' where none shows it yet and either could be meant."""
        if self._content.separator == ",":
            return "."
        pairs = (pair for row in self.view.rows for pair in zip(self.view.headings, row.cells, strict=True))
        cells = (cell for heading, cell in pairs if heading.name in NUMBERS)
        return next((sign for cell in cells for sign in ".," if sign in cell), "")

    def with_cell(self, number: int, label: str, text: str) -> Table:
        """The table as it would be read with another content of one cell; nothing is written."""
        return self.view.with_cells({(number, self.labels.index(label)): text})

    def keep(self, edits: Edits, added: Iterable[Mapping[str, str]] = ()) -> None:
        """Put cells, and whole rows below the last one, on the disk; columns that are missing are added.

        edits: text by row and label; added: text by label of each new row. Raises `Changed` where another
        program has written the file, `Refused` where the disk failed; the table is then as it was before.
        """
        self._write(self._changed(edits, list(added)))

    def _changed(self, edits: Edits, added: Added) -> bytes:
        """The bytes of the file with other cells and more rows; arguments as of `keep`."""
        labels = [*(label for _, label in edits), *(label for row in added for label in row)]
        return _edited(self._content, self.labels, edits, added, self._missing(labels, self.labels))

    def would_show(self, added: Mapping[str, str]) -> bool:
        """Whether a row below the last one would be read as one of a specimen; nothing is written."""
        return len(_read(self.name, self._changed({}, [added])).view.rows) > len(self.view.rows)

    def _missing(self, wanted: Iterable[str], labels: list[str]) -> Columns:
        """Label and heading of each wanted column that is not there."""
        missing = [label for label in dict.fromkeys(wanted) if label not in labels]
        return [(label, self._new_heading(label)) for label in missing]

    def put_back(self, data: bytes, edits: Edits) -> None:
        """Put earlier bytes of the table in its place, with some cells changed. Raises as `keep` does."""
        earlier = _read(self.name, data)
        labels = [heading.label for heading in earlier.view.headings]
        rows = {row.number for row in earlier.view.rows}
        edits = {cell: text for cell, text in edits.items() if cell[0] in rows}
        columns = self._missing((label for _, label in edits), labels)
        self._write(_edited(earlier, labels, edits, [], columns) if edits else data)

    @property
    def history_path(self) -> Path:
        """The file of the history, beside the table."""
        return self.path.with_name(history_name(self.path.name))

    def record(
        self, row: int, changes: Mapping[str, tuple[str, str]], **entry_fields: Any
    ) -> dict[Cell, str]:
        """Put what is about to change in a row on the disk, as lines of the history, before the table has it.

        changes: text before and after by label; entry_fields: as `lines_of` takes them. Returns the cell that
        says the row's last line. Raises `Refused` where the disk failed; nothing was added then.
        """
        self._unchanged()
        headings = {label: (self._heading_text(label), texts) for label, texts in changes.items()}
        key = key_of(self.view, self.row(row))
        longer = lines_of(self.history, key, dict(headings.values()), **entry_fields)
        added = longer.lines[len(self.history.lines) :]
        if not added:
            return {}
        with on_disk(history_name(self.name)):
            append(self.history_path, b"".join(line.data() + b"\n" for line in added), self._history_size)
        self.history, self._history_size = longer, self.history_path.stat().st_size
        return {(row, COLUMN): str(added[-1].n)}

    def forget(self, history: History) -> None:
        """Take the lines back that were added after `history`: the table did not get what they say."""
        with contextlib.suppress(OSError):
            if len(history.lines) < len(self.history.lines):
                size = len(history.data())
                os.truncate(self.history_path, size)  # a full disk has no room for another file
                self.history, self._history_size = history, size

    def _heading_text(self, label: str) -> str:
        return self.heading(label).text if label in self.labels else self._new_heading(label)

    def _take_up(self) -> History:
        """The history so far, where it is whole; a last line that was cut off had not reached the table.

        Raises `Refused` where the chain is broken, or ends before what the table has. What the last lines
        say and the table does not have yet, since a session ended between the two, is put into the table.
        """
        path, name = self.history_path, history_name(self.name)
        data = _bytes(path, name) if path.exists() else b""
        whole = data[: data.rfind(b"\n") + 1]
        history = read_history(whole)
        if fault := history.fault or table_ahead(self.view, history):
            hint = "put the history back as it was, or go on in a table with another name"
            at, _, words = fault.partition(": ")
            raise refusal("broken-history", name, at, words, "an unbroken history", hint)
        self._catch_up(names_with_zeros(self.view, history))
        edits = missing_cells(self.view, history)
        if len(whole) < len(data):
            with on_disk(name):
                replace_file(path, whole)
        self._history_size = len(whole)
        self._catch_up(edits)
        compared = compare(self.view, history)
        renamed_words = (f"{self.name}: {renamed.words}" for renamed in compared.renamed)
        self.breaks = (*compared.breaks, *renamed_words)
        return history

    def _catch_up(self, edits: Edits) -> None:
        """Put into the table what the history alone has: changes before a session ended, zeros of a name."""
        if edits:
            self.keep(edits)
            self.caught_up += tuple(
                f"{label.replace('specimen', 'name')} of {self.text(row, 'specimen')}"
                for row, label in edits
                if label not in WRITTEN_BESIDE
            )

    def add_column(self, label: str) -> None:
        """Add an empty column. Raises as `keep` does."""
        self._write(_edited(self._content, self.labels, {}, [], self._missing([label], [])))

    def _new_heading(self, label: str) -> str:
        """The heading of a column to be added: a repeat has the unit of its siblings."""
        same = [known for known in self.view.headings if known.name == base_name(label)]
        if not same:
            return heading(label)
        return f"{label} [{same[0].unit}]" if same[0].unit else label

    def _unchanged(self) -> None:
        now = _bytes(self.path, self.name)
        if now != self.data:
            self._show(_read(self.name, now))
            hint = "it has been read again, and what was typed last is not recorded: look at the table in "
            hint += "'laminate enter', then type that again"
            change = "another program has changed the table"
            raise Changed(Problem("changed-outside", self.name, "", change, "one program at a time", hint))

    def _write(self, data: bytes) -> None:
        self._unchanged()
        content = _read(self.name, data)
        with on_disk(self.name):
            replace_file(self.path, data)
        self._show(content)


def _bytes(path: Path, name: str) -> bytes:
    return NamedFile(path, name).read("a coupon table (.csv)")


def _read(name: str, data: bytes) -> _Content:
    problems: list[Problem] = []
    view, decoded = read_csv(name, data, COLUMNS, problems), decode(data)
    bad = [problem for problem in problems if problem.code not in _BEARABLE]
    if view is None or decoded is None or [problem.code for problem in bad] not in ([], ["no-rows"]):
        raise Refused(problems)
    text, notes = decoded
    separator, _ = separator_of(text, COLUMNS)
    if "specimen" not in [heading.name for heading in view.headings]:
        raise Refused(no_names(name))
    records = tuple(_records(text, separator))
    bearable = tuple(problem for problem in problems if problem not in bad)
    line_end = next((end for end in ("\r\n", "\n", "\r") if end in text), "\n")
    mark = data.startswith(_BOM) or bool(notes)  # what was no UTF-8 is written as UTF-8 with a mark
    return _Content(data, records, separator, line_end, mark, view, bearable)


def _records(text: str, separator: str) -> Iterable[_Record]:
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(iter(lines), delimiter=separator, strict=True)
    start = 0
    for cells in reader:
        yield _Record(tuple(cells), "".join(lines[start : reader.line_num]))
        start = reader.line_num


def _edited(content: _Content, labels: list[str], edits: Edits, added: Added, columns: Columns) -> bytes:
    """The bytes of a file with cells changed, rows added below the last one, columns added at the end."""
    records = list(content.records)
    at = {label: heading.index for label, heading in zip(labels, content.view.headings, strict=True)}
    header = content.view.header - 1
    filled = (at for record in records[header:] for at, cell in enumerate(record.cells) if cell.strip())
    free = max(filled, default=-1) + 1
    for place, (label, text) in enumerate(columns, start=free):
        at[label] = place
        records[header] = _with(records[header], place, text)
    width = max(at.values()) + 1
    numbers = [heading.index for heading in content.view.headings if heading.name in NUMBERS]
    for specimen in content.view.rows if columns else ():  # one that had lost cells at its end still tells so
        if len((record := records[specimen.number - 1]).cells) > max(numbers, default=0):
            records[specimen.number - 1] = _filled(record, width, content.separator)
    for (number, label), text in edits.items():
        records[number - 1] = _with(records[number - 1], at[label], text)
    rows = content.view.rows
    below = rows[-1].number if rows else len(records)
    for row in reversed(added):
        cells = [""] * width
        for label, text in row.items():
            cells[at[label]] = text
        records.insert(below, _Record(tuple(cells), ""))
    return _encoded(content, records)


def _with(record: _Record, at: int, text: str) -> _Record:
    cells = [*_filled(record, at + 1, "").cells]
    cells[at] = text
    return _Record(tuple(cells), "")


def _filled(record: _Record, width: int, separator: str) -> _Record:
    """The row with empty cells up to a width, its text as it was."""
    text, more = record.raw.rstrip("\r\n"), max(0, width - len(record.cells))
    raw = f"{text}{separator * more}{record.raw[len(text) :]}"
    return _Record((*record.cells, *[""] * more), raw)


def _encoded(content: _Content, records: list[_Record]) -> bytes:
    page = io.StringIO(newline="")
    writer = csv.writer(page, delimiter=content.separator, lineterminator=content.line_end)
    for record in records:
        if record.raw:
            page.write(record.raw if record.raw.endswith(("\n", "\r")) else record.raw + content.line_end)
        else:
            writer.writerow(record.cells)
    return (_BOM if content.mark else b"") + page.getvalue().encode()
