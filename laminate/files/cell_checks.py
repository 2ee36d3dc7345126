"""Cells of a workbook that are more than their text: computed, merged, shown differently than stored."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from laminate.files.grid import add_few, other_unit
from laminate.files.number_format import shown_name, shows_other_number, unit_of
from laminate.files.table import (
    A_DATE,
    COULD_BE_THOUSANDS,
    MOST_DIGITS,
    SHORT_DATE,
    TEXT_COLUMNS,
    Heading,
    Table,
    digits_of,
    looks_like_number,
    mixed_decimals,
)
from laminate.values.problems import Problem, marked
from laminate.values.said import few
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from openpyxl.worksheet.cell_range import CellRange

Cell = tuple[int, int]
"""Row number as shown, and column position from 0."""

ACCEPT = "or give the reason in 'accepted'"
NAMES = ("specimen", "replaces", "crucible")
"""Columns of names that a person chose."""
SEEN = "a name of visible characters", "type it again: it was copied with an invisible character"
_RETYPE = "set the cell to a number format and type it again"
_TIME = re.compile(r"\d{1,2}:\d\d(?::\d\d)?(?: ?[AaPp][Mm])?")
_THREE_PARTS = re.compile(r"\d\d([-./])\d\d\1\d\d", re.ASCII)
_SCIENTIFIC = re.compile(r"\d(?:[.,]\d+)?[Ee][+-]\d\d+|\d{16}\.0")
"""A long number: a cell of a workbook holds 15 digits of it."""


def unseen(name: str) -> bool:
    """Whether a name has a character that nobody sees, so that it looks like another name."""
    return marked(name, "\n") != name


Marks = defaultdict[str, dict[Cell, str]]
"""What is more than its text in one sheet: kind -> cell -> what goes with it, '' where nothing does.

`formula`: computed by the spreadsheet program; `uncalculated`: without the result of that; `percent`: shown
with a percent sign, as this text; `date`; `error`; `padded`: shown with leading zeros; `decimals`: shown with
more of them than its shortest text has, as this text; `format`: this number format puts words around it;
`text`: stored as text that could be a number; `struck`: crossed out; `comment`: these words.
"""


def check_cells(table: Table, marks: Marks, merged: Iterable[CellRange], problems: list[Problem]) -> Table:
    """The table with what must be said of its cells; those that cannot be used are emptied and are findings.

    Only cells under a known heading and in a row that is kept are looked at.
    """
    check = _Check(table)
    for at in check.inside(marks["uncalculated"]):
        hint = "open the workbook in the spreadsheet program and save it, or type the value"
        check.refuse("formula-not-calculated", at, "a formula without its result", "a value", hint)
    for at in check.inside(marks["error"]):
        hint = "correct the formula, or leave the cell empty"
        check.refuse("error-cell", at, f"'{check.text(at)}'", "a value", hint)
    for at in check.numeric(marks["date"]):
        hint = f"the spreadsheet program made a date of what was typed: {_RETYPE}"
        check.refuse("date-in-number", at, f"the date {check.text(at)}", "a number", hint)
    for at in check.numeric(marks["percent"]):
        text, seen = check.text(at), marks["percent"][at]
        hint = (
            f"it can mean {text} or {seen}: take the percent format away "
            f"and write the number in the unit of the heading"
        )
        unlike = f"{text} shown as {seen} under [{check.heading(at).unit}]"
        check.refuse("percent-format", at, unlike, "a plain number", hint)
    for at in check.numeric(marks["format"]):
        text, heading, form = check.text(at), check.heading(at), marks["format"][at]
        unit = unit_of(form)
        if shows_other_number(form):
            means, out = f"{form} shows another number than {text}", "words and commas"
        elif heading.unit and unit and other_unit(unit, heading):
            means, out = f"it can mean {text} {heading.unit} or {text} {unit}", "the unit"
        else:
            continue
        hint = f"{means}: take {out} out of the number format and write the number in the unit of the heading"
        unlike = f"{text} with the number format '{form}' under [{heading.unit}]"
        check.refuse("unit-in-format", at, unlike, "one unit for the cell", hint)
    check.merged(merged)
    check.numbers_as_text(check.numeric(marks["text"]))
    check.say("results of formulas, taken as the spreadsheet program last saved them", marks["formula"])
    check.say("numbers, read with the leading zeros that are shown", marks["padded"])
    check.names_by_format(marks["format"], marks["decimals"])
    check.struck(marks["struck"])
    check.comments(marks["comment"])
    for findings in check.findings.values():
        add_few(problems, findings)
    check.changed = check.decimals(marks["decimals"]) | check.changed
    made = (at for at in check.numeric(marks["formula"]) if not marks["formula"][at])
    return replace(
        check.result(), computed=table.computed | {(at[0], check.heading(at).label) for at in made}
    )


def names_made_dates(table: Table) -> Table:
    """The table with a question for each name that a program may have made of another.

    It makes a date of `3-1`, a time of `1:1`, and 2.02611E+13 of a long number.
    """
    asked = []
    for heading in (heading for heading in table.headings if heading.name in NAMES):
        hint = f"did a spreadsheet program make it one? set the cell to text, type it again; {ACCEPT}"
        names = table.column(heading)
        shorts = [SHORT_DATE.fullmatch(name) for name in names if _THREE_PARTS.fullmatch(name)]
        dates = all(shorts) and len({short["year"] for short in shorts if short}) == 1
        for row, cell in zip(table.rows, names, strict=True):
            # the last part of a number counts up, the year of a date that was made does not; 26-13-21 is none
            if what := _made(cell) or ("date" if dates and SHORT_DATE.fullmatch(cell) else ""):
                place = table.place(row, heading)
                asked.append((row.number, _no_name(table, place, what, cell, heading, hint)))
    return replace(table, asked=(*table.asked, *asked))


def _no_name(table: Table, place: str, what: str, cell: str, heading: Heading, hint: str) -> Problem:
    """The question about a cell of a name that shows what nobody typed; what: a date, a number."""
    expected = f"the name of a {'crucible' if heading.name == 'crucible' else 'coupon'}"
    return Problem("name-made-date", table.file, place, f"the {what} '{cell}'", expected, hint)


def _made(name: str) -> str:
    """What a spreadsheet program may have made of a name: 'date', 'time', 'number', '' for nothing."""
    kinds = {"date": A_DATE, "time": _TIME, "number": _SCIENTIFIC}
    return next((what for what, shape in kinds.items() if shape.fullmatch(name)), "")


class _Check:
    """One table being checked: what is found so far, and the cells that change."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.findings: dict[str, list[Problem]] = {}
        self.notes: list[str] = []
        self.asked: list[tuple[int, Problem]] = []
        self.changed: dict[Cell, str] = {}
        self.rows = table.by_number
        self.columns = {heading.index: at for at, heading in enumerate(table.headings)}

    def text(self, at: Cell) -> str:
        return self.rows[at[0]].cells[self.columns[at[1]]]

    def heading(self, at: Cell) -> Heading:
        return self.table.headings[self.columns[at[1]]]

    def place(self, at: Cell) -> str:
        return self.table.place(at[0], self.heading(at))

    def inside(self, cells: Iterable[Cell]) -> list[Cell]:
        """Those in the table, in reading order."""
        return sorted(at for at in cells if at[0] in self.rows and at[1] in self.columns)

    def numeric(self, cells: Iterable[Cell]) -> list[Cell]:
        """Those in columns of numbers."""
        return [at for at in self.inside(cells) if self.heading(at).name not in TEXT_COLUMNS]

    def refuse(self, code: str, at: Cell, found: str, expected: str, hint: str) -> None:
        """A cell that cannot be used, and is emptied."""
        self.find(code, self.place(at), found, expected, hint)
        self.changed[at] = ""

    def find(self, code: str, place: str, found: str, expected: str, hint: str) -> None:
        problem = Problem(code, self.table.file, place, found, expected, hint)
        self.findings.setdefault(code, []).append(problem)

    def say(self, words: str, cells: Iterable[Cell]) -> None:
        places = [self.place(at) for at in self.inside(cells) if at not in self.changed]
        if places:
            self.notes.append(f"{few(places)}: {words}")

    def ask(self, code: str, at: Cell, found: str, expected: str, hint: str) -> None:
        """A warning that the row answers with a reason."""
        problem = Problem(code, self.table.file, self.place(at), found, expected, f"{hint}; {ACCEPT}")
        self.asked.append((at[0], problem))

    def struck(self, cells: Iterable[Cell]) -> None:
        """One question for each row with cells that are crossed out."""
        crossed_out = [at for at in self.inside(cells) if self.text(at)]
        for _, row in groupby(crossed_out, key=lambda at: at[0]):
            first, *others = crossed = list(row)
            text = f"'{self.text(first)}', crossed out"
            if others:
                text = f"crossed out: {few([self.heading(at).label for at in crossed], 4)}"
            hint = "give the reason in 'excluded', or remove the line"
            self.ask("struck-through", first, text, "cells that are not crossed out", hint)

    def names_by_format(self, formats: dict[Cell, str], decimals: dict[Cell, str]) -> None:
        """Read words as their number format shows them: F-1 where the cell holds 1, 1.10 where it holds 1.1.

        Decimals are no part of a name where the column has whole numbers alone.
        """
        names: dict[Cell, str] = {}
        for at in self.inside(formats):
            heading = self.heading(at)
            if heading.name not in TEXT_COLUMNS or at in self.changed:
                continue
            text = shown_name(float(self.text(at)), formats[at])
            if text:
                names[at] = text
            elif text is None and heading.name in NAMES:
                hint = f"its number format is '{formats[at]}': set the cell to text, type it again; {ACCEPT}"
                asked = _no_name(self.table, self.place(at), "number", self.text(at), heading, hint)
                self.asked.append((at[0], asked))
        for at in self.inside(decimals.keys() - formats.keys() - self.changed.keys()):
            texts = self.table.column(self.heading(at)) if self.heading(at).name in NAMES else []
            if any("." in text and looks_like_number(text, ".") for text in texts):
                names[at] = decimals[at]
        self.say("names, as their format shows them", names)
        self.changed.update(names)

    def comments(self, comments: dict[Cell, str]) -> None:
        """One question for each comment, which nobody sees in the record."""
        for at in self.inside(comments):
            words = " ".join(comments[at].split())
            comment = f"the comment '{words if len(words) <= 80 else words[:77] + '...'}'"
            hint = "move it into 'remark', or into 'excluded' if the row must not count"
            self.ask("cell-comment", at, comment, "a cell without a comment", hint)

    def decimals(self, shown: Mapping[Cell, str]) -> dict[Cell, str]:
        """The texts of numbers that a format shows with more decimals, so many as its column was read to.

        Those of a format that shows more than any number of the column has were typed by nobody.
        """
        texts = {}
        for cells in by_key((at[1], at) for at in self.numeric(shown)).values():
            column = self.table.column(self.heading(cells[0]))
            read = (text.partition(".")[2] for text in column if digits_of(text) <= MOST_DIGITS)
            most = max(map(len, read), default=0)
            for at in cells:
                whole, _, rest = shown[at].partition(".")
                texts[at] = f"{whole}.{rest[:most]}" if most else whole
        return texts

    def merged(self, blocks: Iterable[CellRange]) -> None:
        """Findings for blocks that cover several cells of the table: only the first holds the text."""
        numbers = sorted(self.rows)
        for block in sorted(blocks, key=lambda b: (b.min_row, b.max_row, b.min_col, b.max_col)):
            rows = numbers[bisect_left(numbers, block.min_row) : bisect_right(numbers, block.max_row)]
            columns = [index for index in self.columns if block.min_col <= index + 1 <= block.max_col]
            if len(rows) * len(columns) < 2 or not self.text((rows[0], min(columns))):
                continue
            hint = "unmerge it and write the text into each cell that it is meant for"
            where = f"{self.table.sheet}!{block.coord}"
            self.find("merged-cells", where, "merged cells", "one value per cell", hint)

    def numbers_as_text(self, cells: list[Cell]) -> None:
        """Read numbers that are stored as text; with a comma only where it can mean one thing."""
        comma = [at for at in cells if "," in self.text(at) and looks_like_number(self.text(at), ",")]
        plain = [at for at in cells if looks_like_number(self.text(at), ".")]
        point = [at for at in plain if "." in self.text(at)]
        if comma and point:
            at, other = comma[0], point[0]
            signs = self.text(at), self.text(other), self.place(other)
            hint = "set the column to a number format and type them again"
            problem = mixed_decimals(self.table.file, self.place(at), *signs, "the column", hint)
            self.findings["mixed-decimals"] = [problem]
        elif comma and all(COULD_BE_THOUSANDS.fullmatch(self.text(at)) for at in comma):
            for at in comma:
                text = self.text(at)
                either = f"{text.replace(',', '.')} or {text.replace(',', '')}"
                hint = f"it can mean {either}: {_RETYPE}"
                self.refuse("number-ambiguous", at, f"'{text}' stored as text", "a number", hint)
            comma = []
        read = sorted({*plain, *comma})
        self.changed.update({at: self.text(at).replace(",", ".") for at in comma})
        if read:
            places = few([self.place(at) for at in read])
            count = "1 number is" if len(read) == 1 else f"{len(read)} numbers are"
            sign = ", the comma as decimal sign" if comma else ""
            self.notes.append(f"{places}: {count} stored as text, and read{sign}")

    def result(self) -> Table:
        changed = {(row, self.columns[index]): text for (row, index), text in self.changed.items()}
        notes, asked = (*self.table.notes, *self.notes), (*self.table.asked, *self.asked)
        return replace(self.table.with_cells(changed), notes=notes, asked=asked)
