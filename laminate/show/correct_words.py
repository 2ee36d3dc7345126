"""Predicted against achieved in words and tables: what it means, then what to change, the reasons last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from laminate.history.centring import Centred
from laminate.history.correcting import Correction, ZoneCorrection
from laminate.history.dependence import hold_back
from laminate.history.misfits import THICKER, UNFILLED, Misfit
from laminate.history.pooled import Coverage, Covered, Difference
from laminate.history.rubber import RubberCorrection
from laminate.show import rubber_words
from laminate.show.attribute_words import RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, holding, sentences
from laminate.show.budget import shares
from laminate.show.engineer_text import assumption_blocks, few, listed, plies
from laminate.show.fill_answer import HINDRANCES
from laminate.show.numbers import change as signed
from laminate.show.numbers import in_units, spread_text, step_text, text, unit_of, value_text
from laminate.show.numbers import size as length
from laminate.show.page_words import attribute as words_of
from laminate.show.page_words import capital
from laminate.values.quantities import MM
from laminate.values.said import say_in

AUTHORITY = (
    "These are proposals: whoever owns the part file and the tooling decides, and a changed tool, core or "
    f"ply count is a new issue of the part. {RESPONSIBILITY}"
)
WORTH_SAYING = 0.5
"""Shares of a variance below this [%] are not listed."""
HOW = (
    "Difference: predicted minus achieved; inputs that both share, such as the densities, count once and "
    "with their sign. The difference is real where it is larger than its ± (expanded). Chances "
    "of the changed part are not computed here: write the change into the part file and run 'laminate fill' "
    "on it."
)


def _value(attribute: str, value: float, spread: float | None, units: str) -> str:
    """An attribute without ±, to the digits that it supports."""
    return value_text(value, spread, unit_of(attribute, units))


def first_answer(zone: ZoneCorrection, units: str, coverage: Coverage) -> str:
    """What to do in a zone, then why."""
    advice = f"Zone {zone.zone}, {plies(zone.plies)}: {_advice(zone, units, coverage)}"
    meaning = [difference for difference in zone.differences if difference.real]
    held = hold_back(zone.depends_on)
    shown = () if held or zone.misfit is not None else zone.centring.aims
    off = [_off(aim, units) for aim in shown if aim.means_something]
    compared = "" if zone.contradict else "It came out as predicted, within the uncertainty"
    if meaning:
        deviations = capital(listed(_came_out(difference, units) for difference in meaning))
        compared = f"{deviations} than predicted, by more than the uncertainty"
    elif open_ := [words_of(difference.attribute) for difference in zone.differences if difference.depends]:
        first = "" if held else f": {rubber_words.first_do(zone.depends_on)}"
        compared = f"Whether {listed(open_)} came out as predicted is not settled{first}"
    lone = f" {rubber_words.LONE_COUPON}" if zone.lone else ""
    rest = "; ".join(filter(None, [compared, listed(off)]))
    return f"{advice}. {capital(rest)}.{lone}" if rest else f"{advice}.{lone}"


def _advice(zone: ZoneCorrection, units: str, coverage: Coverage) -> str:
    """The proposal of a zone with its numbers, or what must be measured before there is one."""
    aims, best = zone.centring.aims, zone.best
    held = rubber_words.held_words(zone.depends_on) if hold_back(zone.depends_on) else ""
    if zone.misfit is not None:
        return f"{held}. Only then: " * bool(held) + misfit_words(zone, zone.misfit, units)
    if held:
        return held
    if not aims:
        return "no change proposed: measure thickness or fiber volume"
    if zone.contradict and not zone.change:
        return "no change proposed: the batches contradict each other; find out which is wrong, and why"
    if not zone.change:
        return _no_change(zone, units, coverage)
    if best is None:
        return f"no gap or core size helps with {plies(zone.plies)}"
    changes = _changes(best, units, coverage, 1)
    on_average = f"and get on average {_then(zone, best, units)}"
    return f"{_guess(zone)}to {_aimed(zone, best)}, change the {changes}, {on_average}"


def _aimed(zone: ZoneCorrection, best: Centred) -> str:
    """What a change is for."""
    reach = f"reach the middle for {words_of(best.attribute)}"
    return "lie equally far from both middles" if best is zone.centring.between else reach


def _guess(zone: ZoneCorrection) -> str:
    """That a change is from one batch, where it is."""
    return f"{rubber_words.GUESS}: " if zone.lone_batch else ""


def _no_change(zone: ZoneCorrection, units: str, coverage: Coverage) -> str:
    """Why none is proposed where nothing lies off its middle by more than its uncertainty."""

    def listing(figures: Iterable[tuple[str, float, float]]) -> str:
        return listed(f"{words_of(of)} {text(mean, half, unit_of(of, units))}" for of, mean, half in figures)

    if zone.one_sided_excess:
        may = f"{listing(zone.one_sided_excess)} may lie outside its limit"
        return f"no change proposed: {may}; write limits on both sides for a middle"
    aims = zone.open_aims or zone.centring.aims
    values = rubber_words.NEXT + listing((aim.attribute, aim.now.value, aim.now.expanded) for aim in aims)
    small = ""
    if zone.within and zone.best is not None:
        small = f"a change of the {_changes(zone.best, units, coverage, 1)}, is less than its ±"
    if zone.open_aims:
        may = f"{values} may lie outside the limits"
        able = zone.best or next((aim for aim in zone.open_aims if aim.changes), None)
        if able is not None and (guess := _guess(zone).removesuffix(": ")):
            changes = _changes(able, units, coverage, 1)
            small = f"{guess}, if one is wanted: change the {changes}, to {_aimed(zone, able)}"
        better = "measure better, and measure another batch" if zone.lone_batch else "measure better"
        return f"no change proposed: {'; '.join(filter(None, [may, small, better]))}"
    lie = "lie" if len(aims) > 1 else "lies"
    if small:
        return f"no change needed: {values} {lie} inside the limits; {small}"
    if all(aim.aim.low is None for aim in aims):
        return f"no change proposed: {values} as predicted, within the ±; no limits have a middle"
    return f"no change needed: {values} {lie} in the middle, within the ±"


def _came_out(difference: Difference, units: str) -> str:
    mean = difference.difference.mean
    way = "lower" if mean.value > 0 else "higher"
    by = _distance(abs(mean.value), difference.attribute, units)
    return f"{words_of(difference.attribute)} came out {by} {way}"


def _distance(size: float, attribute: str, units: str) -> str:
    """How far apart two values of an attribute are; of shares in points, not in percent of them."""
    unit = unit_of(attribute, units)
    return spread_text(size, replace(unit, text="percentage points") if unit.text == "%" else unit)


def _off(centred: Centred, units: str) -> str:
    way = "above" if centred.away > 0 else "below"
    far = _distance(abs(centred.away), centred.attribute, units)
    middle, share = "what was predicted", ""
    if centred.aim.low is not None:
        part = abs(centred.aim.off(centred.now.value))
        far_off = f"{100 * part:.0f} % of the way to the limit" if part <= 1 else "outside the limit"
        middle, share = "the middle of its limits", f" ({far_off})"
    return f"{words_of(centred.attribute)} lies {far} {way} {middle}{share}"


def coverage_words(coverage: Coverage) -> str:
    """What every ± of the answer is expanded to."""
    if coverage.fixed is not None:
        return f"k = {coverage.fixed:g}"
    return f"{100.0 * (coverage.confidence or 0.95):g} %"


def _heading(attribute: str, units: str) -> str:
    return f"{words_of(attribute)} [{unit_of(attribute, units).text}]"


def differences_grid(differences: Sequence[Difference], units: str, coverage: Coverage) -> Grid:
    """Predicted and achieved over all batches, and whether they differ."""
    rows = []
    for row in differences:
        means = (row.predicted.mean, row.achieved.mean, row.difference.mean)
        real = "not settled" if row.depends else "yes" if row.means_something else "no"
        rows.append((*_compared(row.attribute, means, units), real))
    return Grid(("attribute", *_columns(coverage), "real difference"), tuple(rows), (1, 2, 3, 4))


def _by_batch(differences: Sequence[Difference], units: str, coverage: Coverage) -> Iterator[Grid]:
    """The same of each batch, where there are several."""
    rows = []
    for row in differences:
        for batch, each in row.batches if len(row.batches) > 1 else ():
            figures = map(coverage.of, (each.predicted, each.achieved, each.difference))
            name, *cells = _compared(row.attribute, figures, units)
            rows.append((name, batch, *cells))
    if rows:
        yield Grid(("attribute", "batch", *_columns(coverage)), tuple(rows), (2, 3, 4, 5))


def _columns(coverage: Coverage) -> tuple[str, ...]:
    return ("predicted", "achieved", "difference", f"± ({coverage_words(coverage)})")


def _compared(attribute: str, numbers: Iterable[Covered], units: str) -> Iterator[str]:
    """An attribute, predicted, achieved, difference (the numbers) and its ±, for columns without units."""
    yield _heading(attribute, units)
    unit = unit_of(attribute, units)
    *both, difference = numbers
    for number in both:
        yield value_text(number.value, number.expanded, unit, bare=True)
    yield step_text(difference.value, difference.expanded, unit)
    yield spread_text(difference.expanded, unit, bare=True)


def scatter_words(differences: Sequence[Difference]) -> str:
    """What the batches tell of the scatter between them, and what the ± of a change takes for it."""
    if all(row.difference.chance is None for row in differences):
        return rubber_words.ONE_BATCH
    scattering = [
        f"{words_of(row.attribute)} (chance {100 * pooled.chance:.2g} %)"
        for row in differences
        if (pooled := row.difference).scatters and pooled.chance is not None
    ]
    if not scattering:
        return "The batches agree within their stated uncertainty."
    return (
        f"The batches scatter in {listed(scattering)} by more than their stated uncertainty; "
        "the scatter seen is used instead."
    )


def _changes(centred: Centred, units: str, coverage: Coverage, most: int | None = None) -> str:
    """What would bring an attribute to its middle; most: so many of the ways."""
    unit = in_units(MM, units)
    return "; or ".join(
        f"{way.size} by {step_text(way.change, way.expanded, unit)} ± "
        f"{spread_text(way.expanded, unit)} ({coverage_words(coverage)}), "
        f"from {length(way.now, units)} to {length(way.then, units)}"
        for way in centred.changes[:most]
    )


def _then(zone: ZoneCorrection, centred: Centred, units: str) -> str:
    return listed(
        f"{words_of(aim.attribute)} {_value(aim.attribute, centred.then[aim.attribute], aim.now.u, units)}"
        for aim in zone.centring.aims
        if aim.attribute in centred.then
    )


def misfit_words(zone: ZoneCorrection, misfit: Misfit, units: str) -> str:
    """That gap and plies make no such part, and what may be wrong."""
    sizes, unit = (misfit.actual, misfit.bound, misfit.excess), in_units(MM, units)
    actual, bound, excess = (value_text(size, misfit.expanded, unit) for size in sizes)
    laid = plies(zone.plies)
    if misfit.kind == THICKER:
        return (
            "measure the gap and check that the tool closes; no size is proposed until then. "
            f"The part came out {actual} thick, {excess} more than the hot gap of {bound} of a closed "
            "tool. Either the tool did not close (too many plies, too little bleed or clamp force, "
            "something between its halves), or the gap is not what the part file says"
        )
    if misfit.kind == UNFILLED:
        return (
            "measure the gap and count the plies; no size is proposed until then. "
            f"The {laid} fill {bound}, {excess} less than the hot gap of {actual}, where nothing presses "
            "them. Either plies were missing, or the gap is not what the part file says"
        )
    return (
        "count the plies, and check prepreg values and bleed_limit; no size is proposed until then. "
        f"The part came out {actual} thick, {excess} less than {bound}, the least that {laid} can be pressed "
        "to. Either there were fewer plies, or the prepreg is lighter, or more bleeds"
    )


def zone_heading(zone: ZoneCorrection) -> str:
    """The zone and its plies."""
    return f"Zone {zone.zone}, {plies(zone.plies)}"


def proposes(zone: ZoneCorrection) -> bool:
    """Whether sizes are proposed at all."""
    return zone.misfit is None and not hold_back(zone.depends_on)


def centre_sentences(zone: ZoneCorrection, units: str, coverage: Coverage) -> Iterator[Sentence]:
    """What would bring each attribute to its middle, and what then holds of the others."""
    centring, with_plies = zone.centring, f"with {plies(zone.plies)}"
    for aim in centring.aims:
        middle = "as predicted" if aim.aim.low is None else f"the middle of its {aim.aim.words}"
        to = f"{words_of(aim.attribute)} to {_value(aim.attribute, aim.aim.middle, aim.now.u, units)}"
        start, changes = f"To bring {to}, {middle}", f"change the {_changes(aim, units, coverage)}"
        if aim.hindrance:
            why = HINDRANCES.get(aim.hindrance, aim.hindrance)
            yield Sentence(f"{start}, {with_plies}: no gap or core size achieves this, {why}.")
        elif not aim.means_something:
            no_need = "it lies there within its uncertainty. No change needed."
            if aim in zone.open_aims:
                no_need = "it may lie there, or outside its limits: measure better."
            yield Sentence(f"{start}: {no_need} (Exactly there: {changes}.)")
        else:
            yield Sentence(f"{start}: {changes}. Then: {_then(zone, aim, units)}.", strong=zone.change)
    if not centring.cannot_both:
        return
    off = ""
    if centring.apart is not None:
        off = f": with fiber volume in its middle, thickness is off by {signed(centring.apart[0], units)}"
    yield Sentence(f"{plies(zone.plies)} of this prepreg cannot center both{off}.", strong=True)
    between = centring.between if off else None
    if between is not None:
        changes = f"change the {_changes(between, units, coverage)}"
        words = f"Equally far from both: {changes}. Then: {_then(zone, between, units)}."
        yield Sentence(words, strong=zone.change)


def _counts(zone: ZoneCorrection, units: str) -> Iterator[Block]:
    aims = {aim.attribute: aim.now.u for aim in zone.centring.aims}
    if not zone.centring.counts or not aims:
        return
    rows = []
    for count in zone.centring.counts:
        outside = listed(map(words_of, count.outside))
        notes = holding((count.plies == zone.plies, "as laid up"), (outside, f"outside: {outside}"))
        cells = (value_text(count.then[key], u, unit_of(key, units), bare=True) for key, u in aims.items())
        rows.append((str(count.plies), count.verdict, *cells, ", ".join(notes)))
    yield Heading(f"Zone {zone.zone}: ply counts in the gap as it is", detail=True)
    headings = [_heading(key, units) for key in aims]
    yield Grid(("plies", "verdict", *headings, "note"), tuple(rows), tuple(range(2, 2 + len(aims))))


def _budget(zone: ZoneCorrection, units: str) -> Iterator[Block]:
    for first in zone.differences[:1]:
        unit, end = unit_of(first.attribute, units), f", {first.attribute}"
        rows = [
            (share.words.removesuffix(end), spread_text(share.size, unit), f"{share.percent:.1f} %")
            for share in shares(first.difference.mean.parts)
            if share.percent >= WORTH_SAYING
        ]
        words = f"Zone {zone.zone}: where the ± of the difference in {words_of(first.attribute)} comes from"
        yield Heading(words, detail=True)
        yield Grid(("input", "standard ±", "share"), tuple(rows), (1, 2))


def first_lines(correction: Correction, units: str) -> list[str]:
    """The answer for each zone."""
    lines = [first_answer(zone, units, correction.coverage) for zone in correction.zones]
    return lines + [rubber_words.first_line(zone, units) for zone in correction.rubber]


def asides(correction: Correction, units: str, most: int | None = None) -> Iterator[str]:
    """The open doubts and the exclusions of the batches, and what is left out, the first so many of each."""
    lines = (("", [capital(say_in(doubt, units)) for doubt in correction.doubts]),
             ("Excluded: ", list(correction.excluded)), ("", list(correction.notes)))  # fmt: skip
    for start, each in lines:
        yield from (f"{start}{line}." for line in each[:most])
        if more := len(each[most:]) if most is not None else 0:
            yield f"{start}{more} more: see --why."


def named(correction: Correction, most: int | None = None) -> str:
    """The part and its batches, so many of them by name."""
    batches = correction.batches
    names = listed(batches) if most is None or len(batches) <= most else few(batches, most)
    return f"{correction.part_number}, batch{'es' if len(batches) > 1 else ''} {names}"


def not_measured(correction: Correction) -> list[str]:
    """The inputs that have no ±."""
    zones: list[ZoneCorrection | RubberCorrection] = [*correction.zones, *correction.rubber]
    return list(dict.fromkeys(words for zone in zones for words in zone.not_measured))


def blocks(correction: Correction, units: str) -> Iterator[Block]:
    """The answer with its reasons, batch by batch, and what is assumed."""
    coverage = correction.coverage
    yield from (Sentence(line, strong=True) for line in first_lines(correction, units))
    yield from sentences(asides(correction, units))
    for pressed in correction.rubber:
        yield from rubber_words.blocks(pressed, units)
        if pressed.differences:
            yield differences_grid(pressed.differences, units, coverage)
            yield from _by_batch(pressed.differences, units, coverage)
    for zone in correction.zones:
        yield from (Heading(zone_heading(zone)), differences_grid(zone.differences, units, coverage))
        yield from _by_batch(zone.differences, units, coverage)
        yield Sentence(scatter_words(zone.differences))
        if proposes(zone):
            yield from (*centre_sentences(zone, units, coverage), *_counts(zone, units))
        yield from _budget(zone, units)
    like = f"the material of batch {correction.batches[-1]}"
    material = "the part file's material" if correction.nominal else like
    next_one = f"The next batch is taken to be laid up like the last one, with {material}."
    yield from (Heading("How it is computed", detail=True), Sentence(HOW), Sentence(next_one))
    yield from assumption_blocks(not_measured(correction), units)
    yield from (Heading("Caution"), Sentence(AUTHORITY))
