"""Which cell of a specimen, read otherwise by one slip, would make everything fit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import compared_of, numbers
from laminate.coupons.expected import Deviation, Deviations
from laminate.coupons.readings import COLDEST, HOTTEST
from laminate.coupons.resolution import scale_of
from laminate.coupons.slips import (
    DOUBLED,
    DROPPED,
    MOVED,
    REPLACED,
    TRANSPOSED,
    Slip,
    decimals_of,
    number_of,
    one_slip_away,
)
from laminate.coupons.table_checks import REPEATS
from laminate.files.coupons import NUMBERS, Coupon, base_name

if TYPE_CHECKING:
    from laminate.coupons.beside import Peers

SWAPS = 25
"""So many specimens that do not fit are looked at for cells that were swapped."""
FITS = 0.7
"""Share of the interval within which a reading that may have been meant must lie."""
NEAR_REPEATS = 10.0
"""So many times their plausible scatter the reading that was meant may lie from its repeats."""
ALIKE = 0.5
"""Two changes that differ by less of an interval are both named."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A change that would make everything fit: a question to whoever has the note, never an instruction.

    label: of the cell; reads: what stands there; note: what the note on the bench would have to say.
    """

    place: str
    label: str
    reads: str
    note: str

    def sentence(self, advice: str) -> str:
        """To read again, and to correct only what was written down otherwise.

        >>> Correction("", "mass in air", "mass in air reads '1.4247'", "1.4427").sentence("weigh it again")
        "mass in air reads '1.4247': weigh it again; if the note on the bench reads 1.4427, correct it"
        """
        return f"{self.reads}: {advice}; if the note on the bench reads {self.note}, correct it"


def likely_corrections(at: int, peers: Peers, deviations: Deviations) -> list[Correction]:
    """The likeliest change that makes everything fit, with another of as good; empty where there is none.

    at: row of the specimen; deviations: of every one.
    """
    coupon, x, off = peers.specimens[at].coupon, peers.readings(at), deviations[at]
    columns = {c for d in off for c in compared_of(d.key).columns}
    if all(d.key[0] == "between" for d in off):
        columns -= {"plies"}
    labels = [label for label in coupon.texts if base_name(label) in columns]
    tried: dict[str, list[tuple[Slip, int | None]]] = {}
    changes: list[dict[str, Any]] = []
    for label in labels:
        column = base_name(label)
        if column == "plies" and peers.counted_alike(at):
            continue
        candidates = [
            *_swapped_between(at, label, peers, deviations),
            *((meant, None) for meant in _other_readings(at, label, peers)),
        ]
        if candidates:
            tried[label] = candidates
            changes.append({column: _moved(coupon, label, [m.number for m, _ in candidates], x[column])})
    once = [label for label in labels if len(coupon.readings(base_name(label))) == 1]
    pairs = [(a, b) for a, b in combinations(once, 2) if NUMBERS[base_name(a)] == NUMBERS[base_name(b)]]
    for a, b in (map(base_name, pair) for pair in pairs):
        changes.append({a: x[b] + np.zeros(1), b: x[a] + np.zeros(1)})
    misses = iter(_misses(at, peers, off, changes) if changes else ())
    fitting: list[tuple[float, Correction]] = []
    for label, readings in tried.items():
        likely = [
            (meant.cost + float(far), meant)
            for (meant, other), far in zip(readings, next(misses), strict=True)
            if far <= FITS and (other is None or _would_fit(other, label, coupon, peers, deviations[other]))
        ]
        if likely:
            score, meant = min(likely, key=lambda scored: scored[0])
            reads, note = f"{label} reads '{coupon.texts[label]}'", f"{meant.text} ({meant.how})"
            fitting.append((score, Correction(coupon.places[label], label, reads, note)))
    for (label, second), (far,) in zip(pairs, misses, strict=True):
        if far <= FITS:
            reads = f"{label} reads '{coupon.texts[label]}', {second} '{coupon.texts[second]}'"
            fitting.append((float(far), Correction(coupon.places[label], label, reads, "the two swapped")))
    if not fitting:
        return []
    score, best = min(fitting, key=lambda scored: scored[0])
    alike = [other for s, other in fitting if other.place != best.place and s < score + ALIKE]
    return [best, *alike[:1]]


def _misses(
    at: int, peers: Peers, off: Sequence[Deviation], changes: Sequence[Mapping[str, Any]]
) -> list[Any]:
    """How far the worst of what does not fit would be off, in half-widths, of each change (k,).

    off: what does not fit; changes: inputs (k,) by name [SI], each change with a length of its own. Infinite
    where something else no longer fits.
    """
    ends = np.cumsum([len(next(iter(change.values()))) for change in changes])
    x: dict[Any, Any] = dict(peers.readings(at))
    for change, end in zip(changes, ends.tolist(), strict=True):
        for name, column in change.items():
            x[name] = x[name] + np.zeros(ends[-1])
            x[name][end - len(column) : end] = column
    recounted = np.not_equal(x.get("plies", 0.0), peers.readings(at).get("plies", 0.0))
    wrong = {(d.key, id(d.interval)) for d in off}
    worst = np.zeros(ends[-1])
    temperature = np.asarray(x.get("liquid temperature", COLDEST))
    if temperature.ndim:
        outside = (temperature < COLDEST) | (temperature > HOTTEST)
        x["liquid temperature"] = np.where(outside, COLDEST, temperature)
        worst[outside] = np.inf
    with np.errstate(all="ignore"):
        numbers_there = numbers(x, peers.specimens[at])
    for key, known in peers.intervals(at).items():
        for _, interval in known:
            far = interval.distance(np.asarray(numbers_there[key], dtype=float))
            if key[0] == "between":  # another count of plies is another recipe, which this does not follow
                far = np.where(recounted, 0.0, far)
            if (key, id(interval)) in wrong:
                worst = np.maximum(worst, far)
            else:
                worst = np.where(far <= 1.0, worst, np.inf)
    return np.split(worst, ends[:-1])


def _swapped_between(at: int, label: str, peers: Peers, deviations: Deviations) -> Iterator[tuple[Slip, int]]:
    """Readings of others that do not fit either, each with its row."""
    mine = number_of(peers.specimens[at].coupon.texts[label])
    lone_peers = {d.interval.peer if d.source == "peers" else "" for d in deviations[at]}
    for j in list(deviations)[:SWAPS]:
        other = peers.specimens[j].coupon
        if lone_peers == {other.specimen}:  # held against each other alone, two always fit when swapped
            continue
        number = number_of(other.texts.get(label, ""))
        if j != at and number is not None and mine is not None and number != mine:
            yield Slip(other.texts[label], number, f"swapped with coupon {other.specimen}", -1), j


def _would_fit(at: int, label: str, other: Coupon, peers: Peers, off: Sequence[Deviation]) -> bool:
    """Whether a row that does not fit would with the reading of another coupon."""
    coupon, column = peers.specimens[at].coupon, base_name(label)
    new = _moved(coupon, label, [float(number_of(other.texts[label]) or 0.0)], peers.readings(at)[column])
    return bool(_misses(at, peers, off, [{column: new}])[0][0] <= FITS)


def _other_readings(at: int, label: str, peers: Peers) -> list[Slip]:
    """The readings one slip away that the column could hold: no digits beyond its display, whole plies.

    One of repeats is meant to be like the others.
    """
    column = base_name(label)
    tried = list(one_slip_away(peers.specimens[at].coupon.typed(label), NUMBERS[column]))
    if column == "plies":
        return [meant for meant in tried if meant.number >= 1.0 and meant.number.is_integer()]
    places, coupon = _places(at, column, peers), peers.specimens[at].coupon
    shown = [meant for meant in tried if places is None or _can_show(meant, places)]
    si, number = coupon.numbers[label], number_of(coupon.texts[label])
    others = [coupon.numbers[other] for other in coupon.labelled(column) if other != label]
    if not others or not number or NUMBERS[column] not in ("mass", "length"):
        return shown
    middle = float(np.median(others))
    apart = NEAR_REPEATS * REPEATS[NUMBERS[column]] * abs(middle)
    return [meant for meant in shown if abs(meant.number * si / number - middle) <= apart]


def _can_show(meant: Slip, places: int) -> bool:
    """Whether a display of so many decimal places could have shown a reading; a last 0 may be left out."""
    written = decimals_of(meant.text) or 0
    if meant.how in (DROPPED, DOUBLED):
        return written == places
    return written <= places or meant.how not in (TRANSPOSED, MOVED, REPLACED)


def _places(at: int, column: str, peers: Peers) -> int | None:
    """The decimal places of the column's other cells, else of the specimen's own cells of its kind."""
    others = Counter(places for j, places in peers.places.get(column, ()) if j != at) or Counter(
        decimals_of(text) or 0
        for label, text in peers.specimens[at].coupon.texts.items()
        if NUMBERS[base_name(label)] == NUMBERS[column]
    )
    return max(others, key=lambda places: (others[places], places)) if others else None


def _moved(coupon: Coupon, label: str, tried: Sequence[float], mean: float) -> Any:
    """The column's mean [SI] with each of the numbers in the place of one reading."""
    number, si = number_of(coupon.texts[label]), coupon.numbers[label]
    assert number is not None
    scale, count = scale_of(coupon, label), len(coupon.readings(base_name(label)))
    if NUMBERS[base_name(label)] == "temperature" and min(abs(si - 273.15 - number), abs(si - number)) > 0.01:
        scale = 5.0 / 9.0  # degF
    return mean + (np.array(tried) - number) * scale / count
