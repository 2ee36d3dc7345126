"""Values held against one pair of limits: individuals one by one and together, or an average."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from laminate.formulas import special
from laminate.formulas.conformity import (
    CONFORMS,
    FAILS,
    UNDECIDED,
    decide,
    has_acceptance_interval,
    probability_of_conformity,
)
from laminate.formulas.joint_conformity import Mean, joint_probability
from laminate.formulas.number import NOTHING
from laminate.values.input_key import Name
from laminate.values.quantities import ATTRIBUTES

RANK = {CONFORMS: 0, UNDECIDED: 1, FAILS: 2}
CANNOT = "this method cannot accept against this limit"
MISFIT = "below zero by more than 2 u"
MISFIT_AT = -2.0
UNREAD = "what was not read could change the decision"
UNKNOWN = "its ± is not known: give the value with its ±, u = 0 where it is exact"
OTHER_LEVEL = "its degrees of freedom are not told for this confidence: measure with it, and judge that"
FARTHEST = 37.0
"""Standard deviations beyond which a normal quantity is taken to lie nowhere: 1e-300."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One value with its uncertainty against limits, SI units.

    shared: contributions of sources that other readings share, by name; own: the rest of the standard
    uncertainty; half_width: of the rectangular distribution, where it is the only cause; rounding: what of
    the own comes from rounding, which readings of one display may share.
    """

    name: str
    value: float
    u: float
    dof: float
    k: float
    shared: Mapping[Name, float] = field(default_factory=dict)
    own: float = 0.0
    half_width: float | None = None
    rounding: Mapping[Name, float] = field(default_factory=dict)

    @property
    def rounded_together(self) -> Reading:
        """The same, were all readings rounded to one side."""
        left = max(self.own**2 - math.fsum(c * c for c in self.rounding.values()), 0.0)
        return replace(self, shared={**self.shared, **self.rounding}, own=math.sqrt(left), rounding={})

    @property
    def expanded(self) -> float:
        """U = k u, and no more than the half-width where the value can lie nowhere else."""
        wide = self.k * self.u
        return wide if self.half_width is None else min(wide, self.half_width)

    @property
    def coverage_factor(self) -> float:
        """The factor that makes U of u: k, less where the half-width is reached."""
        return self.expanded / self.u if self.u > 0.0 else self.k


@dataclass(frozen=True)
class Acceptance:
    """The outcome of holding readings against limits.

    decisions: one a reading; allowed: how many may fail; room: the widest guard band that leaves an
    acceptance interval [SI], None where U leaves one.
    """

    minimum: float | None
    maximum: float | None
    guard: float
    readings: tuple[Reading, ...]
    decisions: tuple[str, ...]
    decision: str
    reasons: tuple[str, ...]
    allowed: int = 0
    room: float | None = None

    @cached_property
    def probability(self) -> float | None:
        """Probability that no more readings than may fail are outside; None where it cannot be said."""
        if {MISFIT, UNREAD, UNKNOWN}.intersection(self.reasons):
            return None
        alone = [_alone(reading, self.minimum, self.maximum) for reading in self.readings]
        if len(alone) == 1:
            return alone[0]
        joint = self.joint(self.allowed)
        # rectangles too: all together are never likelier than the least likely alone
        return joint if joint is None or self.allowed else min(joint, *alone)

    def joint(self, allowed: int, average: Acceptance | None = None) -> float | None:
        """Probability that all readings but so many, and an average of them, are inside, over shared causes.

        Each reading, and the average, has Student's t with its effective degrees of freedom and keeps it here
        (readings by a normal copula). Given what is shared, readings and average are taken as independent.
        None where it cannot be said. Rounded each to its own side all are inside less often; where some may
        be outside, being rounded to one side may be the worse: the smaller chance counts.
        """
        if allowed and any(reading.rounding for reading in self.readings):
            together = replace(self, readings=tuple(r.rounded_together for r in self.readings))
            apart = replace(self, readings=tuple(replace(r, rounding={}) for r in self.readings))
            either = [held.joint(allowed, average) for held in (apart, together)]
            return None if None in either else min(chance for chance in either if chance is not None)
        each = [_as_normal(reading, self.minimum, self.maximum) for reading in self.readings]
        every = (*each, *(average.readings if average else ()))
        names = list(dict.fromkeys(name for reading in every for name in reading.shared))
        table = [[reading.shared.get(name, 0.0) for reading in every] for name in names]
        shared, mean = np.array(table).reshape(len(names), len(every)), None
        if average:
            last = every[-1]
            mean = Mean(last.value, last.own, shared[:, -1], last.dof, average.minimum, average.maximum)
        return joint_probability(
            values=np.array([reading.value for reading in each]),
            own=np.array([reading.own for reading in each]),
            shared=shared[:, : len(each)],
            minimum=self.minimum,
            maximum=self.maximum,
            allowed_outside=allowed,
            mean=mean,
        )

    @property
    def worst(self) -> Reading:
        """The reading that decides: furthest over its guard band, among the undecided if there are any."""
        pairs = list(zip(self.readings, self.decisions, strict=True))
        open_ = [reading for reading, decision in pairs if decision == UNDECIDED]
        return min(open_ or self.readings, key=lambda r: self.margin(r) - self.guard * r.expanded)

    def names(self, decision: str) -> list[str]:
        """The readings with a decision."""
        return [r.name for r, d in zip(self.readings, self.decisions, strict=True) if d == decision]

    def margin(self, reading: Reading) -> float:
        """Distance inside the nearest limit [SI]; negative outside, 0 on it but for rounding."""
        low = reading.value - self.minimum if self.minimum is not None else math.inf
        high = self.maximum - reading.value if self.maximum is not None else math.inf
        return min(low, high) if abs(min(low, high)) > NOTHING * abs(reading.value) else 0.0


def room_for(minimum: float | None, maximum: float | None, attribute: str) -> float:
    """The widest guard band that leaves an acceptance interval, natural bounds counted [SI]."""
    known = ATTRIBUTES.get(attribute)
    low, high = (known.lowest, known.highest) if known else (None, None)
    if minimum is not None and maximum is not None:
        return (maximum - minimum) / 2.0
    if maximum is not None and low is not None:
        return maximum - low
    return high - minimum if minimum is not None and high is not None else math.inf


def acceptance_of(
    readings: Sequence[Reading],
    *,
    minimum: float | None,
    maximum: float | None,
    guard: float,
    attribute: str,
    allowed_outside: int = 0,
) -> Acceptance:
    """Hold one or more readings of an attribute against limits by guarded acceptance (JCGM 106:2012, 8.3).

    allowed_outside: how many individuals may fail. A void content below -2u is never accepted.
    """
    known = ATTRIBUTES.get(attribute)
    limits: dict[str, Any] = {"minimum": minimum, "maximum": maximum, "guard": guard}
    natural: dict[str, Any] = {"hard_minimum": known.lowest, "hard_maximum": known.highest} if known else {}
    decisions: list[str] = []
    cannot = misfit = False
    for reading in readings:
        decision = str(decide(value=reading.value, expanded=reading.expanded, **limits))
        if decision != FAILS and not has_acceptance_interval(expanded=reading.expanded, **limits, **natural):
            decision, cannot = UNDECIDED, True
        if attribute == "void_content" and reading.value < MISFIT_AT * reading.u:
            decision, misfit = UNDECIDED, True
        decisions.append(decision)
    failed, open_ = decisions.count(FAILS), decisions.count(UNDECIDED)
    overall = CONFORMS
    if failed > allowed_outside:
        overall = FAILS
    elif failed + open_ > allowed_outside or misfit:
        overall = UNDECIDED
    reasons = ((MISFIT,) if misfit else ()) + ((CANNOT,) if cannot and overall == UNDECIDED else ())
    room = room_for(minimum, maximum, attribute) if cannot else None
    return Acceptance(
        minimum, maximum, guard, tuple(readings), tuple(decisions), overall, reasons, allowed_outside, room
    )


def _alone(reading: Reading, minimum: float | None, maximum: float | None) -> float:
    """Probability that one value is inside: Student's t, or a rectangle where that is all there is."""
    if reading.half_width is not None:
        low = -math.inf if minimum is None else minimum
        high = math.inf if maximum is None else maximum
        inside = min(reading.value + reading.half_width, high) - max(reading.value - reading.half_width, low)
        return min(max(inside / (2.0 * reading.half_width), 0.0), 1.0)
    limits = {"minimum": minimum, "maximum": maximum}
    value, u, dof = reading.value, reading.u, reading.dof
    return float(probability_of_conformity(value=value, standard_uncertainty=u, dof=dof, **limits))


def _as_normal(reading: Reading, minimum: float | None, maximum: float | None) -> Reading:
    """The normal quantity that lies beyond each limit with the same chance as this by its Student's t."""
    if math.isinf(reading.dof) or reading.u == 0.0 or reading.half_width is not None:
        return reading
    value, u = reading.value, reading.u
    lower = -math.inf if minimum is None else _normal_end((minimum - value) / u, reading.dof)
    upper = math.inf if maximum is None else _normal_end((maximum - value) / u, reading.dof)
    if minimum is not None and maximum is not None and upper > lower:
        u = (maximum - minimum) / (upper - lower)
    if minimum is not None:
        value = minimum - lower * u
    elif maximum is not None:
        value = maximum - upper * u
    scale = u / reading.u
    shared = {name: scale * part for name, part in reading.shared.items()}
    return replace(reading, value=value, u=u, own=scale * reading.own, shared=shared, dof=math.inf)


def _normal_end(t: float, dof: float) -> float:
    """The standard normal value below which as much lies as below t of Student's t; at most `FARTHEST`."""
    beyond = float(special.ndtri(special.stdtr(dof, -abs(t))))
    return math.copysign(min(-beyond, FARTHEST), t)


def both(individual: Acceptance, average: Acceptance, *, of_one: bool = False) -> float | None:
    """Probability that individuals and average conform together (`joint`); None where it cannot be said.

    of_one: one value stands for itself and for the average, and is inside where it is so by both limits.
    """
    if individual.probability is None or average.probability is None:
        return None
    if of_one:
        lows = [held.minimum for held in (individual, average) if held.minimum is not None]
        highs = [held.maximum for held in (individual, average) if held.maximum is not None]
        return _alone(average.readings[0], max(lows, default=None), min(highs, default=None))
    chance = individual.joint(individual.allowed, average)
    return None if chance is None else min(chance, individual.probability, average.probability)


def within_allowance(held: Acceptance) -> Iterator[str]:
    """The individuals that are not inside though all of them conform, and how many the plan allows."""
    for decision, words in ((FAILS, "outside"), (UNDECIDED, "too close to")):
        some = held.names(decision) if held.decision == CONFORMS else []
        if some:
            n, its = len(held.readings), f"is {words} its limit"
            its = its if len(some) == 1 else f"are {words} their limits"
            sentence = f"{len(some)} of {n} coupon{'s' if n > 1 else ''} {its}"
            yield f"{sentence} ({', '.join(some)}); the plan allows {held.allowed}"


def reasons_of(which: str, held: Acceptance, alone: Collection[str] = ()) -> list[str]:
    """Why what was held is not inside its limits.

    which: individual or average; alone: names of readings that are no coupons, which need not be said.
    """

    def coupons(decision: str) -> str:
        names = [name for name in held.names(decision) if name not in alone]
        if which == "average" or not names:
            return ""
        return f": {'coupon' if len(names) == 1 else 'coupons'} {', '.join(names)}"

    reasons = list(held.reasons)
    the = "the average is " if which == "average" else ""
    if FAILS in held.decisions:
        by = " by more than the guard band" if held.guard else ""
        reasons.append(f"{the}outside the limits{by}{coupons(FAILS)}")
    if UNDECIDED in held.decisions and CANNOT not in reasons and MISFIT not in reasons:
        reasons.append(f"{the}too close to a limit to call{coupons(UNDECIDED)}")
    return [f"{which}: {r}" if r in (CANNOT, MISFIT) else r for r in reasons]
