"""Rows copied from one another: readings that two specimens can hardly have in common.

Two specimens are alike where they have in common, to the digit, all masses and lengths (three or more), two
weighings of pieces of their own, or three repeats of one column. In a long table chance alone makes such
pairs, so each way of being alike is told only where fewer than `CHANCE` pairs are expected by chance. What
is expected follows from the table itself: see `by_chance`; of repeats, neighbors alone are told where
pairs of these are that few. Up to `FEW` rows every way
is told, but repeats of one column that hardly scatter: see `by_chance_of_few`. Of points counted, fields are
alike: see `copied_counts`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from laminate.coupons.resolution import last_digits, shown_step
from laminate.files.coupons import NUMBERS, Coupon, Field, base_name
from laminate.formulas import special
from laminate.values.problems import Problem
from laminate.values.said import few
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.coupons.instruments import Bench
    from laminate.files.plain_table import CouponTable

    Array = NDArray[np.float64]
    Codes = NDArray[np.int64]
    Sign = tuple[str, ...]

Finding = tuple[int, Problem]
"""Row and warning."""
CouponOf = Callable[[int], Coupon]
"""The coupon of a row."""
ALIKE = 3
"""Masses and lengths, or repeats of one column, that two specimens can hardly have in common."""
WEIGHED_ALIKE = 2
"""So many weighings, each of a mass of its own, neither can they."""
FINE = 1000 * (1 - 1e-9)
"""Readings of fewer steps than this are often alike by chance."""
NO_SIGN = ("crucible mass", "sinker mass in liquid")
"""Masses that several rows have in common: of one crucible, of one sinker."""
ONE_MASS = {"specimen mass": "mass in air", "dry mass": "mass in air"}
"""Masses of one piece, which count once."""
OF_ITS_PIECE = {"mass in liquid": ("mass in air",), "residue mass": ("specimen mass", "mass in air")}
"""Weighings that follow from the mass of the piece, and where that stands."""
DENSITY, CONTENT = 0.003, 0.005
"""Plausible scatter of density (a share of it) and of fiber content between like specimens (common practice,
no source)."""
FEW = 10
"""In so few rows no pair is expected by chance, but where repeats of one column hardly scatter."""
MOST_NAMED = 4
"""Columns that one sentence names."""
CHANCE = 0.01
"""Pairs expected by chance in a table below which a pair is told (common practice, no source)."""
CHANCE_OF_FEW = 0.02
"""The same of up to `FEW` rows, where what is expected is known roughly."""
COARSER = (2, 3, 5, 10)
"""Steps in which near pairs are looked for, the finest first."""
NEAR = 3
"""Steps in which neighbors are looked for that are nearly alike."""
NEAR_PAIRS = 10
"""So many near pairs tell how many are alike by chance."""
LIKE = 0.01
"""Plausible scatter between like coupons of different batches, a share of the reading (common practice, no
source): coupons that differ more within a batch may do so in every batch alike."""
STEPS_LOOKED_AT = np.array([unit * 10.0**power for power in range(3, -9, -1) for unit in (2.54, 1.0)])
SAME_STEP = 0.001
"""Of a step, what a whole number of them is off by rounding."""
LOOKED_AT = 10_000
"""So many rows tell how many pairs are alike by chance."""


class Copies(NamedTuple):
    """Of each row the first before it that it may be copied from, -1 where there is none.

    untold: rows that are alike only in ways in which chance alone makes some of the table alike.
    """

    other: Codes
    untold: int = 0


def copies(rows: Copies, coupon_of: CouponOf) -> Iterator[Finding]:
    """Row and warning of each specimen that chance alone does not make like one before it."""
    for at in np.flatnonzero(rows.other >= 0).tolist():
        coupon, first = coupon_of(at), coupon_of(int(rows.other[at]))
        columns = few(_in_common(coupon, first), MOST_NAMED) or "the readings"
        yield at, _alike(coupon, "specimen", columns, first)


def _alike(
    coupon: Coupon, place: str, columns: str, other: Coupon, again: str = "weigh", known: str = "of"
) -> Problem:
    """The warning about what a specimen has in common with another; known: what the other calls it."""
    hint = f"is a row copied? {again} it again; or give the reason in 'accepted'"
    readings_text = f"{columns} of '{coupon.specimen}' the same as {known} '{other.specimen}'"
    return coupon.problem("rows-alike", place, readings_text, "readings of its own", hint)


def copied_counts(coupons: Sequence[Coupon]) -> Iterator[Finding]:
    """Row and warning of each coupon whose points were counted, field by field, as in others before them.

    Told of all fields of two coupons, in any order, and of three or more in a row (`ALIKE`), where counting
    makes fewer than `CHANCE` such pairs in the whole table: the chance that two fields agree is multiplied
    over the fields, and by the number of ways in which they could.
    """
    counted = [(at, coupon) for at, coupon in enumerate(coupons) if len(coupon.fields) > 1]
    agree = _fields_by_chance([coupon for _, coupon in counted])
    pairs, low = math.comb(sum(len(coupon.fields) for _, coupon in counted), 2), math.log(CHANCE)
    first: dict[object, tuple[Coupon, int]] = {}
    for at, coupon in counted:
        signs, size, copy = [*map(_counts, coupon.fields)], len(coupon.fields), None
        chances = [math.log(agree(field)) for field in coupon.fields]
        if math.log(math.comb(len(counted) + 1, 2)) + math.lgamma(size + 1) + sum(chances) < low:
            other, _ = first.setdefault(frozenset(Counter(signs).items()), (coupon, 0))
            if other is not coupon:
                yield at, _alike(coupon, "specimen", f"the counts of all {size} fields", other, "count")
                continue
        for start in range(size):
            enough = range(start + ALIKE, size + 1)
            stop = next((n for n in enough if math.log(pairs) + sum(chances[start:n]) < low), None)
            if stop is None:
                break
            other, begin = first.setdefault((*signs[start:stop],), (coupon, start))
            if copy is None and (other, begin) != (coupon, start):
                copy = start, other, begin
        if copy is not None:
            yield at, _fields_alike(coupon, *copy)


def _fields_alike(coupon: Coupon, start: int, other: Coupon, begin: int) -> Problem:
    """The warning about fields in a row, from start on, that are those of a coupon from begin on."""
    both = [*zip(coupon.fields[start:], other.fields[begin:], strict=False)]
    size = next((at for at, (a, b) in enumerate(both) if _counts(a) != _counts(b)), len(both))
    mine, known = (f"fields '{a.name}' to '{b.name}'" for a, b in zip(both[0], both[size - 1], strict=True))
    alike = _alike(coupon, "specimen", mine, other, "count", f"{known} of")
    return replace(alike, file=both[0][0].file, place=both[0][0].places["points"])


def _counts(field: Field) -> tuple[float, float | None, float | None]:
    return field.points, field.fiber, field.void


def _fields_by_chance(coupons: Sequence[Coupon]) -> Callable[[Field], float]:
    """How often another field agrees with one by chance.

    Two counts of variance v are equal in ``exp(-2 v) I0(2 v)`` (exact for the Poisson distribution; v: of the
    binomial one, for the coupon where it is smallest, or that between more than three fields, where that is
    smaller), or as often as among the different fields counted.
    """
    every = {_counts(field) for coupon in coupons for field in coupon.fields}
    spread, share = dict.fromkeys(("fiber", "void"), 0.25), dict[str, float]()
    for at, what in enumerate(spread, 1):
        times = Counter((counts[0], counts[at]) for counts in every if counts[at] is not None)
        share[what] = sum(math.comb(n, 2) for n in times.values()) / max(math.comb(times.total(), 2), 1)
        between = list[float]()
        for coupon in coupons:
            counted = [_counts(field) for field in coupon.fields if getattr(field, what) is not None]
            on = (sum(counts[at] or 0.0 for counts in counted) + 0.5) / (sum(c[0] for c in counted) + 1.0)
            spread[what] = min(spread[what], on * (1.0 - on))
            if len(different := {*counted}) > ALIKE:
                grid, hits = (np.array([counts[i] for counts in different]) for i in (0, at))
                between.append(float((hits / grid).var(ddof=1) * grid.mean()))
        spread[what] = min(spread[what], float(np.mean(between or [1.0])))

    def agree(field: Field) -> float:
        counted = [what for what in spread if getattr(field, what) is not None]
        by_counting = {what: float(special.i0e(2.0 * field.points * spread[what])) for what in counted}
        return math.prod(max(chance, share[what]) for what, chance in by_counting.items())

    return agree


def copied_down(coupons: Sequence[Coupon], rows: Copies, bench: Bench) -> Iterator[Finding]:
    """Row and warning where one weighing is, to the digit, that of the row above, of a piece of another mass.

    What is expected d steps away and scatters s steps is equal by chance in ``phi(d/s)/s`` of all pairs (phi:
    standard normal density); told where d is more than s, and less than `CHANCE` pairs of the few rows would
    be equal. coupons: none where they are more than `FEW`; rows: alike in more.
    """
    chances, known = len(OF_ITS_PIECE) * (len(coupons) - 1), {*np.flatnonzero(rows.other >= 0).tolist()}
    for at, (above, coupon) in enumerate(pairwise(coupons), 1):
        for column, pieces in OF_ITS_PIECE.items():
            piece = next((name for name in pieces if coupon.has(name) and above.has(name)), "")
            once = len(above.readings(column)) == len(coupon.readings(column)) == 1
            if at in known or not (piece and once) or coupon.has("sinker mass in liquid"):
                continue
            reading, mass, step = coupon.mean(column), coupon.mean(piece), shown_step(coupon, column, bench)
            if above.mean(column) != reading or above.word("zone") != coupon.word("zone") or not step:
                continue
            scatter = DENSITY * (mass - reading) if column == "mass in liquid" else CONTENT * mass
            s = math.sqrt(2.0) * scatter / step
            away = abs(reading * mass / above.mean(piece) - reading) / step / s
            if away > 1.0 and chances * math.exp(-0.5 * away**2) / (math.sqrt(2.0 * math.pi) * s) < CHANCE:
                yield at, _alike(coupon, column, column, above)


def _in_common(coupon: Coupon, other: Coupon) -> list[str]:
    """The masses and lengths that two specimens have in common, to the digit; none where that is all."""
    counted = {label: number for label, number in coupon.numbers.items() if signs_in(label)}
    alike = [label for label, number in counted.items() if other.numbers.get(label) == number]
    return alike if len(alike) < len(counted) else []


def untold_words(copies: Copies, count: int) -> list[str]:
    """That specimens are alike in ways which chance makes among so many."""
    if not copies.untold or count <= FEW:
        return []
    coupons = "1 coupon has" if copies.untold == 1 else f"{copies.untold} coupons have"
    return [
        f"{coupons} two masses, or three repeats, in common with another: among {count} "
        "coupons that happens by chance, so only those with more in common get a warning"
    ]


def signs_in(label: str) -> bool:
    """Whether a column's readings are a specimen's own: masses and lengths."""
    name = base_name(label)
    return NUMBERS[name] in ("mass", "length") and name not in NO_SIGN


def copied_rows(table: CouponTable) -> Copies:
    """The rows of a table that are alike."""
    signs = {label: column for label, column in table.columns.items() if signs_in(label)}
    return copied({n: c.number for n, c in signs.items()}, {n: last_digits(c) for n, c in signs.items()})


def copied(numbers: Mapping[str, Array], steps: Mapping[str, Array]) -> Copies:
    """Find rows alike.

    numbers: readings (n,) [SI] by label, NaN where there is none; steps: of the last digit of each (n,), 0
    where nothing tells it. A spreadsheet drops last zeros: the finest of a column holds for all of it.
    """
    labels = sorted(numbers)
    count = len(numbers[labels[0]]) if labels else 0
    other = np.full(count, -1)
    if count < 2:
        return Copies(other)
    has = {label: ~np.isnan(numbers[label]) for label in labels}
    finest = {name: float(np.min(step, initial=np.inf, where=step > 0.0)) for name, step in steps.items()}
    fine = {label: has[label] & (np.abs(numbers[label]) >= FINE * finest[label]) for label in labels}
    pattern = joined([mask.astype(np.int64) for masks in (has, fine) for mask in masks.values()])
    firsts = np.unique(pattern, return_index=True)[1]
    signs = [
        _signs([label for label in labels if has[label][at]], [label for label in labels if fine[label][at]])
        for at in firsts.tolist()
    ]
    codes = {label: np.unique(numbers[label], return_inverse=True)[1].astype(np.int64) for label in labels}
    by_chance_alone = np.zeros(count, bool)
    for sign in dict.fromkeys(row_sign for signs_of_row in signs for row_sign in signs_of_row):
        having = np.flatnonzero(np.isin(pattern, [at for at, mine in enumerate(signs) if sign in mine]))
        code = joined([codes[label][having] for label in sign])
        first = _earliest(code, having)
        again = first < having
        repeats = len({base_name(label) for label in sign}) == 1
        if again.any() and (repeats or count > FEW):
            table = np.column_stack([_in_steps(numbers[label], finest[label])[having] for label in sign])
            expected, most = (by_chance, CHANCE) if count > FEW else (by_chance_of_few, CHANCE_OF_FEW)
            if (pairs := expected(table)) > most:
                by_chance_alone[having] |= again
                if not repeats or max(pairs * 2.0 / len(having), by_neighbors(table)) > CHANCE:
                    continue
                # of all pairs 2 in n are neighbors, from which repeats are pasted
                again = np.append(False, (np.diff(code) == 0) & (np.diff(having) == 1))
                first = having - 1
        other[having] = np.where((other[having] < 0) & again, first, other[having])
    return Copies(other, int((by_chance_alone & (other < 0)).sum()))


def _signs(labels: list[str], fine: list[str]) -> list[Sign]:
    """What a copied row would have in common with its original; fine: labels of fine readings."""
    signs: list[Sign] = [tuple(labels)] if len(labels) >= ALIKE else []
    named = [(base_name(label), label) for label in fine]
    masses = {ONE_MASS.get(name, name): label for name, label in named if NUMBERS[name] == "mass"}
    repeats = by_key(named).values()
    for least, many in ((WEIGHED_ALIKE, sorted(masses.values())), *((ALIKE, repeat) for repeat in repeats)):
        if len(many) > least:
            signs.append(tuple(many))
        signs += combinations(many, least)
    return signs


def joined(codes: Sequence[Codes]) -> Codes:
    """One code for each distinct row of several (n,)."""
    joined_codes, size = np.zeros(len(codes[0]), np.int64), 1
    for code in codes:
        top = int(code.max()) + 1
        if size * top > 2**62:
            joined_codes = np.unique(joined_codes, return_inverse=True)[1].astype(np.int64)
            size = int(joined_codes.max()) + 1
        joined_codes, size = joined_codes * top + code, size * top
    return np.unique(joined_codes, return_inverse=True)[1].astype(np.int64)


def _earliest(code: Codes, rows: Codes) -> Codes:
    """Of each row the first with the same code."""
    first = np.empty(int(code.max()) + 1, np.int64)
    first[code[::-1]] = rows[::-1]
    return first[code]


def _in_steps(numbers: Array, step: float) -> Array:
    """Readings in steps of the finest last digit that the column has; infinite where nothing tells it."""
    if math.isinf(step):
        apart = np.diff(np.unique(numbers[~np.isnan(numbers)]))
        step = float(apart.min()) if apart.size else 1.0
    return np.rint(numbers / step)


def by_chance(steps: Array) -> float:
    """How many pairs of rows chance alone makes alike, from readings in steps of their last digit (n, d).

    Different rows alone are counted, so that copies do not hide themselves. Where readings go together, as
    masses in air and in liquid, rows that are alike in steps b times as coarse tell it: of these about one in
    b^d is alike by chance. Where readings hardly scatter, the share of equal pairs of each column tells it,
    multiplied over the columns; the larger of both is taken.
    """
    count = len(steps)
    some = steps[:: -(-count // LOOKED_AT)]
    rows = some[np.unique(_codes(some), return_index=True)[1]]
    every = len(rows) * (len(rows) - 1) / 2.0
    if not every:
        return 0.0
    share = float(np.prod([_pairs(_codes(column[:, None])) / every for column in rows.T]))
    expected = share * len(some) * (len(some) - 1) / 2.0
    for coarser in COARSER:
        near = _pairs(_codes(np.floor(rows / coarser)))
        if near >= NEAR_PAIRS or coarser == COARSER[-1]:
            expected = max(expected, near / (coarser ** float(steps.shape[1]) - 1.0))
            break
    return expected * (count / len(some)) ** 2


def by_neighbors(steps: Array) -> float:
    """How many neighbors chance alone makes alike, from readings in steps of their last digit (n, d).

    Coupons cut side by side are like each other: of those that differ by no more than `NEAR` steps in each
    reading, equal ones left out, one in (2 NEAR + 1)^d is alike by chance.
    """
    apart = np.abs(np.diff(steps, axis=0)).max(axis=1)
    near = np.count_nonzero((apart > 0) & (apart <= NEAR))
    return float(near / ((2.0 * NEAR + 1.0) ** steps.shape[1] - 1.0))


def by_chance_of_few(steps: Array) -> float:
    """How many pairs of a few rows chance alone makes alike, from repeats by steps of the last digit (n, d).

    Two normal readings of scatter s steps are equal in about 1 of 2 sqrt(pi) s; the first repeat scatters as
    the rows do, every further one as the repeats of a row do. Different rows alone are counted.
    """
    rows = np.unique(steps, axis=0)
    if len(rows) < 2:
        return 0.0
    scatters = float(rows[:, 0].std(ddof=1)), float(np.sqrt(rows.var(axis=1, ddof=1).mean()))
    pairs = len(steps) * (len(steps) - 1) / 2.0
    return float(pairs * _equal(scatters[0]) * _equal(scatters[1]) ** (steps.shape[1] - 1))


def _equal(scatter: float) -> float:
    """The share of equal pairs of normal readings of a scatter in steps."""
    return min(1.0, 0.5 / (math.sqrt(math.pi) * scatter)) if scatter else 1.0


def chance_of_equal(rows: Collection[Sequence[float]]) -> float:
    """How often chance makes all repeats of one column equal in two like coupons of different batches.

    rows: the repeats of each coupon of the batches, once where they are equal [SI]. The first repeat scatters
    as those of the rows do, by no more than `LIKE` of the reading. The step is the largest decimal one, of
    meters or inches, of which all are multiples.

    >>> round(float(chance_of_equal([[1.79e-3], [1.81e-3], [1.80e-3]])), 2)
    0.28
    """
    every = np.array([reading for row in rows for reading in row])
    counts = every[:, None] / STEPS_LOOKED_AT
    whole = (np.abs(counts - np.rint(counts)) <= SAME_STEP * np.minimum(np.abs(counts), 1.0)).all(axis=0)
    step = STEPS_LOOKED_AT[whole].max(initial=STEPS_LOOKED_AT[-1])
    scatter = LIKE * float(np.abs(every).mean())
    if len(rows) > 1:
        scatter = min(scatter, float(np.std([row[0] for row in rows], ddof=1)))
    within = [np.var(row, ddof=1) for row in rows if len(row) > 1]
    repeats = max(map(len, rows)) - 1
    return _equal(scatter / step) * _equal(math.sqrt(np.mean(within)) / step if within else 0.0) ** repeats


def _codes(rows: Array) -> Codes:
    return joined([np.unique(column, return_inverse=True)[1].astype(np.int64) for column in rows.T])


def _pairs(code: Codes) -> float:
    """Pairs of rows with the same code."""
    times = np.bincount(code).astype(float)
    return float((times * (times - 1.0)).sum() / 2.0)
