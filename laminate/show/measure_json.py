"""What coupon tables say, as JSON with the contract's keys."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.numbers import quantity_json
from laminate.values.input_key import Key, Name, in_words
from laminate.values.problems import Answered, Problem
from laminate.values.quantities import ATTRIBUTES, Unit, shown, shown_difference

if TYPE_CHECKING:
    from laminate.coupons.measured import Measured, Outlier, Specimen, ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.coupons.monte_check import Check
    from laminate.values.averages import Average


def number_or_none(number: float | None) -> float | None:
    """A number that JSON can hold; infinite degrees of freedom become null."""
    return number if number is not None and math.isfinite(number) else None


def measured_json(measurement: Measurement, one: Measured) -> dict[str, Any]:
    """One attribute of one specimen by one method."""
    unit = ATTRIBUTES[one.attribute].unit
    k, expanded = measurement.expanded(one)
    known = one.u > 0.0
    return {
        **quantity_json(one.value, one.u if known else None, unit),
        "expanded_uncertainty": shown_difference(expanded, unit) if known else None,
        "coverage_factor": k if known else None,
        "effective_degrees_of_freedom": number_or_none(one.dof),
        "method": one.method,
    }


def warning_json(warning: Problem) -> dict[str, Any]:
    """A warning with the keys of a problem, and the reason with which it was accepted, else null."""
    return {**warning.as_json(), "accepted": warning.reason if isinstance(warning, Answered) else None}


def specimen_json(measurement: Measurement, specimen: Specimen) -> dict[str, Any]:
    """One specimen: what it is, the attributes it supports, other methods, agreement and warnings."""
    coupon = specimen.coupon
    found: dict[str, Any] = {
        "specimen": specimen.name,
        "file": coupon.file,
        "zone": specimen.zone,
        "position": coupon.word("position") or None,
        "lot": coupon.word("lot") or None,
        "plies": specimen.recipe.plies,
        "methods": specimen.methods,
        "operator": coupon.word("operator") or None,
        "time": coupon.word("time") or None,
        "remark": coupon.word("remark") or None,
        "excluded": specimen.excluded or None,
        "replaces": coupon.word("replaces") or None,
        "replaced_by": specimen.replaced_by or None,
    }
    if specimen.prepreg:
        found["prepreg"] = specimen.prepreg
    best = specimen.best
    for attribute, one in best.items():
        found[attribute] = measured_json(measurement, one)
    others = [one for key, one in specimen.every.items() if best[key[0]].method != key[1]]
    found["other_methods"] = [
        {"attribute": one.attribute, **measured_json(measurement, one)} for one in others
    ]
    found["agreement"] = [
        {
            "attribute": a.attribute,
            "methods": list(a.methods),
            "difference": shown_difference(a.difference, ATTRIBUTES[a.attribute].unit),
            "allowed": shown_difference(a.allowed, ATTRIBUTES[a.attribute].unit),
            "unit": ATTRIBUTES[a.attribute].unit.text,
            "agree": a.agree,
        }
        for a in specimen.agreement
    ]
    found["warnings"] = [warning_json(w) for w in specimen.warnings]
    return found


def average_json(measurement: Measurement, average: Average, unit: Unit, method: str = "") -> dict[str, Any]:
    """An average; what one specimen cannot say is null."""
    u = average.standard_uncertainty
    k, expanded = measurement.expanded(average) if u is not None else (None, None)
    deviation = average.standard_deviation
    return {
        "value": shown(average.value, unit),
        "unit": unit.text,
        "n": average.n,
        "standard_deviation": None if deviation is None else shown_difference(deviation, unit),
        "standard_uncertainty": None if u is None else shown_difference(u, unit),
        "expanded_uncertainty": None if expanded is None else shown_difference(expanded, unit),
        "coverage_factor": k,
        "effective_degrees_of_freedom": None
        if u is None
        else number_or_none(average.degrees_of_freedom(measurement.confidence)),
        "method": method or None,
    }


def input_json(name: Name, words: str = "") -> dict[str, Any]:
    """An input in words, and its key: table, name and quantity, null where no table of a file names it."""
    return {"input": words or str(name), "key": list(name) if isinstance(name, Key) else None}


def budget_json(contributions: Mapping[Any, float], unit: Unit) -> list[dict[str, Any]]:
    """Where an uncertainty comes from, largest first.

    contributions: source -> signed contribution [SI]. share: % of the variance; standard_uncertainty: the
    contribution; if_halved: the standard uncertainty of the result if this source were half as large.
    """
    variance = math.fsum(c * c for c in contributions.values())
    words = in_words(contributions)
    ordered = sorted(((name, c) for name, c in contributions.items() if c), key=lambda item: -abs(item[1]))
    return [
        {
            **input_json(name, words[name]),
            "share": 100.0 * c * c / variance,
            "standard_uncertainty": shown_difference(abs(c), unit),
            "if_halved": shown_difference(math.sqrt(max(variance - 0.75 * c * c, 0.0)), unit),
            "unit": unit.text,
        }
        for name, c in ordered
    ]


def contributions_of(zone: ZoneResult, attribute: str) -> Mapping[Name, float]:
    """Contributions to the average, or to the one specimen where an average shows no scatter [SI]."""
    average = zone.averages[attribute]
    if average.standard_uncertainty is not None:
        return average.contributions
    counted = zone.counted(attribute)
    return counted[0].every[attribute, zone.methods[attribute]].contributions() if counted else {}


def zone_json(measurement: Measurement, zone: ZoneResult) -> dict[str, Any]:
    """The averages of a zone and where their uncertainty comes from."""
    return {
        "zone": zone.zone,
        "average": {
            key: average_json(measurement, average, ATTRIBUTES[key].unit, zone.methods[key])
            for key, average in zone.averages.items()
        },
        "average_with_excluded": {
            key: average_json(measurement, average, ATTRIBUTES[key].unit, zone.methods[key])
            for key, average in zone.with_excluded.items()
        },
        "budget": budgets_json(zone),
    }


def budgets_json(zone: ZoneResult) -> dict[str, list[dict[str, Any]]]:
    """The budget of every attribute of a zone."""
    return {key: budget_json(contributions_of(zone, key), ATTRIBUTES[key].unit) for key in zone.averages}


def outliers_json(outliers: Iterable[Outlier]) -> list[dict[str, Any]]:
    """Readings far from their peers; flagged, never removed."""
    return [
        {
            "attribute": o.attribute,
            "zone": o.zone,
            "method": o.method,
            "specimen": o.specimen,
            "normed_residual": o.normed_residual,
            "critical": o.critical,
        }
        for o in outliers
    ]


def check_json(one: Check) -> dict[str, Any]:
    """First order beside Monte Carlo for one specimen of a group."""
    unit = ATTRIBUTES[one.attribute].unit
    return {
        "attribute": one.attribute,
        "method": one.method,
        "specimen": one.specimen,
        "first_order": shown_difference(one.first_order, unit),
        "monte_carlo": shown_difference(one.monte_carlo, unit),
        "interval_95": [shown(one.low, unit), shown(one.high, unit)],
        "unit": unit.text,
        "draws": one.draws,
        "agree": one.agree,
        "used": "first order" if one.agree else "Monte Carlo",
    }
