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
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupon.answers import answer, is_answered
from laminate.coupon.comparisons import WEIGHED, Key, compared_of, numbers, piece_for_loss, readings_of
from laminate.coupon.expected import COVERAGE, SAME_PIECE, Predictions, of_specimen
from laminate.coupon.fellows import MANY, Interval, intervals
from laminate.coupon.meant import Deviation, Expected, Looked, what_was_meant
from laminate.coupon.slips import factor_words
from laminate.coupon.suspects import discrepancies
from laminate.coupon.table_checks import DIGITS, REPEATED, check_table, reading_scatter
from laminate.problems import Problem
from laminate.quantities import shown
from laminate.read.coupons import NUMBERS, Coupon, base_name

if TYPE_CHECKING:
    from laminate.coupon.measured import Specimen
    from laminate.coupon.readings import Bench

FACTOR = 5.0
"""A raw reading that differs from its fellows by more is taken for a slip of unit or decimal point."""
NEAR_ONE = 0.01
ITSELF = (
    "same piece", "between", "crucible drift", "void content", "dry", "by dimensions", "specimen twice",
    "residue twice", "area twice", "density twice",
)  # fmt: skip
"""Quantities that compare readings of one specimen with each other."""
SEARCHED = 25
"""So many specimens of a table are searched for what was meant; more at fault is a fault of the table."""


def warn(specimens: Sequence[Specimen], bench: Bench) -> None:
    """Add to every specimen the warnings about its readings, those that its row accepts with the reason.

    specimens: evaluated, with the agreement of their methods; excluded ones get none.
    """
    coupons = [s.coupon for s in specimens]
    mistakes = find_mistakes(specimens, bench)
    for i, warning in check_table(coupons, bench):
        if not _told_better(warning, coupons[i], mistakes.get(i, [])):
            specimens[i].warnings.append(warning)
    for i, found in mistakes.items():
        specimens[i].warnings.extend(found)
    for specimen in specimens:
        specimen.warnings[:] = answer(specimen.coupon, specimen.warnings)


def _told_better(warning: Problem, coupon: Coupon, found: Sequence[Problem]) -> bool:
    """Whether what a cell or its one repeat amounts to says more than a warning about how the cell looks."""
    label_of = {place: label for label, place in coupon.places.items()}
    cells = {label_of.get(problem.place, "") for problem in found}
    label = label_of.get(warning.place, "")
    if warning.code == DIGITS:
        return label in cells
    column = base_name(label)
    return warning.code == REPEATED and len(coupon.readings(column)) == 2 and column in map(base_name, cells)


def find_mistakes(specimens: Sequence[Specimen], bench: Bench) -> dict[int, list[Problem]]:
    """Row in `specimens` -> the warning that gathers what does not fit; excluded rows are not looked at.

    Where the row answers it with a reason, a second tells what does not fit besides.

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
            found[i] = sorted(off, key=_plainest)
    common, table = _common(found, values), Looked(specimens, inputs, expected, found)
    problems: dict[int, list[Problem]] = {}
    for n, (i, off) in enumerate(found.items()):
        told = None
        if n < SEARCHED and off[0].key not in common:
            told = what_was_meant(i, table)
        problems[i] = [_problem(specimens[i], off[0], told, common.get(off[0].key, ""), bench)]
        if is_answered(specimens[i].coupon, problems[i][0]):
            problems[i] += _besides(specimens[i], off[1:], common, bench)
    return problems


def _besides(
    specimen: Specimen, off: Sequence[Deviation], common: Mapping[Key, str], bench: Bench
) -> list[Problem]:
    """The first of the other deviations that no reason of the row answers."""
    for deviation in off:
        problem = _problem(specimen, deviation, None, common.get(deviation.key, ""), bench)
        if not is_answered(specimen.coupon, problem):
            return [problem]
    return []


def _plainest(d: Deviation) -> tuple[int, float]:
    """Order of telling: a reading, a quantity of its own, a difference of methods, each the worst first."""
    return {"read": 0, "between": 2}.get(d.key[0], 1), -float(d.interval.distance(d.value))


def _common(
    found: Mapping[int, list[Deviation]], values: Mapping[int, Mapping[Key, float]]
) -> dict[Key, str]:
    """Quantities off to one side in more than half of all specimens, two or more: not one cell's slip."""
    off = Counter(
        key
        for deviations in found.values()
        for key in {(d.key, d.value > d.interval.center) for d in deviations}
    )
    have = Counter(key for mine in values.values() for key in mine)
    return {
        key: f"so for {n} of {have[key]} specimens: no slip of one cell"
        for (key, _), n in off.items()
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


def _expected(
    specimens: Sequence[Specimen], values: Mapping[int, Mapping[Key, float]]
) -> dict[int, Expected]:
    found: dict[int, Expected] = {i: defaultdict(list) for i in values}
    predictions = Predictions()
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, mine in values.items():
        specimen = specimens[i]
        for key, interval in of_specimen(specimen, mine, predictions).items():
            found[i][key].append(("itself" if key[0] in ITSELF else "prediction", interval))
        for key in mine:
            groups[(specimen.zone, specimen.prepreg, *key)].append(i)
    for (_, _, *name), rows in groups.items():
        key = tuple(name)
        if key[0] == "same piece":
            _without_cut_pieces(found, key, rows, values)
        for i, interval in _of_fellows(key, rows, specimens, values):
            found[i][key].append(("fellows", interval))
    return found


def _without_cut_pieces(
    found: dict[int, Expected], key: Key, rows: list[int], values: Mapping[int, Mapping[Key, float]]
) -> None:
    """Where most of several specimens lost their matrix as a piece cut off them, a small mass is no slip."""
    cut = [i for i in rows if values[i][key] <= 1.0 - SAME_PIECE]
    if len(rows) > 1 and 2 * len(cut) > len(rows):
        for i in cut:
            found[i].pop(key, None)


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
        others = float(np.median(np.delete(mine, at))) if len(rows) <= MANY else middle
        if key[0] == "same piece" and abs(others - 1.0) > NEAR_ONE:
            continue
        yield i, replace(interval, words=_words(i, rows, specimens))


def _usual(value: float, others: Any) -> float:
    """The one of the others that half of them lie nearer to the value than: a second slip does not count."""
    by_ratio = sorted(
        others, key=lambda other: abs(math.log(abs(other / value))) if other and value else math.inf
    )
    return float(by_ratio[(len(by_ratio) - 1) // 2])


def _words(i: int, rows: list[int], specimens: Sequence[Specimen]) -> str:
    if len(rows) > 3:
        return f"like its {len(rows) - 1} fellows"
    others = [specimens[j].name for j in rows if j != i]
    return f"like specimen{'s' if len(others) > 1 else ''} {' and '.join(others)}"


CODES = {
    "fellows": "unlike-fellows",
    "prediction": "unlike-prediction",
    "itself": "unlike-itself",
}


def _problem(
    specimen: Specimen, first: Deviation, meant: tuple[str, str] | None, common: str, bench: Bench
) -> Problem:
    coupon, known = specimen.coupon, compared_of(first.key)
    code = CODES[first.source]
    if first.key[0] == "read":
        code = "unit-slip"
    elif first.key[0] == "between":
        code = "methods-disagree"
    elif first.key[0] == "void content" and first.value < 0.0:
        code = "negative-void-content"
    cell = next((c for c in known.columns if coupon.has(c)), "specimen")
    place = meant[0] if meant else coupon.place("specimen" if common else cell)
    hint = f"{meant[1]} mend it, else {known.advice}" if meant else known.advice
    if not meant:
        hint = "; ".join(
            part for part in (common, _cause(specimen, first, code, cell, common, bench)) if part
        )
    hint = f"{hint or known.advice}, or give the reason in 'accepted'"
    if first.key[0] == "same piece":
        return Problem(code, coupon.file, place, *_weighed_twice(coupon, first), hint)
    return Problem(code, coupon.file, place, _told(first), _range(first), hint)


def _weighed_twice(coupon: Coupon, d: Deviation) -> tuple[str, str]:
    """Found and expected of one piece of which the masses differ."""
    means = {name: sum(readings) / len(readings) for name in NUMBERS if (readings := coupon.readings(name))}
    column = next(name for name in WEIGHED if name in means)
    piece, whole = 1e3 * piece_for_loss(means), 1e3 * means[column]
    where = "in the crucible" if "crucible mass" in means else "as specimen mass"
    low, high = whole * d.interval.low, whole * d.interval.high
    found = f"one piece of {piece:.5g} g {where} and {whole:.5g} g as {column}"
    return found, f"{low:.5g} to {high:.5g} g, {d.interval.words}"


def _cause(specimen: Specimen, first: Deviation, code: str, cell: str, common: str, bench: Bench) -> str:
    """What else than a slip of one cell may be the cause, '' where nothing can be said."""
    factor = ""
    if (first.key[0] == "read" or common) and cell in NUMBERS and first.interval.center > 0.0 < first.value:
        factor = factor_words(first.value / first.interval.center, NUMBERS[cell])
    if factor:
        return factor
    if code in ("methods-disagree", "negative-void-content"):
        told = next((d.sentence() for d in discrepancies(specimen, bench)), "")
        return f"what would explain it alone: {told}" if told else ""
    if common and first.source == "prediction":
        return "check the unit in the heading, the lot, the plies and the certificate"
    return compared_of(first.key).advice if not common else ""


def _told(d: Deviation) -> str:
    known = compared_of(d.key)
    return f"{known.words} {shown(d.value, known.unit):.4g} {known.unit.text}".rstrip()


def _range(d: Deviation) -> str:
    unit = compared_of(d.key).unit
    low, high = (shown(end, unit) for end in (d.interval.low, d.interval.high))
    return f"{low:.4g} to {high:.4g} {unit.text}, {d.interval.words}".replace(" ,", ",")
