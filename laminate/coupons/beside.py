"""Specimens beside each other: what is compared of them, as columns, and what their peers tell."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import Key, compared_of, numbers, readings_of
from laminate.coupons.expected import (
    ONE_PIECE,
    SAME_PIECE,
    Expected,
    agreeing_within,
    of_specimen,
    voids_within,
)
from laminate.coupons.grouped import Alike, Grouped
from laminate.coupons.listed import means_of
from laminate.coupons.peers import LOOSE, MANY, Interval, intervals
from laminate.coupons.recipes import Inputs
from laminate.coupons.resolution import ROOT_12
from laminate.coupons.slips import decimals_of
from laminate.coupons.table_checks import reading_scatter
from laminate.files.coupons import base_name
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen

SEEN = 40
"""So many specimens are looked at for the decimal places of a column."""
FACTOR = 5.0
"""A raw reading that differs from its peers by more is taken for a slip of unit or decimal point."""
NEAR_ONE = 0.01
UNEVEN = 0.4
"""Standard deviation of the void content of like specimens, a share of it (common practice, no source)."""
WITH_VOIDS = ("density", "density given", "void content", "thickness", "ply thickness")
"""Quantities that scatter as voids do."""
ONE_MAKE = ("density", "density given", "fiber content")
"""Quantities that all coupons of a laminate share, so that several far off are several slips."""
LEAST_PIECE = 0.03
"""Share of a specimen below which nobody cuts a piece off it to burn or digest."""
READ_TWICE = (
    "same piece", "crucible drift", "dry", "specimen twice", "residue twice", "area twice", "density twice",
    "liquid twice",
)  # fmt: skip
"""Quantities that two readings of one thing give."""
ITSELF = (*READ_TWICE, "between", "void content", "by dimensions")
"""Quantities that compare readings of one specimen with each other."""


class Peers:
    """Specimens beside each other: what is compared of them, what their peers tell, what is off.

    values: quantities (n,) [SI], NaN where a specimen does not give one; off: specimens to look at; cut:
    those that lost their matrix as a piece cut off them, as most of several did: that is no slip; zones: rows
    of like specimens; readings: every input of one of them by name [SI]; intervals: what every quantity of it
    should be. Of those that are not excluded.
    """

    def __init__(self, specimens: Grouped) -> None:
        self.specimens, self.bench = specimens, specimens.bench
        self.values: dict[Key, Any] = {}
        self.off, self.cut = np.zeros((2, len(specimens)), bool)
        self.zones: list[Any] = []
        self.readings: Callable[[int], dict[Any, Any]] = cache(self._readings)
        self.intervals: Callable[[int], Expected] = cache(self._intervals)
        self._many: dict[int, dict[Key, Interval]] = {}
        self._few: dict[int, dict[Key, Interval]] = defaultdict(dict)
        self._scatter: dict[Key, Any] = {}
        counted = specimens.counted
        parts = [(part, rows) for part in specimens.alike if (rows := part.rows[counted[part.rows]]).size]
        for part, rows in parts:
            self._measure(part, rows)
        for _, rows in specimens.zones:
            if counted[rows].any():
                self._compare(rows[counted[rows]])
        for part, rows in parts:
            self._by_itself(part, rows)

    def _measure(self, part: Alike, rows: Any) -> None:
        """Compute what is compared of the rows of a part that count, and their own scatter."""
        agreements = part.group.figures.agreements if part.group else []
        within = self.specimens.within[rows]
        first = self.specimens[int(rows[0])]
        first = replace(first, agreement=[agreement.at(int(within[0])) for agreement in agreements])
        bench, x = self.bench, means_of(self.specimens.table, part.first, rows)
        x = readings_of(first, bench) | x
        with np.errstate(all="ignore"):
            results = numbers(x, first)
        for agreement in agreements:
            key: Key = ("between", agreement.attribute, *agreement.methods)
            if key in results:
                results[key] = np.where(agreement.known[within], results[key], np.nan)
        for key, value in results.items():
            column = self.values.setdefault(key, np.full(len(self.specimens), np.nan))
            column[rows] = np.where(np.isfinite(value), value, np.nan)
        columns = dict.fromkeys(map(base_name, part.first.numbers))
        scatter = {name: reading_scatter(part.first, name, bench, x[name]) for name in columns}
        if "liquid density" in scatter:  # read from a table: rounded, and no more
            scatter["liquid density"] /= ROOT_12
        with np.errstate(all="ignore"):
            for key, square in _own_squares(first, x, results, scatter).items():
                self._scatter.setdefault(key, np.full(len(self.specimens), np.nan))[rows] = np.sqrt(square)

    def _by_itself(self, part: Alike, rows: Any) -> None:
        """Mark what lot, recipe and the row itself do not let expect."""
        within, first = self.specimens.within[rows], int(rows[0])
        mine = self.quantities(first)
        for key, column in self.values.items():
            if key not in mine and not np.isnan(column[rows]).all():
                mine[key] = float(np.nanmin(column[rows]))
        of_first = of_specimen(self.specimens[first], mine, cut=False)
        off = np.zeros(len(rows), bool)
        for key in mine:
            if key[0] == "void content" and part.group:
                u = part.group.figures.u["void_content", key[1]][within]
                off |= self.outside(key, Interval(*voids_within(u), ""), rows)
            elif key[0] == "same piece":
                off |= ~self.cut[rows] & self.outside(key, ONE_PIECE, rows)
            elif key[0] == "between" and part.group:
                agreements = part.group.figures.agreements
                agreement = next(a for a in agreements if key[1:] == (a.attribute, *a.methods))
                low, middle, high = agreeing_within(key[1], agreement.allowed[within])
                off |= self.outside(key, Interval(low * LOOSE, middle, high * LOOSE, ""), rows)
            elif key in of_first:
                off |= self.outside(key, of_first[key], rows)
        self.off[rows] |= off

    def _compare(self, zone: Any) -> None:
        """Take the intervals that like specimens give each other; zone: their rows."""
        self.zones.append(zone)
        many, voids = dict[Key, Interval](), self._voids(zone)
        for key, column in self.values.items():
            rows = zone[~np.isnan(column[zone])]
            if not rows.size:
                continue
            mine = column[rows]
            if key[0] == "same piece":
                cut = (mine > LEAST_PIECE) & (mine <= 1.0 - SAME_PIECE)
                self.cut[rows] = cut & (len(rows) > 1) & (2 * int(cut.sum()) > len(rows))
            for i, interval in _of_peers(key, rows, mine, self.specimens, voids):
                if len(rows) > MANY:  # these have one interval
                    many[key] = interval
                    self.off[rows] |= self.outside(key, interval, rows)
                    break
                self._few[i][key] = interval
                self.off[i] |= not interval.holds(column[i])
        self._many |= dict.fromkeys(zone.tolist(), many)

    def _voids(self, zone: Any) -> float:
        """The void content of like specimens: the median, of two the smaller; 0 where none was measured."""
        known = [column[zone] for key, column in self.values.items() if key[0] == "void content"]
        every = np.concatenate([column[~np.isnan(column)] for column in known]) if known else np.zeros(0)
        middle = (len(every) - 1) // 2
        return float(np.partition(every, middle)[middle]) if len(every) else 0.0

    def outside(self, key: Key, interval: Interval, rows: Any) -> Any:
        """Rows outside an interval by more than the scatter of their own readings; some more, never fewer.

        interval: of all rows, or of each (n,).
        """
        value = self.values[key][rows]
        out = ~interval.holds(value)
        if key[0] == "read":
            return out & (value > 0.0)
        out &= interval.beyond(value, self._scatter[key][rows] if key in self._scatter else 0.0)
        return out | (value < interval.low) if key[0] == "void content" else out

    def quantities(self, at: int) -> dict[Key, float]:
        """What is compared of one specimen [SI]."""
        return {key: float(column[at]) for key, column in self.values.items() if not math.isnan(column[at])}

    def _readings(self, at: int) -> dict[Any, Any]:
        return readings_of(self.specimens[at], self.bench)

    def own(self, at: int) -> dict[Key, float]:
        """Standard deviation of every quantity [SI] from steps and repeatability of its readings."""
        return {key: float(column[at]) for key, column in self._scatter.items() if column[at] >= 0.0}

    def counted_alike(self, at: int) -> bool:
        """Whether all of the zone of a row, three or more, say one count of plies: then it is no slip."""
        _, rows = self.specimens.zones[self.specimens.zone[at]]
        cells = self.specimens.table.columns["plies"].cells[rows]
        return len(rows) > 2 and bool((cells == cells[0]).all())

    @cached_property
    def places(self) -> dict[str, list[tuple[int, int]]]:
        """Column -> row and decimal places of its cells, of the first specimens."""
        return by_key(
            (base_name(label), (at, decimals_of(text) or 0))
            for at, specimen in enumerate(self.specimens[:SEEN])
            for label, text in specimen.coupon.texts.items()
        )

    def _intervals(self, at: int) -> Expected:
        specimen, mine, expected = self.specimens[at], self.quantities(at), Expected(list)
        for key, interval in of_specimen(specimen, mine, cut=bool(self.cut[at])).items():
            expected[key].append(("itself" if key[0] in ITSELF else "prediction", interval))
        weighed_twice = ONE_PIECE.holds(mine.get(("same piece", ""), 0.0))
        for key, value in mine.items():
            if key[0] == "size" and weighed_twice:  # cut larger or smaller, not read wrongly
                continue
            like = self._few[at].get(key) or self._many[at].get(key)
            if like is not None and (key[0] != "read" or value > 0.0):
                expected[key].append(("peers", like))
        return expected


def _own_squares(specimen: Specimen, x: Inputs, values: Mapping[Key, Any], scatter: Inputs) -> dict[Key, Any]:
    """Variance of each compared quantity [SI], numbers or columns, from the scatter of readings by column."""
    squares: dict[Key, Any] = defaultdict(float)
    for column, size in scatter.items():
        for key, value in numbers({**x, column: x[column] + size}, specimen).items():
            if key in values and key[0] != "read":
                squares[key] += (value - values[key]) ** 2
    return squares


def _of_peers(
    key: Key, rows: Any, mine: Any, specimens: Sequence[Specimen], voids: float
) -> Iterator[tuple[int, Interval]]:
    """Row and interval of like specimens (n,) whose peers tell one.

    mine: the quantity of each (n,); voids: their usual void content.
    """
    known, middle = compared_of(key), float(np.median(mine))
    if key[0] == "read":
        if len(rows) < 2 or middle <= 0.0 or key[1] in ("liquid temperature", "density"):
            return
        for at, i in enumerate(map(int, rows)):
            near = _usual(mine[at], np.delete(mine, at)) if len(rows) <= MANY else middle
            if near > 0.0 and mine[at] > 0.0:
                yield i, Interval(near / FACTOR, near, near * FACTOR, *_words(i, rows, specimens))
        return
    if known.scatter == 0.0 or key[0] == "crucible drift":
        return
    scatter = max(known.scatter, UNEVEN * voids if key[0] in WITH_VOIDS else 0.0)
    scatter *= abs(middle) if known.relative else 1.0
    like = intervals(mine, scatter, "", several=key[0] in ONE_MAKE)
    for at, (i, interval) in enumerate(zip(map(int, rows), like, strict=True)):
        if interval is None:
            continue
        others = float(np.median(np.delete(mine, at))) if len(rows) <= MANY else middle
        if key[0] == "same piece" and abs(others - 1.0) > NEAR_ONE:
            continue
        words, peer = _words(i, rows, specimens)
        yield i, replace(interval, words=words, peer=peer)


def _usual(value: float, others: Any) -> float:
    """The one of the others that half of them lie nearer to the value than: a second slip does not count."""
    by_ratio = sorted(
        others, key=lambda other: abs(math.log(abs(other / value))) if other and value else math.inf
    )
    return float(by_ratio[(len(by_ratio) - 1) // 2])


def _words(i: int, rows: Any, specimens: Sequence[Specimen]) -> tuple[str, str]:
    """The others in words, and the name of a single one."""
    if len(rows) > 3:
        return f"like the {len(rows) - 1} others", ""
    others = [specimens[j].name for j in rows.tolist() if j != i]
    several = len(others) > 1
    return f"like coupon{'s' if several else ''} {' and '.join(others)}", "" if several else others[0]
