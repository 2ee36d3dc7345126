"""What an expanding core does: when it touches, how hard it presses, what the clamp bears, its size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.press import stack
from laminate.press.conditions import Press
from laminate.press.core_results import CoreAnswer
from laminate.press.core_state import core_answer, core_in_room
from laminate.press.counts import FITS, TOO_MANY
from laminate.press.counts import verdict as in_gap
from laminate.press.filling import check_gap, fill_zone
from laminate.press.layup import Layup
from laminate.press.press import press_of
from laminate.press.pressed import NOT_PRESSED, OPENS
from laminate.press.pressed_count import PressedCount
from laminate.press.pressed_zone import check_growth, check_left, check_room, counts_of_all
from laminate.press.room_question import RoomQuestion
from laminate.press.rooms import Room
from laminate.press.shared_inputs import FEW_DRAWS, SEED
from laminate.press.unfavorable import fit_not_known
from laminate.values.problems import Problem, Refused, each
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part
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
        return not any(core.holds is False or core.worn or core.too_large_hot for core in self.cores)


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
        each_zone = [core_in_room(ask, name, z, gap_wanted, fits=_fits(ask, z)) for z in ask.room.zones]
        answers.append(core_answer(ask, name, each_zone, (moldings or {}).get(name)))
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
