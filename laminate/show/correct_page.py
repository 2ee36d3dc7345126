"""The answer of `correct` as a document: its words, and what was predicted, achieved, proposed."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from string import ascii_lowercase

from laminate.history.centring import Aim
from laminate.history.correcting import Correction, ZoneCorrection
from laminate.history.pooled import Difference
from laminate.history.rubber import RubberCorrection
from laminate.show.chart import Picture
from laminate.show.correct_screen import screen_blocks
from laminate.show.correct_words import blocks, named, proposes
from laminate.show.document import Document
from laminate.show.interval_drawing import Group, Row, drawing
from laminate.show.numbers import size, typeset, unit_of, value_text
from laminate.show.page_words import capital
from laminate.show.rubber_words import change_words
from laminate.values.quantities import ATTRIBUTES, Unit, shown, shown_difference
from laminate.values.said import with_size

ONE = "Each change is made alone. Bars are ± the expanded uncertainty; a change stands without one."


def _row(name: str, value: float, expanded: float, unit: Unit) -> Row:
    return Row(name, shown(value, unit), shown_difference(expanded, unit), 0.0)


def _figure(zone: str, aim: Aim, rows: list[Row], changes: dict[str, float], u: float, units: str) -> Picture:
    """The picture of one attribute: rows above, then a row for each change, with its letter.

    u: of the next batch [SI], to whose digits a change is told.
    """
    unit = unit_of(aim.attribute, units)
    lettered = dict(zip(ascii_lowercase, changes.items(), strict=False))
    proposed = [_row(letter, value, 0.0, unit) for letter, (_, value) in lettered.items()]
    low, high = (None if limit is None else shown(limit, unit) for limit in (aim.low, aim.high))
    average = aim.words.startswith("average")
    svg = drawing([Group((*rows, *proposed), low, high, average=average)], typeset(unit.text))
    marks = tuple((letter, f"{words}: {value_text(to, u, unit)}") for letter, (words, to) in lettered.items())
    seen = "; ".join(f"{row.name} {_number(row)} {unit.text}" for row in rows)
    limits = "" if low is None or high is None else f"; {aim.words} {low:g} to {high:g} {unit.text}"
    title = f"Zone {zone}: {ATTRIBUTES[aim.attribute].words}, predicted, achieved and proposed"
    return Picture(svg, title, f"{capital(seen)}{limits}. {ONE}", marks)


def _number(row: Row) -> str:
    return with_size(row.value, row.expanded) if row.expanded else f"{row.value:.5g}"


def _compared(differences: tuple[Difference, ...], attribute: str, units: str) -> list[Row]:
    """What was predicted and what was achieved, each with its own ±."""
    return [
        _row(name, mean.value, mean.expanded, unit_of(attribute, units))
        for row in differences
        if row.attribute == attribute
        for name, mean in (("predicted", row.predicted.mean), ("achieved", row.achieved.mean))
    ]


def _gap_figures(zone: ZoneCorrection, units: str) -> Iterator[Picture]:
    """Of a zone between rigid faces."""
    changes: dict[str, dict[str, float]] = {}
    between = zone.centring.between if zone.centring.cannot_both else None
    for aim in [*zone.centring.aims, *filter(None, [between])] if proposes(zone) else ():
        middle = f"to center {ATTRIBUTES[aim.attribute].words}"
        purpose = "equally far from both" if aim is between else middle
        for way in aim.changes if aim.then else ():
            now, then = size(way.now, units, bare=True), size(way.then, units)
            changes[f"{way.size} from {now} to {then} ({purpose})"] = dict(aim.then)
    for aim in zone.centring.aims:
        rows = _compared(zone.differences, aim.attribute, units)
        made = {words: then[aim.attribute] for words, then in changes.items() if not aim.hindrance}
        yield _figure(zone.zone, aim.aim, rows, made, aim.now.u, units)


def _rubber_figures(zone: RubberCorrection, units: str) -> Iterator[Picture]:
    """Of a zone that rubber presses."""
    for aim, coming in zone.aims:
        unit = unit_of(aim.attribute, units)
        rows, before = _compared(zone.differences, aim.attribute, units), zone.predicted
        if not rows:
            rows = [_row("predicted", getattr(before, aim.attribute), 0.0, unit)] if before else []
            mean = getattr(zone.run, aim.attribute)
            rows.append(_row("achieved", mean.value, mean.expanded, unit))
        changes = {}
        for proposal in () if zone.worth_changing is None else zone.proposals:
            refused = f" ({proposal.refused})" if proposal.refused else ""
            changes[f"{change_words(proposal, units)}{refused}"] = getattr(proposal.after, aim.attribute)
        yield _figure(zone.zone, aim, rows, changes, coming.u, units)


def correct_figures(correction: Correction, units: str) -> list[Picture]:
    """One picture for each attribute that a zone is centred by."""
    figures = [figure for zone in correction.zones for figure in _gap_figures(zone, units)]
    return figures + [figure for zone in correction.rubber for figure in _rubber_figures(zone, units)]


def correct_document(correction: Correction, units: str) -> Document:
    """The answer of `correct`: its words, and a picture of each attribute."""
    whole, draw = partial(blocks, correction, units), partial(correct_figures, correction, units)
    short = screen_blocks(correction, units)
    return Document("Achieved against predicted", named(correction), whole, short, draw=draw)
