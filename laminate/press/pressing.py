"""What an expanding core does: when it touches, how hard it presses, what the clamp bears, its size."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.press import stack
from laminate.press.case import ROOM, ZoneCase, core_name, core_temperature, zone_case
from laminate.press.clamp import clamp_limit
from laminate.press.core_results import CoreAnswer, CoreInZone
from laminate.press.core_seat import HOTTEST, Seat, Stacks, canonical, make_seat, with_others
from laminate.press.core_state import RoomQuestion, core_in_room, core_press
from laminate.press.core_zone import core_in_zone
from laminate.press.counts import FITS, TOO_MANY
from laminate.press.filling import check_gap, fill_row, fill_zone, rigid
from laminate.press.inverse import Wanted
from laminate.press.known import SEED, Estimate, estimates
from laminate.press.layup import Layup
from laminate.press.press import Press, press_of
from laminate.press.pressed import NOT_PRESSED, OPENS, verdict
from laminate.press.pressed_zone import check_left, check_room, counts_of_all
from laminate.press.rooms import Room
from laminate.press.steam import steam
from laminate.values.problems import Problem, Refused
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Part

DRAWS = 20_000
AREA = "projected area of "
MISSES = (TOO_MANY, NOT_PRESSED, OPENS)


@dataclass(frozen=True, slots=True)
class Cores:
    """The answer for every core of a part."""

    part: Part
    cores: tuple[CoreAnswer, ...]
    draws: int
    seed: int

    @property
    def good(self) -> bool:
        """Whether the tool holds at every moment and no core is past its limit of moldings."""
        return not any(core.opens or core.breaks or core.worn for core in self.cores)


def _seats(
    part: Part,
    core: str,
    file: str,
    *,
    made: stack.Ingredients | None,
    plies: Mapping[str, int],
    stacks: Stacks | None,
    seed: int,
) -> list[tuple[Seat, int, bool]]:
    """The core in each of its zones, with the plies there and whether they fit."""
    seats = []
    for name in (name for name, zone in part.zone.items() if zone.core == core):
        case = zone_case(part, name, file, made)
        check_gap(case, file, layers=stacks is None)
        if case.known.values[core_name(core, "expansion")].value <= 0.0:
            found, place = "an expansion of 0 or less", f"core.{core}.expansion"
            raise Refused(Problem("core-does-not-grow", file, place, found, "a core that grows as it heats"))
        if stacks is not None:
            seats.append((make_seat(case, 0, stacks), 0, True))
            continue
        filled = fill_zone(case, wanted=Wanted(plies=plies.get(name)), draws=2000, seed=seed, inverse=False)
        row = fill_row(filled, plies.get(name))
        seats.append((make_seat(case, row.fill_plies, None), row.plies, row.verdict == FITS))
    if not seats:
        place = f"core.{core}"
        raise Refused(
            Problem("core-without-zone", file, place, "no zone names this core", "core = in a zone")
        )
    cases: list[tuple[ZoneCase, int]] = [(seat.case, seat.fill_plies) for seat, _, _ in seats]
    return [
        (with_others(seat, tuple(pair for pair in cases if pair[0] is not seat.case)), n, fits)
        for seat, n, fits in seats
    ]


def _check_volumes(part: Part, core: str, file: str) -> list[Problem]:
    if part.core[core].volume is None or part.core[core].laminate_area is not None:
        return []
    bare = [name for name, zone in part.zone.items() if zone.core == core and zone.area is None]
    expected, hint = "the area of the laminate, as the core has volumes", "or laminate_area of the core"
    return [Problem("missing-key", file, f"zone.{name}", "no key 'area'", expected, hint) for name in bare]


def _answer(
    part: Part,
    core: str,
    seats: Sequence[tuple[Seat, int, bool]],
    *,
    gap_wanted: float | None,
    moldings: int | None,
    humidity: Value | None,
    draws: int,
    seed: int,
    curve: bool,
) -> CoreAnswer:
    limit, why, left_out = clamp_limit(part)
    clamp = None if limit is None else limit.value
    zones = [
        core_in_zone(
            seat,
            plies=plies,
            plies_fit=fits,
            clamp=clamp,
            gap_wanted=gap_wanted,
            draws=draws,
            seed=seed,
            curve=curve,
        )
        for seat, plies, fits in seats
    ]
    zones.sort(key=_presses, reverse=True)
    first = seats[0][0]
    x, table = first.known.numbers(), part.core[core]
    sizes = estimates(
        lambda y: {
            "width": first.of("width", y),
            "mean": first.core_temperature("at_gel", y),
            "growth": first.free_growth(y),
            "movement": first.movement(y),
        },
        first.known,
    )
    times = [table.heating.time.value * share / 20.0 for share in range(31)] if table.heating else []
    cycle, found = part.temperature, zones[0].pressure
    return CoreAnswer(
        core=core,
        held=str(table.held),
        material=canonical(table.material),
        rubber=first.rubber,
        by_volume=first.by_volume,
        width=sizes["width"],
        room_temperature=x[ROOM],
        mean_temperature=sizes["mean"],
        highest_temperature=x[HOTTEST],
        heated=table.heating is not None,
        warming=tuple(zip(times, first.warming(times, x), strict=True)) if times else (),
        free_growth=sizes["growth"],
        movement=sizes["movement"],
        expansion=first.known.values[core_name(core, "expansion")],
        bulk_modulus=table.bulk_modulus,
        closes_cold=part.tool is not None and part.tool.closes == "cold",
        cast=table.cast is not None,
        zones=tuple(zones),
        clamp_limit=limit,
        clamp_reason=why,
        clamp_left_out=left_out,
        moldings=moldings,
        limit_moldings=table.limit_moldings,
        steam=(
            steam(
                temperature=cycle.cure.value,
                humidity=humidity,
                resin=min(found["nominal at_gel"].value, found["nominal at_maximum"].value),
                lowest=min((found[s].value for s in found if s.startswith("lowest ")), default=None),
            )
            if found and "nominal at_gel" in found and cycle and cycle.cure
            else None
        ),
    )


def _presses(zone: CoreInZone) -> tuple[float, float]:
    found = zone.pressure or {}
    strongest = found.get("nominal at_maximum") or found.get("locked_maximum at_maximum")
    return (strongest.value if strongest else -1.0, -(zone.contact.value if zone.contact else math.inf))


def core(
    part: Part,
    file: str = "",
    *,
    cores: Sequence[str] | None = None,
    made: stack.Ingredients | None = None,
    plies: Mapping[str, int] | None = None,
    stacks: Stacks | None = None,
    gap_wanted: float | None = None,
    moldings: Mapping[str, int] | None = None,
    humidity: Value | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    curve: bool = False,
) -> Cores:
    """Growth, contact, pressure and sizes of each expanding core.

    part: what engineering fixes; file: as the person called it; cores: their names, None for all; made:
    material values of a batch in place of the nominal ones; plies: all fiber plies by zone, else those that
    `fill` would use; stacks: thickness of the laminate where no plies are known; gap_wanted: hot gap to size
    the core for [m]; moldings: uses so far, by core; humidity: relative, at which the prepreg was stored;
    draws, seed: of the uncertainties; curve: also pressure against temperature. Raises `Refused`.
    """
    names = list(cores if cores is not None else part.core)
    problems: list[Problem] = []
    if not names:
        problems.append(Problem("no-core", file, "core", "no core", "a table [core.NAME]"))
    press = press_of(part, file, made=made, humidity=humidity) if names else None
    counts = _counts_of_all(press, plies or {}) if press is not None and stacks is None else {}
    ready: dict[str, Any] = {}
    for name in names:
        try:
            room = _room_of(press, name, file)
            if room is not None and room.rubber:
                assert press is not None
                ready[name] = (room, _question(press, room, counts, stacks))
                continue
            hard = _with_hard(part, name)
            problems += _check_volumes(hard, name, file)
            ready[name] = (
                None,
                _seats(hard, name, file, made=made, plies=plies or {}, stacks=stacks, seed=seed),
            )
        except Refused as refusal:
            problems += [p for p in refusal.problems if p not in problems]
    if problems:
        raise Refused(problems)
    answers = []
    for name, (room, asked) in ready.items():
        more: dict[str, Any] = {
            "gap_wanted": gap_wanted,
            "moldings": (moldings or {}).get(name),
            "humidity": humidity,
        }
        if room is None:
            answers.append(_answer(part, name, asked, **more, draws=draws, seed=seed, curve=curve))
        else:
            answers.append(_in_room(asked, name, **more, draws=draws, seed=seed, curve=curve))
    return Cores(part, tuple(answers), draws, seed)


def _room_of(press: Press | None, core: str, file: str) -> Room | None:
    """The room that a core lies in; raises `Refused` where no zone lies beside it."""
    found = next((r for r in press.rooms if any(c.name == core for c in r.cores)), None) if press else None
    if found is None or not found.zones:
        place, expected = f"core.{core}", "core = in a zone, or zones in its room"
        raise Refused(Problem("core-without-zone", file, place, "no zone names this core", expected))
    return found


def _with_hard(part: Part, core: str) -> Part:
    """The part with the zones against a hard core of a room in keys of widths."""
    made = part
    for name, zone in part.zone.items():
        if zone.room is not None and zone.room == part.core[core].room:
            made = rigid(made, name)
    return made


def _question(press: Press, room: Room, plies: Mapping[str, int], stacks: Stacks | None) -> RoomQuestion:
    """The room with its counts: asked for, of the part file, else those that `fill` finds best."""
    for core in room.cores:
        if press.known.values[core_name(core.name, "expansion")].value <= 0.0:
            found, place = "an expansion of 0 or less", f"core.{core.name}.expansion"
            raise Refused(
                Problem("core-does-not-grow", press.file, place, found, "a core that grows as it heats")
            )
    if stacks is not None:
        given = {"stack": stacks.full, "stack laid up": stacks.laid_up, "stack bled": stacks.bled}
        press.known.values.update({name: value for name, value in given.items() if value is not None})
        if stacks.laid_up is None:
            press.known.notes["stack laid up"] = (
                "stack as laid up: not given, the liquid stack is taken in its place: contact predicted too "
                "late, pressure too low (unsafe)"
            )

        def layups(x: Mapping[Any, Any]) -> dict[str, Layup]:
            laid = Layup.of_thickness(x["stack"], x.get("stack laid up"), x.get("stack bled"))
            return dict.fromkeys(room.zones, laid)

        return RoomQuestion(press, room, {}, layups)
    ask = RoomQuestion(press, room, press.counts(_counts(press, room, plies)))
    check_left(press, ask.plies, [room])
    return ask


def _counts(press: Press, room: Room, plies: Mapping[str, int]) -> dict[str, int]:
    """The counts with those of a room: asked for, of the part file, else those that `fill` finds best."""
    for zone in room.zones:
        check_room(press, zone, plies)
        if zone in plies:
            press.fill_plies(zone, plies[zone])
    said = press.counts(plies)
    return dict(plies) if all(zone in said for zone in room.zones) else counts_of_all(press, plies)


def _counts_of_all(press: Press, plies: Mapping[str, int]) -> dict[str, int]:
    """The counts of every room of rubber, as all of them push on one clamp; rooms that cannot be left out.

    What is wrong in the room of a core that is asked for is said when its turn comes.
    """
    with suppress(Refused):
        return counts_of_all(press, plies)
    return dict(plies)


def _in_room(
    ask: RoomQuestion,
    name: str,
    *,
    gap_wanted: float | None,
    moldings: int | None,
    humidity: Value | None,
    draws: int,
    seed: int,
    curve: bool,
) -> CoreAnswer:
    """The answer for a rubber core, from the state of the press."""
    press, room, part = ask.press, ask.room, ask.press.part
    core, table = next(c for c in room.cores if c.name == name), part.core[name]
    x, state = press.known.numbers(), ask.state()
    fits = {z: ask.layups is not None or verdict(press, z, ask.plies)[0] not in MISSES for z in room.zones}
    zones = [
        core_in_room(
            ask, core, zone, gap_wanted=gap_wanted, draws=draws, seed=seed, curve=curve, fits=fits[zone]
        )
        for zone in room.zones
    ]

    def formula(y: Mapping[Any, Any]) -> dict[str, Any]:
        at = press.at(y)
        mean = at.core_temperature(name, "gel")
        grown = at.core_growth_at(name, mean)
        found = {"mean": mean}
        across = "diameter" if core.kind == "round" else "width"
        if across in core.sizes or across in core.bare or core_name(name, "width") in y:
            width = (
                room.core_size(core, across, y)
                if core.kind in ("box", "round")
                else y[core_name(name, "width")]
            )
            found |= {"width": width, "growth": width * (grown - 1.0)}
            if not room.free:
                found["movement"] = width * (grown**3 / at.growth("gel") ** 2 - 1.0)
        return found

    sizes = estimates(formula, press.known)
    limit = state.clamp_limit(room.name, "gel")
    cycle, found = part.temperature, zones[0].pressure
    times = [table.heating.time.value * share / 20.0 for share in range(31)] if table.heating else []
    return CoreAnswer(
        core=name,
        held=table.held or "sides",
        material=canonical(table.material),
        rubber=True,
        by_volume=room.kind == "volume",
        width=sizes.get("width"),
        room_temperature=x[ROOM],
        mean_temperature=sizes["mean"],
        highest_temperature=float(state.conditions.core_temperature(name, ask.last)),
        heated=table.heating is not None,
        warming=_warming(table, name, times, x) if times else (),
        free_growth=sizes.get("growth"),
        movement=sizes.get("movement"),
        expansion=press.known.values[core_name(name, "expansion")],
        bulk_modulus=table.bulk_modulus,
        closes_cold=part.tool is not None and part.tool.closes == "cold",
        cast=table.cast is not None,
        zones=tuple(zones),
        clamp_limit=None if limit is None else Estimate(float(limit)),
        clamp_reason="" if limit is not None else "no clamp force or no projected area is given",
        clamp_left_out=tuple(words.removeprefix(AREA) for words in state.left_out if words.startswith(AREA)),
        moldings=moldings,
        limit_moldings=table.limit_moldings,
        steam=(
            steam(
                temperature=cycle.cure.value,
                humidity=humidity,
                resin=min(found["nominal at_gel"].value, found["nominal at_maximum"].value),
                lowest=min((p.value for n, p in found.items() if n.startswith("lowest ")), default=None),
            )
            if found and cycle and cycle.cure
            else None
        ),
        in_press=core_press(ask, core, draws=draws, seed=seed),
    )


def _warming(
    table: Any, name: str, times: Sequence[float], x: Mapping[Any, Any]
) -> tuple[tuple[float, float], ...]:
    """Mean temperature of a core between platens over time [s, K]."""
    own = {**x}
    found = []
    for time in times:
        own[core_name(name, "heating time")] = time
        found.append((time, float(core_temperature(table, name, own))))
    return tuple(found)
