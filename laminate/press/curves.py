"""Pressure of a room along bleed and along temperature: the points of what is drawn. SI, above ambient."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from laminate.press.names import PRESSURE_LIMIT, ROOM
from laminate.press.pressed import FAR_ENDS, bleed_range
from laminate.press.state import state_on
from laminate.press.windows import (
    Window,
    bleed_at_no_pressure,
    bleed_window,
    end_of_bleed,
    gives_way_at,
    touch,
)

if TYPE_CHECKING:
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

    plies: Mapping[str, int]
    bleed: Points
    gel: Points
    worst: Points


@dataclass(frozen=True, slots=True)
class AlongBleed:
    """Pressure of a room along one bleed in all of its zones, the rest of the press as stated.

    asked: the counts asked about; others: the same for other counts; window: of the counts asked about;
    none_left: bleed at which no pressure is left at gel; stated: the bleed stated, its low and high end, None
    where zones differ; needed: at gel [Pa]; clamp_at_gel, clamp_at_worst: pressure at which the clamp gives
    way, at each bleed of `asked` [Pa], None where not known; pressure_limit: of the tool [Pa].
    """

    asked: CountAlongBleed
    others: tuple[CountAlongBleed, ...]
    window: Window
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


def _with_bleed(ask: RoomQuestion, plies: Mapping[str, int], bleed: float) -> State:
    conditions = ask.press.at()
    laid = ask.layups(conditions.x) if ask.layups is not None else None
    return state_on(conditions, plies, dict.fromkeys(ask.room.zones, bleed), laid)


def _points(ask: RoomQuestion, plies: Mapping[str, int], bleeds: Sequence[float]) -> CountAlongBleed:
    states = [_with_bleed(ask, plies, bleed) for bleed in bleeds]
    name = ask.room.name
    return CountAlongBleed(
        dict(plies),
        tuple(bleeds),
        tuple(float(state.pressure(name)) for state in states),
        tuple(float(state.worst(name)) for state in states),
    )


def _bleeds(end: float, *more: float | None) -> list[float]:
    """From none to the end of bleed, with the bleeds at which the pressure has a corner."""
    bleeds = {float(b) for b in np.linspace(0.0, end, BLEEDS)}
    return sorted(bleeds | {b for b in more if b is not None and 0.0 < b < end})


def _stated(ask: RoomQuestion, state: State) -> tuple[float, float, float] | None:
    values = set()
    for zone in ask.room.zones:
        value = ask.press.stated(zone)
        ends = bleed_range(ask.press, zone, float(state.layups[zone].end))
        values.add(None if value is None else (value.value, *ends))
    return values.pop() if len(values) == 1 else None


def along_bleed(ask: RoomQuestion, others: Sequence[Mapping[str, int]] = ()) -> AlongBleed | None:
    """The pressure of a room against bleed; None where no pressure is known or no resin can leave.

    ask: the room and the counts asked about; others: counts to show beside them.
    """
    press, name = ask.press, ask.room.name
    start = _with_bleed(ask, ask.plies, 0.0)
    end = end_of_bleed(start, name)
    if start.pressure(name) is None or end <= 0.0:
        return None
    laid = ask.layups(start.x) if ask.layups is not None else None
    window = bleed_window(press, name, ask.plies, laid)
    none_left = bleed_at_no_pressure(start, name)
    bleeds = _bleeds(end, window.holds, window.presses, none_left)
    states = [_with_bleed(ask, ask.plies, bleed) for bleed in bleeds]
    at_gel = [state.clamp_limit(name) for state in states]
    at_worst = [state.clamp_limit(name, state.worst_moment(name) or "gel") for state in states]
    more = []
    for plies in others:
        state = _with_bleed(ask, plies, 0.0)
        more.append(
            _points(ask, plies, _bleeds(end_of_bleed(state, name), bleed_at_no_pressure(state, name)))
        )
    limit = start.x.get(PRESSURE_LIMIT)
    return AlongBleed(
        asked=_points(ask, ask.plies, bleeds),
        others=tuple(more),
        window=window,
        none_left=none_left,
        stated=None if laid is not None else _stated(ask, start),
        needed=max(float(start.conditions.needed(zone)) for zone in ask.room.zones),
        clamp_at_gel=None if at_gel[0] is None else tuple(float(p) for p in at_gel),
        clamp_at_worst=None if at_worst[0] is None else tuple(float(p) for p in at_worst),
        pressure_limit=None if limit is None else float(limit),
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
    first = float(touch(state, name, together=True))
    start = max(first - MARGIN, float(x[ROOM])) if np.isfinite(first) else float(x[ROOM])
    end, gel = max(top, start) + MARGIN, float(conditions.core_temperature(core, "gel"))
    known = {t for t in (gel, highest) if start < t < end}
    temperatures = sorted(known | {float(t) for t in np.linspace(start, end, TEMPERATURES)})

    def along(of: State) -> Points:
        return tuple(float(of.together(name, t)) for t in temperatures)

    drawn = press.simulate(
        lambda c: {str(i): ask.state(c.x).together(name, t) for i, t in enumerate(temperatures)},
        draws=DRAWS,
        seed=seed,
    )
    bands = [np.quantile(drawn[str(i)], FAR_ENDS) for i in range(len(temperatures))]
    laid = {zone: state.layups[zone].laid_up for zone in ask.room.zones}
    bleed_stated = ask.layups is None and any(press.stated(zone) is not None for zone in ask.room.zones)
    expected = ask.state(bleed=None) if bleed_stated else state
    limits = [state.clamp_limit(name, moment) for moment in ("gel", ask.last)]
    limit = x.get(PRESSURE_LIMIT)
    curves = AlongTemperature(
        temperature=tuple(temperatures),
        nominal=along(state),
        low=tuple(float(low) for low, _ in bands),
        high=tuple(float(high) for _, high in bands),
        lowest=along(ask.state(bleed=1.0)),
        expected=along(expected) if bleed_stated else None,
        locked=tuple(float(state.together(name, t, laid)) for t in temperatures),
        moments=tuple(
            Moment(
                moment,
                float(conditions.core_temperature(core, moment)),
                float(conditions.tool_temperature(moment)),
                float(expected.pressure(name, moment)),
            )
            for moment in ("gel", *press.later)
        ),
        gel=gel,
        highest=highest,
        gives_way=gives_way,
        clamp_at_gel=None if limits[0] is None else float(limits[0]),
        clamp_at_worst=None if limits[1] is None else float(limits[1]),
        pressure_limit=None if limit is None else float(limit),
    )
    whole = (*curves.nominal, *curves.high, *curves.locked, *curves.lowest)
    return curves if all(np.isfinite(whole)) else None
