"""Planned cycles side by side in words: the verdict at each humidity, the moments, what keeps it open."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from laminate.curing.answers import CANNOT, Event, ZoneCycle
from laminate.curing.events import GIVES_WAY
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.cycle_json import EVENTS
from laminate.show.engineer_text import AT_95, assumed_exact, assumption_blocks, with_spread, without_spread
from laminate.show.numbers import (
    DASH,
    bare_chance,
    column,
    degrees,
    in_units,
    percent,
    span,
)
from laminate.show.page_words import capital, several
from laminate.values.quantities import DEG_C, MINUTE, MPA, Unit
from laminate.values.sequences import by_key

Plans = dict[tuple[str, str], list[ZoneCycle]]

SHORT = {"pressed in time": "in time", "pressed late": "late", "vapor above pressure": "vapor"}
BESIDE = 3
NAMED = 3
MOST_REASONS = 2
MOMENTS = f"{AT_95}; absolute pressures"
LOCKED = "highest pressure, locked"
NAMES = {
    "clamp reached": "when the clamp's limit is reached",
    "gel_clock.start": "gel clock used before the press",
    "gel_clock.when_pressed": "gel clock used when pressed",
    "matters_most": "the input that matters most",
    "released": "when the press is released",
    "sensors": "how many sensors are expected",
}
"""What a person calls a result that is not given, where its key does not say it."""
HOTTEST = {"peak temperature": "hottest"}


def humidity_of(zone_cycle: ZoneCycle) -> str:
    """The stored humidity that an answer is for."""
    return percent(zone_cycle.humidity) if zone_cycle.humidity_stated else "not stated"


def plans(zones: Sequence[ZoneCycle]) -> Plans:
    """The answers of each zone and cycle, one a humidity; that as given stands for a usual one like it."""
    each: Plans = by_key(((zone.zone, zone.cycle), zone) for zone in zones)
    return {
        key: [some[0], *(other for other in some[1:] if humidity_of(other) != humidity_of(some[0]))]
        for key, some in each.items()
    }


def plan_answers(zones: Sequence[ZoneCycle], *, why: bool = True) -> list[Block]:
    """One sentence a zone and cycle: the verdict, where it differs by humidity; why: and the first reason."""
    lines: list[str] = []
    for (zone, cycle), answers in plans(zones).items():
        levels = by_key((answer.verdict, humidity_of(answer)) for answer in answers)
        given = answers[0]
        if len(levels) == 1:
            verdicts = given.verdict + (" at any storage humidity" if why else "")
        else:
            verdicts = "; ".join(f"{verdict} at {', '.join(at)}" for verdict, at in levels.items())
        reason = f": {given.why[0]}" if given.why and why else ""
        lines.append(f"{zone}, cycle {cycle}: {verdicts}{reason}.")
    return [Sentence(words, strong=True) for words in (lines if why else [" ".join(lines)])]


def plan_blocks(zones: Sequence[ZoneCycle], units: str, *, why: bool) -> Iterator[Block]:
    """Verdicts by humidity, moments side by side, and what must be weighed."""
    each = plans(zones)
    yield Heading("Verdict and chance by storage humidity")
    levels = [humidity_of(answer) for answer in next(iter(each.values()))]
    rows = tuple((f"{zone}, {cycle}", *(_cell(row) for row in some)) for (zone, cycle), some in each.items())
    yield Grid(("zone, cycle", *levels), rows)
    shown_ones = list(each.items()) if why else list(each.items())[:BESIDE]
    for at in range(0, len(shown_ones), BESIDE):
        yield from _moments(dict(shown_ones[at : at + BESIDE]), units, why=why)
    if len(shown_ones) < len(each):
        yield Sentence(f"{len(each) - len(shown_ones)} more with --why, and on the page.")
    yield from _weighed(each, units, why=why)


def _cell(zone_cycle: ZoneCycle) -> str:
    verdict, both = SHORT.get(zone_cycle.verdict, zone_cycle.verdict), zone_cycle.chance.both
    return verdict if both is None else f"{verdict} {bare_chance(both, 0)} %"


def _moments(some: Plans, units: str, *, why: bool) -> list[Block]:
    press, shown = in_units(MPA, units), slice(None, None, 1 if why else 2)
    units_of = [f"[{unit.text}]" for unit in (MINUTE, in_units(DEG_C, units), press)][shown]
    columns = ["moment"]
    only_zone = len({zone for zone, _ in some}) == 1
    for zone, cycle in some:
        columns += [f"{'' if only_zone else f'{zone}, '}{cycle} {units_of[0]}", *units_of[1:]]
    firsts = [answers[0] for answers in some.values()]

    def margins(name: str) -> list[str]:
        every = [[answer.readings.get(name) for answer in each] for each in some.values()]
        known = [[reading.value for reading in each if reading is not None] for each in every]
        return [span(each if why else each and [min(each)], press, places(press)) for each in known]

    pressures = {
        "applied at gel": [
            with_spread(f.applied_pressure_at_gel if why else None, MPA, units, bare=True) for f in firsts
        ],
        "locked, max": [with_spread(f.readings.get(LOCKED), MPA, units, bare=True) for f in firsts],
        "least vapor margin": margins("vapor margin"),
        "vapor margin at gel": margins("vapor margin at gel") if why else [],
    }
    lines = {HOTTEST.get(name, name): [_event(f.event(name), units) for f in firsts] for name in EVENTS}
    lines |= {title: [("", "", value) for value in values] for title, values in pressures.items()}
    rows = [
        (title, *(cell for cells in of_plans for cell in cells[shown]))
        for title, of_plans in lines.items()
        if not {(DASH, "", ""), ("", "", DASH)}.issuperset(of_plans)
    ]
    if not rows:
        return []
    key = f"{MOMENTS}; a margin below 0 is missing pressure"
    return [Heading(f"Moments ({key})"), Grid(tuple(columns), tuple(rows), tuple(range(1, len(columns))))]


def _event(event: Event | None, units: str) -> tuple[str, str, str]:
    """Time, temperature of the laminate and pressure of the resin, where they are known."""
    if event is None:
        return DASH, "", ""
    warm, resin, press = event.temperature, event.resin_pressure, in_units(MPA, units)
    temperature = "" if warm is None else degrees(warm, units, bare=True)
    return time_text(event), temperature, "" if resin is None else column(resin, press, places(press))


def places(press: Unit) -> int:
    """Decimals of a planned pressure: to 10 kPa, or to a psi, which is 7."""
    return 2 if press is MPA else 0


def time_text(event: Event) -> str:
    """When it is, in minutes without the unit, with its ± where it has one."""
    time = event.time
    if time.ends is not None:
        return span(time.ends, MINUTE, 1)
    return with_spread(time, MINUTE, "metric", bare=True) if time.u else column(time.value, MINUTE, 1)


def counted_exact(zones: Iterable[ZoneCycle], named: int = NAMED) -> list[str]:
    """What 'pressed in time' counts as exact where nobody calls it so: a ± left out may have made it so."""
    notes = dict.fromkeys(note for zone in zones if zone.good for note in zone.not_measured)
    return assumed_exact(notes, named)


def _weighed(each: Plans, units: str, *, why: bool) -> list[Block]:
    weighed = {at: answers if why else answers[:1] for at, answers in each.items()}
    missing = _missing(weighed)
    notes = dict.fromkeys(note for some in weighed.values() for zone in some for note in zone.not_measured)
    lines = _placed(weighed, lambda answer: _remarks(answer, why=why))
    if why:
        return [*sentences([*lines, *missing]), *assumption_blocks(notes, units)]
    every = [answer for answers in each.values() for answer in answers]
    exact = counted_exact(every, 1 if dangers(every) else NAMED)
    more = len(lines) + len(exact) - MOST_REASONS
    counted = hidden(len(notes), more, len(missing))
    last = [f"See --why: {', '.join(counted)}."] if counted else []
    return sentences([*lines[: MOST_REASONS - len(exact)], *exact, *last])


def dangers(zones: Sequence[ZoneCycle]) -> list[Block]:
    """Where the tool can open or break: what stands under the answers, whatever they are."""
    given = {at: answers[:1] for at, answers in plans(zones).items()}
    return sentences([" ".join(_placed(given, lambda answer: _cautions(answer, danger=True)))])


def _placed(each: Plans, remarks_of: Callable[[ZoneCycle], Iterable[str]]) -> list[str]:
    """Remarks on answers, each once with its zones, cycles and humidities; cautions last."""
    places: list[tuple[str, str]] = []
    for (zone, cycle), some in each.items():
        levels = by_key((remark, humidity_of(answer)) for answer in some for remark in remarks_of(answer))
        for remark, at in levels.items():
            humidity = "" if len(at) == len(some) else f", humidity {', '.join(at)}"
            places.append((remark, f"{zone}, {cycle}{humidity}"))
    remarks = sorted(by_key(places).items(), key=lambda remark: remark[0].startswith("Caution: "))
    return [f"{words} ({'; '.join(names)})." if len(each) > 1 else f"{words}." for words, names in remarks]


def _missing(each: Plans) -> list[str]:
    """The results that are not given, with the zones and cycles that lack them where others do not."""
    places = [
        (line, f"{zone}, {cycle}")
        for (zone, cycle), some in each.items()
        for line in dict.fromkeys(line for answer in some for line in not_given(answer))
    ]
    lines = by_key(places).items()
    return [w if len(names) == len(each) else f"{w[:-2]}; {'; '.join(names)})." for w, names in lines]


def _cautions(answer: ZoneCycle, *, danger: bool) -> list[str]:
    return [f"Caution: {words}" for words in answer.warnings if (GIVES_WAY in words) == danger]


def _remarks(answer: ZoneCycle, *, why: bool) -> Iterable[str]:
    """What must be weighed of one answer, each once; why: its first reason too."""
    # a chance that decides nothing stands in the table
    by_chance = answer.verdict == CANNOT and answer.chance.both is not None
    reasons = [] if by_chance else answer.why if why else answer.why[1:]
    remarks = [f"{capital(answer.verdict)}: {words}" for words in reasons]
    remarks += [answer.matters_most.text] if answer.matters_most is not None else []
    return dict.fromkeys([*remarks, *_cautions(answer, danger=False)])


def not_given(zone_cycle: ZoneCycle) -> list[str]:
    """The results that an answer does not have, a sentence for each reason."""
    given = {*zone_cycle.readings, *(event.event for event in zone_cycle.events)}  # some as a range
    given |= {"vapor_margin"} if zone_cycle.vapor_margin else set()
    unknown = sorted(pair for pair in zone_cycle.unknown.items() if pair[0] not in given)
    spoken = {key: NAMES.get(key) or key.replace(".", ", ").replace("_", " ") for key, _ in unknown}
    names = by_key((reason, spoken[key]) for key, reason in unknown)
    return [f"Not given: {', '.join(keys)} ({reason})." for reason, keys in names.items()]


def hidden(assumed: int, remarks: int, missing: int) -> list[str]:
    """What stands with `--why` alone, counted: assumptions, remarks, results that are not given."""
    counted = [without_spread(assumed)] if assumed else []
    counted += [several(remarks, "remark")] if remarks > 0 else []
    return counted + ([several(missing, "result not given", "results not given")] if missing else [])
