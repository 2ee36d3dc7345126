"""The answer of `measure`: its keys, in JSON and its schema."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.show.fields import (
    ATTRIBUTE,
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    FINITE,
    KEY,
    KNOWN,
    MAYBE_STEP,
    MAYBE_VALUE,
    MEASURE,
    NAME,
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
    grouped,
    in_its_unit,
    in_unit,
    maybe,
    of_attribute,
    one_of,
    rows,
    spread,
    table,
    within,
)
from laminate.values.input_key import Name, in_words
from laminate.values.problems import Answered
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    from laminate.coupons.measured import Measured, Specimen, ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.values.averages import Average

EVIDENCE = "evidence only: no value was changed by it"


class Result(NamedTuple):
    """A value and what the answer says of its uncertainty; nothing where it has none."""

    value: float
    u: float | None
    k: float | None
    expanded: float | None
    dof: float | None
    method: str
    of: Any


class MeasuredSpecimen(NamedTuple):
    """A specimen of a measurement."""

    measurement: Measurement
    specimen: Specimen


class Share(NamedTuple):
    """A part of a standard uncertainty [SI]; variance: of the whole."""

    source: Name
    words: str
    size: float
    variance: float


def measured(measurement: Measurement, measured: Measured) -> Result:
    """One attribute of one specimen by one method."""
    k, expanded = measurement.expanded(measured)
    if measured.u > 0.0:
        return Result(measured.value, measured.u, k, expanded, measured.dof, measured.method, measured)
    return Result(measured.value, None, None, None, measured.dof, measured.method, measured)


def averaged(measurement: Measurement, average: Average, method: str = "") -> Result:
    """An average; what one specimen cannot say is None."""
    u = average.standard_uncertainty
    if u is None:
        return Result(average.value, None, None, None, None, method, average)
    k, expanded = measurement.expanded(average)
    dof = average.degrees_of_freedom(measurement.confidence)
    return Result(average.value, u, k, expanded, dof, method, average)


def contributions_of(zone: ZoneResult, attribute: str) -> Mapping[Name, float]:
    """Contributions to the average, or to the one specimen where an average shows no scatter [SI]."""
    average = zone.averages[attribute]
    if average.standard_uncertainty is not None:
        return average.contributions
    counted = zone.counted(attribute)
    return counted[0].every[attribute, zone.methods[attribute]].contributions() if counted else {}


def _shares(contributions: Mapping[Any, float]) -> Iterator[Share]:
    """Parts of a standard uncertainty, the largest first; contributions: source -> signed [SI]."""
    variance = math.fsum(c * c for c in contributions.values())
    words = in_words(contributions)
    for name, c in sorted(contributions.items(), key=lambda item: -abs(item[1])):
        if c:
            yield Share(name, words[name], abs(c), variance)


# if_halved: the standard uncertainty of the result if this source were half as large
CONTRIBUTION = table(
    "contribution",
    input=TEXT("words"),
    key=KEY("source"),
    share=FIGURE(lambda c: 100.0 * c.size * c.size / c.variance),
    standard_uncertainty=STEP("size"),
    if_halved=STEP(lambda c: math.sqrt(max(c.variance - 0.75 * c.size * c.size, 0.0))),
    unit=UNIT,
)
BUDGET = replace(
    rows(CONTRIBUTION),
    make=lambda contributions, unit: [CONTRIBUTION.make(share, unit) for share in _shares(contributions)],
)
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
    standard_deviation=MAYBE_STEP("of.standard_deviation"),
    standard_uncertainty=MAYBE_STEP("u"),
    **_UNCERTAINTY,
    method=WORDS,
)
WARNING = table(
    "warning",
    code=TEXT,
    file=TEXT,
    place=TEXT,
    found=TEXT,
    expected=TEXT,
    hint=TEXT,
    accepted=WORDS(lambda warning: warning.reason if isinstance(warning, Answered) else None),
)
_AGREEMENT = table(
    attribute=ATTRIBUTE,
    methods=rows(TEXT, minItems=1, maxItems=2),
    difference=STEP,
    allowed=STEP,
    unit=UNIT,
    agree=YES,
)


def _word(column: str) -> Field:
    return WORDS(lambda row: row.specimen.coupon.word(column))


def _others(row: MeasuredSpecimen) -> list[Result]:
    best = row.specimen.best
    return [
        measured(row.measurement, result)
        for key, result in row.specimen.every.items()
        if best[key[0]].method != key[1]
    ]


SPECIMEN = table(
    "specimen",
    specimen=TEXT("specimen.name"),
    file=TEXT("specimen.coupon.file"),
    zone=WORDS("specimen.zone"),
    position=_word("position"),
    lot=_word("lot"),
    plies=COUNTED("specimen.recipe.plies"),
    methods=TEXTS("specimen.methods"),
    operator=_word("operator"),
    time=_word("time"),
    remark=_word("remark"),
    excluded=WORDS("specimen.excluded"),
    replaces=_word("replaces"),
    replaced_by=WORDS("specimen.replaced_by"),
    prepreg=TEXT(lambda row: row.specimen.prepreg or None, left_out=True),
    attributes=spread(by_attribute(MEASURED))(
        lambda row: {key: measured(row.measurement, result) for key, result in row.specimen.best.items()}
    ),
    other_methods=rows(of_attribute(table(attribute=ATTRIBUTE("of.attribute"), **_MEASURED), "of.attribute"))(
        _others
    ),
    agreement=rows(of_attribute(_AGREEMENT))("specimen.agreement"),
    warnings=rows(WARNING)("specimen.warnings"),
)


class ZoneAverages(NamedTuple):
    """The averages of a zone of a measurement."""

    measurement: Measurement
    zone: ZoneResult

    @property
    def average(self) -> dict[str, Result]:
        """Averages by attribute."""
        return self._results(self.zone.averages)

    @property
    def with_excluded(self) -> dict[str, Result]:
        """The same of every specimen."""
        return self._results(self.zone.with_excluded)

    @property
    def budget(self) -> dict[str, Mapping[Name, float]]:
        """Where the uncertainty of each average comes from."""
        return {key: contributions_of(self.zone, key) for key in self.zone.averages}

    def _results(self, averages: Mapping[str, Average]) -> dict[str, Result]:
        return {
            key: averaged(self.measurement, average, self.zone.methods[key])
            for key, average in averages.items()
        }


_ZONE = {
    "average": by_attribute(AVERAGE),
    "average_with_excluded": by_attribute(AVERAGE)("with_excluded"),
    "budget": by_attribute(BUDGET),
}
_OUTLIER = table(
    attribute=ATTRIBUTE,
    zone=WORDS,
    method=TEXT,
    specimen=TEXT,
    normed_residual=FIGURE,
    critical=FIGURE,
)
_CHECK = table(
    attribute=ATTRIBUTE,
    method=TEXT,
    specimen=TEXT,
    first_order=STEP,
    monte_carlo=STEP,
    interval_95=rows(VALUE, minItems=2, maxItems=2)(lambda check: (check.low, check.high)),
    unit=UNIT,
    draws=COUNT,
    agree=YES,
    used=one_of("first order", "Monte Carlo")(lambda check: "first order" if check.agree else "Monte Carlo"),
)


_SUSPECT = table(
    input=NAME,
    key=KEY("input"),
    value=MAYBE_VALUE,
    reconciled=MAYBE_VALUE,
    shift=STEP,
    unit=UNIT,
    standard_uncertainties=KNOWN,
    text=TEXT(lambda suspect: suspect.sentence()),
)
_DISCREPANCY = table(
    "discrepancy",
    specimen=TEXT,
    attribute=ATTRIBUTE,
    methods=rows(TEXT, minItems=2, maxItems=2),
    difference=STEP,
    standard_uncertainty=STEP("u"),
    unit=UNIT,
    suspects=rows(in_its_unit(_SUSPECT))(lambda discrepancy: [(s, s.unit) for s in discrepancy.suspects]),
)
_ADJUSTED = table(
    input=NAME,
    key=KEY("input"),
    value=MAYBE_VALUE,
    adjusted=MAYBE_VALUE,
    standard_uncertainty=STEP("u"),
    adjusted_standard_uncertainty=STEP("adjusted_u"),
    shift_in_u=FIGURE,
    unit=UNIT,
)
_ADJUSTMENT = table(
    "adjustment",
    note=TEXT(lambda _: EVIDENCE),
    chi_squared=FIGURE,
    degrees_of_freedom=COUNT,
    p=CHANCE,
    conditions=COUNT,
    void_contents_held_to_zero=COUNT("no_voids"),
    inputs=rows(in_its_unit(_ADJUSTED))(
        lambda adjustment: [(adjusted, adjusted.unit) for adjusted in adjustment.inputs]
    ),
    means=by_attribute(
        table(before=VALUE(lambda pair: pair[0]), after=VALUE(lambda pair: pair[1]), unit=UNIT)
    ),
)
_RESIN = ATTRIBUTES["resin_content"].unit
_CHARGE = table(
    prepreg=TEXT,
    resin_content=in_unit(grouped(**{**MEASURE, "value": VALUE("resin_content")}), _RESIN),
    mass_left=in_unit(QUANTITY, ATTRIBUTES["mass"].unit)("left"),
    budget=in_unit(BUDGET, _RESIN)("contributions"),
    not_measured=TEXTS("exact"),
)


def _zones(measurement: Measurement) -> list[ZoneAverages]:
    return [ZoneAverages(measurement, zone) for zone in measurement.zones]


def _averages_by_zone(measurement: Measurement) -> dict[str, dict[str, Result]]:
    return {zone.zone.zone: zone.average for zone in _zones(measurement) if zone.zone.zone is not None}


MEASUREMENT = {
    "specimens": rows(SPECIMEN)(lambda m: [MeasuredSpecimen(m, specimen) for specimen in m.specimens]),
    "prepreg": rows(SPECIMEN)(lambda m: [MeasuredSpecimen(m, specimen) for specimen in m.prepregs]),
    "average": grouped(
        attributes=spread(by_attribute(AVERAGE))(lambda m: ZoneAverages(m, m.whole).average),
        zones=by_name(by_attribute(AVERAGE))(_averages_by_zone),
    ),
    **within(
        lambda m: ZoneAverages(m, m.whole), {key: _ZONE[key] for key in ("average_with_excluded", "budget")}
    ),
    "zones": rows(table(zone=WORDS("zone.zone"), **_ZONE))(_zones),
    "outliers": rows(_OUTLIER),
    "warnings": rows(WARNING),
    "reconciliation": grouped(
        discrepancies=rows(of_attribute(_DISCREPANCY)),
        adjustment=maybe(_ADJUSTMENT),
    ),
    "charge": maybe(_CHARGE),
    "monte_carlo": rows(of_attribute(_CHECK))("checks"),
    "notes": TEXTS,
    "not_measured": TEXTS,
}
"""The keys of the answer of `measure`, which a record has too."""
ANSWER = table(**MEASUREMENT)
measurement_json = ANSWER.json
