"""From a grid of text to a `Table`: header, units, rows that are no specimens, for CSV and workbooks."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import pairwise

from laminate.files.heading import MEANT, find_header, known_names, read_heading, tidy
from laminate.files.table import (
    A_DATE,
    MOST_DIGITS,
    NUMBERS,
    ONCE,
    TEXT_COLUMNS,
    Heading,
    Row,
    Table,
    as_read,
    column_letters,
    digits_of,
    looks_like_number,
    place,
)
from laminate.files.totals import refuted, split, total_word
from laminate.values.problems import Problem, nearest
from laminate.values.said import few
from laminate.values.units import Unreadable, column_unit, kind_of

NO_COUPON, SHORT_ROWS, HIDDEN = "is no coupon, left out", "shorter than the header", "hidden"
LIKE = 0.7
"""Share of letters that agree in a misspelled heading: strefa is Polish and no misspelled area."""
MOST_TOLD = 20
"""So many findings of one kind are told with their place, the rest as a count."""

_UNIT = re.compile(r"[\[(]?\s*[A-Za-z%°µμ][A-Za-z0-9%°µμ^/*·. ²³⁻¹-]{0,15}?\s*[\])]?")
_NO_READING = re.compile(r"(?!.*\d[.,]\d)[^\W\d_].*|\d{1,2}/\d{1,2}/\d\d|\d{1,2}:\d\d(:\d\d)?")
"""Words with a whole number in them, such as a revision or initials and a date; a short date; a time."""
_NO_UNIT = frozenset({"", "-", "–", "[-]", "(-)", "[]", "()", "1", "[1]"})
_UNIT_WORDS = frozenset({"unit", "units"})
_NOT_UNITS = frozenset({"na", "n/a", "nan", "none", "null", "nil", "inf", "x", "tbd", "missing", "yes", "no"})


Numbered = tuple[int, Sequence[str]]
"""Number and cells of a row."""


def add_few(problems: list[Problem], findings: Sequence[Problem]) -> None:
    """Add findings of one kind; beyond `MOST_TOLD` the last one told says how many there are more."""
    shown = list(findings[:MOST_TOLD])
    if rest := len(findings) - len(shown):
        more = f"and {rest} more like this"
        shown[-1] = replace(shown[-1], hint=f"{shown[-1].hint}; {more}" if shown[-1].hint else more)
    problems.extend(shown)


@dataclass
class Grid:
    """A file or sheet as text on its way to a table: what is forgiven, and what is found.

    rows: those that are not blank, each with its number; known: names of columns; problems: takes the
    findings, such as no rows; separator: '' in a workbook; notes: what was forgiven; headings: of the known
    columns; kept: positions of columns of a DataFrame that hold numbers, which tell no digits.
    """

    file: str
    sheet: str
    rows: Sequence[Numbered]
    known: Collection[str]
    problems: list[Problem]
    separator: str = ""
    notes: list[str] = field(default_factory=list)
    headings: tuple[Heading, ...] = ()
    kept: frozenset[int] = frozenset()

    def table(self) -> Table | None:
        """The table in it, None where it has no header."""
        at, _ = find_header(self.rows, self.known)
        if at < 0:
            self._no_header()
            return None
        header_row, header = self.rows[at]
        self.notes += [self._title(number, cells) for number, cells in self.rows[:at]]
        read = [read_heading(text, index, self.known) for index, text in enumerate(header) if text]
        self._check_headings(header_row, read)
        body = list(self.rows[at + 1 :])
        self.headings = tuple(h for h in read if h.name in self.known and not _wrongly_numbered(h))
        if body and self._is_units(body[0][1]):
            self._take_units(*body.pop(0))
        numbered = self._without_other_headers(header, body)
        body = self._without_totals(numbered)
        if not body:
            where = f"{self.sheet}!{header_row}:{header_row}" if self.sheet else f"row {header_row}"
            names = [f"'{name}'" for name, what in self._named_rows(numbered) if what]
            left_out = f"left out: {few(names)}; if one is a coupon, write 'specimen' in its column 'kind'"
            hint = left_out if names else ""
            self._say("no-rows", where, f"{len(body)} rows", "at least one coupon below the header", hint)
        self._check_width(read, len(header), body)
        self._say_short_rows(body)
        rows = _rows(self.headings, body)
        table = Table(self.file, self.sheet, self.headings, rows, tuple(self.notes), header=header_row)
        numbers = [at for at, heading in enumerate(self.headings) if heading.name not in TEXT_COLUMNS]
        long = ((row, at) for row in rows for at in numbers if len(row.cells[at]) > MOST_DIGITS)
        kept = {at for at in numbers if self.headings[at].index in self.kept}
        texts = {(row.number, at): (str if at in kept else as_read)(row.cells[at]) for row, at in long}
        computed = {(n, at) for (n, at), text in texts.items() if digits_of(text) > MOST_DIGITS}
        labels = frozenset((number, self.headings[at].label) for number, at in computed)
        return replace(table.with_cells(texts), computed=labels) if texts else table

    def _finding(self, code: str, place: str, found: str, expected: str, hint: str = "") -> Problem:
        return Problem(code, self.file, place, found, expected, hint)

    def _say(self, code: str, place: str, found: str, expected: str, hint: str = "") -> None:
        self.problems.append(self._finding(code, place, found, expected, hint))

    def _where(self, row: int) -> str:
        return f"{self.sheet} row {row}" if self.sheet else f"row {row}"

    def _place(self, row: int, heading: Heading) -> str:
        return place(self.sheet, row, heading.index, heading.label)

    def _named(self, *names: str) -> list[int]:
        """Positions of the columns of these names."""
        return [heading.index for heading in self.headings if heading.name in names]

    def _of_numbers(self) -> list[int]:
        """Positions of the columns of numbers."""
        return [heading.index for heading in self.headings if heading.name not in TEXT_COLUMNS]

    def _title(self, number: int, cells: Sequence[str]) -> str:
        words = " ".join(cell for cell in cells if cell)
        words = words if len(words) <= 60 else words[:57] + "..."
        return f"{self._where(number)}: above the header, not read: '{words}'"

    def _no_header(self) -> None:
        """The finding for a grid in which no row names two known columns, with near misses."""
        number, cells = self.rows[0] if self.rows else (1, [])
        best: list[str] = []
        for row, row_cells in self.rows[:10]:
            nearest_names = [(cell, self._near(cell)) for cell in row_cells if cell]
            meant = [f"'{cell}' for '{near}'" for cell, near in nearest_names if near not in (None, cell)]
            if len(meant) > len(best):
                number, cells, best = row, row_cells, meant
        shown = few([f"'{cell}'" for cell in cells if cell], 6)
        hint = f"perhaps {few(best, 6)}" if best else "the header says the unit: mass in air [g]"
        names = [read_heading(cells[0], 0, self.known).name for _, cells in self.rows if cells and cells[0]]
        if len({*self.known}.intersection(names)) > 2:  # it lies on its side
            hint = "turn the table, so that each specimen is a row"
        elif "|" in shown and "," not in shown:
            hint = "put commas, semicolons or tabs between the cells"
        expected = "a header: a row with at least two known columns, such as 'specimen' and 'mass in air [g]'"
        self._say("header-missing", self._where(number), shown or "no text", expected, hint)

    def _near(self, cell: str) -> str | None:
        """The known column that a cell most likely means."""
        name = read_heading(cell, 0, self.known).name
        return self._meant(name) if name else None

    def _meant(self, name: str) -> str | None:
        """The known column that a name is another word for, or that it misspells."""
        meant = MEANT.get(name.rstrip(" 0123456789"))
        return meant if meant in self.known else nearest(name, self.known, LIKE)

    def _check_headings(self, row: int, headings: Sequence[Heading]) -> None:
        """Findings for columns that are not known, and for columns that are there twice."""
        first: dict[str, Heading] = {}
        for heading in headings:
            where, name = self._place(row, heading), heading.name
            if name not in self.known:
                meant = _with_unit(name, self.known) or self._meant(name)
                hint = f"did you mean '{meant}'?" if meant and _may_have(meant, heading.unit) else ""
                self._say("unknown-column", where, f"'{heading.text}'", "a known column", hint)
            elif _wrongly_numbered(heading):
                hint = "points are told apart by 'field'" if name.endswith("points") else ""
                expected = f"one column '{name}': only readings are numbered, for repeats"
                self._say("numbered-column", where, f"'{heading.text}'", expected, hint)
            elif (other := first.setdefault(heading.label, heading)) is not heading:
                columns = f"columns {self._column(other)} and {self._column(heading)}"
                hint = "" if name in ONCE else f"number repeats: '{name} 1', '{name} 2'"
                duplicate = f"'{heading.label}' in {columns}"
                self._say("duplicate-column", where, duplicate, "each column once", hint)

    def _column(self, heading: Heading) -> str:
        return column_letters(heading.index) if self.sheet else str(heading.index + 1)

    def _is_units(self, cells: Sequence[str]) -> bool:
        """Whether a row below the header holds units: no names in it, no numbers, something like a unit."""
        seen = False
        for heading in self.headings:
            cell = _cell(cells, heading.index)
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

    def _take_units(self, number: int, cells: Sequence[str]) -> None:
        """Give the headings the units of the row below them; two different units are a finding."""
        with_units, taken = [], []
        for heading in self.headings:
            cell = _cell(cells, heading.index)
            unit = "" if cell in _NO_UNIT or heading.name in TEXT_COLUMNS else cell.strip("[]() ")
            if unit and not heading.unit:
                heading = replace(heading, unit=unit)
                taken.append(f"{heading.label} [{unit}]")
            elif unit and not same_unit(unit, heading):
                two_units = f"'{unit}' below a header that says '{heading.unit}'"
                where = self._place(number, heading)
                self._say("unit-twice", where, two_units, "one unit per column", "remove one of them")
            with_units.append(heading)
        self.headings = tuple(with_units)
        self.notes.append(f"{self._where(number)}: {f'read as units: {few(taken)}' if taken else 'units'}")

    def _without_other_headers(self, header: Sequence[str], body: Sequence[Numbered]) -> list[Numbered]:
        """The rows without repeats of the header; another header is a second table, and a finding."""
        texts = [cell for cell in header if cell]
        lead = {texts[0].lower(), *self.known}
        kept: list[Numbered] = []
        for number, cells in body:
            opening = cells[0] or next((cell for cell in cells if cell), "")
            leads = opening.lower() in lead or tidy(opening) in lead
            if not leads or len(known_names(cells, self.known)) < 2:
                kept.append((number, cells))
            elif [cell for cell in cells if cell] == texts:
                self.notes.append(f"{self._where(number)}: the header again, left out")
            else:
                second, expected = "a second header below the first", "one table per file or sheet"
                hint = "move the second table to a file or sheet of its own"
                self._say("second-header", self._where(number), second, expected, hint)
                return kept
        return kept

    def _without_totals(self, body: Sequence[Numbered]) -> list[Numbered]:
        """The rows without averages, signatures and the like at the end; one between coupons is a finding.

        So is one at the end that has readings, and words beside them as a coupon has.
        """
        rows = self._named_rows(body)
        end, between = split(rows)
        of_numbers, excluded = self._of_numbers(), self._named("excluded")
        labels = [heading.name for heading in self.headings if heading.index in of_numbers]
        above = [[_cell(cells, index) for index in of_numbers] for _, cells in body[:end]]
        counted = [not _filled(cells, excluded) for _, cells in body[:end]]
        hint = "for a coupon write 'specimen' in its column 'kind'; else"
        for row, (name, what) in zip(body[end:], rows[end:], strict=True):
            beside = self._words_beside(row[1]) if what == "computed" else ""
            numbers = [_cell(row[1], index) for index in of_numbers]
            if beside:
                named = f"'{name}', as averages are named, and with {beside} as coupons have it"
                expected = "a row of numbers alone, or a coupon"
                self._say(
                    "total-or-coupon", self._where(row[0]), named, expected, f"{hint} empty these cells"
                )
            elif what in ("computed", "short") and refuted(name, labels, numbers, above, counted):
                named = f"'{name}', with a number that is no mean, extreme, scatter or sum of the rows above"
                expected = "what its name says, or a coupon"
                self._say("no-total", self._where(row[0]), named, expected, f"{hint} remove the row")
            else:
                self.notes.append(f"{self._where(row[0])}: '{name}' {NO_COUPON}")
        findings = []
        for at in between:
            below = next(later for later in range(at + 1, end) if later not in between)
            under = f"'{rows[below][0]}' in " if rows[below][0] else ""
            total = f"'{rows[at][0]}' above {under}row {body[below][0]}, which is read as a coupon"
            hint = f"move it below the last coupon or remove it; if row {body[below][0]} is none, remove that"
            where = self._where(body[at][0])
            findings.append(self._finding("total-in-between", where, total, "coupons alone", hint))
        add_few(self.problems, findings)
        return list(body[:end])

    def _words_beside(self, cells: Sequence[str]) -> str:
        """The words that stand beside the name and the readings of a row, '' where any of them lack.

        A zone or a method may stand beside an average of theirs.
        """
        words = self._named(*TEXT_COLUMNS - {"remark", "specimen", "kind", "zone", "method"})
        named, numbers = self._named("specimen"), self._of_numbers()
        there = all(_filled(cells, part) for part in (named, numbers, words))
        return few([f"'{cell}'" for cell in _filled(cells, words)]) if there else ""

    def _named_rows(self, body: Sequence[Numbered]) -> list[tuple[str, str]]:
        """Of each row the name, and what it says that the row is: a specimen, where it says its kind."""
        of_words, of_numbers = self._named(*TEXT_COLUMNS - {"remark", "specimen"}), self._of_numbers()
        of_names, of_kinds = self._named("specimen"), self._named("kind")
        rows = []
        for _, cells in body:
            named = _filled(cells, of_names)
            others = named or _filled(cells, of_words)
            saying = ((cell, what) for cell in others if (what := total_word(cell)))
            name, what = next(saying, (others[0] if others else "", ""))
            if (what == "foot" and any(map(_measured, _filled(cells, of_numbers)))) or (
                named and _filled(cells, of_kinds)
            ):
                what = ""
            elif what == "short" and named and _filled(cells, of_words):
                what = ""  # a letter with a zone or a method beside it is the name of a specimen
            elif not what and name and sum(map(bool, cells)) == 1:
                dated = "" if _measured(name) else "foot"
                what = dated if name[0].isdigit() else "lone"
            rows.append((name, what))
        return rows

    def _check_width(self, headings: Sequence[Heading], width: int, body: Sequence[Numbered]) -> None:
        """Findings for cells that stand under no heading; width: of the header, blank headings included."""
        last = max(heading.index for heading in headings) + 1
        blank = last if self.sheet else width  # a CSV header may end in blank headings
        beyond = [row for row in body if any(row[1][last:]) and len(row[1]) > blank]
        add_few(self.problems, [self._too_many(*row, last, headings) for row in beyond])
        for index in sorted(set(range(blank)) - {heading.index for heading in headings}):
            rows = (row for row in body if index < last or len(row[1]) <= blank)
            stray = [(number, cell) for number, cells in rows if (cell := _cell(cells, index))]
            if stray:
                self.problems.append(self._without_heading(stray[0][0], index, stray[0][1], len(stray)))

    def _without_heading(self, number: int, index: int, text: str, count: int) -> Problem:
        """A cell in a column that has no heading; count: its cells."""
        hint = f"{count} such cells" if count > 1 else ""
        where, expected = place(self.sheet, number, index), "a heading over every column in use"
        return self._finding("column-without-heading", where, f"'{text}' under no heading", expected, hint)

    def _too_many(self, number: int, cells: Sequence[str], last: int, headings: Sequence[Heading]) -> Problem:
        if self.sheet:
            index, text = next((at, cell) for at, cell in enumerate(cells) if at >= last and cell)
            return self._without_heading(number, index, text, 1)
        hint = "a separator inside a cell needs quotation marks"
        if self.separator == ",":
            words = _split_words(cells, last, headings)
            numbers = not words and any(a.isdigit() and b.isdigit() for a, b in pairwise(cells))
            inside = "a comma inside a cell needs quotation marks"
            hint = f"{inside}: {words}" if words else f"{inside} around the cell"
            hint = "a decimal comma needs ; or a tab as separator" if numbers else hint
        many = f"{len(cells)} cells under {last} headings"
        return self._finding("too-many-cells", f"row {number}", many, "one cell per heading", hint)

    def _say_short_rows(self, body: Sequence[Numbered]) -> None:
        """Say which rows of a CSV file end before a column of numbers: a cell may be missing between."""
        numbers, names = self._of_numbers(), self._named("specimen")
        width = max(heading.index for heading in self.headings) + 1
        short = [
            f"{self._where(number)} ('{cells[names[0]]}', {len(cells)} of {width} cells)"
            for number, cells in body
            if self.separator and names and numbers and names[0] < len(cells) <= max(numbers)
        ]
        if short:
            self.notes.append(f"{SHORT_ROWS}, the missing cells at the end are empty: {few(short)}")


def same_unit(unit: str, heading: Heading) -> bool:
    """Whether a unit is that of a heading, in this or another spelling."""
    kind = NUMBERS.get(heading.name, "number")
    with suppress(Unreadable):
        return unit == heading.unit or column_unit(unit, kind) == column_unit(heading.unit, kind)
    return False


def other_unit(unit: str, heading: Heading) -> bool:
    """Whether a unit is one that the column of a heading could have too, and not the heading's."""
    return kind_of(f"1 {unit}") == NUMBERS.get(heading.name) and not same_unit(unit, heading)


def _may_have(column: str, unit: str) -> bool:
    """Whether a column can be in a unit; '' and the columns of words always can."""
    try:
        return not (unit and column in NUMBERS and column_unit(unit, NUMBERS[column]) is None)
    except Unreadable:
        return False


def _with_unit(name: str, known: Collection[str]) -> str:
    """The heading that a name with its unit behind it most likely means: 'mass in air [g]'; '' where none."""
    column, _, unit = name.rpartition(" ")
    if column in known and NUMBERS.get(column, "number") != "number":
        with suppress(Unreadable):
            column_unit(unit, NUMBERS[column])
            return f"{column} [{unit}]"
    return ""


def _wrongly_numbered(heading: Heading) -> bool:
    return heading.number is not None and heading.name in ONCE


def _filled(cells: Sequence[str], indices: Iterable[int]) -> list[str]:
    """The texts of some cells that are not empty."""
    return [cell for index in indices if (cell := _cell(cells, index))]


def _measured(cell: str) -> bool:
    """Whether a cell of numbers holds something that may be meant as one, and no initials or date."""
    return any(map(str.isdigit, cell)) and not (A_DATE.fullmatch(cell) or _NO_READING.fullmatch(cell))


def _cell(cells: Sequence[str], index: int) -> str:
    """The text of a cell, '' beyond the end of its row."""
    return cells[index] if index < len(cells) else ""


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
            worded = all(re.search(r"[^\W\d_]", piece) for piece in pieces)
            if worded and all(not cell or looks_like_number(cell, ".") for cell in numbers):
                words.append(f'"{", ".join(pieces)}"')
        if len(words) == 1:
            return words[0]
    return ""


def _rows(headings: Sequence[Heading], body: Sequence[tuple[int, Sequence[str]]]) -> tuple[Row, ...]:
    """The cells under the headings; cells missing at the end of a row are empty."""
    indices = [heading.index for heading in headings]
    width = max(indices) + 1
    full = ((number, [*cells, *[""] * (width - len(cells))]) for number, cells in body)
    return tuple(Row(number, tuple([cells[index] for index in indices])) for number, cells in full)
