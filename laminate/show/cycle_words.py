"""The answer of `cycle` in words: the verdict first, then its moments, then what must be weighed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.curing.draws import BELOW_RANGE
from laminate.curing.verdict import GLASSY
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.cycle_json import READING_UNITS
from laminate.show.engineer_text import assumption_blocks, without_spread
from laminate.show.numbers import (
    chance,
    column,
    in_units,
    margin,
    minutes,
    percent,
    spread_text,
    text,
    value_text,
)
from laminate.show.page_words import several
from laminate.show.plan_words import (
    assumptions,
    counted_exact,
    plan_answers,
    plan_blocks,
    time_text,
)
from laminate.values.quantities import DEG_C, MPA

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from laminate.curing.answers import Cycles, Event, Known, ZoneCycle

CAUTIONS = (
    "The press and its tool are hot and close with force: this answer replaces no interlock and no guard.",
    "Opened hot: while the laminate is above the boiling point of water, its vapor can blister a part that "
    "was good until then.",
)


def cycle_blocks(cycles: Cycles, units: str, *, why: bool = True) -> list[Block]:
    """The answer for screen and page; units: 'metric' or 'us'; why: with all that it rests on."""
    planned = [zone for zone in cycles.zones if zone.cycle]
    answers: list[Block] = []
    blocks: list[Block] = []
    if planned:
        answers += plan_answers(planned)
        blocks += plan_blocks(planned, units, why=why)
    for zone in cycles.zones:
        if not zone.cycle:
            answers.append(Sentence(_first(zone), strong=True))
            blocks += _zone(zone, units, why=why)
    screening = list(dict.fromkeys(words for zone in cycles.zones for words in zone.screening))
    if why:
        cautions = sentences([*(f"Screening: {words}." for words in screening), *CAUTIONS])
        return [*answers, *blocks, Heading("Cautions"), *cautions]
    again = plan_answers(planned, why=False) if planned else answers
    screening = [words for words in screening if words != GLASSY]
    return [*answers, *blocks, *sentences([f"Screening: {'; '.join(screening)}.", *CAUTIONS]), *again]


def _first(zone_cycle: ZoneCycle) -> str:
    both = zone_cycle.chance.both
    sure = f", chance {chance(both)}" if both is not None else ""
    why = f": {'; '.join(zone_cycle.why)}" if zone_cycle.why else ""
    return f"{zone_cycle.zone}: {zone_cycle.verdict}{sure}{why}."


def _zone(zone_cycle: ZoneCycle, units: str, *, why: bool) -> list[Block]:
    blocks: list[Block] = [Heading(zone_cycle.zone)]
    if zone_cycle.events:
        heat, press = in_units(DEG_C, units), in_units(MPA, units)
        columns = ("moment", "time [min]", f"laminate [{heat.text}]", f"resin, absolute [{press.text}]")
        rows = tuple(_row(event, units) for event in zone_cycle.events)
        blocks.append(Grid(columns, rows, right=(1, 2, 3)))
    lines = sentences(_sentences(zone_cycle, units, why=why))
    return [*blocks, *lines, *(assumption_blocks(assumptions(zone_cycle)) if why else ())]


def _row(event: Event, units: str) -> tuple[str, ...]:
    temperature = column(event.temperature, in_units(DEG_C, units), 1)
    pressure = column(event.resin_pressure, in_units(MPA, units), 3 if units == "metric" else 1)
    return event.event, time_text(event), temperature, pressure


def _gel_clock(zone_cycle: ZoneCycle, units: str) -> Iterator[str]:
    """How much of the gel clock was used, and how far its tests reach."""
    clock = zone_cycle.gel_clock
    if clock.tested is None:
        return
    low, high = (value_text(t, None, in_units(DEG_C, units)) for t in clock.tested)
    start = "not known" if clock.start is None else percent(clock.start.value)
    pressed = "" if clock.when_pressed is None else f", {percent(clock.when_pressed)} when pressed"
    far = spread_text(BELOW_RANGE, in_units(DEG_C, units))
    share = clock.below_tested_range
    below = f"; {percent(share)} of it more than {far} below" if share else ""
    yield f"Gel clock: {start} used before the press{pressed}. Gel tested from {low} to {high}{below}."


def _vapor(zone_cycle: ZoneCycle, units: str) -> Iterator[str]:
    """How far the resin's pressure lies above that of its water, before gel and after it."""
    stated = "" if zone_cycle.humidity_stated else ", not stated: the worst is taken"
    if zone_cycle.vapor_margin is not None:
        above = margin(zone_cycle.vapor_margin.value, units)
        yield f"Vapor margin, pressed to gel: {above} (humidity {percent(zone_cycle.humidity)}{stated})."
    if zone_cycle.vapor_margin_after_gel is not None:
        above = margin(zone_cycle.vapor_margin_after_gel, units)
        boiling = value_text(373.15, None, in_units(DEG_C, units))
        yield f"Smallest margin after gel, above {boiling}: {above}."
    if zone_cycle.vapor_before_pressure is not None and zone_cycle.vapor_before_pressure[0] > 0.0:
        seconds, worst = zone_cycle.vapor_before_pressure
        how = f"{minutes(seconds)}, at worst {margin(-worst, units)}"
        yield f"Before it was pressed, vapor was above the resin for {how}."


def _sentences(zone_cycle: ZoneCycle, units: str, *, why: bool) -> Sequence[str]:
    """What stands below the moments of a logged zone; why: also what each column of the log reads."""
    lines = [*_gel_clock(zone_cycle, units), *_vapor(zone_cycle, units)]
    if zone_cycle.times_released:
        times = several(zone_cycle.times_released, "time")
        lines.append(f"The press was released {times} before gel; its last closing counts.")
    readings = sorted(zone_cycle.readings.items())
    lines += [_reading(name, value, units) for name, value in readings if name != "vapor margin"]
    if zone_cycle.matters_most is not None:
        lines.append(f"{zone_cycle.matters_most.text}.")
    lines += [f"Mended: {words}." for words in zone_cycle.mended]
    lines += [f"Left out: {words}." for words in zone_cycle.left_out]
    lines += [f"Mind: {words}." for words in zone_cycle.warnings]
    if not why:
        lines += counted_exact([zone_cycle])
        exact, unknown = len(zone_cycle.not_measured), len(zone_cycle.unknown)
        counted = ["what each column of the log reads"] if zone_cycle.log_file else []
        counted += [without_spread(exact)] if exact else []
        counted += [f"{several(unknown, 'thing')} not known"] if unknown else []
        return [*lines, f"See --why: {', '.join(counted)}."] if counted else lines
    if zone_cycle.log_file:
        columns = [f"{name} reads {reads}" for name, reads in zone_cycle.columns]
        lines.append(f"Columns: {', '.join(columns)}.")
    return lines


def _reading(name: str, value: Known, units: str) -> str:
    unit = in_units(READING_UNITS[name], units)
    return f"{name.capitalize()}: {text(value.value, value.u, unit)}."
