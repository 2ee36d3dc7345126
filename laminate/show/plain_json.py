"""What a plain table says as JSON: keys, order and numbers of `measurement_json`, in blocks from columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np
import orjson

from laminate.coupons.discrepancies import Discrepancy
from laminate.coupons.grouped import Grouped
from laminate.coupons.groups import Figures
from laminate.coupons.measured import Specimen
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import Key
from laminate.formulas.statistics import students_t
from laminate.show.fields import Column
from laminate.show.measure_json import (
    DISCREPANCY,
    SPECIMEN,
    WARNING,
    Result,
    measurement_json,
)
from laminate.values.averages import USUAL
from laminate.values.problems import Problem
from laminate.values.quantities import ATTRIBUTES, Unit
from laminate.values.shown_columns import shown_columns

ROWS = 4096
FEW = 128
"""So many rows are made text at once: their texts stay in the cache of a processor."""


class Blocks:
    """A long list of objects as text, block by block; write: members with ',' between."""

    def __init__(self, write: Callable[[], Iterator[str]]) -> None:
        self.write = write

    def rows(self) -> list[Any]:
        """The objects themselves."""
        return [row for block in self.write() for row in orjson.loads(f"[{block}]")]


def unfolded(value: Any) -> Any:
    """An answer with its `Blocks` as lists."""
    if isinstance(value, Blocks):
        return value.rows()
    return {key: unfolded(part) for key, part in value.items()} if isinstance(value, dict) else value


def measure_json(measurement: Measurement) -> dict[str, Any]:
    """The whole answer of `measure`; the long lists of a large plain table are `Blocks`."""
    if measurement.grouped is None:
        return measurement_json(measurement)
    answer = measurement_json(replace(measurement, specimens=[], warnings=[], discrepancies=()))
    block = partial(_block, measurement.grouped, measurement.confidence or USUAL)
    answer["specimens"] = Blocks(partial(_in_order, measurement.grouped.of, block))
    if measurement.warnings:
        answer["warnings"] = Blocks(partial(_one_by_one, measurement.warnings, _warning, BETWEEN))
    if differ := measurement.grouped.discrepancies:
        answer["reconciliation"]["discrepancies"] = Blocks(partial(_one_by_one, differ, _discrepancy, ","))
    return answer


def _one_by_one(rows: Sequence[Any], text: Callable[[Any], str], between: str) -> Iterator[str]:
    """Rows in blocks; text: of one; between: stands between two of a block."""
    for start in range(0, len(rows), ROWS):
        yield between.join(text(rows[at]) for at in range(start, min(start + ROWS, len(rows))))


def _warning(problem: Problem) -> str:
    return orjson.dumps(WARNING.json(problem)).decode()


def _discrepancy(discrepancy: Discrepancy) -> str:
    return orjson.dumps(DISCREPANCY.make(discrepancy, ATTRIBUTES[discrepancy.attribute].unit)).decode()


CHANGES = '"\\u0000"'
"""Stands in the text of a row for what changes from row to row."""
BETWEEN = ",\n"
"""Stands between rows, and in none."""


@dataclass(frozen=True, slots=True, eq=False)
class _Cells(Column):
    """What stands under a key of each of some rows: text of JSON, or numbers (n,), null where not finite.

    dusty: numbers that are written with 15 digits.
    """

    values: Any
    dusty: bool = False

    def shown(self, unit: Unit, *, difference: bool) -> _Cells:
        """In a unit, from SI."""
        return _Cells(self.values * unit.per_si + (0.0 if difference else unit.offset), dusty=True)


def _in_order(of: Any, text: Callable[[int, Any], Iterator[str]]) -> Iterator[str]:
    """Rows in blocks; of: of which group each is (n,); text: of some rows of a group."""
    for start in range(0, len(of), ROWS):
        rows = np.arange(start, min(start + ROWS, len(of)))
        if (of[rows] == of[start]).all():
            yield from text(int(of[start]), rows)
            continue
        lines = [""] * len(rows)
        for at in np.unique(of[rows]).tolist():
            places = np.flatnonzero(of[rows] == at)
            of_group = BETWEEN.join(text(at, rows[places])).split(BETWEEN)
            for place, line in zip(places.tolist(), of_group, strict=True):
                lines[place] = line
        yield BETWEEN.join(lines)


def _block(grouped: Grouped, confidence: float, at: int, places: Any) -> Iterator[str]:
    """Rows of one group, by their places in the table, as text: one specimen whose values are columns."""
    group, table, rows = grouped.groups[at], grouped.table, grouped.within[places]
    figures = group.figures

    def words(label: str) -> Any:
        if label not in table.words:
            return None
        text = orjson.dumps([table.words[label][at] for at in places.tolist()]).decode()
        # no cell of a plain table has a quotation mark
        return _Cells([f'"{cell}"' if cell else "null" for cell in text[2:-2].split('","')])

    agreement = [
        replace(
            methods,
            difference=_Cells(methods.difference[rows]),
            allowed=_Cells(methods.allowed[rows]),
            agree=_Cells(np.where(methods.agree[rows], "true", "false").tolist()),
        )
        for methods in figures.agreements
    ]
    coupon: Any = SimpleNamespace(specimen=words("specimen"), file=table.coupon(0).file, word=words)
    results: Any = {key: _result(figures, key, rows, confidence) for key in figures.value}
    warnings = [grouped.warnings.get(at) for at in places.tolist()]
    row = SPECIMEN.json(Specimen(coupon, words("zone"), group.recipe, group.plan, results, agreement))
    row["warnings"] = _Cells([f"[{','.join(map(_warning, w))}]" if w else "[]" for w in warnings])
    return _together(row, len(rows))


def _together(row: Mapping[str, Any], count: int) -> Iterator[str]:
    """So many rows as text, a few at a time, from one whose values are columns."""
    columns: list[_Cells] = []

    def changing(column: _Cells) -> str:
        columns.append(column)
        return "\0"

    first, *between = orjson.dumps(row, changing, orjson.OPT_PASSTHROUGH_DATACLASS).decode().split(CHANGES)
    last = between[-1]
    numbers, words = np.zeros((count, len(columns))), dict[int, list[str]]()
    for at, column in enumerate(columns):
        if isinstance(column.values, list):
            words[at] = column.values
        else:
            numbers[:, at] = column.values
    dusty = [column.dusty for column in columns]
    numbers[:, dusty] = shown_columns(numbers[:, dusty])
    pieces_of_row = [text for piece in (f"{last}{BETWEEN}{first}", *between[:-1]) for text in (piece, "")]
    for start in range(0, count, FEW):
        few = numbers[start : start + FEW]
        cells = orjson.dumps(few.ravel(), option=orjson.OPT_SERIALIZE_NUMPY)[1:-1].decode().split(",")
        for at, texts in words.items():
            cells[at :: len(columns)] = texts[start : start + FEW]
        pieces = pieces_of_row * len(few)
        pieces[1::2], pieces[0] = cells, first
        yield "".join([*pieces, last])


def _result(figures: Figures, key: Key, rows: Any, confidence: float) -> Result:
    """What rows of a group are by a method."""
    value, u, dof = (column[key][rows] for column in (figures.value, figures.u, figures.dof))
    known, endless = u > 0.0, bool(np.isinf(dof).all())
    factor = students_t(confidence=confidence, dof=float("inf") if endless else dof)
    size, k, expanded = (
        _Cells(np.where(known, column, np.nan)) if known.any() else None for column in (u, factor, factor * u)
    )
    every: Any = float(factor) if endless and known.all() else k
    freedom = None if endless else _Cells(dof)
    return Result(_Cells(value), size, every, expanded, freedom, key[1], None)
