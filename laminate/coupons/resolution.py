"""The smallest step of a column's readings: as told of its instrument, or the last decimal written."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.instruments import GAUGES, USUAL
from laminate.coupons.slips import number_of
from laminate.files.coupons import COLUMNS, NUMBERS, Coupon, base_name
from laminate.files.entries import as_typed
from laminate.files.heading import read_heading
from laminate.files.table import MOST_DIGITS
from laminate.values.sequences import by_key
from laminate.values.uncertainty import Source
from laminate.values.units import Unreadable, column_unit, scale

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench, Column
    from laminate.files.entries import History
    from laminate.files.plain_table import Column as Columns
    from laminate.files.plain_table import CouponTable

STEPS = {
    "mass": "0.1 mg",
    "temperature": "0.1 K",
    "length": "0.01 mm",
    "area": "0.01 cm^2",
    "density": "0.001 g/cm^3",
}
"""Kind of quantity -> a smallest step, as an example."""
ROOT_12 = math.sqrt(12.0)
SUFFIX = ", resolution"


def _column(coupon: Coupon, label: str, bench: Bench) -> Column:
    name = base_name(label)
    return (name, bench.gauge(name, coupon), *coupon.given.get(label, ("", "")))


def _shown_places(places: Any, read: Any) -> int:
    """The decimal places that a display shows; places: of each cell (n,); read: those but last zeros (n,).

    The most in the column. Places that hold nothing but zeros count where more than half of all have them:
    one 2.870 among 2.87 and 2.86 makes no finer display.
    """
    most = int(read.max())
    known = range(most, int(places.max()) + 1)
    return max([most, *(p for p in known if 2 * np.count_nonzero(places >= p) > len(places))])


def with_steps(bench: Bench, table: CouponTable, parts: Sequence[tuple[Any, Coupon]]) -> Bench:
    """The bench with the step of the last decimal of each column [SI], the most decimals in it counting.

    That of numbers of a data frame is for checks alone, and none of a column in which one was computed.
    parts: the rows that have like cells and the same balances, with the coupon of the first.
    """
    in_frame = {label: column for label, column in table.columns.items() if label in table.unwritten}
    written = {label: column for label, column in table.columns.items() if label not in in_frame}
    computed = {base_name(label) for label, column in in_frame.items() if too_long(column).any()}
    kept = {label: column for label, column in in_frame.items() if base_name(label) not in computed}
    steps, frame_steps = (_steps(columns, bench, parts) for columns in (written, kept))
    return replace(bench, steps=steps, frame_steps=frame_steps)


def _steps(
    columns: Mapping[str, Columns], bench: Bench, parts: Sequence[tuple[Any, Coupon]]
) -> dict[Column, float]:
    """The step of each column [SI]."""
    cells = defaultdict[Any, list[Any]](list)
    for label, column in columns.items():
        places = np.maximum(column.decimals, 0).astype(int)
        ends = np.flatnonzero((places > 0) & np.char.endswith(column.cells, b"0"))
        zeroed, both = column.cells[ends], np.array([places] * 2)
        zeros = np.char.str_len(zeroed) - np.char.str_len(np.char.rstrip(zeroed, b"0"))
        both[1, ends] = np.maximum(places[ends] - zeros, 0)
        read = (column.cells != b"") & ~too_long(column)
        for rows, first in parts:
            if (there := rows[read[rows]]).size:
                cells[_column(first, label, bench)].append(both[:, there])
    return {
        column: 10.0 ** -_shown_places(*np.hstack(of_column))
        * abs(column_unit(column[3], NUMBERS[column[0]])[0])
        for column, of_column in cells.items()
        if column[3] or NUMBERS[column[0]] == "number"
    }


def take_typed_units(coupons: Iterable[Coupon], histories: Mapping[str, History]) -> None:
    """Give coupons the steps of their readings that were typed at the bench in another unit.

    histories: by the name of their table. Of 0.113 in, kept as 2.87 mm, the step is 0.0254 mm.
    """
    named = by_key((coupon.specimen, coupon) for coupon in coupons)
    for file, history in histories.items():
        for line in (line for line in history.lines if line.typed):
            heading = read_heading(line.column, 0, COLUMNS)
            label, (number, unit) = heading.label, line.typed.split(" ", 1)
            for coupon in named.get(line.specimen, ()):
                text = coupon.texts.get(label, "")
                if not as_typed(text, line.new or "") or coupon.given[label][0] != file:
                    continue
                exponent = int(Decimal(number).as_tuple().exponent)
                with suppress(Unreadable):  # a unit that only another hand can have written there
                    coupon.steps[label] = 10.0**exponent * scale(unit, NUMBERS[heading.name])[0]


def scale_of(coupon: Coupon, label: str) -> float:
    """The unit in which a reading was written [SI]; 1 of a temperature, and of what no number tells."""
    number = number_of(coupon.texts[label])
    return coupon.numbers[label] / number if number and NUMBERS[base_name(label)] != "temperature" else 1.0


def last_digits(column: Columns) -> Any:
    """One step of the last digit written of each cell (n,) [SI], 0 where nothing tells it."""
    scale = 1.0 if NUMBERS[column.heading.name] == "temperature" else np.abs(column.factor)
    steps = 10.0 ** -np.maximum(column.decimals, 0).astype(float) * scale
    steps[np.nan_to_num(column.written) == 0.0] = 0.0
    steps[too_long(column)] = 0.0
    return steps


def too_long(column: Columns) -> Any:
    """Which cells (n,) have more digits than are read."""
    if column.long is not None:
        return column.long
    if column.cells.dtype.itemsize <= MOST_DIGITS or not len(column.cells):
        return np.zeros(len(column.cells), bool)
    digits = np.char.strip(np.char.replace(column.cells, b".", b""), b" +-0,")
    return np.char.str_len(digits) > MOST_DIGITS


def shown_step(coupon: Coupon, column: str, bench: Bench) -> float:
    """The step as checks take it [SI], 0 of counts.

    As `step_of` has it; of numbers of a data frame, which tell none, that of the most decimals in their
    column: 3.0 among 2.88 is no reading to a whole unit.
    """
    if NUMBERS[column] == "number":
        return 0.0
    labels = coupon.labelled(column)
    in_frame = (bench.frame_steps.get(_column(coupon, label, bench), 0.0) for label in labels)
    return step_of(coupon, column, bench) or max(in_frame, default=0.0)


def step_of(coupon: Coupon, column: str, bench: Bench) -> float:
    """The smallest step of a column's readings of one coupon [SI], 0 where nothing tells it.

    That of its instrument; the last decimal where none is told, or where the told one is finer; that of a
    reading typed in another unit where it is coarser.
    """
    display_step, labels = bench.gauge_of(column, coupon).resolution, coupon.labelled(column)
    written = (bench.steps.get(_column(coupon, label, bench), 0.0) for label in labels)
    return max([display_step, *written, *(coupon.steps.get(label, 0.0) for label in labels)])


def untold_steps(readings: Iterable[tuple[Coupon, str]], bench: Bench) -> Iterator[tuple[str, str, str]]:
    """Instruments whose step nobody stated and whose readings were computed, so that no digit tells it.

    readings: coupons and columns. Name of the instrument, the columns, and an example of a step.
    """
    computed: dict[str, dict[str, str]] = defaultdict(dict)
    for coupon, column in readings:
        kind, gauge = NUMBERS[column], bench.gauge_of(column, coupon)
        if kind in STEPS and not gauge.resolution and not coupon.computed.isdisjoint(coupon.labelled(column)):
            computed[gauge.name or USUAL.get(kind, kind)][column] = STEPS[kind]
    for name, steps in computed.items():
        yield name, ", ".join(steps), next(iter(steps.values()))


def untold_words(coupons: Iterable[Coupon], bench: Bench) -> list[str]:
    """What is said of columns that were computed; coupons: all that count."""
    readings = ((c, base_name(x)) for c in coupons for x in c.numbers if x in c.computed - c.unwritten)
    words = []
    for name, columns, step in untold_steps(readings, bench):
        line = f'state [instrument.{name}] resolution = "{step}"'
        way = line if bench.registered else f"{line} in a batch file"
        if name in GAUGES and not bench.registered:
            way = f'state --{name}-resolution "{step}"'
        words.append(f"{columns}: computed, so that no digit tells the resolution: {way}")
    return words


def resolution_source(coupons: Sequence[Coupon], column: str, bench: Bench) -> Source | None:
    """The error that the step of a column leaves in each of its readings; None where there is no step.

    ``d/sqrt(12)`` (JCGM 100:2008, F.2.2.1), the same error in all rows at worst, another in each at best.
    """
    if not bench.steps and not any(gauge.resolution for gauge in bench.gauges.values()):
        return None
    known: dict[Any, float] = {}
    resolutions = []
    for coupon in coupons:  # rows of one table and one balance share their step
        balances = coupon.word("balance"), coupon.word("liquid balance")
        alike = *balances, *coupon.given.items(), *coupon.steps.items()
        if alike not in known:
            known[alike] = step_of(coupon, column, bench)
        resolutions.append(known[alike])
    steps = np.array(resolutions)
    if not steps.any():
        return None
    sizes: Any = steps / ROOT_12
    move = float(sizes[0]) if (sizes == sizes[0]).all() else sizes
    return Source(column + SUFFIX, {column: move}, rounded=True, shape="rectangular")
