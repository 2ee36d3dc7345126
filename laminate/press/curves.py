"""Pressure of a room along bleed and along temperature: the points of what is drawn. SI, above ambient."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.press.names import PRESSURE_LIMIT, ROOM
from laminate.press.pressed import FAR_ENDS, bleed_range
from laminate.press.shared_inputs import plain
from laminate.press.unstated import tool_not_judged
from laminate.press.windows import (
    Window,
    bleed_at_no_pressure,
    bleed_window,
    bleeding_alike,
    end_of_bleed,
    gives_way_at,
    touch,
    with_bleed,
)

if TYPE_CHECKING:
    from laminate.press.names import Counts
    from laminate.press.room_question import RoomQuestion
    from laminate.press.state import State

BLEEDS, TEMPERATURES, DRAWS = 31, 41, 2000
BEYOND = 25.0
"""Temperatures are followed so far above the highest of the cycle [K], where the clamp gives way there."""
MARGIN = 2.0

Points = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CountAlongBleed:
    """One set of counts: fiber plies by zone, bleed [0..1], pressure at gel and at worst [Pa]."""

    plies: Counts
    bleed: Points
    gel: Points
    worst: Points


@dataclass(frozen=True, slots=True)
class AlongBleed:
    """Pressure of a room along one bleed in all of its zones, the rest of the press as stated.

    asked: the counts asked about; others: the same for other counts; window: of the counts asked about,
    None where nobody may say that the tool holds; none_left: bleed at which no pressure is left at gel;
    stated: the bleed stated, its low and high end, None where zones differ; needed: at gel [Pa];
    clamp_at_gel, clamp_at_worst: pressure at which the clamp gives way, at each bleed of `asked` [Pa],
    None where not known; pressure_limit: of the tool [Pa].
    """

    asked: CountAlongBleed
    others: tuple[CountAlongBleed, ...]
    window: Window | None
    none_left: float | None
    stated: tuple[float, float, float] | None
    needed: float
    clamp_at_gel: Points | None
    clamp_at_worst: Points | None
    pressure_limit: float | None


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment of the cycle: temperatures of core and tool [K], pressure [Pa]."""

    name: str
    core: float
    tool: float
    pressure: float


@dataclass(frozen=True, slots=True)
class AlongTemperature:
    """Pressure of a room against temperature of core and tool together, the laminate frozen [K, Pa].

    nominal: no bleed, low and high hold 95 % of its draws; lowest: bled to the end; expected: the stated
    bleed, None where none is; locked: as laid up; moments: at their own temperatures, with the stated bleed
    or none; gel, highest: of the core; gives_way: where the clamp does; clamp_at_gel, clamp_at_worst: the
    pressure at which it does; both with no bleed.
    """

    temperature: Points
    nominal: Points
    low: Points
    high: Points
    lowest: Points
    expected: Points | None
    locked: Points
    moments: tuple[Moment, ...]
    gel: float
    highest: float
    gives_way: float | None
    clamp_at_gel: float | None
    clamp_at_worst: float | None
    pressure_limit: float | None


def _plain(values: Iterable[Any]) -> Points | None:
    """Plain numbers, None where they are not known."""
    each = [*values]
    return None if each[0] is None else tuple(map(float, each))


def _points(states: Mapping[float, State], room: str, plies: Counts) -> CountAlongBleed:
    gel = tuple(float(state.pressure(room)) for state in states.values())
    worst = tuple(float(state.worst(room)) for state in states.values())
    return CountAlongBleed(dict(plies), tuple(states), gel, worst)


def _stated(ask: RoomQuestion, state: State) -> tuple[float, float, float] | None:
    values = set()
    for zone in ask.room.zones:
        value = ask.press.stated(zone)
        ends = bleed_range(ask.press, zone, float(state.layups[zone].end))
        values.add(None if value is None else (value.value, *ends))
    return values.pop() if len(values) == 1 else None


def along_bleed(ask: RoomQuestion, others: Sequence[Counts] = ()) -> AlongBleed | None:
    """The pressure of a room against bleed; None where no pressure is known, or no resin can leave.

    None too where zones state unlike bleeds: no one axis holds for them.

    ask: the room and the counts asked about; others: counts to show beside them.
    """
    press, name = ask.press, ask.room.name
    laid = ask.layups(press.inputs.numbers()) if ask.layups is not None else None

    def states(plies: Counts, *corners: float | None) -> dict[float, State]:
        """From none to the end of bleed, with the bleeds at which the pressure has a corner."""
        start = with_bleed(press, name, 0.0, plies, laid)
        end = end_of_bleed(start, name)
        more = [b for b in (*corners, bleed_at_no_pressure(start, name)) if b is not None and 0.0 < b < end]
        bleeds = sorted({*np.linspace(0.0, end, BLEEDS).tolist(), *more})
        return {bleed: with_bleed(press, name, bleed, plies, laid) for bleed in bleeds}

    start = with_bleed(press, name, 0.0, ask.plies, laid)
    unlike = len(bleeding_alike(press, name, ask.room.zones[0])) < len(ask.room.zones)
    if start.pressure(name) is None or end_of_bleed(start, name) <= 0.0 or unlike:
        return None
    window = bleed_window(press, name, ask.plies, laid)
    asked = states(ask.plies, window.holds, window.presses)
    return AlongBleed(
        asked=_points(asked, name, ask.plies),
        others=tuple(_points(states(plies), name, plies) for plies in others),
        window=None if ask.room.open_ends or tool_not_judged(start) else window,
        none_left=bleed_at_no_pressure(start, name),
        stated=None if laid is not None else _stated(ask, start),
        needed=max(float(start.conditions.needed(zone)) for zone in ask.room.zones),
        clamp_at_gel=_plain(state.clamp_limit(name) for state in asked.values()),
        clamp_at_worst=_plain(s.clamp_limit(name, s.worst_moment(name) or "gel") for s in asked.values()),
        pressure_limit=start.x.get(PRESSURE_LIMIT),
    )


def along_temperature(ask: RoomQuestion, core: str, *, seed: int = 1) -> AlongTemperature | None:
    """The pressure of a room against temperature; None where no pressure is known or no room is left.

    ask: the room with its counts; core: the one whose temperatures at gel and at most are marked.
    """
    press, name = ask.press, ask.room.name
    state = ask.state()
    if state.pressure(name) is None:
        return None
    x, conditions = state.x, state.conditions
    highest = float(conditions.core_temperature(core, ask.last))
    gives_way = gives_way_at(state)
    top = highest if gives_way is None or gives_way > highest + BEYOND else max(highest, gives_way)
    gel = float(conditions.core_temperature(core, "gel"))
    first = min(float(touch(state, name, together=True)), gel)  # no later: it may not touch in the cycle
    start = max(first - MARGIN, float(x[ROOM]))
    end = max(top, start) + MARGIN
    known = {t for t in (gel, highest) if start < t < end}
    temperatures = sorted(known | {float(t) for t in np.linspace(start, end, TEMPERATURES)})

    def along(of: State) -> Points:
        return tuple(float(of.together(name, t)) for t in temperatures)

    drawn = press.of_draws(DRAWS, seed).simulate(
        lambda c: {str(i): ask.state(c.x).together(name, t) for i, t in enumerate(temperatures)}
    )
    low, high = np.quantile([drawn[str(i)] for i in range(len(temperatures))], FAR_ENDS, axis=1).tolist()
    laid = state.locked_thickness(ask.room)
    expected = ask.state(bleed=None) if ask.bleed_stated else state
    curves = AlongTemperature(
        temperature=tuple(temperatures),
        nominal=along(state),
        low=tuple(low),
        high=tuple(high),
        lowest=along(ask.state(bleed=1.0)),
        expected=along(expected) if ask.bleed_stated else None,
        locked=tuple(float(state.together(name, t, laid)) for t in temperatures),
        moments=tuple(
            Moment(
                moment,
                float(conditions.core_temperature(core, moment)),
                float(conditions.tool_temperature(moment)),
                float(expected.pressure(name, moment)),
            )
            for moment in press.moments
        ),
        gel=gel,
        highest=highest,
        gives_way=gives_way,
        clamp_at_gel=plain(state.clamp_limit(name)),
        clamp_at_worst=plain(state.clamp_limit(name, ask.last)),
        pressure_limit=x.get(PRESSURE_LIMIT),
    )
    whole = (*curves.nominal, *curves.high, *curves.locked, *curves.lowest)
    return curves if all(np.isfinite(whole)) else None
