"""Planned cycles side by side in words: the verdict at each humidity, the moments, what keeps it open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.curing.answers import CANNOT
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.cycle_json import EVENTS
from laminate.show.engineer_text import assumed_exact, assumption_blocks
from laminate.show.numbers import (
    DASH,
    MINUTE,
    bare_chance,
    column,
    in_units,
    percent,
    size,
    span,
    text,
    without_text,
)
from laminate.show.page_words import several
from laminate.values.quantities import DEG_C, MPA, Unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from laminate.curing.answers import Event, Known, ZoneCycle

SHORT = {"pressed in time": "in time", "pressed late": "late", "vapor above pressure": "vapor"}
BESIDE = 3
NAMED = 3
MOST_REASONS = 2
LOCKED = "highest pressure, locked"


def plain_key(key: str) -> str:
    """A key of the answer in words."""
    return key.replace(".", ", ").replace("_", " ")


def humidity_of(zone_cycle: ZoneCycle) -> str:
    """The stored humidity that an answer is for."""
    return percent(zone_cycle.humidity) if zone_cycle.humidity_stated else "not stated"


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
    return verdict if both is None else f"{verdict} {bare_chance(both, 0)} %"


def _moments(
    some: Sequence[tuple[tuple[str, str], list[ZoneCycle]]], units: str, *, why: bool
) -> list[Block]:
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    columns = ("moment", *(f"{zone}, {cycle}" for (zone, cycle), _ in some))
    firsts = [answers[0] for _, answers in some]
    rows = []
    for name in EVENTS:
        events = [first.event(name) for first in firsts]
        if any(event is not None for event in events):
            rows.append((name, *(_event(event, units, why=why) for event in events)))
    for title, values in (
        ("applied at gel", [first.applied_pressure_at_gel if why else None for first in firsts]),
        ("locked, highest", [first.readings.get(LOCKED) for first in firsts]),
    ):
        if any(value is not None for value in values):
            rows.append((title, *(_bare(value, MPA, units) for value in values)))
    margins = [[answer.vapor_margin.value for answer in each if answer.vapor_margin] for _, each in some]
    if any(margins):
        rows.append(("vapor margin", *(span(each, press, 2) for each in margins)))
    if not rows:
        return []
    key = f"resin {press.text}, absolute; a shortfall is below 0"
    if not why:
        return [Heading(f"Moments: min ± standard; {key}"), Grid(columns, tuple(rows))]
    key = f"Time in min ± its standard uncertainty; laminate {heat.text}; {key}."
    return [Heading("Moments"), Grid(columns, tuple(rows)), Sentence(key)]


def _event(event: Event | None, units: str, *, why: bool) -> str:
    if event is None:
        return DASH
    words = time_text(event)
    if event.temperature is not None and why:
        words += f"; {size(event.temperature, units, DEG_C, bare=True)}"
    if event.resin_pressure is not None:
        words += f"; {column(event.resin_pressure, in_units(MPA, units), 2)}"
    return words


def time_text(event: Event) -> str:
    """When it is, in minutes without the unit, with its ± where it has one."""
    time = event.time
    return _bare(time, MINUTE, "metric") if time.u else column(time.value, MINUTE, 1)


def _bare(known: Known | None, unit: Unit, units: str) -> str:
    """A result with its standard uncertainty for a column whose heading has the unit."""
    return DASH if known is None else text(known.value, known.u, without_text(in_units(unit, units)))


def counted_exact(zones: Iterable[ZoneCycle]) -> list[str]:
    """What 'pressed in time' counts as exact where nobody calls it so: a ± left out may have made it so."""
    notes = dict.fromkeys(note for zone in zones if zone.good for note in zone.not_measured)
    return assumed_exact(notes, NAMED)


def _weighed(each: dict[tuple[str, str], list[ZoneCycle]], *, why: bool) -> list[Block]:
    remarks: dict[str, list[str]] = {}
    unknown: dict[str, None] = {}
    for (zone, cycle), answers in each.items():
        levels: dict[str, list[str]] = {}
        for answer in answers if why else answers[:1]:
            # a chance that decides nothing stands in the table
            by_chance = answer.verdict == CANNOT and answer.chance.both is not None
            reasons = [] if by_chance else answer.why if why else answer.why[1:]
            verdict_words = [
                f"{answer.verdict[:1].upper()}{answer.verdict[1:]}: {words}" for words in reasons
            ]
            verdict_words += [answer.matters_most.text] if answer.matters_most is not None else []
            for remark in dict.fromkeys([*verdict_words, *(f"Mind: {words}" for words in answer.warnings)]):
                levels.setdefault(remark, []).append(humidity_of(answer))
            unknown |= dict.fromkeys(assumptions(answer))
        for remark, at in levels.items():
            everywhere = not why or len(at) == len(answers)
            humidity = "" if everywhere else f", humidity {', '.join(at)}"
            remarks.setdefault(remark, []).append(f"{zone}, {cycle}{humidity}")
    lines = [
        f"{words} ({'; '.join(names)})." if len(each) > 1 else f"{words}." for words, names in remarks.items()
    ]
    if why:
        return [*sentences(lines), *assumption_blocks(unknown)]
    exact = counted_exact(answer for answers in each.values() for answer in answers)
    more = len(lines) + len(exact) - MOST_REASONS
    counted = [several(more, "more remark")] if more > 0 else []
    unknown_words = several(len(unknown), "input or result", "inputs and results")
    counted += [f"{unknown_words} not known or not measured"] if unknown else []
    last = [f"With --why: {', '.join(counted)}."] if counted else []
    return sentences([*lines[: MOST_REASONS - len(exact)], *exact, *last])


def assumptions(zone_cycle: ZoneCycle) -> list[str]:
    """What is not known of an answer, and what is assumed in place of a measured input."""
    unknown = [f"no value for {plain_key(key)}: {words}" for key, words in sorted(zone_cycle.unknown.items())]
    return [*unknown, *zone_cycle.not_measured]
