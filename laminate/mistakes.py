"""Unlikely readings: what does not fit its fellows, its lot or its own specimen, and what may have been
meant.

One warning a specimen gathers everything that does not fit, since one wrong cell moves several quantities.
For every cell that could be at fault, each reading one slip away is tried: one that makes everything fit is
named.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.checks import COLDEST, HOTTEST
from laminate.comparisons import Key, compared_of, numbers, readings_of
from laminate.expected import COVERAGE, Predictions, of_specimen
from laminate.fellows import MANY, Interval, intervals
from laminate.problems import Problem
from laminate.quantities import shown
from laminate.read.coupons import NUMBERS, base_name
from laminate.slips import Meant, factor_words, number_of, one_slip_away
from laminate.suspects import discrepancies
from laminate.table_checks import check_table, reading_scatter

if TYPE_CHECKING:
    from laminate.measured import Specimen
    from laminate.readings import Bench

FACTOR = 5.0
"""A raw reading that differs from its fellows by more is taken for a slip of unit or decimal point."""
ACCEPTED = "accepted: "
NEAR_ONE = 0.01
SEARCHED = 25
"""So many specimens of a table are searched for what was meant; more at fault is a fault of the table."""
FITS = 0.7
"""Share of the interval within which a reading that may have been meant must lie."""


def warn(specimens: Sequence[Specimen], bench: Bench) -> None:
    """Add to every specimen the warnings about its readings, those that its row accepts with the reason.

    specimens: evaluated, with the agreement of their methods; excluded ones get none.
    """
    for i, warning in [
        *check_table([s.coupon for s in specimens], bench),
        *find_mistakes(specimens, bench).items(),
    ]:
        specimens[i].warnings.append(warning)
    for specimen in specimens:
        if reason := specimen.coupon.word("accepted"):
            specimen.warnings[:] = [replace(w, hint=f"{ACCEPTED}{reason}") for w in specimen.warnings]


def is_accepted(warning: Problem) -> bool:
    """Whether the row that a warning is about answers it with a reason."""
    return warning.hint.startswith(ACCEPTED)


@dataclass(frozen=True, slots=True)
class Deviation:
    """One quantity of a specimen outside one interval."""

    key: Key
    value: float
    interval: Interval
    source: str


def find_mistakes(specimens: Sequence[Specimen], bench: Bench) -> dict[int, Problem]:
    """Row in `specimens` -> the warning that gathers what does not fit; excluded rows are not looked at.

    specimens: evaluated, with the agreement of their methods.
    """
    rows = [i for i, s in enumerate(specimens) if not s.excluded]
    inputs = {i: readings_of(specimens[i], bench) for i in rows}
    values = {i: _numbers(inputs[i], specimens[i]) for i in rows}
    expected = _expected(specimens, values)
    found: dict[int, list[Deviation]] = {}
    for i in rows:
        off = [
            Deviation(key, values[i][key], interval, source)
            for key, known in expected[i].items()
            for source, interval in known
            if not interval.low <= values[i][key] <= interval.high
        ]
        if off:
            own = own_scatter(specimens[i], inputs[i], values[i], bench)
            off = [d for d in off if float(d.interval.distance(d.value)) > 1.0 + _allowance(d, own)]
        if off:
            found[i] = sorted(off, key=lambda d: -float(d.interval.distance(d.value)))
    common = _common(found, values)
    problems: dict[int, Problem] = {}
    for n, (i, off) in enumerate(found.items()):
        meant = None
        if n < SEARCHED and off[0].key not in common:
            meant = _meant(i, specimens, inputs, off, expected[i], list(found))
        problems[i] = _problem(specimens[i], off, meant, common.get(off[0].key, ""), bench)
    return problems


def _common(
    found: Mapping[int, list[Deviation]], values: Mapping[int, Mapping[Key, float]]
) -> dict[Key, str]:
    """Quantities in which more than half of all specimens, two or more, do not fit: no slip of one cell."""
    off = Counter(d.key for deviations in found.values() for d in {d.key: d for d in deviations}.values())
    have = Counter(key for mine in values.values() for key in mine)
    return {
        key: f"so for {n} of {have[key]} specimens: no slip of one cell"
        for key, n in off.items()
        if n >= 2 and 2 * n > have[key]
    }


def _allowance(d: Deviation, own: Mapping[Key, float]) -> float:
    """What the steps and the repeatability of the readings add to an interval, in half-widths."""
    side = (
        d.interval.high - d.interval.center
        if d.value >= d.interval.center
        else d.interval.center - d.interval.low
    )
    share = COVERAGE * own.get(d.key, 0.0) / side
    return math.sqrt(1.0 + share * share) - 1.0


def own_scatter(
    specimen: Specimen, x: Mapping[str, Any], values: Mapping[Key, float], bench: Bench
) -> dict[Key, float]:
    """Standard deviation of every compared quantity [SI] from steps and repeatability of its readings."""
    squares: dict[Key, float] = defaultdict(float)
    for column in {base_name(label) for label in specimen.coupon.texts}:
        size = reading_scatter(specimen.coupon, column, bench)
        if size > 0.0 and column in x:
            for key, value in numbers({**x, column: x[column] + size}, specimen).items():
                if key in values and key[0] != "read":
                    squares[key] += (float(value) - values[key]) ** 2
    return {key: math.sqrt(square) for key, square in squares.items()}


def _numbers(x: Mapping[str, Any], specimen: Specimen) -> dict[Key, float]:
    return {key: float(value) for key, value in numbers(x, specimen).items() if math.isfinite(float(value))}


Expected = dict[Key, list[tuple[str, Interval]]]


def _expected(
    specimens: Sequence[Specimen], values: Mapping[int, Mapping[Key, float]]
) -> dict[int, Expected]:
    found: dict[int, Expected] = {i: defaultdict(list) for i in values}
    predictions = Predictions()
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, mine in values.items():
        specimen = specimens[i]
        for key, interval in of_specimen(specimen, mine, predictions).items():
            found[i][key].append(
                (
                    "itself"
                    if key[0]
                    in ("same piece", "between", "crucible drift", "void content", "dry", "by dimensions")
                    else "prediction",
                    interval,
                )
            )
        for key in mine:
            groups[(specimen.zone, specimen.prepreg, *key)].append(i)
    for (_, _, *name), rows in groups.items():
        key = tuple(name)
        for i, interval in _of_fellows(key, rows, specimens, values):
            found[i][key].append(("fellows", interval))
    return found


def _of_fellows(
    key: Key, rows: list[int], specimens: Sequence[Specimen], values: Mapping[int, Mapping[Key, float]]
) -> Iterable[tuple[int, Interval]]:
    mine = np.array([values[i][key] for i in rows])
    known = compared_of(key)
    middle = float(np.median(mine))
    if key[0] == "read":
        if len(rows) < 2 or middle <= 0.0 or key[1] in ("liquid temperature", "density"):
            return
        for at, i in enumerate(rows):
            near = _usual(mine[at], np.delete(mine, at)) if len(rows) <= MANY else middle
            yield i, Interval(near / FACTOR, near, near * FACTOR, _words(i, rows, specimens))
        return
    if known.scatter == 0.0 or key[0] in ("crucible drift",):
        return
    scatter = known.scatter * (abs(middle) if known.relative else 1.0)
    for at, (i, interval) in enumerate(zip(rows, intervals(mine.tolist(), scatter, ""), strict=True)):
        if interval is None:
            continue
        if key[0] == "same piece" and abs(float(np.median(np.delete(mine, at))) - 1.0) > NEAR_ONE:
            continue
        yield i, replace(interval, words=_words(i, rows, specimens))


def _usual(value: float, others: Any) -> float:
    """The one of the others that half of them lie nearer to the value than: a second slip does not count."""
    by_ratio = sorted(
        others, key=lambda other: abs(math.log(abs(other / value))) if other and value else math.inf
    )
    return float(by_ratio[(len(by_ratio) - 1) // 2])


def _words(i: int, rows: list[int], specimens: Sequence[Specimen]) -> str:
    others = [specimens[j].name for j in rows if j != i]
    return "like " + (" and ".join(others) if len(others) < 3 else f"its {len(others)} fellows")


CODES = {
    "fellows": "unlike-fellows",
    "prediction": "unlike-prediction",
    "itself": "unlike-itself",
}


def _problem(
    specimen: Specimen, off: list[Deviation], meant: tuple[str, str] | None, common: str, bench: Bench
) -> Problem:
    coupon, first = specimen.coupon, off[0]
    code = CODES[first.source]
    if first.key[0] == "read":
        code = "unit-slip"
    elif first.key[0] == "between":
        code = "methods-disagree"
    elif first.key[0] == "void content" and first.value < 0.0:
        code = "negative-void-content"
    told = list({d.key: d for d in reversed(off) if d.key[0] != "read" or d is first}.values())[::-1]
    found = "; ".join(_told(d) for d in told[:2])
    cell = next((c for c in compared_of(first.key).columns if coupon.has(c) and not common), "specimen")
    place, hint = meant or (coupon.place(cell), "")
    if not hint and first.key[0] == "read" and cell in NUMBERS:
        hint = factor_words(first.value / first.interval.center, NUMBERS[cell])
    if not hint and code in ("methods-disagree", "negative-void-content"):
        hint = next(
            (f"what would explain it alone: {d.sentence()}" for d in discrepancies(specimen, bench)), ""
        )
    if not hint and common and first.source == "prediction":
        hint = "is the unit in the heading right, and the lot, the plies and the certificate?"
    hint = f"{common}; {hint}" if common and hint else common or hint or compared_of(first.key).advice
    return Problem(
        code, coupon.file, place, found, _range(first), f"{hint}; or give the reason in 'accepted'"
    )


def _told(d: Deviation) -> str:
    known = compared_of(d.key)
    return f"{known.words} {shown(d.value, known.unit):.4g} {known.unit.text}".rstrip()


def _range(d: Deviation) -> str:
    unit = compared_of(d.key).unit
    low, high = (shown(end, unit) for end in (d.interval.low, d.interval.high))
    return f"{low:.4g} to {high:.4g} {unit.text}, {d.interval.words}".replace(" ,", ",")


def _meant(
    i: int,
    specimens: Sequence[Specimen],
    inputs: Mapping[int, Mapping[str, Any]],
    off: list[Deviation],
    expected: Expected,
    flagged: list[int],
) -> tuple[str, str] | None:
    """Place and words of the one change of a cell that makes everything fit, None where there is none."""
    specimen, x = specimens[i], inputs[i]
    columns = dict.fromkeys(c for d in off for c in compared_of(d.key).columns)
    best: tuple[float, str, str] | None = None
    for label, text in specimen.coupon.texts.items():
        column = base_name(label)
        if column not in columns:
            continue
        tried = _swaps(i, label, specimens, flagged) + list(one_slip_away(text, NUMBERS[column]))
        if not tried:
            continue
        if column == "plies":
            tried = [meant for meant in tried if meant.number >= 1.0 and meant.number.is_integer()]
        new = _moved(specimen, label, text, [meant.number for meant in tried], x[column])
        miss = _misses(specimen, {**x, column: new}, off, expected, column)
        for meant, far in zip(tried, miss, strict=True):
            score = meant.cost + float(far)
            if far <= FITS and (best is None or score < best[0]):
                best = (
                    score,
                    specimen.coupon.places[label],
                    f"{label} reads '{text}': {meant.text} ({meant.how})?",
                )
    return best[1:] if best else None


def _swaps(i: int, label: str, specimens: Sequence[Specimen], flagged: list[int]) -> list[Meant]:
    """The readings of the same column of others that do not fit either, and of like columns of the row."""
    mine = specimens[i].coupon
    kind = NUMBERS[base_name(label)]
    found: list[Meant] = []
    for j in flagged[:SEARCHED]:
        other = specimens[j].coupon
        if j != i and label in other.texts and (number := number_of(other.texts[label])) is not None:
            found.append(Meant(other.texts[label], number, f"swapped with {other.specimen}", -1))
    for beside, text in mine.texts.items():
        like = NUMBERS[base_name(beside)] == kind and base_name(beside) != base_name(label)
        if like and (number := number_of(text)) is not None:
            found.append(Meant(text, number, f"swapped with {beside}", 1))
    return found


def _moved(specimen: Specimen, label: str, text: str, numbers: list[float], mean: float) -> Any:
    """The column's mean [SI] with each of the numbers in the place of one reading."""
    here, si = number_of(text), specimen.coupon.numbers[label]
    assert here is not None
    count = len(specimen.coupon.readings(base_name(label)))
    if NUMBERS[base_name(label)] == "temperature":
        scale = 1.0 if abs(si - 273.15 - here) < 0.01 or abs(si - here) < 0.01 else 5.0 / 9.0
    else:
        scale = si / here
    return mean + (np.array(numbers) - here) * scale / count


def _misses(
    specimen: Specimen, x: Mapping[str, Any], off: list[Deviation], expected: Expected, column: str
) -> Any:
    """For each of the tried readings how far the worst of what did not fit is from its center, in
    half-widths.

    Infinite where something else no longer fits.
    """
    tried = np.asarray(x[column])
    worst = np.zeros(len(tried))
    if column == "liquid temperature":
        outside = (tried < COLDEST) | (tried > HOTTEST)
        x = {**x, column: np.where(outside, COLDEST, tried)}
        worst[outside] = np.inf
    with np.errstate(all="ignore"):
        found = numbers(x, specimen)
    wrong = {(d.key, id(d.interval)) for d in off}
    for key, known in expected.items():
        if key not in found or (column == "plies" and key[0] == "between"):
            continue
        for _, interval in known:
            far = interval.distance(np.asarray(found[key], dtype=float))
            if (key, id(interval)) in wrong:
                worst = np.maximum(worst, far)
            else:
                worst = np.where(far <= 1.0, worst, np.inf)
    return worst
