"""What a plain table says as JSON: keys, order and numbers of `measurement_json`, in blocks from columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import orjson

from laminate.formulas.statistics import students_t
from laminate.show.measure_json import WARNING, measurement_json
from laminate.values.quantities import ATTRIBUTES, Unit, shown

if TYPE_CHECKING:
    from laminate.coupons.methods import Key
    from laminate.coupons.plain_measure import PlainMeasurement

ROWS = 1024
WORDS = ("zone", "position", "lot")
LATER = ("operator", "time", "remark", "excluded", "replaces", "replaced_by")


@dataclass(frozen=True)
class Blocks:
    """A long list of objects as text, block by block: members with ',' and a line's end between."""

    write: Callable[[], Iterator[str]]

    def rows(self) -> list[Any]:
        """The objects themselves."""
        return [row for block in self.write() for row in orjson.loads(f"[{block}]")]


def plain_json(measurement: PlainMeasurement) -> dict[str, Any]:
    """The whole answer of `measure`; `specimens` and `warnings` are `Blocks`."""
    answer = measurement_json(measurement.measurement)
    rows = _Rows(measurement)
    answer["specimens"] = Blocks(rows.write)
    if measurement.warnings:
        answer["warnings"] = Blocks(lambda: _warnings(measurement))
    return answer


def _warnings(measurement: PlainMeasurement) -> Iterator[str]:
    for problems in measurement.warnings.values():
        yield ",\n".join(_text(WARNING.json(problem)) for problem in problems)


def _text(value: object) -> str:
    return orjson.dumps(value).decode()


def _numbers(values: Any) -> list[str]:
    """Numbers as JSON writes them; null where one is not finite."""
    column = np.ascontiguousarray(values, dtype=float)
    return orjson.dumps(column, option=orjson.OPT_SERIALIZE_NUMPY)[1:-1].decode().split(",")


_POWERS = 10.0 ** np.arange(23)


def shown_column(values: Any, unit: Unit, *, difference: bool = False) -> Any:
    """`shown`, or `shown_difference`, of a column (n,): 15 digits, free of binary dust."""
    offset = 0.0 if difference else unit.offset
    column = np.asarray(values * unit.per_si + offset, dtype=float)
    with np.errstate(all="ignore"):
        places = 14.0 - np.floor(np.log10(np.abs(column)))
        odd = ~((places >= 0.0) & (places <= 22.0))
        power = _POWERS[np.where(odd, 0.0, places).astype(np.intp)]
        whole = np.rint(column * power)
        decimal = whole / power
    # a carry into a 16th digit, or a power that is no exact number: one by one
    odd |= np.abs(whole) >= 1e15
    for at in np.flatnonzero(odd).tolist():
        decimal[at] = shown(float(column[at]), Unit("", 1.0))
    return decimal


CHANGES = "\0"
"""Stands in the text of a row for what changes from row to row."""


class _Rows:
    """Rows of a group as text."""

    def __init__(self, measurement: PlainMeasurement) -> None:
        self.found, self.group = measurement, measurement.group

    def write(self) -> Iterator[str]:
        for start in range(0, len(self.group), ROWS):
            yield self._block(slice(start, min(start + ROWS, len(self.group))))

    def _block(self, rows: slice) -> str:
        """The members of some rows: constant text once, and a list of texts for each part that changes."""
        columns: list[list[str]] = []
        table, recipe = self.group.table, self.group.recipe

        def words(label: str) -> str:
            if label not in table.words:
                return "null"
            text = orjson.dumps(table.words[label][rows]).decode()
            columns.append(text[2:-2].split('","'))  # no cell of a plain table has a quotation mark
            return f'"{CHANGES}"'

        def add(key: str, value: str) -> str:
            return f'"{key}":{value}'

        methods = list(dict.fromkeys(method for _, method in self.group.figures.value))
        parts = [add("specimen", words("specimen")), add("file", _text(table.file))]
        parts += [add(name, words(name)) for name in WORDS]
        parts += [add("plies", _text(recipe.plies)), add("methods", _text(methods))]
        parts += [add(name, words(name)) for name in LATER]
        best = self.group.best
        parts += [add(name, f"{{{self._measured(key, rows, columns)}}}") for name, key in best.items()]
        others = [
            f'{{"attribute":{_text(key[0])},{self._measured(key, rows, columns)}}}'
            for key in self.group.figures.value
            if best[key[0]] != key
        ]
        parts.append(add("other_methods", f"[{','.join(others)}]"))
        parts.append(add("agreement", f"[{','.join(self._agreements(rows, columns))}]"))
        parts.append(add("warnings", f"[{CHANGES}]"))
        columns.append(self._told(rows))
        return _woven(f"{{{','.join(parts)}}}".split(CHANGES), columns)

    def _told(self, rows: slice) -> list[str]:
        lines = [""] * (rows.stop - rows.start)
        for at, problems in self.found.warnings.items():
            if rows.start <= at < rows.stop:
                lines[at - rows.start] = ",".join(_text(WARNING.json(problem)) for problem in problems)
        return lines

    def _measured(self, key: Key, rows: slice, columns: list[list[str]]) -> str:
        unit, u, dof = (
            ATTRIBUTES[key[0]].unit,
            self.group.figures.u[key][rows],
            self.group.figures.dof[key][rows],
        )
        endless = bool(np.isinf(dof).all())
        confidence = self.found.measurement.confidence or 0.95
        factor: Any = float(students_t(confidence=confidence, dof=float("inf")))
        if not endless:
            factor = np.asarray(students_t(confidence=confidence, dof=dof))
        columns.append(_numbers(shown_column(self.group.figures.value[key][rows], unit)))
        known = u > 0.0
        told = f'"value":{CHANGES},"unit":{_text(unit.text)}'
        if not known.any():
            ends = ["null"] * 3
        else:
            for column in (
                shown_column(u, unit, difference=True),
                shown_column(factor * u, unit, difference=True),
            ):
                columns.append(_numbers(np.where(known, column, np.nan)))
            ends = [CHANGES, CHANGES, _text(factor) if endless and known.all() else CHANGES]
            if ends[2] == CHANGES:
                columns.append(_numbers(np.where(known, factor, np.nan)))
        freedom = "null"
        if not endless:
            freedom = CHANGES
            columns.append(_numbers(dof))
        names = ("standard_uncertainty", "expanded_uncertainty", "coverage_factor")
        told += "".join(f',"{name}":{end}' for name, end in zip(names, ends, strict=True))
        return f'{told},"effective_degrees_of_freedom":{freedom},"method":{_text(key[1])}'

    def _agreements(self, rows: slice, columns: list[list[str]]) -> Iterator[str]:
        for agreement in self.group.figures.agreements:
            unit = ATTRIBUTES[agreement.attribute].unit
            columns.append(_numbers(shown_column(agreement.difference[rows], unit, difference=True)))
            columns.append(_numbers(shown_column(agreement.allowed[rows], unit, difference=True)))
            columns.append(["true" if agree else "false" for agree in agreement.agree[rows].tolist()])
            yield (
                f'{{"attribute":{_text(agreement.attribute)},"methods":{_text(list(agreement.methods))},'
                f'"difference":{CHANGES},"allowed":{CHANGES},"unit":{_text(unit.text)},"agree":{CHANGES}}}'
            )


def _woven(between: list[str], columns: list[list[str]]) -> str:
    """Rows of text: what stands between the columns, and what each column says of each row."""
    width, count = 2 * len(columns), len(columns[0])
    pieces = [""] * (width * count)
    for at, column in enumerate(columns):
        pieces[2 * at :: width] = column
        pieces[2 * at + 1 :: width] = [between[at + 1]] * count
    pieces[width - 1 :: width] = [f"{between[-1]},\n{between[0]}"] * count
    pieces[-1] = between[-1]
    return between[0] + "".join(pieces)
