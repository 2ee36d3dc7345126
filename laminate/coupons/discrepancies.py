"""Methods that disagree: which single input, moved by how many of its standard uncertainties, would reconcile
them.

Evidence for the people who decide what to measure again; nothing is changed by it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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


class Slopes:
    """How attributes of specimens move with their inputs, like specimens in one evaluation.

    inputs: of each specimen by name [SI].
    """

    def __init__(self, specimens: Sequence[Specimen], bench: Bench) -> None:
        self.inputs = [readings_of(specimen, bench) for specimen in specimens]
        self._like: dict[Any, list[int]] = {}
        self._place: list[tuple[Any, int]] = []
        for at, specimen in enumerate(specimens):
            like = (specimen.plan, id(specimen.recipe), *self.inputs[at])
            self._place.append((like, len(self._like.setdefault(like, []))))
            self._like[like].append(at)
        self.specimens = specimens
        self._known: dict[Any, dict[Key, Any]] = {}

    def of(self, at: int, name: Name, key: Key) -> float:
        """Derivative of an attribute by an input, 0 where it does not depend on it [SI]."""
        like, place = self._place[at]
        if (like, name) not in self._known:
            inputs, first = [self.inputs[row] for row in self._like[like]], self.specimens[at]
            x: dict[Any, Any] = {
                each: np.array([mine[each] for mine in inputs], complex) for each in inputs[0]
            }
            x[name] = x[name] + STEP * 1j
            self._known[like, name] = attributes(x, first.plan, first.recipe)
        # a point count is no formula of the readings
        moved = np.asarray(self._known[like, name].get(key, 0.0))
        return float((moved if moved.ndim == 0 else moved[place]).imag) / STEP


def discrepancies(specimens: Sequence[Specimen], bench: Bench) -> list[Discrepancy]:
    """Every disagreement of methods and void content below -2 u of specimens, each with its suspects."""
    apart: list[tuple[Specimen, Key, Key | None, bool]] = []
    for specimen in specimens:
        for a in specimen.agreement:
            if not a.agree:
                apart.append((specimen, (a.attribute, a.methods[0]), (a.attribute, a.methods[1]), a.doubtful))
        voids = specimen.best.get("void_content")
        if voids is not None and voids.stated_u > 0.0 and voids.value < -NEGATIVE * voids.u:
            apart.append((specimen, ("void_content", voids.method), None, True))
    slopes = Slopes([specimen for specimen, *_ in apart], bench)
    return [
        _discrepancy(slopes, at, key, other, doubtful) for at, (_, key, other, doubtful) in enumerate(apart)
    ]


def _discrepancy(slopes: Slopes, at: int, key: Key, other: Key | None, doubtful: bool) -> Discrepancy:
    specimen, x = slopes.specimens[at], slopes.inputs[at]
    measured = specimen.every[key]
    contributions, difference = measured.contributions(), measured.value
    sources = {
        source.name: (source, measured.row) for source in measured.result.sources if not source.rounded
    }
    if other is not None:
        other_measured = specimen.every[other]
        difference -= other_measured.value
        for name, c in other_measured.contributions().items():
            contributions[name] = contributions.get(name, 0.0) - c
        sources.update(
            {s.name: (s, other_measured.row) for s in other_measured.result.sources if not s.rounded}
        )
    suspects = [
        _of_source(*sources[name], x, -difference / c, abs(c))
        for name, c in contributions.items()
        if name in sources and abs(c) > 1e-9 * abs(difference)
    ]
    suspects = [suspect for suspect in suspects if _possible(suspect)]
    suspects.sort(key=lambda s: abs(s.standard_uncertainties or math.inf))
    moved = {input_ for source, _ in sources.values() for input_ in source.moves}
    slope_of = {
        name: slopes.of(at, name, key) - (slopes.of(at, name, other) if other else 0.0)
        for name in x
        if name not in moved and name != "plies"
    }
    suspects += _exact(x, slope_of, difference)
    methods = (key[1],) if other is None else (key[1], other[1])
    u = math.hypot(*contributions.values())
    return Discrepancy(specimen.name, key[0], methods, difference, u, tuple(suspects), doubtful)


def _possible(suspect: Suspect) -> bool:
    """Whether the input could have the reconciled value at all: no mass below zero, no share above one."""
    if suspect.reconciled is None or suspect.input == "mass in liquid":
        return True
    if str(suspect.input).endswith(_SHARES):
        return 0.0 <= suspect.reconciled <= 1.0
    return suspect.reconciled > 0.0


def _of_source(source: Source, row: int, x: Mapping[Any, Any], size: float, in_result: float) -> Suspect:
    """A suspect; in_result: one standard uncertainty of it in the result, for one that moves no input."""
    moves = {name: _at(move, row) for name, move in source.moves.items() if name in x and name != "volatiles"}
    if len(moves) == 1 and not (source.shared and next(iter(moves)) in NUMBERS):
        ((name, move),) = moves.items()
        value, shift = float(x[name]), size * move
        called = source.name if source.shared or name not in NUMBERS else name
        return Suspect(called, value, value + shift, shift, unit_of_input(name), size)
    name, move = next(iter(moves.items()), ("", in_result))
    return Suspect(source.name, None, None, size * move, unit_of_input(name), size)


def _at(move: Any, row: int) -> float:
    return float(move[row]) if getattr(move, "shape", ()) else float(move)


def _exact(x: Mapping[Name, float], slopes: Mapping[Name, float], difference: float) -> list[Suspect]:
    """Inputs that were taken as exact, by the share that they would have to change, the least first."""
    suspects: list[Suspect] = []
    for name, slope in slopes.items():
        value = float(x[name])
        if slope != 0.0:
            shift = -difference / slope
            if value != 0.0 and abs(shift) <= abs(value):
                suspects.append(Suspect(name, value, value + shift, shift, unit_of_input(name), None))
    suspects = [suspect for suspect in suspects if _possible(suspect)]
    return sorted(suspects, key=lambda s: abs(s.shift / (s.value or 1.0)))
