"""The answer of `cycle` in words: the verdict first, then its moments, then what must be weighed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from laminate.curing.answers import Cycles, Known, ZoneCycle
from laminate.curing.draws import BELOW_RANGE
from laminate.curing.verdict import GLASSY, SCREENING
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.cycle_json import READING_UNITS
from laminate.show.engineer_text import assumption_blocks, with_spread
from laminate.show.numbers import (
    chance,
    column,
    degrees,
    in_units,
    margin,
    minutes,
    percent,
    span,
    spread_text,
)
from laminate.show.page_words import several
from laminate.show.plan_words import (
    MOMENTS,
    counted_exact,
    dangers,
    hidden,
    not_given,
    plan_answers,
    plan_blocks,
    time_text,
)
from laminate.values.quantities import DEG_C, MPA, Unit
from laminate.values.said import say_in

CAUTIONS = (
    "The press is hot and closes with force: this replaces no interlock or guard.",
    "A good part that is opened above the boiling point of water can still blister.",
)


def cycle_blocks(cycles: Cycles, units: str, *, why: bool = True) -> list[Block]:
    """The answer for screen and page; units: 'metric' or 'us'; why: with all that it rests on."""
    zones = [_in_units(zone, units) for zone in cycles.zones]
    planned, logged = [zone for zone in zones if zone.cycle], [zone for zone in zones if not zone.cycle]
    answers = [*plan_answers(planned), *dangers(planned)]
    blocks = list(plan_blocks(planned, units, why=why)) if planned else []
    for zone in logged:
        first = verdict_words(zone.zone, zone.verdict, zone.chance.both, zone.why)
        answers.append(Sentence(f"{first}.", strong=True))
        blocks += _zone(zone, units, why=why)
    assumed = dict.fromkeys(words for zone in zones for words in zone.screening)
    taken = "; ".join(words for words in assumed if words not in (SCREENING, GLASSY))
    screening = f"For screening only, {SCREENING}."
    cautions = sentences([f"{screening} Assumed: {taken}." if taken else screening, *CAUTIONS])
    if why:
        mind = sentences([f"Caution: {GLASSY}."] if GLASSY in assumed else [])
        return [*answers, *blocks, Heading("Cautions"), *mind, *cautions]
    return [*answers, *blocks, *cautions, *(plan_answers(planned, why=False) if planned else answers)]


def _in_units(zone_cycle: ZoneCycle, units: str) -> ZoneCycle:
    """The same, with the figures in its reasons and remarks in the units to show."""
    unknown = {key: say_in(words, units) for key, words in zone_cycle.unknown.items()}
    texts = (zone_cycle.why, zone_cycle.warnings, zone_cycle.left_out)
    why, warnings, left_out = ([say_in(words, units) for words in some] for some in texts)
    return replace(zone_cycle, why=why, warnings=warnings, left_out=left_out, unknown=unknown)


def verdict_words(zone: str, verdict: str, both: float | None, why: Sequence[str]) -> str:
    """The verdict of a zone, its chance and why."""
    sure = f", chance {chance(both)}" if both is not None else ""
    reasons = f": {'; '.join(why)}" if why else ""
    return f"{zone}: {verdict}{sure}{reasons}"


def _zone(zone_cycle: ZoneCycle, units: str, *, why: bool) -> Iterator[Block]:
    yield Heading(f"{zone_cycle.zone} ({MOMENTS})")
    if zone_cycle.events:
        heat, press = in_units(DEG_C, units), in_units(MPA, units)
        columns = ("moment", "time [min]", f"laminate [{heat.text}]", f"resin pressure [{press.text}]")
        digits = 3 if units == "metric" else 1
        rows = tuple(
            (e.event, time_text(e), column(e.temperature, heat, 1), column(e.resin_pressure, press, digits))
            for e in zone_cycle.events
        )
        yield Grid(columns, rows, right=(1, 2, 3))
    yield from sentences(_sentences(zone_cycle, units, why=why))
    yield from assumption_blocks(zone_cycle.not_measured, units) if why else ()


def _gel_clock(zone_cycle: ZoneCycle, units: str) -> Iterator[str]:
    """How much of the gel clock was used, and how far its tests reach."""
    clock = zone_cycle.gel_clock
    if clock.tested is None:
        return
    low, high = (degrees(t, units) for t in clock.tested)
    start = "not known" if clock.start is None else percent(clock.start.value)
    pressed = "" if clock.when_pressed is None else f", {percent(clock.when_pressed)} when pressed"
    far = spread_text(BELOW_RANGE, in_units(DEG_C, units))
    share = clock.below_tested_range
    below = f"; {percent(share)} was used up more than {far} below that" if share else ""
    used = f"Time to gel used up: {start} before the press{pressed}"
    yield f"{used}. Gel tested from {low} to {high}{below}."


def _vapor(zone_cycle: ZoneCycle, units: str) -> Iterator[str]:
    """How far the resin's pressure lies above that of its water, before gel and after it."""
    stated = "" if zone_cycle.humidity_stated else ", not stated: the worst is taken"
    if zone_cycle.vapor_margin is not None:
        smallest, why = zone_cycle.vapor_margin, f"humidity {percent(zone_cycle.humidity)}{stated}"
        above = margin(smallest.value, units, smallest.expanded)
        if "vapor_margin" in zone_cycle.unknown:
            above = _range(smallest, MPA, units)
            why = "; ".join((why, *smallest.unread))
        yield f"Smallest vapor margin, from pressed to gel: {above} ({why})."
    if zone_cycle.vapor_margin_after_gel is not None:
        above = margin(zone_cycle.vapor_margin_after_gel, units)
        yield f"Smallest vapor margin after gel, above {degrees(373.15, units)}: {above}."
    if zone_cycle.vapor_before_pressure is not None and zone_cycle.vapor_before_pressure[0] > 0.0:
        seconds, worst = zone_cycle.vapor_before_pressure
        how = f"{minutes(seconds)}, at worst {margin(-worst, units)}"
        yield f"Before it was pressed, the vapor pressed more than the resin for {how}."


def _range(value: Known, unit: Unit, units: str) -> str:
    """From the least to the most that a figure can be; '' where it has no such ends."""
    if value.ends is None:
        return ""
    shown_in = in_units(unit, units)
    return f"{span(value.ends, shown_in, 3 if shown_in is MPA else 1)} {shown_in.text}"


def _sentences(zone_cycle: ZoneCycle, units: str, *, why: bool) -> Iterator[str]:
    """What stands below the moments of a logged zone; why: also what each column of the log reads."""
    yield from (*_gel_clock(zone_cycle, units), *_vapor(zone_cycle, units))
    if zone_cycle.times_released:
        times = several(zone_cycle.times_released, "time")
        yield f"The press was released {times} before gel; the last closing counts."
    for name, value in sorted(zone_cycle.readings.items()):
        if name != "vapor margin":
            unit = in_units(READING_UNITS[name], units)
            known = with_spread(value, unit, units)
            if name in zone_cycle.unknown:
                known = f"{_range(value, unit, units)} ({'; '.join(value.unread)})"
            yield f"{name.capitalize()}: {known}."
    if zone_cycle.matters_most is not None:
        yield f"{zone_cycle.matters_most.text}."
    yield from (f"Corrected: {words}." for words in zone_cycle.mended)
    yield from (f"Left out: {words}." for words in zone_cycle.left_out)
    yield from (f"Caution: {words}." for words in zone_cycle.warnings)
    if not why:
        yield from counted_exact([zone_cycle])
        counted = ["what each column of the log reads"] if zone_cycle.log_file else []
        counted += hidden(len(zone_cycle.not_measured), 0, len(not_given(zone_cycle)))
        yield f"See --why: {', '.join(counted)}." if counted else ""
        return
    if zone_cycle.log_file:
        columns = [f"{name} reads {reads}" for name, reads in zone_cycle.columns]
        yield f"Columns: {', '.join(columns)}. Times count from the first row of the log."
    yield from not_given(zone_cycle)
