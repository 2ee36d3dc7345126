"""Predicted against achieved in words and tables: what it means, then what to change, the reasons last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from laminate.history.centring import AIMED
from laminate.show import rubber_words
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.engineer_text import assumption_blocks, listed, plies
from laminate.show.numbers import change as signed
from laminate.show.numbers import decimals, fixed, in_units, spread_text, unit_of, value_text, without_text
from laminate.show.numbers import size as length
from laminate.show.page_words import attribute as words_of
from laminate.show.page_words import several
from laminate.values.quantities import MM, Unit, shown_difference

if TYPE_CHECKING:
    from laminate.history.achieved import Causes
    from laminate.history.centring import Aim, Centred, Change
    from laminate.history.correcting import Correction, Difference, Thicker, ZoneCorrection
    from laminate.history.pooled import Coverage

AUTHORITY = (
    "These are proposals: whoever owns the part file and the tooling decides, and a changed tool, core or "
    "ply count is a new issue of the part. Limits, methods and release stay with the governing "
    "specification, local codes and authorized staff."
)
HOW = (
    "Difference: predicted minus achieved; inputs that both share, such as the densities, count once and "
    "with their sign. The difference is real where it is larger than its ± (expanded). Chances "
    "of the changed part are not computed here: write the change into the part file and run 'laminate fill' "
    "on it."
)


def _step(value: float, u: float, unit: Unit) -> str:
    """A difference to the digits of its uncertainty, with its sign."""
    number, size = shown_difference(value, unit), shown_difference(u, unit)
    return f"{'+' if number > 0 else ''}{fixed(number, decimals(number, size))}"


def first_answer(zone: ZoneCorrection, units: str, coverage: Coverage) -> str:
    """What to do in a zone, then why."""
    advice = f"Zone {zone.zone}, {plies(zone.plies)}: {_advice(zone, units, coverage)}"
    meaning = [difference for difference in zone.differences if difference.means_something]
    off = [_off(aim, units) for aim in zone.centring.aims if aim.means_something and zone.thicker is None]
    compared = "It came out as predicted, within the uncertainty"
    if meaning:
        deviations = listed(_came_out(difference, units) for difference in meaning)
        compared = f"{deviations[0].upper()}{deviations[1:]} than predicted, by more than the uncertainty"
    return f"{advice}. {compared}{'; ' + listed(off) if off else ''}."


def _advice(zone: ZoneCorrection, units: str, coverage: Coverage) -> str:
    """The proposal of a zone with its numbers, or what must be measured before there is one."""
    aims, between = zone.centring.aims, zone.centring.between
    if zone.thicker is not None:
        return thicker_words(zone.thicker, units)
    if not aims:
        return "no change proposed: measure thickness or fiber volume"
    if not zone.change:
        values = listed(
            f"{words_of(aim.aim.attribute)} "
            f"{value_text(aim.now.value, aim.k * aim.now.u, unit_of(aim.aim.attribute, units))}"
            for aim in aims
        )
        return f"no change needed: {values} {'lie' if len(aims) > 1 else 'lies'} in the middle, within the ±"
    able = [aim for aim in aims if aim.means_something and not aim.hindrance]
    best = between if zone.centring.cannot_both and between is not None else next(iter(able), None)
    if best is None:
        return f"no gap or core size helps with {plies(zone.plies)}"
    changes = _changes(best.changes[:1], best.k, units, coverage)
    aimed = "both middles" if best is between else f"the middle for {words_of(best.aim.attribute)}"
    return f"to reach {aimed}, change the {changes}, and get {_then(zone, best, units)}"


def _came_out(difference: Difference, units: str) -> str:
    mean = difference.difference.mean
    way = "lower" if mean.value > 0 else "higher"
    by = spread_text(abs(mean.value), unit_of(difference.attribute, units))
    return f"{words_of(difference.attribute)} came out {by} {way}"


def _off(centred: Centred, units: str) -> str:
    unit, way = unit_of(centred.aim.attribute, units), "above" if centred.away > 0 else "below"
    middle = "what was predicted" if centred.aim.low is None else "the middle of its limits"
    share = f" ({_share(centred.aim, centred.now.value)})" if centred.aim.low is not None else ""
    return (
        f"{words_of(centred.aim.attribute)} lies {spread_text(abs(centred.away), unit)} {way} {middle}{share}"
    )


def _share(aim: Aim, value: float) -> str:
    part = abs(aim.off(value))
    return f"{100 * part:.0f} % of the way to the limit" if part <= 1 else "outside the limit"


def coverage_words(coverage: Coverage) -> str:
    """What every ± of the answer is expanded to."""
    if coverage.fixed is not None:
        return f"k = {coverage.fixed:g}"
    return f"{100.0 * (coverage.confidence or 0.95):g} %"


def _heading(attribute: str, units: str) -> str:
    return f"{words_of(attribute)} [{unit_of(attribute, units).text}]"


def _compared(
    predicted: Causes, achieved: Causes, difference: Causes, attribute: str, *, units: str, coverage: Coverage
) -> tuple[str, ...]:
    """Predicted, achieved, difference and the ± of the difference, for columns without units."""
    unit, half = without_text(unit_of(attribute, units)), coverage.factor(difference) * difference.u
    values = (
        value_text(estimate.value, coverage.factor(estimate) * estimate.u, unit)
        for estimate in (predicted, achieved)
    )
    return *values, _step(difference.value, half, unit), spread_text(half, unit)


def _differences(
    differences: Sequence[Difference], units: str, coverage: Coverage, *, why: bool
) -> Iterator[Block]:
    rows = [
        (
            _heading(difference.attribute, units),
            *_compared(
                difference.predicted.mean, difference.achieved.mean, difference.difference.mean,
                difference.attribute, units=units, coverage=coverage,
            ),
            "yes" if difference.means_something else "no",
        )
        for difference in (
            differences if why else [d for d in differences if d.attribute in AIMED] or differences
        )
    ]  # fmt: skip
    spread = f"± ({coverage_words(coverage)})"
    columns = ("attribute", "predicted", "achieved", "difference", spread, "real difference")
    yield Grid(columns, tuple(rows), (1, 2, 3, 4))
    if any(len(difference.batches) > 1 for difference in differences):
        if why:
            yield _by_batch(differences, units, coverage)
        for difference in differences:
            yield from sentences([_scatter(difference)])


def _by_batch(differences: Sequence[Difference], units: str, coverage: Coverage) -> Grid:
    rows = [
        (
            _heading(difference.attribute, units),
            batch,
            *_compared(
                compared.predicted, compared.achieved, compared.difference, difference.attribute, units=units,
                coverage=coverage,
            ),
        )
        for difference in differences
        for batch, compared in difference.batches
    ]  # fmt: skip
    spread = f"± ({coverage_words(coverage)})"
    columns = ("attribute", "batch", "predicted", "achieved", "difference", spread)
    return Grid(columns, tuple(rows), (2, 3, 4, 5))


def _scatter(difference: Difference) -> str:
    if difference.difference.chance is None:
        return ""
    words = words_of(difference.attribute).capitalize()
    if difference.difference.scatters:
        chance = f"{100 * difference.difference.chance:.2g} %"
        return (
            f"{words}: the batches scatter by more than what is stated of each lets them (chance {chance}); "
            "the scatter seen is used in its place."
        )
    return f"{words}: the batches agree within what is stated of each."


def _changes(changes: Sequence[Change], k: float, units: str, coverage: Coverage) -> str:
    unit = in_units(MM, units)
    return "; or ".join(
        f"{change.size} by {_step(change.change, k * change.u, unit)} ± {spread_text(k * change.u, unit)} "
        f"({coverage_words(coverage)}), from {length(change.now, units)} to {length(change.then, units)}"
        for change in changes
    )


def _then(zone: ZoneCorrection, centred: Centred, units: str) -> str:
    results = []
    for other in zone.centring.aims:
        attribute = other.aim.attribute
        if attribute in centred.then:
            value = value_text(centred.then[attribute], other.now.u, unit_of(attribute, units))
            results.append(f"{words_of(attribute)} {value}")
    return listed(results)


HINDRANCES = {
    "shortfall": "these plies do not fill the gap that it would take: too little resin",
    "bleed limit": "more resin would have to leave than can bleed",
    "packing limit": "the fibers do not pack that far",
}


def thicker_words(thicker: Thicker, units: str) -> str:
    """That no closed tool makes such a part."""
    unit = in_units(MM, units)
    return (
        "measure the gap and look at the closing of the tool; no size is proposed until then. "
        f"The part came out {value_text(thicker.achieved, thicker.expanded, unit)} thick, "
        f"{value_text(thicker.excess, thicker.expanded, unit)} more than the hot gap of "
        f"{value_text(thicker.hot_gap, thicker.expanded, unit)} lets a closed tool make. "
        "Either the tool did not close (too many plies, too little bleed or clamp force, something between "
        "its halves), or the gap is not what the part file says"
    )


def _centre(zone: ZoneCorrection, units: str, coverage: Coverage) -> Iterator[Block]:
    if zone.thicker is not None:
        return
    for aim in zone.centring.aims:
        unit = unit_of(aim.aim.attribute, units)
        to = f"{words_of(aim.aim.attribute)} to {value_text(aim.aim.middle, aim.now.u, unit)}"
        middle = "as predicted" if aim.aim.low is None else f"the middle of its {aim.aim.words}"
        start = f"To bring {to}, {middle}"
        if aim.hindrance:
            why = HINDRANCES.get(aim.hindrance, aim.hindrance)
            yield Sentence(f"{start}, with {plies(zone.plies)}: no gap or core size achieves this, {why}.")
        elif not aim.means_something:
            yield Sentence(
                f"{start}: it lies there within its uncertainty. No change needed. "
                f"(Exactly there: change the {_changes(aim.changes, aim.k, units, coverage)}.)"
            )
        else:
            yield Sentence(
                f"{start}: change the {_changes(aim.changes, aim.k, units, coverage)}. "
                f"Then: {_then(zone, aim, units)}.",
                strong=True,
            )
    centring = zone.centring
    if centring.cannot_both and centring.apart is None:
        yield Sentence(f"Both cannot be in the middle with {plies(zone.plies)} of this prepreg.", strong=True)
    if centring.cannot_both and centring.apart is not None:
        yield Sentence(
            f"Both cannot be in the middle with {plies(zone.plies)} of this prepreg: with fiber volume in "
            f"its middle, thickness is off by {signed(centring.apart[0], units)}.",
            strong=True,
        )
        if centring.between is not None:
            yield Sentence(
                f"Equally far from both: change the "
                f"{_changes(centring.between.changes, centring.between.k, units, coverage)}. "
                f"Then: {_then(zone, centring.between, units)}."
            )


def _counts(zone: ZoneCorrection, units: str) -> Iterator[Block]:
    aims = [aim.aim.attribute for aim in zone.centring.aims]
    if not zone.centring.counts or not aims or zone.thicker is not None:
        return
    rows = []
    for count in zone.centring.counts:
        values = []
        for aim in zone.centring.aims:
            values.append(
                value_text(count.then[a := aim.aim.attribute], aim.now.u, without_text(unit_of(a, units)))
            )
        outside = f"outside: {listed(words_of(a) for a in count.outside)}" if count.outside else ""
        mark = "as laid up" if count.plies == zone.plies else ""
        rows.append((str(count.plies), count.verdict, *values, ", ".join(filter(None, (mark, outside)))))
    headings = [f"{words_of(a)} [{unit_of(a, units).text}]" for a in aims]
    yield Heading(f"Zone {zone.zone}: ply counts in the gap as it is", detail=True)
    yield Grid(("plies", "verdict", *headings, "note"), tuple(rows), tuple(range(2, 2 + len(aims))))


def _budget(zone: ZoneCorrection, units: str) -> Iterator[Block]:
    first = next(iter(zone.differences), None)
    if first is None:
        return
    unit, variance = unit_of(first.attribute, units), first.difference.mean.u**2
    rows = [
        (
            name.removesuffix(f", {first.attribute}"),
            spread_text(abs(part), unit),
            f"{100 * part**2 / variance:.1f} %",
        )
        for name, part in first.budget().items()
        if variance and part**2 / variance >= 0.005
    ]
    words = f"Zone {zone.zone}: where the ± of the difference in {words_of(first.attribute)} comes from"
    yield Heading(words, detail=True)
    yield Grid(("what", "standard ±", "share"), tuple(rows), (1, 2))


def last_line(correction: Correction, units: str) -> Sentence:
    """The answers of every zone again, in few words, for the end of a screen."""
    heads = [first_answer(zone, units, correction.coverage) for zone in correction.zones]
    heads += [rubber_words.first_line(zone.answer, units) for zone in correction.rubber]
    return Sentence("; ".join(head.partition(". ")[0].rstrip(".") for head in heads) + ".", strong=True)


def named(correction: Correction) -> str:
    """The part and its batches."""
    batches = f"batch{'es' if len(correction.batches) > 1 else ''} {listed(correction.batches)}"
    return f"{correction.part_number}, {batches}"


def blocks(correction: Correction, units: str, *, why: bool = True) -> list[Block]:
    """The whole answer; why: with the reasons, batch by batch, and what is assumed."""
    coverage = correction.coverage
    made: list[Block] = [
        Sentence(first_answer(zone, units, coverage), strong=True) for zone in correction.zones
    ]
    made += [Sentence(rubber_words.first_line(zone.answer, units), strong=True) for zone in correction.rubber]
    made += [] if why else [Sentence(f"{named(correction)}: achieved against predicted.")]
    for pressed in correction.rubber:
        made += rubber_words.blocks(pressed.answer, units, why=why)
        if pressed.differences:
            made += _differences(pressed.differences, units, correction.coverage, why=why)
    for zone in correction.zones:
        if why or len(correction.zones) + len(correction.rubber) > 1:
            made.append(Heading(f"Zone {zone.zone}, {plies(zone.plies)}"))
        made += [
            *_differences(zone.differences, units, correction.coverage, why=why),
            *_centre(zone, units, correction.coverage),
            *(_counts(zone, units) if why else ()),
            *(_budget(zone, units) if why else ()),
        ]
    material = (
        "the part file's material"
        if correction.nominal
        else f"the material of batch {correction.batches[-1]}"
    )
    if why:
        made += [Heading("How it is computed", detail=True), Sentence(HOW)]
        made.append(Sentence(f"The next batch is taken to be laid up like the last one, with {material}."))
    missing = [word for zone in correction.zones for word in zone.not_measured]
    missing += [word for zone in correction.rubber for word in zone.answer.not_measured]
    not_measured = list(dict.fromkeys(missing))
    made += sentences(list(correction.notes))
    if not_measured and not why:
        made.append(
            Sentence(f"{several(len(not_measured), 'input')} without ±, causes and other counts: see --why.")
        )
    elif not_measured:
        made += assumption_blocks(not_measured)
    return [*made, Heading("Caution"), Sentence(AUTHORITY)]
