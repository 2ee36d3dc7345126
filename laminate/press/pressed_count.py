"""A ply count of a zone that a rubber core or a bladder presses: verdict, bleed window, chances.

Bleed is given or unknown, and pressure follows. SI units; pressures are above ambient.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable, Mapping, Sequence
from functools import cache, cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.press.counts import (
    FITS,
    NOT_JUDGED,
    TOO_MANY,
    Chance,
    around,
    chance_of,
    counts_near,
    inside,
    outside,
    rules,
)
from laminate.press.counts import verdict as by_limits
from laminate.press.pressed import (
    DEPENDS,
    FAR_ENDS,
    NOT_PRESSED,
    OPENS,
    PRESSES,
    USABLE,
    Band,
    PressedRow,
    bleed_range,
)
from laminate.press.shared_inputs import FEW_DRAWS, NORMAL, Estimate, estimates
from laminate.press.state import State
from laminate.press.unstated import tool_not_judged
from laminate.press.windows import Window, bleed_at_no_pressure, bleed_window, by_window

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.names import Counts
    from laminate.press.rooms import Room

MOST_PLIES, MOST_ROWS = 400, 7
SHOWN = ("fiber_volume", "thickness")
"""Attributes whose ± is held against the draws: bleed stops where the pressure is gone, which is a kink."""
ALL_KNOWN = {"pressed": "", "holds": ""}
"""What a zone needs beside limits, as of `chance_of`."""


class PressedCount:
    """A zone of a press at the counts of all its zones; each number is computed once.

    room: of rubber, None under a bladder; state: of nominal values, with the stated bleeds; at: gives another
    count of the zone, the other zones as they are.
    """

    def __init__(self, press: Press, zone: str, plies: Counts) -> None:
        self.press, self.zone, self.plies = press, zone, plies
        self.case, self.room, self.state = press.cases[zone], press.room_of(zone), State(press.at(), plies)
        self.at: Callable[[int], PressedCount]
        self.at = cache(lambda count: PressedCount(press, zone, {**plies, zone: count}))

    def with_bleed(self, bleed: Any) -> State:
        """The press with another bleed, as of `State`."""
        return State(self.state.conditions, self.plies, bleed)

    @cached_property
    def bleeds(self) -> tuple[dict[str, float], dict[str, float]]:
        """The least and the most bleed of every zone of its room, as of `bleed_range`."""
        zones, layups = self.room.zones if self.room is not None else (), self.state.layups
        ranges = {zone: bleed_range(self.press, zone, float(layups[zone].end)) for zone in zones}
        least, most = ({zone: ends[at] for zone, ends in ranges.items()} for at in (0, 1))
        return least, most

    @property
    def open_bleeds(self) -> list[str]:
        """The zones beside and with this one whose bleed nobody states though some can leave."""
        zones, layups = self.room.zones if self.room is not None else (self.zone,), self.state.layups
        return [z for z in zones if self.press.stated(z) is None and float(layups[z].end) > 0.0]

    @property
    def packed_full(self) -> bool:
        """Whether its fibers fill more than the stack is thick."""
        layup = self.state.layups[self.zone]
        return float(layup.packed) > float(layup.fiber + layup.liquid)

    @property
    def too_little(self) -> bool:
        """Whether it is not pressed as it needs in its room at the least bleed, nor packed full."""
        if self.room is None or self.packed_full:
            return False
        if self.state.pressure(self.room.name) is None:
            return self.verdict == NOT_PRESSED
        return not all_pressed(self.with_bleed(self.bleeds[0]), self.room)

    @cached_property
    def window(self) -> Window | None:
        """Bleed of its room within which it presses and the tool holds; None where no pressure is known."""
        if self.room is None or self.packed_full or self.state.pressure(self.room.name) is None:
            return None
        return bleed_window(self.press, self.room.name, self.plies, zone=self.zone)

    @cached_property
    def verdict(self) -> str:
        """The first verdict that applies, of nominal values."""
        state, room, zone, judged = self.state, self.room, self.zone, not self.state.left_out
        if self.packed_full:
            return TOO_MANY
        if room is None:
            if not bool(state.pressed(zone)):
                return NOT_PRESSED
            if not bool(state.holds):
                return OPENS
            limited = by_limits(self.case, self.press.fill_plies(zone, self.press.counts(self.plies)[zone]))
            return limited if limited != FITS or judged else NOT_JUDGED
        least, most = map(self.with_bleed, self.bleeds)
        if self.window is None:
            empty = not room.free and float(least.unfilled(room, least.bleed)) >= 0.0
            return NOT_PRESSED if empty else NOT_JUDGED
        if not all_pressed(least, room):
            return NOT_PRESSED
        if not bool(most.holds) or self.window.apart:
            return OPENS
        if room.open_ends or not judged:
            return NOT_JUDGED
        return PRESSES if bool(least.holds) and all_pressed(most, room) else DEPENDS

    def pressures(self, state: State) -> dict[str, Any]:
        """Pressure on it at gel and at worst [Pa], a bladder's at both; empty where none is known."""
        if (at_gel := state.pressed_by(self.zone)) is None:
            return {}
        return {"gel": at_gel, "worst": at_gel if self.room is None else state.worst(self.room.name)}

    @property
    def needed(self) -> dict[str, str]:
        """What it needs beside limits, as of `chance_of`: to be pressed, and that the tool holds."""
        state, room, pressed = self.state, self.room, ""
        if room is not None and room.open_ends:
            pressed = f"the ends of room {room.name} are open: close them or measure the pressure"
        elif room is not None and state.pressure(room.name) is None:
            pressed = f"the pressure of room {room.name} is not known: give bulk_modulus, and sizes in [room]"
        holds = f"not given: {', '.join(map(str, state.left_out))}" if state.left_out else ""
        return {"pressed": pressed, "holds": holds}


def all_pressed(state: State, room: Room) -> bool:
    """Whether every zone of a room is pressed as it needs; for plain numbers."""
    return all(bool(state.pressed(zone)) for zone in room.zones)


def counts_to_show(of: PressedCount, asked: int | None) -> list[int]:
    """All fiber plies: the counts that may be used, two on each side, and the one asked about."""
    case, fixed, best = of.case, of.case.fixed_plies, partial(likeliest, of)
    if not case.zone.fill_with:
        return [fixed]
    if of.room is None:  # a bladder: limits say how many
        near = counts_near(
            case,
            None if asked is None else asked - fixed,
            lambda counts: best(range(counts.start + fixed, counts.stop + fixed)) - fixed,
        )
        return [n + fixed for n in near if n + fixed]
    first = max(fixed, 1)
    low = next((n for n in range(first, MOST_PLIES) if not of.at(n).too_little), max(first, MOST_PLIES))

    def past(count: int) -> bool:
        return of.at(count).verdict in (OPENS, TOO_MANY)

    few = range(low, min(low + MOST_ROWS, MOST_PLIES))
    top = next((n for n in few if past(n)), None)
    if top is None:  # pressure rises with every ply
        more = range(few.stop, MOST_PLIES)
        top = few.stop + bisect.bisect_left(more, True, key=past)
    shown = {n for n in around(range(low, max(top, low + 1)), MOST_ROWS, best) if n >= first}
    return sorted(shown if asked is None else shown | {asked})


def likeliest(of: PressedCount, counts: range) -> int:
    """Of many counts the one with the highest chance of all by few draws; of `by_window` without a bleed."""
    few = of.press.of_draws(min(of.press.inputs.draws, FEW_DRAWS))
    if not of.at(counts.start).open_bleeds:
        drawn = draw_counts(PressedCount(few, of.zone, of.plies), counts)
        return max(counts, key=lambda n: chance_of(drawn, n, ALL_KNOWN, few.inputs.draws).at_most)

    def window(count: int) -> tuple[bool, float, int]:
        there = of.at(count)
        part = there.state.attributes(of.zone)
        missed = [rule for rule in rules(of.case) if not rule.met(part[rule.attribute])]
        return by_window(there.window, there.verdict in USABLE, len(missed))

    return max(counts, key=window)


def draw_counts(
    of: PressedCount, counts: Sequence[int], scaled: Mapping[Any, float] | None = None
) -> dict[str, Any]:
    """One set of draws for every count: pressed, holds, inside limits, pressures, bleed."""
    held_to, zone = rules(of.case), of.zone
    shown = () if scaled else SHOWN
    wanted = {rule.attribute for rule in held_to}.union(shown)

    def formula(conditions: Any) -> dict[str, Any]:
        drawn: dict[str, Any] = {}
        for count in counts:
            state = State(conditions, {**of.plies, zone: count})
            pressed = state.pressed(zone)
            drawn[f"{count} pressed"] = np.True_ if pressed is None else pressed
            drawn[f"{count} holds"] = state.holds
            drawn[f"{count} bleed"] = state.bleed[zone]
            drawn |= {f"{count} {moment}": p for moment, p in of.pressures(state).items()}
            part = state.attributes(zone, wanted)
            drawn |= {f"{count} {scope}": met for scope, met in inside(held_to, part).items()}
            drawn |= {f"{count} {attribute}": part[attribute] for attribute in shown}
        return drawn

    return of.press.simulate(formula, scaled)


def chance_with(of: PressedCount, count: int, scaled: Mapping[Any, float]) -> float:
    """The chance of a count that all holds together; scaled: as of `simulate`."""
    return chance_of(draw_counts(of, [count], scaled), count, ALL_KNOWN, of.press.inputs.draws).at_most


def rows(of: PressedCount, asked: int | None = None) -> list[PressedRow]:
    """A row for each count to show, of all fiber plies, on one set of draws; asked: one to show besides."""
    counts = counts_to_show(of, asked)
    draw = cache(lambda: draw_counts(of, counts))
    return [_row(of.at(count), count, draw) for count in counts]


def _row(of: PressedCount, count: int, draw: Callable[[], Mapping[str, Any]]) -> PressedRow:
    press, zone, state, missing = of.press, of.zone, of.state, of.open_bleeds
    part = estimates(lambda x: State(press.at(x), of.plies).attributes(zone), press.inputs)
    ends: tuple[dict[str, float], ...] = ()
    bands: dict[str, Band] = {}
    bleed = Band(*3 * (float(state.bleed[zone]),))
    pressures = {moment: float(p) for moment, p in of.pressures(state).items()}
    if missing:
        both = [of.with_bleed(dict.fromkeys(missing, bleed)) for bleed in (0.0, 1.0)]
        ends = tuple({k: float(v) for k, v in s.attributes(zone).items()} for s in both)
        bleed = Band(bleed.value, 0.0, float(state.layups[zone].end))
        for moment in pressures:
            ends_of_it = [float(of.pressures(s)[moment]) for s in both]
            bands[moment] = Band(ends_of_it[0], min(ends_of_it), max(ends_of_it))
        reason = f"no bleed is stated for zone {' and '.join(missing)}"
        chance = Chance(press.inputs.draws, reason=reason)
    else:
        drawn = draw()
        chance = chance_of(drawn, count, of.needed, press.inputs.draws)
        part |= {a: _farther(part[a], drawn[f"{count} {a}"]) for a in SHOWN}
        bleed = _spread(bleed.value, drawn[f"{count} bleed"])
        bands = {moment: _spread(p, drawn[f"{count} {moment}"]) for moment, p in pressures.items()}
    return PressedRow(
        plies=count,
        fill_plies=count - of.case.fixed_plies,
        part=part,
        bleed=bleed,
        pressure_at_gel=bands.get("gel"),
        pressure_at_worst=bands.get("worst"),
        window=of.window,
        none_left_at=None if of.room is None else bleed_at_no_pressure(state, of.room.name, zone),
        verdict=of.verdict,
        chance=chance,
        outside=outside(part, rules(of.case)),
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
