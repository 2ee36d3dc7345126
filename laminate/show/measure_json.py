"""The answer of `measure`: its keys, in JSON and its schema."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from operator import methodcaller
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.show.budget import BUDGET
from laminate.show.fields import (
    ATTRIBUTE,
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    FINITE,
    INPUT,
    KNOWN,
    MAYBE_STEP,
    MAYBE_VALUE,
    MEASURE,
    QUANTITY,
    STEP,
    TEXT,
    TEXTS,
    UNIT,
    VALUE,
    WORDS,
    YES,
    Field,
    by_attribute,
    by_name,
    each,
    first,
    grouped,
    in_its_unit,
    in_unit,
    in_unit_of,
    maybe,
    merged,
    of_attribute,
    one_of,
    rows,
    second,
    table,
    within,
)
from laminate.values.averages import Average
from laminate.values.input_key import Name
from laminate.values.problems import Answered
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    from laminate.coupons.measured import Measured, Specimen, ZoneResult
    from laminate.coupons.measurement import Measurement

    OfZone = tuple[Measurement, ZoneResult]

EVIDENCE = "evidence only: no value was changed by it"


class Result(NamedTuple):
    """A value and what the answer says of its uncertainty; nothing where it has none."""

    value: Any
    u: Any
    k: Any
    expanded: Any
    dof: Any
    method: str
    of: Any


def result(measurement: Measurement, of: Measured | Average, method: str = "") -> Result:
    """An attribute of a specimen by a method, or an average; what one specimen cannot say is None."""
    if isinstance(of, Average):
        u = of.standard_uncertainty
        dof = None if u is None else of.degrees_of_freedom(measurement.confidence)
    else:
        u, dof = of.u or None, of.dof
    k, expanded = (None, None) if u is None else measurement.expanded(of)
    return Result(of.value, u, k, expanded, dof, method, of)


def contributions_of(zone: ZoneResult, attribute: str) -> Mapping[Name, float]:
    """Contributions to the average, or to the one specimen where an average shows no scatter [SI]."""
    average = zone.averages[attribute]
    if average.standard_uncertainty is not None:
        return average.contributions
    counted = zone.counted(attribute)
    return counted[0].every[attribute, zone.methods[attribute]].contributions() if counted else {}


_UNCERTAINTY = {
    "expanded_uncertainty": MAYBE_STEP("expanded"),
    "coverage_factor": KNOWN("k"),
    "effective_degrees_of_freedom": FINITE("dof"),
}
_MEASURED = {**MEASURE, **_UNCERTAINTY, "method": TEXT("method")}
MEASURED = table("measured", **_MEASURED)
AVERAGE = table(
    "average",
    value=VALUE,
    unit=UNIT,
    n=COUNT("of.n"),
    **each(MAYBE_STEP, standard_deviation="of.standard_deviation", standard_uncertainty="u"),
    **_UNCERTAINTY,
    method=WORDS,
)
WARNING = table(
    "warning",
    **each(TEXT, "code", "file", "place", "found", "expected", "hint"),
    accepted=WORDS(lambda warning: warning.reason if isinstance(warning, Answered) else None),
)
_AGREEMENT = table(
    attribute=ATTRIBUTE,
    methods=rows(TEXT, minItems=1, maxItems=2),
    **each(STEP, "difference", "allowed"),
    unit=UNIT,
    agree=YES,
)


def words_of_row(*columns: str) -> dict[str, Field]:
    """Words of a row of the table."""
    return {column: WORDS(methodcaller("word", column)) for column in columns}


def _others(specimen: Specimen) -> list[Any]:
    """Attribute and result of the methods that are not preferred, with the unit."""
    best = specimen.best
    others = [(name, of) for (name, _), of in specimen.every.items() if of is not best[name]]
    return [(other, ATTRIBUTES[other[0]].unit) for other in others]


_OTHER = table(attribute=ATTRIBUTE(first), **within(second, **_MEASURED))
SPECIMEN = table(
    "specimen",
    **each(TEXT, specimen="name", file="coupon.file"),
    zone=WORDS,
    **within("coupon", **words_of_row("position", "lot")),
    plies=COUNTED("recipe.plies"),
    methods=TEXTS,
    **within("coupon", **words_of_row("operator", "time", "remark", "excluded", "replaces")),
    replaced_by=WORDS,
    prepreg=TEXT(lambda specimen: specimen.prepreg or None, left_out=True),
    attributes=merged(by_attribute(MEASURED))("best"),
    other_methods=rows(in_its_unit(_OTHER))(_others),
    agreement=rows(of_attribute(_AGREEMENT)),
    warnings=rows(WARNING),
)
"""One specimen, each of whose `every` is a `Result`."""


def _averages(of: OfZone, which: str = "averages") -> dict[str, Result]:
    """Averages by attribute; which: 'averages', or those 'with_excluded' specimens."""
    measurement, zone = of
    averages: dict[str, Average] = getattr(zone, which)
    return {key: result(measurement, average, zone.methods[key]) for key, average in averages.items()}


_ZONE = {
    "average": by_attribute(AVERAGE)(_averages),
    "average_with_excluded": by_attribute(AVERAGE)(lambda of: _averages(of, "with_excluded")),
    "budget": by_attribute(BUDGET)(lambda of: {key: contributions_of(of[1], key) for key in of[1].averages}),
}
_OUTLIER = table(
    attribute=ATTRIBUTE,
    zone=WORDS,
    **each(TEXT, "method", "specimen"),
    **each(FIGURE, "normed_residual", "critical"),
)
_CHECK = table(
    attribute=ATTRIBUTE,
    **each(TEXT, "method", "specimen"),
    **each(STEP, "first_order", "monte_carlo"),
    interval_95=rows(VALUE, minItems=2, maxItems=2)(lambda check: (check.low, check.high)),
    unit=UNIT,
    draws=COUNT,
    agree=YES,
    used=one_of("first order", "Monte Carlo")(lambda check: "first order" if check.agree else "Monte Carlo"),
)


SUSPECT = table(
    **INPUT,
    **each(MAYBE_VALUE, "value", "reconciled"),
    shift=STEP,
    unit=UNIT,
    standard_uncertainties=KNOWN,
    text=TEXT(lambda suspect: suspect.sentence()),
)
DISCREPANCY = table(
    "discrepancy",
    specimen=TEXT,
    attribute=ATTRIBUTE,
    methods=rows(TEXT, minItems=2, maxItems=2),
    **each(STEP, "difference", standard_uncertainty="u"),
    unit=UNIT,
    suspects=rows(in_unit_of(SUSPECT)),
)
_ADJUSTED = table(
    **INPUT,
    **each(MAYBE_VALUE, "value", "adjusted"),
    **each(STEP, standard_uncertainty="u", adjusted_standard_uncertainty="adjusted_u"),
    shift_in_u=FIGURE,
    unit=UNIT,
)
_ADJUSTMENT = table(
    "adjustment",
    note=TEXT(lambda _: EVIDENCE),
    chi_squared=FIGURE,
    degrees_of_freedom=COUNT,
    p=CHANCE,
    **each(COUNT, "conditions", void_contents_held_to_zero="no_voids"),
    inputs=rows(in_unit_of(_ADJUSTED)),
    means=by_attribute(table(before=VALUE(first), after=VALUE(second), unit=UNIT)),
)
_RESIN = ATTRIBUTES["resin_content"].unit
_CHARGE = table(
    prepreg=TEXT,
    resin_content=in_unit(grouped(**{**MEASURE, "value": VALUE("resin_content")}), _RESIN),
    mass_left=in_unit(QUANTITY, ATTRIBUTES["mass"].unit)("left"),
    budget=in_unit(BUDGET, _RESIN)("contributions"),
    not_measured=TEXTS("exact"),
)


def _every(measurement: Measurement, specimens: Iterable[Specimen]) -> Iterator[Specimen]:
    for s in specimens:
        results: Any = {key: result(measurement, of, key[1]) for key, of in s.every.items()}
        yield replace(s, every=results)


_WHOLE = within(lambda m: (m, m.whole), **_ZONE)
MEASUREMENT = {
    "specimens": rows(SPECIMEN)(lambda m: _every(m, m.specimens)),
    "prepreg": rows(SPECIMEN)(lambda m: _every(m, m.prepregs)),
    "average": grouped(
        attributes=merged(_WHOLE.pop("average")),
        zones=by_name(by_attribute(AVERAGE))(
            lambda m: {zone.zone: _averages((m, zone)) for zone in m.zones if zone.zone is not None}
        ),
    ),
    **_WHOLE,
    "zones": rows(table(zone=WORDS(lambda of: of[1].zone), **_ZONE))(
        lambda m: [(m, zone) for zone in m.zones]
    ),
    "outliers": rows(_OUTLIER),
    "warnings": rows(WARNING),
    "reconciliation": grouped(discrepancies=rows(of_attribute(DISCREPANCY)), adjustment=maybe(_ADJUSTMENT)),
    "charge": maybe(_CHARGE),
    "monte_carlo": rows(of_attribute(_CHECK))("checks"),
    **each(TEXTS, "notes", "not_measured"),
}
"""The keys of the answer of `measure`, which a record has too."""
ANSWER = table(**MEASUREMENT)
measurement_json = ANSWER.json
