"""The gaps at which a count both fills and lets the tool close, and what opens that window (formula 8)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas import cavity, press
from laminate.press.counts import (
    BLOCK,
    FITS,
    TOO_FEW,
    TOO_MANY,
    GapRow,
    Laid,
    chance_of_all,
    closes_cold,
    fills_and_closes,
    lay,
)
from laminate.press.shared_inputs import Estimate, estimates
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.press.case import ZoneCase
    from laminate.press.names import Numbers

LEAST = 0.05
"""Least chance that a count fills and closes with which a gap is named for it."""


@dataclass(frozen=True, slots=True)
class WindowChange:
    """One change that alone opens the window for so many plies.

    what: 'gap', 'cavity', 'core width', 'ply count', 'bleed limit', 'bulk factor' or 'closes'; now and
    needed: before and after [SI], None where it is not a number; chance: that the count then fits and meets
    the limits, None where it is not tried.
    """

    what: str
    plies: int
    now: float | None
    needed: float | None
    chance: float | None = None

    @property
    def change(self) -> float | None:
        """By how much [SI]."""
        return None if self.now is None or self.needed is None else self.needed - self.now


@dataclass(frozen=True, slots=True)
class ClosingWindow:
    """The window of one count.

    governs: what sets the smallest hot gap, 'bleed limit' or 'packing limit'; smallest_cold_gap: the stack as
    laid up, None where the tool closes hot; shortfall: by how much a tool shut cold cannot take any stack
    that fills it hot, 0 or less where it can, None where it closes hot; middle: cold sizes, each alone, for
    the middle of the window.
    """

    plies: int
    open: bool
    smallest_hot_gap: Estimate
    largest_hot_gap: Estimate
    governs: str
    smallest_cold_gap: Estimate | None
    shortfall: float | None
    middle: dict[str, float]
    what_opens_it: tuple[WindowChange, ...]


@dataclass(frozen=True, slots=True)
class Nearest:
    """A count that does not fit: the hot gap at which it just would, and cold sizes.

    change: of the hot gap [m], None where no gap does it; laid_up: the cold gap it needs where the tool is
    shut cold; to_fit, to_middle: cold sizes, each alone, by 'gap', 'cavity' or 'core width' [m], none where
    with the tolerances no gap does it; chance: that it fills and closes with those to fit.
    """

    plies: int
    verdict: str
    change: float | None
    to_fit: dict[str, float]
    to_middle: dict[str, float]
    laid_up: float | None
    chance: float


def _at(laid: Laid) -> dict[str, Any]:
    return {"smallest": laid.smallest, "largest": laid.full, "laid_up": laid.layup.laid_up}


def closing_window(case: ZoneCase, row: GapRow, rows: Sequence[GapRow]) -> ClosingWindow:
    """The window of a row, and what opens it."""
    laid = lay(case, row.fill_plies)
    x, at = laid.x, estimates(lambda y: _at(lay(case, row.fill_plies, y)), case.inputs)
    is_open, cold = all(map(bool, fills_and_closes(laid))), closes_cold(case)
    ways = [] if is_open else _changes(laid, row, rows)
    shortfall = cavity.cold_window_shortfall(
        cold_gap=case.cold_gap(x), hot_gap=case.hot_gap(x), laid_up=laid.layup.laid_up,
        stack=laid.full - laid.layup.layers, layers=laid.layup.layers,
    )  # fmt: skip
    return ClosingWindow(
        plies=row.plies,
        open=is_open,
        smallest_hot_gap=at["smallest"],
        largest_hot_gap=at["largest"],
        governs="bleed limit" if laid.bled >= laid.layup.packed + laid.layup.layers else "packing limit",
        smallest_cold_gap=at["laid_up"] if cold else None,
        shortfall=float(shortfall) if cold else None,
        middle=case.change_for(float((laid.smallest + laid.full) / 2.0), x),
        what_opens_it=tuple(ways),
    )


def hot_gaps(laid: Laid, rate: float) -> tuple[float, float]:
    """Least and largest hot gap, centered, at which so many plies fit; the first above the second: none.

    On every side of an off-center core, and where the tool is shut cold with room for the stack as laid up;
    rate: how much the hot gap grows with the cold one.
    """
    case, x = laid.case, laid.x
    aside = case.aside(x)
    low, high = float(laid.smallest) + aside, float(laid.full) - aside
    if closes_cold(case):
        low = max(low, float(case.hot_gap(x)) + (float(laid.layup.laid_up) - float(case.cold_gap(x))) * rate)
    return low, high


def targets(laid: Laid) -> dict[str, float]:
    """The hot gap nearest to the one now at which so many plies fit, by the cold size that is changed.

    A size that cannot do it is left out.
    """
    gap, target_by_name = float(laid.case.hot_gap(laid.x)), {}
    for what, (_, rate) in laid.case.sizes(laid.x).items():
        low, high = hot_gaps(laid, rate)
        if low <= high * (1.0 + 1e-12):
            target_by_name[what] = min(max(gap, low), high)
    return target_by_name


def _chance(case: ZoneCase, fill_plies: int) -> float:
    """That a count fills and the tool closes; 1 without tolerances, where nominal values say it."""

    def formula(x: Numbers) -> dict[str, Any]:
        return {"fits": np.logical_and(*fills_and_closes(lay(case, fill_plies, x)))}

    drawn = case.inputs.simulate(formula, block=BLOCK) if case.inputs.sources() else {"fits": 1.0}
    return float(np.mean(drawn["fits"]))


def _to_fit(laid: Laid) -> tuple[dict[str, float], dict[str, float], float]:
    """Cold sizes, each alone, to fit and for the middle of the window, and the chance at the first.

    No sizes where with the tolerances neither does.
    """
    case, x, middle = laid.case, laid.x, float((laid.smallest + laid.full) / 2.0)
    at = {what: case.size_for(what, gap, x) for what, gap in targets(laid).items()}
    at_middle = {what: case.size_for(what, middle, x) for what in at}
    chances = [
        _chance(case.with_size(*next(iter(to.items()))), laid.fill_plies) for to in (at, at_middle) if to
    ]
    return (at, at_middle, chances[0]) if max(chances, default=0.0) >= LEAST else ({}, {}, 0.0)


def _changes(laid: Laid, row: GapRow, rows: Sequence[GapRow]) -> list[WindowChange]:
    """What alone opens the window of a row, or of another; each is tried before it is named."""
    case, x, now, count = laid.case, laid.x, laid.case.sizes(laid.x), laid.fill_plies
    changes = [
        WindowChange(what, row.plies, now[what][0], to, chance_of_all(case.with_size(what, to), count))
        for what, to in _to_fit(laid)[0].items()
    ]
    for other in rows:
        if other.verdict == FITS and other is not row:
            chance = other.chance.at_most
            changes.append(WindowChange("ply count", other.plies, row.plies, other.plies, chance))
    limit, cold_gap = case.zone.bleed_limit, case.cold_gap(x)
    narrowest, widest = (float(edge(case.sides(x))) for edge in (min, max))
    all_laid = [(other, lay(case, other.fill_plies)) for other in (row, *rows)]
    goes_in = [not closes_cold(case) or laid.layup.laid_up <= cold_gap for _, laid in all_laid]
    for (other, laid), cold in zip(all_laid, goes_in, strict=True):
        bleed = float(laid.layup.bleed_for(narrowest))
        fits = laid.full >= widest and narrowest >= laid.layup.packed + laid.layup.layers
        may = other.verdict == TOO_MANY and limit.value < bleed < 1.0 and fits and cold
        bled = case.with_key(Key("zone", case.name, "bleed_limit"), replace(limit, value=bleed))
        if may and _chance(bled, other.fill_plies) >= LEAST:
            chance = chance_of_all(bled, other.fill_plies)
            changes.append(WindowChange("bleed limit", other.plies, limit.value, bleed, chance))
            break
    for (other, laid), cold in zip(all_laid, goes_in, strict=True):
        if not cold and all(fills_and_closes(laid, hot_alone=True)):
            bare = laid.sums.void_free_ply_thickness
            needed = float((cold_gap - laid.layup.layers) / bare)
            if needed >= least_bulk_factor(case, other.fill_plies, x):
                now_factor = float(laid.sums.bulk_thickness / bare)
                changes.append(WindowChange("bulk factor", other.plies, now_factor, needed))
            changes.append(WindowChange("closes", other.plies, None, None))
            break
    return changes


def least_bulk_factor(case: ZoneCase, count: int, x: Numbers) -> float:
    """The least bulk factor that debulking can reach, the resin uncured and cold, no voids left [-].

    By the uncured density of each resin, where the part file leaves it out by the liquid one at gel.
    """
    uncured = {
        Key("resin", name, "liquid_density"): resin.uncured_density.value
        for name, resin in case.part.resin.items()
        if resin.uncured_density is not None
    }
    sums = case.sums(count, {**x, **uncured})
    fiber, liquid, cured = sums.fiber_thickness, sums.liquid_thickness, sums.resin_thickness
    return float(press.debulk_floor(fiber=fiber, liquid=liquid, cured=cured))


def nearest_two(case: ZoneCase, rows: Sequence[GapRow]) -> tuple[Nearest, ...]:
    """Where no count fits: the last that is too few and the first that is too many."""
    if any(row.verdict == FITS for row in rows):
        return ()
    few = [row for row in rows if row.verdict == TOO_FEW][-1:]
    many = [row for row in rows if row.verdict == TOO_MANY][:1]
    gap, counts = float(case.hot_gap(case.inputs.numbers())), []
    for row in (*few, *many):
        laid = lay(case, row.fill_plies)
        to_fit, to_middle, chance = _to_fit(laid)
        counts.append(
            Nearest(
                plies=row.plies,
                verdict=row.verdict,
                change=min((target - gap for target in targets(laid).values()), key=abs, default=None),
                to_fit=to_fit,
                to_middle=to_middle,
                laid_up=float(laid.layup.laid_up) if closes_cold(case) else None,
                chance=chance,
            )
        )
    return tuple(counts)


def bleed_rule(case: ZoneCase, row: GapRow) -> float:
    """The bleed limit from which on a count always exists for about so many plies (formula 5)."""
    laid = lay(case, row.fill_plies)
    share = float(laid.sums.liquid_thickness / (laid.full - laid.layup.layers))
    return float(cavity.smallest_bleed_limit(plies=row.plies, resin_volume=share))
