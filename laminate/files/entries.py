"""The history beside a coupon table: every change that was typed into it, chained so that none goes missing.

`coupons.csv.history.jsonl` has one line of canonical JSON (RFC 8785) a changed cell. Each line carries the
SHA-256 of the line before it (without its line end), and each row of the table the number of its last line in
the column `entry`. Whoever deletes both the history and that column leaves no trace.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from pydantic import ConfigDict, TypeAdapter

from laminate.files.coupons import COLUMNS, NUMBERS, base_name
from laminate.files.heading import read_heading
from laminate.files.table import Row, Table, looks_like_number
from laminate.files.toml import read_fields
from laminate.values.canonical import canonical, sha256
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.files.named_file import NamedFile

FORMAT: Literal[1] = 1
SUFFIX = ".history.jsonl"
COLUMN = "entry"
"""The column of a table that holds the number of the row's last line."""
COPIED = ("zone", "lot", "method", "balance")
"""What a new specimen has from the one before it."""


RowKey = tuple[str, str, str]
"""Specimen, method and field of a row."""


@dataclass(frozen=True, slots=True)
class Line:
    """One change of one cell.

    n: from 1; before: SHA-256 of the line before, '' at 1; time: ISO 8601 with the zone; column: heading of
    the cell as written; old, new: texts of the cell, None where it is empty; why: the reason of a change of
    what was there; doubts: codes of the doubts about the specimen that were open at the time; typed: number
    and unit, where the reading was typed in another unit than that of its column.
    """

    __pydantic_config__ = ConfigDict(extra="forbid")
    n: int
    before: str
    time: str
    who: str
    specimen: str
    method: str
    field: str
    column: str
    old: str | None
    new: str | None
    why: str = ""
    doubts: tuple[str, ...] = ()
    typed: str = ""
    format: Literal[1] = FORMAT

    @property
    def key(self) -> RowKey:
        """What names the row."""
        return self.specimen, self.method, self.field

    @property
    def key_after(self) -> RowKey:
        """What names the row once it has the change: a method or field may be told late."""
        name = self.column.casefold()
        late: dict[str, Any] = {name: self.new or ""} if name in _NAMES else {}
        return replace(self, **late).key

    @property
    def label(self) -> str:
        """The column without its unit."""
        return self.column.partition(" [")[0]

    def spelled(self, text: str | None, decimal: str) -> str:
        """A text of the cell with the decimal sign of a table, '' for None."""
        is_number = base_name(self.label) in NUMBERS
        return re.sub(r"[.,]", decimal, text or "") if is_number else text or ""

    def data(self) -> bytes:
        """The line as it stands in the file, without its line end."""
        content: dict[str, Any] = {name: getattr(self, name) for name in self.__slots__}
        if not self.typed:
            del content["typed"]
        return canonical({**content, "doubts": list(self.doubts)})


@dataclass(frozen=True)
class History:
    """The lines that hold, and why those after them do not: '' where all do."""

    lines: tuple[Line, ...] = ()
    fault: str = ""

    @property
    def end(self) -> str:
        """SHA-256 of the last line, '' where there is none."""
        return sha256(self.lines[-1].data()) if self.lines else ""

    def data(self) -> bytes:
        """The file of these lines."""
        return b"".join(line.data() + b"\n" for line in self.lines)


def history_name(table: str) -> str:
    """The name of the history of a table.

    >>> history_name("coupons.csv")
    'coupons.csv.history.jsonl'
    """
    return f"{table}{SUFFIX}"


def history_files(tables: Iterable[NamedFile]) -> dict[str, NamedFile]:
    """The history beside each of some tables that has one, by the called name of the table."""
    files = {table.name: table.relative(history_name(table.path.name)) for table in tables}
    return {name: file for name, file in files.items() if file.exists}


def histories_of(tables: Iterable[NamedFile]) -> dict[str, History]:
    """What these files hold, by the called name of the table. Raises `Refused`."""
    return {name: read_history(file.read("a history")) for name, file in history_files(tables).items()}


def read_history(data: bytes) -> History:
    """The history that a file holds, as far as its chain is whole."""
    lines: list[Line] = []
    before = ""
    *pieces, rest = data.split(b"\n")
    for n, piece in enumerate([*pieces, rest] if rest else pieces, start=1):
        try:
            line = _line(piece, n, before)
            if n > len(pieces):
                raise ValueError("it has no end")
        except ValueError as fault:
            return History(tuple(lines), f"line {n}: {fault}")
        lines.append(line)
        before = sha256(piece)
    return History(tuple(lines))


_LINE = TypeAdapter(Line)
_TYPED = re.compile(r"-?\d+(?:\.\d+)?(?:E[+-]?\d{1,3})? \S.*", re.ASCII)


def zone_of(time: str) -> dt.timedelta | None:
    """How far the zone of a moment in ISO 8601 is from UTC; None where it is no such moment."""
    with suppress(ValueError):
        return dt.datetime.fromisoformat(time).utcoffset()
    return None


def _line(piece: bytes, n: int, before: str) -> Line:
    """A line by its number, after one of that digest. Raises ValueError."""
    line = read_fields(_LINE, piece)
    if line.data() != piece:
        raise ValueError("it is not written as such a line is")
    if line.typed and not (line.new and _TYPED.fullmatch(line.typed)):
        raise ValueError("'typed': it is no number with a unit")
    if line.n != n:
        raise ValueError(f"its number is {line.n}")
    if zone_of(line.time) is None:
        raise ValueError(f"its time '{line.time}' is no date and time of day with the zone")
    if line.before != before:
        raise ValueError("the line before it is not the one that it was written after")
    return line


@dataclass(frozen=True, slots=True)
class CorrectedReading(Line):
    """A line by which a reading was corrected: what it took away was not nothing; table: name of its file."""

    table: str = ""

    def as_json(self) -> dict[str, Any]:
        """The correction as a report lists it."""
        names = ("table", "specimen", "method", "field", "column", "old", "new", "why", "who", "time")
        return {**{name: getattr(self, name) for name in names}, "doubts": list(self.doubts)}


def corrections(history: History, table: str) -> list[CorrectedReading]:
    """Every reading that was corrected, in order; one that was emptied and measured again is told once.

    table: name of the file.
    """
    corrections: list[CorrectedReading] = []
    emptied: dict[tuple[RowKey, str], int] = {}
    for line in history.lines:
        if base_name(line.label) not in NUMBERS or as_typed(line.new or "", line.old or ""):
            continue
        cell = line.key, line.column
        if line.old is not None:
            if line.new is None:
                emptied[cell] = len(corrections)
            corrections.append(CorrectedReading(**asdict(line), table=table))
        elif cell in emptied:  # what took the place of the reading that had been taken out
            at = emptied.pop(cell)
            why = corrections[at].why or line.why
            corrections[at] = replace(corrections[at], new=line.new, why=why, who=line.who, time=line.time)
    return [row for row in corrections if not as_typed(row.new or "", row.old or "")]


def as_typed(text: str, typed: str, decimals: int = 0) -> bool:
    """Whether a cell holds what was typed, in the spelling of any program.

    That is the same number with either decimal sign, in no more decimals than were typed: more would be those
    of a finer display. decimals: the most that were typed in its column, up to which zeros say nothing.

    >>> as_typed("1,44", "1.4400"), as_typed("1.440", "1.44"), as_typed("1.440", "1.44", 3)
    (True, False, True)
    """
    spellings = text.replace(",", "."), typed.replace(",", ".")
    if text == typed or not all(looks_like_number(each, ".") for each in spellings):
        return text == typed
    number, typed_number = map(Decimal, spellings)
    return number == typed_number and _decimals(text) <= max(_decimals(typed), decimals)


def _decimals(text: str) -> int:
    return len(text.replace(",", ".").partition(".")[2])


@dataclass(frozen=True, slots=True)
class Renamed:
    """A row that has the entry of another, which the table has no more: its number, and the line.

    column: specimen, method or field; now, was: what it says.
    """

    row: int
    column: str
    now: str
    was: str
    n: int

    @property
    def but_for_zeros(self) -> bool:
        """Whether the zeros before a number are gone: a spreadsheet program drops them."""
        return self.now.isdecimal() and f"{self.now:0>{len(self.was)}}" == self.was

    @property
    def words(self) -> str:
        """What differs, in words."""
        return f"row {self.row}: '{self.now}' was '{self.was}' when its entry {self.n} was typed"


@dataclass(frozen=True)
class Compared:
    """What a table and its history say of each other.

    breaks: in words that begin with the file of the history, what is missing of either; outside: place, last
    line and words of each cell that differs from that; renamed: rows that had another name.
    """

    breaks: tuple[str, ...] = ()
    outside: tuple[tuple[str, Line, str], ...] = ()
    renamed: tuple[Renamed, ...] = ()


def key_of(table: Table, row: Row) -> RowKey:
    """Specimen, method and field of a row, '' where it has none."""
    return table.text(row, "specimen"), table.text(row, "method"), table.text(row, "field")


def compare(table: Table, history: History | None) -> Compared:
    """Hold a table against its history; None: there is no such file."""
    entries = {row.number: cell for row in table.rows if (cell := entry_of(table, row))}
    name = history_name(table.file)
    if history is None:
        rows_with = f"row{'s' if len(entries) > 1 else ''} {', '.join(map(str, entries))}"
        words = f"{name}: the history is missing, and {rows_with} of {table.file} had one"
        return Compared((words,) if entries else ())
    breaks = [history.fault] if history.fault else []
    rows_of, lines_of_row = by_key((key_of(table, row), row) for row in table.rows), lines_by_row(history)
    numbered, renamed = {str(line.n): line for line in history.lines}, list[Renamed]()
    for row in table.rows:
        text, key = entries.get(row.number, ""), key_of(table, row)
        if not text or text in [str(line.n) for line in lines_of_row.get(key, [])]:
            continue
        line = numbered.get(text)
        if line is None or line.key_after in rows_of:
            whose = f"that of {', '.join(filter(None, line.key_after))}" if line else "no line of the history"
            breaks.append(f"row {row.number}: its entry {text} is {whose}")
            continue
        rows_of[line.key_after] = [row]
        names = zip(("specimen", "method", "field"), key, line.key_after, strict=True)
        renamed += [Renamed(row.number, column, now, was, line.n) for column, now, was in names if now != was]
    outside: list[tuple[str, Line, str]] = []
    typed = by_key((base_name(line.label), _decimals(line.new or "")) for line in history.lines)
    decimals = {column: max(counts) for column, counts in typed.items()}
    for key, lines in lines_of_row.items():
        n, coupon = lines[-1].n, ", ".join(filter(None, key))
        rows = rows_of.get(key, [])
        if not rows:
            again = lines[-1].key_after != key  # the row has another method or field since
            left = {line.column: line.new for line in lines}  # nothing of a new row that was taken back
            if not again and any(left.values()):
                breaks.append(f"line {n}: the row of {coupon} is not in the table")
            continue
        numbers = [entries.get(row.number, "") for row in rows]
        if str(n) not in numbers:
            entry_numbers = ", ".join(filter(None, numbers))
            says = f"has the entry {entry_numbers}" if entry_numbers else "has no entry"
            breaks.append(f"line {n}: the row of {coupon} {says}")
        outside += _outside(table, rows, lines, decimals)
    return Compared(tuple(f"{name}: {words}" for words in breaks), tuple(outside), tuple(renamed))


_NAMES = ("method", "field")


def typed_elsewhere(table: Table, history: History) -> list[str]:
    """The specimen of each row with readings that has neither an entry nor a line of the history."""
    known = lines_by_row(history)
    cells = [at for at, heading in enumerate(table.headings) if heading.name in NUMBERS.keys() - {"plies"}]
    rows = [row for row in table.rows if any(row.cells[at] for at in cells) and not entry_of(table, row)]
    keys = [key_of(table, row) for row in rows]
    return [key[0] for key in keys if key not in known]


def entry_of(table: Table, row: Row) -> str:
    """The number of a row's last line, '' where it has none; a spreadsheet may have given it decimals."""
    text = table.text(row, COLUMN)
    number = re.fullmatch(r"(\d+)[.,]0*", text, re.ASCII)
    return number[1] if number else text


def lines_by_row(history: History) -> dict[RowKey, list[Line]]:
    """The lines of each row by its key of today: a row may get its method or field later."""
    by_row: dict[RowKey, list[Line]] = {}
    for line in history.lines:
        by_row.setdefault(line.key, []).append(line)
        if line.column.casefold() in _NAMES:
            both = [*by_row.get(line.key_after, []), *by_row[line.key]]
            by_row[line.key_after] = sorted(both, key=lambda change: change.n)
    return by_row


def standing(lines: Iterable[Line]) -> Iterator[list[Line]]:
    """For each reading of a row as it was typed last, every line that put it there.

    The last of them may be a change that was taken back, of which the cells beside the reading tell nothing.
    A reading that stood in the table before its first line, and may have come back so, is left out.
    """
    for changes in by_key((line.column, line) for line in lines if base_name(line.label) in NUMBERS).values():
        last = changes[-1].new
        if last and not as_typed(changes[0].old or "", last):
            yield [line for line in changes if as_typed(line.new or "", last)]


def _outside(
    table: Table, rows: Sequence[Row], lines: Iterable[Line], decimals: Mapping[str, int]
) -> Iterator[tuple[str, Line, str]]:
    """The cells of a specimen's rows that do not hold what was typed last.

    decimals: the most in each column.
    """
    for column, line in {line.column: line for line in lines}.items():
        at = _position(table, column)
        cells = [row.cells[at] for row in rows] if at is not None else [""]
        if any(as_typed(cell, line.new or "", decimals[base_name(line.label)]) for cell in cells):
            continue
        if line.label == "accepted" and any((line.new or "") in cell for cell in cells):
            continue  # one more reason: the report asks for them in the table
        place = table.place(rows[0], table.headings[at]) if at is not None else f"row {rows[0].number}"
        now = f"'{cells[0]}'" if cells[0] else "empty"
        was = f"'{line.new}'" if line.new else "empty"
        yield place, line, f"{column} is {now}; typed last was {was}, line {line.n}"


def with_old(table: Table, correction: CorrectedReading, zone: str | None = None) -> Table:
    """A table with the value that a correction took away back in its cell.

    zone: of a specimen whose row was taken back with the value, so that it counts; None: it is left out.
    """
    if table.file != correction.table:
        return table
    at = _position(table, correction.column)
    if at is None:  # the column was taken back as well
        at = len(table.headings)
        rows = [replace(row, cells=(*row.cells, "")) for row in table.rows]
        heading = read_heading(correction.column, at, COLUMNS)
        table = replace(table, headings=(*table.headings, heading), rows=tuple(rows))
    there = [row for row in table.rows if key_of(table, row) == correction.key]
    same = [row for row in table.rows if table.text(row, "specimen") == correction.specimen]
    like = same or [row for row in table.rows if table.text(row, "zone") == zone] or table.rows
    if zone is not None and like and not there:
        names = dict(zip(("specimen", *_NAMES), correction.key, strict=True))
        names |= {} if same else {"zone": zone}
        columns = zip(table.headings, like[0].cells, strict=True)
        cells = [names.get(x.name, text if x.name in COPIED else "") for x, text in columns]
        there = [Row(max(row.number for row in table.rows) + 1, tuple(cells))]
        table = replace(table, rows=(*table.rows, *there))
    there = [row for row in there if row.cells[at]] or there[:1]
    old = correction.spelled(correction.old, table.decimal)
    return table.with_cells({(row.number, at): old for row in there})


def _position(table: Table, column: str) -> int | None:
    """Where the column with a heading stands, None where it does not."""
    return next((at for at, heading in enumerate(table.headings) if heading.text == column), None)


def lines_of(
    history: History,
    key: RowKey,
    changes: Mapping[str, tuple[str, str]],
    *,
    who: str,
    time: str,
    why: str = "",
    doubts: Iterable[str] = (),
    typed: str = "",
) -> History:
    """The history with the changes of a row's cells added.

    changes: heading -> text before and after; a cell that stays empty is left out; the rest as in `Line`.
    """
    for column, (old, new) in changes.items():
        if not old and not new:
            continue
        n = len(history.lines) + 1
        line = Line(
            n, history.end, time, who, *key, column, old or None, new or None, why if old else "",
            tuple(sorted({*doubts})), typed,
        )  # fmt: skip
        history = History((*history.lines, line), history.fault)
    return history
