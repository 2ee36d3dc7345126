"""Planned cycles side by side in words: the verdict at each humidity, the moments, what keeps it open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.curing.answers import CANNOT
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.engineer_text import assumption_blocks
from laminate.show.numbers import fixed, in_units
from laminate.show.page_words import several
from laminate.values.quantities import DEG_C, MPA, shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.curing.answers import Event, ZoneCycle

MOMENTS = ("first pressure", "touch", "liquid full", "pressed", "gel first", "gel last",
           "peak temperature", "clamp reached", "released")  # fmt: skip
SHORT = {"pressed in time": "in time", "pressed late": "late", "vapor above pressure": "vapor"}
BESIDE = 3
MOST_REASONS = 2
LOCKED = "highest pressure, locked"


def percent(share: float) -> str:
    """A chance or share in percent."""
    if 0.0 < share < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if 0.999 < share < 1.0 else f"{100.0 * share:.3g} %"


def plain_key(key: str) -> str:
    """A key of the answer in words."""
    return key.replace(".", ", ").replace("_", " ")


def signed_pressure(value: float, units: str) -> str:
    """A margin of pressure [Pa]: a shortfall says so."""
    press = in_units(MPA, units)
    words = f"{fixed(abs(value) * press.per_si, 3)} {press.text}"
    return f"{words} short" if value < 0.0 else words


def humidity_of(zone_cycle: ZoneCycle) -> str:
    """The stored humidity that an answer is for."""
    return f"{100.0 * zone_cycle.humidity:.3g} %" if zone_cycle.humidity_stated else "not stated"


def plans(zones: Sequence[ZoneCycle]) -> dict[tuple[str, str], list[ZoneCycle]]:
    """The answers of each zone and cycle, one a humidity."""
    cycles: dict[tuple[str, str], list[ZoneCycle]] = {}
    for zone in zones:
        cycles.setdefault((zone.zone, zone.cycle), []).append(zone)
    return cycles


def plan_answers(zones: Sequence[ZoneCycle], *, why: bool = True) -> list[Block]:
    """One sentence a zone and cycle: the verdict, where it differs by humidity; why: and the first reason."""
    lines: list[str] = []
    for (zone, cycle), answers in plans(zones).items():
        levels: dict[str, list[str]] = {}
        for answer in answers:
            levels.setdefault(answer.verdict, []).append(humidity_of(answer))
        given = answers[0]
        if len(levels) == 1:
            verdicts = f"{given.verdict} at every humidity of the store"
        else:
            verdicts = "; ".join(f"{verdict} at {', '.join(at)}" for verdict, at in levels.items())
        reason = f": {given.why[0]}" if given.why and why else ""
        lines.append(f"{zone}, cycle {cycle}: {verdicts}{reason}.")
    return [Sentence(words, strong=True) for words in (lines if why else [" ".join(lines)])]


def plan_blocks(zones: Sequence[ZoneCycle], units: str, *, why: bool) -> list[Block]:
    """Verdicts by humidity, moments side by side, and what must be weighed."""
    each = plans(zones)
    blocks: list[Block] = [Heading("Verdict and chance by humidity of the store")]
    levels = [humidity_of(answer) for answer in next(iter(each.values()))]
    rows = tuple((f"{zone}, {cycle}", *(_cell(row) for row in some)) for (zone, cycle), some in each.items())
    blocks.append(Grid(("zone, cycle", *levels), rows))
    shown_ones = list(each.items()) if why else list(each.items())[:BESIDE]
    for at in range(0, len(shown_ones), BESIDE):
        blocks += _moments(shown_ones[at : at + BESIDE], units, why=why)
    if len(shown_ones) < len(each):
        blocks.append(Sentence(f"{len(each) - len(shown_ones)} more with --why, and on the page."))
    blocks += _weighed(each, why=why)
    return blocks


def _cell(zone_cycle: ZoneCycle) -> str:
    verdict, both = SHORT.get(zone_cycle.verdict, zone_cycle.verdict), zone_cycle.chance.both
    if both is None:
        return verdict
    return (
        f"{verdict} {'>99' if 0.99 < both < 1.0 else '<1' if 0.0 < both < 0.01 else f'{100.0 * both:.0f}'} %"
    )


def _moments(
    some: Sequence[tuple[tuple[str, str], list[ZoneCycle]]], units: str, *, why: bool
) -> list[Block]:
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    columns = ("moment", *(f"{zone}, {cycle}" for (zone, cycle), _ in some))
    firsts = [answers[0] for _, answers in some]
    rows = []
    for name in MOMENTS:
        events = [first.event(name) for first in firsts]
        if any(event is not None for event in events):
            rows.append((name, *(_event(event, units, why=why) for event in events)))
    for title, values in (
        ("applied at gel", [first.applied_pressure_at_gel if why else None for first in firsts]),
        ("locked, highest", [first.readings.get(LOCKED) for first in firsts]),
    ):
        if any(value is not None for value in values):
            rows.append((title, *("–" if v is None else _with_u(v.value, v.u, press.per_si) for v in values)))
    margins = [[answer.vapor_margin.value for answer in each if answer.vapor_margin] for _, each in some]
    if any(margins):
        rows.append(("vapor margin", *(_range(each, press.per_si) for each in margins)))
    if not rows:
        return []
    key = f"resin {press.text}, absolute; a shortfall is below 0"
    if not why:
        return [Heading(f"Moments: min ± standard; {key}"), Grid(columns, tuple(rows))]
    key = f"Time in min ± its standard uncertainty; laminate {heat.text}; {key}."
    return [Heading("Moments"), Grid(columns, tuple(rows)), Sentence(key)]


def _range(values: Sequence[float], per_si: float) -> str:
    if not values:
        return "–"
    low, high = (fixed(value * per_si, 2) for value in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def _with_u(value: float, u: float | None, per_si: float) -> str:
    places = 1 if u is not None or abs(value * per_si) >= 100.0 else 2
    plain = fixed(value * per_si, places)
    return plain if u is None else f"{plain} ± {fixed(u * per_si, places)}"


def _event(event: Event | None, units: str, *, why: bool) -> str:
    if event is None:
        return "–"
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    words = _with_u(event.time.value, event.time.u, 1.0 / 60.0)
    words = words if event.time.u else fixed(event.time.value / 60.0, 1)
    words += "" if event.temperature is None or not why else f"; {fixed(shown(event.temperature, heat), 0)}"
    return words + (
        "" if event.resin_pressure is None else f"; {fixed(event.resin_pressure * press.per_si, 2)}"
    )


def _weighed(each: dict[tuple[str, str], list[ZoneCycle]], *, why: bool) -> list[Block]:
    remarks: dict[str, list[str]] = {}
    unknown: dict[str, None] = {}
    for (zone, cycle), answers in each.items():
        levels: dict[str, list[str]] = {}
        for answer in answers if why else answers[:1]:
            # a chance that decides nothing stands in the table
            by_chance = answer.verdict == CANNOT and answer.chance.both is not None
            reasons = [] if by_chance else answer.why if why else answer.why[1:]
            texts = [f"{answer.verdict[:1].upper()}{answer.verdict[1:]}: {words}" for words in reasons]
            texts += [answer.matters_most.text] if answer.matters_most is not None else []
            for text in dict.fromkeys([*texts, *(f"Mind: {words}" for words in answer.warnings)]):
                levels.setdefault(text, []).append(humidity_of(answer))
            unknown |= dict.fromkeys(assumptions(answer))
        for text, at in levels.items():
            everywhere = not why or len(at) == len(answers)
            humidity = "" if everywhere else f", humidity {', '.join(at)}"
            remarks.setdefault(text, []).append(f"{zone}, {cycle}{humidity}")
    lines = [
        f"{words} ({'; '.join(names)})." if len(each) > 1 else f"{words}." for words, names in remarks.items()
    ]
    if why:
        return [*sentences(lines), *assumption_blocks(unknown)]
    more = len(lines) - MOST_REASONS
    counted = [several(more, "more remark")] if more > 0 else []
    unknown_words = several(len(unknown), "input or result", "inputs and results")
    counted += [f"{unknown_words} not known or not measured"] if unknown else []
    return sentences([*lines[:MOST_REASONS], *([f"With --why: {', '.join(counted)}."] if counted else [])])


def assumptions(zone_cycle: ZoneCycle) -> list[str]:
    """What is not known of an answer, and what is assumed in place of a measured input."""
    unknown = [f"no value for {plain_key(key)}: {words}" for key, words in sorted(zone_cycle.unknown.items())]
    return [*unknown, *(words.rstrip(".") for words in zone_cycle.not_measured)]
