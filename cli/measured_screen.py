"""Coupon tables on the screen: averages first, specimens, where the ± comes from, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from . import brief, tables, wording

if TYPE_CHECKING:
    from laminate.coupons.discrepancies import Discrepancy
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement

FIRST = ("fiber_volume", "void_content", "resin_content", "thickness", "density")

NOTHING = (
    "Nothing was measured: no coupon table holds a reading. `laminate sheet` writes a table to fill in; name "
    "it under 'coupons' in the batch file."
)


def _charge(measurement: Measurement) -> None:
    """Print the resin content by weighing the charge."""
    from laminate.show.numbers import text
    from laminate.values.quantities import PERCENT

    charge = measurement.charge
    if charge is not None:
        u = None if charge.u is None else 1.959964 * charge.u
        said = text(charge.resin_content, u, PERCENT)
        print()
        tables.paragraph(f"Resin content of the molding by weighing charge, part and trim: {said} (95 %).")


def screen(measurement: Measurement, units: str, why: bool = False) -> None:
    """Print a measurement on one screen; why: with every average, each ±, where it comes from, evidence."""
    answers = [_answer(measurement, zone, units) for zone in measurement.zones]
    lone = [zone.zone or "" for zone in measurement.zones if _lone(zone)]
    under = [*answers[1:], *(note for note in measurement.notes if note.startswith("incomplete: "))]
    under += [f"In doubt: {wording.warning_text(warning, units)}" for warning in measurement.warnings]
    under += [f"Methods disagree: {said}" for s in measurement.specimens for said in _differences(s, units)]
    under += [f"Far from the others: {o.specimen}, {_words(o.attribute)}" for o in measurement.outliers]
    under += [f"Excluded: {s.name}: {s.excluded}" for s in measurement.specimens if s.excluded]
    under += ["One coupon shows no scatter: its average has no ±."] if lone else []
    columns, rows = _values(measurement, units)
    brief.show(
        brief.Screen(
            answers[0] if answers else NOTHING,
            under,
            columns,
            rows,
            frozenset(range(len(rows))),
            [f"{_what_u_is(measurement)} Each ± and where it comes from: --why."] if rows else [],
            max(len(measurement.zones), 1),
        ),
        (lambda: _details(measurement, units)) if why else None,
    )


def _words(key: str) -> str:
    from laminate.values.quantities import ATTRIBUTES

    return ATTRIBUTES[key].words


def _lone(zone: Any) -> bool:
    return any(average.standard_uncertainty is None for average in zone.averages.values())


def _answer(measurement: Measurement, zone: Any, units: str) -> str:
    """The averages of a zone in words, with the count that entered each where they differ."""
    counted = [s for s in zone.specimens if s.counts]
    name = f"Zone {zone.zone}" if zone.zone else "All coupons"
    first = [key for key in FIRST[:4] if key in zone.averages] or list(zone.averages)[:3]
    counts = {zone.averages[key].n for key in first}
    n = counts.pop() if len(counts) == 1 else len(counted)
    each = bool(counts)
    said = [
        f"{_words(key)} {_average_text(measurement, zone, key, units)}"
        + (f" of {zone.averages[key].n}" if each else "")
        for key in first
    ]
    told = f"{name}, {n} {'coupon' if n == 1 else 'coupons'}"
    return f"{told}: {', '.join(said)}." if said else f"{told}: nothing could be computed."


def _values(measurement: Measurement, units: str) -> tuple[list[str], list[Sequence[str]]]:
    """A row a specimen, values alone to the digits that their ± supports, and the largest ± below."""
    from laminate.show.numbers import spread_text, value_text

    ones = measurement.specimens
    keys = [key for key in FIRST if any(key in s.best for s in ones)]
    columns = ["coupon", *(f"{_words(key)} [{wording.unit_of(key, units).text}]" for key in keys)]
    rows: list[Sequence[str]] = []
    widest: dict[str, float] = {}
    for s in ones:
        mark = " (excluded)" if s.excluded else f" (repeated by {s.replaced_by})" if s.replaced_by else ""
        cells = [s.name + mark]
        for key in keys:
            one, unit = s.best.get(key), wording.unit_of(key, units)
            spread = measurement.expanded(one)[1] if one else 0.0
            widest[key] = max(widest.get(key, 0.0), spread)
            text = value_text(one.value, spread or None, unit) if one else ""
            cells.append(text.removesuffix(unit.text).strip())
        rows.append(cells)
    if rows:
        last = [
            spread_text(widest[k] or None, u := wording.unit_of(k, units)).removesuffix(u.text) for k in keys
        ]
        rows.insert(0, ["U, at most", *(text.strip() for text in last)])
    return columns, rows


def _details(measurement: Measurement, units: str) -> None:
    """What a person looks up: each average and specimen with its ±, where it comes from, assumptions."""
    from laminate.show.measure_json import contributions_of

    for zone in measurement.zones:
        print()
        if zone.zone and len(measurement.zones) > 1:
            tables.paragraph(f"Zone {zone.zone}")
        rows = [_average_row(measurement, zone, key, units) for key in _ordered(zone.averages)]
        tables.table(["average of", "value ± U", "n", "s", "k", "by"], rows, right=[2, 4])
        if any(zone.with_excluded):
            said = [
                f"{_words(key)} {wording.attribute_text(key, a.value, measurement.expanded(a)[1], units)}"
                for key, a in zone.with_excluded.items()
            ]
            tables.paragraph(f"With the rows that are left out (excluded or repeated): {'; '.join(said)}.")
    if measurement.specimens:
        print()
        specimens_table(measurement, measurement.specimens, units)
    if measurement.prepregs:
        print()
        tables.paragraph("Incoming prepreg")
        keys = ("prepreg_areal_weight", "areal_weight", "resin_content", "volatiles")
        specimens_table(measurement, measurement.prepregs, units, keys=keys)
    for zone in measurement.zones:
        for key in ("fiber_volume", "void_content", "resin_content", "thickness"):
            if key in zone.averages:
                if zone.zone and len(measurement.zones) > 1:
                    print(f"\nZone {zone.zone}")
                wording.print_budget(contributions_of(zone, key), key, units)
    _charge(measurement)
    notes(measurement, units, told=True)


def _ordered(keys: Any) -> list[str]:
    return [*(key for key in FIRST if key in keys), *(key for key in keys if key not in FIRST)]


def _average_text(measurement: Measurement, zone: Any, key: str, units: str) -> str:
    average = zone.averages[key]
    expanded = measurement.expanded(average)[1] if average.standard_uncertainty is not None else None
    return wording.attribute_text(key, average.value, expanded, units)


def _what_u_is(measurement: Measurement) -> str:
    if measurement.coverage_factor is not None:
        k = f"{measurement.coverage_factor:g}"
        return f"U is the expanded uncertainty with k = {k}; s the standard deviation."
    confidence = 100.0 * (measurement.confidence or 0.95)
    return (
        f"U is the expanded uncertainty at {confidence:g} % confidence, k times the standard one; "
        "s the standard deviation."
    )


def _average_row(measurement: Measurement, zone: Any, key: str, units: str) -> list[str]:
    from laminate.show.numbers import spread_text
    from laminate.values.quantities import ATTRIBUTES

    average = zone.averages[key]
    unit = wording.unit_of(key, units)
    k, expanded = measurement.expanded(average) if average.standard_uncertainty is not None else (None, None)
    scatter = spread_text(average.standard_deviation, unit) if average.standard_deviation is not None else ""
    return [
        ATTRIBUTES[key].words, wording.attribute_text(key, average.value, expanded, units),
        str(average.n), scatter,
        f"{k:.2f}" if k else "", zone.methods[key],
    ]  # fmt: skip


def specimens_table(
    measurement: Measurement, specimens: list[Specimen], units: str, keys: tuple[str, ...] = FIRST
) -> None:
    """Print one row a specimen, each value with its own expanded uncertainty."""
    from laminate.values.quantities import ATTRIBUTES

    shown = [key for key in keys if any(key in s.best for s in specimens)]
    zones = any(s.zone for s in specimens)
    rows = []
    for s in specimens:
        cells = [s.name, *([s.zone or ""] if zones else [])]
        for key in shown:
            one = s.best.get(key)
            cells.append(
                wording.attribute_text(key, one.value, measurement.expanded(one)[1] or None, units)
                if one
                else ""
            )
        cells.append("excluded" if s.excluded else f"repeated by {s.replaced_by}" if s.replaced_by else "")
        rows.append(cells)
    if not any(row[-1] for row in rows):
        rows = [row[:-1] for row in rows]
    columns = ["coupon", *(["zone"] if zones else []), *(f"{ATTRIBUTES[key].words} ± U" for key in shown)]
    tables.table([*columns, *(["remark"] if len(rows[0]) > len(columns) else [])], rows)


def _chance(p: float) -> str:
    if p >= 1e-4:
        return f"p {p:.2g}"
    return "p below 0.0001, which no uncertainty explains: look for a wrong reading first"


def _reconciliation(measurement: Measurement, units: str) -> None:
    """Print what would reconcile methods that disagree, one line a specimen, and the adjustment."""
    from laminate.values.said import in_units

    first: dict[str, Discrepancy] = {}
    for discrepancy in sorted(
        measurement.discrepancies, key=lambda d: d.attribute not in ("fiber_volume", "void_content")
    ):
        first.setdefault(discrepancy.specimen, discrepancy)
    said = [
        f"coupon {name}: {in_units(one.sentence(), units)}" for name, one in first.items() if one.suspects
    ]
    wording.print_list(
        "One change that would make the methods agree, the smallest first (nothing was changed):", said
    )
    adjusted = measurement.adjustment
    if adjusted is not None:
        moved = [row for row in adjusted.inputs if abs(row.shift_in_u) >= 0.1][:4]
        words = "; ".join(f"{one.input} by {one.shift_in_u:+.1f} u" for one in moved) or "no shared input"
        tables.paragraph(
            f"A least-squares adjustment over all coupons would move {words}: chi-square "
            f"{adjusted.chi_squared:.3g} on {adjusted.degrees_of_freedom} degrees of freedom, "
            f"{_chance(adjusted.p)}. Evidence only: no value was changed by it."
        )


def _differences(specimen: Specimen, units: str) -> list[str]:
    """How far the methods of a specimen are apart, one sentence for all that disagrees."""
    from laminate.show.numbers import spread_text, text
    from laminate.values.quantities import ATTRIBUTES

    apart = [a for a in specimen.agreement if not a.agree]
    if not apart:
        return []
    apart.sort(key=lambda a: FIRST.index(a.attribute) if a.attribute in FIRST else len(FIRST))
    told = [
        f"{ATTRIBUTES[a.attribute].words} by {text(a.difference, None, wording.unit_of(a.attribute, units))} "
        f"(allowed {spread_text(a.allowed, wording.unit_of(a.attribute, units))})"
        for a in apart
    ]
    one, other = apart[0].methods
    return [f"coupon {specimen.name}: {one} against {other}: {', '.join(told)}"]


def notes(measurement: Measurement, units: str, *, told: bool = False) -> None:
    """Print warnings, methods that disagree (but where told before), outliers, and what was assumed."""
    from laminate.values.quantities import ATTRIBUTES

    wording.print_list(
        "Readings in doubt, to be looked at while the coupons can still be weighed again:",
        [wording.warning_text(w, units) for w in measurement.warnings if not told],
    )
    differ = [sentence for s in measurement.specimens for sentence in _differences(s, units)]
    wording.print_list("Methods that disagree:", [] if told else differ)
    _reconciliation(measurement, units)
    wording.print_list(
        "Far from the other coupons (shown, never removed by the program):",
        [
            f"coupon {o.specimen}, {ATTRIBUTES[o.attribute].words} by {o.method}: "
            f"normed residual {o.normed_residual:.3f}, critical {o.critical:.3f}"
            for o in measurement.outliers
        ],
    )
    wording.print_list(
        "Excluded:", [f"coupon {s.name}: {s.excluded}" for s in measurement.specimens if s.excluded]
    )
    wording.print_list(
        "What was assumed or forgiven:",
        [*measurement.notes, *wording.exact_sentence(measurement.not_measured)],
    )
