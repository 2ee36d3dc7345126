"""The answer of `fill` for one zone under rubber or a bladder."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from laminate.press import advice, pressed
from laminate.press.case import ZoneCase, taken_for_granted
from laminate.press.counts import is_bounded, rules
from laminate.press.known import DRAWS, SEED
from laminate.press.pressed import PressedFill
from laminate.press.remedy import overfull
from laminate.press.steam import Steam, steam
from laminate.values.problems import Problem, Refused
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.press.press import Press


def is_pressed(press: Press, zone: str) -> bool:
    """Whether rubber or a bladder presses the zone, so that bleed is given and pressure follows."""
    room = press.room_of(zone)
    return room.rubber if room is not None else press.part.zone[zone].bladder is not None


def check_room(press: Press, zone: str, plies: Mapping[str, int]) -> None:
    """Raise `Refused` where another zone of the same room leaves its count open."""
    room = press.room_of(zone)
    said = press.counts(plies)
    others = [z for z in (room.zones if room is not None else ()) if z != zone and z not in said]
    if others:
        names, where = " and ".join([zone, *others]), room.name if room else ""
        found = f"zones {names} of room {where} leave the count open"
        expected = f"plies in all but one, or --plies {others[0]}=24"
        raise Refused(Problem("count-open", press.file, f"zone.{others[0]}", found, expected))


def bladder_steam(case: ZoneCase, humidity: Value | None) -> Steam | None:
    """Water vapor at cure against what a bladder presses with; None where none presses."""
    cycle = case.part.temperature
    if case.zone.bladder is None or cycle is None or cycle.cure is None:
        return None
    pressure = case.part.bladder[case.zone.bladder].pressure.value
    return steam(temperature=cycle.cure.value, humidity=humidity, resin=pressure)


def pressed_zone(
    press: Press,
    zone: str,
    plies: Mapping[str, int],
    *,
    asked: int | None = None,
    humidity: Value | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> PressedFill:
    """The answer for one zone under rubber or a bladder; the other zones at their stated counts."""
    part, table, room = press.part, press.part.zone[zone], press.room_of(zone)
    counts = pressed.counts_to_show(press, zone, plies, asked)
    found = tuple(pressed.rows(press, zone, plies, counts, draws=draws, seed=seed))
    best = next((row for row in found if row.plies == asked), None) or advice.best_of(found)
    at = {**plies, zone: best.plies}
    state = press.state(at)
    layup = state.layups[zone]
    missing = advice.missing_for_use(press, zone, state)
    bounded = asked is not None or room is not None or is_bounded(press.cases[zone])
    grade = advice.grade_of(press, best, missing) if bounded else pressed.DO_NOT
    cores = room.cores if room is not None else ()
    weak = grade in (pressed.RISKY, pressed.DO_NOT)
    others = [n for n, z in part.zone.items() if z.core is not None and z.core == table.core and n != zone]
    return PressedFill(
        zone=zone,
        fill_with=table.fill_with,
        fixed_plies=press.cases[zone].fixed_plies,
        pressed_by="bladder" if room is None else "rubber",
        walls=table.walls,
        core=table.core or (cores[0].name if len(cores) == 1 else None),
        core_shared_with=tuple(others),
        bladder=float(state.bladder_pressure(zone)) if room is None else None,
        bleed_limit=table.bleed_limit.value,
        packing_limit=float(layup.fiber / layup.packed),
        rows=found,
        best=best,
        grade=grade,
        missing=missing,
        wanted=wanted.value if (wanted := press.wanted(zone)) is not None else None,
        needed=float(state.needed(zone)),
        bleed_stated=advice.stated_bleed(press, zone),
        cores=tuple(advice.core_windows(press, zone, best, plies)),
        limits=tuple(rules(press.cases[zone])),
        supposed=press.supposed,
        not_measured=(*press.known.not_measured(), *taken_for_granted(press.cases[zone])),
        bounded=bounded,
        overfull=overfull(press.cases[zone]),
        steam=bladder_steam(press.cases[zone], humidity),
        moves=tuple(advice.what_moves_it(press, zone, best, plies, draws=draws, seed=seed)) if weak else (),
    )
