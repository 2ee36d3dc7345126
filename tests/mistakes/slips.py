"""Counts the slips that go unnoticed: `python -m tests.mistakes.slips [COUNT] [SEED] [--others] [-v]`.

Good tables of the four most usual kinds, or with --others of six more; in each one cell is written wrong as
people write wrong. The table is measured again: refused, warned or unnoticed; of the unnoticed those are told
apart that move an attribute of a specimen by more than three of its standard uncertainties. As many good
tables are looked at for warnings that nobody deserves.
"""

from __future__ import annotations

import csv
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from unittest import mock

import numpy as np
from numpy.random import Generator

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.measurement import Measurement
from laminate.files.batch import Case, read_batch
from laminate.files.coupons import NUMBERS, base_name, read_coupons
from laminate.files.named_file import NamedFile
from laminate.values.problems import Problem, Refused

from .good_tables import OTHERS, TRADE, Table, good_table

BATCH = Path(__file__).with_name("batch.toml")
GLASS = Path(__file__).parents[1] / "properties" / "glass" / "batch.toml"
MATTERS = 3.0
FACTORS = {"mass": 28.349523125, "length": 25.4, "area": 6.4516}


@dataclass(frozen=True)
class Slip:
    """One wrong cell, or two that changed places."""

    kind: str
    slip: str
    column: str
    text: str
    instead: str
    outcome: str
    moved: float
    told: str = ""

    @property
    def unnoticed_and_matters(self) -> bool:
        return self.outcome == "unnoticed" and self.moved > MATTERS


@cache
def case(kind: str) -> Case:
    return read_batch(GLASS if kind.startswith("glass") else BATCH, "batch.toml")


def measured(kind: str, table: Table, folder: Path) -> Measurement:
    """Measure a table; without the Monte Carlo check of its uncertainty, which looks at no reading."""
    path = folder / "coupons.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(table)
    with mock.patch("laminate.coupons.evaluation.MOST_GROUPS", 0):
        return measure_batch(case(kind), read_coupons([NamedFile(path, "coupons.csv")]))


def numeric_cells(table: Table) -> list[tuple[int, int]]:
    columns = [i for i, head in enumerate(table[0]) if column_of(head) in NUMBERS]
    return [(row, at) for row in range(1, len(table)) for at in columns if table[row][at]]


def column_of(head: str) -> str:
    return base_name(head.partition(" [")[0])


def swap_digits(text: str, rng: Generator) -> str:
    places = [i for i in range(len(text) - 1) if text[i].isdigit() and text[i + 1].isdigit()]
    places = [i for i in places if text[i] != text[i + 1]]
    if not places:
        return text
    i = int(rng.choice(places))
    return text[:i] + text[i + 1] + text[i] + text[i + 2 :]


def drop_digit(text: str, rng: Generator) -> str:
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    if len(places) < 2:
        return text
    i = int(rng.choice(places))
    return text[:i] + text[i + 1 :]


def move_point(text: str, rng: Generator) -> str:
    shift = int(rng.choice([-3, -2, -1, 1, 2]))
    return f"{float(text) * 10.0**shift:.10g}"


def mix_units(text: str, kind: str, rng: Generator) -> str:
    if kind == "temperature":
        return f"{float(text) * 1.8 + 32.0:.1f}"
    factor = float(rng.choice([1000.0, FACTORS.get(kind, 1000.0)]))
    number = float(text) * factor if rng.random() < 0.5 else float(text) / factor
    return f"{number:.5g}"


SLIPS = ("digits swapped", "digit dropped", "decimal moved", "unit mixed up", "cells swapped", "sign")


def slip_into(table: Table, slip: str, rng: Generator) -> tuple[Table, str, str, str]:
    """The table with one slip, its column, the cell before and after; redrawn until it changes a number."""
    cells = numeric_cells(table)
    while True:
        row, at = cells[int(rng.integers(len(cells)))]
        new = [list(cells_of_row) for cells_of_row in table]
        text, column = table[row][at], column_of(table[0][at])
        if slip == "cells swapped":
            others = [c for c in cells if c != (row, at) and (c[0] == row or c[1] == at)]
            other = others[int(rng.integers(len(others)))]
            new[row][at], new[other[0]][other[1]] = new[other[0]][other[1]], new[row][at]
        elif slip == "digits swapped":
            new[row][at] = swap_digits(text, rng)
        elif slip == "digit dropped":
            new[row][at] = drop_digit(text, rng)
        elif slip == "decimal moved":
            new[row][at] = move_point(text, rng)
        elif slip == "unit mixed up":
            new[row][at] = mix_units(text, NUMBERS[column], rng)
        else:
            new[row][at] = f"-{text}"
        if not new[row][at] or not any(sign.isdigit() for sign in new[row][at]):
            continue
        if float(new[row][at]) != float(text):
            return new, column, text, new[row][at]


def moved_by(good: Measurement, bad: Measurement) -> float:
    """The largest change of an attribute of a specimen, in its standard uncertainties."""
    largest = 0.0
    before = {s.name: s.best for s in [*good.specimens, *good.prepregs]}
    for specimen in [*bad.specimens, *bad.prepregs]:
        for attribute, now in specimen.best.items():
            then = before.get(specimen.name, {}).get(attribute)
            if then is not None and then.value != now.value:
                largest = max(largest, abs(now.value - then.value) / (then.u or now.u or 1e-12))
    return largest


def run(count: int, seed: int, kinds: Sequence[str] = tuple(TRADE)) -> Iterator[Slip]:
    """So many slips, one a good table; the kinds of table and of slip take turns."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for i in range(count):
            kind, slip = kinds[i % len(kinds)], SLIPS[i // len(kinds) % len(SLIPS)]
            good_seed = seed
            while True:
                table = good_table(kind, 100_000 * good_seed + i)
                good_seed += 1
                try:
                    good = measured(kind, table, folder)
                except Refused:  # counted by `false_alarms`
                    continue
                if not good.warnings:
                    break
            bad, column, text, instead = slip_into(table, slip, np.random.default_rng([seed, i]))
            try:
                again = measured(kind, bad, folder)
            except Refused as refused:
                yield Slip(kind, slip, column, text, instead, "refused", 0.0, str(refused))
                continue
            outcome = "warned" if again.warnings else "unnoticed"
            told = "\n".join(w.sentence() for w in again.warnings)
            yield Slip(kind, slip, column, text, instead, outcome, moved_by(good, again), told)


def false_alarms(
    count: int, seed: int, kinds: Sequence[str] = tuple(TRADE)
) -> Iterator[tuple[str, list[Problem]]]:
    """So many good tables, the kinds in turn, each with the warnings that it raises."""
    with tempfile.TemporaryDirectory() as name:
        for i in range(count):
            kind = kinds[i % len(kinds)]
            try:
                told = measured(kind, good_table(kind, 1_000_000 * seed + i), Path(name)).warnings
            except Refused as refused:
                told = list(refused.problems)
            yield kind, told


def counted(slips: list[Slip], by: str, alarms: Sequence[tuple[str, list[Problem]]] = ()) -> str:
    """A table of outcomes, by kind of table or of slip; alarms: good tables by kind and what they raise."""
    groups: dict[str, Counter[str]] = {}
    for slip in slips:
        tally = groups.setdefault(getattr(slip, by), Counter())
        tally[slip.outcome] += 1
        tally["matters"] += slip.unnoticed_and_matters
        tally["all"] += 1
    for kind, warnings in alarms:
        groups[kind]["good"] += 1
        groups[kind]["alarms"] += bool(warnings)
    total: Counter[str] = sum(groups.values(), Counter())
    columns = {"all": "slips", "refused": "refused", "warned": "warned", "unnoticed": "unnoticed",
               "matters": "and > 3 u"}  # fmt: skip
    if alarms:
        columns |= {"good": "good tables", "alarms": "warned of"}
    lines = ["| " + " | ".join([by, *columns.values()]) + " |", "|---" * (len(columns) + 1) + "|"]
    for name, tally in [*groups.items(), ("all", total)]:
        lines.append("| " + " | ".join([name, *(str(tally[column]) for column in columns)]) + " |")
    return "\n".join(lines)


def main() -> None:
    """Print how many slips are refused, warned of and unnoticed, and how many good tables raise a warning."""
    plain = [word for word in sys.argv[1:] if not word.startswith("-")]
    count, seed = int(plain[0]) if plain else 1000, int(plain[1]) if len(plain) > 1 else 1
    kinds = tuple(OTHERS if "--others" in sys.argv else TRADE)
    slips, alarms = list(run(count, seed, kinds)), list(false_alarms(count, seed, kinds))
    print(counted(slips, "kind", alarms), counted(slips, "slip"), sep="\n\n")
    if "-v" in sys.argv:
        for slip in slips:
            if slip.unnoticed_and_matters:
                print(f"{slip.kind}: {slip.column} '{slip.text}' -> '{slip.instead}' {slip.moved:.1f} u")
        for kind, warnings in alarms:
            if warnings:
                print(kind, *(w.sentence() for w in warnings), sep="\n   ")


if __name__ == "__main__":
    main()
