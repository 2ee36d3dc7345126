"""From a grid of text to a `Table`: header, units, rows that are no specimens, for CSV and workbooks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from laminate.files.heading import MEANT, find_header, known_names, read_heading, tidy
from laminate.files.table import (
    ONCE,
    TEXT_COLUMNS,
    Heading,
    Row,
    Table,
    column_letters,
    looks_like_number,
    place,
)
from laminate.files.totals import split, total_word
from laminate.values.problems import Problem, did_you_mean

MOST_TOLD = 20
"""So many findings of one kind are told with their place, the rest as a count."""

_UNIT = re.compile(r"[\[(]?\s*[A-Za-z%°µμ][A-Za-z0-9%°µμ^/*·. ²³⁻¹-]{0,15}?\s*[\])]?")
_NO_UNIT = frozenset({"", "-", "–", "[-]", "(-)", "[]", "()", "1", "[1]"})
_UNIT_WORDS = frozenset({"unit", "units"})
_NOT_UNITS = frozenset({"na", "n/a", "nan", "none", "null", "nil", "inf", "x", "tbd", "missing", "yes", "no"})


@dataclass(frozen=True)
class Grid:
    """A file or sheet as text: rows that are not blank, each with its number; separator: '' in a workbook."""

    file: str
    sheet: str
    rows: Sequence[tuple[int, Sequence[str]]]
    separator: str = ""


def build(grid: Grid, known: Collection[str], problems: list[Problem]) -> Table | None:
    """The table in a grid, or None where it has no header or no rows; problems takes the findings."""
    at, _ = find_header(grid.rows, known)
    if at < 0:
        problems.append(_no_header(grid, known))
        return None
    header_row, header = grid.rows[at]
    notes = [_title(grid, number, cells) for number, cells in grid.rows[:at]]
    read = [read_heading(text, index, known) for index, text in enumerate(header) if text]
    _check_headings(grid, header_row, read, known, problems)
    body = list(grid.rows[at + 1 :])
    headings = tuple(heading for heading in read if heading.name in known and not _wrongly_numbered(heading))
    if body and _is_units(body[0][1], headings):
        headings = _with_units(grid, body.pop(0), headings, notes, problems)
    body = _without_other_headers(grid, header, body, known, notes, problems)
    body = _without_totals(grid, headings, body, notes, problems)
    if not body:
        where = f"row {header_row}" if not grid.sheet else f"{grid.sheet}!{header_row}:{header_row}"
        problems.append(
            Problem("no-rows", grid.file, where, f"{len(body)} rows", "at least one coupon below the header")
        )
        return None
    _check_width(grid, read, len(header), body, problems)
    notes += _short_rows(grid, headings, body)
    return Table(grid.file, grid.sheet, headings, _rows(headings, body), tuple(notes))


def few(items: Sequence[str], most: int = 10) -> str:
    """The items in a row of words, the rest as a count.

    >>> few(["B7", "B8", "B9"], 2)
    'B7, B8 and 1 more'
    """
    shown = ", ".join(items[:most])
    return shown if len(items) <= most else f"{shown} and {len(items) - most} more"


def add_few(problems: list[Problem], few: Sequence[Problem]) -> None:
    """Add findings of one kind; beyond `MOST_TOLD` the last one told says how many there are more."""
    shown = list(few[:MOST_TOLD])
    if rest := len(few) - len(shown):
        more = f"and {rest} more like this"
        shown[-1] = replace(shown[-1], hint=f"{shown[-1].hint}; {more}" if shown[-1].hint else more)
    problems.extend(shown)


def _where(grid: Grid, row: int) -> str:
    return f"{grid.sheet} row {row}" if grid.sheet else f"row {row}"


def _title(grid: Grid, number: int, cells: Sequence[str]) -> str:
    words = " ".join(cell for cell in cells if cell)
    words = words if len(words) <= 60 else words[:57] + "..."
    return f"{_where(grid, number)}: above the header, not read: '{words}'"


def _no_header(grid: Grid, known: Collection[str]) -> Problem:
    """The finding for a grid in which no row names two known columns, with near misses."""
    number, cells = grid.rows[0] if grid.rows else (1, [])
    best: list[str] = []
    for row, row_cells in grid.rows[:10]:
        meant = [
            f"'{cell}' for '{near}'"
            for cell in row_cells
            if cell and (near := _near(read_heading(cell, 0, known).name, known)) and near != cell
        ]
        if len(meant) > len(best):
            number, cells, best = row, row_cells, meant
    shown = few([f"'{cell}'" for cell in cells if cell], 6)
    hint = f"perhaps {few(best, 6)}" if best else "the header says the unit: mass in air [g]"
    return Problem(
        "header-missing",
        grid.file,
        _where(grid, number),
        shown or "no text",
        "a header: a row with at least two known columns, such as 'specimen' and 'mass in air [g]'",
        hint,
    )


def _near(name: str, known: Collection[str]) -> str | None:
    hint = did_you_mean(name, known) if name else ""
    return hint.removeprefix("did you mean '").removesuffix("'?") if hint.startswith("did") else None


def _check_headings(
    grid: Grid, row: int, headings: Sequence[Heading], known: Collection[str], problems: list[Problem]
) -> None:
    """Findings for columns that are not known, and for columns that are there twice."""
    first: dict[tuple[str, int | None], Heading] = {}
    for heading in headings:
        where = place(grid.sheet, row, heading.index, heading.label)
        if heading.name not in known:
            meant = MEANT.get(heading.name.rstrip(" 0123456789"), "")
            hint = f"did you mean '{meant}'?" if meant in known else did_you_mean(heading.name, known)
            problems.append(
                Problem("unknown-column", grid.file, where, f"'{heading.text}'", "a known column", hint)
            )
        elif _wrongly_numbered(heading):
            hint = "points are told apart by 'field'" if heading.name.endswith("points") else ""
            expected = f"one column '{heading.name}': only readings are numbered, for repeats"
            problems.append(Problem("numbered-column", grid.file, where, f"'{heading.text}'", expected, hint))
        elif (key := (heading.name, heading.number)) in first:
            other = first[key].index
            columns = f"columns {_column(grid, other)} and {_column(grid, heading.index)}"
            numbered = f"number repeats: '{heading.name} 1', '{heading.name} 2'"
            hint = "" if heading.name in ONCE else numbered
            problems.append(
                Problem(
                    "duplicate-column",
                    grid.file,
                    where,
                    f"'{heading.label}' in {columns}",
                    "each column once",
                    hint,
                )
            )
        else:
            first[key] = heading


def _wrongly_numbered(heading: Heading) -> bool:
    return heading.number is not None and heading.name in ONCE


def _column(grid: Grid, index: int) -> str:
    return column_letters(index) if grid.sheet else str(index + 1)


def _is_units(cells: Sequence[str], headings: Sequence[Heading]) -> bool:
    """Whether a row below the header holds units: no names in it, no numbers, something like a unit."""
    seen = False
    for heading in headings:
        cell = cells[heading.index] if heading.index < len(cells) else ""
        if cell in _NO_UNIT:
            continue
        if heading.name in TEXT_COLUMNS:
            if cell.strip("[]() :").lower() not in _UNIT_WORDS:
                return False
        elif cell.lower() in _NOT_UNITS or not _UNIT.fullmatch(cell):
            return False
        else:
            seen = True
    return seen


def _with_units(
    grid: Grid,
    row: tuple[int, Sequence[str]],
    headings: Sequence[Heading],
    notes: list[str],
    problems: list[Problem],
) -> tuple[Heading, ...]:
    """The headings with the units of the row below them; two different units are a finding."""
    number, cells = row
    result, taken = [], []
    for heading in headings:
        cell = cells[heading.index] if heading.index < len(cells) else ""
        unit = "" if cell in _NO_UNIT or heading.name in TEXT_COLUMNS else cell.strip("[]() ")
        if unit and not heading.unit:
            heading = replace(heading, unit=unit)
            taken.append(f"{heading.label} [{unit}]")
        elif unit and unit != heading.unit:
            where = place(grid.sheet, number, heading.index, heading.label)
            two_units = f"'{unit}' below a header that says '{heading.unit}'"
            problems.append(
                Problem("unit-twice", grid.file, where, two_units, "one unit a column", "remove one of them")
            )
        result.append(heading)
    notes.append(
        f"{_where(grid, number)}: read as units: {few(taken)}" if taken else f"{_where(grid, number)}: units"
    )
    return tuple(result)


def _without_other_headers(
    grid: Grid,
    header: Sequence[str],
    body: list[tuple[int, Sequence[str]]],
    known: Collection[str],
    notes: list[str],
    problems: list[Problem],
) -> list[tuple[int, Sequence[str]]]:
    """The rows without repeats of the header; another header is a second table, and a finding."""
    first = next(index for index, cell in enumerate(header) if cell)
    lead = {header[first].lower(), *known}
    kept = []
    for row in body:
        number, cells = row
        opening = next((cell for cell in cells if cell), "")
        if not lead & {opening.lower(), tidy(opening)} or len(known_names(cells, known)) < 2:
            kept.append(row)
        elif [cell for cell in cells if cell] == [cell for cell in header if cell]:
            notes.append(f"{_where(grid, number)}: the header again, left out")
        else:
            problems.append(
                Problem(
                    "second-header",
                    grid.file,
                    _where(grid, number),
                    "a second header below the first",
                    "one table a file or sheet",
                    "move the second table to a file or sheet of its own",
                )
            )
            return kept
    return kept


def _without_totals(
    grid: Grid,
    headings: Sequence[Heading],
    body: list[tuple[int, Sequence[str]]],
    notes: list[str],
    problems: list[Problem],
) -> list[tuple[int, Sequence[str]]]:
    """The rows without averages, signatures and the like at the end; one between specimens is a finding."""
    rows = _named_rows(headings, body)
    end, between = split(rows)
    notes.extend(
        f"{_where(grid, number)}: '{name}' is no coupon, left out"
        for (number, _), (name, _) in zip(body[end:], rows[end:], strict=True)
    )
    findings = []
    for at in between:
        below = next(later for later in range(at + 1, end) if later not in between)
        under = f"'{rows[below][0]}' in " if rows[below][0] else ""
        findings.append(
            Problem(
                "total-in-between",
                grid.file,
                _where(grid, body[at][0]),
                f"'{rows[at][0]}' above {under}row {body[below][0]}, which is read as a coupon",
                "coupons alone",
                "remove the row, or move it below the last specimen; if the lower row is none, remove that",
            )
        )
    add_few(problems, findings)
    return body[:end]


def _named_rows(
    headings: Sequence[Heading], body: Sequence[tuple[int, Sequence[str]]]
) -> list[tuple[str, str]]:
    """Of each row the name, and what it says that the row is: a specimen, where it says its kind."""
    names = [heading.index for heading in headings if heading.name == "specimen"]
    kinds = [heading.index for heading in headings if heading.name == "kind"]
    words = [heading.index for heading in headings if heading.name in TEXT_COLUMNS - {"remark", "specimen"}]
    numbers = [heading.index for heading in headings if heading.name not in TEXT_COLUMNS]

    def texts(cells: Sequence[str], indices: Sequence[int]) -> list[str]:
        return [cells[index] for index in indices if index < len(cells) and cells[index]]

    rows = []
    for _, cells in body:
        named = texts(cells, names)
        others = named or texts(cells, words)
        name = next((cell for cell in others if total_word(cell)), others[0] if others else "")
        what = total_word(name)
        if (what == "foot" and texts(cells, numbers)) or (named and texts(cells, kinds)):
            what = ""
        elif what == "short" and named and texts(cells, words):
            what = ""  # a letter with a zone or a method beside it is the name of a specimen
        elif not what and name and not name[0].isdigit() and sum(map(bool, cells)) == 1:
            what = "lone"
        rows.append((name, what))
    return rows


def _check_width(
    grid: Grid,
    headings: Sequence[Heading],
    width: int,
    body: Sequence[tuple[int, Sequence[str]]],
    problems: list[Problem],
) -> None:
    """Findings for cells that stand under no heading."""
    last = max(heading.index for heading in headings) + 1
    gaps = sorted(set(range(last)) - {heading.index for heading in headings})
    beyond = [row for row in body if len(row[1]) > last and any(row[1][last:])]
    add_few(problems, [_too_many(grid, number, cells, last, headings) for number, cells in beyond])
    counts = Counter[int]()
    first: dict[int, tuple[int, str]] = {}
    for index in gaps:
        for number, cells in body:
            if index < len(cells) and cells[index]:
                counts[index] += 1
                first.setdefault(index, (number, cells[index]))
    for index, (number, text) in first.items():
        problems.append(_without_heading(grid, number, index, text, counts[index]))


def _short_rows(
    grid: Grid, headings: Sequence[Heading], body: Sequence[tuple[int, Sequence[str]]]
) -> list[str]:
    """Rows of a CSV file that end before a column of numbers: a cell may be missing between others."""
    numbers = [heading.index for heading in headings if heading.name not in TEXT_COLUMNS]
    names = [heading.index for heading in headings if heading.name == "specimen"]
    width = max(heading.index for heading in headings) + 1
    short = [
        f"{_where(grid, number)} ('{cells[names[0]]}', {len(cells)} of {width} cells)"
        for number, cells in body
        if grid.separator and names and numbers and names[0] < len(cells) <= max(numbers)
    ]
    return [f"shorter than the header, the missing cells at the end are empty: {few(short)}"] if short else []


def _without_heading(grid: Grid, number: int, index: int, text: str, count: int) -> Problem:
    """A cell in a column that has no heading; count: its cells."""
    where, stray_cell = place(grid.sheet, number, index), f"'{text}' under no heading"
    hint = f"{count} such cells" if count > 1 else ""
    expected = "a heading over every column in use"
    return Problem("column-without-heading", grid.file, where, stray_cell, expected, hint)


def _too_many(
    grid: Grid, number: int, cells: Sequence[str], last: int, headings: Sequence[Heading]
) -> Problem:
    index, text = next((index, cell) for index, cell in enumerate(cells) if index >= last and cell)
    if grid.sheet:
        return _without_heading(grid, number, index, text, 1)
    hint = "a separator inside a cell needs quotation marks"
    if grid.separator == ",":
        words = _split_words(cells, last, headings)
        hint = f"a comma inside a cell needs quotation marks: {words}"
        decimal = "a decimal comma needs ; or a tab as separator"
        if not words:
            numbers = any(a.isdigit() and b.isdigit() for a, b in pairwise(cells))
            hint = decimal if numbers else "a comma inside a cell needs quotation marks around the cell"
    return Problem(
        "too-many-cells",
        grid.file,
        f"row {number}",
        f"{len(cells)} cells under {last} headings",
        "one cell a heading",
        hint,
    )


def _split_words(cells: Sequence[str], last: int, headings: Sequence[Heading]) -> str:
    """A remark or reason that a comma has cut in pieces, as it is to be written; '' where none surely is.

    They are, where joining them puts a number, or nothing, into every column of numbers.
    """
    for more in range(len(cells) - last, 0, -1):
        words = []
        for heading in headings:
            if heading.name not in ("remark", "excluded", "accepted"):
                continue
            after = heading.index + more + 1
            pieces = cells[heading.index : after]
            joined = [*cells[: heading.index], "", *cells[after:]]
            numbers = [joined[heading.index] for heading in headings if heading.name not in TEXT_COLUMNS]
            if all(re.search(r"[^\W\d_]", piece) for piece in pieces) and all(
                not cell or looks_like_number(cell, ".") for cell in numbers
            ):
                words.append(f'"{", ".join(pieces)}"')
        if len(words) == 1:
            return words[0]
    return ""


def _rows(headings: Sequence[Heading], body: Sequence[tuple[int, Sequence[str]]]) -> tuple[Row, ...]:
    """The cells under the headings; cells missing at the end of a row are empty."""
    indices = [heading.index for heading in headings]
    width = max(indices) + 1
    whole = indices == list(range(width))
    rows = []
    for number, cells in body:
        full = cells if len(cells) >= width else [*cells, *[""] * (width - len(cells))]
        rows.append(Row(number, tuple(full[:width]) if whole else tuple([full[index] for index in indices])))
    return tuple(rows)
