"""Batches over time as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.trend_words import first_answer, status_of

if TYPE_CHECKING:
    from laminate.history.control import Chart
    from laminate.history.lots import Basis, Capable, Scatter, Wear
    from laminate.history.points import Point
    from laminate.history.records import Filed
    from laminate.history.trending import Studied, Trend


def record_json(filed: Filed) -> dict[str, Any]:
    """One record of the folder, and whether its values are used."""
    return {
        "file": filed.file,
        "sha256": filed.sha256 or None,
        "part_number": filed.part or None,
        "batch": filed.batch or None,
        "molded": filed.molded or None,
        "answer": filed.content.get("answer") if filed.content else None,
        "status": status_of(filed),
        "reasons": filed.faults,
        "replaced_by": filed.replaced_by or None,
        "copy_of": filed.copy_of or None,
        "notes": filed.notes,
    }


def point_json(point: Point, unit: str) -> dict[str, Any]:
    """The value of one batch, and what it was made with."""
    origin = point.origin
    return {
        "batch": origin.batch,
        "molded": origin.molded,
        "part_issue": origin.issue,
        "lots": list(origin.lots),
        "press": origin.press or None,
        "cores": [{"core": c, "identity": i or None, "moldings": n} for c, i, n in origin.cores],
        "value": point.value,
        "unit": unit,
        "standard_uncertainty": point.u,
        "n": point.n,
        "coupons": list(point.coupons),
        "method": point.method or None,
        "decision": point.decision or None,
        "file": origin.file,
    }


def chart_json(chart: Chart | None, points: list[Point]) -> dict[str, Any] | None:
    """Middle, limits and signals of a control chart."""
    if chart is None:
        return None
    return {
        "middle": chart.centre,
        "lower_limit": chart.lower,
        "upper_limit": chart.upper,
        "mean_moving_range": chart.moving_range,
        "signals": [
            {
                "code": signal.code,
                "text": signal.words,
                "first_batch": points[signal.first].origin.batch,
                "last_batch": points[signal.last].origin.batch,
                "side": signal.side or None,
            }
            for signal in chart.signals
        ],
    }


def scatter_json(test: Scatter) -> dict[str, Any]:
    """Whether groups differ by more than their members do."""
    return {
        "between": test.by,
        "groups": [{"name": g.name, "n": g.n, "mean": g.mean} for g in test.groups],
        "f_ratio": test.ratio,
        "chance": test.chance,
        "scatters": test.scatters,
        "not_tested_because": test.why or None,
    }


def wear_json(wear: Wear) -> dict[str, Any]:
    """The slope over the moldings of a core."""
    return {
        "core": wear.core,
        "n": wear.n,
        "slope_per_molding": wear.slope,
        "standard_uncertainty": wear.slope_u,
        "chance": wear.chance,
        "shows": wear.shows,
    }


def capable_json(capable: Capable) -> dict[str, Any]:
    """A capability index with its interval; null where there is none, and why."""
    low, high = capable.limits
    return {
        "scope": capable.scope,
        "limits": {"min": low, "max": high},
        "of": capable.of,
        "n": capable.n,
        "mean": capable.mean,
        "standard_deviation": capable.deviation,
        "cpk": capable.cpk,
        "interval": None if capable.cpk is None else {"low": capable.low, "high": capable.high},
        "note": capable.why or None,
    }


def basis_json(basis: Basis) -> dict[str, Any]:
    """An A- or B-basis bound; null where it is refused, and why."""
    return {
        "basis": basis.letter,
        "population": 100.0 * basis.population,
        "n": basis.n,
        "lots": basis.lots,
        "factor": basis.factor,
        "lower": basis.low,
        "upper": basis.high,
        "refused_because": basis.why or None,
    }


def studied_json(studied: Studied, first_answer: str) -> dict[str, Any]:
    """One characteristic over its batches; every number in its unit."""
    series = studied.series
    return {
        "part_number": series.key.part,
        "name": series.key.name,
        "zone": series.key.zone,
        "unit": series.key.unit,
        "each_value_of": series.key.each,
        "text": first_answer,
        "state": studied.chart.state if studied.chart else "too few to say",
        "limits": {scope: {"min": low, "max": high} for scope, (low, high) in series.limits.items()},
        "limits_since": series.limits_since or None,
        "chart": chart_json(studied.chart, series.points),
        "batches": [point_json(point, series.key.unit) for point in series.points],
        "changes": [
            {"batch": series.points[mark.place].origin.batch, "what": mark.what, "text": mark.words}
            for mark in studied.marks
        ],
        "scatter": [scatter_json(test) for test in studied.scatter],
        "core_use": [wear_json(wear) for wear in studied.wear],
        "capability": [capable_json(one) for one in studied.capability],
        "basis": [basis_json(one) for one in studied.basis],
    }


def trend_json(trend: Trend) -> dict[str, Any]:
    """The whole answer of `trend`."""
    parts = {studied.series.key.part for studied in trend.studied}
    return {
        "folder": trend.folder,
        "signatures_required": trend.signed,
        "all_verify": trend.all_verify,
        "proven": trend.proven,
        "computed": trend.computed,
        "records": [record_json(filed) for filed in trend.records],
        "passed_over": list(trend.passed_over),
        "series": [studied_json(s, first_answer(s, with_part=len(parts) > 1)) for s in trend.studied],
    }
