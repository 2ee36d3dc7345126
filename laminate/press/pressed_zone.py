"""The answer of `fill` for one zone under rubber or a bladder."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from laminate.press import advice, pressed
from laminate.press.case import assumptions_of
from laminate.press.counts import is_bounded
from laminate.press.inverse import ToleranceWanted, Wanted, tolerances_for
from laminate.press.names import VOID
from laminate.press.pressed import PressedFill, Wishes
from laminate.press.pressed_count import PressedCount, chance_with, rows
from laminate.press.shared_inputs import FEW_DRAWS
from laminate.press.state import State
from laminate.press.steam import steam
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused, refuse_all

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.names import Counts
    from laminate.press.rooms import Room

TURNS = 4
"""Times that zones are judged again where the count of another has moved; the last time none moves."""


def is_pressed(press: Press, zone: str) -> bool:
    """Whether rubber or a bladder presses the zone, so that bleed is given and pressure follows."""
    room = press.room_of(zone)
    return room.rubber if room is not None else press.part.zone[zone].bladder is not None


def check_room(press: Press, zone: str, plies: Counts) -> None:
    """Raise `Refused` where two zones of the room of a zone leave their count open."""
    room, known_counts = press.room_of(zone), press.counts(plies)
    bare = [z for z in (room.zones if room is not None else ()) if z not in known_counts]
    if room is not None and len(bare) > 1:
        actual = f"zones {' and '.join(bare)} of room {room.name} without a ply count"
        expected = f"plies in all but one, or --plies {bare[-1]}=24"
        raise Refused(Problem("count-open", press.file, f"zone.{bare[-1]}", actual, expected))


def check_growth(press: Press, rooms: Iterable[Room]) -> None:
    """Raise `Refused` where a core of a room does not grow as it heats."""
    for core in (core for room in rooms for core in room.cores):
        if press.inputs.values[Key("core", core.name, "expansion")].value <= 0.0:
            actual, expected = "an expansion of 0 or less", "a core that grows as it heats"
            place = f"core.{core.name}.expansion"
            raise Refused(Problem("core-does-not-grow", press.file, place, actual, expected))


def check_left(press: Press, plies: Counts, rooms: Collection[Room] | None = None) -> None:
    """Raise `Refused` where laminates leave the cores of a room nothing, even at the end of bleed.

    plies: fiber plies by zone; a zone that nothing states is taken with its least count.
    """
    least = {name: max(press.cases[name].fixed_plies, 1) for name in press.part.zone}
    counts = {**least, **press.counts(plies)}
    state = State(press.at(), counts, 1.0)
    problems = []
    for room in state.rooms if rooms is None else rooms:
        if not room.rubber or room.free:
            continue
        growth = state.conditions.growth("gel")
        thick = {zone: state.layups[zone].thickness(state.layups[zone].end) for zone in room.zones}
        if not room.fits(thick, growth, state.x):
            laid = " and ".join(f"{counts[zone]} plies in {zone}" for zone in room.zones)
            actual, expected = f"{laid}: no room left", "room for the core between tool and laminates"
            problems.append(Problem("no-room", press.file, f"core.{room.cores[0].name}", actual, expected))
    refuse_all(problems)


def counts_of_all(press: Press, plies: Counts, but: str = "") -> dict[str, int]:
    """Fiber plies of every zone in a room of rubber, as all rooms push on one clamp.

    plies: asked for; what neither they nor the part file state is the count that is best beside the others,
    by few draws. A room that leaves two counts open is left out. but: a zone not to look for.
    """
    counts, known_counts = dict(plies), press.counts(plies)
    rubber = [room for room in press.rooms if room.rubber]
    open_counts = [[zone for zone in room.zones if zone not in known_counts] for room in rubber]
    bare = [zones[0] for zones in open_counts if len(zones) == 1 and zones != [but]]
    few = press.of_draws(FEW_DRAWS)
    for _ in range(2 if len(bare) > 1 else 1):  # once more, as the first ones were judged without the last
        for zone in bare:
            counts[zone] = advice.best_of(rows(PressedCount(few, zone, counts))).plies
    return counts


def zones_together(
    press: Press, asked: Mapping[str, int | None], plies: Counts
) -> tuple[dict[str, PressedFill], dict[str, int]]:
    """The answers of zones under rubber or a bladder, and the counts at which all zones were judged.

    asked: zone -> the count asked about, None for the best; plies: all that were asked for. Each zone is
    judged with every other at its stated count, else at the one that is chosen for it here; and with what is
    advised in place of stated counts, where all that is advised is laid up.
    """
    for zone in asked:
        check_room(press, zone, plies)
    check_growth(press, (room for room in press.rooms if room.rubber))
    check_left(press, plies)
    known_counts = press.counts(plies)
    in_rubber = [zone for room in press.rooms if room.rubber for zone in room.zones]
    bare = [zone for zone in in_rubber if zone not in known_counts]
    alone = bare[0] if len(bare) == 1 and bare[0] in asked else ""
    counts = counts_of_all(press, plies, alone)
    guessed = [zone for zone in counts if zone not in known_counts and zone not in asked]
    answers: dict[str, PressedFill] = {}
    beside: dict[str, dict[str, int]] = {}
    order = sorted(asked, key=lambda zone: zone not in bare)
    for turn in range(TURNS):
        for zone in order:
            others = {z: n for z, n in press.counts(counts).items() if z != zone and z in in_rubber}
            if beside.get(zone) == others:
                continue
            pinned = counts.get(zone) if turn == TURNS - 1 and zone in answers else asked[zone]
            chosen = {z: n for z, n in others.items() if z not in known_counts}
            beside[zone] = others
            answers[zone] = pressed_zone(press, zone, counts, pinned, chosen, guessed)
            if zone not in known_counts:
                counts[zone] = answers[zone].best.plies
    advised = {z: a.best.plies for z, a in answers.items() if known_counts.get(z) not in (None, a.best.plies)}
    for zone, answer in answers.items():
        moved = {z: n for z, n in advised.items() if z != zone}
        if moved and answer.use:
            together = pressed_zone(press, zone, {**counts, **moved}, answer.use.plies, {}, guessed)
            if together.use is None:
                unjudged = (f"zone.{z}.plies" for z in moved)
                answers[zone] = replace(answer, grade=pressed.RISKY, missing=(*answer.missing, *unjudged))
            else:
                answers[zone] = replace(answer, together=together.use)
    if not all(answer.use for answer in answers.values()):
        answers = {zone: replace(answer, together=None) for zone, answer in answers.items()}
    return {zone: answers[zone] for zone in asked}, counts


def do_not_press(press: Press, plies: Counts, counts: Counts) -> list[Key]:
    """The plies of zones under rubber that nobody states, where the counts taken for them do not press.

    plies: asked for; counts: at which the press is judged.
    """
    known_counts, taken = press.counts(plies), press.counts(counts)
    zones = [zone for room in press.rooms if room.rubber for zone in room.zones if zone in taken]
    silent = [zone for zone in zones if zone not in known_counts]
    return [
        Key("zone", zone, "plies")
        for zone in silent
        if PressedCount(press, zone, counts).verdict not in pressed.USABLE
    ]


def judged_with(chosen: Counts) -> tuple[str, ...]:
    """The counts of other zones that nothing states, a sentence each."""
    return tuple(
        f"Judged with {count} {'ply' if count == 1 else 'plies'} in {name}, the count chosen here."
        for name, count in chosen.items()
    )


def pressed_zone(
    press: Press, zone: str, plies: Counts, asked: int | None, chosen: Counts, guessed: Collection[str]
) -> PressedFill:
    """The answer for one zone under rubber or a bladder; the other zones at their counts in `plies`.

    asked: the count asked about, None for the best; chosen: those among them that nothing states; guessed:
    those of these that nobody asked about.
    """
    part, table, of = press.part, press.part.zone[zone], PressedCount(press, zone, plies)
    counted = tuple(rows(of, table.plies if asked is None else asked))
    best = next((row for row in counted if row.plies == asked), None) or advice.best_of(counted)
    room, at = of.room, of.at(best.plies)
    layup = at.state.layups[zone]
    missing = (*advice.missing_for_use(at), *(f"zone.{name}.plies" for name in guessed))
    bounded = asked is not None or room is not None or is_bounded(of.case)
    windows = tuple(advice.core_windows(at))
    grade = advice.grade_of(press, best, missing, windows) if bounded else pressed.DO_NOT
    cores = room.cores if room is not None else ()
    weak = grade in (pressed.RISKY, pressed.DO_NOT)
    others = [n for n, z in part.zone.items() if z.core is not None and z.core == table.core and n != zone]
    bladder = None if room is not None else float(at.state.bladder_pressure(zone))
    return PressedFill(
        of.case,
        core=table.core or (cores[0].name if len(cores) == 1 else None),
        core_shared_with=tuple(others),
        bladder=bladder,
        packing_limit=float(layup.fiber / layup.packed),
        rows=counted,
        best=best,
        grade=grade,
        missing=missing,
        needed=float(at.state.conditions.needed(zone)),
        cores=windows,
        supposed=tuple(press.inputs.supposed),
        not_measured=(*press.inputs.not_measured(), *assumptions_of(of.case)),
        bounded=bounded,
        steam=None if bladder is None else steam(press, resin=bladder),
        moves=tuple(advice.what_moves_it(of, best)) if weak else (),
        beside=judged_with(chosen),
    )


def wishes_of(press: Press, answer: PressedFill, plies: Counts, wanted: Wanted) -> Wishes:
    """Which bleed gives the fiber volume wanted with the best count, and which tolerance its chance.

    plies: at which all zones were judged.
    """
    row, of = answer.best, PressedCount(press, answer.zone, plies)
    layup = of.at(row.plies).state.layups[of.zone]
    volume, goal = wanted.fiber_volume, wanted.chance

    bleed = None
    if volume is not None:
        bleed = layup.bleed_for_volume(volume, press.inputs.numbers().get(VOID, 0.0))
    tolerances: tuple[ToleranceWanted, ...] = ()
    if goal is not None and row.chance.all is not None and row.chance.all < goal:
        tolerances = tolerances_for(press.inputs, goal, partial(chance_with, of, row.plies))
    return Wishes(volume, bleed, float(layup.end), goal, tolerances)
