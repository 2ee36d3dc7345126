"""What a plain table says as JSON: keys, order and numbers of `measurement_json`, in blocks from columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, repeat
from typing import TYPE_CHECKING, Any

import numpy as np
import orjson

from laminate.formulas.statistics import students_t
from laminate.show.measure_json import WARNING, measurement_json
from laminate.values.quantities import ATTRIBUTES, Unit, shown

if TYPE_CHECKING:
    from laminate.coupons.groups import Group
    from laminate.coupons.measurement import Measurement
    from laminate.coupons.methods import Key
    from laminate.coupons.plain_group import Grouped
    from laminate.values.problems import Problem

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


def measure_json(measurement: Measurement) -> dict[str, Any]:
    """The whole answer of `measure`; of a large plain table `specimens` and `warnings` are `Blocks`."""
    if measurement.grouped is None:
        return measurement_json(measurement)
    answer = measurement_json(replace(measurement, specimens=[], warnings=[]))
    answer["specimens"] = Blocks(_Rows(measurement, measurement.grouped).write)
    if measurement.warnings:
        answer["warnings"] = Blocks(lambda: _warnings(measurement))
    return answer


def _warnings(measurement: Measurement) -> Iterator[str]:
    for start in range(0, len(measurement.warnings), ROWS):
        yield BETWEEN.join(map(_warning, measurement.warnings[start : start + ROWS]))


def _warning(problem: Problem) -> str:
    return _text(WARNING.json(problem))


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
BETWEEN = ",\n"
"""Stands between rows, and in none."""


class _Rows:
    """Rows of a table as text."""

    def __init__(self, measurement: Measurement, grouped: Grouped) -> None:
        self.confidence, self.grouped = measurement.confidence or 0.95, grouped

    def write(self) -> Iterator[str]:
        for start in range(0, len(self.grouped), ROWS):
            rows = np.arange(start, min(start + ROWS, len(self.grouped)))
            of = self.grouped.of[rows]
            groups = np.unique(of).tolist()
            if len(groups) == 1:
                yield _Block(self, self.grouped.groups[groups[0]], rows).text()
                continue
            lines = [""] * len(rows)
            for at in groups:
                places = np.flatnonzero(of == at)
                block = _Block(self, self.grouped.groups[at], rows[places]).text()
                for place, line in zip(places.tolist(), block.split(BETWEEN), strict=True):
                    lines[place] = line
            yield BETWEEN.join(lines)


class _Block:
    """Rows of one group, by their places in the table, as text."""

    def __init__(self, whole: _Rows, group: Group, places: Any) -> None:
        self.whole, self.group, self.places = whole, group, places
        self.rows = whole.grouped.within[places]
        self.columns: list[list[str]] = []

    def text(self) -> str:
        """All of them."""
        table, group, best = self.whole.grouped.table, self.group, self.group.best
        methods = list(dict.fromkeys(method for _, method in group.figures.value))
        parts = {"specimen": self._words("specimen"), "file": _text(table.file)}
        parts |= {name: self._words(name) for name in WORDS}
        parts |= {"plies": _text(group.recipe.plies), "methods": _text(methods)}
        parts |= {name: self._words(name) for name in LATER}
        parts |= {name: f"{{{self._measured(key)}}}" for name, key in best.items()}
        others = [
            f'{{"attribute":{_text(key[0])},{self._measured(key)}}}'
            for key in group.figures.value
            if best[key[0]] != key
        ]
        parts["other_methods"] = f"[{','.join(others)}]"
        parts["agreement"] = f"[{','.join(self._agreements())}]"
        warnings = (self.whole.grouped.warnings.get(at, ()) for at in self.places.tolist())
        parts["warnings"] = (
            f"[{self._changing([','.join(map(_warning, problems)) for problems in warnings])}]"
        )
        members = ",".join(f'"{key}":{value}' for key, value in parts.items())
        return _woven(f"{{{members}}}".split(CHANGES), self.columns)

    def _changing(self, column: list[str]) -> str:
        self.columns.append(column)
        return CHANGES

    def _words(self, label: str) -> str:
        words = self.whole.grouped.table.words.get(label)
        if words is None:
            return "null"
        text = orjson.dumps([words[at] for at in self.places.tolist()]).decode()
        # no cell of a plain table has a quotation mark
        cells = text[2:-2].split('","')
        return self._changing([f'"{cell}"' if cell else "null" for cell in cells])

    def _measured(self, key: Key) -> str:
        figures, unit = self.group.figures, ATTRIBUTES[key[0]].unit
        u, dof = figures.u[key][self.rows], figures.dof[key][self.rows]
        endless = bool(np.isinf(dof).all())
        confidence = self.whole.confidence
        factor: Any = float(students_t(confidence=confidence, dof=float("inf")))
        if not endless:
            factor = np.asarray(students_t(confidence=confidence, dof=dof))
        value = self._changing(_numbers(shown_column(figures.value[key][self.rows], unit)))
        members = f'"value":{value},"unit":{_text(unit.text)}'
        known = u > 0.0
        ends = ["null"] * 3
        if known.any():
            for at, size in enumerate((u, factor * u)):
                column = np.where(known, shown_column(size, unit, difference=True), np.nan)
                ends[at] = self._changing(_numbers(column))
            every = endless and bool(known.all())
            ends[2] = _text(factor) if every else self._changing(_numbers(np.where(known, factor, np.nan)))
        names = ("standard_uncertainty", "expanded_uncertainty", "coverage_factor")
        members += "".join(f',"{name}":{end}' for name, end in zip(names, ends, strict=True))
        freedom = "null" if endless else self._changing(_numbers(dof))
        return f'{members},"effective_degrees_of_freedom":{freedom},"method":{_text(key[1])}'

    def _agreements(self) -> Iterator[str]:
        for agreement in self.group.figures.agreements:
            unit = ATTRIBUTES[agreement.attribute].unit
            difference, allowed = (
                self._changing(_numbers(shown_column(column[self.rows], unit, difference=True)))
                for column in (agreement.difference, agreement.allowed)
            )
            agree = self._changing(
                ["true" if agrees else "false" for agrees in agreement.agree[self.rows].tolist()]
            )
            yield (
                f'{{"attribute":{_text(agreement.attribute)},"methods":{_text(list(agreement.methods))},'
                f'"difference":{difference},"allowed":{allowed},"unit":{_text(unit.text)},"agree":{agree}}}'
            )


def _woven(between: list[str], columns: list[list[str]]) -> str:
    """Rows of text: what stands between the columns, and what each column says of each row."""
    within = [repeat(text, len(columns[0])) for text in between[1:-1]]
    ends = chain(repeat(f"{between[-1]}{BETWEEN}{between[0]}", len(columns[0]) - 1), between[-1:])
    pieces = chain.from_iterable(zip(columns, [*within, ends], strict=True))
    return "".join(chain(between[:1], chain.from_iterable(zip(*pieces, strict=True))))
