"""Methods that disagree: which single input, moved by how many of its standard uncertainties, would reconcile
them.

Evidence for the people who decide what to measure again; nothing is changed by it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import readings_of
from laminate.coupons.methods import Key, attributes
from laminate.files.coupons import NUMBERS
from laminate.values.input_key import Name
from laminate.values.quantities import (
    DEG_C,
    G_CM3,
    G_M2,
    GRAM,
    KELVIN,
    MM,
    NUMBER,
    PERCENT,
    Unit,
    shown,
    shown_difference,
)
from laminate.values.said import Figure, Said, joined
from laminate.values.uncertainty import STEP, Source

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measured import Specimen

NEGATIVE = 2.0
"""Standard uncertainties below zero from which a void content speaks against the densities."""
LIKELY = 5.0
"""Standard uncertainties beyond which a wrong reading is likelier than an input so far off."""
TOGETHER = 1024
"""So many specimens are looked at together."""
Apart = tuple["Specimen", Key, Key | None, bool]
"""A specimen, the result and the one it does not agree with, if any, and whether that is a doubt."""
_SHARES = ("share", "loss", "content", "volatiles")
_BY_KIND = {
    "mass": GRAM,
    "temperature": DEG_C,
    "density": G_CM3,
    "length": MM,
    "area": Unit("cm^2", 1e4),
    "number": NUMBER,
}
_BY_WORDS = (("density", G_CM3), ("areal weight", G_M2), ("thickness", MM), ("diameter", MM))


@dataclass(frozen=True, slots=True)
class Suspect:
    """One input or calibration that would reconcile two results alone, to first order.

    input: key or words; value, reconciled: before and after [SI], None where it moves several readings; shift
    [SI]; unit: shown; standard_uncertainties: shift in units of its own u, None where it was taken as exact.
    """

    input: Name
    value: float | None
    reconciled: float | None
    shift: float
    unit: Unit
    standard_uncertainties: float | None

    def sentence(self) -> str:
        """The suspect in one line: 'fiber density 1.790 -> 1.774 g/cm^3, 3.2 u'."""
        size = self.standard_uncertainties
        tail = "no ± stated" if size is None else f"{abs(size):.1f} u"
        if self.value is None or self.reconciled is None:
            step = KELVIN if self.unit == DEG_C else self.unit
            sign = "+" if self.shift >= 0.0 else ""
            return Said(f"{self.input}: {sign}", Figure(self.shift, step, 2, difference=True), f", {tail}")
        change = abs(shown_difference(self.shift, self.unit))
        places = max(0, 1 - math.floor(math.log10(change))) if change > 0.0 else 3
        before, after = (
            Figure(v, self.unit, written=f"{shown(v, self.unit):.{places}f}", bare=bare)
            for v, bare in ((self.value, True), (self.reconciled, False))
        )
        return Said(f"{self.input} ", before, " -> ", after, f", {tail}")


@dataclass(frozen=True, slots=True)
class Discrepancy:
    """Two methods of one specimen that disagree, or a void content too far below zero, with what could
    explain it.

    methods: two, or the one of the void content; doubtful: so far apart that a batch cannot conform with it
    before it is answered; difference and u of it [SI]; suspects: the least moved
    first.
    """

    specimen: str
    attribute: str
    methods: tuple[str, ...]
    difference: float
    u: float
    suspects: tuple[Suspect, ...]
    doubtful: bool

    @property
    def wrong_reading(self) -> bool:
        """Whether every suspect would have to lie so far off that a wrong reading is likelier."""
        sizes = [abs(s.standard_uncertainties) for s in self.suspects if s.standard_uncertainties is not None]
        return bool(sizes) and min(sizes) > LIKELY

    def sentence(self, most: int = 3) -> str:
        """The first suspects in one line, and whether to look for a wrong reading before them."""
        suspects_text = joined("; or ", [suspect.sentence() for suspect in self.suspects[:most]])
        if not self.wrong_reading:
            return suspects_text
        return Said(
            suspects_text, " (none of them is likely: look for a wrong reading first, and measure it again)"
        )


def unit_of_input(name: Name) -> Unit:
    """The unit in which an input of the measurement is shown."""
    if name in NUMBERS:
        return _BY_KIND[NUMBERS[name]]
    return next((unit for words, unit in _BY_WORDS if str(name).endswith(words)), PERCENT)


def discrepancies(
    specimens: Iterable[Specimen], bench: Bench, most: int | None = None
) -> Iterator[Discrepancy]:
    """Every disagreement of methods and void content below -2 u of specimens, each with its suspects.

    most: so many of each specimen.
    """
    every = iter(specimens)
    while some := [*islice(every, TOGETHER)]:
        yield from _together(some, bench, most)


def _together(specimens: Sequence[Specimen], bench: Bench, most: int | None) -> Iterator[Discrepancy]:
    """Like specimens with the same two methods apart as columns."""
    apart: list[Apart] = []
    alike: dict[Any, tuple[list[int], list[dict[Any, Any]], list[Any]]] = {}
    for specimen in specimens:
        mine = [*islice(_apart(specimen), most)]
        x = readings_of(specimen, bench) if mine else {}
        for at, (_, key, other, _) in enumerate(mine, len(apart)):
            sources = [specimen.every[each].result.sources for each in (key, other) if each is not None]
            like = (specimen.plan, id(specimen.recipe), *x, key, other, *map(id, sources))
            places, inputs, _ = alike.setdefault(like, ([], [], sources))  # kept: an id stays that of one
            places.append(at)
            inputs.append(x)
        apart += mine
    by_place: dict[int, Discrepancy] = {}
    for places, inputs, _ in alike.values():
        columns = {name: np.array([x[name] for x in inputs], float) for name in inputs[0]}
        by_place |= zip(places, _of_like([apart[at] for at in places], columns), strict=True)
    return (by_place[at] for at in range(len(apart)))


def _apart(specimen: Specimen) -> Iterator[Apart]:
    for a in specimen.agreement:
        if not a.agree:
            yield specimen, (a.attribute, a.methods[0]), (a.attribute, a.methods[1]), a.doubtful
    voids = specimen.best.get("void_content")
    if voids is not None and voids.stated_u > 0.0 and voids.value < -NEGATIVE * voids.u:
        yield specimen, ("void_content", voids.method), None, True


def _of_like(apart: Sequence[Apart], x: Mapping[Name, Any]) -> Iterator[Discrepancy]:
    """The same two methods apart of like specimens; x: inputs by name (n,) [SI]."""
    first, key, other, _ = apart[0]
    contributions: dict[Name, Any] = {}
    sources: dict[Name, tuple[Source, list[int]]] = {}
    difference: Any = 0.0
    for each, sign in ((key, 1.0), (other, -1.0)):
        if each is None:
            continue
        measured = [specimen.every[each] for specimen, *_ in apart]
        rows, result = [m.row for m in measured], measured[0].result
        difference = difference + sign * np.array([m.value for m in measured])
        for source, c in zip(result.sources, result.contributions[:, rows], strict=True):
            contributions[source.name] = contributions.get(source.name, 0.0) + sign * c
            if not source.rounded:
                sources[source.name] = source, rows
    with np.errstate(all="ignore"):
        stated = [
            _of_source(*sources[name], x, -difference / c, c, np.abs(c) > 1e-9 * np.abs(difference))
            for name, c in contributions.items()
            if name in sources
        ]
        moved = {input_ for source, _ in sources.values() for input_ in source.moves}
        exact = [
            _of_exact(name, x, _slopes(first, x, name, key, other), difference)
            for name in x
            if name not in moved and name != "plies"
        ]
    methods = (key[1],) if other is None else (key[1], other[1])
    every_u = zip(*(c.tolist() for c in contributions.values()), strict=True)
    for at, ((specimen, *_, doubtful), size, parts) in enumerate(
        zip(apart, difference.tolist(), every_u, strict=True)
    ):
        suspects = (*_at(stated, at), *_at(exact, at))
        yield Discrepancy(specimen.name, key[0], methods, size, math.hypot(*parts), suspects, doubtful)


def _slopes(first: Specimen, x: Mapping[Name, Any], name: Name, key: Key, other: Key | None) -> Any:
    """Derivatives (n,) by an input of an attribute, or of the difference of two, 0 without any [SI]."""
    moved: dict[Any, Any] = {each: column.astype(complex) for each, column in x.items()}
    moved[name] += STEP * 1j
    results = attributes(moved, first.plan, first.recipe)
    # a point count is no formula of the readings
    slope, without = (np.imag(results.get(each, 0.0)) / STEP if each else 0.0 for each in (key, other))
    return (slope - without) * np.ones(len(x[name]))


@dataclass(frozen=True, slots=True)
class _Suspected:
    """One input of like specimens, lists (n,): see `Suspect`; far: in order of telling, infinite: none."""

    input: Name
    unit: Unit
    far: list[float]
    value: list[float] | None
    shift: list[float]
    size: list[float] | None

    @classmethod
    def of(cls, name: Name, input_: Name, value: Any, shift: Any, size: Any, possible: Any) -> _Suspected:
        """From columns (n,) [SI]; possible: none else; no mass ends below zero, and no share above one."""
        far = np.abs(shift / value if size is None else size)
        if value is not None and name != "mass in liquid":
            after = value + shift
            possible &= (after >= 0.0) & (after <= 1.0) if str(name).endswith(_SHARES) else after > 0.0
        columns: Any = (None if column is None else column.tolist() for column in (value, shift, size))
        return cls(name, unit_of_input(input_), np.where(possible, far, np.inf).tolist(), *columns)

    def at(self, at: int) -> Suspect:
        """That of one specimen."""
        shift, size = self.shift[at], None if self.size is None else self.size[at]
        if self.value is None:
            return Suspect(self.input, None, None, shift, self.unit, size)
        value = self.value[at]
        return Suspect(self.input, value, value + shift, shift, self.unit, size)


def _at(suspected: Sequence[_Suspected], at: int) -> list[Suspect]:
    """The suspects of one specimen, the least moved first."""
    possible = [(s.far[at], order) for order, s in enumerate(suspected) if s.far[at] < math.inf]
    return [suspected[order].at(at) for _, order in sorted(possible)]


def _of_source(
    source: Source, rows: list[int], x: Mapping[Any, Any], size: Any, in_result: Any, possible: Any
) -> _Suspected:
    """in_result: one standard uncertainty of it in the result, for one that moves no input."""
    moves = {
        name: np.asarray(move)[rows] if np.ndim(move) else move
        for name, move in source.moves.items()
        if name in x and name != "volatiles"
    }
    name, move = next(iter(moves.items()), ("", np.abs(in_result)))
    if len(moves) == 1 and not (source.shared and name in NUMBERS):
        called = source.name if source.shared or name not in NUMBERS else name
        return _Suspected.of(called, name, x[name], size * move, size, possible)
    return _Suspected.of(source.name, name, None, size * move, size, possible)


def _of_exact(name: Name, x: Mapping[Name, Any], slope: Any, difference: Any) -> _Suspected:
    """An input that was taken as exact, by the share that it would have to change."""
    shift = -difference / slope
    possible = (slope != 0.0) & (x[name] != 0.0) & (np.abs(shift) <= np.abs(x[name]))
    return _Suspected.of(name, name, x[name], shift, None, possible)
