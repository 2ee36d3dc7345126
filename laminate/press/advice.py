"""How far a ply count under rubber or a bladder can be advised, and what would make it better."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from laminate.press import cold
from laminate.press.counts import FITS, near_top, rules
from laminate.press.pressed import (
    DEPENDS,
    DO_NOT,
    PRESSES,
    RISKY,
    STATE_BLEED,
    USABLE,
    USE,
    PressedRow,
    PressForces,
    VolumeWindow,
)
from laminate.press.pressed_count import PressedCount, chance_with
from laminate.press.shared_inputs import estimates
from laminate.press.state import State
from laminate.press.unstated import as_asked, not_stated, tool_not_judged
from laminate.press.windows import by_window, gives_way_at, volume_window
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.names import Numbers


def missing_for_use(of: PressedCount) -> tuple[str, ...]:
    """Keys that must be stated, and inputs that need a ±, before a count may be advised."""
    bleeds = as_asked(of.press.part, (Key("zone", name, "bleed") for name in of.open_bleeds))
    held = {rule.attribute for rule in rules(of.case)}
    open_ = not_stated(of.state, lambda x: State(of.press.at(x), of.plies), of.zone, held)
    return tuple(dict.fromkeys([*bleeds, *open_]))


def best_of(rows: Sequence[PressedRow]) -> PressedRow:
    """The highest chance of all; without chances the widest window.

    A tie goes to what presses, then to the fewest limits missed, then to the lower worst pressure. Where
    pressure or force is not known, by the chance that what is known leaves.
    """

    def in_a_tie(row: PressedRow) -> tuple[bool, int, float]:
        worst = row.pressure_at_worst.value if row.pressure_at_worst else 0.0
        return row.verdict not in USABLE, len(row.outside), worst

    with_chance = [row for row in rows if row.chance.within_limits is not None]
    if with_chance:
        return min(near_top(with_chance), key=in_a_tie)

    return max(rows, key=lambda row: by_window(row.window, row.verdict in USABLE, len(row.outside)))


def grade_of(
    press: Press, row: PressedRow, missing: Sequence[str], windows: Sequence[VolumeWindow] = ()
) -> str:
    """How far a count can be advised; not at all where pressure or force is not known.

    windows: of the cores that press it, which must go in cold.
    """
    limits, chance = press.part.limits, row.chance
    if chance.within_limits is None:
        usable = row.verdict in USABLE and (row.window is None or not row.window.empty)
        return STATE_BLEED if usable else DO_NOT
    if chance.all is None or row.verdict not in (PRESSES, DEPENDS, FITS):
        return DO_NOT
    good = chance.all >= limits.chance and (chance.holds or 0.0) >= limits.chance_holds
    goes_in = not any(window.interference for window in windows)
    if good and goes_in and not missing and not row.outside and not row.may_open:
        return USE
    return RISKY if chance.all >= 0.5 else DO_NOT


def core_windows(of: PressedCount) -> list[VolumeWindow]:
    """For each core of the room the volumes with which the counts press and the tool holds, if judged."""
    room, state = of.room, of.state
    if room is None or room.free or state.pressure(room.name) is None:
        return []
    low, high = of.bleeds
    x, windows, unjudged = state.x, [], room.open_ends or tool_not_judged(state)
    left = {what: float(size) for what, size in cold.clearance(state, room.name).items()}
    for core in room.cores:
        now = float(room.core_volume(core, x))
        least, most = (None, None) if unjudged else volume_window(of.press, core.name, of.plies, low, high)
        if least is not None and most is not None and most < least:
            most = None
        width: tuple[float, ...] | None = None
        if core.kind == "box":
            ends = (now, least, least if most is None else most)
            width = tuple(float(room.core_width(core, v, x)) for v in ends if v is not None)
        at_least = State(
            state.conditions.with_volume(core.name, now if least is None else least), of.plies, low
        )
        holds = bool(at_least.stays_shut), bool(at_least.within_pressure_limit)
        windows.append(VolumeWindow(core.name, now, least, most, width, left, *holds))
    return windows


def what_moves_it(of: PressedCount, row: PressedRow) -> list[tuple[Any, float]]:
    """Inputs that move the chance most: chance of all with the ± of one alone halved, largest first.

    Of the draws of the row: an input that does not enter moves nothing.
    """
    if row.chance.all is None:
        return []
    names = [source.name for source in of.press.inputs.sources()]
    shares = [(name, chance_with(of, row.plies, {name: 0.5})) for name in names]
    return sorted(shares, key=lambda pair: -pair[1])[:5]


def forces(at: Callable[[Numbers | None], State], chance_holds: float | None) -> PressForces:
    """The press in one state; at: it on any numbers, the nominal ones where None."""
    state = at(None)
    press, zones = state.press, [zone for room in state.press.rooms if room.rubber for zone in room.zones]
    stated = state.bleed_given is None and any(press.stated(zone) is not None for zone in zones)
    top = max(state.rubber, key=lambda room: float(state.worst(room.name)), default=None)
    whole = all(missing.what == "clamp force" for missing in state.left_out)
    known = float(state.worst_force) > 0.0 or (whole and state.presses)

    def opening(x: Numbers) -> dict[str, Any]:
        other = at(x)
        return {"gel": other.opening_force("gel"), "worst": other.worst_force}

    force = estimates(opening, press.inputs) if known else {}
    return PressForces(
        state,
        force.get("gel"),
        force.get("worst"),
        state.worst_moment(top.name) if top is not None else None,
        gives_way_at(state),
        chance_holds,
        None if top is None else "as stated" if stated else "none",
        whole,
    )
