"""The answer of `core` in words: what happens first, the pressures next, the reasons and cautions last."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from itertools import chain
from operator import itemgetter

from laminate.press.cold import closed_directions
from laminate.press.core_results import MOMENTS, CoreAnswer, CoreInZone, Pressure
from laminate.press.cores import Cores
from laminate.press.counts import closes_cold
from laminate.press.names import FORCE, PRESSURE_LIMIT, ROOM
from laminate.press.pressed_zone import judged_with
from laminate.press.shared_inputs import Estimate
from laminate.press.unlikely import unlikely as inputs_unlikely
from laminate.show.attribute_words import BRIEF_LOCKS, HOT, RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, holding, sentences
from laminate.show.engineer_text import (
    AT_95,
    assumption_blocks,
    few,
    listed,
    past_moldings,
    plies,
    with_spread,
)
from laminate.show.fill_words import SPREAD, steam_words
from laminate.show.numbers import chance, column, degrees, in_units, kn, mpa, size
from laminate.show.pressed_words import core_size_words as window_words
from laminate.show.pressed_words import press_words
from laminate.values.quantities import DEG_C, KELVIN, MINUTE, MM, MPA
from laminate.values.said import say_in

STATES = {
    "lowest": "bled to limit",
    "expected": "stated bleed",
    "nominal": "no bleed",
    "locked_maximum": "locked maximum",
}
"""What the laminate did, by the name of the pressure."""
STATES_EXPLAINED = (
    "Bled to limit is the lowest pressure, stated bleed the expected one. Locked maximum: the laminate locks "
    "the moment it is touched as laid up, and core and tool go on heating to the highest temperature; the "
    "95 % range covers the ± of that temperature too, where one is stated."
)
ONE_PRESSURE = "The clamp's pressure assumes the same pressure on every projected area, of cores and gaps."
BALANCES = {
    "volumes": "Pressures come from the balance of volumes: cores and laminates fill the room.",
    "box": "Pressures come from the balance of the whole box: cores and laminates fill it.",
    "round": "Pressures come from the balance of the whole round room: cores and laminates fill it.",
    "widths": "Pressures come from the balance of widths, of one slice of the room.",
}
WHEN = {"gel": "at gel", "cure": "at cure", "maximum": "at the maximum"}
NO_CLAMP = "no clamp force or no projected area is given"
NO_LIMIT = "No pressure limit of the tool is given: whether walls, end plates and bolts hold is not judged."
OPENS = "opens: above what the clamp holds, so the tool opens and resin flashes before it is reached."
LOCKS = (
    "A locked expanding core can overload clamp, bolts and tool: the pressure rises steeply with "
    "every degree. Never let the tool run hotter than planned with the core in it.",
    "The locked maximum is a screening value: it assumes that the laminate locks the moment it is touched "
    "as laid up.",
)
HARD_LOCKS = (
    "A hard core does not yield: where the laminate locks, clamp, bolts and tool take its whole growth, and "
    "no pressure is computed for that. Never let the tool run hotter than planned with the core in it."
)
FUME = "{}: ventilate, stay below its fume limits, do not burn it off."
FAR = 200.0  # [K] beyond the cycle, from where on a temperature is no number to act on


def balance(core: CoreAnswer) -> str:
    """What the pressures come from: widths, box, round or volumes."""
    room = core.ask.room
    if room.kind == "volume":
        return "volumes"
    return "widths" if room.old or not room.rubber else room.kind


def _pressure(core: CoreAnswer, pressure: Pressure, state: str, moment: str, units: str) -> tuple[str, str]:
    """A pressure, that the gap is not closed, or that the tool opens; and where 95 % of the draws lie."""
    number, low, high = (mpa(getattr(pressure, end), units, bare=True) for end in ("value", "low", "high"))
    opens = "" if core.bears(pressure.value, moment, state) else ", opens"
    return "gap not closed" if pressure.value == 0.0 else f"{number}{opens}", f"{low} to {high}"


def _beyond(core: CoreAnswer, estimate: Estimate, units: str) -> str:
    """That a temperature is not reached in the cycle, and where it lies if that is a number to act on."""
    top = f"up to {degrees(core.highest_temperature, units)}, the highest of the cycle"
    near = estimate.value <= core.highest_temperature + FAR
    return f"{top} (it would at {with_spread(estimate, DEG_C, units)})" if near else top


def _touches(core: CoreAnswer, zone: CoreInZone, units: str) -> str:
    if zone.contact is None:
        return "never touches the laid-up stack"
    if zone.contact.value > core.highest_temperature:
        return f"does not touch the laid-up stack {_beyond(core, zone.contact, units)},"
    if zone.contact.value > core.state.x[ROOM]:
        return f"touches the laid-up stack at {with_spread(zone.contact, DEG_C, units)}"
    if not core.rubber and closed_directions(core.ask.room, zone.zone):
        return "touches the laid-up stack even cold, where the tool does not open,"
    if closes_cold(core.ask.press.cases[zone.zone]):
        return "touches the laid-up stack even cold, so it does not go in without crushing the plies"
    return "touches the laid-up stack as the tool closes hot, so nothing is crushed cold,"


def _fills(core: CoreAnswer, zone: CoreInZone, units: str) -> str:
    if zone.liquid_full is None:
        return "the resin never fills the room"
    if zone.liquid_full.value > core.highest_temperature:
        return f"the resin does not fill the room {_beyond(core, zone.liquid_full, units)}"
    always = zone.liquid_full.value <= core.state.x[ROOM]
    at = "every temperature of the core," if always else with_spread(zone.liquid_full, DEG_C, units)
    return f"the resin fills the room at {at} with the tool at gel temperature"


def headline(core: CoreAnswer, units: str, *, why: bool = True) -> Iterator[str]:
    """The answer for one core; why: with the pressures of the table in words too."""
    yield verdict_words(core, units)
    for each in core.zones[:1] if core.rubber else core.zones:  # a hard core leaves each zone its own gap
        where = f" in zone {each.zone}, {plies(each.plies)} on each wall" if each.plies else ""
        first = f"{core.core}{where}: {_touches(core, each, units)} and {_fills(core, each, units)}"
        yield f"{first} ({AT_95})." if "±" in first else f"{first}."
    if (why or core.governing.pressure is None) and core.rubber:
        yield pressure_headline(core, units)
    if short := core.interference:
        what, left = min(short.items(), key=itemgetter(1))
        yield f"It must be forced in: cold its {what} is {size(-left, units)} larger than the stacks leave."
    for what, more in core.too_large_hot.items():
        by = with_spread(more, MM, units)
        yield f"It does not fit the hot tool: at gel its {what} is {by} larger than that of the tool."
    if core.worn:
        yield past_moldings(core.core, core.moldings or 0, core.stated.limit_moldings or 0)
    yield from unlikely(core, units)


def verdict_words(core: CoreAnswer, units: str) -> str:
    """The answer of the press in its first words: whether the core presses, and whether the tool holds."""
    zone, name = core.governing, f"Core {core.core}"
    if not core.rubber:
        counts = "'laminate fill' says which counts it closes on"
        return f"{name}: no pressure is computed, {zone.reason}. {counts}."
    if core.ask.room.open_ends:
        return _open_ends(core, units)
    if zone.pressure is None:
        return f"{name}: not judged, {zone.reason}."
    pressure, nominal = zone.pressure, zone.pressure["nominal worst"]
    if core.holds is False:
        return f"{name}: {'; '.join(_opens_how(core, nominal, units))}."
    lacks = f"not stated: {few(core.missing)}"
    unjudged = f"whether the tool holds is not judged, {lacks}"
    if nominal.value == 0.0:
        start, end = ("with what is stated it ", f"; {unjudged}") if core.missing else ("", "")
        return f"{name}: {start}does not press in this cycle{end}."
    stated = core.ask.stated and "expected worst" in pressure
    state, when = ("expected", core.expected_moment) if stated else ("nominal", core.worst_moment)
    bled = "the stated bleed" if stated else "no bleed"
    at = f"worst {mpa(pressure[f'{state} worst'].value, units)} {WHEN[when or 'gel']}, above ambient"
    if pressure[f"{state} at_gel"].value == 0.0:
        at = f"it does not press at gel; {at}"
    if core.opens is None:
        return f"{name}: {unjudged}; with {bled} {at}."
    act = "open the tool" + " or pass its pressure limit" * (PRESSURE_LIMIT in core.state.x)
    drawn = f"chance {chance(core.opens)} with {bled}"
    if core.opens > 1.0 - core.ask.press.part.limits.chance_holds:
        return f"{name}: may {act}: {drawn}; {at}{f'; {lacks}' if core.missing else ''}."
    if core.missing:
        return f"{name}: {unjudged}; {drawn} to {act}; {at}."
    return f"{name}: does not {act} ({drawn}); {at}."


def _open_ends(core: CoreAnswer, units: str) -> str:
    """That a core between open ends is not judged, and what the clamp says of the most it can press."""
    pressure = core.governing.pressure
    verdict = f"Core {core.core}: not judged, its ends are open: close the ends or measure the pressure"
    if pressure is None:
        return f"{verdict}."
    worst = pressure["nominal worst"]
    if core.holds is False:
        how = "; ".join(_opens_how(core, worst, units))
        return f"{verdict}. With closed ends, the most it can press, it {how}."
    most = f"at most {mpa(worst.value, units)}, that of closed ends"
    lacks = f"; not stated: {few(core.missing)}" if core.missing else ""
    return f"{verdict}. It presses with {most}{', which the clamp holds' if core.holds else ''}{lacks}."


def _opens_how(core: CoreAnswer, worst: Pressure, units: str) -> Iterator[str]:
    """That clamp or walls of the tool do not hold, with no bleed, and what they hold."""
    force, x = core.forces.at_worst, core.state.x
    if core.stays_shut is False and force is not None:
        yield f"opens the tool with no bleed: {kn(force.value, units)}, the clamp holds {kn(x[FORCE], units)}"
    if core.within_limit is False:
        beyond = "presses harder than the tool is built for, with no bleed"
        yield f"{beyond}: {mpa(worst.value, units)}, pressure limit {mpa(x[PRESSURE_LIMIT], units)}"


def unlikely(core: CoreAnswer, units: str) -> Iterator[str]:
    """Inputs of a core that its material cannot have."""
    cases = (core.ask.press.cases[zone] for zone in core.ask.room.zones)
    unlike = dict.fromkeys(words for case in cases for words in inputs_unlikely(case).values())
    yield from (f"{say_in(words, units)}." for words in unlike)


def pressure_headline(core: CoreAnswer, units: str) -> str:
    """How hard it presses, against the clamp."""
    zone, held = core.governing, core.limits["at_maximum"]
    if zone.pressure is None:
        return f"No pressure is given: {zone.reason}."
    gel, top = (zone.pressure[f"nominal {moment}"] for moment in MOMENTS)
    locked = zone.pressure["locked_maximum at_maximum"]
    if gel.value == top.value == locked.value == 0.0:
        return "It does not press in this cycle: the gap is not closed, not even at the maximum."
    nominal = f"Pressure with no bleed {mpa(gel.value, units)} at gel, {mpa(top.value, units)} at the maximum"
    lock = f"Locked maximum {mpa(locked.value, units)}"
    if held is None:
        return f"{nominal}; {NO_CLAMP}, so the clamp is not judged. {lock} (screening value)."
    clamp = f"the clamp's {mpa(held, units)} there"
    against = f"below {clamp}."
    if core.stays_shut is False:
        against = f"above {clamp}: the tool opens and flashes, and the pressure stays at the clamp's."
    if top.above_clamp:
        against += f" With no bleed it is above that with a chance of {chance(top.above_clamp)}."
    opens = f"above {clamp}: a core that locks opens the tool" if core.locked_opens else f"below {clamp}"
    return f"{nominal}, {against} {lock}, {opens} (screening value)."


def pressures_grid(core: CoreAnswer, zone: CoreInZone, units: str) -> Grid | None:
    """Lowest, nominal and locked maximum, at gel and at the maximum, with where 95 % of the draws lie."""
    if zone.pressure is None:
        return None
    rows, unit, pressures = [], in_units(MPA, units).text, zone.pressure
    for state in STATES:
        if f"{state} at_gel" in pressures:  # at both moments, or at neither
            each = (_pressure(core, pressures[f"{state} {at}"], state, at, units) for at in MOMENTS)
            rows.append((STATES[state], *chain.from_iterable(each)))
    if core.limits["at_gel"] is not None:
        alone = sum(room.rubber for room in core.ask.press.rooms) == 1
        ends = (cell for limit in core.limits.values() for cell in (mpa(limit, units, bare=True), ""))
        rows.append(("clamp opens at" if alone else "opens, no bleed", *ends))
    columns = ("laminate", f"at gel [{unit}]", "95 % between", f"at maximum [{unit}]", "95 % between")
    return Grid(columns, tuple(rows))


def gap_words(core: CoreAnswer, zone: CoreInZone, units: str) -> Iterator[str]:
    """Cold width and dummy for a hot gap."""
    why = "of the stack given" if core.ask.layups else f"in the middle of the window of {plies(zone.plies)}"
    gap = f"{size(zone.gap, units)} ({'asked for' if zone.gap_asked else why})"
    if zone.now is not None and zone.cold_width is not None:
        free = ", without pressure" if core.rubber else f" across its {zone.across}"
        wanted, now = with_spread(zone.cold_width, MM, units), with_spread(zone.now, MM, units)
        yield f"For a hot gap of {gap} the core must be {wanted} cold{free}; it is {now}."
    elif zone.gap_asked:
        none = zone.reason or "it is given by its volume"
        yield f"For a hot gap of {gap}: no width of the core is known, {none}."
    if zone.dummy is not None:
        yield f"Cast over a dummy of {with_spread(zone.dummy, MM, units)} on each wall for that."


def sizes_words(core: CoreAnswer, zone: CoreInZone, units: str) -> Iterator[str]:
    """Cold width, dummy and clearance."""
    yield from gap_words(core, zone, units)
    if zone.pull_out is not None:
        stack = ", the stack taken as it is hot" if core.ask.layups else ""
        clearance = with_spread(zone.pull_out, MM, units)
        yield f"Clearance to pull the core out of the cold part: {clearance}{stack}."
        if zone.pull_out.value <= 0.0:
            yield "It does not come out: the cold core is wider than the room between the laminates."


def temperature_words(core: CoreAnswer, zone: CoreInZone, units: str) -> Iterator[str]:
    """Growth, temperatures of the core, the window from contact on."""
    across, grown = ("width", core.free_growth) if core.rubber else (zone.across, zone.growth)
    growth = "not known" if grown is None else with_spread(grown, MM, units)
    mean = with_spread(core.mean_temperature, DEG_C, units)
    how = "from its heating through both faces" if core.stated.heating else "as given"
    yield f"Free growth of the {across} {growth} at a mean core temperature of {mean} ({how})."
    if core.rubber and core.held != "no" and core.movement is not None:
        one_wall = core.ask.press.part.zone[zone.zone].walls == 1
        where = "laminate" if one_wall else "laminates on both sides together"
        held = {"sides": "Held by the tool on its sides", "ends": "Held between its ends"}[core.held]
        grows = f"{held}, the core grows by {with_spread(core.movement, MM, units)} toward the {where}"
        yield f"{grows}: growth that is blocked elsewhere goes there."
    inside = zone.contact is not None and core.state.x[ROOM] < zone.contact.value <= core.highest_temperature
    if inside and zone.contact_together and zone.contact_together.value <= core.highest_temperature + FAR:
        together = with_spread(zone.contact_together, DEG_C, units)
        yield f"If core and tool heat together, the core touches the laid-up stack at {together}."
    elif inside:
        yield "If core and tool heat together, the core does not touch the laid-up stack in the cycle."
    if inside and zone.window is not None and zone.window <= FAR:
        yield f"From contact to liquid full the core warms by {size(zone.window, units, KELVIN)}."
    if zone.locked_per_kelvin:
        step, degree = (1.0 / 1.8, "degF") if units == "us" else (1.0, "kelvin")
        slope, most = mpa(step * zone.locked_per_kelvin, units), degrees(core.highest_temperature, units)
        yield f"Locked, it gains {slope} for each {degree} near the maximum of {most}."
    if zone.clamp_reached is not None:
        start = "Locked from contact on, it reaches the clamp's pressure with core and tool at"
        yield f"{start} {degrees(zone.clamp_reached, units)}."


def balance_words(core: CoreAnswer, zone: CoreInZone) -> list[str]:
    """Which balance stands behind the pressures, and how far it can be trusted."""
    pressed = zone.pressure is not None
    screening = "Some inputs are not measured (listed below), so every pressure is for screening only."
    return holding(
        (pressed, f"{BALANCES[balance(core)]} The laminate counts by its mass. {SPREAD}"),
        (pressed and zone.not_measured, screening),
        (pressed and core.limits["at_gel"] is not None, ONE_PRESSURE),
    )


def _at_gel(core: CoreAnswer, units: str) -> Iterator[Block]:
    """Absolute resin pressure at gel against water in the resin, which decides about voids; how it warms."""
    if core.vapor is not None:
        resin, water = (pressure.value for pressure in core.vapor[:2])
        beside = f"{'above' if resin >= water else 'below'} the {mpa(water, units)} of its water vapor"
        yield Sentence(f"At gel the resin has {mpa(resin, units)}, {beside}, both absolute.")
    if core.warming:
        picked = core.warming[:: max(1, len(core.warming) // 6)]
        rows = tuple((column(time, MINUTE, 0), degrees(mean, units)) for time, mean in picked)
        yield Sentence("Mean temperature of the core on the platens:")
        yield Grid(("time [min]", "mean core"), rows, (0,))


def _steams(core: CoreAnswer) -> bool:
    """Whether steam opens voids, or can."""
    return core.steam is not None and (core.steam.voids or core.steam.possible)


def _remarks(core: CoreAnswer) -> Iterator[str]:
    """What the tables say of a material beside its expansion, which holds for one that was measured too."""
    if core.material is None or core.stated.expansion is None:
        return
    from laminate.files.reference_tables import find

    with contextlib.suppress(LookupError):
        row = find(core.material, "expansion")
        if row.remark:
            yield f"{row.name}: {row.remark} ({row.origin})."


def cautions(core: CoreAnswer, units: str, *, brief: bool = False) -> Iterator[str]:
    """What goes with an answer on a core, as far as it applies to its material; brief: for one screen."""
    yield from () if brief else unlikely(core, units)
    yield from holding(
        (core.locked_opens, "The locked maximum is above what the clamp holds."),
        (core.rubber and PRESSURE_LIMIT not in core.state.x, NO_LIMIT),
    )
    if (first := core.vapor_first) is not None:
        yield (
            f"Vapor before pressure: {core.core} presses from {degrees(first[0], units)} on, where water "
            f"vapor has {mpa(first[1], units)} absolute, above the gas: evacuate, dry plies, or press sooner."
        )
    if brief and core.steam is not None and core.steam.possible and not core.steam.voids:
        water, lowest = mpa(core.steam.water, units), mpa(core.steam.lowest or 0.0, units)
        at = degrees(core.steam.temperature, units)
        yield f"Steam may open voids: vapor {water} at {at}, resin {lowest} if fully bled."
    elif _steams(core):
        yield from steam_words(core.steam, units)
    if core.rubber:
        yield from (*([BRIEF_LOCKS] if brief else [*LOCKS, HOT]), FUME.format("Silicone rubber"))
    else:
        ptfe = "ptfe" in (core.material or "").casefold()
        yield from (HARD_LOCKS, HOT, *([FUME.format("PTFE")] if ptfe else []), *_remarks(core))
    left_out = listed(missing.of for missing in core.state.left_out if missing.what == "projected area")
    cast = not core.rubber and core.stated.cast
    yield from holding(
        (True, RESPONSIBILITY),
        (left_out, f"The force on {left_out} is not counted: no projected area is given."),
        (cast, f"No dummy is given: only rubber is cast over a dummy, {core.material} is not."),
    )
    for zone in core.zones:
        if not zone.plies_fit:
            yield f"Zone {zone.zone}: 'laminate fill' advises no count; {plies(zone.plies)} taken here."
    if (limit := core.stated.limit_moldings) is not None:
        used = "not stated" if core.moldings is None else str(core.moldings)
        wears = " Expansion falls and set grows with use." if core.rubber and not brief else ""
        yield f"Moldings of core {core.core}: {used}, of {limit} allowed.{wears}"


def core_blocks(answer: Cores, units: str, *, why: bool = True) -> list[Block]:
    """The whole answer in the order in which it is read; why: with temperatures, sizes and assumptions."""
    heads = [list(headline(core, units, why=why)) for core in answer.cores]
    blocks: list[Block] = [Sentence(line, strong=True) for lines in heads for line in lines]
    asked = [(core, zone) for core in answer.cores for zone in core.zones if zone.gap_asked and not why]
    for core, zone in asked:
        where = f"{core.core} in zone {zone.zone}: " if len(asked) > 1 else ""
        blocks.append(Sentence(f"{where}{' '.join(gap_words(core, zone, units))}"))
    shown, press_lines = set(), set[str]()
    for core in answer.cores:
        room = core.ask.room.name
        grid = pressures_grid(core, core.governing, units)
        if grid is not None and room not in shown:  # all in a room are under one pressure
            shown.add(room)
            opens = any("opens" in cell for row in grid.rows[:-1] for cell in row)
            explained = f"{STATES_EXPLAINED} {OPENS}" if opens else STATES_EXPLAINED
            where = f"zone{'s' if len(core.zones) > 1 else ''} {listed(zone.zone for zone in core.zones)}"
            blocks += [Heading(f"{core.core} in {where}: pressure above ambient"), grid]
            blocks += sentences([explained] if why else [])
        if core.rubber or (core.forces.at_worst and core.forces.at_worst.value):
            lines = press_words(core.forces, units, brief=not why)
            windows = window_words(core.windows, units)
            supposed = (say_in(words, units) for words in core.ask.press.inputs.supposed)
            more = [*lines, *windows, *supposed] if why else [" ".join(lines)]
            more = [*judged_with(core.ask.supposed), *more]
            blocks += sentences([line for line in more if line not in press_lines])
            press_lines.update(more)
    for core in answer.cores if why else ():
        for zone in core.zones:
            blocks.append(Heading(f"{core.core} in zone {zone.zone}: temperatures and sizes", detail=True))
            lines = [*temperature_words(core, zone, units), *sizes_words(core, zone, units)]
            blocks += sentences([*lines, *balance_words(core, zone)])
        blocks += _at_gel(core, units)
        blocks += sentences(steam_words(core.steam, units) if not _steams(core) else [])
    missing = dict.fromkeys(n for core in answer.cores for zone in core.zones for n in zone.not_measured)
    if why:
        blocks += assumption_blocks(missing, units)
    elif missing:
        counted = f"{len(missing)} assumptions and inputs without ±: see --why."
        if isinstance(last := blocks[-1], Sentence) and not last.strong:
            counted = f"{last.text} {counted}"
            del blocks[-1]
        blocks.append(Sentence(counted))
    mind = dict.fromkeys(line for core in answer.cores for line in cautions(core, units, brief=not why))
    blocks += [Heading("Cautions"), *sentences(list(mind))]
    return blocks if why else [*blocks, Sentence(" ".join(lines[0] for lines in heads), strong=True)]
