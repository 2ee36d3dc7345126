"""May batches be pooled? Scatter between lots, batches, presses and cores; and what a pool can say."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, stdev

from laminate.formulas.control_chart import SAME
from laminate.formulas.lot_scatter import variance_components
from laminate.formulas.statistics import between_lots_f, capability, capability_interval, tolerance_factor
from laminate.formulas.straight_line import straight_line
from laminate.history.points import LOT, Pair, Series, alike, lot_form
from laminate.values.sequences import by_key

BY_LOT, BY_BATCH, BY_PRESS, BY_CORE, BY_ISSUE = "material lot", "batch", "press", "core", "issue"
LEVEL = 0.05
"""Chance below which lots are said to scatter and are not pooled; common practice, no source."""
LEAST_FOR_CAPABILITY = 5
"""Fewest values, and batches, for a capability index; no source: below it the interval says nothing."""
LEAST_FOR_WEAR = 6
CONFIDENCE = 0.95
ALL_LOTS = "all lots"
BASES = {"A": (0.99, 55, 5), "B": (0.90, 18, 3)}
"""Share of the coupons, fewest coupons and fewest lots of each basis (CMH-17 volume 1, A55 and B18; from
memory).
"""


@dataclass(frozen=True, slots=True)
class Group:
    """Values that belong together: their name, count and mean."""

    name: str
    n: int
    mean: float


@dataclass(frozen=True, slots=True)
class Scatter:
    """Whether groups differ by more than their members do.

    by: what they are groups of; ratio, chance: F of the one-way analysis of variance, None where it cannot be
    tested, and `why` not; chance: of such a ratio where the groups do not differ.
    """

    by: str
    groups: tuple[Group, ...]
    ratio: float | None = None
    chance: float | None = None
    why: str = ""

    @property
    def scatters(self) -> bool | None:
        """True, False, or None where it cannot be tested."""
        return None if self.chance is None else self.chance < LEVEL


@dataclass(frozen=True, slots=True)
class Wear:
    """The slope of the values over the moldings of a core, in units of the values a molding."""

    core: str
    n: int
    slope: float
    slope_u: float
    chance: float

    @property
    def shows(self) -> bool:
        """Whether the slope is more than scatter."""
        return self.chance < LEVEL


@dataclass(frozen=True, slots=True)
class Capable:
    """A capability index against the limits on batch averages or on individuals, with its 95 % interval.

    of: 'all lots' or one lot; n: values that the interval rests on; deviation: of the value that is limited;
    why: in words where there is no index, or how it is to be read.
    """

    scope: str
    limits: Pair
    of: str
    n: int
    mean: float | None = None
    deviation: float | None = None
    cpk: float | None = None
    low: float | None = None
    high: float | None = None
    why: str = ""

    @property
    def whole(self) -> bool:
        """Whether it is of the process, not of one lot."""
        return self.of == ALL_LOTS


@dataclass(frozen=True, slots=True)
class Basis:
    """A tolerance bound on single coupons: with 95 % confidence a share lies above `low`, or below `high`.

    factor: one-sided, None of fewer than two coupons; low, high: None where it is refused, and `why`.
    """

    letter: str
    population: float
    n: int
    lots: int
    factor: float | None
    low: float | None
    high: float | None
    why: str = ""


def _scatter_between(by: str, pairs: Iterable[tuple[str, Sequence[float]]]) -> Scatter:
    """Test groups of values for scatter between them; pairs: the name of a group and values of it."""
    names: dict[str, str] = {}
    form = str if by == BY_BATCH else lot_form
    named = [(name, value) for name, values in pairs if name for value in values]
    groups = by_key((names.setdefault(form(name), name), value) for name, value in named)
    shown = tuple(Group(name, len(values), fmean(values)) for name, values in groups.items())
    if len(shown) < 2:
        return Scatter(by, shown, why=f"one {by} only" if shown else f"no {by} is named")
    if alike([value for values in groups.values() for value in values]):
        return Scatter(by, shown, why="the values do not scatter at all")
    if sum(group.n for group in shown) <= len(shown):
        return Scatter(by, shown, why=f"one value of each {by}: scatter inside it is not known")
    ratio = between_lots_f(lots=list(groups.values()))
    return Scatter(by, shown, ratio.ratio if math.isfinite(ratio.ratio) else None, ratio.chance)


def scatter_of(series: Series) -> list[Scatter]:
    """The tests of a series: its batch values by lot, press, issue and core; its coupons by batch."""
    points = series.points
    if series.key.each == LOT:
        return []
    scatters = list(_between_lots(series))
    if any(len(point.coupons) > 1 for point in points):
        scatters.append(_scatter_between(BY_BATCH, [(p.origin.batch, p.coupons) for p in points]))
    scatters.append(_scatter_between(BY_PRESS, [(p.origin.press, [p.value]) for p in points]))
    scatters.append(_scatter_between(BY_ISSUE, [(p.origin.issue, [p.value]) for p in points]))
    for core in dict.fromkeys(name for p in points for name, _, _ in p.origin.cores):
        pairs = [(p.origin.core(core)[0], [p.value]) for p in points]
        scatters.append(_scatter_between(f"{BY_CORE} {core}", pairs))
    return [scatter for scatter in scatters if scatter.by in (BY_LOT, BY_BATCH) or len(scatter.groups) > 1]


def _between_lots(series: Series) -> Iterator[Scatter]:
    """By lot; where batches have lots of several prepregs, also by those of each that part them otherwise."""
    points = series.points
    together = [lot_form(point.origin.lot) for point in points]
    yield _scatter_between(BY_LOT, [(p.origin.lot, [p.value]) for p in points])
    for prepreg in prepregs_of(series):
        lots = [" + ".join(point.origin.lots_of(prepreg)) for point in points]
        if 1 < len({*map(lot_form, lots)}) < len({*together}):
            pairs = [(lot, [point.value]) for lot, point in zip(lots, points, strict=True)]
            yield _scatter_between(f"{BY_LOT} of {prepreg}", pairs)


def prepregs_of(series: Series) -> list[str]:
    """The prepregs of which its batches name lots."""
    return list(dict.fromkeys(name for point in series.points for name, _ in point.origin.prepregs))


def fewest_lots(series: Series) -> tuple[int, str]:
    """How many lots the coupons are of, counted for each prepreg, and that with the fewest, '' for one.

    Lots of two prepregs in turn are many pairs, and still few lots of either.
    """
    counts = {
        prepreg: len({lot_form(lot) for p in series.points for lot in p.origin.lots_of(prepreg)})
        for prepreg in prepregs_of(series)
    }
    if not counts:
        return len({lot_form(lot) for point in series.points for lot in point.origin.lots}), ""
    fewest = min(counts, key=lambda prepreg: counts[prepreg])
    return counts[fewest], fewest if len(counts) > 1 else ""


def wear_of(series: Series) -> Iterator[Wear]:
    """The slope of the values over the moldings of each core that was counted.

    A core that stands in the place of another one makes a step, not wear: each identity has its own slope.
    """
    if series.key.each == LOT:
        return
    cores = by_key(
        ((name, lot_form(identity)), (identity, n, point.value))
        for point in series.points
        for name, identity, n in point.origin.cores
        if n is not None
    )
    names = [name for name, _ in cores]
    for (name, _), used in cores.items():
        core = f"{name} {used[0][0]}" if names.count(name) > 1 else name
        pairs = [(n, value) for _, n, value in used]
        enough = len(pairs) >= LEAST_FOR_WEAR and len({n for n, _ in pairs}) > 1
        if enough and not alike([value for _, value in pairs]):
            line = straight_line(x=[n for n, _ in pairs], y=[value for _, value in pairs])
            yield Wear(core, len(pairs), line.slope, line.slope_u, line.chance)


def _percent(test: Scatter) -> str:
    share = test.chance or 0.0
    return "under 0.1 %" if share < 0.001 else f"{100.0 * share:.2g} %"


def _by(tests: Iterable[Scatter], by: str) -> Scatter | None:
    """The test by batches, or by lots; of several by lots the one that scatters most surely."""
    of = [test for test in tests if test.by.startswith(by)]
    return min(of, key=lambda test: 1.0 if test.chance is None else test.chance, default=None)


def _capable(of: Capable) -> Capable:
    """With its index, where its values are enough and scatter."""
    if of.n < LEAST_FOR_CAPABILITY or of.mean is None or of.deviation is None:
        return replace(of, why=f"{of.n} values; {LEAST_FOR_CAPABILITY} are needed")
    if of.deviation <= SAME * abs(of.mean):
        return replace(of, why="the values do not scatter at all")
    cpk = capability(mean=of.mean, deviation=of.deviation, minimum=of.limits[0], maximum=of.limits[1])
    interval = capability_interval(cpk=cpk, n=of.n, confidence=CONFIDENCE)
    return replace(of, cpk=interval.cpk, low=interval.low, high=interval.high)


def _of_values(scope: str, limits: Pair, of: str, values: Sequence[float]) -> Capable:
    """The index of values."""
    mean, deviation = (fmean(values), stdev(values)) if len(values) > 1 else (None, None)
    return _capable(Capable(scope, limits, of, len(values), mean, deviation))


def _of_coupons(limits: Pair, of: str, batches: Sequence[Sequence[float]]) -> Capable:
    """Single coupons: pooled where batches do not differ; else by components, resting on the number of
    batches.
    """
    coupons = [value for batch in batches for value in batch]
    if len(batches) < LEAST_FOR_CAPABILITY <= len(coupons):
        count = "1 batch" if len(batches) == 1 else f"{len(batches)} batches"
        why = f"{count}; {LEAST_FOR_CAPABILITY} are needed"
        return Capable("individual", limits, of, len(coupons), why=why)
    alone = len(batches) < 2 or len(coupons) <= len(batches) or alike(coupons)
    if alone or between_lots_f(lots=batches).chance >= LEVEL:
        return _of_values("individual", limits, of, coupons)
    total = variance_components(lots=batches).total
    whole = _capable(Capable("individual", limits, of, len(batches), fmean(coupons), total))
    why = "batches differ: scatter between and inside them; the interval rests on the number of batches"
    return replace(whole, why=whole.why or why)


def capability_of(series: Series, tests: Sequence[Scatter]) -> Iterator[Capable]:
    """Capability against each pair of limits: of all lots where they may be pooled, else lot by lot."""
    by_lot, whole = _by(tests, BY_LOT), ALL_LOTS
    for scope, limits in series.limits.items():
        if limits == (None, None):
            continue
        parts = [whole]
        if by_lot and by_lot.scatters:
            parts = [group.name for test in tests if test.by == BY_LOT for group in test.groups]
            why = f"not pooled: the lots scatter (chance {_percent(by_lot)} if they did not differ)"
            yield Capable(scope, limits, whole, len(series.points), why=why)
        for lot in parts:
            points = [p for p in series.points if parts == [whole] or lot_form(p.origin.lot) == lot_form(lot)]
            if scope == "average":
                yield _of_values(scope, limits, lot, [p.value for p in points])
            else:
                yield _of_coupons(limits, lot, [p.coupons or (p.value,) for p in points])


def basis_of(series: Series, tests: Sequence[Scatter]) -> Iterator[Basis]:
    """A- and B-basis of the single coupons, refused where lots or batches scatter or there are too few."""
    coupons = [value for point in series.points for value in point.coupons]
    if not coupons or series.key.each == LOT:
        return
    n, (lots, prepreg) = len(coupons), fewest_lots(series)
    for letter, (population, least, least_lots) in BASES.items():
        factor = low = high = None
        against = [*_against_basis(tests, (n, least), (lots, least_lots), prepreg)]
        if n > 1:
            factor = tolerance_factor(n=n, population=population, confidence=CONFIDENCE)
        if not against and factor is not None:
            mean, deviation = fmean(coupons), stdev(coupons)
            low, high = mean - factor * deviation, mean + factor * deviation
        yield Basis(letter, population, n, lots, factor, low, high, "; ".join(against))


def _against_basis(
    tests: Sequence[Scatter], coupons: tuple[int, int], lots: tuple[int, int], prepreg: str
) -> Iterator[str]:
    """What keeps a basis value back; coupons, lots: as many as there are, and the fewest that are needed."""
    if coupons[0] < coupons[1]:
        yield f"{coupons[0]} coupons, {coupons[1]} are needed"
    if lots[0] < lots[1]:
        of = f" of {prepreg}" if prepreg else ""
        yield f"{lots[0]} material lot{'s' if lots[0] != 1 else ''}{of}, {lots[1]} are needed"
    for by in (BY_LOT, BY_BATCH):
        test = _by(tests, by)
        if test is not None and test.scatters:
            plural = f"{by}s" if by == BY_LOT else "batches"
            yield f"{plural} scatter (chance {_percent(test)} if they did not differ): not pooled"
        elif by == BY_LOT and lots[0] >= 2 and (test is None or test.scatters is None):
            yield "scatter between lots cannot be tested"
