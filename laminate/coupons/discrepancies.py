"""Methods that disagree: which single input, moved by how many of its standard uncertainties, would reconcile
them.

Evidence for the people who decide what to measure again; nothing is changed by it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.conditions import NEGATIVE, below_zero
from laminate.coupons.methods import Formula, Key, Plan, attributes
from laminate.coupons.recipes import Inputs, Recipe
from laminate.files.coupons import NUMBERS
from laminate.values.input_key import Name, quantity_of
from laminate.values.quantities import (
    DEG_C,
    G_CM3,
    G_M2,
    KELVIN,
    KIND_UNITS,
    MM,
    NUMBER,
    PERCENT,
    Unit,
    shown,
    shown_difference,
)  # fmt: skip
from laminate.values.said import Figure, Said, joined
from laminate.values.sequences import LazySequence
from laminate.values.uncertainty import STEP, Result, Source

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen

LIKELY = 5.0
"""Standard uncertainties beyond which a wrong reading is likelier than an input so far off."""
PLIES = "plies"
_UNSTATED = 1e6
"""Added to how far an input without a ± must move, so that it stands behind those with one."""
Together = tuple[Key, Key | None]
"""A result and the one that it does not agree with, if any."""
Composition = tuple[Plan, Recipe, Recipe | None]
"""Plan and recipe of specimens, and the recipe by the plies of the batch file where these differ."""
_SHARES = ("share", "loss", "content", "volatiles")
_BY_WORDS = (("density", G_CM3), ("areal weight", G_M2), ("thickness", MM), ("diameter", MM))


@dataclass(frozen=True, slots=True)
class Suspect:
    """One input or calibration that would reconcile two results alone, to first order.

    Of one specimen numbers, of like ones columns (n,). input: key or words; value: before [SI], None where it
    moves several readings; shift [SI]; unit: shown; standard_uncertainties: shift in units of its own u, None
    where it was taken as exact; far: in order of telling, infinite where it cannot be. Plies move to the
    count of the batch file alone.
    """

    input: Name
    unit: Unit
    value: Any
    shift: Any
    standard_uncertainties: Any
    far: Any

    @classmethod
    def of(cls, name: Name, input_: Name, value: Any, shift: Any, size: Any, possible: Any) -> Suspect:
        """From columns (n,) [SI]; possible: none else; no mass ends below zero, and no share above one."""
        far = np.abs(shift / value) + _UNSTATED if size is None else np.abs(size)
        if value is not None and name != "mass in liquid":
            after = value + shift
            share = quantity_of(name).endswith(_SHARES)
            possible &= (after >= 0.0) & (after <= 1.0) if share else after > 0.0
        return cls(name, unit_of_input(input_), value, shift, size, np.where(possible, far, np.inf))

    def at(self, at: int) -> Suspect:
        """That of one specimen."""
        columns = (self.value, self.shift, self.standard_uncertainties, self.far)
        return Suspect(self.input, self.unit, *(c if c is None else float(c[at]) for c in columns))

    @property
    def reconciled(self) -> Any:
        """The value after it moved [SI]."""
        return None if self.value is None else self.value + self.shift

    def sentence(self) -> str:
        """The suspect in one line: 'fiber density 1.790 -> 1.774 g/cm^3, 3.2 u'."""
        moved = self.standard_uncertainties
        size = ", no ± stated" if moved is None else f", {abs(moved):.1f} u"
        if self.value is None:
            sign, step = "+" if self.shift >= 0.0 else "", KELVIN if self.unit == DEG_C else self.unit
            return Said(f"{self.input}: {sign}", Figure(self.shift, step, 2, difference=True), size)
        if self.input == PLIES:
            return f"{PLIES} {int(self.value)} -> {int(self.reconciled)}, the count of the batch file"
        numbers = shown(self.value, self.unit), shown(self.reconciled, self.unit)
        texts = change_texts(*numbers, shown_difference(self.shift, self.unit))
        before = Figure(self.value, self.unit, written=texts[0], bare=True)
        after = Figure(self.reconciled, self.unit, written=texts[1])
        return Said(f"{self.input} ", before, " -> ", after, size)


def change_texts(before: float, after: float, change: float) -> tuple[str, str]:
    """Two numbers with the decimal places that tell them apart; change: of one to the other, as shown.

    >>> change_texts(1.79, 1.774, -0.016)
    ('1.790', '1.774')
    """
    places = max(0, 1 - math.floor(math.log10(abs(change)))) if change else 3
    return f"{before:.{places}f}", f"{after:.{places}f}"


@dataclass(frozen=True)
class Discrepancy:
    """Two methods of one specimen that disagree, or a void content too far below zero, with what could
    explain it.

    Of one specimen a name and numbers, of like ones columns (n,). pair: two results, or the void content
    alone; difference: of the two, or the void content itself, with its standard uncertainty [SI]; doubtful:
    so far apart that a batch cannot conform with it before it is answered; suspected: inputs, columns (n,) of
    these or of its like, among which one has the place `row`.
    """

    specimen: Any
    pair: Together
    difference: Any
    u: Any
    doubtful: Any
    suspected: Sequence[Suspect]
    row: int = 0

    def at(self, at: int) -> Discrepancy:
        """That of one specimen."""
        figures = float(self.difference[at]), float(self.u[at]), bool(self.doubtful[at])
        return Discrepancy(self.specimen[at], self.pair, *figures, self.suspected, at)

    @property
    def attribute(self) -> str:
        """What the results are of."""
        return self.pair[0][0]

    @property
    def methods(self) -> tuple[str, ...]:
        """Two, or the one of the void content."""
        return tuple(key[1] for key in self.pair if key is not None)

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """What could explain it, the least moved first."""
        able = (s.at(self.row) for s in self.suspected if s.far[self.row] < math.inf)
        return tuple(sorted(able, key=attrgetter("far")))

    @property
    def counted_otherwise(self) -> bool:
        """Whether the count of plies in the batch file explains it, which is not that of the row."""
        return bool(self.suspects) and self.suspects[0].input == PLIES

    @property
    def wrong_reading(self) -> bool:
        """Whether every suspect would have to lie so far off that a wrong reading is likelier."""
        sizes = [abs(s.standard_uncertainties) for s in self.suspects if s.standard_uncertainties is not None]
        return bool(sizes) and min(sizes) > LIKELY

    def sentence(self, most: int = 3) -> str:
        """The first suspects in one line, and whether to look for a wrong reading before them."""
        suspects = self.suspects[:1] if self.counted_otherwise else self.suspects[:most]
        suspects_text = joined("; or ", [suspect.sentence() for suspect in suspects])
        if self.counted_otherwise or not self.wrong_reading:
            return suspects_text
        return Said(
            suspects_text, " (none of them is likely: look for a wrong reading first, and measure it again)"
        )


class Discrepancies(LazySequence[Discrepancy]):
    """Every disagreement of methods and void content below -2 u of some specimens, held as columns.

    columns: of like ones; of, within: which of these has each, and its place there (n,).
    """

    def __init__(self, parts: Sequence[tuple[Any, Discrepancy]]) -> None:
        """parts: columns, each with numbers by which all of them follow each other."""
        orders, self.columns = [order for order, _ in parts], [columns for _, columns in parts]
        self.of, self.within = np.empty((2, sum(map(len, orders))), np.intp)
        if parts:
            order = np.argsort(np.concatenate(orders), kind="stable")
            self.of[:] = np.repeat(np.arange(len(parts)), [*map(len, orders)])[order]
            self.within[:] = np.concatenate([np.arange(len(each)) for each in orders])[order]

    def __len__(self) -> int:
        return len(self.of)

    def item(self, at: int) -> Discrepancy:
        """That at a place."""
        return self.columns[int(self.of[at])].at(int(self.within[at]))

    @cached_property
    def _places(self) -> dict[tuple[str, Together], int]:
        places = zip(self.of.tolist(), self.within.tolist(), strict=True)
        each = [(self.columns[of].specimen[within], self.columns[of].pair) for of, within in places]
        return {which: at for at, which in enumerate(each)}

    def explanation(self, specimen: str, first: Key, other: Key | None) -> str:
        """What would make two results of a specimen agree, or bring one to zero; '' where nothing is said."""
        at = self._places.get((specimen, (first, other)))
        return "" if at is None else self[at].sentence()


def unit_of_input(name: Name) -> Unit:
    """The unit in which an input of the measurement is shown."""
    if name in NUMBERS:
        return KIND_UNITS[NUMBERS[name]]
    return next((unit for words, unit in _BY_WORDS if quantity_of(name).endswith(words)), PERCENT)


def apart(specimen: Specimen) -> Iterator[tuple[Together, bool]]:
    """Results that do not agree, and whether that is a doubt."""
    for a in specimen.agreement:
        if not a.agree:
            yield a.pair, a.doubtful
    voids = specimen.best.get("void_content")
    if voids is not None and below_zero(voids.result)[voids.row]:
        yield (("void_content", voids.method), None), True


def _by_count(x: Inputs, pair: Together, u: Any, plan: Plan, laid: Recipe) -> Suspect:
    """The count of plies in the batch file, in place of that of the rows (n,); laid: the recipe by it."""
    of_batch, counted = attributes(x, plan, laid), x[PLIES]
    with np.errstate(all="ignore"):
        left = of_batch.get(pair[0], np.nan) - (of_batch.get(pair[1], np.nan) if pair[1] else 0.0)
        far = np.where(np.abs(left) <= NEGATIVE * np.array(u), 0.0, np.inf)
    return Suspect(PLIES, NUMBER, counted, float(laid.plies or 0) - counted, None, far)


def differing(
    names: Sequence[str],
    pair: Together,
    results: Sequence[tuple[Result, Any]],
    x: Mapping[Name, Any],
    made: Composition,
    doubtful: Sequence[bool],
) -> Discrepancy:
    """Like specimens with the same two methods apart, and every input that could explain it.

    results: of each of the pair, with the rows of these specimens in it (n,); x: inputs by name (n,) [SI].
    """
    plan, recipe, laid = made

    def formula(moved: Any) -> Any:
        return attributes(moved, plan, recipe)

    contributions: dict[Name, Any] = {}
    sources: dict[Name, tuple[Source, Any]] = {}
    difference: Any = 0.0
    for (result, rows), sign in zip(results, (1.0, -1.0), strict=False):
        difference = difference + sign * result.value[rows]
        for source, c in zip(result.sources, result.contributions[:, rows], strict=True):
            contributions[source.name] = contributions.get(source.name, 0.0) + sign * c
            if not source.rounded:
                sources[source.name] = source, rows
    moved = {input_ for source, _ in sources.values() for input_ in source.moves}
    with np.errstate(all="ignore"):
        stated = [
            _of_source(*sources[name], x, -difference / c, c, np.abs(c) > 1e-9 * np.abs(difference))
            for name, c in contributions.items()
            if name in sources
        ]
        exact = [
            _of_exact(name, x, _slopes(formula, x, name, pair), difference)
            for name in x
            if name not in moved and name != PLIES
        ]
    u = [math.hypot(*parts) for parts in zip(*(c.tolist() for c in contributions.values()), strict=True)]
    counted = laid if laid is not None and laid.plies is not None and PLIES in x else None
    by_count = [] if counted is None else [_by_count(x, pair, u, plan, counted)]
    suspected = [suspect for suspect in (*stated, *exact, *by_count) if (suspect.far < math.inf).any()]
    return Discrepancy(names, pair, difference, u, doubtful, suspected)


def _slopes(formula: Formula, x: Mapping[Name, Any], name: Name, pair: Together) -> Any:
    """Derivatives (n,) by an input of an attribute, or of the difference of two, 0 without any [SI]."""
    moved: dict[Any, Any] = {each: column.astype(complex) for each, column in x.items()}
    moved[name] += STEP * 1j
    results = formula(moved)
    # a point count is no formula of the readings
    slope, without = (np.imag(results.get(key, 0.0)) / STEP if key else 0.0 for key in pair)
    return (slope - without) * np.ones(len(x[name]))


def _of_source(source: Source, rows: Any, x: Inputs, size: Any, in_result: Any, possible: Any) -> Suspect:
    """in_result: one standard uncertainty of it in the result, for one that moves no input."""
    moves = {
        name: np.asarray(move)[rows] if np.ndim(move) else move
        for name, move in source.moves.items()
        if name in x and name != "volatiles"
    }
    name, move = next(iter(moves.items()), ("", np.abs(in_result)))
    if quantity_of(source.name) == "ply scatter":  # a share of the areal weight that it moves
        share = size * move / x[name]
        return Suspect.of(source.name, source.name, None, share, size, possible & (share > -1.0))
    if len(moves) == 1 and not (source.shared and name in NUMBERS):
        called = source.name if source.shared or name not in NUMBERS else name
        return Suspect.of(called, name, x[name], size * move, size, possible)
    return Suspect.of(source.name, name, None, size * move, size, possible)


def _of_exact(name: Name, x: Mapping[Name, Any], slope: Any, difference: Any) -> Suspect:
    """An input that was taken as exact, by the share that it would have to change."""
    shift = -difference / slope
    possible = (slope != 0.0) & (x[name] != 0.0) & (np.abs(shift) <= np.abs(x[name]))
    return Suspect.of(name, name, x[name], shift, None, possible)
