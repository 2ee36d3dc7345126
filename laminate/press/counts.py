"""Every ply count near the gap of a zone: what it becomes, the verdict on it, and its chances.

Formulas 5, 6 and 10. SI units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import product
from operator import and_, attrgetter
from typing import Any, Literal, TypeVar

import numpy as np

from laminate.formulas import cavity
from laminate.press.case import ZoneCase
from laminate.press.cured import PREDICTED, cured
from laminate.press.extremes import larger
from laminate.press.layup import Layup, lay_up
from laminate.press.names import VOID, Numbers
from laminate.press.shared_inputs import FEW_DRAWS, SEED, Estimate, estimates, sampling_error
from laminate.press.stack import Sums

Verdict = Literal["too few", "fits", "too many", "not judged"]
NOT_JUDGED: Verdict = "not judged"
TOO_FEW: Verdict = "too few"
FITS: Verdict = "fits"
TOO_MANY: Verdict = "too many"
R = TypeVar("R", bound="Row")
GROW_WITH_PLIES = ("thickness", "areal_weight", "mass")
"""Attributes that a count can bring inside a limit; fiber volume under a bladder is that of the prepreg."""
IN_GAP = ("fill_ratio", "bleed", "fiber_volume_in_gap", "thickness_if_gap_holds", "void_if_gap_holds")
"""Numbers of a row that stand beside the attributes of its part."""
ON_A_SIDE = ("fiber_volume", "thickness")
"""Attributes that are told of each side of an off-center core."""
NEEDED = {"fills": "", "closes": ""}
"""What a gap needs beside limits, as of `chance_of`."""
MOST_PLIES = 2000
MOST_ROWS = 60
BESIDE = 2
"""Counts shown on each side of those that may be used."""
FEW = 3
"""Counts shown where nothing says how many plies."""
BLOCK = 8192
"""Draws in one piece, which stays in the cache."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One limit that the zone is held to [SI]; scope: individual or average."""

    attribute: str
    scope: str
    low: float
    high: float

    def met(self, value: Any) -> Any:
        """Whether values of the attribute lie inside."""
        return (value >= self.low) & (value <= self.high)


@dataclass(frozen=True, slots=True)
class Chance:
    """Shares of the draws, 0 to 1; None with a reason where a gap, bleed, pressure or force is not known.

    fills, closes: what a gap needs; pressed, holds: what rubber and bladders need; all: what is needed and
    every limit together; at_most: the share of all that what is known leaves, that of all where all is known.
    """

    draws: int
    within_average: float | None = None
    within_individual: float | None = None
    within_limits: float | None = None
    all: float | None = None
    at_most: float = 0.0
    reason: str = ""
    fills: float | None = None
    closes: float | None = None
    pressed: float | None = None
    holds: float | None = None

    def error(self, what: str = "all") -> float | None:
        """Standard error of a chance from the number of draws."""
        share = getattr(self, what)
        return None if share is None else sampling_error(share, self.draws)

    def at_least(self, share: float) -> Chance:
        """The same where a gap closes only with a chance besides: the least that both together can be."""
        parts = {name: getattr(self, name) for name in ("closes", "all", "at_most")}
        less = {name: max(part + share - 1.0, 0.0) for name, part in parts.items() if part is not None}
        return replace(self, **less)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One ply count in a zone, whatever presses it.

    part: attributes of the cured part; outside: limits that the nominal part does not meet.
    """

    plies: int
    fill_plies: int
    part: Mapping[str, Estimate]
    verdict: str
    chance: Chance
    outside: tuple[Missed, ...] = ()

    @property
    def says(self) -> str:
        """The verdict for people."""
        return self.verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class GapRow(Row):
    """One ply count in a gap.

    bleed: share of the resin that must leave, below zero a shortfall; sides: hot gap, fiber volume and
    thickness on each side of an off-center core.
    """

    fill_ratio: Estimate
    bleed: Estimate
    fiber_volume_in_gap: Estimate
    thickness_if_gap_holds: Estimate
    void_if_gap_holds: Estimate
    sides: tuple[dict[str, float], ...] = ()

    @property
    def advised(self) -> bool:
        """Whether it should be laid up: it fits, nominally inside every limit, and likelier so than not."""
        return self.verdict == FITS and not self.outside and self.chance.at_most >= 0.5

    def judged(self, closing: Verdict) -> GapRow:
        """The same by whether the press closes it; no chance of what takes that where it is not known."""
        if self.verdict != FITS:
            return self
        chance = replace(self.chance, closes=None, all=None) if closing == NOT_JUDGED else self.chance
        return replace(self, verdict=closing, chance=chance)


@dataclass(frozen=True, slots=True)
class Missed:
    """A limit that the nominal part does not meet [SI]; scope: individual or average."""

    attribute: str
    scope: str
    value: float
    bound: float

    def __str__(self) -> str:
        return f"{self.attribute} ({self.scope})"

    @property
    def below(self) -> bool:
        """Whether the part lies below the limit, not above it."""
        return self.value < self.bound


def near_top(rows: Sequence[R]) -> list[R]:
    """The rows whose chance of all the draws do not tell apart from the highest."""
    top = max((row.chance for row in rows), key=attrgetter("at_most"))

    def apart(chance: Chance) -> float:
        return math.hypot(*(sampling_error(either.at_most, either.draws) for either in (top, chance)))

    return [row for row in rows if top.at_most - row.chance.at_most <= apart(row.chance)]


def rules(case: ZoneCase) -> list[Rule]:
    """The limits on what the zone becomes, as far as it is predicted."""
    rules = []
    for attribute in (key for key in case.part.limits.laminate_attributes() if key in PREDICTED):
        rule = case.part.limits.of_zone(attribute, case.name)
        for scope, bounds in (("individual", rule and rule.individual), ("average", rule and rule.average)):
            if bounds:
                low, high = bounds.pair
                low, high = -math.inf if low is None else low, math.inf if high is None else high
                rules.append(Rule(attribute, scope, low, high))
    return rules


@dataclass(frozen=True, slots=True)
class Laid:
    """One count in a zone: its laminate, and the numbers it stands on."""

    case: ZoneCase
    fill_plies: int
    x: Numbers
    layup: Layup

    @property
    def sums(self) -> Sums:
        """Sums of its stack."""
        assert self.layup.sums is not None  # only a laminate known by its thickness alone has none
        return self.layup.sums

    @property
    def full(self) -> Any:
        """The largest hot gap that it fills [m]."""
        return self.layup.thickness(0.0)

    @property
    def bled(self) -> Any:
        """What is left in the gap when all has bled that can [m]."""
        return self.layup.thickness(self.case.zone.bleed_limit.value)

    @property
    def smallest(self) -> Any:
        """The smallest hot gap that it closes to [m]."""
        return larger(self.bled, self.layup.packed + self.layup.layers)

    def part(self, gap: Any = None, only: Collection[str] | None = None) -> dict[str, Any]:
        """Attributes of the cured part at a hot gap [m], the centered one where none is given.

        No resin is added where there is too little, and the tool stays open where it does not close. only:
        the keys wanted, all where None.
        """
        bleed = self.layup.bleed_for(self.case.hot_gap(self.x) if gap is None else gap)
        return cured(self.sums, bleed=self.layup.within(bleed), void_content=self.x[VOID], only=only)


def lay(case: ZoneCase, fill_plies: int, x: Numbers | None = None) -> Laid:
    """A count of the filling plies in the zone, on these numbers, the nominal ones where None."""
    x = case.inputs.numbers() if x is None else x
    return Laid(case, fill_plies, x, lay_up(case, fill_plies, x))


def numbers_at(case: ZoneCase, fill_plies: int, x: Numbers) -> dict[str, Any]:
    """Every number of a row."""
    laid = lay(case, fill_plies, x)
    part = laid.part()
    gap, layers, sums = case.hot_gap(x), laid.layup.layers, laid.sums
    return {
        **part,
        "fill_ratio": cavity.fill_ratio(stack=laid.full - layers, layers=layers, gap=gap),
        "bleed": laid.layup.bleed_for(gap),
        "fiber_volume_in_gap": cavity.fiber_volume_in_gap(
            fiber_thickness=sums.fiber_thickness, gap=gap, layers=layers
        ),
        "thickness_if_gap_holds": gap,
        "void_if_gap_holds": cavity.void_if_gap_holds(thickness=part["thickness"], gap=gap),
    }


def closes_cold(case: ZoneCase) -> bool:
    """Whether the tool is shut before it is heated."""
    return case.part.tool is not None and case.part.tool.closes == "cold"


def fills_and_closes(
    laid: Laid, gaps: Sequence[Any] | None = None, *, hot_alone: bool = False
) -> tuple[Any, Any]:
    """Whether the count fills the hot gap on every side, and whether the tool closes on it.

    gaps: hot gap of every side where it is known already [m]; hot_alone: without asking whether it goes into
    a tool that is shut cold.
    """
    case, full = laid.case, laid.full
    fills, closes, smallest = np.True_, np.True_, laid.smallest
    for gap in case.sides(laid.x) if gaps is None else gaps:
        fills, closes = fills & (full >= gap), closes & (smallest <= gap)
    if closes_cold(case) and not hot_alone:
        closes = closes & (laid.layup.laid_up <= case.cold_gap(laid.x))
    return fills, closes


def masks(laid: Laid, gaps: Sequence[Any], held_to: list[Rule]) -> dict[str, Any]:
    """For every draw: fills, closes, and inside the individual and the average limits.

    gaps: hot gap of every side [m].
    """
    fills, closes = fills_and_closes(laid, gaps)
    wanted = {rule.attribute for rule in held_to}
    parts = [laid.part(gap, wanted) for gap in gaps] if held_to else []
    return {"fills": fills, "closes": closes, **inside(held_to, *parts)}


def inside(held_to: Sequence[Rule], *parts: Mapping[str, Any]) -> dict[str, Any]:
    """Whether attributes of all of some parts are inside the individual and the average limits."""
    within: dict[str, Any] = {"individual": np.True_, "average": np.True_}
    for part, rule in product(parts, held_to):
        within[rule.scope] = within[rule.scope] & rule.met(part[rule.attribute])
    return within


def outside(part: Mapping[str, Estimate], held_to: Sequence[Rule]) -> tuple[Missed, ...]:
    """The limits that the nominal part does not meet."""
    values = ((rule, part[rule.attribute].value) for rule in held_to)
    return tuple(
        Missed(rule.attribute, rule.scope, value, rule.low if value < rule.low else rule.high)
        for rule, value in values
        if not rule.met(value)
    )


def chance_of(drawn: Mapping[str, Any], count: int, needed: Mapping[str, str], draws: int) -> Chance:
    """The shares of the draws of one count.

    needed: what must hold beside the limits -> why nobody can say whether it does, '' where it is known.
    """
    names = (*needed, "individual", "average")
    masks = {name: drawn[f"{count} {name}"].astype(bool, copy=False) for name in names}
    within = masks["individual"] & masks["average"]
    together = reduce(and_, (masks[name] for name in needed), within)
    masks |= {"within": within, "together": together}
    share = {name: np.count_nonzero(mask) / draws for name, mask in masks.items()}
    return Chance(
        draws,
        within_average=share["average"],
        within_individual=share["individual"],
        within_limits=share["within"],
        all=None if any(needed.values()) else share["together"],
        at_most=share["together"],
        reason="; ".join(reason for reason in needed.values() if reason),
        **{name: None if reason else share[name] for name, reason in needed.items()},
    )


def chances(case: ZoneCase, fill_plies: list[int], scaled: Mapping[Any, float] | None = None) -> list[Chance]:
    """Chances of every count, the same draws for each; scaled: as of `simulate`."""
    held_to = rules(case)

    def formula(x: Numbers) -> dict[str, Any]:
        gaps = case.sides(x)
        return {
            f"{count} {what}": mask
            for count in fill_plies
            for what, mask in masks(lay(case, count, x), gaps, held_to).items()
        }

    drawn = case.inputs.simulate(formula, scaled, block=BLOCK)
    return [chance_of(drawn, count, NEEDED, case.inputs.draws) for count in fill_plies]


def chance_of_all(case: ZoneCase, fill_plies: int, scaled: Mapping[Any, float] | None = None) -> float:
    """The chance of one count that all holds together; as `chances`."""
    return chances(case, [fill_plies], scaled)[0].at_most


def verdict(case: ZoneCase, fill_plies: int, *, hot_alone: bool = False) -> Verdict:
    """Too few, fits or too many, of the nominal values, under a bladder by the limits alone.

    hot_alone: as in `fills_and_closes`.
    """
    laid = lay(case, fill_plies)
    if case.has_gap:
        fills, closes = fills_and_closes(laid, hot_alone=hot_alone)
        return TOO_FEW if not fills else FITS if closes else TOO_MANY
    ends = [laid.layup.attributes(bleed, laid.x[VOID]) for bleed in (0.0, laid.layup.end)]
    for rule in rules(case):
        if rule.attribute not in GROW_WITH_PLIES:
            continue
        values = [end[rule.attribute] for end in ends]
        if max(values) < rule.low:
            return TOO_FEW
        if min(values) > rule.high:
            return TOO_MANY
    return FITS if laid.full >= laid.layup.packed + laid.layup.layers else TOO_MANY


def is_bounded(case: ZoneCase) -> bool:
    """Whether anything says how many plies: a gap, a fixed stack, or a least thickness or weight."""
    bounds = any(rule.attribute in GROW_WITH_PLIES and rule.low > 0.0 for rule in rules(case))
    return case.has_gap or not case.zone.fill_with or bounds


def around(counts: range, most: int, likeliest: Callable[[range], int]) -> range:
    """The counts and those beside them; of more than so many the first, else those around the likeliest."""
    if len(counts) > most:
        best = likeliest(counts)
        start = counts.start if best < counts.start + most + BESIDE else best - most // 2
        counts = range(start, start + most)
    return range(counts.start - BESIDE, counts.stop + BESIDE)


def counts_near(
    case: ZoneCase, wanted: int | None = None, likeliest: Callable[[range], int] | None = None
) -> list[int]:
    """Counts of the filling plies to show: those that fit, and two on each side.

    likeliest: picks of many that fit the one with the highest chance, as in a gap where None.
    """
    if not case.zone.fill_with:
        return [0]
    least = 0 if case.fixed_plies else 1
    if not is_bounded(case):
        return [wanted] if wanted is not None else list(range(least, least + FEW))
    enough = (n for n in range(least, MOST_PLIES) if verdict(case, n, hot_alone=True) != TOO_FEW)
    last = first = next(enough, MOST_PLIES)
    while last < MOST_PLIES and verdict(case, last, hot_alone=True) == FITS:
        last += 1

    def in_gap(counts: range) -> int:
        by_few = chances(case.of_draws(FEW_DRAWS, SEED), [*counts])
        return max(zip(counts, by_few, strict=True), key=lambda pair: pair[1].at_most)[0]

    shown = {n for n in around(range(first, last), MOST_ROWS, likeliest or in_gap) if n >= least}
    return sorted(shown if wanted is None else shown | {wanted})


def rows(case: ZoneCase, fill_plies: list[int]) -> list[GapRow]:
    """A row for each count of the filling plies."""
    rows = []
    gaps, held_to = case.sides(case.inputs.numbers()), rules(case)
    for count, chance in zip(fill_plies, chances(case, fill_plies), strict=True):
        at = estimates(lambda y, n=count: numbers_at(case, n, y), case.inputs)
        each = [(gap, lay(case, count).part(gap)) for gap in gaps] if len(gaps) > 1 else []
        sides = [{"hot_gap": gap} | {key: part[key] for key in ON_A_SIDE} for gap, part in each]
        rows.append(
            GapRow(
                plies=case.plies(count),
                fill_plies=count,
                **{name: at.pop(name) for name in IN_GAP},
                part=at,
                verdict=verdict(case, count),
                chance=chance,
                outside=outside(at, held_to),
                sides=tuple(sides),
            )
        )
    return rows
