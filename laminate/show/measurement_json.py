"""The whole answer of `measure`, as JSON with the contract's keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.evidence_json import charge_json, reconciliation_json
from laminate.show.measure_json import check_json, outliers_json, specimen_json, warning_json, zone_json

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement


def measurement_json(measurement: Measurement) -> dict[str, Any]:
    """The whole answer of `measure`."""
    whole = zone_json(measurement, measurement.whole)
    zones = [zone_json(measurement, zone) for zone in measurement.zones]
    by_zone = {zone["zone"]: zone["average"] for zone in zones if zone["zone"] is not None}
    return {
        "specimens": [specimen_json(measurement, s) for s in measurement.specimens],
        "prepreg": [specimen_json(measurement, s) for s in measurement.prepregs],
        "average": {**whole["average"], "zones": by_zone},
        "average_with_excluded": whole["average_with_excluded"],
        "budget": whole["budget"],
        "zones": zones,
        "outliers": outliers_json(measurement.outliers),
        "warnings": [warning_json(w) for w in measurement.warnings],
        "reconciliation": reconciliation_json(measurement),
        "charge": charge_json(measurement.charge),
        "monte_carlo": [check_json(one) for one in measurement.checks],
        "notes": measurement.notes,
        "not_measured": measurement.not_measured,
    }
