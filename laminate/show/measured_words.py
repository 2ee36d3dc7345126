"""Coupon tables in words: averages first, specimens, where the ± comes from, what to look at."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from laminate.coupons.measured import Measured, Specimen, ZoneResult
from laminate.coupons.measurement import Measurement
from laminate.files.csv_table import forgiven
from laminate.files.reasons import SHIFTED
from laminate.show.attribute_words import exact_sentence, warning_text
from laminate.show.blocks import Block, Grid, Heading, Sentence, columned, listing, sentences
from laminate.show.budget import budget
from laminate.show.document import Document
from laminate.show.engineer_text import few
from laminate.show.measure_json import contributions_of, result
from laminate.show.numbers import spread_text, text, unit_of, value_text
from laminate.show.page_words import attribute as words_of
from laminate.show.page_words import several
from laminate.show.screenful import screenful
from laminate.values.averages import Average
from laminate.values.problems import Problem
from laminate.values.quantities import PERCENT
from laminate.values.said import Figure, say_in
from laminate.values.sequences import by_key

MANY, MOST_NAMED = 10, 20
"""Coupons from which what more than half of them share is said once, and so many of them named."""

MOST_SHOWN, ENDS, MOST_SUSPECTS = 60, 20, 25
"""Coupons that are all shown; of more the first and the last, and so many with something to say."""

KEPT = 3
"""Coupons that a screen has where nothing is in doubt."""

FIRST = ("fiber_volume", "void_content", "resin_content", "thickness", "density")

INCOMING = ("prepreg_areal_weight", "areal_weight", "resin_content", "volatiles")
"""What an incoming test of a prepreg gives."""

NO_CHANCE = "p below 0.0001, which no uncertainty explains: look for a wrong reading first"
NOTHING = (
    "Nothing was measured: no coupon table holds a reading. 'laminate sheet' writes a table to fill in; name "
    "it under 'coupons' in the batch file."
)


def measure_document(measurement: Measurement, units: str) -> Document:
    """The answer of `measure`: every average, each ±, where it comes from, evidence."""
    zones = [zone for zone in measurement.zones if zone.specimens or not measurement.prepregs]
    groups = [(zone, f"Zone {zone.zone}" if zone.zone else "All coupons", FIRST[:4]) for zone in zones]
    prepregs = dict.fromkeys(s.prepreg for s in measurement.prepregs)
    groups += [(measurement.of_prepreg(name), f"Prepreg {name or ''}".strip(), INCOMING) for name in prepregs]
    answers = [_answer(measurement, *group, units) for group in groups] or [NOTHING]
    averages = [average for zone in measurement.zones for average in zone.averages.values()]
    lone = any(average.standard_uncertainty is None for average in averages)
    mixed = [note for zone in zones for note in _losses(zone)]
    under = [*answers[1:], *measurement.on_top, *mixed, *forgiven(measurement.notes)]
    doubts = [f"In doubt: {doubt}" for doubt in _doubts(measurement, units)]
    doubts += [f"Methods disagree: {disagreement}" for disagreement in _disagreements(measurement, units)]
    under += doubts
    far = by_key((outlier.specimen, words_of(outlier.attribute)) for outlier in measurement.outliers)
    under += [f"Far from the others: {name} ({', '.join(dict.fromkeys(what))})" for name, what in far.items()]
    under += [f"Excluded: {s.name}: {s.excluded}" for s in measurement.excluded()]
    under += ["One coupon shows no scatter: its average has no ±."] if lone else []
    grid = _values(measurement, units)
    after = [_what_u_is(measurement)] if grid.rows else []
    asking = [f"{words}. Each ± and where it comes from: --why." for words in after]
    parts = max(len(measurement.zones), 1)
    spare = _outer_first(range(1, len(grid.rows)))[0 if doubts else KEPT :]
    brief = [*under, *_taken_as_exact(measurement)]
    short = screenful(answers[0], brief, grid, asking, spare=spare, head=1, parts=parts)
    table = [grid] if grid.rows else []
    first = [Sentence(answers[0], strong=True), *sentences(under), *table]
    notebook = [first[0], *sentences(brief), *table, *sentences(asking)]

    def whole() -> list[Block]:
        deviation = [f"{words}; s the standard deviation." for words in after]
        return [*first, *sentences(deviation), *_details(measurement, units)]

    return Document("Measured coupons", "", whole, short, notebook=notebook)


def _taken_as_exact(measurement: Measurement) -> list[str]:
    """What has no ± and is counted without any: densities first, which move most."""
    exact = sorted(measurement.not_measured, key=lambda name: "density" not in name)
    exact_ones = f"Assumed exact, as no ± is stated: {few(exact, 3)}; if they are not, each ± is larger."
    return [exact_ones] if exact else []


def _outer_first(rows: Sequence[int]) -> list[int]:
    """Rows by turns from both ends."""
    return [rows[at // 2 if at % 2 == 0 else -1 - at // 2] for at in range(len(rows))]


def _answer(measurement: Measurement, zone: ZoneResult, name: str, keys: Sequence[str], units: str) -> str:
    """Averages in words, those of the keys first, with the count that entered each where they differ."""
    first = [key for key in keys if key in zone.averages] or list(zone.averages)[:3]
    counts = {zone.averages[key].n for key in first}
    n = counts.pop() if len(counts) == 1 else _counted(zone)
    each = bool(counts)
    averages = [
        f"{words_of(key)} {_text(measurement, key, zone.averages[key], units)}"
        + (f" ({several(zone.averages[key].n, 'coupon')})" if each else "")
        for key in first
    ]
    return f"{name}, {several(n, 'coupon')}: {', '.join(averages) or _lacking(zone)}."


def _losses(zone: ZoneResult) -> Iterator[str]:
    """That coupons of a zone lost their matrix in two ways, of which one is averaged."""
    some = zone.specimens if len(zone.specimens) <= MOST_SHOWN else ()
    ways = by_key((s.plan.loss, s.name) for s in some if s.counts and s.plan.loss)
    if len(ways) > 1:
        each = " and ".join(f"{several(len(names), 'coupon')} by {loss}" for loss, names in ways.items())
        yield f"Matrix removed in two ways, {each}: only one is averaged; is a 'method' mistyped?"


def _lacking(zone: ZoneResult) -> str:
    """Why no figure could be computed, and what to write."""
    nothing = "nothing could be computed"
    counted = [s.coupon for s in zone.specimens if s.counts]
    if zone.specimens and not counted:
        return f"{nothing}: every coupon is excluded or replaced"
    if any(s.prepreg == "" for s in zone.specimens):
        return f"{nothing}: which prepreg was tested is not told"
    if not any(coupon.numbers for coupon in counted):
        return f"{nothing}: the table has no readings; fill them in"
    return (
        f"{nothing} of these readings alone; fill in 'thickness', or 'specimen mass', 'residue mass' and "
        "'plies', or 'mass in liquid' and 'liquid temperature'"
    )


def _shown(measurement: Measurement) -> Sequence[Specimen]:
    """All specimens, or the first and last of many, and those between that have something to say."""
    ones = measurement.specimens
    if len(ones) <= MOST_SHOWN:
        return ones
    places = {*range(ENDS), *range(len(ones) - ENDS, len(ones)), *measurement.suspects()[:MOST_SUSPECTS]}
    return [ones[at] for at in sorted(places)]


def _counted(zone: ZoneResult) -> int:
    """How many specimens of a zone count."""
    attribute = next(iter(zone.averages), None)
    if attribute is None:
        return sum(s.counts for s in zone.specimens)
    return zone.averages[attribute].n + zone.left_out[attribute]


def _values(measurement: Measurement, units: str) -> Grid:
    """A row a specimen, values alone to the digits that their ± supports, and the largest ± above."""
    widest = measurement.widest()
    units_of = {key: unit_of(key, units) for key in FIRST if key in widest}

    def cell(key: str, s: Specimen) -> str:
        of = s.best.get(key)
        return value_text(of.value, measurement.expanded(of)[1], units_of[key], bare=True) if of else ""

    columns: dict[str, Callable[[Specimen], str]] = {
        "coupon": lambda s: f"{s.name} ({fate})" if (fate := _fate(s)) else s.name,
        **{f"{words_of(key)} [{unit.text}]": partial(cell, key) for key, unit in units_of.items()},
    }
    grid = columned(_shown(measurement), columns)
    widths = (spread_text(widest[key] or None, unit, bare=True) for key, unit in units_of.items())
    left_out = len(measurement.specimens) - len(grid.rows)
    rows = (("U, at most", *widths), *grid.rows)
    return replace(grid, rows=rows, left_out=left_out) if grid.rows else grid


def _fate(specimen: Specimen) -> str:
    """Why a specimen does not count, '' where it does."""
    if specimen.excluded:
        return "excluded"
    return f"repeated by {specimen.replaced_by}" if specimen.replaced_by else ""


def _details(measurement: Measurement, units: str) -> Iterator[Block]:
    """What a person looks up: each average and specimen with its ±, where it comes from, assumptions."""
    zoned = len(measurement.zones) > 1
    for zone in measurement.zones:
        yield Heading(f"Zone {zone.zone}" if zone.zone and zoned else "Averages")
        in_order = dict.fromkeys((*(key for key in FIRST if key in zone.averages), *zone.averages))
        rows = [_average_row(measurement, zone, key, units) for key in in_order]
        yield Grid(("average of", "value ± U", "n", "s", "k", "by"), tuple(rows), (2, 4))
        if any(zone.with_excluded):
            every = zone.with_excluded.items()
            averages = [f"{words_of(key)} {_text(measurement, key, of, units)}" for key, of in every]
            yield Sentence(f"With the rows that are left out (excluded or repeated): {'; '.join(averages)}.")
    if measurement.specimens:
        yield Heading("Coupons")
        ones = _shown(measurement)
        yield _specimens_grid(measurement, ones, units)
        if left := len(measurement.specimens) - len(ones):
            yield Sentence(f"And {left} more: --table FILE writes them all, and so does --json.")
    if measurement.prepregs:
        yield Heading("Incoming prepreg")
        yield _specimens_grid(measurement, measurement.prepregs, units, keys=INCOMING)
    for zone in measurement.zones:
        for key in (key for key in FIRST[:4] if key in zone.averages):
            yield from budget(contributions_of(zone, key), key, units, zone.zone or "" if zoned else "")
    if (charge := measurement.charge) is not None:
        content = text(charge.resin_content, charge.expanded, PERCENT)
        yield Sentence(f"Resin content of the molding by weighing charge, part and trim: {content} (95 %).")
    yield from _notes(measurement, units)


def _text(measurement: Measurement, key: str, of: Measured | Average, units: str) -> str:
    """A result, or an average, with its expanded uncertainty."""
    return text(of.value, result(measurement, of).expanded, unit_of(key, units))


def _what_u_is(measurement: Measurement) -> str:
    of = f"at {100.0 * (measurement.confidence or 0.95):g} % confidence, k times the standard one"
    if measurement.coverage_factor is not None:
        of = f"with k = {measurement.coverage_factor:g}"
    return f"U is the expanded uncertainty {of}"


def _average_row(measurement: Measurement, zone: ZoneResult, key: str, units: str) -> tuple[str, ...]:
    average = zone.averages[key]
    k, value = result(measurement, average).k, _text(measurement, key, average, units)
    scatter = spread_text(average.standard_deviation, unit_of(key, units))
    return words_of(key), value, str(average.n), scatter, f"{k:.2f}" if k else "", zone.methods[key]


def _specimens_grid(
    measurement: Measurement, specimens: Sequence[Specimen], units: str, keys: tuple[str, ...] = FIRST
) -> Grid:
    """One row a specimen, each value with its own expanded uncertainty."""

    def cell(key: str, s: Specimen) -> str:
        of = s.best.get(key)
        return _text(measurement, key, of, units) if of else ""

    shown = [key for key in keys if any(key in s.best for s in specimens)]
    columns: dict[str, Callable[[Specimen], str]] = {
        "coupon": lambda s: s.name,
        **({"zone": lambda s: s.zone or ""} if any(s.zone for s in specimens) else {}),
        **{f"{words_of(key)} ± U": partial(cell, key) for key in shown},
        **({"remark": _fate} if any(map(_fate, specimens)) else {}),
    }
    return columned(specimens, columns)


def _reconciliation(measurement: Measurement, units: str) -> Iterator[Block]:
    """What would reconcile methods that disagree, one line a specimen, and the adjustment."""
    weightiest = sorted(measurement.discrepancies, key=lambda d: d.attribute not in FIRST[:2])
    first = [of_it[0] for of_it in by_key((d.specimen, d) for d in weightiest).values()]
    changes = [f"coupon {d.specimen}: {say_in(d.sentence(), units)}" for d in first if d.suspects]
    heading = "One change that would make the methods agree, the smallest first (nothing was changed):"
    yield from listing(heading, changes)
    if (adjusted := measurement.adjustment) is not None:
        moved = [row for row in adjusted.inputs if abs(row.shift_in_u) >= 0.1][:4]
        words = "; ".join(f"{row.input} by {row.shift_in_u:+.1f} u" for row in moved) or "no shared input"
        p = f"p {adjusted.p:.2g}" if adjusted.p >= 1e-4 else NO_CHANCE
        yield Sentence(
            f"A least-squares adjustment over all coupons would move {words}: chi-square "
            f"{adjusted.chi_squared:.3g} on {adjusted.degrees_of_freedom} degrees of freedom, "
            f"{p}. Evidence only: no value was changed by it."
        )


def _doubts(measurement: Measurement, units: str) -> list[str]:
    """Every warning in words; of one column and kind that more than half of many coupons have, the first."""
    names = by_key((_kind(w), name) for name, warnings in measurement.warned() for w in warnings)
    doubts: dict[object, str] = {}
    for at, warning in enumerate(measurement.warnings):
        kind, words = _kind(warning), warning_text(warning, units)
        warned = list(dict.fromkeys(names.get(kind, ())))
        if warning.code != SHIFTED and not _of_many(len(warned), measurement):
            doubts[at] = words
        elif kind not in doubts:
            doubts[kind] = f"{_named(warned, measurement)}, for example {words}"
    return list(doubts.values())


def _kind(warning: Problem) -> tuple[str, str]:
    """Its code, and its column without its row."""
    return warning.code, re.sub(r"\d+", "", warning.place)


def _disagreements(measurement: Measurement, units: str) -> list[str]:
    """How far methods are apart, one sentence a coupon, or one for more than half of many."""
    apart = measurement.apart()
    if not _of_many(len(apart), measurement):
        return [_difference(specimen, units) for specimen in apart]
    names = [specimen.name for specimen in apart]
    return [f"{_named(names, measurement)}, for example {_difference(apart[0], units)}"]


def _of_many(count: int, measurement: Measurement) -> bool:
    return count >= MANY and 2 * count > len(measurement.specimens)


def _named(names: Sequence[str], measurement: Measurement) -> str:
    rest = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{len(names)} of {len(measurement.specimens)} coupons ({', '.join(names[:MOST_NAMED])}{rest})"


def _difference(specimen: Specimen, units: str) -> str:
    """How far the methods of a specimen are apart, one sentence for all that disagrees."""
    apart = [a for a in specimen.agreement if not a.agree]
    apart.sort(key=lambda a: FIRST.index(a.attribute) if a.attribute in FIRST else len(FIRST))
    differences = [
        f"{words_of(a.attribute)} by {text(a.difference, None, unit_of(a.attribute, units))} "
        f"(allowed {Figure(a.allowed, unit_of(a.attribute, units), 2, difference=True, down=True).text()})"
        for a in apart
    ]
    method, other = apart[0].methods
    return f"coupon {specimen.name}: {method} against {other}: {', '.join(differences)}"


def _notes(measurement: Measurement, units: str) -> Iterator[Block]:
    """What would reconcile methods, outliers, and what was assumed."""
    yield from _reconciliation(measurement, units)
    far = [
        f"coupon {o.specimen}, {words_of(o.attribute)} by {o.method}: "
        f"normed residual {o.normed_residual:.3f}, critical {o.critical:.3f}"
        for o in measurement.outliers
    ]
    yield from listing("Far from the other coupons (shown, never removed by the program):", far)
    yield from listing("Excluded:", [f"coupon {s.name}: {s.excluded}" for s in measurement.excluded()])
    exact = exact_sentence(measurement.not_measured, readings=bool(measurement.bench.steps))
    yield from listing("Assumptions:", [*measurement.notes, *exact])
