"""What an expanding core does: when it touches, how hard it presses, what the clamp bears, its size."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from laminate.press import stack
from laminate.press.case import core_temperature
from laminate.press.conditions import Press
from laminate.press.core_results import CoreAnswer, CoreInZone
from laminate.press.core_state import core_in_room, of_press
from laminate.press.counts import FITS, TOO_MANY
from laminate.press.counts import verdict as in_gap
from laminate.press.filling import check_gap, fill_zone
from laminate.press.layup import Layup
from laminate.press.press import press_of
from laminate.press.pressed import NOT_PRESSED, OPENS
from laminate.press.pressed_count import PressedCount
from laminate.press.pressed_zone import check_growth, check_left, check_room, counts_of_all
from laminate.press.room_question import RoomQuestion
from laminate.press.rooms import CoreShape, Room
from laminate.press.shared_inputs import FEW_DRAWS, SEED, Estimate, estimates
from laminate.press.steam import Steam, steam
from laminate.press.unfavorable import fit_not_known
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused, each
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Core, Part
    from laminate.press.names import Counts, Numbers

DRAWS = 20_000
MISSES = (TOO_MANY, NOT_PRESSED, OPENS)


@dataclass(frozen=True, slots=True)
class Stacks:
    """Thickness of the laminate on one wall where it is known as such, without plies [m].

    full: liquid full; laid_up: before it is pressed, that of `full` where None; bled: to its limit.
    """

    full: SIValue
    laid_up: SIValue | None = None
    bled: SIValue | None = None


@dataclass(frozen=True, slots=True)
class Cores:
    """The answer for every core of a part."""

    part: Part
    cores: tuple[CoreAnswer, ...]
    draws: int
    seed: int

    @property
    def good(self) -> bool:
        """Whether the tool holds at every moment, as far as is known, and no core is past its moldings."""
        return not any(core.holds is False or core.worn for core in self.cores)


def core(
    part: Part,
    file: str = "",
    *,
    cores: Sequence[str] | None = None,
    made: stack.Ingredients | None = None,
    plies: Counts | None = None,
    stacks: Stacks | None = None,
    gap_wanted: float | None = None,
    moldings: Mapping[str, int] | None = None,
    humidity: SIValue | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Cores:
    """Growth, contact, pressure and sizes of each expanding core.

    part: what engineering fixes; file: as the person called it; cores: their names, None for all; made:
    material values of a batch in place of the nominal ones; plies: all fiber plies by zone, else those that
    `fill` would use; stacks: thickness of the laminate where no plies are known; gap_wanted: hot gap to size
    the core for [m]; moldings: uses so far, by core; humidity: relative, at which the prepreg was stored;
    draws, seed: of the uncertainties. Raises `Refused`.
    """
    names = list(cores if cores is not None else part.core)
    if not names:
        raise Refused(Problem("no-core", file, "core", "no core", "a table [core.NAME]"))
    press = press_of(part, file, made=made, humidity=humidity, draws=draws, seed=seed)
    counts = _counts_of_all(press, plies or {}) if stacks is None else {}
    ready = each(lambda name: _question(press, _room_of(press, name), counts, stacks), names)
    chosen = () if plies else {ask.room.name for ask in ready.values()}
    known_counts = press.counts(plies or {})
    zones = [z for room in press.rooms if room.rubber and room.name not in chosen for z in room.zones]
    answers = []
    for name, ask in ready.items():
        supposed = {z: ask.plies[z] for z in zones if z in ask.plies and z not in known_counts}
        ask = replace(ask, supposed=supposed)
        answers.append(_answer(ask, name, gap_wanted, (moldings or {}).get(name)))
    return Cores(part, tuple(answers), draws, seed)


def _room_of(press: Press, core: str) -> Room:
    """The room that a core lies in; raises `Refused` where no zone lies beside it."""
    room = next((r for r in press.rooms if any(c.name == core for c in r.cores)), None)
    if room is None or not room.zones:
        place, expected = f"core.{core}", "core = in a zone, or zones in its room"
        raise Refused(Problem("core-without-zone", press.file, place, "no zone with this core", expected))
    return room


def _question(press: Press, room: Room, plies: Counts, stacks: Stacks | None) -> RoomQuestion:
    """The room with its counts: asked for, of the part file, else those that `fill` finds best."""
    check_growth(press, [room])
    if stacks is not None:
        given = {"stack": stacks.full, "stack laid up": stacks.laid_up, "stack bled": stacks.bled}
        press.inputs.values.update({name: value for name, value in given.items() if value is not None})
        if stacks.laid_up is None:
            press.inputs.notes["stack laid up"] = (
                "stack as laid up: not given, taken as the liquid stack: contact predicted too late, "
                "pressure too low (unsafe)"
            )

        def layups(x: Numbers) -> dict[str, Layup]:
            laid = Layup.of_thickness(x["stack"], x.get("stack laid up"), x.get("stack bled"))
            return dict.fromkeys(room.zones, laid)

        return RoomQuestion(press, room, {}, layups)
    ask = RoomQuestion(press, room, press.counts(_counts(press, room, plies)))
    if room.rubber:
        check_left(press, ask.plies, [room])
    return ask


def _counts(press: Press, room: Room, plies: Counts) -> dict[str, int]:
    """The counts with those of a room: asked for, of the part file, else those that `fill` finds best."""
    counts, known_counts = dict(plies), press.counts(plies)
    for zone in () if room.rubber else room.zones:
        check_gap(press.cases[zone], press.file)
    for zone in room.zones:
        if room.rubber:
            check_room(press, zone, plies)
        if zone in plies:
            press.fill_plies(zone, plies[zone])
        elif zone not in known_counts and not room.rubber:
            case = press.cases[zone].of_draws(FEW_DRAWS, SEED)
            counts[zone] = fill_zone(case, inverse=False).discussed.plies
    if room.rubber and any(zone not in known_counts for zone in room.zones):
        return counts_of_all(press, plies)
    return counts


def _counts_of_all(press: Press, plies: Counts) -> dict[str, int]:
    """The counts of every room of rubber, as all of them push on one clamp; rooms that cannot be left out.

    What is wrong in the room of a core that is asked for is said when its turn comes.
    """
    with suppress(Refused):
        return counts_of_all(press, plies)
    return dict(plies)


def _fits(ask: RoomQuestion, zone: str) -> bool:
    """Whether a zone takes its count: gaps close on it, or rubber presses it and the tool holds."""
    if ask.layups is not None:
        return True
    if ask.room.rubber:
        return PressedCount(ask.press, zone, ask.plies).verdict not in MISSES
    case = ask.press.cases[zone]
    return not fit_not_known(case) and in_gap(case, ask.press.fill_plies(zone, ask.plies[zone])) == FITS


def _sizes(ask: RoomQuestion, core: CoreShape) -> dict[str, Estimate]:
    """Of a core: its mean temperature at gel, and of its size across the growth, free and in the tool."""
    press, room, name = ask.press, ask.room, core.name

    def formula(y: Numbers) -> dict[str, Any]:
        at = press.at(y)
        mean = at.core_temperature(name, "gel")
        grown = at.core_growth_at(name, mean)
        sizes = {"mean": mean}
        across = "diameter" if core.kind == "round" else "width"
        if across in core.sizes or across in core.bare or Key("core", name, "width") in y:
            sized = core.kind in ("box", "round")
            width = room.core_size(core, across, y) if sized else y[Key("core", name, "width")]
            sizes |= {"width": width, "growth": width * (grown - 1.0)}
            if not room.rubber:
                sizes["movement"] = width * (grown - 1.0)
            elif not room.free:
                sizes["movement"] = width * (grown**3 / at.growth("gel") ** 2 - 1.0)
        return sizes

    return estimates(formula, press.inputs)


def _steam(press: Press, zone: CoreInZone) -> Steam | None:
    """Steam held against the pressure of a zone; None where there is no pressure or no cure temperature."""
    pressure, tool = zone.pressure, press.part.tool
    if not pressure:
        return None
    resin = min(pressure["nominal at_gel"].value, pressure["nominal at_maximum"].value)
    lowest = min((p.value for n, p in pressure.items() if n.startswith("lowest ")), default=None)
    return steam(press, resin=resin, lowest=lowest, evacuated=tool is not None and tool.evacuated)


def _answer(ask: RoomQuestion, name: str, gap_wanted: float | None, moldings: int | None) -> CoreAnswer:
    """The answer for one core, from the state of the press."""
    room, part, state = ask.room, ask.press.part, ask.state()
    core = next(core for core in room.cores if core.name == name)
    zones = [core_in_room(ask, core, zone, gap_wanted, fits=_fits(ask, zone)) for zone in room.zones]
    if not room.rubber:
        zones.sort(key=lambda zone: zone.contact.value if zone.contact else math.inf)  # the first one governs

    sizes = _sizes(ask, core)
    return CoreAnswer(
        core=name,
        ask=ask,
        state=state,
        zones=tuple(zones),
        width=sizes.get("width"),
        mean_temperature=sizes["mean"],
        free_growth=sizes.get("growth"),
        movement=sizes.get("movement"),
        warming=_warming(part.core[name], name, state.x),
        moldings=moldings,
        steam=_steam(ask.press, zones[0]),
        **of_press(ask, core, state),
    )


def _warming(core: Core, name: str, x: Numbers) -> tuple[tuple[float, float], ...]:
    """Mean temperature of a core between platens over time [s, K]."""
    if core.heating is None:
        return ()
    key, whole = Key("core", name, "heating_time"), core.heating.time.value
    times = (whole * share / 20.0 for share in range(31))
    return tuple((time, float(core_temperature(core, name, {**x, key: time}))) for time in times)
