"""How many plies fill each hot gap, at which fiber volume and chances, and what to change where none does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from laminate.press import advice, cold, stack
from laminate.press.case import ZoneCase, assumptions_of
from laminate.press.charge_list import ChargeList, charge_list
from laminate.press.closing_window import (
    ClosingWindow,
    Nearest,
    bleed_rule,
    closing_window,
    nearest_two,
)
from laminate.press.conditions import Press
from laminate.press.counts import (
    FITS,
    NOT_JUDGED,
    GapRow,
    chance_of_all,
    counts_near,
    lay,
    near_top,
    rows,
    verdict,
)
from laminate.press.gap_change import GapChange, gap_change
from laminate.press.gap_closing import CLOSES, Closing, closing_of
from laminate.press.inputs import zone_case
from laminate.press.inverse import (
    CHANCE,
    NOTHING,
    GapWanted,
    Order,
    ToleranceWanted,
    Wanted,
    gap_for,
    order_for,
    tolerances_for,
)
from laminate.press.names import FORCE
from laminate.press.press import press_of
from laminate.press.pressed import DO_NOT, RISKY, USE, PressedFill, PressForces
from laminate.press.pressed_zone import is_pressed, wishes_of, zones_together
from laminate.press.shared_inputs import DRAWS, NO_TOLERANCE, SEED, Estimate, estimates
from laminate.press.state import State
from laminate.press.unfavorable import Unstated, fit_not_known, unstated
from laminate.press.zone_answer import ZoneAnswer
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused, each
from laminate.values.quantities import MM
from laminate.values.said import Figure, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.names import Counts


@dataclass(frozen=True, slots=True)
class ZoneFill(ZoneAnswer):
    """The answer for one zone in a gap between hard walls.

    use: the row to lay up, None where no count fits; nearest: the two counts that nearly fit, where none
    does; discussed: the row that window and inverse answers are for; equal_chance: counts that chance alone
    does not tell apart from it; toleranced: whether any input carries a ±, without which a chance says only
    inside or outside; assumed_exact: inputs that count as exact, as they carry no ±; left_to_close: what the
    clamp has left to close the gap [Pa], None where left_out names what is not given; gap_change: the gap in
    which a count would, where that row is not advised; gaps: smallest and largest hot gap that each row fills
    and closes to [m]; interference: by how much core and stacks as laid up are larger than the tool leaves
    them, by direction in which it does not open, and by how much the core is at gel where no laminate lies
    between [m]; goes_in: whether the core goes in all the same, within the ± of the sizes.
    """

    hot_gap: Estimate
    cold_gap: Estimate
    rows: tuple[GapRow, ...]
    use: GapRow | None
    discussed: GapRow
    equal_chance: tuple[int, ...]
    window: ClosingWindow
    nearest: tuple[Nearest, ...]
    bleed_rule: float | None
    gap_wanted: GapWanted | None
    order: Order | None
    tolerances: tuple[ToleranceWanted, ...]
    chance_wanted: float
    toleranced: bool
    gap_change: GapChange | None
    assumed_exact: tuple[str, ...]
    left_to_close: float | None
    left_out: tuple[str, ...]
    gaps: tuple[tuple[float, float], ...]
    interference: Mapping[str, Estimate]
    goes_in: bool

    @property
    def best(self) -> GapRow:
        """The row to use, or the one that comes nearest."""
        return self.use or self.discussed

    @property
    def pressure_limit(self) -> float | None:
        """Pressure that the tool is built for [Pa]."""
        tool = self.case.part.tool
        return None if tool is None or tool.pressure_limit is None else tool.pressure_limit.value

    @property
    def advised(self) -> bool:
        """Whether the count to use is likelier to come out within limits than not, nominally inside too."""
        return self.use is not None and self.use.advised


@dataclass(frozen=True, slots=True)
class Fill:
    """The answer for every zone.

    press: where rubber or a bladder presses in it, or it says anything of a gap; forces: on it; counts: its
    counts, by zone; plies_asked: all fiber plies that a person asked about, by zone; moldings: uses of cores
    so far.
    """

    part: Part
    zones: tuple[ZoneFill | PressedFill, ...]
    draws: int
    seed: int
    forces: PressForces | None
    charge: ChargeList
    press: Press | None = None
    counts: Counts = field(default_factory=dict)
    plies_asked: Counts = field(default_factory=dict)
    moldings: Counts = field(default_factory=dict)

    @property
    def worn(self) -> dict[str, int]:
        """The cores of its zones that have been used more often than their limit, with that limit."""
        cores = {name: self.part.core[name] for zone in self.zones for name in zone.case.cores}
        limits = ((name, core.limit_moldings) for name, core in cores.items() if name in self.moldings)
        return {name: most for name, most in limits if most is not None and self.moldings[name] > most}

    @property
    def good(self) -> bool:
        """Whether each zone has a count to use, with cores within their moldings."""
        return self.every_zone_fits and not self.worn

    @property
    def every_zone_fits(self) -> bool:
        """Whether each zone has a count to use."""
        return all(zone.use is not None for zone in self.zones)


def best(rows: Sequence[GapRow]) -> tuple[GapRow | None, tuple[int, ...]]:
    """The row to use among those that fit, and the counts that chance alone does not tell apart from it.

    The highest chance of all (fills, closes, within limits); within the sampling error of two the one with
    less resin to bleed.
    """
    fitting = [row for row in rows if row.verdict == FITS]
    if not fitting:
        return None, ()
    equal_chance = near_top(fitting)
    chosen = min(equal_chance, key=lambda row: (row.bleed.value, row.plies))
    return chosen, tuple(row.plies for row in equal_chance if row is not chosen)


def check_gap(case: ZoneCase, file: str) -> None:
    """Raise `Refused` where nothing is left of the gap at gel temperature, or nothing bounds the count."""
    place = f"zone.{case.name}"
    x = case.inputs.numbers()
    sums = case.sums(1, x) if case.zone.fill_with or case.fixed_plies else None
    if sums is None or not sums.resin:
        actual = "no plies" if sums is None else "plies without resin"
        raise Refused(Problem("nothing-to-fill", file, place, actual, "plies of a prepreg, or fill_with"))
    taken = case.sums(1 if case.zone.fill_with else 0, x).layers.in_gap
    for gap in case.sides(x):
        if gap <= taken:
            why = "the core fills its cavity at gel temperature" if case.room else "nothing is left for plies"
            beside = Said(" with layers of ", _to_3_places(taken)) if taken else ""
            actual = Said("a hot gap of ", _to_3_places(gap), beside, f": {why}")
            raise Refused(Problem("no-hot-gap", file, place, actual, "room for plies at gel temperature"))


def _to_3_places(length: float) -> Figure:
    return Figure(length, MM, written=f"{1e3 * length:.3f}")


def make_case(
    part: Part, name: str, file: str, made: stack.Ingredients | None, void_content: SIValue | None
) -> ZoneCase:
    """The zone with its inputs, checked."""
    case = zone_case(part, name, file, made, void_content)
    check_gap(case, file)
    return case


def _discussed(
    case: ZoneCase, rows: tuple[GapRow, ...], near: tuple[Nearest, ...], asked: int | None, use: GapRow | None
) -> GapRow:
    """The count that the rest of the answer is about: asked, used, or the one that needs the least change."""
    if asked is not None:
        return next(row for row in rows if row.plies == asked)
    if use is not None:
        return use
    able = [n for n in near if n.change is not None]
    if able:
        closest = min(able, key=lambda n: abs(n.change or 0.0)).plies
    else:
        hot = (row.plies for row in rows if verdict(case, row.fill_plies, hot_alone=True) == FITS)
        closest = next(hot, rows[0].plies)
    return next((row for row in rows if row.plies == closest), rows[0])


def fill_zone(
    case: ZoneCase,
    asked: int | None = None,
    *,
    wanted: Wanted = NOTHING,
    closing: Closing = CLOSES,
    inverse: bool = True,
) -> ZoneFill:
    """The answer for one zone in a gap.

    asked: count of all fiber plies asked about; wanted: what is asked the other way round; closing: what the
    press leaves the gap; inverse: whether to look for gap, order and tolerances too.
    """
    goal = CHANCE if wanted.chance is None else wanted.chance
    shown = case.stated_fill_plies if asked is None else case.fill_plies(asked, "")
    counted = tuple(rows(case, counts_near(case, shown)))
    if open_keys := tuple(fit_not_known(case)):
        counted = tuple(row.judged(NOT_JUDGED) for row in counted)
    use, equal_chance = best(counted)
    near = nearest_two(case, counted)
    discussed = _discussed(case, counted, near, asked, use)
    sizes = estimates(lambda y: {"hot": case.hot_gap(y), "cold": case.cold_gap(y)}, case.inputs)
    graded = use or discussed  # whatever count is asked about
    silent = unstated(case, graded.fill_plies, graded.chance.at_most)
    interference, goes_in = cold.misfits(case, graded.fill_plies)
    grade, missing = _graded(case, use, closing, silent, goes_in=goes_in)
    closed = {row.plies: closing.of(row) for row in counted}
    volume, toleranced = wanted.fiber_volume, bool(case.inputs.sources())
    short = inverse and toleranced and discussed.verdict == FITS and discussed.chance.at_most < goal
    short &= closing.chance in (None, 1.0)  # else it is not of the gap alone
    chance_with = partial(chance_of_all, case, discussed.fill_plies)
    window = closing_window(case, discussed, counted)
    ways = tuple(replace(way, chance=closing.least(way.chance)) for way in window.what_opens_it)
    without = () if toleranced else (NO_TOLERANCE,)
    return ZoneFill(
        case,
        core=", ".join(case.cores) or None,
        core_shared_with=tuple(n for n in (case.room.zones if case.room else ()) if n != case.name),
        packing_limit=_packing(case, discussed.fill_plies),
        not_measured=(*without, *case.inputs.not_measured(), *assumptions_of(case), *closing.taken),
        grade=grade,
        missing=missing,
        hot_gap=sizes["hot"],
        cold_gap=sizes["cold"],
        rows=tuple(closed.values()),
        use=closed[use.plies] if use and closing.verdict == FITS else None,
        discussed=closed[discussed.plies],
        equal_chance=equal_chance,
        window=replace(window, what_opens_it=ways),
        nearest=near,
        bleed_rule=bleed_rule(case, discussed) if use is None else None,
        gap_wanted=gap_for(case, discussed.fill_plies, volume) if inverse and volume else None,
        order=order_for(case, discussed.fill_plies, volume) if inverse else None,
        tolerances=tolerances_for(case.inputs, goal, chance_with) if short else (),
        chance_wanted=goal,
        toleranced=toleranced,
        gap_change=gap_change(case, counted) if use and not use.advised else None,
        assumed_exact=silent.assumed_exact,
        left_to_close=closing.left,
        left_out=(*open_keys, *closing.left_out),
        gaps=_gaps(case, counted),
        interference=interference,
        goes_in=goes_in,
    )


def _graded(
    case: ZoneCase, use: GapRow | None, closing: Closing, silent: Unstated, *, goes_in: bool
) -> tuple[str, tuple[str, ...]]:
    """How far a count can be advised, even where what is not stated is unfavorable, and what to state.

    silent: what is not stated; goes_in: whether its core goes in cold.
    """

    def grade_of(closing: Closing, least: float) -> str:
        row = use and closing.of(use)
        if row is None or not row.advised:
            return DO_NOT
        least = min(row.chance.at_most, least, 0.5 if closing.missing else 1.0)
        return USE if goes_in and least >= case.part.limits.chance else RISKY if least >= 0.5 else DO_NOT

    grade, missing = grade_of(closing, silent.least), (*silent.names, *closing.missing)
    if closing.advised is not None and grade == USE != grade_of(closing.advised, silent.least):
        grade, missing = grade_of(closing, min(silent.least, 0.5)), (*missing, *closing.moved)
    return grade, missing


def _gaps(case: ZoneCase, rows: Sequence[GapRow]) -> tuple[tuple[float, float], ...]:
    """The smallest and the largest hot gap that each count fills and closes to [m]."""
    laid = [lay(case, row.fill_plies) for row in rows]
    return tuple((float(gap.smallest), float(gap.full)) for gap in laid)


def _packing(case: ZoneCase, fill_plies: int) -> float:
    """Fiber volume to which the stack packs, each form to its own limit."""
    laid = lay(case, fill_plies)
    return float(laid.sums.fiber_thickness / laid.layup.packed) if laid.sums.plies else 1.0


def fill(
    part: Part,
    file: str = "",
    *,
    zones: Sequence[str] | None = None,
    made: stack.Ingredients | None = None,
    wanted: Wanted = NOTHING,
    plies: Counts | None = None,
    moldings: Counts | None = None,
    void_content: SIValue | None = None,
    humidity: SIValue | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    inverse: bool = True,
) -> Fill:
    """Every ply count near the gap of each zone, and the one to use.

    part: what engineering fixes; file: as the person called it; zones: their names, None for all; made:
    material values of a batch in place of the nominal ones; the rest as in `fill_zone`.
    plies: all fiber plies asked about, by zone; moldings: uses of cores so far.
    Raises `Refused` with what is missing or impossible in any zone.
    """
    names, asked = list(zones if zones is not None else part.zone), plies or {}
    press = _press(
        part, file, made=made, humidity=humidity, void_content=void_content, draws=draws, seed=seed
    )
    under = {name for name in part.zone if press is not None and is_pressed(press, name)}

    def ready(name: str) -> ZoneCase:
        by_press = press.cases if press is not None and name in under else {}
        case = by_press.get(name) or make_case(part, name, file, made, void_content)
        if name in asked:
            case.fill_plies(asked[name], file)
        return case.of_draws(draws, seed)

    cases = each(ready, names)
    answers: dict[str, ZoneFill | PressedFill] = {}
    counts: dict[str, int] = {}
    advised: dict[str, int] = {}
    if press is not None:
        wanted_counts = {name: asked.get(name) for name in names if name in under}
        of_rubber, counts = zones_together(press, wanted_counts, asked)
        for name, pressed in of_rubber.items():
            answers[name] = replace(pressed, wishes=wishes_of(press, pressed, counts, wanted))
        advised = {name: pressed.best.plies for name, pressed in of_rubber.items()}
    for name in (name for name in names if name not in under):
        case = cases[name]
        closing = CLOSES if press is None else closing_of(press, case, counts, asked, advised)
        answers[name] = fill_zone(case, asked.get(name), wanted=wanted, closing=closing, inverse=inverse)
    forces = None
    if press is not None and under:
        of_press = [a for a in answers.values() if isinstance(a, PressedFill)]
        if len(names) == 1:  # else all are judged with what is stated
            counts[names[0]] = answers[names[0]].best.plies
        if all(a.use for a in of_press):
            counts |= advised
        holds = ((a.together or a.best).chance.holds for a in of_press)
        least = min((share for share in holds if share is not None), default=None)
        forces = advice.forces(lambda x: State(press.at(x), counts), least)
    charge = charge_list(part, {name: answers[name].best.plies for name in names}, made)
    zone_fills = tuple(answers[name] for name in names)
    about = {name: asked[name] for name in names if name in asked}
    return Fill(part, zone_fills, draws, seed, forces, charge, press, counts, about, moldings or {})


def _press(part: Part, file: str, **asked: Any) -> Press | None:
    """The press, where rubber or a bladder presses in it, a gap is to close with a pressure, or all is known.

    asked: as of `press_of`.
    """
    clamped = part.tool is not None and part.tool.clamp_force is not None
    pressed = any(z.core or z.room or z.bladder or z.wanted_pressure for z in part.zone.values())
    if not (clamped or pressed):
        return None
    press = press_of(part, file, **asked)
    x = press.inputs.values
    areas = [room.projected_area(press.inputs.numbers()) for room in press.rooms]
    areas += [x.get(Key("zone", name, "projected_area")) for name in press.alone]
    known = FORCE in x and None not in areas
    judges = known or any(is_pressed(press, n) or press.cases[n].wanted is not None for n in press.cases)
    return press if judges else None
