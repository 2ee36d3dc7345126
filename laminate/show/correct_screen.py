"""The answer of `correct` on one screen: what to change, what was compared, what the ± leaves out.

24 lines of 80 columns for a zone, eight more for each further one, 40 in all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from laminate.history.centring import AIMED
from laminate.history.correcting import Correction, ZoneCorrection
from laminate.history.pooled import Difference
from laminate.history.rubber import RubberCorrection
from laminate.show import pressed_words, rubber_words
from laminate.show.blocks import Block, Grid, Heading, Sentence, holding, sentences
from laminate.show.correct_words import (
    AUTHORITY,
    asides,
    centre_sentences,
    differences_grid,
    first_lines,
    named,
    not_measured,
    proposes,
    scatter_words,
    zone_heading,
)
from laminate.show.engineer_text import listed
from laminate.show.page_words import several
from laminate.show.screenful import ALL, MORE, MOST, height
from laminate.values.sequences import by_key

Zone = ZoneCorrection | RubberCorrection

ASIDES = 2
"""So many doubts, exclusions and things left out stand on one screen, each."""
NAMED = 4
"""So many batches are named."""
ANSWERS = 16
"""Lines of answers with their reasons."""
FIRST, LATER = 1, 3
Piece = tuple[int, str, list[Block]]
"""How soon it gives way, less than `LATER` later, the `FIRST` of a zone last; zone; what stands together."""


def _shown(zone: Zone) -> Sequence[Difference]:
    """The attributes that a screen shows."""
    return [row for row in zone.differences if row.attribute in AIMED or row.real] or zone.differences


def _pieces(zone: Zone, correction: Correction, units: str) -> Iterator[Piece]:
    """What a screen shows of a zone; one alone is named in its answer."""
    alone = len(correction.zones) + len(correction.rubber) == 1
    words = zone_heading(zone) if isinstance(zone, ZoneCorrection) else rubber_words.heading(zone)
    head: list[Block] = [] if alone else [Heading(words)]
    rows = _shown(zone)
    yield FIRST, zone.zone, [*head, *([differences_grid(rows, units, correction.coverage)] if rows else [])]
    if isinstance(zone, ZoneCorrection):
        for sentence in centre_sentences(zone, units, correction.coverage) if proposes(zone) else ():
            yield LATER - sentence.strong, zone.zone, [sentence]
        return
    if rubber_words.offers(zone):
        changes: list[Block] = [rubber_words.grid(zone, units), Sentence(rubber_words.COLUMNS)]
        yield LATER + 1 - 2 * bool(zone.worth_changing), zone.zone, changes
    for note in rubber_words.notes(zone, units):
        yield LATER, zone.zone, [Sentence(note)]


def _scatter(correction: Correction) -> Iterator[str]:
    """What the ± of each zone takes for the scatter between batches, with its zones where they differ."""
    each = [(rubber_words.scatter_words(zone), zone.zone) for zone in correction.rubber]
    each += [(scatter_words(_shown(zone)), zone.zone) for zone in correction.zones]
    by_words = by_key(each)
    for words, zones in by_words.items():
        yield words if len(by_words) == 1 else f"Zone {listed(zones)}: {words}"


def screen_blocks(correction: Correction, units: str) -> list[Block]:
    """The answer in as many lines as a screen has; what is left out is counted, and comes with --why."""
    answers = first_lines(correction, units)
    again = "; ".join(line.partition(". ")[0].rstrip(".") for line in answers)
    begin, end = [Sentence(line, strong=True) for line in answers], [Sentence(f"{again}.", strong=True)]
    if height(begin) > ANSWERS:
        begin = end
    batches = f"{named(correction, NAMED)}: difference is predicted minus achieved."
    screening = [pressed_words.screening(units)] if any(zone.run.room for zone in correction.rubber) else []
    under = sentences([*asides(correction, units, ASIDES), batches, *_scatter(correction), *screening])
    zones: list[Zone] = [*correction.rubber, *correction.zones]
    pieces = [piece for zone in zones for piece in _pieces(zone, correction, units)]
    twice = 2 * height(end)  # what to do; the reasons beside it count as between
    most = min(twice + MOST + MORE * (len(zones) - 1), ALL)

    def whole(kept: set[int]) -> list[Block]:
        left_out = [block for at, (*_, blocks) in enumerate(pieces) if at not in kept for block in blocks]
        tables, texts = (sum(isinstance(b, kind) for b in left_out) for kind in (Grid, Sentence))
        exact = len(not_measured(correction))
        more = holding(
            (exact, f"{several(exact, 'input')} without ±"),
            (tables, several(tables, "more table")),
            (texts, several(texts, "more sentence")),
        )
        see = f"See --why: {listed([*more, 'causes', 'other counts'])}."
        middle = [block for at, (*_, blocks) in enumerate(pieces) if at in kept for block in blocks]
        return [*begin, *under, *middle, *sentences([see, AUTHORITY]), *end]

    kept, headed = set[int](), set[str]()
    for at in sorted(range(len(pieces)), key=lambda at: pieces[at][0]):
        weight, zone, _ = pieces[at]
        if (weight == FIRST or zone in headed) and height(whole({*kept, at})) <= most:
            kept.add(at)
            headed.add(zone)
    return whole(kept)
