"""The answer of `fill` in words, of a zone under rubber or a bladder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from laminate.press.advice import best_of
from laminate.press.filling import ZoneFill
from laminate.press.names import FORCE
from laminate.press.pressed import USABLE, PressedFill, PressedRow, PressForces, VolumeWindow
from laminate.show.blocks import holding
from laminate.show.engineer_text import few, listed, plies, volume, with_spread
from laminate.show.fill_answer import (
    becomes,
    known_to,
    missed_limits,
    overfull_words,
    small_chances,
    unbounded_words,
    which_plies,
)
from laminate.show.numbers import chance, degrees, in_percent, kn, mpa, size
from laminate.values.quantities import KN
from laminate.values.said import say_in

ZERO = ("compliance", "volatiles", "corner_radius", "corner-radius")
"""How a key or an option ends that can be stated as 0."""

LEAST = 0.001
"""Least rise of a chance that is worth a word."""


def screening(units: str, *, brief: bool = False) -> str:
    """How far computed pressures can be trusted."""
    least = "44 psi" if units == "us" else "0.3 MPa"
    if brief:
        return f"For screening: pressures above ambient; do not use those below {least}."
    return (
        f"Screening: rubber counts as a liquid, so a pressure below about {least} means nothing; friction, "
        "trapped air and a bulk modulus that falls with heat are not in it."
    )


def advice(zone: PressedFill, units: str) -> tuple[str, str]:
    """The answer for one zone, its grade from the first word on: what to do, and the rest of the sentence."""
    if not zone.bounded:
        return f"{zone.zone}: no count is advised", f". {unbounded_words(zone)}"
    to_do, rest = _advice(zone, units)
    words = filter(None, [rest, forced_words(zone.cores, units), overfull_words(zone, units)])
    return f"{zone.zone}: {to_do}", " ".join(words)


def _advice(zone: PressedFill, units: str) -> tuple[str, str]:
    row, count = zone.best, which_plies(zone, zone.best)
    share = "" if row.chance.all is None else chance(row.chance.all)
    other = best_of(zone.rows)  # not the row where another count was asked about
    better = f" Best is {which_plies(zone, other)}{_share(other)}: {other.says}."
    if zone.grade == "use":
        laid = zone.together or row
        share = "" if laid.chance.all is None else chance(laid.chance.all)
        good = f"Chance that it presses, holds and meets the limits: {share}."
        return f"use {count}", f": {_what(laid, units)}. {good}"
    if zone.grade == "state the bleed":
        key = "--bleed" if "--bleed" in zone.missing else f"zone.{zone.zone}.bleed ="
        write = f'Write {key} "3 % ± 2 (tolerance)" with your own value.'
        return "state the bleed before a count is used", f". {_window(row, units)} {write}"
    if row.verdict == "not judged" and row.chance.reason:
        nearest = f"Nearest is {count}: {_what(row, units)}."
        return "no count is advised, as its chance is not known", f" ({row.chance.reason}). {nearest}"
    if zone.grade == "risky":
        only = " with what is stated" if zone.missing else ""
        why = f" State too: {few(map(to_state, zone.missing))}." if zone.missing else ""
        small = small_chances(row, 0.99)  # what opens the tool first
        weak = f" Chance {small}." if small else ""
        what = f": {_what(row, units)}.{weak}{why}"
        if other.chance.at_most > row.chance.at_most:
            return f"{count} {'is' if row.plies == 1 else 'are'} risky ({share}{only})", f"{what}{better}"
        return f"best is {count}, but risky ({share}{only})", what
    asked = f"{count}{_share(row)}"
    why = (row.verdict in USABLE and missed_limits(row, units)) or row.says
    if other is not row and other.verdict in USABLE:
        return f"do not lay up {asked}", f": {why}. {_window(row, units)}{better}"
    return "no ply count works", f". Nearest is {asked}: {why}. {_window(row, units)}"


def to_state(name: str) -> str:
    """What is to be stated, and how: as it will be, or that 0 is an answer where the files take it."""
    if name.endswith(".plies"):
        return f"{name} (as laid up)"
    return f"{name} (0 is an answer)" if name.endswith(ZERO) and not name.startswith("±") else name


def _share(row: PressedRow) -> str:
    """The chance of a count in brackets, '' where none is known."""
    return "" if row.chance.all is None else f" ({chance(row.chance.all)})"


def _what(row: PressedRow, units: str) -> str:
    """What the count becomes, and what it is pressed with."""
    gel, worst = row.pressure_at_gel, row.pressure_at_worst
    at_gel = "" if gel is None else f", {mpa(gel.value, units)} at gel"
    at_worst = "" if worst is None else f", {mpa(worst.value, units)} at worst (above ambient)"
    return f"{becomes(row, units)}{known_to(row)}{at_gel}{at_worst}"


def forced_words(cores: Sequence[VolumeWindow], units: str) -> str:
    """Which core is too large to go in cold, '' where each goes in."""
    than = "larger than the laid-up stacks leave"
    return " ".join(
        f"Core {core.core} must be forced in: cold it is {size(core.interference, units)} {than}."
        for core in cores
        if core.interference
    )


def _count_beside(row: PressedRow, units: str) -> str:
    """The count, and what bleeds in the zones of its room that state another bleed."""
    held = row.window.beside.items() if row.window is not None else ()
    bleeds = listed(f"{in_percent(bleed)} bleeding in {zone}" for zone, bleed in held)
    return f"{plies(row.plies)}{bleeds and f', with {bleeds}'}"


def _window(row: PressedRow, units: str) -> str:
    window = row.window
    if window is None or (row.verdict == "not judged" and not row.unjudged):  # or between open ends
        return ""
    start = f"{_count_beside(row, units)}:"
    if window.presses is None:
        return f"{start} it is not pressed, whatever bleeds."
    presses = f"{start} it presses up to a bleed of {in_percent(window.presses)}"
    if window.holds is None:
        return f"{start} the tool does not hold, whatever bleeds."
    if row.unjudged:
        opens = row.verdict == "opens the tool"
        return f"{presses}{'' if opens else '; whether the tool holds is not judged'}."
    low = in_percent(window.holds)
    if window.empty:
        return f"{presses}, and the tool holds only from {low}."
    between = f"{low} to {in_percent(window.presses)}"
    return f"{start} it presses and the tool holds while {between} of the resin bleeds."


def core_size_words(windows: Sequence[VolumeWindow], units: str) -> Iterator[str]:
    """Sizes of cores with which each presses as needed and the tool holds, where that is judged."""
    for window in windows:
        if window.high is not None and window.low is not None:
            what, now, low, high = sizes_of(window.width, (window.now, window.low, window.high), units)
            yield f"Core {window.core}: {what} allowed from {low} to {high}; stated {now}."
        elif window.low is not None:
            built = [] if window.within else ["a tool built for more pressure"]
            stronger = built if built and window.shut else ["a stronger clamp", *built]
            helps = f"take {' and '.join(stronger)}, a cooler maximum or a tighter bleed"
            yield f"No size of core {window.core} presses and holds: {helps}."


def sizes_of(widths: Sequence[float] | None, volumes: Sequence[float], units: str) -> list[str]:
    """What tells sizes of a core, its width where that is known, else its volume; then the sizes."""
    if widths is None:
        return ["volume", *(volume(v, units) for v in volumes)]
    return ["width", *(size(width, units) for width in widths)]


def notes(zone: PressedFill, units: str) -> list[str]:
    """What an engineer must know beside the table, the most needed first."""
    row, weak = zone.best, zone.grade in ("risky", "do not")
    lost = row.none_left_at is not None and zone.pressed_by == "rubber"
    gone = f"once {in_percent(row.none_left_at)} of the resin bleeds no pressure is left"
    shims = "Cheapest first: shims at the end of the room, or a shorter core; "
    better = [(name, share) for name, share in zone.moves[:3] if share > row.chance.at_most + LEAST]
    moves = listed(f"{name} ({chance(share)})" for name, share in better)
    return holding(
        *((weak, words) for words in core_size_words(zone.cores, units)),
        (lost, f"{zone.zone}, {_count_beside(row, units)}: {gone}."),
        (weak and zone.cores, f"{shims}0.1 % of its length is 0.1 % of its volume."),
        (weak and moves, f"Halving one ± helps most here: {moves}."),
    )


def named(zone: PressedFill | ZoneFill) -> str:
    """The heading of a zone."""
    by = getattr(zone, "pressed_by", "")
    return f"{zone.zone}, pressed by {by}" if by else zone.zone


def needed_words(zone: ZoneFill | PressedFill) -> list[str]:
    """What must be stated before a count is advised."""
    needed = zone.missing and zone.grade != "use"
    return [f"Needed before a count is advised: {listed(zone.missing)}."] if needed else []


def details(zone: PressedFill, units: str) -> Iterator[str]:
    """What must be known beside the table of one zone, and what is supposed."""
    yield from (*zone.beside, *notes(zone, units), *needed_words(zone))
    yield from (_window(row, units) for row in zone.rows)
    if zone.grade not in ("risky", "do not"):
        yield from core_size_words(zone.cores, units)
    yield from (say_in(words, units) for words in zone.supposed)


def wish_words(zone: PressedFill, units: str) -> str:
    """Which bleed gives the fiber volume wanted, and why no tolerance is named for the chance; '' unasked."""
    wishes, row, words = zone.wishes, zone.best, []
    if wishes.fiber_volume is not None:
        volume = f"{in_percent(wishes.fiber_volume)} fiber volume"
        if wishes.bleed is None or wishes.bleed < 0.0:
            words.append(f"No bleed gives {volume}: the plies hold too little resin.")
        else:
            end = min(wishes.end, row.window.presses or 0.0) if row.window else wishes.end
            limit = f"; only up to {in_percent(end)} can bleed under pressure"
            takes = f"{plies(row.plies)} have {volume} where {in_percent(wishes.bleed)}"
            only = limit if wishes.bleed > end else ""
            words.append(f"{takes} of the resin bleeds{only}. No gap sets it here.")
    if wishes.chance is not None and not wishes.tolerances:
        goal, why = chance(wishes.chance), row.chance.reason
        unknown = f"Which ± brings the chance to {goal} is not known: {why}."
        words.append(unknown if row.chance.all is None else f"The chance is {goal} or more as it is.")
    return " ".join(words)


def press_words(
    forces: PressForces | None, units: str, *, brief: bool = False, of: int | None = None
) -> list[str]:
    """The force of the press in one line, and how far the numbers go; of: the plies that it is of, to say."""
    if forces is None:
        return []
    state = forces.state
    clamp = f"clamp {kn(state.x[FORCE], units)}" if FORCE in state.x else "no clamp force is given"
    at = forces.gives_way_at
    gives = "" if at is None else f"; the clamp gives way at {degrees(at, units)}"
    missing = f" Not judged: {listed(map(str, state.left_out))}." if state.left_out else ""
    cold = f"{kn(float(state.cold_force), units)} shut cold, " if state.cold_force else ""
    bled = {"as stated": " with the stated bleed", "none": " with no bleed"}.get(forces.with_bleed or "", "")
    opening = " not known"
    if forces.at_gel is not None and forces.at_worst is not None:
        gel, worst = (with_spread(force, KN, units) for force in (forces.at_gel, forces.at_worst))
        opening = f"{bled} {cold}{'' if forces.whole else 'at least '}{gel} at gel, {worst} at worst"
    line = f"Opening force{'' if of is None else f' of {plies(of)}'}{opening}; {clamp}{gives}.{missing}"
    return [line, screening(units, brief=brief)] if forces.worst_moment is not None else [line]
