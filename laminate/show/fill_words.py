"""The answer of `fill` in words: what to lay up first, the table next, the reasons last."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from laminate.press.charge_list import ChargeList
from laminate.press.filling import Fill, ZoneFill
from laminate.press.pressed import Band, PressedFill
from laminate.press.shared_inputs import NO_TOLERANCE, Estimate
from laminate.press.stack import prepregs_of
from laminate.press.steam import Steam
from laminate.press.unlikely import unlike_kinds, unlikely
from laminate.show import pressed_words
from laminate.show.attribute_words import BRIEF_LOCKS, HOT, RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, columned, holding, sentences
from laminate.show.engineer_text import (
    alone,
    assumption_blocks,
    bare,
    listed,
    past_moldings,
    plies,
    sizes_words,
    with_spread,
)
from laminate.show.fill_answer import HINDRANCES, headline, ways_words, which_plies, why
from laminate.show.numbers import (
    DASH,
    bare_chance,
    chance,
    column,
    degrees,
    in_percent,
    in_units,
    mpa,
    size,
    text,
)
from laminate.show.page_words import capital
from laminate.values.quantities import G_M2, GRAM, MM, MPA, NUMBER, PERCENT
from laminate.values.said import say_in

NO_ROOM = "no room"
VERDICTS = (
    "Too few: nothing presses, so voids stay. Too many: the tool does not close. Fill: how many times the "
    "liquid stack fills the hot gap. Bleeds, short: share of its resin. Fiber: volume share in the cured "
    "part; gap: in the hot gap."
)
PRESSED = (
    "Under rubber and bladders: pressures are above ambient, with the range of 95 % of the draws, or from no "
    "bleed to the end of bleed where none is stated."
)
SPREAD = "± is the expanded uncertainty at 95 %, from every stated tolerance."
NO_SPREAD = f"{capital(NO_TOLERANCE)}: write a ± beside each value to know how likely it is."


def counts_grid(zone: ZoneFill | PressedFill, units: str, *, brief: bool = False) -> Grid:
    """Every ply count near: verdict, what it becomes, pressures with the range of 95 % of the draws, chance.

    brief: without what the answer says of the best count, so that it fits a screen without folding.
    """
    press, part = in_units(MPA, units).text, f"part [{in_units(MM, units).text}]"
    gel, worst = f"gel [{press}]", f"worst [{press}]"
    columns: dict[str, Callable[[Any], str]] = {
        "plies": lambda row: str(row.plies),
        "verdict": lambda row: row.says + (f", {zone.grade}" if row is zone.use else ""),
        "fill": lambda row: bare(row.fill_ratio, NUMBER, units),
        "bleeds [%]": lambda row: _bleeds(row.bleed, units),
        gel: lambda row: _band(row.pressure_at_gel, units),
        worst: lambda row: _band(row.pressure_at_worst, units),
        part: lambda row: bare(row.part["thickness"], MM, units),
        "fiber [%]": lambda row: bare(row.part["fiber_volume"], PERCENT, units),
        "gap [%]": lambda row: _share(row.fiber_volume_in_gap, units),
        "chance [%]": lambda row: bare_chance(row.chance.all),
        "nominal": lambda row: DASH if row.chance.all is None else "inside" if row.advised else "outside",
    }
    if isinstance(zone, ZoneFill):
        left_out = {gel, worst, "nominal" if zone.toleranced else "chance [%]"}
    else:
        left_out = {"fill", "bleeds [%]", "gap [%]", "nominal"}
        if brief:
            left_out |= {gel, worst} if zone.pressed_by == "bladder" else {part, "fiber [%]"}
    shown = {name: say for name, say in columns.items() if name not in left_out}
    right = [i for i, name in enumerate(shown) if name not in ("verdict", gel, worst)]
    return columned(zone.rows, shown, *right)


def _band(band: Band | None, units: str) -> str:
    if band is None:
        return DASH
    value, low, high = (mpa(v, units, bare=True) if math.isfinite(v) else NO_ROOM for v in band)
    return value if value == NO_ROOM or band.low == band.high else f"{value} ({low}–{high})"


def _bleeds(bleed: Estimate, units: str) -> str:
    """Of the resin; more than there is is no number to act on, and a shortfall is no bleed."""
    if bleed.value >= 0.0:
        return _share(bleed, units)
    return f"{bare(bleed._replace(value=-bleed.value), PERCENT, units)} short"


def _share(estimate: Estimate, units: str) -> str:
    return ">100" if estimate.value > 1.0 else bare(estimate, PERCENT, units)


def chances_grid(zone: ZoneFill) -> Grid:
    """What the chance of every count is made of."""
    columns = ("plies", "fills [%]", "closes [%]", "average limits [%]", "individual limits [%]", "all [%]")
    what = ("fills", "closes", "within_average", "within_individual", "all")
    rows = ((str(row.plies), *(bare_chance(getattr(row.chance, of)) for of in what)) for row in zone.rows)
    return Grid(columns, tuple(rows), tuple(range(6)))


def gap_words(zone: ZoneFill, units: str) -> str:
    """The gap cold and hot."""
    cold, hot = with_spread(zone.cold_gap, MM, units), with_spread(zone.hot_gap, MM, units)
    where = f"against core {zone.core}" if zone.core else "between tool halves"
    return f"Gap {where}: {cold} cold, {hot} at gel temperature."


def window_words(zone: ZoneFill, units: str) -> Iterator[str]:
    """The closing window and what opens it."""
    window = zone.window
    low, high = (with_spread(w, MM, units) for w in (window.smallest_hot_gap, window.largest_hot_gap))
    this = f"this one is {with_spread(zone.hot_gap, MM, units)}, {'inside' if window.open else 'outside'}"
    need = f"need a hot gap from {low} ({window.governs}) to {high} (liquid full)"
    yield f"{plies(window.plies)} {need}; {this}."
    yield f"Its middle would be at {sizes_words(window.middle, units)}."
    if (cold := window.smallest_cold_gap) is not None:
        start = "The tool is closed cold: the stack as laid up needs a cold gap"
        yield f"{start} of {with_spread(cold, MM, units)}."
        if window.shortfall is not None and window.shortfall > 0.0:
            yield f"The cold gap shrinks too little on heating, by {size(window.shortfall, units)}."
    if not window.open:
        yield ways_words(zone, units) or "No single change achieves this."


def inverse_words(zone: ZoneFill, units: str) -> Iterator[str]:
    """Which gap, which prepreg and which tolerance would give what is wanted."""
    if (gap := zone.gap_wanted) is not None:
        hot = f"a hot gap of {size(gap.hot_gap, units)} ({sizes_words(gap.sizes, units)})"
        but = f"; but {HINDRANCES[gap.hindrance]}" if gap.hindrance else ""
        yield f"For {plies(gap.plies)} at {in_percent(gap.fiber_volume)} fiber volume: {hot}{but}."
    if (order := zone.order) is not None:
        if order.fiber_volume is not None and order.areal_weight is not None:
            of = "prepreg" if order.of_prepreg else "fiber"
            weight = text(order.areal_weight, None, in_units(G_M2, units))
            but = f"; but {HINDRANCES[order.hindrance]}" if order.hindrance else ""
            yield f"In the gap as it is, order {order.prepreg} with {weight} of {of} for that{but}."
        if order.resin_content is not None:
            low, high = (in_percent(w) for w in order.resin_content)
            yield f"{plies(order.plies)} fill and the tool closes at a resin content from {low} to {high}."


def tolerance_blocks(zone: ZoneFill | PressedFill) -> list[Block]:
    """Which tolerance of which input would bring the chance to the one wanted."""
    if isinstance(zone, ZoneFill):
        goal, tolerances, count = zone.chance_wanted, zone.tolerances, zone.discussed.plies
    else:
        goal, tolerances, count = zone.wishes.chance or 0.0, zone.wishes.tolerances, zone.best.plies
    if not tolerances:
        return []
    wanted = chance(goal)
    if all(need.factor is None for need in tolerances):
        none = f"no tolerance brings the chance to {wanted}; the nominal values must change"
        return [Sentence(f"{zone.zone}: {none}.")]
    rows = ((str(t.input), t.stated or DASH, _narrower(t.factor), chance(t.best)) for t in tolerances)
    grid = Grid(("input", "now", f"for {wanted}", "chance if exact"), tuple(rows), (2, 3))
    which = f"which tolerance would bring the chance to {wanted}"
    return [Sentence(f"{zone.zone}, {plies(count)}: {which}"), grid]


def _narrower(factor: float | None) -> str:
    """By what a tolerance must be multiplied."""
    if factor is None:
        return "not alone"
    return f"× {column(factor, NUMBER, 2)}" if factor else "exact"


def steam_words(steam: Steam | None, units: str) -> list[str]:
    """The warning of steam, or that there is none."""
    if steam is None:
        return []
    stored = f"stored at {in_percent(steam.humidity)} relative humidity"
    where = stored if steam.stated else "storage humidity not stated, 100 % taken"
    water, resin, at = mpa(steam.water, units), mpa(steam.resin, units), degrees(steam.temperature, units)
    presses = f"water vapor presses with {water} at {at} ({where}), the resin with at most {resin}"
    if steam.voids:
        return [f"Voids from steam: {presses}, both absolute."]
    if steam.possible:
        bled = f"but with {mpa(steam.lowest or 0.0, units)} once it has bled to its limit; all absolute"
        return [f"Voids from steam are possible: {presses} while the laminate is liquid full, {bled}."]
    return [
        f"Water vapor at {at} presses with {water} ({where}), below the {resin} that the resin sees at most, "
        "both absolute; where the fiber bed carries load it sees less."
    ]


def _reasons(zone: ZoneFill, units: str) -> Iterator[Block]:
    yield Heading(f"{zone.zone}: reasons", detail=True)
    yield from sentences([why(zone, units), *window_words(zone, units), *inverse_words(zone, units)])
    if zone.bleed_rule is not None and zone.bleed_rule < 1.0:
        rule = f"a bleed limit below {in_percent(zone.bleed_rule)} leaves gaps that no count fits"
        because = "one ply more is 1/n of the stack, and bleed takes only resin"
        yield Sentence(f"With about {plies(zone.discussed.plies)}, {rule}: {because}.")
    yield from sentences(pressed_words.needed_words(zone))
    if zone.use is not None:
        held = size(zone.use.thickness_if_gap_holds.value, units, MM)
        part = f"{held} thick with up to {alone(zone.use.void_if_gap_holds, PERCENT, units)} voids"
        yield Sentence(f"If the part stays as thick as the hot gap, it is {part}.")
    if sides := zone.discussed.sides:
        each = listed(f"{size(of['hot_gap'], units)} with {in_percent(of['fiber_volume'])}" for of in sides)
        yield Sentence(f"The core lies off center: hot gap and fiber volume of the sides are {each}.")
    if zone.toleranced:
        yield from (Sentence("What the chance is made of:"), chances_grid(zone))


def _footnote(answer: Fill) -> str:
    """What the words and the chances of the tables mean."""
    gaps = [zone for zone in answer.zones if isinstance(zone, ZoneFill)]
    toleranced, pressed = [zone.toleranced for zone in gaps], len(gaps) < len(answer.zones)
    chances = [row.chance for zone in answer.zones for row in zone.rows]
    most = max((chance.error(what) or 0.0 for chance in chances for what in ("fills", "all")), default=0.0)
    drawn = (
        f"{SPREAD} Chances are shares of {answer.draws} draws over every tolerance (seed {answer.seed}); "
        f"their own sampling error is at most {column(most, PERCENT, 2)} points."
    )
    over = any(row.bleed.value > 1.0 for zone in gaps for row in zone.rows)
    notes = holding(
        (gaps, VERDICTS),
        (pressed, PRESSED),
        (over, "Bleeds >100: more than all of its resin, so the tool cannot close on that count."),
        (not all(toleranced), NO_SPREAD),
        (any(toleranced) or pressed, drawn),
    )
    return " ".join(notes)


def charge_words(charge: ChargeList, units: str) -> str:
    """The mass of the charge in one sentence; '' where no area is given."""
    masses = [
        f"{zone.zone} {f'{zone.walls} × ' if zone.walls > 1 else ''}{with_spread(zone.mass, GRAM, units)}"
        for zone in charge.zones
        if zone.mass is not None
    ]
    if not masses:
        return ""
    if charge.mass is None:
        return f"Charge as laid up: {listed(masses)}. Its sum is not known without {listed(charge.left_out)}."
    whole = with_spread(charge.mass, GRAM, units)
    parts = "" if len(masses) == 1 and charge.zones[0].walls == 1 else f": {listed(masses)}"
    return f"Charge as laid up {whole}{parts}."


def charge_blocks(charge: ChargeList, units: str) -> list[Block]:
    """The charge as a table: plies, area and mass of every zone, and their sum."""
    missing = listed(charge.left_out)
    if all(zone.mass is None for zone in charge.zones):
        return [Sentence(f"Mass of the charge: not known without {missing}.")]
    gram = in_units(GRAM, units).text
    columns: dict[str, Callable[[Any], str]] = {
        "zone": lambda zone: zone.zone,
        "plies": lambda zone: str(zone.plies),
        "walls": lambda zone: str(zone.walls),
        "area": lambda zone: DASH if zone.area is None else zone.area.text,
        f"one wall [{gram}]": lambda zone: with_spread(zone.mass, GRAM, units, bare=True),
        f"all walls [{gram}]": lambda zone: with_spread(zone.mass_of_all_walls, GRAM, units, bare=True),
    }
    grid = columned(charge.zones, columns, 1, 2, 4, 5)
    whole = ("sum", "", "", "", "", with_spread(charge.mass, GRAM, units, bare=True))
    grid = replace(grid, rows=(*grid.rows, whole))
    not_given = sentences([f"Not given: {missing}." if missing else ""])
    return [Heading("Charge as laid up, with these counts"), grid, *not_given]


def wanted_words(fill: Fill, zone: ZoneFill | PressedFill, units: str) -> str:
    """What is judged, and what is not, where no pressure is wanted; '' where one is, or no tool is given."""
    if zone.wanted is not None or fill.part.tool is None:
        return ""
    if isinstance(zone, PressedFill):
        needed = f"{mpa(zone.needed, units)} above ambient, that of water vapor"
        return f"No wanted_pressure is stated: pressed means {needed}."
    if zone.left_out:
        return ""
    left = "" if (has := zone.left_to_close) is None else f"; the clamp has {mpa(has, units)} for it"
    judged = "Whether the press closes the gap while it bleeds is not judged"
    return f"{judged}: no wanted_pressure is stated{left}."


def stated_words(fill: Fill, zone: ZoneFill | PressedFill, units: str) -> str:
    """What becomes of the count that the part file states, where the answer is about another; else ''."""
    row = next((row for row in zone.rows if row.plies == zone.case.zone.plies), None)
    if row is None or row is zone.best or zone.zone in fill.plies_asked:
        return ""
    share = "" if row.chance.all is None else f"; chance that this works: {chance(row.chance.all)}"
    beside = isinstance(zone, PressedFill) and zone.pressed_by == "rubber" and len(fill.zones) > 1
    judged = " The press and other zones use these plies." if beside else ""
    if judged and all(z.use for z in fill.zones if isinstance(z, PressedFill)):
        judged = " Tables and gaps use these plies; the press and zones under rubber use those advised."
    return f"The part file states {plies(row.plies)}: {row.says}{share}.{judged}"


def force_words(fill: Fill, units: str, *, brief: bool = False) -> list[str]:
    """The force of the press, with its count where the part file states another."""
    zone = fill.zones[0]
    other = len(fill.zones) == 1 and stated_words(fill, zone, units)
    return pressed_words.press_words(fill.forces, units, brief=brief, of=zone.best.plies if other else None)


def clamp_words(fill: Fill, zone: ZoneFill | PressedFill, units: str) -> str:
    """That the clamp presses harder on what keeps the tool open than the tool is said to hold; else ''."""
    if isinstance(zone, PressedFill) or fill.forces is not None or zone.left_to_close is None:
        return ""  # beside rubber and bladders less is left before the tool is shut
    left, limit = zone.left_to_close, zone.pressure_limit
    until = f"until the gap is shut it presses with {mpa(left, units)}"
    if limit is None:
        return f"Limit the clamp force to what the tool holds: {until}; no pressure_limit is stated."
    if left <= limit:
        return ""
    return f"Limit the clamp force: {until}; the tool is built for {mpa(limit, units)}."


def kind_words(fill: Fill, zone: ZoneFill | PressedFill, units: str) -> str:
    """What of a zone is unlikely of its kind, or contradicts itself; '' where each is as usual."""
    kinds = unlike_kinds(fill.part, prepregs_of(fill.part, zone.case.zone), zone.case.made)
    return " ".join(f"{say_in(words, units)}." for words in [*kinds, *unlikely(zone.case).values()])


def _answer(zone: ZoneFill | PressedFill, units: str) -> tuple[str, str]:
    return headline(zone, units) if isinstance(zone, ZoneFill) else pressed_words.advice(zone, units)


def answers(fill: Fill, units: str) -> list[tuple[str, str]]:
    """The answer for every zone, then for cores that are worn: what to do, and the rest of the sentence."""
    worn = (past_moldings(core, fill.moldings[core], limit) for core, limit in fill.worn.items())
    return [*(_answer(zone, units) for zone in fill.zones), *((words[:-1], ".") for words in worn)]


def advised_words(zone: ZoneFill | PressedFill) -> str:
    """What `fill` says of the count that it finds best, as another question quotes it."""
    to_do = _answer(zone, "metric")[0].removeprefix(f"{zone.zone}: ")
    taken = "" if which_plies(zone, zone.best) in to_do else f"; taken here: {plies(zone.best.plies)}"
    return f"'laminate fill' says: {to_do}{taken}"


def fill_blocks(fill: Fill, units: str) -> Iterator[Block]:
    """The whole answer in the order in which it is read, with the reasons and what is assumed."""
    yield from (Sentence("".join(answer), strong=True) for answer in answers(fill, units))
    for zone in fill.zones:
        if isinstance(zone, PressedFill) and zone.steam is not None and zone.steam.voids:
            risk = "the bladder presses less than water vapor at cure, so steam can open voids"
            yield Sentence(f"{zone.zone}: {risk}.", strong=True)
    for zone in fill.zones:
        before = [kind_words(fill, zone, units), stated_words(fill, zone, units)]
        after = [wanted_words(fill, zone, units), clamp_words(fill, zone, units)]
        if isinstance(zone, ZoneFill):
            before.append(gap_words(zone, units))
        else:
            before.append(pressed_words.wish_words(zone, units))
            after = [*pressed_words.details(zone, units), *steam_words(zone.steam, units), *after]
        yield from (Heading(pressed_words.named(zone)), *sentences(before), counts_grid(zone, units))
        yield from sentences(after)
    yield from sentences([*force_words(fill, units), _footnote(fill)])
    for zone in fill.zones:
        yield from _reasons(zone, units) if isinstance(zone, ZoneFill) else ()
        yield from tolerance_blocks(zone)
    yield from (*assumption_blocks(assumptions(fill), units), *charge_blocks(fill.charge, units))
    rubber = any(isinstance(zone, PressedFill) and zone.pressed_by == "rubber" for zone in fill.zones)
    yield from (Heading("Caution"), *sentences([BRIEF_LOCKS if rubber else HOT, RESPONSIBILITY]))


def assumptions(fill: Fill) -> list[str]:
    """What is assumed, and every input without a ±, of all zones together."""
    notes = dict.fromkeys(note for zone in fill.zones for note in zone.not_measured)
    return [note for note in notes if note != NO_TOLERANCE]
