"""What to change so that the next batch lies in the middle of its limits: gap, core, dummy or ply count.

The next batch is what the model makes of the changed size, less what the batches so far fell short of it.
SI units.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from laminate.formulas.roots import bracketed_root
from laminate.history.achieved import attributes_of, predicted, total
from laminate.history.identities import Identities
from laminate.history.pooled import scatter_of
from laminate.press.case import ZoneCase
from laminate.press.counts import verdict
from laminate.press.inverse import gap_for
from laminate.values.input_key import Name
from laminate.values.uncertainty import STEP

if TYPE_CHECKING:
    from laminate.history.pooled import Coverage, Covered, Pooled

AIMED = ("fiber_volume", "thickness")
SPAN = 2


@dataclass(frozen=True, slots=True)
class Aim:
    """The middle that an attribute should have, and where it comes from.

    low, high: the limits, None where there are none on both sides; words: 'average limits', 'individual
    limits', 'the prediction' or 'between both middles'.
    """

    attribute: str
    middle: float
    low: float | None
    high: float | None
    words: str

    def off(self, value: float) -> float:
        """Distance from the middle, in half the width of the limits; needs limits."""
        assert self.low is not None
        assert self.high is not None
        return (value - self.middle) / ((self.high - self.low) / 2.0)

    def holds(self, value: float, expanded: float = 0.0) -> bool:
        """Whether a number lies inside the limits with all of its expanded uncertainty, or there are none."""
        if self.low is None or self.high is None:
            return True
        return self.low <= value - expanded and value + expanded <= self.high


@dataclass(frozen=True, slots=True)
class Change:
    """One size, changed alone: cold now and then, standard and expanded uncertainty of the change [m]."""

    size: str
    now: float
    then: float
    u: float
    expanded: float

    @property
    def change(self) -> float:
        """Then minus now."""
        return self.then - self.now


@dataclass(frozen=True, slots=True)
class Centred:
    """How to bring one attribute to its middle with the plies as they are.

    now: the attribute of a batch like the last one; hot_gap: wanted; hindrance: '' where it can be done, else
    what forbids it; changes: each alone; then: the attributes after the change.
    """

    aim: Aim
    now: Covered
    hot_gap: float
    hindrance: str
    changes: tuple[Change, ...]
    then: Mapping[str, float]

    @property
    def attribute(self) -> str:
        """Which one."""
        return self.aim.attribute

    @property
    def away(self) -> float:
        """How far it lies from its middle now."""
        return self.now.value - self.aim.middle

    @property
    def means_something(self) -> bool:
        """Whether that is more than its expanded uncertainty."""
        return abs(self.away) > self.now.expanded

    @property
    def scatter(self) -> float:
        """What scatter between batches has of its standard uncertainty."""
        return scatter_of(self.now)

    @property
    def changes_something(self) -> bool:
        """Whether the first size would change by more than its expanded uncertainty."""
        return abs(self.changes[0].change) > self.changes[0].expanded


@dataclass(frozen=True, slots=True)
class Count:
    """So many plies in the gap as it is: verdict, attributes, and which limits they would miss."""

    plies: int
    verdict: str
    then: Mapping[str, float]
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Centring:
    """The answer for one zone.

    between: the hot gap between those that center fiber volume and thickness, with attributes and changes,
    None where one will do, or one of them is not limited on both sides or cannot be reached; apart: how far
    thickness is from its middle where fiber volume is in its own, with its expanded uncertainty.
    """

    aims: tuple[Centred, ...]
    counts: tuple[Count, ...]
    between: Centred | None
    apart: tuple[float, float] | None

    @property
    def cannot_both(self) -> bool:
        """Whether both cannot lie in the middle with these plies."""
        if len(self.aims) < len(AIMED):
            return False
        if self.apart is None:
            return any(aim.hindrance for aim in self.aims)
        return abs(self.apart[0]) > self.apart[1]


@dataclass(frozen=True)
class Model:
    """A zone laid up like the last batch, with what batches came out beside the prediction."""

    case: ZoneCase
    fill_plies: int
    identities: Identities
    beside: Mapping[str, Pooled]
    coverage: Coverage

    @cached_property
    def x(self) -> dict[Any, float]:
        """The numbers of the files."""
        return self.case.inputs.numbers()

    def next(self, x: Mapping[Any, float] | None = None) -> dict[str, Covered]:
        """The attributes of the next batch: predicted less (predicted minus achieved), ± scatter."""
        spreads = predicted(self.case, self.fill_plies, self.identities, x)
        return {
            a: self.coverage.of(total([spreads[a], pooled.mean.times(-1.0), pooled.anew(spreads[a].parts)]))
            for a, pooled in self.beside.items()
        }

    def plain(self, x: Mapping[Any, float], fill_plies: int | None = None) -> dict[str, float]:
        """The same without uncertainty."""
        count = self.fill_plies if fill_plies is None else fill_plies
        attributes = attributes_of(self.case, count, x)
        return {a: float(attributes[a]) - pooled.mean.value for a, pooled in self.beside.items()}

    def slope(self, attribute: str, size: Name, x: Mapping[Any, float]) -> float:
        """Derivative of an attribute by a size, exact."""
        moved: dict[Any, Any] = {**x, size: x[size] + STEP * 1j}
        value = attributes_of(self.case, self.fill_plies, moved)[attribute]
        return float(getattr(value, "imag", 0.0)) / STEP

    def with_sizes(self, size: Name, value: float) -> dict[Any, float]:
        """The numbers with one size changed."""
        return {**self.x, size: value}

    def fiber_volume_for(self, aim: Aim) -> float:
        """The fiber volume that the model must have so that an attribute comes out in its middle."""
        wanted = aim.middle + self.beside[aim.attribute].mean.value
        if aim.attribute == "fiber_volume":
            return wanted
        sums = self.case.sums(self.fill_plies, self.x)
        return float((sums.fiber_thickness + sums.layers.fiber_thickness) / wanted)


def aim_of(case: ZoneCase, attribute: str) -> Aim | None:
    """The middle of the limits on averages, else on individuals; None without limits on both sides."""
    rule = case.part.limits.of_zone(attribute, case.name)
    for words, bounds in (("average", rule and rule.average), ("individual", rule and rule.individual)):
        low, high = bounds.pair if bounds else (None, None)
        if low is not None and high is not None:
            return Aim(attribute, (low + high) / 2.0, low, high, f"{words} limits")
    return None


def _changes(model: Model, aim: Aim, sizes: Mapping[str, float]) -> Iterator[Change]:
    """Each size alone, with the uncertainty that the attribute would have, over its slope."""
    for size, then in sizes.items():
        name = model.case.size_name(size)
        x = model.with_sizes(name, then)
        slope, after = abs(model.slope(aim.attribute, name, x)), model.next(x)[aim.attribute]
        u, expanded = (wide / slope if slope else math.inf for wide in (after.u, after.expanded))
        yield Change(size, model.x[name], then, u, expanded)


def centre(model: Model, aim: Aim) -> Centred:
    """Bring one attribute to its middle by a size."""
    now = model.next()[aim.attribute]
    gap = gap_for(model.case, model.fill_plies, model.fiber_volume_for(aim))
    if gap.hindrance:
        return Centred(aim, now, gap.hot_gap, gap.hindrance, (), {})
    size, then = next(iter(gap.sizes.items()))
    after = model.plain(model.with_sizes(model.case.size_name(size), then))
    return Centred(aim, now, gap.hot_gap, "", tuple(_changes(model, aim, gap.sizes)), after)


def _balanced(model: Model, centred: Centred, other: Centred) -> Centred | None:
    """The size between two at which both attributes lie equally far from their middles."""
    name = model.case.size_name(centred.changes[0].size)

    def difference(value: float) -> float:
        values = model.plain(model.with_sizes(name, value))
        first, second = (abs(each.aim.off(values[each.attribute])) for each in (centred, other))
        return first - second

    low, high = sorted((centred.changes[0].then, other.changes[0].then))
    value = bracketed_root(function=difference, low=low, high=high)
    if value is None:
        return None
    after = model.plain(model.with_sizes(name, value))
    aim = Aim(centred.attribute, after[centred.attribute], None, None, "between both middles")
    hot = float(model.case.hot_gap(model.with_sizes(name, value)))
    sizes = model.case.change_for(hot, model.x)
    return Centred(aim, centred.now, hot, "", tuple(_changes(model, aim, sizes)), after)


def _apart(model: Model, volume: Centred, aim: Aim) -> tuple[float, float]:
    """How far thickness is from its middle where fiber volume is in its own, and its expanded uncertainty.

    Moving the gap moves both, so what is left over counts with the uncertainty of both.
    """
    name = model.case.size_name(volume.changes[0].size)
    x = model.with_sizes(name, volume.changes[0].then)
    spreads = model.next(x)
    ratio = model.slope("thickness", name, x) / model.slope("fiber_volume", name, x)
    left = model.coverage.of(total([spreads["thickness"], spreads["fiber_volume"].times(-ratio)]))
    return spreads["thickness"].value - aim.middle, left.expanded


def counts(model: Model, aims: Mapping[str, Aim]) -> Iterator[Count]:
    """The counts near the one laid up, in the gap as it is."""
    if not model.case.zone.fill_with:
        return
    least = 0 if model.case.fixed_plies else 1
    for fill_plies in range(max(least, model.fill_plies - SPAN), model.fill_plies + SPAN + 1):
        then = model.plain(model.x, fill_plies)
        outside = tuple(attribute for attribute, aim in aims.items() if not aim.holds(then[attribute]))
        yield Count(model.case.plies(fill_plies), verdict(model.case, fill_plies), then, outside)


def centring(model: Model) -> Centring:
    """Everything that could be changed in one zone."""
    beside = [attribute for attribute in AIMED if attribute in model.beside]
    aims = {a: aim for a in beside if (aim := aim_of(model.case, a)) is not None}
    if beside and not aims:
        first, expected = beside[0], attributes_of(model.case, model.fill_plies, model.x)
        aims = {first: Aim(first, float(expected[first]), None, None, "the prediction")}
    centres = {a: centre(model, aim) for a, aim in aims.items()}
    between, apart = None, None
    if all(a in centres and centres[a].changes for a in AIMED):
        apart = _apart(model, centres[AIMED[0]], aims[AIMED[1]])
        if abs(apart[0]) > apart[1]:
            between = _balanced(model, centres[AIMED[0]], centres[AIMED[1]])
    return Centring(tuple(centres.values()), tuple(counts(model, aims)), between, apart)
