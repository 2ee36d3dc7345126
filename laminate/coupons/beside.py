"""Specimens beside each other: what is compared of them, as columns, and what their peers tell."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import Key, compared_of, numbers, readings_of
from laminate.coupons.corrections import Deviation, Expected
from laminate.coupons.discrepancies import Discrepancies, discrepancies
from laminate.coupons.expected import ONE_PIECE, SAME_PIECE, of_specimen
from laminate.coupons.peers import MANY, Interval, intervals
from laminate.coupons.recipes import Inputs
from laminate.coupons.table_checks import reading_scatter
from laminate.files.coupons import base_name

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Specimen

FACTOR = 5.0
"""A raw reading that differs from its peers by more is taken for a slip of unit or decimal point."""
NEAR_ONE = 0.01
UNEVEN = 0.4
"""Standard deviation of the void content of like specimens, a share of it (common practice, no source)."""
WITH_VOIDS = ("density", "density given", "void content", "thickness", "ply thickness")
"""Quantities that scatter as voids do."""
LEAST_PIECE = 0.03
"""Share of a specimen below which nobody cuts a piece off it to burn or digest."""
TWICE = (
    "same piece", "crucible drift", "dry", "specimen twice", "residue twice", "area twice", "density twice",
)  # fmt: skip
"""Quantities that two readings of one thing give."""
ITSELF = (*TWICE, "between", "void content", "by dimensions")
"""Quantities that compare readings of one specimen with each other."""


class Beside:
    """Specimens beside each other: what is compared of them, what their peers tell, what is off.

    values: quantities (n,) [SI], NaN where a specimen does not give one; off: specimens to look at; cut:
    those that lost their matrix as a piece cut off them, as most of several did: that is no slip; expected,
    raw: of the specimens looked at; zones: rows of like specimens.
    """

    def __init__(self, specimens: Sequence[Specimen], bench: Bench) -> None:
        self.specimens, self.bench = specimens, bench
        self.values: dict[Key, Any] = {}
        self.off, self.cut = np.zeros((2, len(specimens)), bool)
        self.zones: list[Any] = []
        self._readings: dict[int, dict[Any, Any]] = {}
        self.expected: dict[int, Expected] = {}
        self.raw: dict[int, list[Deviation]] = {}
        self._many: dict[int, dict[Key, Interval]] = {}
        self._few: dict[int, dict[Key, Interval]] = defaultdict(dict)

    def put(self, key: Key, rows: Any, value: Any) -> None:
        """Take the quantity of some specimens."""
        if key not in self.values:
            self.values[key] = np.full(len(self.specimens), np.nan)
        self.values[key][rows] = value

    def compare(self, zone: Any) -> None:
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
                self.off[i] |= not interval.low <= column[i] <= interval.high
        self._many |= dict.fromkeys(zone.tolist(), many)

    def _voids(self, zone: Any) -> float:
        """The void content of like specimens: the median, of two the smaller; 0 where none was measured."""
        known = [column[zone] for key, column in self.values.items() if key[0] == "void content"]
        every = np.concatenate([column[~np.isnan(column)] for column in known]) if known else np.zeros(0)
        middle = (len(every) - 1) // 2
        return float(np.partition(every, middle)[middle]) if len(every) else 0.0

    def outside(self, key: Key, interval: Interval, rows: Any) -> Any:
        """Of many specimens those that may not lie inside an interval (n,)."""
        return ~((interval.low <= self.values[key][rows]) & (self.values[key][rows] <= interval.high))

    def quantities(self, at: int) -> dict[Key, float]:
        """What is compared of one specimen [SI]."""
        return {key: float(column[at]) for key, column in self.values.items() if not math.isnan(column[at])}

    def readings(self, at: int) -> dict[Any, Any]:
        """Every input of one specimen by name [SI]."""
        if at not in self._readings:
            self._readings[at] = readings_of(self.specimens[at], self.bench)
        return self._readings[at]

    def own(self, at: int) -> Mapping[Key, float]:
        """Standard deviation of every quantity [SI] from steps and repeatability of its readings."""
        specimen, x = self.specimens[at], self.readings(at)
        columns = {base_name(label) for label in specimen.coupon.texts}
        scatter = {c: reading_scatter(specimen.coupon, c, self.bench) for c in columns if c in x}
        moving = {column: size for column, size in scatter.items() if size > 0.0}
        squares = own_squares(specimen, x, self.quantities(at), moving)
        return {key: math.sqrt(float(square)) for key, square in squares.items()}

    def discrepancies(self, rows: Iterable[int]) -> Discrepancies:
        """Where methods of some specimens disagree."""
        return discrepancies([self.specimens[at] for at in rows], self.bench)

    def counted_alike(self, at: int, plies: str) -> bool:
        """Whether all others of the zone, two or more, say the same count of plies: then it is no slip."""
        zone = [s.coupon.texts.get("plies") for s in self.specimens if s.zone == self.specimens[at].zone]
        return len(zone) > 2 and set(zone) == {plies}

    def intervals(self, at: int) -> Expected:
        """What every quantity of a specimen should be."""
        specimen, mine, expected = self.specimens[at], self.quantities(at), Expected(list)
        for key, interval in of_specimen(specimen, mine, cut=bool(self.cut[at])).items():
            expected[key].append(("itself" if key[0] in ITSELF else "prediction", interval))
        weighed_twice = ONE_PIECE.low <= mine.get(("same piece", ""), 0.0) <= ONE_PIECE.high
        for key, value in mine.items():
            if key[0] == "size" and weighed_twice:  # cut larger or smaller, not read wrongly
                continue
            like = self._few[at].get(key) or self._many[at].get(key)
            if like is not None and (key[0] != "read" or value > 0.0):
                expected[key].append(("peers", like))
        return expected


def own_squares(specimen: Specimen, x: Inputs, values: Mapping[Key, Any], scatter: Inputs) -> dict[Key, Any]:
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
    for at, (i, interval) in enumerate(zip(map(int, rows), intervals(mine, scatter, ""), strict=True)):
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
