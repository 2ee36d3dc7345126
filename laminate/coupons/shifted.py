"""Columns that were pasted a row down or up: each reading fits the coupon above or below, and not its own.

A repeat is held against the mean of the other repeats of its row; the mass in liquid and the residue against
the mass of their piece, as logarithms. What is left (``d``) is compared with what would be left with the
column moved by a row (``e``), in every run of 5 to 27 rows: the mean squares of d and e about their medians,
the largest of each five d left out, so that one wrong cell accuses no column. A column is in doubt where
ln(d/e) exceeds `WINDOWS` in a run and two rows in three fit better moved.

`WINDOWS` is from simulation: 40 000 tables of 6 to 40 coupons alike, 2 or 3 normal repeats, in which no row
tells whose reading it is (the worst case: coupons that differ more, tails as of t on 3 degrees of freedom,
coarse steps, trends, random walks, and 20 000 tables with one or two outliers exceeded a limit less often).
Each limit was exceeded in 1 of 20 000, all of them together in fewer than 1 of 1 000. Repeats may also lie
side by side on one panel, the last of a coupon near the first of the next: they are in doubt only where
ln(d/e) exceeds `BESIDE`, too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from laminate.coupons.copied import OF_ITS_PIECE, CouponOf, Finding
from laminate.files.coupons import NUMBERS, base_name
from laminate.files.reasons import SHIFTED
from laminate.values.problems import Problem
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

WINDOWS = {5: 6.6, 6: 5.8, 7: 4.6, 8: 3.8, 10: 2.8, 12: 2.4, 15: 1.7, 18: 1.5, 22: 1.1, 27: 0.8}
"""Rows of a run, and how large ln(d/e) must be."""
USUAL_ROWS = 40
"""So many rows were simulated; each run of a longer table has as small a chance as there."""
BESIDE = math.log(12.0)
REPEATED = ("mass", "length", "area", "density")
"""Kinds of readings of which a coupon has its own; one temperature of the liquid may serve two coupons."""


class Shift(NamedTuple):
    """A column that fits better moved: up or down, beside which other; rows (m,) with a reading in doubt."""

    label: str
    beside: str
    up: bool
    rows: NDArray[np.intp]


def shifted(columns: Mapping[str, Array]) -> list[Shift]:
    """The columns that fit the others better moved by a row.

    columns: readings by label (n,) [SI] of the rows in order, NaN where there is none.
    """
    best: dict[str, tuple[float, Shift]] = {}
    for label, beside, readings, others, least in _compared(columns):
        for up in (True, False):
            excess, rows = _fits_moved(readings, others, least, up=up)
            name = base_name(label)
            if excess > best.get(name, (0.0, None))[0]:
                best[name] = (excess, Shift(label, beside, up, rows))
    return [shift for _, shift in best.values()]


def _compared(columns: Mapping[str, Array]) -> Iterator[tuple[str, str, Array, Array, float]]:
    """Label, what it is held against, its readings and theirs (n,), and the least ln(d/e)."""
    labels = by_key((base_name(label), label) for label in columns)
    for name, mine in labels.items():
        # of two repeats nobody can tell which was moved
        for label in (mine if len(mine) > 2 else mine[1:]) if NUMBERS[name] in REPEATED else ():
            others = [other for other in mine if other != label]
            yield label, " and ".join(others), columns[label], _mean(columns, others), BESIDE
        piece = next((piece for piece in OF_ITS_PIECE.get(name, ()) if piece in labels), "")
        if piece:
            held = np.logical_and.reduce(
                [np.isnan(columns[x]) for x in labels.get("sinker mass in liquid", ())]
            )
            with np.errstate(invalid="ignore", divide="ignore"):
                logs = [np.log(_mean(columns, labels[column])) for column in (name, piece)]
            yield mine[0], piece, np.where(held, logs[0], np.nan), logs[1], 0.0


def _mean(columns: Mapping[str, Array], labels: list[str]) -> Any:
    """The mean of the readings of each row (n,), NaN where it has none."""
    table = np.array([columns[label] for label in labels])
    there = ~np.isnan(table)
    return np.where(there, table, 0.0).sum(axis=0) / np.where(there.any(axis=0), there.sum(axis=0), np.nan)


def _fits_moved(readings: Array, others: Array, least: float, *, up: bool) -> tuple[float, NDArray[np.intp]]:
    """By how much the best run exceeds what it must, 0 where none does, and the rows of its readings."""
    kept, source = (slice(None, -1), slice(1, None)) if up else (slice(1, None), slice(None, -1))
    stays, moved = readings[kept] - others[kept], readings[source] - others[kept]
    known = np.flatnonzero(np.isfinite(stays) & np.isfinite(moved))
    if len(known) < min(WINDOWS):
        return 0.0, known
    stays, moved = stays[known], moved[known]
    apart = np.diff(np.unique(readings[known]))
    step = np.min(apart, initial=np.inf, where=apart > 1e-9 * np.abs(readings[known]).max())
    floor = step**2 / 8.0  # the rounding of a reading, and of the mean of two
    fits = np.abs(moved - np.median(moved)) < np.abs(stays - np.median(stays))
    doubted, most, counted = np.zeros(len(known), bool), 0.0, np.append(0, np.cumsum(fits))
    for size in (size for size in WINDOWS if size <= len(known)):
        starts = np.flatnonzero(counted[size:] - counted[:-size] >= 2 * size / 3)
        if not starts.size:
            continue
        d, e = (sliding_window_view(column, size)[starts] for column in (stays, moved))
        d, e = (np.square(run - np.median(run, axis=1, keepdims=True)) for run in (d, e))
        d = np.sort(d, axis=1)[:, : size - size // 5]
        longer = 2.0 / (size - 2) * math.log(max(1.0, len(known) / USUAL_ROWS))
        over = np.log((d.mean(axis=1) + floor) / (e.mean(axis=1) + floor)) - max(
            WINDOWS[size] + longer, least
        )
        for start in starts[over > 0.0].tolist():
            doubted[start : start + size] = True
        most = max(most, float(over.max()))
    return most, known[doubted & fits] + up


def shifts(columns: Mapping[str, Array], coupon_of: CouponOf) -> Iterator[Finding]:
    """Row and warning of each reading of a column that was pasted a row off."""
    for shift in shifted(columns):
        first, last = (coupon_of(int(shift.rows[at])).specimen for at in (0, -1))
        up, down = ("up", "down") if shift.up else ("down", "up")
        rows = f"from '{first}' to '{last}' {shift.label} fits {shift.beside} better one row {up}"
        hint = f"was it pasted a row {down}? look at the notes; or give the reason in 'accepted'"
        for at in shift.rows.tolist():
            coupon = coupon_of(at)
            place = coupon.places.get(shift.label) or coupon.place(base_name(shift.label))
            yield (
                at,
                Problem(SHIFTED, coupon.file, place, rows, "readings in the rows of their coupons", hint),
            )
