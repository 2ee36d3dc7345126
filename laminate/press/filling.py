"""How many plies fill each hot gap, at which fiber volume and chances, and what to change where none does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.press import stack
from laminate.press.case import ZoneCase, taken_for_granted, zone_case
from laminate.press.closing_window import (
    BleedRule,
    ClosingWindow,
    Nearest,
    bleed_rule,
    closing_window,
    nearest_two,
)
from laminate.press.counts import (
    FITS,
    Row,
    Rule,
    counts_near,
    is_bounded,
    lay,
    rows,
    rules,
    share_name,
    verdict,
)
from laminate.press.inverse import (
    GapWanted,
    Order,
    ToleranceWanted,
    Wanted,
    gap_for,
    order_for,
    tolerances_for,
)
from laminate.press.known import DRAWS, NO_TOLERANCE, SEED, Estimate, estimates
from laminate.press.remedy import Missed, Overfull, Remedy, missed, overfull, remedy
from laminate.press.steam import Steam, steam
from laminate.values.problems import Problem, Refused
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Part


@dataclass(frozen=True, slots=True)
class ZoneFill:
    """The answer for one zone.

    use: the row to lay up, None where no count fits; nearest: the two counts that nearly fit, where none
    does; against: the row that window and inverse answers are for; bladder: its pressure, where it presses;
    toleranced: whether any input carries a ±, without which a chance says only inside or outside; missed:
    limits that the row to use does not meet; remedy: the gap in which a count would, where that row is not
    advised; overfull: prepregs that hold more fiber than they pack to.
    """

    zone: str
    fill_with: str | None
    fixed_plies: int
    hot_gap: Estimate | None
    cold_gap: Estimate | None
    core: str | None
    core_shared_with: tuple[str, ...]
    bladder: float | None
    bleed_limit: float
    packing_limit: float
    rows: tuple[Row, ...]
    use: Row | None
    bounded: bool
    against: Row
    tied: tuple[int, ...]
    window: ClosingWindow | None
    nearest: tuple[Nearest, ...]
    bleed_rule: BleedRule | None
    gap_wanted: GapWanted | None
    order: Order | None
    tolerances: tuple[ToleranceWanted, ...]
    chance_wanted: float
    steam: Steam | None
    limits: tuple[Rule, ...]
    toleranced: bool
    missed: tuple[Missed, ...]
    remedy: Remedy | None
    overfull: tuple[Overfull, ...]
    not_measured: tuple[str, ...]

    @property
    def advised(self) -> bool:
        """Whether the count to use is likelier to come out within limits than not, nominally inside too."""
        return self.use is not None and self.use.advised


@dataclass(frozen=True, slots=True)
class Fill:
    """The answer for every zone."""

    part: Part
    zones: tuple[ZoneFill, ...]
    draws: int
    seed: int

    @property
    def every_zone_fits(self) -> bool:
        """Whether each zone has a count to use."""
        return all(zone.use is not None for zone in self.zones)


def best(found: Sequence[Row]) -> tuple[Row | None, tuple[int, ...]]:
    """The row to use among those that fit, and the counts that chance alone does not tell apart from it.

    The highest chance of all (fills, closes, within limits); within the sampling error of two the one with
    less resin to bleed.
    """
    fitting = [row for row in found if row.verdict == FITS]
    if not fitting:
        return None, ()
    top = max(fitting, key=lambda row: row.chance.all)
    tied = [
        row
        for row in fitting
        if top.chance.all - row.chance.all <= math.hypot(top.chance.error(), row.chance.error())
    ]
    chosen = min(tied, key=lambda row: (row.bleed.value if row.bleed else 0.0, row.plies))
    return chosen, tuple(row.plies for row in tied if row is not chosen)


def fill_row(zone: ZoneFill, plies: int | None = None) -> Row:
    """The row of so many plies, else the one to use or the nearest to it."""
    return next((row for row in zone.rows if row.plies == plies), zone.against)


def _has_plies(case: ZoneCase) -> bool:
    return bool(case.zone.fill_with or case.fixed_plies)


def check_gap(case: ZoneCase, file: str, *, layers: bool = True) -> None:
    """Raise `Refused` where nothing is left of the gap at gel temperature, or nothing bounds the count.

    layers: whether room must be left beside the layers too.
    """
    place = f"zone.{case.name}"
    sums = lay(case, 1, case.known.numbers()).sums if layers and _has_plies(case) else None
    if layers and (sums is None or not sums.resin):
        found = "no plies" if sums is None else "plies without resin"
        raise Refused(Problem("nothing-to-fill", file, place, found, "plies of a prepreg, or fill_with"))
    if not case.has_gap:
        return
    x = case.known.numbers()
    taken = lay(case, 1 if case.zone.fill_with else 0, x).layers if layers else 0.0
    for gap in case.sides(x):
        if gap <= taken:
            why = "the core fills its cavity at gel temperature" if case.core else "nothing is left for plies"
            beside = f" with layers of {1e3 * taken:.3f} mm" if taken else ""
            found = f"a hot gap of {1e3 * gap:.3f} mm{beside}: {why}"
            raise Refused(Problem("no-hot-gap", file, place, found, "room for plies at gel temperature"))


def make_case(
    part: Part, name: str, file: str, made: stack.Ingredients | None, void_content: Value | None
) -> ZoneCase:
    """The zone with its inputs, checked."""
    case = zone_case(part, name, file, made, void_content)
    if not case.has_gap:
        anywhere = "anywhere from none to its end"
        case.known.values[share_name(case)] = Value(
            0.5, 0.5 / math.sqrt(3.0), shape="rectangular", text=anywhere
        )
    check_gap(case, file)
    return case


def _fill_plies(case: ZoneCase, plies: int | None, file: str) -> int | None:
    """The plies of `fill_with` that make so many in all."""
    if plies is None:
        return None
    count = plies - case.fixed_plies
    if count < (0 if case.fixed_plies else 1) or (count and not case.zone.fill_with):
        found = f"{plies} plies where {case.fixed_plies} are fixed"
        raise Refused(
            Problem("ply-count", file, f"zone.{case.name}", found, "a count that the stack can have")
        )
    return count


def fill_zone(
    case: ZoneCase,
    *,
    wanted: Wanted | None = None,
    humidity: Value | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    file: str = "",
    inverse: bool = True,
) -> ZoneFill:
    """The answer for one zone.

    wanted: what is asked the other way round; humidity: relative, at which the prepreg was stored; draws,
    seed: of the chances; file: as the person called it; inverse: whether to look for gap, order and
    tolerances too.
    """
    wish = wanted or Wanted()
    asked = _fill_plies(case, wish.plies, file)
    found = tuple(rows(case, counts_near(case, asked), draws=draws, seed=seed))
    bounded = asked is not None or is_bounded(case)
    use, tied = best(found) if bounded else (None, ())
    near = nearest_two(case, found)
    able = [n for n in near if n.change is not None]
    closest = min(able, key=lambda n: abs(n.change or 0.0)).plies if able else None
    if closest is None:
        hot = (row.plies for row in found if verdict(case, row.fill_plies, hot_alone=True) == FITS)
        closest = next(hot, found[0].plies)
    against = next(
        (row for row in found if row.plies in (wish.plies, use.plies if use else closest)), found[0]
    )
    if wish.plies is not None:
        against = next(row for row in found if row.plies == wish.plies)
    sizes = (
        estimates(lambda y: {"hot": case.hot_gap(y), "cold": case.cold_gap(y)}, case.known)
        if case.has_gap
        else {}
    )
    ask = inverse and case.has_gap
    toleranced = bool(case.known.sources(but=[share_name(case)]))
    not_measured = [*case.known.not_measured(), *taken_for_granted(case)]
    return ZoneFill(
        zone=case.name,
        fill_with=case.zone.fill_with,
        fixed_plies=case.fixed_plies,
        hot_gap=sizes.get("hot"),
        cold_gap=sizes.get("cold"),
        core=case.zone.core,
        core_shared_with=tuple(
            name
            for name, zone in case.part.zone.items()
            if zone.core is not None and zone.core == case.zone.core and name != case.name
        ),
        bladder=case.part.bladder[case.zone.bladder].pressure.value if case.zone.bladder else None,
        bleed_limit=case.zone.bleed_limit.value,
        packing_limit=_packing(case, against.fill_plies),
        rows=found,
        use=use,
        bounded=bounded,
        against=against,
        tied=tied,
        window=closing_window(case, against, found) if case.has_gap else None,
        nearest=near,
        bleed_rule=bleed_rule(case, against) if case.has_gap and use is None else None,
        gap_wanted=gap_for(case, against.fill_plies, wish.fiber_volume)
        if ask and wish.fiber_volume
        else None,
        order=order_for(case, against.fill_plies, wish.fiber_volume) if ask else None,
        tolerances=(
            tolerances_for(case, against.fill_plies, wish.chance, seed=seed)
            if inverse and toleranced and against.verdict == FITS and against.chance.all < wish.chance
            else ()
        ),
        chance_wanted=wish.chance,
        steam=_steam(case, humidity),
        limits=tuple(rules(case)),
        toleranced=toleranced,
        missed=missed(case, use) if use else (),
        remedy=remedy(case, found, seed=seed) if use and not use.advised else None,
        overfull=overfull(case),
        not_measured=tuple(not_measured if toleranced else [NO_TOLERANCE, *not_measured]),
    )


def _packing(case: ZoneCase, fill_plies: int) -> float:
    """Fiber volume to which the stack packs, each form to its own limit."""
    laid = lay(case, fill_plies, case.known.numbers())
    return float(laid.sums.fiber_thickness / laid.packed) if laid.sums.plies else 1.0


def _steam(case: ZoneCase, humidity: Value | None) -> Steam | None:
    cycle = case.part.temperature
    if case.zone.bladder is None or cycle is None or cycle.cure is None:
        return None
    pressure = case.part.bladder[case.zone.bladder].pressure.value
    return steam(temperature=cycle.cure.value, humidity=humidity, resin=pressure)


def fill(
    part: Part,
    file: str = "",
    *,
    zones: Sequence[str] | None = None,
    made: stack.Ingredients | None = None,
    wanted: Wanted | None = None,
    plies: Mapping[str, int] | None = None,
    void_content: Value | None = None,
    humidity: Value | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    inverse: bool = True,
) -> Fill:
    """Every ply count near the gap of each zone, and the one to use.

    part: what engineering fixes; file: as the person called it; zones: their names, None for all; made:
    material values of a batch in place of the nominal ones; the rest as in `fill_zone`.
    plies: all fiber plies asked about, by zone.
    Raises `Refused` with what is missing or impossible in any zone.
    """
    names = list(zones if zones is not None else part.zone)
    wish, asked = wanted or Wanted(), plies or {}
    wishes = {name: replace(wish, plies=asked.get(name, wish.plies)) for name in names}
    cases, problems = [], []
    for name in names:
        try:
            cases.append(make_case(part, name, file, made, void_content))
            _fill_plies(cases[-1], wishes[name].plies, file)
        except Refused as refusal:
            problems += [p for p in refusal.problems if p not in problems]
    if problems:
        raise Refused(problems)
    answers = tuple(
        fill_zone(
            case,
            wanted=wishes[case.name],
            humidity=humidity,
            draws=draws,
            seed=seed,
            file=file,
            inverse=inverse,
        )
        for case in cases
    )
    return Fill(part, answers, draws, seed)
