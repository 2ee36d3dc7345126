"""Coupon tables: what each column means, cells to numbers in SI units, rows of one specimen to one coupon."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

from laminate.files.cell_checks import NAMES, SEEN, unseen
from laminate.files.method_names import METHODS, methods_in
from laminate.files.named_file import NamedFile
from laminate.files.reasons import gives_reasons
from laminate.files.table import NUMBERS as NUMBERS
from laminate.files.table import TABLE_WORDS, Heading, Row, Table, looks_like_number, parse_number
from laminate.files.tables import Tables, read_tables
from laminate.files.totals import mean_rows
from laminate.values.problems import Problem, given_twice, wrong_word
from laminate.values.quantities import DEG_C, G_CM3, KG, M2, METER
from laminate.values.said import Figure, Said, between
from laminate.values.sequences import by_key
from laminate.values.units import Unreadable, column_unit

KINDS = ("specimen", "blank fiber", "blank resin", "check standard")
LOSS_METHODS = ("ignition", "digestion")
LISTED = {"method": LOSS_METHODS, "kind": KINDS}
"""Words that are one of a list, written in any case."""
NO_LOSS = tuple(method for method in METHODS if method not in LOSS_METHODS)
"""Methods of a plan that a cell `method` may name and that need no such word."""

MAY_BE_ZERO = ("residue mass", "backing mass", "dried mass")
IN_LIQUID = ("mass in liquid", "sinker mass in liquid")
TEXT = [*TABLE_WORDS["columns"]["text"]]
A_READING = re.compile(r"\d+(?:[.,](?P<digits>\d+))?\s*(?P<unit>(?:deg|°) ?[CF]|[mk]?g|[muµμ]m|in)?")
"""What may be a reading that has moved into the column of crucibles."""
BALANCE_DIGITS = 3
"""So many decimals are a weighing, no name (common practice, no source)."""
POINTS = ("points", "fiber points", "void points")
COLUMNS = (*TEXT, *NUMBERS)

# column -> lowest, whether it may be equal, highest [SI], the bounds in words
_MOST, _TARED = Figure(100.0, KG), "; of a crucible tared to 0 give 'specimen mass' and 'residue mass'"
BOUNDS: dict[str, tuple[float, bool, float, str]] = {
    **dict.fromkeys(
        TABLE_WORDS["columns"]["mass"], (0.0, False, 100.0, Said("a mass above 0, up to ", _MOST))
    ),
    **dict.fromkeys(MAY_BE_ZERO, (0.0, True, 100.0, Said("a mass of 0 or more, up to ", _MOST))),
    "crucible mass": (0.0, False, 100.0, Said("a mass above 0, up to ", _MOST, _TARED)),
    "mass in liquid": (-100.0, True, 100.0, Said("a mass up to ", _MOST)),
    "liquid temperature": (173.15, True, 473.15, Said("a temperature from ", between(173.15, 473.15, DEG_C))),
    "liquid density": (300.0, True, 4000.0, Said("a density from ", between(300.0, 4000.0, G_CM3))),
    "density": (5.0, True, 25000.0, Said("a density from ", between(5.0, 25000.0, G_CM3))),
    "thickness": (0.0, False, 1.0, Said("a thickness above 0, up to ", Figure(1.0, METER))),
    "length": (0.0, False, 10.0, Said("a length above 0, up to ", Figure(10.0, METER))),
    "width": (0.0, False, 10.0, Said("a width above 0, up to ", Figure(10.0, METER))),
    "area": (0.0, False, 10.0, Said("an area above 0, up to ", Figure(10.0, M2))),
    "plies": (1.0, True, 10000.0, "a whole number of plies, 1 or more"),
    "points": (1.0, True, 1e7, "a count of points, 1 or more"),
    **dict.fromkeys(("fiber points", "void points"), (0.0, True, 1e7, "a count of points")),
}


def within(column: str, number: Any, written: Any) -> Any:
    """Whether a column can hold a number [SI], or which of several; written: as their cells say."""
    low, equal, high, _ = BOUNDS[column]
    inside = ((number >= low) if equal else (number > low)) & (number <= high)
    return inside & (written % 1.0 == 0.0) if column == "plies" else inside


@lru_cache(4096)
def _labels(labels: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """Column -> its labels, besides every label: one look-up for all rows with the same cells."""
    by_label: dict[str, tuple[str, ...]] = dict.fromkeys(labels, ())
    for label in labels:
        column = base_name(label)
        by_label[column] = (*by_label.get(column, ()), label)
    return by_label


@dataclass(frozen=True, slots=True)
class Field:
    """The points counted in one field of view; places: column -> place of the cell."""

    name: str
    points: float
    fiber: float | None
    void: float | None
    places: dict[str, str] = field(compare=False)
    file: str = field(compare=False)


@dataclass(slots=True)
class Coupon:
    """One specimen (or blank, or check standard) with all its readings, SI units.

    numbers: label ('mass in air', 'thickness 2') -> number; places: label -> place of the cell; texts: what
    the cells say; given: the file of the cell, and the unit of its heading; words: column -> text; unread:
    'row' where a cell of it could not be read, 'table' where something of its whole table could not; asked:
    warnings about how its cells are written; unwritten: labels of cells that hold numbers as a computer keeps
    them, which do not tell the digits that were read; steps: label -> smallest step [SI] of a reading
    that was typed in another unit, which its text does not tell; computed: labels of `Table.computed`.
    """

    specimen: str
    file: str
    numbers: dict[str, float] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    given: dict[str, tuple[str, str]] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    fields: list[Field] = field(default_factory=list)
    unread: str = ""
    asked: tuple[Problem, ...] = ()
    unwritten: frozenset[str] = frozenset()
    steps: dict[str, float] = field(default_factory=dict)
    computed: set[str] = field(default_factory=set)

    def typed(self, label: str) -> str:
        """What a person typed into a cell, '' where its number does not tell its digits."""
        return "" if label in self.unwritten or label in self.computed else self.texts.get(label, "")

    def word(self, column: str) -> str:
        """The text of a column, '' where it is empty."""
        return self.words.get(column, "")

    @property
    def kind(self) -> str:
        """What the row is of: a specimen unless it says otherwise."""
        return self.word("kind") or "specimen"

    def labelled(self, name: str) -> tuple[str, ...]:
        """The labels of a column and its numbered repeats that have a reading."""
        return _labels(tuple(self.numbers)).get(name, ())

    def readings(self, name: str) -> list[float]:
        """Every reading of a column and its numbered repeats."""
        return [self.numbers[label] for label in self.labelled(name)]

    def mean(self, name: str) -> float:
        """The mean of the readings of a column that has some [SI]."""
        readings = self.readings(name)
        return sum(readings) / len(readings)

    def text(self, name: str) -> str:
        """What the cell of a column's first reading says, '' where it has none."""
        return next((self.texts[label] for label in self.labelled(name)), "")

    def has(self, *names: str) -> bool:
        """Whether every one of the columns has a reading."""
        there = _labels(tuple(self.numbers))
        return all(name in there for name in names)

    def place(self, name: str) -> str:
        """The place of the first reading of a column, or of the specimen."""
        unplaced = self.places.get("specimen", f"specimen '{self.specimen}'")
        return next((place for label, place in self.places.items() if base_name(label) == name), unplaced)

    def problem(self, code: str, name: str, found: str, expected: str, hint: str = "") -> Problem:
        """A finding at the first reading of a column, or at the specimen."""
        return Problem(code, self.file, self.place(name), found, expected, hint)

    def located(self, problem: Problem) -> Problem:
        """A finding about this coupon with the file that its cell stands in: it may have cells of several."""
        labels = (label for label, place in self.places.items() if place == problem.place)
        files = (self.given[label][0] for label in labels if label in self.given)
        return replace(problem, file=next(files, problem.file))

    def cells(self) -> Iterator[tuple[str, str]]:
        """File and place of every cell of it that a finding may name."""
        for label, place in self.places.items():
            yield self.given[label][0] if label in self.given else self.file, place
        yield from ((field.file, place) for field in self.fields for place in field.places.values())

    def labels(self) -> set[str]:
        """What a reason may be about: its cells, every column, the fields that were counted."""
        return {*self.places, *COLUMNS, *(f"field {field.name}" for field in self.fields)}

    def before(self, label: str, file: str) -> str:
        """Where a cell is that was read before, as a finding of a file says it."""
        other = self.given[label][0]
        return self.places[label] if other == file else f"{other}: {self.places[label]}"


@dataclass(frozen=True)
class Coupons:
    """Every coupon of the tables, in order, what was forgiven as they were read, and what could not be."""

    coupons: tuple[Coupon, ...]
    notes: tuple[tuple[str, str], ...]
    problems: tuple[Problem, ...] = ()


@lru_cache(4096)
def base_name(label: str) -> str:
    """The column of a label without its number: 'thickness 2' -> 'thickness'."""
    head, _, tail = label.rpartition(" ")
    return head if tail.isdigit() and head else label


def read_coupons(files: Iterable[NamedFile]) -> Coupons:
    """The coupons of files, as `read_tables` reads them."""
    return coupons_of(read_tables(files, known=COLUMNS))


def coupons_of(read: Tables) -> Coupons:
    """The coupons of one or more tables.

    What could be read comes with the findings, so that those of later checks are told with them.
    """
    problems = list(read.problems)
    coupons = _gathered(read.tables, problems, mean_rows)
    for coupon in coupons if read.unwritten else ():
        coupon.unwritten = read.unwritten
    notes = [(table.file, note) for table, _ in read.tables for note in table.notes]
    doubles, name_notes = _same_but_for_zeros(coupons)
    problems += doubles
    return Coupons(tuple(coupons), (*notes, *name_notes), tuple(problems))


def gather(tables: Iterable[Table]) -> tuple[list[Coupon], list[Problem]]:
    """The coupons of tables that are still being filled in, with the findings instead of a refusal."""
    problems: list[Problem] = []
    return _gathered([(table, True) for table in tables], problems, lambda table: ()), problems


def _gathered(
    tables: Iterable[tuple[Table, bool]], problems: list[Problem], more: Callable[[Table], Iterable[Problem]]
) -> list[Coupon]:
    """The coupons of tables, each with whether nothing is wrong with its file; more: other findings in it."""
    gathered: dict[str, Coupon] = {}
    for table, whole in tables:
        _CouponReader(table, gathered, problems).read(whole=whole)
        problems += more(table)
    for view in (view for coupon in gathered.values() for view in coupon.fields):
        at, counted = view.places["points"], (view.fiber or 0.0) + (view.void or 0.0)
        if counted > view.points:
            expected, text = f"no more than the {view.points:g} points of the grid", f"{counted:g} points"
            problems.append(Problem("impossible-value", view.file, at, f"'{text}'", expected))
    return list(gathered.values())


def no_names(file: str, sheet: str = "") -> Problem:
    """A table that does not name its coupons."""
    expected = "a column 'specimen' with the name of each one"
    return Problem("missing-column", file, sheet, "no column 'specimen'", expected)


class _CouponReader:
    """One table into the coupons gathered so far."""

    def __init__(self, table: Table, gathered: dict[str, Coupon], problems: list[Problem]) -> None:
        self.table, self.file, self.gathered, self.problems = table, table.file, gathered, problems
        self.given = {heading.label: (table.file, heading.unit) for heading in table.headings}
        self.scales: dict[int, tuple[float, float]] = {}
        self.asked = by_key(table.asked)
        self.mixed = ("mixed-decimals", table.file) in {(problem.code, problem.file) for problem in problems}

    def say(self, code: str, place: str, found: str, expected: str, hint: str = "") -> None:
        self.problems.append(Problem(code, self.file, place, found, expected, hint))

    def read(self, *, whole: bool) -> None:
        """Read every row; whole: nothing was wrong with the table itself so far."""
        table, before = self.table, len(self.problems)
        names = next((at for at, heading in enumerate(table.headings) if heading.name == "specimen"), None)
        if names is None:
            unknown = [p for p in self.problems if p.code == "unknown-column" and p.file == self.file]
            if not any("'specimen'" in problem.hint for problem in unknown):
                self.problems.append(no_names(self.file, table.sheet))
            return
        for at, heading in enumerate(table.headings):
            if heading.name in NUMBERS:
                self._unit(at, heading)
        whole = whole and len(self.problems) == before
        for row in table.rows:
            self._row(row, whole, row.cells[names], table.place(row, table.headings[names]))

    def _unit(self, at: int, heading: Heading) -> None:
        kind = NUMBERS[heading.name]
        try:
            self.scales[at] = column_unit(heading.unit, kind)
        except Unreadable as fault:
            sheet = f"{self.table.sheet}: " if self.table.sheet else ""
            place = f"{sheet}column '{heading.text}'"
            code = "missing-unit" if not heading.unit else "wrong-unit"
            self.say(code, place, fault.found, fault.expected, fault.hint)

    def _row(self, row: Row, whole: bool, specimen: str, place: str) -> None:
        before = len(self.problems)
        if not specimen:
            if any(row.cells):
                self.say("missing-specimen", place, "an empty cell", "the name of the coupon")
            return
        coupon = self.gathered.setdefault(specimen, Coupon(specimen, self.file))
        coupon.places.setdefault("specimen", place)
        coupon.asked += tuple(self.asked.get(row.number, ()))
        numbers: dict[str, tuple[float, str, str]] = {}
        words: dict[str, tuple[str, str]] = {}
        for at, (cell, column) in enumerate(zip(row.cells, self.table.headings, strict=True)):
            if column.name in NAMES and unseen(cell):
                self.say("wrong-word", self.table.place(row, column), f"'{cell}'", *SEEN)
            if not cell or column.name == "specimen":
                continue
            if column.name in NUMBERS:
                if (row.number, column.label) in self.table.computed:
                    coupon.computed.add(column.label)
                number = self._number(cell, row, column, at)
                if number is not None:
                    numbers[column.label] = (number, self.table.place(row, column), cell)
            else:
                words[column.name] = (cell, self.table.place(row, column))
        self._take_points(coupon, numbers, words)
        for label, reading in numbers.items():
            self._keep(coupon, label, *reading)
        self._check_crucible(row, words)
        for name, (text, place) in words.items():
            self._keep_word(coupon, name, text, place)
        if not whole or len(self.problems) > before:
            coupon.unread = "row" if whole and coupon.unread != "table" else "table"

    def _check_crucible(self, row: Row, words: dict[str, tuple[str, str]]) -> None:
        """A finding where the cell of the crucible surely holds a reading, as after a cell has moved over."""
        text, place = words.get("crucible", ("", ""))
        if not text or not (plain := A_READING.fullmatch(text)):
            return
        cells = [row.cells[at] for at, heading in enumerate(self.table.headings) if heading.name in NUMBERS]
        digits = plain["digits"] or ""
        if plain["unit"] or len(digits) >= BALANCE_DIGITS or (digits and text in cells):
            hint = "was it typed one column off? if it is the name, put a letter before it"
            self.say("wrong-word", place, f"'{text}'", "the name of the crucible, not a reading", hint)

    def _number(self, cell: str, row: Row, column: Heading, at: int) -> float | None:
        place = self.table.place(row, column)
        try:
            number = parse_number(cell, self.table.decimal)
        except Unreadable as fault:
            other = "," if self.table.decimal == "." else "."
            if not (self.mixed and looks_like_number(cell, other)):  # told once for the whole table
                self.say("not-a-number", place, fault.found, fault.expected, fault.hint)
            return None
        if at not in self.scales:
            return None
        factor, offset = self.scales[at]
        value = number * factor + offset
        if not within(column.name, value, number):
            text = f"{cell} {column.unit}".strip()
            self.say("impossible-value", place, f"'{text}'", BOUNDS[column.name][-1])
            return None
        return value

    def _keep(self, coupon: Coupon, label: str, number: float, place: str, text: str) -> None:
        known = coupon.numbers.get(label)
        if known is None:
            coupon.numbers[label], coupon.places[label], coupon.texts[label] = number, place, text
            coupon.given[label] = self.given[label]
        elif not math.isclose(known, number, rel_tol=1e-12, abs_tol=0.0):
            other = f"{coupon.texts[label]} {coupon.given[label][1]}".strip()
            before = f"'{other}' in {coupon.before(label, self.file)}"
            reading = f"{text} {self.given[label][1]}".strip()
            hint = "repeats go into numbered columns, such as 'thickness 1 [mm]', 'thickness 2 [mm]'"
            if "." in (name := coupon.specimen) and looks_like_number(name, "."):
                hint += f"; or a spreadsheet program made {name} of {name}0: type the names as text"
            self._twice(coupon, place, reading, before, hint)

    def _keep_word(self, coupon: Coupon, name: str, text: str, place: str) -> None:
        if name in LISTED:
            cell, text = text, " ".join(text.casefold().split())
            if name == "method" and text in NO_LOSS:
                return
            if text not in LISTED[name]:
                self.problems.append(wrong_word(self.file, place, cell, LISTED[name]))
                return
        if name == "only" and (odd := [method for method in methods_in(text) if method not in METHODS]):
            self.problems.append(wrong_word(self.file, place, odd[0], METHODS))
            return
        if name in ("excluded", "accepted") and not gives_reasons(text, coupon.labels()):
            self.say("wrong-word", place, f"'{text}'", "a reason in words, or an empty cell")
            return
        known = coupon.words.get(name)
        if known is None:
            coupon.words[name], coupon.places[name] = text, place
            coupon.given[name] = self.given[name]
        elif known != text and name in ("remark", "operator", "time", "field", "entry"):
            coupon.words[name] = f"{known}; {text}" if text not in known.split("; ") else known
        elif known != text:
            self._twice(coupon, place, text, f"'{known}' in {coupon.before(name, self.file)}")

    def _twice(self, coupon: Coupon, place: str, text: str, before: str, hint: str = "") -> None:
        what, expected = f"coupon '{coupon.specimen}' with '{text}'", "one value for each cell of a coupon"
        self.problems.append(given_twice(self.file, place, what, f"with {before}", expected, hint))

    def _take_points(
        self, coupon: Coupon, numbers: dict[str, tuple[float, str, str]], words: dict[str, tuple[str, str]]
    ) -> None:
        """Point counts are told apart by their field; they leave `numbers` and become a `Field`."""
        counted = {name: numbers.pop(name) for name in POINTS if name in numbers}
        if not counted:
            return
        places = {name: place for name, (_, place, _) in counted.items()}
        if "points" not in counted:
            lacking, expected = "counted points without 'points'", "how many points the grid has"
            self.say("missing-points", next(iter(places.values())), lacking, expected)
            return
        name = words.pop("field", ("", ""))[0]
        points, fiber, void = (counted[key][0] if key in counted else None for key in POINTS)
        new = Field(name, points or 0.0, fiber, void, places, self.file)
        known = next((field for field in coupon.fields if field.name == name), None)
        if known is None:
            coupon.fields.append(new)
        elif known != new:
            at = ("" if known.file == self.file else f"{known.file}: ") + known.places["points"]
            what = f"field '{name}' of coupon '{coupon.specimen}'"
            expected, hint = "one row per field", "the column 'field' tells them apart"
            self.problems.append(given_twice(self.file, places["points"], what, f"in {at}", expected, hint))


def _same_but_for_zeros(coupons: Iterable[Coupon]) -> tuple[list[Problem], list[tuple[str, str]]]:
    """Findings for two names that may be one specimen, notes for two that are not.

    One specimen may be in two tables, as text `0101` in the one and as the number 101 in the other: where
    both have readings that would stand beside each other in one row, nobody can tell, and it is a finding.
    Where a cell would hold two contents they are two, and the note (file, words) says so.
    """
    groups = by_key((c.specimen.lstrip("0"), c) for c in coupons if c.specimen.isdecimal())
    problems, notes = list[Problem](), list[tuple[str, str]]()
    for group in groups.values():
        for first, second in pairwise(group):
            place, first_place = second.places["specimen"], f"{first.file}: {first.places['specimen']}"
            both = all(coupon.numbers or coupon.fields for coupon in (first, second))
            if both and not _contrary(first, second):
                alike = f"'{second.specimen}', and '{first.specimen}' in {first_place}"
                hint = "if it is one coupon, write the same name, zeros too; if they are two, rename one"
                problems.append(Problem("same-name", second.file, place, alike, "one name per coupon", hint))
            else:
                names = f"'{second.specimen}' and '{first.specimen}' ({first_place})"
                notes.append((second.file, f"{place}: {names} are two coupons"))
    return problems, notes


def _contrary(first: Coupon, second: Coupon) -> bool:
    """Whether one cell would hold two contents."""
    merged = ("remark", "operator", "time", "field")
    return (
        any(second.numbers.get(label, number) != number for label, number in first.numbers.items())
        or any(second.words.get(name, w) != w for name, w in first.words.items() if name not in merged)
        or bool({field.name for field in first.fields} & {field.name for field in second.fields})
    )
