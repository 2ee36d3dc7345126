"""The first answer of `fill` in words: what to lay up or why not, and why."""

from __future__ import annotations

import math
from collections.abc import Mapping

from laminate.press.closing_window import Nearest, WindowChange
from laminate.press.counts import GapRow, Row, rules
from laminate.press.filling import ZoneFill
from laminate.press.gap_change import overfull
from laminate.press.pressed import PressedFill
from laminate.press.shared_inputs import NO_TOLERANCE
from laminate.press.unstated import as_asked, asked_by_options
from laminate.show.blocks import holding
from laminate.show.engineer_text import AT_95, alone, few, listed, plies, sizes_words, with_spread
from laminate.show.numbers import chance, change, column, in_percent, mpa, past, size
from laminate.show.page_words import capital
from laminate.values.input_key import Key
from laminate.values.quantities import ATTRIBUTES, MM, NUMBER, PERCENT

HOLDS = {
    "fills": "that it fills",
    "closes": "that it closes",
    "holds": "that the tool holds",
    "pressed": "that it presses",
    "within_limits": "to meet the limits",
}
"""Parts of a chance in words, as `Chance` names them; what opens the tool before what does not press."""
NARROW = 0.5e-6
"""Half a window [m] that no size meets, as sizes are written to the micrometer."""
NO_GAP = "with these tolerances no gap makes them fit"
HINDRANCES = {
    "shortfall": "there is too little resin for it: voids would stay",
    "bleed limit": "more resin would have to leave than can bleed",
    "packing limit": "the fibers do not pack that far",
}
"""What keeps a gap or a prepreg from what is wanted."""


def which_plies(zone: ZoneFill | PressedFill, row: Row) -> str:
    """How many of which."""
    fixed, filling = zone.case.fixed_plies, zone.case.zone.fill_with
    if fixed and filling:
        return f"{plies(row.plies)} ({row.fill_plies} of {filling} and {fixed} fixed)"
    if filling and asked_by_options(zone.case.part):  # which have no name for it
        return plies(row.plies)
    return f"{plies(row.plies)} of {filling}" if filling else f"the stack of {plies(row.plies)}"


def becomes(row: Row, units: str) -> str:
    """Fiber volume and thickness of the part."""
    volume, thickness = row.part["fiber_volume"], row.part["thickness"]
    return f"{with_spread(volume, PERCENT, units)} fiber volume, {with_spread(thickness, MM, units)} thick"


def known_to(row: Row) -> str:
    """How sure the ± of both is, where they have one."""
    return f" ({AT_95})" if row.part["fiber_volume"].u or row.part["thickness"].u else ""


def small_chances(row: Row, below: float, verb: str = "") -> str:
    """Which parts of the chance are below a share, with each; '' where none is."""
    each = {words: getattr(row.chance, name) for name, words in HOLDS.items()}
    small = {words: share for words, share in each.items() if share is not None and share < below}
    return listed(f"{words}{verb} {chance(share)}" for words, share in small.items())


def headline(zone: ZoneFill, units: str) -> tuple[str, str]:
    """The answer for one zone: what to do, and the rest of the sentence."""
    row = zone.use
    if row is None and (closing := closing_words(zone, units)):
        return f"{zone.zone}: {closing[0]}", closing[1]
    if row is None:
        why = f"{overfull_words(zone, units)} {_what_would_fit(zone, units)}"
        return f"{zone.zone}: no ply count fits", f". {why.strip()}{_silent(zone)}"
    bleeds = f"{with_spread(row.bleed, PERCENT, units)} of the resin bleeds"
    part = f"{becomes(row, units)}, {bleeds}{known_to(row)}{forced_words(zone, units)}"
    odds = "" if not zone.toleranced else f" ({chance(row.chance.at_most)})"
    if zone.grade == "use":
        return f"{zone.zone}: use {which_plies(zone, row)}", f": {part}. {_chance_sentence(zone, row)}"
    which = "the stack as it is" if not zone.case.zone.fill_with else which_plies(zone, row)
    if zone.grade == "risky":
        risky = f"{zone.zone}: best is {which}, but risky"
        if row.chance.at_most >= zone.case.part.limits.chance and (doubt := _doubt(zone)):
            return f"{risky}, as {doubt}", f": {part}. {_chance_sentence(zone, row)}"
        weak = f" Weak: {_why_not(zone, row, units)}."
        return f"{risky}{odds}", f": {part}.{weak}{_silent(zone)} {_remedy(zone, units)}"
    fails = f"it would fit, with {part}, but {_why_not(zone, row, units)}"
    return f"{zone.zone}: do not lay up {which}{odds}", f": {fails}.{_silent(zone)} {_remedy(zone, units)}"


def _doubt(zone: ZoneFill) -> str:
    """What makes a count risky that is likely enough."""
    not_stated = f"{few(zone.missing)} {'is' if len(zone.missing) == 1 else 'are'} not stated"
    if zone.missing and all(name.endswith(".plies") for name in zone.missing):
        not_stated += " as laid up"
    forced = f"core {zone.core} {_misfit(zone)}"
    return listed(holding((not zone.goes_in, forced), (zone.missing, not_stated)))


def _misfit(zone: ZoneFill) -> str:
    """What a core that is too large, or may be, does to the tool."""
    room, sizes = zone.case.room, zone.interference.items()
    if room is not None and any(excess.value > 0.0 and not room.lies_across(what) for what, excess in sizes):
        return "does not fit the hot tool"
    return f"{'must' if any(excess.value > 0.0 for _, excess in sizes) else 'may have to'} be forced in"


def forced_words(zone: ZoneFill, units: str) -> str:
    """That a core must be forced in, or may, or does not fit the hot tool; '' where it goes in."""
    if zone.goes_in:
        return ""
    room, (what, excess) = zone.case.room, max(zone.interference.items(), key=lambda pair: pair[1].value)
    over = "larger" if excess.value > 0.0 else "smaller"
    by = with_spread(excess._replace(value=abs(excess.value)), MM, units)
    if room is not None and not room.lies_across(what):
        how = f"at gel it is {by} {over} than the {what} of the tool"
    else:
        how = f"cold, with the stacks as laid up, it is {by} {over} than the {what} of the tool"
        how += ", which does not open that way"
    return f". Core {zone.core} {_misfit(zone)}: {how}"


def _silent(zone: ZoneFill) -> str:
    """What is not stated and may change the answer."""
    case, limit = zone.case, [Key("zone", zone.case.name, "bleed_limit")]
    taken_as_0 = zone.use is None and "bleed_limit" not in case.zone.model_fields_set
    missing = [*(as_asked(case.part, limit) if taken_as_0 else []), *zone.missing]
    return f" Not stated: {few(missing)}." if missing else ""


def closing_words(zone: ZoneFill, units: str) -> tuple[str, str] | None:
    """That the press does not close the gap, or that nobody can say, and why; None where it closes it."""
    would = [str(row.plies) for row in zone.rows if row.verdict == "not judged"]
    if would:
        fit = f"{listed(would)} plies would fill and close the gap as far as is known"
        return "not judged", f": {fit}; not given: {few(dict.fromkeys([*zone.left_out, *zone.missing]))}."
    left, wanted, bears = zone.left_to_close, zone.wanted or 0.0, zone.pressure_limit
    if left is None or (left >= wanted and (bears is None or bears >= wanted)):
        return None
    if left >= wanted and bears is not None:
        has = f"the tool is built for {mpa(bears, units)}; {mpa(wanted, units)} is wanted"
        helps, need = "a stronger tool, or a prepreg that closes with less pressure", ""
    else:
        has = f"the clamp has {f'{mpa(left, units)} left' if left > 0.0 else 'nothing left'}"
        helps = "more clamp force, a smaller projected area, or less pressure in the zones beside it"
        need = f"; {mpa(wanted, units)} is wanted" if wanted else ""
    return "too many", f": {has} to close the gap while it bleeds{need}. What helps: {helps}."


def _chance_sentence(zone: ZoneFill, row: GapRow) -> str:
    what = "fills, closes and meets the limits"
    if not rules(zone.case):
        what = "fills and closes (no limits are set)"
    if not zone.toleranced:
        return f"{capital(NO_TOLERANCE)}: here {'inside' if zone.advised else 'outside'}."
    stated = " with what is stated" if zone.missing else ""
    return f"The chance that it {what}: {chance(row.chance.at_most)}{stated}."


def missed_limits(row: Row, units: str) -> str:
    """Which limits the nominal part does not meet, '' where it meets all."""
    misses = []
    for miss in row.outside:
        attribute, way = ATTRIBUTES[miss.attribute], "below" if miss.below else "above"
        value, bound = (size(end, units, attribute.unit) for end in (miss.value, miss.bound))
        misses.append(f"{attribute.words} {value} lies {way} the {miss.scope} limit of {bound}")
    return listed(misses)


def _why_not(zone: ZoneFill, row: GapRow, units: str) -> str:
    """Which limit is missed, else which part of the chance is too small."""
    if misses := missed_limits(row, units):
        return misses
    too_small = small_chances(row, 0.95, " is")
    if zone.advised:
        return f"with these tolerances the chance {too_small or f'is {chance(row.chance.at_most)}'}"
    return f"with these tolerances it is likelier to fail than not (the chance {too_small})"


def _remedy(zone: ZoneFill, units: str) -> str:
    """What to change where a count fits and is not advised."""
    remedy = zone.gap_change
    if remedy is None and zone.advised:
        return "Closer tolerances help."
    if remedy is None:
        helps = "change the prepreg, the bleed limit or the limits"
        return f"No gap brings these counts inside the limits: {helps}."
    at = f"{plies(remedy.plies)} in {_other_gap(remedy.change, units)}"
    near = f"{at} ({sizes_words(remedy.sizes, units)}), the middle of what is allowed"
    then = f": the chance is then {chance(remedy.chance)}" if zone.toleranced else ""
    start = "What would work" if remedy.chance >= 0.5 else "The best that a gap can do for the counts listed"
    where = ", as listed below" if zone.tolerances else ""
    enough = not zone.toleranced or (zone.best.outside and remedy.chance >= 0.5)
    closer = "" if enough else f" Closer tolerances help too{where}."
    return f"{start}: {near}{then}.{closer}"


def overfull_words(zone: ZoneFill | PressedFill, units: str) -> str:
    """What is wrong with a prepreg that holds more fiber than its form packs to."""
    lines = []
    for prepreg in overfull(zone.case):
        whose = "its packing_limit" if prepreg.limit_stated else f"the packing limit of {prepreg.form} fiber"
        lines.append(
            f"{prepreg.prepreg} holds {in_percent(prepreg.own)} fiber by volume before any resin bleeds, "
            f"above {in_percent(prepreg.limit)}, {whose}: no pressure packs it that far; check resin "
            "content, areal weight, form and packing_limit."
        )
    return " ".join(lines)


def _what_would_fit(zone: ZoneFill, units: str) -> str:
    nearest = " ".join(_near(zone, near, units) for near in zone.nearest)
    if not any(_can_be_set(near.to_fit, near.to_middle) for near in zone.nearest) and (
        ways := ways_words(zone, units)
    ):
        return ways if all(near.change is None for near in zone.nearest) else f"{nearest} {ways}"
    return nearest or "No count of this stack meets the limits and packs."


def _near(zone: ZoneFill, near: Nearest, units: str) -> str:
    """What would make a count fit, at the edge of its window."""
    which = f"{plies(near.plies)} {'is' if near.plies == 1 else 'are'} {near.verdict}"
    if near.change is None:
        laid = f"; laid up they need a cold gap of {size(near.laid_up, units)}" if near.laid_up else ""
        return f"{which}: no gap makes them fit{laid}."
    if not _can_be_set(near.to_fit, near.to_middle):
        by = size(abs(near.change), units)
        why = "their window has no width" if near.to_fit else NO_GAP
        return f"{which} by {by} of the hot gap: {why}."
    now = zone.case.sizes(zone.case.inputs.numbers())
    to_fit = {what: past(to, now[what][0], units) for what, to in near.to_fit.items()}
    gap = _other_gap(past(near.change, 0.0, units), units)
    edge = f", chance {chance(near.chance)}" if zone.toleranced else ""
    return f"{which}: {gap} would just make them fit ({sizes_words(to_fit, units)}{edge})."


def _can_be_set(sizes: Mapping[str, float], middle: Mapping[str, float]) -> bool:
    """Whether the window between its edge and its middle is wide enough for a size that can be made."""
    return any(abs(middle[what] - to) > NARROW for what, to in sizes.items() if what in middle)


def _other_gap(by: float, units: str) -> str:
    return f"a hot gap {'smaller' if by < 0.0 else 'larger'} by {size(abs(by), units)}"


def ways_words(zone: ZoneFill, units: str) -> str:
    """The changes of which each alone opens the window, with its chance; '' where none does.

    Only what would then be advised would work, the rest would fit.
    """
    least = zone.case.part.limits.chance if zone.goes_in and not zone.missing else math.inf
    within = " within limits" if rules(zone.case) else ""
    would: dict[str, list[str]] = {"work": [], "fit": []}
    middle = zone.window.middle
    for way in zone.window.what_opens_it:
        if way.what in middle and not _can_be_set({way.what: way.needed or 0.0}, middle):
            continue
        share = way.chance
        odds = f" (chance {chance(share)}{within})" if zone.toleranced and share is not None else ""
        would["work" if (share or 0.0) >= least else "fit"].append(change_words(way, units) + odds)
    return " ".join(f"Each of these alone would {verb}: {'; '.join(of)}." for verb, of in would.items() if of)


def change_words(way: WindowChange, units: str) -> str:
    """One change that opens the window."""
    if way.what == "closes":
        return f"a tool that closes hot instead of cold, for {plies(way.plies)}"
    if way.what == "ply count":
        return plies(way.plies)
    now, needed = way.now or 0.0, way.needed or 0.0
    if way.what == "bleed limit":
        more = in_percent(past(needed, now, units, PERCENT))
        what = f"a bleed path for {more} of the resin instead of {in_percent(now)}"
    elif way.what == "bulk factor":
        less = column(needed - 0.0005, NUMBER, 3)
        what = f"debulking from a bulk factor of {column(now, NUMBER, 3)} to {less}"
    else:
        name, needed = "cold gap" if way.what == "gap" else way.what, past(needed, now, units)
        what = f"a {name} of {size(needed, units)} ({change(needed - now, units)})"
    return f"{what}, for {plies(way.plies)}"


def why(zone: ZoneFill, units: str) -> str:
    """Why this count, or why none."""
    row, dense = zone.use, overfull_words(zone, units)
    if row is None and (closing := closing_words(zone, units)):
        return f"{closing[0].capitalize()}{closing[1]}"
    if row is None:
        return " ".join(f"No ply count fits. {dense} {_what_would_fit(zone, units)}".split())
    against = "" if zone.advised else f" Not to be laid up: {_why_not(zone, row, units)}."
    ratio, gap = alone(row.fill_ratio, NUMBER, units), alone(zone.hot_gap, MM, units)
    fills = f"{plies(row.plies)} fill {ratio} times the hot gap of {gap}"
    may, packed = zone.case.zone.bleed_limit.value, alone(row.fiber_volume_in_gap, PERCENT, units)
    bleed = f"{alone(row.bleed, PERCENT, units)} of the resin must leave, {in_percent(may)} may"
    closes = f"packed to {packed} fiber in the gap, {in_percent(zone.packing_limit)} is the most"
    others = [other.plies for other in zone.rows if other.verdict == "fits" and other is not row]
    if zone.equal_chance:
        tied = listed(str(count) for count in zone.equal_chance)
        choice = f"Within the sampling error {tied} have the same chance; this one has the least to bleed."
    elif others:
        choice = f"Of the counts that fit, also {listed(str(n) for n in others)}, it has the highest chance."
    else:
        choice = "No other count fits."
    if zone.left_to_close is not None:
        choice += f" The clamp has {mpa(zone.left_to_close, units)} left to close it while it bleeds."
    return " ".join(f"{fills}; {bleed}; {closes}. {choice}{against} {dense}".split())


def unbounded_words(zone: PressedFill) -> str:
    """What to write where nothing but perhaps the file's own count says how many plies."""
    stated = zone.case.zone.plies
    says = "Nothing says" if stated is None else f"The part file states {plies(stated)}; nothing else says"
    return (
        f"{says} how many plies: a bladder leaves no gap, and the thickness has no lower limit. "
        f"Ask for a count (--plies {zone.zone}={stated or 20}), or set limits.thickness.{zone.zone}."
    )
