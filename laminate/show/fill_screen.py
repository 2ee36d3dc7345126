"""The answer of `fill` on one screen: what to lay up, the counts near it, what must be known.

24 lines of 80 columns for a zone, eight more for each further one, 40 in all.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from laminate.press.case import only_measured
from laminate.press.filling import Fill, ZoneFill
from laminate.press.pressed import PressedFill
from laminate.show import pressed_words
from laminate.show.attribute_words import RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, holding, sentences
from laminate.show.engineer_text import few, listed, without_spread
from laminate.show.fill_words import (
    answers,
    assumptions,
    charge_words,
    clamp_words,
    counts_grid,
    force_words,
    gap_words,
    inverse_words,
    kind_words,
    stated_words,
    steam_words,
    tolerance_blocks,
    wanted_words,
)
from laminate.show.page_words import several
from laminate.show.screenful import ALL, MORE, MOST, height
from laminate.values.input_key import Key
from laminate.values.sequences import by_key

SAID_OF_EACH = (kind_words, stated_words, wanted_words, clamp_words)
ANSWERS = 16
ROWS = (5, 3, 1)


def _near(zone: ZoneFill | PressedFill, units: str, most: int, asked: int | None) -> Grid:
    """The counts nearest to the best one, and the one asked about."""
    whole = counts_grid(zone, units, brief=True)
    at = next(i for i, row in enumerate(zone.rows) if row is zone.best)
    first = max(0, min(at - most // 2, len(whole.rows) - most))
    shown = {*range(first, first + most)} | {i for i, row in enumerate(zone.rows) if row.plies == asked}
    return Grid(whole.columns, tuple(row for i, row in enumerate(whole.rows) if i in shown), whole.right)


def _notes(zone: ZoneFill | PressedFill, units: str) -> list[str]:
    """What is good to know beside a table, the most needed first."""
    if isinstance(zone, ZoneFill):
        return [gap_words(zone, units)]
    return [*zone.beside, *pressed_words.notes(zone, units)]


def _doubts(answer: Fill, units: str) -> list[str]:
    """What else was asked, what is not judged and what endangers the part: always shown, under the answer."""
    doubts: list[tuple[str, str]] = []
    for zone in answer.zones:
        if isinstance(zone, ZoneFill) and zone.gap_wanted is not None:
            doubts += [(words, zone.zone) for words in inverse_words(zone, units)]
        doubts += [(words(answer, zone, units), zone.zone) for words in SAID_OF_EACH]
        if measured := only_measured(zone.case):
            doubts.append((f"Limits on {listed(measured)} are not predicted, only measured.", ""))
        if isinstance(zone, ZoneFill):
            if zone.use is not None and zone.toleranced and zone.assumed_exact:
                doubts.append((f"Assumed exact, as no ± is stated: {few(zone.assumed_exact)}.", zone.zone))
            continue
        room = zone.case.room
        if room is not None and (ends := zone.case.inputs.notes.get(Key("room", room.name, "ends"))):
            doubts.append((f"{ends}: the pressure is less where a core may grow out.", ""))
        if zone.steam is not None and zone.steam.possible:
            doubts += [(words, "") for words in steam_words(zone.steam, units)]
        needed = [] if zone.grade == "risky" else pressed_words.needed_words(zone)
        doubts += [(words, zone.zone) for words in (pressed_words.wish_words(zone, units), *needed)]
    zones_of, several = by_key(pair for pair in doubts if pair[0]), len(answer.zones) > 1
    return [f"{' and '.join(of)}: {words}" if of[0] and several else words for words, of in zones_of.items()]


def _end(fill: Fill, units: str, hidden: int, tables: Sequence[str], to_do: Sequence[str]) -> list[Block]:
    exact = len(assumptions(fill))
    counted = holding(
        (exact, without_spread(exact)),
        (hidden, several(hidden, "more sentence")),
        (tables, f"the counts of {listed(tables)}"),
        (any(map(tolerance_blocks, fill.zones)), "which ± to narrow for the chance that is wanted"),
    )
    more = f"See --why: {listed(counted)}. " if counted else ""
    lines = force_words(fill, units, brief=True)
    lines += [charge_words(fill.charge, units)] if fill.every_zone_fits else []
    bleeds = [zone.bleed_stated for zone in fill.zones if not isinstance(zone, ZoneFill) and zone.cores]
    range_of = "95 % of the draws" if all(bleeds) else "the range of bleeds"
    draws = f"; in brackets: {range_of}" if bleeds else ""
    gaps = [zone for zone in fill.zones if isinstance(zone, ZoneFill)]
    spread = len(gaps) < len(fill.zones) or any(zone.toleranced for zone in gaps)
    spreads = f"± is the expanded uncertainty at 95 %{draws}." if spread else ""
    lines += [f"{more}{spreads}".strip(), RESPONSIBILITY]
    return [*sentences(lines), Sentence(f"{'; '.join(to_do)}.", strong=True)]


def screen_blocks(fill: Fill, units: str) -> list[Block]:
    """The answer in as many lines as a screen has; what is left out is counted, and comes with --why."""
    each = answers(fill, units)
    to_do = [answer[0] for answer in each]
    begin: list[Block] = [Sentence("".join(answer), strong=True) for answer in each]
    if height(begin) > ANSWERS:
        begin = [Sentence(f"{words}.", strong=True) for words in to_do]
    begin += sentences(_doubts(fill, units))
    notes = [_notes(zone, units) for zone in fill.zones]
    shown: list[list[str]] = [[] for _ in notes]
    most = min(ALL, MOST + MORE * (len(fill.zones) - 1))

    def whole(rows: int, tables: int) -> list[Block]:
        middle: list[Block] = []
        for zone, lines in list(zip(fill.zones, shown, strict=True))[:tables]:
            grid = _near(zone, units, rows, fill.plies_asked.get(zone.zone))
            middle += [Heading(pressed_words.named(zone)), grid, *sentences(lines)]
        hidden = sum(map(len, notes)) - sum(map(len, shown))
        left = [zone.zone for zone in fill.zones[tables:]]
        return [*begin, *middle, *_end(fill, units, hidden, left, to_do)]

    sizes = [(rows, len(notes)) for rows in ROWS] + [(1, n) for n in range(len(notes) - 1, -1, -1)]
    rows, tables = next((size for size in sizes if height(whole(*size)) <= most), sizes[-1])
    for in_turn in zip_longest(*notes[:tables]):
        for lines, note in zip(shown, in_turn, strict=False):
            if note is not None:
                lines.append(note)
                if height(whole(rows, tables)) > most:
                    lines.pop()
    return whole(rows, tables)
