"""Unlikely readings: what does not fit its peers, its lot or its own specimen, and what may have been
meant.

One warning a specimen gathers everything that does not fit, since one wrong cell moves several quantities.
For every cell that could be at fault, each reading one slip away is tried: one that makes everything fit is
named.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.beside import READ_TWICE, Peers
from laminate.coupons.comparisons import WEIGHED, Key, compared_of, numbers, piece_for_loss
from laminate.coupons.copied import Finding
from laminate.coupons.corrections import Correction, likely_corrections
from laminate.coupons.doubt_reasons import about, may_be_answered
from laminate.coupons.expected import Deviation, Deviations, Expected
from laminate.coupons.lone_repeats import lone_repeats
from laminate.coupons.methods import IMMERSION
from laminate.coupons.recipes import Inputs
from laminate.coupons.resolution import shown_step
from laminate.coupons.slips import factor_words
from laminate.coupons.swaps import TEMPERATURE, find_swaps
from laminate.coupons.table_checks import DIGITS, REPEATED
from laminate.files.coupons import NUMBERS, Coupon, base_name
from laminate.files.reasons import RESULTS
from laminate.values.problems import Problem
from laminate.values.quantities import GRAM
from laminate.values.said import Figure, Said, beyond, joined

if TYPE_CHECKING:
    from laminate.coupons.grouped import Grouped
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Specimen

PIECE = "weighed-twice"
METHODS = ("between", "void content")
"""Quantities that what methods have in common may explain."""
DIFFERENCES = ("void content", "open void content", "volatiles", "prepreg resin content")
"""Small differences of large readings: no factor of a reading is a factor of theirs."""
Explained = Callable[[str, tuple[str, str], tuple[str, str] | None], str]
"""Specimen, result and the one it should agree with, if any, to what would explain why it does not."""
Warned = dict[int, list[Problem]]
"""Row -> its warnings."""
SEARCHED = 25
"""So many specimens of a table are searched for what was meant; more at fault is a fault of the table."""


OTHER_PLIES = "plies-differ"
"""Code of a row that counts other plies than its batch file."""


def beside_cells(cells: Iterable[Finding], mistakes: Warned, specimens: Sequence[Specimen]) -> Warned:
    """Row -> its warnings; cells: those about how cells look; mistakes: about what they amount to.

    While two readings of one column disagree, what both amount to says nothing of another column.
    """
    problems: dict[int, list[Problem]] = defaultdict(list)
    for at, warning in cells:
        mine = mistakes.get(at)
        if not mine or not replaces_cell_warning(warning, specimens[at].coupon, mine):
            problems[at].append(warning)
    for at, mine in mistakes.items():
        coupon = specimens[at].coupon
        open_ = any(w.code == REPEATED and not may_be_answered(coupon, w) for w in problems[at])
        problems[at] += [w for w in mine if not (open_ and w.code in (CODES["peers"], CODES["between"]))]
    return {at: mine for at, mine in sorted(problems.items()) if mine}


def replaces_cell_warning(warning: Problem, coupon: Coupon, problems: Sequence[Problem]) -> bool:
    """Whether what a cell or its one repeat amounts to says more than a warning about how the cell looks."""
    label_of = {place: label for label, place in coupon.places.items()}
    cells = {label_of.get(problem.place, "") for problem in problems}
    label = label_of.get(warning.place, "")
    if warning.code == DIGITS:
        return label in cells
    column = base_name(label)
    return warning.code == REPEATED and len(coupon.readings(column)) == 2 and column in map(base_name, cells)


def find_mistakes(specimens: Grouped, *, blank_doubted: bool = False) -> Warned:
    """Row -> the warning that gathers what does not fit; excluded rows are not looked at.

    Where the row answers it with a reason, a second tells what does not fit besides.

    specimens: evaluated; blank_doubted: one is in doubt, so that what it enters says nothing of a specimen
    but beside its peers.
    """
    peers = Peers(specimens)
    off = _not_explained(peers, _deviations(peers, blank_doubted=blank_doubted))
    problems = _worded(peers, off)
    problems |= {at: [*problems.get(at, ()), swap] for at, swap in find_swaps(peers, problems)}
    for at, problem in lone_repeats(peers):
        problems.setdefault(at, [problem])
    return problems


def _deviations(peers: Peers, *, blank_doubted: bool) -> Deviations:
    """Everything of a specimen that lies outside what is expected of it."""
    left = 1.0 - peers.bench.residue_share.value - peers.bench.fiber_loss.value
    deviations: Deviations = {}

    def may_be_blank(d: Deviation, loss: str) -> bool:
        """Whether a blank enters it alone; what that takes away makes specimens scatter more."""
        entered = bool(loss) and any(loss in method for method in d.key[1:])
        return entered and (d.source != "peers" or bool(d.interval.distance(d.value) * left <= 1.0))

    for at in np.flatnonzero(peers.off).tolist():
        loss, mine = peers.specimens[at].plan.loss, peers.quantities(at)
        off = [
            Deviation(key, mine[key], interval, source)
            for key, sourced_intervals in peers.intervals(at).items()
            for source, interval in sourced_intervals
            if not interval.holds(mine[key])
        ]
        if off := [d for d in off if not (blank_doubted and may_be_blank(d, loss))]:
            deviations[at] = off
    return deviations


def _not_explained(peers: Peers, deviations: Deviations) -> Deviations:
    """What neither its own readings nor its peers explain, in the order of telling."""
    specimens, left = peers.specimens, Deviations()
    rows = deviations.items()
    astray = {(specimens[i].name, d.key) for i, off in rows for d in off if d.source == "prediction"}
    for i, off in rows:
        values, known, scatter = peers.quantities(i), peers.intervals(i), peers.own(i)
        off = [
            d
            for d in off
            if not _peer_is_wrong(d, specimens[i].name, astray)
            and not (d.key[0] == "read" and _matches_prediction(d, known, values))
            and (
                d.interval.beyond(d.value, scatter.get(d.key, 0.0))
                or _unexplained(d, specimens[i], peers.readings(i), values, peers.bench)
            )
        ]
        if off:
            left[i] = sorted(off, key=_rank)
    return left


def _worded(peers: Peers, deviations: Deviations) -> Warned:
    specimens = peers.specimens
    have = {key: len(column) - int(np.isnan(column).sum()) for key, column in peers.values.items()}
    common, explained = _common(deviations, have), specimens.discrepancies.explanation
    problems: dict[int, list[Problem]] = {}
    for n, (i, off) in enumerate(deviations.items()):
        row, first, coupon = _Row(specimens[i], common, explained), off[0].key, specimens[i].coupon
        corrections: list[Correction] = []
        if n < SEARCHED and (first not in common or first[0] in READ_TWICE):
            corrections = likely_corrections(i, peers, deviations)
        # a slip of its own in each of several rows is no common cause
        why = "" if corrections else common.get(first, "")
        mine = problems[i] = [row.problem(off[0], off, why, corrections)]
        if may_be_answered(coupon, mine[0]):
            known = about(coupon, mine[0])
            mine += [other for other in row.besides(off[1:]) if about(coupon, other) != known]
        elif not corrections and not why:
            mine += row.besides(
                [d for d in off[1:] if d.key[0] in (*READ_TWICE, "read") and d.key[0] != first[0]]
            )
        if TEMPERATURE in first:
            mine += row.besides(_still_off(peers, i, off))[:1]
        places = {problem.place for problem in mine} | {guess.place for guess in corrections}
        mine += row.alone(off[1:], places)
    return problems


def _still_off(peers: Peers, row: int, off: Sequence[Deviation]) -> list[Deviation]:
    """What is off still at the temperature that is expected of the liquid, which is off first."""
    x = {**peers.readings(row), TEMPERATURE: off[0].interval.center}
    values, scatter = numbers(x, peers.specimens[row]), peers.own(row)

    def stays(d: Deviation) -> bool:
        return bool(d.interval.beyond(values[d.key], scatter.get(d.key, 0.0)))

    return [d for d in off if d.key in values and TEMPERATURE not in d.key and stays(d)]


def _peer_is_wrong(d: Deviation, name: str, astray: Collection[tuple[str, Key]]) -> bool:
    """Whether the one peer that something is unlike does not fit its prediction, and this specimen does.

    astray: specimen and quantity of everything that its prediction does not fit.
    """
    return d.source == "peers" and (d.interval.peer, d.key) in astray and (name, d.key) not in astray


def _matches_prediction(d: Deviation, expected: Expected, values: Mapping[Key, float]) -> bool:
    """Whether a reading unlike its peers gives what lot or part file predict: then they are wrong."""
    predictions_met = [
        interval.holds(values[key])
        for key, known in expected.items()
        if key in values and d.key[1] in compared_of(key).columns and key[0] != "between"
        for source, interval in known
        if source == "prediction"
    ]
    return bool(predictions_met) and all(predictions_met)


def _rank(d: Deviation) -> tuple[int, float]:
    """Order of telling: a reading, what was read twice, what follows from them, differences of methods."""
    rank = 0 if d.key[0] == "read" else 1 if d.key[0] in READ_TWICE else 3 if d.key[0] == "between" else 2
    return rank, -float(d.interval.distance(d.value))


def _common(by_row: Mapping[int, list[Deviation]], have: Mapping[Key, int]) -> dict[Key, str]:
    """Quantities off to one side in more than half of all specimens, two or more: not one cell's slip."""
    off = Counter(
        key
        for deviations in by_row.values()
        for key in {(d.key, d.value > d.interval.center) for d in deviations}
    )
    return {
        key: f"so for {n} of {have[key]} coupons: no slip of one cell"
        for (key, _), n in off.items()
        if n >= 2 and 2 * n > have[key]
    }


def _unexplained(
    d: Deviation, specimen: Specimen, x: Inputs, values: Mapping[Key, float], bench: Bench
) -> bool:
    """Whether a void content lies below zero by more than 4 u and half a digit of every reading explain.

    u of what was stated: the digits count once.

    The interval of a void content begins at -2 u.
    """
    if d.key[0] != "void content" or d.value >= d.interval.low:
        return False
    explained = 4.0 * specimen.every["void_content", d.key[1]].stated_u
    for column in {base_name(label) for label in specimen.coupon.texts} & {*map(str, x)}:
        step = shown_step(specimen.coupon, column, bench)
        moved = numbers({**x, column: x[column] + 0.5 * step}, specimen).get(d.key, values[d.key])
        explained += abs(float(moved) - values[d.key])
    return d.value < -explained


CODES = {
    "peers": "unlike-fellows",
    "prediction": "unlike-prediction",
    "itself": "unlike-itself",
    "read": "unit-slip",
    "same piece": PIECE,
    "between": "methods-disagree",
}


@dataclass(frozen=True, slots=True)
class _Row:
    """One specimen whose deviations are worded.

    common: what is said of quantities that are off in most specimens; explained: what would explain a result.
    """

    specimen: Specimen
    common: Mapping[Key, str]
    explained: Explained

    def problem(
        self, first: Deviation, off: Sequence[Deviation], common: str = "", meant: Sequence[Correction] = ()
    ) -> Problem:
        """One warning; off: all that does not fit; common: what is said of most specimens."""
        coupon, known = self.specimen.coupon, compared_of(first.key)
        code = CODES.get(first.key[0], CODES[first.source])
        if first.key[0] == "void content" and first.value < 0.0:
            code = "negative-void-content"
        cell = next((c for c in _suspected(self.specimen, first, off) if coupon.has(c)), "specimen")
        of_rows = common and first.source != "itself" and len(known.columns) > 1
        place = meant[0].place if meant else _place(coupon, "specimen" if of_rows else cell, first)
        ways = [known.remedy, *[known.again] * len(meant)]  # what else may be the cause is said once
        guesses = zip(meant, ways, strict=False)
        hint: str = joined("; or ", [guess.sentence(way(base_name(guess.label))) for guess, way in guesses])
        if not meant:
            hint = joined("; ", [*filter(None, (common, self._cause(first, code, cell, common)))])
        begun = f", begun with '{RESULTS[code]}:'" if code in RESULTS else ""
        hint = Said(hint or known.remedy(cell), f"; or give the reason in 'accepted'{begun}")
        words = _weighed_twice(coupon, first) if first.key[0] == "same piece" else _outside(first)
        return Problem(code, coupon.file, place, *words, hint)

    def besides(self, off: Sequence[Deviation]) -> list[Problem]:
        """The other deviations that the row answers, one for each reason, and the first that it does not."""
        problems: dict[tuple[str, str], Problem] = {}
        for deviation in off:
            problem = self.problem(deviation, off, self.common.get(deviation.key, ""))
            problems.setdefault(about(self.specimen.coupon, problem), problem)
            if not may_be_answered(self.specimen.coupon, problem):
                break
        return list(problems.values())

    def alone(self, off: Sequence[Deviation], places: Collection[str]) -> list[Problem]:
        """Readings that no other can explain, but those at places about which something is said already."""
        alone = [d for d in off if d.source != "peers" and len(compared_of(d.key).columns) == 1]
        return [problem for problem in (self.problem(d, off) for d in alone) if problem.place not in places]

    def _cause(self, first: Deviation, code: str, cell: str, common: str) -> str:
        """What else than a slip of one cell may be the cause, '' where nothing can be said."""
        factor, name = "", first.key[0]
        proportional = name == "read" or (common and name not in DIFFERENCES)
        if proportional and cell in NUMBERS and first.interval.center > 0.0 < first.value:
            factor = factor_words(first.value / first.interval.center, NUMBERS[cell])
        if factor:
            return f"{factor}; check the unit in the heading" if common else factor
        if code in ("methods-disagree", "negative-void-content"):
            explanation = self.explained(self.specimen.name, *_results(first.key))
            return Said("what would explain it alone: ", explanation) if explanation else ""
        if common and (first.source == "prediction" or name == "void content"):
            return compared_of(first.key).of_all
        return compared_of(first.key).remedy(cell) if not common else ""


def _suspected(specimen: Specimen, d: Deviation, off: Sequence[Deviation]) -> tuple[str, ...]:
    """The columns that a quantity comes from, the most suspect first."""
    columns = compared_of(d.key).columns
    weighed = ("density", IMMERSION) in specimen.every and "density" not in {o.key[0] for o in off}
    if d.key[0] == "same piece" and weighed:  # the mass in air gives a density that fits
        return ("crucible with specimen", *columns)
    return columns


def _place(coupon: Coupon, cell: str, d: Deviation) -> str:
    """The place of a cell; of repeats of a thickness that of the one that is farthest off."""
    readings = coupon.readings(cell) if cell == "thickness" else []
    if len(readings) < 2 or d.key[0] not in ("thickness", "ply thickness") or not d.value:
        return coupon.place(cell)
    likely = coupon.mean(cell) * d.interval.center / d.value
    return coupon.places[max(coupon.labelled(cell), key=lambda label: abs(coupon.numbers[label] - likely))]


def _outside(d: Deviation) -> tuple[str, str]:
    """Found and expected of a quantity outside its interval."""
    known, interval = compared_of(d.key), d.interval
    value, within = beyond(d.value, interval.low, interval.high, known.unit)
    return Said(f"{known.words} ", value), Said(within, f", {interval.words}")


def _weighed_twice(coupon: Coupon, d: Deviation) -> tuple[str, str]:
    """Found and expected of one piece of which the masses differ."""
    means = {name: coupon.mean(name) for name in NUMBERS if coupon.has(name)}
    column = next(name for name in WEIGHED if name in means)
    piece, whole = float(piece_for_loss(means)), float(means[column])
    where = "in the crucible" if "crucible mass" in means else "as specimen mass"
    first, within = beyond(piece, whole * d.interval.low, whole * d.interval.high, GRAM, 5)
    masses_text = Said("one piece of ", first, f" {where} and ", Figure(whole, GRAM, 5), f" as {column}")
    return masses_text, Said(within, f" {where}, {d.interval.words}")


def _results(key: Key) -> tuple[tuple[str, str], tuple[str, str] | None]:
    """The two results that should agree, or the one that should not lie below zero."""
    if key[0] == "between":
        return (key[1], key[2]), (key[1], key[3])
    return ("void_content", key[1]), None
