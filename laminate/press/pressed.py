"""Ply counts of a zone that a rubber core or a bladder presses: verdict, bleed window, chances, advice.

Bleed is given or unknown, and pressure follows. SI units; pressures are above ambient.
"""

from __future__ import annotations

import bisect
import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.press.counts import (
    FITS,
    NOT_JUDGED,
    TOO_MANY,
    Chance,
    Row,
    around,
    chance_of,
    counts_near,
    inside,
    outside,
    rules,
)
from laminate.press.counts import verdict as by_limits
from laminate.press.shared_inputs import CONFIDENCE, FEW_DRAWS, NORMAL, Estimate, estimates
from laminate.press.state import State
from laminate.press.unstated import tool_not_judged
from laminate.press.windows import Window, bleed_at_no_pressure, bleed_window, by_window
from laminate.press.zone_answer import ZoneAnswer

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.inverse import ToleranceWanted
    from laminate.press.names import Counts
    from laminate.press.rooms import Room
    from laminate.press.steam import Steam
    from laminate.values.units import SIValue

NOT_PRESSED, OPENS = "not pressed", "opens the tool"
PRESSES, DEPENDS = "presses", "depends on the bleed"
USABLE = (PRESSES, DEPENDS, FITS, NOT_JUDGED)
"""Verdicts with which a count may still be laid up."""
USE, RISKY, DO_NOT, STATE_BLEED = "use", "risky", "do not", "state the bleed"
MOST_PLIES, MOST_ROWS = 400, 7
Verdict = tuple[str, Window | None]
Judged = dict[int, Verdict]
SHOWN = ("fiber_volume", "thickness")
"""Attributes whose ± is held against the draws: bleed stops where the pressure is gone, which is a kink."""
FAR_ENDS = (0.025, 0.975)
OPENS_AT_MOST = 0.05
"""Largest chance that the tool opens beside which a count is shown as pressed or fitting and no more."""


class Band(NamedTuple):
    """A number with the range of 95 % of the draws, or, where no bleed is stated, between its two ends."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedRow(Row):
    """One ply count under rubber or a bladder: what it becomes, its pressures.

    part: at the bleed that is stated, at none where none is; ends: the same at no bleed and at the end of
    bleed, where no bleed is stated; none_left_at: bleed at which no pressure is left, None where nothing
    presses; unjudged: whether nobody may say that the tool holds.
    """

    bleed: Band
    pressure_at_gel: Band | None
    pressure_at_worst: Band | None
    window: Window | None
    none_left_at: float | None
    ends: tuple[dict[str, float], ...] = ()
    unjudged: bool = False

    @property
    def may_open(self) -> bool:
        """Whether the tool holds on nominal values, and opens in more than 5 % of the draws."""
        holds = self.chance.holds
        return self.verdict in (PRESSES, FITS) and holds is not None and holds < 1.0 - OPENS_AT_MOST

    @property
    def says(self) -> str:
        """The verdict for people: that of the nominal values, and whether the tool may open all the same."""
        return f"{self.verdict}, may open" if self.may_open else self.verdict


@dataclass(frozen=True, slots=True)
class VolumeWindow:
    """Sizes of a core with which a count presses and the tool holds [m^3, m]; high None: no core does.

    low None: not judged, with high and the width of both.

    left: cold, between the cores of its room and the laid-up stacks, by direction [m]; below 0 it is forced;
    shut, within: at the least volume, whether the clamp holds, and the walls by the pressure limit.
    """

    core: str
    now: float
    low: float | None
    high: float | None
    width: tuple[float, ...] | None
    left: Mapping[str, float]
    shut: bool = False
    within: bool = True

    @property
    def forced(self) -> float:
        """By how much it is too large to go in cold [m]."""
        return -min((0.0, *self.left.values()))


class Wishes(NamedTuple):
    """What is asked the other way round of a zone under rubber or a bladder, and the answers.

    fiber_volume, chance: wanted, None where not asked; bleed: of the resin for that fiber volume, below 0 a
    shortfall, None without resin; end: the most that can bleed; tolerances: each alone gives the chance.
    """

    fiber_volume: float | None = None
    bleed: float | None = None
    end: float = 0.0
    chance: float | None = None
    tolerances: tuple[ToleranceWanted, ...] = ()


@dataclass(frozen=True, slots=True)
class PressForces:
    """The press at the stated counts, else those advised; where one zone is asked about, with its best count.

    Forces [N], worst moment, temperature it gives way at [K]. state: with what clamp and walls hold; at_gel,
    at_worst: opening forces of what is known, None where nothing is; with_bleed: at which bleed these are,
    "as stated" or "none", None where no rubber presses; whole: whether all that presses is
    known, else these are the least.
    """

    state: State
    at_gel: Estimate | None
    at_worst: Estimate | None
    worst_moment: str | None
    gives_way_at: float | None
    chance_holds: float | None
    with_bleed: str | None
    whole: bool


@dataclass(frozen=True, slots=True)
class PressedFill(ZoneAnswer):
    """The answer for one zone under rubber or a bladder.

    bladder: its pressure [Pa], None under rubber; use: the row to lay up, None unless its grade is 'use';
    best: the row that comes nearest; beside: at which counts other zones were taken that nothing states, in
    sentences; together: the row to use as it is with what is advised for every zone, None where that is what
    all zones are judged with.
    """

    bladder: float | None
    rows: tuple[PressedRow, ...]
    best: PressedRow
    needed: float
    cores: tuple[VolumeWindow, ...]
    supposed: tuple[str, ...]
    bounded: bool = True
    steam: Steam | None = None
    moves: tuple[tuple[Any, float], ...] = field(default=())
    beside: tuple[str, ...] = ()
    wishes: Wishes = field(default_factory=Wishes)
    together: PressedRow | None = None

    @property
    def pressed_by(self) -> str:
        """What presses it."""
        return "rubber" if self.bladder is None else "bladder"

    @property
    def bleed_stated(self) -> tuple[float, float, float] | None:
        """The stated bleed, its standard uncertainty and its half-width or twice that; None where none is."""
        stated = self.case.zone.bleed
        return None if stated is None else (stated.value, stated.spread, half_width(stated))

    @property
    def use(self) -> PressedRow | None:
        """The row to lay up, where its grade says so."""
        return self.best if self.grade == USE else None

    @property
    def advised(self) -> bool:
        """Whether there is a count to use."""
        return self.use is not None


def half_width(stated: SIValue) -> float:
    """Half of the range that a stated value leaves open: all of a tolerance, else 95 %."""
    if stated.shape == "rectangular" or not stated.spread:
        return stated.half_width
    from laminate.formulas.statistics import students_t

    return stated.spread * float(students_t(confidence=CONFIDENCE, dof=stated.dof))


def bleed_range(press: Press, zone: str, end: float) -> tuple[float, float]:
    """The stated bleed with its ±, cut to 0 and the end of bleed; all of that where none is stated."""
    stated = press.stated(zone)
    if stated is None:
        return 0.0, end
    half = half_width(stated)
    return min(max(stated.value - half, 0.0), end), min(stated.value + half, end)


def bleed_ranges(press: Press, state: State, room: Room) -> tuple[dict[str, float], dict[str, float]]:
    """The least and the most bleed of every zone of a room, as of `bleed_range`."""
    ranges = {zone: bleed_range(press, zone, float(state.layups[zone].end)) for zone in room.zones}
    least, most = ({zone: ends[at] for zone, ends in ranges.items()} for at in (0, 1))
    return least, most


def open_bleeds(press: Press, zone: str, state: State) -> list[str]:
    """The zones beside and with this one whose bleed nobody states though some can leave."""
    room = press.room_of(zone)
    zones = room.zones if room is not None else (zone,)
    return [z for z in zones if press.stated(z) is None and float(state.layups[z].end) > 0.0]


def verdict(press: Press, zone: str, plies: Counts) -> Verdict:
    """The first verdict that applies, of nominal values, with the bleed window."""
    state = State(press.at(), plies)
    layup, room = state.layups[zone], press.room_of(zone)
    if float(layup.packed) > float(layup.fiber + layup.liquid):
        return TOO_MANY, None
    judged = not state.left_out
    if room is None:
        if not bool(state.pressed(zone)):
            return NOT_PRESSED, None
        if not bool(state.holds):
            return OPENS, None
        limited = by_limits(press.cases[zone], press.fill_plies(zone, state.press.counts(plies)[zone]))
        return (limited if limited != FITS or judged else NOT_JUDGED), None
    least, most = (State(press.at(), plies, bleed) for bleed in bleed_ranges(press, state, room))
    if state.pressure(room.name) is None:
        empty = not room.free and float(least.spare(room, least.bleed)) >= 0.0
        return (NOT_PRESSED if empty else NOT_JUDGED), None
    window = bleed_window(press, room.name, plies, zone=zone)
    if not all_pressed(least, room):
        return NOT_PRESSED, window
    if not bool(most.holds) or window.apart:
        return OPENS, window
    if room.open_ends or not judged:
        return NOT_JUDGED, window
    return (PRESSES if bool(least.holds) and all_pressed(most, room) else DEPENDS), window


def all_pressed(state: State, room: Room) -> bool:
    """Whether every zone of a room is pressed as it needs; for plain numbers."""
    return all(bool(state.pressed(zone)) for zone in room.zones)


def _not_pressed(press: Press, zone: str, plies: Counts) -> bool:
    """Whether a zone in a room is not pressed as it needs at the least bleed, nor packed full."""
    state, room = State(press.at(), plies), press.room_of(zone)
    layup = state.layups[zone]
    if room is None or float(layup.packed) > float(layup.fiber + layup.liquid):
        return False
    if state.pressure(room.name) is None:
        return verdict(press, zone, plies)[0] == NOT_PRESSED
    return not all_pressed(State(press.at(), plies, bleed_ranges(press, state, room)[0]), room)


def counts_to_show(press: Press, zone: str, plies: Counts, asked: int | None, judged: Judged) -> list[int]:
    """All fiber plies: the counts that may be used, two on each side, and the one asked about.

    judged: takes the verdicts that are found on the way, by count.
    """
    case = press.cases[zone]
    fixed = case.fixed_plies
    if not press.part.zone[zone].fill_with:
        return [fixed]
    best = functools.partial(likeliest, press, zone, plies)
    if press.room_of(zone) is None:  # a bladder: limits say how many
        near = counts_near(
            case,
            None if asked is None else asked - fixed,
            lambda counts: best(range(counts.start + fixed, counts.stop + fixed)) - fixed,
        )
        return [n + fixed for n in near if n + fixed]
    first = max(fixed, 1)
    pressed = (n for n in range(first, MOST_PLIES) if not _not_pressed(press, zone, {**plies, zone: n}))
    low = next(pressed, max(first, MOST_PLIES))

    def past(count: int) -> bool:
        judged[count] = verdict(press, zone, {**plies, zone: count})
        return judged[count][0] in (OPENS, TOO_MANY)

    few = range(low, min(low + MOST_ROWS, MOST_PLIES))
    top = next((n for n in few if past(n)), None)
    if top is None:  # pressure rises with every ply
        more = range(few.stop, MOST_PLIES)
        top = few.stop + bisect.bisect_left(more, True, key=past)
    shown = {n for n in around(range(low, max(top, low + 1)), MOST_ROWS, best) if n >= first}
    return sorted(shown if asked is None else shown | {asked})


def likeliest(press: Press, zone: str, plies: Counts, counts: range) -> int:
    """Of many counts the one with the highest chance of all by few draws; of `by_window` without a bleed."""
    few = press.of_draws(min(press.inputs.draws, FEW_DRAWS))
    if not open_bleeds(press, zone, State(press.at(), {**plies, zone: counts.start})):
        drawn, known = draw_counts(few, zone, plies, counts), {"pressed": "", "holds": ""}
        return max(counts, key=lambda count: chance_of(drawn, count, known, few.inputs.draws).at_most)

    def window(count: int) -> tuple[bool, float, int]:
        at = {**plies, zone: count}
        part = State(press.at(), at).attributes(zone)
        missed = [rule for rule in rules(press.cases[zone]) if not rule.met(part[rule.attribute])]
        word, bleeds = verdict(press, zone, at)
        return by_window(bleeds, word in USABLE, len(missed))

    return max(counts, key=window)


def _pressures(state: State, zone: str, room: Room | None) -> dict[str, Any]:
    """Pressure on a zone at gel and at worst [Pa], a bladder's at both; empty where none is known."""
    if (at_gel := state.pressed_by(zone)) is None:
        return {}
    return {"gel": at_gel, "worst": at_gel if room is None else state.worst(room.name)}


def draw_counts(
    press: Press, zone: str, plies: Counts, counts: Sequence[int], scaled: Mapping[Any, float] | None = None
) -> dict[str, Any]:
    """One set of draws for every count: pressed, holds, inside limits, pressures, bleed."""
    held_to, room = rules(press.cases[zone]), press.room_of(zone)
    shown = () if scaled else SHOWN
    wanted = {rule.attribute for rule in held_to}.union(shown)

    def formula(conditions: Any) -> dict[str, Any]:
        drawn: dict[str, Any] = {}
        for count in counts:
            state = State(conditions, {**plies, zone: count})
            pressed = state.pressed(zone)
            drawn[f"{count} pressed"] = np.True_ if pressed is None else pressed
            drawn[f"{count} holds"] = state.holds
            drawn[f"{count} bleed"] = state.bleed[zone]
            drawn |= {f"{count} {moment}": p for moment, p in _pressures(state, zone, room).items()}
            part = state.attributes(zone, wanted)
            drawn |= {f"{count} {scope}": met for scope, met in inside(held_to, part).items()}
            drawn |= {f"{count} {attribute}": part[attribute] for attribute in shown}
        return drawn

    return press.simulate(formula, scaled)


def needed_of(press: Press, zone: str, state: State) -> dict[str, str]:
    """What a zone needs beside limits, as of `chance_of`: to be pressed, and that the tool holds."""
    room = press.room_of(zone)
    pressed = ""
    if room is not None and room.open_ends:
        pressed = f"the ends of room {room.name} are open: close them or measure the pressure"
    elif room is not None and state.pressure(room.name) is None:
        pressed = f"the pressure of room {room.name} is not known: give bulk_modulus, and sizes in [room]"
    holds = f"not given: {', '.join(map(str, state.left_out))}" if state.left_out else ""
    return {"pressed": pressed, "holds": holds}


def rows(press: Press, zone: str, plies: Counts, asked: int | None = None) -> list[PressedRow]:
    """A row for each count to show, of all fiber plies, on one set of draws; asked: one to show besides."""
    judged: Judged = {}
    counts = counts_to_show(press, zone, plies, asked, judged)
    draw = functools.cache(lambda: draw_counts(press, zone, plies, counts))
    rows = []
    for count in counts:
        at = {**plies, zone: count}
        known = judged.get(count) or verdict(press, zone, at)
        rows.append(_row(press, zone, at, known, draw))
    return rows


def _row(
    press: Press, zone: str, plies: Counts, known: Verdict, draw: Callable[[], Mapping[str, Any]]
) -> PressedRow:
    room, state = press.room_of(zone), State(press.at(), plies)
    missing = open_bleeds(press, zone, state)
    (verdict, window), count = known, plies[zone]
    part = estimates(lambda x: State(press.at(x), plies).attributes(zone), press.inputs)
    ends: tuple[dict[str, float], ...] = ()
    bands: dict[str, Band] = {}
    bleed = Band(*3 * (float(state.bleed[zone]),))
    pressures = {moment: float(p) for moment, p in _pressures(state, zone, room).items()}
    if missing:
        full = dict.fromkeys(missing, 1.0)
        both = [State(press.at(), plies, dict.fromkeys(full, 0.0)), State(press.at(), plies, full)]
        ends = tuple({k: float(v) for k, v in s.attributes(zone).items()} for s in both)
        bleed = Band(bleed.value, 0.0, float(state.layups[zone].end))
        for moment in pressures:
            ends_of_it = [float(_pressures(s, zone, room)[moment]) for s in both]
            bands[moment] = Band(ends_of_it[0], min(ends_of_it), max(ends_of_it))
        chance = Chance(press.inputs.draws, reason=f"no bleed is stated for zone {' and '.join(missing)}")
    else:
        drawn = draw()
        chance = chance_of(drawn, count, needed_of(press, zone, state), press.inputs.draws)
        part |= {a: _farther(part[a], drawn[f"{count} {a}"]) for a in SHOWN}
        bleed = _spread(bleed.value, drawn[f"{count} bleed"])
        bands = {moment: _spread(p, drawn[f"{count} {moment}"]) for moment, p in pressures.items()}
    none_left = bleed_at_no_pressure(state, room.name, zone) if room is not None else None
    fixed = press.cases[zone].fixed_plies
    return PressedRow(
        plies=count,
        fill_plies=count - fixed,
        part=part,
        bleed=bleed,
        pressure_at_gel=bands.get("gel"),
        pressure_at_worst=bands.get("worst"),
        window=window,
        none_left_at=none_left,
        verdict=verdict,
        chance=chance,
        outside=outside(part, rules(press.cases[zone])),
        ends=ends,
        unjudged=tool_not_judged(state),
    )


def _farther(by_first_order: Estimate, drawn: Any) -> Estimate:
    """An estimate with the ± of the draws where it is larger, past their sampling error (formula 19)."""
    from laminate.values.uncertainty import numerical_tolerance

    value, u, k = by_first_order
    half = NORMAL * float(np.std(drawn))
    if not u or half <= k * u * (1.0 + 3.0 / (2.0 * len(drawn)) ** 0.5) + k * numerical_tolerance(u, 2):
        return by_first_order
    _, low, high = _spread(value, drawn)
    return Estimate(value, max(half, high - value, value - low) / k, k)


def _spread(value: float, drawn: Any) -> Band:
    low, high = np.quantile(drawn, FAR_ENDS, method="inverted_cdf")  # infinite where there is no room
    return Band(value, float(low), float(high))
