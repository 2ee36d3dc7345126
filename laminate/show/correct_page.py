"""The answer of `correct` as a document: its words, and what was predicted, achieved, proposed."""

from __future__ import annotations

from collections.abc import Mapping
from string import ascii_lowercase
from typing import TYPE_CHECKING

from laminate.show.chart import Figure
from laminate.show.correct_words import blocks, last_line, named
from laminate.show.document import Document
from laminate.show.interval_drawing import Group, Row, drawing
from laminate.show.numbers import in_units, typeset, unit_of, with_size
from laminate.show.rubber_words import change_words
from laminate.values.quantities import ATTRIBUTES, MM, Unit, shown, shown_difference

if TYPE_CHECKING:
    from laminate.history.achieved import Causes
    from laminate.history.centring import Aim
    from laminate.history.correcting import Correction, Difference, RubberZone, ZoneCorrection

ONE = "Each change is made alone. Bars are ± the expanded uncertainty; a change stands without one."


def _row(name: str, value: float, u: float, k: float, unit: Unit) -> Row:
    return Row(name, shown(value, unit), shown_difference(k * u, unit), 0.0)


def _measured(name: str, causes: Causes, k: float, unit: Unit) -> Row:
    return _row(name, causes.value, causes.u, k, unit)


def _figure(zone: str, aim: Aim, rows: list[Row], changes: Mapping[str, float], units: str) -> Figure:
    """The picture of one attribute: rows above, then a row for each change, with its letter."""
    unit = unit_of(aim.attribute, units)
    letters = list(zip(ascii_lowercase, changes.items(), strict=False))
    rows = rows + [_row(letter, value, 0.0, 1.0, unit) for letter, (_, value) in letters]
    low, high = (None if limit is None else shown(limit, unit) for limit in (aim.low, aim.high))
    average = aim.words.startswith("average")
    svg = drawing([Group(tuple(rows), low, high, average=average)], typeset(unit.text))
    name = ATTRIBUTES[aim.attribute].words
    each = [f"{row.name} {_number(row)} {unit.text}" for row in rows[: len(rows) - len(letters)]]
    rows_in_words = "; ".join(each)
    limits = "" if low is None or high is None else f"; {aim.words} {low:g} to {high:g} {unit.text}"
    marks = tuple(
        (letter, f"{words}: {_number(row)} {unit.text}")
        for (letter, (words, _)), row in zip(letters, rows[len(rows) - len(letters) :], strict=True)
    )
    title = f"Zone {zone}: {name}, predicted, achieved and proposed"
    return Figure(svg, title, f"{rows_in_words[:1].upper()}{rows_in_words[1:]}{limits}. {ONE}", marks)


def _number(row: Row) -> str:
    if not row.expanded:
        return f"{row.value:.5g}"
    return with_size(row.value, row.expanded)


def _compared(differences: tuple[Difference, ...], attribute: str, k: float, units: str) -> list[Row]:
    unit = unit_of(attribute, units)
    return [
        row
        for difference in differences
        if difference.attribute == attribute
        for row in (
            _measured("predicted", difference.predicted.mean, k, unit),
            _measured("achieved", difference.achieved.mean, k, unit),
        )
    ]


def _gap_figures(zone: ZoneCorrection, units: str) -> list[Figure]:
    """Of a zone between rigid faces."""
    figures = []
    for aim in zone.centring.aims:
        attribute = aim.attribute
        rows = _compared(zone.differences, attribute, aim.k, units)
        changes: dict[str, float] = {}
        if zone.thicker is None and not aim.hindrance:
            for other in zone.centring.aims:
                for change in other.changes if other.then else ():
                    unit = in_units(MM, units)
                    now, then = (shown(size, unit) for size in (change.now, change.then))
                    places = 3 if unit is MM else 4
                    words = (
                        f"{change.size} from {now:.{places}f} to {then:.{places}f} {unit.text}"
                        f" (to center {ATTRIBUTES[other.attribute].words})"
                    )
                    changes[words] = other.then[attribute]
        figures.append(_figure(zone.zone, aim.aim, rows, changes, units))
    return figures


def _rubber_figures(zone: RubberZone, units: str) -> list[Figure]:
    """Of a zone that rubber presses."""
    answer, figures = zone.answer, []
    for aim, achieved, k in answer.aims:
        unit = unit_of(aim.attribute, units)
        rows = _compared(zone.differences, aim.attribute, k, units)
        if not rows:
            before = answer.predicted
            rows = (
                [] if before is None else [_row("predicted", getattr(before, aim.attribute), 0.0, 1.0, unit)]
            )
            rows.append(_measured("achieved", achieved, k, unit))
        changes = {
            change_words(proposal, units) + (f" ({proposal.refused})" if proposal.refused else ""): getattr(
                proposal.after, aim.attribute
            )
            for proposal in answer.proposals
        }
        figures.append(_figure(answer.zone, aim, rows, changes, units))
    return figures


def correct_figures(correction: Correction, units: str) -> list[Figure]:
    """One picture for each attribute that a zone is centred by."""
    figures = [figure for zone in correction.zones for figure in _gap_figures(zone, units)]
    return figures + [figure for zone in correction.rubber for figure in _rubber_figures(zone, units)]


def correct_document(correction: Correction, units: str) -> Document:
    """The answer of `correct`: its words, and a picture of each attribute."""
    return Document(
        "Achieved against predicted",
        named(correction),
        lambda: blocks(correction, units),
        [*blocks(correction, units, why=False), last_line(correction, units)],
        draw=lambda: correct_figures(correction, units),
    )
